"""How far below the bound: printed curves, leaving one motor out, and where the range is wider."""

from __future__ import annotations

import numpy as np
import pytest

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.motion import steppers
from mathlib.motion.derating import DERATED_AT, DERATING, derating, frequency_of
from mathlib.motion.printed_curves import band, printed_shares
from mathlib.motion.steppers import Motor

FAST = Motor(
    step_angle="1.8 deg", holding_torque="0.40 N*m", rated_current="2.8 A", resistance="0.5 ohm",
    inductance="0.6 mH", rotor_inertia="68 g*cm^2",
)  # fmt: skip
SPLIT = 340.0  # Hz: below it lie 250 to 333 Hz, above it 350 to 500 Hz
SHARES = printed_shares()


def test_a_printed_point_lies_in_the_range():
    # a maker's manual prints 0.25 N*m at 1200 rpm, 1000 Hz, and 24 V for this frame 17 motor,
    # which is not among the curves
    span = steppers.derated(FAST, "1200 rpm", "24 V")
    assert span.low.magnitude < 0.25 < span.high.magnitude
    assert span.kind == "estimate"


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        # shares worked out apart: current-limited points are torque over T_h I / I_r alone
        ("56 mm, 4.0 A", [1.1 / 1.3, 0.9 / 1.3]),  # 300 and 400 rpm at 24 V
        ("82 mm, 4.0 A", [1.85 / 2.4, 1.828 / 2.4, 1.784 / 2.4]),  # supply not stated
        ("113 mm, 4.2 A", [0.698, 0.755, 0.821]),
    ],
)
def test_shares_of_single_points(name, expected):
    found = SHARES.share[SHARES.motor == f"frame 23, {name}"]
    assert found[: len(expected)] == pytest.approx(expected, abs=1e-3)


def test_no_printed_point_lies_above_the_bound():
    assert len(SHARES.share) == 57
    assert len(set(SHARES.motor)) == 6
    assert SHARES.share.max() < 1.0


def test_a_motor_that_was_left_out_lies_inside_the_band_of_the_others():
    inside = []
    for name in sorted(set(SHARES.motor)):
        others = SHARES.motor != name
        ends = []
        for part in (SHARES.frequency < SPLIT, SHARES.frequency >= SPLIT):
            low, _, high = band(SHARES.share[others & part], SHARES.motor[others & part])
            assert high / low <= 2.0
            ends.append((low, high))
        at = SHARES.frequency[~others]
        low, high = (np.interp(at, DERATED_AT[:2], end) for end in zip(*ends, strict=True))
        share = SHARES.share[~others]
        inside += list((low <= share) & (share <= high))
    assert np.mean(inside) >= 0.8


@pytest.mark.parametrize("place", [0, 1])
def test_the_stated_range_is_the_band_of_all_rounded_outwards(place):
    part = (SHARES.frequency < SPLIT) == (place == 0)
    low, typical, high = band(SHARES.share[part], SHARES.motor[part])
    stated = DERATING[place]
    assert low - 0.06 <= stated[0] <= low
    assert high <= stated[2] <= high + 0.06
    assert stated[2] / stated[0] <= 2.0
    # a decline with frequency is not established, and the middle moves less than the points say
    assert stated[1] == pytest.approx(typical, abs=0.08)


def test_each_motor_counts_as_much_as_the_others():
    # nine points of one motor do not outvote one of another
    _, typical, _ = band([0.5] * 9 + [0.9], ["a"] * 9 + ["b"])
    assert 0.5 < typical < 0.9


def test_it_is_wider_at_high_frequency_and_never_above_the_bound():
    narrow, middle, wide = (derating(f, 1.645) / derating(f, -1.645)
                            for f in ("300 Hz", "500 Hz", "3000 Hz"))  # fmt: skip
    assert narrow < middle < wide
    assert derating(Q([1.0, 300.0, 3000.0], "Hz"), 1.645).max() < 1.0


def test_a_finer_motor_has_the_wider_range_at_the_same_speed():
    fine = Motor(
        step_angle="0.9 deg", holding_torque="0.40 N*m", rated_current="2.8 A",
        resistance="0.5 ohm", inductance="0.6 mH", rotor_inertia="68 g*cm^2",
    )  # fmt: skip
    assert frequency_of(fine, "400 rpm") == 2 * frequency_of(FAST, "400 rpm")
    spans = [steppers.derated(m, "400 rpm", "24 V") for m in (FAST, fine)]
    widths = [(span.high / span.low).to("1").magnitude for span in spans]
    assert widths[1] > 1.2 * widths[0]


def test_many_speeds_are_no_single_range():
    with pytest.raises(ValueRefused, match="one motor at one speed"):
        steppers.derated(FAST, Q([100.0, 200.0], "rpm"), "24 V")
