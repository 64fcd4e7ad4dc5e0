"""Small formulas that the tests of the contract share."""

from __future__ import annotations

from typing import Any

from mathlib import Formula, Q

OUT = ("result", "mm", "found", "signed")


def define(equation: str, where: dict[str, tuple[str, ...]], **more: Any) -> Formula:
    told: dict[str, Any] = {"title": "Trial", "assumes": ("nothing",), "source": "a test"}
    return Formula(equation=equation, where=where, **(told | more))


SPRING = define(
    "f = sqrt(k / m) / (2 * pi)",
    {
        "f": ("frequency", "Hz", "found"),
        "k": ("stiffness", "N/mm", "of the spring"),
        "m": ("mass", "kg", "on the spring"),
    },
)
TIMES = define(
    "y = n * a",
    {
        "y": OUT,
        "n": ("count", "1", "how many", "signed"),
        "a": ("length", "mm", "of one", "signed"),
    },
)
SLIP = define(
    "y = a * asin(x / b)",
    {
        "y": OUT,
        "a": ("length", "mm", "of an arm"),
        "x": ("load", "N*m", "asked", "zero"),
        "b": ("hold", "N*m", "given"),
    },
    holds=("x <= b; the motor slips",),
)
FALL = define(
    "v = sqrt(2 * g * h)",
    {
        "v": ("speed", "m/s", "at the ground"),
        "h": ("height", "m", "of the fall"),
        "g": ("gravity", "m/s^2", "of the earth", "positive", "9.80665 m/s^2", "CGPM 1901"),
    },
)
WARM = define(
    "T = T_0 + d",
    {
        "T": ("temperature", "degC", "after", "signed"),
        "T_0": ("ambient", "degC", "before"),
        "d": ("warming", "delta_degC", "between", "signed"),
    },
)
K, M = Q("10 N/mm"), Q("1 kg")
AT = 15.915494309189533  # sqrt(10000 / 1) / (2 pi), worked to 17 digits apart from the library
