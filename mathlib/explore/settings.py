"""Values of a machine file as controls, and the machine with other values in their place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import attrs

from mathlib.errors import ValueRefused
from mathlib.explore.panel import Control
from mathlib.fields import word_of
from mathlib.units import Quantity, quantity
from mathlib.words import Word

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
    word, start = _word(key, record), getattr(record, name)

    def end(times: float) -> Quantity:
        return quantity(float(f"{times * (start.magnitude or 1.0):.2g}"), start._units)

    return Control(name=key, word=word, low=end(low), high=end(high), start=start)


def between(key: str, record: Any, low: Quantity, high: Quantity) -> Control:
    """Control for a field of a record, between two values; it starts where the record stands.

    The part of the key behind its last point names the field.

    >>> from mathlib.machine import TAGMAKER, load
    >>> from mathlib.units import Q
    >>> print(between("job.power_share", load(TAGMAKER).job, Q("0.05 1"), Q("1 1")).high)
    1
    """
    start = getattr(record, key.rpartition(".")[2])
    return Control(name=key, word=_word(key, record), low=low, high=high, start=start)


def _word(key: str, record: Any) -> Word:
    word = word_of(attrs.fields_dict(type(record))[key.rpartition(".")[2]])
    if word is None:
        raise ValueRefused(f"{key} is not a quantity, and has no slider.")
    return word


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
