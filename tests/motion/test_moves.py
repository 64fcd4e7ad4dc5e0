"""Moves against areas, integrals and brute force: each route is another than the library's."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused, WordError
from mathlib.machine import TAGMAKER, load
from mathlib.motion import gantries, moves
from mathlib.paths import Path


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


def brute(points, on, speed, acceleration, deviation, look_ahead=None, step=0.002):
    """Drive along the path in tiny steps of place, in plain loops over all that is near."""
    points = np.asarray(points, dtype=float)
    corners, caps, ends = [0.0], [0.0], [0.0]
    place = 0.0
    for k in range(len(points) - 1):
        size = math.dist(points[k], points[k + 1])
        place += size
        ends.append(place)
        if k + 2 < len(points):
            one, two = points[k] - points[k + 1], points[k + 2] - points[k + 1]
            cosine = one @ two / (np.linalg.norm(one) * np.linalg.norm(two))
            half = math.acos(min(1.0, max(-1.0, cosine))) / 2
            s = math.sin(half)
            within = deviation * s / (1 - s) if s < 1 - 1e-12 else math.inf
            legs = min(np.linalg.norm(one), np.linalg.norm(two)) / 2 * math.tan(half)
            corners.append(place)
            caps.append(acceleration * min(within, legs))
    corners.append(place)
    caps.append(0.0)
    n = round(place / step)
    h = place / n
    limit = np.full(n + 1, speed**2)
    for where, cap in zip(corners, caps, strict=True):
        limit[round(where / h)] = min(limit[round(where / h)], cap)
    if look_ahead is not None:
        # in segment k it can stop at the end of segment k + look_ahead
        for i in range(n + 1):
            k = max(j for j in range(len(ends)) if ends[j] <= i * h + 1e-9)
            last = ends[min(k + look_ahead, len(ends) - 1)]
            on_corner = abs(ends[k] - i * h) < 1e-9
            if not on_corner:
                last = ends[min(k + 1 + look_ahead, len(ends) - 1)]
            limit[i] = min(limit[i], 2 * acceleration * (last - i * h))
    w = limit.copy()
    for i in range(1, n + 1):
        w[i] = min(w[i], w[i - 1] + 2 * acceleration * h)
    for i in range(n - 1, -1, -1):
        w[i] = min(w[i], w[i + 1] + 2 * acceleration * h)
    v = np.sqrt(np.maximum(w, 0.0))
    return float(np.sum(2 * h / (v[1:] + v[:-1]))), v[[round(c / h) for c in corners]]


ZIGZAG = [(0, 0), (10, 0), (10, 6), (4, 6), (4, 6.4), (8, 9.4), (8, 3), (7.2, 3.6), (0, 3.6)]
TOLD = {"speed": "80 mm/s", "acceleration": "1500 mm/s^2", "deviation": "0.05 mm"}


def path_of(points, on=True) -> Path:
    return Path(points=Q(np.array(points, dtype=float), "mm"), on=on)


class TestPlan:
    @pytest.mark.parametrize("look_ahead", [None, 1, 2, 4])
    def test_against_driving_in_tiny_steps(self, look_ahead):
        expected, speeds = brute(ZIGZAG, True, 80, 1500, 0.05, look_ahead)
        found = moves.plan(path=path_of(ZIGZAG), look_ahead=look_ahead, **TOLD)
        # steps of 2 um: near standstill their mean speed errs most, some 1e-3 of the whole
        assert seconds(found.time) == pytest.approx(expected, rel=3e-3)
        assert found.corner_speed.to("mm/s").magnitude == pytest.approx(speeds, rel=2e-3, abs=0.3)

    @given(
        st.lists(st.tuples(st.integers(-20, 20), st.integers(-20, 20)), min_size=2, max_size=12),
        st.sampled_from([None, 1, 3]),
    )
    @settings(max_examples=150)
    def test_limits_hold_along_any_path(self, points, look_ahead):
        path = path_of(points)
        found = moves.plan(path=path, look_ahead=look_ahead, **TOLD)
        v = found.corner_speed.to("mm/s").magnitude
        size = path.lengths.magnitude
        assert v[0] == v[-1] == 0
        assert np.all(v <= 80 * (1 + 1e-12))
        # ramps: v1^2 - v0^2 within 2 a l, both ways
        assert np.all(np.abs(np.diff(v**2)) <= 2 * 1500 * size * (1 + 1e-9) + 1e-6)
        assert seconds(found.time) >= seconds(found.naive_time) * (1 - 1e-12)
        if look_ahead is not None:
            kept = size > 0
            ends = np.concatenate([[0], np.cumsum(size[kept])])
            at = v[np.concatenate([[True], kept])]
            last = ends[np.minimum(np.arange(len(ends)) + look_ahead, len(ends) - 1)]
            assert np.all(at**2 <= 2 * 1500 * (last - ends) * (1 + 1e-9) + 1e-6)

    @given(st.lists(st.tuples(st.integers(-9, 9), st.integers(-9, 9)), min_size=2, max_size=9))
    def test_backwards_takes_as_long(self, points):
        there = moves.plan(path=path_of(points), **TOLD)
        back = moves.plan(path=path_of(points[::-1]), **TOLD)
        assert seconds(back.time) == pytest.approx(seconds(there.time), rel=1e-9)

    def test_a_straight_line_is_a_move_however_it_is_cut(self):
        told = {"speed": "80 mm/s", "acceleration": "1500 mm/s^2"}
        whole = moves.move_time(distance="50 mm", **told)
        for cuts in (2, 3, 1000):
            x = np.linspace(0, 50, cuts)
            found = moves.plan(
                path=path_of(np.column_stack([x, 0.5 * x]) / math.sqrt(1.25)), **TOLD
            )
            assert seconds(found.time) == pytest.approx(seconds(whole), rel=1e-9)

    def test_a_circle_of_short_segments_is_driven_at_the_speed_of_the_arc(self):
        # sqrt(1500 * 2) = 54.77 mm/s on a radius of 2 mm; 10 times round so that the ends vanish
        speed = moves.arc_speed(acceleration="1500 mm/s^2", radius="2 mm").to("mm/s").magnitude
        for segments in (64, 360, 3600):
            angle = np.linspace(0, 20 * np.pi, 10 * segments + 1)
            found = moves.plan(
                path=path_of(2 * np.column_stack([np.cos(angle), np.sin(angle)])), **TOLD
            )
            middle = found.corner_speed.to("mm/s").magnitude[5 * segments]
            assert middle == pytest.approx(speed, rel=2e-3)
            # One ramp up and one down: v / a on top of the length. Between corners of a coarse
            # polygon the head gains up to a l / (4 v^2) of its speed, on average.
            expected = 2 * np.pi * 20 / speed + speed / 1500
            gained = 1500 * (4 * np.pi / segments) / (4 * speed**2)
            assert 1 - gained - 1e-3 <= seconds(found.time) / expected <= 1 + 1e-3

    def test_a_sharp_corner_is_the_speed_of_its_fillet_and_leaves_its_jump(self):
        found = moves.plan(path=path_of([(0, 0), (50, 0), (50, 50)]), **TOLD)
        radius = moves.fillet_radius(deviation="0.05 mm", interior_angle="90 deg")
        speed = moves.arc_speed(acceleration="1500 mm/s^2", radius=radius)
        assert found.corner_speed[1].magnitude == pytest.approx(speed.magnitude)
        jump = moves.velocity_step(speed=speed, interior_angle="90 deg")
        assert found.velocity_step[1].magnitude == pytest.approx(jump.magnitude)

    def test_it_stops_where_it_turns_straight_back(self):
        found = moves.plan(path=path_of([(0, 0), (50, 0), (0, 0)]), **TOLD)
        assert found.corner_speed[1].magnitude == 0
        one = moves.move_time(distance="50 mm", speed="80 mm/s", acceleration="1500 mm/s^2")
        assert seconds(found.time) == pytest.approx(2 * seconds(one))

    def test_pauses_stop_the_head_and_are_counted(self):
        points, on = [(0, 0), (30, 0), (60, 0), (90, 0)], [True, False, True]
        running = moves.plan(path=path_of(points, on), **TOLD)
        lifted = moves.plan(path=path_of(points, on), pause="0.2 s", **TOLD)
        whole = moves.move_time(distance="90 mm", speed="80 mm/s", acceleration="1500 mm/s^2")
        third = moves.move_time(distance="30 mm", speed="80 mm/s", acceleration="1500 mm/s^2")
        assert seconds(running.time) == pytest.approx(seconds(whole))
        assert seconds(lifted.time) == pytest.approx(3 * seconds(third) + 0.4)
        assert seconds(lifted.travel_time) == pytest.approx(seconds(third))
        parts = (lifted.marking_time, lifted.travel_time, lifted.pause_time)
        assert sum(map(seconds, parts)) == pytest.approx(seconds(lifted.time))

    def test_a_dot_without_length_between_two_travels_stops_once(self):
        points = [(0, 0), (30, 0), (30, 0), (60, 0)]
        lifted = moves.plan(path=path_of(points, [False, True, False]), pause="0.1 s", **TOLD)
        half = moves.move_time(distance="30 mm", speed="80 mm/s", acceleration="1500 mm/s^2")
        assert seconds(lifted.time) == pytest.approx(2 * seconds(half) + 0.2)
        assert lifted.corner_speed.magnitude[1:3].tolist() == [0, 0]

    def test_travel_has_its_own_speed(self):
        path = path_of([(0, 0), (100, 0), (200, 0)], [False, True])
        found = moves.plan(path=path, travel_speed="400 mm/s", **TOLD)
        assert found.travel_time < found.marking_time
        # 100 / 400 + 100 / 80
        assert seconds(found.naive_time) == pytest.approx(0.25 + 1.25)

    def test_look_ahead_is_the_formula_on_equal_segments(self):
        x = np.arange(0, 200) * 0.1
        found = moves.plan(
            path=path_of(np.column_stack([x, 0 * x])), speed="1 m/s", acceleration="1000 mm/s^2",
            deviation="0.05 mm", look_ahead=16,
        )  # fmt: skip
        limit = moves.look_ahead_speed(
            acceleration="1000 mm/s^2", segments=16, segment_length="0.1 mm"
        )
        assert found.corner_speed.magnitude.max() == pytest.approx(limit.magnitude)

    @pytest.mark.parametrize(
        ("changes", "message"),
        [
            ({"look_ahead": 0}, "look_ahead is a whole number"),
            ({"look_ahead": True}, "look_ahead is a whole number"),
            ({"acceleration": Q([1.0, 2.0], "m/s^2")}, "one value for the whole path"),
            ({"speed": Q([1.0, 2.0, 3.0], "m/s")}, r"each of the 8 segments; got the shape \(3,\)"),
            ({"path": ZIGZAG}, "path is a paths.Path; got list"),
        ],
    )
    def test_refusals(self, changes, message):
        with pytest.raises(ValueRefused, match=message):
            moves.plan(**({"path": path_of(ZIGZAG)} | TOLD | changes))


class TestBelts:
    def test_a_diagonal_of_crossed_belts_is_slower_by_the_root_of_two(self):
        machine = load(TAGMAKER)
        gantry = gantries.gantry(machine.layout)
        path = path_of([(10, 10), (60, 10), (60, 60), (110, 110), (60, 160)])
        found = moves.belt_limited_speed(path, gantry, "100 mm/s").magnitude
        assert found == pytest.approx([100, 100, 100 / math.sqrt(2), 100 / math.sqrt(2)])

    def test_plain_axes_are_fastest_along_the_diagonal(self):
        machine = load(TAGMAKER.with_name("tagmaker_plain.toml"))
        gantry = gantries.gantry(machine.layout)
        path = path_of([(10, 10), (60, 10), (110, 60)])
        found = moves.belt_limited_speed(path, gantry, "100 mm/s").magnitude
        assert found == pytest.approx([100, 100 * math.sqrt(2)])
