"""Questions of builders about time: rasters, run-ups, links that are too slow, steps that run out.

The arithmetic beside each assertion is by hand.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from mathlib import Q
from mathlib.machine import TAGMAKER, load
from mathlib.motion import belts, gantries, moves, steppers
from mathlib.paths import Path

FIELD = {"width": "100 mm", "height": "100 mm", "line_spacing": "0.1 mm"}
RAMP = {"acceleration": "1000 mm/s^2"}


def minutes(time) -> float:
    return float(time.to("min").magnitude)


def test_a_raster_takes_longer_than_length_over_speed() -> None:
    told = {"speed": "100 mm/s"} | RAMP
    assert moves.run_up(**told).to("mm").magnitude == pytest.approx(5.0)  # 100^2 / 2000
    # 1001 lines of 1.0 s and two ramps of 0.1 s
    whole = minutes(moves.raster_time(**FIELD, **told))
    assert whole == pytest.approx(1001 * 1.2 / 60)
    assert whole == pytest.approx(20.0, rel=0.02)
    naive = minutes(moves.naive_raster_time(**FIELD, speed="100 mm/s"))
    assert naive == pytest.approx(16.7, rel=0.02)
    assert 1 - naive / whole == pytest.approx(0.17, abs=0.005)


def test_a_faster_setting_is_not_always_a_shorter_job() -> None:
    fast = minutes(moves.raster_time(**FIELD, speed="400 mm/s", **RAMP))
    assert fast == pytest.approx(17.5, rel=0.02)  # 1001 (0.25 + 0.8) s
    best = moves.fastest_raster_speed(width="100 mm", **RAMP)
    assert best.to("mm/s").magnitude == pytest.approx(224, rel=0.02)  # sqrt(100 * 1000 / 2)
    least = minutes(moves.raster_time(**FIELD, speed=best, **RAMP))
    assert least == pytest.approx(14.9, rel=0.02)
    assert least < fast


@pytest.mark.parametrize(("spot", "gaps"), [("1 in", 8), ("0.004 in", 2000)])
def test_lines_without_overlap_over_eight_inches(spot: str, gaps: int) -> None:
    # Spots side by side fill 8 in with 8 in / spot lines: the middles of the first and the last
    # lie one spot less than that apart.
    between = Q("8 in") - Q(spot)
    lines = moves.raster_lines(height=between, line_spacing=spot)
    assert lines.magnitude == pytest.approx(gaps)


def test_dots_that_the_light_can_make_not_dots_to_the_inch() -> None:
    # 500 dots a second of 0.1 mm are 50 mm/s; 19.6 comes from dividing by 25.4 dots
    found = moves.link_speed(link_rate="500 1/s", bytes_per_pixel=1, pixel="0.1 mm")
    assert found.to("mm/s").magnitude == pytest.approx(50)


def test_a_slow_link_and_a_short_look_ahead_hold_a_raster_back() -> None:
    # 11.5 kB/s, 18 bytes a pixel of 0.1 mm: 639 pixels a second; 16 segments of 0.1 mm: 57 mm/s
    fed = moves.link_speed(link_rate="11500 1/s", bytes_per_pixel=18, pixel="0.1 mm")
    assert fed.to("mm/s").magnitude == pytest.approx(64, abs=0.5)
    planned = moves.look_ahead_speed(segments=16, segment_length="0.1 mm", **RAMP)
    assert planned.to("mm/s").magnitude == pytest.approx(57, abs=0.5)


@pytest.mark.parametrize(("direction", "expected"), [("0 deg", 150.0), ("45 deg", 106.1)])
def test_steps_run_out_first_along_a_diagonal_of_crossed_belts(direction, expected) -> None:
    # 400 steps of 16 over 16 teeth of 2 mm are 200 a millimetre; 30000 / 200, and over root 2
    per_length = belts.steps_per_length(full_steps=400, microsteps=16, pitch="2 mm", teeth=16)
    most = steppers.step_rate.solve("speed", step_rate="30000 step/s", steps_per_length=per_length)
    gantry = gantries.gantry(load(TAGMAKER).layout)
    angle = Q(direction).to("rad").magnitude
    path = Path(points=Q([[100, 100], [100 + 50 * np.cos(angle), 100 + 50 * np.sin(angle)]], "mm"))
    found = moves.belt_limited_speed(path, gantry, most)
    assert found.magnitude[0] == pytest.approx(expected, abs=0.1)


def test_a_delay_shifts_every_second_line_by_twice_its_way() -> None:
    # 300 mm/s for 0.5 ms are 0.15 mm each way
    found = moves.bidirectional_offset(speed="300 mm/s", delay="0.5 ms")
    assert found.to("mm").magnitude == pytest.approx(0.3)


def test_the_interior_angle_and_not_the_turn_decides_the_speed_of_a_corner() -> None:
    sharp, blunt = (
        moves.arc_speed(
            radius=moves.fillet_radius(deviation="0.02 mm", interior_angle=angle), **RAMP
        ).magnitude
        for angle in ("45 deg", "135 deg")
    )
    # R = 0.02 s / (1 - s): s = 0.38268 gives 0.012398 mm, s = 0.92388 gives 0.24274 mm
    assert sharp == pytest.approx(math.sqrt(1000 * 0.012398), rel=1e-4)
    assert blunt == pytest.approx(math.sqrt(1000 * 0.24274), rel=1e-4)
