"""Speed of the modes of a whole drive over its work area."""

from __future__ import annotations

import time

import attrs
import numpy as np
from conftest import note

from mathlib import Q
from mathlib.machine import TAGMAKER, load
from mathlib.motion import resonance

X, Y = (
    Q(np.linspace(0.0, 420.0, 100)[None, :], "mm"),
    Q(np.linspace(0.0, 300.0, 100)[:, None], "mm"),
)


def test_modes_of_five_degrees_of_freedom_at_ten_thousand_places(benchmark):
    drive = attrs.evolve(load(TAGMAKER).drive, yaw_stiffness="3000 N*m/rad")

    def field():
        return resonance.modes(drive, X, Y)

    assert field().frequency.magnitude.shape == (100, 100, 5)
    took = []
    for _ in range(31):
        start = time.perf_counter()
        field()
        took.append(time.perf_counter() - start)
    benchmark.pedantic(field, rounds=5)
    assert note("modes, 100 x 100 places, 5 degrees of freedom", took, 0.12) <= 0.12


def test_the_lowest_frequency_alone(benchmark):
    drive = attrs.evolve(load(TAGMAKER).drive, yaw_stiffness="3000 N*m/rad")
    took = []
    for _ in range(31):
        start = time.perf_counter()
        resonance.frequency_map(drive, X, Y)
        took.append(time.perf_counter() - start)
    benchmark.pedantic(lambda: resonance.frequency_map(drive, X, Y), rounds=5)
    assert note("map of the lowest frequency, 100 x 100 places", took, 0.12) <= 0.12
