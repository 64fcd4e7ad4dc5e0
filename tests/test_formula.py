"""The contract of a formula: its definition, its calls, and the sentences when one is wrong."""

from __future__ import annotations

import pickle
import subprocess
import sys
import tracemalloc
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from trial_formulas import AT, FALL, OUT, SLIP, SPRING, TIMES, WARM, K, M, define

from mathlib import Example, Formula, Q, units
from mathlib.compiled import BLOCK
from mathlib.errors import FormulaError, MathlibError, UnitError, ValueRefused

# -- definition ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("equation", "where", "told"),
    [
        ("y = a + b", {"y": OUT, "a": ("p", "mm", "in"), "b": ("q", "s", "in")}, "together with"),
        (
            "y = a * b",
            {"y": OUT, "a": ("p", "mm", "in"), "b": ("q", "mm", "in")},
            "does not give mm",
        ),
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
        (
            "y = a",
            {"y": OUT, "a": ("p", "mm", "in", "positive", "1 mm", "s", "x")},
            "a needs .word",
        ),
        ("y = a", {"y": OUT, "a": ("p", "mm", "in", "positive", "1 mm")}, "a needs .word"),
        ("y = a", {"y": OUT, "a": ("p", "mm", "in", "positive", "1 s", "src")}, "p needs a length"),
        (
            "y = a",
            {"y": OUT, "a": ("p", "mm", "in", "positive", "-1 mm", "src")},
            "must be positive",
        ),
        ("y = a", {"y": OUT, "a": ("two words", "mm", "in")}, "not a usable name"),
        ("y = a", {"y": OUT, "a": ("lambda", "mm", "in")}, "not a usable name"),
        ("y = a", {"y": OUT, "a": ("allow_missing", "mm", "in")}, "not a usable name"),
        ("y = a", {"y": OUT, "a": ("bracket", "mm", "in")}, "not a usable name"),
        ("y = a", {"y": OUT, "a": ("self", "mm", "in")}, "not a usable name"),
        ("y = e", {"y": OUT, "e": ("p", "mm", "in")}, "not a usable name"),
        ("y = Min(a, a)", {"y": OUT, "a": ("p", "mm", "in")}, "not allowed"),
    ],
)
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
        "10 N/mm",
        "10 N / mm",
        "10000 N/m",
        "1e4 N/m",
        "10 kN/m",
        K,
        Q("10 kN/m"),
        units.registry.Quantity(10, "N/mm"),
        units.registry.Quantity(np.float32(10), "N/mm"),
        units.registry.Quantity(np.int64(10), "N/mm"),
        units.registry.Quantity(np.array(10.0), "N/mm"),
        10 * units.registry.newton / units.registry.millimeter,
        np.str_("10 N/mm"),
    ],
)
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
        _TWO,
        _TWO.astype(np.int64),
        _TWO.astype(np.float32),
        _TWO.astype(">f8"),
        _TWO.astype("u1"),
        _TWO.astype(np.longdouble),
        _read_only(),
        np.repeat(_TWO, 3)[::3],
        _TWO[::-1][::-1],
    ],
    ids=[
        "float",
        "int",
        "float32",
        "big-endian",
        "byte",
        "long",
        "read-only",
        "strided",
        "reversed",
    ],
)
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
        ((3, 1), (4,)),
        ((2, 3, 4), (3, 1)),
        ((1,), (5,)),
        ((200, 300), (300,)),
        ((1, 1), (1,)),
        ((BLOCK + 1, 1), (3,)),
        ((3, 1), (BLOCK + 1,)),
    ],
)
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
    found = SPRING(
        stiffness=K.to(units.registry.Unit(units.container(force_per_length))),
        mass=M.to(units.registry.Unit(units.container(mass))),
    )
    assert found.magnitude == pytest.approx(AT, rel=1e-14)


@pytest.mark.parametrize(
    ("count", "result"),
    [
        (3, 3.0),
        ("3", 3.0),
        ("3 1", 3.0),
        ("50 %", 0.5),
        (-2.5, -2.5),
        ("200 step", 200.0),
        ("5 ppm", 5e-6),
        (np.int32(3), 3.0),
    ],
)
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
    blocks = WARM(
        ambient=Q([Q(ambient).magnitude], units.spelled(Q(ambient)._units)), warming=Q(warming)
    ).magnitude
    np.testing.assert_allclose(blocks, [result], rtol=1e-12)


@pytest.mark.parametrize("n", [1, 3, 20_000])
def test_one_temperature_in_degrees_meets_many_differences(n: int) -> None:
    warming = np.linspace(0, 5, n)
    found = WARM(ambient="20 degC", warming=Q(warming, "delta_degC"))
    np.testing.assert_allclose(found.magnitude, 20 + warming, atol=1e-9)


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
