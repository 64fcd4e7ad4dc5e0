"""How strong a motor is at speed in this machine, and how strong the job wants it."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import attrs
import numpy as np

from mathlib.answers import loads
from mathlib.motion import belts, derating, drive, heat, pull_out, pull_test, steppers
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.formula import Formula
    from mathlib.machine import Machine
    from mathlib.motion.steppers import Motor

#: Torque margin at speed below which the nameplate cannot tell.
ENOUGH: Final = 2.0
#: The same where the torque was measured on this machine; our choice, for what a day changes.
ENOUGH_MEASURED: Final = 1.5
_DERATED: Final = 311  # a seed of its own, so that no range of the file shares its draws
_REPEATED: Final = 312


def pitch_radius(machine: Machine) -> Quantity:
    """Pitch radius of the driven pulley."""
    return drive.pitch_radius(pitch=machine.belt.pitch, teeth=machine.pulley.teeth)


def enough(machine: Machine, motor: Motor) -> float:
    """Margin that is enough: less where this motor's torque was measured on this machine."""
    return ENOUGH_MEASURED if measured(machine, motor) else ENOUGH


def measured(machine: Machine, motor: Motor) -> bool:
    """Whether torque at speed of this motor was measured: a curve of its own, or a pull test."""
    return motor.pull_out is not None or pull_of(machine, motor) is not None


def pull_of(machine: Machine, motor: Motor) -> pull_test.PullTest | None:
    """Pull test of this motor, if it is the one that was fitted."""
    test = machine.pull_test
    return test if test is not None and motor is getattr(machine, test.motors) else None


def diagonal(machine: Machine) -> bool:
    """Whether one motor alone moves the head along a diagonal."""
    return machine.machine.belts in ("crossed", "single")


def fastest(machine: Machine) -> float:
    """How much faster than the head the faster motor runs, in the worst direction."""
    return float(np.sqrt(2.0)) if diagonal(machine) else 1.0


def hardest(machine: Machine) -> Formula:
    """Force of a motor where it works hardest: along a diagonal, or along y."""
    return drive.diagonal_force if diagonal(machine) else drive.axis_force


def hardest_words(machine: Machine, motor: Motor) -> dict[str, Any]:
    """Gather what that formula takes."""
    told: dict[str, Any] = {
        "acceleration": machine.job.acceleration,
        "friction": machine.carriage.friction,
        "reflected_mass": steppers.reflected_mass(
            inertia=motor.rotor_inertia, pitch_radius=pitch_radius(machine)
        ),
    }
    if diagonal(machine):
        return told | dict(zip(("mass_x", "mass_y"), machine.masses, strict=True))
    return told | {"mass": machine.masses[1], "motors": 1}


def torque_needed(machine: Machine, motor: Motor, acceleration: Any = None) -> Quantity:
    """Torque where a motor works hardest, at the job's acceleration or another."""
    told = hardest_words(machine, motor)
    if acceleration is not None:
        told["acceleration"] = acceleration
    return drive.belt_torque(
        belt_force=hardest(machine)(**told), pitch_radius=pitch_radius(machine)
    )


class Strength:
    """Torque of one motor in one machine at any speed of its belt.

    A measured curve of the motor replaces the model, and a pull test its derating. Of a drawn
    machine the unknown share of the bound is drawn too. Where values of the machine are tried,
    ``tested_on`` is the one on which the pull test was made.
    """

    def __init__(self, machine: Machine, motor: Motor, tested_on: Machine | None = None) -> None:
        self.machine, self.motor, self._tested_on = machine, motor, tested_on
        self._hot = warm(machine, motor)
        self._turning = belts.belt_speed_of_shaft.solve(
            "shaft_speed", belt_speed="1 mm/s", pitch_diameter=2.0 * pitch_radius(machine)
        ).magnitude

    def shaft_speed(self, belt_speed: Quantity) -> Quantity:
        """Speed of the motor's shaft at a speed of its belt."""
        return Q(belt_speed.to("mm/s").magnitude * self._turning, "rpm")

    def bound(self, belt_speed: Quantity, cold: bool = False) -> Quantity:
        """Ideal bound of the torque, winding as warm as it gets or cold."""
        return pull_out.pull_out_torque(
            self.motor if cold else self._hot,
            self.shaft_speed(belt_speed),
            self.machine.supply.voltage,
            current_rms=self.machine.controller.set_current,
        )

    def expected(self, belt_speed: Quantity, normal: float = 0.0) -> Quantity:
        """Torque to expect; ``normal`` is the deviate of a machine that is not drawn."""
        turning = self.shaft_speed(belt_speed)
        unknown, repeat = self._deviates or (normal, normal)
        if self.motor.pull_out is not None:
            spread = np.exp(pull_test.REPEATS * repeat)
            measured: Quantity = self.motor.pull_out.at(turning) * spread
            return measured
        cycles = derating.frequency_of(self.motor, turning)
        if self._tested is None:
            part = derating.derating(cycles, unknown)
        else:
            part = pull_test.part_after_test(cycles, *self._tested, unknown, repeat)
        found: Quantity = self.bound(belt_speed) * part
        return found

    @cached_property
    def _deviates(self) -> tuple[np.ndarray, np.ndarray] | None:
        """How far below the bound each drawn machine's motor stays, and what a test repeats by.

        Half of the first one's variance is shared by both motors (driver, supply), half is each
        motor's own: a 0.9 deg motor need not fall short as its twin does.
        """
        n, seed = self.machine.draws, self.machine.seed
        if not n:
            return None
        own = int(1000 * float(np.median(self.motor.step_angle.to("deg").magnitude)))
        shared, alone, repeat = (
            np.random.default_rng([*seeds, seed]).standard_normal(n)
            for seeds in ((_DERATED,), (_DERATED, own), (_REPEATED,))
        )
        return (shared + alone) / np.sqrt(2.0), repeat

    @cached_property
    def _tested(self) -> tuple[Quantity, Any] | None:
        """Electrical frequency of the pull test, and the part of the bound that it found."""
        if self._tested_on is not None:
            return Strength(self._tested_on, self.motor)._tested
        machine, test = self.machine, pull_of(self.machine, self.motor)
        if test is None:
            return None
        share = pull_test.share_of_test(
            test=test,
            bound=self.bound(test.speed, cold=test.winding == "cold"),
            friction=machine.carriage.friction,
            pitch_radius=pitch_radius(machine),
            motors=drive.motors_pulling(machine.machine.belts),
        )
        known = derating.frequency_of(self.motor, self.shaft_speed(test.speed))
        return known, np.minimum(share, 1.0)


def warm(machine: Machine, motor: Motor) -> Motor:
    """Give the motor with its resistance as after hours at full current, or as hot as may be."""
    air = machine.mount.ambient
    rise = loads.winding_rise(attrs.evolve(machine, motor=motor)).magnitude
    most = (Q(loads.HOTTEST) - air).magnitude
    change = Q(np.where(np.isnan(rise), most, rise)[()], "delta_degC") + (air - Q("20 degC"))
    hot = heat.hot_resistance(resistance=motor.resistance, temperature_change=change)
    cold: Any = motor
    made: Motor = attrs.evolve(cold, resistance=hot)
    return made


def torque_at_speed(
    machine: Machine, motor: Motor, speed: Quantity, normal: float = 0.0
) -> Quantity:
    """Pull-out torque to expect at a belt speed; see ``Strength``."""
    return Strength(machine, motor).expected(speed, normal)
