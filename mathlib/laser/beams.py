"""Laser beams and their focus. Diameters are 1/e² of the peak throughout."""

from __future__ import annotations

from mathlib.fields import optional, quantity, record
from mathlib.formula import Example, Formula
from mathlib.units import Quantity

_QUALITY = ("beam_quality", "1", "M², 1 for an ideal beam, 10 to 20 for a strong diode")
_WAVELENGTH = ("wavelength", "nm", "of the light")
_WAIST = ("waist_diameter", "mm", "1/e² diameter at the narrowest place")
_CAUSTIC = "a beam along its axis of the given M²; each axis of an elliptical one for itself"


@record
class Module:
    """A laser head as its data sheet describes it; ``optical_power`` is light, not input."""

    optical_power: Quantity = quantity("W", "of light that leaves the head")
    wavelength: Quantity = quantity("nm", "of the light, nominal")
    focal_length: Quantity = quantity("mm", "of the focusing lens")
    wavelength_tolerance: Quantity | None = optional("nm", "either way", sign="zero")
    spot_diameter: Quantity | None = optional("mm", "at the focus as stated, taken as 1/e²")
    divergence: Quantity | None = optional("mrad", "full 1/e² angle of the beam before the lens")
    beam_diameter: Quantity | None = optional("mm", "1/e² diameter at the lens")
    beam_quality: Quantity | None = optional("1", "M²")
    mass: Quantity | None = optional("kg", "of the head")
    rise_time: Quantity | None = optional("us", "of the light, from 10 % to 90 %")


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

defocus_for_growth = Formula(
    title="Distance from focus at which the spot has grown by a ratio",
    equation="z = z_R * sqrt(g**2 - 1)",
    where={
        "z": ("half_range", "mm", "from the focus, to each side", "zero"),
        "z_R": ("rayleigh_length", "mm", "from the waist to where the diameter is √2 as wide"),
        "g": ("growth", "1", "ratio of the diameter there to that of the focus"),
    },
    holds=("g >= 1; the spot is smallest at the focus",),
    assumes=(_CAUSTIC,),
    source="Diameter of a beam away from its waist, solved for the distance",
    example=Example(
        {"rayleigh_length": "1.177 mm", "growth": "1.1 1"},
        "0.5394 mm",
        2e-4,
        "by hand: sqrt(1.21 - 1) = 0.45826; 1.177 * 0.45826 = 0.53937",
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
