"""What rings?"""

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
from mathlib.motion import drive, gantries, resonance, steppers
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

_ABOUT = {
    "first_frequency_centre": "lowest, at the middle of the work area, motors energised",
    "first_frequency_corner": "the same in the corner where it is lowest",
    "held_frequency_centre": "at the middle with the motor shafts held: the one-mass estimate",
    "held_frequency_corner": "the same in the corner where it is lowest",
    "ripple_spacing": "on the work after a corner taken at the job's speed",
    "ramp_time": "that the job's acceleration takes to the job's speed",
    "ramp_periods": "periods of the lowest frequency in one ramp; a whole number rings least",
    "ringing": "that the job's acceleration can leave at the middle, at worst, undamped",
}
_CORNERS = ((0.0, 0.0), (0.0, 1.0), (1.0, 0.0), (1.0, 1.0))


def lowest_frequency(
    machine: Machine, x: Quantity, y: Quantity, energised: bool = True
) -> Quantity:
    """Lowest natural frequency of the head at x, y, motors energised or their shafts held."""
    magnetic = None
    if energised:
        magnetic = steppers.magnetic_stiffness(
            rotor_teeth=steppers.rotor_teeth(machine.motor),
            holding_torque=steppers.held_torque(machine.motor, machine.controller.set_current),
            pitch_radius=drive.pitch_radius(pitch=machine.belt.pitch, teeth=machine.pulley.teeth),
        )
    gantry = gantries.gantry(machine.layout)
    masses = machine.masses
    both = resonance.two_axis_frequency(
        stiffness=gantry.stiffness(x, y, motor_stiffness=magnetic).translation,
        mass_x=masses[0],
        mass_y=masses[1],
    )
    lower: Quantity = both[..., 0]
    return lower


def values(machine: Machine) -> Values:
    """All values of the answer."""
    layout = machine.layout

    def at(share_x: float, share_y: float, energised: bool) -> Quantity:
        x, y = share_x * layout.travel_x, share_y * layout.travel_y
        return lowest_frequency(machine, x, y, energised)

    def corner(energised: bool) -> Quantity:
        every = [at(x, y, energised).magnitude for x, y in _CORNERS]
        return Q(np.minimum.reduce(every), "Hz")

    first = at(0.5, 0.5, True)
    spacing = resonance.ripple_spacing(speed=machine.job.speed, frequency=first)
    ramp = drive.ramp_time(speed=machine.job.speed, acceleration=machine.job.acceleration)
    return {
        "first_frequency_centre": first,
        "first_frequency_corner": corner(True),
        "held_frequency_centre": at(0.5, 0.5, False),
        "held_frequency_corner": corner(False),
        "ripple_spacing": spacing,
        "ramp_time": ramp,
        "ringing": resonance.ringing_bound(acceleration=machine.job.acceleration, frequency=first),
        "ramp_periods": Q(ramp.to("s").magnitude * first.magnitude, "1"),
    }


def answer(machine: Machine) -> Answer:
    """Answer for this machine: the lowest frequency, where, and what it leaves on the work."""
    typical, drawn, ends = evaluate(machine, values)
    centre, corner = typical["first_frequency_centre"], typical["first_frequency_corner"]
    calm = drawn["ringing"].magnitude <= machine.job.accuracy.to("mm").magnitude
    certain = settled(calm)
    told = (
        f"The head rings first at about {tell(centre)} in the middle and {tell(corner)} in the "
        f"softest corner. After a ramp at the job's acceleration it can swing by "
        f"{tell(typical['ringing'], 2)} to each side, in ripples {tell(typical['ripple_spacing'])} "
        f"apart; the work allows {tell(machine.job.accuracy)}."
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
            "acceleration, a lighter head or a stiffer belt helps."
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
        flips_at=_flips(machine, centre),
        certain=certain,
        warnings=(
            *warnings,
            "The beam's own yaw and bending, and the frame, are not in this estimate; they can "
            "ring lower.",
        ),
        sources=sources_of(machine, "belt", "carriage", "beam", "motor"),
        measure_next="The frequency itself: a phone's accelerometer on the head, tapped at rest.",
        ranges=ends,
        about=_ABOUT,
    )


def _flips(machine: Machine, frequency: Quantity) -> Values:
    """Acceleration that can leave a swing as large as the work allows."""
    found = resonance.ringing_bound.solve(
        "acceleration", ringing=machine.typical().job.accuracy, frequency=frequency
    )
    return {"acceleration": found}
