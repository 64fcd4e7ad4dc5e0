"""Speed of the answer on power and leads, and of sizing many wires at once."""

from __future__ import annotations

import numpy as np

from mathlib import Q, answers
from mathlib.machine import TAGMAKER, load
from mathlib.motion import wiring


def test_answer(benchmark):
    machine = load(TAGMAKER)
    found = benchmark(answers.power.answer, machine)
    assert found.verdict


def test_a_hundred_thousand_wires(benchmark):
    rng = np.random.default_rng(1)
    lengths, currents = Q(rng.uniform(0.1, 3, 100_000), "m"), Q(rng.uniform(0.1, 6, 100_000), "A")
    found = benchmark(
        lambda: wiring.wire_area(
            length=lengths, current=currents, supply_voltage="24 V", drop="3 %", bundled=6
        )
    )
    assert found.area.magnitude.shape == (100_000,)
