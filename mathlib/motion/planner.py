"""A whole path under limits of speed and acceleration: forward and backward pass, in closed form.

In squared speed w both passes are running minima. With S the sum of 2 a l up to a corner, a head
that never speeds up harder than a has w_k - S_k no larger than at any corner before, and one that
never brakes harder has w_k + S_k no larger than at any corner after. Two cumulative minima over
the corners' limits are the whole plan, linear in the number of segments.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from mathlib.errors import ValueRefused
from mathlib.motion.gantry import Gantry
from mathlib.paths import Path
from mathlib.units import Q, Quantity
from mathlib.words import with_units

_SHORTEST = 1e-9  # m: a segment below a nanometre has no direction to speak of


class Plan(NamedTuple):
    """How long a path takes, and how fast the head goes along it.

    ``naive_time`` is length over wanted speed, the estimate that forgets ramps and corners.
    """

    time: Quantity
    marking_time: Quantity
    travel_time: Quantity
    pause_time: Quantity
    naive_time: Quantity
    segment_time: Quantity  # (n - 1,) s
    corner_speed: Quantity  # (n,) mm/s, at each point
    velocity_step: Quantity  # (n,) mm/s, left at each point


@with_units(
    "Time along a path",
    speed="mm/s",
    acceleration="mm/s^2",
    deviation="mm",
    travel_speed="mm/s",
    pause=("s", "zero"),
)
def plan(
    *,
    path: Path,
    speed: Any,
    acceleration: Any,
    deviation: Any,
    travel_speed: Any = None,
    look_ahead: int | None = None,
    pause: Any = "0 s",
) -> Plan:
    """Plan the quickest run along a path, from rest to rest, and tell how long it takes.

    Each corner is passed no faster than an arc that cuts it by ``deviation`` could be driven
    (``fillet_radius``, ``arc_speed``), and no faster than an arc that touches both legs within
    half of the shorter one: a curve made of short segments is so driven at the speed of the
    curve. The head is not taken to round the corner; the jump of velocity is reported.

    Parameters
    ----------
    path : paths.Path
        n points.
    speed : speed, scalar or (n - 1,)
        Wanted along each segment, marking.
    acceleration : acceleration, scalar
        Along the path, and towards the middle of corners.
    deviation : length, scalar
        By which the arc that limits the speed may cut a corner.
    travel_speed : speed, scalar or (n - 1,), optional
        Along segments that are not marked; without it as ``speed``.
    look_ahead : int, optional
        Segments that the controller has planned beyond the one it drives; it must be able to stop
        at the end of those. Without it the whole path is known.
    pause : time
        Standing still at each change between marking and travel, such as the lift of a pen; more
        than zero makes the head stop there.

    Returns
    -------
    Plan
        Times and speeds.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; arrays of the wrong length; a look-ahead below one.

    Examples
    --------
    >>> square = Path(points=Q([[0, 0], [50, 0], [50, 50], [0, 50], [0, 0]], "mm"), on=True)
    >>> told = plan(path=square, speed="100 mm/s", acceleration="1000 mm/s^2", deviation="0.02 mm")
    >>> print(told.time, told.naive_time)
    2.36 s 2 s

    """
    if not isinstance(path, Path):
        raise ValueRefused(f"Time along a path: path is a paths.Path; got {type(path).__name__}.")
    segments = len(path.on)
    for word, value in (("acceleration", acceleration), ("deviation", deviation), ("pause", pause)):
        if np.ndim(value):
            raise ValueRefused(f"Time along a path: {word} is one value for the whole path.")
    if look_ahead is not None and (
        isinstance(look_ahead, bool) or not isinstance(look_ahead, int) or look_ahead < 1
    ):
        raise ValueRefused(
            f"Time along a path: look_ahead is a whole number of segments from 1; got {look_ahead}."
        )
    marked = _each("speed", speed, segments)
    moved = marked if travel_speed is None else _each("travel_speed", travel_speed, segments)
    wanted = np.where(path.on, marked, moved)

    points = path.points.to("m").magnitude
    steps = np.diff(points, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    kept = lengths > _SHORTEST
    naive = float(np.sum(lengths / wanted))
    stops = _changes(path.on) if pause else np.zeros(segments - 1, dtype=bool)
    pauses = float(pause * np.count_nonzero(_changes(path.on)))
    times, speeds, jumps = np.zeros(segments), np.zeros(segments + 1), np.zeros(segments + 1)
    if np.any(kept):
        # A stop on either side of a segment without length counts for the corner that is left.
        group = np.cumsum(kept)[:-1]
        stop = np.bincount(group[stops], minlength=int(kept.sum()) + 1)[1:-1] > 0
        run = _Run(steps[kept], lengths[kept], wanted[kept], acceleration, deviation)
        squared = run.passes(run.limits(stop, look_ahead))
        times[kept] = run.times(squared)
        at = np.concatenate([[0], np.cumsum(kept)])
        speeds = np.sqrt(squared)[at]
        jumps = np.concatenate([[0.0], run.jumps(np.sqrt(squared)[1:-1]), [0.0]])[at]
    return Plan(
        time=Q(float(times.sum()) + pauses, "s"),
        marking_time=Q(float(times[path.on].sum()), "s"),
        travel_time=Q(float(times[~path.on].sum()), "s"),
        pause_time=Q(pauses, "s"),
        naive_time=Q(naive, "s"),
        segment_time=Q(times, "s"),
        corner_speed=Q(speeds * 1e3, "mm/s"),
        velocity_step=Q(jumps * 1e3, "mm/s"),
    )


def _each(word: str, value: Any, segments: int) -> Any:
    if np.shape(value) not in ((), (segments,)):
        raise ValueRefused(
            f"Time along a path: {word} is one value or one for each of the {segments} segments; "
            f"got the shape {np.shape(value)}."
        )
    return np.broadcast_to(value, (segments,))


def _changes(on: Any) -> Any:
    """Tell at which inner points marking begins or ends."""
    return on[1:] != on[:-1]


class _Run:
    """Segments with a length, in SI units."""

    def __init__(self, steps: Any, lengths: Any, wanted: Any, acceleration: Any, deviation: Any):
        self.lengths, self.wanted = lengths, wanted
        self.acceleration, self.deviation = acceleration, deviation
        ahead = steps / lengths[:, None]
        along = np.sum(ahead[:-1] * ahead[1:], axis=1)
        across = np.abs(ahead[:-1, 0] * ahead[1:, 1] - ahead[:-1, 1] * ahead[1:, 0])
        # Cotangent of half the turn, from whichever form does not cancel; infinite straight on.
        with np.errstate(divide="ignore", invalid="ignore"):
            self.half_turn = np.where(along < 0, across / (1 - along), (1 + along) / across)
        self.stopping = np.concatenate([[0.0], np.cumsum(2 * acceleration * lengths)])

    def limits(self, stop: Any, look_ahead: int | None) -> Any:
        """Squared speed that each corner allows by itself; the ends and stops allow none."""
        g = self.half_turn
        within = self.deviation * g * (np.sqrt(g * g + 1) + g)  # fillet_radius, in g
        half = np.minimum(self.lengths[:-1], self.lengths[1:]) / 2
        corner = self.acceleration * np.minimum(within, half * g)
        slower = np.minimum(self.wanted[:-1], self.wanted[1:])
        inner = np.where(stop, 0.0, np.minimum(corner, slower**2))
        every = np.concatenate([[0.0], inner, [0.0]])
        if look_ahead is None:
            return every
        last = np.minimum(np.arange(every.size) + look_ahead, every.size - 1)
        return np.minimum(every, self.stopping[last] - self.stopping)

    def passes(self, limits: Any) -> Any:
        """Squared speed at each corner that can be reached from before and braked to after."""
        forward = self.stopping + np.minimum.accumulate(limits - self.stopping)
        backward = np.minimum.accumulate((forward + self.stopping)[::-1])[::-1] - self.stopping
        return np.clip(backward, 0.0, limits)

    def times(self, squared: Any) -> Any:
        """Time of each segment: a trapezoid, or a triangle, of speed."""
        a, w0, w1 = self.acceleration, squared[:-1], squared[1:]
        top = np.minimum(self.wanted**2, (w0 + w1) / 2 + a * self.lengths)
        fast = np.sqrt(top)
        cruise = np.maximum(self.lengths - (2 * top - w0 - w1) / (2 * a), 0.0)
        return (2 * fast - np.sqrt(w0) - np.sqrt(w1)) / a + cruise / fast

    def jumps(self, speeds: Any) -> Any:
        """Jump of the velocity at the inner corners: ``velocity_step``, in g."""
        return 2 * speeds / np.sqrt(self.half_turn**2 + 1)


def belt_limited_speed(path: Path, gantry: Gantry, highest_belt_speed: Any) -> Quantity:
    """Highest speed of the head along each segment for a limit of the belts' speed.

    Where one motor of crossed belts does all the work, along a diagonal, it runs √2 faster than
    the head.

    Parameters
    ----------
    path : paths.Path
        n points.
    gantry : Gantry
        Whose belts move the head.
    highest_belt_speed : speed
        A controller's highest step rate over the steps per length, or a motor's.

    Returns
    -------
    Quantity
        mm/s, shape (n - 1,): the lower value of both ends of the segment.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> drive = load(TAGMAKER).drive
    >>> corner = Path(points=Q([[0, 0], [50, 0], [90, 40]], "mm"), on=True)
    >>> print(belt_limited_speed(corner, drive.gantry, "100 mm/s"))
    [100 70.71] mm/s

    """
    if not isinstance(path, Path) or not isinstance(gantry, Gantry):
        raise ValueRefused(
            "Speed that the belts allow: path is a paths.Path and gantry a Gantry; got "
            f"{type(path).__name__} and {type(gantry).__name__}."
        )
    points = path.points.to("mm").magnitude
    steps = np.diff(points, axis=0)
    direction = Q(np.arctan2(steps[:, 1], steps[:, 0]), "rad")
    ends = [
        gantry.fastest_speed(highest_belt_speed, direction, Q(at[:, 0], "mm"), Q(at[:, 1], "mm"))
        for at in (points[:-1], points[1:])
    ]
    return Q(np.minimum(*(end.magnitude for end in ends)), "mm/s")
