"""Calculate belt-driven bench machines and their laser, pen and knife heads, with units.

>>> import mathlib
>>> print(mathlib.Q("9 mm"))
9 mm

Nothing heavy loads here: pint and NumPy come with the first quantity, the rest where it is used.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from mathlib.catalogue import formulas as formulas
    from mathlib.formula import Example as Example
    from mathlib.formula import Formula as Formula
    from mathlib.machine import open_machine as open_machine
    from mathlib.ranges import Range as Range
    from mathlib.units import Q as Q
    from mathlib.units import Quantity as Quantity

__version__ = "0.1.0"

_HOMES = {
    "Q": "units",
    "Quantity": "units",
    "Formula": "formula",
    "Example": "formula",
    "Range": "ranges",
    "formulas": "catalogue",
    "open_machine": "machine",
}
_CHAPTERS = frozenset(
    [
        "answers",
        "catalogue",
        "choose",
        "derive",
        "equation",
        "errors",
        "explore",
        "figures",
        "formula",
        "laser",
        "machine",
        "mark",
        "materials",
        "measure",
        "motion",
        "nameplate",
        "paths",
        "ranges",
        "record",
        "safety",
        "tables",
        "typed",
        "units",
        "words",
    ]
)


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(importlib.import_module(f"mathlib.{_HOMES[name]}"), name)
    if name in _CHAPTERS:
        try:
            return importlib.import_module(f"mathlib.{name}")
        except ModuleNotFoundError:
            pass
    raise AttributeError(f"module 'mathlib' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES, *_CHAPTERS})
