"""Where pulleys and rails may stand, and what a tooth too few on one belt does."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.motion.gantry import Cure, Gantry, Tolerance
from mathlib.units import Q, Quantity
from mathlib.words import Word

_FAR: Final = 20.0  # mm; further out of place than a pulley is built
_ACCURACY: Final = Word("accuracy", "mm", "of place")
_MM: Final = units.container("mm")


def place_tolerance(gantry: Gantry, accuracy: Any) -> list[Tolerance]:
    """Tell how far each pulley may be out of place for a wanted accuracy over the whole field.

    Each pulley is moved along x and along y, either way, until the change of
    ``Gantry.parallel_error`` reaches the accuracy somewhere, or the belt no longer runs. The error
    of a run that leaves its line grows with the square of the offset, so the offset is searched
    for and not scaled.

    Parameters
    ----------
    gantry : Gantry
        With its pulleys where they are.
    accuracy : length
        Of the head's place.

    Returns
    -------
    list of Tolerance
        For each pulley of each belt, along x and y; infinite where 20 mm do not do it.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> from mathlib.motion.gantries import crossed_belts
    >>> place_tolerance(crossed_belts(load(TAGMAKER).layout), "0.05 mm")[0].pulley
    'belt a, beam left'

    """
    wanted = words.base_value(_ACCURACY, accuracy) * 1e3
    found = []
    for belt, path in enumerate(gantry.paths):
        for number in range(1, len(path.nodes) - 1):
            limits = []
            for way in ((1.0, 0.0), (0.0, 1.0)):

                def moved(
                    by: float,
                    belt: int = belt,
                    number: int = number,
                    way: tuple[float, float] = way,
                ) -> Gantry:
                    return gantry.with_node_moved(belt, number, by * way[0], by * way[1])

                limits.append(units.quantity(_allowed(gantry, moved, wanted), _MM))
            found.append(Tolerance(f"{path.name}, {path.nodes[number].name}", *limits))
    return found


def rail_tolerance(gantry: Gantry, accuracy: Any) -> Quantity:
    """Tell how far the rails may lean sideways over the y travel, by what the belts make of it.

    The frame's pulleys are leant against the rails instead, about the middle of the travel. That
    the axes are then out of square as well, by the same slope, is not counted here.

    Parameters
    ----------
    gantry : Gantry
        With its pulleys where they are.
    accuracy : length
        Of the head's place.

    Returns
    -------
    Quantity
        mm over the whole y travel; infinite where 20 mm do not do it.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> from mathlib.motion.gantries import crossed_belts
    >>> bool(rail_tolerance(crossed_belts(load(TAGMAKER).layout), "0.05 mm").magnitude > 0)
    True

    """
    wanted = words.base_value(_ACCURACY, accuracy) * 1e3
    travel = float(gantry.layout.travel_y.to("mm").magnitude)

    def leant(by: float) -> Gantry:
        found = gantry
        for belt, path in enumerate(gantry.paths):
            changed = {
                number: node._replace(x=node.x + by * (node.y / travel - 0.5))
                for number, node in enumerate(path.nodes)
                if node.on == "frame"
            }
            found = found.with_nodes(belt, changed)
        return found

    return units.quantity(_allowed(gantry, leant, wanted), _MM)


def _field(gantry: Gantry) -> tuple[Any, Any]:
    share = np.linspace(0.0, 1.0, 9)
    return share[:, None] * gantry.layout.travel_x, share * gantry.layout.travel_y


def _allowed(gantry: Gantry, moved: Callable[[float], Gantry], wanted: float) -> float:
    """Offset in mm, the smaller of both ways, at which the error changes by ``wanted``."""
    from scipy.optimize import brentq

    field = _field(gantry)
    base = gantry.parallel_error(*field).position.magnitude

    def excess(by: float) -> float:
        change = moved(by).parallel_error(*field).position.magnitude - base
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


def cures(gantry: Gantry, meant: Gantry) -> list[Cure]:
    """Tell which pulley to move by how much, against the places where they were meant to be.

    Parameters
    ----------
    gantry : Gantry
        With its pulleys where they are.
    meant : Gantry
        The same layout as drawn, with as many pulleys on each belt.

    Returns
    -------
    list of Cure
        The pulleys that are out of place, the one that takes away most of the error first;
        ``.left`` is the worst error over the field once it alone is moved.

    Raises
    ------
    ValueRefused
        A belt cannot run as told.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> from mathlib.motion.gantries import crossed_belts
    >>> drawn = crossed_belts(load(TAGMAKER).layout)
    >>> print(cures(drawn.with_node_moved(0, 4, 1.0, 0.0), drawn)[0].x)
    -1 mm

    """
    found = []
    for belt, (path, drawn) in enumerate(zip(gantry.paths, meant.paths, strict=True)):
        for number in range(1, len(path.nodes) - 1):
            here, there = path.nodes[number], drawn.nodes[number]
            by = there.x - here.x, there.y - here.y
            if max(map(abs, by)) < 1e-6:
                continue
            error = gantry.with_node_moved(belt, number, *by).parallel_error(*_field(gantry))
            left = float(np.max(np.linalg.norm(error.position.magnitude, axis=-1)))
            name = f"{path.name}, {here.name}"
            found.append(Cure(name, Q(by[0], "mm"), Q(by[1], "mm"), Q(left, "mm")))
    return sorted(found, key=lambda cure: float(cure.left.magnitude))


def equal_spans(gantry: Gantry, y: Any) -> Quantity:
    """Tell where the head makes the runs of two crossed belts to the beam's pulleys equal.

    Where they are, equal notes mean equal tensions; elsewhere they do not.

    Parameters
    ----------
    gantry : Gantry
        With crossed belts.
    y : length
        Place of the beam.

    Returns
    -------
    Quantity
        x of the head, in mm.

    Raises
    ------
    ValueRefused
        The belts are not crossed, or the place lies outside the travel.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> from mathlib.motion.gantries import crossed_belts
    >>> print(equal_spans(crossed_belts(load(TAGMAKER).layout), "100 mm").round(6))
    210 mm

    """
    from scipy.optimize import brentq

    if gantry.layout.belts != "crossed":
        raise ValueRefused("Equal spans: only crossed belts have a pair of like runs to compare.")
    along = Q(words.base_value(Word("y", "mm", "", "signed"), y), "m").to("mm")

    def gap(x: float) -> float:
        one, two = (path.runs(path.pose(Q(x, "mm"), along))[0][0] for path in gantry.paths)
        return float(one - two)

    travel = float(gantry.layout.travel_x.to("mm").magnitude)
    if gap(0.0) * gap(travel) > 0:
        raise ValueRefused(
            "Equal spans: nowhere in the travel are they; check the pulleys' places."
        )
    return Q(float(brentq(gap, 0.0, travel, xtol=1e-6)), "mm")


class ShortBelt(NamedTuple):
    """What a belt that is too short does: to the beam, to the tensions, to the head's place."""

    yaw: Quantity
    tension: Quantity  # (n,) N, change of each belt's mean tension
    shift: Quantity  # (2,) mm


def short_belt(
    *,
    gantry: Gantry,
    belt: int,
    shortened: Any,
    energised: bool,
    first_part: float = 0.5,
    yaw_stiffness: Any = None,
) -> ShortBelt:
    """Tell what happens when one belt is shorter than it was meant to be.

    Parameters
    ----------
    gantry : Gantry
        The head is taken to be in the middle of the field.
    belt : int
        Which of ``gantry.paths``.
    shortened : length
        Such as one pitch, for one tooth.
    energised : bool
        Whether the motors hold; if not they let belt through until forces balance.
    first_part : float
        Share of the shortening in the part before the drive: where the slack sat when the
        current came on, 0 to 1. It matters for energised motors alone.
    yaw_stiffness : torque per angle, optional
        Of the beam on its rail blocks; without it the beam turns freely.

    Returns
    -------
    ShortBelt
        ``.yaw`` in deg, ``.tension`` in N for each belt, ``.shift`` of the head in mm; with the
        motors off the head is free, and the shift is zero.

    Raises
    ------
    ValueRefused
        ``first_part`` is no share, or nothing holds the yaw of the beam.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> from mathlib.motion.gantries import crossed_belts
    >>> made = crossed_belts(load(TAGMAKER).layout)
    >>> print(short_belt(gantry=made, belt=0, shortened="2 mm", energised=False).yaw)
    0.1194 deg

    """
    if not 0 <= first_part <= 1:
        raise ValueRefused(f"Short belt: first_part is a share from 0 to 1; got {first_part}.")
    if yaw_stiffness is None and gantry.layout.belts == "plain":
        raise ValueRefused(
            "Short belt: plain axes leave the yaw of the beam to its rails; give yaw_stiffness."
        )
    short = words.base_value(Word("shortened", "mm", "", "signed"), shortened) * 1e3
    middle = gantry.layout.travel_x / 2.0, gantry.layout.travel_y / 2.0
    parts = gantry.parts(*middle)
    count = len(parts.lengths)
    strain = np.zeros(count)
    start = sum(len(path.drives) + 1 for path in gantry.paths[:belt])
    strain[start], strain[start + 1] = first_part * short, (1 - first_part) * short
    slopes = np.concatenate([parts.gradients, -gantry.passing], axis=1)  # x, y, yaw, motors
    held = 3 if energised else 5
    matrix = gantry.elastic(*middle)
    if yaw_stiffness is not None:
        word = Word("yaw_stiffness", "N*m/rad", "", "zero")
        matrix[2, 2] += words.base_value(word, yaw_stiffness) * 1e3
    force = -slopes.T @ (parts.springs * strain)
    # Where nothing holds a move, as of a head whose motors are off, none is taken.
    moved = np.linalg.lstsq(matrix[:held, :held], force[:held], rcond=1e-12)[0]
    left = strain + slopes[:, :held] @ moved
    return ShortBelt(
        Q(float(np.degrees(moved[2])), "deg"),
        Q(gantry.swings(list(left), list(parts.lengths)), "N"),
        Q(moved[:2] if energised else np.zeros(2), "mm"),
    )
