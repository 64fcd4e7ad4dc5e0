"""Questions that builders ask of records and files, with the right answers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from mathlib import Q
from mathlib.measure import files, vibration


def test_res_10_ripples_that_fall_to_60_percent_have_a_damping_of_0_081() -> None:
    """100, 60, 36, 22 um: ln(100 / 60) = 0.511; 0.511 / sqrt(4 pi^2 + 0.511^2) = 0.0810."""
    t = np.arange(4000) / 1000.0
    since = t % 2.0
    swing = 0.6 ** (since * 40.0) * np.cos(2 * np.pi * 40.0 * since)  # 40 periods each second
    rng = np.random.default_rng(10)
    x = 100 * swing + rng.normal(0, 0.2, len(t))
    record = files.Table({"t": Q(t, "s"), "x": Q(x, "um")}, time="t")
    found = vibration.fit_mode(record, "x", kind="taps")
    assert found.damping.magnitude == pytest.approx(0.081, rel=0.05)
    # the damped frequency is 40 Hz; undamped 40 / sqrt(1 - 0.081^2) = 40.13
    assert found.frequency.magnitude == pytest.approx(40.13, rel=2e-3)


def test_data_comma_is_not_thousands_without_being_asked(tmp_path: Path) -> None:
    """A decimal comma read as thousands is the usual mistake: 2,54 mm are not 254 mm."""
    path = tmp_path / "export.csv"
    path.write_text("x [mm];y [mm]\n2,54;1,27\n5,08;2,54\n", encoding="utf-8")
    np.testing.assert_array_equal(files.read(path)["x"].magnitude, [2.54, 5.08])
