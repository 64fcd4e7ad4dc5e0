"""How much energy lands?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from mathlib.answers import (
    Answer,
    Values,
    evaluate,
    hazard,
    percent,
    settled,
    share,
    sources_of,
    spot,
    tell,
)
from mathlib.laser import dose, edges, modulation, tone
from mathlib.motion import moves
from mathlib.units import Q, Quantity, quantity

if TYPE_CHECKING:
    from mathlib.laser.beams import Module
    from mathlib.machine import Machine

EVEN = 0.1  # ripple up to which a filled area counts as even
ENDS = 1.5  # dose at an end over that of the line, up to which it hardly shows; an estimate
FEW = 16  # grey levels below which steps of tone show in a photograph; an estimate
_CLIMB = 0.8  # from 10 % to 90 % is this part of the whole way

#: A spot that is not round is taken with its first axis across the lines; words that end in _y
#: are of a head that is turned by a quarter.
_TURNED = ", head turned by a quarter"
_ABOUT = {
    "line_energy": "for each length of line",
    "areal_dose": "for each area of a filled raster, mean",
    "peak_dose": "in the middle of a single line",
    "ripple": "unevenness across the lines of a filled area, peak to valley over the mean",
    "overlap": "part of the spot that the next line covers; below 0 a gap",
    "dwell": "for which the spot covers a point in the middle of a line",
    "power_on_work": "of light, at the job's share of the head's power",
    "end_overdose": "dose where the head stops and goes on, over that of the line",
    "end_overdose_off": "dose where a line ends and the beam goes off, over that of the line",
    "corner_overdose": "dose at a corner that is taken at half the speed, over that of the line",
    "end_zone": "way over which the head brakes, on each line's end",
    "period_on_work": "from one pulse of the light to the next",
    "gap_dose": "in the gap between two pulses, over the mean, if duty sets the power",
    "grey_levels": "of a pixel as long as the line spacing, if only whole pulses are dropped",
    "lowest_full_duty": "below which a pulse ends before the light is full",
}
_ABOUT |= {
    f"{word}_y": _ABOUT[word] + _TURNED
    for word in ("peak_dose", "ripple", "overlap", "dwell", "end_overdose")
}


def values(machine: Machine) -> Values:
    """All values of the answer."""
    head, job = spot.laser(machine), machine.job
    across, along = widths(head)
    power = head.optical_power * job.power_share.magnitude
    told = {
        "line_energy": dose.line_energy(power=power, speed=job.speed),
        "areal_dose": dose.areal_dose(power=power, speed=job.speed, line_spacing=job.line_spacing),
        **_of_lines(machine, power, across),
        "dwell": dose.dwell(diameter=along, speed=job.speed),
        "power_on_work": power,
        **ends(machine, along),
    }
    if spot.other_axis(head) is not None:
        turned = _of_lines(machine, power, along) | {
            "dwell": dose.dwell(diameter=across, speed=job.speed),
            "end_overdose": ends(machine, across)["end_overdose"],
        }
        told |= {f"{word}_y": value for word, value in turned.items()}
    return told | pulses(machine, along)


def widths(head: Module) -> tuple[Quantity, Quantity]:
    """Widths of the spot across a line and along it, its first axis across."""
    across, other = spot.spot_diameter(head)[0], spot.other_axis(head)
    return across, across if other is None else other[0]


def _of_lines(machine: Machine, power: Quantity, across: Quantity) -> Values:
    """Give what the width across the lines decides."""
    spacing = machine.job.line_spacing
    return {
        "peak_dose": dose.peak_line_dose(power=power, speed=machine.job.speed, diameter=across),
        "overlap": dose.line_overlap(line_spacing=spacing, diameter=across),
        "ripple": dose.ripple(diameter=across, line_spacing=spacing),
    }


def ends(machine: Machine, diameter: Quantity) -> Values:
    """Dose at the ends of lines, with the power as the job controls it; width along the line."""
    job = machine.job
    line = {
        "speed": job.speed,
        "acceleration": job.acceleration,
        "diameter": diameter,
        "least_power": least_power(machine),
    }
    return {
        "end_overdose": dose.end_overdose(case="stop and restart", **line),
        "end_overdose_off": dose.end_overdose(case="stop, beam off", **line),
        "corner_overdose": dose.end_overdose(
            case="corner", speed_at_corner=0.5 * job.speed, **line
        ),
        "end_zone": moves.run_up(speed=job.speed, acceleration=job.acceleration),
    }


def least_power(machine: Machine) -> Quantity:
    """Part of the power that is left where the head stands, as the job controls it."""
    return Q(1.0 if machine.job.power_control == "constant" else 0.0, "1")


def pulses(machine: Machine, diameter: Quantity) -> Values:
    """Pulses on the work, where the file states how the light is switched."""
    head, job = spot.laser(machine), machine.job
    if job.modulation_frequency is None:
        return {}
    rate: dict[str, Any] = {"speed": job.speed, "frequency": job.modulation_frequency}
    found = {
        "period_on_work": dose.period_on_work(**rate),
        "gap_dose": modulation.valley_along(duty=job.power_share, diameter=diameter, **rate),
        "grey_levels": tone.grey_levels(pixel=job.line_spacing, **rate),
    }
    if head.rise_time is not None:
        found["lowest_full_duty"] = edges.lowest_full_duty(
            frequency=job.modulation_frequency, full_rise_time=head.rise_time / _CLIMB
        )
    return found


def answer(machine: Machine) -> Answer:
    """Answer for the laser head and the job of this machine."""
    typical, drawn, span = evaluate(machine, values)
    even = drawn["ripple"].magnitude <= EVEN
    burns = drawn["end_overdose"].magnitude > ENDS
    verdict = (
        f"{tell(typical['line_energy'])} lands on a line, {tell(typical['areal_dose'])} on a "
        f"filled area on average, in {tell(typical['dwell'])} for each point. "
        f"{_across(typical, even)} {_at_ends(machine, typical, burns)}"
    )
    material = machine.job.material or "the material"
    banned = hazard.banned(machine)
    return Answer(
        asked="How much energy lands?",
        values=typical,
        verdict=verdict,
        decided_by=(
            "the ripple across the lines, from line spacing and spot; and the dose at their ends, "
            "from speed, acceleration, spot and what the power does there"
        ),
        flips_at=_flips(machine),
        certain=settled(even) and settled(burns),
        warnings=(
            *([banned] if banned else []),
            *_of_pulses(typical),
            f"What this does to {material} is not in these numbers: the same dose at another "
            "speed can mark differently.",
            "Optical watts are meant. The electrical input of a module is several times that, "
            "and a label may state either.",
        ),
        sources=sources_of(machine, "heads.laser"),
        measure_next="Optical power at the work, with a power meter; then a coupon of strips.",
        ranges=span,
        about=_ABOUT,
    )


def _across(typical: Values, even: Any) -> str:
    """Say whether the lines of a filled area show."""
    varies = percent(_of(typical, "ripple"))
    turned = ""
    if "ripple_y" in typical and not 0.8 < _of(typical, "ripple_y") / _of(typical, "ripple") < 1.25:
        turned = (
            " That is with the spot's first axis across the lines; with the other axis across "
            f"them it is {percent(_of(typical, 'ripple_y'))}. How the head is mounted "
            "decides: burn lines both ways."
        )
    if not settled(even):
        return (
            "Whether the average is what a filled area gets cannot be told yet: across the "
            f"lines it is even to {percent(EVEN)} in {percent(share(even))} of the drawn heads; "
            f"typically it varies by {varies}.{turned} Measure the spot."
        )
    if share(even) > 0.5:
        return f"Across the lines it varies by {varies}: nearly even.{turned}"
    return (
        f"Across the lines it varies by {varies} of that: lines show.{turned} Closer lines even "
        "it out, and raise the dose."
    )


def _at_ends(machine: Machine, typical: Values, burns: Any) -> str:
    """Say whether the ends of lines burn, and what to do about it."""
    over, zone = tell(typical["end_overdose"], 2), tell(typical["end_zone"], 2)
    if not settled(burns):
        return (
            f"Whether ends burn cannot be told yet: where the head stops it leaves {over} times "
            "the dose of the line. Burn one line with a stop in it."
        )
    if share(burns) > 0.5:
        return (
            f"Where the head stops and goes on it leaves {over} times the dose of the line: ends "
            f"burn. Brake outside the picture, {zone} beyond it, or let the power follow the speed."
        )
    follows = machine.job.power_control == "follows speed"
    why = "the power follows the speed" if follows else "the head brakes within the spot"
    return f"Where the head stops it leaves {over} times the dose of the line: {why}."


def _of_pulses(typical: Values) -> tuple[str, ...]:
    """Say where the switching of the light shows."""
    found = []
    if "gap_dose" in typical and np.median(typical["gap_dose"].magnitude) < 0.5:
        found.append(
            f"The light is switched so slowly that pulses lie {tell(typical['period_on_work'])} "
            "apart on the work: lines fall into dashes. Raise the frequency, or go slower."
        )
    levels = np.median(typical["grey_levels"].magnitude) if "grey_levels" in typical else FEW
    if levels < FEW:
        told = (
            f"Whole pulses make {levels:.0f} grey levels in a pixel of {tell(_pixel(typical))}."
            if levels > 1
            else f"Not one whole pulse fits into a pixel of {tell(_pixel(typical))}."
        )
        found.append(
            f"{told} More come from a higher frequency, or from power that is set for each pixel."
        )
    if "lowest_full_duty" in typical:
        found.append(
            f"Below a duty of {percent(typical['lowest_full_duty'].magnitude)} a pulse ends before "
            "the light is full: low settings give less light than they say."
        )
    return tuple(found)


def _pixel(typical: Values) -> Quantity:
    """Line spacing, as the side of a pixel: line energy over mean dose."""
    side: Quantity = (typical["line_energy"] / typical["areal_dose"]).to("mm")
    return side


def _of(typical: Values, word: str) -> float:
    return float(np.median(typical[word].magnitude))


def _flips(machine: Machine) -> Values:
    """Line spacing at which the ripple is what counts as even, and speed at which ends burn."""
    typical = machine.typical()
    diameter, along = (_middle(width) for width in widths(spot.laser(typical)))
    spacings = np.linspace(0.2, 1.2, 2001) * diameter.to("mm").magnitude
    found = dose.ripple(diameter=diameter, line_spacing=Q(spacings, "mm"))
    flips = {"line_spacing": Q(float(np.interp(EVEN, found.magnitude, spacings)), "mm")}
    if machine.job.power_control == "constant":
        acceleration = _middle(typical.job.acceleration)
        # An end gets more with each step up in speed, from 1 at rest.
        speeds = np.geomspace(1e-3, 1e4, 4001)
        over = dose.end_overdose(
            case="stop and restart",
            speed=Q(speeds, "mm/s"),
            acceleration=acceleration,
            diameter=along,
        )
        flips["speed"] = Q(float(np.interp(ENDS, over.magnitude, speeds)), "mm/s")
    return flips


def _middle(value: Quantity) -> Quantity:
    return quantity(float(np.median(value.magnitude)), value._units)
