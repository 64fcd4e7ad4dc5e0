"""Closed forms of ringing against the equation of motion, solved by SciPy in time."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.motion import resonance, ringing, shapers

RAMPS = {
    "even": ringing.speed_ramp("100 mm/s", "3000 mm/s^2"),
    "jerk-limited": ringing.speed_ramp("100 mm/s", "3000 mm/s^2", "300000 mm/s^3"),
    "never at its limit": ringing.speed_ramp("100 mm/s", "9000 mm/s^2", "500000 mm/s^3"),
}
SHAPED = {
    f"{name}, {kind}": ramp.shaped(shapers.shaper(kind, "45 Hz", 0.05))
    for name, ramp in RAMPS.items()
    for kind in shapers.KINDS
}


def stepped(command, times, f: float, z: float):
    """Head against command in mm, by small steps between the jumps of the command."""
    omega = 2 * np.pi * f

    def moved(t, state):
        push = -float(command.acceleration(t))
        return [state[1], push - 2 * z * omega * state[1] - omega**2 * state[0]]

    state, found, here = [0.0, 0.0], {}, 0.0
    for until in sorted({*np.unique(command.times), *times}):
        if until > here:
            # just inside the piece, so that a jump at its end is not yet felt
            path = solve_ivp(
                lambda t, s, end=until: moved(min(t, end - 1e-12), s),
                (here, until), state, rtol=1e-9, atol=1e-12,
            )  # fmt: skip
            state, here = path.y[:, -1], until
        found[until] = state[0]
    return np.array([found[t] for t in times]), state


@pytest.mark.parametrize("name", [*RAMPS, *SHAPED])
@pytest.mark.parametrize(("f", "z"), [(45.0, 0.05), (38.0, 0.0), (60.0, 0.2)])
def test_the_swing_against_the_equation_of_motion(name, f, z) -> None:
    command = {**RAMPS, **SHAPED}[name]
    end = float(command.end)
    times = np.linspace(0.001, end, 6)
    wanted, state = stepped(command, times, f, z)
    found = ringing.swing(command, Q(times, "s"), Q(f, "Hz"), z).to("mm").magnitude
    scale = 3000 / (2 * np.pi * f) ** 2
    np.testing.assert_allclose(found, wanted, atol=1e-6 * scale)
    # Amplitude of the free swing that begins with that place and speed.
    omega, root = 2 * np.pi * f, np.sqrt(1 - z**2)
    left = np.hypot(state[0], (state[1] + z * omega * state[0]) / (omega * root))
    told = ringing.left_ringing(command, Q(f, "Hz"), z).to("mm").magnitude
    assert told == pytest.approx(left, abs=1e-6 * scale)


@settings(max_examples=30)
@given(st.floats(0.002, 0.2), st.floats(10, 150), st.floats(0, 0.5))
def test_the_formula_of_an_even_ramp_is_the_sum_of_its_two_jumps(t, f, z) -> None:
    ramp = ringing.speed_ramp("100 mm/s", Q(100 / t, "mm/s^2"))
    wanted = ringing.left_ringing(ramp, Q(f, "Hz"), z).to("mm").magnitude
    told = resonance.ringing_amplitude(
        speed_change="100 mm/s", ramp_time=Q(t, "s"), frequency=Q(f, "Hz"), damping=z
    )
    assert told.to("mm").magnitude == pytest.approx(wanted, rel=1e-7, abs=1e-9)


def test_peak_and_steady_lag_against_the_swing() -> None:
    long = ringing.speed_ramp("3000 mm/s", "3000 mm/s^2")
    times = Q(np.linspace(0, 0.9, 90001), "s")
    swing = ringing.swing(long, times, "45 Hz", 0.05).to("mm").magnitude
    told = {"acceleration": "3000 mm/s^2", "frequency": "45 Hz"}
    assert -swing.min() == pytest.approx(ringing.peak_lag(**told, damping=0.05).magnitude, rel=1e-6)
    assert -swing[-1] == pytest.approx(ringing.acceleration_lag(**told).magnitude, rel=1e-4)


def test_a_jerk_limited_ramp_lasts_as_long_as_it_must() -> None:
    # v/a + a/j = 0.0333 + 0.01; and 2 sqrt(v/j) = 2 * 0.0141421 where a is never reached
    assert RAMPS["jerk-limited"].end == pytest.approx(100 / 3000 + 0.01)
    assert RAMPS["never at its limit"].end == pytest.approx(2 * np.sqrt(100 / 500000))
    for command in (*RAMPS.values(), *SHAPED.values()):
        t = np.linspace(0, float(command.end), 200001)
        assert np.trapezoid(command.acceleration(t), t) == pytest.approx(100, rel=1e-4)


def test_the_reach_is_where_the_decay_meets_the_bound() -> None:
    told = {"speed": "80 mm/s", "ringing": "0.2 mm", "frequency": "40 Hz", "damping": 0.06}
    reach = ringing.ringing_reach(**told, visible="0.01 mm").to("mm").magnitude
    left = 0.2 * np.exp(-0.06 * 2 * np.pi * 40 * reach / 80)
    assert left == pytest.approx(0.01)
    with pytest.raises(ValueRefused, match="needs ringing > visible"):
        ringing.ringing_reach(**told, visible="0.3 mm")


def test_nothing_is_counted_where_the_first_ripple_does_not_show() -> None:
    found = ringing.visible_ripples(ringing=["5 um", "100 um"], visible="10 um", damping=0.081)
    assert found.magnitude.tolist() == [0, 5]


class TestTwoSpeeds:
    def test_says_what_the_exponent_says(self) -> None:
        def verdict(first: str, second: str, reading: str = "0.03 mm") -> str:
            return ringing.two_speed_test(["40 mm/s", "80 mm/s"], [first, second], reading).verdict

        assert verdict("0.8 mm", "1.6 mm") == "resonance"
        assert verdict("2 mm", "2.03 mm") == "geometry"
        assert verdict("1 mm", "1.41 mm") == "neither"
        assert verdict("1 mm", "1.4 mm", "0.4 mm") == "cannot be told"

    def test_gives_the_frequency_and_its_own_spread(self) -> None:
        found = ringing.two_speed_test(["50 mm/s", "100 mm/s"], ["1 mm", "2 mm"], "0.02 mm")
        assert found.frequency.to("Hz").magnitude == pytest.approx([50, 50])
        # 0.02 / 1 and 0.02 / 2 in quadrature are 0.02236; over log 2 = 0.6931
        assert found.std == pytest.approx(0.02236 / 0.6931, rel=1e-3)
        rng = np.random.default_rng(1)
        s1, s2 = 1 + 0.02 * rng.standard_normal(20000), 2 + 0.02 * rng.standard_normal(20000)
        assert np.std(np.log(s2 / s1) / np.log(2)) == pytest.approx(found.std, rel=0.03)

    def test_equal_speeds_are_refused(self) -> None:
        with pytest.raises(ValueRefused, match="two different speeds"):
            ringing.two_speed_test(["50 mm/s", "50 mm/s"], ["1 mm", "2 mm"], "0.02 mm")


def test_beyond_critical_damping_nothing_rings() -> None:
    with pytest.raises(ValueRefused, match="below 1"):
        ringing.left_ringing(RAMPS["even"], "45 Hz", 1.2)
