"""What came of each line of a coupon sheet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

import attrs
import numpy as np

from mathlib.errors import ValueRefused
from mathlib.fields import choice, optional, part, quantity, record
from mathlib.laser.beams import Beam
from mathlib.units import Quantity, show

#: How people say whether a line parted.
SAID: Final = {
    "": "",
    **dict.fromkeys(("yes", "y", "true", "cut", "cut through", "through", "severed"), "yes"),
    **dict.fromkeys(
        ("no", "n", "false", "not cut", "not cut through", "not through", "not severed"), "no"
    ),
}


@record
class Cut:
    """What came of one line. ``severed`` is yes where it parted over 95 % of its length."""

    speed: Quantity = quantity("mm/s", "of the head")
    power: Quantity = quantity("W", "of light on the work")
    thickness: Quantity = quantity("mm", "of the sheet, measured beside the line")
    beam: Beam = part("at its focus")
    passes: Quantity = quantity("1", "over the same line", default="1 1")
    severed: str = choice(("yes", "no", ""), "whether it parted over 95 % of its length", "")
    width: Quantity | None = optional("mm", "of the line at the top", "zero")
    depth: Quantity | None = optional("mm", "of a line that did not sever", "zero")
    darkness: Quantity | None = optional("1", "from 0, the bare sheet, to 1, black", "zero")
    moisture: Quantity | None = optional("1", "of the sheet, as a share of its dry mass", "zero")


def as_cuts(results: Sequence[Cut | dict[str, Any]]) -> tuple[Cut, ...]:
    """Read results as records; a dict takes the words of ``Cut``, and True for a severed line.

    Raises
    ------
    UnitError, ValueRefused
        No list; a row that lacks what a line needs, or says what no line can show.

    Examples
    --------
    >>> beam = Beam(wavelength="450 nm", beam_quality=15, waist_diameter="0.08 mm")
    >>> row = {"speed": "2 mm/s", "power": "5 W", "thickness": "3 mm", "beam": beam}
    >>> as_cuts([row | {"severed": True}])[0].severed
    'yes'

    """
    if isinstance(results, str | Mapping | Cut) or not isinstance(results, Iterable):
        raise ValueRefused(f"Coupons: results are a list, one row for each line; got {results!r}.")
    return tuple(checked(row if isinstance(row, Cut) else _read(row)) for row in results)


def _read(row: Any) -> Cut:
    """Read one dict, and refuse what is none, or lacks what a line needs."""
    record: Any = Cut
    known = {field.name: field.default is attrs.NOTHING for field in attrs.fields(record)}
    told: dict[str, Any] = dict(row) if isinstance(row, Mapping) else {}
    odd = [key for key in told if key not in known]
    if odd or not {key for key, needed in known.items() if needed} <= set(told):
        raise ValueRefused(
            "Coupons: each line needs speed, power, thickness and beam, and may have "
            f"{', '.join(key for key, needed in known.items() if not needed)}; got "
            f"{', '.join(map(str, told)) or repr(row)}."
        )
    said = told.get("severed", "")
    if isinstance(said, bool | np.bool_):
        told["severed"] = "yes" if said else "no"
    elif isinstance(said, str):
        told["severed"] = SAID.get(said.strip().lower(), said)
    return Cut(**told)


def checked(cut: Cut) -> Cut:
    """Refuse what no line can show.

    Examples
    --------
    >>> beam = Beam(wavelength="450 nm", beam_quality=15, waist_diameter="0.08 mm")
    >>> checked(Cut(speed="2 mm/s", power="5 W", thickness="3 mm", beam=beam, darkness=35))
    Traceback (most recent call last):
    ...
    mathlib.errors.ValueRefused: darkness is from 0, the bare sheet, to 1, black; got 35.

    """
    dark, deep = cut.darkness, cut.depth
    if dark is not None and np.any(dark.magnitude > 1):
        raise ValueRefused(f"darkness is from 0, the bare sheet, to 1, black; got {show(dark, 3)}.")
    if deep is not None and cut.severed != "yes" and np.any(deep > cut.thickness):
        raise ValueRefused(
            f"depth of a line that did not sever is {show(deep, 3)}, and the sheet has "
            f"{show(cut.thickness, 3)}."
        )
    return cut
