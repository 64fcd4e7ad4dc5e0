"""Signals between controller, drivers, switches and laser: levels, resistors, filters, cables."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.units import Quantity

KINDS: Final = ("CMOS", "TTL")
LEVELS_SOURCE: Final = (
    "JESD8 and data sheets of logic: CMOS inputs switch at 30 and 70 % of their supply, inputs "
    "with TTL thresholds at 0.8 and 2.0 V; from memory, check your sheet"
)

level_margin = Formula(
    title="Margin of a high level",
    equation="M = U_o - U_h",
    where={
        "M": ("level_margin", "V", "above what the input needs; below zero it may not switch",
              "signed"),
        "U_o": ("output_voltage", "V", "that the output gives when high, loaded"),
        "U_h": ("high_threshold", "V", "from which the input counts as high"),
    },
    assumes=("both share one ground, whose own drop is small",),
    source="Definition",
    example=Example(
        {"output_voltage": "3.3 V", "high_threshold": "2.0 V"}, "1.3 V", 1e-12, "by hand"
    ),
)  # fmt: skip

input_current = Formula(
    title="Current through an optocoupler's input",
    equation="I = (U_o - U_f) / R",
    where={
        "I": ("current", "mA", "through its diode; most need 5 to 10 mA"),
        "U_o": ("output_voltage", "V", "that drives it"),
        "U_f": (
            "forward_voltage", "V", "of its diode", "positive", "1.2 V",
            "infrared diodes of optocouplers; from memory, an estimate",
        ),
        "R": ("series_resistance", "ohm", "in the driver's input, and any that you add"),
    },
    holds=("U_f < U_o; below its forward voltage no current flows",),
    assumes=("the output can give that much: many give 20 mA at most",),
    source="Ohm's law",
    example=Example(
        {"output_voltage": "3.3 V", "series_resistance": "270 ohm"},
        "7.77778 mA",
        1e-6,
        "by hand: 2.1 / 270",
    ),
)  # fmt: skip

pull_resistance = Formula(
    title="Largest resistor that pulls a line down, or up, in spite of leakage",
    equation="R = U_l / I_l",
    where={
        "R": ("pull_resistance", "kohm", "at most; a half of it leaves room for noise"),
        "U_l": ("low_threshold", "V", "below which the input still counts as low"),
        "I_l": ("leakage", "uA", "of the input, and of an output that is not yet driven"),
    },
    assumes=(
        "leakage is taken at the highest temperature of the sheet",
        "the output that drives the line can give U / R besides",
    ),
    source="Leakage times resistance stays below the threshold",
    example=Example(
        {"low_threshold": "0.8 V", "leakage": "10 uA"}, "80 kohm", 1e-12, "by hand: 0.8 / 1e-5"
    ),
)

filter_time = Formula(
    title="Time constant of a filter of one resistor and one capacitor",
    equation="tau = R * C",
    where={
        "tau": ("filter_time", "ms", "in which the voltage covers 63 % of its way"),
        "R": ("filter_resistance", "kohm", "in series, or that pulls the line"),
        "C": ("capacitance", "uF", "from the input to ground"),
    },
    assumes=("the input draws no current to speak of",),
    source="First-order filter",
    example=Example(
        {"filter_resistance": "4.7 kohm", "capacitance": "0.1 uF"},
        "0.47 ms",
        1e-12,
        "by hand: 4700 * 1e-7",
    ),
)

filter_delay = Formula(
    title="Delay of a switch behind a filter",
    equation="t = -tau * log(1 - s)",
    where={
        "t": ("delay", "ms", "from the switch to the input's threshold"),
        "tau": ("filter_time", "ms", "of the filter"),
        "s": ("threshold_share", "1", "of the way at which the input switches, such as 70 %"),
    },
    holds=("s < 1; a threshold at the end of the way is never reached",),
    assumes=("contacts bounce for less than this: small switches for 1 to 5 ms",),
    source="Charging of a capacitor through a resistor",
    example=Example(
        {"filter_time": "0.47 ms", "threshold_share": "70 %"},
        "0.565867 ms",
        2e-6,
        "by hand: -ln 0.3 = 1.203973; times 0.47",
    ),
)

noise_left = Formula(
    title="Part of a disturbance that a filter lets through",
    equation="g = 1 / sqrt(1 + (2 * pi * f * tau)**2)",
    where={
        "g": ("gain", "1", "of a sine of this frequency"),
        "f": ("frequency", "Hz", "of the disturbance; motor currents are chopped at 20 to 50 kHz"),
        "tau": ("filter_time", "ms", "of the filter"),
    },
    assumes=("the capacitor stands at the input, not at the switch",),
    source="First-order filter",
    example=Example(
        {"frequency": "1 kHz", "filter_time": "0.47 ms"},
        "0.320737 1",
        2e-5,
        "by hand: 2 pi * 0.47 = 2.953097, squared 8.720782; 1 / sqrt(9.720782) = 0.320737",
    ),
)

rise_time = Formula(
    title="Rise time of a signal at the end of a cable",
    equation="t = 2.2 * R * c * l",
    where={
        "t": ("rise_time", "us", "from 10 to 90 %"),
        "R": ("source_resistance", "ohm", "of what drives it; of an open collector its pull-up"),
        "c": ("cable_capacitance", "pF/m", "between the wires: 50 to 150 pF/m"),
        "l": ("length", "m", "of the cable"),
    },
    assumes=("the cable is much shorter than the wave, as it is on a bench",),
    source="Charging of a capacitor: ln 9 = 2.2 time constants",
    example=Example(
        {"source_resistance": "1000 ohm", "cable_capacitance": "100 pF/m", "length": "2 m"},
        "0.44 us",
        1e-12,
        "by hand: 2.2 * 1000 * 200e-12",
    ),
)


class Levels(NamedTuple):
    """Thresholds of a logic input."""

    low: Quantity
    high: Quantity


@words.with_units("Thresholds of a logic input", logic_voltage="V")
def input_levels(*, kind: str, logic_voltage: Any = "5 V") -> Levels:
    """Voltages below which a logic input counts as low, and from which it counts as high.

    Parameters
    ----------
    kind : str
        "CMOS" or "TTL".
    logic_voltage : voltage, any shape
        That feeds the input's chip.

    Returns
    -------
    Levels
        ``.low`` and ``.high``, in V; see ``LEVELS_SOURCE``.

    Raises
    ------
    ValueRefused
        The kind is none of the two.
    UnitError
        As a formula does.

    Examples
    --------
    >>> print(input_levels(kind="CMOS").high, input_levels(kind="TTL").high)
    3.5 V 2 V

    """
    if not isinstance(kind, str) or kind not in KINDS:
        raise ValueRefused(
            f"Thresholds of a logic input: kind is one of {', '.join(KINDS)}; got {kind!r}."
        )
    low, high = (
        (0.3 * logic_voltage, 0.7 * logic_voltage)
        if kind == "CMOS"
        else (0.8 + 0 * logic_voltage, 2.0 + 0 * logic_voltage)
    )
    volt = units.container("V")
    return Levels(words.result(low, volt), words.result(high, volt))
