"""What moves, from a list of its parts: a sum with a range."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

import numpy as np

from mathlib import units, words
from mathlib.errors import MathlibError, ValueRefused
from mathlib.ranges import Range
from mathlib.units import QUANTITY, Q
from mathlib.words import Word

_MASS: Final = Word("mass", "kg", "of one such part")
_KEYS: Final = ("name", "mass", "count", "share")
#: Ends of a part's mass over what is stated without a range; an estimate.
_WEIGHED: Final = (0.97, 1.03)


def total_mass(rows: Iterable[Mapping[str, Any]], values: Mapping[str, Any] | None = None) -> Range:
    """Sum a list of parts, with the range that follows from those of the parts.

    Parameters
    ----------
    rows : iterable of mapping
        Each with ``name`` and ``mass``, a text or ``{low, typical, high}``; ``count`` if there are
        several, and ``share`` if only a part of it moves, such as 0.5 of a cable chain whose other
        end is fixed. A mass without a range counts within 3 %.
    values : mapping, optional
        Other keys of the file's table, which a sum of masses does not need.

    Returns
    -------
    Range
        kg; parts vary independently, so their deviations add by squares. The source lists them.

    Raises
    ------
    ValueRefused, UnitError
        Rows cannot be read; all of them are named.

    Examples
    --------
    >>> print(total_mass([{"name": "plate", "mass": "0.2 kg"},
    ...                   {"name": "chain", "mass": "120 g", "share": 0.5}]).typical)
    0.26 kg

    """
    typical, below, above, told = 0.0, 0.0, 0.0, []
    mistakes = words.Mistakes("Parts")
    if not isinstance(rows, Iterable) or isinstance(rows, str | bytes | QUANTITY):
        mistakes.add(ValueRefused, 'write a list of {name = "...", mass = "..."}.')
        mistakes.stop()
    for number, row in enumerate(rows, start=1):
        try:
            low, middle, high, times = _part(row)
        except MathlibError as fault:
            mistakes.add(type(fault), f"row {number}: {fault}")
            continue
        typical += times * middle
        below += (times * (middle - low)) ** 2
        above += (times * (high - middle)) ** 2
        told.append(f"{row['name']} {units.show(Q(times * middle, 'kg'), 3)}")
    if not mistakes.found and not told:
        mistakes.add(ValueRefused, "the list is empty.")
    mistakes.stop()
    return Range(
        Q(max(typical - np.sqrt(below), 0.5 * typical), "kg"),
        Q(typical, "kg"),
        Q(typical + np.sqrt(above), "kg"),
        source=f"parts list: {', '.join(told)}",
        kind="estimate",
    )


def _part(row: Mapping[str, Any]) -> tuple[float, float, float, float]:
    """Read low, typical and high of one part in kg, and how many times it counts."""
    if not isinstance(row, Mapping) or not isinstance(row.get("name"), str):
        raise ValueRefused('write name = "..." and mass = "...".')
    odd = [key for key in row if key not in _KEYS]
    if odd or "mass" not in row:
        raise ValueRefused(f"{row['name']} takes {', '.join(_KEYS)}; mass is needed.")
    mass = row["mass"]
    if isinstance(mass, Mapping):
        if not {"low", "typical", "high"} <= set(mass) <= {"low", "typical", "high", "source"}:
            raise ValueRefused(f"{row['name']}: a range is low, typical and high, with a source.")
        span = Range(mass["low"], mass["typical"], mass["high"], source="the parts list")
        ends = [words.base_value(_MASS, getattr(span, n)) for n in ("low", "typical", "high")]
    else:
        middle = words.base_value(_MASS, mass)
        ends = [_WEIGHED[0] * middle, middle, _WEIGHED[1] * middle]
    count = words.base_value(Word("count", "1", ""), row.get("count", 1))
    part = words.base_value(Word("share", "1", "", "share"), row.get("share", 1.0))
    return (*(float(end) for end in ends), float(count * part))  # type: ignore[return-value]
