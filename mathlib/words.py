"""What a word of a call takes, and the sentences that say what to write instead.

Formulas, functions under ``with_units`` and records all read their inputs here, so that each of
them refuses the same mistakes with the same sentence, and names all of them at once.
"""

from __future__ import annotations

import contextlib
import difflib
import functools
import inspect
import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np

from mathlib import typed, units
from mathlib.errors import FormulaError, MathlibError, UnitError, ValueRefused, WordError
from mathlib.units import QUANTITY, Quantity, UnitsContainer

SIGNS: Final = {"positive": "positive", "zero": "zero or positive", "signed": "finite"}
#: A share is a field of a record only: of a whole, such as the light of a laser that is used.
_EVERY_SIGN: Final = SIGNS | {"share": "more than 0 and at most 1, which is 100 %"}
_TOLD: Final = ("word", "unit", "about", "sign", "default", "source")
_BARE: Final = ("1", "step")


@dataclass(frozen=True)
class Word:
    """One input or result: its word, unit, meaning, sign and, for a constant, its default."""

    word: str
    unit: str
    about: str = ""
    sign: str = "positive"
    default: str | None = None
    source: str = ""
    letter: str = ""

    @cached_property
    def container(self) -> UnitsContainer:
        """The unit as the registry holds it."""
        return units.container(self.unit)

    @cached_property
    def kind(self) -> units.Kind:
        """What the unit measures."""
        return units.kind(self.container)

    @property
    def bare(self) -> bool:
        """Whether a number without a unit is accepted: only for counts and ratios."""
        return self.unit in _BARE


class Mistakes:
    """Collects sentences about one call and raises them together."""

    def __init__(self, who: str) -> None:
        self.who = who
        self.found: list[tuple[type[MathlibError], str]] = []

    def add(self, error: type[MathlibError], sentence: str) -> None:
        """Note one mistake."""
        self.found.append((error, sentence))

    def stop(self) -> None:
        """Raise what was found, if anything was; the first kind of mistake names the error."""
        if self.found:
            raise self.found[0][0](f"{self.who}: " + "\n  ".join(text for _, text in self.found))


def base_value(word: Word, value: Any, allow_missing: bool = False) -> Any:
    """Bring one value to SI base units, as a float or a float array.

    Raises
    ------
    UnitError
        The unit is absent or measures something else.
    ValueRefused
        The value is not a finite number of the sign that the word takes.

    """
    if isinstance(value, str):
        value = _read(word, value)
    if isinstance(value, list | tuple):
        parts = [np.asarray(base_value(word, part, allow_missing)) for part in value]
        if len({part.shape for part in parts}) > 1:
            raise ValueRefused(f"{word.word} is a list whose parts differ in length.")
        return np.array(parts) if parts else np.array([])
    if isinstance(value, QUANTITY):
        magnitude, given = value._magnitude, value._units
    elif is_dataarray(value):
        raise UnitError(
            f"{word.word} is a labelled array, which only the call of a formula takes: "
            f'pass Q(array.values, "{word.unit}").'
        )
    elif hasattr(value, "_REGISTRY") and hasattr(value, "magnitude"):
        raise UnitError(
            f'{word.word} comes from another registry of units: write "9 {word.unit}", or use Q.'
        )
    else:
        magnitude, given = value, None
    number = _numbers(word, magnitude, given is None)
    if given is None:
        if not word.bare:
            raise UnitError(_bare_sentence(word, number))
        given = word.container
    first = float(number) if number.ndim == 0 else None
    fault = units.problem(given, word.container, first)
    if fault:
        raise UnitError(f"{word.word} {fault}")
    _check_sign(word, number, given, allow_missing)
    measure = units.kind(given)
    with np.errstate(all="ignore"):
        base = scaled(number, measure)
        base = base + measure.offset if measure.offset else base
    if not np.all(sign_fits(word.sign, base) | np.isnan(number)):
        raise ValueRefused(f"{word.word} is too large or too small a number to calculate with.")
    return float(base) if base.ndim == 0 else base


def scaled(number: Any, measure: units.Kind) -> Any:
    """Convert to base units; divides where that is exact, so that 9 mm is 0.009 m."""
    operator, constant = units.scale(measure.factor)
    return number * constant if operator == "*" else number / constant


def _read(word: Word, text: str) -> Any:
    try:
        return typed.read(text)
    except MathlibError as fault:
        try:
            number = typed.number(text)
        except MathlibError:
            why = str(fault).replace(typed.SUCH_AS, f'"9 {word.unit}"')
            here = _as_meant(word, text)
            raise UnitError(f"{word.word} needs {_such(word)}: {why}{here}") from None
        if word.bare:
            return number
        raise UnitError(_bare_sentence(word, np.asarray(number))) from None


def _as_meant(word: Word, text: str) -> str:
    """Write what was probably meant as the strict reader takes it, where that can be told."""
    try:
        meant = typed.as_typed(text, word.unit)
    except MathlibError:
        return ""
    return f' Here write "{f"{meant.magnitude:.6g} {units.spelled(word.container)}".strip()}".'


def _such(word: Word) -> str:
    return units.needed(word.container)


def _numbers(word: Word, magnitude: Any, bare: bool) -> Any:
    """Magnitudes as float64; truth values, objects and complex numbers are refused."""
    if isinstance(magnitude, bool | np.bool_):
        raise ValueRefused(f"{word.word} needs {_such(word)}; got the truth value {magnitude}.")
    if isinstance(magnitude, np.ma.MaskedArray):
        raise ValueRefused(f"{word.word} has masked values: fill or drop them first.")
    try:
        array = np.asarray(magnitude)
    except (TypeError, ValueError):  # lists of unequal length; what is no array at all
        array = np.asarray(None)
    if array.dtype.kind not in "iuf":
        told = {"b": "truth values", "c": "complex numbers", "U": "texts"}
        what = told.get(array.dtype.kind, "objects")
        got = f"an array of {array.size} {what}, the first at index {(0,) * array.ndim}"
        if array.ndim == 0:
            name = type(magnitude).__name__
            text = repr(magnitude)
            got = f"{text if len(text) < 40 else 'a value'} of type {name}"
        raise (UnitError if bare else ValueRefused)(f"{word.word} needs {_such(word)}; got {got}.")
    return array.astype(np.float64, copy=False)


def _bare_sentence(word: Word, number: Any) -> str:
    needs = f"{word.word} needs a unit such as {units.spelled(word.container)}"
    if number.ndim:
        return f'{needs}; got an array of bare numbers. Write Q(array, "{word.unit}").'
    write = f' Write "{number:g} {word.unit}".' if np.isfinite(number) else ""
    return f"{needs}; got the bare number {number:g}.{write}"


def sign_fits(sign: str, number: Any) -> Any:
    """Tell elementwise whether finite numbers have the sign that a word takes."""
    finite = np.isfinite(number)
    if sign == "positive":
        return finite & (number > 0)
    if sign == "share":
        return finite & (number > 0) & (number <= 1)
    return finite & (number >= 0) if sign == "zero" else finite


def _check_sign(word: Word, number: Any, given: UnitsContainer, allow_missing: bool) -> None:
    # A temperature is judged by its absolute value: minus 5 degC is positive.
    offset = units.kind(given).offset
    whole = offset or word.sign == "share"  # of 80 % the share is judged, not the number
    judged = number * units.kind(given).factor + offset if whole else number
    fits = sign_fits(word.sign, judged)
    if allow_missing:
        fits = fits | np.isnan(number)
    if np.all(fits):
        return
    if number.ndim == 0:
        got = units.show(units.quantity(float(number), given))
        raise ValueRefused(f"{word.word} must be {_EVERY_SIGN[word.sign]}; got {got}.")
    first = tuple(int(i) for i in np.argwhere(~fits)[0])
    got = units.show(units.quantity(float(number[first]), given))
    index = first[0] if len(first) == 1 else first
    count = int(np.count_nonzero(~fits))
    hint = " Pass allow_missing=True to let nan through." if np.isnan(number[first]) else ""
    raise ValueRefused(
        f"{word.word} must be {_EVERY_SIGN[word.sign]}; {count} of {number.size} values are not, "
        f"the first at index {index}: {got}.{hint}"
    )


def check_names(
    mistakes: Mistakes, takes: Iterable[Word], given: Mapping[str, Any], needed: bool = True
) -> None:
    """Note words that are unknown, given by their letter, or absent."""
    by_word = {word.word: word for word in takes}
    letters = {word.letter: word.word for word in takes if word.letter}
    for name in given:
        if name in by_word:
            continue
        if name in letters:
            sentence = f"{name} is the letter in the equation; in a call write {letters[name]}=."
        else:
            close = difflib.get_close_matches(name, by_word, n=1)
            hint = f"did you mean {close[0]}?" if close else f"it takes {', '.join(by_word)}."
            sentence = f"there is no word {name}; {hint}"
        mistakes.add(WordError, sentence)
    if needed and not mistakes.found:
        absent = [w for w in by_word.values() if w.word not in given and w.default is None]
        if absent:
            told = " and ".join(f"{w.word} ({w.about or w.unit})" for w in absent)
            mistakes.add(WordError, f"{told} missing.")


def read_words(
    who: str, takes: Iterable[Word], given: Mapping[str, Any], allow_missing: bool = False
) -> dict[str, Any]:
    """Read all inputs of a call into SI base units, or raise every mistake in them at once."""
    takes = tuple(takes)
    mistakes = Mistakes(who)
    check_names(mistakes, takes, given)
    values = {}
    for word in takes:
        if word.word not in given and word.default is None:
            continue
        value = given.get(word.word, word.default)
        try:
            values[word.word] = base_value(word, value, allow_missing)
        except MathlibError as fault:
            mistakes.add(type(fault), str(fault))
    mistakes.stop()
    return values


def readied(word: Word, value: Any) -> tuple[Any, Any]:
    """Magnitude as float or float array, and its units; (None, None) where care is needed."""
    if isinstance(value, str):
        try:
            value = typed.read(value)
        except MathlibError:
            return None, None
    if value.__class__ is QUANTITY:
        number, container = value._magnitude, value._units
    elif word.bare:
        number, container = value, word.container
    else:
        return None, None
    if number.__class__ is np.ndarray and number.dtype.kind in "iuf":
        return (number.astype(np.float64, copy=False) if number.ndim else float(number)), container
    if isinstance(number, int | float | np.floating | np.integer) and not isinstance(number, bool):
        with contextlib.suppress(OverflowError):  # an integer beyond what a float holds
            return float(number), container
    return None, None


def defined(title: str, letter: str, told: tuple[str, ...]) -> Word:
    """Read one line of ``where``; a constant needs a value of the right unit and a source."""
    if isinstance(told, str) or not 3 <= len(told) <= len(_TOLD) or len(told) == 5:
        raise FormulaError(
            f"{title}: {letter} needs (word, unit, meaning[, sign[, default, source]]); "
            f"got {told!r}."
        )
    word = Word(**dict(zip(_TOLD, told, strict=False)), letter=letter)
    try:
        if word.kind and word.default is not None and word.sign in SIGNS:
            base_value(word, word.default)
    except MathlibError as fault:
        raise FormulaError(f"{title}: {word.word}: {fault}") from None
    return word


def result(value: Any, wanted: UnitsContainer) -> Quantity:
    """Wrap a number in SI base units as a quantity in the wanted unit."""
    measure = units.kind(wanted)
    operator, constant = units.scale(measure.factor)
    array = np.asarray(value, dtype=float)
    array = array - measure.offset if measure.offset else array
    with np.errstate(all="ignore"):
        array = array / constant if operator == "*" else array * constant
    return units.quantity(float(array) if array.ndim == 0 else array, wanted)


def is_dataarray(value: Any) -> bool:
    """Tell an xarray DataArray without importing xarray."""
    xarray = sys.modules.get("xarray")
    return xarray is not None and isinstance(value, xarray.DataArray)


def with_units(
    title: str, returns: str | None = None, **takes: str | tuple[str, str]
) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Give a function the contract of a formula: words in, units checked, a quantity out.

    The body gets floats or float arrays in SI base units and returns such; ``returns`` is the
    unit of the result, or None where the body builds its own. A word of ``takes`` has a unit, or
    a unit and a sign; a plain 0 is taken in any unit. Other parameters of the function
    pass untouched; defaults are strings.

    >>> @with_units("Area of a square", returns="mm^2", side="mm")
    ... def area(*, side):
    ...     return side * side
    >>> print(area(side="3 mm"))
    9 mm²
    """
    words = {
        name: Word(name, *((told, "") if isinstance(told, str) else (told[0], "", told[1])))
        for name, told in takes.items()
    }

    def decorate(function: Callable[..., Any]) -> Callable[..., Any]:
        parameters = inspect.signature(function).parameters
        every = tuple(words.get(name) or Word(name, "1") for name in parameters)
        optional = {n for n, p in parameters.items() if p.default is not inspect.Parameter.empty}

        @functools.wraps(function)
        def call(*positional: Any, **given: Any) -> Any:
            mistakes = Mistakes(title)
            if positional:
                mistakes.add(WordError, f"write inputs by word: {'=, '.join(parameters)}=.")
                mistakes.stop()
            filled = {n: parameters[n].default for n in optional} | given
            check_names(mistakes, every, filled)
            mistakes.stop()
            left_out = {n for n in optional if filled[n] is None and parameters[n].default is None}
            typed_words = [w for w in words.values() if w.word not in left_out]
            for w in typed_words:  # nothing is nothing in any unit
                if not w.kind.offset and type(filled[w.word]) in (int, float):
                    filled[w.word] = f"0 {w.unit}" if filled[w.word] == 0 else filled[w.word]
            read = read_words(title, typed_words, {w.word: filled[w.word] for w in typed_words})
            value = function(**(filled | read))
            if returns is None:
                return value
            if not np.all(np.isfinite(value)):
                raise ValueRefused(f"{title}: the result is not finite for these inputs.")
            return result(value, units.container(returns))

        return call

    return decorate
