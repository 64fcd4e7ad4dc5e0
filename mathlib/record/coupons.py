"""Coupons from the command line: files to burn them, and what a filled table says."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from mathlib import units
from mathlib.errors import MathlibError, ValueRefused
from mathlib.laser import cutting, removal
from mathlib.measure import coupon_gate, coupons

if TYPE_CHECKING:
    from mathlib.machine import Machine
    from mathlib.measure.coupons import Plan


def plan(
    machine: Machine,
    material: str | None,
    thickness: str | None,
    head: str | None,
    seed: int,
    supplier_sheet: str | None,
) -> Plan:
    """Plan coupons, with what is not told from the machine's file.

    Raises
    ------
    MathlibError
        Neither tells the material, its thickness or the head; or as ``coupons.plan`` does.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> len(plan(load(TAGMAKER), None, None, None, 1, None).pieces)
    27

    """
    job = machine.job
    told: dict[str, Any] = {
        "--material": material or job.material or None,
        "--thickness": thickness or job.thickness,
        "--head": head or machine.heads.laser,
    }
    lacking = [option for option, value in told.items() if value is None]
    if lacking:
        raise ValueRefused(
            f"Coupons: {machine.path} does not say what {', '.join(lacking)} would: give it, or "
            "state [job] and [heads.laser] in the file."
        )
    sheet = supplier_sheet or (None if material else job.material_note or None)
    what, deep, light = told.values()
    return coupons.plan(what, deep, light, machine, seed, supplier_sheet=sheet)


def texts(made: Plan, supervised: bool, folder: Path) -> tuple[dict[Path, str], list[str]]:
    """Texts of all files of a plan by their path, and why one is not among them.

    A table that stands there already may have been filled in, so that it is never replaced.

    Raises
    ------
    MathlibError
        Supervision is confirmed and the hazard page's inputs are not stated or do not suit; the
        table is there already.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> made = plan(load(TAGMAKER), None, None, None, 1, None)
    >>> written, left_out = texts(made, False, Path("records"))
    >>> [path.name for path in written]
    ['coupons_birch_plywood_1.csv', 'coupons_birch_plywood_1.svg']

    """
    name = re.sub(r"\W+", "_", made.material.name.lower()).strip("_")
    stem = f"coupons_{name}_{made.seed}"
    table = folder / f"{stem}.csv"
    if table.exists() or table.is_symlink():
        raise MathlibError(
            f"{table} is there already, perhaps filled in, and stays as it is: give another --seed "
            "or another folder after -o."
        )
    found = {table: coupons.form(made)}
    left_out = []
    if supervised or not coupons.against(made, made.machine, True):
        found[folder / f"{stem}.svg"] = coupons.to_svg(made, supervised)
    else:
        reasons = coupon_gate.together(coupons.against(made, made.machine, True))
        left_out.append(f"Not written, drawing: {reasons}")
    try:
        program = coupons.to_rs274(made, made.machine, supervised)
        outline = coupons.beam_off_outline(made, made.machine, supervised)
    except ValueRefused as fault:
        left_out.append(f"Not written, program and outline: {fault}")
    else:
        found[folder / f"{stem}_first_the_outline.nc"] = outline
        found[folder / f"{stem}_program.nc"] = program
    return found, left_out


def learned(table: Path) -> tuple[Any, list[str]]:
    """Material of a filled table with what its coupons found, and lines that say so.

    Raises
    ------
    MathlibError
        As ``coupons.read`` and ``coupons.update`` do; the table does not say its material.

    Examples
    --------
    >>> learned(Path("no such file.csv"))
    Traceback (most recent call last):
    ...
    mathlib.errors.TableError: no such file.csv: there is no such file.

    """
    told = coupons.heading(table)
    if "material" not in told:
        raise ValueRefused(f"{table}: no line with # at its top says the material.")
    sheet = told.get("supplier sheet")
    before = removal.as_material(told["material"], sheet)
    cuts = coupons.read(table)
    after = coupons.update(before, cuts, sheet)
    found = after.coupon
    assert found is not None
    here = (
        units.Q(found.thickness * 1e3, "mm"),
        units.Q(found.power, "W"),
        cuts[0].beam,
        found.passes,
        sheet,
    )
    lines = [f"{after.name}. {found}", *found.notes, "Foretold and seen:"]
    lines += [
        f"  {units.show(level.speed, 3):>10}: {level.foretold:4.0%}, {level.severed} of "
        f"{level.lines} severed"
        for level in coupons.calibration(before, cuts, sheet)
    ]
    for when, material in (("before", before), ("now", after)):
        span = cutting.cut_speed(material, *here)
        lines.append(f"Cutting speed of a fresh sheet, {when}: {span}")
    return after, lines
