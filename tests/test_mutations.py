"""What a changed operator or a changed number of the tables is noticed by."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import mutants
import pytest

HERE = Path(__file__).resolve().parent
SAFETY = HERE.parent / "mathlib" / "safety"


def test_the_mutator_changes_one_place_at_a_time() -> None:
    text = "def f(a: int | None, b=2):\n    return not a and (a <= b or b ** 2.0 is a)\n"
    changes = [m.change for m in mutants.mutants(text)]
    assert changes == [
        "2 to 3", "And to Or", "Not dropped", "Or to And", "LtE 0 to Lt", "LtE 0 to Gt",
        "Is 0 to IsNot", "Pow to Mult", "2.0 to 2.2",
    ]  # fmt: skip
    made = {m.change: m.source for m in mutants.mutants(text)}
    assert "a < b or b ** 2.0" in made["LtE 0 to Lt"]
    assert "not (not a)" in made["Not dropped"].replace("not not a", "not (not a)")
    assert "a <= b or b * 2.0 is a" in made["Pow to Mult"]
    assert all(": int | None" in source for source in made.values())


def test_names_and_attributes_are_swapped_and_worked_examples_left() -> None:
    text = "x = np.minimum(a, max(b, c))\ny = Example({'a': 2}, '3 mm', 1e-3)\nz = [0, True, -1]\n"
    changes = [m.change for m in mutants.mutants(text)]
    assert changes == [
        "minimum to maximum", "max to min", "0 to 1", "True to False", "USub dropped", "1 to 2",
    ]  # fmt: skip


def surviving(
    module: str, tests: list[str], equivalent: Mapping[tuple[str, str], str]
) -> tuple[list[list[Any]], dict[str, int]]:
    """Line number, change and line of what survives, and how all ended; in a process of its own."""
    code = (
        f"import json, sys; sys.path.insert(0, {str(HERE)!r})\n"
        "import mutation_runs\n"
        f"left, ends = mutation_runs.survivors({module!r}, {tests!r}, {dict(equivalent)!r})\n"
        "told = [[m.number, m.change, m.line] for m in left]\n"
        "print(json.dumps([told, ends]))\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=HERE.parent
    )
    assert ran.returncode == 0, ran.stderr
    left, ends = json.loads(ran.stdout.splitlines()[-1])
    return left, ends


def test_a_mutant_is_noticed_only_by_a_test_that_looks(tmp_path: Path) -> None:
    """One is put into a function that is loaded, one into a number, one asks a new process."""
    tests = tmp_path / "test_it.py"
    tests.write_text(
        "from mathlib.safety.distances import lens_distance\n"
        "from mathlib.safety.spreading import in_63\n"
        "def test_it():\n"
        "    assert in_63('1/e') == 1.0 and 0.7 < in_63(None) < 0.71\n"
        "    told = dict(focal_length='20 mm', diameter_63='5 mm', power='3 W', limit='2 W/m^2')\n"
        "    far = lens_distance(**told, reflectance=0.5).magnitude\n"
        "    assert 3.908 < far < 3.909\n"
    )
    left, ends = surviving("mathlib.safety.distances", [str(tests)], {})
    changes = {change for _, change, _ in left}
    assert not any("in 'r = f / b" in change for change in changes)
    assert any("in 'E = rho * P" in change for change in changes)
    assert ends["noticed"] >= 5
    left, _ = surviving("mathlib.safety.spreading", [str(tests)], {})
    told = {(change, line) for _, change, line in left}
    line = 'return 1.0 if convention == "1/e" else float(np.sqrt(0.5))'
    assert ("1.0 to 1.1", line) not in told
    assert ("Eq 0 to NotEq", line) not in told
    assert any("a * phi_y" in change for change, _ in told)


_LIMITS = tuple(
    f"safety/test_{name}.py" for name in ("cells", "factors", "directive", "pulses", "exposure")
)
_FORMULAS = "test_formulas.py"
#: Tests that look at each module of limits, marks, distances, smoke and lists.
TESTS: dict[str, tuple[str, ...]] = {
    "apertures": ("safety/test_classes.py", "safety/test_exposure.py", _FORMULAS),
    "cells": _LIMITS,
    "checklist": ("safety/test_checklist.py",),
    "classes": ("safety/test_classes.py", _FORMULAS),
    "corrections": _LIMITS,
    "distances": ("safety/test_distances.py", _FORMULAS),
    "ducts": ("safety/test_ducts.py", _FORMULAS),
    "durations": ("safety/test_classes.py", "safety/test_exposure.py"),
    "exposure": _LIMITS,
    "factors": _LIMITS,
    "filters": ("safety/test_filters.py", _FORMULAS),
    "fumes": ("safety/test_fumes.py", _FORMULAS),
    "limits": _LIMITS,
    "marks": ("safety/test_filters.py",),
    "nozzles": ("safety/test_ducts.py", _FORMULAS),
    "products": ("safety/test_fumes.py",),
    "pulses": _LIMITS,
    "spreading": ("safety/test_distances.py", _FORMULAS),
    "windows": ("safety/test_filters.py",),
}
_ROUNDING = "a tenth more of an allowance for rounding, far below any digit that is shown"
#: By module: what cannot be noticed, by line and change, and why.
EQUIVALENT: dict[str, dict[tuple[str, str], str]] = {
    "marks": {
        (
            "_EVEN: Final = 1e-9  # of a decade: a level at the very limit of a number still "
            "has that number",
            "1e-09 to 1.1000000000000001e-09",
        ): _ROUNDING,
    },
    "corrections": {("EDGE: Final = 1e-12", "1e-12 to 1.1000000000000002e-12"): _ROUNDING},
    "pulses": {
        (
            "_WHOLE: Final = 1 + 1e-12  # so that 0.3 s at 10 Hz are 3 periods",
            "1e-12 to 1.1000000000000002e-12",
        ): _ROUNDING,
    },
}


def test_every_module_with_something_to_change_is_looked_at() -> None:
    changed = {
        path.stem
        for path in SAFETY.glob("*.py")
        if any(mutants.mutants(path.read_text(encoding="utf-8")))
    }
    assert changed == set(TESTS)
    assert set(EQUIVALENT) <= changed


@pytest.mark.slow
@pytest.mark.parametrize("module", sorted(TESTS))
def test_no_mutant_of_the_code_survives(module: str) -> None:
    asked = [f"tests/{name}" for name in TESTS[module]]
    left, ends = surviving(f"mathlib.safety.{module}", asked, EQUIVALENT.get(module, {}))
    assert left == []
    assert sum(ends.values()) > 5


def test_what_each_number_is_checked_by_is_stored() -> None:
    import mutate_exposure

    told = mutate_exposure.stored()
    assert len(told) > 120
    assert set(told.values()) == {*mutate_exposure.INDEPENDENT, mutate_exposure.ONLY}


@pytest.mark.slow
def test_what_each_number_is_checked_by_is_true() -> None:
    import mutate_exposure

    assert mutate_exposure.stored() == mutate_exposure.checked_by()


def test_the_independent_checks_hold_and_notice_a_change() -> None:
    import mutate_exposure
    from mutate_exposure import Place, notices

    assert all(check() for check in mutate_exposure.INDEPENDENT.values())
    row = "eye 400 to 700 nm, 5e-6 to 10 s, retinal thermal"
    assert notices(mutate_exposure.printed_values, Place("exposure_limits", row, "limit [text]"))
    row = "eye 1050 to 1400 nm, 1e-13 to 1e-11 s, retinal thermal"
    for check in mutate_exposure.INDEPENDENT.values():
        assert not notices(check, Place("exposure_limits", row, "limit [text]"))
