"""The record of a machine: every answer on one page, with what it rests on.

``make(machine, date)`` asks all questions; ``plain``, ``page`` and ``data`` write the result as
text, as HTML and as JSON, and decide nothing.
"""

from __future__ import annotations

import datetime
import importlib
import warnings
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

import attrs
import numpy as np

from mathlib import answers, units
from mathlib.errors import MathlibError
from mathlib.ranges import Range
from mathlib.record.inputs import Input, inputs_of
from mathlib.record.provenance import Provenance, provenance_of

if TYPE_CHECKING:
    from mathlib.answers import Answer
    from mathlib.machine import Machine
    from mathlib.units import Quantity

#: Questions by the moment at which they come up; later moments come later on the page.
MOMENTS: Final = (
    (
        "Before ordering",
        ("motor", "moves", "step", "ringing", "frame", "spot", "laser", "power"),
    ),
    ("After assembly", ("belt", "square")),
    ("Before the first burn", ("hazard",)),
    ("A new material", ("material", "energy")),
)
_SHAKE: Final = 0.02  # part of its value by which an estimate is moved to see what follows it
_FOLLOWS: Final = 1e-9  # relative change above which a value is taken to follow

Progress = Callable[[str], None]


@attrs.frozen(kw_only=True)
class Entry:
    """One question: its answer, or the sentence that says why there is none."""

    name: str
    moment: str
    question: str
    answer: Answer | None = None
    fault: MathlibError | None = None
    estimated: frozenset[str] = frozenset()

    @property
    def refusal(self) -> str:
        """Why there is no answer; empty where there is one."""
        return "" if self.fault is None else str(self.fault)

    def current(self, word: str, inputs: tuple[Input, ...]) -> Quantity | None:
        """Value that stands today where the verdict flips at another value of the same word."""
        assert self.answer is not None
        if word in self.answer.values:
            return self.answer.values[word]
        found = [each.typical for each in inputs if each.key.rpartition(".")[2] == word]
        return found[0] if len(found) == 1 else None


@attrs.frozen(kw_only=True)
class Record:
    """All questions about one machine, its values, and where everything comes from."""

    machine: Machine
    date: datetime.date
    entries: tuple[Entry, ...]
    inputs: tuple[Input, ...]
    provenance: Provenance

    @property
    def answered(self) -> tuple[Entry, ...]:
        """The entries that have an answer."""
        return tuple(entry for entry in self.entries if entry.answer is not None)


def make(machine: Machine, date: datetime.date, progress: Progress | None = None) -> Record:
    """Ask every question about a machine.

    Parameters
    ----------
    machine : Machine
        As loaded, with its ranges.
    date : date
        Of the run; it is the only part of a record that differs from run to run.
    progress : callable, optional
        Called with a line such as ``"1 of 6: which motor"`` before each question.

    Raises
    ------
    MathlibError
        No question can be answered; the message has the reason of each.

    """
    entries = ask_all(machine, progress)
    if all(entry.answer is None for entry in entries):
        told = "\n".join(f"  {entry.question} {entry.refusal}" for entry in entries)
        raise MathlibError(f"{machine.path}: no question can be answered.\n{told}")
    return Record(
        machine=machine,
        date=date,
        entries=entries,
        inputs=inputs_of(machine),
        provenance=provenance_of(machine),
    )


def ask_all(machine: Machine, progress: Progress | None = None) -> tuple[Entry, ...]:
    """Ask every question in the order of the moments at which they come up."""
    listed = [(moment, name) for moment, names in MOMENTS for name in names]
    inputs, entries = inputs_of(machine), []
    for number, (moment, name) in enumerate(listed, start=1):
        asked = question(name)
        if progress is not None:
            progress(f"{number} of {len(listed)}: {asked[0].lower()}{asked[1:].rstrip('?')}")
        entries.append(_ask(Entry(name=name, moment=moment, question=asked), machine, inputs))
    return tuple(entries)


def question(name: str) -> str:
    """Question that an answer of this name answers, before it is asked of a machine.

    >>> question("ringing")
    'What rings?'
    """
    told = importlib.import_module(f"mathlib.answers.{name}").__doc__ or name
    return told.splitlines()[0]


def _ask(entry: Entry, machine: Machine, inputs: tuple[Input, ...]) -> Entry:
    """Fill an entry with its answer, or with the sentence that says why there is none."""
    try:
        with warnings.catch_warnings():
            # A motor that slips leaves nan, also in the middle of the drawn machines.
            warnings.filterwarnings("ignore", "All-NaN", RuntimeWarning)
            answer = answers.ask(entry.name, machine)
            estimated = _estimated(entry.name, answer, machine, inputs)
    except MathlibError as fault:
        return attrs.evolve(entry, fault=fault)
    return attrs.evolve(entry, answer=answer, estimated=estimated)


def _estimated(
    name: str, answer: Answer, machine: Machine, inputs: tuple[Input, ...]
) -> frozenset[str]:
    """Words whose values follow an estimate: all estimates are shaken, and what moves is named."""
    shaken = {
        each.key: Range(
            (1 - _SHAKE) * each.typical, each.typical, (1 + _SHAKE) * each.typical, each.source
        )
        for each in inputs
        if each.kind == "estimate" and each.varies and each.typical.magnitude > 0
    }
    if not shaken:
        return frozenset()
    moved = answers.ask(name, attrs.evolve(machine, ranges=shaken).draw(1)).values
    return frozenset(
        word
        for word, value in answer.values.items()
        if not np.allclose(
            moved[word].magnitude, value.magnitude, rtol=_FOLLOWS, atol=0.0, equal_nan=True
        )
    )


def scalar(value: Any) -> Quantity:
    """Typical value; of drawn machines the one in the middle."""
    if np.ndim(value.magnitude) == 0:
        scalar_too: Quantity = value
        return scalar_too
    return units.quantity(float(np.nanmedian(value.magnitude)), value._units)
