"""What coupons of one's own said: the speed at which a cut ceased, and under what conditions.

A record under ``[coupon]`` in a machine file keeps it; ``Coupon`` is what a material carries.
"""

from __future__ import annotations

import math
from typing import Any, Final

import attrs
import numpy as np

from mathlib import materials
from mathlib.fields import choice, optional, quantity, record, text
from mathlib.laser import asked, observed, removal
from mathlib.materials import Material
from mathlib.ranges import Range
from mathlib.units import Q, Quantity

#: Scatter between sheets of one kind, of the logarithm of speed; an estimate.
SHEETS: Final = 0.10
#: How far a thickness may lie from the coupon's, as a ratio, for the coupon to speak for it.
NEAR: Final = 1.25
Z90: Final = 1.6448536269514722
#: Spread of a boundary whose file tells none, of its logarithm; an estimate.
_UNTOLD: Final = 0.3


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
    removal_energy: Quantity | None = optional("MJ/kg", "as far as the boundary tells it")
    threshold_dose: Quantity | None = optional("J/mm^2", "peak dose from which on a line shows")
    spot_diameter: Quantity | None = optional(
        "mm", "1/e² diameter of the beam at the top of the sheet, from widths of marks"
    )
    lines: Quantity = quantity("1", "that stand behind it", "zero", "0 1")
    moisture: Quantity | None = optional("%", "of the sheet, over its dry mass", "zero")


@attrs.frozen(kw_only=True)
class Coupon:
    """What a material knows of its coupons: SI units, spreads of logarithms.

    ``coupling`` is the part of the light that was taken to work in the kerf; ``speed`` is where
    half of the lines severed, ``std`` how well that is known and ``scatter`` how far lines on one
    sheet differ; ``cuts`` counts lines, ``both_sides`` says whether some severed and some did not:
    only then is the boundary found, not guessed. ``spot_radius`` at the top face and ``threshold``
    (peak dose) are measured quantities, where widths told them; ``shows_from`` are the energies on
    each length, in J/mm, of which one left no mark and the other did, by width or darkness.
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
    spot_radius: Any = None
    threshold: Any = None
    shows_from: tuple[float, float] | None = None
    moisture: float | None = None
    notes: tuple[str, ...] = ()

    def __str__(self) -> str:
        """Say the finding in a sentence or two."""
        found = "" if self.both_sides else " All lines went one way: the boundary is not found yet."
        seen = "" if self.spot_radius is None else f" Radius of the spot {self.spot_radius}."
        return (
            f"Half of the lines sever at {1e3 * self.speed:.3g} mm/s, known to {self.std:.0%}; "
            f"lines on one sheet differ by {self.scatter:.0%} ({self.cuts} lines, "
            f"{self.passes:g} passes, {1e3 * self.thickness:.3g} mm).{found}{seen}"
        )

    @property
    def fresh(self) -> float:
        """Standard deviation of the logarithm of speed for a line on a fresh sheet of the kind."""
        return math.sqrt(self.std**2 + self.scatter**2 + SHEETS**2)

    def speaks_for(self, band: str, thickness: float) -> bool:
        """Tell whether the boundary was found for such light and about this thickness, in m."""
        ratio = thickness / self.thickness
        return self.both_sides and band == self.band and 1 / NEAR <= ratio <= NEAR


def with_coupon(material: Material, found: Coupon, draws: int = 4000) -> Material:
    """Give a material what its coupons found: its energy of removal becomes a measured range.

    The boundary fixes what cutting takes of the light as a whole. The energy alone it narrows only
    so far as absorption, losses and coupling are known: each draw of them all counts by how near
    its boundary lies to the one that was found.

    Examples
    --------
    >>> told = dict(band="450nm", thickness=3e-3, power=5.5, width=1e-4, passes=3, coupling=0.1,
    ...             std=0.05, scatter=0.1, both_sides=True, cuts=22, source="a doctest")
    >>> after = with_coupon(materials.material("birch plywood"), Coupon(speed=2e-3, **told))
    >>> after.heat_of_gasification.kind
    'measured'

    """
    before = material.removal_before or material.heat_of_gasification
    made = attrs.evolve(material, coupon=found, removal_before=before)
    assert before is not None
    prior = attrs.evolve(material, coupon=None, heat_of_gasification=before, removal_before=None)
    light = float(Q(removal.NOMINAL[found.band]).to("m").magnitude)
    sheet = removal.sheet(prior, found.thickness, light, draws)
    coupling = asked.coupling_draws(prior, light, draws)
    told = (found.thickness, found.power, found.width, found.passes, coupling)
    with np.errstate(divide="ignore"):
        miss = np.abs(np.log(removal.speeds(sheet, *told) / found.speed))
    # Where hardly a draw agrees with the coupon, the nearest twentieth of them speaks for it.
    reach = max(found.fresh, float(np.percentile(miss, 5)))
    weight = np.exp(-0.5 * (miss / reach) ** 2) if math.isfinite(reach) else np.ones(draws)
    low, middle, high = np.percentile(
        sheet.removal, [5, 50, 95], method="inverted_cdf", weights=weight
    )
    spans = (Q(low * 1e-6, "MJ/kg"), Q(middle * 1e-6, "MJ/kg"), Q(high * 1e-6, "MJ/kg"))
    return attrs.evolve(made, heat_of_gasification=Range(*spans, found.source, "measured"))


def known(machine: Any, material: Material) -> Material:
    """Give a material what the machine's file knows from coupons of it, if anything.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> known(load(TAGMAKER), materials.material("cork")).coupon is None
    True

    """
    found: CouponFound | None = getattr(machine, "coupon", None)
    if found is None or found.boundary_speed is None or material.coupon is not None:
        return material
    if materials.material(found.material).name != material.name:
        return material
    span = machine.contents.ranges.get("coupon.boundary_speed")
    std = math.log(span.high / span.low) / (2 * Z90) if span is not None else _UNTOLD
    speed = _one(found.boundary_speed, "m/s")
    light = _one(found.wavelength, "m")
    told = Coupon(
        band=removal.band(light),
        thickness=_one(found.thickness, "m"),
        power=_one(found.power, "W"),
        width=_one(found.beam_width, "m"),
        passes=_one(found.passes, "1"),
        coupling=math.exp(observed.coupling(observed.light_of(light)).mean),
        speed=speed,
        std=std,
        scatter=_one(found.scatter, "1"),
        both_sides=found.both_sides == "yes",
        cuts=int(_one(found.lines, "1")),
        moisture=None if found.moisture is None else _one(found.moisture, "1"),
        source=machine.contents.sources.get("coupon.boundary_speed", "coupons in the file"),
    )
    return with_coupon(material, told)


def _one(value: Quantity, unit: str) -> float:
    return float(np.median(value.to(unit).magnitude))
