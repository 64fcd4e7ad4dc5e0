"""Speed of the limits of exposure; run apart from the tests."""

from __future__ import annotations

import time

import numpy as np
import pytest
from conftest import note

from mathlib import Q
from mathlib.safety.exposure import limit

POINTS = 1_000_000


@pytest.mark.parametrize("band", ["180 nm to 1 mm", "400 to 1400 nm"])
def test_a_million_limits(benchmark, band):
    rng = np.random.default_rng(1)
    low, high = (180, 1e6) if band.startswith("180") else (400, 1400)
    wave = Q(np.exp(rng.uniform(np.log(low), np.log(high), POINTS)), "nm")
    lasting = Q(np.exp(rng.uniform(np.log(1e-13), np.log(3e4), POINTS)), "s")
    found = limit(wave, lasting)
    for i in (0, POINTS // 2, POINTS - 1):
        one = limit(wave[i], lasting[i])
        assert np.isclose(found.irradiance.magnitude[i], one.irradiance.magnitude, rtol=1e-14)
    took, busy = [], []
    for _ in range(11):
        start, began = time.perf_counter(), time.process_time()
        limit(wave, lasting)
        took.append(time.perf_counter() - start)
        busy.append(time.process_time() - began)
    benchmark.pedantic(lambda: limit(wave, lasting), rounds=3)
    note(f"a million limits of exposure, {band}", took, 0.2)
    # where others use the machine too, the processor's time is what can be told
    assert note(f"a million limits of exposure, {band}, of the processor", busy, 0.2) <= 0.2
