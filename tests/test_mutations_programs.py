"""No changed operator or number of the code that writes programs goes unnoticed."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from test_mutations import surviving

#: Tests that look at each module, the quickest first.
TESTS = {
    "mathlib.paths.rs274": ("paths/test_rs274.py",),
    "mathlib.paths.beam_control": ("paths/test_rs274.py",),
    "mathlib.measure.coupon_files": ("measure/test_coupon_files.py",),
    "mathlib.measure.coupon_gate": ("measure/test_coupon_files.py",),
    "mathlib.measure.coupon_drawing": ("measure/test_coupon_files.py",),
}
#: By module: what cannot be noticed, by line and change, and why.
EQUIVALENT: Mapping[str, Mapping[tuple[str, str], str]] = {}


@pytest.mark.slow
@pytest.mark.parametrize("module", sorted(TESTS))
def test_no_mutant_of_a_writer_survives(module: str) -> None:
    asked = [f"tests/{name}" for name in TESTS[module]]
    left, ends = surviving(module, asked, EQUIVALENT.get(module, {}))
    assert left == []
    assert sum(ends.values()) > 4
