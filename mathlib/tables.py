"""Reads the tables in data/: a unit in each column's head, a source in each row."""

from __future__ import annotations

import csv
import hashlib
import io
import os
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Final

from mathlib import typed, units
from mathlib.errors import MathlibError, TableError, TextRefused
from mathlib.ranges import KINDS, Range
from mathlib.units import Quantity

DATA: Final = Path(__file__).resolve().parent.parent / "data"
_ABOUT: Final = ("name", "pair", "kind", "source", "checked", "note")


@dataclass(frozen=True)
class Row:
    """One row: its name, its values and texts by column, and where they come from."""

    name: str
    values: dict[str, Quantity | Range]
    kind: str
    source: str
    checked: str
    pair: str = ""
    note: str = ""
    texts: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Table:
    """Rows by name, with the hash of the file that they were read from."""

    file: str
    sha256: str
    rows: dict[str, Row]


def read(name: str) -> Table:
    """Read ``data/<name>.csv``.

    A cell is a number in the unit of its column's head, or ``low..typical..high``; an empty
    cell is a value that nobody stated. Under a head that ends in ``[text]`` a cell is a text.

    Raises
    ------
    TableError
        The table is absent, or a row has a mistake; all of them are listed.

    Examples
    --------
    >>> len(read("motors").rows) > 5
    True

    """
    path = DATA / f"{name}.csv"
    if not path.is_file():
        known = ", ".join(sorted(p.stem for p in DATA.glob("*.csv")))
        raise TableError(f"There is no table {name!r}; there are {known}.")
    return _read(path, path.stat().st_mtime_ns)


@lru_cache(maxsize=32)
def _read(path: Path, _changed: int) -> Table:
    raw = path.read_bytes()
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise TableError(f"{path.name} is not text in UTF-8: save it so.") from None
    reader = csv.reader(io.StringIO(text, newline=""))
    heads = next(reader, [])
    lacking = [head for head in ("name", "kind", "source", "checked") if head not in heads]
    if lacking or len(set(heads)) < len(heads):
        told = f"has no column {', '.join(lacking)}" if lacking else "has two columns of one name"
        raise TableError(f"{path.name} {told}.")
    columns = [head.partition(" [") for head in heads]
    mistakes: list[str] = []
    rows: dict[str, Row] = {}
    for cells in reader:
        where = f"{path.name}, line {reader.line_num}"
        if len(cells) != len(heads):
            mistakes.append(f"{where}: {len(cells)} cells under {len(heads)} heads.")
            continue
        about = {h: c.strip() for h, c in zip(heads, cells, strict=True) if h in _ABOUT}
        for needed in ("name", "kind", "source", "checked"):
            if not about.get(needed):
                mistakes.append(f"{where}: {needed} is empty.")
        if about.get("kind") not in KINDS:
            mistakes.append(f"{where}: kind is one of {', '.join(KINDS)}.")
            continue
        values: dict[str, Quantity | Range] = {}
        texts: dict[str, str] = {}
        for (word, _, unit), cell in zip(columns, cells, strict=True):
            if word in _ABOUT or not cell.strip():
                continue
            if unit == "text]":
                texts[word] = cell.strip()
                continue
            try:
                values[word] = _cell(cell, unit.rstrip("]"), about)
            except MathlibError as fault:
                mistakes.append(f"{where}: {word}: {fault}")
        if about["name"] in rows:
            mistakes.append(f"{where}: a second row {about['name']!r}.")
        rows[about["name"]] = Row(values=values, texts=texts, **about)
    if mistakes:
        raise TableError("\n".join(mistakes))
    return Table(path.name, hashlib.sha256(raw).hexdigest(), rows)


def _cell(cell: str, unit: str, about: dict[str, str]) -> Quantity | Range:
    container = units.container(unit)
    try:
        parts = [units.quantity(typed.number(part), container) for part in cell.split("..")]
    except TextRefused:
        parts = []
    if len(parts) == 1:
        return parts[0]
    if len(parts) != 3:
        raise TableError(f"{cell!r} is neither a number nor low..typical..high")
    low, typical, high = parts
    return Range(low, typical, high, source=about["source"], kind=about["kind"])


def hashes() -> dict[str, str]:
    """SHA-256 of every table by file name, for a record that others can check."""
    return {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(DATA.glob("*.csv"))
        if os.access(path, os.R_OK)
    }
