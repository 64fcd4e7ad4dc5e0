"""Corners and feet of a frame: what a push test tells, and what it takes to tell a first mode.

Screwed corners give more than profiles bend, and by how much nobody can tell from a drawing.
Rigid corners give a bound: the true frame is softer and rings lower, as long as everything that
stiffens it is counted.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from mathlib import words
from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.units import Q, Quantity
from mathlib.words import Word

#: Why no first mode is told without a push test.
WHY_BOUND = (
    "No push test is in the file, so the first mode of the frame cannot be told: screwed corners "
    "and feet give more than profiles bend, and nothing on a drawing says how much. The bound "
    "takes corners and feet as rigid and the profile as all that carries: the truth lies below, "
    "unless a steel rail screwed along the beam stiffens it."
)
_MODULUS = ("modulus", "GPa", "of elasticity: some 70 GPa for aluminium, 210 GPa for steel")
_SIDES = "four sides of one section, the other two as wide as told"

push_stiffness = Formula(
    title="Stiffness from a push",
    equation="k = F / s",
    where={
        "k": ("stiffness", "N/mm", "at the place that is pushed, in that direction"),
        "F": ("force", "N", "by a hung weight or a scale"),
        "s": ("deflection", "mm", "at the same place, read on a gauge that stands apart"),
    },
    assumes=("the gauge does not stand on what moves", "what gives springs back"),
    source="Hooke's law",
    example=Example({"force": "20 N", "deflection": "0.1 mm"}, "200 N/mm", 1e-12, "by hand"),
)

racking_stiffness = Formula(
    title="Stiffness of a rectangular frame against racking, corners rigid",
    equation="k = 24 * E * I / (h**2 * (h + w))",
    where={
        "k": ("stiffness", "N/mm", "of one side against the opposite one, along themselves"),
        "E": _MODULUS,
        "I": ("second_moment", "mm^4", "of all four sides, in the plane of the frame"),
        "h": ("depth", "mm", "of the frame, from side to side"),
        "w": ("width", "mm", "of the frame, along the force"),
    },
    assumes=(
        _SIDES,
        "corners do not give: an upper bound, true frames have a fraction of it",
        "no plate, brace or bottom board stiffens it; with one this is no bound",
    ),
    source="Each side an S with its turning point in the middle; columns and beams add, Roark",
    example=Example(
        {"modulus": "70 GPa", "second_moment": "7000 mm^4", "depth": "500 mm", "width": "600 mm"},
        "42.7636 N/mm",
        1e-5,
        "by hand: 24 * 70000 * 7000 / (250000 * 1100) = 1.176e10 / 2.75e8",
    ),
)

joint_stiffness = Formula(
    title="Stiffness of each corner from a push test on a rectangular frame",
    equation="k_j = h**2 / (4 * (1 / k - 1 / k_r))",
    where={
        "k_j": ("joint_stiffness", "N*m/rad", "of each corner against turning"),
        "h": ("depth", "mm", "of the frame, from side to side"),
        "k": ("stiffness", "N/mm", "measured, of one side against the opposite one"),
        "k_r": ("rigid_stiffness", "N/mm", "of the same frame with rigid corners"),
    },
    holds=("k < k_r; a frame is no stiffer than with rigid corners: something else holds it",),
    assumes=("all four corners give alike", "nothing else gives: not the feet, not the table"),
    source="Each corner takes F h / 4 and turns by that over its stiffness",
    example=Example(
        {"depth": "500 mm", "stiffness": "20 N/mm", "rigid_stiffness": "42.7636 N/mm"},
        "2348.2 N*m/rad",
        1e-4,
        "by hand: 1/20 - 1/42.7636 = 0.0266156 mm/N; 250000 / (4 * 0.0266156) = 2348247 N*mm",
    ),
)

rocking_frequency = Formula(
    title="Frequency of a machine that rocks on four feet",
    equation="f = sqrt(k * B**2 / (m * (h**2 + r**2))) / (2 * pi)",
    where={
        "f": ("frequency", "Hz", "of rocking about the line of the feet"),
        "k": ("foot_stiffness", "N/mm", "of one foot, upwards, with the table below it"),
        "B": ("foot_spacing", "mm", "across the line about which it rocks"),
        "m": ("mass", "kg", "of the whole machine"),
        "h": ("height", "mm", "of its centre of mass over the feet"),
        "r": ("gyration_radius", "mm", "of the machine about its own centre of mass", "zero"),
    },
    assumes=("four equal feet that all carry", "the machine is rigid above them"),
    source="Rigid body on springs: four feet, each with the lever arm B/2",
    example=Example(
        {
            "foot_stiffness": "50 N/mm",
            "foot_spacing": "400 mm",
            "mass": "12 kg",
            "height": "120 mm",
            "gyration_radius": "150 mm",
        },
        "21.3925 Hz",
        1e-5,
        "by hand: 50000 * 0.16 = 8000 N*m/rad; 12 * 0.0369 = 0.4428 kg*m^2; root 134.413 rad/s, "
        "over 6.283185 is 21.392",
    ),
)

thermal_growth = Formula(
    title="Growth of a side of the frame with temperature",
    equation="g = a * L * T",
    where={
        "g": ("thermal_growth", "mm", "of the side", "signed"),
        "a": ("frame_expansion", "1/K", "of the frame: 23.4e-6 1/K for aluminium"),
        "L": ("length", "mm", "of the side"),
        "T": ("temperature_change", "delta_degC", "since it was measured", "signed"),
    },
    assumes=("the whole side has one temperature",),
    source="Definition of linear expansion; EN AW-6060 data sheets print 23.4e-6 1/K",
    example=Example(
        {
            "frame_expansion": "23.4e-6 1/K",
            "length": "400 mm",
            "temperature_change": "5 delta_degC",
        },
        "0.0468 mm",
        1e-9,
        "by hand: 23.4e-6 * 400 * 5",
    ),
)


class PushTest(NamedTuple):
    """What a push test gives: stiffness with its standard uncertainty, and play."""

    stiffness: Quantity
    std: Quantity
    play: Quantity


def push_test(*, force: Any, deflection: Any) -> PushTest:
    """Stiffness and play from several pushes, by a straight line.

    Parameters
    ----------
    force : force, shape (n,)
        At least three pushes of different size, such as hung weights, to either side.
    deflection : length, shape (n,)
        Read at the same place, on a gauge that stands apart; to the other side negative.

    Returns
    -------
    PushTest
        ``.stiffness`` and ``.std`` in N/mm from the slope; ``.play`` in mm is what the frame moves
        without force from one side to the other, zero for pushes to one side only.

    Raises
    ------
    ValueRefused
        Fewer than three pushes, all alike, or the frame moves against the push.
    UnitError
        As a formula does.

    Examples
    --------
    >>> read = Q([0.02, 0.045, 0.095], "mm")
    >>> print(push_test(force=Q([5, 10, 20], "N"), deflection=read).stiffness)
    200 N/mm

    """
    told = (("force", "N", force), ("deflection", "mm", deflection))
    push, moved = (words.base_value(Word(n, u, "", "signed"), v) for n, u, v in told)
    push, moved = np.atleast_1d(push), np.atleast_1d(moved)
    if push.shape != moved.shape or push.ndim != 1 or push.size < 3 or np.ptp(push) == 0:
        raise ValueRefused(
            "Push test: give as many deflections as forces, three or more, of different size."
        )
    side = np.sign(push)
    both = np.ptp(side) == 2
    # Play shifts the readings of each side: a step for both sides, an offset of the zero for one.
    terms = np.stack([push, side if both else np.ones_like(push)], axis=-1)
    if np.linalg.matrix_rank(terms) < 2:
        raise ValueRefused("Push test: push at least one side with two different forces.")
    (slope, step), *_ = np.linalg.lstsq(terms, moved, rcond=None)
    if slope <= 0:
        raise ValueRefused("Push test: it moves against the push; look at the gauge's sign.")
    left = moved - terms @ np.array([slope, step])
    spread = np.sum(left**2) / (push.size - 2) * np.linalg.inv(terms.T @ terms)[0, 0]
    stiffness = 1 / slope
    std = np.sqrt(max(float(spread), 0.0)) * stiffness**2
    play = 2 * max(step, 0.0) if both else 0.0
    return PushTest(Q(stiffness / 1e3, "N/mm"), Q(std / 1e3, "N/mm"), Q(1e3 * play, "mm"))
