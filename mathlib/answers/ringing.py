"""What rings?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from mathlib.answers import Answer, Values, evaluate, ratio, settled, share, sources_of, tell
from mathlib.motion import drive, resonance, spans, steppers
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
}
_CORNERS = ((0.0, 0.0), (0.0, 1.0), (1.0, 0.0), (1.0, 1.0))


def values(machine: Machine) -> Values:
    """All values of the answer."""
    radius = drive.pitch_radius(pitch=machine.belt.pitch, teeth=machine.pulley.teeth)
    magnetic = steppers.magnetic_stiffness(
        rotor_teeth=steppers.rotor_teeth(machine.motor),
        holding_torque=steppers.torque_at_current(
            rated_torque=machine.motor.holding_torque,
            set_current=machine.controller.set_current,
            rated_current=machine.motor.rated_current,
        ),
        pitch_radius=radius,
    )
    work, masses = machine.machine, machine.drive.masses

    def lowest(share_x: float, share_y: float, energised: bool) -> np.ndarray:
        parts = spans.part_lengths(
            gantry=work.belts,
            x=share_x * work.travel_x,
            y=share_y * work.travel_y,
            travel_x=work.travel_x,
            travel_y=work.travel_y,
            overrun=machine.frame.overrun,
        )
        found = spans.lowest_frequency(
            gantry=work.belts,
            parts=parts,
            specific_stiffness=machine.belt.specific_stiffness,
            mass_x=masses[0],
            mass_y=masses[1],
            motor_stiffness=magnetic if energised else None,
        )
        return np.asarray(found.magnitude)

    def corner(energised: bool) -> np.ndarray:
        found: np.ndarray = np.minimum.reduce([lowest(x, y, energised) for x, y in _CORNERS])
        return found

    first = lowest(0.5, 0.5, True)
    spacing = resonance.ripple_spacing(speed=machine.job.speed, frequency=Q(first, "Hz"))
    ramp = drive.ramp_time(speed=machine.job.speed, acceleration=machine.job.acceleration)
    return {
        "first_frequency_centre": Q(first, "Hz"),
        "first_frequency_corner": Q(corner(True), "Hz"),
        "held_frequency_centre": Q(lowest(0.5, 0.5, False), "Hz"),
        "held_frequency_corner": Q(corner(False), "Hz"),
        "ripple_spacing": spacing,
        "ramp_time": ramp,
        "ramp_periods": Q(ramp.to("s").magnitude * first, "1"),
    }


def answer(machine: Machine) -> Answer:
    """Answer for this machine: the lowest frequency, where, and what it leaves on the work."""
    typical, drawn, ends = evaluate(machine, values)
    centre, corner = typical["first_frequency_centre"], typical["first_frequency_corner"]
    long_ramp = drawn["ramp_periods"].magnitude >= 1.0
    certain = settled(long_ramp)
    told = (
        f"The head rings first at about {tell(centre)} in the middle and {tell(corner)} in the "
        f"softest corner; a corner taken at the job's speed leaves ripples "
        f"{tell(typical['ripple_spacing'])} apart."
    )
    if not certain:
        verdict = (
            f"{told} Whether the job's ramp is longer than one period cannot be told yet: measure "
            "the frequency, with a phone on the head or from ripples on a test piece."
        )
    elif share(long_ramp) > 0.5:
        verdict = f"{told} The ramp lasts longer than one period, so it rings little."
    else:
        verdict = (
            f"{told} The ramp is shorter than one period, so it rings; a gentler acceleration, a "
            "lighter head or a stiffer belt helps."
        )
    loss = 1 - ratio(typical["first_frequency_centre"], typical["held_frequency_centre"])
    warnings = []
    if float(np.nanmedian(loss)) > 0.1:
        warnings.append(
            f"The motors' magnetic spring takes {float(np.nanmedian(loss)):.0%} off the frequency: "
            "the usual estimate from the belt alone is too high here."
        )
    return Answer(
        asked="What rings?",
        values=typical,
        verdict=verdict,
        decided_by="periods of the lowest frequency in one ramp",
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
    """Acceleration whose ramp to the job's speed lasts one period."""
    found = drive.ramp_time.solve(
        "acceleration", speed=machine.typical().job.speed, ramp_time=1.0 / frequency
    )
    return {"acceleration": found}
