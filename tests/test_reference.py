"""Published and derived values, each with its source, against the function that gives them.

``reference/*.csv`` holds the cases: inputs by name, the expected value with its unit, how
closely, and where it comes from. ``reference/map.csv`` says for each (topic, quantity) how the
library is asked, so that more cases of the same kinds need no code:

- ``call``: dotted name below mathlib; a formula, its ``.solve``, or a function.
- ``inputs``: ``keyword = expression`` for each keyword, parted by semicolons. In an expression
  stand the case's columns (an odd name such as ``a/w`` with ``_`` for what is no letter), numbers,
  ``pi``, texts, ``q('9 mm')`` for a quantity, ``+ - * /``, lists, and calls of the library by
  dotted name. ``- = column`` names a column that the call does not need.
- ``read``: the same kind of expression over ``result`` (and columns); ``result.worst`` reads an
  attribute, ``result[1]`` an element.
"""

from __future__ import annotations

import ast
import csv
import importlib
import math
import operator
import re
from pathlib import Path
from typing import Any

import pytest

from mathlib import Q, units

HERE = Path(__file__).parent / "reference"
OPERATIONS = {
    ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv,
}  # fmt: skip


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


MAP = {(row["topic"], row["quantity"]): row for row in rows(HERE / "map.csv")}
CASES = [
    pytest.param(row, id=f"{path.stem}-{row['id']}")
    for path in sorted(HERE.glob("*.csv"))
    if path.stem != "map"
    for row in rows(path)
]


def dotted(name: str) -> Any:
    """Find what a dotted name stands for: the longest part that is a module, then attributes."""
    parts = name.split(".")
    for n in range(len(parts) - 1, 0, -1):
        try:
            found = importlib.import_module("mathlib." + ".".join(parts[:n]))
        except ModuleNotFoundError:
            continue
        for part in parts[n:]:
            found = getattr(found, part)
        return found
    raise LookupError(name)


def column(name: str) -> str:
    return re.sub(r"\W", "_", name.strip())


def value_of(text: str) -> Any:
    """Read one input: a number with a unit, several of one unit, a bare number, or a word."""
    number, _, unit = text.strip().partition(" ")
    if "|" in number:
        return Q([float(n) for n in number.split("|")], unit.strip() or "1")
    try:
        return Q(float(number), unit.strip() or "1")
    except ValueError:
        return text.strip()


def inputs_of(case: dict[str, str]) -> dict[str, Any]:
    if case["inputs"] == "-":
        return {}
    # at the last =, since some names hold one; that of >= is none
    pairs = (re.fullmatch(r"(.*)(?<![<>])=(.*)", part) for part in case["inputs"].split(";"))
    return {column(pair[1]): value_of(pair[2]) for pair in pairs}


def work_out(node: ast.AST, names: dict[str, Any]) -> Any:
    """Evaluate the small language of the map, and nothing else."""
    if isinstance(node, ast.Constant):
        return node.value
    if isinstance(node, ast.Name):
        return names[node.id]
    if isinstance(node, ast.BinOp):
        return OPERATIONS[type(node.op)](work_out(node.left, names), work_out(node.right, names))
    if isinstance(node, ast.List):
        return [work_out(item, names) for item in node.elts]
    if isinstance(node, ast.Attribute):
        return getattr(work_out(node.value, names), node.attr)
    if isinstance(node, ast.Subscript):
        return work_out(node.value, names)[work_out(node.slice, names)]
    assert isinstance(node, ast.Call), ast.dump(node)
    name = ast.unparse(node.func)
    plain = [work_out(item, names) for item in node.args]
    told = {item.arg or "": work_out(item.value, names) for item in node.keywords}
    return Q(*plain) if name == "q" else dotted(name)(*plain, **told)


def asked(row: dict[str, str]) -> list[tuple[str, str]]:
    """Pairs of keyword and expression."""
    pairs = (part.split(" = ", 1) for part in row["inputs"].split("; "))
    return [(keyword.strip(), expression.strip()) for keyword, expression in pairs]


def names_in(expression: str) -> set[str]:
    return {n.id for n in ast.walk(ast.parse(expression)) if isinstance(n, ast.Name)}


@pytest.mark.parametrize("case", CASES)
def test_reference(case: dict[str, str]) -> None:
    row = MAP[case["topic"], case["quantity"]]
    names = inputs_of(case) | {"pi": math.pi}
    words = {
        keyword: work_out(ast.parse(expression, mode="eval").body, names)
        for keyword, expression in asked(row)
        if keyword != "-"
    }
    result = dotted(row["call"])(**words)
    read = work_out(ast.parse(row["read"], mode="eval").body, names | {"result": result})
    expected = Q(float(case["expected"]), case["unit"])
    assert units.problem(read._units, expected._units) == ""
    wanted = units.kind(expected._units).factor * expected.magnitude
    found = units.kind(read._units).factor * read.magnitude
    assert found == pytest.approx(wanted, rel=float(case["rel_tol"]))


@pytest.mark.parametrize("case", CASES)
def test_every_column_is_used_or_named_as_not_needed(case: dict[str, str]) -> None:
    row = MAP[case["topic"], case["quantity"]]
    used = set().union(*(names_in(expression) for _, expression in asked(row)))
    assert set(inputs_of(case)) <= used | names_in(row["read"])


@pytest.mark.parametrize("case", CASES)
def test_every_case_has_a_source_and_a_tolerance(case: dict[str, str]) -> None:
    assert len(case["source"]) > 2
    assert case["kind"] in ("published", "derived")
    # A value read off a printed chart by eye is no closer than the width of its lines, and one
    # that is printed with a single digit, such as "0.03 %", no closer than half of that digit.
    coarse = "chart reading" in case["quantity"] or len(case["expected"].strip("0.")) == 1
    # A datum for a model that has no closed form is no closer than one board is to the next, and
    # a record that was published as a warning no closer than the +- that stands beside it.
    datum = "VALIDATION DATUM" in case["quantity"] or "NEGATIVE case" in case["quantity"]
    assert 0 < float(case["rel_tol"]) <= (0.25 if datum else 0.15 if coarse else 0.07)


def test_the_map_has_each_kind_of_case_once() -> None:
    kinds = {(case.values[0]["topic"], case.values[0]["quantity"]) for case in CASES}
    assert set(MAP) == kinds
    assert len(MAP) == len(rows(HERE / "map.csv"))


def test_a_wrong_expected_value_is_noticed() -> None:
    case = dict(CASES[0].values[0]) | {"expected": "1.0"}
    with pytest.raises(AssertionError):
        test_reference(case)
