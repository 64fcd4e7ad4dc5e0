"""Who could be hurt?"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import attrs
import numpy as np

from mathlib import materials, tables, units
from mathlib.answers import DRAWS, Answer, Values, evaluate, sources_of, tell
from mathlib.errors import MathlibError
from mathlib.laser import beams
from mathlib.ranges import Range
from mathlib.safety import cautions, classes, distances, exposure, filters, fumes, wording
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.laser.beams import Module
    from mathlib.machine import Machine

_CLASSES: Final = ("1", "2", "3R", "3B", "4")

#: Exposures by the ending of their words: an accident, and what watchers get in a while, in a day.
EXPOSURES: Final = {"10_s": "10 s", "100_s": "100 s", "day": "30000 s"}
_SPOKEN: Final = {
    "10_s": "in an accident of 10 s",
    "100_s": "in 100 s of watching",
    "day": "in a day of watching (30000 s)",
}
WATCHERS: Final = "1 m"  # from the work to the nearest eyes, where the file does not say

_ABOUT = {
    "optical_power": "of light that leaves the head",
    "class_3b_limit": "above which a continuous beam is Class 4 (IEC 60825-1)",
    "times_limit": "the head's power over that limit",
    "scattered_light": "that a matt white thing in the focus sends to eyes where watchers stand",
    "watching_time": "of looking from there, all looks added up, until eyes get too much",
    "enclosure_density": "that walls and windows need to bring the whole beam down to Class 1",
    "density_10_s": "that eyewear needs if the whole beam enters an eye for 10 s",
    "density_day": "the same for the day's limit, which is to be looked for on the mark",
    "scale_number": "n of LBn (EN 207) that withstands the bare beam for 5 s",
}
for _end, _told in _SPOKEN.items():
    _ABOUT |= {
        f"limit_{_end}": f"for eyes, the lowest of the editions, {_told}",
        f"scattered_{_end}": f"from a matt white thing in the focus, until under the limit {_told}",
        f"lens_on_{_end}": f"from the focus along a mirrored beam, until under the limit {_told}",
        f"lens_off_{_end}": f"along the beam without its lens, until under the limit {_told}",
    }

Ends = dict[str, tuple[Quantity, Quantity]]


class Limit(NamedTuple):
    """Lowest limit over the band of a laser for one exposure, and what sets it."""

    irradiance: Quantity
    wavelength: Quantity
    mechanism: str
    edition: str
    confidence: str


def limit(head: Module, time: Any) -> Limit:
    """Lowest limit for eyes over all wavelengths at which a head may emit."""
    light = filters.wavelengths(head)
    found = exposure.limit(wavelength=light, exposure_time=time).irradiance
    least = light[int(np.argmin(found.magnitude))]
    there = exposure.limit(wavelength=least, exposure_time=time)
    return Limit(there.irradiance, least, there.mechanism, there.edition, there.confidence)


def limits(head: Module) -> dict[str, Limit]:
    """Limits of a head by the ending of their words, such as ``limits(head)["100_s"]``."""
    return {end: limit(head, time) for end, time in EXPOSURES.items()}


def widths(head: Module, axis: str = "") -> tuple[Quantity | None, Quantity]:
    """Diameter at the lens if it can be told, and divergence without the lens, both 1/e².

    Of one axis of the beam: the first, or "_y" for the other, which is as the first where the head
    does not state it. The divergence is the one that is stated; else the least that the beam's
    quality allows, or an ideal beam's where no quality is stated: less spread gives a longer
    distance.
    """
    told = (getattr(head, f"beam_quality{axis}"), head.beam_quality, Q(1.0, "1"))
    quality = next(each for each in told if each is not None)
    wide = getattr(head, f"beam_diameter{axis}")
    spot = getattr(head, f"spot_diameter{axis}")
    if wide is None and spot is not None:
        wide = beams.focused_diameter.solve(
            "beam_diameter",
            waist_diameter=spot,
            beam_quality=quality,
            wavelength=head.wavelength,
            focal_length=head.focal_length,
        )
    if wide is None and axis:
        wide = widths(head)[0]
    if head.divergence is not None:
        return wide, head.divergence
    focused = beams.focused_diameter(
        beam_quality=quality,
        wavelength=head.wavelength,
        focal_length=head.focal_length,
        beam_diameter=Q("10 mm") if wide is None else wide,
    )
    return wide, Q((focused / head.focal_length).to("1").magnitude, "rad").to("mrad")


def width(head: Module) -> Quantity | None:
    """Diameter at the lens of the round beam that is as large in area, 1/e²; None if not told.

    It has the irradiance of the elliptical beam everywhere behind the lens.
    """
    wide, other = widths(head)[0], widths(head, "_y")[0]
    if wide is None or other is None:
        return wide
    area = wide.to("mm").magnitude * other.to("mm").magnitude
    return units.quantity(np.sqrt(area)[()], units.container("mm"))


def with_laser(machine: Machine) -> Machine:
    """Give the machine with typical values and a laser head, the first of the table if need be."""
    typical = machine.typical()
    if typical.heads.laser is not None:
        return typical
    fields: Any = beams.Module
    row = next(iter(tables.read("lasers").rows.values()))
    told = {
        key: value.typical if isinstance(value, Range) else value
        for key, value in row.values.items()
        if key in attrs.fields_dict(fields)
    }
    heads: Any = typical.heads
    return attrs.evolve(typical, heads=attrs.evolve(heads, laser=beams.Module(**told)))


def watchers_at(machine: Machine) -> Quantity:
    """Distance of the nearest eyes from the work, as the file says or as assumed."""
    return Q(WATCHERS) if machine.room is None else machine.room.watchers


def watching_time(head: Module, light: Quantity) -> Quantity:
    """Time of looking, all looks added up, until light gets too much for eyes.

    Judged at both ends of the head's band and wherever a limit is lowest within it.
    """
    worst = [each.wavelength.to("nm").magnitude for each in limits(head).values()]
    waves = Q(np.unique([*filters.band(head), *worst]), "nm")
    times = exposure.allowed_time(_across(light.to("W/m^2")), waves)
    return units.quantity(np.min(times.magnitude, axis=-1)[()], times._units)


def values(machine: Machine) -> Values:
    """Limits, distances, density and scale number for the head; nothing without a laser."""
    head = machine.heads.laser
    if head is None:
        return {}
    bound, power = class_3b_limit(head), head.optical_power
    found: Values = {
        "optical_power": power,
        "class_3b_limit": bound,
        "times_limit": power / bound.magnitude / Q("1 W"),
    }
    lowest = limits(head)
    found |= {f"limit_{end}": each.irradiance for end, each in lowest.items()}
    matt: dict[str, Any] = {"power": power, "reflectance": 1, "angle": "0 deg"}
    (wide, divergence), (other, divergence_y) = widths(head), widths(head, "_y")
    round_one = width(head)
    for end, each in lowest.items():
        found[f"scattered_{end}"] = distances.diffuse(**matt, limit=each.irradiance)
    for end, each in lowest.items():
        if round_one is not None:
            found[f"lens_on_{end}"] = distances.after_lens(
                power=power,
                focal_length=head.focal_length,
                beam_diameter=round_one,
                limit=each.irradiance,
            )
        found[f"lens_off_{end}"] = distances.direct(
            power=power,
            divergence=divergence,
            divergence_y=divergence_y,
            beam_diameter="0 mm" if wide is None else wide,
            beam_diameter_y="0 mm" if other is None else other,
            limit=each.irradiance,
        )
    light = distances.scattered(**matt, distance=watchers_at(machine))
    found["scattered_light"] = light
    found["watching_time"] = watching_time(head, light)
    walls = classes.density_for_class_1(_across(power), filters.wavelengths(head)).magnitude
    found["enclosure_density"] = Q(np.max(walls, axis=-1)[()], "1")
    found["density_10_s"] = filters.needed_density(head, EXPOSURES["10_s"])
    found["density_day"] = filters.needed_density(head, EXPOSURES["day"])
    found["scale_number"] = filters.needed_scale(head)
    return found


def class_3b_limit(head: Module) -> Quantity:
    """Lowest emission limit of Class 3B over the wavelengths of a head; above it is Class 4."""
    each = classes.emission_limit("3B", filters.wavelengths(head))
    return units.quantity(float(np.min(each.magnitude)), each._units)


def _across(value: Quantity) -> Quantity:
    """Give values a last axis, along which wavelengths go."""
    return units.quantity(np.asarray(value.magnitude)[..., None], value._units)


def classes_of(head: Module) -> tuple[str, ...]:
    """Classes that a bare head may have, from low to high: over its draws and its wavelengths."""
    names = classes.class_of_head(_across(head.optical_power), filters.wavelengths(head)).name
    highest = np.max([[_CLASSES.index(name) for name in row] for row in np.atleast_2d(names)], 1)
    return tuple(_CLASSES[int(place)] for place in np.unique(highest))


def answer(machine: Machine) -> Answer:
    """Say for the heads of this machine who could be hurt, how far away, and what eyewear takes.

    Distances in the verdict are those of the strong end of the range, rounded up.
    """
    typical, drawn, ends = evaluate(machine, values)
    head = machine.heads.laser
    warnings = [cautions.MOVING]
    if machine.heads.knife is not None:
        warnings.append(cautions.KNIFE)
    if head is None:
        verdict = "No laser in this file: moving parts, a blade and the mains remain."
        decided, certain = "the heads in the file", True
    else:
        named = classes_of(_drawn(machine))
        certain = len(named) == 1
        smoke, banned = _smoke(machine)
        verdict = f"{banned}{_class(typical, head, named)} {_reach(machine, drawn, ends)}"
        if named[-1] == "4":
            verdict += (
                " No distance in this room is far enough by itself: enclose the beam and watch by "
                "camera."
            )
        longest = limit(head, EXPOSURES["day"])
        decided = (
            "optical power against the limit of Class 3B in IEC 60825-1; the limit for eyes that "
            f"watch all day, {tell(longest.irradiance)} at {tell(longest.wavelength)} "
            f"({longest.mechanism}; {longest.edition}, confidence {longest.confidence})"
        )
        warnings += [
            *_eyewear(machine),
            *cautions.DISTANCES,
            *_unplaced(machine),
            *_assumed(head),
            *smoke,
            *cautions.LASER,
        ]
        if _is_far_infrared(head.wavelength):
            warnings += cautions.TUBE
        elif _is_visible(head.wavelength):
            warnings.append(cautions.FOOTNOTE.format(limit=tell(limit(head, "0.25 s").irradiance)))
    return Answer(
        asked="Who could be hurt?",
        values=typical,
        verdict=verdict,
        decided_by=decided,
        flips_at={} if head is None else {"optical_power": class_3b_limit(head)},
        certain=certain,
        warnings=(
            *warnings,
            *(() if head is None else (wording.CLASSING,)),
            wording.PREVAIL,
        ),
        sources=(
            *sources_of(machine, "heads.laser"),
            "IEC 60825-1, classes of continuous beams",
            "IEC 60825-1:2014 and ICNIRP 2013, limits for eyes, typed from memory",
            "EN 207, scale numbers; IEC 60825-14, distances; both typed from memory",
        ),
        measure_next="Have a qualified person look at enclosure, interlock and eyewear.",
        ranges=ends,
        about=_ABOUT,
    )


def in_short(machine: Machine) -> str:
    """Say what every page with a laser must say: the verdict, who prevails, what is unchecked."""
    found = answer(machine)
    beside = () if machine.heads.laser is None else (wording.TABLE_TO_CHECK,)
    return " ".join((found.verdict, wording.PREVAIL, *beside))


def _class(typical: Values, head: Module, named: tuple[str, ...]) -> str:
    """Begin the verdict: who, and the class of the bare head, or those that it may have."""
    what = f"{tell(typical['optical_power'])} at {tell(head.wavelength, 5)}"
    if named == ("4",):
        return (
            f"Everyone in the room: an open head of {what} has "
            f"{tell(typical['times_limit'], 2)} times the power above which a laser is Class 4, "
            "the highest class: eyes first, then skin, fire and smoke."
        )
    if len(named) == 1:
        return f"Eyes first: an open head of {what} would be Class {named[0]} (IEC 60825-1)."
    return (
        f"Eyes at least: whether an open head of {what} is Class {' or '.join(named)} cannot be "
        "told yet. Treat it as the highest of them, and have its power measured."
    )


def at_most(word: str, drawn: Values, ends: Ends) -> Quantity:
    """Value at the strong end of the range, rounded up to two digits."""
    value = ends[word][1] if word in ends else drawn[word]
    number = float(np.max(value.magnitude))
    if number <= 0:
        return units.quantity(number, value._units)
    step = 10.0 ** (math.floor(math.log10(number)) - 1)
    return units.quantity(float(f"{math.ceil(number / step - 1e-9) * step:.3g}"), value._units)


def _reach(machine: Machine, drawn: Values, ends: Ends) -> str:
    """Tell how far the light reaches, how long watchers have, and what eyewear takes."""

    def far(word: str) -> str:
        return tell(at_most(word, drawn, ends))

    on = (
        f"{far('lens_on_100_s')} with the lens on"
        if "lens_on_100_s" in drawn
        else "as far as the file does not tell with the lens on"
    )
    time = ends["watching_time"][0] if "watching_time" in ends else drawn["watching_time"]
    watched = (
        f"Eyes {tell(watchers_at(machine))} from the work get too much after "
        f"{np.floor(float(np.min(time.magnitude))):.0f} s of looking, all looks added up. "
        if np.min(time.magnitude) < 3e4
        else ""
    )
    return (
        f"In 100 s of looking eyes get too much out to {far('scattered_100_s')} from light that "
        f"the work scatters, and along a mirrored beam out to {on}, {far('lens_off_100_s')} with "
        f"it off. {watched}Eyewear for an accidental hit takes density {far('density_day')} at "
        "every wavelength that the laser may have, and a mark of LB"
        f"{np.max(drawn['scale_number'].magnitude):.0f} or higher."
    )


def _eyewear(machine: Machine) -> tuple[str, ...]:
    """Say what speaks against the eyewear in the file, for the strongest head of its range."""
    if machine.eyewear is None:
        return ()
    told = filters.verdict(filters.suits(machine.eyewear, _drawn(machine)))
    return (f"The eyewear in the file. {told}",)


def _drawn(machine: Machine) -> Module:
    """Laser head over its range."""
    head = (machine.draw(DRAWS) if machine.ranges else machine).heads.laser
    assert head is not None
    return head


def _smoke(machine: Machine) -> tuple[tuple[str, ...], str]:
    """Cautions for the job's material, and how the verdict begins where it must not be worked."""
    name = machine.job.material
    if not name:
        return (), ""
    try:
        told = fumes.hazards(name)
    except MathlibError as fault:
        return (str(fault),), f"Do not process {name} before it is clear what it is. "
    begins = f"{told.verdict} " if told.group == "never" else ""
    if told.group == materials.UNKNOWN and not (machine.job.material_note or "").strip():
        begins = f"Do not process {name} before its data sheet has been read. "
    return (told.verdict, *told.care), begins


def _unplaced(machine: Machine) -> tuple[str, ...]:
    """Say which distance is taken where the file places nobody."""
    if machine.room is not None:
        return ()
    return (
        f"The file does not say how near people come: {WATCHERS} from the work to the nearest "
        "eyes is taken. State watchers under [room].",
    )


def banned(machine: Machine) -> str:
    """Say why the job's material must not be worked, or not yet; nothing where it may be."""
    cares, begins = _smoke(machine)
    return cares[0] if begins else ""


def _assumed(head: Module) -> tuple[str, ...]:
    pulses = () if _is_visible(head.wavelength) else (cautions.PULSES,)
    if head.divergence is not None:
        return pulses
    if head.beam_quality is None:
        spread = "The head states no beam quality: without its lens an ideal beam is taken."
        return (*pulses, spread)
    return (
        *pulses,
        "The head states no divergence: without its lens the least is taken that its beam "
        "quality allows.",
    )


def _is_visible(wavelength: Quantity) -> bool:
    return 400 <= float(np.median(wavelength.to("nm").magnitude)) <= 700


def _is_far_infrared(wavelength: Quantity) -> bool:
    """Tell a gas tube by its wavelength beyond 4 µm."""
    return bool(np.all(wavelength.to("um").magnitude > 4.0))
