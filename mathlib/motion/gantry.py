"""A gantry: two belts, a beam and a carriage, with all that follows from the belts' lengths.

Motor travel, forces, racking, stiffness, the error of runs that are not parallel and the length to
order are derivatives of the part-lengths of two routes; only the routes are written down.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any, NamedTuple

import attrs
import numpy as np

from mathlib import words
from mathlib.fields import choice, optional, part, quantity, record
from mathlib.motion.belts import Belt
from mathlib.motion.drive import BELTS
from mathlib.motion.routes import BeltPath, Node, Pose, Pulley
from mathlib.units import Q, Quantity
from mathlib.words import Word

_FORCE = Word("force", "N", "along the belt", "signed")


@record
class Layout:
    """What a gantry is built from.

    ``pulleys`` is one sequence for each belt, in the order in which the belt meets them; without
    it the usual places are taken. ``run_offset`` moves the frame's idlers out of line, so that
    the moving runs are not parallel to the rails.
    """

    belts: str = choice(BELTS, "how the belts run")
    rail_spacing: Quantity = quantity("mm", "between the two planes of the y runs")
    travel_x: Quantity = quantity("mm", "of the head along the beam")
    travel_y: Quantity = quantity("mm", "of the beam along its rails")
    belt: Belt = part("of both loops")
    pulleys: tuple[tuple[Pulley, ...], ...] | None = part("for each belt, in order", None)
    run_offset: Quantity = quantity(
        "mm", "by which the moving runs leave their line", sign="signed", default="0 mm"
    )
    overrun: Quantity | None = optional("mm", "from the end of travel to the nearest pulley")
    teeth: Quantity = quantity("1", "of the usual pulleys", default="20 1")

    @property
    def taken_overrun(self) -> Quantity:
        """The overrun that is told, or else three radii of the usual pulleys."""
        if self.overrun is not None:
            return self.overrun
        radius = self.belt.pitch.to("mm").magnitude * self.teeth.magnitude / (2 * np.pi)
        return Q(3 * radius, "mm")


class Stiffness(NamedTuple):
    """Stiffness at the head: forces by displacements, motors held."""

    translation: Quantity  # (..., 2, 2) N/mm
    coupling: Quantity  # (..., 2) N/rad
    yaw: Quantity  # (...) N*m/rad


class RunError(NamedTuple):
    """What runs that are not parallel do: error of place, and swing of tension in each belt."""

    position: Quantity  # (..., 2) mm
    tension: Quantity  # (..., 2) N


class Tolerance(NamedTuple):
    """How far one pulley may be out of place along x, along y."""

    pulley: str
    x: Quantity
    y: Quantity


class Parts(NamedTuple):
    """All part-lengths of all belts: mm; N/mm; by x, y and yaw, mm, mm and mm per rad."""

    lengths: Any
    springs: Any
    gradients: Any


class Cure(NamedTuple):
    """By how much to move one pulley, and the worst error that is left then."""

    pulley: str
    x: Quantity
    y: Quantity
    left: Quantity


@attrs.frozen(eq=False, slots=False)
class Gantry:
    """Two belts with their routes, or two belts of which each drives one axis.

    ``paths`` has the routes; ``senses``, one for each drive, the sign of motor travel that makes
    a = x + y, b = x - y (crossed) or a = x, b = y (plain).
    """

    layout: Layout
    paths: tuple[BeltPath, ...]
    senses: tuple[float, ...]

    # -- geometry -----------------------------------------------------------------------------

    def travel_matrix(self, x: Any, y: Any) -> Quantity:
        """Belt travel at each motor for each travel of the head.

        Returns
        -------
        Quantity
            Plain numbers, shape (..., 2, 2): rows motor a, b; columns x, y.

        """
        # The motor travels that fit all parts best; where runs are parallel they fit exactly.
        parts = np.stack([g[..., :2] for g in self._every("gradients", x, y)], axis=-2)
        return Q(np.linalg.pinv(self.passing) @ parts, "1")

    @cached_property
    def passing(self) -> Any:
        """Belt that each part gains for each motor's travel: shape (all parts, 2)."""
        rows = []
        motors = iter(self.motor_of)
        senses = iter(self.senses)
        for path in self.paths:
            row = np.zeros((len(path.drives) + 1, 2))
            for drive in range(len(path.drives)):
                row[:, next(motors)] += next(senses) * path.passing[:, drive]
            rows.append(row)
        return np.concatenate(rows)

    @property
    def motor_of(self) -> tuple[int, ...]:
        """Motor of each drive; two belts on one shaft share one."""
        return (0, 1, 1)[: len(self.senses)]

    def parts(self, x: Any, y: Any) -> Parts:
        """Lengths, spring rates and gradients of all parts with the head at one place."""
        lengths = np.array(self._every("lengths", x, y))
        gradients = np.array(self._every("gradients", x, y))
        specific = np.asarray(self.layout.belt.specific_stiffness.to("N").magnitude)
        return Parts(lengths, np.array([specific / length for length in lengths]), gradients)

    def _every(self, of: str, x: Any, y: Any) -> list[Any]:
        """Lengths, gradients or curvatures of all parts of all belts, in order."""
        return [value for path in self.paths for value in getattr(path, of)(path.pose(x, y))]

    def belt_speeds(self, speed: Any, direction: Any, x: Any, y: Any) -> Quantity:
        """Belt speed at each motor for a speed of the head.

        Parameters
        ----------
        speed : speed
            Of the head.
        direction : angle
            Of travel, from the x axis towards y.
        x, y : length
            Place of the head.

        Returns
        -------
        Quantity
            mm/s, shape (..., 2): motors a, b; the sign is that of the motor's turn.

        """
        size = words.base_value(Word("speed", "mm/s", "", "zero"), speed) * 1e3
        angle = words.base_value(Word("direction", "deg", "", "signed"), direction)
        moved = np.stack(np.broadcast_arrays(size * np.cos(angle), size * np.sin(angle)), axis=-1)
        matrix = self.travel_matrix(x, y).magnitude
        return Q(np.einsum("...mi,...i->...m", matrix, moved), "mm/s")

    def fastest_speed(self, highest_belt_speed: Any, direction: Any, x: Any, y: Any) -> Quantity:
        """Fastest speed of the head in a direction for a limit of each belt's speed.

        The limit is a controller's highest step rate over the steps per length, or a motor's.

        Returns
        -------
        Quantity
            mm/s, of the broadcast shape.

        """
        limit = words.base_value(Word("highest_belt_speed", "mm/s"), highest_belt_speed) * 1e3
        each = np.abs(self.belt_speeds("1 mm/s", direction, x, y).magnitude)
        return Q(limit / np.max(each, axis=-1), "mm/s")

    def carriage_force(self, force_a: Any, force_b: Any, x: Any, y: Any) -> Quantity:
        """Force on the head along x and y for belt forces of the motors, by virtual work.

        Returns
        -------
        Quantity
            N, shape (..., 2).

        """
        forces = [words.base_value(_FORCE, force) for force in (force_a, force_b)]
        matrix = self.travel_matrix(x, y).magnitude
        pulled = np.stack(np.broadcast_arrays(*forces), axis=-1)
        return Q(np.einsum("...mi,...m->...i", matrix, pulled), "N")

    def racking_moment(self, tension_a: Any, tension_b: Any) -> Quantity:
        """Moment on the beam at rest from the mean tensions of the two belts along y.

        Returns
        -------
        Quantity
            N*m; positive turns the beam's right end towards +y.

        """
        tensions = [words.base_value(_FORCE, tension) for tension in (tension_a, tension_b)]
        moment: Any = 0.0
        pulling = self.paths[1:] if self.layout.belts == "shaft" else self.paths
        for tension, path in zip(tensions, pulling, strict=False):
            whole = sum(path.gradients(self._middle(path)))
            moment = moment - tension * whole[..., 2] * 1e-3
        return Q(moment, "N*m")

    def _middle(self, path: BeltPath) -> Pose:
        return path.pose(self.layout.travel_x / 2.0, self.layout.travel_y / 2.0)

    @property
    def overruns(self) -> tuple[float, float]:
        """How far past its travel the head could be pushed, along x and along y, in m.

        Along the beam as far as the rails, along the rails as far as the pulleys' centres.
        """
        layout = self.layout
        width, travel = (v.to("m").magnitude for v in (layout.rail_spacing, layout.travel_x))
        over = layout.taken_overrun.to("m").magnitude
        return float(np.max(width - travel)) / 2, float(np.max(over))

    # -- stiffness ----------------------------------------------------------------------------

    def stiffness(
        self,
        x: Any,
        y: Any,
        yaw_stiffness: Any = None,
        motor_stiffness: Any = None,
        tension: Any = None,
    ) -> Stiffness:
        """Stiffness at the head: each part-length is a spring.

        Parameters
        ----------
        x, y : length, broadcast together
            Place of the head.
        yaw_stiffness : torque per angle, optional
            Of the beam on its rail blocks, added to that of the belts.
        motor_stiffness : stiffness, optional
            Of each motor's magnetic spring, felt at its belt; without it the shafts are held.
        tension : force, optional
            Of all belts at rest; taut runs that turn add a little of their own.

        Returns
        -------
        Stiffness
            ``.translation`` N/mm, ``.coupling`` N/rad, ``.yaw`` N*m/rad.

        """
        whole = self.elastic(x, y, tension)
        total = whole[..., :3, :3]
        if motor_stiffness is not None:
            word = Word("motor_stiffness", "N/mm", "at the belt")
            magnetic = np.asarray(words.base_value(word, motor_stiffness) * 1e-3)
            give = whole[..., 3:, 3:] + magnetic[..., None, None] * np.eye(2)
            # The motors move until forces balance: what they give is lost.
            total = total - whole[..., :3, 3:] @ np.linalg.solve(give, whole[..., 3:, :3])
        rails = 0.0
        if yaw_stiffness is not None:
            rails = words.base_value(Word("yaw_stiffness", "N*m/rad", "", "zero"), yaw_stiffness)
        return Stiffness(
            Q(total[..., :2, :2], "N/mm"),
            Q(total[..., :2, 2], "N/rad"),
            Q(total[..., 2, 2] * 1e-3 + rails, "N*m/rad"),
        )

    def elastic(self, x: Any, y: Any, tension: Any = None) -> Any:
        """Give forces by displacements of head, beam and both motors, every part a spring.

        Rows and columns are x, y, yaw and the belt travels of motors a and b: mm, rad and N, as an
        array of shape (..., 5, 5). ``tension`` of all belts at rest adds what taut runs do.
        """
        parts = self.parts(x, y)
        gradients = np.moveaxis(parts.gradients, 0, -2)
        passing = np.broadcast_to(-self.passing, (*gradients.shape[:-1], 2))
        slopes = np.concatenate([gradients, passing], axis=-1)
        pulls = np.moveaxis(parts.springs, 0, -1)[..., None] * slopes
        matrix = np.swapaxes(slopes, -1, -2) @ pulls
        if tension is not None:
            taut = np.asarray(words.base_value(_FORCE, tension))[..., None, None]
            bent = taut * sum(self._every("curvatures", x, y))
            matrix = matrix + np.pad(bent, [(0, 0)] * (np.ndim(bent) - 2) + [(0, 2), (0, 2)])
        return matrix

    def racking_under_force(self, force: Any, x: Any, y: Any) -> Quantity:
        """Moment of the belts on the beam while a force along x acts on the head, motors held.

        The rails must take it; the sign is that of ``racking_moment``.

        Returns
        -------
        Quantity
            N*m, of the broadcast shape.

        """
        along = np.asarray(words.base_value(_FORCE, force))
        held = self.stiffness(x, y)
        aside = np.linalg.solve(held.translation.magnitude, np.array([[1.0], [0.0]]))[..., 0]
        each = np.einsum("...i,...i->...", held.coupling.magnitude, aside)
        return Q(-along * each * 1e-3, "N*m")

    # -- runs that are not parallel -------------------------------------------------------------

    def parallel_error(self, x: Any, y: Any) -> RunError:
        """Error of the head's place, and swing of tension, against the middle of the field.

        The controller counts belt travel as if all runs were parallel. The true lengths leave
        each part stretched or slack against that; the head moves until the forces balance (the
        rails hold its yaw), and what is left changes the belts' tension.
        """
        centre = self.layout.travel_x / 2.0, self.layout.travel_y / 2.0
        place = self._head_place(x, y) - self._head_place(*centre)
        let_through = np.moveaxis(place @ (self.passing @ self._ideal()).T, -1, 0)
        lengths, springs, gradients = self.parts(x, y)
        before = np.reshape(self._every("lengths", *centre), (-1, *[1] * (lengths.ndim - 1)))
        strains, slopes = lengths - before - let_through, gradients[..., :2]
        force = -np.einsum("p...,p...,p...i->...i", springs, strains, slopes)
        error = np.linalg.solve(self.elastic(x, y)[..., :2, :2], force[..., None])[..., 0]
        left = strains + np.einsum("p...i,...i->p...", slopes, error)
        return RunError(Q(error, "mm"), Q(self.swings(list(left), list(lengths)), "N"))

    def swings(self, left: list[Any], lengths: list[Any]) -> Any:
        """Change of each belt's mean tension from what its parts are stretched: shape (..., n)."""
        specific = self.layout.belt.specific_stiffness.to("N").magnitude
        found, start = [], 0
        for path in self.paths:
            mine = slice(start, start + len(path.drives) + 1)
            found.append(specific * sum(left[mine]) / sum(lengths[mine]))
            start = mine.stop
        return np.stack(found, axis=-1)

    @staticmethod
    def _head_place(x: Any, y: Any) -> Any:
        pose = [words.base_value(Word("x", "mm", "", "signed"), value) * 1e3 for value in (x, y)]
        return np.stack(np.broadcast_arrays(*pose), axis=-1)

    def _ideal(self) -> Any:
        """Travel matrix of the same layout with all runs parallel."""
        if self.layout.belts in ("crossed", "single"):
            return np.array([[1.0, 1.0], [1.0, -1.0]])
        return np.eye(2)

    def place_tolerance(self, accuracy: Any) -> list[Tolerance]:
        """How far each pulley may be out of place for a wanted accuracy over the whole field.

        See ``placing.place_tolerance``.
        """
        from mathlib.motion import placing

        return placing.place_tolerance(self, accuracy)

    def cures(self, meant: Gantry) -> list[Cure]:
        """Which pulley to move by how much, against where they were meant; see ``placing``."""
        from mathlib.motion import placing

        return placing.cures(self, meant)

    def rail_tolerance(self, accuracy: Any) -> Quantity:
        """How far the rails may lean over the travel y for a wanted accuracy; see ``placing``."""
        from mathlib.motion import placing

        return placing.rail_tolerance(self, accuracy)

    def with_node_moved(self, belt: int, number: int, by_x: float, by_y: float) -> Gantry:
        """Give the same gantry with one node of one belt moved, in mm."""
        node = self.paths[belt].nodes[number]
        return self.with_nodes(belt, {number: node._replace(x=node.x + by_x, y=node.y + by_y)})

    def with_nodes(self, belt: int, changed: Mapping[int, Node]) -> Gantry:
        """Give the same gantry with some nodes of one belt replaced."""
        path = self.paths[belt]
        nodes = [changed.get(number, node) for number, node in enumerate(path.nodes)]
        paths = list(self.paths)
        paths[belt] = BeltPath(nodes, path.drives, path.pivot_x, path.name)
        return attrs.evolve(self, paths=tuple(paths))

    # -- what to order ------------------------------------------------------------------------

    def order_lengths(self, allowance: Any) -> list[tuple[Quantity, int]]:
        """Length and whole teeth to order for each belt, with an allowance at each clamp.

        The length is the largest over the travel's corners and middle, plus twice the allowance,
        rounded up to whole teeth.
        """
        extra = words.base_value(Word("allowance", "mm", "at each clamp", "zero"), allowance) * 1e3
        pitch = float(np.max(self.layout.belt.pitch.to("mm").magnitude))
        found = []
        for path in self.paths:
            x = np.array([0.0, 0.5, 1.0])[:, None] * self.layout.travel_x
            y = np.array([0.0, 0.5, 1.0]) * self.layout.travel_y
            whole = float(np.max(sum(path.lengths(path.pose(x, y))))) + 2 * extra
            teeth = int(np.ceil(whole / pitch - 1e-9))
            found.append((Q(teeth * pitch, "mm"), teeth))
        return found
