"""Dose over a surface: a few lines of a raster under spots of any shape, measured ones too."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib.errors import ValueRefused
from mathlib.words import with_units

SHAPES: Final = ("gaussian", "rectangle")


def _swept(place: Any, length: Any, width: Any, shape: str) -> Any:
    """Part of the spot that a stretch from 0 to ``length`` brings over each place, 0 to 1."""
    if shape == "gaussian":
        from scipy.special import erf

        root = np.sqrt(8.0) / width
        return (erf(root * place) - erf(root * (place - length))) / 2
    edge = np.clip(place / width + 0.5, 0, 1)
    return edge - np.clip((place - length) / width + 0.5, 0, 1)


def _across(offset: Any, width: Any, shape: str) -> Any:
    """Part of the energy for each length across the line."""
    if shape == "gaussian":
        return np.sqrt(8 / np.pi) / width * np.exp(-8 * (offset / width) ** 2)
    # At the very edge of a flat spot a place gets half: a grid then counts each once.
    inside = np.clip(np.sign(width / 2 * (1 + 1e-12) - np.abs(offset)), 0, 1)
    edge = np.abs(np.abs(offset) - width / 2) < 1e-9 * width
    return np.where(edge, 0.5, inside) / width


@with_units(
    "Dose over a surface",
    returns="J/mm^2",
    x=("mm", "signed"),
    y=("mm", "signed"),
    power="W",
    speed="mm/s",
    line_spacing="mm",
    length="mm",
    diameter_x="mm",
    diameter_y="mm",
)
def raster_dose(
    *,
    x: Any,
    y: Any,
    power: Any,
    speed: Any,
    line_spacing: Any,
    length: Any,
    lines: int,
    diameter_x: Any,
    diameter_y: Any,
    shape: str = "gaussian",
) -> Any:
    """Dose at places of a surface under a few lines along x.

    The lines start at x = 0 and end at ``length``; the first lies at y = 0, the next ones
    ``line_spacing`` apart. Speed and power are constant on them.

    Parameters
    ----------
    x, y : length, one-dimensional
        Places; the result has a row for each y.
    power, speed : power, speed
        On each line.
    line_spacing, length : length
        From one line to the next, and of each line.
    lines : int
        How many.
    diameter_x, diameter_y : length
        Of the spot along x and y: 1/e² of a Gaussian, or the sides of a rectangle.
    shape : str
        "gaussian" or "rectangle", which is evenly bright.

    Returns
    -------
    Quantity
        J/mm², shape (y, x).

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; an unknown shape; no lines.

    Examples
    --------
    >>> print(raster_dose(x=["2 mm"], y=["0 mm"], power="10 W", speed="100 mm/s", lines=1,
    ...                   line_spacing="0.1 mm", length="4 mm", diameter_x="0.1 mm",
    ...                   diameter_y="0.1 mm"))
    [[1.596]] J/mm²

    """
    if shape not in SHAPES:
        told = " or ".join(map(repr, SHAPES))
        raise ValueRefused(f"Dose over a surface: shape is {told}; got {shape!r}.")
    if not isinstance(lines, int) or lines < 1:
        raise ValueRefused(f"Dose over a surface: lines is a count, 1 or more; got {lines!r}.")
    along = _swept(np.atleast_1d(x), length, diameter_x, shape)
    places = np.atleast_1d(y)[:, None] - line_spacing * np.arange(lines)
    across = _across(places, diameter_y, shape).sum(axis=1)
    return power / speed * across[:, None] * along


@with_units(
    "Dose across a line from a measured spot",
    returns="J/mm^2",
    offset=("mm", "signed"),
    profile=("1", "signed"),
    power="W",
    speed="mm/s",
)
def dose_of_profile(*, offset: Any, profile: Any, power: Any, speed: Any) -> Any:
    """Dose across a single line from a spot that was measured, in whatever units.

    The profile is that of the light summed along the travel. Whatever its scale, its sum stands
    for the whole power: the energy of the line is power over speed.

    Parameters
    ----------
    offset : length, one-dimensional, rising
        Across the line.
    profile : numbers, the same length
        Light at each place, in any unit; take off the dark reading first.
    power, speed : power, speed
        Of the line.

    Returns
    -------
    Quantity
        J/mm² at each offset.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; places out of order; a profile without light.

    Examples
    --------
    >>> from mathlib import Q
    >>> found = dose_of_profile(offset=Q([-0.1, 0, 0.1], "mm"), profile=[0, 7, 0],
    ...                         power="10 W", speed="100 mm/s")
    >>> print(found[1])
    1 J/mm²

    """
    who = "Dose across a line from a measured spot"
    places, light = np.asarray(offset), np.asarray(profile)
    if places.ndim != 1 or places.shape != light.shape or places.size < 3:
        raise ValueRefused(f"{who}: offset and profile are lists of one length, three or more.")
    if not np.all(np.diff(places) > 0):
        raise ValueRefused(f"{who}: the places of offset must rise from one to the next.")
    whole = np.trapezoid(light, places)
    if not whole > 0:
        raise ValueRefused(f"{who}: the profile holds no light; was too much dark taken off?")
    return power / speed * light / whole


@with_units(
    "Ripple of a raster from a measured spot",
    returns="1",
    offset=("mm", "signed"),
    profile=("1", "signed"),
    line_spacing="mm",
)
def ripple_of_profile(*, offset: Any, profile: Any, line_spacing: Any) -> Any:
    """Unevenness of a filled raster across its lines, from a spot that was measured.

    Lines are summed one by one; between measured places the profile is a straight line, beyond
    them it is dark. Peak to valley over the mean.

    Parameters
    ----------
    offset : length, one-dimensional, rising
        Across the line.
    profile : numbers, the same length
        Light at each place, summed along the travel, in any unit.
    line_spacing : length
        From one line to the next.

    Returns
    -------
    Quantity
        A plain number.

    Raises
    ------
    UnitError, ValueRefused
        As ``dose_of_profile``.

    Examples
    --------
    >>> import numpy as np
    >>> from mathlib import Q
    >>> y = np.linspace(-0.2, 0.2, 4001)
    >>> told = {"offset": Q(y, "mm"), "profile": np.exp(-2 * (y / 0.05) ** 2)}
    >>> print(ripple_of_profile(line_spacing="0.06 mm", **told))
    0.1299

    """
    places, light = np.asarray(offset), np.asarray(profile)
    if places.ndim != 1 or places.shape != light.shape or not np.all(np.diff(places) > 0):
        raise ValueRefused(
            "Ripple of a raster from a measured spot: offset and profile are lists of one length, "
            "and the places rise."
        )
    fine = np.linspace(0, float(line_spacing), 2001)
    first = int(np.floor((places[0] - fine[-1]) / line_spacing))
    last = int(np.ceil(places[-1] / line_spacing))
    summed = np.zeros_like(fine)
    for line in range(first, last + 1):
        summed += np.interp(fine + line * line_spacing, places, light, left=0.0, right=0.0)
    whole = np.trapezoid(light, places)
    if not whole > 0:
        raise ValueRefused("Ripple of a raster from a measured spot: the profile holds no light.")
    return np.ptp(summed) / (whole / line_spacing)
