"""A checklist for a build: before its first beam, at each session, and at a public meetup."""

from __future__ import annotations

import textwrap
import tomllib
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import attrs
import numpy as np

from mathlib import tables
from mathlib.errors import TableError, ValueRefused
from mathlib.safety import wording

if TYPE_CHECKING:
    from mathlib.machine import Machine

#: What a machine may have that decides which items are shown.
PARTS: Final = ("laser", "unseen beam", "gas tube", "knife", "pen", "meetup")
PREVAIL: Final = (
    f"{wording.PREVAIL} A list that is ticked off proves nothing: it names what to look at, and "
    "what it leaves out is looked at as well."
)
_WIDTH: Final = 96


@attrs.frozen
class Item:
    """One thing to look at, why, and who has to do it if not the builder."""

    text: str
    why: str
    who: str = ""
    needs: frozenset[str] = attrs.field(default=frozenset(), converter=frozenset)
    unless: frozenset[str] = attrs.field(default=frozenset(), converter=frozenset)


@attrs.frozen(repr=False)
class Checklist:
    """Items by group, for one machine; prints as text, and as markdown in a notebook."""

    title: str
    groups: tuple[tuple[str, tuple[Item, ...]], ...]
    prevail: str = PREVAIL

    def __repr__(self) -> str:
        """Plain text with a box to tick before each item."""
        lines = [self.title]
        for title, items in self.groups:
            lines += ["", title]
            for item in items:
                lines += _wrapped(f"[ ] {item.text}", "      ")
                lines += _wrapped(f"    Why: {item.why}.", "      ")
                if item.who:
                    lines.append(f"      By: {item.who}.")
        return "\n".join([*lines, "", *_wrapped(f"  {self.prevail}", "  "), "", *SIGNED])

    def _repr_markdown_(self) -> str:
        lines = [f"### {self.title}"]
        for title, items in self.groups:
            lines += ["", f"**{title}**", ""]
            for item in items:
                by = f" **By {item.who}.**" if item.who else ""
                lines.append(f"- ☐ {item.text}{by} *Why: {item.why}.*")
        return "\n".join([*lines, "", f"> {self.prevail}"])


SIGNED: Final = (
    "  Machine: ____________________   Looked at by: ____________________   Date: ________",
)


def _wrapped(text: str, indent: str) -> list[str]:
    first = text[: len(text) - len(text.lstrip())]
    return textwrap.wrap(
        text.lstrip(), _WIDTH, initial_indent=f"  {first}", subsequent_indent=indent
    )


def of(machine: Machine) -> frozenset[str]:
    """Tell what a machine has that decides which items are shown.

    Parameters
    ----------
    machine : Machine
        Its heads are looked at.

    Returns
    -------
    frozenset of str
        From ``PARTS``. A laser beyond 4 µm counts as a gas tube, one outside 400 to 700 nm as
        unseen.

    """
    found = {name for name in ("laser", "knife", "pen") if getattr(machine.heads, name) is not None}
    if machine.heads.laser is not None:
        light = machine.heads.laser.wavelength.to("nm").magnitude
        if np.any(np.asarray(light) > 4000):
            found.add("gas tube")
        if np.any((np.asarray(light) < 400) | (np.asarray(light) > 700)):
            found.add("unseen beam")
    return frozenset(found)


def build(parts: Iterable[str], name: str = "a build") -> Checklist:
    """Choose the items for a machine that has these parts.

    Parameters
    ----------
    parts : iterable of str
        From ``PARTS``; "meetup" adds what a public meetup asks.
    name : str
        Of the machine, for the title.

    Returns
    -------
    Checklist
        With the groups that have items.

    Raises
    ------
    ValueRefused
        There is no such part.

    Examples
    --------
    >>> [title for title, _ in build(["pen"]).groups][:3]
    ['Enclosure and covers', 'Interlock and what the controller may do', 'Stop and warning']

    """
    has = frozenset(parts)
    if not has <= set(PARTS):
        odd = ", ".join(map(repr, sorted(has - set(PARTS))))
        raise ValueRefused(f"Checklist: there is no part {odd} among {', '.join(PARTS)}.")
    path = tables.DATA / "checklist.toml"
    groups = []
    for title, items in _read(path, path.stat().st_mtime_ns):
        shown = tuple(i for i in items if i.needs <= has and not i.unless & has)
        if shown:
            groups.append((title, shown))
    where = ", and for a public meetup" if "meetup" in has else ""
    return Checklist(f"Checklist for {name}{where}", tuple(groups))


def for_machine(machine: Machine, meetup: bool = False) -> Checklist:
    """Choose the items for a machine, by its heads.

    Parameters
    ----------
    machine : Machine
        As loaded or drawn.
    meetup : bool
        Whether it is shown in public.

    Returns
    -------
    Checklist
        Prints as text; in a notebook it shows as markdown.

    """
    return build(of(machine) | ({"meetup"} if meetup else set()), machine.name)


@lru_cache(maxsize=4)
def _read(path: Path, _changed: int) -> tuple[tuple[str, tuple[Item, ...]], ...]:
    told: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))
    groups = []
    for group in told["group"]:
        items = tuple(Item(**item) for item in group["items"])
        for item in items:
            odd = (item.needs | item.unless) - set(PARTS)
            if odd:
                raise TableError(f"{path.name}: {item.text!r}: no machine has {', '.join(odd)}.")
        groups.append((group["title"], items))
    return tuple(groups)
