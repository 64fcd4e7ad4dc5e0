"""Switched light against sums over pulses, and against the waveform itself."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import erf

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.laser import dose, edges, modulation


def pulses(place: float, period: float, duty: float, d: float) -> float:
    """Dose over the mean at a place, from many pulses drawn out one by one."""
    middle = period * np.arange(-400, 401)
    root = math.sqrt(8) / d
    half = duty * period / 2
    stroke = erf(root * (place - middle + half)) - erf(root * (place - middle - half))
    return float(np.sum(stroke) / (2 * duty))


@given(st.floats(0.05, 8), st.floats(0.02, 0.98))
def test_ripple_and_valley_along_a_line_of_pulses(period: float, duty: float) -> None:
    told = {
        "speed": Q(period, "mm/s"), "frequency": "1 Hz", "duty": duty, "diameter": "1 mm"
    }  # fmt: skip
    peak, valley = pulses(0, period, duty, 1), pulses(period / 2, period, duty, 1)
    assert modulation.ripple_along(**told).magnitude == pytest.approx(peak - valley, abs=2e-10)
    assert modulation.valley_along(**told).magnitude == pytest.approx(valley, abs=2e-10)


def test_very_short_pulses_ripple_as_lines_of_a_raster() -> None:
    for period in (0.6, 1.0, 2.5):
        short = modulation.ripple_along(
            speed=Q(period, "mm/s"), frequency="1 Hz", duty=1e-4, diameter="1 mm"
        )
        raster = dose.ripple(diameter="1 mm", line_spacing=Q(period, "mm"))
        assert short.magnitude == pytest.approx(raster.magnitude, rel=1e-6)


def test_light_that_is_always_on_is_even() -> None:
    told = {"speed": "50 mm/s", "frequency": "20 Hz", "duty": 1.0, "diameter": "0.1 mm"}
    assert modulation.ripple_along(**told).magnitude == pytest.approx(0, abs=1e-12)
    assert modulation.valley_along(**told).magnitude == pytest.approx(1, abs=1e-12)
    with pytest.raises(ValueRefused, match="duty is a part of the period"):
        modulation.ripple_along(**told | {"duty": 35})


def lag(on: float, tau: float, period: float, n: int = 200_001) -> tuple[np.ndarray, np.ndarray]:
    """One lone pulse through a first-order lag, step by exact step."""
    t = np.linspace(0, period, n)
    rising = 1 - np.exp(-np.minimum(t, on) / tau)
    return t, np.where(t < on, rising, rising * np.exp(-(t - on) / tau))


@pytest.mark.parametrize(("on", "level"), [(100.0, 0.5), (60.0, 0.3), (200.0, 0.8)])
def test_a_short_pulse_is_late_and_shorter(on: float, level: float) -> None:
    t, light = lag(on, 50.0, 1000.0)
    above = t[light > level]
    told = {"time_constant": "50 us", "level": level}
    found = edges.pulse_above_level(pulse=Q(on, "us"), **told).magnitude
    assert found == pytest.approx(above[-1] - above[0], abs=0.02)
    shift = edges.edge_shift(speed="300 mm/s", **told).to("mm").magnitude
    assert shift == pytest.approx(300 * above[0] * 1e-6, abs=3e-6)
    # A first-order lag loses no energy: the area of the pulse is its length.
    assert np.trapezoid(light, t) == pytest.approx(on, rel=1e-4)


def test_a_pulse_too_short_leaves_no_mark() -> None:
    # Half power is reached after 50 us * log 2 = 34.7 us.
    with pytest.raises(ValueRefused, match="over before the light reaches the level"):
        edges.pulse_above_level(pulse="34 us", time_constant="50 us", level=0.5)
    long = edges.pulse_above_level(pulse="10 ms", time_constant="50 us", level=0.5)
    assert long.to("us").magnitude == pytest.approx(
        10_000, rel=1e-9
    )  # at half power nothing is lost


def climbing(duty: float, ramp: float) -> float:
    """Average of a driver that climbs and falls at a fixed rate, after many periods."""
    level, total, steps = 0.0, 0.0, 2000
    for _ in range(40):
        total = 0.0
        for k in range(steps):
            rate = 1 if k < duty * steps else -1
            level = min(1.0, max(0.0, level + rate / (ramp * steps)))
            total += level / steps
    return total


@pytest.mark.parametrize("duty", [0.05, 0.1, 0.3, 0.45, 0.6, 0.85, 0.95])
def test_duty_that_arrives_from_a_driver_that_climbs(duty: float) -> None:
    found = edges.delivered_duty(duty=duty, frequency="20 kHz", full_rise_time="20 us").magnitude
    assert found == pytest.approx(climbing(duty, 0.4), abs=2e-3)


def test_duty_that_arrives_at_its_ends() -> None:
    found = edges.delivered_duty(
        duty=[0, 0.4, 0.6, 1], frequency="20 kHz", full_rise_time="20 us"
    ).magnitude
    np.testing.assert_allclose(found, [0, 0.4, 0.6, 1], atol=1e-12)
    sharp = edges.delivered_duty(duty=0.01, frequency="20 kHz", full_rise_time="0 us")
    assert sharp.magnitude == pytest.approx(0.01)
    with pytest.raises(ValueRefused, match="from 0 to 1"):
        edges.delivered_duty(duty=1.1, frequency="20 kHz", full_rise_time="20 us")


def test_rise_time_of_a_lag_is_from_ten_to_ninety_percent() -> None:
    tau = edges.time_constant(rise_time="100 us").magnitude
    times = [-tau * math.log(1 - part) for part in (0.1, 0.9)]
    assert times[1] - times[0] == pytest.approx(100, rel=1e-12)


def test_current_control_begins_late_and_duty_does_not() -> None:
    # Threshold at a tenth of full current: half the current is 4/9 of the light, not half.
    found = modulation.light_of_current(setting=[0.1, 0.5, 1], threshold_share=0.1).magnitude
    np.testing.assert_allclose(found, [0, 4 / 9, 1], rtol=1e-12, atol=1e-15)
    with pytest.raises(ValueRefused, match="below its threshold a diode gives no beam"):
        modulation.light_of_current(setting=0.05, threshold_share=0.1)
    duty = modulation.average_power(duty=0.05, full_power="5 W")
    assert duty.magnitude == pytest.approx(0.25)
