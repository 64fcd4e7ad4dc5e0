"""Pictures of the dose show the numbers of the answer, and keep the energy."""

from __future__ import annotations

import re

import attrs
import numpy as np
import pytest
from matplotlib.text import Text

from mathlib import answers, figures
from mathlib.figures import energy, line_end, two_heads, two_spots
from mathlib.laser import dose
from mathlib.machine import TAGMAKER, load
from mathlib.units import Q


@pytest.fixture(scope="module")
def machine():
    return load(TAGMAKER)


@pytest.fixture(scope="module")
def answer(machine):
    return answers.ask("energy", machine)


def test_the_map_holds_the_energy_of_its_lines(machine):
    field = energy.Field(machine, energy.sides(machine))
    total = np.trapezoid(np.trapezoid(field.dose, field.x, axis=1), field.y)
    # 4.4 W at 100 mm/s on five lines of 0.4 mm: 0.044 J/mm * 2 mm = 0.088 J.
    assert total == pytest.approx(0.088, rel=2e-3)  # the margin cuts off what is beyond 1.3 d


def test_cut_and_mean_line_are_those_of_the_answer(machine, answer):
    figure = figures.draw("energy", answer, machine)
    cut = figure.axes[1].lines[0].get_xdata()
    peak = answer.values["peak_dose"].to("J/mm^2").magnitude
    assert cut.max() == pytest.approx(peak, rel=0.01)  # neighbours 0.08 mm away add a little
    mean = figure.axes[1].lines[1].get_xdata()[0]
    assert mean == pytest.approx(0.55)


def energy_of(field):
    return np.trapezoid(np.trapezoid(field.dose, field.x, axis=1), field.y)


def test_each_spot_gets_the_same_energy_and_its_own_ripple(machine, answer):
    first, turned, even = two_spots.spots(machine)
    energies = [energy_of(spot.field) for spot in (first, turned, even)]
    assert energies == pytest.approx([energies[0]] * 3, rel=0.01)
    ripples = [two_spots.unevenness(spot.field) for spot in (first, turned, even)]
    assert ripples[0] == pytest.approx(answer.values["ripple"].magnitude, rel=0.03)
    assert ripples[1] == pytest.approx(answer.values["ripple_y"].magnitude, rel=0.03)
    # A bar of 0.1289 mm over lines 0.08 mm apart covers a point once or twice: peak to valley one
    # line of 0.044 J/mm / 0.1289 mm, 0.341 J/mm2, over the mean of 0.55.
    assert ripples[2] == pytest.approx(0.341 / 0.55, rel=0.03)
    texts = [t.get_text() for t in figures.draw("two_spots", answer, machine).findobj(Text)]
    assert any(t.startswith("ripple 18") for t in texts)


def test_a_head_of_one_width_is_set_beside_an_estimated_bar(machine):
    head = attrs.evolve(machine.heads.laser, beam_diameter_y=None, beam_quality_y=None)
    one = attrs.evolve(
        machine,
        heads=attrs.evolve(machine.heads, laser=head),
        ranges={word: r for word, r in machine.ranges.items() if not word.endswith("_y")},
    )
    found = answers.ask("energy", one)
    assert not [word for word in found.values if word.endswith("_y")]
    assert "first axis" not in found.verdict
    round_one, bar = two_spots.spots(one)
    assert (bar.across / round_one.across).magnitude == pytest.approx(two_spots.BAR)
    assert energy_of(bar.field) == pytest.approx(energy_of(round_one.field), rel=0.01)


def test_curves_of_a_line_end_meet_the_answer_at_the_end(machine, answer):
    places, found = line_end.curves(machine)
    at_end = [float(np.interp(0, places, ratio)) for ratio in found]
    for value, word in zip(
        at_end, ("end_overdose", "end_overdose_off", "corner_overdose"), strict=False
    ):
        assert value == pytest.approx(answer.values[word].magnitude, rel=1e-6)
    assert at_end[3] == pytest.approx(1)
    assert [float(ratio[-1]) for ratio in found] == pytest.approx([1] * 4, rel=1e-6)


def test_power_that_follows_the_speed_is_told_as_such(machine):
    job = attrs.evolve(machine.job, power_control="follows speed")
    found = answers.ask("energy", attrs.evolve(machine, job=job))
    assert found.values["end_overdose"].magnitude == pytest.approx(1)
    assert "the power follows the speed" in found.verdict
    assert "speed" not in found.flips_at


def test_values_of_the_answer_by_hand(answer):
    v = {word: value for word, value in answer.values.items()}
    # d = 0.064458 mm: 1.595769 * 4.4 / (100 * 0.064458) = 1.08932 J/mm2
    assert v["peak_dose"].to("J/mm^2").magnitude == pytest.approx(1.08932, rel=1e-4)
    # Along the line the spot is 0.128916 mm: 172.0 / sqrt(2000 * 0.064458) = 172.0 / 11.354
    assert v["end_overdose"].magnitude == pytest.approx(15.15, rel=1e-3)
    # Turned by a quarter it is the narrow side: 172.0 / sqrt(2000 * 0.032229) = 172.0 / 8.0286
    assert v["end_overdose_y"].magnitude == pytest.approx(21.42, rel=1e-3)
    assert v["peak_dose_y"].to("J/mm^2").magnitude == pytest.approx(1.08932 / 2, rel=1e-4)
    assert v["dwell"].to("ms").magnitude == pytest.approx(1.28916, rel=1e-4)
    assert v["overlap_y"].magnitude == pytest.approx(1 - 0.08 / 0.128916, rel=1e-4)
    assert v["end_zone"].to("mm").magnitude == pytest.approx(2.5)  # 100^2 / 4000
    assert v["period_on_work"].to("mm").magnitude == pytest.approx(0.02)
    assert v["grey_levels"].magnitude == 5  # 0.08 mm hold four periods of 0.02 mm


def test_the_verdict_tells_both_ways_to_mount_the_head(answer):
    # First harmonic at s / d = 0.08 / 0.128916: 4 exp(-9.8696 * 2.5968 / 8) = 0.1625.
    assert answer.values["ripple_y"].magnitude == pytest.approx(0.1625, rel=1e-3)
    assert "with the other axis across them it is 16 %" in answer.verdict


def test_a_spot_as_wide_both_ways_needs_no_word_on_mounting(machine):
    row = two_heads.row("blue diode, four emitters, 20 W")
    four = attrs.evolve(machine.typical(), heads=attrs.evolve(machine.heads, laser=row))
    found = answers.ask("energy", four)
    assert "ripple_y" in found.values
    assert "first axis" not in found.verdict


def test_ends_flip_where_the_answer_says(machine, answer):
    flip = answer.flips_at["speed"]
    diameter = answer.values["dwell"] * machine.job.speed
    over = dose.end_overdose(
        speed=flip, acceleration=machine.job.acceleration, diameter=diameter,
        case="stop and restart",
    )  # fmt: skip
    assert over.magnitude == pytest.approx(1.5, rel=1e-3)
    slow = attrs.evolve(machine.job, speed=0.8 * flip)
    assert "ends burn" not in answers.ask("energy", attrs.evolve(machine, job=slow)).verdict


def test_slow_switching_and_slow_light_are_warned_of(machine):
    job = attrs.evolve(machine.job, modulation_frequency="20 Hz", power_share=0.5)
    head = attrs.evolve(machine.heads.laser, rise_time="16 us")
    changed = attrs.evolve(machine, job=job, heads=attrs.evolve(machine.heads, laser=head))
    found = answers.ask("energy", changed)
    told = " ".join(found.warnings)
    assert "pulses lie 5 mm apart on the work: lines fall into dashes" in told
    # 16 us from 10 to 90 % are 20 us in all, at 20 Hz 0.04 % of a period.
    assert found.values["lowest_full_duty"].magnitude == pytest.approx(4e-4)
    assert "Not one whole pulse fits into a pixel of 0.08 mm" in told


def test_a_file_that_leaves_out_the_switching_has_no_pulses(machine):
    job = attrs.evolve(machine.job, modulation_frequency=None)
    found = answers.ask("energy", attrs.evolve(machine, job=job))
    assert "period_on_work" not in found.values
    assert not re.search(r"\bnan\b", found.verdict)


def test_even_lines_are_called_even(machine):
    job = attrs.evolve(machine.typical().job, line_spacing=Q("0.03 mm"))
    found = answers.ask("energy", attrs.evolve(machine.typical(), job=job))
    assert "nearly even" in found.verdict
    assert found.certain
