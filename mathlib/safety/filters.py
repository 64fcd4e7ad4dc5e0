"""Eyewear: how much a filter must hold back, and what speaks against it.

A filter is for the accidental hit, never for staring: a camera is the first choice for watching.
Nothing here can approve a filter. ``suits`` lists reasons against one; where it finds none, it
found none in what was typed. Windows of an enclosure stand in ``windows``.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.fields import optional, quantity, record
from mathlib.formula import Example, Formula
from mathlib.safety import exposure
from mathlib.safety.distances import mean_irradiance
from mathlib.safety.marks import LAST_SCALE, TESTED_FOR, scale_number
from mathlib.units import Q, Quantity

#: Exposures that a filter is judged for: an accident, and light that is watched for long.
EXPOSURES: Final = ("10 s", "100 s", "30000 s")

#: What no calculation sees. It stands beside every result of ``suits``.
CANNOT_BE_SEEN: Final = (
    "scratches, cracks, and dye that has bleached with age",
    "light that enters beside the frame, and glasses that slip",
    "light at a slant: coatings that reflect pass more of it than straight on",
    "a mark that is worn off, copied or wrong, and whether the frame is marked as well",
    "pulses, which need a scale number for I, R or M beside that for D",
    "other light in the room: pump light, a second harmonic, an aiming beam, the next machine",
    "anyone who takes them off",
)
NONE_FOUND: Final = (
    "No reason against it was found in what you typed. That is not an approval: it cannot be seen "
    "here whether there are " + "; ".join(CANNOT_BE_SEEN) + "."
)

_LEAST_DIAMETER: Final = 1e-3  # m at 1/e: taken where a laser does not state its beam, cautious
_MARK: Final = re.compile(r"(?:([DIRM]+)\s*)?LB\s*(\d+)", re.IGNORECASE)


def _scale_of(given: Any) -> Any:
    """Take a scale number out of a mark such as "D LB6 + IR LB7": that of continuous light."""
    if not isinstance(given, str) or re.fullmatch(r"[\d\s.]+", given):
        return given
    if not (found := _MARK.findall(given)):
        raise ValueRefused(
            f'Filter: scale is n of the mark LBn (EN 207), such as 6 or "D LB6"; got {given!r}. '
            "Leave it out where none is marked; RB is for adjusting and tells another thing."
        )
    told = [int(number) for modes, number in found if not modes or "D" in modes.upper()]
    return min(told) if told else None


@record
class Filter:
    """What is marked on eyewear or a window; ``scale`` is n of the mark LBn for continuous light.

    >>> Filter(low="315 nm", high="532 nm", density=6, scale="D LB6 + IR LB7").scale.magnitude
    6.0
    """

    low: Quantity = quantity("nm", "shortest wavelength of the marked band")
    high: Quantity = quantity("nm", "longest wavelength of the marked band")
    density: Quantity = quantity("1", "optical density over the whole band", sign="zero")
    scale: Quantity | None = optional(
        "1", "n of the mark LBn of EN 207, mode D", converter=_scale_of
    )


optical_density = Formula(
    title="Optical density that brings an irradiance down to a limit",
    equation="D = log(E / M) / log(10)",
    where={
        "D": ("density", "1", "at the wavelength of the light; below 0 none is needed", "signed"),
        "E": ("irradiance", "W/m^2", "that arrives, averaged over the aperture of the limit"),
        "M": ("limit", "W/m^2", "irradiance that is allowed for the exposure in question"),
    },
    assumes=(
        "the density is that at this very wavelength: a filter has another one beside its band",
        "the filter holds: density says nothing of what it withstands",
    ),
    source="EN 207; definition of optical density",
    example=Example(
        {"irradiance": "125000 W/m^2", "limit": "0.05 W/m^2"},
        "6.39794 1",
        1e-6,
        "by hand: a ratio of 2.5 million; 6 and log10(2.5) = 0.39794",
    ),
)

transmitted = Formula(
    title="Power that passes a filter",
    equation="P_t = P * 10**(-D)",
    where={
        "P_t": ("transmitted", "W", "behind the filter"),
        "P": ("power", "W", "in front of the filter"),
        "D": ("density", "1", "optical density at the wavelength of the light", "zero"),
    },
    assumes=("the filter is cold, whole, and hit at right angles, within its marked band",),
    source="EN 207; definition of optical density",
    example=Example(
        {"power": "500 mW", "density": "2.2 1"},
        "3.154787 mW",
        1e-6,
        "by hand: 10**-2.2 = 6.309573e-3; times 500",
    ),
)

absorbing_pair = Formula(
    title="Optical density of two filters that absorb, one behind the other",
    equation="D = D_1 + D_2",
    where={
        "D": ("density", "1", "of both together"),
        "D_1": ("density_1", "1", "of the first", "zero"),
        "D_2": ("density_2", "1", "of the second", "zero"),
    },
    assumes=("neither reflects: light thrown back and forth between two mirrors gets through",),
    source="Definition of optical density",
    example=Example(
        {"density_1": "2.3 1", "density_2": "3.1 1"}, "5.4 1", 1e-12, "by hand: 2.3 + 3.1"
    ),
)

reflecting_pair = Formula(
    title="Part of the light that passes two filters that reflect, one behind the other",
    equation="T = T_1 * T_2 / (1 - R_1 * R_2)",
    where={
        "T": ("transmittance", "1", "of both together"),
        "T_1": ("transmittance_1", "1", "of the first"),
        "T_2": ("transmittance_2", "1", "of the second"),
        "R_1": ("reflectance_1", "1", "of the first, on the side of the second", "zero"),
        "R_2": ("reflectance_2", "1", "of the second, on the side of the first", "zero"),
    },
    holds=(
        "T_1 + R_1 <= 1; a filter adds no light",
        "T_2 + R_2 <= 1; a filter adds no light",
    ),
    assumes=("light between the two adds up by power, not by wave: they lie apart",),
    source="Geometric series of reflections between two plates",
    example=Example(
        {
            "transmittance_1": "0.01 1",
            "transmittance_2": "0.02 1",
            "reflectance_1": "0.9 1",
            "reflectance_2": "0.5 1",
        },
        "3.636364e-4 1",
        1e-6,
        "by hand: 2e-4 / (1 - 0.45) = 2e-4 / 0.55",
    ),
)


# What speaks against a filter


def suits(filter: Filter, laser: Any) -> list[str]:
    """List the reasons against eyewear for one laser, or for every laser in the room.

    The whole beam is taken to enter one eye. The density must reach the lowest limit of the
    editions for an accident of 10 s and for light that is watched for 100 s and for the day, over
    the whole band in which the laser may lie. The mark must withstand the bare beam.

    Parameters
    ----------
    filter : Filter
        As marked.
    laser : Module, or a sequence of them
        Any record with ``optical_power``, ``wavelength`` and ``wavelength_tolerance``;
        ``beam_diameter``, if it has one, is taken as 1/e² at the filter, and so is
        ``beam_diameter_y`` of the other axis.

    Returns
    -------
    list of str
        Sentences; an empty list means that no reason was found in what was typed (``verdict``
        says so), never that the filter is good enough.

    Raises
    ------
    ValueRefused
        The filter is no Filter, or the laser says neither power nor wavelength; the wavelength
        lies outside the tables.

    Examples
    --------
    >>> from mathlib.laser.beams import Module
    >>> blue = Module(optical_power="5 W", wavelength="455 nm", wavelength_tolerance="5 nm",
    ...               focal_length="30 mm")
    >>> against = suits(Filter(low="190 nm", high="450 nm", density=4), blue)
    >>> len(against)
    3
    >>> print(against[0])
    Light of 450 nm to 460 nm leaves the marked band, 190 nm to 450 nm: beyond it no density holds.

    """
    if isinstance(laser, Sequence) and not isinstance(laser, str):
        if not laser:
            return ["No laser is named: name every one in the room."]
        return [
            f"{units.show(each.wavelength)}: {reason}"
            for each in laser
            for reason in suits(filter, each)
        ]
    return [
        *against_band(filter, laser),
        *_against_density(filter, laser),
        *_against_mark(filter, laser),
    ]


def verdict(reasons: Sequence[str]) -> str:
    """Say what speaks against a filter, or that nothing was found, which is no approval.

    >>> verdict(["No scale number is marked."])
    'Not this one: No scale number is marked.'
    """
    return "Not this one: " + " ".join(reasons) if reasons else NONE_FOUND


def needed_density(laser: Any, exposure_time: Any) -> Quantity:
    """Optical density that brings a laser's whole beam, in one eye, to the lowest limit.

    Parameters
    ----------
    laser : Module, or a record with optical_power, wavelength and wavelength_tolerance
        Of what varies or was drawn the worst counts.
    exposure_time : time
        How long the light enters the eye.

    Returns
    -------
    Quantity
        A plain number; a mark is rounded up from it.

    Raises
    ------
    UnitError, ValueRefused
        As ``exposure.limit`` does; what is given is no laser.

    """
    light = wavelengths(laser)
    limit = exposure.limit(wavelength=light, exposure_time=exposure_time).irradiance
    aperture = exposure.limiting_aperture(wavelength=light, exposure_time=exposure_time)
    arriving = mean_irradiance(power=most_power(laser), aperture=aperture)
    return _plain(float(np.max(optical_density(irradiance=arriving, limit=limit).magnitude)))


def band(laser: Any) -> tuple[float, float]:
    """Shortest and longest wavelength in nm at which a laser may emit, its tolerance included."""
    middle = _laser(laser).wavelength.to("nm").magnitude
    either = 0.0 if laser.wavelength_tolerance is None else laser.wavelength_tolerance.to("nm").m
    return float(np.min(middle - either)), float(np.max(middle + either))


def against_band(filter: Filter, laser: Any) -> list[str]:
    """Say whether the light may leave the marked band, or whether that cannot be told."""
    if not isinstance(filter, Filter):
        raise ValueRefused(
            'Filter: filter is a Filter(low="400 nm", high="480 nm", density=6, scale="D LB6"), as '
            f"it is marked; got {filter!r}."
        )
    found = []
    low, high = band(laser)
    if laser.wavelength_tolerance is None:
        found.append(
            "The laser's wavelength tolerance is not stated: its light may leave the marked band."
        )
    if low < filter.low.magnitude or high > filter.high.magnitude:
        found.append(
            f"Light of {low:.5g} nm to {high:.5g} nm leaves the marked band, "
            f"{filter.low.magnitude:.5g} nm to {filter.high.magnitude:.5g} nm: beyond it no "
            "density holds."
        )
    return found


def _against_density(filter: Filter, laser: Any) -> list[str]:
    needed = {time: float(needed_density(laser, time).magnitude) for time in EXPOSURES}
    short = [
        f"{np.ceil(100 * need) / 100:.2f} for {time}"
        for time, need in needed.items()
        if need > filter.density.magnitude
    ]
    if not short:
        return []
    return [
        f"Density {filter.density.magnitude:g} is too low if the whole beam enters an eye: it "
        f"takes {', '.join(short)}."
    ]


def _against_mark(filter: Filter, laser: Any) -> list[str]:
    if filter.scale is None:
        return [
            "No scale number (LB, EN 207, mode D) is marked: density alone says nothing of whether "
            "the filter withstands the beam."
        ]
    needed, marked = needed_scale(laser), filter.scale.magnitude
    if needed.magnitude <= marked:
        return []
    told = f"It takes LB{needed.magnitude:.0f} to withstand the bare beam for {TESTED_FOR}"
    if needed.magnitude > LAST_SCALE:
        return [f"{told}, and the standard ends at LB{LAST_SCALE}."]
    return [f"{told}; it is marked LB{marked:g}."]


def needed_scale(laser: Any) -> Quantity:
    """Scale number of EN 207 that withstands a laser's bare beam, as wide as it leaves the head.

    Parameters
    ----------
    laser : Module, or a record with optical_power and wavelength
        Of what was drawn the worst counts. Without a ``beam_diameter`` it is taken as 1 mm.

    Returns
    -------
    Quantity
        A whole number, at least 1.

    Raises
    ------
    ValueRefused
        The wavelength lies outside the standard.

    """
    stated = getattr(laser, "beam_diameter", None)
    least = _LEAST_DIAMETER
    if stated is not None:
        other = getattr(laser, "beam_diameter_y", None)
        area = stated.to("m").magnitude * (stated if other is None else other).to("m").magnitude
        least = np.sqrt(np.min(area) / 2)
    wide = Q(float(least), "m")
    numbers = scale_number(
        level=mean_irradiance(power=most_power(laser), aperture=wide),
        wavelength=Q(np.asarray(band(laser)), "nm"),
        mode="D",
        diameter=wide,
    )
    return _plain(float(np.max(numbers.magnitude)))


def wavelengths(laser: Any) -> Quantity:
    """Wavelengths across the band in which a laser may emit, both ends among them."""
    return Q(np.linspace(*band(laser), 41), "nm")


def most_power(laser: Any) -> Quantity:
    """Give the highest power that a laser may have, of what varies or was drawn."""
    return Q(float(np.max(_laser(laser).optical_power.to("W").magnitude)), "W")


def _laser(given: Any) -> Any:
    """Refuse what does not say the light of a laser."""
    if all(hasattr(given, w) for w in ("optical_power", "wavelength", "wavelength_tolerance")):
        return given
    raise ValueRefused(
        'Filter: laser is a Module(optical_power="5 W", wavelength="455 nm", '
        f'wavelength_tolerance="5 nm", focal_length="30 mm"), or a list of them; got {given!r}.'
    )


def _plain(value: float) -> Quantity:
    return words.result(value, units.container("1"))
