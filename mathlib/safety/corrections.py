"""Factors of the tables of exposure limits: C2 to C7, T2, fields of view and pulse counts.

Their numbers stand in ``data/exposure_factors.csv`` and ``data/exposure_rules.csv``, each with
its source and confidence. Functions that begin with an underscore take and give SI base units.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import tables, units, words
from mathlib.errors import MathlibError, ValueRefused
from mathlib.tables import Row
from mathlib.words import Mistakes, Word

EDITIONS: Final = ("IEC 2014", "ICNIRP 2013", "2006/25/EC")
LOWEST: Final = "lowest"
LAW: Final = EDITIONS[2]
TARGETS: Final = ("eye", "skin")
#: What ``checked_by`` of a table says of numbers that nothing independent confirms.
UNCONFIRMED: Final = "second typing only"
#: A value within this part below an edge of a band counts as on the edge: 0.4 µm is 400 nm.
EDGE: Final = 1e-12

WAVELENGTH: Final = Word("wavelength", "nm", "of the light")
TIME: Final = Word("exposure_time", "s", "that the eye or skin is exposed")
ANGLE: Final = Word("source_angle", "mrad", "that the source takes up, seen by the eye", "zero")
DURATION: Final = Word("duration", "s", "of one pulse")
COUNT: Final = Word("pulse_count", "1", "pulses during the exposure")


class Curve(NamedTuple):
    """A factor over one band: ``plus + 10**(decades * (wavelength - start))``, or ``plus``."""

    name: str
    factor: str
    band: tuple[float, float]
    plus: float
    decades: float  # 0 where the factor is the constant ``plus``
    start: float
    editions: tuple[str, ...]
    checked: str

    def at(self, wavelength: Any) -> Any:
        """Value at wavelengths in metres; beyond the band that of its end."""
        if self.decades == 0.0:
            return np.full(np.shape(wavelength), self.plus)
        return self.plus + 10.0 ** (self.decades * (np.clip(wavelength, *self.band) - self.start))


def reached(value: Any, edge: float) -> Any:
    """Tell whether values have reached an edge, but for the last digits of their conversion."""
    return value > edge * (1 - EDGE)


def holds(ends: tuple[float, float], value: Any, closed: float = np.inf) -> Any:
    """Tell whether values lie within a band; its upper end only where that is ``closed``."""
    inside = reached(value, ends[0])
    return inside if ends[1] == closed else inside & ~reached(value, ends[1])


def number(row: Row, word: str, absent: float = 0.0) -> float:
    """Value of a cell of a table in SI base units."""
    told: Any = row.values.get(word)
    return absent if told is None else float(words.scaled(told.magnitude, units.kind(told._units)))


def band(row: Row, word: str) -> tuple[float, float]:
    """Both ends of a band, such as the wavelengths of a row, in SI base units."""
    return number(row, f"{word}_from", -np.inf), number(row, f"{word}_to", np.inf)


@lru_cache(maxsize=1)
def curves() -> tuple[Curve, ...]:
    """Every factor that depends on the wavelength alone, band by band."""
    return tuple(
        Curve(
            row.name,
            row.texts["factor"],
            band(row, "wavelength"),
            number(row, "plus"),
            number(row, "decades_per_length"),
            number(row, "start"),
            tuple(row.texts["editions"].split("; ")),
            row.texts.get("checked_by", ""),
        )
        for row in tables.read("exposure_factors").rows.values()
    )


@lru_cache(maxsize=1)
def rules() -> dict[str, Row]:
    """Rows of the table of rules by name."""
    return tables.read("exposure_rules").rows


def _rule(name: str, word: str) -> float:
    return number(rules()[name], word)


def within(mistakes: Mistakes, word: Word, value: Any, low: float, high: float) -> Any:
    """Read one input in base units and refuse what lies outside the table."""
    try:
        base = words.base_value(word, value)
    except MathlibError as fault:
        mistakes.add(type(fault), str(fault))
        return np.nan  # which nobody uses, since the mistake stops the call
    out = (base < low * (1 - EDGE)) | (base > high * (1 + EDGE))
    if np.any(out):
        ends = (units.show(words.result(end, word.container)) for end in (low, high))
        first = np.ravel(base)[np.ravel(out)][0]
        got = units.show(words.result(first, word.container), 6)
        mistakes.add(
            ValueRefused, f"{word.word} lies from {' to '.join(ends)} in the tables; got {got}."
        )
    return base


def by_law(who: str, edition: str) -> bool:
    """Tell the directive's factors from the others'; refuse an edition that is unknown."""
    if edition not in (*EDITIONS, LOWEST):
        told = ", ".join(map(repr, (LOWEST, *EDITIONS)))
        raise ValueRefused(f"{who}: edition is one of {told}; got {edition!r}.")
    return edition == LAW


def one_of_targets(target: str) -> None:
    """Refuse a target that the tables do not have."""
    if target not in TARGETS:
        raise ValueRefused(f"target is {' or '.join(map(repr, TARGETS))}; got {target!r}.")


def _largest_angle(time: Any, law: bool) -> Any:
    most, settled = (_rule("largest source angle, long", w) for w in ("angle", "time"))
    if law:
        return np.full(np.shape(time), most)
    least = _rule("largest source angle, short", "angle")
    return np.clip(most * np.sqrt(time / settled), least, most)


def smallest_angle() -> float:
    """Give the source angle up to which a source is small."""
    return _rule("smallest source angle", "angle")


def angle_grows() -> tuple[float, float]:
    """Give the times between which the largest source angle grows by the root of the time."""
    least = _rule("largest source angle, short", "angle")
    most, settled = (_rule("largest source angle, long", w) for w in ("angle", "time"))
    return settled * (least / most) ** 2, settled


def _source_factor(angle: Any, time: Any, law: bool) -> Any:
    small = smallest_angle()
    return np.clip(angle, small, _largest_angle(time, law)) / small


def _thermal_time(angle: Any) -> Any:
    small, early = (_rule("T2, small source", w) for w in ("angle", "time"))
    wide, late = (_rule("T2, wide source", w) for w in ("angle", "time"))
    part = (np.clip(angle, small, wide) - small) / (wide - small)
    return early * (late / early) ** part


def _pulses_as_one(wavelength: Any, law: bool) -> Any:
    """Time within which pulses count as one; 0 where the rule of repeated pulses is not used."""
    time = np.zeros(np.shape(wavelength))
    for row in rules().values():
        if row.name.startswith("pulses as one") and (LAW in row.texts["editions"]) == law:
            inside = holds(band(row, "wavelength"), wavelength)
            time = np.where(inside, number(row, "time"), time)
    return time


def _pulse_factor(
    duration: Any, count: Any, together: Any, angle: Any, time: Any, law: bool
) -> Any:
    fallen = count ** -_rule("C5, exponent", "number")
    if law:
        return fallen
    floor, wide_floor = (_rule(n, "number") for n in ("C5, floor", "C5, floor of a wide source"))
    brief = time <= _rule("C5, short pulses, time base", "time")
    short = np.clip(_rule("C5, short pulses, scale", "number") * fallen, floor, 1.0)
    short = np.where(brief, 1.0, short)
    beyond = angle > _largest_angle(duration, law)
    long = np.maximum(fallen, np.where(beyond, wide_floor, floor))
    alone = (angle <= _rule("C5, small source", "angle")) | (
        angle > _rule("C5, widest source", "angle")
    )
    return np.where(duration <= together, short, np.where(alone, 1.0, long))
