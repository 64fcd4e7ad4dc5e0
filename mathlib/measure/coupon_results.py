"""What came of each line of a coupon sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from mathlib.fields import choice, optional, part, quantity, record
from mathlib.laser.beams import Beam
from mathlib.units import Quantity


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

    Examples
    --------
    >>> beam = Beam(wavelength="450 nm", beam_quality=15, waist_diameter="0.08 mm")
    >>> row = {"speed": "2 mm/s", "power": "5 W", "thickness": "3 mm", "beam": beam}
    >>> as_cuts([row | {"severed": True}])[0].severed
    'yes'

    """
    made = []
    for row in results:
        if isinstance(row, Cut):
            made.append(row)
            continue
        told = dict(row)
        if isinstance(told.get("severed"), bool | np.bool_):
            told["severed"] = "yes" if told["severed"] else "no"
        made.append(Cut(**told))
    return tuple(made)
