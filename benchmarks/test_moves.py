"""Speed of planning a path, and of reading a drawing."""

from __future__ import annotations

import time

import numpy as np
from conftest import note

from mathlib import Q, paths
from mathlib.answers import moves as answer
from mathlib.machine import TAGMAKER, load
from mathlib.motion import moves
from mathlib.paths import Path

SEGMENTS = 100_000
TOLD = {"speed": "100 mm/s", "acceleration": "2000 mm/s^2", "deviation": "0.05 mm"}


def wander(segments: int) -> Path:
    """Give a path that bends at random, a tenth of it without marking."""
    rng = np.random.default_rng(1)
    angle = np.cumsum(rng.normal(0.0, 0.3, segments))
    steps = 0.1 * np.column_stack([np.cos(angle), np.sin(angle)])
    points = np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)])
    return Path(points=Q(points, "mm"), on=rng.random(segments) > 0.1)


def seconds(call, times: int = 11) -> list[float]:
    took = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        took.append(time.perf_counter() - start)
    return took


def test_the_time_of_a_job_of_a_hundred_thousand_segments(benchmark):
    path, machine = wander(SEGMENTS), load(TAGMAKER)

    def job():
        return answer.along(machine, path, look_ahead=16)

    took = seconds(job)
    benchmark.pedantic(job, rounds=3)
    assert note("job time of 100 000 segments", took, 1.0) <= 1.0


def test_planning_grows_in_proportion_to_the_segments(benchmark):
    few, many = wander(SEGMENTS), wander(8 * SEGMENTS)
    one = min(seconds(lambda: moves.plan(path=few, **TOLD)))
    eight = min(seconds(lambda: moves.plan(path=many, **TOLD)))
    benchmark.pedantic(lambda: moves.plan(path=few, **TOLD), rounds=5)
    note("plan of 100 000 segments", [one, one], 0.2)
    # arrays of eight times the size leave the cache: somewhat more than eight
    assert eight / one <= 8 * 2.5


def test_reading_a_drawing_of_a_hundred_thousand_curves(benchmark, tmp_path):
    rng = np.random.default_rng(1)
    data = " ".join(f"c1 1 {x:.3f} {y:.3f} {x:.2f} {-y:.2f}" for x, y in rng.random((SEGMENTS, 2)))
    file = tmp_path / "tag.svg"
    file.write_text(f'<svg width="100mm" viewBox="0 0 100000 9"><path d="M0 0{data}"/></svg>')
    took = seconds(lambda: paths.read_svg(file), 3)
    benchmark.pedantic(lambda: paths.read_svg(file), rounds=1)
    note("reading an SVG of 100 000 curves", took, 5.0)
