"""Moving source at a million places."""

from __future__ import annotations

import time

import numpy as np
import pytest
from conftest import note

from mathlib import Q
from mathlib.laser import heat

SIDE = 1000


@pytest.mark.parametrize(
    ("peclet", "seconds"), [(0.01, 0.5), (1.0, 0.5), (10.0, 1.0), (100.0, 2.5)]
)
def test_moving_source_at_a_million_places(benchmark, peclet, seconds):
    x = Q(np.linspace(-0.4, 0.15, SIDE)[None, :], "mm")
    y = Q(np.linspace(-0.15, 0.15, SIDE)[:, None], "mm")
    told = {
        "power": "1 W",
        "absorptance": 0.5,
        "radius": "0.05 mm",
        "speed": Q(peclet * 2 * 0.16 / 0.05, "mm/s"),
        "conductivity": "0.17 W/(m*K)",
        "diffusivity": "0.16 mm^2/s",
    }
    found = benchmark.pedantic(lambda: heat.moving_rise(**told, x=x, y=y), rounds=3)
    few = heat.moving_rise(**told, x=x[:, ::250], y=y[::250])
    assert np.allclose(
        found.magnitude[::250, ::250], few.magnitude, atol=1e-4 * few.magnitude.max()
    )
    spent = []
    for _ in range(5):
        begun = time.perf_counter()
        heat.moving_rise(**told, x=x, y=y)
        spent.append(time.perf_counter() - begun)
    assert note(f"moving source, a million places, Pe {peclet:g}", spent, seconds) <= seconds
