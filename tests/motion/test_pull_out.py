"""Torque against speed: the bound against a scan of the phasor plane, and printed curves."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused, WordError
from mathlib.motion import steppers
from mathlib.motion.pull_out import electrical_frequency
from mathlib.motion.steppers import Motor


def motor(torque, current, resistance, inductance, step_angle="1.8 deg") -> Motor:
    return Motor(
        step_angle=step_angle,
        holding_torque=torque,
        rated_current=current,
        resistance=resistance,
        inductance=inductance,
        rotor_inertia="68 g*cm^2",
    )


SLOW = motor("0.49 N*m", "1.0 A", "5.0 ohm", "8.0 mH")
FAST = motor("0.40 N*m", "2.8 A", "0.5 ohm", "0.6 mH")
FINE = motor("0.48 N*m", "1.7 A", "1.8 ohm", "2.8 mH", "0.9 deg")


def scanned(m: Motor, rpm: float, volts: float, rms: float) -> float:
    """Best torque over a fine grid of phase currents inside both limits."""
    k = m.holding_torque.magnitude / (math.sqrt(2) * m.rated_current.magnitude)
    teeth = 90 / m.step_angle.magnitude
    omega = rpm * 2 * math.pi / 60
    x = teeth * omega * m.inductance.to("H").magnitude
    r = m.resistance.magnitude
    angle = np.linspace(-math.pi, math.pi, 4001)[:, None]
    size = np.linspace(0, math.sqrt(2) * rms, 400)
    along, across = size * np.cos(angle), size * np.sin(angle)
    square = (r * along - x * across + k * omega) ** 2 + (r * across + x * along) ** 2
    return float(np.max(np.where(square <= volts**2, k * along, 0.0)))


@pytest.mark.parametrize("m", [SLOW, FAST, FINE], ids=["slow", "fast", "fine"])
@pytest.mark.parametrize("rpm", [50, 250, 300, 330, 420, 700, 1500, 3000])
def test_the_bound_equals_a_scan_of_the_phasor_plane(m, rpm):
    found = steppers.pull_out_torque(m, Q(rpm, "rpm"), "24 V").magnitude
    scan = scanned(m, rpm, 24.0, m.rated_current.magnitude)
    # the grid misses the rim by at most half a step of size (1/800) and of angle
    assert found == pytest.approx(scan, rel=3e-3, abs=1e-4)
    assert found >= scan - 1e-12


@pytest.mark.parametrize(
    ("m", "supply", "expected"),
    [
        (SLOW, "24 V", 281.23872),
        (SLOW, "36 V", 457.74297),
        (FAST, "12 V", 650.49101),
        (FAST, "36 V", 2124.10734),
        (FINE, "12 V", 136.40165),
        (FINE, "24 V", 304.7532),
    ],
)
def test_corner_speed(m, supply, expected):
    # phasor model, cross-checked elsewhere by a constrained scan
    found = steppers.corner_speed(m, supply).to("rpm").magnitude
    assert found == pytest.approx(expected, rel=1e-6)


def test_below_the_corner_the_whole_current_and_above_it_less():
    corner = steppers.corner_speed(SLOW, "24 V").to("rpm").magnitude
    below = steppers.pull_out_torque(SLOW, Q(0.99 * corner, "rpm"), "24 V")
    above = steppers.pull_out_torque(SLOW, Q(1.01 * corner, "rpm"), "24 V")
    assert below.magnitude == pytest.approx(0.49)
    assert above.magnitude < 0.49


def test_far_above_the_corner_the_voltage_alone_decides():
    found = steppers.pull_out_torque(SLOW, "1500 rpm", "24 V").magnitude
    alone = steppers.voltage_limited_torque(SLOW, "1500 rpm", "24 V").magnitude
    assert found == pytest.approx(alone, rel=1e-12)
    by_hand = steppers.voltage_limited_torque(SLOW, "562.47744 rpm", "24 V").magnitude
    assert by_hand == pytest.approx(0.28430323, rel=1e-6)


def test_rms_taken_for_peak_loses_29_percent_of_the_torque():
    rms = steppers.pull_out_torque(SLOW, "10 rpm", "24 V", current_rms="1 A").magnitude
    peak = steppers.pull_out_torque(SLOW, "10 rpm", "24 V", current_peak="1 A").magnitude
    assert peak / rms == pytest.approx(1 / math.sqrt(2))
    assert rms == steppers.pull_out_torque(SLOW, "10 rpm", "24 V").magnitude
    with pytest.raises(WordError, match="current_rms or current_peak, not both"):
        steppers.pull_out_torque(SLOW, "10 rpm", "24 V", current_rms="1 A", current_peak="1 A")


def test_a_finer_motor_meets_the_limit_at_a_lower_speed():
    # equal nameplates but for the teeth: twice the electrical frequency at the same speed
    coarse = motor("0.48 N*m", "1.7 A", "1.8 ohm", "2.8 mH", "1.8 deg")
    fine, other = (steppers.corner_speed(m, "24 V").magnitude for m in (FINE, coarse))
    assert 0.5 < fine / other < 0.7


def test_a_supply_that_cannot_push_the_current_at_rest_is_told():
    with pytest.raises(ValueRefused, match="even at rest"):
        steppers.corner_speed(motor("0.3 N*m", "1 A", "30 ohm", "30 mH"), "24 V")


def test_a_speed_in_cycles_is_refused():
    with pytest.raises(UnitError, match="Pull-out torque: speed needs radians or turns"):
        steppers.pull_out_torque(SLOW, "10 Hz", "24 V")


@given(rpm=st.floats(1, 5000), volts=st.floats(5, 60))
def test_torque_falls_with_speed_and_rises_with_voltage(rpm, volts):
    here = steppers.pull_out_torque(FAST, Q(rpm, "rpm"), Q(volts, "V")).magnitude
    faster = steppers.pull_out_torque(FAST, Q(rpm * 1.1, "rpm"), Q(volts, "V")).magnitude
    stronger = steppers.pull_out_torque(FAST, Q(rpm, "rpm"), Q(volts * 1.1, "V")).magnitude
    assert faster <= here + 1e-12
    assert stronger >= here - 1e-12


def test_arrays_of_motors_speeds_and_supplies_broadcast():
    many = motor(Q([0.3, 0.4], "N*m"), Q([1.0, 2.0], "A"), "1 ohm", "2 mH")
    speeds, supplies = Q(np.linspace(1, 900, 5)[:, None], "rpm"), Q(np.ones((3, 1, 1)) * 24, "V")
    found = steppers.pull_out_torque(many, speeds, supplies)
    assert found.magnitude.shape == (3, 5, 2)
    alone = motor("0.4 N*m", "2 A", "1 ohm", "2 mH")
    one = steppers.pull_out_torque(alone, "900 rpm", "24 V").magnitude
    assert found.magnitude[2, 4, 1] == pytest.approx(one)


def test_electrical_frequency_of_a_sixteen_tooth_pulley():
    # 200 mm/s over 32 mm a turn is 375 rpm: 312.5 Hz
    found = electrical_frequency(rotor_teeth=50, shaft_speed="375 rpm")
    assert found.to("Hz").magnitude == pytest.approx(312.5)


@pytest.mark.parametrize("name", ["frame 17, 40 mm, 0.9 deg", None, 0.4, {}])
def test_what_is_no_motor_is_told(name):
    told = {"speed": "300 rpm", "supply_voltage": "24 V"}
    for call in (
        lambda: steppers.corner_speed(name, "24 V"),
        lambda: steppers.pull_out_torque(name, **told),
        lambda: steppers.voltage_limited_torque(name, **told),
        lambda: steppers.derated(name, **told),
        lambda: steppers.full_steps(name),
        lambda: steppers.rotor_teeth(name),
        lambda: steppers.held_torque(name, "1 A"),
    ):
        with pytest.raises(ValueRefused, match=f"motor is a Motor; got {type(name).__name__}"):
            call()
