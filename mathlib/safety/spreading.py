"""How far a beam that meets no lens stays above a limit, by its peak and over an aperture.

The formulas take diameters and divergences at 1/e of the peak, where 63 % of the power lies
inside; data sheets mostly state 1/e², whose widths are √2 times as wide. The functions convert,
and without a word on the convention they take the one that gives the longer distance.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.units import Q
from mathlib.words import with_units

CONVENTIONS: Final = ("1/e", "1/e^2")

_POWER = ("power", "W", "of light in the whole beam")
_LIMIT = ("limit", "W/m^2", "irradiance that is allowed for the exposure in question")
_DIVERGENCE = ("divergence_63", "mrad", "full angle of the beam at 1/e of its peak")
_DIAMETER = ("diameter_63", "mm", "at 1/e of the peak, where 63 % of the power lies inside", "zero")
_GAUSSIAN = "the beam is Gaussian, and air takes nothing of it away"
_IEC = "IEC 60825-14, distances of direct view; recomputed"

direct_distance = Formula(
    title="Distance at which a round beam has thinned to a limit",
    equation="r = (sqrt(4 * k * P / (pi * M)) - a) / phi",
    where={
        "r": ("distance", "m", "from the exit; below 0 where it is thin enough there", "signed"),
        "k": ("nonuniformity", "1", "peak over that of a smooth beam; 2.5 for unknown hot spots"),
        "P": _POWER,
        "M": _LIMIT,
        "a": _DIAMETER,
        "phi": _DIVERGENCE,
    },
    holds=("k >= 1; a smooth beam is the least that there is",),
    assumes=(_GAUSSIAN, "the beam widens in proportion to the distance from its exit"),
    source=_IEC,
    example=Example(
        {
            "nonuniformity": 1.5,
            "power": "4 W",
            "limit": "10 W/m^2",
            "diameter_63": "100 mm",
            "divergence_63": "0.7 mrad",
        },
        "1105.77 m",
        2e-5,
        "by hand: sqrt(24 / 31.41593) = 0.874039; less 0.1, over 0.0007: 1105.77",
    ),
)

elliptical_distance = Formula(
    title="Distance at which an elliptical beam has thinned to a limit",
    equation=(
        "r = (sqrt((a * phi_y - b * phi_x)**2 + 16 * k * P * phi_x * phi_y / (pi * M))"
        " - a * phi_y - b * phi_x) / (2 * phi_x * phi_y)"
    ),
    where={
        "r": ("distance", "m", "from the exit; below 0 where it is thin enough there", "signed"),
        "k": ("nonuniformity", "1", "peak over that of a smooth beam; 2.5 for unknown hot spots"),
        "P": _POWER,
        "M": _LIMIT,
        "a": ("diameter_63_x", "mm", "at 1/e of the peak, one way across", "zero"),
        "b": ("diameter_63_y", "mm", "at 1/e of the peak, the other way across", "zero"),
        "phi_x": ("divergence_63_x", "mrad", "full angle at 1/e of the peak, one way"),
        "phi_y": ("divergence_63_y", "mrad", "full angle at 1/e of the peak, the other way"),
    },
    holds=("k >= 1; a smooth beam is the least that there is",),
    assumes=(_GAUSSIAN, "each axis widens in proportion to the distance from the exit"),
    source="(a + r phi_x)(b + r phi_y) = 4 k P / (pi M), solved for r; IEC 60825-14 for a = b",
    example=Example(
        {
            "nonuniformity": 1.5,
            "power": "5 W",
            "limit": "25 W/m^2",
            "diameter_63_x": "20 mm",
            "diameter_63_y": "40 mm",
            "divergence_63_x": "2 mrad",
            "divergence_63_y": "8 mrad",
        },
        "147.030 m",
        2e-5,
        "by hand: (8e-5)**2 + 16 * 7.5 * 1.6e-5 / 78.53982 = 2.445260e-5, root 4.944957e-3; "
        "less 1.6e-4 and 8e-5: 4.704957e-3 over 3.2e-5 = 147.030; put back: 0.314060 * 1.216240"
        " = 0.381972 = 30 / 78.53982",
    ),
)

mean_irradiance = Formula(
    title="Irradiance of a power spread evenly over an aperture",
    equation="E = 4 * P / (pi * D**2)",
    where={
        "E": ("irradiance", "W/m^2", "averaged over the aperture"),
        "P": ("power", "W", "of light that passes the aperture"),
        "D": ("aperture", "mm", "its diameter: 7 mm for an eye at 400 to 1400 nm"),
    },
    assumes=("all of the power passes the aperture, the worst case for a narrow beam",),
    source="Definition; IEC 60825-1 for the apertures over which limits are averaged",
    example=Example(
        {"power": "1 mW", "aperture": "7 mm"},
        "25.984 W/m^2",
        3e-5,
        "by hand: 0.001 / (3.14159 / 4 * 49e-6) = 0.001 / 38.4845e-6 = 25.9845",
    ),
)

averaged_irradiance = Formula(
    title="Irradiance of a Gaussian beam, averaged over an aperture in its middle",
    equation="E = 4 * P * (1 - exp(-(D / d)**2)) / (pi * D**2)",
    where={
        "E": ("irradiance", "W/m^2", "averaged over the aperture"),
        "P": _POWER,
        "D": ("aperture", "mm", "its diameter: 7 mm for an eye at 400 to 1400 nm"),
        "d": ("diameter_63", "mm", "of the beam there, at 1/e of the peak"),
    },
    assumes=(_GAUSSIAN, "the aperture sits in the middle of the beam"),
    source="Integral of a Gaussian over a circle",
    example=Example(
        {"power": "1 W", "aperture": "7 mm", "diameter_63": "10 mm"},
        "10065.7 W/m^2",
        1e-5,
        "by hand: 1 - exp(-0.49) = 0.387374; over 38.4845e-6 = 10065.7",
        brackets={"aperture": ("1 mm", "30 mm")},
    ),
)

averaged_distance = Formula(
    title="Distance at which the mean over an aperture has thinned to a limit",
    equation="r = (D / sqrt(-log(1 - pi * D**2 * M / (4 * P))) - a) / phi",
    where={
        "r": ("distance", "m", "from the exit; below 0 where it is thin enough there", "signed"),
        "D": ("aperture", "mm", "its diameter: 7 mm for an eye at 400 to 1400 nm"),
        "M": _LIMIT,
        "P": _POWER,
        "a": _DIAMETER,
        "phi": _DIVERGENCE,
    },
    holds=("pi * D**2 * M < 4 * P; less power than that never exceeds the limit",),
    assumes=(_GAUSSIAN, "the beam widens in proportion to the distance from its exit"),
    source="The mean over an aperture, solved for the beam's width and that for the distance",
    example=Example(
        {
            "aperture": "7 mm",
            "limit": "25 W/m^2",
            "power": "10 mW",
            "diameter_63": "2 mm",
            "divergence_63": "1 mrad",
        },
        "20.0087 m",
        2e-5,
        "by hand: 38.48451e-6 * 25 / 0.01 = 0.09621127; -log(1 - that) = 0.1011597, root "
        "0.3180561; 7 / that = 22.00870, less 2",
        brackets={
            "aperture": ("1 mm", "15 mm"),
            "limit": ("1 W/m^2", "200 W/m^2"),
            "power": ("2 mW", "1 W"),
        },
    ),
)


def in_63(convention: Any) -> float:
    """Factor from the stated widths to those at 1/e of the peak.

    Narrower widths give longer distances in every function here, so without a convention the
    widths count as 1/e² ones.
    """
    if convention not in (None, *CONVENTIONS):
        told = " or ".join(f'"{each}"' for each in CONVENTIONS)
        raise ValueRefused(
            f"convention is {told}, or None for the longer distance; got {convention!r}."
        )
    return 1.0 if convention == "1/e" else float(np.sqrt(0.5))


@with_units(
    "Distance of direct view",
    returns="m",
    power="W",
    divergence="mrad",
    beam_diameter=("mm", "zero"),
    limit="W/m^2",
    divergence_y="mrad",
    beam_diameter_y=("mm", "zero"),
    nonuniformity="1",
)
def direct(
    *,
    power: Any,
    divergence: Any,
    beam_diameter: Any,
    limit: Any,
    convention: str | None = None,
    divergence_y: Any = None,
    beam_diameter_y: Any = None,
    nonuniformity: Any = 1,
) -> Any:
    """Distance up to which a beam that meets no lens exceeds a limit.

    Parameters
    ----------
    power : power, any shape
        Of light in the whole beam.
    divergence : angle, broadcast
        Full angle, one way across an elliptical beam.
    beam_diameter : length, broadcast
        At the exit, the same way; may be zero.
    limit : irradiance, broadcast
        Allowed for the exposure in question.
    convention : "1/e", "1/e^2" or None
        Where the widths were read; None takes the longer distance.
    divergence_y, beam_diameter_y : angle and length, broadcast, optional
        The other way across; what is left out is as the first.
    nonuniformity : number, optional
        At least 1; 2.5 for a beam with unknown hot spots.

    Returns
    -------
    Quantity
        m from the exit; 0 where the beam is thin enough there already.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does, and for an unknown convention.

    Examples
    --------
    >>> print(direct(power="1 W", divergence="1 mrad", beam_diameter="0 mm", limit="25.4 W/m^2",
    ...              convention="1/e"))
    223.9 m

    """
    part = in_63(convention)
    across = {"nonuniformity": nonuniformity, "power": Q(power, "W"), "limit": Q(limit, "W/m^2")}
    if divergence_y is None and beam_diameter_y is None:
        found = direct_distance(
            diameter_63=Q(part * beam_diameter, "m"),
            divergence_63=Q(part * divergence, "rad"),
            **across,
        )
    else:
        other = beam_diameter if beam_diameter_y is None else beam_diameter_y
        angle = divergence if divergence_y is None else divergence_y
        found = elliptical_distance(
            diameter_63_x=Q(part * beam_diameter, "m"),
            diameter_63_y=Q(part * other, "m"),
            divergence_63_x=Q(part * divergence, "rad"),
            divergence_63_y=Q(part * angle, "rad"),
            **across,
        )
    return np.maximum(found.magnitude, 0.0)


@with_units(
    "Distance of direct view, averaged over an aperture",
    returns="m",
    power="W",
    divergence="mrad",
    beam_diameter=("mm", "zero"),
    limit="W/m^2",
    aperture="mm",
)
def direct_averaged(
    *,
    power: Any,
    divergence: Any,
    beam_diameter: Any,
    limit: Any,
    aperture: Any,
    convention: str | None = None,
) -> Any:
    """Distance up to which a round beam exceeds a limit in the mean over an aperture.

    Parameters
    ----------
    power, divergence, beam_diameter, limit
        As for ``direct``.
    aperture : length, broadcast
        Diameter over which the limit is averaged: 7 mm for an eye at 400 to 1400 nm.
    convention : "1/e", "1/e^2" or None
        Where the widths were read; None takes the longer distance.

    Returns
    -------
    Quantity
        m from the exit, never longer than by the peak; 0 where all the power through the aperture
        stays within the limit.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does, and for an unknown convention.

    Examples
    --------
    >>> print(direct_averaged(power="10 mW", divergence="1 mrad", beam_diameter="2 mm",
    ...                       limit="25.4558 W/m^2", aperture="7 mm", convention="1/e"))
    19.8 m

    """
    part = in_63(convention)
    least = np.pi / 4 * np.square(aperture) * limit
    above = np.asarray(power) > least
    found = averaged_distance(
        aperture=Q(aperture, "m"),
        limit=Q(limit, "W/m^2"),
        power=Q(np.where(above, power, 2 * least), "W"),
        diameter_63=Q(part * beam_diameter, "m"),
        divergence_63=Q(part * divergence, "rad"),
    )
    return np.where(above, np.maximum(found.magnitude, 0.0), 0.0)
