"""How much energy lands: along a line, over an area, in a point. Diameters are 1/e²."""

from __future__ import annotations

from typing import Any

import numpy as np

from mathlib.formula import Example, Formula
from mathlib.words import with_units

_POWER = ("power", "W", "of light that reaches the work")
_SPEED = ("speed", "mm/s", "of the spot over the work")
_SPACING = ("line_spacing", "mm", "from one line to the next")
_STEADY = "power and speed are constant; near the ends of a line they are not"

line_energy = Formula(
    title="Energy for each length of line",
    equation="E_l = P / v",
    where={
        "E_l": ("line_energy", "J/mm", "that lands on the line"),
        "P": _POWER,
        "v": _SPEED,
    },
    assumes=(_STEADY,),
    source="Definition",
    example=Example(
        {"power": "10 W", "speed": "50 mm/s"}, "0.2 J/mm", 1e-12, "by hand: 10 / 50 = 0.2"
    ),
)

areal_dose = Formula(
    title="Mean energy for each area of a filled raster",
    equation="H = P / (v * s)",
    where={
        "H": ("areal_dose", "J/mm^2", "averaged over the lines"),
        "P": _POWER,
        "v": _SPEED,
        "s": _SPACING,
    },
    assumes=(
        _STEADY,
        "the lines are evenly spaced; the spot's size does not enter the mean",
    ),
    source="Definition: line energy over line spacing",
    example=Example(
        {"power": "25 mW", "speed": "31.25 mm/s", "line_spacing": "0.8 mm"},
        "100 mJ/cm^2",
        1e-9,
        "by hand: 0.025 / (31.25 * 0.8) = 0.001 J/mm^2 = 100 mJ/cm^2",
    ),
)

dwell = Formula(
    title="Time for which the spot covers a point",
    equation="t = d / v",
    where={
        "t": ("dwell", "ms", "on the middle of the line"),
        "d": ("diameter", "mm", "1/e² diameter of the spot"),
        "v": _SPEED,
    },
    assumes=("the spot is round, or d is its width along the travel",),
    source="Definition",
    example=Example(
        {"diameter": "0.1 mm", "speed": "100 mm/s"}, "1 ms", 1e-12, "by hand: 0.1 / 100 s = 1 ms"
    ),
)

line_overlap = Formula(
    title="Overlap of neighbouring lines",
    equation="o = 1 - s / d",
    where={
        "o": (
            "overlap",
            "1",
            "part of the spot that the next line covers; below 0 a gap",
            "signed",
        ),
        "s": _SPACING,
        "d": ("diameter", "mm", "1/e² diameter of the spot"),
    },
    assumes=("the width counted is the 1/e² diameter; the burnt width may differ",),
    source="Definition",
    example=Example(
        {"line_spacing": "0.06 mm", "diameter": "0.08 mm"},
        "0.25 1",
        1e-12,
        "by hand: 1 - 0.06 / 0.08",
    ),
)


@with_units("Ripple of a raster", returns="1", diameter="mm", line_spacing="mm")
def ripple(*, diameter: Any, line_spacing: Any) -> Any:
    """Unevenness of a filled raster across its lines: peak to valley over the mean.

    The exact sum of Gaussian lines; its first harmonic is 4 exp(-pi² w² / (2 s²)).

    Parameters
    ----------
    diameter : length, any shape
        1/e² diameter of the spot, across the lines.
    line_spacing : length, broadcast
        From one line to the next.

    Returns
    -------
    Quantity
        A plain number; 0.03 at a spacing of half the diameter, above 1 near a whole one.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(ripple(diameter="0.1 mm", line_spacing="0.05 mm"))
    0.02877

    """
    ratio = np.asarray(line_spacing) / (np.asarray(diameter) / 2)
    # Lines that overlap are summed by their harmonics, whose mean is 1; of lines more than four
    # radii apart a point sees its own, or the two beside it. At four both agree to 1e-13.
    near = np.minimum(ratio, 4.0)[..., None]
    odd = np.arange(1, 16, 2)  # even harmonics cancel between peak and valley
    close = 4 * np.sum(np.exp(-((np.pi * odd) ** 2) / (2 * near**2)), axis=-1)
    far = ratio * np.sqrt(2 / np.pi)
    apart = far - 2 * far * np.exp(-(np.minimum(ratio, 1e3) ** 2) / 2)
    return np.where(ratio > 4.0, apart, close)
