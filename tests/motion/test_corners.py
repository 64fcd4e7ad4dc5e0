"""Corners against plane geometry and differences of vectors."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.motion import moves


class TestCorners:
    @given(angle=st.floats(5, 175), deviation=st.floats(0.001, 1))
    def test_the_fillet_touches_both_legs_and_cuts_by_the_deviation(self, angle, deviation):
        radius = moves.fillet_radius(
            deviation=Q(deviation, "mm"), interior_angle=Q(angle, "deg")
        ).magnitude
        half = math.radians(angle) / 2
        # corner at 0, legs at +-half about the x axis, centre on it
        centre = radius + deviation
        assert centre * math.sin(half) == pytest.approx(radius, rel=1e-9)

    def test_the_jump_is_the_difference_of_two_vectors(self):
        interior = 70.0
        turn = math.radians(180 - interior)
        before, after = np.array([20.0, 0.0]), 20 * np.array([math.cos(turn), math.sin(turn)])
        jump = moves.velocity_step(speed="20 mm/s", interior_angle=Q(interior, "deg"))
        assert jump.to("mm/s").magnitude == pytest.approx(np.linalg.norm(after - before))

    def test_a_straight_line_has_no_corner(self):
        with pytest.raises(ValueRefused, match="straight"):
            moves.fillet_radius(deviation="0.01 mm", interior_angle="180 deg")
