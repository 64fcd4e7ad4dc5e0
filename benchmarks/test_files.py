"""Reading large logs: a clean one, and one with chatter, lines cut short and cells in doubt.

Timed by the processor's clock, so that a busy machine does not count.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from conftest import note

from mathlib.measure import files

MEGABYTES = 60


@pytest.fixture(scope="module")
def clean(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three axes of an accelerometer, time in seconds; synthetic."""
    rng = np.random.default_rng(5)
    path = tmp_path_factory.mktemp("logs") / "clean.csv"
    with path.open("w") as file:
        file.write("t [s],accel_x [m/s^2],accel_y [m/s^2],accel_z [m/s^2]\n")
        for part in range(MEGABYTES):
            n = 29_000
            t = (np.arange(n) + part * n) / 3200.0
            values = np.column_stack([t, rng.normal(size=(n, 3))])
            np.savetxt(file, values, fmt=["%.6f", "%.5f", "%.5f", "%.5f"], delimiter=",")
    return path


@pytest.fixture(scope="module")
def messy(clean: Path) -> Path:
    """The same with chatter, comments, lines cut short, nan and doubtful cells; Windows lines."""
    rng = np.random.default_rng(6)
    path = clean.with_name("messy.csv")
    with clean.open() as file, path.open("w", newline="\r\n") as out:
        for number, line in enumerate(file):
            chance = rng.random() if number else 1.0
            if chance < 0.02:
                out.write(f"busy: T={number % 90}.5 /0.0\n")
            elif chance < 0.025:
                out.write("# note\n")
            elif chance < 0.03:
                line = line[: len(line) // 2] + "\n"
            elif chance < 0.035:
                line = line.rpartition(",")[0] + ",nan\n"
            elif chance < 0.04:
                line = line.rstrip("\n") + "?\n"
            out.write(line)
    return path


def _speed(name: str, path: Path, limit: float, **choices: str) -> float:
    size = path.stat().st_size / 1e6
    took = []
    for _ in range(4):
        start = time.process_time()
        table = files.read(path, **choices)
        took.append(time.process_time() - start)
        assert len(table) > 1e6
        del table
    median = note(f"{name}, {size:.0f} MB", took[1:], size / limit)
    return size / median


def test_clean_log(clean: Path) -> None:
    assert _speed("clean log", clean, 60) >= 60


def test_messy_log(messy: Path) -> None:
    assert _speed("messy log", messy, 15, doubtful="keep") >= 15


def test_memory_is_bounded(messy: Path) -> None:
    """At most three times the table's numbers beyond what the libraries take."""
    code = (
        "import re, sys, pandas\n"
        "from mathlib.measure import files\n"
        "told = lambda: open('/proc/self/status').read()\n"
        "peak = lambda: int(re.search(r'VmHWM:\\s*(\\d+)', told())[1]) / 1e3\n"
        "before = peak()\n"
        "table = files.read(sys.argv[1], doubtful='keep')\n"
        "print(peak() - before, 32e-6 * len(table))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(messy)], capture_output=True, text=True, check=True
    )
    more, table = map(float, done.stdout.split())
    assert more < 3 * table + 150, f"{more:.0f} MB for a table of {table:.0f} MB"
    assert more > table
