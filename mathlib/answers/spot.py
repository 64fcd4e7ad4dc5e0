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
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

GROWTH = "1.1 1"  # the depth of focus is where the spot has grown by a tenth
CLIPS = 0.02  # part of the light on the rim of the lens from which it is worth a warning; estimate

_ABOUT = {
    "spot_diameter": "at the focus, 1/e²",
    "depth_of_focus": "to each side of the focus, until the spot has grown by 10 %",
    "rayleigh_length": "to each side of the focus, until it is √2 as wide",
    "spot_diameter_y": "at the focus, 1/e², along the other axis",
    "depth_of_focus_y": "of the other axis, to each side, until it has grown by 10 %",
    "rayleigh_length_y": "of the other axis, to each side",
    "diameter_at_faces": "at the faces of the sheet, focus in its middle",
    "diameter_at_faces_y": "at the faces of the sheet, along the other axis",
    "height_margin": "by which bed and sheet may still be off; below 0 the sheet is too thick",
    "peak_irradiance": "at the centre of the spot, at the job's power",
    "stated_diameter": "as the data sheet states it, convention unknown",
    "clipped_fraction": "part of the light that the rim of the lens keeps back",
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
    found = _focus(head, head.beam_quality, head.beam_diameter, head.spot_diameter)
    if found is None:
        raise Unanswerable(
            "The laser head states too little: give beam_quality, and beam_diameter at the lens "
            "or spot_diameter, under [heads.laser]."
        )
    return found


def other_axis(head: beams.Module) -> tuple[Quantity, Quantity] | None:
    """Diameter and Rayleigh length along the other axis, if the head states one of its own.

    What it does not state along that axis is that of the first one.
    """
    told = (head.beam_quality_y, head.beam_diameter_y, head.spot_diameter_y)
    if all(value is None for value in told):
        return None
    quality = head.beam_quality if told[0] is None else told[0]
    wide, stated = told[1:]
    if wide is None and stated is None:
        wide, stated = head.beam_diameter, head.spot_diameter
    return _focus(head, quality, wide, stated)


def _focus(
    head: beams.Module,
    quality: Quantity | None,
    wide: Quantity | None,
    stated: Quantity | None,
) -> tuple[Quantity, Quantity] | None:
    """Spot along one axis by lens and beam, else as stated, and its Rayleigh length."""
    if quality is None or (wide is None and stated is None):
        return None
    diameter = stated
    if wide is not None:
        diameter = beams.focused_diameter(
            beam_quality=quality,
            wavelength=head.wavelength,
            focal_length=head.focal_length,
            beam_diameter=wide,
        )
    assert diameter is not None
    length = beams.rayleigh_length(
        waist_diameter=diameter, wavelength=head.wavelength, beam_quality=quality
    )
    return diameter, length


def values(machine: Machine) -> Values:
    """All values of the answer."""
    head, thickness = laser(machine), machine.job.thickness
    first, other = spot_diameter(head), other_axis(head)
    diameter, length = first
    depth = beams.defocus_for_growth(rayleigh_length=length, growth=GROWTH)
    found = {"spot_diameter": diameter, "depth_of_focus": depth, "rayleigh_length": length}
    if other is not None:
        depth_y = beams.defocus_for_growth(rayleigh_length=other[1], growth=GROWTH)
        found |= dict(zip(("spot_diameter_y", "rayleigh_length_y"), other, strict=True))
        found["depth_of_focus_y"] = depth_y
        depth = depth * np.minimum(1.0, ratio(depth_y, depth))
    if thickness is not None:
        found["diameter_at_faces"] = _at_faces(first, thickness)
        if other is not None:
            found["diameter_at_faces_y"] = _at_faces(other, thickness)
        found["height_margin"] = beams.height_margin(
            half_range=depth, thickness=thickness, height_range="0 mm"
        )
    found["peak_irradiance"] = beams.elliptical_peak_irradiance(
        power=head.optical_power * machine.job.power_share.magnitude,
        diameter=diameter,
        diameter_y=diameter if other is None else other[0],
    )
    if head.spot_diameter is not None and head.beam_diameter is not None:
        found["stated_diameter"] = head.spot_diameter
    if head.lens_aperture is not None and head.beam_diameter is not None:
        found["clipped_fraction"] = beams.clipped_fraction(
            beam_diameter=head.beam_diameter,
            beam_diameter_y=head.beam_diameter_y,
            aperture=head.lens_aperture,
        )
    return found


def _at_faces(focus: tuple[Quantity, Quantity], thickness: Quantity) -> Quantity:
    return beams.diameter_at(
        waist_diameter=focus[0], distance=thickness / 2.0, rayleigh_length=focus[1]
    )


def answer(machine: Machine) -> Answer:
    """Answer for the laser head of this machine."""
    typical, drawn, ends = evaluate(machine, values)
    narrower = drawn["spot_diameter"].magnitude < machine.job.line_spacing.magnitude
    certain = settled(narrower)
    told = _spot(typical)
    if machine.job.thickness is not None:
        told += (
            f" Focused in the middle of {tell(machine.job.thickness)}, it is "
            f"{_both(typical, 'diameter_at_faces')} wide at the faces."
        )
    spacing, turned = tell(machine.job.line_spacing), _turned(machine, drawn)
    if not certain:
        verdict = (
            f"{told} Whether lines {spacing} apart touch cannot be told yet: they leave gaps in "
            f"{percent(share(narrower))} of the drawn heads.{turned} Measure the spot."
        )
    elif share(narrower) > 0.5:
        verdict = f"{told} Lines {spacing} apart leave gaps between their 1/e² widths.{turned}"
    else:
        verdict = f"{told} Lines {spacing} apart overlap.{turned}"
    return Answer(
        asked="How small is the spot?",
        values=typical,
        verdict=verdict,
        decided_by="the spot's width along its first axis against the line spacing",
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


def _turned(machine: Machine, drawn: Values) -> str:
    """Say how a spot that is not round leaves gaps with its other axis across the lines."""
    if "spot_diameter_y" not in drawn:
        return ""
    gaps = share(drawn["spot_diameter_y"].magnitude < machine.job.line_spacing.magnitude)
    told = {0.0: "there are none", 1.0: "there always are some"}.get(
        gaps, f"there are some in {percent(gaps)}"
    )
    return f" With the spot's other axis across the lines {told}."


def _both(typical: Values, word: str) -> str:
    """Tell a width, or both of a spot that is not round."""
    along = tell(typical[word])
    return f"{along} by {tell(typical[word + '_y'])}" if f"{word}_y" in typical else along


def _spot(typical: Values) -> str:
    told = f"The focus is about {_both(typical, 'spot_diameter')} wide (1/e²) and stays within 10 %"
    if "depth_of_focus_y" not in typical:
        return f"{told} over ±{tell(typical['depth_of_focus'])}."
    return (
        f"{told} over ±{tell(typical['depth_of_focus'])} along the first axis and "
        f"±{tell(typical['depth_of_focus_y'])} along the other."
    )


def _warnings(typical: Values) -> tuple[str, ...]:
    found = []
    if "spot_diameter_y" in typical:
        found.append(
            "The spot is not round: lines along its long side come out narrow and strong, lines "
            "across it wide and faint. Both axes are taken to have one focus; a diode's often "
            "lie apart."
        )
    else:
        found.append(
            "A diode's spot is longer one way than the other; this is one number for both."
        )
    if "height_margin" in typical and np.nanmedian(typical["height_margin"].magnitude) < 0:
        found.append(
            "The sheet is thicker than the depth of focus: expect slanted edges, and more than "
            "one pass with the focus lowered."
        )
    if "stated_diameter" in typical:
        gap = float(np.nanmedian(ratio(typical["stated_diameter"], typical["spot_diameter"])))
        if not 0.77 < gap < 1.3:
            found.append(
                f"The data sheet's {tell(typical['stated_diameter'])} is {gap:.2g} times the "
                "computed width: it may be stated at half height, or the beam quality is off."
            )
    if (
        "clipped_fraction" in typical
        and np.nanmedian(typical["clipped_fraction"].magnitude) > CLIPS
    ):
        found.append(
            f"The lens is narrow: {percent(typical['clipped_fraction'].magnitude)} of the light "
            "heats its rim."
        )
    return tuple(found)


def as_beam(head: beams.Module) -> beams.Beam:
    """Beam behind the lens, of both axes if the head states them; the focus is its place zero.

    For typical or exact values. Raises as ``spot_diameter`` does.
    """
    first, other = spot_diameter(head), other_axis(head)
    quality = head.beam_quality
    assert quality is not None
    if other is None:
        return beams.Beam(
            wavelength=head.wavelength,
            beam_quality=quality,
            waist_diameter=first[0],
            waist_place=Q("0 mm"),
            power=head.optical_power,
            two_axes=False,
        )
    second = quality if head.beam_quality_y is None else head.beam_quality_y
    wide = [float(d.to("mm").magnitude) for d, _ in (first, other)]
    return beams.Beam(
        wavelength=head.wavelength,
        beam_quality=Q([float(quality.magnitude), float(second.magnitude)], "1"),
        waist_diameter=Q(wide, "mm"),
        waist_place=Q("0 mm"),
        power=head.optical_power,
        two_axes=True,
    )
