"""Who could be hurt?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from mathlib.answers import Answer, Values, evaluate, sources_of, tell
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

CLASS_3B_LIMIT = "0.5 W"  # continuous, 400 nm to 1 mm: IEC 60825-1, upper limit of Class 3B

_ABOUT = {
    "optical_power": "of light that leaves the head",
    "class_3b_limit": "above which a continuous beam is Class 4 (IEC 60825-1)",
    "times_limit": "the head's power over that limit",
}
_MOVING = (
    "The head starts by itself: keep fingers, hair and sleeves out, and put an emergency stop "
    "within reach that takes away motion and tool power."
)
_LASER = (
    "The beam, and its reflections from metal, wet slate or the nozzle, can blind before anyone "
    "blinks. Enclose it; keep everyone else out of the line of sight; wear eyewear rated for this "
    "wavelength and power for the accidental hit, never to stare; watch by camera.",
    "It can set the work alight: never leave it running unattended, keep an extinguisher and a "
    "fire blanket at hand, and watch the tray for embers for half an hour after.",
    "Smoke is poisonous: extract it outdoors. Never process PVC, vinyl, fluoropolymers, ABS, "
    "polycarbonate, chrome-tanned or unknown leather, or anything whose data sheet you lack.",
    "A floating control input can fire the beam at power-up, and a hung controller stands still "
    "with the beam on: pull the input down, put a hardware enable in series, and keep the key off "
    "while hands are inside.",
    "No open beam at a meetup: show a video, or the pen.",
)
_TUBE = (
    "A gas tube's supply stores a lethal charge at tens of kilovolts: interlock it, bond it, and "
    "leave work on it to a qualified person.",
)


def values(machine: Machine) -> Values:
    """Power of the head against the limit of its class; nothing without a laser."""
    head = machine.heads.laser
    if head is None:
        return {}
    limit = Q(CLASS_3B_LIMIT)
    return {
        "optical_power": head.optical_power,
        "class_3b_limit": limit,
        "times_limit": head.optical_power / limit.magnitude / Q("1 W"),
    }


def answer(machine: Machine) -> Answer:
    """Give the cautions for the heads of this machine. Distances and filters are not worked out."""
    typical, drawn, ends = evaluate(machine, values)
    head = machine.heads.laser
    warnings = [_MOVING]
    if machine.heads.knife is not None:
        warnings.append("A drag knife cuts fingers as well as card: park it covered.")
    if head is None:
        verdict = "No laser in this file: moving parts, a blade and the mains remain."
        decided, certain = "the heads in the file", True
    else:
        above = np.asarray(drawn["times_limit"].magnitude) > 1
        certain = bool(np.all(above))
        what = f"{tell(typical['optical_power'])} at {tell(head.wavelength, 5)}"
        if certain:
            verdict = (
                f"Everyone in the room: an open head of {what} has "
                f"{tell(typical['times_limit'], 2)} times the power above which a laser is "
                "Class 4, the highest class. Eyes, skin, fire and fumes; no distance in this room "
                "is far enough by itself."
            )
        else:
            verdict = (
                f"Eyes at least: {what} is near or below the limit between Class 3B and Class 4, "
                "which this page cannot tell apart. Treat it as the higher class."
            )
        decided = "optical power against the limit of Class 3B in IEC 60825-1"
        warnings += _LASER
        if _is_far_infrared(head.wavelength):
            warnings += _TUBE
    return Answer(
        asked="Who could be hurt?",
        values=typical,
        verdict=verdict,
        decided_by=decided,
        flips_at={} if head is None else {"optical_power": Q(CLASS_3B_LIMIT)},
        certain=certain,
        warnings=(
            *warnings,
            "Local law and the licensed standards decide, not this page. Ask a laser safety "
            "officer before the first beam: classing a laser is the work of a qualified person.",
        ),
        sources=(*sources_of(machine, "heads.laser"), "IEC 60825-1, classes of continuous beams"),
        measure_next="Have a qualified person look at enclosure, interlock and eyewear.",
        ranges=ends,
        about=_ABOUT,
    )


def _is_far_infrared(wavelength: Quantity) -> bool:
    """Tell a gas tube by its wavelength beyond 4 µm."""
    return bool(np.all(wavelength.to("um").magnitude > 4.0))
