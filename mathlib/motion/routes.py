"""The route of one belt: two ends, pulleys with a side and a radius, one of them driven.

A toothed belt cannot slip on its driven pulley, so it is two part-lengths, from one end to the
drive and from the drive to the other end. Tangents and arcs give them exactly; their gradient is
exact too, because a pulley's share of it is the difference of its two unit tangents.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.fields import choice, optional, quantity, record
from mathlib.motion import belts
from mathlib.motion.belts import Belt
from mathlib.units import Quantity
from mathlib.words import Word

ON: Final = ("frame", "beam", "carriage")
_PLACE: Final = Word("x", "mm", "of the head", "signed")
_YAW: Final = Word("yaw", "rad", "of the beam", "signed")
_INSIDE: Final = 1.2  # mm; by which two pulleys together may lie inside their pitch circles
_GRAZE: Final = 1e-9  # rad; a wrap this much below zero is one of zero


@record
class Pulley:
    """A pulley as the belt meets it.

    ``x, y`` is its centre, on the frame from the frame's origin, on the beam from the beam's
    origin, on the carriage from the head; ``side`` is where it lies, seen along the belt. A
    toothed one has ``teeth`` and ``pitch``; a smooth one a ``diameter`` and the ``face`` of the
    belt that runs on it.
    """

    x: Quantity = quantity("mm", "of the centre", sign="signed")
    y: Quantity = quantity("mm", "of the centre", sign="signed")
    on: str = choice(ON, "what carries it")
    side: str = choice(("left", "right"), "where it lies, seen along the belt")
    teeth: Quantity | None = optional("1", "of a toothed pulley")
    pitch: Quantity | None = optional("mm", "of a toothed pulley")
    diameter: Quantity | None = optional("mm", "of a smooth pulley")
    face: str = choice(("teeth", "back"), "of the belt that runs on it", "teeth")

    def pitch_radius(self, belt: Belt) -> Quantity:
        """Radius on which the belt's cords run.

        Raises
        ------
        ValueRefused
            The pulley has neither teeth nor a diameter, or the belt lacks a thickness.

        """
        if self.teeth is not None:
            diameter = belts.pitch_diameter(pitch=self.pitch or belt.pitch, teeth=self.teeth)
            half: Quantity = diameter / 2.0
            return half
        if self.diameter is None:
            raise ValueRefused("Pulley: give teeth, or the diameter of a smooth pulley.")
        if belt.tooth_height is None or belt.pitch_line_differential is None:
            raise ValueRefused(
                "Belt: a smooth pulley needs tooth_height and pitch_line_differential."
            )
        if self.face == "teeth":
            return belts.smooth_radius_teeth(
                diameter=self.diameter,
                tooth_height=belt.tooth_height,
                pitch_line_differential=belt.pitch_line_differential,
            )
        if belt.thickness is None:
            raise ValueRefused("Belt: a pulley on the belt's back needs the belt's thickness.")
        return belts.smooth_radius_back(
            diameter=self.diameter,
            thickness=belt.thickness,
            tooth_height=belt.tooth_height,
            pitch_line_differential=belt.pitch_line_differential,
        )


class Node(NamedTuple):
    """A point or circle that the belt meets, in millimetres; ``turn`` is +1 left, -1 right."""

    name: str
    x: float
    y: float
    on: str
    radius: float = 0.0
    turn: float = 0.0


class Pose(NamedTuple):
    """Where head and beam are: arrays in millimetres and radians, broadcast together."""

    x: Any
    y: Any
    yaw: Any
    pivot_x: float


class BeltPath:
    """A belt from one end to the other; nodes in order, the first and last are its ends.

    Parameters
    ----------
    nodes : sequence of Node
        Ends and pulleys in the order in which the belt meets them.
    driven : int, or a pair of them
        Index of the driven pulley; one belt round both axes has two.
    pivot_x : float
        Place along x, in mm, about which the beam turns when it yaws.
    name : str
        Of the belt, for sentences.

    """

    def __init__(
        self,
        nodes: Sequence[Node],
        driven: int | tuple[int, ...],
        pivot_x: float,
        name: str = "belt",
    ) -> None:
        self.drives = (driven,) if isinstance(driven, int) else tuple(driven)
        inside = all(0 < number < len(nodes) - 1 for number in self.drives)
        if not self.drives or not inside or list(self.drives) != sorted(set(self.drives)):
            raise ValueRefused(f"{name}: driven pulleys lie in order between the two ends.")
        self.nodes, self.pivot_x, self.name = tuple(nodes), pivot_x, name
        self.driven = self.drives[0]

    def part_of(self, number: int) -> int:
        """Part of the belt that a node lies on; a driven pulley begins the next."""
        return sum(drive <= number for drive in self.drives)

    @property
    def passing(self) -> Any:
        """What each part gains when a drive lets belt through: shape (parts, drives)."""
        found = np.zeros((len(self.drives) + 1, len(self.drives)))
        for drive in range(len(self.drives)):
            found[drive, drive], found[drive + 1, drive] = 1.0, -1.0
        return found

    def part_lengths(self, x: Any, y: Any, yaw: Any = "0 rad") -> tuple[Quantity, ...]:
        """Lengths from the first end to the drive, and from the drive to the last end.

        A belt with two drives has a third between them.

        Parameters
        ----------
        x, y : length, broadcast together
            Place of the head.
        yaw : angle
            Of the beam; 0 when it is square to its rails.

        Returns
        -------
        tuple of Quantity
            In mm, of the broadcast shape.

        Raises
        ------
        ValueRefused
            The route cannot exist there; the pulley is named.

        """
        return tuple(units.Q(length, "mm") for length in self.lengths(self.pose(x, y, yaw)))

    def pose(self, x: Any, y: Any, yaw: Any = "0 rad") -> Pose:
        """Read a place; bare zero is taken for a yaw of none."""
        yaw = "0 rad" if isinstance(yaw, int | float) and yaw == 0 else yaw
        read = [words.base_value(_PLACE, value) for value in (x, y)]
        return Pose(read[0] * 1e3, read[1] * 1e3, words.base_value(_YAW, yaw), self.pivot_x)

    def lengths(self, at: Pose) -> tuple[Any, ...]:
        """Part-lengths in mm for a pose in mm and radians."""
        runs, tangents = self.runs(at)
        wraps = self._wraps(tangents)
        parts: list[list[Any]] = [[] for _ in range(len(self.drives) + 1)]
        for number, run in enumerate(runs):
            parts[self.part_of(number)].append(run)
        for number, wrap in wraps.items():
            radius, part = self.nodes[number].radius, self.part_of(number)
            if number in self.drives:
                before = self._before_mark(number, tangents, at)
                parts[part - 1].append(radius * before)
                parts[part].append(radius * (wrap - before))
            else:
                parts[part].append(radius * wrap)
        shape = _shape(at)
        return tuple(_sum(part, shape) for part in parts)

    def _before_mark(self, number: int, tangents: list[tuple[Any, Any]], at: Pose) -> Any:
        """Wrap on a driven pulley before a mark that its mount carries.

        The mark points where the belt lies at the middle of its wrap with the head at the origin;
        measured from it, both arcs change with the tangents alone.
        """
        node = self.nodes[number]
        mark = self._marks[number] + (at.yaw if node.on != "frame" else 0.0)
        before = _turned(tangents[number - 1], node.turn, mark)
        return np.where(before > np.pi, before - 2 * np.pi, before)

    @cached_property
    def _marks(self) -> dict[int, float]:
        """Direction of the belt at the middle of its wrap on each driven pulley."""
        _, tangents = self.runs(Pose(0.0, 0.0, 0.0, self.pivot_x))
        wraps = self._wraps(tangents)
        found = {}
        for number in self.drives:
            into = tangents[number - 1]
            half = self.nodes[number].turn * wraps[number] / 2
            found[number] = float(np.arctan2(into[1], into[0]) + half)
        return found

    def gradients(self, at: Pose) -> tuple[Any, ...]:
        """Gradients of the part-lengths by x, y and yaw: shape (..., 3); mm, mm, mm per rad."""
        _, tangents = self.runs(at)
        count = len(self.drives) + 1
        terms: list[list[list[Any]]] = [[[], [], []] for _ in range(count)]
        for number, node in enumerate(self.nodes):
            if node.on == "frame":
                continue
            for part, share in self._shares(number, tangents):
                for axis, term in enumerate(_moved(node, share, at)):
                    terms[part][axis].append(term)
            if number in self.drives:  # a motor that turns with the beam winds its belt
                part = self.part_of(number)
                terms[part - 1][2].append(node.turn * node.radius)
                terms[part][2].append(-node.turn * node.radius)
        made = np.empty((count, *_shape(at), 3))
        for part in range(count):
            for axis in (0, 1, 2):
                made[part, ..., axis] = _sum(terms[part][axis], ())
        return tuple(made)

    def curvatures(self, at: Pose) -> tuple[Any, ...]:
        """Second derivatives of the part-lengths: shape (..., 3, 3); 1/mm, 1, mm.

        A run that turns by its ends' step across it lengthens by the square of that step over
        its length, as in a truss; arcs add nothing. Yaw also moves a node along a circle.
        """
        runs, tangents = self.runs(at)
        shape = _shape(at)
        made = np.zeros((len(self.drives) + 1, *shape, 3, 3))
        moves = [_jacobian(node, at, shape) for node in self.nodes]
        for number, (run, (u_x, u_y)) in enumerate(zip(runs, tangents, strict=True)):
            step = moves[number + 1] - moves[number]
            across = step[..., 1, :] * np.asarray(u_x)[..., None]
            across = across - step[..., 0, :] * np.asarray(u_y)[..., None]
            outer = across[..., :, None] * across[..., None, :]
            made[self.part_of(number)] += outer / np.asarray(run)[..., None, None]
        for number, node in enumerate(self.nodes):
            if node.on != "frame":
                for part, share in self._shares(number, tangents):
                    _add_turning(made[part], node, share, at)
        return tuple(made)

    def _shares(
        self, number: int, tangents: list[tuple[Any, Any]]
    ) -> list[tuple[int, tuple[Any, Any]]]:
        """Pull of a node on the parts that it touches: the difference of its unit tangents."""
        into = tangents[number - 1] if number else (0.0, 0.0)
        out = tangents[number] if number < len(self.nodes) - 1 else (0.0, 0.0)
        part = self.part_of(number)
        if number in self.drives:
            return [(part - 1, into), (part, (-out[0], -out[1]))]
        return [(part, (into[0] - out[0], into[1] - out[1]))]

    def fixed_runs(self) -> list[tuple[float, str]]:
        """Lengths in mm of the straight runs between neighbours on one body, and which body."""
        runs, _ = self.runs(Pose(0.0, 0.0, 0.0, self.pivot_x))
        pairs = zip(self.nodes, self.nodes[1:], runs, strict=False)
        return [(float(run), a.on) for a, b, run in pairs if a.on == b.on and a.radius and b.radius]

    def places(self, at: Pose) -> list[tuple[Any, Any]]:
        """Centres of all nodes in mm."""
        found = []
        for node in self.nodes:
            if node.on == "frame":
                found.append((node.x, node.y))
                continue
            arm_x, arm_y = _arm(node, at)
            cos, sin = np.cos(at.yaw), np.sin(at.yaw)
            found.append((at.pivot_x + cos * arm_x - sin * arm_y, at.y + sin * arm_x + cos * arm_y))
        return found

    def runs(self, at: Pose) -> tuple[list[Any], list[tuple[Any, Any]]]:
        """Length and unit direction of each straight run."""
        runs, tangents = [], []
        centres = self.places(at)
        for number in range(len(self.nodes) - 1):
            a, b = self.nodes[number], self.nodes[number + 1]
            if a.on != "frame" and b.on != "frame":  # both ride on the beam: y does not enter
                dx, dy = _rotated(_arm(b, at), _arm(a, at), at.yaw)
            else:
                dx = centres[number + 1][0] - centres[number][0]
                dy = centres[number + 1][1] - centres[number][1]
            shift = b.turn * b.radius - a.turn * a.radius
            square = dx * dx + dy * dy
            left = square - shift * shift
            needed = abs(shift)
            if a.on == b.on and a.radius > 0 and b.radius > 0:  # even on one side of the belt
                needed = max(needed, a.radius + b.radius - _INSIDE)
            if np.any(square <= needed * needed):
                apart = float(np.sqrt(np.min(square)))
                raise ValueRefused(
                    f"{self.name}: {a.name} and {b.name} overlap or touch: their centres come "
                    f"within {apart:.4g} mm, and the belt needs more than {needed:.4g} mm."
                )
            run = np.sqrt(left)
            runs.append(run)
            tangents.append(((run * dx + shift * dy) / square, (run * dy - shift * dx) / square))
        return runs, tangents

    def _wraps(self, tangents: list[tuple[Any, Any]]) -> dict[int, Any]:
        """Angle of wrap on each pulley in radians."""
        found = {}
        for number in range(1, len(self.nodes) - 1):
            node = self.nodes[number]
            out = tangents[number]
            wrap = _turned(tangents[number - 1], node.turn, np.arctan2(out[1], out[0]))
            if np.any(wrap > 1.9 * np.pi):
                raise ValueRefused(
                    f"{self.name}: the belt does not reach round {node.name}: it would pass "
                    f"through it. Put the pulley on the other side, or move it."
                )
            found[number] = wrap
        return found


def _shape(at: Pose) -> tuple[int, ...]:
    return np.broadcast_shapes(np.shape(at.x), np.shape(at.y), np.shape(at.yaw))


def _sum(terms: list[Any], shape: tuple[int, ...]) -> Any:
    """Add terms, the small arrays first, so that few sums run over the whole field."""
    total: Any = np.zeros(())
    for term in sorted(terms, key=np.size):
        total = total + term
    return total if np.shape(total) == shape or not shape else np.broadcast_to(total, shape) + 0.0


def _moved(node: Node, share: tuple[Any, Any], at: Pose) -> tuple[Any, Any, Any]:
    """Give what a node's pull does along x, y and yaw of head and beam."""
    cos, sin = np.cos(at.yaw), np.sin(at.yaw)
    along, across = _arm(node, at)
    by_x = share[0] * cos + share[1] * sin if node.on == "carriage" else 0.0
    by_yaw = share[1] * (cos * along - sin * across) - share[0] * (sin * along + cos * across)
    return by_x, share[1], by_yaw


def _jacobian(node: Node, at: Pose, shape: tuple[int, ...]) -> Any:
    """Motion of a node's centre for x, y and yaw: shape (..., 2, 3)."""
    found = np.zeros((*shape, 2, 3))
    if node.on == "frame":
        return found
    cos, sin = np.cos(at.yaw), np.sin(at.yaw)
    along, across = _arm(node, at)
    if node.on == "carriage":
        found[..., 0, 0], found[..., 1, 0] = cos, sin
    found[..., 1, 1] = 1.0
    found[..., 0, 2] = -sin * along - cos * across
    found[..., 1, 2] = cos * along - sin * across
    return found


def _add_turning(total: Any, node: Node, share: tuple[Any, Any], at: Pose) -> None:
    """Add what the node's own circle about the pivot gives: yaw twice, and x with yaw."""
    cos, sin = np.cos(at.yaw), np.sin(at.yaw)
    along, across = _arm(node, at)
    total[..., 2, 2] -= share[0] * (cos * along - sin * across)
    total[..., 2, 2] -= share[1] * (sin * along + cos * across)
    if node.on == "carriage":
        mixed = share[1] * cos - share[0] * sin
        total[..., 0, 2] += mixed
        total[..., 2, 0] += mixed


def _rotated(end: tuple[Any, float], start: tuple[Any, float], yaw: Any) -> tuple[Any, Any]:
    """Turn the step from one place on the beam to another into the frame."""
    along, across = end[0] - start[0], end[1] - start[1]
    cos, sin = np.cos(yaw), np.sin(yaw)
    return cos * along - sin * across, sin * along + cos * across


def _arm(node: Node, at: Pose) -> tuple[Any, float]:
    """Place of a moving node from the beam's pivot, along and across the beam, in mm."""
    along = node.x - at.pivot_x + (at.x if node.on == "carriage" else 0.0)
    return along, node.y


def _turned(into: tuple[Any, Any], turn: float, out: Any) -> Any:
    """Angle by which the belt turns round a pulley, from 0 to a whole turn."""
    angle = turn * (out - np.arctan2(into[1], into[0]))
    return np.mod(angle + _GRAZE, 2 * np.pi) - _GRAZE
