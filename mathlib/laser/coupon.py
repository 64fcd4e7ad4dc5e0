"""What coupons of one's own said: the speed at which a cut ceased, and under what conditions.

A record under ``[coupon]`` in a machine file keeps it; ``Coupon`` is what a material carries.
"""

from __future__ import annotations

import math
from typing import Final

import attrs

from mathlib.fields import choice, optional, quantity, record, text
from mathlib.units import Quantity

#: Scatter between sheets of one kind, of the logarithm of speed; an estimate.
SHEETS: Final = 0.10
#: How far a thickness may lie from the coupon's, as a ratio, for the coupon to speak for it.
NEAR: Final = 1.25


@record
class CouponFound:
    """What your coupons found for one sheet: the finding itself stands under ``[[measured]]``."""

    material: str = text("as materials.material finds it")
    thickness: Quantity = quantity("mm", "of the sheet, measured")
    power: Quantity = quantity("W", "of light on the work while the coupons burned")
    wavelength: Quantity = quantity("nm", "of that light")
    beam_width: Quantity = quantity("mm", "mean 1/e² width of the beam through a pass's layer")
    passes: Quantity = quantity("1", "over the same line", default="1 1")
    boundary_speed: Quantity | None = optional("mm/s", "at which half of the lines severed")
    scatter: Quantity = quantity(
        "1", "between lines: standard deviation of the logarithm of that speed", "zero", "0.15 1"
    )
    both_sides: str = choice(("yes", "no"), "whether some lines severed and some did not", "yes")
    removal_energy: Quantity | None = optional("MJ/kg", "that goes with the boundary")
    threshold_dose: Quantity | None = optional("J/mm^2", "from which on a line shows")


@attrs.frozen(kw_only=True)
class Coupon:
    """What a material knows of its coupons: SI units, spreads of logarithms.

    ``coupling`` is the part of the light that was taken to work in the kerf, ``speed`` where half of the lines severed, ``std`` how well that is known and ``scatter``
    how far lines on one sheet differ; ``cuts`` counts lines, ``both_sides`` says whether some
    severed and some did not: only then is the boundary found, not guessed.
    """

    band: str
    thickness: float
    power: float
    width: float
    passes: float
    coupling: float
    speed: float
    std: float
    scatter: float
    both_sides: bool
    cuts: int
    source: str

    @property
    def fresh(self) -> float:
        """Standard deviation of the logarithm of speed for a line on a fresh sheet of the kind."""
        return math.sqrt(self.std**2 + self.scatter**2 + SHEETS**2)

    def speaks_for(self, band: str, thickness: float) -> bool:
        """Tell whether the boundary was found for such light and about this thickness, in m."""
        ratio = thickness / self.thickness
        return self.both_sides and band == self.band and 1 / NEAR <= ratio <= NEAR
