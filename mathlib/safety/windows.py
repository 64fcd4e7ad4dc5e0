"""Windows of an enclosure: what speaks against one, for the beam that may fall on it in a fault."""

from __future__ import annotations

from typing import Any

import numpy as np

from mathlib import units
from mathlib.fields import in_unit_of
from mathlib.safety import exposure
from mathlib.safety.distances import mean_irradiance
from mathlib.safety.filters import Filter, against_band, most_power, optical_density, wavelengths
from mathlib.safety.marks import TESTED_FOR, withstood
from mathlib.units import Q
from mathlib.words import Word


def against_window(
    filter: Filter, laser: Any, irradiance: Any, stopped_after: Any = "30000 s"
) -> list[str]:
    """List the reasons against a window in an enclosure, for light that falls on it.

    Parameters
    ----------
    filter : Filter
        As marked. A colour is no mark.
    laser : Module, or a record with optical_power, wavelength and wavelength_tolerance
        Behind the window.
    irradiance : irradiance
        On the window in the worst single fault: a mirror fallen out, the beam parked on it.
    stopped_after : time, optional
        After which an interlock stops the beam for certain; a day where none does.

    Returns
    -------
    list of str
        Sentences; an empty list means that no reason was found in what was typed.

    Raises
    ------
    UnitError, ValueRefused
        As ``optical_density`` and ``exposure.limit`` do.

    Examples
    --------
    >>> from mathlib.laser.beams import Module
    >>> blue = Module(optical_power="5 W", wavelength="455 nm", wavelength_tolerance="5 nm",
    ...               focal_length="30 mm")
    >>> window = Filter(low="400 nm", high="470 nm", density=6)
    >>> print(against_window(window, blue, "1e6 W/m^2")[0])
    No scale number (LB, EN 207, mode D) is marked: it may burn through.

    """
    fall = in_unit_of(Word("irradiance", "W/m^2", "on the window"), irradiance)
    stopped = in_unit_of(Word("stopped_after", "s", "until the beam is off"), stopped_after)
    found = against_band(filter, laser)
    light = wavelengths(laser)
    limit = exposure.limit(wavelength=light, exposure_time=stopped).irradiance
    aperture = exposure.limiting_aperture(wavelength=light, exposure_time=stopped)
    whole = mean_irradiance(power=most_power(laser), aperture=aperture).to("W/m^2").magnitude
    arriving = Q(np.minimum(whole, fall.magnitude), "W/m^2")
    needed = float(np.max(optical_density(irradiance=arriving, limit=limit).magnitude))
    if needed > filter.density.magnitude:
        found.append(
            f"Density {filter.density.magnitude:g} is too low for eyes behind it: it takes "
            f"{np.ceil(100 * needed) / 100:.2f} for {units.show(stopped)}."
        )
    if filter.scale is None:
        found.append("No scale number (LB, EN 207, mode D) is marked: it may burn through.")
    else:
        holds = np.min(withstood(scale=filter.scale, wavelength=light).magnitude)
        if fall.magnitude > holds:
            found.append(
                f"It may burn through: {units.show(fall, 3)} fall on it, and LB"
                f"{filter.scale.magnitude:g} withstands {units.show(Q(float(holds), 'W/m^2'), 3)}."
            )
    if stopped > Q(TESTED_FOR):
        found.append(
            f"Its mark holds for {TESTED_FOR}, and the light can stay for "
            f"{units.show(stopped)}: ask for a guard tested for that time."
        )
    return found
