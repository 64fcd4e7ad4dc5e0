"""How far is one step?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from mathlib.answers import (
    Answer,
    Values,
    evaluate,
    flip,
    motor,
    percent,
    ratio,
    settled,
    share,
    sources_of,
    tell,
)
from mathlib.motion import belts, drive, lattice, steppers
from mathlib.units import Q

if TYPE_CHECKING:
    from mathlib.machine import Machine

_ABOUT = {
    "steps_per_length": "microsteps for each length of belt",
    "lattice_worst": "from a wanted point to the nearest that the steps reach, at worst",
    "lattice_rms": "the same, root mean square",
    "belt_step": "belt travel of one microstep",
    "full_step_travel": "belt travel of one full step",
    "friction_band": "between the rest places of the head, coming from either side",
    "step_torque": "that resists one microstep",
    "friction_torque": "that friction asks of one motor",
    "step_rate": "for one motor at the job's speed along an axis",
}


def values(machine: Machine) -> Values:
    """All values of the answer."""
    motor, controller = machine.motor, machine.controller
    radius = drive.pitch_radius(pitch=machine.belt.pitch, teeth=machine.pulley.teeth)
    per_length = belts.steps_per_length(
        full_steps=steppers.full_steps(motor),
        microsteps=controller.microsteps,
        pitch=machine.belt.pitch,
        teeth=machine.pulley.teeth,
    )
    step = lattice.belt_step(steps_per_length=per_length)
    reach = lattice.nearest_point_error(belt_step=step, belts=machine.machine.belts)
    load = drive.motor_load(
        motor=motor,
        set_current=controller.set_current,
        pitch_radius=radius,
        gantry=machine.machine.belts,
        mass=machine.carriage.mass,
        acceleration="0 mm/s^2",
        friction=machine.carriage.friction,
    )
    return {
        "steps_per_length": per_length,
        "lattice_worst": reach.worst,
        "lattice_rms": reach.rms,
        "belt_step": step,
        "full_step_travel": step * controller.microsteps.magnitude,
        "friction_band": 2.0 * load.lag,
        "step_torque": steppers.step_torque(
            holding_torque=load.holding_torque, microsteps=controller.microsteps
        ),
        "friction_torque": load.torque,
        "step_rate": steppers.step_rate(speed=machine.job.speed, steps_per_length=per_length),
    }


def answer(machine: Machine) -> Answer:
    """Answer for this machine: steps, lattice, and whether friction swallows the microstep."""
    typical, drawn, ends = evaluate(machine, values)
    band = drawn["friction_band"].magnitude
    friction_rules = ~(band <= 2.0 * drawn["lattice_worst"].magnitude)  # also where it slips
    certain = settled(friction_rules)
    told = (
        f"One microstep is {tell(typical['belt_step'])} of belt; the nearest point that the steps "
        f"reach is at worst {tell(typical['lattice_worst'])} away, "
        f"{percent(ratio(typical['lattice_worst'], machine.job.accuracy))} of the "
        f"{tell(machine.job.accuracy)} that the work needs."
    )
    if share(np.isnan(band)) > 0.5:
        verdict = f"{told} Friction is more than the motor holds: it slips before the head moves."
    elif not certain:
        verdict = (
            f"{told} Whether friction or the lattice sets the finest move cannot be told yet: "
            f"friction does in {percent(share(friction_rules))} of the drawn machines. "
            "Measure friction."
        )
    elif share(friction_rules) > 0.5:
        verdict = (
            f"{told} Friction, not the lattice, sets the finest move: coming from the other side "
            f"the head rests {tell(typical['friction_band'])} away. Finer microsteps change "
            "nothing that shows; less friction or a stiffer motor does."
        )
    else:
        verdict = (
            f"{told} Friction leaves less than that; finer microsteps reach more points, as long "
            "as the controller can send them."
        )
    return Answer(
        asked="How far is one step?",
        values=typical,
        verdict=verdict,
        decided_by="the band that friction leaves, against the lattice of the steps",
        flips_at=_flips(machine),
        certain=certain,
        warnings=_warnings(machine, drawn),
        sources=sources_of(machine, "motor", "carriage", "belt"),
        measure_next=(
            "Friction: pull the carriage slowly along x and y with a spring scale, motors "
            "unplugged from their drivers, and write it into the file."
        ),
        ranges=ends,
        about=_ABOUT,
    )


def _flips(machine: Machine) -> Values:
    """Friction at which its band is as wide as the lattice."""
    nominal = values(machine.typical())
    radius = drive.pitch_radius(pitch=machine.belt.pitch, teeth=machine.pulley.teeth)
    holding = steppers.held_torque(machine.motor, machine.controller.set_current)
    torque = flip(
        lambda: steppers.belt_lag.solve(
            "load_torque",
            lag=nominal["lattice_worst"],
            holding_torque=holding,
            rotor_teeth=steppers.rotor_teeth(machine.motor),
            pitch_radius=radius,
        )
    )
    if torque is None:
        return {}
    pulling = drive.motors_pulling(machine.machine.belts)
    return {
        "friction": drive.belt_torque.solve("belt_force", load_torque=torque, pitch_radius=radius)
        * pulling
    }


def _warnings(machine: Machine, drawn: Values) -> tuple[str, ...]:
    found = []
    if share(drawn["step_torque"].magnitude < drawn["friction_torque"].magnitude) > 0.5:
        found.append(
            "One microstep's torque is below friction: the head follows in small jumps. The full "
            "torque is not reduced by microstepping."
        )
    hardest = drawn["step_rate"] * motor.fastest(machine)
    if share(hardest.magnitude > machine.controller.highest_step_rate.magnitude) > 0:
        found.append(
            f"At the job's speed the controller would have to send up to {tell(hardest)}, "
            "more than it can; coarser microsteps or a lower speed."
        )
    spacing, per_length = machine.job.line_spacing, drawn["steps_per_length"]
    beat = lattice.lines_per_beat(line_spacing=spacing, steps_per_length=per_length)
    if share(np.isfinite(beat.magnitude)) > 0.5:
        steps = ratio(spacing * per_length, Q("1 step"))
        found.append(
            f"Lines {tell(spacing)} apart are {float(np.median(steps)):.4g} microsteps: each is "
            f"rounded, and wide and narrow gaps repeat every {tell(beat)} lines, which may show. A "
            "spacing of whole microsteps has no such beat."
        )
    return tuple(found)
