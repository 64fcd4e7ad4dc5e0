"""Skew from what can be measured: the questions that builders ask, and where they go wrong."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.motion import lattice, squareness


def degrees(value) -> float:
    return value.to("deg").magnitude


class TestSkew:
    def test_from_diagonals_not_by_the_square_formula(self):
        # (131333.76 - 128665.69) / (4 x 300 x 200) = 0.0111170 rad
        found = squareness.skew_from_diagonals(
            width="300 mm", depth="200 mm", diagonal_1="362.4 mm", diagonal_2="358.7 mm"
        )
        assert degrees(found) == pytest.approx(0.637, abs=1e-3)

    def test_the_mean_square_diagonal_checks_the_sides(self):
        # for a parallelogram d1^2 + d2^2 = 2 (w^2 + h^2)
        mean = math.sqrt((362.4**2 + 358.7**2) / 2)
        assert mean == pytest.approx(360.55, abs=0.01)
        assert mean == pytest.approx(math.hypot(300, 200), abs=0.02)

    def test_the_sign_is_that_of_an_obtuse_corner_at_the_origin(self):
        # shear the rectangle (0,0) (w,0) (w,h) (0,h) so that the corner at the origin opens
        w, h, g = 300.0, 200.0, math.radians(0.5)
        top_left = (-h * math.sin(g), h * math.cos(g))
        top_right = (w + top_left[0], top_left[1])
        beside = math.dist((w, 0), top_left)
        through = math.dist((0, 0), top_right)
        found = squareness.skew_from_diagonals(
            width=Q(w, "mm"),
            depth=Q(h, "mm"),
            diagonal_1=Q(beside, "mm"),
            diagonal_2=Q(through, "mm"),
        )
        assert degrees(found) == pytest.approx(0.5)
        legs = squareness.skew_from_legs(
            leg_1=Q(w, "mm"), leg_2=Q(h, "mm"), hypotenuse=Q(beside, "mm")
        )
        assert degrees(legs) == pytest.approx(0.5)

    def test_a_flipped_overlay_doubles_it(self):
        found = squareness.skew_from_overlay(mismatch="3 mm", side="140 mm")
        assert degrees(found) == pytest.approx(0.614, abs=1e-3)  # 1.5 / 140 = 10.7 mrad

    @pytest.mark.parametrize(
        ("legs", "across", "expected"),
        [(("600 mm", "800 mm"), "1001.5 mm", 0.179), (("24 in", "32 in"), "40.0625 in", 0.187)],
    )
    def test_legs_in_the_ratio_3_4_5(self, legs, across, expected):
        found = squareness.skew_from_legs(leg_1=legs[0], leg_2=legs[1], hypotenuse=across)
        assert degrees(found) == pytest.approx(expected, abs=0.001)

    def test_an_oval_at_45_degrees(self):
        found = squareness.skew_from_oval(
            diameter_along="376.5 mm", diameter_across="373.5 mm", diameter="375 mm"
        )
        assert degrees(found) == pytest.approx(0.458, abs=1e-3)

    @pytest.mark.parametrize(("side", "expected"), [(50.0, 0.057), (250.0, 0.0115)])
    def test_a_small_square_with_callipers_tells_little(self, side, expected):
        # each diagonal to 0.05 mm: 0.05 sqrt(2) / (sqrt(2) side)
        diagonal = Q(side * math.sqrt(2), "mm")
        found = squareness.skew_from_diagonals.uncertainty(
            {"diagonal_1": "0.05 mm", "diagonal_2": "0.05 mm"},
            width=Q(side, "mm"),
            depth=Q(side, "mm"),
            diagonal_1=diagonal,
            diagonal_2=diagonal,
        )
        assert degrees(found.std) == pytest.approx(expected, rel=0.01)


class TestCorrection:
    def test_the_shift_at_a_distance(self):
        found = squareness.shear_shift(distance="300 mm", skew="0.11936629 deg")
        assert found.to("mm").magnitude == pytest.approx(0.62500136, rel=1e-6)

    def test_a_software_shear_jogs_by_a_microstep_now_and_then(self):
        # 2 mm over 400 mm at 80 steps a millimetre: 160 steps in 400 mm
        found = squareness.jog_spacing(
            belt_step=lattice.belt_step(steps_per_length="80 step/mm"),
            skew=Q(math.atan(2 / 400), "rad"),
        )
        assert found.to("mm").magnitude == pytest.approx(2.5)


class TestRacking:
    @pytest.mark.parametrize(
        ("belts", "pitch", "width", "expected"),
        [
            ("crossed", "2 mm", "400 mm", 0.143),
            ("shaft", "2 mm", "500 mm", 0.229),
            ("shaft", "5 mm", "1300 mm", 0.220),
        ],
    )
    def test_one_tooth(self, belts, pitch, width, expected):
        found = squareness.racking_from_tooth(pitch=pitch, rail_spacing=width, belts=belts)
        assert degrees(found) == pytest.approx(expected, abs=1e-3)

    def test_where_no_tooth_can_be_unequal(self):
        with pytest.raises(ValueRefused, match="where two belts hold the beam"):
            squareness.racking_from_tooth(pitch="2 mm", rail_spacing="400 mm", belts="plain")


class TestUnequalBelts:
    def test_a_wrong_pitch_on_one_belt_is_skew_plus_scale(self):
        skew = squareness.skew_from_unequal_belts(belt_ratio=2.032 / 2.0)
        scale = squareness.scale_from_unequal_belts(belt_ratio=2.032 / 2.0)
        assert degrees(skew) == pytest.approx(0.909, abs=1e-3)
        assert scale.magnitude == pytest.approx(1.0080, abs=5e-5)

    def test_against_the_images_of_both_axes(self):
        k = 0.97
        x_axis = np.array([(1 + k) / 2, (1 - k) / 2])
        y_axis = np.array([(1 - k) / 2, (1 + k) / 2])
        cosine = x_axis @ y_axis / np.linalg.norm(x_axis) / np.linalg.norm(y_axis)
        skew = squareness.skew_from_unequal_belts(belt_ratio=k)
        assert degrees(skew) == pytest.approx(math.degrees(math.acos(cosine)) - 90)
        scale = squareness.scale_from_unequal_belts(belt_ratio=k)
        assert scale.magnitude == pytest.approx(np.linalg.norm(x_axis))


def moved(a: float, b: float, swap: bool, x: float, y: float) -> tuple[str, str]:
    """Where a head goes whose motors turn a and b times what is asked, or each other's."""
    ask = (x - y, x + y) if swap else (x + y, x - y)
    turn_a, turn_b = a * ask[0], b * ask[1]
    return f"{(turn_a + turn_b) / 2} mm", f"{(turn_a - turn_b) / 2} mm"


class TestWiring:
    def test_a_dead_motor_moves_the_head_at_45_degrees(self):
        # x + 10 mm with motor b dead: 5 mm along x and 5 mm along y
        assert moved(1, 0, False, 10, 0) == ("5.0 mm", "5.0 mm")
        found = squareness.wiring_fault(
            moved_for_x=("5 mm", "5 mm"), moved_for_y=("5 mm", "5 mm"), commanded="10 mm"
        )
        assert found.fault == "motor b dead"

    @pytest.mark.parametrize(
        ("a", "b", "swap"), list(itertools.product((1, -1), (1, -1), (False, True)))
    )
    def test_every_reversal_and_swap_is_told(self, a, b, swap):
        found = squareness.wiring_fault(
            moved_for_x=moved(a, b, swap, 10, 0),
            moved_for_y=moved(a, b, swap, 0, 10),
            commanded="10 mm",
        )
        assert found.misfit == pytest.approx(0.0, abs=1e-12)
        assert ("swapped" in found.fault) == swap
        assert ("a reversed" in found.fault) == (a < 0)
        assert ("b reversed" in found.fault) == (b < 0)

    def test_a_ruler_reading_is_near_enough(self):
        found = squareness.wiring_fault(
            moved_for_x=("0.5 mm", "9.6 mm"), moved_for_y=("10.3 mm", "-0.4 mm"), commanded="10 mm"
        )
        assert found.fault == "motor b reversed"
        assert 0.02 < found.misfit < 0.06

    def test_what_no_wiring_explains_is_refused(self):
        with pytest.raises(ValueRefused, match="no swap, reversal or dead motor"):
            squareness.wiring_fault(
                moved_for_x=("20 mm", "0 mm"), moved_for_y=("0 mm", "3 mm"), commanded="10 mm"
            )

    def test_lost_position_in_belt_coordinates(self):
        # one motor lost 2 mm: equal and opposite shifts along x and y
        a = squareness.belt_a_travel(x="30 mm", y="-12 mm")
        b = squareness.belt_b_travel(x="30 mm", y="-12 mm")
        assert (a.to("mm").magnitude, b.to("mm").magnitude) == (18.0, 42.0)


class TestLattice:
    @pytest.mark.parametrize(
        ("spacing", "per_length", "expected"),
        [
            ("0.1 mm", "80 step/mm", math.inf),  # 8 steps each
            ("0.085 mm", "80 step/mm", 5.0),  # 6.8 steps: off by a fifth
            ("0.08 mm", "160 step/mm", 5.0),  # 12.8 steps
            ("0.0999 mm", "80 step/mm", 125.0),  # 7.992 steps
        ],
    )
    def test_a_spacing_that_is_no_whole_step_beats(self, spacing, per_length, expected):
        found = lattice.lines_per_beat(line_spacing=spacing, steps_per_length=per_length)
        assert found.magnitude == pytest.approx(expected, rel=1e-6)

    def test_the_beat_against_rounding_line_by_line(self):
        lines = np.arange(1, 2001) * 0.085 * 80
        gaps = np.diff(np.round(lines))
        wide = np.flatnonzero(gaps != np.median(gaps))
        assert np.median(np.diff(wide)) == 5

    @pytest.mark.parametrize(("direction", "expected"), [(0.0, 60.0), (45.0, 42.426407)])
    def test_force_on_an_axis_and_on_the_diagonal(self, direction, expected):
        found = lattice.crossed_force(belt_force="30 N", direction=Q(direction, "deg"))
        assert found.to("N").magnitude == pytest.approx(expected, rel=1e-7)

    def test_top_speed_of_a_slow_controller(self):
        # 30 000 steps a second over 200 steps a millimetre: 150 mm/s, on the diagonal 106.1
        for direction, expected in ((0, 150.0), (45, 106.1)):
            found = lattice.crossed_belt_speed.solve(
                "speed", belt_speed="150 mm/s", direction=Q(direction, "deg")
            )
            assert found.to("mm/s").magnitude == pytest.approx(expected, abs=0.05)
