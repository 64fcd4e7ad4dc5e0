"""Kerf from a comb of slots: against combs whose kerf is known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused
from mathlib.laser import cutting

SLOTS = Q(np.arange(2.60, 3.05, 0.05), "mm")


def fit(kerf: float, thickness: float = 3.0, **more):
    """Cut a comb with a kerf in mm, and try a piece in it."""
    entered = [bool(drawn + kerf >= thickness) for drawn in SLOTS.magnitude]
    told = {"slot_width": SLOTS, "entered": entered, "thickness": Q(thickness, "mm")}
    return cutting.fit_comb(**told | more)


@given(some.floats(0.02, 0.38))
def test_the_kerf_lies_between_the_ends(kerf):
    found = fit(kerf)
    assert found.low.magnitude - 1e-9 <= kerf <= found.high.magnitude + 1e-9
    assert found.high.magnitude - found.low.magnitude == pytest.approx(0.05)
    assert found.path_offset.magnitude == pytest.approx(found.kerf.magnitude / 2)
    offset = cutting.part_offset(kerf=found.kerf)
    assert float((offset / found.path_offset).to("1").magnitude) == pytest.approx(1)


def test_uncertainty_is_that_of_a_step_and_of_the_caliper():
    # 0.05 / sqrt(12) = 0.014434, with 0.02: sqrt(0.014434^2 + 0.02^2) = 0.024664
    found = fit(0.17, reading_uncertainty="0.02 mm")
    assert found.std.magnitude == pytest.approx(0.024664, rel=1e-4)
    truth = np.linspace(0.05, 0.35, 400)
    errors = [fit(k, reading_uncertainty="0 mm").kerf.magnitude - k for k in truth]
    assert np.std(errors) == pytest.approx(0.05 / math.sqrt(12), rel=0.05)


def test_slots_that_contradict_each_other_are_told():
    found = cutting.fit_comb(
        slot_width=["2.7 mm", "2.8 mm", "2.9 mm"], entered=[False, True, True], thickness="3 mm"
    )
    assert found.notes == ()
    found = cutting.fit_comb(
        slot_width=["2.7 mm", "2.8 mm", "2.9 mm"], entered=[True, False, True], thickness="3 mm"
    )
    assert (found.low.magnitude, found.high.magnitude) == pytest.approx((0.2, 0.3))
    assert "vary by" in found.notes[0]


def test_refusals():
    told = {"slot_width": ["2.7 mm", "2.8 mm"], "thickness": "3 mm"}
    with pytest.raises(ValueRefused, match="enters all of them; cut narrower"):
        cutting.fit_comb(entered=[True, True], **told)
    with pytest.raises(ValueRefused, match="enters none of them; cut wider"):
        cutting.fit_comb(entered=[False, False], **told)
    with pytest.raises(ValueRefused, match="True or False for each"):
        cutting.fit_comb(entered=[True], **told)
    with pytest.raises(ValueRefused, match="True or False for each"):
        cutting.fit_comb(entered=["no", "yes"], **told)
    with pytest.raises(ValueRefused, match="compensated already"):
        cutting.fit_comb(slot_width=["3.1 mm", "3.2 mm"], entered=[False, True], thickness="3 mm")
    with pytest.raises(UnitError, match="thickness"):
        cutting.fit_comb(slot_width=["2.7 mm"], entered=[True], thickness=3)
