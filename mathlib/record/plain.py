"""A record as one page of plain text."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

from mathlib.machine import shown_path
from mathlib.record import Entry, Record
from mathlib.record.provenance import SHORT
from mathlib.units import show

if TYPE_CHECKING:
    from mathlib.answers import Answer

WIDTH: Final = 110
ESTIMATE: Final = "~"


def write(record: Record) -> str:
    """Write the verdicts first, then each question with its numbers, then what it rests on."""
    lines = [f"Record of {record.machine.name}, {record.date.isoformat()}"]
    for entry in record.entries:
        lines += ["", _asked(entry), *_wrapped(verdict(entry), "  ")]
    moment = ""
    for entry in record.answered:
        if entry.moment != moment:
            moment = entry.moment
            lines += ["", "", moment.upper()]
        lines += ["", *_numbers(record, entry)]
    return "\n".join([*lines, "", "", *_rests_on(record)]) + "\n"


def verdict(entry: Entry) -> str:
    """Verdict of an entry, or why there is none."""
    return f"Not answered: {entry.refusal}" if entry.answer is None else entry.answer.verdict


def _asked(entry: Entry) -> str:
    return entry.question if entry.answer is None else entry.answer.asked


def _wrapped(text: str, indent: str, first: str | None = None) -> list[str]:
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def _numbers(record: Record, entry: Entry) -> list[str]:
    answer = entry.answer
    assert answer is not None
    lines = [answer.asked, *_table(answer, entry.estimated)]
    lines += _wrapped(f"decided by: {answer.decided_by}", "    ", "  ")
    for word, value in answer.flips_at.items():
        now = entry.current(word, record.inputs)
        today = "" if now is None else f"; now {show(now)}"
        lines.append(f"  flips at {word.replace('_', ' ')} = {show(value)}{today}")
    for text in answer.warnings:
        lines += _wrapped(f"take care: {text}", "    ", "  ")
    return [*lines, *_wrapped(f"measure next: {answer.measure_next}", "    ", "  ")]


def _table(answer: Answer, estimated: frozenset[str]) -> list[str]:
    rows = answer.table()
    widths = [max(len(row[column]) for row in rows) if rows else 0 for column in range(3)]
    lines = []
    for word, value, span, about in rows:
        mark = ESTIMATE if word in estimated else " "
        first = f"  {word:{widths[0]}} {mark}{value:<{widths[1]}}  {span:<{widths[2]}}  "
        known = word.removeprefix("other_")
        if known != word and known in answer.values:  # said above, of the first of the two
            about = ""
        lines += _wrapped(about, " " * len(first), first) or [first.rstrip()]
    return lines


def _rests_on(record: Record) -> list[str]:
    made, measured = record.provenance, record.machine.contents.measured
    lines = [
        "WHAT THIS RESTS ON",
        "",
        f"  {ESTIMATE} marks a value that follows an estimate. A to B: where 90 % of cases lie.",
        f"  Belts and Beams {made.version}, {made.commit}",
        f"  machine file {shown_path(record.machine.path)}  sha256 {made.machine_sha256[:SHORT]}",
        *(f"  table {name}  sha256 {told[:SHORT]}" for name, told in made.tables.items()),
        "  measured: nothing yet" if not measured else "  measured, and used here:",
    ]
    return lines + [f"    {key}: {source}" for key, source in measured.items()]
