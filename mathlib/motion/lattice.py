"""The lattice of points that the motors' steps can reach."""

from __future__ import annotations

from typing import Any, NamedTuple

from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.units import Quantity

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
    example=Example({"belt_step": "0.0125 mm"}, "0.003608 mm", 1e-4, "by hand: 0.0125 / 3.46410"),
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
