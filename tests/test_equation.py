"""An equation as text: what is allowed in it, what is refused, and how it is typeset."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import equation
from mathlib.compiled import run
from mathlib.equation import read_condition, read_equation
from mathlib.errors import FormulaError


@pytest.mark.parametrize(
    "right",
    [
        "Min(a, 2)", "Piecewise((a, a < 2))", "abs(a)", "a.real", "(lambda: a)()", "a[0]",
        "(z := a)", "'a'", "f'{a}'", "a if a else 2", "a and a", "not a", "~a", "a // 2", "a % 2",
        "a @ a", "a ^ 2", "[a]", "a, a", "{a}", "{a: a}", "sqrt(a, a)", "sqrt(x=a)", "sqrt(*a)",
        "sqrt()", "__import__('os')", "_a", "sqrt", "a + sqrt", "1j * a", "True * a", "None", "...",
        "a < 2", "a * (a < 2)", "a < 2 < 3", "sqrt(a)(a)", "+a", "(yield a)", "await a",
        "[x for x in a]", "b'a'", "a; a", "a\x00", "", "= a", "a =", "a = a", "a!", "((a)",
        "import os", "a ** 9**9**9", "9**9**9**9 * a", "a ** 1000000", "a ** -21", "a ** 1e9",
        "a * 1e400", "a * 10**400", "((9**9)**9)**9 * a", "a * " + "9" * 290, "a" + " + a" * 100,
        "(" * 250 + "a" + ")" * 30,
    ],
)  # fmt: skip
def test_what_is_no_closed_arithmetic_is_refused(right: str) -> None:
    with pytest.raises(FormulaError) as caught:
        read_equation(f"y = {right}")
    assert len(str(caught.value)) < 600


@pytest.mark.parametrize("left", ["", "2", "a + b", "None", "lambda", "y.x", "y[0]", "'y'"])
def test_the_left_side_is_one_letter(left: str) -> None:
    with pytest.raises(FormulaError, match="one letter on the left"):
        read_equation(f"{left} = a")


def test_the_result_may_not_stand_on_both_sides() -> None:
    with pytest.raises(FormulaError, match="y stands on both sides"):
        read_equation("y = y + a")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("a", "a condition compares"),
        ("1 < 2", "a condition compares"),
        ("a == 2", "something else than <"),
        ("a != 2", "something else than <"),
        ("a in b", "something else than <"),
        ("0 < a < 2", "is not allowed"),
        ("a < 2 and a > 1", "is not allowed"),
    ],
)
def test_a_condition_is_one_comparison(text: str, told: str) -> None:
    with pytest.raises(FormulaError, match=told):
        read_condition(text)


@given(st.text(alphabet="ab01 +-*/().,<>=_[]{}'\"\\sqrtexplogin\n", max_size=40))
def test_any_text_is_an_equation_or_refused(text: str) -> None:
    try:
        found = read_equation(f"y = {text}")
    except FormulaError:
        return
    with np.errstate(all="ignore"):
        value = run(found, dict.fromkeys(found.letters, np.asarray(0.5)))
    assert np.ndim(value) == 0


# A second reading of the same arithmetic, by Python itself, on trees that are made, not parsed.
_LEAVES = st.sampled_from(["a", "b", "2", "0.5", "pi"])


def _grow(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    pair = st.tuples(inner, st.sampled_from("+-*/"), inner).map(lambda t: f"({t[0]} {t[1]} {t[2]})")
    call = st.tuples(st.sampled_from(["sqrt", "exp", "sin", "atan"]), inner)
    power = st.tuples(inner, st.sampled_from(["2", "-1", "0.5"]))
    return st.one_of(
        pair,
        call.map(lambda t: f"{t[0]}({t[1]})"),
        power.map(lambda t: f"({t[0]})**{t[1]}"),
        inner.map(lambda t: f"(-{t})"),
    )


@given(st.recursive(_LEAVES, _grow, max_leaves=8))
def test_run_equals_python(right: str) -> None:
    if len(right) > 250:
        return
    found = read_equation(f"y = {right}")
    names: dict[str, Any] = {"a": 0.7, "b": 1.9, "pi": math.pi}
    names |= {name: getattr(math, name) for name in ("sqrt", "exp", "sin", "atan")}
    try:
        by_python = eval(right, {}, names)
    except (ValueError, ArithmeticError):
        return
    if isinstance(by_python, complex):
        return
    with np.errstate(all="ignore"):
        value = run(found, {k: np.asarray(names[k]) for k in found.letters})
    assert float(value) == pytest.approx(by_python, rel=1e-12, abs=1e-300)


@pytest.mark.parametrize(
    ("right", "latex"),
    [
        ("k / m", r"\frac{k}{m}"),
        ("sqrt(k / m) / (2 * pi)", r"\frac{\sqrt{\frac{k}{m}}}{2 \, \pi}"),
        ("a - (b - c)", r"a - \left(b - c\right)"),
        ("a - b - c", r"a - b - c"),
        ("a * (b + c)", r"a \, \left(b + c\right)"),
        ("(a * b)**2", r"\left(a \, b\right)^{2}"),
        ("-a + b", r"-a + b"),
        ("a + -b", r"a + \left(-b\right)"),
        ("a * -b", r"a \, \left(-b\right)"),
        ("-(a + b)", r"-\left(a + b\right)"),
        ("(-a)**2", r"\left(-a\right)^{2}"),
        ("-a**2", r"-a^{2}"),
        ("exp(a)**2", r"\left(\exp\left(a\right)\right)^{2}"),
        ("2 * 3 * a", r"2 \cdot 3 \, a"),
        ("0.00001 * a", r"1 \times 10^{-5} \, a"),
        ("1234567.25 * a", r"1234567.25 \, a"),
        ("theta_max * lam", r"\theta_{\text{max}} \, \lambda"),
        ("log(a) + asin(b)", r"\ln\left(a\right) + \arcsin\left(b\right)"),
    ],
)
def test_latex_is_as_written(right: str, latex: str) -> None:
    assert read_equation(f"y = {right}").latex() == latex


@pytest.mark.parametrize(
    ("right", "values", "latex"),
    [
        ("a + b", {"b": r"-3\,\text{mm}"}, r"a + \left(-3\,\text{mm}\right)"),
        ("a - b", {"b": r"-3\,\text{mm}"}, r"a - \left(-3\,\text{mm}\right)"),
        ("a * b", {"b": "-3"}, r"a \cdot \left(-3\right)"),
        ("a**2", {"a": "-3"}, r"\left(-3\right)^{2}"),
        ("a**2", {"a": r"3\,\text{mm}"}, r"\left(3\,\text{mm}\right)^{2}"),
        ("a**2", {"a": r"1 \times 10^{7}"}, r"\left(1 \times 10^{7}\right)^{2}"),
        ("a**2", {"a": "3"}, "3^{2}"),
        ("a / b", {"a": "-3"}, r"\frac{-3}{b}"),
    ],
)
def test_numbers_put_in_are_bracketed_where_needed(
    right: str, values: dict[str, str], latex: str
) -> None:
    assert read_equation(f"y = {right}").latex(values) == latex


LENGTH, TIME, ONE = {"[length]": 1.0}, {"[time]": 1.0}, {}


@pytest.mark.parametrize(
    ("right", "of", "result"),
    [
        ("a * b", (LENGTH, TIME), {"[length]": 1.0, "[time]": 1.0}),
        ("a / b", (LENGTH, LENGTH), {}),
        ("sqrt(a * b)", (LENGTH, LENGTH), {"[length]": 1.0}),
        ("a**2 / b", (LENGTH, TIME), {"[length]": 2.0, "[time]": -1.0}),
        ("a**(1/2) * b**-0.5", (LENGTH, LENGTH), {}),
        ("2**a * b", (ONE, LENGTH), {"[length]": 1.0}),
        ("exp(a) + sin(b) * pi", (ONE, ONE), {}),
    ],
)
def test_dimension_follows_the_equation(right: str, of: Any, result: dict[str, float]) -> None:
    found = read_equation(f"y = {right}").dimension(dict(zip("ab", of, strict=True)))
    assert equation.same_dimension(found, result)


@pytest.mark.parametrize(
    ("right", "of", "told"),
    [
        ("a + b", (LENGTH, TIME), r"puts \[length\]\^1 together with \[time\]\^1"),
        ("a - 2 + b", (LENGTH, LENGTH), "together with a plain number"),
        ("sin(a) * b", (LENGTH, ONE), "sin takes a plain number"),
        ("a**b", (LENGTH, ONE), "raised to a fixed power"),
        ("a**b", (ONE, LENGTH), "an exponent is a plain number"),
        ("log(a / b)", (LENGTH, TIME), "log takes a plain number"),
    ],
)
def test_a_slip_of_dimension_is_named(right: str, of: Any, told: str) -> None:
    with pytest.raises(FormulaError, match=told):
        read_equation(f"y = {right}").dimension(dict(zip("ab", of, strict=True)))
