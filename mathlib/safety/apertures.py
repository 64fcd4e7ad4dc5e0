"""Apertures over which a limit of exposure is meant, and what a beam sends through one."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.safety.cells import BLUEST, LONGEST, REDDEST, SHORTEST
from mathlib.safety.corrections import EDGE, TIME, WAVELENGTH, one_of_targets, within
from mathlib.units import Quantity
from mathlib.words import Mistakes

_PUPIL: Final = 7e-3  # m, 400 to 1400 nm: the widest pupil
_FINE: Final = 1e-3  # m, below 400 nm, and beyond 1400 nm for a short time
_SKIN: Final = 3.5e-3  # m
_COARSE: Final = 11e-3  # m, beyond 0.1 mm
_VISIBLE_FROM, _CORNEA_FROM, _COARSE_FROM = 400e-9, 1400e-9, 1e-4  # m
_GROWS_FROM, _GROWS_TO = 0.35, 10.0  # s
_GROWTH: Final = 1.5e-3  # m, times the time in seconds to this power
_POWER: Final = 3 / 8

fibre_beam_diameter = Formula(
    title="Diameter of the beam from a fibre, at 1/e of its peak",
    equation="d = 2 * r * NA / 1.7",
    where={
        "d": ("diameter_63", "mm", "at 1/e of the peak, where 63 % of the power lies inside"),
        "r": ("distance", "mm", "from the fibre's end"),
        "NA": ("numerical_aperture", "1", "of the fibre, read where 5 % of the peak is left"),
    },
    assumes=("one mode, so that the beam is nearly Gaussian", "the distance is not near zero"),
    source="IEC 60825-1, point sources of one mode; worked in a talk to IEEE 802.3ae in 2000",
    example=Example(
        {"distance": "14 mm", "numerical_aperture": 0.2},
        "3.294 mm",
        2e-4,
        "by hand: 2 * 14 * 0.2 / 1.7 = 5.6 / 1.7 = 3.2941",
    ),
)

fraction_through = Formula(
    title="Part of a Gaussian beam that passes an aperture in its middle",
    equation="F = 1 - exp(-(D / d)**2)",
    where={
        "F": ("transmitted_fraction", "1", "of the beam's power"),
        "D": ("aperture", "mm", "its diameter: 7 mm for an eye at 400 to 1400 nm"),
        "d": ("diameter_63", "mm", "of the beam there, at 1/e of the peak"),
    },
    assumes=("the beam is round and Gaussian, and centred on the aperture",),
    source="IEC 60825-1, measurement through an aperture",
    example=Example(
        {"aperture": "7 mm", "diameter_63": "23.53 mm"},
        "0.084699 1",
        1e-5,
        "by hand: (7 / 23.53)^2 = 0.088502; 1 - exp(-0.088502) = 0.084699",
    ),
)


def limiting_aperture(wavelength: Any, exposure_time: Any, target: str = "eye") -> Quantity:
    """Give the diameter over which irradiance is averaged before it meets a limit.

    A beam narrower than that is taken as spread over it, whatever its own diameter.

    Parameters
    ----------
    wavelength : length, broadcast
        180 nm to 1 mm.
    exposure_time : time, broadcast
        1e-13 s to 30 000 s; it matters for eyes from 1400 nm to 0.1 mm.
    target : str
        "eye" or "skin".

    Returns
    -------
    Quantity
        mm. From 1200 to 1400 nm it is that of the retina's limit; the second, corneal limit
        holds over a smaller one, as from 1400 nm.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; wavelength or time outside the tables.

    Examples
    --------
    >>> print(limiting_aperture("10.6 um", "3 s"), limiting_aperture("445 nm", "3 s"))
    2.265 mm 7 mm

    """
    mistakes = Mistakes("Limiting aperture")
    wave = within(mistakes, WAVELENGTH, wavelength, BLUEST, REDDEST)
    time = within(mistakes, TIME, exposure_time, SHORTEST, LONGEST)
    try:
        one_of_targets(target)
    except ValueRefused as fault:
        mistakes.add(ValueRefused, str(fault))
    mistakes.stop()
    return words.result(_aperture(wave, time, target), units.container("mm"))


def _aperture(wave: Any, time: Any, target: str) -> Any:
    coarse = wave >= _COARSE_FROM * (1 - EDGE)
    if target == "skin":
        return np.where(coarse, _COARSE, _SKIN) + 0.0 * time
    grown = _GROWTH * np.clip(time, _GROWS_FROM, _GROWS_TO) ** _POWER
    grown = np.where(time <= _GROWS_FROM, _FINE, np.where(time >= _GROWS_TO, _SKIN, grown))
    visible = wave >= _VISIBLE_FROM * (1 - EDGE)
    cornea = wave >= _CORNEA_FROM * (1 - EDGE)
    near = np.where(visible, _PUPIL, _FINE)
    return np.where(coarse, _COARSE, np.where(cornea, grown, near))
