"""What follows from an equation by algebra: its inverse and its slopes.

SymPy is loaded here, when one of them is first asked for, and SciPy where a bracket is searched.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from mathlib import units, words
from mathlib.errors import MathlibError, NotUnique, ValueRefused, WordError
from mathlib.units import Quantity
from mathlib.words import Word

if TYPE_CHECKING:
    from mathlib.formula import Formula

_REINSERTED: Final = 1e-9  # a root put back in must give the result to this, relatively


class _Symbols:
    """SymPy's view of one formula: a symbol per letter, the equation, cached derivatives."""

    def __init__(self, formula: Formula) -> None:
        import sympy

        self.formula = formula
        kinds = {"positive": {"positive": True}, "zero": {"nonnegative": True}}
        self.by_word = {
            w.word: sympy.Symbol(w.letter, **kinds.get(w.sign, {"real": True}))
            for w in (formula.output, *formula.inputs)
        }
        by_letter = {w.letter: self.by_word[w.word] for w in (formula.output, *formula.inputs)}
        self.right = formula.equation.symbolic(by_letter)
        self._roots: dict[str, list[Any]] = {}
        self._slopes: dict[tuple[str, int, str], Any] = {}
        self._compiled: dict[tuple[Any, ...], Any] = {}

    def roots(self, word: str) -> list[Any]:
        """Give closed forms of ``word``; an empty list where SymPy finds none."""
        if word not in self._roots:
            self._roots[word] = self._solved(word)
        return self._roots[word]

    def _solved(self, word: str) -> list[Any]:
        import sympy

        if word == self.formula.output.word:
            return [self.right]
        wanted, result = self.by_word[word], self.by_word[self.formula.output.word]
        # SymPy's own check and simplification take most of its time; ``_kept`` puts roots back.
        try:
            found = sympy.solve(sympy.Eq(result, self.right), wanted, simplify=False, check=False)
        except (NotImplementedError, ValueError):
            return []
        return [root for root in found if not root.has(wanted)] if isinstance(found, list) else []

    def slope(self, of: str, root: int, by: str) -> Any:
        """Differentiate a closed form of ``of`` by one word."""
        key = (of, root, by)
        if key not in self._slopes:
            self._slopes[key] = self.roots(of)[root].diff(self.by_word[by])
        return self._slopes[key]

    def numeric(self, expression: Any, values: Mapping[str, Any]) -> Any:
        """Evaluate an expression for values by word in SI base units."""
        import sympy

        names = tuple(w for w in self.by_word if w in values)
        key = (expression, names)
        if key not in self._compiled:
            arguments = [self.by_word[w] for w in names]
            self._compiled[key] = sympy.lambdify(arguments, expression, "numpy", cse=True)
        with np.errstate(all="ignore"):
            value = self._compiled[key](*(np.asarray(values[w]) for w in names))
        return np.asarray(value)


@lru_cache(maxsize=256)
def symbols_of(formula: Formula) -> _Symbols:
    """Give SymPy's view of a formula, made once."""
    return _Symbols(formula)


def check_solve_words(formula: Formula, word: str, given: Mapping[str, Any]) -> list[Word]:
    """Give the words that are needed to find ``word``; refuse one that does not exist."""
    takes = [w for w in (formula.output, *formula.inputs) if w.word != word]
    if len(takes) == len(formula.inputs) + 1:
        told = ", ".join(w.word for w in (formula.output, *formula.inputs))
        letters = {w.letter: w.word for w in (formula.output, *formula.inputs)}
        hint = f'write "{letters[word]}"' if word in letters else f"it has {told}"
        raise WordError(f"{formula.title}: there is no word {word!r} to solve for; {hint}.")
    if word in given:
        raise WordError(f"{formula.title}: {word} is what solve finds; do not pass it too.")
    return takes


def solve(
    formula: Formula, word: str, bracket: tuple[Any, Any] | None, given: Mapping[str, Any]
) -> Quantity:
    """Find one input from the result; see ``Formula.solve``."""
    takes = check_solve_words(formula, word, given)
    wanted = next(w for w in (formula.output, *formula.inputs) if w.word == word)
    values = words.read_words(formula.title, takes, given)
    if wanted is formula.output:
        return words.result(formula.base_result(values), wanted.container)
    try:
        values = dict(zip(values, np.broadcast_arrays(*values.values()), strict=True))
    except ValueError:
        raise ValueRefused(f"{formula.title}: arrays of unequal shapes in solve.") from None
    if bracket is not None:
        root = _searched(formula, wanted, bracket, values)
    else:
        root = _closed_form(formula, wanted, values)
    return words.result(root, wanted.container)


def _closed_form(formula: Formula, wanted: Word, values: Mapping[str, Any]) -> Any:
    known = symbols_of(formula)
    roots = known.roots(wanted.word)
    shape = np.shape(values[formula.output.word])
    if not roots:
        raise NotUnique(
            f"{formula.title}: no closed form for {wanted.word}. Pass a bracket, such as "
            f'bracket=("1 {wanted.unit}", "10 {wanted.unit}").'
        )
    complexes = {w: np.asarray(v, dtype=complex) for w, v in values.items()}
    candidates = []
    for root in roots:
        found = np.broadcast_to(known.numeric(root, complexes), shape)
        real = np.abs(found.imag) <= 1e-9 * np.abs(found.real)
        candidates.append(_kept(formula, wanted, values, np.where(real, found.real, np.nan)))
    table = np.array(candidates)
    for i, j in itertools.combinations(range(len(table)), 2):
        same = np.abs(table[i] - table[j]) <= 1e-9 * np.abs(table[i])
        table[j] = np.where(same, np.nan, table[j])
    count = np.sum(np.isfinite(table), axis=0)
    if np.all(count == 1):
        return np.nansum(table, axis=0)
    bad = tuple(int(i) for i in np.argwhere(count != 1)[0]) if shape else ()
    at = f" at index {bad}" if shape else ""
    here = np.moveaxis(table, 0, -1)[bad]
    fits = [units.show(words.result(v, wanted.container)) for v in here if np.isfinite(v)]
    told = " and ".join(fits)
    why = (
        f"{len(fits)} values of {wanted.word} fit{at}: {told}"
        if fits
        else (f"no value of {wanted.word} fits{at}")
    )
    hint = (
        "Pass bracket=(low, high) around the one you mean."
        if fits
        else ("Check the values, or pass bracket=(low, high).")
    )
    raise NotUnique(f"{formula.title}: {why}. {hint}")


def _kept(formula: Formula, wanted: Word, values: Mapping[str, Any], root: Any) -> Any:
    """Roots that lie in the sign domain and give the result back; nan elsewhere."""
    fits = words.sign_fits(wanted.sign, root)
    filled = np.where(fits, root, np.nan)
    inputs = {w.word: values.get(w.word, filled) for w in formula.inputs}
    target = values[formula.output.word]
    miss = np.abs(_unchecked(formula, inputs) - target)
    # Where terms cancel the result itself is no measure: there the root must be as close.
    with np.errstate(all="ignore"):
        beside = [
            _unchecked(formula, inputs | {wanted.word: filled * (1 + side * _REINSERTED)})
            for side in (-1, 1)
        ]
        near = miss <= np.abs(beside[1] - beside[0]) / 2
    fits &= (miss <= _REINSERTED * np.abs(target)) | near
    return np.where(fits, root, np.nan)


def _unchecked(formula: Formula, inputs: Mapping[str, Any]) -> Any:
    """Right-hand side in base units, nan where a condition fails."""
    from mathlib.compiled import run

    by_letter = {w.letter: np.asarray(inputs[w.word], dtype=float) for w in formula.inputs}
    with np.errstate(all="ignore"):
        value = np.asarray(run(formula.equation, by_letter), dtype=float)
        for condition, _ in formula.conditions:
            value = np.where(run(condition, by_letter), value, np.nan)
    return value


def _searched(
    formula: Formula, wanted: Word, bracket: tuple[Any, Any], values: Mapping[str, Any]
) -> Any:
    from scipy.optimize import elementwise

    try:
        low, high = (words.base_value(_loose(wanted), end) for end in bracket)
    except (TypeError, ValueError) as fault:
        if isinstance(fault, MathlibError):
            raise type(fault)(f"{formula.title}: bracket: {fault}") from None
        raise WordError(f"{formula.title}: a bracket is a pair (low, high).") from None

    target = values[formula.output.word]
    names = [w.word for w in formula.inputs if w.word != wanted.word]

    def miss(x: Any, target: Any, *others: Any) -> Any:
        return (
            _unchecked(formula, {wanted.word: x, **dict(zip(names, others, strict=True))}) - target
        )

    others = tuple(values[n] for n in names)
    found = elementwise.find_root(
        miss, (low, high), args=(target, *others), tolerances={"xrtol": 4e-16, "frtol": 0.0}
    )
    root = _kept(formula, wanted, values, found.x)
    if not np.all(np.isfinite(root)):
        ends = " to ".join(
            units.show(words.result(float(np.max(end)), wanted.container)) for end in (low, high)
        )
        raise NotUnique(
            f"{formula.title}: between {ends} no value of {wanted.word} gives the result at "
            "every point. The result must cross the wanted one inside the bracket."
        )
    return root


def _loose(word: Word) -> Word:
    """Let a bracket begin at zero even where the root may not be zero."""
    return Word(word.word, word.unit, word.about, "signed" if word.sign == "signed" else "zero")


def _point(formula: Formula, given: Mapping[str, Any]) -> dict[str, Any]:
    values = words.read_words(formula.title, formula.inputs, given)
    values[formula.output.word] = formula.base_result(values)
    return values


def _per(value: Any, top: Word, bottom: Word) -> Quantity:
    """Give a slope in base units as a quantity in the declared units, top per bottom."""
    # A change of temperature counts in kelvin, whatever the place of its zero.
    per = [units.container("K") if w.kind.offset else w.container for w in (top, bottom)]
    container = per[0] / per[1]
    factor = units.kind(per[1]).factor / units.kind(per[0]).factor
    array = np.asarray(value * factor)
    return units.quantity(float(array) if array.ndim == 0 else array, container)


def slopes(formula: Formula, given: Mapping[str, Any]) -> dict[str, Quantity]:
    """Partial derivatives; see ``Formula.slopes``."""
    values = _point(formula, given)
    return {
        w.word: _per(derivative(formula, formula.output.word, w.word, values), formula.output, w)
        for w in formula.inputs
    }


def sensitivity(formula: Formula, given: Mapping[str, Any]) -> dict[str, Quantity]:
    """Logarithmic derivatives; see ``Formula.sensitivity``."""
    values = _point(formula, given)
    result = values[formula.output.word]
    if np.any(np.asarray(result) == 0):
        raise ValueRefused(f"{formula.title}: the result is zero; ask for slopes instead.")
    made = {}
    for w in formula.inputs:
        slope = derivative(formula, formula.output.word, w.word, values)
        made[w.word] = units.Q(slope * values[w.word] / result, "1")
    return made


def derivative(formula: Formula, of: str, by: str, values: Mapping[str, Any], root: int = 0) -> Any:
    """Numeric value of a partial derivative of the closed form of ``of``, in base units."""
    known = symbols_of(formula)
    named = {w: v for w, v in values.items() if w != of}
    value = known.numeric(known.slope(of, root, by), named)
    if np.iscomplexobj(value):
        value = value.real
    if not np.all(np.isfinite(value)):
        raise ValueRefused(f"{formula.title}: the slope by {by} is not finite at this point.")
    return np.broadcast_to(value, np.broadcast_shapes(*(np.shape(v) for v in named.values()))) + 0.0
