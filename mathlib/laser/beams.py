"""Laser beams and their focus. Diameters are 1/e² of the peak throughout."""

from __future__ import annotations

from typing import Any

import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.fields import optional, part, quantity, record
from mathlib.formula import Example, Formula
from mathlib.laser.aberration import aberration_blur as aberration_blur
from mathlib.laser.aberration import aberration_coefficient as aberration_coefficient
from mathlib.laser.aberration import best_input_diameter as best_input_diameter
from mathlib.laser.aberration import spot_with_aberration as spot_with_aberration
from mathlib.laser.bed import flatness as flatness
from mathlib.laser.bed import height_map as height_map
from mathlib.laser.bed import height_margin as height_margin
from mathlib.laser.bed import through_sheet as through_sheet
from mathlib.laser.depth import defocus_for_growth as defocus_for_growth
from mathlib.laser.depth import depth_of_focus as depth_of_focus
from mathlib.laser.depth import depth_readings as depth_readings
from mathlib.laser.irradiance import best_plane as best_plane
from mathlib.laser.irradiance import elliptical_peak_irradiance as elliptical_peak_irradiance
from mathlib.laser.irradiance import irradiance as irradiance
from mathlib.laser.irradiance import rectangle_irradiance as rectangle_irradiance
from mathlib.laser.lenses import clipped_fraction as clipped_fraction
from mathlib.laser.lenses import collimated_diameter as collimated_diameter
from mathlib.laser.lenses import expanded_diameter as expanded_diameter
from mathlib.laser.lenses import through as through
from mathlib.laser.lenses import truncated_spot as truncated_spot
from mathlib.laser.widths import d4sigma as d4sigma
from mathlib.laser.widths import divergence_readings as divergence_readings
from mathlib.laser.widths import power_readings as power_readings
from mathlib.laser.widths import spot_readings as spot_readings
from mathlib.laser.widths import width_in as width_in
from mathlib.units import Quantity
from mathlib.words import Word

_QUALITY = ("beam_quality", "1", "M², 1 for an ideal beam, 10 to 20 for a strong diode")
_WAVELENGTH = ("wavelength", "nm", "of the light")
_WAIST = ("waist_diameter", "mm", "1/e² diameter at the narrowest place")
_CAUSTIC = "a beam along its axis of the given M²; each axis of an elliptical one for itself"


@record
class Module:
    """A laser head as its data sheet describes it; ``optical_power`` is light, not input.

    Words that end in ``_y`` are of the other axis of a spot that is not round.
    """

    optical_power: Quantity = quantity("W", "of light that leaves the head")
    wavelength: Quantity = quantity("nm", "of the light, nominal")
    focal_length: Quantity = quantity("mm", "of the focusing lens")
    wavelength_tolerance: Quantity | None = optional("nm", "either way", sign="zero")
    spot_diameter: Quantity | None = optional("mm", "at the focus as stated, taken as 1/e²")
    divergence: Quantity | None = optional("mrad", "full 1/e² angle of the beam before the lens")
    beam_diameter: Quantity | None = optional("mm", "1/e² diameter at the lens")
    beam_quality: Quantity | None = optional("1", "M²")
    spot_diameter_y: Quantity | None = optional("mm", "1/e², along the other axis")
    beam_diameter_y: Quantity | None = optional("mm", "1/e² at the lens, along the other axis")
    beam_quality_y: Quantity | None = optional("1", "M² along the other axis")
    lens_aperture: Quantity | None = optional("mm", "clear diameter of the lens or nozzle")
    electrical_power: Quantity | None = optional("W", "that the head takes in, fan included")
    mass: Quantity | None = optional("kg", "of the head")
    rise_time: Quantity | None = optional("us", "of the light, from 10 % to 90 %")


@record
class Beam:
    """A laser beam by its waist; places lie along the beam, downstream positive.

    ``beam_quality``, ``waist_diameter`` and ``waist_place`` take a pair, x and y, where the beam is
    elliptical: each axis then has its own waist. Other arrays are sweeps or draws. A first axis of
    length two is a pair, unless ``two_axes`` is False.
    """

    wavelength: Quantity = quantity("nm", "of the light")
    beam_quality: Quantity = quantity("1", "M², 1 for an ideal beam")
    waist_diameter: Quantity = quantity("mm", "1/e² diameter at the narrowest place")
    waist_place: Quantity = quantity("mm", "of the waist along the beam", "signed", "0 mm")
    power: Quantity | None = optional("W", "of light in the whole beam")
    two_axes: bool | None = part("whether pairs are the axes x and y; None: told by shape", None)

    @property
    def elliptical(self) -> bool:
        """Whether the beam has two axes of its own."""
        told = (self.beam_quality, self.waist_diameter, self.waist_place)
        shaped = any(np.shape(value.magnitude)[:1] == (2,) for value in told)
        return shaped if self.two_axes is None else self.two_axes

    def by_axis(self, ndim: int = 0) -> tuple[Quantity, Quantity, Quantity]:
        """Quality, waist diameter and waist place, so shaped that pairs meet ``ndim`` more axes.

        Raises
        ------
        ValueRefused
            M² is below 1, which no beam can have.

        """
        told = (self.beam_quality, self.waist_diameter, self.waist_place)
        if np.median(self.beam_quality.magnitude) < 1 - 1e-9:
            raise ValueRefused(
                "Beam: beam_quality is M², at least 1: no beam is better than a Gaussian one. "
                "Where a measurement says less, radius was taken for diameter, or planes lack."
            )
        if not self.elliptical:
            return told
        paired = [np.shape(value.magnitude)[:1] == (2,) for value in told]
        rest = max(np.ndim(v.magnitude) - p for v, p in zip(told, paired, strict=True))
        rest = max(rest, ndim, np.ndim(self.wavelength.magnitude))

        def shaped(value: Quantity, pair: bool) -> Quantity:
            number = np.asarray(value.magnitude)
            if pair:
                number = number.reshape(2, *(1,) * (rest - number.ndim + 1), *number.shape[1:])
            return units.quantity(number, value._units)

        quality, diameter, place = (shaped(v, p) for v, p in zip(told, paired, strict=True))
        return quality, diameter, place

    @property
    def rayleigh_length(self) -> Quantity:
        """From the waist to where the diameter is √2 as wide, for each axis."""
        return self.length_by_axis()

    def length_by_axis(self, ndim: int = 0) -> Quantity:
        """Rayleigh length of each axis, so shaped that it meets ``ndim`` more axes."""
        quality, diameter, _ = self.by_axis(ndim)
        return rayleigh_length(
            waist_diameter=diameter, wavelength=self.wavelength, beam_quality=quality
        )

    @property
    def divergence(self) -> Quantity:
        """Full 1/e² angle of the cone far from the waist."""
        ratio = self.by_axis()[1] / self.rayleigh_length
        return units.quantity(1e3 * ratio.to("1").magnitude, units.container("mrad"))

    def diameter(self, place: Any) -> Quantity:
        """1/e² diameter at places along the beam; of two axes the first axis of the result."""
        along = _along(place)
        ndim = np.ndim(along.magnitude)
        _, diameter, waist = self.by_axis(ndim)
        return diameter_along(
            waist_diameter=diameter,
            place=along,
            waist_place=waist,
            rayleigh_length=self.length_by_axis(ndim),
        )

    def wavefront_radius(self, place: Any) -> Quantity:
        """Radius of curvature of the wavefront; positive where the beam widens."""
        along = _along(place)
        ndim = np.ndim(along.magnitude)
        return wavefront_radius(
            distance=along - self.by_axis(ndim)[2], rayleigh_length=self.length_by_axis(ndim)
        )


_PLACE = Word("place", "mm", "along the beam", "signed")


def _along(place: Any) -> Quantity:
    """Read places; a quantity stays as it is, and is checked where it is used."""
    if isinstance(place, units.QUANTITY) and not units.problem(place._units, _PLACE.container):
        kept: Quantity = place
        return kept
    return words.result(words.base_value(_PLACE, place), _PLACE.container)


focused_diameter = Formula(
    title="Diameter of a focused spot",
    equation="d_0 = 4 * M2 * lam * f / (pi * D)",
    where={
        "d_0": ("waist_diameter", "mm", "1/e² diameter of the spot"),
        "M2": _QUALITY,
        "lam": _WAVELENGTH,
        "f": ("focal_length", "mm", "of the lens"),
        "D": ("beam_diameter", "mm", "1/e² diameter of the beam at the lens"),
    },
    assumes=(
        "the beam comes to the lens nearly collimated, and the lens is wide enough for it",
        "spherical aberration of the lens adds nothing; a strong plain lens adds some",
        _CAUSTIC,
    ),
    source="Siegman, Lasers, Gaussian beams, with M² as in ISO 11146-1",
    example=Example(
        {
            "beam_quality": 10,
            "wavelength": "450 nm",
            "focal_length": "20 mm",
            "beam_diameter": "4 mm",
        },
        "0.028648 mm",
        2e-5,
        "by hand: 4 * 10 * 450e-6 * 20 / (3.14159 * 4) = 0.36 / 12.5664 = 0.028648",
    ),
)

rayleigh_length = Formula(
    title="Rayleigh length of a beam",
    equation="z_R = pi * d_0**2 / (4 * M2 * lam)",
    where={
        "z_R": ("rayleigh_length", "mm", "from the waist to where the diameter is √2 as wide"),
        "d_0": _WAIST,
        "lam": _WAVELENGTH,
        "M2": _QUALITY,
    },
    assumes=(_CAUSTIC,),
    source="Siegman, Lasers, Gaussian beams, with M² as in ISO 11146-1",
    example=Example(
        {"waist_diameter": "0.10 mm", "wavelength": "445 nm", "beam_quality": 15},
        "1.177 mm",
        5e-4,
        "by hand: 3.14159 * 0.01 / (4 * 15 * 445e-6) = 0.0314159 / 0.0267 = 1.177",
    ),
)

diameter_at = Formula(
    title="Diameter of a beam away from its waist",
    equation="d = d_0 * sqrt(1 + (z / z_R)**2)",
    where={
        "d": ("diameter", "mm", "1/e² diameter at that place"),
        "d_0": _WAIST,
        "z": ("distance", "mm", "along the beam from the waist, either way", "signed"),
        "z_R": ("rayleigh_length", "mm", "from the waist to where the diameter is √2 as wide"),
    },
    assumes=(_CAUSTIC,),
    source="Siegman, Lasers, Gaussian beams",
    example=Example(
        {"waist_diameter": "0.10 mm", "distance": "1.5 mm", "rayleigh_length": "1.177 mm"},
        "0.16199 mm",
        5e-5,
        "by hand: 1.5 / 1.177 = 1.27443; sqrt(1 + 1.62416) = 1.61993; times 0.10",
        brackets={"distance": ("0 mm", "10 mm")},
    ),
)

diameter_along = Formula(
    title="Diameter of a beam at a place along it",
    equation="d = d_0 * sqrt(1 + ((z - z_0) / z_R)**2)",
    where={
        "d": ("diameter", "mm", "1/e² diameter at that place"),
        "d_0": _WAIST,
        "z": ("place", "mm", "along the beam, downstream positive", "signed"),
        "z_0": ("waist_place", "mm", "of the waist, along the beam", "signed"),
        "z_R": ("rayleigh_length", "mm", "from the waist to where the diameter is √2 as wide"),
    },
    assumes=(_CAUSTIC,),
    source="Siegman, Lasers, Gaussian beams",
    example=Example(
        {
            "waist_diameter": "0.10 mm",
            "place": "1.8 mm",
            "waist_place": "0.3 mm",
            "rayleigh_length": "1.177 mm",
        },
        "0.16199 mm",
        5e-5,
        "by hand: 1.5 / 1.177 = 1.27443; sqrt(1 + 1.62416) = 1.61993; times 0.10",
        brackets={"place": ("0.3 mm", "10 mm"), "waist_place": ("-10 mm", "1.8 mm")},
    ),
)

peak_irradiance = Formula(
    title="Irradiance at the centre of a round Gaussian beam",
    equation="E = 8 * P / (pi * d**2)",
    where={
        "E": ("irradiance", "W/mm^2", "at the centre"),
        "P": ("power", "W", "of light in the whole beam"),
        "d": ("diameter", "mm", "1/e² diameter"),
    },
    assumes=("the beam is round and Gaussian; a diode's stripe is neither",),
    source="ISO 11145: twice the power over the 1/e² area",
    example=Example(
        {"power": "10 W", "diameter": "0.08 mm"},
        "3978.87 W/mm^2",
        2e-6,
        "by hand: 80 / (3.14159 * 0.0064) = 80 / 0.0201062 = 3978.87",
    ),
)

wavefront_radius = Formula(
    title="Radius of curvature of a beam's wavefront",
    equation="R = z * (1 + (z_R / z)**2)",
    where={
        "R": ("curvature_radius", "m", "of the wavefront, positive where it widens", "signed"),
        "z": ("distance", "mm", "along the beam from the waist, either way", "signed"),
        "z_R": ("rayleigh_length", "mm", "from the waist to where the diameter is √2 as wide"),
    },
    assumes=(_CAUSTIC, "not in the waist itself, where the wavefront is flat"),
    source="Siegman, Lasers, Gaussian beams",
    example=Example(
        {"distance": "500 mm", "rayleigh_length": "1200 mm"},
        "3.38 m",
        1e-12,
        "by hand: 0.5 * (1 + 5.76) = 3.38",
        brackets={"distance": ("1 mm", "1199 mm")},
    ),
)
