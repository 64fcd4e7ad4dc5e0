"""Spherical aberration of a single lens, and the beam that makes its spot smallest."""

from __future__ import annotations

from typing import Any, Final

from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.units import Quantity

_INDEX = ("refractive_index", "1", "of the glass at this wavelength")
_FOCAL = ("focal_length", "mm", "of the lens")
_AT_LENS = ("beam_diameter", "mm", "1/e² diameter of the beam at the lens")
_BLUR = ("coefficient", "1", "of spherical aberration, k in the blur k D³/f²")
_QUALITY = ("beam_quality", "1", "M², 1 for an ideal beam, 10 to 20 for a strong diode")
_WAVELENGTH = ("wavelength", "nm", "of the light")
_THIN = "a thin lens with spherical faces and a beam from far away, along its axis"
_WORST = "both parts simply added, as lens makers do: a worst case"

#: Bending q = c1 / (c1 - c2) by shape; the best one depends on the glass.
_BENDINGS: Final = {
    "best form": None,
    "plano-convex": 1.0,
    "biconvex": 0.5,
    "plano-convex reversed": 0.0,
}

best_form_bending = Formula(
    title="Bending of a lens with the least spherical aberration",
    equation="q = n * (2 * n + 1) / (2 * (n + 2))",
    where={
        "q": ("bending", "1", "curvature of the first face over the difference of both"),
        "n": _INDEX,
    },
    assumes=(_THIN,),
    source="Smith, Modern Optical Engineering, thin lenses in third order",
    example=Example(
        {"refractive_index": "1.5 1"}, "0.857143 1", 1e-6, "by hand: 1.5 * 4 / 7 = 0.857143"
    ),
)

aberration_coefficient = Formula(
    title="Coefficient of the blur by spherical aberration",
    equation="k = (n**2 - (2 * n + 1) * q + (n + 2) * q**2 / n) / (32 * (n - 1)**2)",
    where={
        "k": _BLUR,
        "n": _INDEX,
        "q": (
            "bending",
            "1",
            "first face's curvature over the difference of both: 1 with the flat face behind",
            "signed",
        ),
    },
    holds=("n > 1; else it is no lens",),
    assumes=(_THIN, "third order: the lens is not much faster than f/2"),
    source="Smith, Modern Optical Engineering, thin lenses in third order",
    example=Example(
        {"refractive_index": "2.4 1", "bending": 1},
        "0.0285927 1",
        2e-6,
        "by hand: 5.76 - 5.8 + 4.4 / 2.4 = 1.793333; over 32 * 1.96 = 62.72",
        brackets={"bending": ("0.5 1", "1.5 1"), "refractive_index": ("1.5 1", "2.5 1")},
    ),
)

blur_diameter = Formula(
    title="Smallest blur by spherical aberration",
    equation="d = k * D**3 / f**2",
    where={
        "d": ("blur", "mm", "diameter of the smallest disc that holds the rays"),
        "k": _BLUR,
        "D": _AT_LENS,
        "f": _FOCAL,
    },
    assumes=(_THIN, "the rim's rays count, with the 1/e² diameter as the rim"),
    source="Smith, Modern Optical Engineering, thin lenses in third order",
    example=Example(
        {"coefficient": "0.0286 1", "beam_diameter": "6 mm", "focal_length": "50.8 mm"},
        "0.00239383 mm",
        1e-5,
        "by hand: 0.0286 * 216 / 2580.64 = 6.1776 / 2580.64 = 0.00239383",
    ),
)

spot_with_aberration = Formula(
    title="Focused spot, diffraction and spherical aberration added",
    equation="d = 4 * M2 * lam * f / (pi * D) + k * D**3 / f**2",
    where={
        "d": ("spot_diameter", "mm", "1/e² diameter of the spot, at worst"),
        "M2": _QUALITY,
        "lam": _WAVELENGTH,
        "f": _FOCAL,
        "D": _AT_LENS,
        "k": _BLUR,
    },
    assumes=(_WORST, _THIN, "where the second part is the larger one, the sum no longer holds"),
    source="Smith, Modern Optical Engineering; the sum as infrared lens makers' notes give it",
    example=Example(
        {
            "beam_quality": "1.1 1",
            "wavelength": "10600 nm",
            "focal_length": "50.8 mm",
            "beam_diameter": "6 mm",
            "coefficient": "0.0286 1",
        },
        "0.128090 mm",
        1e-5,
        "by hand: 4 * 1.1 * 0.0106 * 50.8 / 18.84956 = 0.1256959; 6.1776 / 2580.64 = 0.0023938",
        brackets={"beam_diameter": ("1 mm", "15 mm"), "focal_length": ("20 mm", "200 mm")},
    ),
)

best_input_diameter = Formula(
    title="Beam at the lens that gives the smallest spot",
    equation="D = (4 * M2 * lam * f**3 / (3 * pi * k))**0.25",
    where={
        "D": _AT_LENS,
        "M2": _QUALITY,
        "lam": _WAVELENGTH,
        "f": _FOCAL,
        "k": _BLUR,
    },
    assumes=(_WORST, _THIN),
    source="Spot with aberration, its slope with the beam's diameter set to zero",
    example=Example(
        {
            "wavelength": "10600 nm",
            "beam_quality": 1,
            "focal_length": "127 mm",
            "coefficient": "0.0187 1",
        },
        "26.4975 mm",
        1e-4,
        "by hand: 0.0424 * 2048383 / 0.176243 = 492796; its square root 701.994, and of that again",
    ),
)


def aberration_blur(
    beam_diameter: Any, focal_length: Any, refractive_index: Any, shape: str
) -> Quantity:
    """Blur by spherical aberration of a single lens of a shape.

    Parameters
    ----------
    beam_diameter : length, any shape
        1/e² diameter at the lens.
    focal_length : length, broadcast
        Of the lens.
    refractive_index : number
        Of the glass at the wavelength: 1.5 for crown glass, 2.40 for zinc selenide at 10.6 µm.
    shape : str
        "best form" (a meniscus in dense glass), "plano-convex" with the curved face towards the
        laser, "plano-convex reversed", "biconvex" with equal faces.

    Returns
    -------
    Quantity
        mm; to be added to the spot by diffraction, at worst.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; the shape is unknown.

    Examples
    --------
    A lens the wrong way round:

    >>> for shape in ("plano-convex", "plano-convex reversed"):
    ...     print(aberration_blur("5 mm", "30 mm", 1.5, shape))
    0.01013 mm
    0.03906 mm

    """
    name = {"meniscus": "best form"}.get(shape, shape)
    if name not in _BENDINGS:
        told = ", ".join(map(repr, _BENDINGS))
        raise ValueRefused(f"Blur of a lens: shape is one of {told}; got {shape!r}.")
    bending: Any = _BENDINGS[name]
    if bending is None:
        bending = best_form_bending(refractive_index=refractive_index)
    return blur_diameter(
        coefficient=aberration_coefficient(refractive_index=refractive_index, bending=bending),
        beam_diameter=beam_diameter,
        focal_length=focal_length,
    )
