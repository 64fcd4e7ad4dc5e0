"""Functions that take words with units, as formulas do, and one value brought to base units."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q, units
from mathlib.errors import UnitError, ValueRefused, WordError
from mathlib.words import Word, base_value, result, with_units


@with_units("Side of a box", returns="mm", area="mm^2", height=("mm", "zero"), share="1")
def side(*, area: Any, height: Any, share: Any = "50 %", shape: str = "round") -> Any:
    """Give a length, or nan where asked for a shape that has none."""
    return np.sqrt(area) + height * share if shape == "round" else area * np.nan


@with_units("Either current", current_rms="A", current_peak="A")
def either(*, current_rms: Any = None, current_peak: Any = None) -> Any:
    return current_rms if current_peak is None else current_peak / np.sqrt(2)


def test_a_function_works_in_base_units() -> None:
    found = side(area="4 cm^2", height=["0 mm", "1 cm"])
    np.testing.assert_allclose(found.magnitude, [20, 25], rtol=1e-14)
    assert found.units == units.registry.mm
    assert side(area="4 cm^2", height="1 cm", share=1).magnitude == pytest.approx(30, rel=1e-14)
    assert isinstance(side(area="4 cm^2", height="1 cm").magnitude, float)


def test_a_word_may_be_left_out_where_the_function_allows() -> None:
    assert either() is None
    assert either(current_rms="1 A") == 1.0
    assert either(current_peak="1000 mA") == pytest.approx(0.5**0.5, rel=1e-15)


@pytest.mark.parametrize(
    ("call", "error", "told"),
    [
        (lambda: side("4 mm^2"), WordError, "write inputs by word: area=, height=, share=, shape="),
        (lambda: side(area="4 mm^2"), WordError, "height .* missing"),
        (lambda: side(aera="4 mm^2", height="1 mm"), WordError, "no word aera; did you mean area"),
        (lambda: side(area=4, height="1 mm"), UnitError, 'Write "4 mm\\^2"'),
        (
            lambda: side(area="4 mm", height="-1 mm"),
            UnitError,
            "area needs an area(.|\n)*height must",
        ),
        (lambda: side(area=None, height="1 mm"), UnitError, "area needs.*got None"),
        (lambda: side(area="4 mm^2", height="1 mm", shape="odd"), ValueRefused, "not finite"),
        (lambda: either(current_rms="-1 A"), ValueRefused, "current_rms must be positive"),
    ],
)
def test_a_function_refuses_as_a_formula_does(call: Any, error: Any, told: str) -> None:
    with pytest.raises(error, match=told):
        call()


LENGTH = Word("length", "mm", "of it")


@pytest.mark.parametrize("sign", ["positive", "zero", "signed"])
@pytest.mark.parametrize("value", [-1.0, 0.0, 1.0, np.nan, np.inf, -np.inf])
def test_signs(sign: str, value: float) -> None:
    fits = {"positive": (1.0,), "zero": (0.0, 1.0), "signed": (-1.0, 0.0, 1.0)}[sign]
    word = Word("length", "mm", "of it", sign)
    for told in (Q(value, "mm"), Q([value], "mm"), [Q(value, "mm")]):
        if value in fits:
            assert np.ravel(base_value(word, told))[0] == value / 1000
        else:
            with pytest.raises(ValueRefused, match="length must be"):
                base_value(word, told)


@given(st.floats(1e-6, 1e6), st.sampled_from(["um", "mm", "cm", "m", "in", "mil", "ft"]))
def test_base_units_and_back(number: float, unit: str) -> None:
    word = Word("length", unit, "of it")
    back = result(base_value(word, Q(number, unit)), word.container)
    assert back.magnitude == pytest.approx(number, rel=4e-16)


@pytest.mark.parametrize(
    ("text", "base"), [("9 mm", 0.009), ("0.1 mm", 0.0001), ("12.5 um", 1.25e-5), ("3 um", 3e-6)]
)
def test_a_decimal_of_millimetres_is_that_decimal_of_metres(text: str, base: float) -> None:
    assert base_value(LENGTH, text) == base


@pytest.mark.parametrize("number", [1e308, 5e-324])
def test_a_number_that_leaves_the_floats_in_base_units_is_refused(number: float) -> None:
    unit = "km" if number > 1 else "nm"
    for told in (Q(number, unit), Q([number], unit)):
        with pytest.raises(ValueRefused, match="length is too large or too small"):
            base_value(LENGTH, told)


@pytest.mark.parametrize("degrees", [-20.0, 0.0, 36.6])
def test_temperatures_return_as_they_came(degrees: float) -> None:
    word = Word("warm", "degC", "of it")
    assert base_value(word, Q(degrees, "degC")) == pytest.approx(degrees + 273.15, rel=1e-15)
    back = result(base_value(word, Q(degrees, "degC")), word.container).magnitude
    assert back == pytest.approx(degrees, abs=1e-12)
