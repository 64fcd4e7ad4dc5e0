"""What a motor has and what a job asks of it: the figures behind ``motor``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from mathlib.answers import Values
from mathlib.answers.motor_errors import bands, loads_of
from mathlib.answers.motor_torque import (
    Strength,
    diagonal,
    enough,
    fastest,
    hardest,
    hardest_words,
    pitch_radius,
    torque_needed,
)
from mathlib.motion import belts, demand, drive, error_budget, steppers
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine
    from mathlib.motion.steppers import Motor

_SLOWEST: Final = 1.0  # mm/s, from where a limit of speed is looked for
_FASTEST: Final = 10_000.0  # mm/s, beyond which no head of such a machine goes

ABOUT: Final = {
    "step": "belt travel of one full step",
    "step_error": "band of step accuracy at the belt, either way",
    "lag": "of the belt under friction; on reversal the path shows twice this",
    "acceleration_lag": "of the belt while it accelerates along y, the heavier axis",
    "position_error": "step error and acceleration lag together, at worst",
    "place_error": "of the head from all sources together, 95 % of places, while it accelerates",
    "motor_part": "of the squares in that, which the motor's own errors make",
    "torque_margin": "holding torque over what the job's acceleration asks, at low speed",
    "hold_torque": "holding torque at rest, at the reduced current",
    "bound_at_speed": "ideal upper bound at the motor's fastest turn in this job, winding hot",
    "torque_at_speed": "to expect there: measured, or below the bound as printed curves lie",
    "torque_needed": "for the job's acceleration where a motor works hardest",
    "torque_needed_knife": "the same with the knife head and its drag",
    "rotor_part": "of the torque needed, which the motor's own rotor takes",
    "margin_at_speed": "least torque to expect over torque needed, up to the job's speed",
    "highest_speed": "at which that margin falls to what is enough, or steps run out",
    "highest_acceleration": "at which it does at the job's speed",
    "best_radius": "of a pulley for the most acceleration, if torque did not fall with speed",
    "rotor_frequency": "of the rotor on its magnetic spring, with the mass that it moves",
    "magnetic_stiffness": "of the motor's magnetic spring at the belt",
    "step_rate": "for one motor at the job's speed along an axis",
    "step_rate_diagonal": "the same at 45 deg, where one motor of crossed belts runs √2 faster",
}


def values(machine: Machine, motor: Motor) -> Values:
    """All values for one motor in this machine."""
    radius = pitch_radius(machine)
    full_steps = steppers.full_steps(motor)
    teeth = steppers.rotor_teeth(motor)
    per_length = belts.steps_per_length(
        full_steps=full_steps,
        microsteps=machine.controller.microsteps,
        pitch=machine.belt.pitch,
        teeth=machine.pulley.teeth,
    )
    loaded = loads_of(machine, motor)
    whole = bands(machine, motor, loaded)
    budget = error_budget.budget(whole)
    step_error = whole["step_accuracy"]
    rate = steppers.step_rate(speed=machine.job.speed, steps_per_length=per_length)
    moved = machine.masses[1] / drive.motors_pulling(machine.machine.belts)
    needed = torque_needed(machine, motor)
    told = hardest_words(machine, motor)
    rotor = needed - drive.belt_torque(
        belt_force=hardest(machine)(**(told | {"reflected_mass": "0 kg"})), pitch_radius=radius
    )
    strong, top = Strength(machine, motor), machine.job.speed * fastest(machine)
    at_speed = strong.expected(top)
    fast = loaded.fast
    found = {
        "step": machine.belt.pitch * (machine.pulley.teeth / full_steps).magnitude,
        "step_error": step_error,
        "lag": loaded.slow.lag,
        "acceleration_lag": fast.lag,
        "position_error": step_error + fast.lag,
        "place_error": budget.expanded,
        "motor_part": Q(budget.motor_share, "1"),
        "torque_margin": drive.torque_margin(
            holding_torque=fast.holding_torque, load_torque=fast.torque
        ),
        "hold_torque": steppers.held_torque(
            motor, machine.controller.set_current * machine.controller.hold_share.magnitude
        ),
        "bound_at_speed": strong.bound(top),
        "torque_at_speed": at_speed,
        "torque_needed": needed,
        "rotor_part": rotor / needed,
        "margin_at_speed": least_margin(strong, needed),
        "highest_speed": highest_speed(strong, needed, per_length),
        "highest_acceleration": highest_acceleration(strong),
        "best_radius": best_radius(machine, motor, at_speed),
        "rotor_frequency": steppers.rotor_frequency(
            rotor_teeth=teeth,
            holding_torque=fast.holding_torque,
            inertia=steppers.loaded_inertia(
                rotor_inertia=motor.rotor_inertia, mass=moved, pitch_radius=radius
            ),
        ),
        "magnetic_stiffness": steppers.magnetic_stiffness(
            rotor_teeth=teeth, holding_torque=fast.holding_torque, pitch_radius=radius
        ),
        "step_rate": rate,
        "step_rate_diagonal": rate * fastest(machine),
    }
    knife = machine.heads.knife
    if knife is not None and knife.drag is not None:
        found["torque_needed_knife"] = _with_knife(machine, motor)
    return found


def _with_knife(machine: Machine, motor: Motor) -> Quantity:
    """Torque where a motor works hardest with the knife head on, and its drag."""
    knife = machine.heads.knife
    assert knife is not None
    carried = machine.carriage.mass + knife.mass
    forces = demand.motor_forces(
        gantry=machine.machine.belts,
        direction="45 deg" if diagonal(machine) else "90 deg",
        mass_x=carried,
        mass_y=carried + machine.beam.mass,
        acceleration=machine.job.acceleration,
        friction=machine.carriage.friction,
        drag=knife.drag,
        reflected_mass=hardest_words(machine, motor)["reflected_mass"],
    )
    return drive.belt_torque(
        belt_force=forces.a if diagonal(machine) else forces.b,
        pitch_radius=pitch_radius(machine),
    )


def least_margin(strong: Strength, needed: Quantity) -> Quantity:
    """Least torque to expect over torque needed, at every speed of the move up to the job's.

    The model falls with speed, and is least at the job's; a measured curve may have dips before.
    """
    top = strong.machine.job.speed * fastest(strong.machine)
    least: Quantity = (strong.expected(top) / needed).to("1")
    for speed in _points_of_curve(strong):
        slower = np.broadcast_to(speed < top.to("mm/s").magnitude, np.shape(least.magnitude))
        here = (strong.expected(Q(speed, "mm/s")) / needed).to("1").magnitude
        least = Q(np.where(slower, np.minimum(least.magnitude, here), least.magnitude)[()], "1")
    return least


def _points_of_curve(strong: Strength) -> list[float]:
    """Belt speeds in mm/s at which the motor's torque was measured; none without a curve."""
    curve = strong.motor.pull_out
    if curve is None:
        return []
    radius = float(np.median(pitch_radius(strong.machine).to("mm").magnitude))
    return [float(s) * radius for s in curve.speed.to("rad/s").magnitude if s > 0]


def highest_speed(strong: Strength, needed: Quantity, steps_per_length: Quantity) -> Quantity:
    """Speed of the head up to which the margin is enough and the controller sends the steps.

    Of a measured curve the first speed that fails counts, be it in a dip.
    """
    machine = strong.machine
    asked = enough(machine, strong.motor) * needed.to("N*m").magnitude
    faster = fastest(machine)
    shape = np.shape(asked) or ((machine.draws,) if machine.draws else ())

    def holds(speed: Any) -> Any:
        """Whether the torque is enough at a head speed in mm/s."""
        torque = strong.expected(Q(speed * faster, "mm/s"))
        return np.broadcast_to(torque.to("N*m").magnitude >= asked, shape)

    low, high = np.full(shape, _SLOWEST), np.full(shape, _FASTEST)
    failed = np.zeros(shape, dtype=bool)
    for speed in (s / faster for s in _points_of_curve(strong)):
        fails = ~holds(speed) & ~failed
        high = np.where(fails, speed, high)
        failed |= fails
        low = np.where(failed, low, speed)
    for _ in range(17):  # halves the logarithm: 9 / 2**17 is 0.01 %
        middle = np.sqrt(low * high)
        kept = holds(middle)
        low, high = np.where(kept, middle, low), np.where(kept, high, middle)
    low = np.where(low > 1.001 * _SLOWEST, low, 0.0)
    sent = machine.controller.highest_step_rate / (steps_per_length * faster)
    return Q(np.minimum(low, sent.to("mm/s").magnitude)[()], "mm/s")


def highest_acceleration(strong: Strength) -> Quantity:
    """Acceleration at which the margin at the job's speed is just enough; zero if none is."""
    machine, motor = strong.machine, strong.motor
    torque = strong.expected(machine.job.speed * fastest(machine))
    have = torque.to("N*m").magnitude / enough(machine, motor)
    still, one = (
        torque_needed(machine, motor, a).to("N*m").magnitude for a in ("0 m/s^2", "1 m/s^2")
    )
    return Q(np.maximum((have - still) / (one - still), 0.0)[()], "m/s^2").to("mm/s^2")


def best_radius(machine: Machine, motor: Motor, torque: Quantity) -> Quantity:
    """Pitch radius that accelerates the beam most, at the torque of the job's speed."""
    pulling = drive.motors_pulling(machine.machine.belts)
    found: Quantity = demand.best_pitch_radius(
        motor_torque=Q(np.maximum(torque.to("N*m").magnitude, 1e-9)[()], "N*m"),
        motor_friction=machine.carriage.friction / pulling,
        motor_mass=machine.masses[1] / pulling,
        rotor_inertia=motor.rotor_inertia,
    )
    return found
