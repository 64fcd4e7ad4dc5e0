"""What rings: speeds and velocities to avoid, and a measured mode on the map."""

from __future__ import annotations

import re

import numpy as np
import pytest

from mathlib import answers, figures
from mathlib.figures import campbell, velocities
from mathlib.machine import TAGMAKER, load
from mathlib.measure import model_fit
from mathlib.measure.measured import measured
from mathlib.motion import excitation

PLAIN = TAGMAKER.with_name("tagmaker_plain.toml")


@pytest.fixture(scope="module", params=[TAGMAKER, PLAIN], ids=["crossed", "plain"])
def machine(request):
    return load(request.param)


@pytest.fixture(scope="module")
def asked(machine):
    return answers.ask("ringing", machine)


def test_the_running_motor_of_crossed_belts_turns_root_two_faster_on_the_diagonal():
    crossed, plain = load(TAGMAKER), load(PLAIN)
    assert campbell.belt_rates(crossed, "0 deg") == [1.0]
    assert campbell.belt_rates(crossed, "45 deg") == [pytest.approx(np.sqrt(2))]
    assert campbell.belt_rates(plain, "45 deg") == [pytest.approx(np.sqrt(0.5))]
    # by hand at 30 deg: cos + sin = 1.36603, cos - sin = 0.36603
    assert campbell.belt_rates(crossed, "30 deg") == pytest.approx([0.36603, 1.36603], abs=1e-5)


@pytest.mark.parametrize("direction", ["0 deg", "30 deg", "45 deg", "90 deg"])
def test_each_ring_stands_on_a_level_and_on_a_line(machine, asked, direction):
    axes = figures.draw("campbell", asked, machine, direction=direction).axes[0]
    (rings,) = [line for line in axes.lines if line.get_marker() == "o"]
    speeds, hertz = rings.get_data()
    straight = [line.get_ydata() for line in axes.lines if len(line.get_xdata()) == 2]
    levels = [y[0] for y in straight if y[0] == y[1]]
    slopes = [y[0] / x[0] for x, y in (li.get_data() for li in axes.lines) if len(x) == 50]
    assert len(speeds) > 3
    for v, f in zip(speeds, hertz, strict=True):
        assert min(abs(f / level - 1) for level in levels) < 1e-9
        assert min(abs(f / (slope * v) - 1) for slope in slopes) < 1e-6
    told = figures.describe("campbell", asked, machine, direction=direction)
    assert campbell.called(direction) in told
    assert f"speed of the head {campbell.called(direction)}" in axes.get_xlabel()


def test_the_lines_of_velocity_agree_with_the_list_in_every_direction(machine):
    """Where a ray from zero meets a line, the library's list has that speed, and the other way."""
    drawn = velocities.lines(machine)
    fixed = machine.typical()
    place = fixed.layout.travel_x / 2.0, fixed.layout.travel_y / 2.0
    for angle in (0.0, 17.0, 45.0, 63.0, 90.0):
        ray = np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle))])
        listed = excitation.speeds_to_avoid(fixed.drive, *place, f"{angle} deg")
        for line in drawn:
            rate = abs(float(line.row @ ray))
            if rate < 1e-9:
                continue
            meets = line.belt_speed.to("mm/s").magnitude / rate
            near = [
                c
                for c in listed
                if (c.order, c.mode) == (line.order, line.mode) and line.motor in c.motors
            ]
            assert min(abs(c.speed.magnitude / meets - 1) for c in near) < 1e-6


def test_what_is_drawn_lies_on_its_line(machine, asked):
    axes = figures.draw("velocities", asked, machine).axes[0]
    straight = [line.get_xydata() for line in axes.lines if len(line.get_xdata()) == 2]
    assert len(straight) >= 6
    for ends in straight:
        assert any(
            np.allclose(np.abs(ends @ line.row), line.belt_speed.magnitude, rtol=1e-9)
            for line in velocities.lines(machine)
        )


def test_plain_axes_have_no_slanting_line_and_crossed_belts_no_other():
    for path, slanted in ((TAGMAKER, True), (PLAIN, False)):
        rows = [line.row for line in velocities.lines(load(path))]
        assert rows
        assert all((np.abs(row) > 0.5).all() == slanted for row in rows)


def test_the_description_says_the_diagonal_of_crossed_belts():
    crossed = load(TAGMAKER)
    told = figures.describe("velocities", answers.ask("ringing", crossed), crossed)
    first = [float(re.search(rf"at {a}°: ([\d.]+) mm/s", told).group(1)) for a in (0, 45)]
    assert first[0] / first[1] == pytest.approx(np.sqrt(2), rel=3e-3)  # three digits each


def test_a_measured_mode_stands_on_its_map(machine, asked):
    middle = machine.layout.travel_x / 2.0, machine.layout.travel_y / 2.0
    found = model_fit.which_mode(measured(48.0, 0.1, "Hz"), "y", machine, *middle)
    axes = figures.draw("ringing", asked, machine, measured=found).axes[0]
    (mark,) = [line for line in axes.lines if line.get_marker() == "D"]
    assert mark.get_xydata()[0].tolist() == [m.to("mm").magnitude for m in middle]
    assert any("48 Hz" in text.get_text() for text in axes.texts)
    told = figures.describe("ringing", asked, machine, measured=found)
    assert "48 Hz, where the file says" in told
    assert "dashed line joins" in told
    far = model_fit.which_mode(measured(30.0, 0.1, "Hz"), "y", machine, *middle, mode=0)
    assert "Nowhere" in figures.describe("ringing", asked, machine, measured=far)
