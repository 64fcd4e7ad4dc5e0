"""Errors of place with one motor in this machine, as an error budget takes them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from mathlib.motion import belts, drive, error_budget, gantries, lattice, steppers
from mathlib.motion.drive import MotorLoad
from mathlib.motion.error_budget import Budget
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine
    from mathlib.motion.steppers import Motor

#: Detent torque over holding torque where a sheet does not state it: 5 to 8 %, an estimate.
DETENT_SHARE: Final = 0.065


class Loads(NamedTuple):
    """What friction asks of a motor, and what friction and acceleration do."""

    slow: MotorLoad
    fast: MotorLoad


def loads_of(machine: Machine, motor: Motor) -> Loads:
    """Load of each motor along y, the heavier axis: at constant speed, and accelerating."""
    told: dict[str, Any] = {
        "motor": motor,
        "set_current": machine.controller.set_current,
        "pitch_radius": drive.pitch_radius(pitch=machine.belt.pitch, teeth=machine.pulley.teeth),
        "gantry": machine.machine.belts,
        "mass": machine.masses[1],
        "friction": machine.carriage.friction,
    }
    return Loads(
        drive.motor_load(acceleration="0 mm/s^2", **told),
        drive.motor_load(acceleration=machine.job.acceleration, **told),
    )


def bands(machine: Machine, motor: Motor, loaded: Loads | None = None) -> dict[str, Quantity]:
    """Half the width of each source's band, for the head along y in the middle of its travel.

    Motors' and pulleys' errors are those of one belt: with crossed belts half of each belt's
    arrives at the head, as if both belts' were alike.
    """
    slow, fast = loaded or loads_of(machine, motor)
    radius = drive.pitch_radius(pitch=machine.belt.pitch, teeth=machine.pulley.teeth)
    step = lattice.belt_step(
        steps_per_length=belts.steps_per_length(
            full_steps=steppers.full_steps(motor),
            microsteps=machine.controller.microsteps,
            pitch=machine.belt.pitch,
            teeth=machine.pulley.teeth,
        )
    )
    detent = motor.detent_torque
    if detent is None:
        detent = DETENT_SHARE * motor.holding_torque
    layout, other = machine.layout, machine.errors
    stiffness = gantries.gantry(layout).stiffness(layout.travel_x / 2, layout.travel_y / 2)
    force = machine.carriage.friction + (machine.masses[1] * machine.job.acceleration).to("N")
    return {
        "lattice": lattice.nearest_point_error(belt_step=step, belts=machine.machine.belts).worst,
        "step_accuracy": steppers.step_accuracy_at_belt(
            step_accuracy=other.step_accuracy, step_angle=motor.step_angle, pitch_radius=radius
        ),
        "detent": steppers.belt_lag(
            load_torque=_at_most(detent, fast.holding_torque),
            holding_torque=fast.holding_torque,
            rotor_teeth=steppers.rotor_teeth(motor),
            pitch_radius=radius,
        ),
        "friction_lag": slow.lag,
        "acceleration_lag": fast.lag - slow.lag,
        "eccentricity": other.eccentricity,
        "tooth": other.tooth_error,
        "belt_stretch": error_budget.belt_deflection(
            head_force=force, stiffness=stiffness.translation[..., 1, 1]
        ),
        "temperature": abs(
            error_budget.thermal_growth(
                frame_expansion=other.frame_expansion,
                temperature_change=other.temperature_change,
                length=machine.machine.travel_y,
            )
        ),
    }


def _at_most(torque: Quantity, most: Quantity) -> Quantity:
    """Limit a torque: the magnet alone never turns a motor further than a whole step."""
    return Q(np.minimum(torque.to("N*m").magnitude, most.to("N*m").magnitude)[()], "N*m")


def budget(machine: Machine, motor: Motor) -> Budget:
    """Error budget of the head along y with one motor, while it accelerates."""
    return error_budget.budget(bands(machine, motor))
