"""Input shapers against the equations that define them, printed values and a response in time."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import fsolve

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused
from mathlib.motion import ringing, shapers

DAMPINGS = st.floats(0.0, 0.28)


@settings(max_examples=40)
@given(st.sampled_from(shapers.KINDS), st.floats(5, 200), DAMPINGS)
def test_impulses_add_to_one_and_leave_what_they_promise(kind, f, z) -> None:
    made = shapers.shaper(kind, Q(f, "Hz"), z)
    assert np.sum(made.amplitudes.magnitude) == pytest.approx(1)
    assert np.all(np.diff(made.times.magnitude) > 0)
    left = shapers.residual_vibration(made, Q(f, "Hz"), z).magnitude
    # The EI fit: its own authors state 0.5 % for times and amplitudes up to 0.3 of damping.
    assert left == pytest.approx(0.05 if kind == "EI" else 0.0, abs=2e-3)


@pytest.mark.parametrize("z", [0.0, 0.05, 0.2])
def test_zvd_is_flat_at_the_mode_in_frequency_and_damping(z) -> None:
    made = shapers.shaper("ZVD", "50 Hz", z)
    for f, d in ((50.05, z), (49.95, z), (50.0, z + 0.001)):
        left = shapers.residual_vibration(made, Q(f, "Hz"), d).magnitude
        assert left < 1e-4  # of second order: (pi / 2 * 0.001)**2 = 2.5e-6


def test_the_ei_fit_against_its_five_equations() -> None:
    # Unknown: A1, A3, t2 and the two frequencies of no vibration, at t3 = Td, damping 0.1, V 0.05.
    z, v = 0.1, 0.05
    omega, period = 2 * np.pi, 1 / np.sqrt(1 - z**2)

    def parts(a, t, ratio):
        w = omega * ratio
        grown = a * np.exp(z * w * t)
        phase = w * np.sqrt(1 - z**2) * t
        fall = np.exp(-z * w * t[-1])
        return fall * np.array([np.sum(grown * np.cos(phase)), np.sum(grown * np.sin(phase))])

    def equations(p):
        a1, a3, t2, low, high = p
        a, t = np.array([a1, 1 - a1 - a3, a3]), np.array([0, t2, 1]) * period
        at_mode = np.hypot(*parts(a, t, 1.0)) - v
        return [at_mode, *parts(a, t, low), *parts(a, t, high)]

    exact = fsolve(equations, [0.355, 0.18, 0.5047, 0.88, 1.12], xtol=1e-12)
    made = shapers.shaper("EI", "1 Hz", z, v)
    a, t = made.amplitudes.magnitude, made.times.magnitude
    assert np.max(np.abs(equations(exact))) < 1e-9
    np.testing.assert_allclose([a[0], a[2], t[1] / t[2]], exact[:3], rtol=4e-3)
    assert a[0] == pytest.approx(0.354726, rel=1.5e-3)


def test_undamped_zv_by_hand() -> None:
    # V = |cos(pi/2 f/f0)|: at 1.1 times the mode cos(99 deg) = 0.15643
    made = shapers.shaper("ZV", "50 Hz", 0)
    assert made.times.to("ms").magnitude == pytest.approx([0, 10])
    left = shapers.residual_vibration(made, "55 Hz", 0).magnitude
    assert left == pytest.approx(0.15643, rel=1e-4)


@pytest.mark.parametrize(("kind", "width"), [("ZV", 0.06369), ("ZVD", 0.2871), ("EI", 0.39945)])
def test_widths_of_insensitivity(kind, width) -> None:
    # 0.06369 = 4/pi asin(0.05); 0.2871 = 4/pi asin(sqrt 0.05); EI: (1 + V) / 2 cos(pi r) +
    # (1 - V) / 2 = V, so 2/pi acos(0.85 / 1.05) = 0.39945; the printed value is 0.399.
    assert shapers.insensitivity(kind, 0, 0.05).magnitude == pytest.approx(width, rel=3e-4)


def test_a_shaper_that_leaves_too_much_at_the_mode_is_refused() -> None:
    with pytest.raises(ValueRefused, match="at the mode itself"):
        shapers.insensitivity("EI", 0, 0.02)


@pytest.mark.parametrize("z", [0.02, 0.05, 0.1, 0.2])
@pytest.mark.parametrize("bound", [0.05, 0.1])
def test_a_damped_ei_shaper_made_for_a_bound_covers_more_than_zvd(z, bound) -> None:
    width = shapers.insensitivity("EI", z, bound, bound).magnitude
    assert width > 1.25 * shapers.insensitivity("ZVD", z, bound).magnitude
    made = shapers.shaper("EI", "1 Hz", z, bound)
    ratios = np.linspace(0.4, 1.8, 2001)
    inside = ratios[shapers.residual_vibration(made, Q(ratios, "Hz"), z).magnitude <= 1.04 * bound]
    assert np.ptp(inside) == pytest.approx(width, abs=0.02)


def test_damped_widths_hold_their_bound_inside_and_not_outside() -> None:
    made = shapers.shaper("ZV", "1 Hz", 0.1)
    width = shapers.insensitivity("ZV", 0.1, 0.05).magnitude
    left = shapers.residual_vibration(made, Q([1 - 0.45 * width, 1 + 0.45 * width], "Hz"), 0.1)
    assert np.all(left.magnitude < 0.05)
    out = shapers.residual_vibration(made, Q([1 - 0.6 * width, 1 + 0.6 * width], "Hz"), 0.1)
    assert np.all(out.magnitude > 0.05)


def test_arrays_broadcast() -> None:
    made = shapers.shaper("EI", Q([40.0, 50.0, 60.0], "Hz"), [[0.0], [0.1]])
    assert made.amplitudes.magnitude.shape == made.times.magnitude.shape == (2, 3, 3)
    alone = shapers.shaper("EI", "60 Hz", 0.1)
    np.testing.assert_allclose(made.times.magnitude[1, 2], alone.times.magnitude)
    left = shapers.residual_vibration(made, Q([40.0, 50.0, 60.0], "Hz"), [[0.0], [0.1]])
    assert left.magnitude.shape == (2, 3)


@pytest.mark.parametrize(
    ("told", "match"),
    [
        ({"kind": "ZVDD"}, "kind is one of ZV, ZVD, EI"),
        ({"kind": "EI", "damping": 0.5}, "damping for EI"),
        ({"damping": 1.0}, "damping for ZV"),
        ({"tolerance": 1.5}, "share of the ringing"),
    ],
)
def test_what_makes_no_shaper_is_refused(told, match) -> None:
    with pytest.raises(ValueRefused, match=match):
        shapers.shaper(**{"kind": "ZV", "frequency": "50 Hz", "damping": 0.1} | told)


def test_a_shaped_command_rings_by_the_residual_share() -> None:
    # A jump of speed, of which a shaper makes smaller ones: the share is the residual at its end.
    made = shapers.shaper("ZVD", "45 Hz", 0.05)
    jump = ringing.speed_ramp("100 mm/s", "1e9 mm/s^2")
    for f in (38.0, 45.0, 52.0):
        bare = ringing.left_ringing(jump, Q(f, "Hz"), 0.05).magnitude
        told = ringing.left_ringing(jump.shaped(made), Q(f, "Hz"), 0.05).magnitude
        share = shapers.residual_vibration(made, Q(f, "Hz"), 0.05).magnitude
        assert told == pytest.approx(share * bare, abs=1e-5 * bare)


class TestOnTheWork:
    def test_shaped_positions_are_those_of_the_shaped_command(self) -> None:
        made = shapers.shaper("ZV", "45 Hz", 0.05)
        t = np.linspace(0, 0.1, 20001)
        place = np.where(t < 0.02, 2500 * t**2, 1.0 + 100 * (t - 0.02))  # 100 mm/s at 5000 mm/s^2
        told = shapers.shaped(made, Q(t, "s"), Q(place, "mm")).magnitude
        command = ringing.speed_ramp("100 mm/s", "5000 mm/s^2").shaped(made)
        speed = np.concatenate([[0], np.cumsum(command.acceleration(t)[:-1] * np.diff(t))])
        wanted = np.concatenate([[0], np.cumsum((speed[1:] + speed[:-1]) / 2 * np.diff(t))])
        np.testing.assert_allclose(told, wanted, atol=2e-3)
        # at an even speed the head is late by the mean delay
        assert place[-1] - told[-1] == pytest.approx(100 * made.delay.magnitude, rel=1e-6)

    def test_axes_are_shaped_before_the_motors_not_after(self) -> None:
        # Two modes, two shapers. x and y shaped each for its own mode, then added to motor
        # travel; a motor shaped as a whole with the shaper of x gives y the wrong one.
        t = Q(np.linspace(0, 0.1, 4001), "s")
        x = Q(np.clip(100 * t.magnitude, 0, 4.0), "mm")
        y = Q(np.clip(60 * t.magnitude, 0, 2.0), "mm")
        for_x, for_y = (shapers.shaper("ZV", f, 0.05) for f in ("70 Hz", "45 Hz"))
        right = [shapers.shaped(for_x, t, x), shapers.shaped(for_y, t, y)]
        a, b = right[0] + right[1], right[0] - right[1]
        np.testing.assert_allclose(((a + b) / 2).magnitude, right[0].magnitude, atol=1e-12)
        wrong = shapers.shaped(for_x, t, x + y), shapers.shaped(for_x, t, x - y)
        moved_y = (wrong[0] - wrong[1]) / 2
        assert np.max(np.abs((moved_y - right[1]).magnitude)) > 0.1

    def test_a_cut_corner_by_hand(self) -> None:
        # ZV undamped at 50 Hz sends halves 10 ms apart: at 20 mm/s the head leaves the first way
        # 0.1 mm early and joins the second 0.1 mm late; the straight between passes 0.0707 mm off.
        made = shapers.shaper("ZV", "50 Hz", 0)
        cut = shapers.corner_cut(made, ["20 mm/s", "40 mm/s"], "90 deg")
        assert cut.to("mm").magnitude == pytest.approx([0.070711, 0.141421], rel=1e-5)
        assert cut[0].magnitude == pytest.approx(20 * made.delay.magnitude / np.sqrt(2), rel=1e-9)
        assert shapers.corner_cut(made, "20 mm/s", "1e-6 deg").magnitude < 1e-6

    @pytest.mark.parametrize("kind", shapers.KINDS)
    def test_a_cut_corner_against_a_path_walked_in_time(self, kind) -> None:
        made = shapers.shaper(kind, "45 Hz", 0.1)
        t = np.linspace(-0.2, 0.2, 400001)
        turn = np.radians(60.0)
        ways = np.where(t < 0, t, t * np.cos(turn)), np.where(t < 0, 0 * t, t * np.sin(turn))
        x, y = (shapers.shaped(made, Q(t, "s"), Q(30 * way, "mm")).magnitude for way in ways)
        walked = np.min(np.hypot(x[50000:], y[50000:]))
        cut = shapers.corner_cut(made, "30 mm/s", "60 deg").to("mm").magnitude
        assert cut == pytest.approx(walked, rel=1e-5)


class TestChoices:
    def test_the_quickest_that_is_enough_comes_first(self) -> None:
        stop = ringing.speed_ramp("100 mm/s", "10000 mm/s^2")
        found = shapers.choices(stop, Q([45.0, 55.0], "Hz"), 0.05, "0.02 mm")
        assert [c.enough for c in found] == sorted((c.enough for c in found), reverse=True)
        enough = [c.longer.magnitude for c in found if c.enough]
        assert enough == sorted(enough)
        assert {c.kind for c in found} == {"none", *shapers.KINDS}

    def test_a_wide_bound_needs_no_shaper(self) -> None:
        stop = ringing.speed_ramp("100 mm/s", "10000 mm/s^2")
        assert shapers.choices(stop, "50 Hz", 0.05, "1 mm")[0].kind == "none"

    def test_where_none_is_enough_the_calmest_comes_first(self) -> None:
        stop = ringing.speed_ramp("100 mm/s", "10000 mm/s^2")
        found = shapers.choices(stop, Q([20.0, 90.0], "Hz"), 0.0, "1 nm")
        assert not any(c.enough for c in found)
        assert found[0].left == min(c.left for c in found)


def test_every_mistake_is_told_at_once_and_by_whom() -> None:
    with pytest.raises(UnitError, match=r"(?s)^Shaper: frequency.*Write \"45 Hz\".*damping"):
        shapers.shaper("ZV", 45, "0.1 Hz")
    with pytest.raises(UnitError, match=r"^Residual vibration: frequency"):
        shapers.residual_vibration(shapers.shaper("ZV", "45 Hz", 0.1), "45 mm", 0.1)
