"""Motors get as warm as their windings say, and no formula hides what runs away."""

from __future__ import annotations

import numpy as np
import pytest

from mathlib import Q
from mathlib.errors import NotUnique, ValueRefused
from mathlib.motion import currents, heat


def test_both_phases_give_the_same_heat_at_every_step() -> None:
    # currents I_p sin and I_p cos: at any angle R (i_a² + i_b²) is 2 R (I_p / √2)²
    angle = np.linspace(0, np.pi, 7)
    peak, ohm = 1.5, 1.4
    here = ohm * ((peak * np.sin(angle)) ** 2 + (peak * np.cos(angle)) ** 2)
    rms = heat.rms_current(current_peak=Q(peak, "A"))
    found = heat.winding_power(current_rms=rms, resistance=Q(ohm, "ohm"))
    np.testing.assert_allclose(here, found.magnitude, rtol=1e-12)


@pytest.mark.parametrize(
    ("part", "printed"),
    [(1.5, 225), (1.25, 156), (0.85, 72), (0.75, 56), (0.5, 25), (0.38, 14)],
)
def test_heat_against_current_as_a_maker_prints_it(part: float, printed: float) -> None:
    # QSH4218 table 6.1, in whole percent, cut rather than rounded in places
    whole = heat.winding_power(current_rms="1 A", resistance="5 ohm")
    found = heat.winding_power(current_rms=Q(part, "A"), resistance="5 ohm")
    assert 100 * (found / whole).to("1").magnitude == pytest.approx(printed, abs=0.6)
    if part <= 1:
        held = heat.held_power(hold_share=part, power=whole)
        assert held.magnitude == pytest.approx(found.magnitude, rel=1e-12)


def test_the_rise_balances_heat_made_and_heat_carried_away() -> None:
    told = {"thermal_resistance": "5 K/W", "temperature_change": "15 delta_degC"}
    rise = heat.steady_rise(power="8 W", **told)
    # what the windings make when as warm as that, times the resistance, is the rise itself
    made = 8.0 * (1 + 0.00393 * (15 + rise.magnitude))
    assert rise.magnitude == pytest.approx(5.0 * made, rel=1e-12)


def test_hot_copper_costs_a_third_more_than_the_cold_nameplate_says() -> None:
    hot = heat.hot_resistance(resistance="1 ohm", temperature_change="80 delta_degC")
    assert hot.magnitude == pytest.approx(1.31, abs=0.005)


def test_a_winding_that_runs_away_is_told() -> None:
    limit = heat.runaway_current(thermal_resistance="6 K/W", resistance="5 ohm")
    for times, fine in ((0.99, True), (1.01, False)):
        power = heat.winding_power(current_rms=limit * times, resistance="5 ohm")
        told = {"thermal_resistance": "6 K/W", "temperature_change": "0 delta_degC"}
        if fine:
            assert heat.steady_rise(power=power, **told).magnitude > 1000
        else:
            with pytest.raises(ValueRefused, match="runs away: lower the current or cool"):
                heat.steady_rise(power=power, **told)


def test_thermal_resistance_gives_the_stated_rise_back() -> None:
    resists = heat.thermal_resistance(
        rated_rise=Q([50.0, 80.0], "delta_degC"), current_rms="1.68 A", resistance="1.65 ohm"
    )
    power = heat.winding_power(current_rms="1.68 A", resistance="1.65 ohm")
    back = heat.steady_rise(
        thermal_resistance=resists, power=power, temperature_change="0 delta_degC"
    )
    np.testing.assert_allclose(back.magnitude, [50, 80], rtol=1e-9)


def test_warming_has_two_thirds_at_its_time_constant_and_the_rest_later() -> None:
    told = {"final_rise": "80 delta_degC", "time_constant": "22 min"}
    parts = [heat.warming(time=t, **told).magnitude / 80 for t in ("1 s", "22 min", "66 min")]
    assert parts == pytest.approx([1 / 1320, 0.632, 0.950], abs=1e-3)


@pytest.mark.parametrize("name", ["PETG", "petg", "polyethylene terephthalate glycol"])
def test_a_plastic_is_found_by_its_name_and_its_short_name(name: str) -> None:
    found = heat.softening_of(name)
    assert found is not None
    assert 60 <= found.low.magnitude <= found.typical.magnitude <= found.high.magnitude <= 85


def test_a_metal_is_no_plastic(monkeypatch: pytest.MonkeyPatch) -> None:
    assert heat.softening_of("aluminium") is None
    assert heat.softening_of("") is None
    twice = {"a (X)": None, "b (X)": None}
    monkeypatch.setattr(heat.tables, "read", lambda _: type("T", (), {"rows": twice}))
    with pytest.raises(NotUnique, match=r"several rows of plastics\.csv"):
        heat.softening_of("x")


def test_one_setting_three_ways_and_each_says_rms_or_peak() -> None:
    # A4988: 0.8 V over 8 x 0.1 ohm is 1 A peak, 0.707 A rms
    peak = currents.current_from_reference(
        reference_voltage="0.8 V", sense_gain=8, sense_resistance="0.1 ohm"
    )
    assert peak.magnitude == pytest.approx(1.0)
    assert heat.rms_current(current_peak=peak).magnitude == pytest.approx(0.7071, abs=1e-4)
    # the sheet that prints I = V / 2.2: 1.1 V are 0.5 A
    half = currents.current_from_reference(
        reference_voltage="1.1 V", sense_gain=1, sense_resistance="2.2 ohm"
    )
    assert half.magnitude == pytest.approx(0.5)
    # TMC2209, the whole scale at 0.11 ohm: 0.325 / 0.13 / 1.41421 = 1.7678 A rms
    full = currents.current_from_scale(
        current_scale=31, full_scale_voltage="0.325 V", sense_resistance="0.11 ohm"
    )
    assert full.magnitude == pytest.approx(1.7678, abs=1e-4)
    for formula in (currents.current_from_reference, currents.current_from_set_resistor):
        assert formula.output.word == "current_peak"
    assert currents.current_from_scale.output.word == "current_rms"
    with pytest.raises(ValueRefused, match="the scale has 32 places"):
        currents.current_from_scale(
            current_scale=32, full_scale_voltage="0.325 V", sense_resistance="0.11 ohm"
        )


def test_a_set_resistor_alone_gives_the_whole_scale() -> None:
    found = currents.current_from_set_resistor(
        current_constant="30000 A*ohm", set_resistance="30 kohm"
    )
    assert found.magnitude == pytest.approx(1.0)  # 30 kA ohm over 30 kohm
