"""No changed operator or number of the code that writes programs goes unnoticed."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parent
#: Tests that look at each module, the quickest first.
TESTS = {
    "mathlib.paths.rs274": ("paths/test_rs274.py",),
    "mathlib.paths.beam_control": ("paths/test_rs274.py",),
    "mathlib.measure.coupon_files": ("measure/test_coupon_files.py",),
}


@pytest.mark.slow
@pytest.mark.parametrize("module", sorted(TESTS))
def test_no_mutant_of_a_writer_survives(module: str) -> None:
    asked = [f"tests/{name}" for name in TESTS[module]]
    code = (
        f"import sys; sys.path.insert(0, {str(HERE)!r})\n"
        "import mutants\n"
        f"left, total = mutants.survivors({module!r}, {asked!r})\n"
        "for m in left: print(f'{m.number}: {m.change}: {m.line}')\n"
        "assert total > 4\n"
    )
    told = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=HERE.parent
    )
    assert told.returncode == 0, told.stderr
    assert told.stdout == ""
