"""Factors of the tables of exposure limits by name: C2 to C7, T2 and the field of view."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.safety.corrections import (
    ANGLE,
    COUNT,
    DURATION,
    EDITIONS,
    LAW,
    LOWEST,
    TIME,
    WAVELENGTH,
    _pulse_factor,
    _pulses_as_one,
    _rule,
    _source_factor,
    _thermal_time,
    by_law,
    curves,
    holds,
)
from mathlib.units import Quantity

#: What the directive calls the factors that depend on the wavelength alone.
_IN_THE_DIRECTIVE: Final = {"CA": "C4", "CB": "C3", "CC": "C7"}


def _as_number(value: Any) -> Quantity:
    return words.result(value, units.container("1"))


def factor(name: str, wavelength: Any, edition: str = LOWEST) -> Quantity:
    """Give a factor that depends on the wavelength alone: C2, C3, C4 or C7.

    Parameters
    ----------
    name : str
        "C2" (its number in J/m²), "C3", "C4" or "C7"; the directive's "CB", "CA" or "CC".
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
    known = _IN_THE_DIRECTIVE.get(name, name)
    bands = [c for c in curves() if c.factor == known and edition in c.editions]
    if not bands:
        told = ", ".join(sorted({c.factor for c in curves()}))
        raise ValueRefused(f"{who}: name is one of {told}.")
    wave = words.read_words(who, (WAVELENGTH,), {"wavelength": wavelength})["wavelength"]
    made = np.full(np.shape(wave), np.nan)
    for curve in bands:
        made = np.where(holds(curve.band, wave), curve.at(wave), made)
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
