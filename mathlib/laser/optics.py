"""How much light a surface takes in, and how deep it goes."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib.formula import Example, Formula
from mathlib.words import with_units

_INDEX: Final = ("refractive_index", "1", "real part n of the complex index")
_WAVELENGTH: Final = ("wavelength", "nm", "of the light")
_FLAT: Final = "the surface is clean, smooth and optically thick; rough or oxidised takes in more"
_FRESNEL: Final = "Fresnel; Born and Wolf, Principles of Optics, ch. 1 and 14"

fresnel_reflectance = Formula(
    title="Reflectance of a smooth surface, light from straight above",
    equation="R = ((n - 1)**2 + kappa**2) / ((n + 1)**2 + kappa**2)",
    where={
        "R": ("surface_reflectance", "1", "of one face", "zero"),
        "n": _INDEX,
        "kappa": ("extinction", "1", "imaginary part of the complex index", "zero"),
    },
    assumes=(_FLAT,),
    source=_FRESNEL,
    example=Example(
        {"refractive_index": "2 1", "extinction": "1 1"},
        "0.2 1",
        1e-9,
        "by hand: (1 + 1) / (9 + 1) = 0.2",
        brackets={"refractive_index": ("1.5 1", "4 1")},
    ),
)

fresnel_absorptance = Formula(
    title="Part of the light that enters a smooth surface, light from straight above",
    equation="A = 4 * n / ((n + 1)**2 + kappa**2)",
    where={
        "A": ("absorptance", "1", "of a face behind which all light is absorbed"),
        "n": _INDEX,
        "kappa": ("extinction", "1", "imaginary part of the complex index", "zero"),
    },
    assumes=(_FLAT, "what enters is absorbed, and does not leave by a far face"),
    source=_FRESNEL,
    example=Example(
        {"refractive_index": "2 1", "extinction": "1 1"},
        "0.8 1",
        1e-9,
        "by hand: 8 / (9 + 1) = 0.8",
        brackets={"refractive_index": ("1.5 1", "10 1")},
    ),
)

absorption_coefficient = Formula(
    title="Absorption coefficient",
    equation="a = 4 * pi * kappa / lam",
    where={
        "a": ("absorption_coefficient", "1/mm", "light falls by 1/e over its inverse"),
        "kappa": ("extinction", "1", "imaginary part of the complex index"),
        "lam": _WAVELENGTH,
    },
    assumes=("the material is clear: what scatters, such as wood, has more than one length",),
    source="Born and Wolf, Principles of Optics, ch. 14",
    example=Example(
        {"extinction": "0.0267 1", "wavelength": "10625 nm"},
        "31.57855 1/mm",
        1e-6,
        "by hand: 12.566371 * 0.0267 / 0.010625 = 31.57855",
    ),
)

optical_depth = Formula(
    title="Depth at which light has fallen to 1/e",
    equation="l = lam / (4 * pi * kappa)",
    where={
        "l": ("absorption_depth", "mm", "below the surface"),
        "lam": _WAVELENGTH,
        "kappa": ("extinction", "1", "imaginary part of the complex index"),
    },
    assumes=("the material is clear: what scatters, such as wood, has more than one length",),
    source="Born and Wolf, Principles of Optics, ch. 14",
    example=Example(
        {"extinction": "0.0267 1", "wavelength": "10625 nm"},
        "0.0316671 mm",
        2e-6,
        "by hand: 0.010625 / (12.566371 * 0.0267) = 0.0316671",
    ),
)


def _through(face: Any, inside: Any) -> Any:
    """Transmittance by the reflectance of a face and what one way through the bulk leaves."""
    return (1 - face) ** 2 * inside / (1 - (face * inside) ** 2)


@with_units(
    "Light through a slab",
    returns="1",
    surface_reflectance=("1", "zero"),
    absorption_coefficient=("1/mm", "zero"),
    thickness=("mm", "zero"),
)
def slab_transmittance(
    *, surface_reflectance: Any, absorption_coefficient: Any, thickness: Any
) -> Any:
    """Part of the light that goes through a slab with two like faces, echoes within it added up.

    Parameters
    ----------
    surface_reflectance : number
        Of one face; below 1.
    absorption_coefficient : 1/length
        Of the bulk; 0 for a clear window.
    thickness : length
        Of the slab, far more than a wavelength, so that echoes do not interfere.

    Returns
    -------
    Quantity
        1.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Notes
    -----
    Sum of a geometric row: T = (1 - R)² t / (1 - R² t²), with t = exp(-a d).

    Examples
    --------
    >>> print(slab_transmittance(surface_reflectance=0.04, absorption_coefficient="0.0049 1/mm",
    ...                          thickness="3 mm"))
    0.9096

    """
    inside = np.exp(-absorption_coefficient * thickness)
    return _through(surface_reflectance, inside)


@with_units(
    "Light that a slab throws back",
    returns="1",
    surface_reflectance=("1", "zero"),
    absorption_coefficient=("1/mm", "zero"),
    thickness=("mm", "zero"),
)
def slab_reflectance(
    *, surface_reflectance: Any, absorption_coefficient: Any, thickness: Any
) -> Any:
    """Part of the light that a slab with two like faces throws back, echoes added up.

    What is neither thrown back nor let through is absorbed.

    Parameters
    ----------
    surface_reflectance : number
        Of one face; below 1.
    absorption_coefficient : 1/length
        Of the bulk.
    thickness : length
        Of the slab, far more than a wavelength.

    Returns
    -------
    Quantity
        1.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Notes
    -----
    Sum of a geometric row: R (1 + t T), with T the slab's transmittance and t = exp(-a d).

    Examples
    --------
    >>> print(slab_reflectance(surface_reflectance=0.04, absorption_coefficient="0 1/mm",
    ...                        thickness="3 mm"))
    0.07692

    """
    inside = np.exp(-absorption_coefficient * thickness)
    return surface_reflectance * (1 + inside * _through(surface_reflectance, inside))


metal_absorptance = Formula(
    title="Absorptance of a metal in the far infrared",
    equation="A = c_0 * sqrt(rho / (lam * R_0))",
    where={
        "A": ("absorptance", "1", "of the smooth surface"),
        "c_0": (
            "coefficient", "1", "root of 16π ohm over the impedance of vacuum", "positive",
            "0.365 1", "Duley, CO2 Lasers, from memory; 0.3653 from first principles",
        ),
        "R_0": (
            "unit_resistance", "ohm", "in which the coefficient counts", "positive", "1 ohm",
            "by definition",
        ),
        "rho": ("resistivity", "ohm*m", "at the temperature of the surface"),
        "lam": _WAVELENGTH,
    },
    assumes=("far infrared only, such as 10.6 µm; far too low for visible light", _FLAT),
    source="Hagen and Rubens 1903; as in Duley, CO2 Lasers, from memory",
    example=Example(
        {
            "coefficient": "0.365 1",
            "unit_resistance": "1 ohm",
            "resistivity": "7.2e-7 ohm*m",
            "wavelength": "10600 nm",
        },
        "0.0951275 1",
        2e-6,
        "by hand: 7.2e-7 / 1.06e-5 = 0.0679245; root 0.260623; times 0.365",
    ),
)  # fmt: skip


blue_reflectance = Formula(
    title="Reflectance for blue light, told from the colour of a surface",
    equation="R = ((L_s + 16) / 116 - b_s / 200)**3",
    where={
        "R": ("blue_reflectance", "1", "near 450 nm, an estimate"),
        "L_s": ("lightness", "1", "L* of CIELAB, 0 to 100"),
        "b_s": ("yellowness", "1", "b* of CIELAB, blue below 0", "signed"),
    },
    assumes=(
        "Z/Zn of ISO 11664-4, whose weights lie about 450 nm; a matt, opaque surface",
        "not for dark colours, where the cube gives way to a straight line",
    ),
    source="ISO 11664-4, colour space CIELAB, solved for Z/Zn",
    example=Example(
        {"lightness": "80 1", "yellowness": "20 1"},
        "0.385171 1",
        2e-6,
        "by hand: 96 / 116 - 0.1 = 0.7275862; cubed 0.385171",
        brackets={"lightness": ("20 1", "100 1"), "yellowness": ("-20 1", "80 1")},
    ),
)
