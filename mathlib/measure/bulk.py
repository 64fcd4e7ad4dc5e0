"""Lines to numbers: a quick way for lines that are a row, a careful one for the others.

A block goes to pandas' parser as it is, and stays so if each line gives as many finite numbers.
Otherwise lines that hold nothing but digits and signs go there, and the rest is looked at one by
one: chatter, comments, lines cut short, cells in doubt. What is met is counted, never just left.
"""

from __future__ import annotations

import io
import math
import warnings
from collections.abc import Callable
from contextlib import suppress
from typing import Any, Final

import numpy as np

from mathlib.measure import cells, moments
from mathlib.measure.dialect import Dialect, fits, is_comment, other_heads, split
from mathlib.measure.text import Findings, decoded, shown

_PARTED: Final = 0x1F  # stands for the delimiter once quotes are gone
_SMALL: Final = 48  # lines that are looked at one by one rather than halved again
_ABSENT: Final = sorted(cells.ABSENT - {""})


class Lines:
    """Turns blocks of lines into rows of floats; words and moments become numbers too."""

    def __init__(self, found: Findings, dialect: Dialect, doubtful: str | None) -> None:
        self.found, self.dialect, self.doubtful = found, dialect, doubtful
        self.labels: list[dict[str, int]] = [{} for _ in dialect.kinds]
        self.parse = self._parser()
        allowed = b"0123456789+-.,'eE \tnNaA" + dialect.delimiter.encode() + bytes([_PARTED])
        self.odd = np.ones(256, bool)
        self.odd[np.frombuffer(allowed, np.uint8)] = False
        self.plain = all(kind == "number" for kind in dialect.kinds)

    def rows(self, block: bytes, first: int) -> Any:
        """Rows of a block, shape (rows, columns); ``first`` is the number of its first line."""
        bulk = self._unquoted(block) if self.dialect.quoted and b'"' in block else block
        with suppress(ValueError):
            quick = self.parse(bulk) if self.plain else None
            # The parser refuses a line with too many cells, and fills up one with too few by nan.
            if quick is not None and np.isfinite(quick).all():
                return quick
        buffer = np.frombuffer(bulk, np.uint8)
        ends = np.flatnonzero(buffer == 10)
        starts = np.concatenate(([0], ends[:-1] + 1))
        right = self._right_count(buffer, starts, ends)
        if right.all():
            with suppress(ValueError):
                return self._counted(self.parse(bulk), np.arange(len(ends)) + first)
        if self.plain:
            odd = np.flatnonzero(self.odd[buffer] & (buffer != 10))
            right[np.searchsorted(ends, odd)] = False
        numbers = np.flatnonzero(right)
        others = np.flatnonzero(~right)
        text = block.split(b"\n")
        kept = np.repeat(right, ends - starts + 1)
        parts = [(others, [self._line(text[n], first + int(n)) for n in others])]
        done_lines, done_rows = self._halving(buffer[kept].tobytes(), numbers, text, first)
        taken = [(n, row) for lines, rows in parts for n, row in zip(lines, rows, strict=True)
                 if row is not None]  # fmt: skip
        if not taken:
            return np.concatenate(done_rows) if done_rows else np.empty((0, self.width))
        done_lines.append(np.array([n for n, _ in taken]))
        done_rows.append(np.array([row for _, row in taken]))
        order = np.argsort(np.concatenate(done_lines), kind="stable")
        return np.concatenate(done_rows)[order]

    @property
    def width(self) -> int:
        """Number of columns."""
        return len(self.dialect.kinds)

    # -- in bulk ------------------------------------------------------------------------------

    def _parser(self) -> Callable[[bytes], Any]:
        import pandas as pd

        d = self.dialect
        named = {n: float if kind == "number" else str for n, kind in enumerate(d.kinds)}
        mark = d.delimiter
        if mark == "" or (d.quoted and mark != " "):
            mark = chr(_PARTED)
        told: dict[str, Any] = {
            "header": None,
            "names": list(named),
            "index_col": False,
            "dtype": named,
            "sep": r"\s+" if mark == " " else mark,
            "quoting": 3,
            "decimal": d.decimal,
            "thousands": d.thousands or None,
            "na_values": _ABSENT,
            "skipinitialspace": mark not in " \t",
            "engine": "c",
            "low_memory": False,
            "encoding_errors": "replace",
        }

        def parse(data: bytes) -> Any:
            if not data:
                return np.empty((0, self.width))
            with warnings.catch_warnings():
                warnings.simplefilter("error", pd.errors.ParserWarning)
                try:
                    frame = pd.read_csv(io.BytesIO(data), **told)
                except pd.errors.ParserWarning as fault:  # cells beyond the last column
                    raise ValueError(str(fault)) from None
            if self.plain:
                return frame.to_numpy(dtype=float)
            made = np.empty((len(frame), self.width))
            for n, kind in enumerate(d.kinds):
                column = frame[n]
                if kind == "word":
                    column = self._codes(n, column.fillna("").to_numpy(dtype=object))
                elif kind == "moment":
                    column = moments.seconds(column.fillna("").to_numpy(dtype=object), d.dates)
                made[:, n] = column
            return made

        return parse

    def _codes(self, column: int, texts: Any) -> Any:
        import pandas as pd

        codes, unique = pd.factorize(texts)
        known = self.labels[column]
        return np.array([known.setdefault(str(t).strip(), len(known)) for t in unique])[codes]

    def _right_count(self, buffer: Any, starts: Any, ends: Any) -> Any:
        """Tell which lines have as many cells as the table."""
        mark = self.dialect.delimiter
        filled = ends > starts
        if mark == "":
            return filled
        if mark == " ":
            blank = (buffer == 32) | (buffer == 9) | (buffer == 10)
            begins = ~blank
            begins[1:] &= blank[:-1]
            at, wanted = np.flatnonzero(begins), self.width
        else:
            sign = _PARTED if self.dialect.quoted else ord(mark)
            at, wanted = np.flatnonzero(buffer == sign), self.width - 1
        if wanted and len(at) == wanted * len(ends):  # the quick look: all lines are right
            table = at.reshape(-1, wanted)
            if (table[:, 0] >= starts).all() and (table[:, -1] < ends).all():
                return filled
        counts = np.diff(np.searchsorted(at, np.append(starts, ends[-1] + 1)))
        return filled & (counts == wanted)

    def _unquoted(self, block: bytes) -> bytes:
        """Take quotes off, with another sign in place of the delimiters outside of them."""
        buffer = np.frombuffer(block, np.uint8).copy()
        quote = buffer == 34
        total = np.cumsum(quote, dtype=np.int32)
        ends = np.flatnonzero(buffer == 10)
        before = np.concatenate(([0], total[ends[:-1]])).astype(np.int32)
        lengths = np.diff(np.concatenate(([-1], ends)))
        inside = (total - np.repeat(before, lengths)) & 1
        if len(self.dialect.delimiter) == 1 and self.dialect.delimiter != " ":
            buffer[(buffer == ord(self.dialect.delimiter)) & (inside == 0)] = _PARTED
        return bytes(buffer[~quote].tobytes())

    def _halving(
        self, data: bytes, lines: Any, text: list[bytes], first: int
    ) -> tuple[list[Any], list[Any]]:
        """Parse what looks like rows; where that fails, halve it until few lines are left."""
        done_lines: list[Any] = []
        done_rows: list[Any] = []
        waiting = [(data, lines)]
        while waiting:
            data, lines = waiting.pop()
            if not len(lines):
                continue
            try:
                rows = self.parse(data)
            except ValueError:
                rows = None
            if rows is not None and len(rows) == len(lines):
                done_rows.append(self._counted(rows, lines + first))
                done_lines.append(lines)
            elif len(lines) <= _SMALL:
                told = [(n, self._line(text[n], first + int(n))) for n in lines]
                kept = [(n, row) for n, row in told if row is not None]
                if kept:
                    done_lines.append(np.array([n for n, _ in kept]))
                    done_rows.append(np.array([row for _, row in kept]))
            else:
                ends = np.flatnonzero(np.frombuffer(data, np.uint8) == 10)
                half = len(lines) // 2
                cut = int(ends[half - 1]) + 1
                waiting += [(data[cut:], lines[half:]), (data[:cut], lines[:half])]
        order = sorted(range(len(done_lines)), key=lambda n: int(done_lines[n][0]))
        return [done_lines[n] for n in order], [done_rows[n] for n in order]

    def _counted(self, rows: Any, lines: Any) -> Any:
        finite = np.isfinite(rows)
        if finite.all():
            return rows
        for kind, wrong in (("absent", np.isnan(rows)), ("beyond", np.isinf(rows))):
            if count := int(np.count_nonzero(wrong)):
                at = int(np.flatnonzero(wrong.any(axis=1))[0])
                self.found.meet(kind, int(lines[at]), "", count)
        return np.where(finite, rows, np.nan)

    # -- one by one ---------------------------------------------------------------------------

    def _line(self, raw: bytes, number: int) -> list[float] | None:
        """Row of one line that the quick way did not take; None if it is no row."""
        if not raw.strip():
            return None
        text = decoded(self.found, raw)
        if is_comment(text):
            self.found.meet("comment", number, text)
            return None
        row = split(text, self.dialect.delimiter)
        while len(row) > self.width and not row[-1]:
            row.pop()
        if len(row) != self.width or not fits(row, self.dialect.kinds):
            self._left_out(row, text, number)
            return None
        return [self._cell(cell, n, number) for n, cell in enumerate(row)]

    def _left_out(self, row: list[str], text: str, number: int) -> None:
        if tuple(row) != self.dialect.heads and other_heads(row, self.dialect):
            raise self.found.refuse(
                f"another table begins, with the heads {shown(text.strip())}: save each table in "
                "a file of its own.",
                number,
            )
        if tuple(row) == self.dialect.heads or tuple(row) == self.dialect.unit_row:
            self.found.meet("heads again", number, text)
            return
        numbers = sum(cells.kind(cell) == "number" for cell in row[: 2 * self.width])
        if len(row) == self.width or 2 * numbers <= len(row) or numbers == 0:
            self.found.meet("chatter", number, text)
        else:
            self.found.meet("short" if len(row) < self.width else "long", number, text)

    def _cell(self, cell: str, column: int, number: int) -> float:
        want = self.dialect.kinds[column]
        if want == "word":
            known = self.labels[column]
            return known.setdefault(cell, len(known))
        if want == "moment":
            return float(moments.seconds([cell], self.dialect.dates)[0])
        told = cells.kind(cell)
        if told in ("absent", "beyond"):
            self.found.meet(told, number, cell)
            return math.nan
        read = cells.value(cell, self.dialect.decimal, self.dialect.thousands)
        if told == "doubt":
            self.found.meet("doubt", number, cell)
            return read if self.doubtful == "keep" else math.nan
        if math.isnan(read):
            self.found.meet("unread", number, cell)
        return read
