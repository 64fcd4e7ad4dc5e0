"""Is it square? Skew of the axes from what can be measured, and what takes it away.

Skew is how far the angle between the axes is from 90 deg, positive where the corner at the origin
is obtuse.
"""

from __future__ import annotations

import itertools
from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import words
from mathlib.errors import ValueRefused
from mathlib.fields import quantity, record
from mathlib.formula import Example, Formula
from mathlib.units import Quantity
from mathlib.words import Word


@record
class SquareTest:
    """A rectangle that the machine drew, and what was read off it."""

    width: Quantity = quantity("mm", "along x, as commanded")
    depth: Quantity = quantity("mm", "along y, as commanded")
    diagonal_1: Quantity = quantity("mm", "between the two corners beside the origin's")
    diagonal_2: Quantity = quantity("mm", "from the origin's corner to the opposite one")
    reading: Quantity = quantity("mm", "standard uncertainty of each diagonal")


_SKEW = ("skew", "deg", "of the axes; positive where the corner at the origin is obtuse", "signed")
_PARALLELOGRAM = "opposite sides are equal: a parallelogram, as straight axes draw it"

skew_from_diagonals = Formula(
    title="Skew from the two diagonals of a rectangle",
    equation="g = asin((d_1**2 - d_2**2) / (4 * w * h))",
    where={
        "g": _SKEW,
        "w": ("width", "mm", "of the commanded rectangle"),
        "h": ("depth", "mm", "of the commanded rectangle"),
        "d_1": ("diagonal_1", "mm", "between the two corners beside the origin's"),
        "d_2": ("diagonal_2", "mm", "from the origin's corner to the opposite one"),
    },
    assumes=(_PARALLELOGRAM, "width and depth are right; the mean square of both diagonals tells"),
    source="Cosine rule in both triangles of a parallelogram",
    example=Example(
        {"width": "300 mm", "depth": "200 mm", "diagonal_1": "362.4 mm", "diagonal_2": "358.7 mm"},
        "0.637 deg",
        1e-3,
        "by hand: (131333.76 - 128665.69) / 240000 = 0.0111170; asin is 0.63697 deg",
        brackets={
            "diagonal_1": ("300 mm", "400 mm"),
            "width": ("250 mm", "350 mm"),
            "depth": ("150 mm", "250 mm"),
        },
    ),
)

skew_from_overlay = Formula(
    title="Skew from two identical pieces, one flipped and laid on the other",
    equation="g = atan(x / (2 * s))",
    where={
        "g": _SKEW,
        "x": ("mismatch", "mm", "at the far side, aligned along the near one", "signed"),
        "s": ("side", "mm", "of the piece, from the near to the far side"),
    },
    assumes=("both pieces are cut alike; flipping one doubles the shear",),
    source="Shear of the piece and of its mirror image, added",
    example=Example(
        {"mismatch": "3 mm", "side": "140 mm"},
        "0.6139 deg",
        2e-4,
        "by hand: 1.5 / 140 = 0.0107143; its arctangent is 0.61387 deg",
    ),
)

skew_from_legs = Formula(
    title="Skew from two legs and the line across",
    equation="g = asin((c**2 - a**2 - b**2) / (2 * a * b))",
    where={
        "g": _SKEW,
        "a": ("leg_1", "mm", "along one axis from the corner"),
        "b": ("leg_2", "mm", "along the other axis from the corner"),
        "c": ("hypotenuse", "mm", "from the end of one leg to the end of the other"),
    },
    assumes=("all three are measured between the same marks",),
    source="Cosine rule",
    example=Example(
        {"leg_1": "600 mm", "leg_2": "800 mm", "hypotenuse": "1001.5 mm"},
        "0.1792 deg",
        3e-4,
        "by hand: (1003002.25 - 1000000) / 960000 = 0.00312734; asin is 0.179184 deg",
        brackets={"leg_1": ("500 mm", "700 mm"), "leg_2": ("700 mm", "900 mm")},
    ),
)

skew_from_oval = Formula(
    title="Skew from a circle that came out oval",
    equation="g = (D_1 - D_2) / D",
    where={
        "g": _SKEW,
        "D_1": ("diameter_along", "mm", "along the line between the field's two acute corners"),
        "D_2": ("diameter_across", "mm", "at right angles to it"),
        "D": ("diameter", "mm", "of the commanded circle"),
    },
    assumes=(
        "the oval lies at 45 deg to the axes; one along the axes is unequal scale, not skew",
        "the skew is small",
    ),
    source="Shear of a circle, first order",
    example=Example(
        {"diameter_along": "376.5 mm", "diameter_across": "373.5 mm", "diameter": "375 mm"},
        "0.4584 deg",
        2e-4,
        "by hand: 3 / 375 = 0.008 rad = 0.45837 deg",
    ),
)

skew_from_mirror = Formula(
    title="Skew from a line laser and a mirror on the other axis",
    equation="g = atan(x / L) / 2",
    where={
        "g": _SKEW,
        "x": ("mismatch", "mm", "of the returned line from the one that went out", "signed"),
        "L": ("distance", "mm", "that the line travels back from the mirror"),
    },
    assumes=(
        "the line leaves along one axis, and the mirror stands across the other's rail",
        "the line laser is of a class that may be used in the open, and nobody looks into it",
    ),
    source="A mirror turned by an angle turns the reflected line by twice as much",
    example=Example(
        {"mismatch": "2.5 mm", "distance": "400 mm"},
        "0.17905 deg",
        2e-4,
        "by hand: 2.5 / 400 = 0.00625; half its arctangent is 0.179047 deg",
    ),
)

shear_shift = Formula(
    title="Shift that takes away a skew at some distance",
    equation="x = y * tan(g)",
    where={
        "x": ("shift", "mm", "along the one axis", "signed"),
        "y": ("distance", "mm", "along the other axis", "signed"),
        "g": _SKEW,
    },
    assumes=("the skew is the same over the field",),
    source="Geometry",
    example=Example(
        {"distance": "300 mm", "skew": "0.11936629 deg"},
        "0.625001 mm",
        1e-5,
        "by hand: tan(0.00208334 rad) = 0.00208334; times 300",
    ),
)

jog_spacing = Formula(
    title="Distance from one jog to the next when software takes a skew away",
    equation="L = s / tan(g)",
    where={
        "L": ("jog_spacing", "mm", "along the axis that is followed"),
        "s": ("belt_step", "mm", "belt travel of one microstep"),
        "g": ("skew", "deg", "of the axes; positive where the corner at the origin is obtuse"),
    },
    assumes=("the correcting axis moves one microstep at a time",),
    source="Geometry",
    example=Example(
        {"belt_step": "0.0125 mm", "skew": "0.2864765 deg"},
        "2.5 mm",
        1e-5,
        "by hand: 2 mm over 400 mm is 0.005; 0.0125 / 0.005 = 2.5",
    ),
)

skew_from_unequal_belts = Formula(
    title="Skew of crossed belts of unequal pitch or pulleys",
    equation="g = asin((k**2 - 1) / (k**2 + 1))",
    where={
        "g": _SKEW,
        "k": ("belt_ratio", "1", "travel of belt b over travel of belt a for the same steps"),
    },
    assumes=("x = (a + b) / 2 and y = (a - b) / 2", "both motors get the same steps per length"),
    source="Angle between the images of the two axes",
    example=Example(
        {"belt_ratio": "1.016 1"},
        "0.9094 deg",
        2e-4,
        "by hand: 0.032256 / 2.032256 = 0.0158720; asin is 0.90943 deg",
    ),
)

scale_from_unequal_belts = Formula(
    title="Scale of both axes with crossed belts of unequal pitch or pulleys",
    equation="q = sqrt((1 + k**2) / 2)",
    where={
        "q": ("scale", "1", "length drawn over length commanded, the same along both axes"),
        "k": ("belt_ratio", "1", "travel of belt b over travel of belt a for the same steps"),
    },
    assumes=("x = (a + b) / 2 and y = (a - b) / 2", "belt a is the one that the steps are set for"),
    source="Length of the image of each axis",
    example=Example(
        {"belt_ratio": "1.016 1"},
        "1.00803 1",
        5e-6,
        "by hand: sqrt(2.032256 / 2) = sqrt(1.016128) = 1.008032",
    ),
)

racking_crossed = Formula(
    title="Racking by one tooth on one of two equal crossed belts",
    equation="a = atan(p / (2 * W))",
    where={
        "a": ("racking", "deg", "of the beam against its rails"),
        "p": ("pitch", "mm", "of the belt, tooth to tooth"),
        "W": ("rail_spacing", "mm", "between the planes of the y runs"),
    },
    assumes=(
        "the beam turns freely; stiff rails turn less, and the tensions differ instead",
        "the motors are off; with current on the head also shifts by up to half a tooth",
    ),
    source="Balance of the two loops' tensions: half the tooth shows across the rails",
    example=Example(
        {"pitch": "2 mm", "rail_spacing": "400 mm"},
        "0.14324 deg",
        1e-4,
        "by hand: 2 / 800 = 0.0025 rad = 0.143239 deg",
    ),
)

racking_shaft = Formula(
    title="Racking by one tooth on one of two belts of a common shaft",
    equation="a = atan(p / W)",
    where={
        "a": ("racking", "deg", "of the beam against its rails"),
        "p": ("pitch", "mm", "of the belt, tooth to tooth"),
        "W": ("rail_spacing", "mm", "between the two belts"),
    },
    assumes=("the beam turns freely; the shaft cannot share the tooth",),
    source="Geometry: the whole tooth shows across the rails",
    example=Example(
        {"pitch": "2 mm", "rail_spacing": "500 mm"},
        "0.22918 deg",
        1e-4,
        "by hand: 2 / 500 = 0.004 rad = 0.229182 deg",
    ),
)


single_belt_moment = Formula(
    title="Moment on a beam that one belt round both axes pulls along x",
    equation="M = W * F / 2",
    where={
        "M": ("moment", "N*m", "that the rails must take", "zero"),
        "W": ("rail_spacing", "mm", "between the planes of the y runs"),
        "F": ("force", "N", "on the head along x", "zero"),
    },
    assumes=("the runs that pull and those that give share the force evenly",),
    source="Balance of the four y runs",
    example=Example(
        {"rail_spacing": "400 mm", "force": "20 N"}, "4 N*m", 1e-12, "by hand: 0.4 * 20 / 2"
    ),
)


def racking_from_tooth(*, pitch: Any, rail_spacing: Any, belts: str) -> Quantity:
    """Angle by which a beam racks when one of its belts is a tooth shorter.

    Parameters
    ----------
    pitch, rail_spacing : length, broadcast together
        Of the belt, and between the planes of the y runs.
    belts : str
        "crossed" (half the tooth shows) or "shaft" (all of it).

    Returns
    -------
    Quantity
        deg.

    Raises
    ------
    ValueRefused
        With one belt along y, or one round both axes, no tooth can be unequal.

    Examples
    --------
    >>> print(racking_from_tooth(pitch="2 mm", rail_spacing="400 mm", belts="crossed"))
    0.1432 deg

    """
    if belts == "crossed":
        return racking_crossed(pitch=pitch, rail_spacing=rail_spacing)
    if belts == "shaft":
        return racking_shaft(pitch=pitch, rail_spacing=rail_spacing)
    raise ValueRefused(
        f'Racking by one tooth: belts is "crossed" or "shaft", where two belts hold the beam; '
        f"got {belts!r}."
    )


class WiringFault(NamedTuple):
    """What a head's moves say about the motors, and how far off the best fit is."""

    fault: str
    misfit: float


_SUMS: Final = np.array([[1.0, 1.0], [1.0, -1.0]])  # a = x + y, b = x - y


def _wirings() -> dict[str, Any]:
    """Tell what each wiring makes of the motors' commanded turns: rows a, b."""
    found = {"wired as meant": np.eye(2)}
    signs = {"": 1.0, " reversed": -1.0, " dead": 0.0}
    for (a, one), (b, two) in itertools.product(signs.items(), repeat=2):
        told = " and ".join(f"motor {m}{s}" for m, s in (("a", a), ("b", b)) if s)
        turned = np.diag([one, two])
        if told and (one or two):
            found.setdefault(told, turned)
        if one or two:
            swapped = "motors swapped" + (f", {told}" if told else "")
            found.setdefault(swapped, turned @ np.array([[0.0, 1.0], [1.0, 0.0]]))
    return found


def wiring_fault(*, moved_for_x: Any, moved_for_y: Any, commanded: Any) -> WiringFault:
    """Tell from two test moves how the motors of crossed belts are wired.

    Parameters
    ----------
    moved_for_x, moved_for_y : pair of lengths
        Where the head went, along x and y, for a command along +x, and along +y.
    commanded : length
        Of each of the two moves.

    Returns
    -------
    WiringFault
        ``.fault`` in words, ``.misfit`` as part of the commanded length.

    Raises
    ------
    ValueRefused
        Nothing fits: the head lost its way, or the belts do not run as crossed ones.

    Examples
    --------
    >>> wiring_fault(moved_for_x=("5 mm", "5 mm"), moved_for_y=("5 mm", "5 mm"),
    ...              commanded="10 mm").fault
    'motor b dead'

    """
    length = words.base_value(Word("commanded", "mm", "of each move"), commanded)
    place = Word("moved", "mm", "of the head", "signed")
    moved = np.array([words.base_value(place, list(pair)) for pair in (moved_for_x, moved_for_y)]).T
    moved = moved / length
    misfits = {
        name: float(np.max(np.abs(np.linalg.solve(_SUMS, turned @ _SUMS) - moved)))
        for name, turned in _wirings().items()
    }
    fault = min(misfits, key=lambda name: misfits[name])
    if misfits[fault] > 0.25:
        raise ValueRefused(
            "Wiring: no swap, reversal or dead motor moves the head like that. Check that both "
            "moves began at rest, that the belts cross, and the steps per length."
        )
    return WiringFault(fault, misfits[fault])


belt_a_travel = Formula(
    title="Travel of belt a of crossed belts",
    equation="a = x + y",
    where={
        "a": ("belt_a", "mm", "at its motor", "signed"),
        "x": ("x", "mm", "of the head", "signed"),
        "y": ("y", "mm", "of the head", "signed"),
    },
    assumes=("all moving runs are parallel to their rails",),
    source="Derivative of the part-length of belt a",
    example=Example({"x": "30 mm", "y": "-12 mm"}, "18 mm", 1e-12, "by hand: 30 - 12"),
)

belt_b_travel = Formula(
    title="Travel of belt b of crossed belts",
    equation="b = x - y",
    where={
        "b": ("belt_b", "mm", "at its motor", "signed"),
        "x": ("x", "mm", "of the head", "signed"),
        "y": ("y", "mm", "of the head", "signed"),
    },
    assumes=("all moving runs are parallel to their rails",),
    source="Derivative of the part-length of belt b",
    example=Example({"x": "30 mm", "y": "-12 mm"}, "42 mm", 1e-12, "by hand: 30 + 12"),
)
