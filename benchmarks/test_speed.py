"""Speed against hand-written code and against fixed limits; run apart from the tests.

.venv/bin/python -m pytest benchmarks -p no:cacheprovider
"""

from __future__ import annotations

import subprocess
import sys
import time
import tracemalloc
from pathlib import Path

import numpy as np
from conftest import note, paired

from mathlib import Q, answers
from mathlib.formula import Formula
from mathlib.machine import TAGMAKER, load

ROOT = Path(__file__).resolve().parent.parent
POINTS = 1_000_000

# Six inputs of different units; a mix of cheap and dear operations, as formulas here have.
six = Formula(
    title="Six inputs",
    equation="y = sqrt(k * m / (r * F)) * v / (1 + t / s)",
    where={
        "y": ("speed", "mm/s", "result"),
        "k": ("stiffness", "N/mm", "first"),
        "m": ("length", "mm", "second"),
        "r": ("ratio", "1", "third"),
        "F": ("force", "kN", "fourth"),
        "v": ("travel_speed", "mm/s", "fifth"),
        "t": ("time", "ms", "sixth"),
        "s": ("period", "s", "a constant", "positive", "1 s", "chosen"),
    },
    assumes=("it is only timed",),
    source="made for timing",
)


def test_a_scalar_call_against_the_same_arithmetic_in_pint(benchmark):
    told = {
        "stiffness": Q(10.0, "N/mm"),
        "length": Q(0.5, "m"),
        "ratio": Q(2.0, "1"),
        "force": Q(40.0, "N"),
        "travel_speed": Q(6.0, "m/min"),
        "time": Q(0.1, "s"),
        "period": Q(1.0, "s"),
    }
    k, m, r, f, v, t, s = told.values()

    def by_pint():
        return ((k * m / (r * f)) ** 0.5 * v / (1 + t / s)).to("mm/s")

    assert np.isclose(six(**told).magnitude, by_pint().magnitude, rtol=1e-12)
    pair = paired("scalar call against pint", lambda: six(**told), by_pint, repeat=200)
    benchmark(lambda: six(**told))
    assert pair.median <= 1 / 12


def test_a_million_points_against_numpy_without_checks(benchmark):
    rng = np.random.default_rng(1)
    told = {
        word.word: Q(rng.uniform(1.0, 2.0, POINTS), unit)
        for word, unit in zip(six.inputs, ("N/mm", "m", "1", "N", "m/min", "s"), strict=False)
    }
    k, m, r, f, v, t = (
        np.ascontiguousarray(told[w].to_base_units().magnitude)
        for w in ("stiffness", "length", "ratio", "force", "travel_speed", "time")
    )

    def by_hand():
        return np.sqrt(k * m / (r * f)) * v / (1.0 + t / 1.0)

    assert np.allclose(six(**told).to("m/s").magnitude, by_hand(), rtol=1e-12)
    pair = paired("a million points against NumPy", lambda: six(**told), by_hand, repeat=3)
    tracemalloc.start()
    result = six(**told)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    benchmark.pedantic(lambda: six(**told), rounds=10)
    assert peak <= result.magnitude.nbytes + 8_000_000
    assert pair.median <= 1.05
    assert pair.high <= 1.10


def _seconds(code: str) -> float:
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT)
    return time.perf_counter() - start


FIRST = "from mathlib.motion.belts import pitch_diameter as f; f(pitch='2 mm', teeth=20)"


def test_import_alone_and_the_first_formula_in_a_fresh_process(benchmark):
    bare, alone, first = [], [], []
    for _ in range(31):
        bare.append(_seconds("pass"))
        alone.append(_seconds("import mathlib"))
        first.append(_seconds(FIRST))
    over = [a - b for a, b in zip(alone, bare, strict=True)]
    benchmark.pedantic(lambda: _seconds(FIRST), rounds=3)
    assert note("import mathlib, over the bare interpreter", over, 0.05) <= 0.05
    assert note("import and first scalar formula", first, 0.9) <= 0.9


def test_drawn_machines_through_all_answers(benchmark):
    machine = load(TAGMAKER)

    def through():
        drawn = machine.draw(4096)
        return [answers.ask(name, drawn) for name in answers.NAMES]

    took = []
    for _ in range(31):
        start = time.perf_counter()
        through()
        took.append(time.perf_counter() - start)
    benchmark.pedantic(through, rounds=3)
    assert note("4096 machines through all answers", took, 3.0) <= 3.0


def test_record_on_the_tagmaker_from_the_shell(benchmark, tmp_path):
    def record():
        command = [sys.executable, "-m", "mathlib", "record", str(TAGMAKER), "-o", str(tmp_path)]
        start = time.perf_counter()
        subprocess.run(command, check=True, cwd=ROOT, capture_output=True)
        return time.perf_counter() - start

    took = [record() for _ in range(7)]
    benchmark.pedantic(record, rounds=1)
    assert note("record on the Tagmaker", took, 8.0) <= 8.0


def test_gradients_of_two_belts_of_eight_pulleys_over_the_field(benchmark):
    from mathlib.motion.routes import BeltPath, Node

    def belt(mirror: float) -> BeltPath:
        nodes = [
            Node("first", 15.0, 0.0, "carriage"),
            Node("a", 6.0, -6.0, "beam", 6.0, 1.0),
            Node("motor", -6.0, -40.0, "frame", 6.0, -1.0),
            Node("c", -6.0, 340.0, "frame", 6.0, -1.0),
            Node("d", 120.0, 346.0, "frame", 6.0, 1.0),
            Node("e", 240.0, 340.0 + mirror, "frame", 6.0, -1.0),
            Node("f", 360.0, 346.0, "frame", 6.0, 1.0),
            Node("g", 474.0, 340.0, "frame", 6.0, -1.0),
            Node("h", 474.0, 6.0, "beam", 6.0, -1.0),
            Node("last", 45.0, 0.0, "carriage"),
        ]
        return BeltPath(nodes, 2, 240.0)

    routes = [belt(0.0), belt(1.0)]
    x, y = Q(np.linspace(0.0, 420.0, 400)[:, None], "mm"), Q(np.linspace(0.0, 300.0, 300), "mm")

    def field():
        for route in routes:
            at = route.pose(x, y)
            route.lengths(at)
            route.gradients(at)

    took = []
    for _ in range(31):
        start = time.perf_counter()
        field()
        took.append(time.perf_counter() - start)
    benchmark.pedantic(field, rounds=5)
    assert note("two belts of eight pulleys, 400 x 300 places", took, 0.08) <= 0.08
