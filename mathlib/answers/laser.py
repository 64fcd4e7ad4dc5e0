"""Which laser cuts what is wanted?"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

import attrs
import numpy as np

from mathlib.answers import Answer, Values, evaluate, percent, sources_of, spot, tell
from mathlib.errors import MathlibError, Unanswerable, ValueRefused
from mathlib.laser import cutting, heads, observed, sizing
from mathlib.laser.beams import Beam
from mathlib.laser.sizing import OWN, SURE, Sized
from mathlib.units import Q, Quantity, quantity, show

if TYPE_CHECKING:
    from mathlib.machine import Machine

_ABOUT = {
    "optical_power": "of light that this machine's head gives",
    "chance": "that it severs a fresh sheet of what decides over 95 % of the length",
    "cut_speed": "at which it severs that sheet, at that many passes",
    "asked_speed": "that the job's time asks for, or the slowest that is worth trying",
    "passes": "over the same line",
    "power_needed": "of light, for that sheet at that speed, with this head's focus",
    "able_power": "of the weakest typical head that is sure to cut all that is wanted",
}
_REPORTS: Final = "data/observed_cuts.csv"
_AFTER: Final = (
    "One line on each new sheet, at the speed of its job: coupons of yours carry the rest, and "
    "only the next sheet is unknown."
)
_MEASURE: Final = {
    "coupling": (
        "A coupon on your own sheet: few lines around the predicted speed, each several times. It "
        "replaces the coupling, which makes most of the range."
    ),
    "energy of removal": (
        "A coupon on your own sheet: few lines around the predicted speed, each several times. It "
        "measures the energy of removal, which makes most of the range."
    ),
    "absorptance": "How much light the sheet keeps: a power meter behind it, and a coupon.",
    "density": "Weigh a sheet and measure its sides: its density makes most of the range.",
    "heat led away": "A coupon at a faster speed with more passes, against one slow pass.",
}


@lru_cache(maxsize=2)  # answer, picture and panel ask for the same machine
def sized(machine: Machine) -> Sized:
    """Sizes all typical heads and the machine's own for what its file wants cut.

    Raises
    ------
    Unanswerable
        The file wants nothing cut, or a material that is never to be processed or not known.

    """
    try:
        found = sizing.size(machine)
    except MathlibError as fault:
        raise Unanswerable(str(fault)) from None
    if not found.cells:
        raise Unanswerable(" ".join(found.left_out.values()))
    return found


def values(machine: Machine) -> Values:
    """Give what varies with the machine alone."""
    return {"optical_power": spot.laser(machine).optical_power}


def answer(machine: Machine) -> Answer:
    """Answer for the sheets that the file wants cut, and the head that it has."""
    typical, drawn, ends = evaluate(machine, values)
    found = sized(machine)
    sheet = found.weakest(OWN)
    cell = found.cells[sheet][OWN]
    told: Values = drawn if machine.draws else typical
    known: Values = {"asked_speed": cell.asked}
    flips: Values = {}
    if not cell.unknown:
        flips = {"optical_power": cell.power_needed.typical}
        known = {
            "chance": Q(cell.chance, "1"),
            "cut_speed": cell.speed.typical,
            "asked_speed": cell.asked,
            "passes": Q(float(cell.passes), "1"),
            "power_needed": cell.power_needed.typical,
        }
        ends |= {
            "cut_speed": (cell.speed.low, cell.speed.high),
            "power_needed": (cell.power_needed.low, cell.power_needed.high),
        }
    able = [name for name in found.able if name != OWN]
    if able:
        known["able_power"] = found.light[able[0]]
    return Answer(
        asked="Which laser cuts what is wanted?",
        values=told | known,
        verdict=" ".join((_own(found, sheet), *_others(found))),
        decided_by=f"{found.deciding}: {_change(found)}",
        flips_at=flips,
        certain=cell.told != "cannot be told yet",
        warnings=_warnings(machine, found),
        sources=(*sources_of(machine, "heads.laser", "cutting", "coupon"), _REPORTS),
        measure_next=_next(machine, sheet),
        ranges=ends,
        about=_ABOUT,
    )


def _own(found: Sized, sheet: str) -> str:
    """Say what the machine's own head does with the sheet that it is least sure of."""
    cell = found.cells[sheet][OWN]
    times = "one pass" if cell.passes == 1 else f"{cell.passes} passes"
    asked = f"at {show(cell.asked, 2)} in {times}"
    light = show(found.light[OWN], 2)
    if cell.unknown:
        return (
            f"Whether this machine's head, {light} of light, cuts {sheet} cannot be told: "
            f"{cell.unknown}"
        )
    odds = f"chance {percent(cell.chance)}"
    verb = "cuts" if cell.told == "cuts" else "does not cut"
    if cell.told != "cannot be told yet":
        return f"This machine's head, {light} of light, {verb} {sheet} {asked}: {odds}."
    return (
        f"Whether this machine's head, {light} of light, cuts {sheet} {asked} cannot be told yet "
        f"({odds}): burn a coupon."
    )


def _others(found: Sized) -> list[str]:
    """Say which typical head is the weakest that does, and what has no say in it."""
    out = [f"Not counted, for nothing can be worked out of it: {', '.join(found.left_out)}."]
    return [_weakest(found), *(out if found.left_out else [])]


def _weakest(found: Sized) -> str:
    every = "it" if len(found.cells) == 1 else f"all {len(found.cells)} sheets"
    if found.left_out and len(found.cells) == 1:
        every = next(iter(found.cells))
    blue = [m for m in found.able if m not in found.tubes and m != OWN]
    tube = [m for m in found.able if m in found.tubes and m != OWN]
    if not blue and not tube:
        return f"No typical head here is sure to cut {every}."
    if not blue:
        return f"Of typical heads only gas tubes are sure to cut {every}, from {tube[0]!r} on."
    first = f"The weakest typical head that is sure to cut {every}: {blue[0]}"
    return f"{first}; or, if a tube fits, {tube[0]}." if tube else f"{first}."


def _change(found: Sized) -> str:
    """Say what would let the machine's own head do it."""
    sheet = found.deciding
    cell = found.cells[sheet][OWN]
    if cell.unknown:
        return "how much of this light it takes in would change it, and nobody stated that"
    if cell.chance >= SURE:
        return "a thicker or darker sheet, or a shorter job, would change it"
    if np.isfinite(cell.slower):
        return (
            f"with this head a job {cell.slower:.2g} times as long would change it, or a sheet "
            "thinner in proportion, or one less dense"
        )
    return (
        "no slower speed helps this head; another colour of the sheet, or another wavelength, does"
    )


def _warnings(machine: Machine, found: Sized) -> tuple[str, ...]:
    told = [*found.left_out.values()]
    told += [row[OWN].unknown for row in found.cells.values() if row[OWN].unknown]
    told += [f"{sheet}: {text}" for sheet, texts in found.cautions.items() for text in texts]
    told += _quality(machine)
    told += _see_through(machine)
    for light in observed.LIGHTS:
        test = observed.validate(light)
        if not test.met:
            told.append(
                f"Reported cuts do not carry a firm number for {light}s ({test}). Take the range, "
                "not its middle."
            )
    if found.able and found.able[0] in found.tubes:
        told += [f"A gas tube asks for {text}." for text in sizing.TUBE_ASKS]
    return tuple(told)


def _quality(machine: Machine) -> list[str]:
    """Say what is taken for a beam quality that the file leaves open."""
    head = spot.laser(machine)
    if head.beam_quality is not None:
        return []
    usual = heads.usual_quality(float(_one(head.wavelength).to("m").magnitude))
    return [
        f"The file does not state this head's beam quality: {tell(usual.low)} to "
        f"{tell(usual.high)} is taken (estimate). It decides how fast the beam widens in a thick "
        "sheet: measure the spot above and below the focus."
    ]


def _see_through(machine: Machine) -> list[str]:
    """Warn where most of the head's light passes through a sheet."""
    told = []
    light = _one(spot.laser(machine).wavelength)
    for name, wanted in sizing.named(sizing.wanted_of(machine)).items():
        try:
            kept = cutting.absorbed(
                wanted.material, _one(wanted.thickness), light, wanted.supplier_sheet or None
            )
        except MathlibError:
            continue
        if kept.typical.magnitude < cutting.SEE_THROUGH:
            told.append(
                f"{name} keeps {percent(kept.typical.magnitude)} of {tell(light)}: the "
                "rest passes through, or back, and burns what lies below. More power does not "
                "help, and where it does mark, the sheet is no lid."
            )
    return told


def beam_of(machine: Machine) -> Beam:
    """Beam of the machine's head at its focus, typical values, both axes where they differ."""
    head: Any = heads.with_quality(spot.laser(machine.typical()))
    quality = head.beam_quality
    first, other = spot.spot_diameter(head), spot.other_axis(head)
    qualities, widths = [_one(quality)], [_one(first[0])]
    if other is not None:
        qualities.append(_one(quality if head.beam_quality_y is None else head.beam_quality_y))
        widths.append(_one(other[0]))
    told: dict[str, Any] = {
        "wavelength": _one(head.wavelength),
        "beam_quality": qualities if other else qualities[0],
        "waist_diameter": widths if other else widths[0],
    }
    return Beam(**told)


def _one(value: Quantity) -> Quantity:
    return quantity(float(np.median(value.magnitude)), value._units)


def _next(machine: Machine, sheet: str) -> str:
    """Name the measurement that shrinks the range most."""
    wanted = sizing.named(sizing.wanted_of(machine))[sheet]
    head = spot.laser(machine)
    power, material = _one(head.optical_power), sizing.material_of(machine, wanted)
    light, thickness = (
        float(np.median(v.to("m").magnitude)) for v in (head.wavelength, wanted.thickness)
    )
    if cutting.has_coupon(material, light, thickness):
        return _AFTER
    try:
        shares = cutting.unknowns(
            material,
            wanted.thickness,
            power,
            beam_of(machine),
            supplier_sheet=wanted.supplier_sheet or None,
        )
    except ValueRefused:
        return f"How much light {sheet} keeps: a power meter behind it. Nothing else would help."
    return _MEASURE.get(next(iter(shares)), _MEASURE["coupling"])


def with_wanted(machine: Machine, wanted: sizing.Wanted) -> Machine:
    """Give the machine with this one sheet as all that is wanted."""
    return attrs.evolve(machine, cutting=sizing.Cutting(wanted=(wanted,)))
