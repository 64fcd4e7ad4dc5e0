"""Beams against a small finite-element model, a numerical integral, and printed coefficients."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.linalg import eigh
from scipy.optimize import brentq

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.motion import frames

ENDS = frames.ENDS
BEAM = {"length": "480 mm", "modulus": "70 GPa", "second_moment": "7000 mm^4"}
LENGTH, STIFF = 0.48, 70e9 * 7000e-12
N = 24  # elements


def elements(ends: str, mass: float = 0.0) -> tuple[np.ndarray, np.ndarray, list[int]]:
    """Stiffness and consistent mass of N beam elements, and what is free to move."""
    h, total = LENGTH / N, 2 * (N + 1)
    stiff, heavy = np.zeros((total, total)), np.zeros((total, total))
    each = STIFF / h**3 * np.array(
        [[12, 6 * h, -12, 6 * h], [6 * h, 4 * h**2, -6 * h, 2 * h**2],
         [-12, -6 * h, 12, -6 * h], [6 * h, 2 * h**2, -6 * h, 4 * h**2]]
    )  # fmt: skip
    inert = mass / N / 420 * np.array(
        [[156, 22 * h, 54, -13 * h], [22 * h, 4 * h**2, 13 * h, -3 * h**2],
         [54, 13 * h, 156, -22 * h], [-13 * h, -3 * h**2, -22 * h, 4 * h**2]]
    )  # fmt: skip
    for i in range(N):
        here = slice(2 * i, 2 * i + 4)
        stiff[here, here] += each
        heavy[here, here] += inert
    held = {
        "cantilever": {0, 1},
        "simply supported": {0, total - 2},
        "fixed": {0, 1, total - 2, total - 1},
        "propped": {0, 1, total - 2},
    }[ends]
    return stiff, heavy, [i for i in range(total) if i not in held]


def sagged(ends: str, loads: np.ndarray) -> np.ndarray:
    stiff, _, free = elements(ends)
    moved = np.zeros(len(stiff))
    moved[free] = np.linalg.solve(stiff[np.ix_(free, free)], loads[free])
    return moved[::2]


@pytest.mark.parametrize("ends", ENDS)
class TestSag:
    def test_under_a_point_load_anywhere(self, ends: str) -> None:
        place = np.arange(N + 1) / N * 480
        for node in (3, 11, 12, 20, N):
            loads = np.zeros(2 * (N + 1))
            loads[2 * node] = 10.0
            found = frames.deflection_at(
                load="10 N", place=Q(place[node], "mm"), at=Q(place, "mm"), ends=ends, **BEAM
            )
            # cubic elements are exact at their nodes; rounding leaves 1e-12 of the largest
            np.testing.assert_allclose(
                found.to("m").magnitude, sagged(ends, loads), rtol=1e-7, atol=1e-13
            )

    def test_under_a_spread_load(self, ends: str) -> None:
        h = LENGTH / N
        loads = np.zeros(2 * (N + 1))
        for i in range(N):  # each element's share at its ends, with the moments that go with it
            loads[2 * i : 2 * i + 4] += 10.0 / N * np.array([1 / 2, h / 12, 1 / 2, -h / 12])
        at = Q(np.arange(N + 1) / N * 480, "mm")
        found = frames.deflection_at(load="10 N", at=at, ends=ends, **BEAM)
        np.testing.assert_allclose(
            found.to("m").magnitude, sagged(ends, loads), rtol=1e-7, atol=1e-13
        )

    def test_a_spread_load_is_the_sum_of_point_loads(self, ends: str) -> None:
        def of_slice(place: float) -> float:
            one = frames.deflection_at(
                load="10 N", place=Q(480 * place, "mm"), at="200 mm", ends=ends, **BEAM
            )
            return float(one.magnitude)

        summed = quad(of_slice, 0, 1, points=[200 / 480])[0]
        found = frames.deflection_at(load="10 N", at="200 mm", ends=ends, **BEAM)
        assert found.magnitude == pytest.approx(summed, rel=1e-9)

    @pytest.mark.parametrize("kind", frames.KINDS)
    def test_the_largest_is_the_largest_along_the_beam(self, ends: str, kind: str) -> None:
        where = "480 mm" if ends == "cantilever" else "240 mm"
        place = where if kind == "point" else None
        along = Q(np.linspace(0, 480, 4801), "mm")
        found = frames.deflection_at(load="10 N", place=place, at=along, ends=ends, **BEAM)
        whole = frames.deflection(load="10 N", ends=ends, kind=kind, **BEAM)
        assert whole.magnitude == pytest.approx(found.magnitude.max(), rel=1e-7)

    @given(a=st.floats(0, 1), b=st.floats(0, 1))
    def test_each_place_sags_under_the_other_alike(self, ends: str, a: float, b: float) -> None:
        one, other = (
            frames.deflection_at(
                load="10 N", place=Q(480 * p, "mm"), at=Q(480 * q, "mm"), ends=ends, **BEAM
            ).magnitude
            for p, q in ((a, b), (b, a))
        )
        assert one == pytest.approx(other, rel=1e-9, abs=1e-15)


@pytest.mark.parametrize("ends", ENDS)
class TestFrequency:
    def test_by_itself(self, ends: str) -> None:
        stiff, heavy, free = elements(ends, mass=0.24)
        squares = eigh(stiff[np.ix_(free, free)], heavy[np.ix_(free, free)], eigvals_only=True)
        found = frames.beam_frequency(mass_per_length="500 g/m", ends=ends, **BEAM)
        # 24 cubic elements err by less than 1e-6 in the first mode
        assert found.magnitude == pytest.approx(math.sqrt(squares[0]) / 2 / math.pi, rel=2e-6)

    @pytest.mark.parametrize(("mass", "off"), [(0.0, 0.02), (0.24, 0.004), (2.4, 2e-4)])
    def test_with_a_mass_from_above(self, ends: str, mass: float, off: float) -> None:
        stiff, heavy, free = elements(ends, mass=0.24)
        node = 2 * N if ends == "cantilever" else N
        heavy[node, node] += mass
        squares = eigh(stiff[np.ix_(free, free)], heavy[np.ix_(free, free)], eigvals_only=True)
        exact = math.sqrt(squares[0]) / 2 / math.pi
        found = frames.loaded_frequency(mass=Q(mass, "kg"), beam_mass="0.24 kg", ends=ends, **BEAM)
        # Rayleigh's method is never too low, and better the heavier the mass
        assert exact * (1 - 2e-6) <= found.magnitude <= exact * (1 + off)

    def test_roots_solve_the_characteristic_equation(self, ends: str) -> None:
        equation = {
            "cantilever": lambda b: math.cos(b) * math.cosh(b) + 1,
            "simply supported": math.sin,
            "fixed": lambda b: math.cos(b) * math.cosh(b) - 1,
            "propped": lambda b: math.tan(b) - math.tanh(b),
        }[ends]
        around = {
            "cantilever": (1, 2),
            "simply supported": (3, 4),
            "fixed": (4, 5),
            "propped": (3.8, 4),
        }
        root = brentq(equation, *around[ends], xtol=1e-14)
        assert frames.eigenvalue(ends=ends).magnitude == pytest.approx(root, rel=1e-12)


@pytest.mark.parametrize(
    ("ends", "kind", "printed"),
    [  # Roark and every handbook: W L**3 / (c E I)
        ("cantilever", "point", 3),
        ("cantilever", "distributed", 8),
        ("simply supported", "point", 48),
        ("simply supported", "distributed", 76.8),
        ("fixed", "point", 192),
        ("fixed", "distributed", 384),
        ("propped", "point", 107.3),
        ("propped", "distributed", 184.6),  # often rounded to 185
    ],
)
def test_printed_coefficients(ends: str, kind: str, printed: float) -> None:
    found = frames.sag_coefficient(ends=ends, kind=kind)
    assert found.magnitude == pytest.approx(printed, rel=3e-4)


def test_a_spread_load_is_given_as_its_total() -> None:
    # 0.0049 N/mm over 500 mm is 2.45 N: 5 w L**4 / 384 E I = 0.008138 mm
    words = {**BEAM, "length": "500 mm", "ends": "simply supported", "kind": "distributed"}
    assert frames.deflection(load="2.45 N", **words).magnitude == pytest.approx(
        0.00813802, rel=1e-6
    )


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ({"ends": "free"}, "ends is one of 'cantilever', 'simply supported', 'fixed', 'propped'"),
        ({"ends": "fixed", "kind": "line"}, "kind is one of 'point', 'distributed'"),
    ],
)
def test_unknown_ends_and_kinds_are_refused(words: dict, told: str) -> None:
    with pytest.raises(ValueRefused, match=told):
        frames.deflection(load="1 N", **BEAM, **words)


def test_places_beyond_the_beam_are_refused() -> None:
    with pytest.raises(ValueRefused, match="place lies beyond"):
        frames.deflection_at(load="1 N", place="481 mm", at="1 mm", ends="fixed", **BEAM)
    with pytest.raises(ValueRefused, match="give place, at, or both"):
        frames.deflection_at(load="1 N", ends="fixed", **BEAM)
    with pytest.raises(ValueRefused, match="ends is one of"):
        frames.eigenvalue(ends="Fixed")


def test_limits_without_load_and_without_own_mass() -> None:
    told = {"length": "500 mm", "modulus": "70 GPa", "second_moment": "7000 mm^4"}
    none = frames.deflection(load="0 N", ends="fixed", kind="distributed", **told)
    assert none.magnitude == 0.0
    light = frames.loaded_frequency(mass="0.4 kg", beam_mass="0 kg", ends="fixed", **told)
    # sqrt(192 E I / (L^3 m)) / 2 pi = sqrt(192 * 490 / (0.125 * 0.4)) / 6.2832
    assert light.to("Hz").magnitude == pytest.approx((192 * 490 / 0.05) ** 0.5 / (2 * np.pi))
