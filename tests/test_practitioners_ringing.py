"""Questions that people ask about ringing, with the right answers and the arithmetic."""

from __future__ import annotations

import attrs
import numpy as np
import pytest

from mathlib import Q
from mathlib.machine import TAGMAKER, load
from mathlib.motion import belts, resonance, ringing, steppers
from mathlib.motion.belts import DrivenPulley

COARSE = attrs.evolve(load(TAGMAKER).motor, step_angle="1.8 deg", holding_torque="0.40 N*m")
PULLEY = DrivenPulley(teeth=20)


def test_six_ripples_in_12_mm_at_100_mm_per_s_are_50_hz() -> None:
    # 12 / 6 = 2 mm; 100 / 2 = 50
    found = resonance.ripple_spacing.solve(
        "frequency", speed="100 mm/s", ripple_spacing=Q("12 mm") / 6
    )
    assert found.to("Hz").magnitude == pytest.approx(50)
    assert "a short segment may never reach it" in resonance.ripple_spacing.assumes[0]


def test_a_harder_stop_can_ring_less() -> None:
    # dv/w = 100 / 314.159 = 0.31831 mm; f t = 1.6667, 1, 0.5: |sin(pi 1.6667)| / (pi 1.6667) =
    # 0.86603 / 5.23599 = 0.16540; 0; 2 / pi = 0.63662: so 0.0526, 0.0000, 0.2026 mm
    a = Q(np.array([3000.0, 5000.0, 10000.0]), "mm/s^2")
    left = resonance.ringing_amplitude(
        speed_change="100 mm/s", ramp_time=Q("100 mm/s") / a, frequency="50 Hz", damping=0
    )
    assert left.to("mm").magnitude == pytest.approx([0.0526, 0.0, 0.2026], abs=1e-4)


def test_the_motor_takes_its_part_of_the_stiffness_on_a_small_pulley() -> None:
    # r = 40 / 2 pi = 6.366 mm; 50 * 0.40 / 0.006366**2 = 493.5 N/mm; in series with 66.6: 58.68;
    # sqrt(66600 / 0.6) / 2 pi = 53.02 Hz, sqrt(58680 / 0.6) / 2 pi = 49.77 Hz
    spring = steppers.magnetic_stiffness(
        rotor_teeth=steppers.rotor_teeth(COARSE),
        holding_torque=COARSE.holding_torque,
        pitch_radius=belts.pitch_diameter(pitch="2 mm", teeth=20) / 2,
    )
    both = resonance.series_stiffness(stiffness_1="66.6 N/mm", stiffness_2=spring)
    found = resonance.held_carriage_frequency(
        stiffness=[Q("66.6 N/mm"), both], mass="0.60 kg"
    ).magnitude
    assert found == pytest.approx([53.02, 49.77], abs=0.01)
    finer = steppers.magnetic_stiffness(
        rotor_teeth=100, holding_torque="0.40 N*m", pitch_radius="6.3662 mm"
    )
    assert (finer / spring).to("1").magnitude == pytest.approx(2, rel=1e-5)


def test_what_shakes_at_40_and_80_mm_per_s() -> None:
    orders = resonance.excitation_orders(motor=COARSE, pulley=PULLEY, pitch="2 mm")
    found = [
        resonance.excitation_frequency(order=order, speed=["40 mm/s", "80 mm/s"]).magnitude
        for order in (orders.full_step, orders.electrical_cycle, orders.tooth, orders.pulley_turn)
    ]
    # 5, 1.25, 0.5 and 0.025 a millimetre
    np.testing.assert_allclose(found, [[200, 400], [50, 100], [20, 40], [1, 2]])


def test_the_speeds_that_excite_a_mode_at_52_hz() -> None:
    orders = resonance.excitation_orders(motor=COARSE, pulley=PULLEY, pitch="2 mm")
    found = [
        resonance.excitation_frequency.solve("speed", order=order, frequency="52 Hz").magnitude
        for order in (orders.full_step, orders.electrical_cycle, orders.tooth)
    ]
    assert found == pytest.approx([10.4, 41.6, 104])  # 52 / 5, 52 / 1.25, 52 / 0.5


def test_ripples_down_a_wall_tell_the_damping_and_how_many_show() -> None:
    # log(100 / 60) = 0.5108; over sqrt(39.478 + 0.261) = 6.304: 0.0810; 100 * 0.6**4 = 12.96 um
    # still shows at 10 um, 100 * 0.6**5 = 7.8 um does not: with the first one five ripples
    damping = resonance.damping_from_decrement(amplitude_ratio=100 / 60, cycles=1)
    assert damping.magnitude == pytest.approx(0.0810, abs=1e-4)
    over_three = resonance.damping_from_decrement(amplitude_ratio=22 / 100, cycles=3)
    assert over_three.magnitude == pytest.approx(0.0801, abs=1e-4)  # log(100 / 22) / 3 = 0.5047
    count = ringing.visible_ripples(ringing="100 um", visible="10 um", damping=damping)
    assert count.magnitude == 5


def test_a_quarter_in_half_a_cycle_is_a_sixteenth_in_a_whole_one() -> None:
    half = resonance.damping_from_decrement(amplitude_ratio=4, cycles=0.5)
    whole = resonance.damping_from_decrement(amplitude_ratio=16, cycles=1)
    assert half.magnitude == pytest.approx(whole.magnitude)
    # 2.7726 / sqrt(39.478 + 7.687) = 2.7726 / 6.8677 = 0.4037
    assert whole.magnitude == pytest.approx(0.4037, abs=1e-4)


def test_the_rotor_does_not_count_where_the_shaft_is_held() -> None:
    # 66.6 N/mm on 0.6 kg: 53.0 Hz; with the rotors' 0.4 kg put to it, 41.1 Hz: wrong
    right = resonance.held_carriage_frequency(stiffness="66.6 N/mm", mass="0.6 kg").magnitude
    assert right == pytest.approx(53.0, abs=0.05)
    told = resonance.held_carriage_frequency.where["m"]
    assert "not the rotor, which is held" in told[2]


def test_equal_ripples_mean_no_damping_that_could_be_told() -> None:
    with pytest.raises(ValueError, match="amplitudes more cycles apart"):
        resonance.damping_from_decrement(amplitude_ratio=1, cycles=3)
