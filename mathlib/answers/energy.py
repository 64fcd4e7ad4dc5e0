"""How much energy lands?"""

from __future__ import annotations

from typing import TYPE_CHECKING

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

if TYPE_CHECKING:
    from mathlib.machine import Machine

_ABOUT = {
    "line_energy": "for each length of line",
    "areal_dose": "for each area of a filled raster, mean",
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
        "dwell": dose.dwell(diameter=diameter, speed=job.speed),
        "power_on_work": power,
    }


def answer(machine: Machine) -> Answer:
    """Answer for the laser head and the job of this machine."""
    typical, drawn, ends = evaluate(machine, values)
    overlaps = drawn["overlap"].magnitude > 0
    certain = settled(overlaps)
    told = (
        f"{tell(typical['line_energy'])} lands on a line, {tell(typical['areal_dose'])} on a "
        f"filled area, in {tell(typical['dwell'])} for each point."
    )
    if not certain:
        verdict = (
            f"{told} Whether the lines overlap cannot be told yet: they do in "
            f"{percent(share(overlaps))} of the drawn heads. Measure the spot."
        )
    elif share(overlaps) > 0.5:
        verdict = f"{told} The lines overlap, so the mean is what an area gets."
    else:
        verdict = f"{told} The lines leave gaps: the mean says less than what each line gets."
    material = machine.job.material or "the material"
    return Answer(
        asked="How much energy lands?",
        values=typical,
        verdict=verdict,
        decided_by="line spacing against the spot's width",
        flips_at={"line_spacing": spot.spot_diameter(spot.laser(machine.typical()))[0]},
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
