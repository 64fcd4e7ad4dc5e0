"""What a running motor shakes, and the speeds at which that meets a mode."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import words
from mathlib.errors import ValueRefused
from mathlib.motion import modes, steppers
from mathlib.motion.drive import Drive
from mathlib.motion.steppers import Motor
from mathlib.units import Q, Quantity
from mathlib.words import Word

_STANDS: Final = 1e-6  # of belt travel for each travel of the head; below it a motor stands
_DISTANCE: Final = Word("x", "mm", "of the head", "signed")
_LOOSE: Final = 0.05  # Hz
_STILL: Final = 1e-9  # of the largest swing: these motors do not move that mode
_DIRECTION: Final = Word("direction", "deg", "of travel, from x towards y", "signed")
_ALONG: Final = {"x": "0 deg", "y": "90 deg"}
#: How the orders are called in lists and pictures.
CALLED: Final = {
    "pulley_turn": "pulley turn",
    "tooth": "belt tooth",
    "electrical_cycle": "electrical cycle",
    "torque_ripple_2": "torque ripple, 2 a cycle",
    "full_step": "full step",
}


class Orders(NamedTuple):
    """How often each thing happens in a length of belt travel, in 1/mm.

    ``torque_ripple_2`` and ``torque_ripple_4`` are two and four times in each electrical cycle;
    the latter keeps time with the full steps, and detent torque does too.
    """

    pulley_turn: Quantity
    tooth: Quantity
    electrical_cycle: Quantity
    torque_ripple_2: Quantity
    torque_ripple_4: Quantity
    full_step: Quantity


def excitation_orders(motor: Motor, pulley: Any, pitch: Any = None) -> Orders:
    """Tell how often motor and belt shake the head in each length of belt travel.

    Parameters
    ----------
    motor : Motor
        Two-phase: four full steps are one electrical cycle.
    pulley : Pulley, DrivenPulley or Layout
        Whose teeth count.
    pitch : length, optional
        Of the belt, where the pulley does not state it.

    Returns
    -------
    Orders
        In 1/mm; times a speed it is a frequency.

    Raises
    ------
    ValueRefused
        The pulley has no teeth, or no pitch is known.
    UnitError
        As a formula does.

    Examples
    --------
    >>> from mathlib.motion.belts import DrivenPulley
    >>> m = Motor(step_angle="1.8 deg", holding_torque="0.4 N*m", rated_current="1.7 A",
    ...           resistance="1.5 ohm", inductance="2.8 mH", rotor_inertia="54 g*cm^2")
    >>> print(excitation_orders(m, DrivenPulley(teeth=20), pitch="2 mm").full_step)
    5 1/mm

    """
    teeth = pulley.teeth
    known = getattr(pulley, "pitch", None) if pitch is None else pitch
    if teeth is None or known is None:
        lacks = "teeth" if teeth is None else "pitch"
        raise ValueRefused(
            f"Excitation orders: the pulley states no {lacks}; a toothed pulley has teeth, and the "
            'belt\'s pitch is given as pitch="2 mm".'
        )
    count = words.base_value(Word("teeth", "1"), teeth)
    turn = words.base_value(Word("pitch", "mm"), known) * count
    cycles = steppers.rotor_teeth(motor).magnitude
    a_turn = (1.0, count)
    of_rotor = (cycles, 2 * cycles, 4 * cycles, steppers.full_steps(motor).magnitude)
    return Orders(*(Q(number / turn / 1e3, "1/mm") for number in (*a_turn, *of_rotor)))


class Crossing(NamedTuple):
    """A speed of the head at which an order meets a mode.

    ``swing`` is how far the head swings for one newton of ripple of the belt force, in mm/N: what
    ranks the crossings, since the ripple itself is seldom known.
    """

    speed: Quantity
    direction: Quantity
    mode: int
    name: str
    frequency: Quantity
    order: str
    motors: str
    swing: Quantity


def speeds_to_avoid(
    drive: Drive, x: Any, y: Any, direction: Any, fastest: Any = None
) -> list[Crossing]:
    """List the speeds at which motors or belts shake a mode, in each direction of travel.

    On a straight line each motor turns at its own rate: with crossed belts on a 45 deg line one
    stands and the other turns √2 times as fast as on an axis. Modes that the running motors do
    not move at all are left out, such as that along y on plain axes while the head runs along x.

    Parameters
    ----------
    drive : Drive
        Both pulleys have the layout's teeth. Fields may be arrays, one for each drawn machine.
    x, y : length
        Place of the head, one.
    direction : angle, or an array of them
        Of travel, from the x axis towards y; "x" and "y" stand for 0 deg and 90 deg.
    fastest : speed, optional
        Of the head; crossings above it are left out.

    Returns
    -------
    list of Crossing
        The slowest first, by direction.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> drive = load(TAGMAKER).drive
    >>> for found in speeds_to_avoid(drive, "210 mm", "150 mm", "0 deg", fastest="8 mm/s"):
    ...     print(f"{found.speed:.3g~P}: {found.order} meets {found.name}")
    4.58 mm/s: full step meets mostly y
    6.73 mm/s: full step meets mostly x

    """
    gantry: Any = drive.gantry
    if isinstance(direction, str):
        direction = _ALONG.get(direction.strip().lower(), direction)
    given = {"direction": direction} | ({} if fastest is None else {"fastest": fastest})
    takes = [_DIRECTION, Word("fastest", "mm/s")][: len(given)]
    read = words.read_words("Speeds to avoid", takes, given)
    angles = np.atleast_1d(read["direction"])
    limit = read["fastest"] * 1e3 if "fastest" in read else np.inf
    found = modes.modes(drive, x, y)
    if any(np.ndim(words.base_value(_DISTANCE, place)) for place in (x, y)):
        raise ValueRefused(
            "Speeds to avoid: x and y are one place of the head; ask for each place by itself, or "
            "take resonance.frequency_map for many."
        )
    hertz, names = found.frequency.magnitude, found.names()
    damped = 2 * found.damping[..., None] if np.ndim(found.damping) else 2 * found.damping
    with np.errstate(divide="ignore", invalid="ignore"):
        # Modal mass 1 kg: a force that the motor's movement takes up, over 2 zeta w^2; m/N.
        each = np.abs(found.motor) / np.asarray(damped * (2 * np.pi * hertz) ** 2)[..., None]
    each = np.where((hertz > _LOOSE)[..., None], each, 0.0)  # what has no spring does not ring
    swing = np.hypot(found.head[..., 0], found.head[..., 1])[..., None] * each * 1e3
    rates = np.abs(
        gantry.travel_matrix(x, y).magnitude @ np.array([np.cos(angles), np.sin(angles)])
    )
    shaken = swing > _STILL * np.max(swing)
    alike = drive.motors[0].step_angle == drive.motors[1].step_angle
    rows = []
    for number, angle in enumerate(angles):
        for running, rate in _running(rates[:, number], alike):
            motor = drive.motors[running[0]]
            orders = excitation_orders(motor, gantry.layout, drive.belt.pitch)._asdict()
            for (order, called), mode in _pairs(CALLED, len(names)):
                if not np.any(shaken[..., mode, list(running)]):
                    continue
                speed = hertz[..., mode] / orders[order].magnitude / rate
                if np.median(speed) > limit:
                    continue
                rows.append(
                    Crossing(
                        Q(speed, "mm/s"),
                        Q(float(np.degrees(angle)), "deg"),
                        mode,
                        names[mode],
                        found.frequency[..., mode],
                        called,
                        " and ".join("ab"[m] for m in running),
                        Q(sum(swing[..., mode, m] for m in running), "mm/N"),
                    )
                )
    return sorted(
        rows, key=lambda row: (row.direction.magnitude, float(np.median(row.speed.magnitude)))
    )


def _pairs(called: dict[str, str], count: int) -> list[tuple[tuple[str, str], int]]:
    return [(pair, mode) for pair in called.items() for mode in range(count)]


def _running(rates: Any, alike: Any) -> list[tuple[tuple[int, ...], float]]:
    """Motors that turn, equal ones of one rate together, with belt travel for the head's."""
    a, b = (float(rate) for rate in rates)
    if abs(a - b) <= _STANDS and np.all(alike):
        return [((0, 1), a)]
    return [((motor,), rate) for motor, rate in enumerate((a, b)) if rate > _STANDS]
