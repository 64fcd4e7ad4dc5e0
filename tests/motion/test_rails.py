"""Rails and belts told by measurements."""

from __future__ import annotations

import numpy as np
import pytest

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.motion import belts, rails

PLACE = np.arange(0.0, 320.0, 8.0)


def pattern(drag):
    noise = np.random.default_rng(5).normal(0.0, 0.05, PLACE.size)
    return rails.drag_pattern(place=Q(PLACE, "mm"), drag=Q(drag + noise, "N"), turn="40 mm")


class TestDrag:
    def test_an_even_drag(self):
        found = pattern(np.full(PLACE.size, 4.0))
        assert found.likely.startswith("it is even")
        assert found.mean.magnitude == pytest.approx(4.0, abs=0.05)

    @pytest.mark.parametrize(("slope", "told"), [(0.01, "it rises"), (-0.01, "it falls")])
    def test_a_rising_or_falling_drag_is_of_the_rails(self, slope, told):
        found = pattern(5.0 + slope * PLACE)
        assert found.likely.startswith(told)
        # 0.01 N/mm over 312 mm
        assert abs(found.rise.magnitude) == pytest.approx(3.12, abs=0.1)

    def test_a_drag_that_comes_with_the_pulley(self):
        found = pattern(4.0 + 0.6 * np.sin(2 * np.pi * PLACE / 40.0 + 0.7))
        assert "with the pulley" in found.likely
        assert found.wave.magnitude == pytest.approx(0.6, abs=0.04)
        assert found.scatter.magnitude == pytest.approx(0.05, abs=0.02)

    def test_too_few_places_are_refused(self):
        with pytest.raises(ValueRefused, match="at least eight places"):
            rails.drag_pattern(place=Q([0.0, 10.0], "mm"), drag=Q([3.0, 3.0], "N"), turn="40 mm")


class TestPitch:
    def test_fifty_spaces_tell_a_fiftieth_of_a_millimetre(self):
        found = belts.told_pitch(length="101.63 mm", spaces=50, reading="0.1 mm")
        assert found.pitch.to("mm").magnitude == pytest.approx(2.0326)
        assert found.fits == ("MXL, 0.080 in",)

    def test_ten_spaces_do_not(self):
        # 20.2 mm to 0.2 mm: 2.02 with a standard uncertainty of 0.02 fits two
        found = belts.told_pitch(length="20.2 mm", spaces=10, reading="0.2 mm")
        assert set(found.fits) == {"2 mm", "MXL, 0.080 in"}

    def test_what_is_no_standard_pitch_fits_none(self):
        assert belts.told_pitch(length="222 mm", spaces=100, reading="0.1 mm").fits == ()
