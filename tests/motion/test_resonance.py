"""Natural frequencies, against eigenvalues and against a swing that is timed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import eigh

from mathlib import Q
from mathlib.motion import resonance

SIZES = st.floats(5, 500)
MASSES = st.floats(0.1, 5)


@given(SIZES, SIZES, MASSES, MASSES)
def test_crossed_belts_against_general_eigenvalues(a: float, b: float, x: float, y: float) -> None:
    matrix = 1e3 * np.array([[a + b, a - b], [a - b, a + b]])
    by_scipy = np.sqrt(eigh(matrix, np.diag([x, y]), eigvals_only=True)) / (2 * np.pi)
    both = resonance.two_axis_frequency(
        stiffness=Q(matrix / 1e3, "N/mm"), mass_x=Q(x, "kg"), mass_y=Q(y, "kg")
    ).magnitude
    np.testing.assert_allclose(both, by_scipy, rtol=1e-6)


def test_equal_belts_part_into_two_plain_axes() -> None:
    both = resonance.two_axis_frequency(
        stiffness=Q([[80.0, 0.0], [0.0, 80.0]], "N/mm"), mass_x="0.4 kg", mass_y="1.2 kg"
    ).magnitude
    apart = resonance.held_carriage_frequency(stiffness="80 N/mm", mass=["1.2 kg", "0.4 kg"])
    np.testing.assert_allclose(both, apart.magnitude, rtol=1e-12)


def test_modes_broadcast_over_places() -> None:
    many = np.broadcast_to([[90.0, 10.0], [10.0, 90.0]], (3, 4, 2, 2))
    found = resonance.two_axis_frequency(
        stiffness=Q(many, "N/mm"), mass_x="0.4 kg", mass_y=Q(np.full(4, 1.2), "kg")
    ).magnitude
    assert found.shape == (3, 4, 2)
    # K / m: 225000 and 75000 1/s^2 on the diagonal, 1e4**2 / 0.48 = 2.08333e8 off it; the roots
    # 73623.8 and 226376.2 are 43.1846 and 75.7244 Hz.
    np.testing.assert_allclose(found[2, 3], [43.1846, 75.7244], rtol=2e-6)


@given(SIZES, SIZES)
def test_springs_in_a_row_are_softer_than_either(one: float, other: float) -> None:
    found = resonance.series_stiffness(
        stiffness_1=Q(one, "N/mm"), stiffness_2=Q(other, "N/mm")
    ).magnitude
    assert 0 < found < min(one, other)
    assert 1 / found == pytest.approx(1 / one + 1 / other, rel=1e-12)


def test_a_stiff_spring_in_a_row_does_not_show() -> None:
    found = resonance.series_stiffness(stiffness_1="66.6 N/mm", stiffness_2="1e9 N/mm").magnitude
    assert found == pytest.approx(66.6, rel=1e-7)
