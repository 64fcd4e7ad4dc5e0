"""Moves against areas, integrals and brute force: each route is another than the library's."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused, WordError
from mathlib.motion import moves


def seconds(value) -> float:
    return float(value.to("s").magnitude)


def integrated(jerks: list[tuple[float, float]], n: int = 4000) -> tuple[float, float, float]:
    """Distance, last speed and last acceleration of pieces (jerk, duration), by small steps."""
    x = v = a = 0.0
    for jerk, duration in jerks:
        h = duration / n
        for _ in range(n):
            x += v * h + a * h * h / 2 + jerk * h**3 / 6
            v += a * h + jerk * h * h / 2
            a += jerk * h
    return x, v, a


class TestOneMove:
    @pytest.mark.parametrize(
        ("distance", "expected"),
        [(300, 1.1), (30, 0.2), (7.5, 0.1), (3.333333, 2 * math.sqrt(3.333333 / 3000))],
        # 300/300 + 300/3000; just reached: 2 * 300/3000; 2 sqrt(7.5/3000) = 0.1
    )
    def test_trapezoid_and_triangle_by_hand(self, distance, expected):
        told = {"speed": "300 mm/s", "acceleration": "3000 mm/s^2"}
        assert seconds(moves.move_time(distance=Q(distance, "mm"), **told)) == pytest.approx(
            expected, rel=1e-6
        )

    def test_both_cases_agree_where_they_meet(self):
        at = {"distance": "29.99999999 mm", "acceleration": "3000 mm/s^2"}
        short = moves.short_move_time(**at)
        long = moves.long_move_time(
            distance="30.00000001 mm", speed="300 mm/s", acceleration="3000 mm/s^2"
        )
        assert seconds(long) == pytest.approx(seconds(short), rel=1e-8)

    @pytest.mark.parametrize(
        ("distance", "speed", "acceleration", "jerk"),
        [
            (300, 300, 3000, 60_000),  # seven pieces
            (300, 100, 3000, 60_000),  # v < a^2 / j = 150: full acceleration is never reached
            (60, 300, 3000, 60_000),  # too short for the speed, long enough for the acceleration
            (10, 300, 3000, 60_000),  # d < 2 a^3 / j^2 = 15: too short for both
            (45, 300, 3000, 1e9),  # nearly no jerk limit
        ],
    )
    def test_jerk_limited_moves_land_on_their_distance(self, distance, speed, acceleration, jerk):
        told = {
            "distance": Q(float(distance), "mm"),
            "speed": Q(float(speed), "mm/s"),
            "acceleration": Q(float(acceleration), "mm/s^2"),
            "jerk": Q(float(jerk), "mm/s^3"),
        }
        whole = seconds(moves.move_time(**told))
        top = moves.peak_speed(**told).to("mm/s").magnitude
        # Pieces from the highest speed alone: build up, hold, let go, cruise, and the mirror.
        build = min(acceleration / jerk, math.sqrt(top / jerk))
        hold = max(0.0, top / (build * jerk) - build)
        up = [(jerk, build), (0.0, hold), (-jerk, build)]
        cruise = whole - 2 * (2 * build + hold)
        assert cruise >= -1e-12
        down = [(-j, t) for j, t in up]
        x, v, a = integrated([*up, (0.0, max(cruise, 0.0)), *down])
        assert x == pytest.approx(distance, rel=1e-6)
        assert v == pytest.approx(0.0, abs=1e-6 * speed)
        assert a == pytest.approx(0.0, abs=1e-6 * acceleration)
        assert build * jerk <= acceleration * (1 + 1e-12)
        assert top <= speed

    def test_the_formulas_of_the_cases_say_what_the_function_says(self):
        told = {"distance": "300 mm", "acceleration": "3000 mm/s^2", "jerk": "60000 mm/s^3"}
        fast = moves.jerk_limited_time(speed="250 mm/s", **told)
        assert fast == moves.move_time(speed="250 mm/s", **told)
        slow = moves.jerk_limited_slow_time(distance="300 mm", speed="90 mm/s", jerk="60000 mm/s^3")
        assert seconds(slow) == pytest.approx(seconds(moves.move_time(speed="90 mm/s", **told)))
        with pytest.raises(ValueRefused, match="jerk_limited_slow_time"):
            moves.jerk_limited_time(speed="90 mm/s", **told)

    @given(
        distance=st.floats(0.01, 1000),
        speed=st.floats(1, 1000),
        acceleration=st.floats(50, 20_000),
        jerk=st.floats(1e3, 1e7),
    )
    def test_limits_only_ever_cost_time(self, distance, speed, acceleration, jerk):
        told = {
            "distance": Q(distance, "mm"),
            "speed": Q(speed, "mm/s"),
            "acceleration": Q(acceleration, "mm/s^2"),
        }
        free = seconds(moves.move_time(**told))
        limited = seconds(moves.move_time(**told, jerk=Q(jerk, "mm/s^3")))
        assert distance / speed < free <= limited * (1 + 1e-12)
        gentler = seconds(moves.move_time(**told, jerk=Q(jerk / 2, "mm/s^3")))
        assert limited <= gentler * (1 + 1e-12)

    def test_arrays_broadcast_and_equal_single_calls(self):
        distance = Q(np.array([[5.0], [12.0], [40.0], [400.0]]), "mm")
        jerk = Q(np.array([2e4, 6e4, 1e6]), "mm/s^3")
        told = {"speed": "300 mm/s", "acceleration": "3000 mm/s^2"}
        made = moves.move_time(distance=distance, jerk=jerk, **told)
        assert made.magnitude.shape == (4, 3)
        for i, j in np.ndindex(4, 3):
            one = moves.move_time(distance=distance[i, 0], jerk=jerk[j], **told)
            assert made.magnitude[i, j] == pytest.approx(one.magnitude, rel=1e-14)

    def test_unequal_ramps_meet_the_equal_ones(self):
        even = moves.unequal_ramps_time(
            distance="100 mm", speed="200 mm/s", acceleration="1500 mm/s^2",
            deceleration="1500 mm/s^2",
        )  # fmt: skip
        told = {"distance": "100 mm", "speed": "200 mm/s", "acceleration": "1500 mm/s^2"}
        assert seconds(even) == pytest.approx(seconds(moves.move_time(**told)))
        # at the highest speed of a short move nothing is left between the ramps
        ramps = {"acceleration": "1000 mm/s^2", "deceleration": "2000 mm/s^2"}
        top = moves.unequal_ramps_speed(distance="29.999 mm", **ramps)
        whole = moves.unequal_ramps_time(distance="30 mm", speed=top, **ramps)
        assert seconds(whole) == pytest.approx(0.2 + 0.1, rel=1e-4)

    def test_refusals_name_every_mistake(self):
        with pytest.raises(UnitError) as caught:
            moves.move_time(distance=3, speed="100 mm", acceleration="0 mm/s^2")
        for word in ("distance", "speed", "acceleration"):
            assert word in str(caught.value)
        with pytest.raises(WordError, match="speed"):
            moves.move_time(distance="3 mm", acceleration="10 mm/s^2")
        with pytest.raises(ValueRefused, match="short_move_time"):
            moves.long_move_time(distance="1 mm", speed="1 m/s", acceleration="1 m/s^2")
