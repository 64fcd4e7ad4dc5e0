"""The sentences with which a formula refuses, and labelled arrays that go in and come out."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np
import pint
import pytest
import xarray
from trial_formulas import AT, SLIP, SPRING, TIMES, WARM, K, M

from mathlib import Q, Range, units
from mathlib.errors import MathlibError, UnitError, ValueRefused, WordError

# -- refusals ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stiffness", "error", "told"),
    [
        (True, ValueRefused, "the truth value True"),
        (np.bool_(True), ValueRefused, "the truth value True"),
        (units.quantity(True, K._units), ValueRefused, "the truth value True"),
        (units.quantity(np.array([True]), K._units), ValueRefused, "1 truth values"),
        (
            units.quantity(np.array([1.0, None]), K._units),
            ValueRefused,
            "2 objects, the first at index",
        ),
        (units.quantity(1 + 2j, K._units), ValueRefused, r"\(1\+2j\) of type complex"),
        (units.quantity(np.array([1j]), K._units), ValueRefused, "1 complex numbers"),
        (units.quantity(np.ma.array([1.0], mask=[1]), K._units), ValueRefused, "masked values"),
        (np.array(["10 N/mm"]), UnitError, "an array of 1 texts"),
        (None, UnitError, "got None of type NoneType"),
        ({}, UnitError, "got {} of type dict"),
        (b"10 N/mm", UnitError, "of type bytes"),
        ([Q([1, 2], "N/mm"), "1 N/mm"], ValueRefused, "parts differ in length"),
        (Fraction(1, 2), UnitError, "of type Fraction"),
        (Range("1 N/mm", "2 N/mm", "3 N/mm", "a test"), UnitError, "of type Range"),
        (xarray.Dataset(), UnitError, "of type Dataset"),
        (pint.UnitRegistry().Quantity(10.0, "N/mm"), UnitError, "another registry"),
        (units.registry.Unit("N/mm"), UnitError, "of type Unit"),
        (9, UnitError, 'got the bare number 9. Write "9 N/mm"'),
        ("9", UnitError, 'got the bare number 9. Write "9 N/mm"'),
        (np.array([1.0, 2.0]), UnitError, r'Write Q\(array, "N/mm"\)'),
        ("9 foo", UnitError, "needs a stiffness.*there is no unit 'foo'"),
        ("9 mm", UnitError, "needs a stiffness, in a unit such as N/mm; got 9 mm"),
        ("9 N*mm", UnitError, "Did you mean 'N/mm'"),
        ("0 N/mm", ValueRefused, "must be positive; got 0 N/mm"),
        ("-1 N/mm", ValueRefused, "must be positive; got -1 N/mm"),
        (Q(np.nan, "N/mm"), ValueRefused, "must be positive; got nan N/mm"),
        (Q(np.inf, "N/mm"), ValueRefused, "must be positive; got inf N/mm"),
        (
            Q([1, np.nan, 3, np.nan], "N/mm"),
            ValueRefused,
            "2 of 4 values are not, the first at index 1",
        ),
        (
            Q([[1, 2], [3, -4]], "N/mm"),
            ValueRefused,
            r"1 of 4 values are not, the first at index \(1, 1\): -4",
        ),
        (Q([1, np.inf], "N/mm"), ValueRefused, "1 of 2 values are not, the first at index 1: inf"),
    ],
)
def test_a_wrong_value_is_refused_by_its_word(stiffness: Any, error: Any, told: str) -> None:
    with pytest.raises(error, match=f"^Trial: stiffness .*{told}"):
        SPRING(stiffness=stiffness, mass=M)


@pytest.mark.parametrize("count", [10**400, -(10**400)])
def test_an_integer_beyond_a_float_is_refused(count: int) -> None:
    with pytest.raises(MathlibError, match="count needs a plain number; got a value of type int"):
        TIMES(count=count, length="1 mm")


def test_every_error_is_also_the_built_in_one() -> None:
    with pytest.raises(ValueError, match="must be positive"):
        SPRING(stiffness="-1 N/mm", mass=M)
    with pytest.raises(TypeError, match="missing"):
        SPRING(mass=M)


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: SPRING(K, M), "write inputs by word: stiffness=, mass=."),
        (lambda: SPRING(K, mass=M), "write inputs by word"),
        (lambda: SPRING(k=K, m=M), "k is the letter in the equation; in a call write stiffness="),
        (lambda: SPRING(stifness=K, mass=M), "no word stifness; did you mean stiffness?"),
        (lambda: SPRING(stiffness=K, mass=M, width=M), "no word width; it takes stiffness, mass"),
        (lambda: SPRING(stiffness=K, mass=M, frequency="1 Hz"), "no word frequency"),
        (lambda: SPRING(mass=M), r"stiffness \(of the spring\) missing"),
        (lambda: SPRING(), r"stiffness \(of the spring\) and mass \(on the spring\) missing"),
    ],
)
def test_a_wrong_word_is_refused(call: Any, told: str) -> None:
    with pytest.raises(WordError, match=f"^Trial: .*{told}"):
        call()


def test_all_mistakes_come_at_once() -> None:
    with pytest.raises(WordError) as caught:
        SPRING(k=K, width="3 mm", mass="3 mm")
    told = str(caught.value)
    assert "k is the letter" in told
    assert "no word width" in told
    assert "mass needs a mass" in told


def test_unequal_shapes_are_named() -> None:
    with pytest.raises(ValueRefused, match=r"unequal shapes: stiffness \(2,\), mass \(3,\)"):
        SPRING(stiffness=Q([1, 2], "N/mm"), mass=Q([1, 2, 3], "kg"))


@pytest.mark.parametrize("as_array", [False, True])
@pytest.mark.parametrize(
    ("stiffness", "mass"), [(1e300, 1e-300), (1e-300, 1e300)], ids=["overflow", "underflow"]
)
def test_overflow_and_underflow_are_told(stiffness: float, mass: float, as_array: bool) -> None:
    k, m = ([stiffness], [mass]) if as_array else (stiffness, mass)
    with pytest.raises(ValueRefused, match="the result is not positive and finite") as caught:
        SPRING(stiffness=Q(k, "N/mm"), mass=Q(m, "kg"))
    assert "stiffness = 1 × 10" in str(caught.value)


def test_extremes_that_cancel_are_no_mistake() -> None:
    # 1e300 N/mm on 1e300 kg is 1000 1/s^2: sqrt(1000) / (2 pi) = 5.0329212104487
    found = SPRING(stiffness="1e300 N/mm", mass="1e300 kg").magnitude
    assert found == pytest.approx(5.0329212104487, rel=1e-13)


@pytest.mark.parametrize("length", ["1e305 m", Q([1e305], "m")])
def test_a_result_too_large_for_its_unit_is_refused(length: Any) -> None:
    with pytest.raises(ValueRefused, match="the result is too large a number"):
        TIMES(count=10, length=length)


@pytest.mark.parametrize("length", ["1e308 km", Q([1e308], "km")])
def test_an_input_too_large_for_base_units_is_refused(length: Any) -> None:
    with pytest.raises(ValueRefused, match="length is too large or too small a number"):
        TIMES(count=10, length=length)


@pytest.mark.parametrize("as_array", [False, True])
def test_a_condition_tells_its_reason(as_array: bool) -> None:
    load = Q([0.1, 0.5] if as_array else 0.5, "N*m")
    with pytest.raises(ValueRefused) as caught:
        SLIP(length="6 mm", load=load, hold="400 mN*m")
    told = str(caught.value)
    assert "needs load <= hold" in told
    assert "load = 0.5 N·m; hold = 0.4 N·m" in told
    assert told.endswith("the motor slips.")
    assert ("at 1 of 2 points, the first at index (1,)" in told) == as_array


def test_a_condition_holds_at_its_very_edge_in_mixed_units() -> None:
    found = SLIP(length="2 mm", load="40 N*cm", hold="400 mN*m")
    assert found.magnitude == pytest.approx(np.pi, rel=1e-15)  # asin(1) = pi / 2


def test_missing_values_pass_only_when_asked() -> None:
    given = Q([10, np.nan, 40], "N/mm")
    with pytest.raises(ValueRefused, match="Pass allow_missing=True"):
        SPRING(stiffness=given, mass=M)
    found = SPRING(stiffness=given, mass=M, allow_missing=True).magnitude
    np.testing.assert_allclose(found, [AT, np.nan, 2 * AT], rtol=1e-15)
    assert np.isnan(SPRING(stiffness=Q(np.nan, "N/mm"), mass=M, allow_missing=True).magnitude)
    for bad in (-1, np.inf):
        with pytest.raises(ValueRefused, match="the first at index 1"):
            SPRING(stiffness=Q([np.nan, bad], "N/mm"), mass=M, allow_missing=True)
    with pytest.raises(ValueRefused, match="the motor slips"):
        SLIP(length="6 mm", load=Q([np.nan, 5], "N*m"), hold="1 N*m", allow_missing=True)


# -- labelled arrays ---------------------------------------------------------------------------


def labelled(values: Any, unit: Any = None, dims: Any = ("x",), **coords: Any) -> Any:
    attrs = {} if unit is None else {"units": unit}
    return xarray.DataArray(np.asarray(values), dims=dims, coords=coords or None, attrs=attrs)


def test_labelled_in_labelled_out() -> None:
    found: Any = SPRING(stiffness=labelled([10, 40], "N/mm", x=[1, 2]), mass=Q(np.array(1.0), "kg"))
    assert isinstance(found, xarray.DataArray)
    assert found.attrs == {"units": "Hz", "long_name": "Trial"}
    assert list(found.x) == [1, 2]
    np.testing.assert_allclose(found, [AT, 2 * AT], rtol=1e-15)
    grid: Any = SPRING(
        stiffness=labelled([10.0, 40.0], "N/mm"), mass=labelled([1.0] * 3, "kg", "y")
    )
    assert grid.dims == ("x", "y")
    counted: Any = TIMES(count=labelled([1, 2]), length="1 mm")
    assert list(counted.values) == [1, 2]
    missing: Any = SPRING(stiffness=labelled([np.nan], "N/mm"), mass=M, allow_missing=True)
    assert np.isnan(missing.item())
    warm: Any = WARM(ambient=labelled([20.0], "degC"), warming="20 K")
    assert warm.item() == pytest.approx(40, rel=1e-12)


@pytest.mark.parametrize(
    ("stiffness", "mass", "told"),
    [
        (labelled([1, 2]), M, "stiffness needs a unit such as N/mm; got an array of bare numbers"),
        (labelled([1, 2], "foo"), M, r'stiffness, attrs\["units"\]: there is no unit'),
        (labelled([1, 2], 5), M, r'stiffness, attrs\["units"\]: a unit is a text'),
        (labelled([1, 2], "mm"), "3 mm", "stiffness needs.*\n.*mass needs"),
        (labelled([1, 2], "N/mm"), Q([1, 2], "kg"), "mass is an array without labels"),
        (labelled([1, 2], "N/mm"), ["1 kg", "2 kg"], "mass is an array without labels"),
        (labelled([1, 2], "N/mm"), labelled([1, 2, 3], "kg"), "labelled arrays do not fit"),
        (
            labelled([1.0], "N/mm", x=[1]),
            labelled([1.0], "kg", x=[2]),
            "labelled arrays do not fit",
        ),
        (labelled([True], "N/mm"), M, "stiffness needs.*1 truth values"),
        (labelled([1j], "N/mm"), M, "stiffness needs.*1 complex numbers"),
        (
            labelled([1.0, np.nan], "N/mm"),
            M,
            "stiffness must be.* 1 of 2 values are not, the first at index 1",
        ),
        (labelled([[1, 2], [3, -4]], "N/mm", ("a", "b")), M, r"stiffness must be.*index \(1, 1\)"),
    ],
)
def test_labelled_arrays_that_do_not_fit(stiffness: Any, mass: Any, told: str) -> None:
    with pytest.raises(ValueError, match=f"(?s)^Trial: {told}"):
        SPRING(stiffness=stiffness, mass=mass)


def test_only_a_call_takes_labelled_arrays() -> None:
    with pytest.raises(UnitError, match=r"labelled array.*pass Q\(array.values"):
        SPRING.solve("mass", stiffness=labelled([1.0], "N/mm"), frequency="3 Hz")
    with pytest.raises(ValueRefused, match="worked shows one point"):
        SPRING.worked(stiffness=labelled([1.0], "N/mm"), mass=M)


def test_what_to_write_instead_is_in_the_words_own_unit() -> None:
    from mathlib.motion.resonance import held_carriage_frequency

    for slip in ("abc", "-", "2*3 kg"):
        with pytest.raises(UnitError, match='write such as "9 kg"'):
            held_carriage_frequency(stiffness="100 N/mm", mass=slip)
