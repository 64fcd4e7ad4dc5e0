"""Measured torque: a pull by spring scale, or a whole curve with its dips."""

from __future__ import annotations

import numpy as np
import pytest

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.motion import derating
from mathlib.motion.pull_test import (
    PullOutTable,
    PullTest,
    part_after_test,
    pulled_torque,
    share_of_test,
)

MESSY = [
    {"speed": "600 rpm", "torque": "0.20 N*m"},
    {"speed": "300 rpm", "torque": "30 N*cm"},
    {"speed": "450 rpm", "torque": "0.11 N*m"},  # a dip between two higher points
    {"speed": "5 turn/s", "torque": "0.28 N*m"},  # 300 rpm again
    {"speed": "400 step/s", "torque": "48.1 ozf*in"},  # 120 rpm of 200 steps
]


class TestTable:
    def test_order_units_and_duplicates(self):
        table = PullOutTable.of(MESSY, full_steps=200)
        assert table.speed.to("rpm").magnitude == pytest.approx([120, 300, 450, 600])
        # of two readings at 300 rpm the lower; 48.1 ozf in x 7.0616 mN m = 0.33966 N m
        assert table.torque.to("N*m").magnitude == pytest.approx([0.33966, 0.28, 0.11, 0.20], 1e-4)
        assert len(table.notes) == 1
        assert "300 rpm was measured 2 times" in table.notes[0]

    def test_a_dip_is_not_smoothed_away(self):
        table = PullOutTable.of(MESSY, full_steps=200)
        found = table.at(Q([450.0, 525.0, 375.0], "rpm")).magnitude
        assert found == pytest.approx([0.11, 0.155, 0.195])  # straight on both sides

    def test_nothing_is_known_beyond_the_fastest_and_below_the_slowest_it_stays(self):
        table = PullOutTable.of(MESSY, full_steps=200)
        assert table.at("601 rpm").magnitude == 0.0
        assert table.at("0 rpm").magnitude == pytest.approx(0.33966, 1e-4)

    @pytest.mark.parametrize("rows", [None, 5, "300 rpm", {"speed": "300 rpm"}])
    def test_what_is_no_list_of_rows_is_told(self, rows):
        with pytest.raises(ValueRefused, match="write a list of"):
            PullOutTable.of(rows)

    def test_a_curve_may_end_in_no_torque_at_all(self):
        rows = [{"speed": "300 rpm", "torque": "0.3 N*m"}, {"speed": "900 rpm", "torque": "0 N*m"}]
        assert PullOutTable.of(rows).at("600 rpm").to("N*m").magnitude == pytest.approx(0.15)

    def test_order_of_rows_does_not_matter(self):
        speeds = Q(np.linspace(0, 700, 71), "rpm")
        one, other = (PullOutTable.of(rows, 200).at(speeds) for rows in (MESSY, MESSY[::-1]))
        np.testing.assert_array_equal(one.magnitude, other.magnitude)

    @pytest.mark.parametrize(
        ("row", "told"),
        [
            ({"speed": "300 rpm"}, "row 2: write speed and torque"),
            ({"speed": "300 rpm", "torque": "0.3 N"}, "row 2: .*torque"),
            ({"speed": "300 mm", "torque": "0.3 N*m"}, "row 2: "),
            ({"speed": "300 step/s", "torque": "0.3 N*m"}, "row 2: a speed in steps needs"),
            # 450 1/min are turns on one sheet and steps on another: a factor of 200
            ({"speed": "450 1/min", "torque": "0.3 N*m"}, "row 2: .*may count turns or steps"),
        ],
    )
    def test_a_row_that_cannot_be_read_is_named(self, row, told):
        with pytest.raises(ValueError, match=told):
            PullOutTable.of([{"speed": "100 rpm", "torque": "0.4 N*m"}, row])

    def test_one_point_is_no_curve(self):
        with pytest.raises(ValueRefused, match="two speeds at least"):
            PullOutTable.of([{"speed": "100 rpm", "torque": "0.4 N*m"}] * 2)


class TestPull:
    def test_two_motors_share_the_pull_and_friction(self):
        # (40 + 4) N / 2 on 6.366 mm
        found = pulled_torque(pull_force="40 N", friction="4 N", pitch_radius="6.366 mm", motors=2)
        assert found.to("mN*m").magnitude == pytest.approx(22 * 6.366)

    def test_share_of_the_bound(self):
        test = PullTest(force="40 N", speed="200 mm/s")
        share = share_of_test(
            test=test, bound=Q("0.2 N*m"), friction="4 N", pitch_radius="6.366 mm", motors=2.0
        )
        assert share == pytest.approx(0.140052 / 0.2)

    def test_up_to_the_test_it_holds_and_beyond_it_opens(self):
        tested = Q("400 Hz")
        for at in ("100 Hz", "400 Hz"):
            assert part_after_test(at, tested, 0.7, normal=-1.645) == pytest.approx(0.7)
        half, octave, far = (
            part_after_test(f, tested, 0.7, 1.645) / part_after_test(f, tested, 0.7, -1.645)
            for f in ("566 Hz", "800 Hz", "1600 Hz")
        )
        assert 1 < half < octave < far
        untested = derating.derating("800 Hz", 1.645) / derating.derating("800 Hz", -1.645)
        assert octave == pytest.approx(untested)

    def test_beyond_the_test_it_does_not_rise(self):
        parts = part_after_test(Q(np.linspace(100, 3000, 60), "Hz"), "400 Hz", 0.7)
        assert np.all(np.diff(parts) <= 1e-12)
