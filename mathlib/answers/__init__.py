"""Answers: each module answers one question of a builder for one machine.

``answer(machine)`` gives values with ranges, a verdict with what decides it, where it flips, and
the next measurement worth making. Notebooks show it, the record prints all of them.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, Final

import attrs
import numpy as np

from mathlib import lazily, units
from mathlib.errors import NotUnique, ValueRefused
from mathlib.units import Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

#: Questions that are answered, in the order in which a record prints them.
NAMES: Final = (
    "step",
    "motor",
    "moves",
    "power",
    "belt",
    "square",
    "ringing",
    "frame",
    "spot",
    "energy",
    "material",
    "laser",
    "hazard",
)
DRAWS: Final = 4096
_SURE: Final = 0.9  # a verdict that at least this part of the drawn machines share is certain

Values = dict[str, Quantity]


@attrs.frozen(kw_only=True, eq=False)
class Answer:
    """What was asked, the values, the verdict, and how sure it is.

    ``values`` has scalars for typical parts, or arrays along the draws for a drawn machine;
    ``ranges`` has low and high by word, where 90 % of the drawn machines lie; ``about`` says in
    words what each value is.
    """

    asked: str
    values: Values
    verdict: str
    decided_by: str
    flips_at: Values
    certain: bool
    warnings: tuple[str, ...]
    sources: tuple[str, ...]
    measure_next: str
    ranges: dict[str, tuple[Quantity, Quantity]] = attrs.field(factory=dict)
    about: dict[str, str] = attrs.field(factory=dict)

    def table(self) -> list[tuple[str, str, str, str]]:
        """Rows of word, value, range and meaning, written for people."""
        rows = []
        for word, value in self.values.items():
            low_high = self.ranges.get(word)
            told = "" if low_high is None else " to ".join(units.show(v, 3) for v in low_high)
            number = value if np.ndim(value.magnitude) == 0 else _middle(value)
            shown = "does not hold" if np.isnan(number.magnitude) else units.show(number)
            rows.append((word, shown, told, self.about.get(word, "")))
        return rows

    def __repr__(self) -> str:
        """Everything on one page of plain text."""
        width = max((len(word) for word in self.values), default=0)
        lines = [self.asked, f"  {self.verdict}"]
        for word, value, low_high, about in self.table():
            span = f" ({low_high})" if low_high else ""
            lines.append(f"  {word:{width}}  {value}{span}  {about}")
        lines.append(f"  decided by: {self.decided_by}")
        lines += [f"  flips at {word}: {units.show(v)}" for word, v in self.flips_at.items()]
        lines += [f"  take care: {text}" for text in self.warnings]
        return "\n".join([*lines, f"  measure next: {self.measure_next}"])

    def _repr_markdown_(self) -> str:
        lines = [f"**{self.asked}**", "", f"> {self.verdict}", ""]
        lines += self._markdown_of_two() or [
            "| value | typical | 90 % of cases | what it is |",
            "|---|---|---|---|",
            *(f"| {w} | {v} | {r} | {a} |" for w, v, r, a in self.table()),
        ]
        lines += ["", f"Decided by {self.decided_by}."]
        lines += [
            f"Flips at {w.replace('_', ' ')} = {units.show(v)}." for w, v in self.flips_at.items()
        ]
        lines += [f"\nTake care: {text}" for text in self.warnings]
        return "\n".join([*lines, "", f"Measure next: {self.measure_next}"])

    def _markdown_of_two(self) -> list[str]:
        """Values of one and the ``other_`` side by side, ranges beneath; nothing for one alone."""
        told = {w: f"{v}<br>({r})" if r else v for w, v, r, _ in self.table()}
        if not any(word.startswith("other_") for word in told):
            return []
        rows = [
            f"| {word} | {shown} | {told.get(f'other_{word}', '')} | {self.about.get(word, '')} |"
            for word, shown in told.items()
            if not word.startswith("other_")
        ]
        return ["| value | this one | the other | what it is |", "|---|---|---|---|", *rows]


def _middle(value: Quantity) -> Quantity:
    return units.quantity(float(np.nanmedian(value.magnitude)), value._units)


def evaluate(
    machine: Machine, compute: Callable[[Machine], Values]
) -> tuple[Values, Values, dict[str, tuple[Quantity, Quantity]]]:
    """Values for typical parts, for drawn machines, and the ends between which 90 % lie.

    A machine that was drawn already is taken as it is. Where nothing varies, the drawn values
    are the typical ones.
    """
    typical = compute(machine.typical())
    if not machine.ranges:
        return typical, typical, {}
    drawn = compute(machine.draw(DRAWS))
    ends = {}
    for word, value in drawn.items():
        if np.ndim(value.magnitude) and not np.all(np.isnan(value.magnitude)):
            low, high = np.nanpercentile(value.magnitude, [5, 95])
            ends[word] = (
                units.quantity(float(low), value._units),
                units.quantity(float(high), value._units),
            )
    return typical, drawn, ends


def share(met: Any) -> float:
    """Part of the drawn machines for which something is so."""
    return float(np.mean(np.asarray(met)))


def settled(met: Any) -> bool:
    """Tell whether nearly all drawn machines agree, one way or the other."""
    part = share(met)
    return part >= _SURE or part <= 1 - _SURE


def ratio(a: Quantity, b: Quantity) -> Any:
    """Plain number a over b."""
    return (a / b).to("dimensionless").magnitude


def tell(value: Quantity, digits: int = 3) -> str:
    """Write a value for a sentence; of drawn machines the one in the middle."""
    return units.show(value if np.ndim(value.magnitude) == 0 else _middle(value), digits)


def percent(part: Any) -> str:
    """Write a ratio as a percentage; of drawn machines the one in the middle."""
    hundredths = 100 * float(np.nanmedian(part))
    return f"{hundredths:.0f} %" if abs(hundredths) >= 10 else f"{hundredths:.2g} %"


def flip(find: Callable[[], Quantity]) -> Quantity | None:
    """Value at which a verdict flips, or None where nothing within reason flips it."""
    try:
        return find()
    except (NotUnique, ValueRefused):
        return None


def sources_of(machine: Machine, *sections: str) -> tuple[str, ...]:
    """Where the values of these tables of the file come from, each once."""
    told: Mapping[str, str] = machine.contents.sources
    found = [
        f"{key}: {text}"
        for key, text in told.items()
        if key.startswith(tuple(f"{s}." for s in sections)) and not key.endswith(".like")
    ]
    merged: dict[str, list[str]] = {}
    for line in found:
        key, _, text = line.partition(": ")
        merged.setdefault(text, []).append(key)
    return tuple(f"{', '.join(keys)}: {text}" for text, keys in merged.items())


def ask(name: str, machine: Machine) -> Answer:
    """Answer the question of this name; see ``NAMES``."""
    module = importlib.import_module(f"mathlib.answers.{name}")
    made: Answer = module.answer(machine)
    return made


__getattr__ = lazily(__name__)
