"""Air that carries smoke away: hoods, ducts and fans."""

from __future__ import annotations

import difflib

from mathlib import tables
from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.ranges import Range
from mathlib.units import Quantity

_FLOW = ("flow", "m^3/h", "of air in the duct")
_DIAMETER = ("duct_diameter", "mm", "inside")
_SPEED = ("duct_speed", "m/s", "mean over the duct")
_DUCT = ("duct_length", "m", "straight parts together")
_FRICTION = ("friction_factor", "1", "of Darcy, about 0.02 in smooth duct, 0.05 and more in a hose")
_LOSSES = ("loss_coefficient", "1", "of all bends, entry and outlet together", "zero")
_AIR = (
    "air_density",
    "kg/m^3",
    "of the air in the duct",
    "positive",
    "1.2 kg/m^3",
    "air at 20 degC and one atmosphere, 1.204",
)
_TURBULENT = "the flow is turbulent, as it is above some 1 m/s in any duct of a workshop"

duct_speed = Formula(
    title="Speed of air in a round duct",
    equation="v = 4 * Q / (pi * d**2)",
    where={"v": _SPEED, "Q": _FLOW, "d": _DIAMETER},
    assumes=("the flow is the one that is left with this duct on the fan",),
    source="Continuity",
    example=Example(
        {"flow": "300 m^3/h", "duct_diameter": "100 mm"},
        "10.61 m/s",
        2e-4,
        "by hand: 300 / 3600 = 0.083333 m^3/s over 0.0078540 m^2",
    ),
)

velocity_pressure = Formula(
    title="Pressure that stands for the speed of air",
    equation="p = rho * v**2 / 2",
    where={"p": ("pressure", "Pa", "of the moving air"), "rho": _AIR, "v": _SPEED},
    assumes=("slow beside sound",),
    source="Bernoulli",
    example=Example(
        {"air_density": "1.2 kg/m^3", "duct_speed": "10 m/s"}, "60 Pa", 1e-12, "by hand"
    ),
)

duct_pressure = Formula(
    title="Pressure that a duct takes",
    equation="p = (f * L / d + K) * rho * v**2 / 2",
    where={
        "p": ("pressure", "Pa", "that the fan must give at this speed"),
        "f": _FRICTION,
        "L": _DUCT,
        "d": _DIAMETER,
        "K": _LOSSES,
        "rho": _AIR,
        "v": _SPEED,
    },
    assumes=(_TURBULENT, "clean: soot and a filter come on top"),
    source="Darcy and Weisbach",
    example=Example(
        {
            "friction_factor": 0.02,
            "duct_length": "9 m",
            "duct_diameter": "100 mm",
            "loss_coefficient": 3.3,
            "air_density": "1.2 kg/m^3",
            "duct_speed": "10 m/s",
        },
        "306 Pa",
        1e-12,
        "by hand: (0.02 * 90 + 3.3) * 60 = 5.1 * 60",
    ),
)

equivalent_length = Formula(
    title="Straight duct that takes as much pressure as bends",
    equation="L_e = K * d / f",
    where={
        "L_e": ("equivalent_length", "m", "of straight duct", "zero"),
        "K": _LOSSES,
        "d": _DIAMETER,
        "f": _FRICTION,
    },
    assumes=(_TURBULENT,),
    source="Darcy and Weisbach, both losses set equal",
    example=Example(
        {"loss_coefficient": 1.2, "duct_diameter": "100 mm", "friction_factor": 0.02},
        "6 m",
        1e-12,
        "by hand: 1.2 * 0.1 / 0.02, one sharp elbow",
    ),
)

friction_factor = Formula(
    title="Friction factor of a duct",
    equation="f = (1.8 / log(10) * log((k / (3.7 * d))**1.11 + 6.9 * nu / (v * d)))**-2",
    where={
        "f": _FRICTION,
        "k": ("roughness", "mm", "of the duct's wall, see part"),
        "d": _DIAMETER,
        "nu": (
            "air_viscosity",
            "mm^2/s",
            "kinematic",
            "positive",
            "15.1 mm^2/s",
            "air at 20 degC and one atmosphere",
        ),
        "v": _SPEED,
    },
    holds=("v * d > 4000 * nu; the flow is turbulent",),
    assumes=("within some 2 % of the implicit formula of Colebrook",),
    source="Haaland, J. Fluids Eng. 105, 89 (1983)",
    example=Example(
        {
            "roughness": "0.2 mm",
            "duct_diameter": "100 mm",
            "air_viscosity": "15.1 mm^2/s",
            "duct_speed": "10 m/s",
        },
        "0.025664 1",
        1e-4,
        "by hand: (0.2 / 370)**1.11 = 2.3628e-4; 6.9 / 66225 = 1.0419e-4; lg 3.4047e-4 = -3.46792; "
        "1 / (1.8 * 3.46792)**2 = 1 / 6.24226**2",
        brackets={"roughness": ("0.05 mm", "1 mm"), "duct_diameter": ("60 mm", "200 mm")},
    ),
)

flow_left = Formula(
    title="Flow that a fan has left on a duct",
    equation="Q = Q_0 * (sqrt(s**2 + 4 * s) - s) / 2",
    where={
        "Q": _FLOW,
        "Q_0": ("free_flow", "m^3/h", "that the fan moves with nothing on it"),
        "s": (
            "fan_strength",
            "1",
            "fan's pressure at closed duct over the duct's pressure at free flow",
        ),
    },
    assumes=(
        "the fan's pressure falls in a straight line from closed to free; measured curves differ",
        "the duct takes pressure with the square of the flow",
    ),
    source="Where both lines meet: p_0 (1 - q) = p_d q**2, q = Q / Q_0, s = p_0 / p_d",
    example=Example(
        {"free_flow": "850 m^3/h", "fan_strength": 0.5},
        "425 m^3/h",
        1e-12,
        "by hand: sqrt(0.25 + 2) = 1.5; (1.5 - 0.5) / 2 = half of it; at half flow the fan gives "
        "half its pressure, 0.25 of the duct's at free flow, which is what the duct takes there",
    ),
)

_CAPTURE = ("capture_speed", "m/s", "of the air where the smoke rises, see air_speed")
_DISTANCE = ("distance", "mm", "from the opening to the smoke, straight out")
_AREA = ("opening_area", "m^2", "of the hood or pipe")
_NEAR = "within about 1.5 diameters of the opening; farther out no pipe draws smoke"

hood_flow = Formula(
    title="Flow that captures smoke in front of an open pipe",
    equation="Q = v * (10 * x**2 + A)",
    where={"Q": _FLOW, "v": _CAPTURE, "x": _DISTANCE, "A": _AREA},
    assumes=(_NEAR, "the room's air is still"),
    source="Dalla Valle, as ACGIH prints it",
    example=Example(
        {"capture_speed": "0.5 m/s", "distance": "100 mm", "opening_area": "0.01 m^2"},
        "198 m^3/h",
        1e-12,
        "by hand: 0.5 * (0.1 + 0.01) = 0.055 m^3/s",
    ),
)

flanged_hood_flow = Formula(
    title="Flow that captures smoke in front of a pipe with a flange",
    equation="Q = 3 / 4 * v * (10 * x**2 + A)",
    where={"Q": _FLOW, "v": _CAPTURE, "x": _DISTANCE, "A": _AREA},
    assumes=(_NEAR, "the flange is as wide as the opening, all around", "the room's air is still"),
    source="Dalla Valle, as ACGIH prints it",
    example=Example(
        {"capture_speed": "0.5 m/s", "distance": "100 mm", "opening_area": "0.01 m^2"},
        "148.5 m^3/h",
        1e-12,
        "by hand: three quarters of 198",
    ),
)


def air_speed(purpose: str) -> Range:
    """Speed of air for a purpose: capture, the openings of an enclosure, transport in a duct.

    Parameters
    ----------
    purpose : str
        Such as "duct, smoke", "openings of an enclosure" or "capture, into still air".

    Returns
    -------
    Range
        In m/s.

    Raises
    ------
    ValueRefused
        No row has this purpose; the message lists those that there are.

    Examples
    --------
    >>> print(air_speed("duct, smoke").low)
    10 m/s

    """
    return _range(purpose, "speed")


def loss_of(part: str) -> Range:
    """Loss coefficient of a bend, an entry or an outlet of a duct.

    Parameters
    ----------
    part : str
        Such as "bend, 90 deg, sharp elbow".

    Returns
    -------
    Range
        A plain number of velocity pressures.

    Raises
    ------
    ValueRefused
        There is no such part; the message lists those that there are.

    Examples
    --------
    >>> print(loss_of("bend, 90 deg, sharp elbow").typical)
    1.2

    """
    return _range(part, "loss_coefficient")


def roughness_of(duct: str) -> Range:
    """Roughness of a kind of duct.

    Parameters
    ----------
    duct : str
        "duct, smooth sheet metal" or "duct, flexible hose, stretched".

    Returns
    -------
    Range
        In mm.

    Raises
    ------
    ValueRefused
        There is no such duct; the message lists those that there are.

    Examples
    --------
    >>> print(roughness_of("duct, smooth sheet metal").typical)
    0.09 mm

    """
    return _range(duct, "roughness")


def _range(name: str, word: str) -> Range:
    rows = {n: r for n, r in tables.read("ventilation").rows.items() if word in r.values}
    if name not in rows:
        close = difflib.get_close_matches(str(name), rows)
        hint = f" Did you mean {close[0]!r}?" if close else ""
        raise ValueRefused(f"Ventilation: there is no {name!r} among {', '.join(rows)}.{hint}")
    value: Range | Quantity = rows[name].values[word]
    return value if isinstance(value, Range) else Range(value, value, value, rows[name].source)
