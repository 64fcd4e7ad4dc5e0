"""What rings?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from mathlib.answers import (
    Answer,
    Values,
    evaluate,
    frame,
    percent,
    ratio,
    settled,
    share,
    sources_of,
    tell,
)
from mathlib.motion import drive, resonance, ringing, shapers
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine
    from mathlib.motion.drive import Drive
    from mathlib.motion.shapers import Choice

_ABOUT = {
    "first_frequency_centre": "lowest, at the middle of the work area, motors energised",
    "first_frequency_corner": "the same in the corner where it is lowest",
    "first_frequency_lowest": "the lowest of middle, corners and middles of the edges",
    "held_frequency_centre": "at the middle with the motor shafts held: the one-mass estimate",
    "held_frequency_corner": "the same in the corner where it is lowest",
    "ripple_spacing": "on the work after a corner taken at the job's speed",
    "ramp_time": "that the job's acceleration takes to the job's speed",
    "ramp_periods": "periods of the lowest frequency in one ramp; a whole number rings least",
    "ringing": "that the job's acceleration can leave where the head rings lowest, undamped",
    "ringing_left": "that a ramp to the job's speed leaves in the middle, just as long, damped",
    "full_step_speed": "along an axis, at which full steps meet the lowest frequency",
    "cycle_speed": "along an axis, at which electrical cycles meet it",
    "tooth_speed": "along an axis, at which belt teeth meet it",
}
_DAMPING = "damping: 5 % of critical, an estimate until ripples or a tapped head tell it"
#: Middle, corners and middles of the edges, as shares of the travel along x and y: the map has
#: its lowest place at one of them.
_PLACES = tuple((x, y) for x in (0.0, 0.5, 1.0) for y in (0.0, 0.5, 1.0))
_CORNERS = tuple(place for place in _PLACES if 0.5 not in place)


def lowest_frequency(made: Drive, x: Quantity, y: Quantity, energised: bool = True) -> Quantity:
    """Lowest natural frequency of the head at x, y, motors energised or their shafts held."""
    if energised:
        return resonance.frequency_map(made, x, y)
    both = resonance.two_axis_frequency(
        stiffness=made.gantry.stiffness(x, y).translation,
        mass_x=made.masses[0],
        mass_y=made.masses[1],
    )
    lower: Quantity = both[..., 0]
    return lower


def values(machine: Machine) -> Values:
    """All values of the answer."""
    made, layout = machine.drive, machine.layout

    def at(share_x: float, share_y: float, energised: bool) -> Quantity:
        x, y = share_x * layout.travel_x, share_y * layout.travel_y
        return lowest_frequency(made, x, y, energised)

    def lowest(found: list[Quantity]) -> Quantity:
        return Q(np.minimum.reduce([one.magnitude for one in found]), "Hz")

    every = {place: at(*place, True) for place in _PLACES}
    first, softest = every[0.5, 0.5], lowest(list(every.values()))
    spacing = resonance.ripple_spacing(speed=machine.job.speed, frequency=first)
    ramp = drive.ramp_time(speed=machine.job.speed, acceleration=machine.job.acceleration)
    orders = resonance.excitation_orders(machine.motor, machine.pulley, machine.belt.pitch)

    def met(order: Quantity) -> Quantity:
        return resonance.excitation_frequency.solve("speed", order=order, frequency=first)

    return {
        "first_frequency_centre": first,
        "first_frequency_corner": lowest([every[place] for place in _CORNERS]),
        "first_frequency_lowest": softest,
        "held_frequency_centre": at(0.5, 0.5, False),
        "held_frequency_corner": lowest([at(*place, False) for place in _CORNERS]),
        "ripple_spacing": spacing,
        "ramp_time": ramp,
        "ringing": resonance.ringing_bound(
            acceleration=machine.job.acceleration, frequency=softest
        ),
        "ringing_left": resonance.ringing_amplitude(
            speed_change=machine.job.speed, ramp_time=ramp, frequency=first, damping=made.damping
        ),
        "ramp_periods": Q(ramp.to("s").magnitude * first.magnitude, "1"),
        "full_step_speed": met(orders.full_step),
        "cycle_speed": met(orders.electrical_cycle),
        "tooth_speed": met(orders.tooth),
    }


def shaper_choices(machine: Machine, points: int = 9) -> list[Choice]:
    """Input shapers for the lowest mode over the whole work area, on typical parts, best first.

    They are judged for a stop from the job's speed at the job's acceleration.
    """
    fixed = machine.typical()
    made, layout = fixed.drive, fixed.layout
    share = np.linspace(0.0, 1.0, points)
    over = resonance.frequency_map(made, share * layout.travel_x, share * layout.travel_y)
    stop = ringing.speed_ramp(fixed.job.speed, fixed.job.acceleration)
    return shapers.choices(stop, over, made.damping, fixed.job.accuracy)


def _stilled(machine: Machine) -> str:
    """Say which input shaper helps, where one is enough; one is made for one machine, not draws."""
    if machine.draws:
        return ""
    best = shaper_choices(machine)[0]
    if best.shaper is None or not best.enough:
        return ""
    return (
        f" An input shaper of the kind {best.kind}, made for the middle of the map, would leave "
        f"{tell(best.left, 2)} at worst over the whole work area; each move takes "
        f"{tell(best.longer, 2)} longer."
    )


def answer(machine: Machine) -> Answer:
    """Answer for this machine: the lowest frequency, where, and what it leaves on the work."""
    typical, drawn, ends = evaluate(machine, values)
    centre, lowest = typical["first_frequency_centre"], typical["first_frequency_lowest"]
    calm = drawn["ringing"].magnitude <= machine.job.accuracy.to("mm").magnitude
    certain = settled(calm)
    found = resonance.modes(machine.typical().drive, *_middle(machine))
    told = (
        f"The head rings first at about {tell(centre)} in the middle and {tell(lowest)} "
        f"{_named(softest_place(machine))}; what moves is {found.names()[0]}. After a ramp at the "
        f"job's acceleration it can swing there by {tell(typical['ringing'], 2)} to each side, in "
        f"ripples about {tell(typical['ripple_spacing'], 2)} apart; the work allows "
        f"{tell(machine.job.accuracy)}."
    )
    if not certain:
        verdict = (
            f"{told} Whether that is too much cannot be told yet: it is not in "
            f"{percent(share(calm))} of the drawn machines. Measure the frequency, with a phone on "
            "the head or from ripples on a test piece."
        )
    elif share(calm) > 0.5:
        verdict = f"{told} That is little enough, however long the ramp."
    else:
        verdict = (
            f"{told} That is too much, unless the ramp happens to last whole periods; a gentler "
            "acceleration, a lighter head or a stiffer belt helps." + _stilled(machine)
        )
    loss = 1 - ratio(typical["first_frequency_centre"], typical["held_frequency_centre"])
    warnings = []
    if float(np.nanmedian(loss)) > 0.1:
        warnings.append(
            f"The motors' magnetic spring takes {percent(loss)} off the frequency: the "
            "usual estimate from the belt alone is too high here."
        )
    return Answer(
        asked="What rings?",
        values=typical,
        verdict=verdict,
        decided_by="the largest swing after a ramp, against the accuracy that the work needs",
        flips_at=_flips(machine, lowest),
        certain=certain,
        warnings=(
            *warnings,
            *([found.left_out] if found.left_out else []),
            _left_out(machine),
        ),
        sources=(
            *sources_of(machine, "belt", "carriage", "beam", "motor"),
            *([] if machine.carriage.damping is not None else [_DAMPING]),
        ),
        measure_next="The frequency itself: a phone's accelerometer on the head, tapped at rest.",
        ranges=ends,
        about=_ABOUT,
    )


def _left_out(machine: Machine) -> str:
    """Say what can ring lower; of the frame how low, where a push test tells."""
    told = machine.typical()
    if told.frame.push_stiffness is None or told.frame.swaying_mass is None:
        return "Bending of the beam and the frame are not in this estimate; they can ring lower."
    return (
        "By its push test the frame itself sways at about "
        f"{tell(frame.swaying(told)['frame_frequency'])}. Neither that nor the bending of the beam "
        "is in this estimate."
    )


def softest_place(machine: Machine) -> tuple[Quantity, Quantity]:
    """Place x, y at which the head of the typical machine rings lowest."""
    fixed = machine.typical()
    travels = fixed.layout.travel_x, fixed.layout.travel_y
    places = [tuple(s * t for s, t in zip(p, travels, strict=True)) for p in _PLACES]
    rings = [np.median(lowest_frequency(fixed.drive, *place).magnitude) for place in places]
    x, y = places[int(np.argmin(rings))]
    return x, y


def _named(place: tuple[Quantity, Quantity]) -> str:
    x, y = place
    return f"where it rings lowest, at x = {tell(x)}, y = {tell(y)}"


def _middle(machine: Machine) -> tuple[Quantity, Quantity]:
    return machine.layout.travel_x / 2.0, machine.layout.travel_y / 2.0


def _flips(machine: Machine, frequency: Quantity) -> Values:
    """Acceleration that can leave a swing as large as the work allows."""
    found = resonance.ringing_bound.solve(
        "acceleration", ringing=machine.typical().job.accuracy, frequency=frequency
    )
    return {"acceleration": found}
