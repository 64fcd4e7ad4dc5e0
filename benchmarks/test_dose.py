"""Dose of a million settings against hand-written NumPy, in the same run."""

from __future__ import annotations

import time

import numpy as np
from conftest import note, paired

from mathlib import Q
from mathlib.laser import dose, tone

POINTS = 1_000_000


def settings() -> dict[str, np.ndarray]:
    rng = np.random.default_rng(1)
    return {
        "power": rng.uniform(1.0, 10.0, POINTS),
        "speed": rng.uniform(10.0, 300.0, POINTS),
        "line_spacing": rng.uniform(0.05, 0.2, POINTS),
    }


def test_areal_dose_of_a_million_settings(benchmark):
    plain = settings()
    p, v, s = plain.values()
    told = {
        word: Q(plain[word], unit) for word, unit in zip(plain, ("W", "mm/s", "mm"), strict=True)
    }

    def by_hand():
        return p / (v * s)

    assert np.allclose(dose.areal_dose(**told).magnitude, by_hand(), rtol=1e-12)
    pair = paired("areal dose, a million", lambda: dose.areal_dose(**told), by_hand, repeat=3)
    benchmark.pedantic(lambda: dose.areal_dose(**told), rounds=10)
    assert pair.median <= 1.05


def test_peak_dose_of_a_million_settings(benchmark):
    plain = settings()
    p, v, d = plain.values()
    told = {"power": Q(p, "W"), "speed": Q(v, "mm/s"), "diameter": Q(d, "mm")}

    def by_hand():
        return 2 * np.sqrt(2 / np.pi) * p / (v * d)

    assert np.allclose(dose.peak_line_dose(**told).magnitude, by_hand(), rtol=1e-12)
    pair = paired("peak dose, a million", lambda: dose.peak_line_dose(**told), by_hand, repeat=3)
    benchmark.pedantic(lambda: dose.peak_line_dose(**told), rounds=10)
    assert pair.median <= 1.05


def test_line_ends_and_ripple_and_levels_of_a_million_settings(benchmark):
    plain = settings()
    speed, spacing = Q(plain["speed"], "mm/s"), Q(plain["line_spacing"], "mm")
    calls = {
        "end overdose, a million": lambda: dose.end_overdose(
            speed=speed, acceleration="2000 mm/s^2", diameter=spacing, case="stop and restart"
        ),
        "ripple, a million": lambda: dose.ripple(diameter="0.1 mm", line_spacing=spacing),
        "grey levels, a million": lambda: tone.grey_levels(
            pixel=spacing, speed=speed, frequency="5 kHz"
        ),
    }
    for name, call in calls.items():
        took = []
        for _ in range(7):
            start = time.perf_counter()
            call()
            took.append(time.perf_counter() - start)
        assert note(name, took, 1.0) <= 1.0
    benchmark.pedantic(calls["ripple, a million"], rounds=3)
