"""Air through the nozzle that blows smoke off the cut, below and at the speed of sound."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.units import Q
from mathlib.words import with_units

_GAMMA = ("heat_ratio", "1", "of the gas", "positive", "1.4 1", "air, two-atomic gases")
_R = (
    "gas_constant",
    "J/(kg*K)",
    "of the gas",
    "positive",
    "287.05 J/(kg*K)",
    "air: 8.3145 J/(mol*K) over 28.965 g/mol",
)
_NOZZLE: Final = {
    "Q": ("free_air", "L/min", "volume of what flows, at the room's pressure and temperature"),
    "C": (
        "discharge_coefficient",
        "1",
        "of the nozzle",
        "positive",
        "1 1",
        "the most there can be; drilled holes have 0.6 to 0.9",
    ),
    "d": ("nozzle_diameter", "mm", "of the narrowest place"),
    "p": ("supply_pressure", "bar", "absolute, before the nozzle"),
    "p_a": (
        "room_pressure",
        "kPa",
        "absolute, behind the nozzle",
        "positive",
        "101.325 kPa",
        "one atmosphere",
    ),
    "T": (
        "air_temperature",
        "K",
        "before the nozzle",
        "positive",
        "293 K",
        "a room",
    ),
    "T_a": (
        "room_temperature",
        "K",
        "at which free air is counted",
        "positive",
        "293 K",
        "a room; pumps are rated near it",
    ),
    "g": _GAMMA,
    "R": _R,
}
_CHOKES_AT: Final = ((1.4 + 1) / 2) ** (1.4 / (1.4 - 1))  # of the room's pressure, for air
_ISENTROPIC = "no heat and no friction up to the narrowest place; what is lost stands in C"

choked_air = Formula(
    title="Air through a nozzle in which it reaches the speed of sound",
    equation="Q = C * pi * d**2 / 4 * p / p_a * T_a * sqrt(g * R / T) "
    "* (2 / (g + 1))**((g + 1) / (2 * (g - 1)))",
    where=_NOZZLE,
    holds=(
        "p >= p_a * ((g + 1) / 2)**(g / (g - 1)); below about 0.9 bar over the room's pressure it "
        "is not choked",
    ),
    assumes=(_ISENTROPIC, "lips that open out do not change what flows"),
    source="Isentropic flow of an ideal gas, sonic throat",
    example=Example(
        {"discharge_coefficient": 0.8, "nozzle_diameter": "1.5 mm", "supply_pressure": "3 bar",
         "room_pressure": "101.325 kPa", "air_temperature": "293 K", "room_temperature": "293 K",
         "heat_ratio": 1.4, "gas_constant": "287.05 J/(kg*K)"},
        "49.87 L/min",
        2e-4,
        "by hand: sqrt(1.4 * 287.05 * 293) = 343.14 m/s; 1.2**-3 = 0.57870; 0.8 * 1.76715e-6 m^2 * "
        "2.96077 * 343.14 * 0.57870 = 8.3118e-4 m^3/s",
        brackets={"heat_ratio": ("1.2 1", "1.67 1")},
    ),
)  # fmt: skip

unchoked_air = Formula(
    title="Air through a nozzle below the speed of sound",
    equation="Q = C * pi * d**2 / 4 * p / p_a "
    "* T_a * sqrt(2 * g / (g - 1) * R / T * ((p_a / p)**(2 / g) - (p_a / p)**((g + 1) / g)))",
    where=_NOZZLE,
    holds=(
        "p < p_a * ((g + 1) / 2)**(g / (g - 1)); from about 0.9 bar over the room's pressure on it "
        "is choked",
        "p > p_a; air flows outwards",
    ),
    assumes=(_ISENTROPIC,),
    source="Isentropic flow of an ideal gas (Saint-Venant and Wantzel)",
    example=Example(
        {"discharge_coefficient": 0.8, "nozzle_diameter": "2 mm", "supply_pressure": "1.3 bar",
         "room_pressure": "101.325 kPa", "air_temperature": "293 K", "room_temperature": "293 K",
         "heat_ratio": 1.4, "gas_constant": "287.05 J/(kg*K)"},
        "32.571 L/min",
        5e-4,
        "by hand: x = 0.779423; x**(1/0.7) = 0.70047; x**(2.4/1.4) = 0.65233; 7 * 287.05 * 293 * "
        "0.04814 = 28342, root 168.35; 0.8 * 3.14159e-6 * 1.28300 * 168.35 = 5.4285e-4 m^3/s",
        brackets={"heat_ratio": ("1.2 1", "1.67 1"), "supply_pressure": ("1.2 bar", "1.5 bar"),
                  "room_pressure": ("85 kPa", "115 kPa")},
    ),
)  # fmt: skip


@with_units(
    "Air through a nozzle",
    returns="L/min",
    nozzle_diameter="mm",
    supply_pressure="bar",
    discharge_coefficient="1",
    room_pressure="kPa",
    air_temperature="K",
    room_temperature="K",
)
def nozzle_air(
    *,
    nozzle_diameter: Any,
    supply_pressure: Any,
    discharge_coefficient: Any = "1 1",
    room_pressure: Any = "101.325 kPa",
    air_temperature: Any = "293 K",
    room_temperature: Any = "293 K",
) -> Any:
    """Volume of free air through the nozzle of an air assist, choked or not.

    Parameters
    ----------
    nozzle_diameter : length, any shape
        Of the narrowest place.
    supply_pressure : pressure, broadcast
        Absolute, before the nozzle: a gauge shows one atmosphere less.
    discharge_coefficient : number, broadcast
        Of the nozzle; 1 is the most there can be.
    room_pressure : pressure, broadcast
        Absolute.
    air_temperature : temperature, broadcast
        Before the nozzle: air that a pump has warmed is thinner, and less of it flows.
    room_temperature : temperature, broadcast
        At which free air is counted, as pumps are rated.

    Returns
    -------
    Quantity
        In L/min at the room's pressure and temperature.

    Raises
    ------
    ValueRefused
        The supply is not above the room's pressure.
    UnitError
        As a formula does.

    Examples
    --------
    >>> print(nozzle_air(nozzle_diameter="1.5 mm", supply_pressure="2 bar"))
    41.56 l/min

    """
    if np.any(np.asarray(supply_pressure) <= np.asarray(room_pressure)):
        raise ValueRefused(
            "Air through a nozzle: supply_pressure is absolute and must lie above the room's; a "
            "gauge that shows 1 bar means about 2 bar."
        )
    given = {
        "nozzle_diameter": (nozzle_diameter, "m"),
        "supply_pressure": (supply_pressure, "Pa"),
        "discharge_coefficient": (discharge_coefficient, "1"),
        "room_pressure": (room_pressure, "Pa"),
        "air_temperature": (air_temperature, "K"),
        "room_temperature": (room_temperature, "K"),
    }
    every = np.broadcast_arrays(*(value for value, _ in given.values()))
    sound = every[1] >= _CHOKES_AT * every[3]
    flow = np.empty(sound.shape)
    for formula, here in ((choked_air, sound), (unchoked_air, ~sound)):
        if np.any(here):
            told = zip(given.items(), every, strict=True)
            inputs: dict[str, Any]
            inputs = {word: Q(value[here], unit) for (word, (_, unit)), value in told}
            flow[here] = formula(**inputs).to("m^3/s").magnitude
    return flow[()]
