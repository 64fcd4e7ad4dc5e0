"""Pictures of dots that are on or off: dithering, what the dots burn, and what makes up for it."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np

from mathlib.errors import ValueRefused
from mathlib.laser.tone_curve import inverted
from mathlib.units import Q
from mathlib.words import with_units


def dither(darkness: Any) -> Any:
    """Turn tones into dots that are on or off, by diffusing each pixel's error to its neighbours.

    Parameters
    ----------
    darkness : array, two-dimensional
        0 for blank to 1 for solid, one row for each line of the raster.

    Returns
    -------
    ndarray of bool
        Where the light is on. Over any larger patch the part that is on is the darkness.

    Raises
    ------
    ValueRefused
        It is no picture, or has values that are not from 0 to 1.

    Examples
    --------
    >>> import numpy as np
    >>> float(dither(np.full((40, 40), 0.25)).mean().round(2))
    0.25

    Notes
    -----
    Error diffusion with the weights 7, 3, 5 and 1 sixteenths (Floyd and Steinberg 1976), rows
    taken in turn from left and from right.

    """
    wanted = np.asarray(darkness, dtype=float)
    if wanted.ndim != 2 or not wanted.size:
        raise ValueRefused("Dither: darkness is a picture, an array with rows and columns.")
    if not np.all((wanted >= 0) & (wanted <= 1)):
        raise ValueRefused("Dither: darkness goes from 0, blank, to 1, solid.")
    rows, columns = wanted.shape
    lit = np.zeros(wanted.shape, dtype=bool)
    carried = [0.0] * (columns + 2)
    for row in range(rows):
        backwards = row % 2
        line = wanted[row].tolist()
        if backwards:
            line.reverse()
            carried.reverse()
        handed, below = 0.0, [0.0] * (columns + 2)
        on = []
        for column, value in enumerate(line):
            value += handed + carried[column + 1]
            mark = value >= 0.5
            on.append(mark)
            error = (value - 1.0 if mark else value) / 16
            handed = 7 * error
            below[column] += 3 * error
            below[column + 1] += 5 * error
            below[column + 2] += error
        if backwards:
            on.reverse()
            below.reverse()
        lit[row] = on
        carried = below
    return lit


@with_units("Coverage of a raster of dots", returns="1", pixel="mm", mark_width="mm")
def burnt_coverage(*, dots: Any, pixel: Any, mark_width: Any) -> Any:
    """Part of a field that is burnt by dots which are wider than their pixels, or narrower.

    Each run of lit pixels burns a stadium: the way of the spot with a half disc at each end.
    Where stadiums lie over each other the area counts once.

    Parameters
    ----------
    dots : array of bool, two-dimensional
        Where the light is on; rows are lines of the raster, one pixel apart.
    pixel : length
        Side of a pixel, and from line to line.
    mark_width : length
        That a line marks.

    Returns
    -------
    Quantity
        A plain number, to about 0.002; what lies beyond the field does not count.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; dots that are no picture.

    Examples
    --------
    >>> import numpy as np
    >>> lone = np.zeros((9, 9), dtype=bool)
    >>> lone[4, 4] = True
    >>> round(float(burnt_coverage(dots=lone, pixel="0.1 mm", mark_width="0.08 mm") * 81), 2)
    1.3

    """
    lit = np.asarray(dots, dtype=bool)
    if lit.ndim != 2 or not lit.size:
        raise ValueRefused("Coverage of a raster of dots: dots is a picture with rows and columns.")
    fine = 16  # places in a pixel along its line
    columns = lit.shape[1]
    radius = float(mark_width) / float(pixel) / 2
    # Distance along its line from each place to the nearest lit pixel, in pixels; below 0 in one.
    places = (np.arange(columns * fine) + 0.5) / fine
    ends = np.maximum.accumulate(np.where(lit, np.arange(columns) + 1.0, -np.inf), axis=1)
    starts = np.where(lit, np.arange(columns), np.inf)
    starts = np.minimum.accumulate(starts[:, ::-1], axis=1)[:, ::-1]
    column = np.arange(columns * fine) // fine
    gap = np.minimum(places - ends[:, column], starts[:, column] - places)
    heights, weights = _across_a_line(radius)
    return sum(
        weight * _burnt_at(height, gap, radius, fine).mean()
        for height, weight in zip(heights, weights, strict=True)
    )


def _across_a_line(radius: float) -> tuple[np.ndarray, np.ndarray]:
    """Heights from the middle of a line, in pixels, and weights of a mean over them.

    A mark begins or ends wherever a circle around the middle of a line does: parts between those
    heights are smooth.
    """
    edges = {-0.5, 0.5} | {side * abs(radius - k) for k in range(64) for side in (-1, 1)}
    parts = sorted(edge for edge in edges if -0.5 <= edge <= 0.5)
    nodes, weights = np.polynomial.legendre.leggauss(8)
    pairs = list(itertools.pairwise(parts))
    heights = [(low + high) / 2 + (high - low) / 2 * nodes for low, high in pairs]
    return np.concatenate(heights), np.concatenate([(b - a) / 2 * weights for a, b in pairs])


def _burnt_at(height: float, gap: np.ndarray, radius: float, fine: int) -> np.ndarray:
    """Part of each place that is burnt at a height from the middle of each line."""
    rows = gap.shape[0]
    burnt = np.zeros_like(gap)
    reach = int(np.ceil(radius + 0.5))
    for shift in range(-reach, reach + 1):
        left = radius**2 - (height - shift) ** 2
        upper, lower = max(0, -shift), min(rows, rows - shift)
        if left > 0 and lower > upper:
            over = np.clip((np.sqrt(left) - gap[upper + shift : lower + shift]) * fine + 0.5, 0, 1)
            np.maximum(burnt[upper:lower], over, out=burnt[upper:lower])
    return burnt


@with_units("Compensation of dot gain", returns=None, pixel="mm", mark_width="mm")
def compensation(*, pixel: Any, mark_width: Any, wanted: Any) -> Any:
    """Tone to dither so that, with the dots' gain, the wanted part of the area is burnt.

    Even patches are dithered and burnt in the model of ``burnt_coverage``; the curve that comes
    out is inverted. A mark width of about two thirds of a pixel needs hardly any.

    Parameters
    ----------
    pixel, mark_width : length
        Side of a pixel, and width that a line marks.
    wanted : array
        Part of the area to burn, 0 to 1.

    Returns
    -------
    ndarray
        Tone to give to ``dither``, 0 to 1.

    Raises
    ------
    ValueRefused
        Marks so narrow that even a solid patch leaves gaps wider than wanted; values beyond 0 to 1.

    Examples
    --------
    >>> tone = compensation(pixel="0.1 mm", mark_width="0.1 mm", wanted=0.5)
    >>> bool(tone < 0.45)
    True

    """
    asked = np.asarray(wanted, dtype=float)
    if not np.all((asked >= 0) & (asked <= 1)):
        raise ValueRefused("Compensation of dot gain: wanted goes from 0, blank, to 1, solid.")
    tones = np.linspace(0, 1, 33)
    size = (64, 64)
    told = {"pixel": Q(float(pixel), "m"), "mark_width": Q(float(mark_width), "m")}
    burnt = [float(burnt_coverage(dots=dither(np.full(size, t)), **told)) for t in tones]
    curve = np.maximum.accumulate(burnt)
    if np.any(asked > curve[-1] + 0.005):
        raise ValueRefused(
            f"Compensation of dot gain: marks this narrow burn {100 * curve[-1]:.0f} % of a solid "
            "patch at most; bring the lines closer, or widen the mark."
        )
    return inverted(asked, curve, tones)
