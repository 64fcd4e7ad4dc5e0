"""Sheets of one material as they differ: properties that go together are drawn together."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import attrs
import numpy as np

from mathlib.errors import ValueRefused
from mathlib.laser import heat
from mathlib.units import Q, Quantity, quantity

if TYPE_CHECKING:
    from mathlib.materials import Material
    from mathlib.ranges import Range

#: How far two properties go together over sheets, as the correlation of their deviates: a denser
#: sheet conducts better (for wood both follow one line), a moist one holds and conducts more.
#: Estimates.
TOGETHER: Final = {
    ("density", "thermal_conductivity"): 0.8,
    ("specific_heat", "thermal_conductivity"): 0.4,
}
#: Part of the spread that one and the same sheet shows from place to place and run to run, of its
#: surface and its moisture; an estimate. Density stays that of the sheet.
WITHIN: Final = {"absorptance": 0.5, "specific_heat": 0.3, "thermal_conductivity": 0.3}
_WORDS: Final = ("density", "specific_heat", "thermal_conductivity", "absorptance", "leaves_at")


@attrs.frozen(kw_only=True)
class Stock:
    """Properties of drawn sheets; arrays of shape (sheets,) or (sheets, runs)."""

    mass_density: Quantity
    specific_heat: Quantity
    conductivity: Quantity
    absorptance: Quantity
    leaves_at: Quantity

    @property
    def diffusivity(self) -> Quantity:
        """Conductivity over density times specific heat."""
        return heat.diffusivity(
            conductivity=self.conductivity,
            mass_density=self.mass_density,
            specific_heat=self.specific_heat,
        )

    @property
    def thermal_inertia(self) -> Quantity:
        """Conductivity times density times specific heat."""
        return heat.thermal_inertia(
            conductivity=self.conductivity,
            mass_density=self.mass_density,
            specific_heat=self.specific_heat,
        )


def _spans(material: Material, wavelength: Any) -> dict[str, Range]:
    end = material.leaves_at
    told = {
        "density": material.density,
        "specific_heat": material.specific_heat,
        "thermal_conductivity": material.thermal_conductivity,
        "absorptance": material.absorptance(wavelength),
        "leaves_at": None if end is None else end[1],
    }
    named = {word: word.replace("_", " ") for word in told} | {"leaves_at": "temperature of decay"}
    absent = [named[word] for word, span in told.items() if span is None]
    if absent:
        colour = " Name it by its colour." if material.name == "acrylic" else ""
        raise ValueRefused(
            f"{material.name}: nobody has stated its {', '.join(absent)} at this wavelength; "
            f"measure it, or take a material that is stated.{colour}"
        )
    return {word: span for word, span in told.items() if span is not None}


def _stock(values: dict[str, Quantity]) -> Stock:
    light = values["absorptance"].to("1").magnitude
    return Stock(
        mass_density=values["density"],
        specific_heat=values["specific_heat"],
        conductivity=values["thermal_conductivity"],
        absorptance=Q(np.minimum(light, 1.0)[()], "1"),
        leaves_at=values["leaves_at"],
    )


def typical(material: Material, wavelength: Any) -> Stock:
    """Typical sheet of a material under light of a wavelength.

    Raises
    ------
    ValueRefused
        A property is not stated.

    Examples
    --------
    >>> from mathlib.materials import material
    >>> print(typical(material("birch plywood"), "445 nm").diffusivity)
    0.1667 mm²/s

    """
    return _stock({word: span.typical for word, span in _spans(material, wavelength).items()})


def draw(material: Material, wavelength: Any, n: int, seed: int, runs: int = 1) -> Stock:
    """Draw sheets of a material, and runs on each of them.

    Parameters
    ----------
    material : Material
        With its ranges, between whose ends nine of ten sheets lie.
    wavelength : wavelength
        Of the light.
    n : int
        How many sheets.
    seed : int
        The same seed gives the same sheets.
    runs : int
        How many on each sheet; they differ less than sheets do.

    Returns
    -------
    Stock
        Arrays of shape (n,), or (n, runs) for more than one run.

    Raises
    ------
    ValueRefused
        A property is not stated.

    Notes
    -----
    ``TOGETHER`` and ``WITHIN`` say what goes together and what varies within a sheet. The spread
    of all runs on all sheets is that of the ranges, whatever the number of runs.

    Examples
    --------
    >>> from mathlib.materials import material
    >>> sheets = draw(material("birch plywood"), "445 nm", n=1000, seed=1)
    >>> dense, conducts = sheets.mass_density.magnitude, sheets.conductivity.magnitude
    >>> bool(np.corrcoef(dense, conducts)[0, 1] > 0.6)
    True

    """
    spans = _spans(material, wavelength)
    links = np.eye(len(_WORDS))
    for (a, b), linked in TOGETHER.items():
        i, j = _WORDS.index(a), _WORDS.index(b)
        links[i, j] = links[j, i] = linked
    root = np.linalg.cholesky(links)
    rng = np.random.default_rng(seed)
    between = root @ rng.standard_normal((len(_WORDS), n))
    within = np.einsum("ij,jnr->inr", root, rng.standard_normal((len(_WORDS), n, runs)))
    found = {}
    for i, word in enumerate(_WORDS):
        part = WITHIN.get(word, 0.0)
        deviates = np.sqrt(1 - part**2) * between[i][:, None] + part * within[i]
        value = spans[word].at(deviates)
        shaped = value.magnitude[:, 0] if runs == 1 else value.magnitude
        found[word] = quantity(shaped, value._units)
    return _stock(found)
