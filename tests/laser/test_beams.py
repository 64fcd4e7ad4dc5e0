"""Beams: limits, other routes, and what the diameters mean."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.laser import beams

SPOT: dict[str, Any] = {"waist_diameter": "0.1 mm", "rayleigh_length": "1.2 mm"}


def test_a_beam_at_its_waist_at_one_rayleigh_length_and_far_away() -> None:
    found = beams.diameter_at(distance=Q([0, 1.2, -1.2, 1200], "mm"), **SPOT).magnitude
    np.testing.assert_allclose(found[:3], [0.1, 0.1 * math.sqrt(2), 0.1 * math.sqrt(2)], rtol=1e-13)
    # Far away the beam is a cone: 1000 Rayleigh lengths out it is 1000 waists wide.
    assert found[3] == pytest.approx(100, rel=1e-6)


@given(st.floats(0.01, 5), st.floats(300, 11000), st.floats(1, 30))
def test_waist_times_divergence_is_the_beam_quality(waist: float, length: float, m2: float) -> None:
    rayleigh = beams.rayleigh_length(
        waist_diameter=Q(waist, "mm"), wavelength=Q(length, "nm"), beam_quality=m2
    )
    far = beams.diameter_at(
        waist_diameter=Q(waist, "mm"), distance=1e6 * rayleigh, rayleigh_length=rayleigh
    )
    divergence = far.magnitude / (1e6 * rayleigh.magnitude)
    # ISO 11146: waist diameter times full divergence is 4 M2 lambda / pi.
    product = 4 * m2 * length * 1e-6 / math.pi
    assert waist * divergence == pytest.approx(product, rel=1e-9)


def test_a_lens_makes_the_waist_that_spreads_to_the_beam_at_the_lens() -> None:
    spot = beams.focused_diameter(
        beam_quality=10, wavelength="450 nm", focal_length="20 mm", beam_diameter="4 mm"
    )
    rayleigh = beams.rayleigh_length(waist_diameter=spot, wavelength="450 nm", beam_quality=10)
    back = beams.diameter_at(waist_diameter=spot, distance="20 mm", rayleigh_length=rayleigh)
    # The far field gives 4 mm; the waist itself adds half its square, 2.6e-5 of it.
    assert back.magnitude == pytest.approx(4, rel=3e-5)


@pytest.mark.parametrize("growth", [1.001, 1.1, 2.0, 10.0])
def test_defocus_for_growth_is_where_the_beam_has_grown(growth: float) -> None:
    half = beams.defocus_for_growth(rayleigh_length="1.2 mm", growth=growth)
    grown = beams.diameter_at(distance=half, **SPOT)
    assert grown.magnitude == pytest.approx(0.1 * growth, rel=1e-12)


def test_no_growth_is_no_distance_and_less_is_refused() -> None:
    assert beams.defocus_for_growth(rayleigh_length="1.2 mm", growth=1).magnitude == 0
    with pytest.raises(ValueRefused, match="the spot is smallest at the focus"):
        beams.defocus_for_growth(rayleigh_length="1.2 mm", growth=0.9)


def test_the_peak_irradiance_integrates_to_the_power() -> None:
    peak = beams.peak_irradiance(power="10 W", diameter="0.08 mm").magnitude
    radius = 0.04

    def ring(r: float) -> float:
        return 2 * math.pi * r * peak * math.exp(-2 * r**2 / radius**2)

    whole, _ = quad(ring, 0, 10 * radius)
    inside, _ = quad(ring, 0, radius)
    assert whole == pytest.approx(10, rel=1e-9)
    assert inside / whole == pytest.approx(1 - math.exp(-2), rel=1e-9)  # 1/e2 holds 86.5 %


def test_every_diameter_says_that_it_is_1_over_e2() -> None:
    for formula in (beams.focused_diameter, beams.rayleigh_length, beams.diameter_at,
                    beams.peak_irradiance):  # fmt: skip
        for word in (formula.output, *formula.inputs):
            if word.word.endswith("diameter"):
                assert "1/e²" in word.about, f"{formula.title}: {word.word}"
