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
from mathlib.units import Quantity
from mathlib.words import Mistakes, Word

EDITIONS: Final = ("IEC 2014", "ICNIRP 2013", "2006/25/EC")
LOWEST: Final = "lowest"
LAW: Final = EDITIONS[2]
TARGETS: Final = ("eye", "skin")
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
            return self.plus + 0.0 * wavelength
        return self.plus + 10.0 ** (self.decades * (np.clip(wavelength, *self.band) - self.start))


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
        return 1.0
    out = (np.min(base, initial=high) < low * (1 - EDGE)) or (
        np.max(base, initial=low) > high * (1 + EDGE)
    )
    if out:
        ends = (units.show(words.result(end, word.container), 6) for end in (low, high))
        wrong = np.ravel(base)[(np.ravel(base) < low * (1 - EDGE)) | (np.ravel(base) > high)]
        got = units.show(words.result(wrong[0], word.container), 6)
        mistakes.add(
            ValueRefused, f"{word.word} lies from {' to '.join(ends)} in the tables; got {got}."
        )
    return base


# -- in SI base units --------------------------------------------------------------------------


def _largest_angle(time: Any, law: bool) -> Any:
    most, settled = (_rule("largest source angle, long", w) for w in ("angle", "time"))
    if law:
        return most + 0.0 * time
    least = _rule("largest source angle, short", "angle")
    return np.clip(most * np.sqrt(time / settled), least, most)


def _source_factor(angle: Any, time: Any, law: bool) -> Any:
    small = _rule("smallest source angle", "angle")
    return np.clip(angle, small, _largest_angle(time, law)) / small


def _thermal_time(angle: Any) -> Any:
    small, early = (_rule("T2, small source", w) for w in ("angle", "time"))
    wide, late = (_rule("T2, wide source", w) for w in ("angle", "time"))
    part = (np.clip(angle, small, wide) - small) / (wide - small)
    return early * (late / early) ** part


def _pulses_as_one(wavelength: Any, law: bool) -> Any:
    """Time within which pulses count as one; 0 where the rule of repeated pulses is not used."""
    edition = LAW if law else EDITIONS[0]
    time = 0.0 * wavelength
    for row in rules().values():
        if row.name.startswith("pulses as one") and edition in row.texts["editions"]:
            low, high = band(row, "wavelength")
            within = (wavelength >= low * (1 - EDGE)) & (wavelength < high * (1 - EDGE))
            time = np.where(within, number(row, "time"), time)
    return time


def _pulse_factor(
    duration: Any, count: Any, together: Any, angle: Any, time: Any, law: bool
) -> Any:
    fallen = count ** -_rule("C5, exponent", "number")
    if law:
        return fallen
    floor, wide_floor = (_rule(n, "number") for n in ("C5, floor", "C5, floor of a wide source"))
    few = count <= _rule("C5, short pulses, count", "number")
    few = few | (time <= _rule("C5, short pulses, time base", "time"))
    short = np.clip(_rule("C5, short pulses, scale", "number") * fallen, floor, 1.0)
    short = np.where(few, 1.0, short)
    beyond = angle > _largest_angle(duration, law)
    long = np.maximum(fallen, np.where(beyond, wide_floor, floor))
    alone = (angle <= _rule("C5, small source", "angle")) | (
        angle > _rule("C5, widest source", "angle")
    )
    return np.where(duration <= together, short, np.where(alone, 1.0, long))


# -- under words -------------------------------------------------------------------------------


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


def _as_number(value: Any) -> Quantity:
    return words.result(value, units.container("1"))


def factor(name: str, wavelength: Any, edition: str = LOWEST) -> Quantity:
    """Give a factor that depends on the wavelength alone: C2, C3, C4 or C7.

    Parameters
    ----------
    name : str
        "C2" (its number in J/m²), "C3", "C4" or "C7".
    wavelength : length, any shape
        Of the light.
    edition : str
        As of ``limit``; the directive keeps C7 at 8 above 1200 nm.

    Returns
    -------
    Quantity
        A number of the shape of the wavelength.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; an unknown name; a wavelength outside the factor's bands.

    Examples
    --------
    >>> print(factor("C4", "1064 nm"), factor("C3", "455 nm"))
    5 1.259

    """
    who = f"Factor {name}"
    edition = LAW if by_law(who, edition) else EDITIONS[0]
    bands = [c for c in curves() if c.factor == name and edition in c.editions]
    if not bands:
        told = ", ".join(sorted({c.factor for c in curves()}))
        raise ValueRefused(f"{who}: name is one of {told}.")
    wave = words.read_words(who, (WAVELENGTH,), {"wavelength": wavelength})["wavelength"]
    made = np.full(np.shape(wave), np.nan)
    for curve in bands:
        low, high = curve.band
        within = (wave >= low * (1 - EDGE)) & (wave < high * (1 - EDGE))
        made = np.where(within, curve.at(wave), made)
    if np.any(np.isnan(made)):
        low, high = (f(c.band[i] for c in bands) * 1e9 for i, f in enumerate((min, max)))
        raise ValueRefused(
            f"{who} holds from {low:g} nm to below {high:g} nm, and not for every wavelength given."
        )
    return _as_number(made)


def source_factor(source_angle: Any, exposure_time: Any, edition: str = LOWEST) -> Quantity:
    """Give C6, by which a wide source may be brighter on the retina's thermal limit.

    A collimated or focused beam is a small source, whatever its diameter: C6 is 1 for it.

    Parameters
    ----------
    source_angle : angle, broadcast
        That the source takes up, seen by the eye.
    exposure_time : time, broadcast
        The largest angle that counts grows with it, but in the directive.
    edition : str
        As of ``limit``.

    Returns
    -------
    Quantity
        A number from 1 to 66.7.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(source_factor("15 mrad", "10 s"), source_factor("15 mrad", "0.1 ms"))
    10 3.333

    """
    who = "Factor C6"
    law = by_law(who, edition)
    told = {"source_angle": source_angle, "exposure_time": exposure_time}
    read = words.read_words(who, (ANGLE, TIME), told)
    return _as_number(_source_factor(read["source_angle"], read["exposure_time"], law))


def thermal_time(source_angle: Any) -> Quantity:
    """Give T2, after which the retina's thermal limit falls no further.

    Parameters
    ----------
    source_angle : angle, any shape
        That the source takes up, seen by the eye.

    Returns
    -------
    Quantity
        s, from 10 s for a small source to 100 s.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(thermal_time("50 mrad"))
    31.07 s

    """
    read = words.read_words("Time T2", (ANGLE,), {"source_angle": source_angle})
    return words.result(_thermal_time(read["source_angle"]), units.container("s"))


def photochemical_field(exposure_time: Any) -> Quantity:
    """Give the field of view within which light counts for the blue, photochemical limit.

    Parameters
    ----------
    exposure_time : time, any shape
        That someone looks; eyes wander, so the field grows with it.

    Returns
    -------
    Quantity
        mrad, from 11 mrad up to 100 s to 110 mrad. Counting the whole of a wider source is
        stricter, and is what ``limit`` does.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(photochemical_field("400 s"))
    22 mrad

    """
    read = words.read_words("Photochemical field", (TIME,), {"exposure_time": exposure_time})
    narrow, early = (_rule("photochemical field, short", w) for w in ("angle", "time"))
    most = _rule("photochemical field, long", "angle")
    field = np.clip(narrow * np.sqrt(read["exposure_time"] / early), narrow, most)
    return words.result(field, units.container("mrad"))


def pulse_factor(
    duration: Any,
    pulse_count: Any,
    wavelength: Any,
    source_angle: Any = "0 mrad",
    exposure_time: Any = "10 s",
    edition: str = LOWEST,
) -> Quantity:
    """Give C5, by which each of many pulses must stay below the limit of a single one.

    Parameters
    ----------
    duration : time, broadcast
        Of one pulse; of the group where several pulses count as one.
    pulse_count : number, broadcast
        Pulses, or groups, during the exposure or T2, whichever is shorter.
    wavelength : length, broadcast
        Of the light, 400 to 1400 nm; the directive corrects in other bands too.
    source_angle : angle, broadcast
        That the source takes up.
    exposure_time : time, broadcast
        Up to 0.25 s short pulses need no correction.
    edition : str
        As of ``limit``; the directive's factor has no floor.

    Returns
    -------
    Quantity
        A number up to 1; 1 where the rule is not used.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(pulse_factor("100 ns", 2000, "1064 nm"))
    0.7477

    """
    who = "Factor C5"
    law = by_law(who, edition)
    told = {
        "duration": duration,
        "pulse_count": pulse_count,
        "wavelength": wavelength,
        "source_angle": source_angle,
        "exposure_time": exposure_time,
    }
    read = words.read_words(who, (DURATION, COUNT, WAVELENGTH, ANGLE, TIME), told)
    if np.any(read["pulse_count"] < 1):
        raise ValueRefused(f"{who}: pulse_count is 1 or more.")
    together = _pulses_as_one(read["wavelength"], law)
    made = _pulse_factor(
        read["duration"],
        read["pulse_count"],
        together,
        read["source_angle"],
        read["exposure_time"],
        law,
    )
    return _as_number(np.where(together > 0, made, 1.0))
