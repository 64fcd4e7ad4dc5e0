"""The table of a coupon sheet: written empty beside a plan, read back when it is filled in.

Lines that begin with # carry what the sheet was and how it was lit, so that the table can be read
without the plan.
"""

from __future__ import annotations

import dataclasses
import math
import os
import re
from pathlib import Path
from typing import Any, Final

import numpy as np

from mathlib import typed, units
from mathlib.errors import MathlibError, TableError
from mathlib.laser.beams import Beam
from mathlib.measure import files
from mathlib.measure.coupon_plan import Plan
from mathlib.measure.coupon_results import SAID, Cut, checked
from mathlib.units import Q, Quantity

_COLUMNS: Final = (
    "number", "kind", "grain", "speed [mm/s]", "passes", "thickness [mm]", "moisture [%]",
    "severed", "width [um]", "depth [mm]", "darkness [1]", "note",
)  # fmt: skip
#: Columns of numbers, which words have no place in.
_NUMBERS: Final = (
    "number",
    "speed",
    "passes",
    "thickness",
    "moisture",
    "width",
    "depth",
    "darkness",
)
_PLAIN: Final = ("number", "passes", "severed", "note")  # columns that have no unit
_HOW: Final = (
    "Fill in a row for each line; leave a cell empty where you did not look.",
    "thickness: of the sheet beside the line, by caliper; moisture: by meter, or by weighing a "
    "piece before and after an oven",
    "severed: yes where the line parted over 95 % of its length, no where it did not",
    "width: of a mark at the top, through a magnifier with a scale, 0 where nothing shows; "
    "depth: of a line that did not sever",
    "darkness: beside a grey reference or by eye, 0 is the bare sheet, 1 is black",
)
_LIGHT: Final = ("power", "wavelength", "waist diameter", "beam quality")
#: A column of numbers says what share of the length parted.
_PARTED: Final = 0.95


def form(plan: Plan) -> str:
    """Write the table to be filled in: one row for each line, in the order of burning.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> from mathlib.measure.coupon_plan import plan
    >>> mine = load(TAGMAKER)
    >>> form(plan("birch plywood", "3 mm", mine.heads.laser, mine, seed=1)).splitlines()[-1][:3]
    '27,'

    """
    quality, diameter, _ = plan.beam.by_axis()
    told = {
        "material": plan.material.name,
        "supplier sheet": plan.supplier_sheet or "",
        "thickness": units.show(plan.thickness, 4),
        "seed": str(plan.seed),
        "power": units.show(plan.power, 5),
        "wavelength": units.show(plan.beam.wavelength, 5),
        "waist diameter": _numbers(diameter, "mm"),
        "beam quality": _numbers(quality, "1"),
    }
    lines = [f"# {text}" for text in _HOW]
    lines += [f"# {key}: {_tame(text)}" for key, text in told.items() if text]
    lines.append(",".join(_COLUMNS))
    for piece in plan.pieces:
        cells = {
            "number": str(piece.number),
            "kind": piece.kind,
            "grain": piece.grain,
            "speed [mm/s]": f"{piece.speed:.4g}",
            "passes": str(piece.passes),
        }
        lines.append(",".join(cells.get(name, "") for name in _COLUMNS))
    return "\n".join(lines) + "\n"


def _tame(text: str) -> str:
    """Keep a text on its line."""
    return " ".join(text.split())


def _numbers(value: Quantity, unit: str) -> str:
    """Write one number, or one for each axis."""
    found = np.atleast_1d(value.to(unit).magnitude).ravel()
    end = "" if unit == "1" else f" {unit}"
    return " and ".join(f"{number:.5g}{end}" for number in found)


def heading(path: str | os.PathLike[str]) -> dict[str, str]:
    """Read what the lines with # at the top of a table say, by key.

    Raises
    ------
    TableError
        The file cannot be read.

    Examples
    --------
    >>> heading("no such file.csv")
    Traceback (most recent call last):
    ...
    mathlib.errors.TableError: no such file.csv: there is no such file.

    """
    return _told(_table(path).comments)


def _table(path: str | os.PathLike[str]) -> files.Table:
    """Read a table; of the columns that have no unit, those that are there are told."""
    try:
        with Path(path).open("rb") as file:
            text = file.read(1 << 16).replace(b"\0", b"").decode("utf-8", "replace")
    except FileNotFoundError:
        raise TableError(f"{path}: there is no such file.") from None
    except OSError:
        text = ""  # the reader says what is wrong
    head = next(
        (line for line in text.splitlines() if not line.strip('"\ufeff\ufffd ').startswith("#")), ""
    )
    names = [cell.strip('"\ufeff\ufffd ') for cell in re.split(r"[,;\t]", head)]
    table = files.read(path, units={name: "1" for name in names if name.lower() in _PLAIN})
    columns, said = (
        {name.lower(): value for name, value in each.items()}
        for each in (table.columns, table.words)
    )
    return dataclasses.replace(table, columns=columns, words=said)


def _told(comments: tuple[str, ...]) -> dict[str, str]:
    found = {}
    for line in comments:
        # A spreadsheet may have put the line into quotes, or empty cells behind it.
        key, mark, text = line.strip('"\t ,;').lstrip("# ").partition(":")
        if mark:
            found[key.strip().lower()] = text.strip()
    return found


def read(path: str | os.PathLike[str], plan: Plan | None = None) -> tuple[Cut, ...]:
    """Read a table that was filled in; rows in which nothing was filled in are left out.

    Parameters
    ----------
    path : path
        Of the table, however a spreadsheet saved it: ``measure.files`` reads it.
    plan : Plan, optional
        For the light; without it the lines with # at the top of the table say it.

    Returns
    -------
    tuple of Cut
        One for each line of which something is told.

    Raises
    ------
    TableError
        It cannot be read; a column lacks; a cell says neither yes nor no, or what cannot be;
        nothing is filled in; a line stands there twice; the numbers are not those of the plan.

    Examples
    --------
    >>> read("no such file.csv")
    Traceback (most recent call last):
    ...
    mathlib.errors.TableError: no such file.csv: there is no such file.

    """
    table = _table(path)
    where = Path(path)
    lacking = [name for name in ("speed", "severed") if not _has(table, name)]
    if lacking:
        raise TableError(
            f"{where}: there is no column {' or '.join(lacking)}; write the table with "
            "coupons.form and fill it in."
        )
    for name in _NUMBERS:
        said = [text for text in table.words.get(name, ()) if str(text).strip()]
        if said:
            raise TableError(f"{where}: {name} is a number, and {said[0]!r} is none.")
    remarks = table.columns.get("note")
    numbered = remarks is not None and any(map(math.isfinite, remarks.magnitude))
    for note in table.notes:
        if "cells are not numbers" in note and not numbered:  # remarks may be words
            raise TableError(
                f"{where}: {note} Write a number alone, in the unit that its heading names, and "
                "leave empty what was not looked at."
            )
    if "number" in table.columns:
        numbers = [f"{n:g}" for n in table.columns["number"].magnitude if math.isfinite(n)]
        twice = sorted({n for n in numbers if numbers.count(n) > 1}, key=float)
        if twice:
            raise TableError(
                f"{where}: line {', '.join(twice[:8])} stands there more than once, and would "
                "count so often: leave one row of each."
            )
    told = _told(table.comments)
    power, beam, usual = _light(where, told) if plan is None else _planned(where, table, plan)
    severed = _severed(where, table)
    found = []
    for row, parted in enumerate(severed):
        cells = {
            "width": _cell(table, "width", row),
            "depth": _cell(table, "depth", row),
            "darkness": _cell(table, "darkness", row),
        }
        if not parted and all(value is None for value in cells.values()):
            continue
        speed, thickness = _cell(table, "speed", row), _cell(table, "thickness", row)
        if speed is None:
            raise TableError(f"{where}: row {row + 1} has no speed.")
        try:
            made = Cut(
                speed=speed,
                power=power,
                thickness=usual if thickness is None else thickness,
                beam=beam,
                passes=_cell(table, "passes", row) or Q(1.0, "1"),
                severed=parted,
                moisture=_cell(table, "moisture", row),
                **cells,
            )
            found.append(checked(made))
        except MathlibError as fault:
            raise TableError(f"{where}: row {row + 1}: {fault}") from None
    if not found:
        raise TableError(f"{where}: nothing is filled in yet: severed, width, depth or darkness.")
    return tuple(found)


def _has(table: files.Table, name: str) -> bool:
    return name in table.columns or name in table.words


def _cell(table: files.Table, name: str, row: int) -> Quantity | None:
    column = table.columns.get(name)
    if column is None or not math.isfinite(float(column.magnitude[row])):
        return None
    return units.quantity(float(column.magnitude[row]), column._units)


def _severed(where: Path, table: files.Table) -> list[str]:
    """Yes, no or nothing for each row: by word, or by the share of the length that parted."""
    if "severed" in table.columns:
        shares = table.columns["severed"].to("1").magnitude
        if np.any((shares < 0) | (shares > 1)):
            raise TableError(f"{where}: severed is yes, no, or a share of the length from 0 to 1.")
        return ["" if math.isnan(s) else "yes" if s >= _PARTED else "no" for s in shares]
    said = [str(word).strip().lower() for word in table.words["severed"]]
    odd = [f"row {n}: {word!r}" for n, word in enumerate(said, start=1) if word not in SAID]
    if odd:
        raise TableError(f"{where}: severed is yes or no; {'; '.join(odd[:5])}.")
    return [SAID[word] for word in said]


def _light(where: Path, told: dict[str, str]) -> tuple[Quantity, Beam, Quantity]:
    """Power, beam and thickness as the lines at the top of a table say them."""
    lacking = [key for key in (*_LIGHT, "thickness") if key not in told]
    if lacking:
        raise TableError(
            f"{where}: the lines with # at its top do not say {', '.join(lacking)}. Put them back "
            "as the table was written, or give the plan."
        )
    try:
        diameters = [typed.read(text) for text in told["waist diameter"].split(" and ")]
        qualities = [float(text) for text in told["beam quality"].split(" and ")]
        widths = [float(each.to("mm").magnitude) for each in diameters]
        two = len(widths) == 2
        words: dict[str, Any] = {
            "wavelength": typed.read(told["wavelength"]),
            "beam_quality": Q(np.array(qualities) if two else qualities[0], "1"),
            "waist_diameter": Q(np.array(widths) if two else widths[0], "mm"),
        }
        return typed.read(told["power"]), Beam(**words), typed.read(told["thickness"])
    except (MathlibError, ValueError) as fault:
        raise TableError(f"{where}: in the lines with # at its top: {fault}") from None


def _planned(where: Path, table: files.Table, plan: Plan) -> tuple[Quantity, Beam, Quantity]:
    """Light of a plan, once the numbers and speeds of a table are found to be the plan's."""
    speeds = {piece.number: piece.speed for piece in plan.pieces}
    if "number" in table.columns:
        numbers = table.columns["number"].magnitude
        given = table.columns["speed"].to("mm/s").magnitude
        odd = [
            f"{number:g}"
            for number, speed in zip(numbers, given, strict=True)
            if abs(speed / speeds.get(number, math.inf) - 1) > 1e-3
        ]
        if odd:
            raise TableError(
                f"{where}: line {', '.join(odd[:8])} is not of this plan: another sheet, seed or "
                "machine file. Read the table without the plan."
            )
    return plan.power, plan.beam, plan.thickness
