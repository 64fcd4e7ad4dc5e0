"""How head, beam and both motors swing on the belts: modes, compliance, and what changes them.

Every part of a belt is a spring whose length depends on the head's place, the motors are springs
of their own, the rail blocks hold the beam's yaw; on these springs move the head, the beam and two
rotors. The beam counts as a slender even rod as long as the rails are apart, the head as a point
on the beam's line; rotors turn against the frame, and idlers and belts weigh nothing.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import attrs
import numpy as np

from mathlib import words
from mathlib.errors import ValueRefused
from mathlib.motion import steppers
from mathlib.motion.drive import Drive
from mathlib.motion.gantry import Gantry
from mathlib.units import Q, Quantity
from mathlib.words import Word

#: What can move, in this order; the yaw is left out where nobody knows what the rails hold.
MOVES: Final = ("x", "y", "yaw", "motor a", "motor b")
_PLACE: Final = tuple(Word(axis, "mm", "place of the head", "signed") for axis in "xy")
_MAP: Final = "Map of a frequency"
_TO_SI: Final = np.sqrt([1e3, 1e3, 1e-3, 1e3, 1e3])  # N/mm, N and N*mm to N/m, N and N*m
_LOOSE: Final = 1e-2  # square of rad/s below which a mode has no spring, only rounding
_SLIGHT: Final = 0.6  # share of the moving energy above which one name is enough
_YAW_UNKNOWN: Final = (
    "The yaw of the beam is left out: its stiffness on the rail blocks is not known, and free yaw "
    "makes the head softer, up to twice along x."
)


@attrs.frozen(eq=False)
class Modes:
    """Modes of a drive, the lowest first.

    ``frequency`` is in Hz, shape (..., n). ``shape`` (..., n, n) tells how far each of ``moves``
    goes, the largest 1, and for yaw the travel of the beam's end. ``head`` (..., n, 2) and
    ``motor`` (..., n, 2) are movements of head (along x, y) and belts for a modal mass of 1 kg.
    ``moving`` and ``stored`` are shares of the moving and of the springs' energy by part, each of
    shape (..., n); both add to 1. ``left_out`` says what is missing.
    """

    frequency: Quantity
    shape: Any
    moves: tuple[str, ...]
    head: Any
    motor: Any
    moving: dict[str, Any]
    stored: dict[str, Any]
    by_move: Any
    damping: Any
    left_out: str = ""

    def names(self) -> tuple[str, ...]:
        """Name each mode by what moves in it; of many places or machines, by what is usual."""
        every = self.by_move.reshape(-1, *self.by_move.shape[-2:])
        told = [self._name(row) for row in np.median(every, axis=0)]
        return tuple(told)

    def _name(self, row: Any) -> str:
        parts = dict(zip(self.moves, row, strict=True))
        motors = parts.pop("motor a") + parts.pop("motor b")
        order = sorted([*parts.items(), ("motors", motors)], key=lambda pair: -pair[1])
        (first, most), (second, next_most), *_ = order
        if most >= _SLIGHT * (most + next_most):
            return f"mostly {first}"
        return f"{first} with {second}"


class _System(NamedTuple):
    """Stiffness and mass in SI units, (..., n, n); diagonals by part; head's movement (..., 2, n).

    ``springs`` and ``masses`` (..., n) are the parts that lie on the diagonal; the rest is that
    of the belts, and of carriage and head.
    """

    stiffness: Any
    mass: Any
    springs: dict[str, Any]
    masses: dict[str, Any]
    head: Any
    moves: tuple[str, ...]


def _diagonal(*entries: Any) -> Any:
    return np.stack(np.broadcast_arrays(*entries), axis=-1)


def _within(gantry: Gantry, x: Any, y: Any) -> dict[str, Any]:
    """Read a place of the head in m; refuse one where rails or pulleys are."""
    read = words.read_words("Modes of a drive", _PLACE, {"x": x, "y": y})
    layout = gantry.layout
    for axis, over in zip("xy", gantry.overruns, strict=True):
        travel = float(np.max(getattr(layout, f"travel_{axis}").to("m").magnitude))
        if np.any((read[axis] < -over - 1e-9) | (read[axis] > travel + over + 1e-9)):
            raise ValueRefused(
                f"Modes of a drive: {axis} is a place of the head, within its travel of 0 to "
                f"{travel * 1e3:.4g} mm; got one that lies beyond the pulleys."
            )
    return read


def numbered(who: str, mode: Any, count: int) -> int:
    """Read the number of a mode, which counts from 0 at the lowest.

    >>> numbered("Map of a frequency", 1, 5)
    1
    """
    if isinstance(mode, bool) or not isinstance(mode, int | np.integer) or not 0 <= mode < count:
        raise ValueRefused(
            f"{who}: mode is a number from 0, the lowest, to {count - 1}; got {mode!r}."
        )
    return int(mode)


def _system(drive: Drive, x: Any, y: Any, tension: Any = None) -> _System:
    if not isinstance(drive, Drive):
        raise ValueRefused(
            "Modes of a drive: drive is a Drive, such as machine.drive; got "
            f"{type(drive).__name__}."
        )
    gantry: Gantry = drive.gantry
    place = _within(gantry, x, y)
    arm = place["x"] - gantry.layout.travel_x.to("m").magnitude / 2.0
    carried, along_y = (np.asarray(mass.to("kg").magnitude) for mass in drive.masses)
    beam = along_y - carried
    if np.any(beam < 0):
        raise ValueRefused(
            "Drive: masses are moved along x, then along y: the second holds the first, and the "
            "beam besides, so it cannot be less."
        )
    length = gantry.layout.rail_spacing.to("m").magnitude
    magnets, rotors = felt_at_belts(drive)
    yaw = 0.0 if drive.yaw_stiffness is None else drive.yaw_stiffness.to("N*m/rad").magnitude
    masses = {
        "beam": _diagonal(0.0, beam, beam * length**2 / 12.0, 0.0, 0.0),
        "rotors": _diagonal(0.0, 0.0, 0.0, *rotors),
    }
    springs = {
        "motors": _diagonal(0.0, 0.0, 0.0, *magnets),
        "rail blocks": _diagonal(0.0, 0.0, yaw, 0.0, 0.0),
    }
    head = np.zeros((*np.shape(arm), 2, 5))
    head[..., 0, 0] = head[..., 1, 1] = 1.0
    head[..., 1, 2] = arm
    mass = carried[..., None, None] * (np.swapaxes(head, -1, -2) @ head)
    for held in masses.values():
        mass = mass + held[..., None] * np.eye(5)
    stiffness = gantry.elastic(x, y, tension) * np.outer(_TO_SI, _TO_SI)
    for spring in springs.values():
        stiffness = stiffness + spring[..., None] * np.eye(5)
    kept = [n for n, move in enumerate(MOVES) if drive.yaw_stiffness is not None or move != "yaw"]
    pick = (..., *np.ix_(kept, kept))
    return _System(
        stiffness[pick],
        mass[pick],
        {name: spring[..., kept] for name, spring in springs.items()},
        {name: held[..., kept] for name, held in masses.items()},
        head[..., kept],
        tuple(MOVES[n] for n in kept),
    )


def felt_at_belts(drive: Drive) -> tuple[list[Any], list[Any]]:
    """Give each motor's magnetic spring in N/m and its rotor in kg, both felt at its belt.

    >>> from mathlib.machine import TAGMAKER, load
    >>> springs, rotors = felt_at_belts(load(TAGMAKER).drive)
    >>> [float(rotor.round(3)) for rotor in rotors]
    [0.133, 0.133]
    """
    gantry: Gantry = drive.gantry
    driven = [path.nodes[number] for path in gantry.paths for number in path.drives]
    magnets, rotors = [], []
    for number, motor in enumerate(drive.motors):
        radius = Q(driven[gantry.motor_of.index(number)].radius, "mm")
        spring = steppers.magnetic_stiffness(
            rotor_teeth=steppers.rotor_teeth(motor),
            holding_torque=steppers.held_torque(motor, drive.set_current),
            pitch_radius=radius,
        )
        rotor = steppers.reflected_mass(inertia=motor.rotor_inertia, pitch_radius=radius)
        magnets.append(np.asarray(spring.to("N/m").magnitude))
        rotors.append(np.asarray(rotor.to("kg").magnitude))
    return magnets, rotors


def _reduced(system: _System) -> tuple[Any, Any]:
    """Stiffness over the masses, symmetric; and what takes its eigenvectors back to movements."""
    back = np.linalg.inv(np.linalg.cholesky(system.mass))
    turned = np.swapaxes(back, -1, -2)
    return back @ system.stiffness @ turned, turned


def modes(drive: Drive, x: Any, y: Any, tension: Any = None) -> Modes:
    """Solve for the modes of head, beam and both motors at one place or many.

    Motors are energised; damping is small, and the same share of critical in every mode.

    Parameters
    ----------
    drive : Drive
        Fields may be arrays, one value for each drawn machine. Where ``yaw_stiffness`` is None
        the beam's yaw is left out, and ``.left_out`` says so.
    x, y : length, broadcast together
        Place of the head.
    tension : force, optional
        Of all belts at rest; taut runs that turn add a little stiffness.

    Returns
    -------
    Modes
        ``.frequency`` (..., n) in Hz with n = 4, or 5 with yaw; ``.shape`` (..., n, n).

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; or the masses do not fit each other.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> found = modes(load(TAGMAKER).drive, "210 mm", "150 mm")
    >>> print(found.frequency[:2].round(1), found.names()[0])
    [45.8 67.3] Hz mostly y

    """
    system = _system(drive, x, y, tension)
    matrix, turned = _reduced(system)
    squares, vectors = np.linalg.eigh(matrix)
    moved = np.swapaxes(turned @ vectors, -1, -2)  # (..., mode, move), of modal mass 1 kg
    scaled = moved.copy()
    if "yaw" in system.moves:
        half = drive.gantry.layout.rail_spacing.to("m").magnitude / 2.0
        scaled[..., system.moves.index("yaw")] *= half
    most = np.take_along_axis(scaled, np.argmax(np.abs(scaled), axis=-1)[..., None], -1)
    twice = moved**2
    own = np.diagonal(system.mass, axis1=-2, axis2=-1)[..., None, :] * twice
    own /= own.sum(axis=-1, keepdims=True)
    scaled /= most
    squares = np.maximum(squares, 0.0)
    return Modes(
        frequency=Q(np.sqrt(squares) / (2 * np.pi), "Hz"),
        shape=scaled,
        moves=system.moves,
        head=moved @ np.swapaxes(system.head, -1, -2),
        motor=moved[..., -2:],
        moving=_shares("carriage and head", system.masses, twice, 1.0),
        stored=_shares("belts", system.springs, twice, squares),
        by_move=own,
        damping=drive.damping.to("1").magnitude,
        left_out=_YAW_UNKNOWN if drive.yaw_stiffness is None else "",
    )


def _shares(rest: str, diagonals: dict[str, Any], twice: Any, whole: Any) -> dict[str, Any]:
    """Give each part's share of a mode's energy; ``rest`` names the part that has what is left."""
    whole = np.where(np.asarray(whole) > 0, whole, np.inf)  # a mode without springs stores nothing
    found = {name: (twice @ d[..., None])[..., 0] / whole for name, d in diagonals.items()}
    left = np.where(np.isfinite(whole), 1.0 - sum(found.values()), 0.0)
    return {rest: np.maximum(left, 0.0), **found}


def frequency_map(drive: Drive, x: Any, y: Any, mode: int = 0) -> Quantity:
    """Give a natural frequency over the work area, the lowest where no mode is named.

    Parameters
    ----------
    drive : Drive
        Typical values, or one value for each drawn machine.
    x, y : length
        Places along x and along y; or arrays that broadcast.
    mode : int
        Its number; 0 is the lowest. Motors are energised.

    Returns
    -------
    Quantity
        Hz; for one row of places along each axis the shape is (places in y, places in x).

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> drive = load(TAGMAKER).drive
    >>> frequency_map(drive, Q([0.0, 210.0, 420.0], "mm"), Q([0.0, 300.0], "mm")).shape
    (2, 3)

    """
    along, across = words.read_words(_MAP, _PLACE, {"x": x, "y": y}).values()
    if np.ndim(along) == 1 and np.ndim(across) == 1:
        along, across = along[None, :], across[:, None]
    matrix, _ = _reduced(_system(drive, Q(along, "m"), Q(across, "m")))
    squares = np.linalg.eigvalsh(matrix)[..., numbered(_MAP, mode, matrix.shape[-1])]
    return Q(np.sqrt(np.maximum(squares, 0.0)) / (2 * np.pi), "Hz")


@attrs.frozen(eq=False)
class Compliance:
    """How far a steady force on the head moves it: ``matrix`` (..., 2, 2) in mm/N, along x, y."""

    matrix: Quantity

    def stiffness_along(self, direction: Any) -> Quantity:
        """Force along a direction for each length that the head gives way along it, in N/mm."""
        angle = words.base_value(Word("direction", "deg", "from x towards y", "signed"), direction)
        u = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
        matrix = self.matrix.to("mm/N").magnitude
        return Q(1.0 / np.einsum("...i,...ij,...j->...", u, matrix, u), "N/mm")

    def softest(self) -> tuple[Quantity, Quantity]:
        """Direction in which the head gives way most, 0 to 180 deg, and the stiffness there."""
        values, vectors = np.linalg.eigh(self.matrix.to("mm/N").magnitude)
        softest = vectors[..., :, 1]
        angle = np.degrees(np.arctan2(softest[..., 1], softest[..., 0])) % 180.0
        return Q(angle, "deg"), Q(1.0 / values[..., 1], "N/mm")


def compliance(drive: Drive, x: Any, y: Any) -> Compliance:
    """Tell how far a steady force on the head moves it, motors energised.

    Parameters
    ----------
    drive : Drive
        As for ``modes``.
    x, y : length, broadcast together
        Place of the head.

    Returns
    -------
    Compliance
        ``.matrix`` (..., 2, 2) in mm/N; ``.stiffness_along(direction)``; ``.softest()``.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> held = compliance(load(TAGMAKER).drive, "210 mm", "150 mm")
    >>> print(held.stiffness_along("0 deg"))
    107.8 N/mm

    """
    system = _system(drive, x, y)
    turned = np.swapaxes(system.head, -1, -2)
    if np.any(np.linalg.eigvalsh(_reduced(system)[0])[..., 0] < _LOOSE):
        raise ValueRefused(
            "Compliance: nothing holds the beam against yaw; give yaw_stiffness, that of the beam "
            "on its rail blocks."
        )
    given = system.head @ np.linalg.solve(system.stiffness, turned)
    return Compliance(Q(given * 1e3, "mm/N"))
