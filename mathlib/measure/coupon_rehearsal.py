"""Made-up results of a coupon sheet, to rehearse and to teach: nothing is burned for them."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np

from mathlib import words
from mathlib.errors import ValueRefused
from mathlib.measure.coupon_plan import Plan
from mathlib.measure.coupon_results import Cut
from mathlib.units import Q
from mathlib.words import Word

_BOUNDARY: Final = Word("boundary", "mm/s", "speed at which half of the made-up lines sever")
_SCATTER: Final = Word("scatter", "1", "standard deviation of its logarithm", "zero")


def rehearse(plan: Plan, boundary: Any, scatter: Any = "0.1 1", seed: int = 1) -> tuple[Cut, ...]:
    """Make up what a sheet would have shown whose boundary is known: synthetic, not measured.

    Parameters
    ----------
    plan : Plan
        Its cuts are decided, its marks left open.
    boundary : speed
        At which half of the lines sever.
    scatter : number
        Between lines, of the logarithm of that speed.
    seed : int
        Of the scatter.

    Returns
    -------
    tuple of Cut
        As ``coupons.read`` would give them.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; boundary and scatter are single values.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> from mathlib.measure.coupon_plan import plan
    >>> mine = load(TAGMAKER)
    >>> made = plan("birch plywood", "3 mm", mine.heads.laser, mine, seed=1)
    >>> rows = rehearse(made, boundary="2 mm/s", scatter=0)
    >>> sorted({(row.severed, row.speed.magnitude < 2) for row in rows})
    [('no', False), ('yes', True)]

    """
    told = {"boundary": boundary, "scatter": scatter}
    read = words.read_words("Rehearsal", [_BOUNDARY, _SCATTER], told)
    if np.ndim(read["boundary"]) or np.ndim(read["scatter"]):
        raise ValueRefused("Rehearsal: boundary and scatter are single values.")
    rng = np.random.default_rng(seed)
    limit, spread = 1e3 * float(read["boundary"]), float(read["scatter"])
    found = []
    for piece, z in zip(plan.pieces, rng.standard_normal(len(plan.pieces)), strict=True):
        if piece.kind == "cut":
            row: dict[str, Any] = {
                "speed": Q(piece.speed, "mm/s"),
                "power": plan.power,
                "thickness": plan.thickness,
                "beam": plan.beam,
                "passes": piece.passes,
                "severed": "yes" if piece.speed < limit * math.exp(spread * z) else "no",
            }
            found.append(Cut(**row))
    return tuple(found)
