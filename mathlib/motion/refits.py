"""What shifts a drive's modes: each part's share, other parts fitted, the one-mass estimates."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import attrs
import numpy as np

from mathlib import words
from mathlib.motion import gantries, modes, resonance
from mathlib.motion.belts import Belt
from mathlib.motion.drive import Drive
from mathlib.motion.gantry import Gantry
from mathlib.motion.steppers import Motor
from mathlib.units import Q, Quantity
from mathlib.words import Word

_WIDEST: Final = np.log(100.0)  # of the belt's own stiffness, up and down
_ROUNDS: Final = 40
_CLOSE: Final = 1e-9  # of ln k


class Estimate(NamedTuple):
    """One-mass estimates along one axis, and the mode that they stand for.

    ``held`` has the motor shafts held, ``sprung`` the motors' magnetic springs behind the belts
    and no rotors, ``free`` the motors without current; ``found`` is the mode of the whole drive
    in which the head moves most along this axis, ``mode`` its number. ``error`` is that of the
    estimate with the shafts held, and ``error_sprung`` that with springs, over ``found``.
    """

    axis: str
    held: Quantity
    sprung: Quantity
    free: Quantity
    found: Quantity
    mode: int
    error: Quantity
    error_sprung: Quantity


def estimates(drive: Drive, x: Any, y: Any) -> tuple[Estimate, ...]:
    """Set the usual one-mass estimates of both axes beside the modes of the whole drive.

    Parameters
    ----------
    drive : Drive
        As for ``modes.modes``.
    x, y : length, broadcast together
        Place of the head.

    Returns
    -------
    tuple of Estimate
        For x and for y; the beam is taken not to turn, as such estimates do.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> along_x, along_y = estimates(load(TAGMAKER).drive, "210 mm", "150 mm")
    >>> print(along_y.held.round(1), along_y.sprung.round(1), along_y.found.round(1))
    48.2 Hz 45.8 Hz 45.8 Hz

    """
    gantry: Gantry = drive.gantry
    found = modes.modes(drive, x, y)
    magnets, rotors = modes.felt_at_belts(drive)
    travel = gantry.travel_matrix(x, y).magnitude
    # Both motors alike, as a rule; of two that differ the softer one tells.
    spring = Q(np.minimum(*magnets), "N/m")
    held = gantry.stiffness(x, y).translation
    sprung = gantry.stiffness(x, y, motor_stiffness=spring).translation
    made = []
    for axis, name in enumerate("xy"):
        mass = drive.masses[axis]
        rotor = Q(sum(travel[..., m, axis] ** 2 * rotors[m] for m in (0, 1)), "kg")
        stiff, soft = held[..., axis, axis], sprung[..., axis, axis]
        own = found.by_move[..., found.moves.index(name)]
        best = np.argmax(own, axis=-1)
        mode = int(np.bincount(np.ravel(best)).argmax())
        true = found.frequency[..., mode]
        by_held = resonance.held_carriage_frequency(stiffness=stiff, mass=mass)
        by_spring = resonance.held_carriage_frequency(stiffness=soft, mass=mass)
        by_free = resonance.free_frequency(stiffness=stiff, mass=mass, reflected_mass=rotor)
        errors = [
            Q(100 * (one.magnitude / true.magnitude - 1), "%") for one in (by_held, by_spring)
        ]
        made.append(Estimate(name, by_held, by_spring, by_free, true, mode, *errors))
    return tuple(made)


def influence(drive: Drive, x: Any, y: Any, mode: int = 0) -> dict[str, Any]:
    """Tell by how many percent a mode's frequency shifts for one percent of each part.

    A spring raises the frequency by half its share of the stored energy, a mass lowers it by half
    its share of the moving energy: first order, so for small changes. All springs together give
    0.5, all masses -0.5.

    Parameters
    ----------
    drive : Drive
        As for ``modes.modes``.
    x, y : length, broadcast together
        Place of the head.
    mode : int
        Its number; 0 is the lowest.

    Returns
    -------
    dict
        Plain numbers by part, the strongest first.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> list(influence(load(TAGMAKER).drive, "210 mm", "150 mm"))[0]
    'belts'

    """
    found = modes.modes(drive, x, y)
    mode = modes.numbered("Influence of each part", mode, len(found.moves))
    told = {name: 0.5 * part[..., mode] for name, part in found.stored.items()}
    told |= {name: -0.5 * part[..., mode] for name, part in found.moving.items()}
    return dict(sorted(told.items(), key=lambda pair: -float(np.median(np.abs(pair[1])))))


def fitted(
    drive: Drive,
    added_mass: Any = None,
    belt: Belt | None = None,
    motor: Motor | None = None,
    teeth: Any = None,
    beam_mass: Any = None,
    yaw_stiffness: Any = None,
) -> Drive:
    """Give the drive with other parts fitted.

    Parameters
    ----------
    drive : Drive
        As it is.
    added_mass : mass, optional
        Of a heavier head; negative for a lighter one.
    belt : Belt, optional
        For both loops.
    motor : Motor, optional
        For both motors, at the same set current.
    teeth : count, optional
        Of the usual pulleys; the runs are laid anew.
    beam_mass : mass, optional
        Of the moving beam alone.
    yaw_stiffness : torque per angle, optional
        Of the beam on its rail blocks.

    Returns
    -------
    Drive
        The other one.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; the pulleys do not fit beside the travel.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> drive = load(TAGMAKER).drive
    >>> print(fitted(drive, added_mass="0.2 kg").masses[0] - drive.masses[0])
    0.2 kg

    """
    carried, along_y = drive.masses
    beam = along_y - carried
    if beam_mass is not None:
        beam = Q(words.base_value(Word("beam_mass", "kg"), beam_mass), "kg")
    if added_mass is not None:
        carried = carried + Q(
            words.base_value(Word("added_mass", "kg", "", "signed"), added_mass), "kg"
        )
    layout: Any = drive.gantry.layout
    gantry = drive.gantry
    if belt is not None or teeth is not None:
        layout = attrs.evolve(
            layout, belt=belt or layout.belt, teeth=layout.teeth if teeth is None else teeth
        )
        gantry = gantries.gantry(layout)
    changes: dict[str, Any] = {"masses": (carried, carried + beam), "gantry": gantry}
    if belt is not None:
        changes["belt"] = belt
    if motor is not None:
        changes["motors"] = (motor, motor)
    if yaw_stiffness is not None:
        changes["yaw_stiffness"] = yaw_stiffness
    whole: Any = drive
    made: Drive = attrs.evolve(whole, **changes)
    return made


class Change(NamedTuple):
    """One line of a comparison of two drives: what, before and after."""

    what: str
    before: Quantity
    after: Quantity


def before_after(drive: Drive, other: Drive, x: Any, y: Any) -> list[Change]:
    """Compare the modes and the stiffness at the head of two drives, each solved in full.

    Parameters
    ----------
    drive, other : Drive
        Before and after, such as ``fitted`` gives.
    x, y : length, broadcast together
        Place of the head.

    Returns
    -------
    list of Change
        The frequency of each mode, lowest first, then the stiffness along x and along y.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> drive = load(TAGMAKER).drive
    >>> first = before_after(drive, fitted(drive, added_mass="0.3 kg"), "210 mm", "150 mm")[0]
    >>> bool(first.after < first.before)
    True

    """
    old, new = (modes.modes(d, x, y) for d in (drive, other))
    rows = [
        Change(f"mode {n + 1}, {name}", old.frequency[..., n], new.frequency[..., n])
        for n, name in enumerate(old.names())
        if n < new.frequency.shape[-1]
    ]
    soft, hard = (modes.compliance(d, x, y) for d in (drive, other))
    for axis, angle in (("x", "0 deg"), ("y", "90 deg")):
        rows.append(
            Change(
                f"stiffness along {axis}", soft.stiffness_along(angle), hard.stiffness_along(angle)
            )
        )
    return rows


def belt_for_frequency(drive: Drive, x: Any, y: Any, frequency: Any, mode: int = 0) -> Quantity:
    """Tell how stiff the belt must be for a mode of the whole drive to have a frequency.

    The modes count from the lowest. A stiffer belt lowers none of them, so that each frequency
    below that of the motors on their magnetic springs belongs to one belt.

    Parameters
    ----------
    drive : Drive
        Its belt's specific stiffness is where the search begins; all else is believed. Fields may
        be arrays, one value for each drawn machine.
    x, y : length
        Place of the head.
    frequency : frequency
        Of the mode; broadcasts with the drive's fields.
    mode : int
        Its number; 0 is the lowest.

    Returns
    -------
    Quantity
        Specific stiffness in N for the whole width; nan for a machine in which no belt from a
        hundredth to the hundredfold of its own makes the mode ring there.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> drive = load(TAGMAKER).drive
    >>> rings = modes.modes(drive, "210 mm", "150 mm").frequency[0]
    >>> round(float(belt_for_frequency(drive, "210 mm", "150 mm", rings).magnitude), 3)
    19400.0

    """
    wanted = np.log(words.base_value(Word("frequency", "Hz"), frequency))
    own = np.log(words.base_value(Word("specific_stiffness", "N"), drive.belt.specific_stiffness))
    whole: Any = drive.belt
    tried, step = own, np.inf
    for _ in range(_ROUNDS):
        belt = attrs.evolve(whole, specific_stiffness=Q(np.exp(tried), "N"))
        found = modes.modes(fitted(drive, belt=belt), x, y)
        mode = modes.numbered("Belt for a frequency", mode, len(found.moves))
        # ln f rises by half the belts' share of the stored energy for each 1 of ln k.
        slope = np.maximum(0.5 * found.stored["belts"][..., mode], 1e-3)
        step = (wanted - np.log(found.frequency.magnitude[..., mode])) / slope
        if np.all((np.abs(step) < _CLOSE) | (np.abs(tried - own) >= _WIDEST)):
            break
        tried = np.clip(tried + np.clip(step, -1.0, 1.0), own - _WIDEST, own + _WIDEST)
    fits = (np.abs(step) < 10 * _CLOSE) & (np.abs(tried - own) < _WIDEST)
    return Q(np.where(fits, np.exp(tried), np.nan), "N")
