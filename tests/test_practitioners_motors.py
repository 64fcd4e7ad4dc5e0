"""Questions of builders about motors: torque at speed, supplies, and 1.8° against 0.9°."""

from __future__ import annotations

import math

import attrs
import numpy as np
import pytest

from mathlib import Q
from mathlib.answers import motor
from mathlib.machine import TAGMAKER, load
from mathlib.motion import belts, demand, drive, lattice, pull_out, steppers
from mathlib.motion.pull_test import PullOutTable
from mathlib.motion.steppers import Motor


def rpm_of(speed: str, teeth: int) -> Q:
    diameter = belts.pitch_diameter(pitch="2 mm", teeth=teeth)
    return belts.belt_speed_of_shaft.solve("shaft_speed", belt_speed=speed, pitch_diameter=diameter)


def belt_speed(shaft_speed: Q, teeth: int) -> float:
    diameter = belts.pitch_diameter(pitch="2 mm", teeth=teeth)
    found = belts.belt_speed_of_shaft(shaft_speed=shaft_speed, pitch_diameter=diameter)
    return float(found.to("mm/s").magnitude)


def test_a_motor_as_a_generator_and_the_speed_at_which_it_makes_the_supply() -> None:
    # 22.7 mV rms for each rpm, measured with an open winding; 16 teeth of 2 mm, 200 mm/s
    turning = rpm_of("200 mm/s", 16)
    assert turning.to("rpm").magnitude == pytest.approx(375)  # 200 / 32 * 60
    cycles = pull_out.electrical_frequency(rotor_teeth=50, shaft_speed=turning)
    assert cycles.magnitude == pytest.approx(312.5)
    constant = {"back_emf_constant": Q("22.7 mV") / Q("1 rpm").to("rad/s")}
    rms = pull_out.back_emf(shaft_speed=turning, **constant).magnitude
    assert rms * math.sqrt(2) == pytest.approx(12.04, rel=0.001)  # 8.51 is rms: not the peak
    top = pull_out.back_emf.solve("shaft_speed", back_emf=Q(24 / math.sqrt(2), "V"), **constant)
    assert top.to("rpm").magnitude == pytest.approx(748, rel=0.001)  # 24 / 0.0321
    assert belt_speed(top, 16) == pytest.approx(399, rel=0.001)


def test_what_two_motors_of_crossed_belts_do_for_a_head() -> None:
    # 65 N cm at 2.1 A, 85 % of the current, 71 % by the driver's vector, lag of a sixteenth step
    held = steppers.torque_at_current(
        rated_torque="65 N*cm", set_current=Q(0.85 * 0.71 * 2.1, "A"), rated_current="2.1 A"
    )
    torque = steppers.step_torque(holding_torque=held, microsteps=16)
    assert torque.to("N*cm").magnitude == pytest.approx(3.84, rel=0.005)
    radius = drive.pitch_radius(pitch="2 mm", teeth=16)
    force = drive.belt_torque.solve("belt_force", load_torque=torque, pitch_radius=radius)
    assert force.magnitude == pytest.approx(7.55, rel=0.005)
    # on a pure x or y move both pull
    both = lattice.crossed_force(belt_force=force, direction="0 deg")
    assert both.to("N").magnitude == pytest.approx(15.10, rel=0.005)
    for mass, direction, expected in ((0.570, "0 deg", 26.5), (1.350, "90 deg", 11.2)):
        acceleration = both.magnitude / mass
        assert acceleration == pytest.approx(expected, rel=0.005)
        needed = demand.motor_forces(
            gantry="crossed", direction=direction, mass_x="0.57 kg", mass_y="1.35 kg",
            acceleration=Q(acceleration, "m/s^2"), friction="0 N", reflected_mass="0 kg",
        )  # fmt: skip
        assert abs(needed.a.magnitude) == pytest.approx(force.magnitude)
        assert abs(needed.b.magnitude) == pytest.approx(force.magnitude)


def test_twice_the_speed_wants_twice_the_voltage_above_the_corner() -> None:
    # 150 in/min at 24 V, 300 wanted with a tenth in hand
    assert Q("300 in/min").to("mm/s").magnitude == pytest.approx(127.0)
    wanted = 300 / (150 * 0.9)
    assert 24 * wanted == pytest.approx(53.3, abs=0.05)
    # the model says so where resistance is small: the speed axis scales with the supply
    low = Motor(
        step_angle="1.8 deg", holding_torque="0.4 N*m", rated_current="2.8 A",
        resistance="1 mohm", inductance="0.6 mH", rotor_inertia="68 g*cm^2",
    )  # fmt: skip
    speeds = np.linspace(500, 3000, 20)
    here = steppers.pull_out_torque(low, Q(speeds, "rpm"), "24 V").magnitude
    there = steppers.pull_out_torque(low, Q(wanted * speeds, "rpm"), Q(24 * wanted, "V")).magnitude
    np.testing.assert_allclose(there, here, rtol=2e-3)
    # below the corner more voltage gives nothing
    slow = [steppers.pull_out_torque(low, "100 rpm", v).magnitude for v in ("24 V", "48 V")]
    assert slow[0] == pytest.approx(slow[1])


@pytest.mark.parametrize(
    ("angle", "current", "inductance", "resistance", "reactive"),
    [("1.8 deg", 2.5, "1.8 mH", "1.25 ohm", 679), ("0.9 deg", 1.68, "2.8 mH", "1.65 ohm", 325)],
)
def test_inductance_alone_halves_the_speed_of_the_finer_motor(
    angle: str, current: float, inductance: str, resistance: str, reactive: float
) -> None:
    teeth = steppers.rotor_teeth_of(full_steps=steppers.full_steps_per_turn(step_angle=angle))
    hertz = 24 / (2 * math.pi * current * Q(inductance).to("H").magnitude)  # 849 and 812 Hz
    top = pull_out.electrical_frequency.solve(
        "shaft_speed", frequency=Q(hertz, "Hz"), rotor_teeth=teeth
    )
    assert belt_speed(top, 20) == pytest.approx(reactive, rel=0.02)
    # with resistance and back-EMF the corner lies lower
    fitted = Motor(
        step_angle=angle, holding_torque="0.4 N*m", rated_current="2 A", resistance=resistance,
        inductance=inductance, rotor_inertia="54 g*cm^2",
    )  # fmt: skip
    corner = steppers.corner_speed(fitted, "24 V", current_peak=Q(current, "A"))
    assert 0.3 * reactive < belt_speed(corner, 20) < reactive


def test_holding_torque_is_not_what_a_motor_has_at_speed() -> None:
    # read from a book's figure: 0.4 N m up to 200 full steps a second, 0.2 N m at 500
    table = PullOutTable.of(
        [
            {"speed": "200 step/s", "torque": "0.4 N*m"},
            {"speed": "500 step/s", "torque": "0.2 N*m"},
        ],
        full_steps="200 step",
    )
    assert table.speed.to("rpm").magnitude[-1] == pytest.approx(150)
    assert belt_speed(table.speed[-1], 20) == pytest.approx(100)
    assert table.at("150 rpm").magnitude == pytest.approx(0.2)
    assert table.at("60 rpm").magnitude == pytest.approx(0.4)
    assert table.at("151 rpm").magnitude == 0.0  # nothing was read beyond


def test_the_motor_is_counted_with_its_rotor() -> None:
    # 82 g cm2 on 16 teeth weighs 0.316 kg at the belt, twice that on crossed belts
    radius = drive.pitch_radius(pitch="2 mm", teeth=16)
    rotor = steppers.reflected_mass(inertia="82 g*cm^2", pitch_radius=radius)
    told = {"gantry": "crossed", "direction": "0 deg", "mass_x": "0.3 kg", "mass_y": "1 kg",
            "acceleration": "10 m/s^2", "friction": "0 N"}  # fmt: skip
    both = demand.motor_forces(reflected_mass=rotor, **told)
    whole = (both.a + both.b).to("N").magnitude / 10
    assert whole == pytest.approx(0.30 + 0.632, rel=0.005)


def test_0_9_degrees_do_not_double_the_accuracy_of_a_machine() -> None:
    machine = load(TAGMAKER).typical()
    half = attrs.evolve(machine.motor, step_angle=machine.motor.step_angle / 2)
    one, two = (motor.values(machine, m) for m in (machine.motor, half))
    own = (one["position_error"] / two["position_error"]).to("1").magnitude
    whole = (one["place_error"] / two["place_error"]).to("1").magnitude
    assert own == pytest.approx(2.0)  # the motor's own share halves
    assert 1.0 < whole < 1.05  # and whether that shows is the question
