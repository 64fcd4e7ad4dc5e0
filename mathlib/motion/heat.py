"""How warm a motor gets: power in its windings, hot resistance, rise and time, and its mount."""

from __future__ import annotations

from typing import Any, Final

from mathlib import tables
from mathlib.errors import NotUnique, ValueRefused
from mathlib.fields import optional, quantity, record, text
from mathlib.formula import Example, Formula
from mathlib.ranges import Range
from mathlib.units import Quantity

COPPER: Final = "IEC 60028, copper at 20 °C; from memory, check the page"
_COEFFICIENT: Final = (
    "temperature_coefficient", "1/K", "of copper's resistance", "positive", "0.00393 1/K", COPPER,
)  # fmt: skip
_RESISTANCE: Final = ("resistance", "ohm", "of one phase, at 20 °C as a nameplate states it")
_THERMAL: Final = ("thermal_resistance", "K/W", "from the windings to the air, in its mount")


@record
class Mount:
    """What holds the motors, and how warm they get in it."""

    material: str = text("a row of data/plastics.csv, or a metal in your words")
    rated_rise: Quantity = quantity(
        "delta_degC",
        "of the winding at rated current at rest, both phases on; 80 K is the limit on most sheets",
        default="80 delta_degC",
    )
    ambient: Quantity = quantity("degC", "air around the motors", default="30 degC")
    surface_share: Quantity = quantity(
        "1", "rise of the face over that of the winding", sign="share", default="90 %"
    )
    softens_at: Quantity | None = optional("degC", "of the mount; else the row's lowest")


winding_power = Formula(
    title="Heat in the windings of a two-phase motor",
    equation="P = 2 * I**2 * R",
    where={
        "P": ("power", "W", "in both phases together"),
        "I": ("current_rms", "A", "rms, each phase"),
        "R": ("resistance", "ohm", "of one phase, as warm as it is"),
    },
    assumes=(
        "sine and cosine currents, so that at any step both phases together give the same heat",
        "at speed, iron loss and switching come on top: they are not in this",
    ),
    source="Joule's law for both phases; a motor maker's manual prints it as 2 I² R",
    example=Example(
        {"current_rms": "1.0 A", "resistance": "5.0 ohm"}, "10 W", 1e-12, "by hand: 2 * 1 * 5"
    ),
)

rms_current = Formula(
    title="Rms current of a phase from its peak",
    equation="I = I_p / sqrt(2)",
    where={
        "I": ("current_rms", "A", "rms, each phase, while the motor turns"),
        "I_p": ("current_peak", "A", "amplitude, which one phase carries for good at some steps"),
    },
    assumes=("the current follows a sine, as it does with microsteps",),
    source="Mean square of a sine",
    example=Example({"current_peak": "1.5 A"}, "1.06066 A", 1e-5, "by hand: 1.5 / 1.414214"),
)

held_power = Formula(
    title="Heat at rest with the hold current reduced",
    equation="P_h = h**2 * P",
    where={
        "P_h": ("hold_power", "W", "in the windings, at the reduced current"),
        "h": ("hold_share", "1", "of the moving current that is left at rest"),
        "P": ("power", "W", "in the windings, at the moving current"),
    },
    assumes=("holding torque and magnetic stiffness fall by the share itself, not its square",),
    source="Heat goes with the square of the current",
    example=Example(
        {"hold_share": "50 %", "power": "8 W"},
        "2 W",
        1e-12,
        "by hand: 0.25 * 8; a table prints 25 % of the heat at 50 % of the current",
    ),
)

hot_resistance = Formula(
    title="Resistance of a warm copper winding",
    equation="R_h = R * (1 + a * dT)",
    where={
        "R_h": ("hot_resistance", "ohm", "of one phase, warm"),
        "R": _RESISTANCE,
        "a": _COEFFICIENT,
        "dT": ("temperature_change", "delta_degC", "above 20 °C", "signed"),
    },
    holds=("a * dT > -1; copper's resistance does not fall in proportion down to there",),
    assumes=("the winding is copper, and warm alike all through",),
    source="IEC 60028",
    example=Example(
        {"resistance": "5.0 ohm", "temperature_change": "80 delta_degC"},
        "6.572 ohm",
        1e-12,
        "by hand: 5 * (1 + 0.00393 * 80) = 5 * 1.3144",
    ),
)

steady_rise = Formula(
    title="Temperature rise of a winding that is fed a fixed current, after hours",
    equation="dT = R_th * P * (1 + a * dA) / (1 - a * R_th * P)",
    where={
        "dT": ("temperature_rise", "delta_degC", "of the winding above the air"),
        "R_th": _THERMAL,
        "P": ("power", "W", "that the windings would make at 20 °C"),
        "a": _COEFFICIENT,
        "dA": ("temperature_change", "delta_degC", "of the air above 20 °C", "signed"),
    },
    holds=(
        "a * R_th * P < 1; each kelvin makes more heat than it carries away, and the winding runs "
        "away: lower the current or cool the motor",
    ),
    assumes=(
        "the driver holds the current whatever the resistance",
        "heat flows to the air in proportion to the rise",
        "iron loss is left out: at speed the motor gets warmer",
    ),
    source="Heat balance R_th P (1 + a (dA + dT)) = dT, solved for the rise",
    example=Example(
        {
            "thermal_resistance": "5 K/W",
            "power": "10 W",
            "temperature_change": "10 delta_degC",
        },
        "64.674 delta_degC",
        2e-5,
        "by hand: 50 * 1.0393 = 51.965; 1 - 0.1965 = 0.8035; 51.965 / 0.8035 = 64.674",
    ),
)

warming = Formula(
    title="Temperature rise after a time",
    equation="dT = dT_e * (1 - exp(-t / tau))",
    where={
        "dT": ("temperature_rise", "delta_degC", "above where it began"),
        "dT_e": ("final_rise", "delta_degC", "that it tends to"),
        "t": ("time", "min", "since the current was switched on"),
        "tau": ("time_constant", "min", "about 20 min for motors of frame 17"),
    },
    assumes=("one body, warm alike all through; a winding leads its iron in the first minutes",),
    source="First-order heating",
    example=Example(
        {"final_rise": "80 delta_degC", "time": "22 min", "time_constant": "22 min"},
        "50.5696 delta_degC",
        1e-6,
        "by hand: 80 * (1 - 0.3678794) = 50.5696",
    ),
)

runaway_current = Formula(
    title="Current from which the temperature of a winding has no end",
    equation="I = 1 / sqrt(2 * a * R_th * R)",
    where={
        "I": ("current_rms", "A", "rms, each phase"),
        "a": _COEFFICIENT,
        "R_th": _THERMAL,
        "R": _RESISTANCE,
    },
    assumes=(
        "the driver holds the current; the enamel is gone long before that",
        "heat flows to the air in proportion to the rise",
    ),
    source="The rise at a fixed current has no end where a R_th 2 I² R = 1",
    example=Example(
        {"thermal_resistance": "6 K/W", "resistance": "5 ohm"},
        "2.05934 A",
        5e-6,
        "by hand: 2 * 0.00393 * 6 * 5 = 0.2358; its root 0.485592; 1 / 0.485592",
    ),
)

face_temperature = Formula(
    title="Temperature of a motor's face, where it meets its mount",
    equation="T = T_a + s * dT",
    where={
        "T": ("temperature", "K", "of the face"),
        "T_a": ("ambient", "K", "of the air around it"),
        "s": ("surface_share", "1", "rise of the face over that of the winding"),
        "dT": ("temperature_rise", "delta_degC", "of the winding above that air", "zero"),
    },
    assumes=("the mount carries little heat away; a metal plate makes the face cooler",),
    source="Definition of a rise; a data sheet's surface stays a little below its winding",
    example=Example(
        {"ambient": "303.15 K", "surface_share": 0.9, "temperature_rise": "40 delta_degC"},
        "339.15 K",
        1e-9,
        "by hand: 30 + 0.9 * 40 = 66 °C",
    ),
)

mechanical_power = Formula(
    title="Mechanical power along a belt",
    equation="P = F * v",
    where={
        "P": ("mechanical_power", "W", "that a motor gives to its belt", "zero"),
        "F": ("belt_force", "N", "along the belt", "zero"),
        "v": ("belt_speed", "mm/s", "of the belt", "zero"),
    },
    assumes=("force and speed point the same way; braking, the power flows back",),
    source="Definition of power",
    example=Example(
        {"belt_force": "12 N", "belt_speed": "150 mm/s"}, "1.8 W", 1e-12, "by hand: 12 * 0.15"
    ),
)


def thermal_resistance(*, rated_rise: Any, current_rms: Any, resistance: Any) -> Quantity:
    """Thermal resistance of a motor in its mount, from the rise that its sheet states.

    Parameters
    ----------
    rated_rise : temperature difference
        Of the winding above air of 20 °C at that current, both phases on, at rest.
    current_rms : current
        Rms, each phase, at which the rise is stated: the rated current.
    resistance : resistance
        Of one phase at 20 °C. Arrays broadcast.

    Returns
    -------
    Quantity
        K/W. A rise that is a limit ("at most 80 K") gives an upper bound.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(thermal_resistance(rated_rise="80 K", current_rms="1 A", resistance="5 ohm"))
    6.086 K/W

    """
    found: Quantity = steady_rise.solve(
        "thermal_resistance",
        temperature_rise=rated_rise,
        power=winding_power(current_rms=current_rms, resistance=resistance),
        temperature_change="0 delta_degC",
    )
    return found


def softening_of(material: str) -> Range | None:
    """Temperature at which a printed plastic softens, or None for what is in no row (a metal).

    Names and short names are compared without regard to case.

    Raises
    ------
    NotUnique
        Several rows fit the name.
    ValueRefused
        The material is no name.

    Examples
    --------
    >>> print(softening_of("PETG").low)
    65 °C

    """
    if not isinstance(material, str):
        raise ValueRefused(f"Softening: material is a name; got {type(material).__name__}.")
    asked = material.strip().lower()
    rows = tables.read("plastics").rows
    fits = [
        name
        for name in rows
        if asked and asked in (name.lower(), *name.lower().replace(")", "").split(" ("))
    ]
    if len(fits) > 1:
        raise NotUnique(f"{material!r} fits several rows of plastics.csv: {', '.join(fits)}.")
    if not fits:
        return None
    value = rows[fits[0]].values["softening"]
    if isinstance(value, Range):
        return value
    return Range(value, value, value, rows[fits[0]].source, rows[fits[0]].kind)
