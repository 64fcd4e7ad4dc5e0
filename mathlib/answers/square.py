"""Is it square?"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from mathlib.answers import (
    Answer,
    Values,
    evaluate,
    percent,
    ratio,
    settled,
    share,
    sources_of,
    tell,
)
from mathlib.motion import squareness
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

_ABOUT = {
    "skew_allowed": "of the axes, before the far corner is out by the accuracy that is needed",
    "diagonal_difference_allowed": "between the diagonals of the whole field at that skew",
    "reading_needed": "standard uncertainty of a diagonal that can tell a third of that",
    "skew": "of the axes from the diagonals; positive where the origin's corner is obtuse",
    "skew_std": "standard uncertainty of the skew, from the reading",
    "shift": "along x at the far end of the field that takes the skew away",
    "tooth_racking": "of a free beam when one belt is a tooth shorter",
    "belt_difference": "by which one belt must be shorter to turn a free beam by the skew",
}


def values(machine: Machine) -> Values:
    """All values of the answer."""
    work, frame = machine.machine, machine.frame
    allowed = squareness.shear_shift.solve(
        "skew", shift=machine.job.accuracy, distance=work.travel_y
    )
    found = {
        "skew_allowed": allowed,
        "diagonal_difference_allowed": _difference(machine, allowed),
    }
    found["reading_needed"] = found["diagonal_difference_allowed"] / 3.0 / math.sqrt(2.0)
    if machine.square is not None:
        test = machine.square
        told = {
            name: getattr(test, name) for name in ("width", "depth", "diagonal_1", "diagonal_2")
        }
        skew = squareness.skew_from_diagonals(**told)
        spread = {"diagonal_1": test.reading, "diagonal_2": test.reading}
        found["skew"] = skew
        found["skew_std"] = squareness.skew_from_diagonals.uncertainty(spread, **told).std
        found["shift"] = squareness.shear_shift(distance=work.travel_y, skew=skew)
    if work.belts in ("crossed", "shaft"):
        found["tooth_racking"] = squareness.racking_from_tooth(
            pitch=machine.belt.pitch, rail_spacing=frame.rail_spacing, belts=work.belts
        )
        if "skew" in found:
            size = np.abs(np.tan(found["skew"].to("rad").magnitude))
            halves = 2.0 if work.belts == "crossed" else 1.0
            found["belt_difference"] = frame.rail_spacing * size * halves
    return found


def _difference(machine: Machine, skew: Quantity) -> Quantity:
    """Difference of the diagonals of the whole field at a skew."""
    work = machine.machine
    diagonal = Q(np.hypot(work.travel_x.magnitude, work.travel_y.magnitude), "mm")
    longer = squareness.skew_from_diagonals.solve(
        "diagonal_1",
        skew=skew,
        width=work.travel_x,
        depth=work.travel_y,
        diagonal_2=diagonal,
    )
    gap: Quantity = longer - diagonal
    return gap


def answer(machine: Machine) -> Answer:
    """Answer for this machine: what must be told apart, and what its test piece says."""
    typical, _, ends = evaluate(machine, values)
    told = (
        f"Over {tell(machine.machine.travel_y)} the work allows {tell(typical['skew_allowed'])} of "
        f"skew: diagonals that differ by {tell(typical['diagonal_difference_allowed'], 2)}."
    )
    if "skew" not in typical:
        verdict = (
            f"{told} Whether yours is square cannot be told yet: draw the largest rectangle, "
            f"measure both diagonals, each to {tell(typical['reading_needed'], 2)} or better, and "
            "write them under [square]. Where a rule is too coarse, cut two pieces alike and lay "
            "one flipped on the other: that doubles the skew."
        )
        certain, flips = False, {"skew": typical["skew_allowed"]}
    else:
        certain, verdict = _judged(machine, typical, told)
        flips = {"skew": typical["skew_allowed"]}
    return Answer(
        asked="Is it square?",
        values=typical,
        verdict=verdict,
        decided_by="skew from the diagonals, against what the work allows",
        flips_at=flips,
        certain=certain,
        warnings=(*_scale(machine), *_WARNINGS),
        sources=(
            *sources_of(machine, "square", "frame", "job"),
            "parallelogram: cosine rule in both of its triangles",
        ),
        measure_next=(
            "Both diagonals of the largest rectangle that the machine can draw: a small test piece "
            "with callipers tells less."
        ),
        ranges=ends,
        about=_ABOUT,
    )


_LARGEST = 3.0  # deg; no frame that was put together by hand is that far out
_SCALE = 0.003  # of the mean diagonal; beyond it the size is wrong as well


def _scale(machine: Machine) -> tuple[str, ...]:
    """Warn where both diagonals together say that the size is wrong."""
    test = machine.square
    if test is None:
        return ()
    read = (test.diagonal_1, test.diagonal_2, test.width, test.depth)
    told = [value.to("mm").magnitude for value in read]
    off = float(np.median(np.sqrt((told[0] ** 2 + told[1] ** 2) / 2) / np.hypot(*told[2:]) - 1))
    if abs(off) < _SCALE:
        return ()
    return (
        f"Both diagonals together are {percent(abs(off))} too {'long' if off > 0 else 'short'} for "
        "the commanded width and depth: the scale is off as well, such as a wrong tooth count.",
    )


_WARNINGS = (
    "The diagonals tell skew, not scale: unequal sides come from steps per length, or from unequal "
    "pulleys or pitches on the two belts of a crossed machine, which shows as skew too.",
    "Square the beam with the motors off, then switch them on: energised motors hold what they "
    "find.",
)


def _judged(machine: Machine, typical: Values, told: str) -> tuple[bool, str]:
    skew, std = typical["skew"].to("deg"), typical["skew_std"].to("deg")
    allowed = typical["skew_allowed"].to("deg")
    size = np.abs(np.asarray(skew.magnitude))
    # 1.645 standard uncertainties: nine cases in ten lie between both ends
    low, high = size - 1.645 * std.magnitude, size + 1.645 * std.magnitude
    if np.any(size > _LARGEST):
        return False, (
            f"{told} Your readings would mean {tell(skew)} of skew, more than {_LARGEST:g} deg: "
            "check the four numbers under [square]."
        )
    found = f"{told} Your rectangle shows {tell(skew)} ± {tell(std, 2)}"
    if share(high <= allowed.magnitude) > 0.5 and settled(high <= allowed.magnitude):
        return True, f"{found}: square enough for this work."
    if share(low > allowed.magnitude) <= 0.5:
        return False, (
            f"{found}: whether that is square enough cannot be told yet. Measure a larger "
            "rectangle, or more closely."
        )
    advice = "square the beam on its rails, or shear in software by "
    advice += f"{tell(typical['shift'])} over the depth of the field"
    if "belt_difference" in typical:
        part = ratio(typical["belt_difference"], machine.belt.pitch)
        # A beam that turns against the clock, seen from above, closes an obtuse corner at the
        # origin: a shorter belt at the left motor turns it so, or a right end further back.
        obtuse = float(np.median(skew.magnitude)) > 0
        by = f"{tell(typical['belt_difference'], 2)} ({float(np.median(part)):.2g} teeth)"
        if machine.machine.belts == "crossed":
            remedy = f"shorten the belt of the {'left' if obtuse else 'right'} front motor by {by}"
        else:
            end = "right" if obtuse else "left"
            remedy = f"shift the beam's {end} end on its belt by {by} towards the rear"
        advice = (
            f"{remedy}, motors off and the beam free to turn (origin in the front left corner). In "
            f"software it is a shear of {tell(typical['shift'])} over the depth"
        )
    return True, f"{found}: not square enough. To mend it, {advice}."
