"""Code made from an equation: for floats, for arrays, and for blocks that stay in cache."""

from __future__ import annotations

import ast
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
LETTERS_TAKEN: Final = ("INF", "out", "e", "multiply", "divide", "low", "high")
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
    block = [
        *convert,
        *(f"if not ({_block_bound(letter, sign)}): return False" for letter, sign in letters),
        *(f"if not {condition}.all(): return False" for condition in met),
        f"{'multiply' if operator == '*' else 'divide'}({source}, {constant!r}, out=out)"
        if constant != 1.0
        else f"out[...] = {source}",
        f"if not ({_block_bound('out', out_sign)}): return False",
        *([f"out -= {down}"] if down else []),
        "return True",
    ]
    return _define(names, scalar, SCALAR), _define((*names, "out"), block, ARRAY | _REDUCTIONS)


_REDUCTIONS: Final = {
    "multiply": np.multiply,
    "divide": np.divide,
    "low": np.minimum.reduce,
    "high": np.maximum.reduce,
}
_LOWEST: Final = {"positive": "0.0 <", "zero": "0.0 <=", "signed": "-INF <"}


def _block_bound(letter: str, sign: str) -> str:
    return f"{_LOWEST[sign]} low({letter}, axis=None) and high({letter}, axis=None) < INF"


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
