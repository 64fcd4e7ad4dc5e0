"""Questions of builders about belts: pitch, stretch, tension, shaft load, racking."""

from __future__ import annotations

import math

import numpy as np
import pytest

from mathlib import Q
from mathlib.motion import belts, gantries, squareness, tension
from mathlib.motion.belts import Belt
from mathlib.motion.gantries import Layout
from mathlib.typed import as_typed


def test_a_belt_of_080_inch_pitch_is_no_2_mm_belt() -> None:
    # 1120 mm of 2.032 mm pitch: 551.18 teeth; taken for 2 mm, a 600 mm job comes out 9.6 mm long
    teeth = belts.pitch_from_span.solve("spaces", length="1120 mm", pitch="2.032 mm")
    assert teeth.magnitude == pytest.approx(551.2, abs=0.05)
    travel = [
        belts.pitch_diameter(pitch=pitch, teeth=20).to("mm").magnitude
        for pitch in ("2 mm", "2.032 mm")
    ]
    assert 600 * (travel[1] / travel[0] - 1) == pytest.approx(9.6, abs=0.05)


@pytest.mark.parametrize(
    ("stretch", "expected"), [("2.9 mm", 29.1), ("1.5 mm", 56.3), ("1.3 mm", 65.0)]
)
def test_specific_stiffness_from_a_weight_on_half_a_metre(stretch: str, expected: float) -> None:
    # 38 lb hung on the belt is a force of 169.03 N: F L / dL
    hung = as_typed("38 lbs", "N")
    found = belts.stretch.solve("specific_stiffness", stretch=stretch, force=hung, length="0.5 m")
    assert found.to("kN").magnitude == pytest.approx(expected, rel=0.005)


def test_a_ruler_makes_that_a_rough_number() -> None:
    found = belts.stretch.uncertainty(
        {"stretch": "0.3 mm"},
        of="specific_stiffness",
        stretch="2.9 mm",
        force="169 N",
        length="0.5 m",
    )
    assert (found.std / found.value).to("1").magnitude == pytest.approx(0.3 / 2.9, rel=1e-3)


def test_the_pitch_grows_under_tension_so_moves_come_out_long() -> None:
    # 6 lbf is 26.69 N on 29.1 kN: 0.0917 %, 0.917 mm on a metre
    found = belts.stretch(force="6 lbf", length="1000 mm", specific_stiffness="29.1 kN")
    assert found.to("mm").magnitude == pytest.approx(0.917, abs=0.002)


def test_an_axis_on_its_belt_gives_and_is_softest_at_the_idler() -> None:
    specific, loop = 19_400.0, 1200.0
    at = np.array([1.0, 500.0, 600.0])
    found = belts.carriage_stiffness(
        specific_stiffness=Q(specific, "N"), length_1=Q(at, "mm"), length_2=Q(loop - at, "mm")
    ).magnitude
    assert found[1] == pytest.approx(66.5, abs=0.1)  # 19400 (1/500 + 1/700)
    assert 5 / found[1] == pytest.approx(0.075, abs=0.001)
    assert found[2] == min(found)  # 4 c / L where both parts are equal
    assert found[2] == pytest.approx(4 * specific / loop)


def test_a_limit_for_each_inch_of_width_is_small_on_a_narrow_belt() -> None:
    allowed = 25 * Q("1 lbf") / Q("1 in") * Q("6 mm")
    assert allowed.to("N").magnitude == pytest.approx(26.3, abs=0.1)
    assert allowed.to("lbf").magnitude == pytest.approx(5.9, abs=0.01)


def test_the_fundamental_and_not_the_strongest_peak() -> None:
    peaks = {"50 Hz": False, "88 Hz": True, "100 Hz": False, "176 Hz": False, "264 Hz": False}
    told = {"length": "152 mm", "mass_per_length": "8.3 g/m"}
    right = next(peak for peak, fundamental in peaks.items() if fundamental)
    found = belts.span_tension(frequency=right, **told).to("N").magnitude
    assert found == pytest.approx(5.94, abs=0.005)
    second = belts.span_tension(frequency="176 Hz", **told).to("N").magnitude
    assert second == pytest.approx(4 * found)


@pytest.mark.parametrize(
    ("place", "load", "belt"), [("9.5 mm", 53.7, 6.03), ("8.5 mm", 60.0, 6.74)]
)
def test_a_shaft_carries_both_strands(place: str, load: float, belt: float) -> None:
    # 30 N are allowed 17 mm from the face; the belt loads the shaft with twice its tension
    allowed = tension.allowed_shaft_load(
        radial_limit="30 N", limit_distance="17 mm", distance=place
    )
    assert allowed.to("N").magnitude == pytest.approx(load, abs=0.05)
    strand = tension.shaft_load.solve("tension", shaft_load=allowed)
    assert strand.to("lbf").magnitude == pytest.approx(belt, abs=0.01)
    assert tension.shaft_load(tension="6 lbf").to("N").magnitude == pytest.approx(53.4, abs=0.05)


def test_ten_kelvin_on_an_aluminium_frame() -> None:
    # 23.4e-6 x 10 x 500 mm is 0.117 mm of frame; a glass-cord belt of 19.4 kN gains 3.5 N
    found = tension.tension_by_temperature(
        specific_stiffness="19.4 kN",
        frame_expansion="23.4e-6 1/K",
        belt_expansion="5.4e-6 1/K",
        temperature_change="10 delta_degC",
    )
    assert found.to("N").magnitude == pytest.approx(3.5, abs=0.05)


def test_one_dead_motor_sends_the_head_along_a_diagonal() -> None:
    belt = Belt(pitch="2 mm", width="6 mm", specific_stiffness="19.4 kN", mass_per_length="8.3 g/m")
    layout = Layout(
        belts="crossed", rail_spacing="480 mm", travel_x="420 mm", travel_y="300 mm", belt=belt
    )
    matrix = gantries.crossed_belts(layout).travel_matrix("200 mm", "150 mm").magnitude
    # x + 10 mm is asked: both belts by 10 mm, and only a moves
    moved = np.linalg.solve(matrix, [10.0, 0.0])
    assert moved == pytest.approx([5.0, 5.0])
    assert np.linalg.norm(moved) == pytest.approx(7.07, abs=0.01)


def test_unequal_tensions_rack_at_rest() -> None:
    # 40 N against 34 N on 400 mm: 0.4 x 6 = 2.4 N m
    belt = Belt(pitch="2 mm", width="6 mm", specific_stiffness="19.4 kN", mass_per_length="8.3 g/m")
    layout = Layout(
        belts="crossed", rail_spacing="400 mm", travel_x="340 mm", travel_y="300 mm", belt=belt
    )
    found = gantries.crossed_belts(layout).racking_moment("40 N", "34 N")
    assert found.to("N*m").magnitude == pytest.approx(2.4)


def test_half_a_millimetre_over_half_a_metre() -> None:
    for side, mrad in (("500 mm", 1.0), ("250 mm", 2.0)):
        found = squareness.shear_shift.solve("skew", shift="0.5 mm", distance=side)
        assert found.to("mrad").magnitude == pytest.approx(mrad, rel=1e-5)
        assert math.degrees(mrad / 1000) == pytest.approx(found.to("deg").magnitude, rel=1e-5)
