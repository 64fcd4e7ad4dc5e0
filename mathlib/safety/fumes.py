"""Smoke: what comes off a material, how much, and how long it stays.

What materials give off stands in ``products``, ducts and hoods in ``ducts``, nozzles in
``nozzles``. No concentration, flow or time here is
called enough: lists of limits are national, and mixtures add up.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np

from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.safety import wording
from mathlib.safety.products import Hazards as Hazards
from mathlib.safety.products import Product as Product
from mathlib.safety.products import hazards as hazards
from mathlib.safety.products import lists as lists
from mathlib.safety.products import product as product
from mathlib.units import Q, Quantity

#: Particles in the room still rose for this long after lids had been opened.
PARTICLES_RISE: Final = "20 min"
PARTICLES_SOURCE: Final = "Munoz et al. 2023, laser cutting of acrylic, as reported"

_FLOW = ("flow", "m^3/h", "of air, as measured in the duct and not as the fan's box promises")
_KERF = ("kerf", "mm", "width of the cut")
_THICKNESS = ("thickness", "mm", "of the sheet")
_DENSITY = ("mass_density", "kg/m^3", "of the material")
_ALL_AIRBORNE = "all that is removed becomes airborne: an upper bound"
_MIXED = "the air is perfectly mixed"

kerf_mass = Formula(
    title="Mass that a cut removes",
    equation="m = w * t * L * rho",
    where={
        "m": ("mass", "g", "that leaves the kerf"),
        "w": _KERF,
        "t": _THICKNESS,
        "L": ("length", "m", "of the cut"),
        "rho": _DENSITY,
    },
    assumes=(_ALL_AIRBORNE, "the kerf has one width through the sheet"),
    source="Geometry",
    example=Example(
        {"kerf": "0.2 mm", "thickness": "3 mm", "length": "1 m", "mass_density": "680 kg/m^3"},
        "0.408 g",
        1e-12,
        "by hand: 0.0002 * 0.003 * 1 * 680 = 0.000408 kg",
    ),
)

emission_bound = Formula(
    title="Most that a cut can send into the air",
    equation="G = w * t * v * rho",
    where={
        "G": ("emission", "mg/min", "of everything together"),
        "w": _KERF,
        "t": _THICKNESS,
        "v": ("speed", "mm/s", "of the cut"),
        "rho": _DENSITY,
    },
    assumes=(_ALL_AIRBORNE, "oxygen from the air, which adds mass to the gases, is left out"),
    source="Geometry",
    example=Example(
        {"kerf": "0.25 mm", "thickness": "3 mm", "speed": "5 mm/s", "mass_density": "680 kg/m^3"},
        "153 mg/min",
        1e-12,
        "by hand: 0.25 * 3 * 5 = 3.75 mm^3/s; times 0.68 mg/mm^3 times 60 s = 153 mg",
    ),
)

molar_share = Formula(
    title="Largest mass share of a product in what it comes from",
    equation="x = M_p / M_u",
    where={
        "x": ("mass_share", "1", "of the product in the mass of the material"),
        "M_p": ("product_molar_mass", "g/mol", "of the product"),
        "M_u": ("unit_molar_mass", "g/mol", "of the repeat unit that gives one molecule of it"),
    },
    holds=("M_p <= M_u; a unit cannot give more than it holds",),
    assumes=("each unit gives up one molecule; fillers and softeners lower the share",),
    source="Stoichiometry",
    example=Example(
        {"product_molar_mass": "36.461 g/mol", "unit_molar_mass": "62.498 g/mol"},
        "0.5834 1",
        2e-4,
        "by hand: 36.461 / 62.498, hydrogen chloride from PVC",
    ),
)

closed_room_concentration = Formula(
    title="Concentration in a closed room",
    equation="c = m / V",
    where={
        "c": ("concentration", "mg/m^3", "in the whole room"),
        "m": ("mass", "g", "that was given off"),
        "V": ("room_volume", "m^3", "of the room"),
    },
    assumes=(_MIXED + "; near the machine it is many times higher", "nothing leaves or settles"),
    source="Definition",
    example=Example(
        {"mass": "0.49 g", "room_volume": "30 m^3"}, "16.333 mg/m^3", 1e-4, "by hand: 490 / 30"
    ),
)

exhaust_concentration = Formula(
    title="Concentration in air that is drawn through",
    equation="c = G / Q",
    where={
        "c": ("concentration", "mg/m^3", "in the duct, or in a room that is aired so"),
        "G": ("emission", "mg/min", "into the air"),
        "Q": _FLOW,
    },
    assumes=(_MIXED, "emission and flow have been steady for several changes of the air"),
    source="Balance of mass, steady state",
    example=Example(
        {"emission": "15 mg/min", "flow": "300 m^3/h"}, "3 mg/m^3", 1e-12, "by hand: 15 / 5"
    ),
)

mass_concentration = Formula(
    title="Mass concentration of a gas from parts per million",
    equation="c = x * M / V_m",
    where={
        "c": ("concentration", "mg/m^3", "of the gas"),
        "x": ("volume_share", "ppm", "of the gas in the air"),
        "M": ("molar_mass", "g/mol", "of the gas"),
        "V_m": (
            "molar_volume",
            "L/mol",
            "of air",
            "positive",
            "24.45 L/mol",
            "at 25 degC and one atmosphere, as lists of limits print it; 24.04 at 20 degC",
        ),
    },
    assumes=("the gas is ideal",),
    source="Lists of limits, heading on units",
    example=Example(
        {"volume_share": "5 ppm", "molar_mass": "36.461 g/mol"},
        "7.456 mg/m^3",
        1e-4,
        "by hand: 5 * 36.461 / 24.45, hydrogen chloride",
    ),
)

extraction_flow = Formula(
    title="Flow that draws air inwards at all openings of an enclosure",
    equation="Q = A * v",
    where={
        "Q": _FLOW,
        "A": ("opening_area", "m^2", "of all openings together, slots of the lid included"),
        "v": ("inward_speed", "m/s", "in each opening; 0.5 m/s at least, see air_speed"),
    },
    assumes=("air goes in evenly; draughts, a fan that blows in and a hot plume need more",),
    source="Continuity; 0.5 m/s is the least that UK guidance on local exhaust asks",
    example=Example(
        {"opening_area": "0.03 m^2", "inward_speed": "0.5 m/s"},
        "54 m^3/h",
        1e-12,
        "by hand: 0.03 * 0.5 * 3600",
    ),
)

air_changes = Formula(
    title="Air changes in a time",
    equation="n = Q / V",
    where={
        "n": ("air_change_rate", "1/h", "how often the air is replaced"),
        "Q": _FLOW,
        "V": ("volume", "m^3", "of the enclosure or the room"),
    },
    assumes=(_MIXED,),
    source="Definition",
    example=Example(
        {"flow": "250 m^3/h", "volume": "0.135 m^3"}, "1851.85 1/h", 1e-5, "by hand: 250 / 0.135"
    ),
)

clearing_time = Formula(
    title="Time to clear an enclosure after the last cut",
    equation="t = K * V / Q * log(R)",
    where={
        "t": ("time", "s", "with the extraction on and the lid closed"),
        "K": (
            "mixing",
            "1",
            "how much longer it takes than with perfect mixing",
            "positive",
            "3 1",
            "2 to 4 are usual for enclosures, from memory, estimate",
        ),
        "V": ("volume", "m^3", "of the enclosure"),
        "Q": _FLOW,
        "R": ("ratio", "1", "of the concentration at the start to that at the end, such as 100"),
    },
    holds=("K >= 1; air cannot mix better than perfectly", "R > 1; it falls"),
    assumes=("nothing smoulders on and gives off more", "gases: particles stay longer"),
    source="Dilution of a mixed volume; industrial ventilation handbooks",
    example=Example(
        {"mixing": 3, "volume": "0.135 m^3", "flow": "250 m^3/h", "ratio": 100},
        "26.857 s",
        1e-4,
        "by hand: 3 * 0.135 / (250 / 3600) * 4.60517 = 5.832 * 4.60517",
    ),
)


class Wait(NamedTuple):
    """How long to wait: for gases, for particles, both together, and the sentence beside it."""

    gases: Quantity
    particles: Quantity
    least: Quantity
    sentence: str


def wait_before_opening(
    *, volume: Any, flow: Any, ratio: Any = "100 1", mixing: Any = "3 1"
) -> Wait:
    """Time to wait after the last cut, with the extraction on, before the lid is opened.

    Parameters
    ----------
    volume, flow, ratio, mixing
        As of ``clearing_time``; arrays broadcast.

    Returns
    -------
    Wait
        ``.gases`` is the clearing time, ``.particles`` how long particles were seen to rise after
        lids had been opened, ``.least`` the sum.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(wait_before_opening(volume="0.135 m^3", flow="250 m^3/h").least)
    20.45 min

    """
    gases = clearing_time(volume=volume, flow=flow, ratio=ratio, mixing=mixing)
    particles = Q(PARTICLES_RISE)
    sentence = (
        "Keep the extraction running and the lid closed for this long, then open it and stand "
        f"back: particles in the room still rose for {PARTICLES_RISE} after lids had been opened "
        f"({PARTICLES_SOURCE}). The time clears what the cut left, not what "
        f"glows on. {wording.SMOKE}"
    )
    return Wait(gases, particles, gases.to("min") + particles, sentence)


def share_of_limit(concentration: Quantity, of: Product) -> float:
    """Concentration over the lowest limit that is listed for it; above 1 it is exceeded.

    Parameters
    ----------
    concentration : Quantity
        By mass, such as from ``exhaust_concentration``.
    of : Product
        From ``product``.

    Returns
    -------
    float
        Of an array, for its largest element.

    Raises
    ------
    ValueRefused
        No list states a limit for it.

    Examples
    --------
    >>> round(share_of_limit(Q("16 mg/m^3"), product("hydrogen chloride")), 1)
    2.1

    """
    least = []
    for limit in (of.shift_limit, of.short_limit):
        if limit is not None and of.molar_mass is not None:
            found = mass_concentration(volume_share=limit.low, molar_mass=of.molar_mass)
            least.append(found.magnitude)
    if of.mass_limit is not None:
        least.append(of.mass_limit.low.to("mg/m^3").magnitude)
    if not least:
        raise ValueRefused(f"Fumes: no list here states a limit for {of.name}.")
    return float(np.max(concentration.to("mg/m^3").magnitude) / min(least))
