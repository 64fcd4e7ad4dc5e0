"""A measured quantity: a quantity like any other, with its standard uncertainty beside it."""

from __future__ import annotations

from typing import Any

from mathlib import units
from mathlib.units import QUANTITY, Quantity


class Measured(QUANTITY):  # type: ignore[misc]
    """A quantity that knows its standard uncertainty, ``std``, in the same unit.

    It goes wherever a quantity goes; what is calculated from it is an ordinary quantity, since
    the uncertainty of a result is the formula's business (``Formula.uncertainty``).

    >>> found = measured(52.0, 0.5, "Hz")
    >>> print(found, "|", found.std, "|", (2 * found).magnitude)
    52 Hz ± 0.5 Hz | 0.5 Hz | 104.0
    """

    std: Quantity

    def __new__(cls, value: Any, unit: Any = None) -> Any:
        """Make an ordinary quantity: pint makes the results of arithmetic this way."""
        return QUANTITY(value, unit)

    @property
    def value(self) -> Quantity:
        """The quantity without its uncertainty."""
        return units.quantity(self._magnitude, self._units)

    def __str__(self) -> str:
        """Value and standard uncertainty."""
        return f"{units.show(self.value)} ± {units.show(self.std, 2)}"

    __repr__ = __str__

    def __format__(self, told: str) -> str:
        """Format as a quantity where a format is told, else with the uncertainty."""
        return format(self.value, told) if told else str(self)

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickle as value, uncertainty and unit."""
        return measured, (self._magnitude, self.std.magnitude, units.spelled(self._units) or "1")


def measured(value: float, std: float, unit: str) -> Any:
    """Make a measured quantity from value and standard uncertainty in one unit.

    Returns
    -------
    Measured
        With ``.value`` and ``.std``, both quantities.

    Examples
    --------
    >>> print(measured(0.05, 0.002, "1"))
    0.05 ± 0.002

    """
    new: Any = object.__new__(Measured)
    new._magnitude = float(value)
    new._units = units.container(unit)
    new.std = units.quantity(float(std), units.container(unit))
    return new
