"""A conductor: cross-section of a gauge, resistance, drop, temperature, and bending radius."""

from __future__ import annotations

from typing import Final

from mathlib.formula import Example, Formula
from mathlib.motion.heat import COPPER

_LENGTH: Final = ("length", "m", "one way; the current flows there and back")
_AREA: Final = ("area", "mm^2", "of the copper of one conductor")
_RESISTIVITY: Final = (
    "resistivity", "ohm*m", "of copper at 20 °C", "positive", "1.7241e-8 ohm*m", COPPER,
)  # fmt: skip
_WARM: Final = ("temperature_change", "delta_degC", "of the wire above 20 °C", "signed",
                "0 delta_degC", "20 °C unless told: 50 K more is 20 % more drop")  # fmt: skip
_COEFFICIENT: Final = (
    "temperature_coefficient", "1/K", "of copper's resistance", "positive", "0.00393 1/K", COPPER,
)  # fmt: skip

_INSULATION: Final = (
    "insulation_limit", "K", "that the insulation may have for good", "positive", "343.15 K",
    "70 °C for PVC, EN 60204-1",
)  # fmt: skip

awg = Formula(
    title="Cross-section of a wire of American gauge",
    equation="A = pi / 4 * d**2 * exp((36 - n) / 19.5 * log(92))",
    where={
        "A": _AREA,
        "d": (
            "finest_diameter", "mm", "of gauge 36", "positive", "0.127 mm",
            "ASTM B258: gauge 36 is 0.005 inch and 0000 is 0.46 inch, 39 equal ratios apart",
        ),
        "n": ("gauge", "1", "number of the gauge; 0 for 1/0, -1 for 2/0, -3 for 4/0", "signed"),
    },
    assumes=("solid round wire; strands are stated by their copper's cross-section",),
    source="ASTM B258: diameter 0.127 mm times 92 to the power (36 - n) / 39",
    example=Example(
        {"gauge": 20},
        "0.517619 mm^2",
        1e-5,
        "by hand: 92**(16/39) = 6.39229; 0.127 * 6.39229 = 0.811821 mm; pi / 4 * 0.811821**2; "
        "wire tables print 0.518",
    ),
)  # fmt: skip

wire_resistance = Formula(
    title="Resistance of a wire",
    equation="R = rho * l * (1 + a * dT) / A",
    where={
        "R": ("resistance", "ohm", "of one conductor over that length"),
        "rho": _RESISTIVITY,
        "l": ("length", "m", "of the conductor"),
        "a": _COEFFICIENT,
        "dT": _WARM,
        "A": _AREA,
    },
    holds=("a * dT > -1; copper's resistance does not fall in proportion down to there",),
    assumes=("copper; fine strands may have up to 13 % more than their stated area says",),
    source="Definition of resistivity; IEC 60028 for copper, IEC 60228 for strands",
    example=Example(
        {"length": "1000 m", "area": "0.823 mm^2", "temperature_change": "10 delta_degC"},
        "21.772 ohm",
        2e-5,
        "by hand: 1.7241e-8 * 1000 / 8.23e-7 = 20.9490; times 1.0393 = 21.7723",
    ),
)

voltage_drop = Formula(
    title="Voltage that a lead loses, there and back",
    equation="dU = 2 * l * I * rho * (1 + a * dT) / A",
    where={
        "dU": ("voltage_drop", "V", "between supply and load"),
        "l": _LENGTH,
        "I": ("current", "A", "through the lead"),
        "rho": _RESISTIVITY,
        "a": _COEFFICIENT,
        "dT": _WARM,
        "A": _AREA,
    },
    holds=("a * dT > -1; copper's resistance does not fall in proportion down to there",),
    assumes=(
        "both conductors have the same cross-section",
        "contacts are left out: each adds some milliohm when new",
    ),
    source="Ohm's law over twice the one-way length",
    example=Example(
        {
            "length": "1.5 m",
            "current": "4 A",
            "area": "0.75 mm^2",
            "temperature_change": "20 delta_degC",
        },
        "0.297538 V",
        2e-6,
        "by hand: 2 * 1.5 * 4 * 1.7241e-8 / 7.5e-7 = 0.275856; times 1.0786 = 0.297538",
    ),
)

wire_temperature = Formula(
    title="Temperature of a wire that carries a current",
    equation="T = T_a + (T_i - T_a) * (I / I_z)**2",
    where={
        "T": ("temperature", "K", "of the conductor"),
        "T_a": ("ambient", "K", "air around the bundle"),
        "T_i": _INSULATION,
        "I": ("current", "A", "through it, for long"),
        "I_z": ("ampacity", "A", "that it may carry there, bundle and air counted"),
    },
    holds=("T_a < T_i; no current is left in air as warm as the insulation may get",),
    assumes=("heat goes with the square of the current", "for long: at first it is cooler"),
    source="Definition of ampacity: the current that brings the wire to its insulation's limit",
    example=Example(
        {"ambient": "303.15 K", "current": "4 A", "ampacity": "8 A"},
        "313.15 K",
        1e-9,
        "by hand: 30 + (70 - 30) / 4 = 40 °C",
    ),
)  # fmt: skip

ambient_factor = Formula(
    title="Ampacity in warmer or cooler air, over that of the table",
    equation="k = sqrt((T_i - T_a) / (T_i - T_t))",
    where={
        "k": ("ambient_factor", "1", "by which the table's ampacity is multiplied"),
        "T_i": _INSULATION,
        "T_a": ("ambient", "K", "air around the wire or bundle"),
        "T_t": (
            "table_ambient", "K", "air for which the table holds", "positive", "313.15 K",
            "40 °C, EN 60204-1 table 6",
        ),
    },
    holds=(
        "T_a < T_i; in air of 70 °C or more PVC has no current left: take insulation for heat, "
        "and its own table",
    ),
    assumes=("heat flows to the air in proportion to the rise", "heat goes with current squared"),
    source="EN 60204-1 table D.1 prints 1.15 at 30 °C, 0.82 at 50 °C; from memory, check the page",
    example=Example(
        {"ambient": "273.15 K", "insulation_limit": "453.15 K"},
        "1.133893 1",
        1e-6,
        "by hand, silicone of 180 °C in air of 0 °C: sqrt(180 / 140) = sqrt(1.285714)",
    ),
)  # fmt: skip

bend_radius = Formula(
    title="Least bending radius of a cable in a chain",
    equation="r = k * d",
    where={
        "r": ("bend_radius", "mm", "inside the bend"),
        "k": (
            "bend_factor",
            "1",
            "of the cable's sheet",
            "positive",
            "10 1",
            "7.5 to 15 for cables rated for chains; from memory, an estimate: read the sheet",
        ),
        "d": ("cable_diameter", "mm", "outside"),
    },
    assumes=("the cable is of a kind rated for chains: others break within weeks",),
    source="Sheets of cables for moving use state a multiple of the diameter",
    example=Example({"cable_diameter": "6 mm"}, "60 mm", 1e-12, "by hand: 10 * 6"),
)
