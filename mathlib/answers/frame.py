"""How stiff is the frame?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

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
    spot,
    tell,
)
from mathlib.errors import Unanswerable
from mathlib.laser import beams
from mathlib.motion import frames, joints, resonance
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

#: How the moving beam's ends hold: resting on its blocks gives the largest sag.
ENDS: Final = "simply supported"
_BOUND: Final = "fixed"  # nothing holds better, so no part of the machine rings above this first

_ABOUT: Final = {
    "sag_of_head": "that head and carriage add in the middle of the beam, its ends resting",
    "sag_of_beam": "of the beam under its own weight, in the middle",
    "sag_centre": "both together, under a head in the middle",
    "sag_edge": "both together, under a head at the end of its travel",
    "sag_change": "by which the tool is lower in the middle than at the end of its travel",
    "depth_of_focus": "to each side of the focus, until the spot has grown by 10 %",
    "sag_share": "change of the sag over the depth of focus",
    "spot_growth": "of the spot at the end of the travel, focused in the middle",
    "bending_frequency": "of the head in the middle of the beam, up and down, its ends resting",
    "sideways_frequency": "the same to and fro along y",
    "frequency_bound": "of the lower of both, the profile alone, ends clamped and all else rigid",
    "push_stiffness": "of the frame at its rails, as it was measured",
    "frame_frequency": "of frame, beam and carriage swaying on that stiffness",
}


def beam_of(machine: Machine) -> dict[str, Any]:
    """Length, modulus and second moment of the moving beam, as the library's calls take them.

    Raises
    ------
    Unanswerable
        The file does not state the beam's profile, or its rails are closer than the travel.

    """
    beam, span = machine.beam, machine.frame.rail_spacing
    if beam.second_moment is None or beam.modulus is None:
        raise Unanswerable(
            "The file does not say what the moving beam is made of: under [beam] give like, such "
            'as like = "T-slot 20 x 20", or second_moment and modulus.'
        )
    if np.any(machine.machine.travel_x > span):
        raise Unanswerable(
            f"The rails are {tell(span)} apart, closer than the travel along x: a head beyond the "
            "rails hangs on a beam that this page does not calculate."
        )
    return {"length": span, "modulus": beam.modulus, "second_moment": beam.second_moment}


def sag_under_head(machine: Machine, place: Quantity, ends: str = ENDS) -> Quantity:
    """Sag of the beam under the head at a place that counts from one rail, all weights on it."""
    beam = beam_of(machine)
    head = frames.weight(mass=machine.masses[0])
    own = frames.weight(mass=machine.beam.mass)
    of_head = frames.deflection_at(load=head, place=place, ends=ends, **beam)
    total: Quantity = of_head + frames.deflection_at(load=own, at=place, ends=ends, **beam)
    return total


def edge(machine: Machine) -> Quantity:
    """Place of the head at the end of its travel, from the nearer rail; travel is centred."""
    rest: Quantity = (machine.frame.rail_spacing - machine.machine.travel_x) / 2.0
    return rest


def frequency(machine: Machine, ends: str, sideways: bool = False) -> Quantity:
    """Frequency of the head in the middle of the beam, up and down or to and fro."""
    told = beam_of(machine)
    if sideways:
        told["second_moment"] = machine.beam.second_moment_sideways
    return frames.loaded_frequency(
        mass=machine.masses[0], beam_mass=machine.beam.mass, ends=ends, **told
    )


def values(machine: Machine) -> Values:
    """All values of the answer."""
    beam = beam_of(machine)
    head = frames.weight(mass=machine.masses[0])
    own = frames.weight(mass=machine.beam.mass)
    found: Values = {
        "sag_of_head": frames.deflection(load=head, ends=ENDS, kind="point", **beam),
        "sag_of_beam": frames.deflection(load=own, ends=ENDS, kind="distributed", **beam),
    }
    found["sag_centre"] = found["sag_of_head"] + found["sag_of_beam"]
    found["sag_edge"] = sag_under_head(machine, edge(machine))
    found["sag_change"] = found["sag_centre"] - found["sag_edge"]
    if machine.heads.laser is not None:
        focus = spot.values(machine)
        found["depth_of_focus"] = focus["depth_of_focus"]
        found["sag_share"] = Q(ratio(found["sag_change"], focus["depth_of_focus"]), "1")
        wide = beams.diameter_at(
            waist_diameter=focus["spot_diameter"],
            distance=found["sag_change"],
            rayleigh_length=focus["rayleigh_length"],
        )
        found["spot_growth"] = Q(100 * (ratio(wide, focus["spot_diameter"]) - 1), "%")
    found["bending_frequency"] = frequency(machine, ENDS)
    bounds = [frequency(machine, _BOUND)]
    if machine.beam.second_moment_sideways is not None:
        found["sideways_frequency"] = frequency(machine, ENDS, sideways=True)
        bounds.append(frequency(machine, _BOUND, sideways=True))
    found["frequency_bound"] = Q(np.minimum.reduce([b.magnitude for b in bounds]), "Hz")
    return found | swaying(machine)


def swaying(machine: Machine) -> Values:
    """Stiffness and frequency from a push test; nothing without one."""
    frame = machine.frame
    if frame.push_stiffness is None:
        return {}
    if frame.swaying_mass is None:
        raise Unanswerable(
            "The file has a push test, but not what sways on that stiffness: under [frame] give "
            "swaying_mass, the frame's upper part without beam and carriage."
        )
    sways = frame.swaying_mass + machine.masses[1]
    return {
        "push_stiffness": frame.push_stiffness,
        "frame_frequency": resonance.held_carriage_frequency(
            stiffness=frame.push_stiffness, mass=sways
        ),
    }


def answer(machine: Machine) -> Answer:
    """Answer for this machine: sag and focus, what rings, and what only a push test tells."""
    typical, drawn, ends = evaluate(machine, values)
    told, certain = _focus(typical, drawn)
    pushed = "frame_frequency" in typical
    if pushed:
        verdict = (
            f"{told} Pushed, the frame gives {tell(typical['push_stiffness'])}, and sways at about "
            f"{tell(typical['frame_frequency'])}; the head on its beam rings at about "
            f"{tell(typical['bending_frequency'])}."
        )
    else:
        verdict = (
            f"{told} How stiff the frame is cannot be told yet: measure it by a push. In rigid "
            f"corners the head on its profile would ring at {tell(_highest(typical, ends))} or "
            "less: corners and feet that give bring it down; only a rail screwed along the profile "
            "can raise it."
        )
    return Answer(
        asked="How stiff is the frame?",
        values=typical,
        verdict=verdict,
        decided_by="the change of the sag over the travel against the depth of focus"
        if "sag_share" in typical
        else "the sag of the beam; there is no laser to keep in focus",
        flips_at=_flips(machine, typical),
        certain=certain and pushed,
        warnings=_warnings(pushed),
        sources=(
            *sources_of(machine, "beam", "carriage", "frame"),
            "Roark's Formulas for Stress and Strain; Rao, Mechanical Vibrations",
        ),
        measure_next=_next(pushed),
        ranges=ends,
        about=_ABOUT,
    )


def _focus(typical: Values, drawn: Values) -> tuple[str, bool]:
    """Tell what the sag does to the focus, and whether the drawn machines agree."""
    told = (
        f"Under its head the beam sags by about {tell(typical['sag_centre'], 2)} in the middle and "
        f"{tell(typical['sag_edge'], 2)} at the ends of the travel."
    )
    if "sag_share" not in typical:
        return f"{told} There is no laser to keep in focus.", True
    stays = np.asarray(drawn["sag_share"].magnitude) <= 1
    depth = f"±{tell(typical['depth_of_focus'], 2)} of focus"
    if not settled(stays):
        return (
            f"{told} Whether the change stays within {depth} cannot be told yet: it does in "
            f"{percent(share(stays))} of the drawn machines.",
            False,
        )
    if share(stays) > 0.5:
        part = percent(typical["sag_share"].magnitude)
        return f"{told} The change is {part} of the {depth}: it costs no focus.", True
    return (
        f"{told} The change leaves the {depth}: focus between middle and edge, or take a stiffer "
        "beam.",
        True,
    )


def _highest(typical: Values, ends: dict[str, tuple[Quantity, Quantity]]) -> Quantity:
    return ends["frequency_bound"][1] if "frequency_bound" in ends else typical["frequency_bound"]


def _flips(machine: Machine, typical: Values) -> Values:
    """Second moment at which the change of sag is as large as the depth of focus."""
    if "sag_share" not in typical:
        return {}
    second_moment = machine.typical().beam.second_moment
    assert second_moment is not None
    return {"second_moment": second_moment * typical["sag_share"].magnitude}


def _warnings(pushed: bool) -> tuple[str, ...]:
    found = [] if pushed else [joints.WHY_BOUND]
    return (
        *found,
        "Twist is left out: a head in front of an open or slotted beam turns it, and the tool "
        "swings by more than the sag.",
        "A steel rail screwed along the beam stiffens it by a part that is left out here, so it "
        "sags less and may ring higher than told: motion.sections.with_rail gives the most it can "
        "do, a weight on the carriage and a dial gauge what it does.",
        "A sag that is the same everywhere is focused out; what counts is the change over the "
        "travel, and the bed's own unevenness, which is often larger.",
        "Weigh and push with the laser's key off and the motors unplugged from their drivers; hang "
        "weights low, so that they cannot fall far.",
    )


def _next(pushed: bool) -> str:
    if pushed:
        return "The ringing itself: a phone on the head, tapped; then on a corner of the frame."
    return (
        "A push test: hang weights over a roller to pull the frame at its rails, read a dial gauge "
        "that stands on the bench, and put the stiffness into the file as frame.push_stiffness."
    )
