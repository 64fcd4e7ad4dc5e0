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
    """Some are put into a function or a formula that is loaded, some ask for a new process."""
    tests = tmp_path / "test_it.py"
    tests.write_text(
        "from mathlib.safety.distances import after_lens\n"
        "def test_it():\n"
        "    told = {'focal_length': '20 mm', 'beam_diameter': '5 mm', 'power': '3 W'}\n"
        "    far = after_lens(**told, limit='2 W/m^2', convention='1/e', reflectance=0.5)\n"
        "    assert 3.908 < far.magnitude < 3.909  # 4 sqrt(4 * 0.5 * 3 / (2 pi))\n"
    )
    left, ends = surviving("mathlib.safety.distances", [str(tests)], {})
    told = {(change.partition(" in ")[0], line) for _, change, line in left}
    assert not any(line.startswith('equation="r = f / b') for _, line in told)
    assert any(line.startswith('equation="E = rho * P') for _, line in told)
    body = 'diameter_63=Q(in_63(convention) * beam_diameter, "m"),'
    assert ("Mult to Div", body) not in told
    assert ("1 to 2", "reflectance: Any = 1,") in told  # nobody leaves it out
    assert ends["noticed"] >= 5


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
_ROUNDING = "an allowance for rounding, far below any digit that is shown"
_AT_THE_EDGE = "only a value at the very end of an allowance for rounding is told otherwise"
_TIE = "of two that are equal either may be taken: the limit is the same"
_LARGER = "a layer or a row more, to which nothing points"
_BY_CHANCE = "such products are equal by chance only"
_STAND_IN = "it stands in where no result is used"
_SPEED = "both ways find the same; one is quicker"
#: By module: what cannot be noticed, by line and change, and why.
EQUIVALENT: dict[str, dict[tuple[str, str], str]] = {
    "cells": {
        (
            "_MANY: Final = 512  # values from which comparing with every edge is faster than a "
            "search",
            "512 to 513",
        ): _SPEED,
        ("if np.size(value) < _MANY:", "Lt 0 to LtE"): _SPEED,
        ("if np.size(value) < _MANY:", "Lt 0 to Gt"): _SPEED,
        (
            "shape = (self.waves.size + 1, self.times.size + 1, self.angles.size + 1)",
            "1 to 2",
        ): _LARGER,
        ("self.count[where] += 1", "1 to 2"): _LARGER,
        ("size = (max(1, int(self.count.max())), *shape)", "1 to 2"): _LARGER,
        (
            "if curve.factor not in printed.factors or not low <= middle < high:",
            "LtE 0 to Lt",
        ): "the middle between two edges is no edge",
        (
            "if curve.factor not in printed.factors or not low <= middle < high:",
            "Lt 1 to LtE",
        ): "the middle between two edges is no edge",
        (
            "more = np.flatnonzero(self.count[at] > layer)",
            "Gt 0 to GtE",
        ): "where no more layers are they hold infinity",
        ("count += (value >= edge).view(np.uint8)", "GtE 0 to Gt"): _AT_THE_EDGE,
    },
    "classes": {("lower = on & (value < made)", "Lt 0 to LtE"): _TIE},
    "corrections": {
        ("EDGE: Final = 1e-12", "1e-12 to 1.1000000000000002e-12"): _ROUNDING,
        ("return value > edge * (1 - EDGE)", "Gt 0 to GtE"): _AT_THE_EDGE,
        (
            "out = (base < low * (1 - EDGE)) | (base > high * (1 + EDGE))",
            "Gt 0 to GtE",
        ): _AT_THE_EDGE,
    },
    "distances": {
        (
            '"cos(theta) >= 0; behind the surface there is no light of it",',
            "GtE 0 to Gt in 'cos(theta) >= 0; behind the surface there is no light of it'",
        ): "no angle that a computer can hold has a cosine of 0",
    },
    "durations": {
        (
            "_HALVINGS: Final = 60  # of the logarithm of a time that spans at most four decades",
            "60 to 61",
        ): "one halving more than a number can tell",
        ("high = np.full_like(given, end * (1 - 4 * EDGE))", "4 to 5"): _ROUNDING,
        ("if not np.all(whole | ~going):", "BitOr to BitAnd"): _SPEED,
    },
    "ducts": {
        (
            'holds=("v * d > 4000 * nu; the flow is turbulent",),',
            "Gt 0 to GtE in 'v * d > 4000 * nu; the flow is turbulent'",
        ): _BY_CHANCE,
    },
    "exposure": {("if np.any(duration * rate > 1 + EDGE):", "Gt 0 to GtE"): _AT_THE_EDGE},
    "factors": {
        (
            "edition = LAW if by_law(who, edition) else EDITIONS[0]",
            "0 to 1",
        ): "both newer editions have the same factors",
    },
    "filters": {
        (
            'return Q(np.linspace(*band(laser), 41), "nm")',
            "41 to 42",
        ): "how finely a band is looked at between its ends",
    },
    "limits": {
        ("cell = np.where(most < made, there, cell)", "Lt 0 to LtE"): _TIE,
        (
            'return bool(of_these and np.any(holds(band(row, "wavelength"), wave)))',
            "any to all",
        ): "no cell reaches over the end of such a band",
    },
    "nozzles": {
        (
            "\"p >= p_a * ((g + 1) / 2)**(g / (g - 1)); below about 0.9 bar over the room's "
            'pressure it "',
            'GtE 0 to Gt in "p >= p_a * ((g + 1) / 2)**(g / (g - 1)); below about 0.9 bar over '
            "the room's pressure it is not choked\"",
        ): _BY_CHANCE,
        (
            "\"p < p_a * ((g + 1) / 2)**(g / (g - 1)); from about 0.9 bar over the room's "
            'pressure on it "',
            'Lt 0 to LtE in "p < p_a * ((g + 1) / 2)**(g / (g - 1)); from about 0.9 bar over '
            "the room's pressure on it is choked\"",
        ): _BY_CHANCE,
        ("sound = every[1] >= _CHOKES_AT * every[3]", "GtE 0 to Gt"): _BY_CHANCE,
    },
    "marks": {
        (
            "_EVEN: Final = 1e-9  # of a decade: a level at the very limit of a number still "
            "has that number",
            "1e-09 to 1.1000000000000001e-09",
        ): _ROUNDING,
    },
    "spreading": {
        (
            'holds=("pi * D**2 * M < 4 * P; less power than that never exceeds the limit",),',
            "Lt 0 to LtE in 'pi * D**2 * M < 4 * P; less power than that never exceeds the limit'",
        ): _BY_CHANCE,
        ("above = np.asarray(power) > least", "Gt 0 to GtE"): _BY_CHANCE,
        ('power=Q(np.where(above, power, 2 * least), "W"),', "Mult to Div"): _STAND_IN,
        ('power=Q(np.where(above, power, 2 * least), "W"),', "2 to 3"): _STAND_IN,
    },
    "pulses": {
        (
            "_WHOLE: Final = 1 + 1e-12  # so that 0.3 s at 10 Hz are 3 periods",
            "1e-12 to 1.1000000000000002e-12",
        ): _ROUNDING,
        ("lower = value < best", "Lt 0 to LtE"): _TIE,
        (
            "lasting = np.minimum(duration + (within - 1.0) / rate, together * (1 - 4 * EDGE))",
            "4 to 5",
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
