"""What every formula of the library must do, taken from nothing but its own definition."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pickle
import pkgutil
import re
from types import FunctionType
from typing import Any

import latex2mathml.converter
import numpy as np
import pytest
import sympy
import xarray
from scipy.stats import norm, qmc

import mathlib
from mathlib import Formula, Q, catalogue, compiled, errors, units, words
from mathlib.shown import quantity_latex

FORMULAS = mathlib.formulas()
EVERY = pytest.mark.parametrize("formula", FORMULAS.values(), ids=FORMULAS.keys())
INPUTS = [(formula, word) for formula in FORMULAS.values() for word in formula.inputs]
EACH_INPUT = pytest.mark.parametrize(
    ("formula", "word"), INPUTS, ids=[f"{f.name}-{w.word}" for f, w in INPUTS]
)


def inputs_of(formula: Formula) -> dict[str, units.Quantity]:
    """Inputs of the example as quantities, constants included."""
    given = {w.word: w.default for w in formula.inputs if w.default} | dict(formula.example.inputs)
    return {
        word: Q(value) if isinstance(value, str) else Q(value, unit_of(formula, word))
        for word, value in given.items()
    }


def unit_of(formula: Formula, word: str) -> str:
    return next(w.unit for w in (formula.output, *formula.inputs) if w.word == word)


def around(formula: Formula, n: int, width: float) -> dict[str, units.Quantity]:
    """Points within ``width`` of the example, relatively, that are no grid."""
    at = inputs_of(formula)
    draws = 2 * qmc.Halton(len(at), seed=4).random(n) - 1
    return {w: q * (1 + width * draws[:, i]) for i, (w, q) in enumerate(at.items())}


@EVERY
def test_example_gives_the_stated_result(formula: Formula) -> None:
    value = formula(**formula.example.inputs)
    stated = Q(formula.example.result).to(value.units)
    np.testing.assert_allclose(value.magnitude, stated.magnitude, rtol=formula.example.rtol)
    assert formula.example.rtol <= 2e-3, "an example this loose would pass with a slip in it"
    assert value.units == units.registry.Unit(formula.output.container)


@EVERY
def test_base_units_give_the_same(formula: Formula) -> None:
    at = inputs_of(formula)
    value = formula(**at)
    based = formula(**{word: given.to_base_units() for word, given in at.items()})
    np.testing.assert_allclose(based.magnitude, value.magnitude, rtol=1e-13)
    assert based.units == value.units


@EACH_INPUT
def test_solve_undoes_evaluation(formula: Formula, word: words.Word) -> None:
    at = inputs_of(formula)
    value = formula(**at)
    wanted = at.pop(word.word)
    bracket = (formula.example.brackets or {}).get(word.word)
    found = formula.solve(word.word, bracket=bracket, **at, **{formula.output.word: value})
    # The root is put back to 1e-9; at the example no result is flatter than its tenth power.
    np.testing.assert_allclose(found.magnitude, wanted.to(found.units).magnitude, rtol=1e-8)
    assert found.units == units.registry.Unit(word.container)


@EACH_INPUT
def test_a_wrong_unit_is_refused_by_its_word(formula: Formula, word: words.Word) -> None:
    candela = units.quantity(1.0, (units.registry.Unit("candela"))._units)
    told = rf"^{re.escape(formula.title)}: {word.word} needs .*; got 1 cd"
    with pytest.raises(errors.UnitError, match=told):
        formula(**inputs_of(formula) | {word.word: candela})


@EVERY
def test_all_mistakes_are_told_at_once(formula: Formula) -> None:
    every = {word.word: True for word in formula.inputs}
    with pytest.raises(errors.ValueRefused) as caught:
        formula(**every)
    for word in every:
        assert f"{word} needs" in str(caught.value)


@EACH_INPUT
def test_slopes_equal_central_differences(formula: Formula, word: words.Word) -> None:
    at = inputs_of(formula)
    here, step = at[word.word], 6e-6  # near the cube root of the rounding error
    above, below = (formula(**at | {word.word: here * (1 + s)}) for s in (step, -step))
    by_hand = (above.magnitude - below.magnitude) / (2 * step)
    slope = formula.slopes(**at)[word.word]
    per_unit = slope * here.to(units.registry.Unit(word.container))
    got = per_unit.to(above.units).magnitude
    # Rounding leaves some 1e-10 of the result; a slope is at least 1e-3 of it (tested below).
    np.testing.assert_allclose(got, by_hand, rtol=1e-6)
    share = formula.sensitivity(**at)[word.word].magnitude
    np.testing.assert_allclose(share, by_hand / formula(**at).magnitude, rtol=1e-6)


@EVERY
def test_the_example_point_is_not_special(formula: Formula) -> None:
    for word, share in formula.sensitivity(**inputs_of(formula)).items():
        assert abs(share.magnitude) > 1e-3, f"the result hardly depends on {word} there"


@EVERY
def test_uncertainty_equals_quasi_random_draws(formula: Formula) -> None:
    at = inputs_of(formula)
    spread = {word: "0.1 %" for word in at}
    told = formula.uncertainty(spread, **at)
    points = norm.ppf(qmc.Sobol(len(at), seed=7).random_base2(13))
    drawn = formula(**{w: q * (1 + 1e-3 * points[:, i]) for i, (w, q) in enumerate(at.items())})
    # 8192 scrambled Sobol points give the standard deviation of a nearly linear function to some
    # 1e-3; plain random ones would to 1/sqrt(2 n) = 8e-3. The second order is checked apart.
    np.testing.assert_allclose(told.std.to(drawn.units).magnitude, np.std(drawn.magnitude), 3e-3)
    assert told.second_order < 0.01
    assert told.note == ""
    assert sum(told.shares.values()) == pytest.approx(1, rel=1e-12)


@EVERY
def test_arrays_broadcast_and_equal_single_calls(formula: Formula) -> None:
    at = inputs_of(formula)
    shapes = [(3, 1), (4,), ()]
    grid: dict[str, Any] = {}
    for i, (word, value) in enumerate(at.items()):
        shape = shapes[i % 3]
        factors = np.linspace(0.99, 1.01, int(np.prod(shape, dtype=int))).reshape(shape)
        grid[word] = Q(value.magnitude * factors, units.spelled(value._units) or "1")
    made = formula(**grid)
    shape = np.broadcast_shapes(*(np.shape(q.magnitude) for q in grid.values()))
    assert made.magnitude.shape == shape
    full = {w: np.broadcast_to(q.magnitude, shape) for w, q in grid.items()}
    for index in np.ndindex(*shape):
        one = formula(**{w: units.quantity(float(full[w][index]), at[w]._units) for w in at})
        assert made.magnitude[index] == pytest.approx(one.magnitude, rel=1e-14)


@EVERY
def test_dataarrays_broadcast_by_name(formula: Formula) -> None:
    at = inputs_of(formula)
    labelled = {
        word: xarray.DataArray(
            value.magnitude * np.array([1.0, 1.01]),
            dims=f"by_{word}",
            attrs={"units": units.spelled(value._units) or "1"},
        )
        for word, value in at.items()
    }
    made = formula(**labelled)
    assert set(made.dims) == {f"by_{word}" for word in at}
    assert made.attrs["units"] == formula.output.unit
    assert made.dtype == np.float64
    corner = made.isel({f"by_{word}": 1 for word in at}).item()
    alone = formula(**{word: value * 1.01 for word, value in at.items()})
    assert corner == pytest.approx(alone.magnitude, rel=1e-14)


@EVERY
def test_compiled_equals_sympy(formula: Formula) -> None:
    points = around(formula, 9, 0.01)
    in_blocks = formula(**points)
    symbols = {w.letter: sympy.Symbol(w.letter) for w in (formula.output, *formula.inputs)}
    right = formula.equation.symbolic(symbols)
    for i in range(9):
        based = {
            symbols[w.letter]: sympy.Float(repr(float(points[w.word][i].to_base_units().m)), 30)
            for w in formula.inputs
        }
        exact = float(right.evalf(30, subs=based))
        out = float(words.result(exact, formula.output.container).magnitude)
        single = formula(**{w: units.quantity(float(q[i].m), q._units) for w, q in points.items()})
        assert in_blocks.magnitude[i] == pytest.approx(out, rel=2e-13)
        assert single.magnitude == pytest.approx(out, rel=2e-13)


@EVERY
def test_each_has_what_a_reader_needs(formula: Formula) -> None:
    assert formula.title[0].isupper()
    assert not formula.title.endswith(".")
    assert len(formula.source) > 5
    assert formula.assumes
    assert all(len(text) > 10 for text in formula.assumes)
    assert formula.example is not None
    assert formula.example.source
    for word in (formula.output, *formula.inputs):
        assert word.about, f"{word.word} has no meaning"
        assert (word.default is None) == (word.source == ""), f"{word.word}: default and source"
    for text in formula.holds:
        assert ";" in text, f"{text!r} does not say what happens beyond it"


@EVERY
def test_each_is_shown_in_full(formula: Formula) -> None:
    for shown in (repr(formula), formula._repr_markdown_()):
        for told in (formula.title, formula.source, *formula.assumes, *formula.holds):
            assert told in shown
        for word in (formula.output, *formula.inputs):
            assert word.word in shown
            assert word.about in shown
    worked = formula.worked(**formula.example.inputs)
    assert worked.startswith(formula.latex)
    assert worked.endswith(f"= {quantity_latex(formula(**inputs_of(formula)))}")
    assert "<math" in latex2mathml.converter.convert(worked)


@EVERY
def test_each_survives_a_pickle(formula: Formula) -> None:
    again = pickle.loads(pickle.dumps(formula))
    assert repr(again) == repr(formula)
    assert again.name == formula.name
    assert again.example == formula.example
    assert again(**formula.example.inputs) == formula(**formula.example.inputs)


@EVERY
def test_each_is_found_where_its_name_says(formula: Formula) -> None:
    module, _, name = formula.name.rpartition(".")
    assert getattr(importlib.import_module(f"mathlib.{module}"), name) is formula


def test_titles_are_unique() -> None:
    titles = [formula.title for formula in FORMULAS.values()]
    assert len(titles) > 20
    assert len(set(titles)) == len(titles)


def test_no_equation_is_written_twice() -> None:
    shapes: dict[Any, str] = {}
    for name, formula in FORMULAS.items():
        told = tuple(sorted((w.word, w.unit) for w in (formula.output, *formula.inputs)))
        symbols = {w.letter: sympy.Symbol(w.word) for w in (formula.output, *formula.inputs)}
        key = (told, formula.equation.symbolic(symbols))
        assert key not in shapes, f"{name} repeats {shapes[key]}"
        shapes[key] = name


def test_one_word_has_one_dimension() -> None:
    lines = catalogue.glossary(FORMULAS)
    assert lines["mass"][0] == "kg"
    assert "motion.resonance.held_carriage_frequency" in lines["mass"][1]
    assert list(lines) == sorted(lines)


def test_the_glossary_refuses_a_word_of_two_dimensions() -> None:
    def one(title: str, unit: str) -> Formula:
        return Formula(
            title=title,
            equation="a = b",
            where={"a": (f"out_{title}", unit, "given"), "b": ("twice", unit, "taken")},
            assumes=(),
            source="a test",
        )

    known = {"x.length": one("length", "mm"), "x.time": one("time", "s")}
    with pytest.raises(errors.MathlibError, match=r"twice is mm in x\.length, s in x\.time"):
        catalogue.glossary(known)
    known = {"x.turns": one("turns", "rpm"), "x.cycles": one("cycles", "Hz")}
    with pytest.raises(errors.MathlibError, match=r"twice is rpm in x\.turns, Hz in x\.cycles"):
        catalogue.glossary(known)


@EVERY
def test_a_large_array_needs_little_more_than_its_result(formula: Formula) -> None:
    import tracemalloc

    n = 20 * compiled.BLOCK
    many = {w: units.quantity(np.full(n, q.magnitude), q._units) for w, q in at_once(formula)}
    formula(**many)
    tracemalloc.start()
    made = formula(**many)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert made.magnitude.nbytes <= peak <= made.magnitude.nbytes + 2e6


def at_once(formula: Formula) -> Any:
    return inputs_of(formula).items()


def public_functions() -> dict[str, FunctionType]:
    found = {}
    for module in pkgutil.walk_packages(mathlib.__path__, "mathlib."):
        if module.name.rpartition(".")[2].startswith("_"):
            continue
        loaded = importlib.import_module(module.name)
        for name, value in vars(loaded).items():
            here = inspect.isfunction(value) and value.__module__ == module.name
            if here and not name.startswith("_"):
                found[f"{module.name}.{name}"] = value
    return found


FUNCTIONS = public_functions()
_SECTION = re.compile(r"^(\w[\w ]*)\n-+\n(.*?)(?=^\w[\w ]*\n-+\n|\Z)", re.MULTILINE | re.DOTALL)


def sections(function: FunctionType) -> dict[str, str]:
    return dict(_SECTION.findall(inspect.getdoc(function) or ""))


@pytest.mark.parametrize("name", FUNCTIONS)
def test_docstring_names_the_parameters_that_there_are(name: str) -> None:
    function = FUNCTIONS[name]
    told = sections(function)
    assert inspect.getdoc(function)
    if "Parameters" not in told:
        return
    heads = re.findall(r"^(\w[\w, *]*)(?: : .*)?$", told["Parameters"], re.MULTILINE)
    named = [word.strip(" *") for head in heads for word in head.split(",")]
    assert named == list(inspect.signature(function).parameters)
    # A record says in its own docstring what it holds; whatever else comes back is told here.
    if inspect.signature(function).return_annotation in ("Quantity", "Any", "dict", "float", "str"):
        assert "Returns" in told


PHYSICS = [name for name in FUNCTIONS if re.match(r"mathlib\.(motion|laser)\.", name)]


@pytest.mark.parametrize("name", PHYSICS)
def test_a_function_of_physics_shows_a_call(name: str) -> None:
    examples = doctest.DocTestFinder(recurse=False).find(FUNCTIONS[name], name)[0].examples
    short = name.rpartition(".")[2]
    assert any(f"{short}(" in example.source for example in examples)
    assert any(example.want for example in examples)
