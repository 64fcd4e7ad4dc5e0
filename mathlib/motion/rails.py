"""Rails: what their parallelism does to the beam, and what drag along the travel tells."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import words
from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.units import Q, Quantity
from mathlib.words import Word

_DIFFERENCE: Final = ("difference", "mm", "of one rail's course from the other's along y", "signed")
_SPACING: Final = ("rail_spacing", "mm", "between the two rails")

beam_yaw = Formula(
    title="Yaw of a beam whose ends are not level along y",
    equation="a = atan(d / W)",
    where={
        "a": ("yaw", "deg", "of the beam against its rails", "signed"),
        "d": _DIFFERENCE,
        "W": _SPACING,
    },
    assumes=("the beam is stiff, and its ends follow their belts or stops",),
    source="Geometry",
    example=Example(
        {"difference": "0.5 mm", "rail_spacing": "480 mm"},
        "0.059683 deg",
        1e-5,
        "by hand: 0.5 / 480 = 0.00104167 rad = 0.0596831 deg",
    ),
)

squeeze = Formula(
    title="Force across the blocks of two fixed rails that come closer",
    equation="F = k * c",
    where={
        "F": ("force", "N", "across the travel, on each block", "zero"),
        "k": ("block_stiffness", "N/mm", "of blocks, rails and beam together, across the travel"),
        "c": (
            "misalignment",
            "mm",
            "by which the rails' distance is off at that place",
            "zero",
        ),
    },
    assumes=(
        "both rails and both ends of the beam are fixed; one end that floats takes this away",
        "the blocks have no play",
    ),
    source="Hooke's law",
    example=Example(
        {"block_stiffness": "2000 N/mm", "misalignment": "0.02 mm"}, "40 N", 1e-12, "by hand"
    ),
)

block_drag = Formula(
    title="Drag of a preloaded rail block",
    equation="F = mu * P + F_s",
    where={
        "F": ("friction", "N", "along the rail"),
        "mu": ("friction_coefficient", "1", "of the rolling balls, 0.002 to 0.006"),
        "P": ("preload", "N", "and load together, on the block", "zero"),
        "F_s": ("seal_drag", "N", "of its wipers and grease, often the larger part", "zero"),
    },
    assumes=("the balls roll; a dry or dirty block slides",),
    source="Rail makers' catalogues print this sum",
    example=Example(
        {"friction_coefficient": 0.004, "preload": "200 N", "seal_drag": "1.2 N"},
        "2 N",
        1e-9,
        "by hand: 0.8 + 1.2",
    ),
)


twist_shift = Formula(
    title="Shift of the tool from two rails that are twisted against each other",
    equation="s = h * d / W",
    where={
        "s": ("shift", "mm", "of the tool along the beam", "signed"),
        "h": ("height", "mm", "of the rails above the work"),
        "d": ("rise", "mm", "of one rail over the other since the start of the travel", "signed"),
        "W": _SPACING,
    },
    assumes=("the rise is small beside the spacing", "beam and carriage are stiff"),
    source="Geometry: the beam tilts by d / W, and the tool hangs h below it",
    example=Example(
        {"height": "60 mm", "rise": "0.4 mm", "rail_spacing": "480 mm"},
        "0.05 mm",
        1e-12,
        "by hand: 60 * 0.4 / 480 = 0.05",
    ),
)


class DragPattern(NamedTuple):
    """What drag along the travel says: in words, with the numbers behind it."""

    likely: str
    mean: Quantity
    rise: Quantity
    wave: Quantity
    scatter: Quantity


def drag_pattern(*, place: Any, drag: Any, turn: Any) -> DragPattern:
    """Tell from a pull along the travel where drag comes from.

    Parameters
    ----------
    place : length, shape (n,)
        Of the head along the axis; at least eight places.
    drag : force, shape (n,)
        Read there while pulling slowly, motors unplugged from their drivers.
    turn : length
        Belt travel of one turn of the pulley.

    Returns
    -------
    DragPattern
        ``.likely`` in words; ``.mean``, ``.rise`` over the travel, ``.wave`` (amplitude at one
        turn of the pulley) and ``.scatter`` of what is left.

    Raises
    ------
    ValueRefused
        There are fewer than eight places, or they span less than two turns.

    Examples
    --------
    >>> import numpy as np
    >>> x = np.arange(0.0, 300.0, 10.0)
    >>> drag_pattern(place=Q(x, "mm"), drag=Q(3 + 0.02 * x, "N"), turn="40 mm").likely
    'it rises along the travel: the rails are not parallel, or the beam is not square to them'

    """
    told = (("place", "mm", place), ("drag", "N", drag), ("turn", "mm", turn))
    x, force, period = (words.base_value(Word(n, u, "", "zero"), v) for n, u, v in told)
    if np.shape(x) != np.shape(force) or np.size(x) < 8 or np.ptp(x) < 2 * period:
        raise ValueRefused(
            "Drag along the travel: give at least eight places, as many drags, over two turns of "
            "the pulley or more."
        )
    phase = 2 * np.pi * x / period
    terms = np.stack([np.ones_like(x), x - np.mean(x), np.cos(phase), np.sin(phase)], axis=-1)
    found, *_ = np.linalg.lstsq(terms, force, rcond=None)
    left = force - terms @ found
    scatter = float(np.sqrt(np.sum(left**2) / (np.size(x) - 4)))
    mean, rise = float(found[0]), float(found[1] * np.ptp(x))
    wave = float(np.hypot(found[2], found[3]))
    sure = max(3 * scatter / np.sqrt(np.size(x) / 2), 0.05 * mean)
    if wave > sure and wave > abs(rise) / 2:
        likely = (
            "it comes and goes with the pulley: an eccentric or tight pulley, or a belt's joint"
        )
    elif abs(rise) > 2 * sure:
        side = "rises" if rise > 0 else "falls"
        likely = (
            f"it {side} along the travel: the rails are not parallel, or the beam is not square "
            "to them"
        )
    else:
        likely = "it is even: preload, seals, grease or belt tension, the same everywhere"
    numbers = (Q(value, "N") for value in (mean, rise, wave, scatter))
    return DragPattern(likely, *numbers)
