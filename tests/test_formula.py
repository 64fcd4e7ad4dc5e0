"""The contract of a formula: its definition, its calls, and the sentences when one is wrong."""

from __future__ import annotations

import pickle
import subprocess
import sys
import tracemalloc
from fractions import Fraction
from typing import Any

import numpy as np
import pint
import pytest
import xarray
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Example, Formula, Q, Range, units
from mathlib.compiled import BLOCK
from mathlib.errors import FormulaError, MathlibError, UnitError, ValueRefused, WordError

OUT = ("result", "mm", "found", "signed")


def define(equation: str, where: dict[str, tuple[str, ...]], **more: Any) -> Formula:
    told: dict[str, Any] = {"title": "Trial", "assumes": ("nothing",), "source": "a test"}
    return Formula(equation=equation, where=where, **(told | more))


SPRING = define(
    "f = sqrt(k / m) / (2 * pi)",
    {
        "f": ("frequency", "Hz", "found"),
        "k": ("stiffness", "N/mm", "of the spring"),
        "m": ("mass", "kg", "on the spring"),
    },
)
TIMES = define("y = n * a", {"y": OUT, "n": ("count", "1", "how many", "signed"),
                             "a": ("length", "mm", "of one", "signed")})  # fmt: skip
SLIP = define(
    "y = a * asin(x / b)",
    {
        "y": OUT,
        "a": ("length", "mm", "of an arm"),
        "x": ("load", "N*m", "asked", "zero"),
        "b": ("hold", "N*m", "given"),
    },
    holds=("x <= b; the motor slips",),
)
FALL = define(
    "v = sqrt(2 * g * h)",
    {
        "v": ("speed", "m/s", "at the ground"),
        "h": ("height", "m", "of the fall"),
        "g": ("gravity", "m/s^2", "of the earth", "positive", "9.80665 m/s^2", "CGPM 1901"),
    },
)
WARM = define(
    "T = T_0 + d",
    {
        "T": ("temperature", "degC", "after", "signed"),
        "T_0": ("ambient", "degC", "before"),
        "d": ("warming", "delta_degC", "between", "signed"),
    },
)
K, M = Q("10 N/mm"), Q("1 kg")
AT = 15.915494309189533  # sqrt(10000 / 1) / (2 pi), worked to 17 digits apart from the library


# -- definition ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("equation", "where", "told"),
    [
        ("y = a + b", {"y": OUT, "a": ("p", "mm", "in"), "b": ("q", "s", "in")}, "together with"),
        ("y = a * b", {"y": OUT, "a": ("p", "mm", "in"), "b": ("q", "mm", "in")}, "does not give mm"),
        ("y = sin(a)", {"y": OUT, "a": ("p", "mm", "in")}, "takes a plain number"),
        ("y = a", {"y": OUT, "a": ("p", "mm", "in"), "b": ("q", "mm", "in")}, "differ in b"),
        ("y = a * b", {"y": OUT, "a": ("p", "mm", "in")}, "differ in b"),
        ("y = a", {"a": ("p", "mm", "in")}, "differ in y"),
        ("y = a + b", {"y": OUT, "a": ("p", "mm", "in"), "b": ("p", "mm", "in")}, "same word"),
        ("y = a", {"y": OUT, "a": ("result", "mm", "in")}, "same word"),
        ("y = a", {"y": OUT, "a": ("p", "mm", "in", "plus")}, "unknown sign 'plus'"),
        ("y = a", {"y": OUT, "a": ("p", "foo", "in")}, "p: there is no unit 'foo'"),
        ("y = a", {"y": OUT, "a": ("p", "mm")}, "a needs .word, unit, meaning"),
        ("y = a", {"y": OUT, "a": "p"}, "a needs .word, unit, meaning"),
        ("y = a", {"y": OUT, "a": ("p", "mm", "in", "positive", "1 mm", "s", "x")}, "a needs .word"),
        ("y = a", {"y": OUT, "a": ("p", "mm", "in", "positive", "1 mm")}, "a needs .word"),
        ("y = a", {"y": OUT, "a": ("p", "mm", "in", "positive", "1 s", "src")}, "p needs a length"),
        ("y = a", {"y": OUT, "a": ("p", "mm", "in", "positive", "-1 mm", "src")}, "must be positive"),
        ("y = a", {"y": OUT, "a": ("two words", "mm", "in")}, "not a usable name"),
        ("y = a", {"y": OUT, "a": ("lambda", "mm", "in")}, "not a usable name"),
        ("y = a", {"y": OUT, "a": ("allow_missing", "mm", "in")}, "not a usable name"),
        ("y = a", {"y": OUT, "a": ("bracket", "mm", "in")}, "not a usable name"),
        ("y = a", {"y": OUT, "a": ("self", "mm", "in")}, "not a usable name"),
        ("y = e", {"y": OUT, "e": ("p", "mm", "in")}, "not a usable name"),
        ("y = Min(a, a)", {"y": OUT, "a": ("p", "mm", "in")}, "not allowed"),
    ],
)  # fmt: skip
def test_a_wrong_definition_is_refused(equation: str, where: Any, told: str) -> None:
    with pytest.raises(FormulaError, match=f"^Trial: .*{told}"):
        define(equation, where)


@pytest.mark.parametrize(
    ("condition", "told"),
    [
        ("a", "a condition compares"),
        ("1 < 2; always", "a condition compares"),
        ("z < a; why", "'z < a' uses a letter that is no input"),
        ("y < a; why", "'y < a' uses a letter that is no input"),
        ("a < 2; why", "together with a plain number"),
    ],
)
def test_a_wrong_condition_is_refused(condition: str, told: str) -> None:
    with pytest.raises(FormulaError, match=told):
        define("y = a", {"y": OUT, "a": ("p", "mm", "in")}, holds=(condition,))


# -- what a call takes -------------------------------------------------------------------------


@pytest.mark.parametrize(
    "stiffness",
    [
        "10 N/mm", "10 N / mm", "10000 N/m", "1e4 N/m", "10 kN/m", K, Q("10 kN/m"),
        units.registry.Quantity(10, "N/mm"), units.registry.Quantity(np.float32(10), "N/mm"),
        units.registry.Quantity(np.int64(10), "N/mm"), units.registry.Quantity(np.array(10.0), "N/mm"),
        10 * units.registry.newton / units.registry.millimeter, np.str_("10 N/mm"),
    ],
)  # fmt: skip
def test_one_value_in_many_shapes(stiffness: Any) -> None:
    found = SPRING(stiffness=stiffness, mass="1000 g")
    assert isinstance(found.magnitude, float)
    assert found.magnitude == pytest.approx(AT, rel=1e-15)
    assert found.units == units.registry.hertz


_TWO = np.array([10.0, 40.0])


def _read_only() -> Any:
    array = _TWO.copy()
    array.flags.writeable = False
    return array


@pytest.mark.parametrize(
    "values",
    [
        _TWO, _TWO.astype(np.int64), _TWO.astype(np.float32), _TWO.astype(">f8"), _TWO.astype("u1"),
        _TWO.astype(np.longdouble), _read_only(), np.repeat(_TWO, 3)[::3], _TWO[::-1][::-1],
    ],
    ids=["float", "int", "float32", "big-endian", "byte", "long", "read-only", "strided", "reversed"],
)  # fmt: skip
def test_arrays_of_any_kind(values: Any) -> None:
    given = units.registry.Quantity(values, "N/mm")
    found = SPRING(stiffness=given, mass=M).magnitude
    assert found.dtype == np.dtype(float)
    np.testing.assert_allclose(found, [AT, 2 * AT], rtol=1e-15)
    assert list(given.magnitude) == [10, 40]


@pytest.mark.parametrize(
    "values",
    [["10 N/mm", "40 N/mm"], ("10 N/mm", Q("40 kN/m")), [K, Q(40, "N/mm")], Q([10, 40], "N/mm")],
)
def test_lists_of_texts_and_quantities_in_mixed_units(values: Any) -> None:
    found = SPRING(stiffness=values, mass=["1 kg"]).magnitude
    np.testing.assert_allclose(found, [AT, 2 * AT], rtol=1e-15)


def test_nested_lists_keep_their_shape() -> None:
    found = SPRING(stiffness=[["10 N/mm", "40 N/mm"], [K, K]], mass=M).magnitude
    np.testing.assert_allclose(found, [[AT, 2 * AT], [AT, AT]], rtol=1e-15)


@pytest.mark.parametrize(
    ("values", "shape"), [([], (0,)), (Q([], "N/mm"), (0,)), (Q(np.zeros((0, 3)), "N/mm"), (0, 3))]
)
def test_an_empty_array_gives_an_empty_result(values: Any, shape: tuple[int, ...]) -> None:
    found = SPRING(stiffness=values, mass=M)
    assert found.magnitude.shape == shape
    assert found.units == units.registry.hertz


@pytest.mark.parametrize("n", [1, 2, BLOCK - 1, BLOCK, BLOCK + 1, 3 * BLOCK + 5])
def test_blocks_join_without_a_seam(n: int) -> None:
    stiffness = np.linspace(1, 50, n)
    found = SPRING(stiffness=Q(stiffness, "N/mm"), mass=M).magnitude
    np.testing.assert_allclose(found, np.sqrt(stiffness * 1000) / (2 * np.pi), rtol=1e-15)


@pytest.mark.parametrize(
    ("k", "m"),
    [
        ((3, 1), (4,)), ((2, 3, 4), (3, 1)), ((1,), (5,)), ((200, 300), (300,)), ((1, 1), (1,)),
        ((BLOCK + 1, 1), (3,)), ((3, 1), (BLOCK + 1,)),
    ],
)  # fmt: skip
@pytest.mark.parametrize("order", ["C", "F"])
def test_shapes_broadcast(k: tuple[int, ...], m: tuple[int, ...], order: Any) -> None:
    rng = np.random.default_rng(1)
    stiffness, mass = (np.asarray(rng.uniform(1, 2, shape), order=order) for shape in (k, m))
    found = SPRING(stiffness=Q(stiffness, "N/mm"), mass=units.quantity(mass, M._units)).magnitude
    np.testing.assert_allclose(found, np.sqrt(stiffness * 1e3 / mass) / (2 * np.pi), rtol=1e-15)


def test_memory_of_a_broadcast_call_is_the_result_and_little_more() -> None:
    stiffness, mass = Q(np.ones((2, 500_000)), "N/mm"), Q(np.ones((2, 1)), "kg")
    SPRING(stiffness=stiffness, mass=mass)
    tracemalloc.start()
    found = SPRING(stiffness=stiffness, mass=mass)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak <= found.magnitude.nbytes + 2e6


@given(st.lists(st.floats(1e-3, 1e3), min_size=1, max_size=5), st.floats(1e-3, 1e3))
def test_scalars_and_arrays_give_the_same_bits(stiffness: list[float], mass: float) -> None:
    together = SPRING(stiffness=Q(stiffness, "N/mm"), mass=Q(mass, "g")).magnitude
    alone = [SPRING(stiffness=Q(k, "N/mm"), mass=Q(mass, "g")).magnitude for k in stiffness]
    assert list(together) == alone


@given(st.sampled_from(["N/mm", "kN/m", "N/m", "lbf/in"]), st.sampled_from(["kg", "g", "lb"]))
def test_units_may_be_mixed(force_per_length: str, mass: str) -> None:
    found = SPRING(stiffness=K.to(units.registry.Unit(units.container(force_per_length))),
                   mass=M.to(units.registry.Unit(units.container(mass))))  # fmt: skip
    assert found.magnitude == pytest.approx(AT, rel=1e-14)


@pytest.mark.parametrize(
    ("count", "result"), [(3, 3.0), ("3", 3.0), ("3 1", 3.0), ("50 %", 0.5), (-2.5, -2.5),
                          ("200 step", 200.0), ("5 ppm", 5e-6), (np.int32(3), 3.0)]
)  # fmt: skip
def test_bare_numbers_where_the_unit_is_one(count: Any, result: float) -> None:
    assert TIMES(count=count, length="1 mm").magnitude == pytest.approx(result, rel=1e-15)
    listed = TIMES(count=[count, count], length="1 mm").magnitude
    np.testing.assert_allclose(listed, [result, result], rtol=1e-15)


@pytest.mark.parametrize("unit", ["deg", "rad", "turn", "%", "mm", "N/mm", "step/mm"])
@pytest.mark.parametrize("bare", [60, 60.0, "60", np.array([60.0]), [60]])
def test_bare_numbers_are_refused_elsewhere(unit: str, bare: Any) -> None:
    same = define("y = a", {"y": ("out", unit, "found"), "a": ("given", unit, "taken")})
    with pytest.raises(UnitError, match="given needs") as caught:
        same(given=bare)
    assert f'60 {unit}"' in str(caught.value) or f'Q(array, "{unit}")' in str(caught.value)


# -- refusals ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stiffness", "error", "told"),
    [
        (True, ValueRefused, "the truth value True"),
        (np.bool_(True), ValueRefused, "the truth value True"),
        (units.quantity(True, K._units), ValueRefused, "the truth value True"),
        (units.quantity(np.array([True]), K._units), ValueRefused, "1 truth values"),
        (units.quantity(np.array([1.0, None]), K._units), ValueRefused, "2 objects, the first at index"),
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
        (Q([1, np.nan, 3, np.nan], "N/mm"), ValueRefused, "2 of 4 values are not, the first at index 1"),
        (Q([[1, 2], [3, -4]], "N/mm"), ValueRefused, r"1 of 4 values are not, the first at index \(1, 1\): -4"),
        (Q([1, np.inf], "N/mm"), ValueRefused, "1 of 2 values are not, the first at index 1: inf"),
    ],
)  # fmt: skip
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


# -- temperature and constants -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("ambient", "warming", "result"),
    [
        ("20 degC", "20 K", 40.0),
        ("68 degF", "36 delta_degF", 40.0),
        ("293.15 K", "20 delta_degC", 40.0),
        ("-5 degC", "-10 delta_degC", -15.0),
    ],
)
def test_temperatures_go_through_kelvin(ambient: str, warming: str, result: float) -> None:
    found = WARM(ambient=ambient, warming=warming)
    assert found.magnitude == pytest.approx(result, rel=1e-12)
    assert found.units == units.registry.degC
    many = WARM(ambient=[ambient, ambient], warming=warming).magnitude
    np.testing.assert_allclose(many, [result, result], rtol=1e-12)
    blocks = WARM(ambient=Q([Q(ambient).magnitude], units.spelled(Q(ambient)._units)),
                  warming=Q(warming)).magnitude  # fmt: skip
    np.testing.assert_allclose(blocks, [result], rtol=1e-12)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ({"ambient": "20 delta_degC", "warming": "1 K"}, "ambient needs a temperature"),
        ({"ambient": "20 degC", "warming": "5 degC"}, 'Write "5 delta_degC"'),
        ({"ambient": "-300 degC", "warming": "5 K"}, "ambient must be positive; got -300 °C"),
    ],
)
def test_temperatures_and_differences_are_kept_apart(words: Any, told: str) -> None:
    with pytest.raises(MathlibError, match=told):
        WARM(**words)


def test_a_physical_constant_is_an_input_with_a_default() -> None:
    # sqrt(2 * 9.80665 * 1.5) = sqrt(29.41995) = 5.4240160...
    assert FALL(height="1.5 m").magnitude == pytest.approx(29.41995**0.5, rel=1e-15)
    assert FALL(height=Q([1.5], "m")).magnitude[0] == pytest.approx(29.41995**0.5, rel=1e-15)
    moon = FALL(height="1.5 m", gravity="1.62 m/s^2").magnitude
    assert moon == pytest.approx(4.86**0.5, rel=1e-15)
    assert "9.80665 m/s^2 (CGPM 1901)" in repr(FALL)
    assert FALL.solve("height", speed="2 m/s").magnitude == pytest.approx(2 / 9.80665, rel=1e-12)
    assert FALL.uncertainty({"height": "2 %"}, height="1.5 m").shares == {"height": 1.0}
    assert r"9.807\,\text{m/s²}" in FALL.worked(height="1.5 m")


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


# -- display and pickling ----------------------------------------------------------------------


def test_worked_shows_equation_numbers_and_result() -> None:
    told = SPRING.worked(stiffness="10 N/mm", mass="1 kg")
    assert told == (
        r"f = \frac{\sqrt{\frac{k}{m}}}{2 \, \pi} = "
        r"\frac{\sqrt{\frac{10\,\text{N/mm}}{1\,\text{kg}}}}{2 \cdot \pi} = 15.92\,\text{Hz}"
    )
    assert TIMES.worked(count=-2, length="3 mm").endswith(
        r"= \left(-2\right) \cdot 3\,\text{mm} = -6\,\text{mm}"
    )
    with pytest.raises(ValueRefused, match="worked shows one point; got arrays"):
        TIMES.worked(count=[1, 2], length="3 mm")


@pytest.mark.parametrize("formula", [SPRING, SLIP, FALL, WARM])
def test_a_formula_of_a_user_is_pickled(formula: Formula) -> None:
    formula.example = Example({"x": "1 mm"}, "1 mm", 1e-3, "a test")
    again = pickle.loads(pickle.dumps(formula))
    assert repr(again) == repr(formula)
    assert again.example == formula.example
    assert again.holds == formula.holds


def test_a_pickled_formula_works_in_another_process() -> None:
    data = pickle.dumps(SPRING)
    code = (
        "import pickle, sys; f = pickle.load(sys.stdin.buffer);"
        "print(f(stiffness='10 N/mm', mass='1 kg').magnitude)"
    )
    done = subprocess.run([sys.executable, "-c", code], input=data, capture_output=True, check=True)
    assert float(done.stdout) == pytest.approx(AT, rel=1e-15)
