"""Change one operator, comparison or number of a text of Python at a time.

``mutation_runs`` puts the changes into a module and looks whether tests notice.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from typing import Any, NamedTuple

_COMPARED: dict[type, tuple[type, ...]] = {
    ast.Lt: (ast.LtE, ast.Gt),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_OPERATED: dict[type, type] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.And: ast.Or,
    ast.Or: ast.And,
}
_CALLED = {
    a: b
    for pair in (
        ("minimum", "maximum"), ("floor", "ceil"), ("min", "max"), ("all", "any"),
        ("argmin", "argmax"), ("log", "exp"), ("sin", "cos"),
    )
    for a, b in (pair, pair[::-1])
}  # fmt: skip


class Mutant(NamedTuple):
    """One change: the line as it stands, what was put for what, the whole text, and where it is.

    ``within`` names the function, such as ("Grid", "lowest"); empty outside of one. ``of_formula``
    tells changes of a formula's equation or conditions.
    """

    line: str
    number: int
    change: str
    source: str
    within: tuple[str, ...]
    of_formula: bool


class _Change(NamedTuple):
    """A field of a node, what to put there, and its name."""

    node: ast.AST
    field: str
    new: Any
    name: str


def _name(op: Any) -> str:
    return type(op).__name__ if isinstance(op, ast.AST) else repr(op)


def _changes(node: ast.AST) -> Iterator[_Change]:
    if isinstance(node, ast.Compare):
        for index, op in enumerate(node.ops):
            for other in _COMPARED.get(type(op), ()):
                new = [*node.ops[:index], other(), *node.ops[index + 1 :]]
                yield _Change(node, "ops", new, f"{_name(op)} {index} to {other.__name__}")
    elif isinstance(node, ast.BinOp | ast.BoolOp | ast.AugAssign):
        other = _OPERATED.get(type(node.op))
        if other:
            yield _Change(node, "op", other(), f"{_name(node.op)} to {other.__name__}")
    elif isinstance(node, ast.UnaryOp):
        if isinstance(node.op, ast.USub | ast.Not | ast.Invert):
            twice = ast.UnaryOp(node.op, node.operand)
            yield _Change(node, "operand", twice, f"{_name(node.op)} dropped")
    elif isinstance(node, ast.Constant):
        value = node.value
        if isinstance(value, bool):
            yield _Change(node, "value", not value, f"{value} to {not value}")
        elif isinstance(value, int | float):
            new = value + 1 if isinstance(value, int) else (value * 1.1 if value else 1.0)
            yield _Change(node, "value", new, f"{value!r} to {new!r}")
    elif isinstance(node, ast.Attribute) and node.attr in _CALLED:
        other_name = _CALLED[node.attr]
        yield _Change(node, "attr", other_name, f"{node.attr} to {other_name}")
    elif isinstance(node, ast.Name) and node.id in _CALLED:
        other_name = _CALLED[node.id]
        yield _Change(node, "id", other_name, f"{node.id} to {other_name}")


def _equations(node: ast.AST) -> Iterator[_Change]:
    """Changes of the right-hand side of a formula, and of the conditions under which it holds."""
    for asked in node.keywords if isinstance(node, ast.Call) else ():
        if asked.arg not in ("equation", "holds"):
            continue
        value = asked.value
        for text in value.elts if isinstance(value, ast.Tuple) else [value]:
            if isinstance(text, ast.Constant):
                left, equals, right = text.value.partition(" = ")
                before, changed = (left + equals, right) if equals else ("", left)
                changed, semicolon, why = changed.partition(";")
                for made in mutants(changed.strip()):
                    new = before + made.source + semicolon + why
                    yield _Change(text, "value", new, f"{made.change} in {text.value!r}")


_Within = tuple[str, ...]


def _walk(node: ast.AST, path: _Within = (), inside: bool = False) -> Iterator[tuple[Any, _Within]]:
    """Every node that is run, and its function: no annotations, texts, or worked examples."""
    if isinstance(node, ast.Call) and ast.unparse(node.func) == "Example":
        return
    if isinstance(node, ast.keyword) and node.arg == "strict":  # of zip: a check, not a result
        return
    yield node, path if inside else ()
    named = isinstance(node, ast.ClassDef | ast.FunctionDef) and not inside
    for field, value in ast.iter_fields(node):
        if field in ("annotation", "returns", "decorator_list"):
            continue
        here = (*path, node.name) if named else path  # type: ignore[attr-defined]
        body = inside or (isinstance(node, ast.FunctionDef) and field == "body")
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST) and not isinstance(child, ast.JoinedStr):
                yield from _walk(child, here, body)


def mutants(source: str) -> Iterator[Mutant]:
    """Every change of one place in a text of Python.

    >>> [m.change for m in mutants("a = b + 2 if c < d else -1")]
    ['Lt 0 to LtE', 'Lt 0 to Gt', 'Add to Sub', '2 to 3', 'USub dropped', '1 to 2']
    """
    tree = ast.parse(source)
    lines = source.splitlines()
    for node, within in list(_walk(tree)):
        told = [(change, False) for change in _changes(node)]
        told += [(change, True) for change in _equations(node)]
        for change, of_formula in told:
            old = getattr(change.node, change.field)
            setattr(change.node, change.field, change.new)
            text = ast.unparse(ast.fix_missing_locations(tree))
            setattr(change.node, change.field, old)
            number = getattr(change.node, "lineno", 1)
            line = lines[number - 1].strip()
            yield Mutant(line, number, change.name, text, within, of_formula)
