"""Belt lengths and stiffness of the usual layouts, from travel and overrun alone.

The driven pulleys sit in the two rear corners of the frame (crossed belts) or at one end of each
axis (plain axes); every moving run is parallel to its rail. Pulley radii are left out: they add
the same small length at every place.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from mathlib import units
from mathlib.errors import Unanswerable
from mathlib.motion import belts, resonance
from mathlib.units import Quantity


class Parts(NamedTuple):
    """The two parts of a belt, from its anchor on the head to the driven pulley, each way round."""

    length_1: Quantity
    length_2: Quantity


def part_lengths(
    *,
    gantry: str,
    x: Quantity,
    y: Quantity,
    travel_x: Quantity,
    travel_y: Quantity,
    overrun: Quantity,
) -> tuple[Parts, Parts]:
    """Part-lengths of both belts with the head at x, y; motors at the far end of y.

    Parameters
    ----------
    gantry : str
        "crossed", "plain" or "shaft".
    x, y, travel_x, travel_y, overrun : Quantity, broadcast together
        Place of the head, travel of each axis, distance from its end to the next pulley.

    Returns
    -------
    tuple of Parts
        Belts a and b, or those of x and y. The sum of each is the same everywhere.

    Raises
    ------
    Unanswerable
        One belt round both axes: its lengths do not follow from this layout.

    Examples
    --------
    >>> from mathlib.units import Q
    >>> told = dict(travel_x=Q("420 mm"), travel_y=Q("300 mm"), overrun=Q("45 mm"))
    >>> a, b = part_lengths(gantry="crossed", x=Q("0 mm"), y=Q("300 mm"), **told)
    >>> print(a.length_1, a.length_1 + a.length_2, b.length_1 + b.length_2)
    90 mm 1800 mm 1800 mm

    """
    width, depth = travel_x + 2.0 * overrun, travel_y + 2.0 * overrun
    left, right = x + overrun, travel_x - x + overrun
    front, rear = y + overrun, travel_y - y + overrun
    if gantry == "crossed":
        round_frame = depth + width
        return (
            Parts(left + rear, round_frame + front + right),
            Parts(right + rear, round_frame + front + left),
        )
    if gantry in ("plain", "shaft"):
        return Parts(left, 2.0 * width - left), Parts(rear, 2.0 * depth - rear)
    raise Unanswerable(
        f"Belt lengths: the layout {gantry!r} is not worked out from travel and overrun alone."
    )


def lowest_frequency(
    *,
    gantry: str,
    parts: tuple[Parts, Parts],
    specific_stiffness: Any,
    mass_x: Any,
    mass_y: Any,
    motor_stiffness: Any = None,
) -> Quantity:
    """Lowest natural frequency of the head on its belts at one place.

    Parameters
    ----------
    gantry, parts
        As ``part_lengths`` takes and gives them.
    specific_stiffness : force
        Of one belt.
    mass_x, mass_y : mass
        That moves along x, and along y.
    motor_stiffness : stiffness, optional
        Of one motor's magnetic spring at the belt, behind each belt; without it the shafts are
        held. The rotors' inertia is left out.

    Returns
    -------
    Quantity
        In Hz, of the broadcast shape.

    Raises
    ------
    UnitError, ValueRefused
        As the formulas that it calls.

    Examples
    --------
    >>> from mathlib.units import Q
    >>> parts = (Parts(Q("500 mm"), Q("700 mm")),) * 2
    >>> print(lowest_frequency(gantry="plain", parts=parts, specific_stiffness="19.4 kN",
    ...                        mass_x="0.6 kg", mass_y="0.6 kg"))
    52.99 Hz

    """
    held = []
    for axis, part in enumerate(parts):
        stiffness = belts.carriage_stiffness(
            specific_stiffness=specific_stiffness, length_1=part.length_1, length_2=part.length_2
        )
        if gantry == "shaft" and axis == 1:  # two belts side by side carry the beam
            stiffness = 2.0 * stiffness
        if motor_stiffness is not None:
            stiffness = resonance.series_stiffness(
                stiffness_1=stiffness, stiffness_2=motor_stiffness
            )
        held.append(stiffness)
    if gantry == "crossed":
        return resonance.crossed_low_frequency(
            stiffness_a=held[0], stiffness_b=held[1], mass_x=mass_x, mass_y=mass_y
        )
    along = [
        resonance.held_carriage_frequency(stiffness=k, mass=m)
        for k, m in zip(held, (mass_x, mass_y), strict=True)
    ]
    return units.Q(np.minimum(along[0].magnitude, along[1].magnitude), "Hz")
