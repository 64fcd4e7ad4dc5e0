"""How much energy lands?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from mathlib.answers import (
    Answer,
    Values,
    evaluate,
    percent,
    settled,
    share,
    sources_of,
    spot,
    tell,
)
from mathlib.laser import dose
from mathlib.units import Q

if TYPE_CHECKING:
    from mathlib.machine import Machine

EVEN = 0.1  # ripple up to which a filled area counts as even

_ABOUT = {
    "line_energy": "for each length of line",
    "areal_dose": "for each area of a filled raster, mean",
    "ripple": "unevenness across the lines of a filled area, peak to valley over the mean",
    "overlap": "part of the spot that the next line covers; below 0 a gap",
    "dwell": "for which the spot covers a point in the middle of a line",
    "power_on_work": "of light, at the job's share of the head's power",
}


def values(machine: Machine) -> Values:
    """All values of the answer."""
    head, job = spot.laser(machine), machine.job
    diameter, _ = spot.spot_diameter(head)
    power = head.optical_power * job.power_share.magnitude
    return {
        "line_energy": dose.line_energy(power=power, speed=job.speed),
        "areal_dose": dose.areal_dose(power=power, speed=job.speed, line_spacing=job.line_spacing),
        "overlap": dose.line_overlap(line_spacing=job.line_spacing, diameter=diameter),
        "ripple": dose.ripple(diameter=diameter, line_spacing=job.line_spacing),
        "dwell": dose.dwell(diameter=diameter, speed=job.speed),
        "power_on_work": power,
    }


def answer(machine: Machine) -> Answer:
    """Answer for the laser head and the job of this machine."""
    typical, drawn, ends = evaluate(machine, values)
    even = drawn["ripple"].magnitude <= EVEN
    certain = settled(even)
    told = (
        f"{tell(typical['line_energy'])} lands on a line, {tell(typical['areal_dose'])} on a "
        f"filled area on average, in {tell(typical['dwell'])} for each point."
    )
    if not certain:
        verdict = (
            f"{told} Whether the average is what a filled area gets cannot be told yet: across the "
            f"lines it is even to {percent(EVEN)} in {percent(share(even))} of the drawn heads. "
            "Measure the spot."
        )
    elif share(even) > 0.5:
        verdict = f"{told} Across the lines it varies by {percent(_ripple(typical))}: nearly even."
    else:
        verdict = (
            f"{told} Across the lines it varies by {percent(_ripple(typical))} of that: lines "
            "show. Closer lines even it out, and raise the dose."
        )
    material = machine.job.material or "the material"
    return Answer(
        asked="How much energy lands?",
        values=typical,
        verdict=verdict,
        decided_by="the ripple across the lines, from line spacing and spot",
        flips_at=_flips(machine),
        certain=certain,
        warnings=(
            f"What this does to {material} is not in these numbers: the same dose at another "
            "speed can mark differently.",
            "Optical watts are meant. The electrical input of a module is several times that, "
            "and a label may state either.",
        ),
        sources=sources_of(machine, "heads.laser"),
        measure_next="Optical power at the work, with a power meter; then a coupon of strips.",
        ranges=ends,
        about=_ABOUT,
    )


def _ripple(typical: Values) -> Any:
    return typical["ripple"].magnitude


def _flips(machine: Machine) -> Values:
    """Line spacing at which the ripple is what counts as even."""
    diameter, _ = spot.spot_diameter(spot.laser(machine.typical()))
    spacings = np.linspace(0.2, 1.2, 2001) * float(np.median(diameter.to("mm").magnitude))
    found = dose.ripple(
        diameter=Q(float(np.median(diameter.to("mm").magnitude)), "mm"),
        line_spacing=Q(spacings, "mm"),
    )
    return {"line_spacing": Q(float(np.interp(EVEN, found.magnitude, spacings)), "mm")}
