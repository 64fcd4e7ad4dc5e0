"""Dose: conservation of energy, and what cancels."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.laser import beams, dose, modulation

POWER, SPEED, SPACING = st.floats(0.01, 100), st.floats(0.1, 1000), st.floats(0.01, 1)


@given(POWER, SPEED, SPACING, st.floats(10, 500), st.integers(1, 300))
def test_a_field_gets_power_times_time(
    power: float, speed: float, spacing: float, width: float, lines: int
) -> None:
    found = dose.areal_dose(
        power=Q(power, "W"), speed=Q(speed, "mm/s"), line_spacing=Q(spacing, "mm")
    ).magnitude
    energy = power * lines * width / speed
    assert found * width * lines * spacing == pytest.approx(energy, rel=1e-12)


@given(POWER, SPEED, SPACING)
def test_a_raster_is_line_energy_over_spacing(power: float, speed: float, spacing: float) -> None:
    line = dose.line_energy(power=Q(power, "W"), speed=Q(speed, "mm/s")).magnitude
    area = dose.areal_dose(
        power=Q(power, "W"), speed=Q(speed, "mm/s"), line_spacing=Q(spacing, "mm")
    ).magnitude
    assert area == pytest.approx(line / spacing, rel=1e-12)


def test_peak_dose_of_a_spot_that_passes() -> None:
    # Under the middle of the line: peak irradiance times dwell times sqrt(pi / 8), the integral
    # of exp(-2 x**2 / w**2) over 2 w, here summed over the passing spot.
    peak = beams.peak_irradiance(power="10 W", diameter="0.1 mm").magnitude
    t = np.linspace(-5e-3, 5e-3, 200_001)
    along = peak * np.exp(-2 * (100 * t / 0.05) ** 2)
    dwell = dose.dwell(diameter="0.1 mm", speed="100 mm/s").to("s").magnitude
    assert np.trapezoid(along, t) == pytest.approx(peak * dwell * np.sqrt(np.pi / 8), rel=1e-9)


def test_overlap_at_its_marks() -> None:
    found = dose.line_overlap(
        line_spacing=["0.08 mm", "0.04 mm", "0.16 mm"], diameter="80 um"
    ).magnitude
    np.testing.assert_allclose(found, [0, 0.5, -1], atol=1e-15)


def test_the_same_dose_in_every_unit() -> None:
    wanted = dose.areal_dose(power="25 mW", speed="1.875 m/min", line_spacing="0.8 mm")
    assert wanted.to("mJ/cm^2").magnitude == pytest.approx(100, rel=1e-12)


@given(st.floats(0.02, 6), st.floats(0.01, 1))
def test_ripple_is_the_sum_of_lines_one_by_one(ratio: float, d: float) -> None:
    w, spacing = d / 2, ratio * d / 2
    lines = spacing * np.arange(-int(8 * w / spacing) - 3, int(8 * w / spacing) + 4)
    height = [float(np.exp(-2 * ((y - lines) / w) ** 2).sum()) for y in (0.0, spacing / 2)]
    mean = w * np.sqrt(np.pi / 2) / spacing
    found = dose.ripple(diameter=Q(d, "mm"), line_spacing=Q(spacing, "mm")).magnitude
    assert found == pytest.approx((height[0] - height[1]) / mean, rel=1e-9, abs=1e-11)


def test_the_first_harmonic_is_near_up_to_a_whole_diameter() -> None:
    spacings = Q([0.05, 0.075, 0.1], "mm")
    whole = dose.ripple(diameter="0.1 mm", line_spacing=spacings).magnitude
    rule = dose.ripple_first_harmonic(diameter="0.1 mm", line_spacing=spacings).magnitude
    assert np.max(np.abs(whole - rule)) < 1e-4
    far = {"diameter": "0.1 mm", "line_spacing": "0.2 mm"}
    # Two diameters apart a point sees its own line alone, 4 sqrt(2 / pi) = 3.19; the rule: 2.9.
    assert dose.ripple(**far).magnitude == pytest.approx(4 * np.sqrt(2 / np.pi), rel=1e-3)
    assert dose.ripple_first_harmonic(**far).magnitude < 3


@given(st.floats(0.02, 0.3), st.floats(0.02, 0.3), st.floats(-180, 180))
def test_width_of_an_elliptical_spot_is_that_of_its_light_summed_along(
    dx: float, dy: float, degrees: float
) -> None:
    # Half the 1/e2 radius is the standard deviation; turned, variances add by squares.
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    normal = np.array([-s, c])
    variance = normal @ np.diag([(dx / 4) ** 2, (dy / 4) ** 2]) @ normal
    found = dose.diameter_across(
        diameter_x=Q(dx, "mm"), diameter_y=Q(dy, "mm"), direction=Q(degrees, "deg")
    ).magnitude
    assert found == pytest.approx(4 * np.sqrt(variance), rel=1e-9)


def test_an_elliptical_spot_draws_wide_faint_lines_and_narrow_strong_ones() -> None:
    across = dose.diameter_across(
        diameter_x="0.06 mm", diameter_y="0.12 mm", direction=Q([0.0, 90.0, 45.0], "deg")
    )
    # Along x its y width counts; at 45 deg sqrt((0.06^2 + 0.12^2) / 2) = 0.0948683.
    np.testing.assert_allclose(across.magnitude, [0.12, 0.06, 0.0948683], rtol=1e-6)
    peak = dose.peak_line_dose(power="4 W", speed="100 mm/s", diameter=across).magnitude
    np.testing.assert_allclose(peak * across.magnitude, peak[0] * 0.12, rtol=1e-12)
    assert peak[1] == pytest.approx(2 * peak[0], rel=1e-12)


@pytest.mark.parametrize("direction", [0.0, 17.0, 63.0, 90.0, 121.0, -40.0])
def test_width_along_the_travel_is_where_the_beam_has_fallen(direction: float) -> None:
    # Straight from the irradiance of an elliptical beam: half that width away from its middle,
    # along the travel, it is 1/e2 of the peak.
    spot = {"diameter_x": "0.07 mm", "diameter_y": "0.19 mm", "direction": Q(direction, "deg")}
    half = dose.diameter_with_travel(**spot).to("mm").magnitude / 2
    beam = beams.Beam(
        wavelength="450 nm", beam_quality=10, waist_diameter=("0.07 mm", "0.19 mm"), power="5 W"
    )
    x, y = half * np.cos(np.radians(direction)), half * np.sin(np.radians(direction))
    there = beams.irradiance(beam, Q([0.0, x], "mm"), Q([0.0, y], "mm")).magnitude
    assert there[1] / there[0] == pytest.approx(np.exp(-2), rel=1e-9)
    # Chord times projection is the product of the axes: the area of the ellipse is one.
    across = dose.diameter_across(**spot).to("mm").magnitude
    assert 2 * half * across == pytest.approx(0.07 * 0.19, rel=1e-12)


def test_pulses_that_just_touch_and_pulses_as_many_as_overlap() -> None:
    told = {"frequency": "1 kHz", "diameter": "0.1 mm"}
    found = modulation.pulse_overlap(speed=["100 mm/s", "200 mm/s", "10 mm/s"], **told).magnitude
    np.testing.assert_allclose(found, [0, -1, 0.9], atol=1e-12)
    count = modulation.pulses_per_spot(speed="10 mm/s", **told).magnitude
    assert found[2] == pytest.approx(1 - 1 / count, rel=1e-12)


def test_peak_dose_of_a_line_by_summing_its_profile() -> None:
    peak = dose.peak_line_dose(power="10 W", speed="100 mm/s", diameter="0.1 mm")
    y = np.linspace(-0.3, 0.3, 6001)
    across = dose.dose_beside_line(peak_dose=peak, offset=Q(y, "mm"), diameter="0.1 mm").magnitude
    assert np.trapezoid(across, y) == pytest.approx(0.1, rel=1e-9)  # 10 W / 100 mm/s


def test_mark_ends_where_the_dose_is_the_threshold() -> None:
    width = dose.marked_width(
        diameter="0.1 mm", peak_dose="1.6 J/mm^2", threshold_dose="0.4 J/mm^2"
    )
    edge = dose.dose_beside_line(peak_dose="1.6 J/mm^2", offset=width / 2, diameter="0.1 mm")
    assert edge.magnitude == pytest.approx(0.4, rel=1e-12)
    with pytest.raises(ValueRefused, match="below its threshold"):
        dose.marked_width(diameter="0.1 mm", peak_dose="0.3 J/mm^2", threshold_dose="0.4 J/mm^2")
