"""Rasters against sums over their lines, and links against counted pixels."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q
from mathlib.motion import moves


def seconds(value) -> float:
    return float(value.to("s").magnitude)


class TestRaster:
    def test_time_is_lines_times_a_line(self):
        # 20 / 0.08 = 250 gaps, 251 lines; 80 / 100 + 2 * 100 / 2000 = 0.9 s each
        found = moves.raster_time(
            width="80 mm", height="20 mm", line_spacing="0.08 mm", speed="100 mm/s",
            acceleration="2000 mm/s^2",
        )  # fmt: skip
        assert seconds(found) == pytest.approx(251 * 0.9)

    @pytest.mark.parametrize(("height", "lines"), [("0.3 mm", 4), ("0.39 mm", 4), ("0.05 mm", 1)])
    def test_only_whole_lines_count(self, height, lines):
        found = moves.raster_time(
            width="10 mm", height=height, line_spacing="0.1 mm", speed="10 mm/s",
            acceleration="1000 mm/s^2",
        )  # fmt: skip
        assert seconds(found) == pytest.approx(lines * 1.02)

    @given(width=st.floats(1, 500), acceleration=st.floats(100, 20_000))
    def test_the_fastest_speed_takes_least_time_and_marks_half_of_it(self, width, acceleration):
        told = {"width": Q(width, "mm"), "acceleration": Q(acceleration, "mm/s^2")}
        best = moves.fastest_raster_speed(**told)
        least = seconds(moves.raster_line_time(speed=best, **told))
        for factor in (0.7, 0.99, 1.01, 1.5):
            assert seconds(moves.raster_line_time(speed=best * factor, **told)) > least
        assert seconds(Q(width, "mm") / best) == pytest.approx(least / 2)

    def test_the_line_is_the_move_with_its_run_ups(self):
        # Run-up, width and run-out from rest to rest: one trapezoid.
        told = {"speed": "100 mm/s", "acceleration": "2000 mm/s^2"}
        ends = moves.run_up(**told)
        whole = moves.move_time(distance=Q("80 mm") + 2 * ends, **told)
        assert seconds(whole) == pytest.approx(
            seconds(moves.raster_line_time(width="80 mm", **told))
        )

    def test_a_link_feeds_64_mm_a_second_at_18_bytes_a_pixel(self):
        link = {"link_rate": "11500 1/s", "bytes_per_pixel": 18}
        speed = moves.link_speed(pixel="0.1 mm", **link).to("mm/s").magnitude
        assert speed == pytest.approx(64, rel=0.002)
        pixels = moves.pixel_rate(**link).to("1/s").magnitude
        assert pixels * 0.1 == pytest.approx(speed)
