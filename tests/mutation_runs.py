"""See which changes of a module the tests let pass.

``python tests/mutation_runs.py mathlib.safety.exposure tests/safety/test_exposure.py`` prints the
changes that survive. The tests are collected once; each change is put into the loaded module of a
child process, which runs them until the first fails, those first that noticed most so far. A
change that cannot be put in place so, or that survives although it reaches beyond one function, is
tried anew in a fresh process. What cannot be noticed, because nothing that matters changes, is
named with its reason by those who call ``survivors``.
"""

from __future__ import annotations

import functools
import importlib
import importlib.abc
import importlib.util
import inspect
import json
import os
import re
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

from mutants import Mutant, mutants

ROOT = Path(__file__).resolve().parent.parent
TIMES = 20  # a test that needs so many times its usual processor time runs away
LEAST = 2.0  # s, of that time
PASSED, NOTICED, NOT_LOADED, ASKED_ANEW = 0, 1, 2, 3  # how a child ends; 2 is pytest's as well


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


# -- putting a change into a module that is loaded ----------------------------------------------


def _function(holder: Any, path: tuple[str, ...]) -> FunctionType:
    for name in path:
        holder = inspect.getattr_static(holder, name)
    for inner in ("fget", "func", "__func__"):
        holder = getattr(holder, inner, None) or holder
    found: FunctionType = inspect.unwrap(holder)
    return found


def _code(code: CodeType, path: tuple[str, ...]) -> CodeType:
    for name in path:
        code = next(c for c in code.co_consts if isinstance(c, CodeType) and c.co_name == name)
    return code


def _put_in_place(module: Any, mutant: Mutant) -> None:
    """Let everybody who has something of the module have the changed one."""
    code = compile(mutant.source, module.__file__, "exec")
    for loaded in list(sys.modules.values()):
        if getattr(loaded, "__name__", "").startswith("mathlib"):
            for value in list(vars(loaded).values()):
                if hasattr(value, "cache_clear"):
                    value.cache_clear()
    if mutant.within:
        _function(module, mutant.within).__code__ = _code(code, mutant.within)
        return
    plain = compile(Path(module.__file__).read_text(encoding="utf-8"), module.__file__, "exec")
    before, after = ({"__name__": module.__name__} for _ in range(2))
    exec(plain, before)
    try:
        exec(code, after)
    except Exception:
        os._exit(NOT_LOADED)
    changed = {
        name
        for name, value in after.items()
        if not name.startswith("__")
        and not isinstance(value, type | FunctionType | type(functools.cache(len)))
        and _told(value) != _told(before[name])
    }
    if not changed:
        os._exit(ASKED_ANEW)
    for name in changed:
        old = getattr(module, name)
        if hasattr(old, "equation"):  # a formula: all who have it have its parts
            old.__dict__ = after[name].__dict__ | {"name": old.name}
            continue
        for loaded in list(sys.modules.values()):
            if getattr(loaded, name, None) is old:
                setattr(loaded, name, after[name])


def _told(value: Any) -> str:
    if hasattr(value, "equation"):
        return f"{value.equation.text} {value.holds}"
    return repr(value)


# -- running the tests --------------------------------------------------------------------------


class _Each:
    """Collects the tests once, and tries each change in a child."""

    def __init__(self, module: str, every: list[Mutant]) -> None:
        self.module, self.every = module, every
        self.ended: list[str] = []
        self.limits: list[float] = []

    def pytest_runtestloop(self, session: Any) -> bool:
        items = session.items
        module = importlib.import_module(self.module)
        base, took = self.child(items, range(len(items)))
        assert base == "passed", f"the tests fail before anything is changed: {base}"
        self.limits = [max(LEAST, TIMES * t) for t in took]
        kills: Counter[int] = Counter()
        for mutant in self.every:
            order = sorted(range(len(items)), key=lambda i: -(kills[i] + 0.1) / (took[i] + 0.01))
            end, ran = self.child(items, order, functools.partial(_put_in_place, module, mutant))
            if end in ("noticed", "runs away"):
                kills[order[len(ran) - 1]] += 1
            self.ended.append(end)
        return True

    def child(self, items: list[Any], order: Any, first: Any = None) -> tuple[str, list[float]]:
        """Run tests in a child until one fails: how it ended, and the processor time of each."""
        told, tell = os.pipe()
        child = os.fork()
        if not child:
            self._run(items, list(order), first, tell)
        os.close(tell)
        with os.fdopen(told) as lines:
            ran = [float(line) for line in lines]
        _, status = os.waitpid(child, 0)
        if os.WIFSIGNALED(status):
            away = os.WTERMSIG(status) == signal.SIGPROF
            return "runs away" if away else "crashes", ran
        ends = {PASSED: "passed", NOTICED: "noticed", NOT_LOADED: "does not load"}
        ends[ASKED_ANEW] = "anew"
        return ends[os.WEXITSTATUS(status)], ran

    def _run(self, items: list[Any], order: list[int], first: Any, tell: int) -> None:
        from _pytest.runner import runtestprotocol

        code = ASKED_ANEW  # where it cannot be put in place
        try:
            if first:
                signal.setitimer(signal.ITIMER_PROF, 10 * LEAST)
                first()
            for place, index in enumerate(order):
                if self.limits:
                    signal.setitimer(signal.ITIMER_PROF, self.limits[index])
                start = time.process_time()
                os.write(tell, b"")
                after = items[order[place + 1]] if place + 1 < len(order) else None
                reports = runtestprotocol(items[index], log=False, nextitem=after)
                os.write(tell, f"{time.process_time() - start}\n".encode())
                if any(report.failed for report in reports):
                    if not first:
                        print(*(r.longrepr for r in reports if r.failed), file=sys.__stderr__)
                    os._exit(NOTICED)
            code = PASSED
        finally:
            os._exit(code)


def _load_profile() -> None:
    """A falsified example is enough here; nobody reads a smaller one."""
    from hypothesis import Phase, settings

    settings.register_profile(
        "fixed",
        derandomize=True,
        deadline=None,
        database=None,
        phases=(Phase.explicit, Phase.generate),
        max_examples=30,
    )
    settings.load_profile("fixed")


def _pytest(module: str, tests: list[str], *plugins: Any) -> int:
    import pytest

    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"  # they take longer than the tests
    told = ["-x", "-q", "-p", "no:cacheprovider", "--assert=plain", "--doctest-modules"]
    return int(pytest.main([*told, *tests], plugins=[_Asked(module), *plugins]))


class _Asked:
    """Loads the profile, after the one of the tests and before they are read, and chooses tests."""

    def __init__(self, module: str) -> None:
        self.module = module

    def pytest_collection(self) -> None:
        _load_profile()

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        """Of the tests of every formula keep those of formulas that the module has."""
        source = path_of(self.module).read_text(encoding="utf-8")
        names = {
            value.name
            for name, value in vars(importlib.import_module(self.module)).items()
            if f"\n{name} = Formula(" in source
        }
        items[:] = [
            item
            for item in items
            if item.path.name != "test_formulas.py" or names & set(re.split(r"[][-]", item.name))
        ]


def _fresh(module: str, mutant: Mutant, tests: list[str], limit: float) -> str:
    """Run the tests in a new process that never saw the module unchanged."""
    asked = json.dumps([module, mutant.source, limit, tests])
    ran = subprocess.run(
        [sys.executable, __file__, "--fresh"],
        input=asked, text=True, capture_output=True, check=False, cwd=ROOT,
    )  # fmt: skip
    ends = {0: "passed", 1: "noticed", 2: "does not load", -signal.SIGPROF: "runs away"}
    return ends.get(ran.returncode, f"crashes: {ran.stderr[-300:]}")


def _run_fresh() -> int:
    module, source, limit, tests = json.load(sys.stdin)
    signal.setitimer(signal.ITIMER_PROF, limit)
    path = ROOT / (module.replace(".", "/") + ".py")
    sys.meta_path.insert(0, _Instead(module, path, source))
    return _pytest(module, tests)


def path_of(module: str) -> Path:
    return ROOT / (module.replace(".", "/") + ".py")


def survivors(
    module: str, tests: list[str], equivalent: dict[tuple[str, str], str] | None = None
) -> tuple[list[Mutant], Counter[str]]:
    """Mutants of a module that the tests let pass, and how each ended, counted.

    ``equivalent`` has, by line and change, the reason why nothing that matters changes; an entry
    that no longer stands for a surviving mutant is an error, so that the list stays true.
    """
    known = dict(equivalent or {})
    every = list(mutants(path_of(module).read_text(encoding="utf-8")))
    runs = _Each(module, every)
    code = _pytest(module, [str(path_of(module)), *tests], runs)
    assert len(runs.ended) == len(every), f"the tests do not run: pytest ended with {code}"
    alive = []
    for i, mutant in enumerate(every):
        beyond = runs.ended[i] == "passed" and not (mutant.within or mutant.of_formula)
        if runs.ended[i] == "anew" or beyond:
            runs.ended[i] = _fresh(module, mutant, tests, sum(runs.limits))
        if runs.ended[i] == "passed":
            alive.append(mutant)
    found = {(m.line, m.change) for m in alive}
    stale = [key for key in known if key not in found]
    assert not stale, f"these are noticed, or gone: take them off the list: {stale}"
    return [m for m in alive if (m.line, m.change) not in known], Counter(runs.ended)


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    os.chdir(ROOT)
    if sys.argv[1:] == ["--fresh"]:
        sys.exit(_run_fresh())
    start = time.perf_counter()
    left, ends = survivors(sys.argv[1], sys.argv[2:])
    for m in left:
        print(f"{m.number}: {m.change}: {m.line}")
    counted = ", ".join(f"{n} {end}" for end, n in ends.items())
    print(f"{len(left)} survive in {sys.argv[1]} ({counted}; {time.perf_counter() - start:.0f} s)")
