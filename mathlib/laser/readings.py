"""Measurements of one thing that do not agree: what they are worth together."""

from __future__ import annotations

from typing import Any

import attrs
import numpy as np

from mathlib import units
from mathlib.errors import ValueRefused
from mathlib.units import Quantity
from mathlib.words import Word, base_value


@attrs.frozen(kw_only=True)
class Combined:
    """What several readings say together.

    ``median`` to quote; ``log_mean`` and ``factor``: two of three further readings would lie
    within log_mean over factor and log_mean times factor; ``span`` is the largest over the least.
    """

    median: Quantity
    log_mean: Quantity
    factor: float
    span: float

    def __str__(self) -> str:
        """Write it for a record."""
        return (
            f"about {units.show(self.median, 3)}, times or over {self.factor:.2g} "
            f"(readings span a factor of {self.span:.2g})"
        )


def combine(*, readings: Any, unit: str) -> Combined:
    """Combine readings of one positive quantity by meters that disagree.

    Home-made power meters err by factors, not by so many milliwatts: their logarithms scatter. A
    mean with its standard error would claim far more than they know, and follows the one that is
    off.

    Parameters
    ----------
    readings : list of texts or quantities, or an array
        At least two, each above zero.
    unit : str
        Unit of the result.

    Returns
    -------
    Combined
        With ``.median``, ``.log_mean``, ``.factor`` and ``.span``.

    Raises
    ------
    UnitError, ValueRefused
        Fewer than two; one that is not above zero; one without a unit.

    Examples
    --------
    >>> print(combine(readings=["0.1 mW", "0.15 mW", "0.27 mW", "0.1 mW"], unit="mW"))
    about 0.125 mW, times or over 1.6 (readings span a factor of 2.7)

    """
    word = Word("readings", unit)
    found = np.atleast_1d(np.asarray(base_value(word, readings)))
    if found.ndim != 1 or found.size < 2:
        raise ValueRefused("Readings together: give at least two of the same thing.")
    scale = units.kind(word.container).factor
    logs = np.log(found)

    def told(value: Any) -> Quantity:
        made: Quantity = units.quantity(float(value / scale), word.container)
        return made

    return Combined(
        median=told(np.median(found)),
        log_mean=told(np.exp(logs.mean())),
        factor=float(np.exp(logs.std(ddof=1))),
        span=float(found.max() / found.min()),
    )
