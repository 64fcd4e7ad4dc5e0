"""A caustic of a million points against the same line of NumPy."""

from __future__ import annotations

import numpy as np
from conftest import paired

from mathlib import Q
from mathlib.laser import beams

POINTS = 1_000_000
LIMIT = 1.05


def test_a_caustic_of_a_million_points_against_numpy(benchmark):
    place = np.linspace(-5.0, 5.0, POINTS)
    told = {"waist_diameter": Q(0.1, "mm"), "rayleigh_length": Q(1.2, "mm")}
    along = Q(place, "mm")

    def ours():
        return beams.diameter_at(distance=along, **told)

    def theirs():
        return 0.1 * np.sqrt(1 + (place / 1.2) ** 2)

    np.testing.assert_allclose(ours().magnitude, theirs(), rtol=1e-13)
    found = paired("caustic, diameter_at, 1e6 points", ours, theirs)
    benchmark(ours)
    assert found.median <= LIMIT


def test_the_record_of_a_beam_against_numpy(benchmark):
    place = np.linspace(-5.0, 5.0, POINTS)
    beam = beams.Beam(
        wavelength="445 nm", beam_quality=15, waist_diameter="0.1 mm", waist_place="0.3 mm"
    )
    length = float(beam.rayleigh_length.magnitude)
    along = Q(place, "mm")

    def ours():
        return beam.diameter(along)

    def theirs():
        return 0.1 * np.sqrt(1 + ((place - 0.3) / length) ** 2)

    np.testing.assert_allclose(ours().magnitude, theirs(), rtol=1e-12)
    found = paired("caustic, Beam.diameter, 1e6 points", ours, theirs)
    benchmark(ours)
    assert found.median <= LIMIT
