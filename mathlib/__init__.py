"""Calculate belt-driven bench machines and their laser, pen and knife heads, with units.

>>> import mathlib
>>> print(mathlib.Q("9 mm"))
9 mm

Nothing heavy loads here: pint and NumPy come with the first quantity, the rest where it is used.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
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


def lazily(package: str) -> Callable[[str], Any]:
    """Make a package's ``__getattr__`` that imports a chapter when it is first named."""

    def chapter(name: str) -> Any:
        if not name.startswith("_"):
            try:
                return importlib.import_module(f"{package}.{name}")
            except ModuleNotFoundError as fault:
                if fault.name != f"{package}.{name}":
                    raise  # a chapter that is there lacks a library
        raise AttributeError(f"module {package!r} has no attribute {name!r}")

    return chapter


_chapter = lazily(__name__)


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(importlib.import_module(f"mathlib.{_HOMES[name]}"), name)
    return _chapter(name)


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES})
