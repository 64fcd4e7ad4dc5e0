"""Dose: conservation of energy, and what cancels."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q
from mathlib.laser import beams, dose

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
