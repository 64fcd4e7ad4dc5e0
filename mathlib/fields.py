"""Frozen records whose fields are quantities: attrs holds them, ``words`` reads them.

A record takes its fields by word, as text, quantities or arrays of any shape, converts each to
the field's unit, and names every mistake at once, as a formula does.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, dataclass_transform

import attrs
import numpy as np

from mathlib import words
from mathlib.errors import MathlibError, ValueRefused
from mathlib.units import QUANTITY, Quantity
from mathlib.words import Word

_T = TypeVar("_T")


def _same(a: Any, b: Any) -> bool:
    if isinstance(a, QUANTITY) and isinstance(b, QUANTITY):
        return a._units == b._units and np.array_equal(a.magnitude, b.magnitude)
    return a is b or (not isinstance(a, QUANTITY) and not isinstance(b, QUANTITY) and a == b)


def _field(unit: str, about: str, sign: str, such: str = "", **more: Any) -> Any:
    told = {"unit": unit, "about": about, "sign": sign} | ({"pair": such} if such else {})
    return attrs.field(metadata=told, eq=attrs.cmp_using(eq=_same), hash=False, **more)


def quantity(unit: str, about: str, sign: str = "positive", default: str | None = None) -> Any:
    """Field with a unit; it must be given unless it has a default."""
    return _field(unit, about, sign, **({} if default is None else {"default": default}))


def optional(unit: str, about: str, sign: str = "positive", converter: Any = None) -> Any:
    """Field with a unit that may stay None; a converter tidies what was given first."""
    return _field(unit, about, sign, default=None, converter=converter)


def choice(options: tuple[str, ...], about: str, default: str | None = None) -> Any:
    """Field that holds one of a few words."""
    told = {"choices": options, "about": about}
    return attrs.field(metadata=told, default=attrs.NOTHING if default is None else default)


def text(about: str, default: str = "") -> Any:
    """Field that holds free text."""
    return attrs.field(metadata={"about": about}, default=default)


def part(about: str, default: Any = attrs.NOTHING) -> Any:
    """Field that holds another record, or records by name."""
    return attrs.field(metadata={"about": about, "part": True}, default=default)


def pair(unit: str, about: str, such: str, sign: str = "positive") -> Any:
    """Field of two quantities; ``such`` is how a person writes them."""
    return _field(unit, about, sign, such)


def rows(read: Callable[..., Any], example: str, about: str, fills: str = "") -> Any:
    """Field that a file gives as a list of tables, such as ``[[carriage.parts]]``.

    ``read(rows, values)`` makes one value of the list; ``values`` are those of the other keys.
    Where ``fills`` names another field the value goes there, and this one stays None.
    """
    told = {"about": about, "rows": read, "example": example, "fills": fills}
    return attrs.field(metadata=told, default=None)


@dataclass_transform(
    frozen_default=True,
    kw_only_default=True,
    field_specifiers=(quantity, optional, choice, text, part, pair, rows),
)
def record(cls: type[_T]) -> type[_T]:
    """Make a class a frozen record with keyword-only fields.

    A method ``_agree(self, mistakes)`` is called when each field is read: it notes what does not
    fit together.

    >>> @record
    ... class Rail:
    ...     length: Quantity = quantity("mm", "of the rail")
    >>> Rail(length="0.5 m").length.magnitude
    500.0
    """
    cls.__attrs_post_init__ = _read_fields  # type: ignore[attr-defined]
    made: type[_T] = attrs.frozen(kw_only=True)(cls)
    return made


def _read_fields(self: Any) -> None:
    mistakes = words.Mistakes(type(self).__name__)
    for field in attrs.fields(type(self)):
        value = getattr(self, field.name)
        if "choices" in field.metadata and value not in field.metadata["choices"]:
            told = ", ".join(map(repr, field.metadata["choices"]))
            mistakes.add(ValueRefused, f"{field.name} is one of {told}; got {value!r}.")
        word = word_of(field)
        if word is None or (value is None and field.default is None):
            continue
        try:
            read = _two(field, word, value) if "pair" in field.metadata else in_unit_of(word, value)
            object.__setattr__(self, field.name, read)
        except MathlibError as fault:
            mistakes.add(type(fault), str(fault))
    if not mistakes.found and hasattr(self, "_agree"):
        self._agree(mistakes)
    mistakes.stop()


def _two(field: attrs.Attribute[Any], word: Word, value: Any) -> tuple[Quantity, ...]:
    counted = isinstance(value, list | tuple) or (
        isinstance(value, QUANTITY) and np.ndim(value.magnitude) > 0
    )
    if not counted or len(value) != 2:
        raise ValueRefused(
            f"{field.name} are two values, {word.about}; write {field.metadata['pair']}."
        )
    return tuple(in_unit_of(word, one) for one in value)


def word_of(field: attrs.Attribute[Any]) -> Word | None:
    """Word of a field that holds a quantity; None for the others."""
    told = field.metadata
    return Word(field.name, told["unit"], told["about"], told["sign"]) if "unit" in told else None


def in_unit_of(word: Word, value: Any) -> Quantity:
    """Read a value as the word takes it, in the word's unit."""
    base = words.base_value(word, value)
    kept = isinstance(value, QUANTITY) and value._units == word.container
    made: Quantity = value if kept else words.result(base, word.container)
    return made
