"""Reads a machine file: TOML, with every mistake found at once and named by key and line."""

from __future__ import annotations

import datetime
import difflib
import hashlib
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import attrs

from mathlib import tables, units, words
from mathlib.errors import MachineFileError, MathlibError
from mathlib.fields import word_of
from mathlib.ranges import KINDS, Range
from mathlib.units import Quantity
from mathlib.words import Word

FORMAT: Final = 1
_LARGEST_FILE: Final = 1_000_000  # bytes; a machine file has a few thousand
_LARGEST_VALUE: Final = 1e15  # in the unit of the field; no machine has such a part
_RANGE_KEYS: Final = ("low", "typical", "high", "source", "kind")
_MEASURED_KEYS: Final = (
    "key", "value", "uncertainty", "date", "file", "method", "state", "tension", "note",
)  # fmt: skip
_MEASURED_NEEDED: Final = ("key", "value", "uncertainty", "date", "method")
_Z90: Final = 1.6448536269514722


@dataclass(frozen=True)
class Section:
    """One table of the file: the record that it fills, and the table its ``like`` looks in."""

    record: type
    table: str = ""
    required: bool = True
    together: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass
class Contents:
    """What a file says: values and ranges by dotted key, and which findings lie over them."""

    path: Path
    sha256: str
    values: dict[str, dict[str, Any]] = field(default_factory=dict)
    ranges: dict[str, Range] = field(default_factory=dict)
    measured: dict[str, str] = field(default_factory=dict)
    sources: dict[str, str] = field(default_factory=dict)
    pairs: dict[str, str] = field(default_factory=dict)


class _Mistakes:
    """Sentences about one file, each with its line and key."""

    def __init__(self, path: Path, lines: Mapping[str, int]) -> None:
        self.path, self.lines = path, lines
        self.found: list[tuple[int, str]] = []

    def add(self, key: str, sentence: str, value: Any = None) -> None:
        line = self.lines.get(key, self.lines.get(key.rpartition(".")[0], 0))
        where = f"line {line}: " if line else ""
        shown = "" if value is None else f" = {_short(value)}"
        self.found.append((line, f"{where}{key}{shown}: {sentence}"))

    def stop(self) -> None:
        if self.found:
            told = "\n".join(f"  {sentence}" for _, sentence in sorted(self.found))
            count = "one mistake" if len(self.found) == 1 else f"{len(self.found)} mistakes"
            raise MachineFileError(f"{self.path}: {count}.\n{told}")


def _short(value: Any) -> str:
    shown = repr(value)
    if isinstance(value, dict):
        shown = "{" + ", ".join(f"{key} = {told!r}" for key, told in value.items()) + "}"
    return shown if len(shown) <= 60 else shown[:57] + "..."


def read_file(path: Path, sections: Mapping[str, Section]) -> Contents:
    """Read a machine file against the sections that it may have.

    Raises
    ------
    MachineFileError
        The file cannot be read, or has mistakes; the message lists all of them.

    """
    raw = _bytes_of(path)
    text = _text_of(path, raw)
    try:
        told = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise MachineFileError(
            f"{path}: this is not TOML: {fault}. Write one key = value on a line, and texts in "
            'double quotes, such as width = "9 mm".'
        ) from None
    except RecursionError:
        raise MachineFileError(f"{path}: brackets within brackets, far too many of them.") from None
    mistakes = _Mistakes(path, _lines_of(text))
    contents = Contents(path, hashlib.sha256(raw).hexdigest())
    if told.pop("format", None) != FORMAT:
        mistakes.add("format", f"write format = {FORMAT} as the first line.")
    measured = told.pop("measured", [])
    tables_found = dict(_tables(told))
    _check_sections(tables_found, sections, mistakes)
    meant = _meant(tables_found, sections)
    for name, told_there in tables_found.items():
        section = sections.get(meant.get(name, name))
        if section is not None and isinstance(told_there, dict):
            _fill(contents, name, section, told_there, mistakes)
    _lay_over(contents, measured, sections, mistakes)
    mistakes.stop()
    return contents


def _bytes_of(path: Path) -> bytes:
    if path.is_dir():
        raise MachineFileError(f"{path} is a folder; name the machine file in it.")
    try:
        with path.open("rb") as file:
            raw = file.read(_LARGEST_FILE + 1)
    except FileNotFoundError:
        near = [p.name for p in path.parent.glob("*.toml")] if path.parent.is_dir() else []
        close = difflib.get_close_matches(path.name, near, n=1)
        hint = (
            f" Did you mean {path.parent / close[0]}?"
            if close
            else (" Make one with: python3 run.py new my_machine.toml")
        )
        raise MachineFileError(f"{path}: there is no such file.{hint}") from None
    except OSError as fault:
        raise MachineFileError(f"{path} cannot be read: {fault.strerror}.") from None
    if len(raw) > _LARGEST_FILE:
        raise MachineFileError(f"{path} is larger than a machine file can be (1 MB).")
    if not raw.strip():
        raise MachineFileError(
            f"{path} is empty. Make one to start from with: python3 run.py new my_machine.toml"
        )
    return raw


def _text_of(path: Path, raw: bytes) -> str:
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise MachineFileError(f"{path} is in UTF-16; save it as UTF-8.")
    if b"\x00" in raw:
        raise MachineFileError(f"{path} is a binary file, not a machine file in TOML.")
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as fault:
        line = raw[: fault.start].count(b"\n") + 1
        raise MachineFileError(
            f"{path}, line {line}: not UTF-8 (byte {raw[fault.start]:#04x}); save it as UTF-8."
        ) from None


def _lines_of(text: str) -> dict[str, int]:
    """Line of each dotted key. A scan by eye of the same text: TOML's reader keeps no lines."""
    found: dict[str, int] = {}
    table, counts = "", dict[str, int]()
    for number, line in enumerate(text.split("\n"), start=1):
        head = re.match(r"\s*(\[\[?)\s*([\w.\- ]+?)\s*\]", line)
        entry = re.match(r"\s*([\w.\-]+)\s*=", line)
        if head:
            table = head.group(2).replace(" ", "")
            if head.group(1) == "[[":
                counts[table] = counts.get(table, 0) + 1
                found.setdefault(table, number)
                table = f"{table}[{counts[table]}]"
            found.setdefault(table, number)
        elif entry:
            key = f"{table}.{entry.group(1)}" if table else entry.group(1)
            found.setdefault(key, number)
    return found


def _tables(told: Mapping[str, Any]) -> Iterable[tuple[str, Any]]:
    """Tables by dotted name; ``heads`` only groups."""
    for name, value in told.items():
        if name == "heads" and isinstance(value, dict):
            for head, table in value.items():
                yield f"heads.{head}", table
        else:
            yield name, value


def _check_sections(
    found: Mapping[str, Any], sections: Mapping[str, Section], mistakes: _Mistakes
) -> None:
    meant = _meant(found, sections)
    for name, value in found.items():
        if name not in sections:
            mistakes.add(name, f"there is no table [{name}]." + _nearest(name, sections))
        elif not isinstance(value, dict):
            mistakes.add(name, f"this is a table: write [{name}] on its own line.", value)
    for name, section in sections.items():
        if section.required and name not in found and name not in meant.values():
            mistakes.add(name, f"the table [{name}] is missing.")


def _meant(found: Iterable[str], sections: Mapping[str, Section]) -> dict[str, str]:
    """Tables that each misspelt one was probably meant for, so that its keys are checked too."""
    absent = [name for name in sections if name not in found]
    close = {
        name: difflib.get_close_matches(name, absent, n=1, cutoff=0.6)
        for name in found
        if name not in sections
    }
    return {name: near[0] for name, near in close.items() if near}


def _nearest(name: str, known: Iterable[str]) -> str:
    known = list(known)
    close = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
    if close:
        return f" Did you mean {close[0]!r}?"
    return f" Known here: {', '.join(known)}."


def _fill(
    contents: Contents,
    name: str,
    section: Section,
    told: Mapping[str, Any],
    mistakes: _Mistakes,
) -> None:
    fields = attrs.fields_dict(section.record)
    values: dict[str, Any] = {}
    told = dict(told)
    if section.table and "like" in told:
        values |= _from_table(contents, name, section, told.pop("like"), fields, mistakes)
        for key, others in section.together.items():
            absent = [other for other in others if other not in told]
            if key in told and absent:
                mistakes.add(
                    f"{name}.{key}",
                    f"the row's {' and '.join(absent)} belong to its own {key}: give them too, or "
                    "take the row of that size.",
                    told[key],
                )
    listed = [key for key in told if key in fields and "rows" in fields[key].metadata]
    for key in listed:
        _list(contents, name, fields[key], told, values, mistakes)
    for key, value in told.items():
        dotted = f"{name}.{key}"
        if key in listed:
            continue
        if key not in fields:
            known = [*fields, "like"] if section.table else list(fields)
            mistakes.add(dotted, "there is no such key." + _nearest(key, known))
            continue
        contents.ranges.pop(dotted, None)  # what the file says replaces the table's row
        contents.sources.pop(dotted, None)
        found = _value(contents, dotted, fields[key], value, mistakes)
        if found is not None:
            values[key] = found
    for key, about in fields.items():
        if key not in values and about.default is attrs.NOTHING and key not in told:
            word = word_of(about)
            such = f", {units.needed(word.container)}" if word else ""
            mistakes.add(f"{name}.{key}", f"missing: {about.metadata.get('about', '')}{such}.")
    contents.values[name] = values


def _from_table(
    contents: Contents,
    name: str,
    section: Section,
    like: Any,
    fields: Mapping[str, Any],
    mistakes: _Mistakes,
) -> dict[str, Any]:
    rows = tables.read(section.table).rows
    row = rows.get(like) if isinstance(like, str) else None
    if row is None:
        close = difflib.get_close_matches(str(like), rows, n=3, cutoff=0.3) or list(rows)
        told = " or ".join(map(repr, close))
        mistakes.add(
            f"{name}.like", f"{section.table}.csv has no such row; did you mean {told}?", like
        )
        return {key: None for key in fields}
    values: dict[str, Any] = {}
    for key, value in row.values.items():
        if key not in fields:
            continue
        dotted = f"{name}.{key}"
        contents.sources[dotted] = f"{row.name} ({row.kind}: {row.source})"
        if isinstance(value, Range):
            contents.ranges[dotted] = value
        values[key] = value.typical if isinstance(value, Range) else value
    contents.pairs[name] = row.pair
    contents.values.setdefault(name, {})
    contents.sources[f"{name}.like"] = row.name
    return values


def _value(contents: Contents, dotted: str, about: Any, value: Any, mistakes: _Mistakes) -> Any:
    """One value as the record takes it; None after a mistake was noted."""
    word = word_of(about)
    if word is None:
        options = about.metadata.get("choices")
        if not isinstance(value, str):
            mistakes.add(dotted, "a text in double quotes is needed.", value)
        elif options and value not in options:
            told = ", ".join(f'"{option}"' for option in options)
            mistakes.add(dotted, f"one of {told} is needed.", value)
        else:
            return value
        return None
    if isinstance(value, dict):
        return _range(contents, dotted, word, value, mistakes)
    if about.converter is not None and isinstance(value, str):
        try:
            value = about.converter(value)
        except MathlibError as fault:
            mistakes.add(dotted, str(fault), value)
            return None
        if value is None:
            return None
    return _quantity(dotted, word, value, mistakes)


def _list(
    contents: Contents,
    name: str,
    about: Any,
    told: Mapping[str, Any],
    values: dict[str, Any],
    mistakes: _Mistakes,
) -> None:
    """Read a list of tables into one value: of its own field, or of the one that it fills."""
    key, fills = about.name, about.metadata["fills"] or about.name
    dotted, rows = f"{name}.{key}", told[key]
    if fills != key and fills in told:
        mistakes.add(dotted, f"give {fills} or {key}, not both.")
        return
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        mistakes.add(dotted, f"write each row under its own [[{dotted}]].", rows)
        return
    plain = {k: v for k, v in told.items() if isinstance(v, str | int | float)}
    try:
        made = about.metadata["rows"](rows, values | plain)
    except MathlibError as fault:
        mistakes.add(dotted, str(fault).replace("\n", " "))
        values[fills] = None  # told, though wrongly
        return
    if isinstance(made, Range):
        contents.ranges[f"{name}.{fills}"] = made
        contents.sources[f"{name}.{fills}"] = f"{made.kind}: {made.source}"
        made = made.typical
    values[fills] = made


def _quantity(key: str, word: Word, value: Any, mistakes: _Mistakes) -> Quantity | None:
    if isinstance(value, datetime.date | datetime.time | list):
        mistakes.add(key, f"needs {units.needed(word.container)}.", value)
        return None
    try:
        base = words.base_value(word, value)
        read = words.result(base, word.container)
    except MathlibError as fault:
        mistakes.add(key, str(fault).removeprefix(f"{word.word} "), value)
        return None
    if abs(read.magnitude) > _LARGEST_VALUE:
        mistakes.add(key, "is far beyond what a machine has; check the number.", value)
        return None
    return read


def _range(
    contents: Contents, dotted: str, word: Word, told: Mapping[str, Any], mistakes: _Mistakes
) -> Quantity | None:
    if not told.get("source") and {"low", "typical", "high"} <= set(told):
        mistakes.add(dotted, "source is missing: who measured or stated it, and how.", told)
        return None
    odd = [key for key in told if key not in _RANGE_KEYS]
    if odd or not {"low", "typical", "high", "source"} <= set(told):
        mistakes.add(
            dotted,
            'a range is {low = "8 N", typical = "10 N", high = "13 N", source = "who, how"}, with '
            f"kind = {' or '.join(map(repr, KINDS))} where you know it.",
            told,
        )
        return None
    ends = {n: _quantity(dotted, word, told[n], mistakes) for n in ("low", "typical", "high")}
    if None in ends.values():
        return None
    try:
        made = Range(**ends, source=str(told["source"]), kind=str(told.get("kind", "estimate")))
    except MathlibError as fault:
        mistakes.add(dotted, str(fault).removeprefix("Range: "), told)
        return None
    contents.ranges[dotted] = made
    contents.sources[dotted] = f"{made.kind}: {made.source}"
    return ends["typical"]


def _lay_over(
    contents: Contents, measured: Any, sections: Mapping[str, Section], mistakes: _Mistakes
) -> None:
    """Put the newest finding for each key over the design value, which stays in the file."""
    newest: dict[str, tuple[str, int, Mapping[str, Any]]] = {}
    if not isinstance(measured, list):
        mistakes.add("measured", "write each finding under its own [[measured]].")
        return
    there = [name for name in contents.values if name in sections]
    known = [f"{name}.{key}" for name in there for key in _words_of(sections[name])]
    for number, block in enumerate(measured, start=1):
        where = f"measured[{number}]"
        for key in block:
            if key not in _MEASURED_KEYS:
                sentence = "there is no such key." + _nearest(key, _MEASURED_KEYS)
                mistakes.add(f"{where}.{key}", sentence)
        absent = [key for key in _MEASURED_NEEDED if key not in block]
        if absent:
            mistakes.add(where, f"{', '.join(absent)} missing.")
            continue
        key, date = str(block["key"]), str(block["date"])
        if key not in known:
            mistakes.add(f"{where}.key", "there is no such key." + _nearest(key, known), key)
        elif not _is_day(date):
            mistakes.add(f"{where}.date", "write a day such as 2026-05-31.", date)
        elif key not in newest or (date, number) > newest[key][:2]:
            newest[key] = (date, number, block)
    for key, (date, number, block) in newest.items():
        _lay_one(contents, key, f"measured[{number}]", date, block, sections, mistakes)


def _words_of(section: Section) -> dict[str, Word]:
    fields = {field.name: word_of(field) for field in attrs.fields(section.record)}
    return {name: word for name, word in fields.items() if word is not None}


def _is_day(text: str) -> bool:
    try:
        datetime.date.fromisoformat(text)
    except ValueError:
        return False
    return True


def _lay_one(
    contents: Contents,
    key: str,
    where: str,
    date: str,
    block: Mapping[str, Any],
    sections: Mapping[str, Section],
    mistakes: _Mistakes,
) -> None:
    section, _, name = key.rpartition(".")
    word = _words_of(sections[section])[name]
    value = _quantity(f"{where}.value", word, block["value"], mistakes)
    spread = _quantity(
        f"{where}.uncertainty",
        Word(word.word, word.unit, "", "zero"),
        block["uncertainty"],
        mistakes,
    )
    if value is None or spread is None:
        return
    half = _Z90 * spread.magnitude
    low = value.magnitude - half
    if word.sign != "signed":
        low = max(low, value.magnitude**2 / (value.magnitude + half) if value.magnitude else 0.0)
    source = f"measured {date}: {block['method']}"
    contents.values[section][name] = value
    contents.ranges[key] = Range(
        units.quantity(low, word.container),
        value,
        units.quantity(value.magnitude + half, word.container),
        source,
        "measured",
    )
    contents.measured[key] = contents.sources[key] = source
