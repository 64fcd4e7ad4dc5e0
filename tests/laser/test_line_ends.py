"""Ends of lines: the exact integral over time, done by SciPy, against what the library gives."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused, WordError
from mathlib.laser import dose, line_ends
from mathlib.motion import moves

LINE: dict[str, Any] = {"speed": "50 mm/s", "acceleration": "1000 mm/s^2", "diameter": "0.1 mm"}


def over_time(
    place: float, v: float, a: float, w: float, case: str, slow: float = 0.0,
    turn: float = 0.0, least: float = 1.0,
) -> float:  # fmt: skip
    """Light that lands on a place in mm, second by second, over that of an endless line."""
    ramp = (v - slow) / a

    def way(t: float) -> float:
        if t < ramp:
            return slow * t + a * t * t / 2
        return (v * v - slow * slow) / (2 * a) + v * (t - ramp)

    def leg(along: float, aside: float) -> float:
        def light(t: float) -> float:
            now = slow + a * t if t < ramp else v
            r2 = (along - way(t)) ** 2 + aside**2
            return max(least, now / v) * math.exp(-2 * r2 / w**2)

        end = ramp + (abs(along) + 8 * w) / v
        edges = np.unique(np.append(np.linspace(0, end, 400), [ramp, max(0, least * v - slow) / a]))
        return sum(quad(light, *pair)[0] for pair in itertools.pairwise(edges))

    total = leg(place, 0.0)
    if case != "stop, beam off":
        total += leg(-place * math.cos(turn), place * math.sin(turn))
    return total * v * math.sqrt(2 / math.pi) / w


@pytest.mark.parametrize(
    ("place", "case", "slow", "turn", "least"),
    [
        (0.0, "stop and restart", 0.0, 0.0, 1.0),
        (0.0, "stop, beam off", 0.0, 0.0, 1.0),
        (0.03, "stop and restart", 0.0, 0.0, 1.0),
        (0.4, "stop and restart", 0.0, 0.0, 0.3),
        (-0.02, "stop, beam off", 0.0, 0.0, 0.3),
        (1.25, "stop and restart", 0.0, math.pi, 1.0),
        (0.0, "corner", 20.0, 0.0, 1.0),
        (0.05, "corner", 20.0, math.pi / 2, 1.0),
        (0.05, "corner", 20.0, math.pi / 2, 0.6),
        (0.05, "corner", 20.0, 1.0, 0.2),  # the corner is faster than the least power asks
    ],
)
@pytest.mark.parametrize(("v", "a", "w"), [(50.0, 1000.0, 0.05), (300.0, 600.0, 0.02)])
def test_dose_near_an_end_is_the_integral_over_time(
    place: float, case: str, slow: float, turn: float, least: float, v: float, a: float, w: float
) -> None:
    told: dict[str, Any] = {
        "speed": Q(v, "mm/s"), "acceleration": Q(a, "mm/s^2"), "diameter": Q(2 * w, "mm"),
        "case": case, "least_power": Q(least, "1"),
    }  # fmt: skip
    if case == "corner":
        told["speed_at_corner"] = Q(slow, "mm/s")
    found = line_ends.end_profile(distance=Q(place, "mm"), turn=Q(turn, "rad"), **told).magnitude
    wanted = over_time(place, v, a, w, case, slow, turn, least)
    assert found == pytest.approx(wanted, rel=1e-9)
    if place == 0:
        assert dose.end_overdose(**told).magnitude == pytest.approx(wanted, rel=1e-9)


def test_a_short_braking_distance_needs_the_exact_form() -> None:
    # v^2 / 2a = 0.0139 mm is less than w = 0.05 mm: the rule 1.720 v / sqrt(a w) says 0.41,
    # less than the line itself; in truth hardly anything is added.
    told = {"speed": "5 mm/s", "acceleration": "900 mm/s^2", "diameter": "0.1 mm"}
    found = dose.end_overdose(case="stop and restart", **told).magnitude
    assert 1.720 * 5 / math.sqrt(900 * 0.05) < 1.29
    assert found == pytest.approx(over_time(0, 5, 900, 0.05, "stop and restart"), rel=1e-9)
    assert 1 < found < 1.5


@given(
    st.floats(1, 500), st.floats(100, 20_000), st.floats(0.02, 0.5), st.floats(0, 1),
    st.floats(0, 1),
)  # fmt: skip
def test_more_power_kept_or_a_slower_corner_never_gives_less(
    v: float, a: float, d: float, least: float, part: float
) -> None:
    told = {"speed": Q(v, "mm/s"), "acceleration": Q(a, "mm/s^2"), "diameter": Q(d, "mm")}
    kept = dose.end_overdose(case="stop and restart", least_power=Q(least, "1"), **told).magnitude
    full = dose.end_overdose(case="stop and restart", **told).magnitude
    assert 1 - 1e-12 <= kept <= full * (1 + 1e-12)
    taken = dose.end_overdose(case="corner", speed_at_corner=Q(part * v, "mm/s"), **told).magnitude
    assert 1 - 1e-9 <= taken <= full * (1 + 1e-6)
    ended = dose.end_overdose(case="stop, beam off", **told).magnitude
    assert ended == pytest.approx(full / 2, rel=1e-12)


def test_a_corner_at_no_speed_is_a_stop_and_at_full_speed_adds_nothing() -> None:
    corner = {"case": "corner", **LINE}
    stop = dose.end_overdose(case="stop and restart", **LINE).magnitude
    found = dose.end_overdose(speed_at_corner=["0 mm/s", "50 mm/s"], **corner).magnitude
    np.testing.assert_allclose(found, [stop, 1], rtol=1e-12)


def test_power_that_follows_the_speed_leaves_ends_as_the_line() -> None:
    told = {"least_power": "0 1", **LINE}
    assert dose.end_overdose(case="stop and restart", **told).magnitude == pytest.approx(1)
    # A line that ends is half as dosed at its end: the other half of the spot never came by.
    assert dose.end_overdose(case="stop, beam off", **told).magnitude == pytest.approx(0.5)
    places = Q([0.0, 0.01, 0.2, 3.0], "mm")
    even = line_ends.end_profile(distance=places, case="stop and restart", **told).magnitude
    np.testing.assert_allclose(even, 1, rtol=1e-12)


def test_energy_of_an_end_is_power_times_time() -> None:
    # 0.05 s to brake from 50 mm/s, 1.25 mm of way: twice the energy of 1.25 mm of line. Far out
    # 3 mm more at full speed; together 2 * 1.25 + 3 mm of line.
    places = np.linspace(-0.3, 4.25, 40_001)
    found = line_ends.end_profile(distance=Q(places, "mm"), case="stop, beam off", **LINE)
    # The last point lies on an endless line, which goes on beyond the window.
    assert np.trapezoid(found.magnitude, places) == pytest.approx(2 * 1.25 + 3.0, rel=1e-6)


def test_mean_and_local_overdose_agree() -> None:
    whole = line_ends.mean_overdose(distance="1.25 mm", speed="50 mm/s",
                                    acceleration="1000 mm/s^2").magnitude  # fmt: skip
    assert whole == pytest.approx(2, rel=1e-12)

    def local(x: float) -> float:
        return float(
            line_ends.overdose_near_end(
                distance=Q(x, "mm"), speed="50 mm/s", acceleration="1000 mm/s^2"
            ).magnitude
        )

    mean = quad(local, 0, 0.5)[0] / 0.5
    found = line_ends.mean_overdose(distance="0.5 mm", speed="50 mm/s",
                                    acceleration="1000 mm/s^2").magnitude  # fmt: skip
    assert found == pytest.approx(mean, rel=1e-6)
    # Ten radii from the end a small spot sees the local dose: its curvature adds 3/16 (w/x)^2.
    near = line_ends.end_profile(distance="0.5 mm", case="stop, beam off", **LINE).magnitude
    assert near == pytest.approx(local(0.5), rel=2.5e-3)


def test_all_of_the_way_that_the_head_needs_to_stop_is_taken() -> None:
    # v^2 / 2a comes out with a last digit too many now and then; there the line has its own dose.
    for speed in (33.3, 71.7, 123.4):
        line = {"speed": Q(speed, "mm/s"), "acceleration": "1700 mm/s^2"}
        zone = moves.run_up(**line)
        assert line_ends.overdose_near_end(distance=zone, **line).magnitude == pytest.approx(1)
        assert line_ends.mean_overdose(distance=zone, **line).magnitude == pytest.approx(2)


def test_refusals_say_what_to_write() -> None:
    with pytest.raises(ValueRefused, match=r"case is one of 'stop and restart', .*got 'stop'"):
        dose.end_overdose(case="stop", **LINE)
    with pytest.raises(WordError, match='give speed_at_corner with case "corner"'):
        dose.end_overdose(case="corner", **LINE)
    with pytest.raises(WordError, match="and only there"):
        dose.end_overdose(case="stop, beam off", speed_at_corner="5 mm/s", **LINE)
    with pytest.raises(ValueRefused, match="speed_at_corner is above the speed of the line"):
        dose.end_overdose(case="corner", speed_at_corner="51 mm/s", **LINE)
    with pytest.raises(ValueRefused, match="least_power is a part of the line's power"):
        dose.end_overdose(case="stop, beam off", least_power="1.2 1", **LINE)
    with pytest.raises(UnitError, match="diameter needs a unit such as mm"):
        dose.end_overdose(case="stop, beam off", **LINE | {"diameter": 0.1})
    with pytest.raises(ValueRefused, match="farther out the head has its full speed"):
        line_ends.overdose_near_end(distance="2 mm", speed="50 mm/s", acceleration="1000 mm/s^2")


def test_arrays_broadcast() -> None:
    found = dose.end_overdose(
        speed=Q([[10.0], [50.0]], "mm/s"), acceleration=Q([500.0, 1000.0, 2000.0], "mm/s^2"),
        diameter="0.1 mm", case="stop and restart",
    ).magnitude  # fmt: skip
    assert found.shape == (2, 3)
    assert found[1, 1] == pytest.approx(12.1628, rel=1e-4)
    assert np.all(np.diff(found, axis=1) < 0)
    assert np.all(np.diff(found, axis=0) > 0)
