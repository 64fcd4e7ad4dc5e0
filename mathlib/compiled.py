"""Code made from an equation: for floats, for arrays, and for blocks that stay in cache."""

from __future__ import annotations

import ast
import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any, Final

import numpy as np

from mathlib import units
from mathlib.equation import (
    ARRAY,
    COMPARISONS,
    OPERATORS,
    SCALAR,
    Equation,
    read_condition,
    read_equation,
)

BLOCK: Final = 16384  # elements; measured fastest where inputs and temporaries stay in cache
_BOUNDS: Final = {
    "positive": "0.0 < {0} < INF",
    "zero": "0.0 <= {0} < INF",
    "signed": "-INF < {0} < INF",
}


def run(equation: Equation, by_letter: Mapping[str, Any]) -> Any:
    """Evaluate a right-hand side or a condition over arrays in SI base units."""
    return _array_code(equation.text, equation.left)(**{k: by_letter[k] for k in equation.letters})


@lru_cache(maxsize=1024)
def _array_code(text: str, left: str) -> Any:
    equation = read_equation(text) if left else read_condition(text)
    return _define(equation.letters, [f"return {_with_scale(equation.tree, {})[0]}"], ARRAY)


def _define(letters: tuple[str, ...], body: list[str], names: Mapping[str, Any]) -> Any:
    """Compile a function of the letters. The text has been read, and is only our arithmetic."""
    source = f"def core({', '.join(letters)}):\n    " + "\n    ".join(body)
    space: dict[str, Any] = {**names, "INF": np.inf}
    exec(compile(source, "<formula>", "exec"), space)
    return space["core"]


def _with_scale(node: ast.expr, factors: Mapping[str, float]) -> tuple[str, float]:
    """Source of an expression over values in their own units, and what to multiply it by.

    Unit factors are not applied to each input: they travel up the tree and meet in one constant,
    which is exactly 1 where the units agree.
    """
    if isinstance(node, ast.Name):
        return node.id, factors.get(node.id, 1.0)
    if isinstance(node, ast.Constant):
        return repr(float(node.value)), 1.0  # type: ignore[arg-type]
    if isinstance(node, ast.UnaryOp):
        source, scale = _with_scale(node.operand, factors)
        return f"(-{source})", scale
    if isinstance(node, ast.Call):
        source, scale = _with_scale(node.args[0], factors)
        name = node.func.id  # type: ignore[attr-defined]
        if name == "sqrt":
            return f"sqrt({source})", scale**0.5
        return f"{name}({_times(source, scale)})", 1.0
    if isinstance(node, ast.Compare):
        left, right = _on_one_scale(node.left, node.comparators[0], factors)[:2]
        return f"({left} {COMPARISONS[type(node.ops[0])]} {right})", 1.0
    assert isinstance(node, ast.BinOp)
    sign = OPERATORS[type(node.op)]
    if isinstance(node.op, ast.Add | ast.Sub):
        left, right, scale = _on_one_scale(node.left, node.right, factors)
        return f"({left} {sign} {right})", scale
    left, scale = _with_scale(node.left, factors)
    right, other = _with_scale(node.right, factors)
    if isinstance(node.op, ast.Mult):
        return f"({left} * {right})", scale * other
    if isinstance(node.op, ast.Div):
        return f"({left} / {right})", scale / other
    power = _fixed(node.right)
    if power is None:
        return f"({_times(left, scale)} ** {_times(right, other)})", 1.0
    return f"({left} ** {right})", scale**power


def _on_one_scale(a: ast.expr, b: ast.expr, factors: Mapping[str, float]) -> tuple[str, str, float]:
    left, scale = _with_scale(a, factors)
    right, other = _with_scale(b, factors)
    return left, _times(right, other / scale), scale


def _times(source: str, scale: float) -> str:
    operator, constant = units.scale(scale)
    return source if constant == 1.0 else f"({source} {operator} {constant!r})"


def _fixed(node: ast.expr) -> float | None:
    if isinstance(node, ast.Constant):
        return float(node.value)  # type: ignore[arg-type]
    if isinstance(node, ast.UnaryOp):
        inner = _fixed(node.operand)
        return None if inner is None else -inner
    return None


@lru_cache(maxsize=1024)
def unit_code(
    text: str,
    conditions: tuple[str, ...],
    letters: tuple[tuple[str, str], ...],
    given: tuple[Any, ...],
    out_sign: str,
    out: Any,
) -> tuple[Any, Any]:
    """Code for one combination of units: for floats, and for one block of arrays.

    Both say by None or False that a check failed; the careful way then finds the sentence.
    """
    names = tuple(letter for letter, _ in letters)
    factors, convert = {}, []
    for (letter, _), container in zip(letters, given, strict=True):
        measure = units.kind(container)
        factors[letter] = 1.0 if measure.offset else measure.factor
        if measure.offset:
            convert.append(f"{letter} = {letter} * {measure.factor!r} + {measure.offset!r}")
    source, scale = _with_scale(read_equation(text).tree, factors)
    wanted = units.kind(out)
    operator, constant = units.scale(scale / wanted.factor)
    down = repr(wanted.offset / wanted.factor) if wanted.offset else ""
    met = [_with_scale(read_condition(c).tree, factors)[0] for c in conditions]
    bounds = [_BOUNDS[sign].format(letter) for letter, sign in letters]
    scalar = [
        *convert,
        f"if not ({' and '.join([*bounds, *met])}): return None",
        "try:",
        f"    e = {source}" if constant == 1.0 else f"    e = {source} {operator} {constant!r}",
        "except (ArithmeticError, ValueError):",
        "    return None",
        f"if e.__class__ is not float or not ({_BOUNDS[out_sign].format('e')}): return None",
        f"return e - {down}" if down else "return e",
    ]
    return _define(names, scalar, SCALAR), Blocks(
        text, letters, factors, convert, met, out_sign, out
    )


class Blocks:
    """Code for blocks of arrays, for one combination of units.

    Each input is checked right before its first use, while it is in cache, and steps write into
    scratch that is kept from block to block. Which inputs are single numbers is known at the
    call: they are checked once. An input whose infinity would show in the result anyway is not
    searched for one.
    """

    def __init__(
        self,
        text: str,
        letters: tuple[tuple[str, str], ...],
        factors: dict[str, float],
        convert: list[str],
        met: list[str],
        out_sign: str,
        out: Any,
    ) -> None:
        self.tree = read_equation(text).tree
        self.letters, self.factors, self.convert, self.met = letters, factors, convert, met
        self.out_sign, self.out = out_sign, units.kind(out)
        self.shifted = {line.partition(" = ")[0] for line in convert}
        self._made: dict[tuple[bool, ...], tuple[Any, int]] = {}

    def code(self, magnitudes: list[Any]) -> Any:
        """Code for inputs of these shapes, or None where a single number fails its check."""
        single = tuple(
            np.ndim(number) == 0 and letter not in self.shifted
            for (letter, _), number in zip(self.letters, magnitudes, strict=True)
        )
        for (_, sign), number, alone in zip(self.letters, magnitudes, single, strict=True):
            if alone:
                low = number > 0 if sign == "positive" else number >= 0 or sign == "signed"
                if not (low and abs(number) < np.inf):
                    return None
        if single not in self._made:
            self._made[single] = self._define(single)
        function, count = self._made[single]
        scratch = tuple(np.empty(BLOCK) for _ in range(count))

        def run_block(*blocks: Any) -> bool:
            met: bool = function(*blocks, scratch)
            return met

        return run_block

    def _define(self, single: tuple[bool, ...]) -> tuple[Any, int]:
        alone = {letter for (letter, _), one in zip(self.letters, single, strict=True) if one}
        steps = _Steps(self, alone)
        for condition in self.met:
            for letter, _ in self.letters:
                if re.search(rf"\b{letter}\b", condition):
                    steps.check(letter)
        steps.lines += [f"if not ({c}).all(): return False" for c in self.met]
        value, scale = steps.emit(self.tree)
        last = steps.lines[-1] if steps.lines else ""
        if units.scale(scale / self.out.factor)[1] == 1.0 and last.endswith(f", {value})"):
            steps.lines[-1] = last.removesuffix(f"{value})") + "out)"  # no copy from scratch
            value = ""
        for letter, _ in self.letters:
            steps.check(letter)
        if value:
            steps.lines.append(_into("out", value, scale / self.out.factor))
        bound = f"{_LOWEST[self.out_sign]} {_least('out')} and out[out.argmax()] < INF"
        steps.lines.append(f"if not ({bound}): return False")
        if self.out.offset:
            steps.lines.append(f"out -= {self.out.offset / self.out.factor!r}")
        names = (*(letter for letter, _ in self.letters), "out", "scratch")
        heads = [f"s{n} = scratch[{n}][:out.size]" for n in range(steps.count)]
        # a single temperature is converted here, and stays an array as the checks expect
        shifts = [" = atleast_1d(".join(line.split(" = ")) + ")" for line in self.convert]
        body = [*shifts, *heads, *steps.lines, "return True"]
        return _define(names, body, _UFUNCS), steps.count


_LOWEST: Final = {"positive": "0.0 <", "zero": "0.0 <=", "signed": "-INF <"}
_UFUNC_OF: Final = {
    ast.Add: "add",
    ast.Sub: "subtract",
    ast.Mult: "multiply",
    ast.Div: "divide",
    ast.Pow: "power",
}
_UFUNCS: Final = (
    ARRAY
    | {
        name: getattr(np, name)
        for name in ("add", "subtract", "multiply", "divide", "power", "square", "negative")
    }
    | {"atleast_1d": np.atleast_1d}
)
LETTERS_TAKEN: Final = ("INF", "out", "e", "scratch", *_UFUNCS, *(f"s{n}" for n in range(20)))


def _least(name: str) -> str:
    return f"{name}[{name}.argmin()]"


def _into(target: str, value: str, scale: float) -> str:
    operator, constant = units.scale(scale)
    if constant == 1.0:
        return f"{target}[...] = {value}"
    name = "multiply" if operator == "*" else "divide"
    return f"{name}({value}, {constant!r}, {target})"


class _Steps:
    """One line for each operation of an equation, over scratch that is used again."""

    def __init__(self, blocks: Blocks, alone: set[str]) -> None:
        self.blocks, self.alone = blocks, alone
        self.signs = dict(blocks.letters)
        self.lines: list[str] = []
        self.checked: set[str] = set()
        self.free: list[str] = []
        self.count = 0

    def check(self, letter: str) -> None:
        """Add the check of an array, once."""
        if letter in self.checked or letter in self.alone:
            return
        self.checked.add(letter)
        loud = _infinity_shows(self.blocks.tree, letter, self.blocks.out_sign)
        high = "" if loud else f" and {letter}[{letter}.argmax()] < INF"
        bound = f"{_LOWEST[self.signs[letter]]} {_least(letter)}{high}"
        self.lines.append(f"if not ({bound}): return False")

    def emit(self, node: ast.expr) -> tuple[str, float]:
        """Add the lines of a piece; give the name of its value, and what to multiply it by."""
        if isinstance(node, ast.Name):
            if node.id != "pi":
                self.check(node.id)
            return node.id, self.blocks.factors.get(node.id, 1.0)
        if not self._is_array(node):
            return _with_scale(node, self.blocks.factors)
        if isinstance(node, ast.UnaryOp):
            value, scale = self.emit(node.operand)
            return self._step("negative", value), scale
        if isinstance(node, ast.Call):
            name = node.func.id  # type: ignore[attr-defined]
            value, scale = self.emit(node.args[0])
            if name == "sqrt":
                return self._step("sqrt", value), scale**0.5
            return self._step(name, self._scaled(value, scale)), 1.0
        assert isinstance(node, ast.BinOp)
        return self._pair(node)

    def _pair(self, node: ast.BinOp) -> tuple[str, float]:
        name = _UFUNC_OF[type(node.op)]
        left, scale = self.emit(node.left)
        power = _fixed(node.right) if isinstance(node.op, ast.Pow) else None
        if power == 2.0:
            return self._step("square", left), scale**2
        right, other = self.emit(node.right)
        if isinstance(node.op, ast.Add | ast.Sub):
            return self._step(name, left, self._scaled(right, other / scale)), scale
        if isinstance(node.op, ast.Mult):
            return self._step(name, left, right), scale * other
        if isinstance(node.op, ast.Div):
            return self._step(name, left, right), scale / other
        if power is not None:
            return self._step(name, left, right), scale**power
        return self._step(name, self._scaled(left, scale), self._scaled(right, other)), 1.0

    def _is_array(self, node: ast.expr) -> bool:
        return any(
            isinstance(n, ast.Name) and n.id in self.signs and n.id not in self.alone
            for n in ast.walk(node)
        )

    def _scaled(self, value: str, scale: float) -> str:
        operator, constant = units.scale(scale)
        if constant == 1.0:
            return value
        if not re.fullmatch(r"s\d+|\w+", value) or value in self.alone or value == "pi":
            return f"({value} {operator} {constant!r})"
        return self._step("multiply" if operator == "*" else "divide", value, repr(constant))

    def _step(self, name: str, *values: str) -> str:
        """Add one operation; its result goes where an operand was that nobody needs any more."""
        scratch = [v for v in values if re.fullmatch(r"s\d+", v)]
        if scratch:
            target = scratch[0]
            self.free += scratch[1:]
        elif self.free:
            target = self.free.pop()
        else:
            target = f"s{self.count}"
            self.count += 1
        self.lines.append(f"{name}({', '.join(values)}, {target})")
        return target


def _infinity_shows(tree: ast.expr, letter: str, out_sign: str) -> bool:
    """Tell whether an infinite input leaves the result infinite, nan, or zero where none may be."""
    named = [n for n in ast.walk(tree) if isinstance(n, ast.Name) and n.id == letter]
    fate = _fate(tree, letter) if len(named) == 1 else ""
    return fate == "infinite" or (fate == "zero" and out_sign == "positive")


def _fate(node: ast.expr, letter: str) -> str:
    """Tell what an infinite letter makes of a piece: infinite, zero, or "" for lost."""
    if isinstance(node, ast.Name):
        return "infinite" if node.id == letter else ""
    if isinstance(node, ast.UnaryOp):
        return _fate(node.operand, letter)
    if isinstance(node, ast.Call):
        root = node.func.id == "sqrt"  # type: ignore[attr-defined]
        return _fate(node.args[0], letter) if root else ""
    if not isinstance(node, ast.BinOp):
        return ""
    left, right = _fate(node.left, letter), _fate(node.right, letter)
    flipped = {"infinite": "zero", "zero": "infinite"}
    if isinstance(node.op, ast.Add | ast.Sub):
        return "infinite" if "infinite" in (left, right) else ""
    if isinstance(node.op, ast.Mult):
        return left or right
    if isinstance(node.op, ast.Div):
        return left or flipped.get(right, "")
    power = _fixed(node.right)
    if power is None or power == 0:
        return ""
    return left if power > 0 else flipped.get(left, "")


def in_blocks(code: Any, magnitudes: list[Any], shape: tuple[int, ...]) -> Any:
    """Run block code over broadcast arrays; None where a check failed."""
    arrays = [np.asarray(m) for m in magnitudes]
    made = np.empty(shape)
    whole = [a.shape == shape and a.flags.c_contiguous for a in arrays]
    flat = made.reshape(-1)
    with np.errstate(all="ignore"):
        if all(fits or a.ndim == 0 for fits, a in zip(whole, arrays, strict=True)):
            views = [a.reshape(-1) if fits else a for fits, a in zip(whole, arrays, strict=True)]
            for start in range(0, flat.size, BLOCK):
                part = slice(start, start + BLOCK)
                blocks = [v[part] if v.ndim else v for v in views]
                if not code(*blocks, flat[part]):
                    return None
            return made
        operands: list[list[Any]] = [["readonly"]] * len(arrays) + [["writeonly"]]
        walk = np.nditer(
            [*arrays, made],
            flags=["external_loop", "buffered"],
            op_flags=operands,
            buffersize=BLOCK,
            order="C",
        )
        with walk:
            for parts in walk:
                if not code(*parts):
                    return None
    return made
