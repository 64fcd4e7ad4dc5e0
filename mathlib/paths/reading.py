"""Opens files of drawings: their size is looked at first, and every fault is told in a sentence."""

from __future__ import annotations

import os
import pathlib
from typing import Any, Final

from mathlib.errors import ValueRefused
from mathlib.paths.polylines import Drawing

LARGEST_FILE: Final = 64_000_000  # bytes


def content(file: str | os.PathLike[str]) -> tuple[str, bytes]:
    """Name and bytes of a file that is not too large.

    Raises
    ------
    ValueRefused
        There is no such file, it cannot be read, or it is too large.

    """
    path = pathlib.Path(file)
    try:
        size = path.stat().st_size
        if not path.is_file():
            raise ValueRefused(f"{path.name} is no file.")
        if size > LARGEST_FILE:
            raise ValueRefused(
                f"{path.name} has {size / 1e6:.3g} MB, and at most {LARGEST_FILE / 1e6:g} MB are "
                "read: split the drawing, or save it without pictures."
            )
        return path.name, path.read_bytes()
    except (OSError, ValueError) as fault:
        if isinstance(fault, ValueRefused):
            raise
        raise ValueRefused(f"{path.name} cannot be read: {fault}.") from None


def read(file: str | os.PathLike[str], flatness: Any = "0.01 mm") -> Drawing:
    """Read a drawing: SVG, or a table of points (CSV); the ending of its name says which.

    Parameters
    ----------
    file : path
        Ends in .svg, .csv or .txt.
    flatness : length
        By which straight segments may leave the curves of an SVG.

    Raises
    ------
    ValueRefused
        The file cannot be read, with the line and what is wrong there.

    """
    from mathlib.paths.svg import read_svg
    from mathlib.paths.table import read_csv

    ending = pathlib.Path(file).suffix.lower()
    if ending == ".svg":
        return read_svg(file, flatness)
    if ending in (".csv", ".txt"):
        return read_csv(file)
    raise ValueRefused(
        f"{pathlib.Path(file).name}: drawings are read from .svg and .csv; save it as one of them."
    )
