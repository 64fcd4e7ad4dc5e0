"""The values that a machine file states, each with its range, its kind and its source."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import attrs

from mathlib.fields import word_of
from mathlib.machine import SECTIONS
from mathlib.ranges import KINDS
from mathlib.units import Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

STATED: Final = "as stated"  # kind of a value that the file gives without a range


@attrs.frozen(kw_only=True)
class Input:
    """One value of the file by dotted key."""

    key: str
    typical: Quantity
    low: Quantity | None
    high: Quantity | None
    kind: str
    source: str

    @property
    def varies(self) -> bool:
        """Whether a range is known for it."""
        return self.low is not None


def inputs_of(machine: Machine) -> tuple[Input, ...]:
    """Every quantity that the file or its tables give, in the order of the file's sections."""
    found = []
    for section in SECTIONS:
        group, _, name = section.rpartition(".")
        part = getattr(machine.heads if group else machine, name)
        for field in () if part is None else attrs.fields(type(part)):
            value = getattr(part, field.name)
            if word_of(field) is not None and value is not None:
                found.append(_input(machine, f"{section}.{field.name}", value))
    return tuple(found)


def _input(machine: Machine, key: str, value: Quantity) -> Input:
    span, source = machine.ranges.get(key), machine.contents.sources.get(key, "")
    if span is None:
        # The source of a row names its kind.
        kind = next((kind for kind in KINDS if f"({kind}: " in source), STATED)
        return Input(key=key, typical=value, low=None, high=None, kind=kind, source=source)
    return Input(
        key=key,
        typical=value,
        low=span.low,
        high=span.high,
        kind=span.kind,
        source=span.source,
    )
