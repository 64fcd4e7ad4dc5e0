"""Values of a machine file as controls, and the machine with other values in their place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import attrs

from mathlib.errors import ValueRefused
from mathlib.explore.panel import Control
from mathlib.fields import word_of
from mathlib.units import Quantity, quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine


def control(machine: Machine, key: str, low: float, high: float) -> Control:
    """Control for a value of the file, from ``low`` to ``high`` times what the file says.

    Where the file says zero the ends are multiples of one unit.

    >>> from mathlib.machine import TAGMAKER, load
    >>> print(control(load(TAGMAKER), "carriage.friction", 0.0, 5.0).high)
    20 N
    """
    section, _, name = key.partition(".")
    record = getattr(machine, section)
    word = word_of(attrs.fields_dict(type(record))[name])
    if word is None:
        raise ValueRefused(f"{key} is not a quantity, and has no slider.")
    start = getattr(record, name)

    def end(times: float) -> Quantity:
        return quantity(float(f"{times * (start.magnitude or 1.0):.2g}"), start._units)

    return Control(name=key, word=word, low=end(low), high=end(high), start=start)


def changed(machine: Machine, values: dict[str, Quantity]) -> Machine:
    """Give the machine with these values by dotted key; what is not among them keeps its range."""
    sections: dict[str, dict[str, Any]] = {}
    for key, value in values.items():
        section, _, name = key.partition(".")
        sections.setdefault(section, {})[name] = value
    parts = {
        section: attrs.evolve(getattr(machine, section), **told)
        for section, told in sections.items()
    }
    ranges = {key: span for key, span in machine.ranges.items() if key not in values}
    return attrs.evolve(machine, ranges=ranges, **parts)
