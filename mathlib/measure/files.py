"""Reads the tables that people measure, and says what it found and what it changed.

CSV, tabs, spreadsheet exports, logs with chatter between the rows. What can be told from the file
is told in ``notes``; what cannot is an error that names the choice to pass.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from mathlib import units
from mathlib.errors import TableError
from mathlib.measure import clock, dialect, heads, moments, shapes
from mathlib.measure.bulk import Lines
from mathlib.measure.heads import Head
from mathlib.measure.text import Findings, blocks, shown
from mathlib.units import Quantity

_MET: Final = {
    "comment": "{n} comment lines between the rows were left out, {first}.",
    "chatter": "{n} lines that are no rows were left out, {first}.",
    "heads again": "The heads come again {n} times, {first}.",
    "short": "{n} lines are cut short and were left out, {first}.",
    "long": "{n} lines have too many cells and were left out, {first}.",
    "absent": "{n} cells are empty or say that they have no value; nan, {first}.",
    "beyond": "{n} cells say that the instrument was beyond its range; nan, {first}.",
    "unread": "{n} cells are not numbers; they are nan, {first}.",
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class Table:
    """Columns with units, and what was found while reading.

    ``columns`` maps names to quantities, ``words`` names to arrays of text; ``time`` names the
    column of time, if there is one, and ``sessions`` are the rows between its gaps.
    """

    columns: Mapping[str, Quantity]
    time: str | None = None
    words: Mapping[str, Any] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    sessions: tuple[slice, ...] = ()
    path: str = ""
    comments: tuple[str, ...] = ()

    def __getitem__(self, name: str) -> Any:
        """Column of a name: a quantity, or an array of words."""
        if name in self.columns:
            return self.columns[name]
        if name in self.words:
            return self.words[name]
        raise TableError(f"{self.path or 'the table'}: there is no column {name!r}; {self._told()}")

    def __len__(self) -> int:
        """Give the number of rows."""
        every = [*(q.magnitude for q in self.columns.values()), *self.words.values()]
        return len(every[0]) if every else 0

    def __repr__(self) -> str:
        """Columns, rows and notes."""
        return "\n".join([f"{len(self)} rows of {self._told()}", *self.notes])

    def _told(self) -> str:
        told = [
            f"{name} [{units.unit_text(q._units) or '1'}]" for name, q in self.columns.items()
        ] + [f"{name} (words)" for name in self.words]
        return ", ".join(told)


def read(
    path: str | os.PathLike[str],
    *,
    names: list[str] | tuple[str, ...] | None = None,
    units: Mapping[str, str] | None = None,
    scale: Mapping[str, str] | str | None = None,
    delimiter: str | None = None,
    decimal: str | None = None,
    dates: str | None = None,
    doubtful: str | None = None,
    duplicates: str | None = None,
    sensor: str | int | None = None,
    scan: int | None = None,
    session: int | None = None,
    time: str | None = None,
) -> Table:
    r"""Read a table of measured values.

    Parameters
    ----------
    path : path of the file
        Text, at most 2 GB. Any line ends; UTF-8, UTF-16 or Windows-1252.
    names : texts
        Names of the columns, where the file has none or others are wanted.
    units : dict
        Unit of a column, where its head has none or a wrong one.
    scale : dict or text
        What one count of a device is, such as ``"0.0039 gn"``, by column or for all.
    delimiter, decimal : text
        What parts cells, and ``"."`` or ``","``, where the file leaves that open.
    dates : "day first" or "month first"
        Of dates such as 05/06/2026; between points, as in 05.06.2026, the day comes first.
    doubtful : "keep" or "drop"
        What to do with cells such as ``9?``; dropped ones are nan.
    duplicates : "first", "last", "mean" or "keep"
        What to do with rows of one time and different values.
    sensor, scan, session : one of several
        The sensor (its name, or from 1 where it has none), the scan (side by side), the session
        between gaps of time (from 1).
    time : text
        Name of the column of time, where it is not told by its name or unit.

    Returns
    -------
    Table
        Columns as quantities, shape (rows,), and ``notes``.

    Raises
    ------
    TableError
        There is no table, or it can be read in several ways; the sentence names the choice.

    Examples
    --------
    >>> import tempfile, pathlib
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = pathlib.Path(folder) / "scan.csv"
    ...     _ = file.write_text("x [mm];power [mW]\n0,5;1,5\n1,0;2,5\n")
    ...     table = read(file)
    >>> print(table["power"], *table.notes)
    [1.5 2.5] mW Numbers were read with a decimal comma.

    """
    found = Findings(Path(path))
    if doubtful not in (None, "keep", "drop"):
        raise found.refuse(f'doubtful is "keep" or "drop"; got {doubtful!r}.')
    lines, rows, kind = _rows(found, delimiter, decimal, dates, doubtful)
    _tell(found, doubtful)
    rows = shapes.filled(found, rows)
    rows, labels, headed = _named(found, lines, rows, kind, names)
    numeric = [not known for known in labels]
    width = shapes.scans(headed, labels)
    if width:
        rows, headed = shapes.stacked(found, rows, headed, width, scan)
        labels, numeric = [{} for _ in headed], [True for _ in headed]
    elif scan is not None:
        raise found.refuse("there are no scans side by side to choose from.")
    headed = _unique(found, headed)
    rows = moments.joined(found, rows, headed, labels, numeric)
    dated = {head.name for head in headed if head.moment}
    at = _time_column(found, headed, dated, rows, time, units)
    free = set(dated)
    if at is not None and labels[at]:
        raise found.refuse(
            f"{headed[at].name} should hold times, and holds words such as "
            f"{shown(next(iter(labels[at])))}: pass time= with the name of another column, or "
            "write times as seconds, 14:03:05.250 or 2026-05-31 14:03:05."
        )
    epoch = ""
    if at is not None and headed[at].name not in (units or {}):
        epoch = _epoch(found, headed[at], rows[:, at], dated)
        free |= {headed[at].name} if epoch else set()
    headed = heads.chosen(found, headed, numeric, units, scale, free)
    heads.refuse_words(found, headed, labels, free)
    rows = shapes.of_sensor(found, rows, headed, labels, at, sensor)
    if not len(rows):
        raise found.refuse("no rows are left.")
    lead = at if at is not None else next((n for n, is_n in enumerate(numeric) if is_n), 0)
    if not width and (sensor != "all" or duplicates is not None):
        rows = shapes.ordered(found, rows, lead, headed[lead].name, at is not None)
        rows = shapes.without_repeats(
            found, rows, lead, headed[lead].name, at is not None, duplicates
        )
    parts: tuple[slice, ...] = ()
    if at is not None:
        rows, headed, parts = _timed(found, rows, headed, at, epoch, session)
    elif session is not None:
        raise found.refuse("sessions are told by a column of time, and there is none.")
    return _table(found, rows, headed, labels, at, parts, kind)


def _rows(
    found: Findings,
    delimiter: str | None,
    decimal: str | None,
    dates: str | None,
    doubtful: str | None,
) -> tuple[Lines, Any, dialect.Dialect]:
    """All rows as one array of floats, block by block."""
    parts: list[Any] = []
    lines: Lines | None = None
    number = 1
    for block in blocks(found):
        count = block.count(b"\n")
        body, first = block, number
        if lines is None:
            kind = dialect.find(found, block, delimiter, decimal, dates)
            lines = Lines(found, kind, doubtful)
            body = block.split(b"\n", kind.first)[-1]
            first = number + kind.first
        parts.append(lines.rows(body, first))
        number += count
    if lines is None:
        raise found.refuse("there is no table of numbers in it.")
    rows = np.concatenate(parts)  # ours to write in; what the parser gives is not
    if not len(rows):
        raise found.refuse("there is no table of numbers in it.")
    return lines, rows, kind


def _tell(found: Findings, doubtful: str | None) -> None:
    for kind, sentence in _MET.items():
        if kind in found.met:
            count, line, example = found.met[kind]
            first = f"the first in line {line}" + (f": {shown(example.strip())}" if example else "")
            found.note(sentence.format(n=count, first=first))
    if "doubt" in found.met:
        count, line, example = found.met["doubt"]
        told = f"{count} cells are in doubt, the first in line {line}: {shown(example)}"
        if doubtful is None:
            raise found.refuse(
                f'{told}. Pass doubtful="keep" to take their numbers, or doubtful="drop".', line
            )
        found.note(f"{told}; " + ("kept." if doubtful == "keep" else "they are nan."))
    if "unended" in found.met:
        found.note("The last line has no line end; it may be cut short.")


def _named(
    found: Findings,
    lines: Lines,
    rows: Any,
    kind: dialect.Dialect,
    names: list[str] | tuple[str, ...] | None,
) -> tuple[Any, list[dict[str, int]], list[Head]]:
    """Heads of the columns; a last column without head and values is a stray delimiter."""
    labels = [lines.labels[n] for n in range(lines.width)]
    keep = [
        n
        for n in range(lines.width)
        if not (
            np.isnan(rows[:, n]).all() and (not kind.heads or not kind.heads[n]) and not labels[n]
        )
    ]
    if not keep:
        raise found.refuse("no cell has a number that can be read.")
    if len(keep) < lines.width:
        found.note(f"{lines.width - len(keep)} columns without head and values were left out.")
    told = tuple(kind.heads[n] for n in keep) if kind.heads else ()
    unit_row = tuple(kind.unit_row[n] for n in keep) if kind.unit_row else ()
    if names is not None:
        if isinstance(names, str) or len(names) != len(keep):
            raise found.refuse(f"there are {len(keep)} columns; names has {len(names)}.")
        before = heads.named(found, told, unit_row, len(keep)) if told else []
        fresh = [heads.with_unit(found, *heads.parted(str(name))) for name in names]
        made = [
            replace(new, unit=old.unit, factor=old.factor) if new.unit is None else new
            for new, old in zip(fresh, before or fresh, strict=True)
        ]
    else:
        made = heads.named(found, told, unit_row, len(keep))
    kinds = [kind.kinds[n] for n in keep]
    made = [replace(h, moment=k == "moment") for h, k in zip(made, kinds, strict=True)]
    return (rows if len(keep) == lines.width else rows[:, keep]), [labels[n] for n in keep], made


def _unique(found: Findings, headed: list[Head]) -> list[Head]:
    seen: dict[str, int] = {}
    made = []
    for head in headed:
        seen[head.name] = seen.get(head.name, 0) + 1
        if seen[head.name] > 1:
            new = f"{head.name} {seen[head.name]}"
            found.note(f"A second column {head.name!r} is called {new!r}.")
            head = replace(head, name=new)
        made.append(head)
    return made


def _time_column(
    found: Findings,
    headed: list[Head],
    moments: set[str],
    rows: Any,
    wanted: str | None,
    told: Mapping[str, str] | None,
) -> int | None:
    names = [head.name for head in headed]
    if wanted is not None:
        if wanted not in names:
            raise found.refuse(f"time names {wanted!r}; there are {', '.join(map(repr, names))}.")
        return names.index(wanted)
    for n, head in enumerate(headed):
        if head.name in moments:
            return n
    for n, head in enumerate(headed):
        unit = (told or {}).get(head.name, head.unit)
        if unit in ("s", "ms", "us", "ns", "min", "h") and heads.TIME.fullmatch(head.name):
            return n
        if unit is None and (heads.TIME.fullmatch(head.name) or n == 0):
            if clock.epoch_unit(rows[:, n]) in ("ms", "us", "ns"):
                return n
            if heads.TIME.fullmatch(head.name):
                return n
    first = (told or {}).get(names[0], headed[0].unit)
    return 0 if first in ("s", "ms", "us") else None


def _epoch(found: Findings, head: Head, values: Any, moments: set[str]) -> str:
    """Tell the unit of an epoch that the values are in, or nothing."""
    if head.name in moments:
        return "s" if clock.epoch_unit(values) == "s" else "day"
    unit = clock.epoch_unit(values)
    if unit is None or (head.unit not in (None, unit) and unit == "s"):
        return ""
    if head.unit not in (None, unit):
        raise found.refuse(
            f"{head.name} is in {head.unit} after its head, and its values look like {unit} since "
            f'1970: pass units={{"{head.name}": "{unit}"}} or "{head.unit}".'
        )
    step = float(np.median(np.abs(np.diff(values)))) if len(values) > 1 else 0.0
    return "" if unit == "s" and head.unit is None and step > 100 else unit


def _timed(
    found: Findings, rows: Any, headed: list[Head], at: int, epoch: str, session: int | None
) -> tuple[Any, list[Head], tuple[slice, ...]]:
    """Rows with seconds where times were an epoch, the sessions, and the one chosen."""
    head = headed[at]
    known = np.isfinite(rows[:, at])
    if not known.all():
        count = int(np.count_nonzero(~known))
        found.note(f"{count} rows without a time were left out.")
        rows = rows[known]
        if not len(rows):
            raise found.refuse(f"no row has a time in {head.name}.")
    if not epoch and head.unit in ("s", "ms", "us", "ns"):
        likely = clock.epoch_unit(rows[:, at])
        epoch = likely if likely == head.unit else ""
    if epoch in ("s", "ms", "us", "ns"):
        rows[:, at] = clock.since_start(found, head.name, rows[:, at], epoch, head.moment)
        head = Head(head.name, "s")
    elif epoch == "day":
        rows[:, at] -= rows[0, at]
        rows[:, at] += 86400.0 * np.cumsum(np.diff(rows[:, at], prepend=0.0) < -43200.0)
        found.note(f"{head.name}: times of day, given as seconds since the first.")
        head = Head(head.name, "s")
    headed = [head if n == at else other for n, other in enumerate(headed)]
    factor = units.kind(heads.container(head)).factor * head.factor
    parts = clock.sessions(found, head.name, rows[:, at] * factor)
    if session is not None:
        if isinstance(session, bool) or session not in range(1, len(parts) + 1):
            raise found.refuse(f"session is a number from 1 to {len(parts)}; got {session!r}.")
        rows = rows[parts[session - 1]]
        found.note(f"Session {session} of {len(parts)} was taken: {len(rows)} rows.")
        parts = (slice(0, len(rows)),)
    return rows, headed, parts


def _table(
    found: Findings,
    rows: Any,
    headed: list[Head],
    labels: list[dict[str, int]],
    at: int | None,
    parts: tuple[slice, ...],
    kind: dialect.Dialect,
) -> Table:
    columns: dict[str, Quantity] = {}
    words: dict[str, Any] = {}
    for n, head in enumerate(headed):
        column = np.ascontiguousarray(rows[:, n])
        if labels[n]:
            known = np.array(list(labels[n]), dtype=object)
            words[head.name] = known[column.astype(int)]
            continue
        if head.factor != 1.0:
            column *= head.factor
        columns[head.name] = units.quantity(column, heads.container(head))
    name = headed[at].name if at is not None else None
    return Table(columns, name, words, tuple(found.notes), parts, str(found.path), kind.comments)
