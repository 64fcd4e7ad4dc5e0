"""Errors of place: shares, sums, and what a motor's part is."""

from __future__ import annotations

import math

import numpy as np
import pytest

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused, WordError
from mathlib.motion import error_budget
from mathlib.motion.error_budget import SOURCES, budget


def test_shares_and_sums_by_hand():
    found = budget({"step_accuracy": "0.010 mm", "eccentricity": "0.03 mm", "friction_lag": "5 um"})
    # squares: 1e-4 / 3 = 3.3333e-5; 9e-4 / 2 = 4.5e-4; 2.5e-5; together 5.08333e-4
    assert found.shares["step_accuracy"] == pytest.approx(3.33333e-5 / 5.083333e-4, rel=1e-5)
    assert found.shares["eccentricity"] == pytest.approx(4.5e-4 / 5.083333e-4, rel=1e-5)
    assert found.motor_share == pytest.approx(5.83333e-5 / 5.083333e-4, rel=1e-5)
    assert found.expanded.to("mm").magnitude == pytest.approx(2 * math.sqrt(5.083333e-4), rel=1e-6)
    assert found.worst.to("mm").magnitude == pytest.approx(0.045)


def test_the_shapes_against_drawn_places():
    rng = np.random.default_rng(1)
    drawn = {
        "ends": rng.choice([-1.0, 1.0], 200_000),
        "sine": np.sin(rng.uniform(0, 2 * np.pi, 200_000)),
        "flat": rng.uniform(-1, 1, 200_000),
    }
    for shape, values in drawn.items():
        assert values.std() == pytest.approx(error_budget.SHAPES[shape], rel=0.01)


def test_every_source_has_a_shape_and_the_motors_are_told_apart():
    assert {shape for shape, _, _ in SOURCES.values()} <= set(error_budget.SHAPES)
    motors = {name for name, (_, own, _) in SOURCES.items() if own}
    assert motors == {"step_accuracy", "detent", "friction_lag", "acceleration_lag"}


def test_shares_of_all_sources_add_to_one_for_arrays_too():
    rng = np.random.default_rng(2)
    found = budget({name: Q(rng.uniform(0.001, 0.1, 50), "mm") for name in SOURCES})
    np.testing.assert_allclose(sum(found.shares.values()), 1.0, rtol=1e-12)
    assert np.all(found.worst >= found.expanded / 2)


def test_a_motor_that_slips_has_no_budget():
    found = budget({"friction_lag": Q(float("nan"), "mm"), "tooth": "0.01 mm"})
    assert np.isnan(found.expanded.magnitude)


def test_refusals():
    with pytest.raises(WordError, match="there is no source friction"):
        budget({"friction": "1 mm"})
    with pytest.raises(UnitError, match="tooth needs a length"):
        budget({"tooth": "1 N"})
    with pytest.raises(ValueRefused, match="all bands are zero"):
        budget({"tooth": "0 mm"})
