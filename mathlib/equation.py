"""An equation as text, read once: checked, typeset, differentiated and made to run from one tree.

Only a small arithmetic is allowed, so that a formula stays one closed equation; nothing of what
is written is ever evaluated as Python.
"""

from __future__ import annotations

import ast
import keyword
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from mathlib.errors import FormulaError

if TYPE_CHECKING:
    import sympy

FUNCTIONS: Final = ("sqrt", "exp", "log", "sin", "cos", "tan", "asin", "acos", "atan")
SCALAR: Final = {name: getattr(math, name) for name in FUNCTIONS} | {"pi": math.pi}
ARRAY: Final = {name: getattr(np, name) for name in FUNCTIONS} | {"pi": math.pi}

OPERATORS: Final = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.Pow: "**"}
COMPARISONS: Final = {ast.LtE: "<=", ast.Lt: "<", ast.GtE: ">=", ast.Gt: ">"}
_COMPARED: Final = {ast.LtE: r"\le", ast.Lt: "<", ast.GtE: r"\ge", ast.Gt: ">"}
_GREEK: Final = frozenset(
    [
        "alpha",
        "beta",
        "gamma",
        "delta",
        "epsilon",
        "zeta",
        "eta",
        "theta",
        "kappa",
        "lambda",
        "mu",
        "nu",
        "xi",
        "rho",
        "sigma",
        "tau",
        "phi",
        "chi",
        "psi",
        "omega",
        "Gamma",
        "Delta",
        "Theta",
        "Lambda",
        "Sigma",
        "Phi",
        "Psi",
        "Omega",
    ]
)
_LONGEST: Final = 300
_LARGEST: Final = 1e30
_HIGHEST_POWER: Final = 20

Dimension = dict[str, float]


@dataclass(frozen=True)
class Equation:
    """A right-hand side (or a condition) over letters; ``left`` is the letter it gives, or ""."""

    text: str
    left: str
    tree: ast.expr
    letters: tuple[str, ...]

    def dimension(self, of: Mapping[str, Dimension]) -> Dimension:
        """Dimension of the right-hand side.

        Raises
        ------
        FormulaError
            Unlike things are added or compared, or a function is given a dimension.

        """
        return _dimension(self.tree, of, self.text)

    def symbolic(self, symbols: Mapping[str, sympy.Symbol]) -> Any:
        """Right-hand side as a SymPy expression over the given symbols."""
        return _symbolic(self.tree, symbols)

    def latex(self, values: Mapping[str, str] | None = None) -> str:
        """Right-hand side in LaTeX, in the order in which it is written."""
        return _latex(self.tree, values or {})[0]


def read_equation(text: str) -> Equation:
    """Read ``"f = sqrt(k / m)"``.

    >>> read_equation("f = sqrt(k / m) / (2 * pi)").letters
    ('k', 'm')

    Raises
    ------
    FormulaError
        The text is no equation with one letter on the left, or uses what is not allowed.

    """
    left, sign, right = text.partition("=")
    if not sign or not left.strip().isidentifier() or keyword.iskeyword(left.strip()):
        raise FormulaError(f'an equation has one letter on the left, such as "f = k"; got {text!r}')
    return _read(text, left.strip(), right)


def read_condition(text: str) -> Equation:
    """Read ``"T <= T_h"``, a comparison that must hold."""
    condition = _read(text, "", text)
    if not isinstance(condition.tree, ast.Compare) or not condition.letters:
        raise FormulaError(f'a condition compares, such as "T <= T_h"; got {text!r}')
    return condition


def _read(text: str, left: str, right: str) -> Equation:
    if len(text) > _LONGEST:
        raise FormulaError(f"an equation has at most {_LONGEST} characters; got {len(text)}.")
    try:
        tree = ast.parse(right.strip(), mode="eval").body
    except SyntaxError as fault:
        raise FormulaError(f"{text!r} is not an equation: {fault.msg}.") from None
    except (ValueError, RecursionError, MemoryError):  # a null byte; too deeply nested
        raise FormulaError(f"{text!r} is not an equation.") from None
    letters: dict[str, None] = {}
    _collect(tree, letters, text, top=not left)
    if left in letters:
        raise FormulaError(f"{left} stands on both sides of {text!r}.")
    return Equation(text.strip(), left, tree, tuple(letters))


def _collect(node: ast.expr, letters: dict[str, None], text: str, top: bool = False) -> None:
    """Walk the tree, gather letters, refuse whatever is not on the list."""
    if isinstance(node, ast.BinOp) and type(node.op) in OPERATORS:
        if isinstance(node.op, ast.Pow):
            _check_power(node, text)
        _collect(node.left, letters, text)
        _collect(node.right, letters, text)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        _collect(node.operand, letters, text)
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
        if node.func.id not in FUNCTIONS or len(node.args) != 1 or node.keywords:
            raise FormulaError(f"{ast.unparse(node)!r} is not allowed in {text!r}: {_ALLOWED}")
        _collect(node.args[0], letters, text)
    elif isinstance(node, ast.Name) and node.id not in FUNCTIONS and not node.id.startswith("_"):
        if node.id != "pi":
            letters[node.id] = None
    elif top and isinstance(node, ast.Compare) and len(node.ops) == 1:
        if type(node.ops[0]) not in _COMPARED:
            raise FormulaError(f"{text!r} compares with something else than <, <=, >, >=.")
        _collect(node.left, letters, text)
        _collect(node.comparators[0], letters, text)
    elif not isinstance(node, ast.Constant) or type(node.value) not in (int, float):
        raise FormulaError(f"{ast.unparse(node)!r} is not allowed in {text!r}: {_ALLOWED}")
    elif abs(node.value) > _LARGEST:  # type: ignore[arg-type]
        raise FormulaError(f"{text!r} has a number above {_LARGEST:g}: make it an input.")


def _check_power(node: ast.BinOp, text: str) -> None:
    """Refuse what would take without end to work out, such as ``9**9**9**9``."""
    numbers_alone = not any(isinstance(part, ast.Name) for part in ast.walk(node.left))
    inside = [node.right, *([node.left] if numbers_alone else [])]
    tower = any(isinstance(part, ast.Pow) for top in inside for part in ast.walk(top))
    high = any(
        isinstance(part, ast.Constant)
        and isinstance(part.value, int | float)
        and abs(part.value) > _HIGHEST_POWER
        for part in ast.walk(node.right)
    )
    if tower or high:
        raise FormulaError(
            f"{ast.unparse(node)!r} is too high a power in {text!r}: "
            f"write a number, at most {_HIGHEST_POWER}."
        )


_ALLOWED: Final = f"only + - * / **, {', '.join(FUNCTIONS)} of one value, pi, numbers and letters."


def _dimension(node: ast.expr, of: Mapping[str, Dimension], text: str) -> Dimension:
    if isinstance(node, ast.Name):
        return {} if node.id == "pi" else of[node.id]
    if isinstance(node, ast.UnaryOp):
        return _dimension(node.operand, of, text)
    if isinstance(node, ast.Call):
        inner = _dimension(node.args[0], of, text)
        name = node.func.id  # type: ignore[attr-defined]
        if name == "sqrt":
            return {key: power / 2 for key, power in inner.items()}
        if inner:
            raise FormulaError(f"{name} takes a plain number in {text!r}; got {_told(inner)}.")
        return {}
    if isinstance(node, ast.BinOp):
        return _dimension_of_pair(node, of, text)
    if isinstance(node, ast.Compare):
        _alike(node.left, node.comparators[0], of, text)
    return {}


def _dimension_of_pair(node: ast.BinOp, of: Mapping[str, Dimension], text: str) -> Dimension:
    if isinstance(node.op, ast.Add | ast.Sub):
        return _alike(node.left, node.right, of, text)
    left = _dimension(node.left, of, text)
    right = _dimension(node.right, of, text)
    if isinstance(node.op, ast.Pow):
        if right:
            raise FormulaError(f"an exponent is a plain number in {text!r}; got {_told(right)}.")
        if not left:
            return {}
        return {key: power * _constant(node.right, text) for key, power in left.items()}
    sign = 1 if isinstance(node.op, ast.Mult) else -1
    both = {key: left.get(key, 0) + sign * right.get(key, 0) for key in {*left, *right}}
    return {key: power for key, power in both.items() if abs(power) > 1e-9}


def _alike(a: ast.expr, b: ast.expr, of: Mapping[str, Dimension], text: str) -> Dimension:
    left, right = _dimension(a, of, text), _dimension(b, of, text)
    if not same_dimension(left, right):
        raise FormulaError(f"{text!r} puts {_told(left)} together with {_told(right)}.")
    return left


def same_dimension(a: Dimension, b: Dimension) -> bool:
    """Tell whether two dimensions agree."""
    return all(abs(a.get(key, 0) - b.get(key, 0)) < 1e-6 for key in {*a, *b})


def _constant(node: ast.expr, text: str) -> float:
    if isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        return float(node.value)
    if isinstance(node, ast.UnaryOp):
        return -_constant(node.operand, text)
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Div):
        return _constant(node.left, text) / _constant(node.right, text)
    raise FormulaError(f"what has a dimension is raised to a fixed power in {text!r}.")


def _told(dimension: Dimension) -> str:
    return " ".join(f"{k}^{v:g}" for k, v in sorted(dimension.items())) or "a plain number"


def _symbolic(node: ast.expr, symbols: Mapping[str, sympy.Symbol]) -> Any:
    import sympy

    if isinstance(node, ast.Name):
        return sympy.pi if node.id == "pi" else symbols[node.id]
    if isinstance(node, ast.Constant):
        return sympy.nsimplify(node.value, rational=True)
    if isinstance(node, ast.UnaryOp):
        return -_symbolic(node.operand, symbols)
    if isinstance(node, ast.Call):
        function = getattr(sympy, node.func.id)  # type: ignore[attr-defined]
        return function(_symbolic(node.args[0], symbols))
    if isinstance(node, ast.Compare):
        left, right = _symbolic(node.left, symbols), _symbolic(node.comparators[0], symbols)
        below = isinstance(node.ops[0], ast.LtE | ast.Lt)
        return left <= right if below else left >= right
    assert isinstance(node, ast.BinOp)
    left, right = _symbolic(node.left, symbols), _symbolic(node.right, symbols)
    if isinstance(node.op, ast.Add):
        return left + right
    if isinstance(node.op, ast.Sub):
        return left - right
    if isinstance(node.op, ast.Mult):
        return left * right
    return left / right if isinstance(node.op, ast.Div) else left**right


def letter_latex(letter: str) -> str:
    r"""Typeset a letter: ``lam`` and ``rho_1`` become a Greek letter and an index.

    >>> print(letter_latex("theta_max"))
    \theta_{\text{max}}
    """
    head, _, index = letter.partition("_")
    head = "lambda" if head == "lam" else head
    shown = f"\\{head}" if head in _GREEK else head if len(head) == 1 else f"\\text{{{head}}}"
    if not index:
        return shown
    below = index if len(index) == 1 or index.isdigit() else rf"\text{{{index}}}"
    return f"{shown}_{{{below}}}"


# How tightly a piece binds: 0 minus sign, 1 sum, 2 product, 3 number with its unit, 4 power,
# quotient or function, 5 letter or bracket. A minus sign needs no bracket where a line begins.
def _latex(node: ast.expr, values: Mapping[str, str]) -> tuple[str, int]:
    if isinstance(node, ast.Name):
        if node.id == "pi":
            return r"\pi", 5
        if node.id in values:
            return values[node.id], _number_binds(values[node.id])
        return letter_latex(node.id), 5
    if isinstance(node, ast.Constant):
        number = f"{float(node.value):.15g}"  # type: ignore[arg-type]
        mantissa, _, power = number.partition("e")
        return (rf"{mantissa} \times 10^{{{int(power)}}}", 2) if power else (number, 5)
    if isinstance(node, ast.UnaryOp):
        return "-" + _within(node.operand, values, 2), 0
    if isinstance(node, ast.Call):
        return _latex_call(node, values)
    if isinstance(node, ast.Compare):
        left, right = _latex(node.left, values)[0], _latex(node.comparators[0], values)[0]
        return f"{left} {_COMPARED[type(node.ops[0])]} {right}", 0
    assert isinstance(node, ast.BinOp)
    if isinstance(node.op, ast.Div):
        return rf"\frac{{{_latex(node.left, values)[0]}}}{{{_latex(node.right, values)[0]}}}", 4
    if isinstance(node.op, ast.Pow):
        return f"{_within(node.left, values, 5)}^{{{_latex(node.right, values)[0]}}}", 4
    if isinstance(node.op, ast.Mult):
        left, right = _within(node.left, values, 2), _within(node.right, values, 3)
        numbers = bool(values) or (re.search(r"\d$", left) and re.match(r"[\d(]", right))
        times = r"\cdot" if numbers else r"\,"
        return f"{left} {times} {right}", 2
    sign = OPERATORS[type(node.op)]
    tight = 2 if isinstance(node.op, ast.Sub) else 1
    return f"{_within(node.left, values, 0)} {sign} {_within(node.right, values, tight)}", 1


def _number_binds(number: str) -> int:
    if number.startswith("-"):
        return 0
    return 3 if "\\text" in number else 2 if "\\times" in number else 5


def _latex_call(node: ast.Call, values: Mapping[str, str]) -> tuple[str, int]:
    name = node.func.id  # type: ignore[attr-defined]
    inner = _latex(node.args[0], values)[0]
    if name == "sqrt":
        return rf"\sqrt{{{inner}}}", 5
    shown = {"asin": "arcsin", "acos": "arccos", "atan": "arctan", "log": "ln"}.get(name, name)
    return rf"\{shown}\left({inner}\right)", 4


def _within(node: ast.expr, values: Mapping[str, str], tight: int) -> str:
    text, binds = _latex(node, values)
    return text if binds >= tight else rf"\left({text}\right)"
