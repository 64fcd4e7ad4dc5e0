"""What the library knows: every formula by dotted name, and every word with its unit."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping

from mathlib.errors import MathlibError
from mathlib.formula import Formula
from mathlib.words import Word


def formulas() -> dict[str, Formula]:
    """Every formula of the library by dotted name, such as ``motion.belts.span_stiffness``."""
    import mathlib

    found: dict[str, Formula] = {}
    for module in pkgutil.walk_packages(mathlib.__path__, "mathlib."):
        if module.name.rpartition(".")[2].startswith("_"):
            continue
        for name, value in vars(importlib.import_module(module.name)).items():
            if isinstance(value, Formula):
                dotted = f"{module.name.removeprefix('mathlib.')}.{name}"
                if not value.name:
                    value.name = dotted
                if value.name == dotted:
                    found[dotted] = value
    return dict(sorted(found.items()))


def glossary(known: Mapping[str, Formula]) -> dict[str, tuple[str, tuple[str, ...]]]:
    """One line per word of the library: its unit, and the formulas that use it.

    Parameters
    ----------
    known : dict
        Formulas by dotted name.

    Returns
    -------
    dict
        By word, in order: its unit, and the dotted names of the formulas that use it.

    Raises
    ------
    MathlibError
        A word stands for two dimensions, or counts turns here and cycles there.

    """
    lines: dict[str, tuple[Word, list[str]]] = {}
    for name, formula in known.items():
        for word in (formula.output, *formula.inputs):
            first, users = lines.setdefault(word.word, (word, []))
            users.append(name)
            if first.kind.measured() != word.kind.measured():
                raise MathlibError(
                    f"{word.word} is {first.unit} in {users[0]}, {word.unit} in {name}"
                )
    return {word: (first.unit, tuple(users)) for word, (first, users) in sorted(lines.items())}
