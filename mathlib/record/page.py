"""Record, reference of formulas and checklist as HTML pages without network or script."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import attrs

import mathlib
from mathlib import figures, units
from mathlib.equation import letter_latex
from mathlib.machine import shown_path
from mathlib.record import MOMENTS, Entry, Record
from mathlib.record.provenance import SHORT, commit
from mathlib.record.worked import worked

if TYPE_CHECKING:
    import datetime

    from mathlib.answers import Answer
    from mathlib.formula import Formula
    from mathlib.machine import Machine
    from mathlib.safety.checklist import Checklist

_TEMPLATES: Final = Path(__file__).parent / "templates"
_LONGEST_CALL: Final = 72
_BEFORE_UNIT: Final = re.compile(r"(?<=\d) (?=[^\W\d_]|%|°|×)")


@attrs.frozen(kw_only=True)
class Row:
    """One line of a table of values; ``cells`` has value, range and mark for each column."""

    word: str
    cells: tuple[tuple[str, str, bool], ...]
    about: str


@attrs.frozen(kw_only=True)
class Block:
    """One question as the page shows it."""

    entry: Entry
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    pictures: tuple[str, ...]
    formulas: tuple[tuple[str, str, str], ...]
    flips: tuple[tuple[str, str, str], ...]


def write(record: Record) -> str:
    """Write a record as one HTML page."""
    blocks = [_block(entry, record) for entry in record.entries]
    moments = [(name, [b for b in blocks if b.entry.moment == name]) for name, _ in MOMENTS]
    return _rendered(
        "record.html",
        record=record,
        moments=moments,
        file=shown_path(record.machine.path),
        short=SHORT,
        show=units.show,
    )


def _rendered(name: str, **told: Any) -> str:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_unbroken,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["plain"] = lambda word: word.replace("_", " ")
    return environment.get_template(name).render(**told) + "\n"


def mathml(latex: str) -> Any:
    """Typeset LaTeX as MathML, which browsers show without a script."""
    from latex2mathml.converter import convert
    from markupsafe import Markup

    return Markup(convert(latex, display="block"))


def _block(entry: Entry, record: Record) -> Block:
    answer, machine = entry.answer, record.machine
    if answer is None:
        return Block(entry=entry, columns=(), rows=(), pictures=(), formulas=(), flips=())
    pictures = []
    for name in figures.NAMES:
        if figures.answer_of(name) == entry.name:
            from markupsafe import Markup

            caption = figures.describe(name, answer, machine)
            drawn = figures.draw(name, answer, machine)
            pictures.append(Markup(figures.svg(drawn, answer.asked, caption)))
    columns, rows = _rows(entry, answer, machine)
    flips = []
    for word, value in answer.flips_at.items():
        now = entry.current(word, record.inputs)
        flips.append((word, units.show(value), "" if now is None else units.show(now)))
    return Block(
        entry=entry,
        columns=columns,
        rows=rows,
        pictures=tuple(pictures),
        formulas=tuple(
            (each.formula.title, mathml(each.formula.latex), mathml(_put_in(each)))
            for each in worked(entry.name, answer, machine)
        ),
        flips=tuple(flips),
    )


def _put_in(each: Any) -> str:
    """Numbers put in, and the result: the worked line without the equation before it."""
    told: str = each.formula.worked(**each.inputs)
    return letter_latex(each.formula.equation.left) + told.removeprefix(each.formula.latex)


def _rows(
    entry: Entry, answer: Answer, machine: Machine
) -> tuple[tuple[str, ...], tuple[Row, ...]]:
    """Rows of values; those of the other of two motors stand in a column beside the first's."""
    told = {word: (value, span, about) for word, value, span, about in answer.table()}
    twice = any(word.startswith("other_") for word in told)
    rows = []
    for word, (_, _, about) in told.items():
        if twice and word.startswith("other_"):
            continue
        names = [word, f"other_{word}"] if twice else [word]
        cells = tuple((*told[name][:2], name in entry.estimated) for name in names if name in told)
        rows.append(Row(word=word, cells=cells, about=about))
    if not twice:
        return ("value",), tuple(rows)
    pair = (machine.motor, machine.other_motor)
    return tuple(f"{units.show(m.step_angle)} motor" for m in pair if m is not None), tuple(rows)


def reference(
    known: Mapping[str, Formula], words: Mapping[str, tuple[str, tuple[str, ...]]]
) -> str:
    """Write what the library knows as one HTML page: every formula, then every word."""
    chapters: dict[str, list[dict[str, Any]]] = {}
    for name, formula in known.items():
        chapters.setdefault(name.rpartition(".")[0], []).append(_formula(name, formula))
    return _rendered(
        "reference.html",
        chapters=chapters,
        words=words,
        version=mathlib.__version__,
        commit=commit(),
    )


def checklist(told: Checklist, machine: Machine, date: datetime.date) -> str:
    """Write a checklist as one HTML page to print and to sign."""
    return _rendered("checklist.html", checklist=told, file=shown_path(machine.path), date=date)


def _formula(name: str, formula: Formula) -> dict[str, Any]:
    letters = [
        (mathml_inline(letter_latex(word.letter)), word)
        for word in (formula.output, *formula.inputs)
    ]
    example = formula.example
    return {
        "name": name,
        "formula": formula,
        "equation": mathml(formula.latex),
        "letters": letters,
        "call": "" if example is None else _call(name, example.inputs),
    }


def mathml_inline(latex: str) -> Any:
    """Typeset LaTeX within a line of text."""
    from latex2mathml.converter import convert
    from markupsafe import Markup

    return Markup(convert(latex))


def _call(name: str, inputs: Mapping[str, Any]) -> str:
    """Write a call of a formula as a reader types it, on one line if it fits."""
    given = [f"{word}={json.dumps(value, ensure_ascii=False)}" for word, value in inputs.items()]
    head = f"{name.rpartition('.')[2]}("
    whole = f"{head}{', '.join(given)})"
    if len(whole) <= _LONGEST_CALL:
        return whole
    return "\n".join([head, *(f"    {each}," for each in given), ")"])


def _unbroken(value: Any) -> Any:
    """Keep a number and its unit on one line of the page."""
    if isinstance(value, str) and not hasattr(value, "__html__"):
        return _BEFORE_UNIT.sub("\N{NO-BREAK SPACE}", value)
    return value
