"""What a builder wants cut: sheets, and how long their jobs may take."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

import numpy as np

from mathlib import units
from mathlib.errors import ValueRefused
from mathlib.fields import optional, quantity, record, rows, text
from mathlib.units import Q, Quantity

#: Slower than this wood chars wide and catches fire; an estimate.
SLOWEST: Final = Q("1 mm/s")


@record
class Wanted:
    """One thing to be cut: a sheet, and how long the job may take."""

    material: str = text("as materials.material finds it")
    thickness: Quantity = quantity("mm", "of the sheet")
    path_length: Quantity | None = optional("m", "of all lines of the job, each counted once")
    job_time: Quantity | None = optional("min", "for which the beam may cut")
    most_passes: Quantity = quantity("1", "that the builder would wait for", "positive", "3 1")
    supplier_sheet: str = text("which data sheet of the supplier was read")

    @property
    def label(self) -> str:
        """Thickness and material, for people."""
        return f"{units.show(self.thickness, 3)} {self.material}"

    @property
    def job(self) -> str:
        """What its job asks for, for people; nothing where no time is set."""
        if self.path_length is None or self.job_time is None:
            return ""
        return f"{units.show(self.path_length, 3)} in {units.show(self.job_time, 3)}"

    def speed(self, passes: int) -> float:
        """Speed in m/s that the job's time asks for, at this many passes."""
        least = float(SLOWEST.to("m/s").magnitude)
        if self.path_length is None or self.job_time is None:
            return least
        asked = passes * self.path_length.to("m").magnitude / self.job_time.to("s").magnitude
        return max(least, float(asked))


_WANTED: Final = tuple(Wanted.__annotations__)


def read_wanted(told: Sequence[Mapping[str, Any]], values: Any = None) -> tuple[Wanted, ...]:
    """Read what is wanted from the tables of a machine file.

    Parameters
    ----------
    told : list of dict
        Each with material and thickness, and what else ``Wanted`` takes.
    values : dict, optional
        Other keys of the table; it has none.

    Returns
    -------
    tuple of Wanted
        In the order of the file.

    Raises
    ------
    ValueRefused, UnitError
        A key that there is not; a value without its unit; a time for no length.

    Examples
    --------
    >>> read_wanted([{"material": "birch plywood", "thickness": "3 mm"}])[0].label
    '3 mm birch plywood'

    """
    known = list(_WANTED)
    for row in told:
        odd = [key for key in row if key not in known]
        if odd or not {"material", "thickness"} <= set(row):
            raise ValueRefused(
                f"each needs material and thickness, and may have {', '.join(known[2:])}; got "
                f"{', '.join(row)}."
            )
        if "job_time" in row and "path_length" not in row:
            raise ValueRefused(
                f"job_time of {row['job_time']} says nothing without path_length, the length of "
                'all lines that are to be cut in it: write such as "2 m" beside it.'
            )
    filled: list[dict[str, Any]] = [dict(row) for row in told]
    return tuple(Wanted(**row) for row in filled)


def named(sheets: Iterable[Wanted]) -> dict[str, Wanted]:
    """Give each sheet a name of its own: its label, and its job where labels are the same.

    Examples
    --------
    >>> told = {"material": "pine", "thickness": "2 mm", "path_length": "6 m"}
    >>> list(named(read_wanted([told | {"job_time": f"{n} min"} for n in (5, 10)])))
    ['2 mm pine, 6 m in 5 min', '2 mm pine, 6 m in 10 min']

    """
    listed = tuple(sheets)
    often = Counter(each.label for each in listed)
    found: dict[str, Wanted] = {}
    for count, each in enumerate(listed, start=1):
        name = each.label
        if often[name] > 1 and each.job:
            name = f"{name}, {each.job}"
        found[f"{name}, number {count}" if name in found else name] = each
    return found


@record
class Cutting:
    """What the machine is to cut."""

    wanted: Any = rows(
        read_wanted,
        '[{material = "birch plywood", thickness = "3 mm", path_length = "2 m"}]',
        "sheets to be cut; or each in a [[cutting.wanted]] of its own",
    )


def wanted_of(machine: Any) -> tuple[Wanted, ...]:
    """Sheets that a machine's file wants cut: its list, else the job's material and thickness.

    Raises
    ------
    ValueRefused
        The file says neither.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> wanted_of(load(TAGMAKER))[0].material
    'birch plywood'

    """
    listed = None if machine.cutting is None else machine.cutting.wanted
    if listed:
        return tuple(listed)
    job = machine.job
    if not job.material or job.thickness is None:
        raise ValueRefused(
            "Sizing: nothing is wanted yet. Give material and thickness under [job], or each sheet "
            "under its own [[cutting.wanted]]."
        )
    thickness = units.quantity(float(np.median(job.thickness.magnitude)), job.thickness._units)
    told = {"material": job.material, "thickness": thickness}
    return read_wanted([told | {"supplier_sheet": job.material_note}])
