"""How small is the spot?"""

from __future__ import annotations

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
from mathlib.errors import Unanswerable
from mathlib.laser import beams
from mathlib.units import Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

GROWTH = "1.1 1"  # the depth of focus is where the spot has grown by a tenth

_ABOUT = {
    "spot_diameter": "at the focus, 1/e²",
    "depth_of_focus": "to each side of the focus, until the spot has grown by 10 %",
    "rayleigh_length": "to each side of the focus, until it is √2 as wide",
    "diameter_at_faces": "at the faces of the sheet, focus in its middle",
    "peak_irradiance": "at the centre of the spot, at the job's power",
    "stated_diameter": "as the data sheet states it, convention unknown",
}


def laser(machine: Machine) -> beams.Module:
    """Laser head of the machine.

    Raises
    ------
    Unanswerable
        The file has none.

    """
    head = machine.heads.laser
    if head is None:
        raise Unanswerable(
            "This machine has no laser head: add [heads.laser] to its file, such as "
            'like = "blue diode, one emitter, 5.5 W".'
        )
    return head


def spot_diameter(head: beams.Module) -> tuple[Quantity, Quantity]:
    """Diameter of the focused spot and its Rayleigh length.

    Raises
    ------
    Unanswerable
        The head states too little to work them out.

    """
    if head.beam_quality is None or (head.beam_diameter is None and head.spot_diameter is None):
        raise Unanswerable(
            "The laser head states too little: give beam_quality, and beam_diameter at the lens "
            "or spot_diameter, under [heads.laser]."
        )
    if head.beam_diameter is not None:
        diameter = beams.focused_diameter(
            beam_quality=head.beam_quality,
            wavelength=head.wavelength,
            focal_length=head.focal_length,
            beam_diameter=head.beam_diameter,
        )
    else:
        assert head.spot_diameter is not None
        diameter = head.spot_diameter
    length = beams.rayleigh_length(
        waist_diameter=diameter, wavelength=head.wavelength, beam_quality=head.beam_quality
    )
    return diameter, length


def values(machine: Machine) -> Values:
    """All values of the answer."""
    head = laser(machine)
    diameter, length = spot_diameter(head)
    found = {
        "spot_diameter": diameter,
        "depth_of_focus": beams.defocus_for_growth(rayleigh_length=length, growth=GROWTH),
        "rayleigh_length": length,
    }
    if machine.job.thickness is not None:
        found["diameter_at_faces"] = beams.diameter_at(
            waist_diameter=diameter, distance=machine.job.thickness / 2.0, rayleigh_length=length
        )
    found["peak_irradiance"] = beams.peak_irradiance(
        power=head.optical_power * machine.job.power_share.magnitude, diameter=diameter
    )
    if head.spot_diameter is not None and head.beam_diameter is not None:
        found["stated_diameter"] = head.spot_diameter
    return found


def answer(machine: Machine) -> Answer:
    """Answer for the laser head of this machine."""
    typical, drawn, ends = evaluate(machine, values)
    narrower = drawn["spot_diameter"].magnitude < machine.job.line_spacing.magnitude
    certain = settled(narrower)
    told = (
        f"The focus is about {tell(typical['spot_diameter'])} wide (1/e²) and stays within 10 % "
        f"over ±{tell(typical['depth_of_focus'])}."
    )
    if machine.job.thickness is not None:
        told += (
            f" Focused in the middle of {tell(machine.job.thickness)}, it is "
            f"{tell(typical['diameter_at_faces'])} wide at the faces."
        )
    spacing = tell(machine.job.line_spacing)
    if not certain:
        verdict = (
            f"{told} Whether lines {spacing} apart touch cannot be told yet: they leave gaps in "
            f"{percent(share(narrower))} of the drawn heads. Measure the spot."
        )
    elif share(narrower) > 0.5:
        verdict = f"{told} Lines {spacing} apart leave gaps between their 1/e² widths."
    else:
        verdict = f"{told} Lines {spacing} apart overlap."
    return Answer(
        asked="How small is the spot?",
        values=typical,
        verdict=verdict,
        decided_by="the spot's width against the line spacing",
        flips_at={"spot_diameter": machine.typical().job.line_spacing},
        certain=certain,
        warnings=_warnings(typical),
        sources=sources_of(machine, "heads.laser"),
        measure_next=(
            "The spot: a knife edge across the beam, or the width of marks against energy, behind "
            "eyewear rated for this wavelength."
        ),
        ranges=ends,
        about=_ABOUT,
    )


def _warnings(typical: Values) -> tuple[str, ...]:
    found = ["A diode's spot is longer one way than the other; this is one number for both."]
    if "stated_diameter" in typical:
        gap = float(np.nanmedian(ratio(typical["stated_diameter"], typical["spot_diameter"])))
        if not 0.77 < gap < 1.3:
            found.append(
                f"The data sheet's {tell(typical['stated_diameter'])} is {gap:.2g} times the "
                "computed width: it may be stated at half height, or the beam quality is off."
            )
    return tuple(found)
