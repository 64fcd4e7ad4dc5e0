"""Kerf from a comb of slots: which of them a piece of the same sheet goes into."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import attrs
import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.units import Quantity
from mathlib.words import Word

_SLOTS: Final = Word("slot_width", "mm", "of each slot as drawn, cut on its line")
_THICKNESS: Final = Word("thickness", "mm", "of the piece that is tried in the slots, measured")
_READING: Final = Word("reading_uncertainty", "mm", "standard uncertainty of that", "zero")


@attrs.frozen(kw_only=True, eq=False)
class CombFit:
    """What a comb says: ``kerf`` with its standard uncertainty, and the ends that it lies between.

    ``path_offset`` is half of the kerf: outwards round a part, inwards round a hole.
    """

    kerf: Quantity
    std: Quantity
    low: Quantity
    high: Quantity
    path_offset: Quantity
    notes: tuple[str, ...]


def fit_comb(
    *,
    slot_width: Any,
    entered: Sequence[bool],
    thickness: Any,
    reading_uncertainty: Any = "0.01 mm",
) -> CombFit:
    """Find the kerf from slots of growing width, cut without compensation, and what enters them.

    A slot comes out wider than drawn by the kerf, half of it on each side. The piece enters where
    drawn width and kerf together reach its thickness, so the kerf lies between the thickness less
    the widest slot that it did not enter and less the narrowest that it did.

    Parameters
    ----------
    slot_width : length, shape (n,)
        Of each slot as drawn.
    entered : n truths
        Whether the piece goes in by hand, without force.
    thickness : length
        Of the piece, measured where it enters.
    reading_uncertainty : length
        Standard uncertainty of that measurement; a caliper's where none is given.

    Returns
    -------
    CombFit
        With ``.kerf``, ``.std`` and ``.path_offset``.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; all enter, or none; a kerf that would be negative.

    Examples
    --------
    >>> found = fit_comb(slot_width=["2.7 mm", "2.8 mm", "2.9 mm"],
    ...                  entered=[False, False, True], thickness="3.02 mm")
    >>> print(found.low, "to", found.high, "so", found.kerf)  # 3.02 - 2.9 and 3.02 - 2.8
    0.12 mm to 0.22 mm so 0.17 mm

    """
    told = {"slot_width": slot_width, "thickness": thickness}
    told["reading_uncertainty"] = reading_uncertainty
    read = words.read_words("Comb of slots", [_SLOTS, _THICKNESS, _READING], told)
    slots = np.atleast_1d(read["slot_width"])
    goes = np.atleast_1d(np.asarray(entered))
    if goes.dtype != bool or slots.ndim != 1 or goes.shape != slots.shape:
        raise ValueRefused("Comb of slots: entered says True or False for each slot_width.")
    if np.ndim(read["thickness"]) or np.ndim(read["reading_uncertainty"]):
        raise ValueRefused("Comb of slots: thickness is a single value.")
    if goes.all() or not goes.any():
        which, need = ("all", "narrower") if goes.all() else ("none", "wider")
        raise ValueRefused(
            f"Comb of slots: the piece enters {which} of them; cut {need} ones as well."
        )
    narrow, wide = float(slots[~goes].max()), float(slots[goes].min())
    notes = []
    if wide <= narrow:
        notes.append(
            "A narrower slot lets the piece in and a wider one does not: kerf or thickness vary by "
            "as much as that."
        )
    ends = sorted((float(read["thickness"]) - narrow, float(read["thickness"]) - wide))
    kerf = 0.5 * (ends[0] + ends[1])
    if kerf <= 0:
        raise ValueRefused(
            "Comb of slots: the piece enters only slots drawn wider than it is: the paths were "
            "compensated already, or the kerf closes. Cut the comb on its drawn lines."
        )
    std = math.hypot((ends[1] - ends[0]) / math.sqrt(12), float(read["reading_uncertainty"]))
    length = units.container("mm")
    return CombFit(
        kerf=words.result(kerf, length),
        std=words.result(std, length),
        low=words.result(ends[0], length),
        high=words.result(ends[1], length),
        path_offset=words.result(0.5 * kerf, length),
        notes=tuple(notes),
    )
