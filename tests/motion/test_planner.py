"""Plans of a path against driving it in tiny steps, and against what no plan may break."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.machine import TAGMAKER, load
from mathlib.motion import gantries, moves
from mathlib.paths import Path


def seconds(value) -> float:
    return float(value.to("s").magnitude)


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
