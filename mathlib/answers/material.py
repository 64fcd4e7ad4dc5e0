"""What does the material do?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import attrs
import numpy as np

from mathlib import materials, units
from mathlib.answers import (
    DRAWS,
    Answer,
    Values,
    percent,
    ratio,
    settled,
    share,
    sources_of,
    spot,
    tell,
)
from mathlib.errors import MathlibError, Unanswerable, ValueRefused
from mathlib.laser import beams, dose, heat, optics, stock
from mathlib.safety import cautions
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.laser.stock import Stock
    from mathlib.machine import Machine
    from mathlib.materials import Material

ROOM: Final = "20 degC"  # of the sheet before the light comes
FIRE_TEST: Final = "36 kW/m^2"  # of a fire test on wood, which burns after some ten seconds
ABSURD: Final = Q(3000.0, "K")  # above which a rise by conduction alone says nothing at all
CHARRED: Final = "0.92 1"  # absorptance of wood once charred; an estimate
_SEED: Final = 9
_FILM: Final = "film on metal"  # in what is said of a material's structure
_GOES: Final = {
    "chars": " and leaves",
    "decomposes": " and leaves",
    "softens": " and flows",
    "melts": " and flows",
}

_ABOUT = {
    "absorptance": "part of the light that the clean surface takes in",
    "diffusivity": "how fast temperature evens out in the material",
    "dwell": "for which the spot covers a point in the middle of a line",
    "heated_depth": "to which heat spreads while the spot is there",
    "peclet": "far below 1 heat runs ahead of the spot, far above 1 it stays behind",
    "stationary_rise": "under the spot standing still, if heat were only conducted",
    "moving_rise": "where it is hottest under the moving spot, if heat were only conducted",
    "leaves_at": "where the material begins to char, decompose, soften or melt",
    "times_needed": "moving rise over the rise that the material stands",
    "time_to_leave": "of standing still until the surface gets there, a teaching value",
    "ignition_time": "of a fire test's flux until the surface gets there, a teaching value",
    "absorption_depth": "at which light has fallen to 1/e within the clear material",
    "transmittance": "part of the light that goes through the sheet",
}


def of_job(machine: Machine) -> Material:
    """Material of the job.

    Raises
    ------
    Unanswerable
        The file names none.
    NotUnique
        Several go by its name.

    """
    name = machine.job.material
    if not name:
        raise Unanswerable(
            'This machine has no material: add material = "birch plywood" or another to [job].'
        )
    return materials.material(name)


def is_clear(material: Material, machine: Machine) -> bool:
    """Tell whether light goes deeper than the spot is wide, so that no surface is heated."""
    span = material.absorption_coefficient(spot.laser(machine).wavelength)
    if span is None:
        return False
    radius = spot.spot_diameter(spot.laser(machine.typical()))[0] / 2.0
    return bool(np.median(ratio(1 / span.typical, radius)) > 1)


def values(machine: Machine, sheet: Stock) -> Values:
    """All values for a sheet that light does not go through."""
    head, job = spot.laser(machine), machine.job
    diameter, _ = spot.spot_diameter(head)
    radius = diameter / 2.0
    power = head.optical_power * job.power_share.magnitude
    peclet = heat.peclet_number(speed=job.speed, radius=radius, diffusivity=sheet.diffusivity)
    still = heat.stationary_rise(
        absorptance=sheet.absorptance, power=power, conductivity=sheet.conductivity, radius=radius
    )
    moving = still * heat.hottest(peclet=peclet).ratio.magnitude
    stands = sheet.leaves_at.to("degC").magnitude - Q(ROOM).magnitude
    peak = beams.peak_irradiance(power=power, diameter=diameter) * sheet.absorptance.magnitude
    dwell = dose.dwell(diameter=diameter, speed=job.speed)
    inertia = sheet.thermal_inertia
    return {
        "absorptance": sheet.absorptance,
        "diffusivity": sheet.diffusivity,
        "dwell": dwell,
        "heated_depth": heat.diffusion_length(diffusivity=sheet.diffusivity, time=dwell),
        "peclet": peclet,
        "stationary_rise": still,
        "moving_rise": moving,
        "leaves_at": sheet.leaves_at,
        "times_needed": Q(moving.to("K").magnitude / stands, "1"),
        "time_to_leave": heat.time_to_rise(
            thermal_inertia=inertia,
            temperature_rise=Q(stands, "delta_degC"),
            absorbed_irradiance=peak,
        ).to("us"),
        "ignition_time": heat.time_to_rise(
            thermal_inertia=inertia,
            temperature_rise=Q(stands, "delta_degC"),
            absorbed_irradiance=FIRE_TEST,
        ).to("s"),
    }


def typical(machine: Machine) -> Values:
    """Values for typical parts and a typical sheet."""
    wavelength = spot.laser(machine).wavelength
    return values(machine.typical(), stock.typical(of_job(machine), wavelength))


def _drawn(machine: Machine) -> Values:
    """Values for drawn machines, each with a sheet of its own."""
    drawn = machine.draw(DRAWS) if machine.ranges else machine
    head = spot.laser(drawn)
    told = (head.optical_power, spot.spot_diameter(head)[0], drawn.job.speed)
    count = max((np.size(v.magnitude) for v in told), default=1)
    count = DRAWS if count == 1 else count
    return values(drawn, stock.draw(of_job(machine), head.wavelength, n=count, seed=_SEED))


def answer(machine: Machine) -> Answer:
    """Say what the laser spot does in the material of the job, or refuse the material."""
    head = spot.laser(machine)
    try:
        material = of_job(machine)
        care = material.for_processing(supplier_sheet=machine.job.material_note)
    except Unanswerable:
        raise
    except MathlibError as fault:
        return _refused(machine, str(fault))
    if is_clear(material, machine):
        return _through(machine, material, care)
    try:
        found, drawn = typical(machine), _drawn(machine)
    except ValueRefused as fault:
        return _not_stated(machine, str(fault), care)
    ends = {}
    for word, value in drawn.items():
        if np.ndim(value.magnitude):
            low, high = np.percentile(value.magnitude, [5, 95])
            ends[word] = (
                units.quantity(float(low), value._units),
                units.quantity(float(high), value._units),
            )
    reached = drawn["times_needed"].magnitude > 1
    certain = settled(reached)
    return Answer(
        asked="What does the material do?",
        values=found,
        verdict=_verdict(material, found, reached, certain),
        decided_by="the rise by conduction against the rise that the material stands",
        flips_at=_flips(machine, found),
        certain=certain,
        warnings=(
            *_warnings(material, found, head.wavelength),
            *care,
            *cautions.LASER[1:3],
        ),
        sources=(*_sources(material), *sources_of(machine, "heads.laser", "job")),
        measure_next=(
            "Marks on a scrap of this sheet, their width against power at one speed: they give "
            "the threshold and the spot at once."
        ),
        ranges=ends,
        about=_ABOUT,
    )


def _verdict(material: Material, found: Values, reached: Any, certain: bool) -> str:
    end = material.leaves_at
    assert end is not None
    word = end[0]
    peclet = float(np.median(found["peclet"].magnitude))
    follows = (
        "heat runs ahead of the spot"
        if peclet < 0.5
        else "heat keeps up with the spot"
        if peclet < 5
        else "the spot outruns its heat"
    )
    told = (
        f"In {material.name} {follows} (Péclet number {tell(found['peclet'], 2)}): while the spot "
        f"is there heat spreads {tell(found['heated_depth'], 2)}. "
    )
    bound = f"{word} at about {tell(found['leaves_at'])}"
    if _FILM in material.structure:
        return (
            f"{told}The metal under the film warms by {tell(found['moving_rise'], 2)} at most and "
            f"{bound}. What becomes of the film is not told by that: burn a test line."
        )
    if not certain:
        return (
            f"{told}Whether it gets hot enough to mark cannot be told yet: it {bound}, and "
            f"{percent(share(reached))} of the drawn sheets get there. Burn a test line."
        )
    if share(reached) < 0.5:
        return (
            f"{told}Conduction rules: the surface warms by {tell(found['moving_rise'], 2)} at most "
            f"where it is hottest; it {word} only at about {tell(found['leaves_at'])}, and so "
            "it stays."
        )
    if np.median(found["moving_rise"].to("K").magnitude) > ABSURD.magnitude:
        return (
            f"{told}Removal rules: conduction alone would give {tell(found['moving_rise'], 2)}, "
            f"which is no temperature but a sign. It {bound}{_GOES[word]}, and a balance of "
            "energy decides how deep the mark gets."
        )
    return (
        f"{told}It marks: conduction gives {tell(found['moving_rise'], 2)} where it is hottest, "
        f"and it {bound}. From there on removal takes over."
    )


def _flips(machine: Machine, found: Values) -> Values:
    """Light with which the surface just gets hot enough, at this speed."""
    plain = machine.typical()
    power = spot.laser(plain).optical_power * plain.job.power_share.magnitude
    return {"power_on_work": power / float(np.median(found["times_needed"].magnitude))}


def _warnings(material: Material, found: Values, wavelength: Quantity) -> list[str]:
    told = [material.structure] if material.structure else []
    absorptance = material.absorptance(wavelength)
    if material.char_onset_temperature is not None:
        told.append(
            f"Absorption runs away: the clean surface takes in {tell(found['absorptance'], 2)} of "
            f"the light, char about {CHARRED.removesuffix(' 1')} (estimate). First and second "
            "pass differ."
        )
    if absorptance is not None and float(absorptance.typical.magnitude) < 0.5:
        told.append(
            f"At least half of the light comes back or goes through: only "
            f"{tell(found['absorptance'], 2)} of it is taken in, and where the rest goes is a "
            "matter for the enclosure."
        )
    told.append(
        f"A head that stands still with the beam on gets the surface there in about "
        f"{tell(found['time_to_leave'], 1)}; the flux of a fire test, {units.show(Q(FIRE_TEST))}, "
        f"takes about {tell(found['ignition_time'], 1)}. Orders of magnitude, for teaching the "
        "fire watch."
    )
    estimates = [w for w, span in material.properties.items() if span.kind == "estimate"]
    if estimates:
        told.append(
            f"{len(estimates)} of {len(material.properties)} properties of {material.name} are "
            "estimates; the page lists which."
        )
    return told


def _sources(material: Material) -> tuple[str, ...]:
    return tuple(
        f"{material.name}, {word.replace('_', ' ')} ({span.kind}): {span.source}"
        for word, span in material.properties.items()
    )


def _through(machine: Machine, material: Material, care: tuple[str, ...]) -> Answer:
    """Answer for a clear material, through which most of the light goes."""
    head = spot.laser(machine.typical())
    span = material.absorption_coefficient(head.wavelength)
    assert span is not None
    thickness = machine.typical().job.thickness
    thickness = Q("3 mm") if thickness is None else thickness
    face = optics.fresnel_reflectance(refractive_index="1.5 1", extinction=0)
    slab: dict[str, Any] = {"surface_reflectance": face, "thickness": thickness}
    through = [
        optics.slab_transmittance(absorption_coefficient=at, **slab)
        for at in (span.high, span.typical, span.low)
    ]
    depths = [(1 / at).to("mm") for at in (span.high, span.typical, span.low)]
    part = percent(through[1].magnitude)
    return Answer(
        asked="What does the material do?",
        values={"absorption_depth": depths[1], "transmittance": through[1]},
        verdict=(
            f"In {material.name} hardly anything: {part} of light at {tell(head.wavelength)} goes "
            f"through {tell(thickness)} of it and lands on what stands behind. More power does not "
            "help; only dirt on the sheet, or what stands behind it, would take the light in."
        ),
        decided_by="the depth at which the light is absorbed against the width of the spot",
        flips_at={},
        certain=True,
        warnings=(
            "The light that goes through is the beam: what stands behind it burns, and a bright "
            "bed throws it back.",
            "Faces are taken with a refractive index of 1.5 (estimate). A black or dyed sheet is "
            "another material.",
            *care,
            *cautions.LASER[1:3],
        ),
        sources=(*_sources(material), *sources_of(machine, "heads.laser", "job")),
        measure_next="The power behind the sheet, by meter, in an enclosure.",
        ranges={
            "absorption_depth": (depths[0], depths[2]),
            "transmittance": (through[0], through[2]),
        },
        about=_ABOUT,
    )


def _not_stated(machine: Machine, why: str, care: tuple[str, ...]) -> Answer:
    """Say which value nobody stated, and how it is found."""
    return attrs.evolve(
        _refused(machine, why),
        decided_by="a value that nobody has stated",
        warnings=(*care, *cautions.LASER[1:3]),
        measure_next=(
            "What its data sheet leaves open; how much light it takes in, by a power meter before "
            "and behind the sheet, in an enclosure."
        ),
    )


def _refused(machine: Machine, why: str) -> Answer:
    """Refuse a material, with the reason; there are no values."""
    return Answer(
        asked="What does the material do?",
        values={},
        verdict=f"No answer for this material. {why}",
        decided_by="the list of materials and their hazards, before any formula",
        flips_at={},
        certain=True,
        warnings=cautions.LASER[1:3],
        sources=sources_of(machine, "job"),
        measure_next="Nothing: read the supplier's data sheet, and do not burn a sample.",
        about=_ABOUT,
    )
