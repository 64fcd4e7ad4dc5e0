"""Ducts, hoods and nozzles against printed numbers and other methods."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.safety import ducts, nozzles


def test_four_thousand_feet_a_minute_stand_for_an_inch_of_water() -> None:
    # printed in handbooks of ventilation: VP = (V / 4005)**2 in inches of water, standard air of
    # 0.075 lb/ft3; rounded, and with water of 68 degF, to within 2 parts in a thousand
    found = ducts.velocity_pressure(
        air_density=Q(0.075 * 16.0185, "kg/m^3"), duct_speed="4005 ft/min"
    )
    assert found.to("inH2O").magnitude == pytest.approx(1.0, rel=2e-3)


@given(rough=st.floats(0.01, 2), wide=st.floats(50, 300), speed=st.floats(2, 30))
def test_friction_near_the_implicit_formula(rough: float, wide: float, speed: float) -> None:
    found = ducts.friction_factor(
        roughness=Q(rough, "mm"), duct_diameter=Q(wide, "mm"), duct_speed=Q(speed, "m/s")
    ).magnitude
    reynolds = speed * wide * 1e-3 / 15.1e-6

    def colebrook(f: float) -> float:
        return f**-0.5 + 2 * np.log10(rough / wide / 3.7 + 2.51 / (reynolds * f**0.5))

    # Haaland himself states 2 %
    assert found == pytest.approx(brentq(colebrook, 0.005, 0.2), rel=0.02)


def test_slow_air_is_refused() -> None:
    # 4000.5 and 3999.5 times 15.1e-6 m^2/s over 0.1 m
    just = {"roughness": "0.1 mm", "duct_diameter": "100 mm"}
    speed = Q(4000.5 * 15.1e-5, "m/s")
    assert ducts.friction_factor(**just, duct_speed=speed).magnitude > 0.03
    with pytest.raises(ValueRefused, match="turbulent"):
        ducts.friction_factor(**just, duct_speed=Q(3999.5 * 15.1e-5, "m/s"))
    with pytest.raises(ValueRefused, match="turbulent"):
        ducts.friction_factor(roughness="0.1 mm", duct_diameter="100 mm", duct_speed="0.5 m/s")


def test_four_sharp_bends_cost_more_than_nine_metres_of_duct() -> None:
    bend = ducts.loss_of("bend, 90 deg, sharp elbow").typical
    found = ducts.equivalent_length(
        loss_coefficient=4 * bend, duct_diameter="100 mm", friction_factor=0.02
    )
    assert found.to("m").magnitude == pytest.approx(24)  # 4 * 1.2 * 0.1 / 0.02


class TestFan:
    def test_printed_remnant_of_a_free_flow(self) -> None:
        # Printed: 9 m of duct with four bends leave 60 to 115 ft3/min of a fan's free flow. Small
        # hose blowers give some 250 ft3/min free and 150 Pa closed (estimate, for this check)
        wide, free = Q("100 mm"), Q("250 ft^3/min")
        speed = ducts.duct_speed(flow=free, duct_diameter=wide)
        hose = ducts.roughness_of("duct, flexible hose, stretched").typical
        friction = ducts.friction_factor(roughness=hose, duct_diameter=wide, duct_speed=speed)
        taken = ducts.duct_pressure(
            friction_factor=friction,
            duct_length="9 m",
            duct_diameter=wide,
            loss_coefficient=4 * 0.45 + 0.93 + 1,
            duct_speed=speed,
        )
        left = ducts.flow_left(free_flow=free, fan_strength=(Q("150 Pa") / taken).to("1"))
        assert 60 < left.to("ft^3/min").magnitude < 130

    @given(st.floats(1e-3, 1e3))
    def test_where_both_lines_meet(self, strength: float) -> None:
        part = ducts.flow_left(free_flow="100 m^3/h", fan_strength=strength).magnitude / 100
        assert strength * (1 - part) == pytest.approx(part**2, rel=1e-6, abs=1e-9)


class TestHood:
    def test_half_the_distance_needs_a_third(self) -> None:
        area = Q(np.pi * 0.05**2, "m^2")
        words = {"capture_speed": "0.5 m/s", "opening_area": area}
        far, near = (ducts.hood_flow(distance=d, **words) for d in ("150 mm", "75 mm"))
        # 10 * 0.0225 + 0.007854 = 0.232854; 10 * 0.005625 + 0.007854 = 0.064104
        assert (far / near).magnitude == pytest.approx(0.232854 / 0.064104, rel=1e-5)

    def test_a_flange_saves_a_quarter(self) -> None:
        words = {"capture_speed": "0.5 m/s", "opening_area": "0.02 m^2", "distance": "0.1 m"}
        saved = ducts.flanged_hood_flow(**words) / ducts.hood_flow(**words)
        assert saved.magnitude == pytest.approx(0.75)


class TestNozzle:
    def test_both_regimes_meet_at_the_speed_of_sound(self) -> None:
        critical = 101.325 * 1.2**3.5  # kPa
        below, above = (
            nozzles.nozzle_air(nozzle_diameter="1.5 mm", supply_pressure=Q(critical * f, "kPa"))
            for f in (1 - 1e-9, 1 + 1e-9)
        )
        assert below.magnitude == pytest.approx(above.magnitude, rel=1e-7)
        assert critical / 101.325 - 1 == pytest.approx(0.893, abs=1e-3)  # "about 0.9 bar gauge"

    def test_an_array_across_the_limit_equals_the_two_formulas(self) -> None:
        pressure = Q([1.2, 1.5, 1.9, 2.0, 4.0], "bar")
        found = nozzles.nozzle_air(nozzle_diameter="1.5 mm", supply_pressure=pressure)
        low = nozzles.unchoked_air(nozzle_diameter="1.5 mm", supply_pressure=pressure[:2])
        high = nozzles.choked_air(nozzle_diameter="1.5 mm", supply_pressure=pressure[3:])
        np.testing.assert_allclose(found[:2].magnitude, low.magnitude, rtol=1e-12)
        np.testing.assert_allclose(found[3:].magnitude, high.magnitude, rtol=1e-12)
        assert np.all(np.diff(found.magnitude) > 0)

    @pytest.mark.parametrize(("gas", "times"), [(1.4, 1.2**3.5), (1.67, 1.335 ** (1.67 / 0.67))])
    def test_each_formula_holds_on_its_side_of_the_speed_of_sound(self, gas, times) -> None:
        # ((g + 1) / 2)**(g / (g - 1)) times 100 kPa: 1.893 for air, 2.054 for gases of one atom
        told = {"nozzle_diameter": "1 mm", "room_pressure": "100 kPa", "heat_ratio": gas}
        below, above = (Q(100 * times * part, "kPa") for part in (1 - 1e-6, 1 + 1e-6))
        slow = nozzles.unchoked_air(**told, supply_pressure=below)
        fast = nozzles.choked_air(**told, supply_pressure=above)
        assert slow.magnitude == pytest.approx(fast.magnitude, rel=1e-4)
        with pytest.raises(ValueRefused, match="it is choked"):
            nozzles.unchoked_air(**told, supply_pressure=above)
        with pytest.raises(ValueRefused, match="it is not choked"):
            nozzles.choked_air(**told, supply_pressure=below)

    def test_without_a_difference_of_pressure_no_air_flows(self) -> None:
        same = {"nozzle_diameter": "1 mm", "supply_pressure": "100 kPa", "room_pressure": "100 kPa"}
        with pytest.raises(ValueRefused, match="air flows outwards"):
            nozzles.unchoked_air(**same)
        with pytest.raises(ValueRefused, match="absolute"):
            nozzles.nozzle_air(**same)
        with pytest.raises(ValueRefused, match="absolute"):
            nozzles.nozzle_air(nozzle_diameter="1 mm", supply_pressure=["3 bar", "1 bar"])

    def test_a_little_pressure_follows_bernoulli(self) -> None:
        # dp = rho v**2 / 2 with 1.2047 kg/m3 at 293 K: 100 Pa is 12.885 m/s
        found = nozzles.unchoked_air(
            nozzle_diameter="4 mm", supply_pressure=Q(101325 + 100, "Pa"), room_pressure="101325 Pa"
        )
        by_hand = np.sqrt(200 / 1.2047) * np.pi * 2e-3**2 * 60e3
        assert found.to("L/min").magnitude == pytest.approx(by_hand, rel=1e-3)

    @pytest.mark.parametrize("pressure", ["1.3 bar", "3 bar"])
    def test_warm_air_is_thinner_and_less_of_it_flows(self, pressure: str) -> None:
        # the mass that flows falls with the root of the temperature before the nozzle, and free
        # air is counted at the room's: sqrt(293/333) = 0.93802
        told = {"nozzle_diameter": "1.5 mm", "supply_pressure": pressure}
        cold = nozzles.nozzle_air(**told)
        warm = nozzles.nozzle_air(**told, air_temperature="333 K")
        assert (warm / cold).magnitude == pytest.approx(0.93802, abs=1e-5)
        # in a room of 303 K the same air, not warmed, passes at the speed of sound there
        both = nozzles.nozzle_air(**told, air_temperature="303 K", room_temperature="303 K")
        assert (both / cold).magnitude == pytest.approx((303 / 293) ** 0.5, rel=1e-9)

    def test_mass_through_a_choked_nozzle(self) -> None:
        # textbooks: m = 0.040418 A p / sqrt(T) for air, in kg/s, m2, Pa and K; 1.2047 kg/m3 in
        # the room: 0.040418 * 3.14159e-6 * 3.5e5 / sqrt(320) = 2.4843e-3 kg/s
        found = nozzles.choked_air(
            nozzle_diameter="2 mm", supply_pressure="3.5 bar", air_temperature="320 K"
        )
        by_hand = 0.040418 * np.pi * 1e-6 * 3.5e5 / 320**0.5 / 1.2047 * 60e3
        assert found.to("L/min").magnitude == pytest.approx(by_hand, rel=2e-4)

    def test_a_gauge_reading_is_noticed(self) -> None:
        with pytest.raises(ValueRefused, match="absolute"):
            nozzles.nozzle_air(nozzle_diameter="1.5 mm", supply_pressure="1 bar")


class TestTables:
    def test_speeds(self) -> None:
        assert ducts.air_speed("duct, smoke").low == Q("10 m/s")
        assert ducts.air_speed("openings of an enclosure").low == Q("0.5 m/s")
        assert ducts.air_speed("capture, released actively").high == Q("2.5 m/s")

    def test_a_near_name_is_suggested(self) -> None:
        with pytest.raises(ValueRefused, match="Did you mean 'duct, smoke'"):
            ducts.air_speed("duct smoke")
        with pytest.raises(ValueRefused, match="bend, 90 deg, sharp elbow"):
            ducts.loss_of("duct, smoke")
