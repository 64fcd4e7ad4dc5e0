"""A gantry: two belts, a beam and a carriage, with all that follows from the belts' lengths.

Motor travel, forces, racking, stiffness, the error of runs that are not parallel and the length to
order are derivatives of the part-lengths of two routes; only the routes are written down.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import attrs
import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.fields import choice, optional, part, quantity, record
from mathlib.motion.belts import Belt
from mathlib.motion.drive import BELTS
from mathlib.motion.routes import BeltPath, Pose, Pulley
from mathlib.units import Q, Quantity
from mathlib.words import Word

_FORCE = Word("force", "N", "along the belt", "signed")
_FAR = 20.0  # mm; further out of place than a pulley is built


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
    run_offset: Quantity = part("by which the moving runs leave their line", "0 mm")
    overrun: Quantity | None = optional("mm", "from the end of travel to the nearest pulley")


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


class Cure(NamedTuple):
    """By how much to move one pulley, and the worst error that is left then."""

    pulley: str
    x: Quantity
    y: Quantity
    left: Quantity


@attrs.frozen(eq=False)
class Gantry:
    """Two belts with their routes, or two belts of which each drives one axis.

    ``paths`` has the routes; ``senses`` the sign of motor travel that makes a = x + y, b = x - y
    (crossed) or a = x, b = y (plain).
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
        rows = [self._travel(path, sense, x, y) for path, sense in self._motors()]
        return Q(np.stack(rows, axis=-2), "1")

    def _motors(self) -> list[tuple[BeltPath, float]]:
        """One route for each motor; a second belt on the same shaft follows the first."""
        return list(zip(self.paths, self.senses, strict=True))[:2]

    def _travel(self, path: BeltPath, sense: float, x: Any, y: Any) -> Any:
        first, second = path.gradients(path.pose(x, y))
        if self.layout.belts == "single":  # the part between the two motors stays as it is
            return sense * first[..., :2]
        return sense * (first[..., :2] - second[..., :2]) / 2.0

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
        """Moment on the beam at rest from the mean tensions of the belts.

        Returns
        -------
        Quantity
            N*m; positive turns the beam's right end forward.

        """
        tensions = [words.base_value(_FORCE, tension) for tension in (tension_a, tension_b)]
        moment: Any = 0.0
        for tension, path in zip(tensions, self.paths, strict=False):
            first, second = path.gradients(self._middle(path))
            moment = moment - tension * (first[..., 2] + second[..., 2]) * 1e-3
        return Q(moment, "N*m")

    def _middle(self, path: BeltPath) -> Pose:
        return path.pose(self.layout.travel_x / 2.0, self.layout.travel_y / 2.0)

    # -- stiffness ----------------------------------------------------------------------------

    def stiffness(
        self, x: Any, y: Any, yaw_stiffness: Any = None, motor_stiffness: Any = None
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

        Returns
        -------
        Stiffness
            ``.translation`` N/mm, ``.coupling`` N/rad, ``.yaw`` N*m/rad.

        """
        springs, pulls, gives = self._springs(x, y)
        total = sum(springs)
        if motor_stiffness is not None:
            word = Word("motor_stiffness", "N/mm", "at the belt")
            magnetic = np.asarray(words.base_value(word, motor_stiffness) * 1e-3)
            for motor in sorted(set(self.motor_of)):
                mine = [n for n, m in enumerate(self.motor_of) if m == motor]
                pull = sum(pulls[n] for n in mine)
                give = sum(gives[n] for n in mine) + magnetic
                outer = pull[..., :, None] * pull[..., None, :]
                total = total - outer / np.asarray(give)[..., None, None]
        rails = 0.0
        if yaw_stiffness is not None:
            rails = words.base_value(Word("yaw_stiffness", "N*m/rad", "", "zero"), yaw_stiffness)
        return Stiffness(
            Q(total[..., :2, :2], "N/mm"),
            Q(total[..., :2, 2], "N/rad"),
            Q(total[..., 2, 2] * 1e-3 + rails, "N*m/rad"),
        )

    @property
    def motor_of(self) -> tuple[int, ...]:
        """Motor of each belt; two belts on one shaft share one."""
        return (0, 1, 1)[: len(self.paths)]

    def _springs(self, x: Any, y: Any) -> tuple[list[Any], list[Any], list[Any]]:
        """For each belt, motors held: stiffness; its pull on the motor; the motor's own share.

        A part-length of stiffness k and gradient g adds k g g^T; a motor that lets its belt
        through by m shortens the one part and lengthens the other.
        """
        specific = np.asarray(self.layout.belt.specific_stiffness.to("N").magnitude)
        springs, pulls, gives = [], [], []
        for path in self.paths:
            at = path.pose(x, y)
            (k_1, k_2), (g_1, g_2) = (specific / v for v in path.lengths(at)), path.gradients(at)
            outer_1 = g_1[..., :, None] * g_1[..., None, :]
            outer_2 = g_2[..., :, None] * g_2[..., None, :]
            springs.append(k_1[..., None, None] * outer_1 + k_2[..., None, None] * outer_2)
            pulls.append(k_1[..., None] * g_1 - k_2[..., None] * g_2)
            gives.append(k_1 + k_2)
        return springs, pulls, gives

    def racking_under_force(self, force: Any, x: Any, y: Any) -> Quantity:
        """Moment of the belts on the beam while a force along x acts on the head, motors held.

        The rails must take it; the sign is that of ``racking_moment``.

        Returns
        -------
        Quantity
            N*m, of the broadcast shape.

        """
        along = words.base_value(_FORCE, force)
        held = self.stiffness(x, y)
        matrix = held.translation.magnitude
        pushed = np.stack(np.broadcast_arrays(along, np.zeros_like(along)), axis=-1)
        moved = np.linalg.solve(matrix, np.broadcast_to(pushed, matrix.shape[:-1])[..., None])
        moment = np.einsum("...i,...i->...", held.coupling.magnitude, moved[..., 0])
        return Q(-moment * 1e-3, "N*m")

    # -- runs that are not parallel -------------------------------------------------------------

    def parallel_error(self, x: Any, y: Any) -> RunError:
        """Error of the head's place, and swing of tension, against the middle of the field.

        The controller counts belt travel as if all runs were parallel; what the true lengths
        add to that is an error of place (their difference) and stretch (their sum).
        """
        middle = [path.lengths(self._middle(path)) for path in self.paths]
        specific = self.layout.belt.specific_stiffness.to("N").magnitude
        centre = self._head_place(self.layout.travel_x / 2.0, self.layout.travel_y / 2.0)
        ideal = self._ideal()
        place = self._head_place(x, y) - centre
        travel, swing = [], []
        for number, (path, sense) in enumerate(self._motors()):
            first, second = path.lengths(path.pose(x, y))
            before, after = middle[number]
            moved = sense * ((first - before) - (second - after)) / 2.0
            travel.append(moved - place @ ideal[number])
            swing.append(specific * ((first + second) - (before + after)) / (before + after))
        error = np.linalg.solve(ideal, np.stack(travel, axis=-1)[..., None])[..., 0]
        return RunError(Q(-error, "mm"), Q(np.stack(swing, axis=-1), "N"))

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

        Each pulley is moved along x and along y, either way, until the change of
        ``parallel_error`` reaches the accuracy somewhere, or the belt no longer runs. Infinite
        where 20 mm do not do it.
        """
        wanted = words.base_value(Word("accuracy", "mm", "of place"), accuracy) * 1e3
        found = []
        for belt, path in enumerate(self.paths):
            for number in range(1, len(path.nodes) - 1):
                x, y = (
                    units.quantity(self._offset_allowed(belt, number, axis, wanted), _MM)
                    for axis in ("x", "y")
                )
                found.append(Tolerance(f"{path.name}, {path.nodes[number].name}", x, y))
        return found

    def _offset_allowed(self, belt: int, number: int, axis: str, wanted: float) -> float:
        """Offset in mm of one pulley along one axis at which the error reaches ``wanted``.

        The error of a run that leaves its line grows with the square of the offset, so the offset
        is searched for and not scaled.
        """
        from scipy.optimize import brentq

        grid_x = np.linspace(0.0, 1.0, 9)[:, None] * self.layout.travel_x
        grid_y = np.linspace(0.0, 1.0, 9) * self.layout.travel_y
        base = self.parallel_error(grid_x, grid_y).position.magnitude

        def excess(by: float) -> float:
            moved = self._with_node_moved(belt, number, axis, by)
            change = moved.parallel_error(grid_x, grid_y).position.magnitude - base
            return float(np.max(np.linalg.norm(change, axis=-1))) - wanted

        limits = []
        for sign in (-1.0, 1.0):
            most = _FAR
            while most > 1e-3:
                try:
                    over = excess(sign * most)
                except ValueRefused:
                    most *= 0.8  # the belt cannot run there
                    continue
                if over > 0:
                    most = abs(float(brentq(excess, 0.0, sign * most, xtol=1e-4)))
                elif most == _FAR:
                    most = np.inf
                break
            limits.append(most)
        return min(limits)

    def cures(self, meant: Gantry) -> list[Cure]:
        """Which pulley to move by how much, against the places where they were meant to be.

        Parameters
        ----------
        meant : Gantry
            The same layout as drawn, with as many pulleys on each belt.

        Returns
        -------
        list of Cure
            The pulleys that are out of place, the one that takes away most of the error first;
            ``.left`` is the worst error over the field once it alone is moved.

        """
        grid_x = np.linspace(0.0, 1.0, 9)[:, None] * self.layout.travel_x
        grid_y = np.linspace(0.0, 1.0, 9) * self.layout.travel_y
        found = []
        for belt, (path, drawn) in enumerate(zip(self.paths, meant.paths, strict=True)):
            for number in range(1, len(path.nodes) - 1):
                here, there = path.nodes[number], drawn.nodes[number]
                by_x, by_y = there.x - here.x, there.y - here.y
                if max(abs(by_x), abs(by_y)) < 1e-6:
                    continue
                moved = self._with_node_moved(belt, number, "x", by_x)
                moved = moved._with_node_moved(belt, number, "y", by_y)
                error = moved.parallel_error(grid_x, grid_y).position.magnitude
                left = float(np.max(np.linalg.norm(error, axis=-1)))
                name = f"{path.name}, {here.name}"
                found.append(Cure(name, Q(by_x, "mm"), Q(by_y, "mm"), Q(left, "mm")))
        return sorted(found, key=lambda cure: float(cure.left.magnitude))

    def _with_node_moved(self, belt: int, number: int, axis: str, by: float) -> Gantry:
        path = self.paths[belt]
        nodes = list(path.nodes)
        nodes[number] = nodes[number]._replace(**{axis: getattr(nodes[number], axis) + by})
        paths = list(self.paths)
        paths[belt] = BeltPath(nodes, path.driven, path.pivot_x, path.name)
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


_MM = units.container("mm")
