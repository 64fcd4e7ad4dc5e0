"""What a changed operator or a changed number of the tables is noticed by."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import mutants
import pytest

HERE = Path(__file__).resolve().parent


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


def test_a_mutant_is_noticed_only_by_a_test_that_looks(tmp_path: Path) -> None:
    """In a process of its own, since the module must not be loaded yet."""
    tests = tmp_path / "test_it.py"
    tests.write_text(
        "from mathlib.safety.corrections import reached\n"
        "def test_it(): assert reached(2.0, 1.0) and not reached(1.0, 2.0)\n"
    )
    code = (
        f"import sys; sys.path.insert(0, {str(HERE)!r})\n"
        "import mutants\n"
        "path = mutants.ROOT / 'mathlib/safety/corrections.py'\n"
        "text = path.read_text()\n"
        "def seen(old, new):\n"
        "    assert old in text\n"
        "    return mutants._notices('mathlib.safety.corrections', path, text.replace(old, new),\n"
        f"                            [{str(tests)!r}])\n"
        "print(seen('return value > edge *', 'return value < edge *'))\n"
        "print(seen('EDGE: Final = 1e-12', 'EDGE: Final = 2e-12'))"
    )
    told = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=HERE.parent
    )
    assert told.stdout.split() == ["True", "False"], told.stderr


#: Tests that look at each module of limits, marks and distances, the quickest first.
TESTS: dict[str, tuple[str, ...]] = {
    "apertures": ("exposure", "classes"),
    "cells": ("exposure", "pulses"),
    "classes": ("classes",),
    "corrections": ("exposure", "pulses"),
    "distances": ("distances",),
    "ducts": ("ducts",),
    "durations": ("exposure",),
    "exposure": ("exposure", "pulses"),
    "factors": ("exposure", "pulses"),
    "filters": ("filters",),
    "fumes": ("fumes",),
    "limits": ("exposure", "pulses"),
    "marks": ("filters",),
    "pulses": ("pulses", "exposure"),
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


@pytest.mark.slow
@pytest.mark.parametrize("module", sorted(TESTS))
def test_no_mutant_of_the_code_survives(module: str) -> None:
    asked = [f"tests/safety/test_{name}.py" for name in TESTS[module]]
    code = (
        f"import sys; sys.path.insert(0, {str(HERE)!r})\n"
        "import mutants\n"
        f"left, total = mutants.survivors('mathlib.safety.{module}', {asked!r}, "
        f"{EQUIVALENT.get(module, {})!r})\n"
        "for m in left: print(f'{m.number}: {m.change}: {m.line}')\n"
        "assert total > 10\n"
    )
    told = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=HERE.parent
    )
    assert told.returncode == 0, told.stderr
    assert told.stdout == ""


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
