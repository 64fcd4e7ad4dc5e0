"""Questions about power and wiring as people ask them; a usual wrong answer is named."""

from __future__ import annotations

import attrs
import numpy as np
import pytest

from mathlib import Q, answers
from mathlib.laser import dose
from mathlib.machine import TAGMAKER, load
from mathlib.motion import drive, heat, steppers, supply, wiring


def test_is_it_seventy_two_watts() -> None:
    # 2.0 A, 1.4 ohm, set to 1.5 A peak on 24 V: not 24 V x 1.5 A x 2 = 72 W but 1.5² x 1.4
    rms = heat.rms_current(current_peak="1.5 A")
    power = heat.winding_power(current_rms=rms, resistance="1.4 ohm")
    assert power.magnitude == pytest.approx(3.15, rel=1e-6)
    lossless = supply.supply_current(power=power, efficiency=1, supply_voltage="24 V")
    assert lossless.magnitude == pytest.approx(0.131, abs=0.001)
    lossy = supply.supply_current(power=power, efficiency=0.7, supply_voltage="24 V")
    assert 0.15 <= lossy.magnitude <= 0.25


def test_rules_of_thumb_against_real_power() -> None:
    rule = 2 / 3 * Q("1.68 A") * 2
    assert rule.magnitude == pytest.approx(2.24)
    assert (rule * Q("24 V")).to("W").magnitude == pytest.approx(53.8, abs=0.1)
    assert (Q("24 V") * Q("3.75 A")).to("W").magnitude == pytest.approx(90)
    mains = supply.supply_current(power="240 W", efficiency=1, supply_voltage="120 V")
    assert mains.magnitude == pytest.approx(2.0)  # and its own losses on top
    # the rule is generous: two motors of 1.65 ohm, 1.68 A at the peak, warm, on drivers of 85 %
    hot = heat.hot_resistance(resistance="1.65 ohm", temperature_change="60 delta_degC")
    real = 2 * heat.winding_power(current_rms=Q("1.68 A") / np.sqrt(2), resistance=hot) / 0.85
    assert 3 < (rule * Q("24 V") / real).to("1").magnitude < 4


def test_which_supply_for_this_budget() -> None:
    laser, rest = Q("12 V") * Q("4 A"), Q("22 W")  # two motors of 8 W, fan 3 W, controller 3 W
    told = {"loading": "80 %", "derating": supply.derating(ambient="40 degC")}
    twelve = supply.rated_power(power=laser + rest, **told)
    assert twelve.magnitude == pytest.approx(87.5)
    assert twelve.magnitude / 12 == pytest.approx(7.3, abs=0.05)
    converted = supply.rated_power(power=laser / 0.9 + rest, **told)
    assert converted.magnitude == pytest.approx(94.2, abs=0.05)
    assert converted.magnitude / 24 == pytest.approx(3.92, abs=0.01)


def test_ten_feet_of_wire_before_a_motor() -> None:
    # about 1 ohm for 100 ft: 0.1 ohm there and 0.1 ohm back, 6 ohm winding, 12 V
    one = wiring.wire_resistance(length="10 ft", area=wiring.awg(gauge=20)).magnitude
    assert one == pytest.approx(0.1, rel=0.02)
    current = 12 / (6 + 2 * one)
    assert current == pytest.approx(1.935, rel=0.01)
    assert current**2 * 6 == pytest.approx(22.5, rel=0.01)
    assert current**2 * 2 * one == pytest.approx(0.75, rel=0.02)  # of a wire of exactly 1 ohm


def test_voltage_at_a_laser_behind_a_thin_lead() -> None:
    lost = wiring.voltage_drop(length="1.5 m", current="4 A", area=wiring.awg(gauge=24))
    assert 12 - lost.magnitude == pytest.approx(10.99, abs=0.01)
    assert lost.magnitude / 12 == pytest.approx(0.084, abs=0.001)
    found = wiring.wire_area(length="1.5 m", current="4 A", supply_voltage="12 V", drop="2 %")
    assert found.area.magnitude == 1.0
    # 0.24 V over 3 m and 4 A: 20 milliohm a metre, and 17 AWG has 16.6
    each = wiring.wire_resistance(length="1 m", area=wiring.awg(gauge=17))
    assert each.to("mohm").magnitude == pytest.approx(16.6, abs=0.05)
    thicker = wiring.awg.solve("gauge", area=Q(2 * 1.5 * 4 * 0.017241 / 0.24, "mm^2"))
    assert int(thicker.magnitude) == 17


def test_a_carriage_that_is_hard_to_push_while_motors_are_wired() -> None:
    motor = load(TAGMAKER).typical().motor
    radius = drive.pitch_radius(pitch="2 mm", teeth=20)
    turning = Q(0.1 / radius.to("m").magnitude, "rad/s")  # pushed at 100 mm/s
    wired = drive.belt_torque.solve(
        "belt_force",
        load_torque=supply.hand_brake(motor=motor, shaft_speed=turning),
        pitch_radius=radius,
    )
    # K = 0.3236 / (1.414 x 1.68) = 0.1362; w = 15.71; Z² = 1.65² + (100 x 15.71 x 0.0032)²
    # = 27.99; 0.1362² x 15.71 x 1.65 / 27.99 = 0.01718 N m, over 6.366 mm 2.70 N for each motor
    assert wired.magnitude == pytest.approx(2.70, abs=0.01)
    unplugged = supply.shorted_torque(
        torque_constant="0.1362 N*m/A", shaft_speed=turning, resistance="1000000 ohm",
        rotor_teeth=steppers.rotor_teeth(motor), inductance=motor.inductance,
    )  # fmt: skip
    assert unplugged.magnitude < 1e-6
    told = answers.power.answer(load(TAGMAKER)).warnings
    assert any("unplug the motors before you judge friction" in text for text in told)


def test_forty_watts_on_the_label_and_what_is_light() -> None:
    diode = supply.efficiency(useful_power="5.5 W", power="16 W")
    module = supply.efficiency(useful_power="5.5 W", power=Q("12 V") * Q("4 A"))
    assert diode.magnitude == pytest.approx(0.34, abs=0.005)
    assert module.magnitude == pytest.approx(0.115, abs=0.0005)
    claimed, real = (dose.line_energy(power=p, speed="10 mm/s") for p in ("40 W", "5.5 W"))
    assert (claimed / real).to("1").magnitude == pytest.approx(7.3, abs=0.05)


def test_the_answer_does_not_add_phase_currents_up() -> None:
    machine = load(TAGMAKER).typical()
    told = answers.power.answer(
        attrs.evolve(machine, heads=attrs.evolve(machine.heads, laser=None))
    )
    phases = 4 * machine.controller.set_current * machine.supply.voltage
    assert (told.values["mean_power"] / phases).to("1").magnitude < 0.3
