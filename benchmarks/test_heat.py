"""Moving source at a million places, on a grid and scattered.

Timed by the processor's clock, so that a busy machine does not count.
"""

from __future__ import annotations

import time

import numpy as np
import pytest
from conftest import note

from mathlib import Q
from mathlib.laser import heat

SIDE = 1000


@pytest.mark.parametrize("places", ["grid", "scattered"])
@pytest.mark.parametrize(
    ("peclet", "seconds"), [(0.01, 0.5), (1.0, 0.5), (10.0, 1.0), (100.0, 2.5)]
)
def test_moving_source_at_a_million_places(peclet, seconds, places):
    rng = np.random.default_rng(4)
    if places == "grid":
        x = Q(np.linspace(-0.4, 0.15, SIDE)[None, :], "mm")
        y = Q(np.linspace(-0.15, 0.15, SIDE)[:, None], "mm")
    else:
        x = Q(rng.uniform(-0.4, 0.15, (SIDE, SIDE)), "mm")
        y = Q(rng.uniform(-0.15, 0.15, (SIDE, SIDE)), "mm")
    told = {
        "power": "1 W",
        "absorptance": 0.5,
        "radius": "0.05 mm",
        "speed": Q(peclet * 2 * 0.16 / 0.05, "mm/s"),
        "conductivity": "0.17 W/(m*K)",
        "diffusivity": "0.16 mm^2/s",
    }
    found = heat.moving_rise(**told, x=x, y=y)
    spots = {"x": x[:, ::250], "y": y[::250]} if places == "grid" else {"x": x[0], "y": y[0]}
    few = heat.moving_rise(**told, **spots)
    same = found[::250, ::250] if places == "grid" else found[0]
    assert np.allclose(same.magnitude, few.magnitude, atol=1e-4 * few.magnitude.max())
    spent = []
    for _ in range(5):
        begun = time.process_time()
        heat.moving_rise(**told, x=x, y=y)
        spent.append(time.process_time() - begun)
    name = f"moving source, a million places, {places}, Pe {peclet:g}"
    assert note(name, spent, seconds) <= seconds
