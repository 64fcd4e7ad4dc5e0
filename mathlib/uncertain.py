"""How uncertain a result is: first order after JCGM 100, and a word when that is not enough."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from mathlib import units, words
from mathlib.derive import check_solve_words, derivative, solve, symbols_of
from mathlib.errors import MathlibError, UnitError, ValueRefused, WordError
from mathlib.units import Quantity
from mathlib.words import Word

if TYPE_CHECKING:
    from mathlib.formula import Formula

_MATTERS: Final = 0.05  # second order is worth a word above this part of the first
_STEP: Final = 0.05  # of a spread, between slopes: there rounding and curvature both stay small
_PERCENT: Final = units.registry.percent


@dataclass(frozen=True)
class Uncertainty:
    """Result of a first-order propagation.

    ``shares`` has each input's part of the variance; ``second_order`` is the next order's
    standard uncertainty over the first order's; ``note`` says in words when it matters.
    """

    value: Quantity
    std: Quantity
    shares: dict[str, Any]
    second_order: float
    note: str

    def __str__(self) -> str:
        """Value, standard uncertainty and, of one point, the shares."""
        if np.ndim(self.std.magnitude) or np.ndim(self.value.magnitude):
            text = f"{self.value} ± {self.std}"
        else:
            told = ", ".join(f"{word} {share:.0%}" for word, share in self.shares.items())
            text = f"{units.show(self.value)} ± {units.show(self.std, 2)} [{told}]"
        return f"{text}; {self.note}" if self.note else text


def uncertainty(
    formula: Formula, spread: Mapping[str, Any], of: str | None, given: Mapping[str, Any]
) -> Uncertainty:
    """First-order propagation; see ``Formula.uncertainty``."""
    of = of or formula.output.word
    takes = check_solve_words(formula, of, given)
    values = words.read_words(formula.title, takes, given)
    root = 0
    if of != formula.output.word:
        wanted = next(w for w in formula.inputs if w.word == of)
        values[of] = words.base_value(wanted, solve(formula, of, None, given))
        root = _root_index(formula, of, values)
    else:
        wanted = formula.output
        values[of] = formula.base_result(values)
    spreads = _spreads(formula, takes, spread, values)
    slope = {w: derivative(formula, of, w, values, root) for w in spreads}
    parts = {w: (slope[w] * spreads[w]) ** 2 for w in spreads}
    variance = sum(parts.values()) if parts else 0.0
    std = np.sqrt(variance)
    second = _second_order(formula, of, spreads, slope, values, root)
    with np.errstate(all="ignore"):
        shares = {w: np.where(std > 0, p / variance, 0.0) for w, p in parts.items()}
        ratio = np.where(std > 0, np.sqrt(np.abs(second)) / std, np.where(second > 0, np.inf, 0.0))
    worst = float(np.max(ratio)) if np.size(ratio) else 0.0
    note = ""
    if parts and not np.all(std > 0) and any(np.any(s > 0) for s in spreads.values()):
        note = "the slope is zero here, so the first order says nothing: draw from the ranges"
    elif worst > _MATTERS:
        note = f"second-order terms come to {worst:.0%} of this: draw from the ranges instead"
    return Uncertainty(
        words.result(values[of], wanted.container),
        _difference(std, wanted),
        {w: float(s) if np.ndim(s) == 0 else s for w, s in shares.items()},
        worst,
        note,
    )


def _difference(std: Any, wanted: Word) -> Quantity:
    if wanted.kind.offset:
        return words.result(std, units.container("K"))
    return words.result(std, wanted.container)


def _root_index(formula: Formula, of: str, values: Mapping[str, Any]) -> int:
    """Which closed form gives the value that ``solve`` found."""
    known = symbols_of(formula)
    others = {w: np.asarray(v, dtype=complex) for w, v in values.items() if w != of}
    misses = [np.max(np.abs(known.numeric(r, others) - values[of])) for r in known.roots(of)]
    return int(np.nanargmin(misses))


def _spreads(
    formula: Formula, takes: list[Word], spread: Mapping[str, Any], values: Mapping[str, Any]
) -> dict[str, Any]:
    """Read standard uncertainties into base units; a percentage is of the value."""
    mistakes = words.Mistakes(f"{formula.title}, spread")
    if not isinstance(spread, Mapping):
        raise WordError(f'{formula.title}: spread is by word, such as {{"{takes[0].word}": "5 %"}}')
    words.check_names(mistakes, takes, spread, needed=False)
    mistakes.stop()
    found: dict[str, Any] = {}
    for word in takes:
        if word.word not in spread:
            continue
        told = spread[word.word]
        try:
            several = isinstance(told, list | tuple)
            texts = [units.Q(t) if isinstance(t, str) else t for t in (told if several else [told])]
            shares = [isinstance(t, units.QUANTITY) and t.units == _PERCENT for t in texts]
            read = texts[0] if not several else units.Q(texts, "%") if all(shares) else texts
            if all(shares) and not word.kind.offset:
                share = words.base_value(Word(word.word, "%", "", "zero"), read)
                found[word.word] = share * np.abs(values[word.word])
                continue
            found[word.word] = words.base_value(_amount(word), read)
        except MathlibError as fault:
            amount = f'"0.1 {_amount(word).unit}"'
            share = "" if word.kind.offset else ', or "5 %" of the value'
            sentence = f"{fault} Write an amount such as {amount}{share}."
            mistakes.add(UnitError if isinstance(fault, UnitError) else ValueRefused, sentence)
    mistakes.stop()
    return found


def _amount(word: Word) -> Word:
    unit = "delta_degC" if word.kind.offset or word.unit == "K" else word.unit
    return Word(word.word, unit, "", "zero")


def _second_order(
    formula: Formula,
    of: str,
    spreads: Mapping[str, Any],
    slope: Mapping[str, Any],
    values: Mapping[str, Any],
    root: int,
) -> Any:
    """Next terms of the variance, JCGM 100, note to 5.1.2; slopes differenced over small steps."""
    total: Any = 0.0
    for b, spread in spreads.items():
        size = np.abs(values[b])
        step = _STEP * np.minimum(spread, np.where(size > 0, size, spread))
        step = np.where(step > 0, step, 1.0)  # no spread: whatever comes of it counts for nothing
        for a in spreads:
            if not np.any(spread * spreads[a]):
                continue
            beside = [
                derivative(formula, of, a, {**values, b: values[b] + side * step}, root)
                for side in (-1, 1)
            ]
            square = ((beside[1] - beside[0]) / (2 * step)) ** 2 / 2
            third = slope[a] * (beside[1] - 2 * slope[a] + beside[0]) / step**2
            total = total + (square + third) * spreads[a] ** 2 * spread**2
    return total
