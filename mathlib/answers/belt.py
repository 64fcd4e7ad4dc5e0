"""How tight is a belt?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from mathlib.answers import Answer, Values, evaluate, percent, settled, share, sources_of, tell
from mathlib.errors import Unanswerable
from mathlib.motion import belts, drive, gantries, tension
from mathlib.motion.gantry import Gantry
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

CLAMP = "25 mm"  # of belt behind each clamp, to hold and to tighten

_ABOUT = {
    "tension": "of each belt at rest, as it is set",
    "required_tension": "that keeps the slack span tight where the job pulls hardest on one belt",
    "usual_tension": "that a belt maker's table gives for this width",
    "pluck_frequency": "of the span below, at the tension as set",
    "pluck_frequency_required": "the same at the tension that is required",
    "span_length": "of the longest free span between two pulleys that do not move apart",
    "shaft_load": "of the belt across the motor's shaft",
    "allowed_shaft_load": "at the pulley's place, from the motor's radial limit",
    "size_error": "by which moves over the whole x travel come out long, from the stretched pitch",
    "stiffness": "along x at the middle of the field, motor shafts held",
    "order_length": "of each belt, whole teeth, 25 mm behind each clamp",
    **{
        f"order_length_belt_{name}": f"of belt {name.replace('_', ' ')}, in whole teeth, likewise"
        for name in ("x", "y", "y_left", "y_right", "a", "b")
    },
}


def values(machine: Machine) -> Values:
    """All values of the answer."""
    belt, required = machine.belt, _force_on_a_belt(machine)
    gantry = gantries.gantry(machine.layout)
    span = _span_to_pluck(gantry)
    set_to = machine.frame.belt_tension if machine.frame.belt_tension is not None else required
    layout = machine.layout
    found = {"tension": set_to, "required_tension": required}
    if belt.pitch.to("mm").magnitude == 2.0 and np.all(belt.width.to("mm").magnitude >= 4):
        found["usual_tension"] = tension.installation_tension(width=belt.width)
    found |= {
        "pluck_frequency": _pluck(set_to, span, machine),
        "pluck_frequency_required": _pluck(required, span, machine),
        "span_length": span,
        "shaft_load": tension.shaft_load(tension=set_to),
    }
    motor, where = machine.motor, machine.pulley.face_distance
    if None not in (motor.radial_limit, motor.limit_distance, where):
        found["allowed_shaft_load"] = tension.allowed_shaft_load(
            radial_limit=motor.radial_limit, limit_distance=motor.limit_distance, distance=where
        )
    middle = gantry.stiffness(layout.travel_x / 2.0, layout.travel_y / 2.0)
    found |= {
        "size_error": belts.stretch(
            force=set_to, length=layout.travel_x, specific_stiffness=belt.specific_stiffness
        ),
        "stiffness": middle.translation[..., 0, 0],
    }
    ordered = gantry.order_lengths(CLAMP)
    alike = len({teeth for _, teeth in ordered}) == 1
    for number, ((length, _), path) in enumerate(zip(ordered, gantry.paths, strict=True)):
        if number == 0 or not alike:
            found[_order_word(path.name, alike)] = length
    return found


def _order_word(name: str, alike: bool) -> str:
    return "order_length" if alike else f"order_length_{name.replace(' ', '_')}"


def _force_on_a_belt(machine: Machine) -> Quantity:
    """Largest force that the job asks of one belt; the rotor's own inertia does not load it."""
    told: dict[str, Any] = {
        "acceleration": machine.job.acceleration,
        "friction": machine.carriage.friction,
        "reflected_mass": "0 kg",
    }
    mass_x, mass_y = machine.masses
    if machine.machine.belts in ("crossed", "single"):
        return drive.diagonal_force(mass_x=mass_x, mass_y=mass_y, **told)
    along_x = drive.axis_force(mass=mass_x, motors=1, **told)
    shared = 2 if machine.machine.belts == "shaft" else 1  # two belts carry the beam
    along_y = drive.axis_force(mass=mass_y, motors=shared, **told)
    return Q(np.maximum(along_x.magnitude, along_y.magnitude), "N")


def _pluck(pulled: Quantity, span: Quantity, machine: Machine) -> Quantity:
    return belts.span_tension.solve(
        "frequency", tension=pulled, length=span, mass_per_length=machine.belt.mass_per_length
    )


def _span_to_pluck(gantry: Gantry) -> Quantity:
    """Longest free run between two neighbours that one body carries, so that it never changes."""
    found = [
        run for path in gantry.paths for run, on in path.fixed_runs() if on in ("frame", "beam")
    ]
    if not found:
        raise Unanswerable(
            "No free span of this layout keeps its length while the head moves, so none can be "
            "plucked to tell the tension."
        )
    return Q(max(found), "mm")


def answer(machine: Machine) -> Answer:
    """Answer for this machine: tension set against what the job needs, and how to hear it."""
    typical, drawn, ends = evaluate(machine, values)
    least, most = drawn["required_tension"].magnitude, _most(drawn)
    fits = (drawn["tension"].magnitude >= least) & (drawn["tension"].magnitude <= most)
    known = machine.frame.belt_tension is not None
    certain = known and settled(fits)
    hear = (
        f"pluck the {tell(typical['span_length'])} span: "
        f"{tell(typical['pluck_frequency_required'])} is the least, "
        f"{tell(typical['pluck_frequency'])} is the tension as set"
    )
    told = (
        f"The job pulls with up to {tell(typical['required_tension'])} on one belt, and a belt "
        f"must be at least that tight at rest, or its slack span goes limp.{_upper(typical)}"
    )
    if not known:
        verdict = (
            f"{told} How tight yours is cannot be told yet: pluck the "
            f"{tell(typical['span_length'])} span; "
            f"{tell(typical['pluck_frequency_required'])} is the least. Write the tension into "
            "the file as frame.belt_tension."
        )
    elif not certain:
        verdict = (
            f"{told} Whether {tell(typical['tension'])} is right cannot be told yet: it is in "
            f"{percent(share(fits))} of the drawn machines. To settle it, {hear}."
        )
    elif share(fits) > 0.5:
        verdict = f"{told} {tell(typical['tension'])} lies between. To check it, {hear}."
    elif share(drawn["tension"].magnitude < least) > 0.5:
        verdict = f"{told} {tell(typical['tension'])} is too little. To set it, {hear}."
    else:
        verdict = f"{told} {tell(typical['tension'])} is more than that shaft carries: slacken."
    return Answer(
        asked="How tight is a belt?",
        values=typical,
        verdict=verdict,
        decided_by="tension at rest, between what one belt transmits and what the shaft carries",
        flips_at=_flips(machine, typical),
        certain=certain,
        warnings=_warnings(typical, drawn),
        sources=sources_of(machine, "belt", "frame", "carriage", "beam", "motor"),
        measure_next=(
            "Pluck frequency by a phone, and belt stiffness by a stretch test: hang a known weight "
            "on half a metre of the same belt and read how far it gives."
        ),
        ranges=ends,
        about=_ABOUT,
    )


def _most(found: Values) -> np.ndarray:
    """Tension at which the belt loads the motor's shaft with what it may carry."""
    if "allowed_shaft_load" not in found:
        return np.asarray(np.inf)
    return np.asarray(found["allowed_shaft_load"].magnitude) / 2.0


def _upper(typical: Values) -> str:
    """Say what bounds the tension from above, as far as the file tells."""
    told = []
    if "allowed_shaft_load" in typical:
        told.append(f"The motor's shaft carries {tell(Q(_most(typical), 'N'))} a belt at most")
    if "usual_tension" in typical:
        told.append(f"A belt maker's table has {tell(typical['usual_tension'])} for this width")
    return "".join(f" {sentence}." for sentence in told)


def _flips(machine: Machine, typical: Values) -> Values:
    """Tensions between which the verdict holds."""
    if machine.frame.belt_tension is None:
        return {}
    found = {"tension": typical["required_tension"]}
    if "allowed_shaft_load" in typical:
        found["tension_at_most"] = Q(_most(typical), "N")
    return found


def _warnings(typical: Values, drawn: Values) -> tuple[str, ...]:
    found = [
        "Tension goes with the square of the frequency: 3 % in frequency are 6 % in tension. Take "
        "the fundamental, not the strongest peak, and not the hum of the mains."
    ]
    heard = float(np.nanmedian(typical["pluck_frequency"].to("Hz").magnitude))
    hum = [mains for mains in (50, 60, 100, 120) if abs(heard / mains - 1) < 0.05]
    if hum:
        found.append(
            f"That is close to the {hum[0]} Hz hum of the mains: hold the span in its middle and "
            f"listen for {2 * heard:.3g} Hz instead."
        )
    if "allowed_shaft_load" in drawn:
        above = drawn["shaft_load"].magnitude > drawn["allowed_shaft_load"].magnitude
        if share(above) > 0.1:
            found.append(
                f"The belt loads the motor's shaft with {tell(typical['shaft_load'])}, twice its "
                f"tension; {tell(typical['allowed_shaft_load'])} are allowed at that place. Move "
                "the pulley towards the motor's face, or slacken."
            )
    if "usual_tension" in typical:
        gap = np.nanmedian(drawn["tension"].magnitude) / np.median(
            typical["usual_tension"].to("N").magnitude
        )
        if not 0.5 < gap < 2.0:
            found.append(
                f"A belt maker's table gives {tell(typical['usual_tension'])} for this width; "
                f"yours is {gap:.2g} times that."
            )
    return tuple(found)
