"""What follows from an equation: its inverse, its slopes, and how uncertain its result is."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm, qmc

from mathlib import Formula, Q, units
from mathlib.errors import MathlibError, NotUnique, UnitError, ValueRefused, WordError


def define(equation: str, **where: tuple[str, ...]) -> Formula:
    return Formula(
        title="Trial", equation=equation, where=where, assumes=("nothing",), source="a test"
    )


OUT = ("result", "1", "found", "signed")
SPRING = define(
    "f = sqrt(k / m) / (2 * pi)",
    f=("frequency", "Hz", "found"),
    k=("stiffness", "N/mm", "of the spring"),
    m=("mass", "kg", "on the spring"),
)
SUM = define(
    "y = a - 3 * b",
    y=("result", "mm", "found", "signed"),
    a=("first", "mm", "one", "signed"),
    b=("second", "mm", "two", "signed"),
)
SQUARE = define("y = x**2 + b", y=OUT, x=("x", "1", "in", "signed"), b=("b", "1", "in", "signed"))
POSITIVE = define("y = x**2", y=OUT, x=("x", "1", "in"))
COSINE = define("y = cos(a)", y=OUT, a=("angle", "deg", "in", "signed"))
MIXED = define("y = x * exp(-x) + sin(x)", y=OUT, x=("x", "1", "in", "signed"))
WARM = define(
    "T = T_0 + d",
    T=("temperature", "degC", "after", "signed"),
    T_0=("ambient", "degC", "before"),
    d=("warming", "delta_degC", "between", "signed"),
)
LIMITED = Formula(
    title="Trial",
    equation="y = x * (2 - x)",
    where={"y": OUT, "x": ("x", "1", "in", "zero")},
    holds=("x <= 1; it turns back",),
    assumes=("nothing",),
    source="a test",
)


# -- solve -------------------------------------------------------------------------------------


def test_solve_by_hand() -> None:
    # m = k / (2 pi f)^2 = 10000 / (2 pi 30)^2 = 10000 / 35530.58 = 0.281448
    found = SPRING.solve("mass", stiffness="10 N/mm", frequency="30 Hz")
    assert found.magnitude == pytest.approx(0.2814477, rel=1e-6)
    assert found.units == units.registry.kilogram
    assert isinstance(found.magnitude, float)


def test_solve_for_the_result_evaluates() -> None:
    given = {"stiffness": "10 N/mm", "mass": "1 kg"}
    found = SPRING.solve("frequency", **given).magnitude
    assert found == pytest.approx(SPRING(**given).magnitude, rel=1e-15)


def test_arrays_broadcast_in_solve() -> None:
    stiffness, frequency = np.array([[10.0], [20.0]]), np.array([1.0, 2.0, 3.0])
    found = SPRING.solve("mass", stiffness=Q(stiffness, "N/mm"), frequency=Q(frequency, "Hz"))
    by_hand = stiffness * 1e3 / (2 * np.pi * frequency) ** 2
    np.testing.assert_allclose(found.magnitude, by_hand, rtol=1e-12)
    bracketed = SPRING.solve(
        "mass",
        stiffness=Q(stiffness, "N/mm"),
        frequency=Q(frequency, "Hz"),
        bracket=("1 g", "1000 kg"),
    )
    np.testing.assert_allclose(bracketed.magnitude, by_hand, rtol=1e-12)
    assert SPRING.solve("mass", stiffness=Q([], "N/mm"), frequency="1 Hz").magnitude.shape == (0,)
    with pytest.raises(ValueRefused, match="unequal shapes in solve"):
        SPRING.solve("mass", stiffness=Q([1, 2], "N/mm"), frequency=Q([1, 2, 3], "Hz"))


@given(st.floats(-1e3, 1e3).filter(lambda x: abs(x) > 1e-3))
def test_solve_where_terms_cancel_to_zero(first: float) -> None:
    found = SUM.solve("second", result="0 mm", first=Q(first, "mm"))
    assert found.magnitude == pytest.approx(first / 3, rel=1e-12)


def test_the_sign_picks_the_root() -> None:
    assert POSITIVE.solve("x", result=9).magnitude == pytest.approx(3, rel=1e-14)
    with pytest.raises(NotUnique, match=r"2 values of x fit: -3 and 3\. Pass bracket"):
        SQUARE.solve("x", result=10, b=1)
    with pytest.raises(NotUnique, match=r"2 values of x fit at index \(0,\)"):
        SQUARE.solve("x", result=[10, 17], b=1)
    below = SQUARE.solve("x", result=10, b=1, bracket=("-10 1", "0 1"))
    assert below.magnitude == pytest.approx(-3, rel=1e-14)
    # Where both roots fall together there is one.
    assert SQUARE.solve("x", result=1, b=1).magnitude == 0


def test_no_root_is_told() -> None:
    with pytest.raises(NotUnique, match="no value of x fits"):
        SQUARE.solve("x", result=0, b=1)
    with pytest.raises(NotUnique, match=r"between 4 to 9 no value of x"):
        SQUARE.solve("x", result=10, b=1, bracket=(4, 9))


def test_a_root_outside_the_conditions_is_no_root() -> None:
    # x (2 - x) = 0.75 at 0.5 and at 1.5; only the first is where the equation holds.
    assert LIMITED.solve("x", result=0.75).magnitude == pytest.approx(0.5, rel=1e-12)


def test_without_closed_form_a_bracket_is_asked_for() -> None:
    with pytest.raises(NotUnique, match=r"no closed form for x\. Pass a bracket, such as"):
        MIXED.solve("x", result=0.5)
    found = MIXED.solve("x", result=0.5, bracket=(0, 1)).magnitude
    assert found * np.exp(-found) + np.sin(found) == pytest.approx(0.5, rel=1e-12)


@pytest.mark.parametrize(
    "ends", [("0 deg", "180 deg"), ("180 deg", "0 deg"), ("0 rad", "0.5 turn")]
)
def test_a_bracket_in_any_unit_and_order(ends: tuple[str, str]) -> None:
    assert COSINE.solve("angle", result=0.5, bracket=ends).magnitude == pytest.approx(60, rel=1e-13)
    assert COSINE.solve("angle", result=0, bracket=ends).magnitude == pytest.approx(90, rel=1e-13)


@pytest.mark.parametrize(
    ("bracket", "error", "told"),
    [
        (("2 mm", "10 kg"), UnitError, "bracket: mass needs a mass"),
        ((2, 10), UnitError, 'bracket: mass needs.*Write "2 kg"'),
        (("1 kg",), WordError, "a bracket is a pair"),
        (5, WordError, "a bracket is a pair"),
        (("-1 kg", "2 kg"), ValueRefused, "bracket: mass must be zero or positive"),
        (("2 kg", "10 kg"), NotUnique, "must cross the wanted one inside the bracket"),
    ],
)
def test_a_wrong_bracket(bracket: Any, error: Any, told: str) -> None:
    with pytest.raises(error, match=told):
        SPRING.solve("mass", stiffness="10 N/mm", frequency="15.9154943 Hz", bracket=bracket)


def test_a_bracket_may_begin_at_zero() -> None:
    found = SPRING.solve(
        "mass", stiffness="10 N/mm", frequency="15.915494309189533 Hz", bracket=("0 kg", "9 kg")
    )
    assert found.magnitude == pytest.approx(1, rel=1e-12)


@pytest.mark.parametrize(
    ("word", "given", "told"),
    [
        (
            "m",
            {"stiffness": "1 N/mm", "frequency": "1 Hz"},
            "no word 'm' to solve for; write \"mass\"",
        ),
        (
            "width",
            {"stiffness": "1 N/mm", "frequency": "1 Hz"},
            "it has frequency, stiffness, mass",
        ),
        ("mass", {"stiffness": "1 N/mm"}, r"frequency \(found\) missing"),
        (
            "mass",
            {"stiffness": "1 N/mm", "frequency": "1 Hz", "mass": "1 kg"},
            "do not pass it too",
        ),
        ("mass", {"k": "1 N/mm", "frequency": "1 Hz"}, "in a call write stiffness="),
    ],
)
def test_wrong_words_in_solve(word: str, given: Any, told: str) -> None:
    with pytest.raises(WordError, match=told):
        SPRING.solve(word, **given)


def test_solve_for_a_temperature() -> None:
    found = WARM.solve("ambient", temperature="40 degC", warming="20 K")
    assert found.magnitude == pytest.approx(20, rel=1e-12)
    assert found.units == units.registry.degC


# -- slopes ------------------------------------------------------------------------------------


def test_slopes_come_in_the_units_of_the_words() -> None:
    slopes = SPRING.slopes(stiffness="10 N/mm", mass="1 kg")
    # df/dk = f / (2 k) = 15.9155 / 20 Hz per N/mm; df/dm = -f / (2 m)
    assert slopes["stiffness"].magnitude == pytest.approx(15.91549431 / 20, rel=1e-9)
    assert slopes["mass"].magnitude == pytest.approx(-15.91549431 / 2, rel=1e-9)
    assert f"{slopes['stiffness'].units:~}" == "Hz * mm / N"
    many = SPRING.slopes(stiffness=Q([10, 40], "N/mm"), mass="1 kg")["mass"].magnitude
    np.testing.assert_allclose(many, [-7.957747155, -15.91549431], rtol=1e-9)


def test_slope_of_a_temperature_counts_in_kelvin() -> None:
    slopes = WARM.slopes(ambient="20 degC", warming="20 K")
    assert {word: slope.magnitude for word, slope in slopes.items()} == {"ambient": 1, "warming": 1}
    assert "degree_Celsius" not in str(slopes["ambient"]._units)


def test_sensitivity_is_the_exponent_of_a_power_law() -> None:
    told = SPRING.sensitivity(stiffness="10 N/mm", mass="1 kg")
    assert told["stiffness"].magnitude == pytest.approx(0.5, rel=1e-12)
    assert told["mass"].magnitude == pytest.approx(-0.5, rel=1e-12)
    with pytest.raises(ValueRefused, match="the result is zero; ask for slopes"):
        POSITIVE_OR_ZERO.sensitivity(x=0)


POSITIVE_OR_ZERO = define("y = sqrt(x)", y=OUT, x=("x", "1", "in", "zero"))


def test_an_infinite_slope_is_refused() -> None:
    with pytest.raises(ValueRefused, match="the slope by x is not finite"):
        POSITIVE_OR_ZERO.slopes(x=0)


# -- uncertainty -------------------------------------------------------------------------------


def test_uncertainty_by_hand() -> None:
    told = SPRING.uncertainty(
        {"stiffness": "6 %", "mass": "80 g"}, stiffness="10 N/mm", mass="1 kg"
    )
    # Half of 6 % and half of 8 %: sqrt(3**2 + 4**2) % = 5 % of 15.9155 Hz = 0.79577 Hz.
    assert told.std.magnitude == pytest.approx(0.795774715, rel=1e-9)
    assert told.shares == pytest.approx({"stiffness": 9 / 25, "mass": 16 / 25}, rel=1e-12)
    assert str(told).startswith("15.92 Hz ± 0.8 Hz [stiffness 36%, mass 64%]")


def test_uncertainty_of_an_input() -> None:
    told = SPRING.uncertainty(
        {"frequency": "1 %", "stiffness": "2 %"}, of="mass", frequency="30 Hz", stiffness="10 N/mm"
    )
    # m = k / (2 pi f)^2: sqrt(2**2 + 2**2) % = 2.8284 % of 0.2814477 kg
    assert told.value.magnitude == pytest.approx(0.2814477, rel=1e-6)
    assert told.std.magnitude == pytest.approx(0.2814477 * 0.02828427, rel=1e-6)
    assert told.shares == pytest.approx({"frequency": 0.5, "stiffness": 0.5}, rel=1e-12)


@pytest.mark.parametrize(("spread", "matters"), [("1 %", False), ("5 %", False), ("20 %", True)])
def test_second_order_is_told_when_it_matters(spread: str, matters: bool) -> None:
    told = POSITIVE.uncertainty({"x": spread}, x=1)
    # y = x**2: first order 2 u, next (2**2 / 2 u**4) ** 0.5 = 1.4142 u**2: the ratio is 0.7071 u.
    share = float(spread.split()[0]) / 100
    assert told.second_order == pytest.approx(share / np.sqrt(2), rel=1e-9)
    assert ("draw from the ranges" in told.note) == matters


def test_second_order_is_that_of_draws() -> None:
    told = POSITIVE.uncertainty({"x": "20 %"}, x=1)
    drawn = (1 + 0.2 * norm.ppf(qmc.Sobol(1, seed=3).random_base2(14)[:, 0])) ** 2
    corrected = told.std.magnitude * np.sqrt(1 + told.second_order**2)
    # Sobol points lose a little of the far tails, hence 0.2 %; the first order alone is 1 % off.
    assert np.std(drawn) == pytest.approx(corrected, rel=2e-3)
    assert abs(np.std(drawn) / told.std.magnitude - 1) > 8e-3


def test_a_zero_slope_is_told() -> None:
    told = SQUARE.uncertainty({"x": "0.1 1"}, x=0, b=1)
    assert told.std.magnitude == 0
    assert told.second_order == np.inf
    assert "the slope is zero here" in told.note
    assert "draw" in told.note
    partly = SQUARE.uncertainty({"x": "0.1 1", "b": "0.001 1"}, x=0, b=1)
    assert "second-order terms" in partly.note


def test_uncertainty_of_arrays() -> None:
    told = POSITIVE.uncertainty({"x": ["1 %", "2 %"]}, x=[1.0, 2.0])
    np.testing.assert_allclose(told.std.magnitude, [0.02, 0.16], rtol=1e-12)
    assert str(told) == "[1 4] ± [0.02 0.16]"


def test_without_spread_nothing_is_uncertain() -> None:
    told = POSITIVE.uncertainty({}, x=3)
    assert (told.std.magnitude, told.shares, told.note) == (0, {}, "")


def test_uncertainty_of_a_temperature_is_a_difference() -> None:
    told = WARM.uncertainty(
        {"ambient": "3 delta_degC", "warming": "20 %"}, ambient="20 degC", warming="20 K"
    )
    assert told.value.magnitude == pytest.approx(40, rel=1e-12)
    assert told.std.magnitude == pytest.approx(5, rel=1e-12)  # sqrt(3**2 + 4**2)
    assert told.std.units == units.registry.kelvin


@pytest.mark.parametrize(
    ("formula", "spread", "given", "told"),
    [
        (SPRING, {"width": "1 %"}, {}, "spread: there is no word width"),
        (SPRING, {"m": "1 %"}, {}, "spread: m is the letter"),
        (SPRING, {"frequency": "1 %"}, {}, "spread: there is no word frequency"),
        (SPRING, {"mass": "-1 %"}, {}, "must be zero or positive"),
        (
            SPRING,
            {"mass": "1 mm"},
            {},
            'mass needs a mass.*Write an amount such as "0.1 kg", or "5 %"',
        ),
        (SPRING, {"mass": 0.1}, {}, "got the bare number 0.1"),
        (SPRING, "5 %", {}, "spread is by word"),
        (WARM, {"ambient": "5 %"}, {"ambient": "20 degC", "warming": "20 K"}, '"0.1 delta_degC"'),
        (
            WARM,
            {"ambient": "1 degC"},
            {"ambient": "20 degC", "warming": "20 K"},
            "needs a difference",
        ),
    ],
)
def test_a_wrong_spread(formula: Formula, spread: Any, given: Any, told: str) -> None:
    with pytest.raises(MathlibError, match=told):
        formula.uncertainty(spread, **(given or {"stiffness": "10 N/mm", "mass": "1 kg"}))
