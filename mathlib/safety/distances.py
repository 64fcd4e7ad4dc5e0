"""How far light above a limit reaches: the beam itself, behind its lens, mirrored, scattered.

A distance holds for one limit, which holds for one time of exposure; nobody should stare into a
beam from beyond it, and telescopes gather more light than eyes. Widths are converted as in
``spreading``, which has the distances of a beam that meets no lens.
"""

from __future__ import annotations

from typing import Any

from mathlib.formula import Example, Formula
from mathlib.safety.spreading import CONVENTIONS as CONVENTIONS
from mathlib.safety.spreading import averaged_distance as averaged_distance
from mathlib.safety.spreading import averaged_irradiance as averaged_irradiance
from mathlib.safety.spreading import direct as direct
from mathlib.safety.spreading import direct_averaged as direct_averaged
from mathlib.safety.spreading import direct_distance as direct_distance
from mathlib.safety.spreading import elliptical_distance as elliptical_distance
from mathlib.safety.spreading import in_63
from mathlib.safety.spreading import mean_irradiance as mean_irradiance
from mathlib.units import Q
from mathlib.words import with_units

_POWER = ("power", "W", "of light in the whole beam")
_LIMIT = ("limit", "W/m^2", "irradiance that is allowed for the exposure in question")
_REFLECTANCE = ("reflectance", "1", "part of the light that comes back")
_GAUSSIAN = "the beam is Gaussian, and air takes nothing of it away"

lens_distance = Formula(
    title="Distance beyond a focus at which the light has thinned to a limit",
    equation="r = f / b * sqrt(4 * rho * P / (pi * M))",
    where={
        "r": ("distance", "m", "from the focus, along the beam or along its reflection"),
        "f": ("focal_length", "mm", "of the lens"),
        "b": ("diameter_63", "mm", "of the beam at the lens, at 1/e of the peak"),
        "rho": ("reflectance", "1", "of what mirrors the beam; 1 for any bright metal"),
        "P": _POWER,
        "M": _LIMIT,
    },
    holds=("rho <= 1; nothing sends back more light than it gets",),
    assumes=(
        "the lens is in place and nothing makes the beam parallel again, as a hollow mirror does",
        "what mirrors the beam is flat",
        _GAUSSIAN,
    ),
    source="IEC 60825-14, beam behind a lens; recomputed",
    example=Example(
        {
            "focal_length": "50.8 mm",
            "diameter_63": "5 mm",
            "reflectance": "0.95 1",
            "power": "100 W",
            "limit": "1000 W/m^2",
        },
        "3.53354 m",
        2e-6,
        "by hand: sqrt(380 / 3141.593) = 0.347790; times 10.16",
    ),
)

fibre_distance = Formula(
    title="Distance from the end of a fibre at which the light has thinned to a limit",
    equation="r = 1.7 / (2 * NA) * sqrt(4 * P / (pi * M))",
    where={
        "r": ("distance", "m", "from the bare end, pulled out or broken"),
        "NA": ("numerical_aperture", "1", "of the fibre, read where 5 % of the peak is left"),
        "P": _POWER,
        "M": _LIMIT,
    },
    holds=("NA <= 1; no cone in air is wider",),
    assumes=(
        "the light fills the fibre's cone: launched narrowly it leaves narrowly, and reaches far",
        _GAUSSIAN,
    ),
    source="IEC 60825-14, end of a fibre; the width is that of fibre_beam_diameter",
    example=Example(
        {"numerical_aperture": 0.22, "power": "25 W", "limit": "1 W/m^2"},
        "21.7982 m",
        2e-5,
        "by hand: sqrt(100 / 3.141593) = 5.641896; times 1.7 / 0.44 = 3.863636: 21.79824",
    ),
)

scattered = Formula(
    title="Irradiance of light scattered by a matt surface",
    equation="E = rho * P * cos(theta) / (pi * r**2)",
    where={
        "E": ("irradiance", "W/m^2", "at the eye"),
        "rho": _REFLECTANCE,
        "P": ("power", "W", "of light that falls on the surface"),
        "theta": ("angle", "deg", "between the surface's normal and the line of sight", "zero"),
        "r": ("distance", "m", "from the spot to the eye"),
    },
    holds=(
        "rho <= 1; nothing sends back more light than it gets",
        "cos(theta) >= 0; behind the surface there is no light of it",
    ),
    assumes=(
        "the surface is matt: it looks equally bright from everywhere (Lambert)",
        "the spot is small beside the distance; no credit is taken for its width",
    ),
    source="Lambert's law; IEC 60825-14, diffuse reflection",
    example=Example(
        {"reflectance": "0.5 1", "power": "10 W", "angle": "60 deg", "distance": "0.5 m"},
        "3.1831 W/m^2",
        1e-5,
        "by hand: 0.5 * 10 * 0.5 / (3.14159 * 0.25) = 2.5 / 0.785398 = 3.1831",
        brackets={"angle": ("0 deg", "90 deg")},
    ),
)

diffuse = Formula(
    title="Distance at which light scattered by a matt surface has thinned to a limit",
    equation="r = sqrt(rho * P * cos(theta) / (pi * M))",
    where={
        "r": ("distance", "m", "from the spot to the eye", "zero"),
        "rho": _REFLECTANCE,
        "P": ("power", "W", "of light that falls on the surface"),
        "theta": ("angle", "deg", "between the surface's normal and the line of sight", "zero"),
        "M": _LIMIT,
    },
    holds=(
        "rho <= 1; nothing sends back more light than it gets",
        "cos(theta) >= 0; behind the surface there is no light of it",
    ),
    assumes=(
        "the surface is matt: it looks equally bright from everywhere (Lambert)",
        "the limit is that of a small source; no credit is taken for the spot's width",
    ),
    source="Lambert's law; IEC 60825-14, diffuse reflection",
    example=Example(
        {"reflectance": "0.9 1", "power": "5 W", "angle": "30 deg", "limit": "1 W/m^2"},
        "1.11378 m",
        1e-5,
        "by hand: 0.9 * 5 * 0.866025 / 3.14159 = 1.240493; its root is 1.113774",
        brackets={"angle": ("0 deg", "90 deg")},
    ),
)

optics_gain = Formula(
    title="How much more light a telescope sends into an eye",
    equation="G = tau * (D_o / D_p)**2",
    where={
        "G": ("gain", "1", "irradiance at the eye with the telescope over that without"),
        "tau": ("transmission", "1", "of the telescope", "positive", "1 1", "the worst case"),
        "D_o": ("objective", "mm", "diameter of the lens that gathers the light"),
        "D_p": ("pupil", "mm", "of the eye", "positive", "7 mm", "IEC 60825-1, eye in the dark"),
    },
    holds=("tau <= 1; a telescope adds no light",),
    assumes=(
        "the beam is wider than the objective, and all that enters it enters the eye",
        "the glass passes the wavelength: 302.5 to 4000 nm at most",
    ),
    source="Ratio of areas; IEC 60825-1 tests with an objective of 50 mm",
    example=Example(
        {"transmission": "0.9 1", "objective": "50 mm", "pupil": "7 mm"},
        "45.918 1",
        2e-5,
        "by hand: 2500 / 49 = 51.02041; times 0.9",
    ),
)


@with_units(
    "Distance behind a lens",
    returns="m",
    power="W",
    focal_length="mm",
    beam_diameter="mm",
    limit="W/m^2",
    reflectance="1",
)
def after_lens(
    *,
    power: Any,
    focal_length: Any,
    beam_diameter: Any,
    limit: Any,
    convention: str | None = None,
    reflectance: Any = 1,
) -> Any:
    """Distance from the focus up to which light behind a lens exceeds a limit.

    It holds while the lens sits where it belongs. With the lens off, or turned until the beam is
    parallel, the distance is that of ``direct``, often a hundred times as far: tell both.

    Parameters
    ----------
    power : power, any shape
        Of light in the whole beam.
    focal_length : length, broadcast
        Of the lens.
    beam_diameter : length, broadcast
        At the lens.
    limit : irradiance, broadcast
        Allowed for the exposure in question.
    convention : "1/e", "1/e^2" or None
        Where the diameter was read; None takes the longer distance.
    reflectance : number, broadcast, optional
        Of a flat thing below the focus that mirrors the beam; 1 for any bright metal. The
        distance is then counted along the reflected path, at whatever angle.

    Returns
    -------
    Quantity
        m from the focus.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does, and for an unknown convention.

    Examples
    --------
    >>> print(after_lens(power="5 W", focal_length="20 mm", beam_diameter="4 mm",
    ...                  limit="1 W/m^2", convention="1/e"))
    12.62 m

    """
    found = lens_distance(
        focal_length=Q(focal_length, "m"),
        diameter_63=Q(in_63(convention) * beam_diameter, "m"),
        reflectance=reflectance,
        power=Q(power, "W"),
        limit=Q(limit, "W/m^2"),
    )
    return found.magnitude
