"""Corners and arcs: how fast a path may turn, and the jump of velocity that a corner leaves."""

from __future__ import annotations

from mathlib.formula import Example, Formula

_INTERIOR = ("interior_angle", "deg", "between the two legs: 180 is straight on, 0 straight back")
_CORNER = "theta < pi; at 180 deg the line is straight and has no corner"

arc_speed = Formula(
    title="Highest speed on an arc",
    equation="v = sqrt(a * R)",
    where={
        "v": ("speed", "mm/s", "along the arc"),
        "a": ("acceleration", "mm/s^2", "towards the middle of the arc"),
        "R": ("radius", "mm", "of the arc"),
    },
    assumes=("all of the acceleration goes into the turn, none along the path",),
    source="Centripetal acceleration v^2 / R",
    example=Example(
        {"acceleration": "1000 mm/s^2", "radius": "3 mm"},
        "54.7723 mm/s",
        2e-6,
        "by hand: sqrt(3000) = 54.7723",
    ),
)

fillet_radius = Formula(
    title="Radius of the arc that cuts a corner by no more than a tolerance",
    equation="R = delta * sin(theta / 2) / (1 - sin(theta / 2))",
    where={
        "R": ("radius", "mm", "of an arc that touches both legs"),
        "delta": ("deviation", "mm", "from the corner to the nearest point of the arc"),
        "theta": _INTERIOR,
    },
    holds=(_CORNER,),
    assumes=(
        "plain geometry: it says how fast the corner may be taken, not that the head rounds it",
        "the legs are long enough for the arc",
    ),
    source="Circle inscribed in the corner: delta = R / sin(theta / 2) - R",
    example=Example(
        {"deviation": "0.02 mm", "interior_angle": "60 deg"},
        "0.02 mm",
        1e-9,
        "by hand: 0.02 * 0.5 / 0.5",
    ),
)

velocity_step = Formula(
    title="Jump of the velocity at a corner that is not rounded",
    equation="u = 2 * v * cos(theta / 2)",
    where={
        "u": ("velocity_step", "mm/s", "by which the velocity changes at once"),
        "v": ("speed", "mm/s", "along the path, before and after the corner"),
        "theta": _INTERIOR,
    },
    holds=(_CORNER,),
    assumes=("the head goes to the corner itself; belts and motors soften the jump, and ring",),
    source="Difference of two vectors of equal length",
    example=Example(
        {"speed": "20 mm/s", "interior_angle": "120 deg"},
        "20 mm/s",
        1e-12,
        "by hand: 2 * 20 * cos 60 deg = 2 * 20 * 0.5",
    ),
)
