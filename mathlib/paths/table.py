"""Reads polylines from a table of points: CSV with a unit in the head of each coordinate."""

from __future__ import annotations

import csv
import io
import os
import re
from typing import Final

import numpy as np

from mathlib import typed, units
from mathlib.errors import MathlibError, ValueRefused
from mathlib.paths.polylines import FARTHEST, MOST_POINTS, Drawing, Path, joined
from mathlib.paths.reading import content
from mathlib.units import Q

_HEAD: Final = re.compile(r"\s*([A-Za-z]+)\s*(?:\[([^\]]*)\]|\(([^)]*)\))?\s*")
_DOWN: Final = frozenset({"1", "on", "down", "true", "yes"})
_UP: Final = frozenset({"0", "off", "up", "false", "no"})
_TOLD: Final = 12  # mistakes that are listed


def read_csv(file: str | os.PathLike[str]) -> Drawing:
    """Read polylines from a table with the columns ``x [mm]`` and ``y [mm]``, in any length.

    A row is a point. A new polyline begins after an empty line, or where the value of a column
    ``line`` changes. Where a column ``pen`` stands, it says whether the tool marks on the way *to*
    the point: 1, on or down, against 0, off or up; then all points make one path.
    Cells are parted by commas, semicolons or tabs; between semicolons or tabs a number may have a
    decimal comma. y runs away from the front, as in the machine. Other columns are not read, and
    the notes name them.

    Raises
    ------
    ValueRefused
        The file cannot be read; rows with mistakes are listed by line.

    """
    name, raw = content(file)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ValueRefused(f"{name} is not text in UTF-8: save it so.") from None
    head = text.split("\n", 1)[0]
    delimiter = next((d for d in (";", "\t") if d in head), ",")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        heads = next(reader, [])
        columns, factors = _heads(name, heads)
        unread = [h.strip() for k, h in enumerate(heads) if k not in columns.values() and h.strip()]
        table = _Rows(name, columns, factors, delimiter, unread)
        for cells in reader:
            table.take(reader.line_num, cells)
    except csv.Error as fault:
        raise ValueRefused(f"{name}: this is no table: {fault}.") from None
    return table.drawing()


def _heads(name: str, heads: list[str]) -> tuple[dict[str, int], list[float]]:
    """Column of each word, and what x and y are multiplied by to be mm."""
    columns: dict[str, int] = {}
    factors = {}
    for column, head in enumerate(heads):
        match = _HEAD.fullmatch(head)
        word = match.group(1).lower() if match else ""
        if match is None or word not in ("x", "y", "line", "pen") or word in columns:
            continue
        columns[word] = column
        if word in ("x", "y"):
            unit = match.group(2) or match.group(3) or ""
            try:
                given = units.container(unit)
            except MathlibError as fault:
                raise ValueRefused(f"{name}, line 1: {head.strip()}: {fault}") from None
            fault_of = units.problem(given, units.container("mm"))
            if not unit.strip() or fault_of:
                raise ValueRefused(
                    f'{name}, line 1: {word} needs a unit of length in its head: write "{word} '
                    f'[mm]".'
                )
            factors[word] = units.kind(given).factor * 1e3
    if not {"x", "y"} <= columns.keys():
        raise ValueRefused(
            f'{name}, line 1: the head names no x and y: write "x [mm]" and "y [mm]", then '
            '"line" or "pen" if you need them.'
        )
    return columns, [factors["x"], factors["y"]]


class _Rows:
    """Gathers points into polylines, and mistakes by line."""

    def __init__(
        self, name: str, columns: dict[str, int], factors: list[float], delimiter: str,
        unread: list[str],
    ) -> None:  # fmt: skip
        self.name, self.columns, self.factors = name, columns, factors
        self.comma = delimiter != ","
        told = ", ".join(repr(head[:30]) for head in unread[:_TOLD])
        self.notes = (
            [f"Not read: {told}. A column of marks is called pen, one of polylines line."]
            if unread
            else []
        )
        self.parts: list[list[tuple[float, float]]] = [[]]
        self.pens: list[bool] = []
        self.line: str | None = None
        self.count = 0
        self.mistakes: list[str] = []

    def take(self, number: int, cells: list[str]) -> None:
        """Take one row; an empty one begins a new polyline."""
        if not any(map(str.strip, cells)):
            self._begin()
            return
        self.count += 1
        if self.count > MOST_POINTS:
            raise ValueRefused(f"{self.name} has more than {MOST_POINTS} points: split it.")
        try:
            if "line" in self.columns and (key := self._cell(cells, "line").strip()) != self.line:
                self.line = key
                self._begin()
            if "pen" in self.columns:
                self.pens.append(self._pen(self._cell(cells, "pen")))
            x, y = (self._number(cells, word) for word in ("x", "y"))
            self.parts[-1].append((x * self.factors[0], y * self.factors[1]))
        except MathlibError as fault:
            self.mistakes.append(f"line {number}: {fault}")
            if len(self.mistakes) == _TOLD:
                self._stop(" and maybe more")

    def _begin(self) -> None:
        if self.parts[-1] and "pen" not in self.columns:
            self.parts.append([])

    def _cell(self, cells: list[str], word: str) -> str:
        column = self.columns[word]
        if column >= len(cells):
            raise ValueRefused(f"there is no cell for {word}.")
        return cells[column]

    def _number(self, cells: list[str], word: str) -> float:
        text = self._cell(cells, word)
        plain = text.replace(",", ".", 1) if self.comma else text
        try:
            value = typed.number(plain)
        except MathlibError:
            raise ValueRefused(f"{word}: {text[:30]!r} is no number.") from None
        if not abs(value) * max(self.factors) <= FARTHEST:
            raise ValueRefused(f"{word}: {text[:30]!r} lies farther away than {FARTHEST:g} mm.")
        return value

    @staticmethod
    def _pen(text: str) -> bool:
        told = text.strip().lower()
        if told not in _DOWN | _UP:
            raise ValueRefused(f"pen: {text[:30]!r} is neither 1 nor 0, on nor off, down nor up.")
        return told in _DOWN

    def _stop(self, more: str = "") -> None:
        told = "\n  ".join(self.mistakes)
        count = len(self.mistakes)
        head = "one mistake" if count == 1 else f"{count} mistakes"
        raise ValueRefused(f"{self.name}: {head}{more}.\n  {told}")

    def drawing(self) -> Drawing:
        """Everything that was read; single points are told of."""
        if self.mistakes:
            self._stop()
        if "pen" in self.columns:
            if len(self.parts[0]) < 2:
                raise ValueRefused(f"{self.name} has no two points.")
            whole = Path(points=Q(np.array(self.parts[0]), "mm"), on=np.array(self.pens[1:]))
            return Drawing(file=self.name, path=whole, layers={"": whole}, notes=tuple(self.notes))
        kept = [np.array(part) for part in self.parts if len(part) > 1]
        alone = sum(len(part) == 1 for part in self.parts)
        if not kept:
            raise ValueRefused(f"{self.name} has no polyline of two points or more.")
        if alone:
            self.notes.append(f"Left out: {alone} × a point alone, which has no length.")
        path = joined(kept)
        return Drawing(file=self.name, path=path, layers={"": path}, notes=tuple(self.notes))
