"""Marks that end where the dose falls below a threshold: widths against energy and power."""

from __future__ import annotations

from typing import Final

from mathlib.formula import Example, Formula

_LIU: Final = "Liu, Optics Letters 7, 196 (1982)"
_RADIUS: Final = ("radius", "mm", "1/e² radius of the spot on the work")
_CLEAN: Final = (
    "the spot is Gaussian, and the mark ends where the peak fluence falls to the threshold",
    "no heat runs sideways while the light is on, and repeated shots do not lower the threshold",
)

peak_fluence = Formula(
    title="Fluence at the centre of a Gaussian pulse",
    equation="F = 2 * E / (pi * w**2)",
    where={
        "F": ("peak_fluence", "J/cm^2", "at the centre, twice the mean over the 1/e² area"),
        "E": ("pulse_energy", "mJ", "of one pulse"),
        "w": _RADIUS,
    },
    assumes=("the spot is round and Gaussian",),
    source=_LIU,
    example=Example(
        {"pulse_energy": "0.1 mJ", "radius": "0.03 mm"},
        "7.07355 J/cm^2",
        1e-6,
        "by hand: 0.2 mJ / (3.141593 * 9e-4 mm²) = 70.7355 mJ/mm²",
    ),
)

mark_diameter = Formula(
    title="Diameter of the mark of one pulse",
    equation="D = w * sqrt(2 * log(F / F_t))",
    where={
        "D": ("mark_diameter", "mm", "of the mark", "zero"),
        "w": _RADIUS,
        "F": ("peak_fluence", "J/cm^2", "at the centre of the pulse"),
        "F_t": ("threshold_fluence", "J/cm^2", "peak fluence at which a mark just appears"),
    },
    holds=("F >= F_t; below the threshold there is no mark",),
    assumes=_CLEAN,
    source=_LIU,
    example=Example(
        {"radius": "0.03 mm", "peak_fluence": "6 J/cm^2", "threshold_fluence": "1.5 J/cm^2"},
        "0.0499533 mm",
        1e-5,
        "by hand: log 4 = 1.386294; root of twice that 1.665109; times 0.03",
    ),
)

line_mark_width = Formula(
    title="Width of the mark that a moving spot leaves",
    equation="W = w * sqrt(2 * log(P / P_t))",
    where={
        "W": ("mark_width", "mm", "of the line", "zero"),
        "w": _RADIUS,
        "P": ("power", "W", "of the light"),
        "P_t": ("threshold_power", "W", "at which a line just appears, at the same speed"),
    },
    holds=("P >= P_t; below the threshold there is no mark",),
    assumes=(
        "the speed is the same in all lines, and dose alone decides: sweep it once to check",
        "the spot is Gaussian across the line",
    ),
    source=f"{_LIU}, with the dose of a line",
    example=Example(
        {"radius": "0.05 mm", "power": "4 W", "threshold_power": "0.5 W"},
        "0.101967 mm",
        1e-5,
        "by hand: log 8 = 2.079442; root of twice that 2.039334; times 0.05",
    ),
)
