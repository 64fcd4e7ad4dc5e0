"""A formula as people read it: plain text, Markdown, and LaTeX with the numbers put in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from mathlib import units, words
from mathlib.equation import letter_latex
from mathlib.errors import ValueRefused
from mathlib.units import QUANTITY, Quantity
from mathlib.words import SIGNS, Word

if TYPE_CHECKING:
    from mathlib.formula import Formula


class Typeset(str):
    """LaTeX that a notebook shows typeset."""

    __slots__ = ()

    def _repr_latex_(self) -> str:
        return f"$\\displaystyle {self}$"


def quantity_latex(value: Quantity) -> str:
    r"""Typeset a scalar quantity.

    >>> print(quantity_latex(units.Q("12.5 N/mm")))
    12.5\,\text{N/mm}
    """
    number, _, unit = units.show(value).partition(" ")
    if unit.startswith("× 10"):
        power, _, unit = unit[4:].partition(" ")
        plain = power.translate(str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-"))
        number = rf"{number} \times 10^{{{plain}}}"
    unit = unit.replace("%", r"\%")
    return rf"{number}\,\text{{{unit}}}" if unit else number


def worked(formula: Formula, value: Any, given: Mapping[str, Any]) -> Typeset:
    """Typeset the equation, the same with the numbers of a call put in, and its value."""
    if words.is_dataarray(value) or np.ndim(value.magnitude):
        raise ValueRefused(f"{formula.title}: worked shows one point; got arrays.")
    put = {}
    for word in formula.inputs:
        told = given.get(word.word, word.default)
        told = units.Q(told) if isinstance(told, str) and not word.bare else told
        if not isinstance(told, QUANTITY):
            told = units.quantity(words.base_value(word, told), word.container)
        put[word.letter] = quantity_latex(told)
    numbers = formula.equation.latex(put)
    return Typeset(f"{formula.latex} = {numbers} = {quantity_latex(value)}")


def _default(word: Word) -> str:
    """Say what stands for an input that a call leaves out; a plain number has no unit to show."""
    if word.default is None:
        return ""
    return f" = {word.default.removesuffix(' 1')} ({word.source})"


def plain(formula: Formula) -> str:
    """Write title, equation, words, conditions and source as plain text."""
    lines = [formula.title, f"  {formula.equation.text}"]
    for word in formula.words:
        extra = _default(word)
        sign = "" if word.sign == "positive" else f", {SIGNS[word.sign]}"
        lines.append(f"  {word.letter}: {word.word} [{word.unit}] {word.about}{extra}{sign}")
    lines += [f"  holds if {text}" for text in (*formula.holds, *formula.assumes)]
    return "\n".join([*lines, f"  source: {formula.source}"])


def markdown(formula: Formula) -> str:
    """Write the same for a notebook, with the equation typeset."""
    lines = [f"**{formula.title}**", "", f"$$ {formula.latex} $$", "", "where", ""]
    for word in formula.words:
        unit = units.unit_text(word.container) or "plain number"
        extra = _default(word)
        letter = letter_latex(word.letter)
        lines.append(f"- ${letter}$: `{word.word}` ({unit}), {word.about}{extra}")
    lines += ["", "holds if", ""]
    lines += [f"- {text}" for text in (*formula.holds, *formula.assumes)]
    return "\n".join([*lines, "", f"*Source: {formula.source}*"])
