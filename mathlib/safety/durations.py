"""How long an irradiance may last before it reaches a limit of exposure."""

from __future__ import annotations

import itertools
from typing import Any, Final

import numpy as np

from mathlib import units, words
from mathlib.errors import MathlibError
from mathlib.safety.cells import BLUEST, LONGEST, REDDEST, Grid, grid
from mathlib.safety.corrections import (
    ANGLE,
    EDGE,
    LOWEST,
    WAVELENGTH,
    angle_grows,
    by_law,
    one_of_targets,
    within,
)
from mathlib.units import Quantity
from mathlib.words import Mistakes, Word

_IRRADIANCE: Final = Word("irradiance", "W/m^2", "mean over the limiting aperture")
_HALVINGS: Final = 60  # of the logarithm of a time that spans at most four decades


def allowed_time(
    irradiance: Any,
    wavelength: Any,
    target: str = "eye",
    source_angle: Any = None,
    edition: str = LOWEST,
) -> Quantity:
    """Give the longest exposure to a steady irradiance that stays within every limit on the way.

    Parameters
    ----------
    irradiance : irradiance, broadcast
        Mean over the limiting aperture, continuous.
    wavelength : length, broadcast
        180 nm to 1 mm.
    target, source_angle, edition
        As of ``limit``.

    Returns
    -------
    Quantity
        s, of all exposures of a day together where a dose decides; 30 000 s where the whole
        working day is within the limit, and 0 s where not even 1e-13 s is. Nobody should plan to
        use it up: a limit is no line between harm and none.

    Raises
    ------
    UnitError, ValueRefused
        As ``limit``.

    Examples
    --------
    >>> print(allowed_time("6.366 W/m^2", "455 nm"))
    19.78 s

    """
    who = "Allowed time"
    mistakes = Mistakes(who)
    for ready in (lambda: by_law(who, edition), lambda: one_of_targets(target)):
        try:
            ready()
        except MathlibError as fault:
            mistakes.add(type(fault), str(fault).removeprefix(f"{who}: "))
    given = [within(mistakes, _IRRADIANCE, irradiance, 0.0, np.inf)]
    given.append(within(mistakes, WAVELENGTH, wavelength, BLUEST, REDDEST))
    if source_angle is not None:
        given.append(within(mistakes, ANGLE, source_angle, 0.0, np.pi))
    mistakes.stop()
    shape = np.broadcast_shapes(*map(np.shape, given))
    flat = [np.broadcast_to(value, shape).ravel() for value in given]
    made = _longest(grid(target, edition), *flat).reshape(shape)
    return words.result(made if shape else made.item(), units.container("s"))


def _longest(cells: Grid, given: Any, wave: Any, angle: Any = None) -> Any:
    """Longest time, interval by interval: within one the limit falls, or is lowest at its start."""

    def held(time: Any) -> Any:
        return cells.lowest(wave, time, angle)[0] >= given

    edges = sorted({*cells.times, *angle_grows()})
    time, going = np.zeros_like(given), np.ones(given.shape, dtype=bool)
    for begin, end in itertools.pairwise(edges):
        low = np.full_like(given, begin)
        going = going & held(low)
        high = np.full_like(given, end * (1 - 4 * EDGE))
        whole = held(high)
        if not np.all(whole | ~going):
            for _ in range(_HALVINGS):
                middle = np.sqrt(low * high)
                fits = held(middle)
                low, high = np.where(fits, middle, low), np.where(fits, high, middle)
            time = np.where(going & ~whole, low, time)
        time = np.where(going & whole, end, time)
        going = going & whole
    return np.where(going, LONGEST, time)
