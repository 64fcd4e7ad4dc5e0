"""The table of motors: enough of them, in pairs, with tolerances, and no names of makers."""

from __future__ import annotations

import re
from collections import Counter

import pytest

from mathlib import tables
from mathlib.ranges import Range

ROWS = tables.read("motors").rows
NEEDED = (
    "step_angle", "holding_torque", "rated_current", "resistance", "inductance", "rotor_inertia",
)  # fmt: skip


def number(name: str, word: str) -> float:
    value = ROWS[name].values[word]
    return float((value.typical if isinstance(value, Range) else value).magnitude)


def test_there_are_motors_of_three_frames_and_enough_of_frame_17():
    frames = Counter(re.match(r"frame (\d+), ", name)[1] for name in ROWS)
    assert sum(frames.values()) >= 20
    assert frames["17"] >= 15
    assert frames["14"] >= 2
    assert frames["23"] >= 2


def test_fine_motors_stand_in_pairs_of_equal_body_and_current():
    pairs = {row.pair for row in ROWS.values() if row.pair}
    assert len(pairs) >= 5
    for pair in pairs:
        both = [name for name, row in ROWS.items() if row.pair == pair]
        assert sorted(number(name, "step_angle") for name in both) == [0.9, 1.8]
        for word in ("body_length", "rated_current"):
            one, other = (number(name, word) for name in both)
            assert one == pytest.approx(other, rel=0.01), (pair, word)


def test_every_motor_has_what_the_model_needs_and_tolerance_bands():
    for name, row in ROWS.items():
        assert set(NEEDED) <= set(row.values), name
        for word in ("holding_torque", "resistance", "inductance"):
            span = row.values[word]
            assert isinstance(span, Range), (name, word)
            assert span.low < span.typical < span.high


def test_time_constants_and_torque_for_weight_are_those_of_such_motors():
    # a slipped unit shows at once: L / R is 0.3 to 4 ms, T_h over mass 0.5 to 2.6 N*m/kg
    for name in ROWS:
        assert 0.3 < number(name, "inductance") / number(name, "resistance") < 5, name
        assert 0.5 < number(name, "holding_torque") / number(name, "mass") < 2.6, name


def test_makers_and_order_codes_stand_in_the_source_only():
    told = " ".join(row.source for row in ROWS.values())
    names = set(re.findall(r"\b[A-Z]\w*[A-Z]\w*\b|\b[A-Z]\w{4,}\b|\b\d+[A-Z]\w+\b", told))
    assert len(names) > 10
    for row in ROWS.values():
        assert not names & set(re.findall(r"\w+", f"{row.name} {row.note} {row.pair}"))


def test_what_was_typed_from_memory_is_an_estimate_and_rms_is_told():
    for row in ROWS.values():
        if "memory" in row.source:
            assert row.kind == "estimate", row.name
        assert "rms" in row.note, row.name
