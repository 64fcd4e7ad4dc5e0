"""Change one operator, comparison or number of a module at a time, and see whether tests notice.

``python tests/mutants.py mathlib.safety.exposure tests/safety`` prints the changes that survive.
Each mutant runs in a child process that has the test tools loaded already; the first failing test
ends it. What cannot be noticed, because nothing that matters changes, is named with its reason by
those who call ``survivors``.
"""

from __future__ import annotations

import ast
import importlib.abc
import importlib.util
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

ROOT = Path(__file__).resolve().parent.parent
LONGEST = 120  # s; a mutant that runs longer has changed what happens, and counts as noticed

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
    """One change: the line as it stands, what was put for what, and the whole text."""

    line: str
    number: int
    change: str
    source: str


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


def _walk(node: ast.AST) -> Iterator[ast.AST]:
    """Every node that is run: no annotations, no texts, no worked examples of formulas."""
    if isinstance(node, ast.Call) and ast.unparse(node.func) == "Example":
        return
    yield node
    for field, value in ast.iter_fields(node):
        if field in ("annotation", "returns", "decorator_list"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST) and not isinstance(child, ast.JoinedStr):
                yield from _walk(child)


def mutants(source: str) -> Iterator[Mutant]:
    """Every change of one place in a text of Python.

    >>> [m.change for m in mutants("a = b + 2 if c < d else -1")]
    ['Lt 0 to LtE', 'Lt 0 to Gt', 'Add to Sub', '2 to 3', 'USub dropped', '1 to 2']
    """
    tree = ast.parse(source)
    lines = source.splitlines()
    for node in list(_walk(tree)):
        for change in _changes(node):
            old = getattr(change.node, change.field)
            setattr(change.node, change.field, change.new)
            text = ast.unparse(ast.fix_missing_locations(tree))
            setattr(change.node, change.field, old)
            number = getattr(node, "lineno", 1)
            yield Mutant(lines[number - 1].strip(), number, change.name, text)


class _Instead(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives one module another text."""

    def __init__(self, module: str, path: Path, source: str) -> None:
        self.module, self.path, self.source = module, path, source

    def find_spec(self, fullname: str, path: Any = None, target: Any = None) -> Any:
        del path, target
        if fullname != self.module:
            return None
        return importlib.util.spec_from_loader(fullname, self, origin=str(self.path))

    def exec_module(self, module: Any) -> None:
        module.__file__ = str(self.path)
        exec(compile(self.source, str(self.path), "exec"), module.__dict__)


class _NoShrinking:
    """A falsified example is enough here; nobody reads a smaller one."""

    def pytest_collection_finish(self) -> None:
        from hypothesis import Phase, settings

        settings.register_profile(
            "mutants",
            settings.default,
            phases=(Phase.explicit, Phase.generate),
            max_examples=30,
        )
        settings.load_profile("mutants")


def _notices(module: str, path: Path, source: str, tests: list[str]) -> bool:
    """Run the tests in a child with the mutated module; tell whether one failed."""
    child = os.fork()
    if child:
        _, status = os.waitpid(child, 0)
        return status != 0
    code = 1
    try:
        import signal

        import pytest

        signal.alarm(LONGEST)
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        sys.meta_path.insert(0, _Instead(module, path, source))
        os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"  # they take longer than the tests
        told = ["-x", "-q", "-p", "no:cacheprovider"]
        told += ["-W", "ignore::pytest.PytestAssertRewriteWarning", *tests]
        code = int(pytest.main(told, plugins=[_NoShrinking()]))
    finally:
        os._exit(code)


def survivors(
    module: str, tests: list[str], equivalent: dict[tuple[str, str], str] | None = None
) -> tuple[list[Mutant], int]:
    """Mutants of a module that the tests let pass, and how many there were in all.

    ``equivalent`` has, by line and change, the reason why nothing that matters changes; an entry
    that no longer stands for a surviving mutant is an error, so that the list stays true.
    """
    known = dict(equivalent or {})
    path = ROOT / (module.replace(".", "/") + ".py")
    source = path.read_text(encoding="utf-8")
    here = {name for name in sys.modules if name == module or name.startswith(module + ".")}
    assert not here, f"{module} is loaded already: ask for its mutants in a fresh process"
    import hypothesis  # noqa: F401 - loaded once for all children
    import numpy  # noqa: F401
    import pytest  # noqa: F401

    import mathlib.formula  # noqa: F401

    assert not _notices(module, path, source, tests), "the tests fail before anything is changed"
    every, alive = list(mutants(source)), []
    for mutant in every:
        if not _notices(module, path, mutant.source, tests):
            alive.append(mutant)
            print(f"{mutant.number}: {mutant.change}: {mutant.line}", file=sys.stderr, flush=True)
    found = {(m.line, m.change) for m in alive}
    stale = [key for key in known if key not in found]
    assert not stale, f"these are noticed, or gone: take them off the list: {stale}"
    return [m for m in alive if (m.line, m.change) not in known], len(every)


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    os.chdir(ROOT)
    left, total = survivors(sys.argv[1], sys.argv[2:])
    print(f"{len(left)} of {total} mutants of {sys.argv[1]} survive")
