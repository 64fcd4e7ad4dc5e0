"""Stepper motors: limits, second routes and refusals beside the generic tests."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.motion import drive, steppers
from mathlib.motion.steppers import Motor

MOTOR = Motor(
    step_angle="1.8 deg", holding_torque="0.4 N*m", rated_current="1.7 A", resistance="1.5 ohm",
    inductance="2.8 mH", rotor_inertia="54 g*cm^2",
)  # fmt: skip


@pytest.mark.parametrize(
    ("angle", "steps", "teeth"),
    [("1.8 deg", 200, 50), ("0.9 deg", 400, 100), ("7.5 deg", 48, 12), ("3.6 deg", 100, 25)],
)
def test_steps_and_teeth_of_the_usual_motors(angle: str, steps: int, teeth: int) -> None:
    found = steppers.full_steps_per_turn(step_angle=angle)
    assert found.magnitude == pytest.approx(steps, rel=1e-13)
    assert steppers.rotor_teeth_of(full_steps=found).magnitude == pytest.approx(teeth, rel=1e-13)


def test_a_record_gives_its_steps_and_teeth() -> None:
    assert steppers.full_steps(MOTOR).magnitude == pytest.approx(200, rel=1e-13)
    assert steppers.rotor_teeth(MOTOR).magnitude == pytest.approx(50, rel=1e-13)


def lag(load: Any, hold: str = "0.4 N*m", **more: Any) -> Any:
    given = {"rotor_teeth": 50, "pitch_radius": "6.366 mm"} | more
    return steppers.belt_lag(load_torque=load, holding_torque=hold, **given).magnitude


def test_lag_at_the_ends_of_its_domain() -> None:
    assert lag("0 N*m") == 0
    # At the holding torque the rotor is a quarter of a magnetic cycle behind: pi / 2 / 50 rad.
    assert lag("0.4 N*m") == pytest.approx(6.366 * math.pi / 100, rel=1e-12)
    with pytest.raises(ValueRefused, match="beyond its holding torque the motor slips"):
        lag("0.4000001 N*m")


@given(st.floats(1e-6, 0.05))
def test_a_small_lag_is_force_over_magnetic_stiffness(share: float) -> None:
    radius = "6.366 mm"
    stiffness = steppers.magnetic_stiffness(
        rotor_teeth=50, holding_torque="0.4 N*m", pitch_radius=radius
    )
    linear = share * 0.4 / 6.366e-3 / stiffness.magnitude
    # asin(s) = s + s**3 / 6: at 5 % the straight line is 0.04 % short.
    assert lag(Q(share * 0.4, "N*m")) == pytest.approx(linear, rel=5e-4)


def test_load_angle_times_radius_is_the_lag() -> None:
    angle = steppers.load_angle(load_torque="0.1 N*m", holding_torque="0.4 N*m", rotor_teeth=50)
    assert math.radians(angle.magnitude) * 6.366 == pytest.approx(lag("0.1 N*m"), rel=1e-13)


def test_rotor_frequency_is_that_of_a_small_swing() -> None:
    # Another method: let the rotor swing by 0.05 deg on its sine of torque, and time it.
    teeth, hold, inertia = 50, 0.27, 35e-7

    def pull(_: float, state: Any) -> list[float]:
        return [state[1], -hold * math.sin(teeth * state[0]) / inertia]

    def through_zero(_: float, state: Any) -> float:
        return float(state[0])

    start = [math.radians(0.05), 0.0]
    swing = solve_ivp(pull, (0, 0.05), start, events=through_zero, rtol=1e-10, atol=1e-14)
    half_periods = np.diff(swing.t_events[0])
    timed = 1 / (2 * half_periods.mean())
    found = steppers.rotor_frequency(
        rotor_teeth=teeth, holding_torque="0.27 N*m", inertia="35 g*cm^2"
    ).magnitude
    # A swing of 2.5 deg of the magnetic cycle is slower by its square over 16, 1.2e-4.
    assert found == pytest.approx(timed, rel=3e-4)


def test_the_belt_lowers_the_frequency_through_its_mass() -> None:
    whole = steppers.loaded_inertia(
        rotor_inertia="68 g*cm^2", mass="0.5 kg", pitch_radius="6.366 mm"
    )
    alone = steppers.reflected_mass(inertia=whole, pitch_radius="6.366 mm")
    rotor = steppers.reflected_mass(inertia="68 g*cm^2", pitch_radius="6.366 mm")
    assert alone.magnitude - rotor.magnitude == pytest.approx(0.5, rel=1e-12)


def test_step_torque_falls_with_finer_steps_to_the_straight_line() -> None:
    found = steppers.step_torque(holding_torque="1 N*m", microsteps=[1, 2, 4, 256]).magnitude
    np.testing.assert_allclose(found[:2], [1, math.sqrt(0.5)], rtol=1e-14)
    assert found[3] == pytest.approx(math.pi / 512, rel=1e-5)
    with pytest.raises(ValueRefused, match="a full step is the coarsest there is"):
        steppers.step_torque(holding_torque="1 N*m", microsteps=0.5)


def load(**changed: Any) -> Any:
    given: dict[str, Any] = {
        "motor": MOTOR, "set_current": "1.7 A", "pitch_radius": "6.366 mm", "gantry": "plain",
        "mass": "1 kg", "acceleration": "0 mm/s^2", "friction": "5 N",
    }  # fmt: skip
    return drive.motor_load(**(given | changed))


def test_a_load_that_only_rubs() -> None:
    found = load()
    assert found.holding_torque.magnitude == pytest.approx(0.4, rel=1e-12)
    assert found.torque.to("mN*m").magnitude == pytest.approx(31.83, rel=1e-12)  # 5 * 6.366
    assert found.lag.magnitude == pytest.approx(0.01014, rel=5e-4)


def test_crossed_belts_share_the_load_but_not_their_rotors() -> None:
    one, two = load(acceleration="10 m/s^2"), load(acceleration="10 m/s^2", gantry="crossed")
    rotor = 54e-7 / 6.366e-3**2 * 10  # N: each motor turns its own rotor
    assert one.torque.magnitude / 6.366e-3 == pytest.approx(15 + rotor, rel=1e-12)
    assert two.torque.magnitude / 6.366e-3 == pytest.approx(7.5 + rotor, rel=1e-12)


def test_torque_follows_the_set_current() -> None:
    assert load(set_current="0.85 A").holding_torque.magnitude == pytest.approx(0.2, rel=1e-12)


def test_where_the_motor_slips_the_lag_is_missing() -> None:
    found = load(friction=Q([5.0, 100.0], "N")).lag.magnitude
    assert np.isfinite(found[0])
    assert np.isnan(found[1])
