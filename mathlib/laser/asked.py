"""What is asked of one cut: inputs read and refused together, and the draws that follow."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib import words
from mathlib.errors import ValueRefused
from mathlib.laser import observed, removal
from mathlib.laser.beams import Beam
from mathlib.laser.lenses import known_beam
from mathlib.materials import Material
from mathlib.words import Word

DRAWS: Final = 4000
THICKNESS: Final = Word("thickness", "mm", "of the sheet")
POWER: Final = Word("power", "W", "of light on the work")
SPEED: Final = Word("speed", "mm/s", "of the head")
PASSES: Final = Word("passes", "1", "over the same line")


class Asked:
    """Inputs of one cut, read and refused together, with the draws that follow from them."""

    def __init__(
        self,
        who: str,
        material: str | Material,
        beam: Beam,
        told: dict[Word, Any],
        supplier_sheet: str | None,
        draws: int = DRAWS,
    ) -> None:
        self.material = removal.as_material(material, supplier_sheet)
        read = words.read_words(who, list(told), {w.word: v for w, v in told.items()})
        passes = np.asarray(read["passes"])
        if np.any((passes < 1) | (passes != np.round(passes))):
            raise ValueRefused(f"{who}: passes is a whole count, 1 or more.")
        known_beam(who, beam)
        for word, value in read.items():
            if np.ndim(value):
                raise ValueRefused(f"{who}: {word} is a single value here; ask once for each.")
        self.thickness, self.passes = float(read["thickness"]), float(read["passes"])
        self.power, self.speed = read.get("power", 0.0), read.get("speed", 0.0)
        self.light = light = float(np.median(beam.wavelength.to("m").magnitude))
        self.sheet = removal.sheet(self.material, self.thickness, light, draws)
        self.width = removal.widths(beam, self.thickness / self.passes)
        self.coupling = coupling_draws(self.material, light, draws)

    def speeds(self) -> Any:
        """Fastest severing speed of each draw, in m/s."""
        return removal.speeds(
            self.sheet, self.thickness, self.power, self.width, self.passes, self.coupling
        )


def has_coupon(material: Material, wavelength: float = 450e-9, thickness: float = 0.0) -> bool:
    """Tell whether the energy of removal was measured on the builder's own sheet.

    Coupons speak for the light that they were burned with, and for about their thickness, in m.

    Examples
    --------
    >>> from mathlib.materials import material
    >>> has_coupon(material("birch plywood"))
    False

    """
    if material.coupon is not None:
        return material.coupon.speaks_for(removal.band(wavelength), thickness)
    found = material.heat_of_gasification
    return found is not None and found.kind == "measured"


def coupling_draws(material: Material, wavelength: float, draws: int) -> Any:
    """Draw the coupling for a material at a wavelength in metres.

    Near infrared has no reported cuts: it takes those of blue diodes, a factor of two wider.

    Examples
    --------
    >>> from mathlib.materials import material
    >>> coupling_draws(material("pine"), 450e-9, 5).shape
    (5,)

    """
    known = observed.coupling(observed.light_of(wavelength))
    if material.coupon is not None and material.coupon.band == removal.band(wavelength):
        return np.full(draws, material.coupon.coupling)  # the energy of removal holds its spread
    seed = removal.seed_of(material.name, "coupling")
    found = known.draw(draws, seed, own=has_coupon(material, wavelength))
    if not removal.reported(wavelength):
        found = found * np.exp(0.42 * np.random.default_rng([*seed, 2]).standard_normal(draws))
    return found
