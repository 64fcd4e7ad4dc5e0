"""Ranges: what makes one, and that draws have the share and the shape that it states."""

from __future__ import annotations

import pickle
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q, Range, units
from mathlib.errors import TextRefused, UnitError, ValueRefused


@pytest.mark.parametrize(
    ("low", "typical", "high"),
    [
        ("12 kN", "19 kN", "30 kN"), ("-3 mm", "0 mm", "5 mm"), ("0 mm", "1 mm", "9 mm"),
        ("10 degC", "20 degC", "40 degC"), ("5 %", "6 %", "12 %"), ("1 cm", "20 mm", "0.1 m"),
    ],
)  # fmt: skip
def test_draws_have_the_stated_shares(low: str, typical: str, high: str) -> None:
    told = Range(low, typical, high, "a test")
    values = told.draw(40_000, 1).magnitude
    ends = [Q(q).to(told.typical.units).magnitude for q in (low, typical, high)]
    found = np.percentile(values, [5, 50, 95])
    # A percentile of n draws lies within 4 standard deviations of rank, sqrt(p (1 - p) / n).
    for share, end in zip((0.05, 0.5, 0.95), ends, strict=True):
        slack = 4 * np.sqrt(share * (1 - share) / values.size)
        assert abs(np.mean(values < end) - share) < slack
    assert found[0] < found[1] < found[2]


def test_positive_ranges_stay_positive() -> None:
    values = Range("1 mm", "10 mm", "100 mm", "a test").draw(10_000, 2).magnitude
    assert values.min() > 0
    # Split in logarithms: half a decade below and half above are equally likely.
    assert np.mean(np.log10(values)) == pytest.approx(1, abs=0.02)


def test_degrees_are_not_split_in_logarithms() -> None:
    # 10 to 30 degC about 20 is even on both sides; in kelvin it must be just as even.
    values = Range("10 degC", "20 degC", "30 degC", "a test").draw(40_000, 3)
    assert np.mean(values.magnitude) == pytest.approx(20, abs=0.15)
    assert np.std(values.magnitude) == pytest.approx(10 / 1.6449, rel=0.02)


@given(st.integers(0, 50), st.integers(0, 2**32))
def test_the_same_seed_gives_the_same_draws(n: int, seed: int) -> None:
    told = Range("1 mm", "2 mm", "4 mm", "a test")
    one, two = told.draw(n, seed), told.draw(n, seed)
    assert one.magnitude.shape == (n,)
    assert one.units == units.registry.mm
    np.testing.assert_array_equal(one.magnitude, two.magnitude)


def test_a_generator_goes_on() -> None:
    told, rng = Range("1 mm", "2 mm", "4 mm", "a test"), np.random.default_rng(4)
    assert not np.any(told.draw(5, rng).magnitude == told.draw(5, rng).magnitude)


def test_no_width_is_one_value() -> None:
    values = Range("2 mm", "2 mm", "2 mm", "a test").draw(5, 1).magnitude
    np.testing.assert_array_equal(values, np.full(5, 2.0))


@pytest.mark.parametrize(
    ("ends", "error", "told"),
    [
        (("3 mm", "2 mm", "1 mm"), ValueRefused, "out of order: 3 mm ≤ 2 mm ≤ 1 mm"),
        (("1 mm", "2 s", "3 mm"), UnitError, "low needs a time"),
        (("1 Hz", "60 rpm", "3 Hz"), UnitError, "low needs radians or turns"),
        (("1", "2", "3"), TextRefused, "a unit is missing"),
        ((1, 2, 3), UnitError, "needs a text or a scalar quantity"),
        ((True, "2 mm", "3 mm"), UnitError, "needs a text or a scalar quantity"),
        ((Q([1.0], "mm"), "2 mm", "3 mm"), UnitError, "needs a text or a scalar quantity"),
        ((Q(np.nan, "mm"), "2 mm", "3 mm"), UnitError, "needs a text or a scalar quantity"),
        (("1 mm", "2 mm", Q(np.inf, "mm")), UnitError, "needs a text or a scalar quantity"),
    ],
)
def test_what_is_no_range(ends: Any, error: Any, told: str) -> None:
    with pytest.raises(error, match=told):
        Range(*ends, "a test")


@pytest.mark.parametrize("source", ["", "  ", None, 5])
def test_a_range_needs_a_source(source: Any) -> None:
    with pytest.raises(ValueRefused, match="a source is needed"):
        Range("1 mm", "2 mm", "3 mm", source)


def test_a_range_is_of_a_known_kind() -> None:
    with pytest.raises(ValueRefused, match="kind is one of measured, catalogue, estimate"):
        Range("1 mm", "2 mm", "3 mm", "a test", "guess")


@pytest.mark.parametrize("n", [-1, 2.5, True, "3"])
def test_draws_are_counted(n: Any) -> None:
    with pytest.raises(ValueRefused, match="n is how many values"):
        Range("1 mm", "2 mm", "3 mm", "a test").draw(n, 1)


def test_draws_need_a_seed() -> None:
    with pytest.raises(ValueRefused, match="a seed is needed"):
        Range("1 mm", "2 mm", "3 mm", "a test").draw(3, None)  # type: ignore[arg-type]


def test_a_range_is_pickled_and_written() -> None:
    told = Range("10 mm", "2 cm", "0.03 m", "a test", "measured")
    assert pickle.loads(pickle.dumps(told)) == told
    assert str(told) == "2 cm (1 cm to 3 cm)"
