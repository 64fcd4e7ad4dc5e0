"""Diodes and gas tubes: light, heat, cooling, duty and age."""

from __future__ import annotations

from typing import Any

import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.units import Quantity
from mathlib.words import Word, with_units

_LIGHT = ("optical_power", "W", "of light")
_CURRENT = ("current", "A", "through the diode")
_VOLTAGE = ("voltage", "V", "across the diode, or at the module's input")
_EFFICIENCY = ("efficiency", "1", "light over electrical power")

diode_efficiency = Formula(
    title="Light of a diode or module for each watt that it takes in",
    equation="eta = P / (I * U)",
    where={"eta": _EFFICIENCY, "P": _LIGHT, "I": _CURRENT, "U": _VOLTAGE},
    holds=("P <= I * U; more light than electrical power is a slip of units",),
    assumes=("current and voltage are those of the thing that is judged: diode, or whole module",),
    source="Definition",
    example=Example(
        {"optical_power": "1.6 W", "current": "1.2 A", "voltage": "4.8 V"},
        "0.277778 1",
        2e-6,
        "by hand: 1.6 / 5.76 = 0.277778",
    ),
)

diode_heat = Formula(
    title="Heat of a diode or module",
    equation="Q = I * U - P",
    where={
        "Q": ("heat", "W", "to be carried off"),
        "I": _CURRENT,
        "U": _VOLTAGE,
        "P": _LIGHT,
    },
    assumes=("what is no light becomes heat",),
    source="Conservation of energy",
    example=Example(
        {"current": "1.2 A", "voltage": "4.8 V", "optical_power": "1.6 W"},
        "4.16 W",
        1e-9,
        "by hand: 5.76 - 1.6 = 4.16",
    ),
)

junction_temperature = Formula(
    title="Temperature of the junction of a diode",
    equation="T = T_c + R * Q",
    where={
        "T": ("junction_temperature", "K", "of the junction"),
        "T_c": ("case_temperature", "K", "of the diode's case"),
        "R": ("thermal_resistance", "K/W", "from junction to case, 25 to 30 K/W for a small can"),
        "Q": ("heat", "W", "that the diode makes"),
    },
    assumes=("the current has been on for some seconds",),
    source="Definition of the thermal resistance; 25 to 30 K/W from a diode maker's note",
    example=Example(
        {"case_temperature": "310 K", "thermal_resistance": "25 K/W", "heat": "2 W"},
        "360 K",
        1e-9,
        "by hand: 310 + 50 = 360",
    ),
)

tube_heat = Formula(
    title="Heat that a gas tube gives to its coolant",
    equation="Q = P * (1 / eta - 1)",
    where={
        "Q": ("heat", "W", "to the coolant"),
        "P": _LIGHT,
        "eta": _EFFICIENCY,
    },
    holds=("eta < 1; some of it becomes heat",),
    assumes=(
        "the electrical power is that of the discharge; the supply warms itself besides",
        "10 to 15 % is usual and 20 % the most for a gas tube: from memory, an estimate",
    ),
    source="Conservation of energy",
    example=Example(
        {"optical_power": "80 W", "efficiency": "0.15 1"},
        "453.333 W",
        1e-6,
        "by hand: 80 / 0.15 - 80 = 533.333 - 80",
    ),
)

coolant_rise = Formula(
    title="Warming of a coolant on its way through",
    equation="dT = Q / (rho * c * V)",
    where={
        "dT": ("temperature_rise", "K", "from inlet to outlet, a difference"),
        "Q": ("heat", "W", "that it takes up"),
        "rho": (
            "mass_density",
            "kg/m^3",
            "of the coolant",
            "positive",
            "997 kg/m^3",
            "water at 25 degC, steam tables",
        ),
        "c": (
            "specific_heat",
            "J/(kg*K)",
            "of the coolant",
            "positive",
            "4181 J/(kg*K)",
            "water at 25 degC, steam tables",
        ),
        "V": ("flow", "L/min", "of the coolant"),
    },
    assumes=("no heat is lost on the way", "the tank is kept at its temperature by a chiller"),
    source="Conservation of energy",
    example=Example(
        {"heat": "453.3 W", "flow": "2 L/min"},
        "3.26236 K",
        1e-5,
        "by hand: 2 L/min is 3.33333e-5 m^3/s; 997 * 4181 * 3.33333e-5 = 138.949; 453.3 over it",
    ),
)

mean_power = Formula(
    title="Mean light of a source that is switched",
    equation="P_m = P * D",
    where={
        "P_m": ("mean_power", "W", "of light"),
        "P": _LIGHT,
        "D": ("duty", "1", "part of the time in which it is on"),
    },
    holds=("D <= 1; it is a part of the time",),
    assumes=(
        "each pulse has the whole power at once: a slow source, or a gas tube that has not "
        "struck yet, gives less",
    ),
    source="Definition",
    example=Example({"optical_power": "40 W", "duty": "0.5 1"}, "20 W", 1e-12, "by hand: 40 * 0.5"),
)

aged_power = Formula(
    title="Light of a source that has been used",
    equation="P = P_0 * (1 - (1 - s) * t / L)",
    where={
        "P": ("aged_power", "W", "of light at that age"),
        "P_0": _LIGHT,
        "s": (
            "end_share",
            "1",
            "of the first light that is left at the end of the stated life",
            "positive",
            "0.8 1",
            "an estimate: makers often call it worn at 80 %; look at what yours states",
        ),
        "t": ("age", "hour", "of light, not of the machine"),
        "L": ("life", "hour", "as the maker states it, at rated current and temperature"),
    },
    holds=("(1 - s) * t / L < 1; then no light is left",),
    assumes=(
        "it fades evenly; in truth it goes slowly at first and fast at the end",
        "more current or heat than rated shortens the life by far more than it adds light",
    ),
    source="Straight line between first light and end of life, an estimate",
    example=Example(
        {
            "optical_power": "5.5 W",
            "end_share": "0.8 1",
            "age": "2500 hour",
            "life": "10000 hour",
        },
        "5.225 W",
        1e-9,
        "by hand: 1 - 0.2 * 0.25 = 0.95; times 5.5",
    ),
)


@with_units("Light of a diode", returns="W", current=("A", "zero"), threshold="A", slope="W/A")
def diode_power(*, current: Any, threshold: Any, slope: Any) -> Any:
    """Light of a laser diode over its current: none up to the threshold, then a straight line.

    Parameters
    ----------
    current : current, any shape
        Through the diode.
    threshold : current, broadcast
        Above which it lases; it rises with temperature.
    slope : power per current, broadcast
        Light for each ampere above the threshold; it falls with temperature.

    Returns
    -------
    Quantity
        W of light. Near its rated current a hot diode gives less than this line.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(diode_power(current=["0.1 A", "1.2 A"], threshold="0.2 A", slope="1.6 W/A"))
    [0 1.6] W

    """
    return slope * np.maximum(np.asarray(current) - threshold, 0.0)


def measured_power(current: Any, currents: Any, powers: Any) -> Quantity:
    """Light at a current, read off a curve that was measured.

    For sources without a straight line, such as a gas tube: no printed curve was found to rely
    on, so measure yours at four or five currents.

    Parameters
    ----------
    current : current, any shape
        At which the light is wanted, within the measured range.
    currents, powers : current and power, shape (n,)
        The measured curve, currents rising.

    Returns
    -------
    Quantity
        W, straight between the measured points.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; the curve is none, or the current lies beside it.

    Examples
    --------
    >>> from mathlib.units import Q
    >>> print(measured_power("12 mA", Q([6, 10, 14, 18], "mA"), Q([12, 24, 32, 37], "W")))
    28 W

    """
    told = words.read_words(
        "Light off a measured curve",
        (
            Word("current", "mA", "through the source", "zero"),
            Word("currents", "mA", "of the curve", "zero"),
            Word("powers", "W", "of the curve", "zero"),
        ),
        {"current": current, "currents": currents, "powers": powers},
    )
    along, up = (np.atleast_1d(told[name]) for name in ("currents", "powers"))
    if along.ndim != 1 or along.shape != up.shape or along.size < 2 or np.any(np.diff(along) <= 0):
        raise ValueRefused(
            "Light off a measured curve: currents and powers are two lists of one length, "
            "currents rising."
        )
    if np.any(told["current"] < along[0]) or np.any(told["current"] > along[-1]):
        raise ValueRefused(
            f"Light off a measured curve: it runs from {1e3 * along[0]:.4g} to "
            f"{1e3 * along[-1]:.4g} mA, and is not drawn on beyond."
        )
    return words.result(np.interp(told["current"], along, up), units.container("W"))
