"""A formula is written once; display, evaluation, inverse, slopes and uncertainty follow."""

from __future__ import annotations

import contextlib
import keyword
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np

from mathlib import shown, units, words
from mathlib.compiled import LETTERS_TAKEN, in_blocks, run, unit_code
from mathlib.equation import (
    Equation,
    letter_latex,
    read_condition,
    read_equation,
    same_dimension,
)
from mathlib.errors import FormulaError, ValueRefused, WordError
from mathlib.labelled import over_dataarrays
from mathlib.units import QUANTITY, Quantity
from mathlib.words import SIGNS, Word

_REMEMBERED: Final = 512  # unit combinations whose compiled code a formula keeps
#: Keywords of the methods, which no input can have as its word.
_WORDS_TAKEN: Final = ("self", "word", "bracket", "spread", "of", "allow_missing")


@dataclass(frozen=True)
class Example:
    """A worked example: inputs by word, the result, how closely, and where it comes from.

    ``brackets`` has, by word, the pair to search in where ``solve`` needs one.
    """

    inputs: Mapping[str, Any]
    result: str
    rtol: float
    source: str
    brackets: Mapping[str, tuple[str, str]] | None = None


class Formula:
    """One closed equation with its words, units, domain, source and a worked example.

    Parameters
    ----------
    title : str
        What the result is, in words; errors begin with it.
    equation : str
        ``"f = sqrt(k / m)"``: one letter on the left, the small arithmetic on the right.
    where : dict
        By letter: ``(word, unit, meaning[, sign[, default[, source of the default]]])``. The
        sign is "positive" (what holds if nothing is said), "zero" (zero allowed) or "signed".
    assumes : tuple of str
        What must be so for the equation to hold; shown to the reader.
    source : str
        Where the equation comes from.
    example : Example
        A point where nothing is special, with the value that a source or a hand gives for it.
    holds : tuple of str
        Conditions that are checked, such as ``"T <= T_h; beyond it the motor slips"``.

    Raises
    ------
    FormulaError
        The equation is not allowed as written, or its units do not match.

    Examples
    --------
    >>> speed = Formula(
    ...     title="Speed",
    ...     equation="v = d / t",
    ...     where={
    ...         "v": ("speed", "mm/s", "of the head"),
    ...         "d": ("distance", "mm", "travelled"),
    ...         "t": ("time", "s", "taken"),
    ...     },
    ...     assumes=("the speed is constant",),
    ...     source="definition",
    ...     example=Example({"distance": "6 mm", "time": "2 s"}, "3 mm/s", 1e-12, "6 / 2 = 3"),
    ... )
    >>> print(speed(distance="6 mm", time="2 s"))
    3 mm/s
    >>> print(speed.solve("time", distance="6 mm", speed="3 mm/s"))
    2 s

    """

    def __init__(
        self,
        *,
        title: str,
        equation: str,
        where: Mapping[str, tuple[str, ...]],
        assumes: tuple[str, ...],
        source: str,
        example: Example | None = None,
        holds: tuple[str, ...] = (),
    ) -> None:
        self.title, self.where, self.holds = title, dict(where), tuple(holds)
        self.assumes, self.source, self.example = tuple(assumes), source, example
        self.equation: Equation = _named(title, read_equation, equation)
        self.name = ""
        self._by_letter = {
            letter: words.defined(title, letter, told) for letter, told in self.where.items()
        }
        self.conditions = tuple(
            (_named(title, read_condition, text.partition(";")[0]), text.partition(";")[2].strip())
            for text in self.holds
        )
        self._check_definition()
        self.words: tuple[Word, ...] = tuple(self._by_letter.values())
        self.output: Word = self._by_letter[self.equation.left]
        self.inputs: tuple[Word, ...] = tuple(
            word for letter, word in self._by_letter.items() if letter != self.equation.left
        )
        self._input_words = tuple(word.word for word in self.inputs)
        self._core_by_units: dict[tuple[int, ...], tuple[Any, ...]] = {}

    def _check_definition(self) -> None:
        used = {self.equation.left, *self.equation.letters}
        if used != set(self.where):
            odd = ", ".join(sorted(used ^ set(self.where)))
            raise FormulaError(f"{self.title}: equation and where differ in {odd}.")
        for letter, word in self._by_letter.items():
            usable = word.word.isidentifier() and not keyword.iskeyword(word.word)
            if not usable or word.word in _WORDS_TAKEN or letter in LETTERS_TAKEN:
                raise FormulaError(f"{self.title}: {letter} or {word.word!r} is not a usable name.")
            if word.sign not in SIGNS:
                raise FormulaError(f"{self.title}: {word.word} has the unknown sign {word.sign!r}.")
        if len({word.word for word in self._by_letter.values()}) < len(self._by_letter):
            raise FormulaError(f"{self.title}: two letters have the same word.")
        of = {letter: dict(word.kind.dimension) for letter, word in self._by_letter.items()}
        try:
            found = self.equation.dimension(of)
            for condition, _ in self.conditions:
                if set(condition.letters) - set(self.equation.letters):
                    raise FormulaError(f"{condition.text!r} uses a letter that is no input.")
                condition.dimension(of)
        except FormulaError as fault:
            raise FormulaError(f"{self.title}: {fault}") from None
        if not same_dimension(found, of[self.equation.left]):
            unit = self._by_letter[self.equation.left].unit
            raise FormulaError(f"{self.title}: {self.equation.text!r} does not give {unit}.")

    def __reduce__(self) -> tuple[Any, ...]:
        told = ("title", "where", "assumes", "source", "example", "holds")
        state = {name: getattr(self, name) for name in told} | {"equation": self.equation.text}
        return _rebuild, (state, self.name)

    # -- evaluation ---------------------------------------------------------------------------

    def __call__(self, *positional: Any, allow_missing: bool = False, **given: Any) -> Quantity:
        """Evaluate; inputs by word as text, quantities, arrays or lists of them.

        Raises
        ------
        WordError, UnitError, ValueRefused
            A mistake in the call; the message names all of them.

        """
        # The usual case, all floats in known units, in one pass; all else the careful way.
        if not positional and len(given) == len(self._input_words):
            numbers, key = [], []
            for word in self._input_words:
                value: Any = given.get(word)
                if value.__class__ is not QUANTITY:
                    break
                number = value._magnitude
                if number.__class__ is not float:
                    break
                numbers.append(number)
                key.append(id(value._units))
            else:
                known = self._core_by_units.get(tuple(key))
                if known is None:
                    known = self._compiled(tuple(given[word]._units for word in self._input_words))
                if known[0] is not None:
                    value = known[0](*numbers)
                    if value is not None:
                        new: Quantity = object.__new__(QUANTITY)
                        new._magnitude, new._units = value, self._out
                        return new
        if positional:
            told = "=, ".join(self._input_words)
            raise WordError(f"{self.title}: write inputs by word: {told}=.")
        if any(words.is_dataarray(value) for value in given.values()):
            labelled_too: Quantity = over_dataarrays(self, given, allow_missing)
            return labelled_too  # a DataArray where one came in
        quick = self._quickly(given)
        return quick if quick is not None else self._carefully(given, allow_missing)

    @cached_property
    def _out(self) -> Any:
        return self.output.container

    def _compiled(self, given: tuple[Any, ...]) -> tuple[Any, ...]:
        """Code for this combination of units; (None, None) where the units do not fit."""
        wanted = [word.container for word in self.inputs]
        fits = not any(map(units.problem, given, wanted))
        core: tuple[Any, Any] = (None, None)
        if fits:
            # A factor beyond what a float holds is left to the careful way.
            with contextlib.suppress(OverflowError, ZeroDivisionError):
                core = unit_code(
                    self.equation.text,
                    tuple(condition.text for condition, _ in self.conditions),
                    tuple((w.letter, w.sign) for w in self.inputs),
                    given,
                    self.output.sign,
                    self._out,
                )
        if len(self._core_by_units) >= _REMEMBERED:
            self._core_by_units.clear()
        # The containers are kept beside the code, so that their ids stay theirs.
        self._core_by_units[tuple(map(id, given))] = (*core, given)
        return core

    def _quickly(self, given: Mapping[str, Any]) -> Quantity | None:
        """Evaluate what needs no sentence: floats at once, arrays block by block; else None."""
        magnitudes, containers = [], []
        for word in self.inputs:
            number, container = words.readied(word, given.get(word.word, word.default))
            if number is None:
                return None
            magnitudes.append(number)
            containers.append(container)
        if not set(given) <= set(self._input_words):
            return None
        known = self._core_by_units.get(tuple(map(id, containers)))
        known = known or self._compiled(tuple(containers))
        if known[0] is None:
            return None
        try:
            shape = np.broadcast_shapes(*(np.shape(m) for m in magnitudes))
        except ValueError:
            return None
        if not shape:
            made = known[0](*magnitudes)
        else:
            code = known[1].code(magnitudes) if 0 not in shape else None
            made = None if code is None else in_blocks(code, magnitudes, shape)
        return None if made is None else units.quantity(made, self._out)

    def _carefully(self, given: Mapping[str, Any], allow_missing: bool) -> Quantity:
        """Evaluate with every check spelled out; this is where the sentences come from."""
        values = words.read_words(self.title, self.inputs, given, allow_missing)
        shapes = {w: np.shape(v) for w, v in values.items() if np.shape(v)}
        try:
            np.broadcast_shapes(*shapes.values())
        except ValueError:
            told = ", ".join(f"{word} {shape}" for word, shape in shapes.items())
            raise ValueRefused(f"{self.title}: arrays of unequal shapes: {told}.") from None
        made = words.result(self.base_result(values, allow_missing), self._out)
        if np.any(np.isinf(made.magnitude)):
            raise ValueRefused(f"{self.title}: the result is too large a number.")
        return made

    def base_result(self, values: Mapping[str, Any], allow_missing: bool = False) -> Any:
        """Right-hand side in SI base units for inputs by word in SI base units."""
        by_letter = {word.letter: values[word.word] for word in self.inputs}
        missing = None
        if allow_missing:
            missing = np.logical_or.reduce(
                [np.isnan(v) for v in np.broadcast_arrays(*values.values())]
            )
        for condition, reason in self.conditions:
            sides = {k: np.asarray(v) for k, v in by_letter.items()}
            met = np.asarray(run(condition, sides))
            self._refuse_unless(
                met if missing is None else met | missing, by_letter, condition, reason
            )
        with np.errstate(all="ignore"):
            value = run(
                self.equation, {k: np.asarray(v, dtype=float) for k, v in by_letter.items()}
            )
        value = np.asarray(value, dtype=float)
        fits = words.sign_fits(self.output.sign, value)
        self._refuse_unless(fits if missing is None else fits | missing, by_letter, None, "")
        return value

    def _refuse_unless(
        self, met: Any, by_letter: Mapping[str, Any], condition: Equation | None, reason: str
    ) -> None:
        if np.all(met):
            return
        where = ""
        first: tuple[int, ...] = ()
        if np.ndim(met):
            first = tuple(int(i) for i in np.argwhere(~met)[0])
            count = int(np.count_nonzero(~met))
            where = f" at {count} of {met.size} points, the first at index {first}"
        told = []
        for letter in condition.letters if condition else self.equation.letters:
            word = self._by_letter[letter]
            value = np.broadcast_to(by_letter[letter], np.shape(met))[first]
            told.append(f"{word.word} = {units.show(words.result(value, word.container))}")
        with_values = "; ".join(told)
        if condition is not None:
            needs = condition.text
            for letter in condition.letters:
                needs = _replace_letter(needs, letter, self._by_letter[letter].word)
            why = f": {reason}" if reason else ""
            raise ValueRefused(f"{self.title}: needs {needs}{where}, but {with_values}{why}.")
        wanted = " and ".join(dict.fromkeys((SIGNS[self.output.sign], "finite")))
        raise ValueRefused(f"{self.title}: the result is not {wanted}{where}, for {with_values}.")

    # -- inverse, slopes, uncertainty: with SymPy, loaded when first asked for ------------------

    def solve(self, word: str, *, bracket: tuple[Any, Any] | None = None, **given: Any) -> Quantity:
        """Find the input ``word`` that gives the stated result.

        ``bracket`` is a pair of values between which the one wanted root lies; needed where
        several roots, or no closed form, exist. The root is put back in and must fit to 1e-9.

        Raises
        ------
        NotUnique
            Several values fit, or none.

        """
        from mathlib import derive

        return derive.solve(self, word, bracket, given)

    def slopes(self, **given: Any) -> dict[str, Quantity]:
        """Partial derivative by each input, in the result's unit per the input's unit."""
        from mathlib import derive

        return derive.slopes(self, given)

    def sensitivity(self, **given: Any) -> dict[str, Quantity]:
        """Percent of change of the result per percent of change of each input, a plain number."""
        from mathlib import derive

        return derive.sensitivity(self, given)

    def uncertainty(self, spread: Mapping[str, Any], *, of: str | None = None, **given: Any) -> Any:
        """Propagate standard uncertainties to first order (JCGM 100, 5.1.2), inputs independent.

        Parameters
        ----------
        spread : dict
            Standard uncertainty by word: ``"5 %"`` of the value, or an amount ``"0.5 mm"``.
        of : str
            The word whose uncertainty is wanted; the result of the equation if left out.

        Returns
        -------
        Uncertainty
            ``.value``, ``.std``, ``.shares`` by word (they add to 1), ``.second_order`` (the
            next order's part of the standard uncertainty) and ``.note`` in words.

        """
        from mathlib import uncertain

        return uncertain.uncertainty(self, spread, of, given)

    # -- display ------------------------------------------------------------------------------

    @property
    def latex(self) -> str:
        """The equation in LaTeX, in the order in which it is written."""
        return shown.Typeset(f"{letter_latex(self.equation.left)} = {self.equation.latex()}")

    def worked(self, **given: Any) -> str:
        """LaTeX of the equation, the same with numbers put in, and the result."""
        return shown.worked(self, self(**given), given)

    def __repr__(self) -> str:
        """Title, equation, words, conditions and source as plain text."""
        return shown.plain(self)

    def _repr_markdown_(self) -> str:
        return shown.markdown(self)


def _replace_letter(text: str, letter: str, word: str) -> str:
    return re.sub(rf"\b{re.escape(letter)}\b", word, text)


def _named(title: str, read: Callable[[str], Equation], text: str) -> Equation:
    try:
        return read(text)
    except FormulaError as fault:
        raise FormulaError(f"{title}: {fault}") from None


def _rebuild(state: dict[str, Any], name: str) -> Formula:
    formula = Formula(**state)
    formula.name = name
    return formula
