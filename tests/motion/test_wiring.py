"""A wire is as thick as the largest of drop, ampacity and fuse asks; no limit is passed over."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused
from mathlib.motion import signals, wiring
from mathlib.motion.conductors import ambient_factor


def test_gauges_as_wire_tables_print_them() -> None:
    printed = {18: 0.823, 20: 0.518, 22: 0.326, 24: 0.205, 26: 0.129, 28: 0.0810, 0: 53.5}
    for gauge, area in printed.items():  # mm², ASTM B258
        assert wiring.awg(gauge=gauge).magnitude == pytest.approx(area, rel=3e-3)
    assert wiring.awg.solve("gauge", area="1.0 mm^2").magnitude == pytest.approx(17.2, abs=0.05)


def test_a_short_lead_with_much_current_is_not_sized_by_its_drop() -> None:
    # By drop alone 2 x 0.2 m x 8 A x 17.24 ohm mm²/km / 0.24 V = 0.23 mm², 35 A/mm²
    told = {"length": "0.2 m", "current": "8 A", "supply_voltage": "12 V", "drop": "2 %"}
    found = wiring.wire_area(**told)
    assert found.reason == "ampacity"
    assert found.by_drop.magnitude <= 0.34
    assert found.ampacity.magnitude >= 8
    # ... and in a chain with five others at 40 °C: 8 / 0.57 = 14.04 A, more than 1.5 mm² has
    chained = wiring.wire_area(ambient="40 degC", bundled=6, **told)
    assert (chained.area.magnitude, chained.reason) == (2.5, "ampacity")


def test_the_fuse_protects_the_wire_and_not_the_load() -> None:
    told = {"length": "0.3 m", "current": "1 A", "supply_voltage": "24 V", "drop": "5 %"}
    assert wiring.wire_area(**told).area.magnitude == pytest.approx(0.14)
    fused = wiring.wire_area(fuse="10 A", **told)
    # at 30 °C: 8.5 x 1.1547 = 9.8 A on 0.75 mm², 10.1 x 1.1547 = 11.7 A on 1 mm²
    assert (fused.area.magnitude, fused.reason) == (1.0, "fuse")
    assert fused.ampacity.magnitude == pytest.approx(11.66, abs=0.01)


def test_the_drop_counts_the_wire_as_warm_as_it_is() -> None:
    found = wiring.wire_area(length="1.5 m", current="4 A", supply_voltage="12 V", drop="2 %")
    # 1 mm² carries 11.66 A at 30 °C: 30 + 40 (4 / 11.66)² = 34.7 °C, copper 1.0578 times
    assert found.temperature.magnitude == pytest.approx(34.7, abs=0.05)
    cold = 2 * 1.5 * 4 * 0.017241
    assert found.voltage_drop.magnitude == pytest.approx(cold * 1.0578, rel=1e-3)
    assert found.reason == "voltage drop"
    assert found.by_fuse.magnitude == 0


@given(
    length=st.floats(0.05, 5),
    current=st.floats(0.05, 9),
    fuse=st.one_of(st.none(), st.floats(0.1, 9)),
    bundled=st.integers(1, 9),
    ambient=st.floats(-10, 55),
)
def test_every_wire_that_is_given_meets_all_three(length, current, fuse, bundled, ambient) -> None:
    told = {"bundled": bundled, "ambient": Q(ambient, "degC")}
    found = wiring.wire_area(
        length=Q(length, "m"), current=Q(current, "A"), supply_voltage="24 V", drop="5 %",
        fuse=None if fuse is None else Q(fuse, "A"), **told,
    )  # fmt: skip
    carries = wiring.ampacity(area=found.area, **told).magnitude
    assert carries == pytest.approx(found.ampacity.magnitude, rel=1e-12)
    assert carries >= max(current, fuse or 0) * (1 - 1e-12)
    assert found.voltage_drop.magnitude <= 0.05 * 24 * (1 + 1e-12)
    assert found.temperature.magnitude <= 70 + 1e-9
    asked = [found.by_drop, found.by_ampacity, found.by_fuse]
    assert max(a.magnitude for a in asked) == found.area.magnitude
    assert found.reason


def test_arrays_broadcast_and_equal_single_calls() -> None:
    lengths, loads = np.array([[0.2], [3.0]]), np.array([1.0, 4.0, 8.0])
    told = {"supply_voltage": "12 V", "drop": "2 %", "fuse": "10 A"}
    many = wiring.wire_area(length=Q(lengths, "m"), current=Q(loads, "A"), **told)
    assert many.area.magnitude.shape == many.reason.shape == (2, 3)
    for row, column in np.ndindex(2, 3):
        one = wiring.wire_area(
            length=Q(lengths[row, 0], "m"), current=Q(loads[column], "A"), **told
        )
        assert one.area.magnitude == many.area.magnitude[row, column]
        assert one.reason == many.reason[row, column]


def test_factors_for_air_as_the_standard_prints_them() -> None:
    printed = {30: 1.15, 35: 1.08, 40: 1.00, 45: 0.91, 50: 0.82, 55: 0.71, 60: 0.58}
    for degrees, factor in printed.items():  # EN 60204-1 table D.1, from memory; two digits
        found = ambient_factor(ambient=Q(degrees, "degC")).magnitude
        assert found == pytest.approx(factor, abs=0.006)


def test_between_rows_the_careful_one_counts() -> None:
    told = {"ambient": "40 degC"}
    one = wiring.ampacity(area="1 mm^2", **told).magnitude
    assert wiring.ampacity(area="1.4 mm^2", **told).magnitude == one
    twelve, ten = (wiring.ampacity(area="1 mm^2", bundled=n, **told).magnitude for n in (12, 10))
    assert twelve == ten == pytest.approx(0.45 * one)


@pytest.mark.parametrize(
    ("change", "error", "told"),
    [
        ({"length": "50 m", "current": "10 A"}, ValueRefused, "the voltage drop asks for more"),
        ({"current": "60 A"}, ValueRefused, "asks for more than the largest wire"),
        ({"fuse": "60 A"}, ValueRefused, "the fuse asks for more than the largest wire"),
        ({"ambient": "70 degC"}, ValueRefused, "PVC has no current left"),
        ({"bundled": 21}, ValueRefused, "bundled counts this circuit and those beside it"),
        ({"drop": "0.24 V"}, UnitError, "drop needs"),
        ({"length": 1.5, "current": 4}, UnitError, 'length needs(.|\n)*Write "4 A"'),
    ],
)
def test_refusals_say_what_to_do(change, error, told) -> None:
    right = {"length": "1 m", "current": "2 A", "supply_voltage": "12 V", "drop": "3 %"}
    with pytest.raises(error, match=told):
        wiring.wire_area(**right | change)


def test_a_wire_thinner_than_the_table_is_for_signals() -> None:
    with pytest.raises(ValueRefused, match="for signals only"):
        wiring.ampacity(area="0.08 mm^2")


def test_a_fuse_lasts_and_protects_or_none_is_named() -> None:
    # 2.5 A for long over 80 % is 3.125 A: the next step is 3.15 A
    assert wiring.fuse_for(current="2.5 A", ampacity="4.3 A").magnitude == 3.15
    many = wiring.fuse_for(current=Q([0.1, 4.0], "A"), ampacity="10 A").magnitude
    np.testing.assert_array_equal(many, [0.5, 5.0])
    for most in ("3.1 A", "2 A"):
        with pytest.raises(ValueRefused, match="no fuse both lasts"):
            wiring.fuse_for(current="2.5 A", ampacity=most)


def test_three_volts_into_five_volt_inputs() -> None:
    margins = {
        kind: signals.level_margin(
            output_voltage="3.3 V", high_threshold=signals.input_levels(kind=kind).high
        ).magnitude
        for kind in signals.KINDS
    }
    assert margins["CMOS"] == pytest.approx(-0.2)  # 3.5 V are needed
    assert margins["TTL"] == pytest.approx(1.3)
    with pytest.raises(ValueRefused, match="kind is one of CMOS, TTL; got 'LVDS'"):
        signals.input_levels(kind="LVDS")


def test_a_pull_down_holds_against_leakage_and_a_filter_against_chopping() -> None:
    # 10 uA through 10 kohm leaves 0.1 V, far below 0.8 V; through 100 kohm it would be 1 V
    most = signals.pull_resistance(low_threshold="0.8 V", leakage="10 uA")
    assert Q("10 kohm") < most < Q("100 kohm")
    tau = signals.filter_time(filter_resistance="10 kohm", capacitance="0.1 uF")
    left = signals.noise_left(frequency="30 kHz", filter_time=tau).magnitude
    assert left == pytest.approx(1 / (2 * np.pi * 30), rel=1e-4)  # far above its corner: 1 / w tau
    delay = signals.filter_delay(filter_time=tau, threshold_share="63.212 %")
    assert delay.to("ms").magnitude == pytest.approx(1.0, rel=1e-4)


def test_a_long_cable_and_a_weak_pull_up_round_off_step_pulses() -> None:
    rise = signals.rise_time(
        source_resistance="4.7 kohm", cable_capacitance="100 pF/m", length="3 m"
    )
    assert rise.to("us").magnitude == pytest.approx(3.1, abs=0.01)  # 2.2 x 4700 x 300 pF
