"""What a path is: points, and along which segments the tool marks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, NamedTuple

import attrs
import numpy as np

from mathlib import units, words
from mathlib.errors import MathlibError, ValueRefused
from mathlib.units import Q, Quantity
from mathlib.words import Mistakes, Word

#: Points that one drawing may have; a square metre of fine lines has fewer.
MOST_POINTS: Final = 2_000_000
#: How far from the origin a point may lie, in mm; beyond it a unit went wrong.
FARTHEST: Final = 1e5
_POINTS: Final = Word("points", "mm", "one row of x and y for each", "signed")


class Beyond(NamedTuple):
    """By how much a path leaves a work area on each side, and how many of its points do."""

    left: Quantity
    right: Quantity
    front: Quantity
    back: Quantity
    points: int

    def __str__(self) -> str:
        """Say it in a sentence."""
        sides = [
            f"{units.show(value, 3)} {where}"
            for where, value in (
                ("to the left", self.left),
                ("to the right", self.right),
                ("in front", self.front),
                ("behind", self.back),
            )
            if value.magnitude > 0
        ]
        if not sides:
            return "All of it lies within the work area."
        count = "one point lies" if self.points == 1 else f"{self.points} points lie"
        return f"{count} outside the work area: {', '.join(sides)}.".capitalize()


def _as_on(value: Any) -> Any:
    """Read marks as an array of truth values, or leave what is none for the check."""
    return np.array(value) if isinstance(value, bool | list | tuple | np.ndarray) else value


@attrs.frozen(kw_only=True, eq=False)
class Path:
    """Points joined by straight segments; the tool marks along some, and travels along the others.

    Parameters
    ----------
    points : length, shape (n, 2)
        x and y of n points, n at least 2.
    on : bool, or (n - 1,) of bool
        Whether the tool marks, one for each segment: ``on[i]`` is for the way from point i to
        point i + 1. One truth value stands for all segments.

    Raises
    ------
    UnitError, ValueRefused
        Points without a length, of another shape, too far away; marks that are no truth values.

    Examples
    --------
    >>> corner = Path(points=[["0 mm", "0 mm"], ["3 cm", "0 mm"], ["3 cm", "40 mm"]], on=True)
    >>> print(corner.length, corner.travel)
    70 mm 0 mm

    """

    points: Quantity
    on: Any = attrs.field(default=True, converter=_as_on)

    def __attrs_post_init__(self) -> None:
        """Read the points, and check both shapes."""
        mistakes = Mistakes("Path")
        at = np.zeros((2, 2))
        try:
            at = np.array(words.base_value(_POINTS, self.points), dtype=float) * 1e3
        except MathlibError as fault:
            mistakes.add(type(fault), str(fault))
        if at.ndim != 2 or at.shape[1] != 2 or len(at) < 2:
            mistakes.add(
                ValueRefused,
                f"points are rows of x and y, two rows at least; got the shape {at.shape}.",
            )
        elif len(at) > MOST_POINTS:
            mistakes.add(ValueRefused, f"there are {len(at)} points, and at most {MOST_POINTS}.")
        elif np.max(np.abs(at)) > FARTHEST:
            mistakes.add(
                ValueRefused,
                f"a point lies {np.max(np.abs(at)):.3g} mm away, farther than {FARTHEST:g} mm: "
                "look at the unit.",
            )
        on = self.on
        shapes = ((), (max(len(at) - 1, 0),)) if at.ndim else ((),)
        if not isinstance(on, np.ndarray) or on.dtype != bool or on.shape not in shapes:
            got = f"shape {on.shape} of {on.dtype}" if isinstance(on, np.ndarray) else repr(on)
            mistakes.add(
                ValueRefused,
                f"on is True or False, or one of them for each segment, one fewer than points; "
                f"got {got}.",
            )
        mistakes.stop()
        on = np.array(np.broadcast_to(on, (len(at) - 1,)))
        points = Q(at, "mm")
        points.magnitude.flags.writeable = on.flags.writeable = False
        object.__setattr__(self, "points", points)
        object.__setattr__(self, "on", on)

    @classmethod
    def from_polylines(cls, polylines: Sequence[Any]) -> Path:
        """Join polylines in their order: marked along each, travelled from one to the next.

        >>> lines = [Q([[0, 0], [10, 0]], "mm"), Q([[0, 5], [10, 5]], "mm")]
        >>> print(Path.from_polylines(lines).length)
        20 mm
        """
        parts = [Path(points=line) for line in polylines]
        return joined([part.points.magnitude for part in parts])

    @property
    def lengths(self) -> Quantity:
        """Length of each segment, shape (n - 1,)."""
        steps = np.diff(self.points.magnitude, axis=0)
        return Q(np.hypot(steps[:, 0], steps[:, 1]), "mm")

    @property
    def length(self) -> Quantity:
        """Length that is marked."""
        return Q(float(self.lengths.magnitude[self.on].sum()), "mm")

    @property
    def travel(self) -> Quantity:
        """Length that is travelled without marking."""
        return Q(float(self.lengths.magnitude[~self.on].sum()), "mm")

    @property
    def bounds(self) -> Quantity:
        """Lowest and highest x and y of all points: shape (2, 2), rows low and high."""
        at = self.points.magnitude
        return Q(np.array([at.min(axis=0), at.max(axis=0)]), "mm")

    @property
    def polylines(self) -> list[Quantity]:
        """Points of each run of marked segments."""
        edges = np.flatnonzero(np.diff(np.concatenate([[False], self.on, [False]]).astype(int)))
        at = self.points.magnitude
        runs = zip(edges[::2], edges[1::2], strict=True)
        return [Q(at[first : last + 1], "mm") for first, last in runs]

    def beyond(self, travel_x: Any, travel_y: Any) -> Beyond:
        """Tell what lies outside a work area from (0, 0) to (travel_x, travel_y), and by how much.

        >>> far = Path(points=Q([[0, 0], [500, 10]], "mm"))
        >>> print(far.beyond("420 mm", "300 mm"))
        One point lies outside the work area: 80 mm to the right.
        """
        ends = [
            words.base_value(Word(name, "mm", "of the work area"), value) * 1e3
            for name, value in (("travel_x", travel_x), ("travel_y", travel_y))
        ]
        at = self.points.magnitude
        slack = 1e-9 * max(ends)  # what rounding does to a point on the edge is not outside
        low, high = np.maximum(-at, 0.0), np.maximum(at - ends, 0.0)
        out = np.maximum(low, high)
        (left, front), (right, back) = (
            np.where(part.max(axis=0) > slack, part.max(axis=0), 0.0) for part in (low, high)
        )
        count = int(np.count_nonzero(out.max(axis=1) > slack))
        left, right, front, back = (Q(float(v), "mm") for v in (left, right, front, back))
        return Beyond(left, right, front, back, count)

    def __repr__(self) -> str:
        """Count and lengths; the points themselves are many."""
        return (
            f"Path of {len(self.on) + 1} points, {units.show(self.length)} marked and "
            f"{units.show(self.travel)} travelled"
        )


def joined(parts: Sequence[Any]) -> Path:
    """Join arrays of points in mm: marked along each, travelled from one to the next."""
    if not parts:
        raise ValueRefused("Path: there is no polyline with a length.")
    ends = np.cumsum([len(part) for part in parts])
    on = np.ones(ends[-1] - 1, dtype=bool)
    on[ends[:-1] - 1] = False
    return Path(points=Q(np.concatenate(parts), "mm"), on=on)


@attrs.frozen(kw_only=True, eq=False)
class Drawing:
    """What was read from a file.

    ``path`` has everything in the order of the file, ``layers`` the same by layer; ``notes`` say
    what was assumed and what was left out; ``size`` is the sheet, where the file states one.
    """

    file: str
    path: Path
    layers: dict[str, Path]
    notes: tuple[str, ...] = ()
    size: Quantity | None = None

    def __repr__(self) -> str:
        """Name, path, layers and notes."""
        lines = [f"{self.file}: {self.path!r}"]
        lines += [f"  layer {name or '(none)'}: {part!r}" for name, part in self.layers.items()]
        return "\n".join([*lines, *(f"  {note}" for note in self.notes)])
