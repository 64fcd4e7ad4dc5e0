"""Marks of filters: scale numbers of EN 207 for what they withstand, of EN 208 to adjust."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib import units, words
from mathlib.errors import MathlibError, ValueRefused
from mathlib.units import Quantity
from mathlib.words import Word, with_units

MODES: Final = ("D", "I", "R", "M")
TESTED_FOR: Final = "5 s"  # or 50 pulses: filter and frame must hold that long, EN 207
LAST_SCALE: Final = 10

_EVEN: Final = 1e-9  # of a decade: a level at the very limit of a number still has that number
_BANDS: Final = (180e-9, 315e-9, 1400e-9, 1e-3)  # m; each band holds its upper end
#: EN 207: a filter LBn of each mode withstands coefficient * 10**(n + exponent), by band.
_SCALES: Final[dict[str, tuple[tuple[float, float, str], ...]]] = {
    "D": ((1, -3, "W/m^2"), (1, 1, "W/m^2"), (1, 3, "W/m^2")),
    "I": ((3, 1, "J/m^2"), (5, -3, "J/m^2"), (1, 2, "J/m^2")),
    "R": ((3, 1, "J/m^2"), (5, -3, "J/m^2"), (1, 2, "J/m^2")),
    "M": ((3, 10, "W/m^2"), (1.5, -4, "J/m^2"), (1, 11, "W/m^2")),
}


@with_units("Factor of EN 207 for the width of a beam", returns="1", diameter="mm")
def beam_factor(*, diameter: Any) -> Any:
    """Factor on irradiance by which EN 207 counts a wide beam, which heats more of the filter.

    The standard of 2017 prints a table from 1 mm to 15 mm; d**1.7, d in mm, from memory: check
    the page. It is used at every power, which reproduces published selections.

    Parameters
    ----------
    diameter : length, any shape
        Of the beam at the filter, at 1/e of the peak.

    Returns
    -------
    Quantity
        A plain number from 1 to 99.8.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(beam_factor(diameter="4 mm"))
    10.56

    """
    return np.clip(1000 * np.asarray(diameter), 1.0, 15.0) ** 1.7


def scale_number(
    *,
    level: Any,
    wavelength: Any,
    mode: str,
    diameter: Any = None,
    diameter_factor: bool = True,
) -> Quantity:
    """Scale number n of EN 207: a filter and frame marked LBn withstand the level for 5 s.

    Parameters
    ----------
    level : irradiance or radiant exposure, any shape
        W/m^2 for mode D, J/m^2 for I and R. Mode M takes W/m^2 up to 315 nm and above 1400 nm,
        and J/m^2 between.
    wavelength : length, broadcast
        From 180 nm to 1 mm.
    mode : "D", "I", "R" or "M"
        Pulses above 0.25 s, above 1 us, above 1 ns, and shorter ones.
    diameter : length, broadcast, optional
        Of the beam at the filter, at 1/e of the peak; without it no factor is used.
    diameter_factor : bool, optional
        Whether mode D counts wide beams by ``beam_factor``, as the standard of 2017 does.

    Returns
    -------
    Quantity
        A whole number, at least 1. Above 10 no filter is marked so.

    Raises
    ------
    UnitError
        The level has a unit that the mode does not take at that wavelength.
    ValueRefused
        The mode is unknown, or the wavelength lies outside the standard.

    Examples
    --------
    >>> print(scale_number(level="7.96e5 W/m^2", wavelength="450 nm", mode="D"))
    5
    >>> print(scale_number(level="7.96e5 W/m^2", wavelength="450 nm", mode="D", diameter="4 mm"))
    6

    """
    coefficient, exponent, unit = _scale_row("Scale number", wavelength, mode)
    try:
        number = words.base_value(Word("level", unit, "at the filter"), level)
    except MathlibError as fault:
        raise type(fault)(f"Scale number: {fault}") from None
    if diameter is not None and diameter_factor and mode == "D":
        number = number * beam_factor(diameter=diameter).magnitude
    found = np.ceil(np.log10(number / coefficient) - exponent - _EVEN)
    return words.result(np.maximum(found, 1.0), units.container("1"))


def withstood(*, scale: Any, wavelength: Any, mode: str = "D") -> Quantity:
    """Level that a filter of a scale number withstands for 5 s, by EN 207.

    Parameters
    ----------
    scale : number, any shape
        n of the mark LBn.
    wavelength : length, broadcast
        From 180 nm to 1 mm.
    mode : "D", "I", "R" or "M", optional
        As for ``scale_number``.

    Returns
    -------
    Quantity
        W/m^2 or J/m^2; the factor for wide beams is not in it.

    Raises
    ------
    UnitError, ValueRefused
        As for ``scale_number``.

    Examples
    --------
    >>> print(withstood(scale=5, wavelength="450 nm"))
    1×10⁶ W/m²

    """
    coefficient, exponent, unit = _scale_row("Level withstood", wavelength, mode)
    number = words.base_value(Word("scale", "1", "n of the mark LBn"), scale)
    return words.result(coefficient * 10.0 ** (number + exponent), units.container(unit))


def _scale_row(who: str, wavelength: Any, mode: str) -> tuple[Any, Any, str]:
    """Coefficient and exponent by band, and the unit of the level."""
    if mode not in MODES:
        told = ", ".join(MODES)
        raise ValueRefused(f"{who}: mode is one of {told}; got {mode!r}.")
    try:
        metres = np.asarray(words.base_value(Word("wavelength", "nm", "of the light"), wavelength))
    except MathlibError as fault:
        raise type(fault)(f"{who}: {fault}") from None
    if np.any((metres < _BANDS[0]) | (metres > _BANDS[-1])):
        raise ValueRefused(f"{who}: EN 207 covers wavelengths from 180 nm to 1 mm.")
    band = np.searchsorted(_BANDS[1:-1], metres, side="left")
    coefficients, exponents, names = zip(*_SCALES[mode], strict=True)
    if len({names[each] for each in np.ravel(band)}) > 1:
        raise ValueRefused(f"{who}: mode M takes other units below 315 nm, between, above 1400 nm.")
    unit: str = names[int(np.ravel(band)[0])]
    return np.asarray(coefficients, float)[band], np.asarray(exponents, float)[band], unit


@with_units("Scale number for adjusting", returns="1", power="W", wavelength="nm")
def alignment_number(*, power: Any, wavelength: Any = None) -> Any:
    """Scale number n of EN 208: a filter RBn for adjusting a beam that must stay visible.

    It lets through up to 1 mW, which a glance of 0.25 s may get; with 2 s in mind 0.6 mW is the
    figure. Blue and violet light is not for it: the eye sees it badly, and its limit for longer
    looks is far lower. Adjust by camera, or with a pilot beam.

    Parameters
    ----------
    power : power, any shape
        Of the continuous beam.
    wavelength : length, broadcast, optional
        From above 460 nm to 700 nm; left out it is not looked at.

    Returns
    -------
    Quantity
        A whole number, at least 1; the standard ends at 5.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; and for light that such filters are not for.

    Examples
    --------
    >>> print(alignment_number(power="100 mW", wavelength="633 nm"))
    2

    """
    light = np.asarray([] if wavelength is None else wavelength)
    if np.any((light <= 460e-9) | (light > 700e-9)):
        raise ValueRefused(
            "Filters of EN 208 are for light that eyes see well: from above 460 nm to 700 nm here. "
            "Adjust by camera, or with a pilot beam."
        )
    return np.maximum(np.ceil(np.log10(power / 1e-3) - _EVEN), 1.0)
