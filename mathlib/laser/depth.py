"""How far a beam stays narrow to each side of its focus, and what a printed depth may mean."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from mathlib import units, words
from mathlib.formula import Example, Formula
from mathlib.laser.lenses import known_beam
from mathlib.laser.widths import Reading
from mathlib.units import Quantity
from mathlib.words import Word

if TYPE_CHECKING:
    from mathlib.laser.beams import Beam

defocus_for_growth = Formula(
    title="Distance from focus at which the spot has grown by a ratio",
    equation="z = z_R * sqrt(g**2 - 1)",
    where={
        "z": ("half_range", "mm", "from the focus, to each side", "zero"),
        "z_R": ("rayleigh_length", "mm", "from the waist to where the diameter is √2 as wide"),
        "g": ("growth", "1", "ratio of the diameter there to that of the focus"),
    },
    holds=("g >= 1; the spot is smallest at the focus",),
    assumes=("a beam of constant M²; each axis of an elliptical one for itself",),
    source="Diameter of a beam away from its waist, solved for the distance",
    example=Example(
        {"rayleigh_length": "1.177 mm", "growth": "1.1 1"},
        "0.5394 mm",
        2e-4,
        "by hand: sqrt(1.21 - 1) = 0.45826; 1.177 * 0.45826 = 0.53937",
    ),
)


def depth_of_focus(beam: Beam, growth: Any) -> Quantity:
    """Distance to each side of the waist within which the beam stays that narrow.

    Data sheets also print the whole range, twice this, or the Rayleigh length, where the beam is
    already √2 as wide.

    Parameters
    ----------
    beam : Beam
        Of two axes each about its own waist.
    growth : number, any shape
        Ratio of diameters, such as 1.1 for a tenth.

    Returns
    -------
    Quantity
        mm, the half range; of two axes the first axis of the result.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; a growth below 1 is refused.

    Examples
    --------
    >>> from mathlib.laser.beams import Beam
    >>> print(depth_of_focus(Beam(wavelength="445 nm", beam_quality=15,
    ...     waist_diameter="0.1 mm"), 1.1))
    0.5392 mm

    """
    known_beam("Depth of focus", beam)
    length = beam.rayleigh_length
    if beam.elliptical:  # both axes meet each growth
        length = beam.length_by_axis(np.ndim(words.base_value(Word("growth", "1"), growth)))
    return defocus_for_growth(rayleigh_length=length, growth=growth)


#: Growth of the diameter at the end of a depth of focus, as data sheets count it.
GROWTHS: Final = {"5 % wider": 1.05, "10 % wider": 1.1, "√2 as wide": 2**0.5}


def depth_readings(stated: Any) -> list[Reading]:
    """Say which Rayleigh length a depth of focus without a convention would mean.

    Parameters
    ----------
    stated : text or length
        As printed, such as "2 mm".

    Returns
    -------
    list of Reading
        ``value`` is the Rayleigh length; ``times`` that over the one of the first reading.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> for r in depth_readings("2 mm"):
    ...     print(f"{r.taken_as}: {r.value:.3g~P}")
    to each side, 5 % wider: 6.25 mm
    to each side, 10 % wider: 4.36 mm
    to each side, √2 as wide: 2 mm
    in all, 5 % wider: 3.12 mm
    in all, 10 % wider: 2.18 mm
    in all, √2 as wide: 1 mm

    """
    half = words.result(
        words.base_value(Word("stated", "mm", "depth of focus"), stated), units.container("mm")
    )
    found = [
        (f"{told}, {name}", defocus_for_growth.solve("rayleigh_length", half_range=part * half,
                                                     growth=growth))
        for told, part in (("to each side", 1.0), ("in all", 0.5))
        for name, growth in GROWTHS.items()
    ]  # fmt: skip
    return [Reading(name, length, float(length / found[0][1])) for name, length in found]
