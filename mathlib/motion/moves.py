"""Moves of the head from rest to rest: ramps, with or without limited jerk, and their time.

Chapters beside it, whose names stand here too: ``corners`` has corners and arcs, ``rasters`` filled
areas and what a link or a controller can keep up with, ``planner`` the time of a whole path.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from mathlib.formula import Example, Formula
from mathlib.motion.corners import arc_speed as arc_speed
from mathlib.motion.corners import fillet_radius as fillet_radius
from mathlib.motion.corners import velocity_step as velocity_step
from mathlib.motion.planner import Plan as Plan
from mathlib.motion.planner import belt_limited_speed as belt_limited_speed
from mathlib.motion.planner import plan as plan
from mathlib.motion.rasters import bidirectional_offset as bidirectional_offset
from mathlib.motion.rasters import fastest_raster_speed as fastest_raster_speed
from mathlib.motion.rasters import link_speed as link_speed
from mathlib.motion.rasters import look_ahead_speed as look_ahead_speed
from mathlib.motion.rasters import naive_raster_time as naive_raster_time
from mathlib.motion.rasters import pixel_rate as pixel_rate
from mathlib.motion.rasters import raster_line_time as raster_line_time
from mathlib.motion.rasters import raster_lines as raster_lines
from mathlib.motion.rasters import raster_time as raster_time
from mathlib.motion.rasters import run_up as run_up
from mathlib.units import Q
from mathlib.words import with_units

_TIME = ("time", "s", "from rest to rest")
_DISTANCE = ("distance", "mm", "of the whole move")
_SPEED = ("speed", "mm/s", "between the ramps")
_ACCELERATION = ("acceleration", "mm/s^2", "on the ramps")
_JERK = ("jerk", "mm/s^3", "largest rate at which the acceleration changes")
_REST = "the move begins and ends at rest"
_EVEN = "both ramps have the same acceleration, constant"
_LIMITED = "the acceleration grows and falls at the jerk, on both ramps"

long_move_time = Formula(
    title="Time of a move that reaches its speed",
    equation="t = d / v + v / a",
    where={"t": _TIME, "d": _DISTANCE, "v": _SPEED, "a": _ACCELERATION},
    holds=("d >= v**2 / a; a shorter move never reaches that speed: short_move_time",),
    assumes=(_REST, _EVEN),
    source="Area under the trapezoid of speed over time",
    example=Example(
        {"distance": "300 mm", "speed": "250 mm/s", "acceleration": "3000 mm/s^2"},
        "1.283333 s",
        1e-6,
        "by hand: 300 / 250 + 250 / 3000 = 1.2 + 0.083333",
        brackets={"speed": ("1 mm/s", "900 mm/s")},
    ),
)

short_move_time = Formula(
    title="Time of a move too short to reach its speed",
    equation="t = 2 * sqrt(d / a)",
    where={"t": _TIME, "d": _DISTANCE, "a": _ACCELERATION},
    assumes=(_REST, _EVEN, "half of the distance is sped up, half is slowed down"),
    source="Area under the triangle of speed over time",
    example=Example(
        {"distance": "20 mm", "acceleration": "3000 mm/s^2"},
        "0.163299 s",
        5e-6,
        "by hand: sqrt(20 / 3000) = 0.0816497; twice",
    ),
)

short_move_speed = Formula(
    title="Highest speed of a move too short to reach its own",
    equation="v = sqrt(a * d)",
    where={
        "v": ("speed", "mm/s", "in the middle of the move"),
        "a": _ACCELERATION,
        "d": _DISTANCE,
    },
    assumes=(_REST, _EVEN),
    source="v^2 = 2 a (d / 2)",
    example=Example(
        {"acceleration": "3000 mm/s^2", "distance": "20 mm"},
        "244.949 mm/s",
        5e-6,
        "by hand: sqrt(60000) = 244.949",
    ),
)

plateau_time = Formula(
    title="Time at full speed in a move of given total time and ramps",
    equation="t_c = t - t_a - t_b",
    where={
        "t_c": ("plateau_time", "s", "at full speed"),
        "t": _TIME,
        "t_a": ("acceleration_time", "s", "of the ramp at the start", "zero"),
        "t_b": ("deceleration_time", "s", "of the ramp at the end", "zero"),
    },
    assumes=("the ramps do not overlap",),
    source="Definition",
    example=Example(
        {"time": "2.15 s", "acceleration_time": "0.3 s", "deceleration_time": "0.45 s"},
        "1.4 s",
        1e-12,
        "by hand: 2.15 - 0.3 - 0.45 = 1.4",
    ),
)

plateau_speed = Formula(
    title="Speed that covers a distance with ramps of unequal time",
    equation="v = d / (t_c + t_a / 2 + t_b / 2)",
    where={
        "v": _SPEED,
        "d": _DISTANCE,
        "t_c": ("plateau_time", "s", "at full speed", "zero"),
        "t_a": ("acceleration_time", "s", "of the ramp at the start", "zero"),
        "t_b": ("deceleration_time", "s", "of the ramp at the end", "zero"),
    },
    assumes=(_REST, "each ramp has a constant acceleration of its own"),
    source="Area under the trapezoid of speed over time",
    example=Example(
        {
            "distance": "100 mm",
            "plateau_time": "0.4 s",
            "acceleration_time": "0.1 s",
            "deceleration_time": "0.2 s",
        },
        "181.818 mm/s",
        5e-6,
        "by hand: 100 / (0.4 + 0.05 + 0.1) = 100 / 0.55",
    ),
)

unequal_ramps_time = Formula(
    title="Time of a move whose ramps differ",
    equation="t = d / v + v / (2 * a) + v / (2 * b)",
    where={
        "t": _TIME,
        "d": _DISTANCE,
        "v": _SPEED,
        "a": ("acceleration", "mm/s^2", "at the start"),
        "b": ("deceleration", "mm/s^2", "at the end"),
    },
    holds=(
        "d >= v**2 / (2 * a) + v**2 / (2 * b); a shorter move only gets to unequal_ramps_speed",
    ),
    assumes=(_REST, "each ramp has a constant acceleration of its own"),
    source="Area under the trapezoid of speed over time",
    example=Example(
        {
            "distance": "100 mm",
            "speed": "200 mm/s",
            "acceleration": "1000 mm/s^2",
            "deceleration": "2000 mm/s^2",
        },
        "0.65 s",
        1e-12,
        "by hand: 100 / 200 + 200 / 2000 + 200 / 4000 = 0.5 + 0.1 + 0.05",
        brackets={"speed": ("1 mm/s", "250 mm/s")},
    ),
)

unequal_ramps_speed = Formula(
    title="Highest speed of a short move whose ramps differ",
    equation="v = sqrt(2 * d * a * b / (a + b))",
    where={
        "v": ("speed", "mm/s", "where one ramp meets the other"),
        "d": _DISTANCE,
        "a": ("acceleration", "mm/s^2", "at the start"),
        "b": ("deceleration", "mm/s^2", "at the end"),
    },
    assumes=(_REST, "each ramp has a constant acceleration of its own"),
    source="v^2 / (2 a) + v^2 / (2 b) = d, solved for v",
    example=Example(
        {"distance": "30 mm", "acceleration": "1000 mm/s^2", "deceleration": "2000 mm/s^2"},
        "200 mm/s",
        1e-12,
        "by hand: 2 * 30 * 2e6 / 3000 = 40000, whose root is 200",
    ),
)

jerk_limited_time = Formula(
    title="Time of a long move with limited jerk",
    equation="t = d / v + v / a + a / j",
    where={"t": _TIME, "d": _DISTANCE, "v": _SPEED, "a": _ACCELERATION, "j": _JERK},
    holds=(
        "v >= a**2 / j; a slower move never gets to that acceleration: jerk_limited_slow_time",
        "d >= v * (v / a + a / j); a shorter move never reaches that speed: move_time",
    ),
    assumes=(_REST, _LIMITED),
    source="Seven segments of constant jerk, integrated",
    example=Example(
        {
            "distance": "300 mm",
            "speed": "250 mm/s",
            "acceleration": "3000 mm/s^2",
            "jerk": "60000 mm/s^3",
        },
        "1.333333 s",
        1e-6,
        "by hand: 300 / 250 + 250 / 3000 + 3000 / 60000 = 1.2 + 0.083333 + 0.05",
        brackets={
            "speed": ("150 mm/s", "800 mm/s"),
            "acceleration": ("1200 mm/s^2", "3800 mm/s^2"),
        },
    ),
)

jerk_limited_slow_time = Formula(
    title="Time of a move with limited jerk that never gets to its acceleration",
    equation="t = d / v + 2 * sqrt(v / j)",
    where={"t": _TIME, "d": _DISTANCE, "v": _SPEED, "j": _JERK},
    holds=("d >= 2 * v * sqrt(v / j); a shorter move never reaches that speed: jerk_only_speed",),
    assumes=(_REST, _LIMITED, "v <= a^2 / j, so that each ramp is two segments"),
    source="Six segments of constant jerk or none, integrated",
    example=Example(
        {"distance": "300 mm", "speed": "100 mm/s", "jerk": "62500 mm/s^3"},
        "3.08 s",
        1e-9,
        "by hand: 300 / 100 + 2 * sqrt(100 / 62500) = 3 + 2 * 0.04",
        brackets={"speed": ("1 mm/s", "700 mm/s")},
    ),
)

short_jerk_limited_speed = Formula(
    title="Highest speed of a short move that gets to its acceleration",
    equation="v = sqrt(a * d + (a**2 / (2 * j))**2) - a**2 / (2 * j)",
    where={
        "v": ("speed", "mm/s", "in the middle of the move"),
        "a": _ACCELERATION,
        "d": _DISTANCE,
        "j": _JERK,
    },
    holds=("d >= 1.999999999 * a**3 / j**2; a shorter move has jerk_only_speed",),
    assumes=(_REST, _LIMITED),
    source="v (v / a + a / j) = d, solved for v",
    example=Example(
        {"acceleration": "2000 mm/s^2", "distance": "36 mm", "jerk": "40000 mm/s^3"},
        "222.9469 mm/s",
        1e-6,
        "by hand: a^2 / (2 j) = 50; sqrt(72000 + 2500) - 50 = 272.9469 - 50 = 222.9469",
    ),
)

jerk_only_speed = Formula(
    title="Highest speed of a move too short to get to its acceleration",
    equation="v = (d**2 * j / 4)**(1 / 3)",
    where={
        "v": ("speed", "mm/s", "in the middle of the move"),
        "d": _DISTANCE,
        "j": _JERK,
    },
    assumes=(_REST, _LIMITED, "d <= 2 a^3 / j^2, so that the acceleration is never reached"),
    source="2 v sqrt(v / j) = d, solved for v",
    example=Example(
        {"distance": "4 mm", "jerk": "54000 mm/s^3"},
        "60 mm/s",
        1e-12,
        "by hand: 16 * 54000 / 4 = 216000, whose cube root is 60",
    ),
)


def _peak(distance: Any, speed: Any, acceleration: Any, jerk: Any) -> Any:
    """Highest speed that a move gets to, in SI units; the short moves are the formulas' own."""
    d, a, j = np.broadcast_arrays(distance, acceleration, 1.0 if jerk is None else jerk)
    if jerk is None:
        short = short_move_speed(distance=Q(d, "m"), acceleration=Q(a, "m/s^2"))
        return np.minimum(speed, short.to("m/s").magnitude)
    short = jerk_only_speed(distance=Q(d, "m"), jerk=Q(j, "m/s^3"))
    reached = np.asarray(short.to("m/s").magnitude)
    full = d >= 2 * a**3 / j**2
    if np.any(full):
        long = short_jerk_limited_speed(
            distance=Q(d[full], "m"), acceleration=Q(a[full], "m/s^2"), jerk=Q(j[full], "m/s^3")
        )
        reached = reached.copy()
        reached[full] = long.to("m/s").magnitude
    return np.minimum(speed, reached)


def _ramp(speed: Any, acceleration: Any, jerk: Any) -> Any:
    """Time from rest to a speed, in SI units."""
    if jerk is None:
        return speed / acceleration
    full = speed / acceleration + acceleration / jerk
    return np.where(speed >= acceleration**2 / jerk, full, 2 * np.sqrt(speed / jerk))


_MOVE = {"distance": "mm", "speed": "mm/s", "acceleration": "mm/s^2", "jerk": "mm/s^3"}


@with_units("Highest speed of a move", returns="mm/s", **_MOVE)
def peak_speed(*, distance: Any, speed: Any, acceleration: Any, jerk: Any = None) -> Any:
    """Speed that a move from rest to rest gets to: the wanted one, or what a short move allows.

    Parameters
    ----------
    distance : length, any shape
        Of the whole move.
    speed, acceleration : speed, acceleration, broadcast
        Limits.
    jerk : jerk, broadcast, optional
        Limit of the change of acceleration; without it the acceleration jumps.

    Returns
    -------
    Quantity
        mm/s, of the broadcast shape.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(peak_speed(distance="20 mm", speed="300 mm/s", acceleration="3000 mm/s^2"))
    244.9 mm/s

    """
    return _peak(distance, speed, acceleration, jerk)


@with_units("Time of a move", returns="s", **_MOVE)
def move_time(*, distance: Any, speed: Any, acceleration: Any, jerk: Any = None) -> Any:
    """Time of a move from rest to rest, long or short, with or without a limit of jerk.

    In every case the two ramps cover as much as one ramp's time at the highest speed u, so that
    the time is d / u and one ramp; ``long_move_time`` and its neighbours are its cases.

    Parameters
    ----------
    distance : length, any shape
        Of the whole move.
    speed, acceleration : speed, acceleration, broadcast
        Limits; a short move reaches neither.
    jerk : jerk, broadcast, optional
        Limit of the change of acceleration; without it the acceleration jumps.

    Returns
    -------
    Quantity
        s, of the broadcast shape.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(move_time(distance="300 mm", speed="300 mm/s", acceleration="3000 mm/s^2"))
    1.1 s
    >>> print(move_time(distance="300 mm", speed="300 mm/s", acceleration="3000 mm/s^2",
    ...                 jerk="60000 mm/s^3"))
    1.15 s

    """
    reached = _peak(distance, speed, acceleration, jerk)
    return distance / reached + _ramp(reached, acceleration, jerk)
