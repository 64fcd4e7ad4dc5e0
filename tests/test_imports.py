"""Imports run one way through the library, and nothing heavy loads before it is needed."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import mathlib

ROOT = Path(mathlib.__file__).parent
#: From the bottom up: a chapter imports from those above it in this list, and from its own row.
ROWS = (
    ("errors",),
    ("spellings",),
    ("units", "nameplate", "typed"),
    ("words", "ranges"),
    (
        "equation",
        "compiled",
        "shown",
        "labelled",
        "formula",
        "derive",
        "uncertain",
        "fields",
        "tables",
        "catalogue",
    ),
    ("materials", "paths"),
    ("motion", "laser", "safety"),
    ("machine_file", "machine"),
    ("measure", "mark"),
    ("answers",),
    ("choose",),
    ("figures", "record"),
    ("explore", "__main__"),
)
RANK = {chapter: rank for rank, row in enumerate(ROWS) for chapter in row}
#: Looks upwards that are made inside a function, when it is called, and why they must be.
LATE = {
    ("units", "typed"),  # Q reads text, and text is read into quantities
    ("formula", "derive"),  # SymPy loads with derive, and only there
    ("formula", "uncertain"),  # which builds on derive
}
FILES = sorted(ROOT.rglob("*.py"))


def chapter_of(path: Path) -> str:
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def imported(path: Path) -> list[tuple[str, bool]]:
    """Chapters that a file imports, and whether it does so inside a function."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    late = {
        id(node)
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef)
        for node in ast.walk(function)
    }
    typing_only = {
        id(node)
        for block in ast.walk(tree)
        if isinstance(block, ast.If) and ast.unparse(block.test) == "TYPE_CHECKING"
        for node in ast.walk(block)
    }
    found: list[tuple[str, bool]] = []
    for node in ast.walk(tree):
        if id(node) in typing_only:
            continue
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: write imports in full"
            base = node.module or ""
            names = [base] if base != "mathlib" else [f"mathlib.{a.name}" for a in node.names]
        for name in names:
            parts = name.split(".")
            if parts[0] == "mathlib" and len(parts) > 1:
                found.append((parts[1], id(node) in late))
    return found


def test_every_chapter_has_its_row() -> None:
    assert {chapter_of(path) for path in FILES} - {"__init__"} <= set(RANK)


@pytest.mark.parametrize("path", FILES, ids=[str(path.relative_to(ROOT)) for path in FILES])
def test_imports_run_one_way(path: Path) -> None:
    chapter = chapter_of(path)
    if chapter == "__init__":
        assert all(late for _, late in imported(path)), "the package loads nothing by itself"
        return
    for other, late in imported(path):
        name = mathlib._HOMES.get(other, other)  # ``from mathlib import Q`` is from units
        if name not in RANK or name == chapter or (late and (chapter, name) in LATE):
            continue  # a value such as the version, or the chapter itself
        assert RANK[name] <= RANK[chapter], f"{chapter} imports {name}, which builds on it"


@pytest.mark.parametrize("row", ROWS, ids=[row[0] for row in ROWS])
def test_a_row_has_no_circle(row: tuple[str, ...]) -> None:
    needs = {
        chapter: {
            mathlib._HOMES.get(other, other)
            for path in FILES
            if chapter_of(path) == chapter
            for other, late in imported(path)
            if not late
        }
        & (set(row) - {chapter})
        for chapter in row
    }
    while needs:
        ready = {chapter for chapter, others in needs.items() if not others & set(needs)}
        assert ready, f"these import one another: {needs}"
        needs = {chapter: others for chapter, others in needs.items() if chapter not in ready}


def test_late_imports_are_needed() -> None:
    found = {(chapter_of(path), other) for path in FILES for other, late in imported(path) if late}
    assert found >= LATE


HEAVY = ("pint", "numpy", "sympy", "scipy", "matplotlib", "xarray", "IPython", "ipywidgets")


def loaded(code: str) -> set[str]:
    code += f"\nimport sys\nprint(*(set({HEAVY!r}) & sys.modules.keys()))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(done.stdout.splitlines()[-1].split())


def test_the_package_alone_loads_nothing_heavy() -> None:
    assert loaded("import mathlib; mathlib.__version__") == set()


def test_the_first_formula_loads_neither_algebra_nor_plots() -> None:
    first = (
        "from mathlib.motion.resonance import held_carriage_frequency as f\n"
        "assert 15.9 < f(stiffness='10 N/mm', mass='1 kg').magnitude < 16\n"
        "f(stiffness=['10 N/mm'], mass='1 kg'); repr(f); f.latex"
    )
    assert loaded(first) == {"pint", "numpy"}


def test_a_refusal_loads_nothing_more() -> None:
    wrong = (
        "import mathlib\nfrom mathlib.motion.resonance import held_carriage_frequency as f\n"
        "try: f(stiffness='10 mm', mass=3)\nexcept mathlib.errors.UnitError: pass"
    )
    assert loaded(wrong) == {"pint", "numpy"}


def test_the_first_limit_of_exposure_loads_neither_algebra_nor_plots() -> None:
    first = (
        "from mathlib.safety.exposure import class_of_head, limit\n"
        "assert limit('445 nm', '100 s').irradiance.magnitude == 1\n"
        "limit('445 nm', '100 s').notes; class_of_head('1 W', '445 nm')"
    )
    assert loaded(first) == {"pint", "numpy"}
