"""Ranges of values with a source, and drawing from them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from mathlib import units
from mathlib.errors import UnitError, ValueRefused
from mathlib.units import Q, Quantity

KINDS: Final = ("measured", "catalogue", "estimate")
_Z90: Final = 1.6448536269514722  # 5 % of a normal distribution lie beyond, on each side


@dataclass(frozen=True)
class Range:
    """A value that varies: 90 % of cases lie between ``low`` and ``high``, half above ``typical``.

    Each side of ``typical`` is half a normal distribution of its own width, on a logarithmic
    scale where all three are positive. Values are texts or scalar quantities.

    Raises
    ------
    ValueRefused
        The three are not in order, or the kind is unknown.
    UnitError
        A unit is absent, or the three measure different things.

    Examples
    --------
    >>> stiffness = Range("12 kN", "19 kN", "30 kN", "stretch test of one roll", "measured")
    >>> print(stiffness.typical)
    19 kN

    """

    low: Any
    typical: Any
    high: Any
    source: str
    kind: str = "estimate"

    def __post_init__(self) -> None:
        """Read the three values and check their order."""
        if self.kind not in KINDS:
            raise ValueRefused(f"Range: kind is one of {', '.join(KINDS)}; got {self.kind!r}.")
        if not isinstance(self.source, str) or not self.source.strip():
            raise ValueRefused("Range: a source is needed: who measured or stated it, and where.")
        typical = _scalar(self.typical)
        for name in ("low", "typical", "high"):
            value = _scalar(getattr(self, name))
            fault = units.problem(value._units, typical._units, value.magnitude)
            if fault:
                raise UnitError(f"Range: {name} {fault}")
            object.__setattr__(self, name, value.to(typical.units))
        if not self.low.magnitude <= self.typical.magnitude <= self.high.magnitude:
            told = " ≤ ".join(units.show(v) for v in (self.low, self.typical, self.high))
            raise ValueRefused(f"Range: low, typical and high are out of order: {told}.")

    def draw(self, n: int, seed: int | np.random.Generator) -> Quantity:
        """Draw ``n`` values; the same seed gives the same values.

        Parameters
        ----------
        n : int
            How many.
        seed : int or numpy.random.Generator
            A generator goes on from where it is.

        Returns
        -------
        Quantity
            Shape ``(n,)``, in the unit of ``typical``.

        Raises
        ------
        ValueRefused
            ``n`` is no count, or there is no seed.

        """
        if isinstance(n, bool) or not isinstance(n, int | np.integer) or n < 0:
            raise ValueRefused(f"Range: n is how many values to draw, such as 1000; got {n!r}.")
        if seed is None:
            raise ValueRefused("Range: a seed is needed, such as 1, so that it can be repeated.")
        return self.at(np.random.default_rng(seed).standard_normal(n))

    def at(self, deviates: Any) -> Quantity:
        """Values that standard normal deviates stand for; correlated ones give correlated values.

        >>> card = Range("10 mm", "20 mm", "40 mm", "by hand")
        >>> print(card.at([0.0, 1.6448536269514722]))
        [20 40] mm
        """
        z = np.asarray(deviates, dtype=float) / _Z90
        low, typical, high = (float(v.magnitude) for v in (self.low, self.typical, self.high))
        if low > 0 and not units.kind(self.typical._units).offset:  # degrees have no true zero
            below, above = np.log(typical / low), np.log(high / typical)
            values = typical * np.exp(np.where(z < 0, z * below, z * above))
        else:
            values = typical + np.where(z < 0, z * (typical - low), z * (high - typical))
        return units.quantity(values, self.typical._units)

    def __str__(self) -> str:
        """Typical value with low and high beside."""
        return f"{units.show(self.typical)} ({units.show(self.low)} to {units.show(self.high)})"


def _scalar(value: Any) -> Quantity:
    read: Quantity | None = value if isinstance(value, units.QUANTITY) else None
    if isinstance(value, str):
        read = Q(value)
    if read is None or np.ndim(read.magnitude) or not np.isfinite(read.magnitude):
        raise UnitError(f'Range: needs a text or a scalar quantity such as "9 mm"; got {value!r}.')
    return read
