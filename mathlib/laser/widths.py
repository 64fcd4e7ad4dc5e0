"""Widths of beams in every convention that data sheets use, and what a bare number may mean."""

from __future__ import annotations

import math
import re
from contextlib import suppress
from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import typed, units, words
from mathlib.errors import MathlibError, UnitError, ValueRefused
from mathlib.units import Q, Quantity
from mathlib.words import Word

#: Of a Gaussian beam: what each width is, over its 1/e² diameter. The knife edge moves from where
#: it leaves 10 % of the power to where it leaves 90 %: 1.28155 of the 1/e² radius; ISO
#: 11146-3 takes 16 % and 84 %.
OF_GAUSSIAN: Final = {
    "1/e^2": 1.0,
    "FWHM": math.sqrt(math.log(2) / 2),
    "1/e": math.sqrt(0.5),
    "D4sigma": 1.0,
    "10-90": 1.2815515655446004 / 2,
    "16-84": 0.994457883209753 / 2,  # in instruments; no data sheet states it
}
_ABOUT: Final = {
    "1/e^2": "1/e² of the peak",
    "FWHM": "half of the peak",
    "1/e": "1/e of the peak",
    "D4sigma": "four standard deviations",
    "10-90": "knife edge, 10 % to 90 %",
}
_SIZES: Final = ("gaussian", "disc", "rectangle", "mode")


def width_in(value: Any, given: str, wanted: str) -> Quantity:
    """Turn a width of a Gaussian beam from one convention into another.

    For a Gaussian beam only. An evenly lit or lobed spot has other ratios: see ``d4sigma``.

    Parameters
    ----------
    value : length or angle, any shape
        Diameter, full divergence, or the way of a knife edge.
    given, wanted : str
        "1/e^2", "FWHM", "1/e", "D4sigma", "10-90" or "16-84".

    Returns
    -------
    Quantity
        In the unit of the value.

    Raises
    ------
    UnitError, ValueRefused
        The value is neither length nor angle, or not positive; a convention is unknown.

    Examples
    --------
    >>> print(width_in("0.05 mm", "FWHM", "1/e^2"))
    0.08493 mm

    """
    for name in (given, wanted):
        if name not in tuple(OF_GAUSSIAN):
            told = ", ".join(map(repr, OF_GAUSSIAN))
            raise ValueRefused(f"Width of a beam: a convention is one of {told}; got {name!r}.")
    read = _width(value)
    turned: Quantity = read * (OF_GAUSSIAN[wanted] / OF_GAUSSIAN[given])
    return turned


def _width(value: Any) -> Quantity:
    """Read a length or an angle and keep its unit."""
    faults = []
    for unit in ("mm", "mrad"):
        word = Word("value", unit, "width of the beam")
        try:
            base = words.base_value(word, value)
        except (UnitError, ValueRefused) as fault:
            faults.append(fault)
            continue
        own = Q(value) if isinstance(value, str) else value
        kept = own._units if isinstance(own, units.QUANTITY) else word.container
        return words.result(base, kept)
    refused = [fault for fault in faults if isinstance(fault, ValueRefused)]
    raise (refused or faults)[0]


def d4sigma(size: Any, shape: str, order: int = 0) -> Quantity:
    """Second-moment width of a spot that is no single Gaussian.

    Parameters
    ----------
    size : length, any shape
        1/e² diameter of a "gaussian", diameter of an evenly lit "disc", side of an evenly lit
        "rectangle", or the 1/e² diameter of the Gaussian that belongs to a "mode".
    shape : str
        One of these four.
    order : int
        Of a Hermite-Gauss mode along the axis: it has one lobe more than this.

    Returns
    -------
    Quantity
        mm.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; the shape or the order is none.

    Examples
    --------
    >>> print(d4sigma("0.08 mm", "rectangle"))
    0.09238 mm

    """
    factors = (1.0, 1.0, 2 / math.sqrt(3), math.sqrt(2 * order + 1 if order >= 0 else 1))
    if shape not in _SIZES or order < 0 or order != int(order) or (order and shape != "mode"):
        told = ", ".join(map(repr, _SIZES))
        raise ValueRefused(
            f"D4sigma: shape is one of {told}, and a mode alone has an order, 0, 1, 2, ...; "
            f"got {shape!r} of order {order!r}."
        )
    base = words.base_value(Word("size", "mm", "of the spot"), size)
    return words.result(base * factors[_SIZES.index(shape)], units.container("mm"))


class Reading(NamedTuple):
    """One way to read a number on a data sheet, and what follows from it."""

    taken_as: str
    value: Quantity
    times: float
    note: str = ""


_TIMES: Final = re.compile(r"(?<!appro)(?<=[\w°µ])\s*(?:[x×✕*]|by)\s*(?=[\d.,])", re.IGNORECASE)


def _printed(word: Word, stated: Any) -> Quantity:
    """Read what a sheet prints: a value, or two with a times sign between.

    Sheets have decimal commas, and the unit of both behind the second.
    """
    own = stated._units if isinstance(stated, units.QUANTITY) else word.container
    if not isinstance(stated, str):
        return words.result(words.base_value(word, stated), own)
    sides = _TIMES.split(stated.strip()) if word.unit != "W" else [stated]
    unit = re.sub(r"^[\d.,\s]+", "", sides[-1])
    read = []
    for side in sides:
        found: Any = side if re.search(r"[^\d.,\s]", side) or not unit else f"{side} {unit}"
        with suppress(MathlibError):
            found = typed.as_typed(found, word.unit)
        read.append(words.base_value(word, found))
    if len(read) > 2:
        raise ValueRefused(f"{word.word} has two sides at most; got {stated!r}.")
    if len(read) == 1:
        with suppress(MathlibError):
            own = typed.read(stated)._units
    return words.result(read[0] if len(read) == 1 else np.array(read), own)


def spot_readings(stated: Any) -> list[Reading]:
    """Say what a spot size without a convention would be in 1/e².

    Parameters
    ----------
    stated : text, length, or a pair of them
        Such as "0.08 mm", or as sheets print a product: "0.08 mm x 0.10 mm", "80 × 100 um".

    Returns
    -------
    list of Reading
        ``value`` is the 1/e² diameter (a pair, if one was given); ``times`` the peak irradiance
        over that of the first reading; the last takes the size for an evenly lit rectangle,
        whose ``value`` is its D4sigma.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> for r in spot_readings("0.08 mm x 0.08 mm"):
    ...     print(f"{r.taken_as}: {r.value[0]:.3g~P}, peak {r.times:.2f}")
    1/e² of the peak: 0.08 mm, peak 1.00
    half of the peak: 0.136 mm, peak 0.35
    1/e of the peak: 0.113 mm, peak 0.50
    four standard deviations: 0.08 mm, peak 1.00
    knife edge, 10 % to 90 %: 0.125 mm, peak 0.41
    evenly lit rectangle: 0.0924 mm, peak 0.39

    """
    size = _printed(Word("stated", "mm", "size of the spot"), stated)
    found = [
        Reading(told, width_in(size, name, "1/e^2"), OF_GAUSSIAN[name] ** 2)
        for name, told in _ABOUT.items()
    ]
    # Even: P / (a b), against 8 P / (pi a b) at the centre of a Gaussian of these diameters.
    even = d4sigma(size, "rectangle")
    return [*found, Reading("evenly lit rectangle", even, math.pi / 8, "D4sigma, no Gaussian")]


def divergence_readings(stated: Any) -> list[Reading]:
    """Say what a divergence without a convention would be as a full 1/e² angle.

    Parameters
    ----------
    stated : text, angle, or a pair of them
        As printed, such as "7 deg" or "7 x 23 deg"; diodes are sold by their full angle at half
        height.

    Returns
    -------
    list of Reading
        ``value`` is the full 1/e² angle; ``times`` what the beam is wide at a lens, over that of
        the first reading. The angles are taken as small.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> for r in divergence_readings("7 deg"):
    ...     print(f"{r.taken_as}: {r.value:.3g~P}")
    full angle, 1/e²: 7 deg
    full angle, half height: 11.9 deg
    full angle, 1/e: 9.9 deg
    half angle, 1/e²: 14 deg
    half angle, half height: 23.8 deg
    half angle, 1/e: 19.8 deg

    """
    angle = _printed(Word("stated", "deg", "divergence of the beam"), stated)
    names = {"1/e^2": "1/e²", "FWHM": "half height", "1/e": "1/e"}
    return [
        Reading(f"{which} angle, {told}", full, factor / OF_GAUSSIAN[name])
        for which, factor in (("full", 1.0), ("half", 2.0))
        for name, told in names.items()
        for full in (factor * width_in(angle, name, "1/e^2"),)
    ]


#: Light over what is stated: low, typical, high. Direct diodes of 445 to 455 nm.
_LIGHT: Final = {
    "optical power": ((1.0, 1.0, 1.0), "light that leaves the head"),
    "electrical power of the diode": (
        (0.27, 0.34, 0.45),
        "estimate: 27 % from a data sheet of an early diode, 35 to 45 % from memory for later ones",
    ),
    "electrical power of the module": (
        (0.08, 0.15, 0.30),
        "estimate: one module, 5.5 W of light from 48 W, gives 0.11; driver and fan take the rest",
    ),
}


def power_readings(stated: Any) -> list[Reading]:
    """Say how much light there would be if the watts of a label are light, or electrical.

    Parameters
    ----------
    stated : text or power
        As printed for a head with blue diodes, such as "40 W" or "12 V 4 A".

    Returns
    -------
    list of Reading
        ``value`` is the light as (low, typical, high); ``times`` the stated power over the
        typical light: by so much is a dose too small that takes it for light.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> for r in power_readings("40 W"):
    ...     print(f"{r.taken_as}: {r.value[0]:.3g~P} to {r.value[2]:.3g~P}")
    optical power: 40 W to 40 W
    electrical power of the diode: 10.8 W to 18 W
    electrical power of the module: 3.2 W to 12 W

    """
    watts = _printed(Word("stated", "W", "power on the label"), stated).to("W").magnitude
    return [
        Reading(name, units.quantity(watts * np.array(ratios), units.container("W")),
                1 / ratios[1], note)
        for name, (ratios, note) in _LIGHT.items()
    ]  # fmt: skip
