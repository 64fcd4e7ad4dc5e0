"""How bright a beam is across its spot: elliptical, evenly lit, off its axis."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.laser.lenses import known_beam
from mathlib.units import Quantity
from mathlib.words import Word

if TYPE_CHECKING:
    from mathlib.laser.beams import Beam

elliptical_peak_irradiance = Formula(
    title="Irradiance at the centre of an elliptical Gaussian beam",
    equation="E = 8 * P / (pi * d_x * d_y)",
    where={
        "E": ("irradiance", "W/mm^2", "at the centre"),
        "P": ("power", "W", "of light in the whole beam"),
        "d_x": ("diameter", "mm", "1/e² diameter along one axis"),
        "d_y": ("diameter_y", "mm", "1/e² diameter along the other axis"),
    },
    assumes=("the beam is Gaussian along both axes",),
    source="ISO 11145: twice the power over the 1/e² area, an ellipse of these axes",
    example=Example(
        {"power": "5 W", "diameter": "0.05 mm", "diameter_y": "0.20 mm"},
        "1273.24 W/mm^2",
        2e-6,
        "by hand: 40 / (3.14159 * 0.01) = 1273.24",
    ),
)

rectangle_irradiance = Formula(
    title="Irradiance of an evenly lit rectangle",
    equation="E = P / (a * b)",
    where={
        "E": ("irradiance", "W/mm^2", "everywhere in the rectangle"),
        "P": ("power", "W", "of light in the whole beam"),
        "a": ("side_x", "mm", "of the rectangle"),
        "b": ("side_y", "mm", "of the rectangle"),
    },
    assumes=("the light fills the rectangle evenly and nothing lands beside it",),
    source="Definition: power over area",
    example=Example(
        {"power": "20 W", "side_x": "0.08 mm", "side_y": "0.10 mm"},
        "2500 W/mm^2",
        1e-12,
        "by hand: 20 / 0.008 = 2500",
    ),
)


def irradiance(beam: Beam, x: Any, y: Any, place: Any = "0 mm") -> Quantity:
    """Irradiance of a Gaussian beam across it; over the whole plane it adds up to the power.

    Parameters
    ----------
    beam : Beam
        One beam, with its power.
    x, y : length, broadcast
        From the beam's axis.
    place : length
        Along the beam.

    Returns
    -------
    Quantity
        W/mm², of the shape of x and y.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; the beam states no power.

    Examples
    --------
    >>> from mathlib.laser.beams import Beam
    >>> print(irradiance(Beam(wavelength="445 nm", beam_quality=15, waist_diameter="0.08 mm",
    ...     power="10 W"), "0 mm", "0.04 mm"))
    538.5 W/mm²

    """
    known_beam("Irradiance", beam)
    if beam.power is None:
        raise ValueRefused('Irradiance: the beam states no power; give Beam(..., power="5 W").')
    here = beam.diameter(place)
    wide, high = (here[0], here[1]) if beam.elliptical else (here, here)
    peak = elliptical_peak_irradiance(power=beam.power, diameter=wide, diameter_y=high)
    across = words.base_value(Word("x", "mm", "", "signed"), x) * 1e3 / wide.magnitude
    along = words.base_value(Word("y", "mm", "", "signed"), y) * 1e3 / high.magnitude
    falls: Quantity = peak * np.exp(-8 * (across**2 + along**2))
    return falls


def best_plane(beam: Beam) -> Quantity:
    """Place along a beam of two axes where its 1/e² area is least, and its irradiance highest.

    Parameters
    ----------
    beam : Beam
        With pairs, scalar ones.

    Returns
    -------
    Quantity
        mm along the beam; it lies between both waists, in the better one if they lie far apart.

    Raises
    ------
    ValueRefused
        As a formula does.

    Examples
    --------
    >>> from mathlib.laser.beams import Beam
    >>> print(best_plane(Beam(wavelength="450 nm", beam_quality=(4, 12),
    ...     waist_diameter=("0.05 mm", "0.05 mm"), waist_place=("0 mm", "0.6 mm"))))
    0.5503 mm

    """
    known_beam("Place of the least area", beam)
    _, _, place = beam.by_axis()
    low, high = float(np.min(place.magnitude)), float(np.max(place.magnitude))
    best = low
    for _ in range(6):  # each round is a hundred times finer
        tried = np.linspace(low, high, 201)
        here = beam.diameter(units.quantity(tried, units.container("mm"))).magnitude
        area = np.prod(np.broadcast_to(here, (2, tried.size)), axis=0)
        best = float(tried[area.argmin()])
        step = (high - low) / 200
        low, high = max(low, best - step), min(high, best + step)
    return units.quantity(best, units.container("mm"))
