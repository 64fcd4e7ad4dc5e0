"""The lattice of reachable points, against a search over the points themselves."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import cKDTree
from scipy.stats import qmc

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.motion import lattice


@pytest.mark.parametrize("belts", ["plain", "shaft", "crossed", "single"])
def test_nearest_points_by_search(belts: str) -> None:
    steps = np.arange(-12, 13)
    a, b = (grid.ravel().astype(float) for grid in np.meshgrid(steps, steps))
    crossed = belts in ("crossed", "single")
    # Each motor stands on a whole step of belt: x = (a + b) / 2, y = (a - b) / 2 if crossed.
    points = np.stack([(a + b) / 2, (a - b) / 2] if crossed else [a, b], axis=1)
    wanted = 2 * qmc.Sobol(2, seed=5).random_base2(14)
    distance, _ = cKDTree(points).query(wanted)
    told = lattice.nearest_point_error(belt_step="1 mm", belts=belts)
    # 16384 points come within 1 % of the farthest place, and give the mean square to 0.1 %.
    assert distance.max() <= told.worst.magnitude * (1 + 1e-12)
    assert distance.max() == pytest.approx(told.worst.magnitude, rel=0.02)
    assert np.sqrt(np.mean(distance**2)) == pytest.approx(told.rms.magnitude, rel=2e-3)


def test_crossed_belts_halve_the_cell() -> None:
    step = Q([0.0125, 0.01], "mm")
    plain = lattice.nearest_point_error(belt_step=step, belts="plain")
    crossed = lattice.nearest_point_error(belt_step=step, belts="crossed")
    # The cell has half the area, so every distance shrinks by the root of two.
    for one, other in zip(plain, crossed, strict=True):
        np.testing.assert_allclose(one.magnitude / other.magnitude, np.sqrt(2), rtol=1e-12)


def test_an_unknown_layout_is_refused() -> None:
    with pytest.raises(ValueRefused, match=r"belts is .*got 'round'"):
        lattice.nearest_point_error(belt_step="1 mm", belts="round")


def test_speed_and_force_of_crossed_belts_trade() -> None:
    # Virtual work: two motors of full force at the faster belt's speed do the head's work.
    along = {"direction": Q([0, 10, 45, 80, 90], "deg")}
    faster = lattice.crossed_belt_speed(speed="100 mm/s", **along).magnitude
    force = lattice.crossed_force(belt_force="30 N", **along).magnitude
    np.testing.assert_allclose(faster[[0, 2, 4]], [100, 100 * np.sqrt(2), 100], rtol=1e-12)
    np.testing.assert_allclose(force * faster, 2 * 30 * 100, rtol=1e-12)


@pytest.mark.parametrize(
    ("spacing", "lines"),
    [
        (0.085, 5.0),  # 6.8 steps of 1/80 mm: every fifth gap is a step narrower
        (0.1, np.inf),  # 8 steps
        (0.096, 3.125),  # 7.68 steps: 0.32 steps short each time
    ],
)
def test_lines_between_beats(spacing: float, lines: float) -> None:
    found = lattice.lines_per_beat(line_spacing=Q(spacing, "mm"), steps_per_length="80 step/mm")
    assert found.magnitude == pytest.approx(lines, rel=1e-9)
