"""The supply: real powers, warm air, its voltage, and what comes back when axes brake."""

from __future__ import annotations

import numpy as np
import pytest

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.motion import supply
from mathlib.motion.pull_out import voltage_limited_torque
from mathlib.motion.steppers import Motor

MOTOR = Motor(
    step_angle="1.8 deg", holding_torque="0.4 N*m", rated_current="1.7 A",
    resistance="1.5 ohm", inductance="2.8 mH", rotor_inertia="54 g*cm^2",
)  # fmt: skip


def test_derating_is_whole_up_to_forty_degrees_and_falls_then() -> None:
    found = supply.derating(ambient=Q([-10.0, 25, 40, 41, 50, 60, 70], "degC")).magnitude
    np.testing.assert_allclose(found, [1, 1, 1, 0.975, 0.75, 0.5, 0.25], atol=1e-12)
    with pytest.raises(ValueRefused, match="no usual supply may run in air above 70"):
        supply.derating(ambient="70.1 degC")


def test_the_warmest_air_undoes_the_derating() -> None:
    part = Q([1.0, 0.9, 0.5, 0.26], "1")
    back = supply.derating(ambient=supply.warmest_ambient(derating=part))
    np.testing.assert_allclose(back.magnitude, part.magnitude, rtol=1e-12)
    for asked in (1.01, 0.2):
        with pytest.raises(ValueRefused, match="lies outside"):
            supply.warmest_ambient(derating=asked)


def test_voltage_rule_of_a_small_and_a_large_coil() -> None:
    rule = supply.voltage_rule(coil_voltage=Q([1.4, 5.0], "V"))
    np.testing.assert_allclose(rule.lowest.magnitude, [2.8, 10])
    np.testing.assert_allclose(rule.good_from.magnitude, [5.6, 20])
    np.testing.assert_allclose(rule.good_to.magnitude, [30.8, 110])
    np.testing.assert_allclose(rule.highest.magnitude, [35, 125])


def test_energy_on_the_bus_is_what_flowed_in() -> None:
    told = {"supply_voltage": "24 V", "energy": "0.3 J", "capacitance": "1000 uF"}
    after = supply.bus_voltage(returned_share=0.6, **told).magnitude
    # C / 2 (U_b² - U²) = 0.6 x 0.3 J
    assert 0.5e-3 * (after**2 - 24**2) == pytest.approx(0.18, rel=1e-9)


def test_a_shorted_motor_brakes_as_one_on_a_supply_without_voltage() -> None:
    # The voltage-limited torque is K V / Z - K² w R / Z²: its slope against V has no brake in it,
    # so that the part without V is what two supply voltages leave, extrapolated to none.
    ten, twenty = (
        voltage_limited_torque(MOTOR, "300 rpm", volts).to("N*m").magnitude
        for volts in ("10 V", "20 V")
    )
    found = supply.hand_brake(motor=MOTOR, shaft_speed="300 rpm").to("N*m").magnitude
    assert found == pytest.approx(twenty - 2 * ten, rel=1e-9)


def test_charging_of_an_empty_bus() -> None:
    # C U = I t: 1000 uF to 24 V at 2 A takes 12 ms
    found = supply.charging_time(capacitance="1000 uF", supply_voltage="24 V", current="2 A")
    assert found.to("ms").magnitude == pytest.approx(12)
    # plugged into a live 24 V lead of 0.1 ohm instead: 240 A for a moment, a spark
    assert supply.inrush_current(voltage="24 V", resistance="0.1 ohm").magnitude == 240


def test_more_light_than_input_is_refused() -> None:
    with pytest.raises(ValueRefused, match="one of the two is a label's claim"):
        supply.efficiency(useful_power="40 W", power="16 W")
