"""Readings that disagree: order statistics and logarithms, by hand."""

from __future__ import annotations

import math

import pytest

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused
from mathlib.laser import readings


def test_two_readings_by_hand() -> None:
    found = readings.combine(readings=["1 mW", "4 mW"], unit="mW")
    assert found.median.magnitude == pytest.approx(2.5)
    assert found.log_mean.magnitude == pytest.approx(2)  # sqrt(1 * 4)
    assert found.span == pytest.approx(4)
    # Logarithms 0 and log 4: their standard deviation is log 4 / sqrt 2.
    assert math.log(found.factor) == pytest.approx(math.log(4) / math.sqrt(2))


def test_units_do_not_matter_and_one_wild_reading_does_not_pull_the_median() -> None:
    texts = ["5 W", "5200 mW", "4.9 W", "5.1 W", "40 W"]
    found = readings.combine(readings=texts, unit="W")
    assert found.median == Q("5.1 W")
    assert "times or over" in str(found)


def test_refusals() -> None:
    with pytest.raises(ValueRefused, match="at least two"):
        readings.combine(readings=["5 W"], unit="W")
    with pytest.raises(ValueRefused, match="readings"):
        readings.combine(readings=["5 W", "0 W"], unit="W")
    with pytest.raises(UnitError, match="readings"):
        readings.combine(readings=["5 W", "5 V"], unit="W")
