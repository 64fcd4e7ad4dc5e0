"""Interleaved pairs: each round runs both sides, so that a busy moment hits both."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest

ROUNDS = 31
_ROWS: list[str] = []


@dataclass(frozen=True)
class Pairs:
    """Ratios of ours over theirs, and both medians in seconds."""

    ours: float
    theirs: float
    median: float
    low: float
    high: float


def paired(name: str, ours: Callable[[], Any], theirs: Callable[[], Any], repeat: int = 1) -> Pairs:
    """Time both sides in turn, in alternating order, and note a line for the summary."""

    def once(call: Callable[[], Any]) -> float:
        start = time.perf_counter()
        for _ in range(repeat):
            call()
        return (time.perf_counter() - start) / repeat

    once(ours), once(theirs)
    both = []
    for number in range(ROUNDS):
        if number % 2:
            ours_took, theirs_took = once(ours), once(theirs)
        else:
            theirs_took, ours_took = once(theirs), once(ours)
        both.append((ours_took, theirs_took))
    ratios = sorted(a / b for a, b in both)
    low, median, high = statistics.quantiles(ratios, n=4)
    made = Pairs(
        statistics.median(a for a, _ in both),
        statistics.median(b for _, b in both),
        median,
        low,
        high,
    )
    _ROWS.append(
        f"{name}: {made.median:.3g} x (quartiles {low:.3g} to {high:.3g}); "
        f"{_told(made.ours)} against {_told(made.theirs)}"
    )
    return made


def note(name: str, seconds: list[float], limit: float) -> float:
    """Note the median of single timings and the limit beside."""
    low, median, high = statistics.quantiles(seconds, n=4)
    _ROWS.append(
        f"{name}: {_told(median)} (quartiles {_told(low)} to {_told(high)}), limit {_told(limit)}"
    )
    return median


def _told(seconds: float) -> str:
    for size, unit in ((1.0, "s"), (1e-3, "ms"), (1e-6, "us")):
        if seconds >= size:
            return f"{seconds / size:.3g} {unit}"
    return f"{seconds * 1e9:.3g} ns"


def _calibration() -> str:
    """A fixed piece of plain Python and of NumPy, to compare machines by."""
    import numpy as np

    start = time.perf_counter()
    total = 0.0
    for number in range(1_000_000):
        total += number * 0.5
    plain = time.perf_counter() - start
    values = np.linspace(1.0, 2.0, 1_000_000)
    start = time.perf_counter()
    for _ in range(10):
        np.sqrt(values)
    roots = (time.perf_counter() - start) / 10
    return f"calibration: a million Python steps {_told(plain)}, a million roots {_told(roots)}"


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    if _ROWS:
        terminalreporter.section("pairs and limits")
        for row in [_calibration(), *_ROWS]:
            terminalreporter.write_line(row)
