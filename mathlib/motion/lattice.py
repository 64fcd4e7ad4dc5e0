"""The lattice of points that the motors' steps can reach."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.units import Quantity
from mathlib.words import Word

_STEP = ("belt_step", "mm", "belt travel of one microstep")

belt_step = Formula(
    title="Belt travel of one microstep",
    equation="s = 1 / n",
    where={
        "s": _STEP,
        "n": ("steps_per_length", "step/mm", "microsteps for each length of belt travel"),
    },
    assumes=("all microsteps are equally long",),
    source="Definition",
    example=Example({"steps_per_length": "80 step/mm"}, "0.0125 mm", 1e-12, "by hand: 1 / 80"),
)

plain_worst = Formula(
    title="Worst distance to a reachable point, plain axes",
    equation="e_w = s / sqrt(2)",
    where={"e_w": ("worst_error", "mm", "from the wanted point to the nearest one"), "s": _STEP},
    assumes=("the points are a square lattice along the axes, one belt step apart",),
    source="Half the diagonal of the square between four points",
    example=Example({"belt_step": "0.0125 mm"}, "0.008839 mm", 1e-4, "by hand: 0.0125 / 1.41421"),
)

crossed_worst = Formula(
    title="Worst distance to a reachable point, crossed belts",
    equation="e_w = s / 2",
    where={"e_w": ("worst_error", "mm", "from the wanted point to the nearest one"), "s": _STEP},
    assumes=("the points are a square lattice turned by 45 deg, its side the belt step over √2",),
    source="Half the diagonal of the turned square; x = (a + b) / 2 and y = (a - b) / 2",
    example=Example({"belt_step": "0.0125 mm"}, "0.00625 mm", 1e-12, "by hand: 0.0125 / 2"),
)

plain_rms = Formula(
    title="Rms distance to the nearest reachable point, plain axes",
    equation="e_r = s / sqrt(6)",
    where={"e_r": ("rms_error", "mm", "over evenly spread wanted points"), "s": _STEP},
    assumes=("wanted points fall anywhere in a square of the lattice, evenly",),
    source="Two rectangular distributions of width s: sqrt(s**2 / 12 + s**2 / 12)",
    example=Example({"belt_step": "0.0125 mm"}, "0.005103 mm", 1e-4, "by hand: 0.0125 / 2.44949"),
)

crossed_rms = Formula(
    title="Rms distance to the nearest reachable point, crossed belts",
    equation="e_r = s / sqrt(12)",
    where={"e_r": ("rms_error", "mm", "over evenly spread wanted points"), "s": _STEP},
    assumes=("wanted points fall anywhere in a square of the turned lattice, evenly",),
    source="As for plain axes, with the lattice's side s / sqrt(2)",
    example=Example({"belt_step": "0.0125 mm"}, "0.0036084 mm", 2e-5, "by hand: 0.0125 / 3.46410"),
)


class LatticeError(NamedTuple):
    """Distance from a wanted point to the nearest reachable one."""

    worst: Quantity
    rms: Quantity


def nearest_point_error(*, belt_step: Any, belts: str) -> LatticeError:
    """Distance from a wanted point to the nearest one that the steps reach.

    Parameters
    ----------
    belt_step : length, any shape
        Belt travel of one microstep, the same for both motors.
    belts : str
        "crossed" (two motors, crossed belts); "plain" or "shaft" (a motor for each axis).

    Returns
    -------
    LatticeError
        ``.worst`` and ``.rms`` in mm, of the shape of ``belt_step``.

    Raises
    ------
    ValueRefused
        ``belts`` is something else.

    Examples
    --------
    >>> print(nearest_point_error(belt_step="0.0125 mm", belts="crossed").worst)
    0.00625 mm

    """
    if belts in ("crossed", "single"):  # one belt round both axes has the same two sums
        return LatticeError(crossed_worst(belt_step=belt_step), crossed_rms(belt_step=belt_step))
    if belts in ("plain", "shaft"):
        return LatticeError(plain_worst(belt_step=belt_step), plain_rms(belt_step=belt_step))
    raise ValueRefused(
        f'Nearest reachable point: belts is "crossed", "plain", "shaft" or "single"; got {belts!r}.'
    )


def lines_per_beat(*, line_spacing: Any, steps_per_length: Any) -> Quantity:
    """Lines after which the rounding of a line spacing to whole steps repeats.

    A spacing that is no whole number of microsteps is rounded, now up, now down; the pattern of
    wide and narrow gaps shows on the work as a beat.

    Parameters
    ----------
    line_spacing : length, any shape
        Of a filled area.
    steps_per_length : steps per length
        Of the axis that moves from line to line; broadcast.

    Returns
    -------
    Quantity
        A plain number of lines; infinite where every gap is the same.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(lines_per_beat(line_spacing="0.085 mm", steps_per_length="80 step/mm"))
    5

    """
    spacing = words.base_value(Word("line_spacing", "mm"), line_spacing)
    per_length = words.base_value(Word("steps_per_length", "step/mm"), steps_per_length)
    steps = np.asarray(spacing * per_length)
    off = np.abs(steps - np.round(steps))
    # A spacing and its steps are products of rounded numbers: 1e-9 of a step is none.
    beat = np.where(off < 1e-9 * np.maximum(steps, 1.0), np.inf, 1.0 / np.maximum(off, 1e-300))
    return units.quantity(float(beat) if beat.ndim == 0 else beat, units.container("1"))


crossed_belt_speed = Formula(
    title="Speed of the faster belt of crossed belts",
    equation="v_b = v * (cos(d) + sin(d))",
    where={
        "v_b": ("belt_speed", "mm/s", "of the belt whose motor turns faster"),
        "v": ("speed", "mm/s", "of the head"),
        "d": ("direction", "deg", "of travel from the nearer axis, 0 to 90 deg", "zero"),
    },
    holds=("d <= pi / 2; count the direction from the axis that it leans to",),
    assumes=("both belts have the same pitch and pulleys",),
    source="a = x + y and b = x - y: the larger of both, |v_x| + |v_y|",
    example=Example(
        {"speed": "106.1 mm/s", "direction": "30 deg"},
        "144.93 mm/s",
        5e-5,
        "by hand: 106.1 * (0.866025 + 0.5) = 144.935",
        brackets={"direction": ("0 deg", "44 deg")},
    ),
)

crossed_force = Formula(
    title="Force on the head from two motors with crossed belts",
    equation="F = 2 * F_m / (cos(d) + sin(d))",
    where={
        "F": ("force", "N", "along the direction of travel, at most"),
        "F_m": ("belt_force", "N", "of each motor along its belt"),
        "d": ("direction", "deg", "of travel from the nearer axis, 0 to 90 deg", "zero"),
    },
    holds=("d <= pi / 2; count the direction from the axis that it leans to",),
    assumes=("both motors pull alike, one of them against the other where they must",),
    source="Virtual work: |F_x| + |F_y| is at most twice a motor's force",
    example=Example(
        {"belt_force": "30 N", "direction": "30 deg"},
        "43.923 N",
        2e-5,
        "by hand: 60 / (0.866025 + 0.5) = 43.9230",
        brackets={"direction": ("0 deg", "44 deg")},
    ),
)
