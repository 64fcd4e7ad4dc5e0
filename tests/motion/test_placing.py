"""A tooth too few, and rails that lean, against arithmetic and the error they are meant to make."""

from __future__ import annotations

import attrs
import numpy as np
import pytest

from mathlib.errors import ValueRefused
from mathlib.machine import TAGMAKER, load
from mathlib.motion import gantries, squareness
from mathlib.motion.placing import equal_spans, rail_tolerance, short_belt

LAYOUT = load(TAGMAKER).layout
CROSSED = gantries.crossed_belts(LAYOUT)
EA = LAYOUT.belt.specific_stiffness.to("N").magnitude
WIDTH = LAYOUT.rail_spacing.to("mm").magnitude


def short(**changed):
    told = {"gantry": CROSSED, "belt": 0, "shortened": "2 mm", "energised": False}
    return short_belt(**told | changed)


class TestShortBelt:
    def test_free_crossed_beam_turns_by_half_a_tooth_across(self):
        # Textbook: yaw W gives to one loop what it takes from the other, so p / (2 W).
        found = short()
        assert found.yaw.to("rad").magnitude == pytest.approx(2 / (2 * WIDTH), rel=1e-9)
        by_formula = squareness.racking_from_tooth(
            pitch="2 mm", rail_spacing=f"{WIDTH} mm", belts="crossed"
        )
        assert found.yaw.to("rad").magnitude == pytest.approx(
            by_formula.to("rad").magnitude, rel=1e-5
        )
        a, b = found.tension.magnitude
        assert a == pytest.approx(b)

    def test_on_a_common_shaft_a_tooth_past_the_pulley_turns_the_beam_by_all_of_it(self):
        # Textbook: p / W. One tooth more before the drive is one tooth less after it.
        shaft = gantries.common_shaft(attrs.evolve(LAYOUT, belts="shaft", pulleys=None))
        before, after = (short(gantry=shaft, belt=1, first_part=share).yaw for share in (1, 0))
        turned = (before - after).to("rad").magnitude
        assert turned == pytest.approx(2 / WIDTH, rel=1e-6)

    def test_plain_axes_need_the_rails(self):
        plain = gantries.plain_axes(attrs.evolve(LAYOUT, belts="plain", pulleys=None))
        with pytest.raises(ValueRefused, match="give yaw_stiffness"):
            short(gantry=plain, belt=1)
        assert abs(short(gantry=plain, belt=1, yaw_stiffness="60000 N*m/rad").yaw.magnitude) < 0.01

    def test_other_belt_turns_it_the_other_way(self):
        assert short(belt=1).yaw.magnitude == pytest.approx(-short().yaw.magnitude)

    def test_stiff_rails_turn_less_and_only_the_short_belt_grows_taut(self):
        found = short(yaw_stiffness="1e9 N*m/rad")
        # By hand: a loop of length L that may not give is stretched by p, so EA p / L.
        parts = CROSSED.parts(LAYOUT.travel_x / 2.0, LAYOUT.travel_y / 2.0)
        loop = sum(parts.lengths[:2])
        assert abs(found.yaw.magnitude) < 1e-5
        assert found.tension.magnitude == pytest.approx([EA * 2 / loop, 0.0], abs=0.01)

    def test_tension_rises_as_yaw_falls_in_between(self):
        # The moment that the tensions leave must be what the rails take: M = W (Ta - Tb).
        stiff = 60_000.0
        found = short(yaw_stiffness=f"{stiff} N*m/rad")
        a, b = found.tension.magnitude
        moment = WIDTH * 1e-3 * (a - b)
        assert stiff * found.yaw.to("rad").magnitude == pytest.approx(moment, rel=0.01)

    def test_energised_motors_shift_the_head_by_no_more_than_half_a_tooth_along_an_axis(self):
        shares = [short(energised=True, first_part=s).shift.magnitude for s in (0.0, 0.5, 1.0)]
        assert np.max(np.abs(shares)) <= 1.0
        assert np.linalg.norm(shares[2] - shares[0]) > 0.5
        assert short().shift.magnitude == pytest.approx([0.0, 0.0])

    def test_yaw_is_the_same_with_motors_on(self):
        assert short(energised=True).yaw.magnitude == pytest.approx(short().yaw.magnitude)

    def test_a_share_beyond_one_is_refused(self):
        with pytest.raises(ValueRefused, match=r"first_part is a share from 0 to 1; got 1\.5"):
            short(first_part=1.5)


class TestRailTolerance:
    def test_leaning_by_it_makes_just_that_error(self):
        by = rail_tolerance(CROSSED, "0.05 mm").to("mm").magnitude
        assert worst(by) == pytest.approx(0.05, rel=0.01) or worst(-by) == pytest.approx(
            0.05, rel=0.01
        )

    def test_a_larger_accuracy_allows_more(self):
        one, four = (rail_tolerance(CROSSED, a).magnitude for a in ("0.01 mm", "0.04 mm"))
        assert one < four < 20


class TestEqualSpans:
    def test_mirrored_belts_are_equal_in_the_middle(self):
        assert equal_spans(CROSSED, "100 mm").magnitude == pytest.approx(210.0, abs=1e-5)

    def test_a_pulley_one_millimetre_further_out_moves_the_place_by_half_of_that(self):
        # Run a grows with x and run b shrinks as much; a is 1 mm longer at every x.
        left = CROSSED.with_node_moved(0, 1, -1.0, 0.0)
        assert equal_spans(left, "100 mm").magnitude == pytest.approx(209.5, abs=1e-5)

    def test_a_place_beyond_the_travel_or_plain_axes_are_refused(self):
        with pytest.raises(ValueRefused, match="nowhere in the travel"):
            equal_spans(CROSSED.with_node_moved(0, 1, -600.0, 0.0), "100 mm")
        plain = gantries.plain_axes(attrs.evolve(LAYOUT, belts="plain", pulleys=None))
        with pytest.raises(ValueRefused, match="only crossed belts"):
            equal_spans(plain, "100 mm")


def worst(by):
    """Error over the field when the frame's pulleys lean by ``by`` over the travel."""
    travel = LAYOUT.travel_y.to("mm").magnitude
    found = CROSSED
    for belt, path in enumerate(CROSSED.paths):
        changed = {
            n: node._replace(x=node.x + by * (node.y / travel - 0.5))
            for n, node in enumerate(path.nodes)
            if node.on == "frame"
        }
        found = found.with_nodes(belt, changed)
    x = np.linspace(0, 1, 9)[:, None] * LAYOUT.travel_x
    y = np.linspace(0, 1, 9) * LAYOUT.travel_y
    change = (
        found.parallel_error(x, y).position.magnitude
        - CROSSED.parallel_error(x, y).position.magnitude
    )
    return float(np.max(np.linalg.norm(change, axis=-1)))
