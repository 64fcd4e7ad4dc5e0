"""A machine file to start from, made from the records, so that it names every key they know."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import attrs

from mathlib import machine, tables, units
from mathlib.fields import word_of
from mathlib.machine_file import FORMAT, Section

if TYPE_CHECKING:
    from mathlib.machine import Machine
    from mathlib.units import Quantity
    from mathlib.words import Word

_FIRST_HEAD: Final = "heads.laser"  # the one that stands in the file; the others are commented out

_INTRODUCTION: Final = """\
Your machine. The values are those of the Tagmaker, to start from: replace them by yours.
A value is a text with its unit, or a range: {low, typical, high, source}. 90 % of cases lie
between low and high. Ask for mistakes with: python3 run.py check THIS_FILE
A line that begins with # is not read. Take the # away from a key or a table that you need."""

_MEASURED: Final = """\
What you measure goes below, one block for each finding; the newest lies over the value above,
which stays as it is. The uncertainty is a standard uncertainty. The first finding might be:"""

_FINDING: Final = """\
[[measured]]
key = "carriage.friction"
value = "5.2 N"
uncertainty = "0.6 N"
date = "2026-05-31"
method = "spring scale, five slow pulls each way"
"""


def write() -> str:
    """Write an annotated machine file with every table and key; it reads without a mistake."""
    tagmaker = machine.load(machine.TAGMAKER)
    lines = [f"format = {FORMAT}", "", *_comment(_INTRODUCTION)]
    shown: set[str] = set()
    for name, section in machine.SECTIONS.items():
        lines += ["", *_section(name, section, tagmaker, shown)]
    lines += ["", *_comment(_MEASURED), *_comment(_FINDING.rstrip())]
    return "\n".join(lines) + "\n"


def _comment(text: str) -> list[str]:
    return [f"# {line}".rstrip() for line in text.splitlines()]


def _section(name: str, section: Section, tagmaker: Machine, shown: set[str]) -> list[str]:
    needed = section.required or name == _FIRST_HEAD
    told = (section.record.__doc__ or "").splitlines()[0].replace("`", "")
    lines = [f"# {told}"]
    if not needed:
        lines.append("# Take the # away if you have one.")
    lines.append(f"[{name}]" if needed else f"# [{name}]")
    like = tagmaker.contents.sources.get(f"{name}.like") if section.table else None
    if like is not None:
        if section.table not in shown:
            lines.append(f"# A row of data/{section.table}.csv, one of")
            lines += [f"#   {row}" for row in tables.read(section.table).rows]
            shown.add(section.table)
        lines.append(_line("like", like, "a row; a key below lies over it", needed))
    given = tables.read(section.table).rows[like].values if like is not None else {}
    group, _, own = name.rpartition(".")
    part: Any = getattr(tagmaker.heads if group else tagmaker, own)
    for field in attrs.fields(section.record):
        value = None if part is None else getattr(part, field.name)
        written = needed and field.name not in given and field.default is attrs.NOTHING
        lines += _key(tagmaker, f"{name}.{field.name}", field, value, written)
    return lines


def _key(tagmaker: Machine, key: str, field: Any, value: Any, written: bool) -> list[str]:
    """Lines of one key: what it means, and the Tagmaker's value for it."""
    about, word = field.metadata.get("about", ""), word_of(field)
    if "rows" in field.metadata:
        instead = "or: " if field.metadata["fills"] else ""
        return [f"# {instead}{field.name} = {field.metadata['example']}", f"#   {about}"]
    if word is None:
        options = field.metadata.get("choices", ())
        about = f"{about}: {', '.join(options)}" if options else about
        value = value or (options[0] if options else "")
        return [_line(field.name, value or "", about, written)]
    told = f"{about}, {'a plain number' if word.bare else f'in {word.unit}'}"
    if value is None:
        return [_line(field.name, 1.0 if word.bare else f"1 {word.unit}", told, False)]
    span = tagmaker.ranges.get(key)
    if span is None or not written:
        return [_line(field.name, _value(word, value), told, written)]
    ends = {"low": span.low, "typical": span.typical, "high": span.high}
    inner = ", ".join(f'{end} = "{_value(word, each)}"' for end, each in ends.items())
    return [f"# {told}", f'{field.name} = {{{inner}, source = "{span.source}"}}']


def _value(word: Word, value: Quantity) -> str | float:
    """Value in the unit of its key, as the file takes it."""
    number = float(value.to(units.quantity(1.0, word.container).units).magnitude)
    if word.unit == "1":
        return number
    return f"{number:.12g} {word.unit}"


def _line(name: str, value: str | float, about: str, written: bool) -> str:
    told = f'"{value}"' if isinstance(value, str) else f"{value:g}"
    entry = f"{name} = {told}" if written else f"# {name} = {told}"
    return f"{entry:44} # {about}"
