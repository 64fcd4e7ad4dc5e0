"""The supply: what it must give for long and at its peak, its voltage, and what flows back."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.motion.pull_out import check_motor, torque_constant
from mathlib.units import Quantity

#: Supply voltage over the coil's nominal voltage: lowest, from and to what is good, highest.
VOLTAGE_RULE: Final = (2.0, 4.0, 22.0, 25.0)
VOLTAGE_RULE_SOURCE: Final = (
    "a motor maker's manual (QSH4218, table 6.2): 2 times the nominal coil voltage at least, 4 to "
    "22 times is good, never above 25 times"
)
#: Continuous load that a supply should see, as a share of what its label says at that ambient.
LOADING: Final = 0.8
DERATING_SOURCE: Final = (
    "80 % and full power up to 40 °C, then 2.5 % less for each kelvin: usual for enclosed supplies "
    "that cool by convection; from memory, an estimate: read your sheet's curve"
)
_DERATED_FROM: Final = 313.15  # K
_LOST: Final = 0.025  # of the label's power, for each kelvin above
_NO_MORE: Final = 343.15  # K; no usual supply is allowed to run in warmer air

_VOLTAGE: Final = ("supply_voltage", "V", "of the bus")
_CAPACITANCE: Final = ("capacitance", "uF", "on the bus, the drivers' and the supply's")

supply_current = Formula(
    title="Current that a load draws from the supply",
    equation="I = P / (eta * U)",
    where={
        "I": ("current", "A", "mean, from the supply"),
        "P": ("power", "W", "that the load uses"),
        "eta": ("efficiency", "1", "of the driver or converter in between"),
        "U": _VOLTAGE,
    },
    assumes=("the driver switches: phase currents circulate and do not add up at the supply",),
    source="Conservation of energy",
    example=Example(
        {"power": "10 W", "efficiency": "90 %", "supply_voltage": "24 V"},
        "0.462963 A",
        1e-6,
        "by hand: 10 / (0.9 * 24)",
    ),
)

efficiency = Formula(
    title="Efficiency",
    equation="eta = P_o / P",
    where={
        "eta": ("efficiency", "1", "part of the input that is put to use"),
        "P_o": ("useful_power", "W", "that comes out: light, motion, or current at a voltage"),
        "P": ("power", "W", "that goes in"),
    },
    holds=("P_o <= P; more than goes in cannot come out, so one of the two is a label's claim",),
    assumes=("both are means over the same time",),
    source="Definition",
    example=Example(
        {"useful_power": "5.5 W", "power": "48 W"}, "0.114583 1", 5e-6, "by hand: 5.5 / 48"
    ),
)

rated_power = Formula(
    title="Power that a supply's label must state",
    equation="P_s = P / (q * k)",
    where={
        "P_s": ("supply_power", "W", "on the label"),
        "P": ("power", "W", "mean, of all that it feeds, losses of converters included"),
        "q": ("loading", "1", "that is allowed for long, such as 80 %"),
        "k": ("derating", "1", "of the label's power that is left in air this warm"),
    },
    holds=("q <= 1; a supply is not loaded beyond its label for long", "k <= 1; it only loses"),
    assumes=("powers are real ones, not supply voltage times the sum of phase currents",),
    source="Usual practice: a supply that is loaded to its label runs hot and ages fast",
    example=Example(
        {"power": "70 W", "loading": "80 %", "derating": "90 %"},
        "97.222 W",
        1e-5,
        "by hand: 70 / 0.72",
    ),
)

moving_energy = Formula(
    title="Energy of motion",
    equation="E = m * v**2 / 2",
    where={
        "E": ("energy", "J", "that braking must put somewhere"),
        "m": ("mass", "kg", "of all that moves, rotors as felt at the belt included"),
        "v": ("speed", "mm/s", "before braking"),
    },
    assumes=("all of it moves at that speed",),
    source="Definition",
    example=Example({"mass": "2 kg", "speed": "0.5 m/s"}, "0.25 J", 1e-12, "by hand: 2 * 0.25 / 2"),
)

bus_voltage = Formula(
    title="Bus voltage after energy has flowed back",
    equation="U_b = sqrt(U**2 + 2 * b * E / C)",
    where={
        "U_b": ("bus_voltage", "V", "across the capacitors"),
        "U": _VOLTAGE,
        "b": ("returned_share", "1", "of the energy that comes back; the windings keep the rest"),
        "E": ("energy", "J", "of motion before braking"),
        "C": _CAPACITANCE,
    },
    holds=("b <= 1; no more than all can come back",),
    assumes=(
        "the supply takes nothing back, as most do not",
        "nothing else draws from the bus meanwhile",
    ),
    source="Energy of a capacitor, C U² / 2, before and after",
    example=Example(
        {"supply_voltage": "24 V", "returned_share": "50 %", "energy": "0.25 J",
         "capacitance": "1000 uF"},
        "28.7402 V",
        1e-6,
        "by hand: 2 * 0.5 * 0.25 / 0.001 = 250; sqrt(576 + 250) = 28.7402",
    ),
)  # fmt: skip

charging_time = Formula(
    title="Time in which a supply charges the bus when it is switched on",
    equation="t = C * U / I",
    where={
        "t": ("time", "ms", "until the bus has its voltage"),
        "C": _CAPACITANCE,
        "U": _VOLTAGE,
        "I": ("current", "A", "that the supply gives at its limit, less what is drawn meanwhile"),
    },
    assumes=("the supply limits its current rather than switching off and trying again",),
    source="Charge of a capacitor, Q = C U = I t",
    example=Example(
        {"capacitance": "2000 uF", "supply_voltage": "24 V", "current": "6 A"},
        "8 ms",
        1e-12,
        "by hand: 0.002 * 24 / 6",
    ),
)

inrush_current = Formula(
    title="Current when empty capacitors meet a live voltage",
    equation="I = U / R",
    where={
        "I": ("current", "A", "in the first moment, at most"),
        "U": ("voltage", "V", "peak: of 230 V mains 325 V"),
        "R": ("resistance", "ohm", "of cold inrush limiter, leads and capacitors in series"),
    },
    assumes=("no inductance to speak of", "the capacitors are empty"),
    source="Ohm's law",
    example=Example({"voltage": "24 V", "resistance": "0.25 ohm"}, "96 A", 1e-12, "by hand"),
)

generated_voltage = Formula(
    title="Voltage that a turned motor makes in each phase",
    equation="E = K * w",
    where={
        "E": ("generated", "V", "peak, of one open phase"),
        "K": ("torque_constant", "N*m/A", "for the amplitude of the phase current"),
        "w": ("shaft_speed", "rpm", "of the shaft, by hand or by its own swing"),
    },
    assumes=("the phase is open; a driver's diodes rectify it onto the bus",),
    source="The constant of torque for each ampere is that of voltage for each rad/s",
    example=Example(
        {"torque_constant": "0.136 N*m/A", "shaft_speed": "750 rpm"},
        "10.6814 V",
        1e-5,
        "by hand: 750 rpm is 78.5398 rad/s; times 0.136",
    ),
)

shorted_torque = Formula(
    title="Torque with which a motor brakes when its windings are shorted",
    equation="T = K**2 * w * R / (R**2 + (N_r * w * L)**2)",
    where={
        "T": ("torque", "N*m", "against being turned"),
        "K": ("torque_constant", "N*m/A", "for the amplitude of the phase current"),
        "w": ("shaft_speed", "rpm", "of the shaft, turned by hand"),
        "R": ("resistance", "ohm", "around each phase, winding and what shorts it"),
        "N_r": ("rotor_teeth", "1", "of the rotor: 50 for 1.8 deg, 100 for 0.9 deg"),
        "L": ("inductance", "mH", "of one phase"),
    },
    assumes=(
        "an unpowered driver does about this, through its diodes into an empty bus",
        "an unplugged motor (endless R) does not brake; its detent torque stays",
    ),
    source="Phasors with no outer voltage; Acarnley, Stepping Motors",
    example=Example(
        {"torque_constant": "0.136 N*m/A", "shaft_speed": "150 rpm", "resistance": "1.65 ohm",
         "rotor_teeth": 100, "inductance": "3.2 mH"},
        "17.1277 mN*m",
        1e-5,
        "by hand: w = 15.70796; N_r w L = 5.026548, squared 25.26619; and 2.7225: 27.98869; "
        "0.018496 * 15.70796 * 1.65 / 27.98869 = 0.0171277",
        brackets={"shaft_speed": ("100 rpm", "200 rpm"), "resistance": ("1 ohm", "2 ohm")},
    ),
)  # fmt: skip


class VoltageRule(NamedTuple):
    """Supply voltages for a motor, from the nominal voltage of its coils."""

    lowest: Quantity
    good_from: Quantity
    good_to: Quantity
    highest: Quantity


@words.with_units("Supply voltage for a motor", coil_voltage="V")
def voltage_rule(*, coil_voltage: Any) -> VoltageRule:
    """Supply voltages between which a motor works well with a chopper driver.

    Parameters
    ----------
    coil_voltage : voltage, any shape
        Nominal voltage of a coil: rated current times resistance.

    Returns
    -------
    VoltageRule
        ``.lowest``, ``.good_from``, ``.good_to``, ``.highest``, in V. The driver's own limit may
        lie lower. See ``VOLTAGE_RULE_SOURCE``.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(voltage_rule(coil_voltage="1.4 V").highest)
    35 V

    """
    volt = units.container("V")
    return VoltageRule(*(words.result(times * coil_voltage, volt) for times in VOLTAGE_RULE))


@words.with_units("Power left of a supply in warm air", returns="1", ambient="K")
def derating(*, ambient: Any) -> Any:
    """Part of its label's power that a supply may give for long in air this warm.

    Parameters
    ----------
    ambient : temperature, any shape
        Of the air that the supply breathes.

    Returns
    -------
    Quantity
        A ratio: 1 up to 40 °C, then falling; see ``DERATING_SOURCE``.

    Raises
    ------
    ValueRefused
        The air is warmer than 70 °C, in which no usual supply may run.
    UnitError
        As a formula does.

    Examples
    --------
    >>> print(derating(ambient="35 degC"), derating(ambient="50 degC"))
    1 0.75

    """
    if np.any(np.asarray(ambient) > _NO_MORE):
        raise ValueRefused(
            "Power left of a supply in warm air: no usual supply may run in air above 70 °C. "
            "Move it out of the enclosure, or give it air from outside."
        )
    return 1.0 - _LOST * np.maximum(np.asarray(ambient) - _DERATED_FROM, 0.0)


def hand_brake(*, motor: Any, shaft_speed: Any) -> Quantity:
    """Torque with which a motor wired to its unpowered driver resists being turned by hand.

    The driver's diodes close the circuit. Unplugged, only the detent torque is left.

    Parameters
    ----------
    motor : Motor
        Fields may be arrays; everything broadcasts.
    shaft_speed : angle per time
        At which the shaft is turned.

    Returns
    -------
    Quantity
        N*m, without the detent torque.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> from mathlib.motion.steppers import Motor
    >>> m = Motor(step_angle="1.8 deg", holding_torque="0.4 N*m", rated_current="1.7 A",
    ...           resistance="1.5 ohm", inductance="2.8 mH", rotor_inertia="54 g*cm^2")
    >>> print(hand_brake(motor=m, shaft_speed="150 rpm"))
    0.09204 N·m

    """
    check_motor("Torque by hand", motor)
    return shorted_torque(
        torque_constant=torque_constant(
            holding_torque=motor.holding_torque, rated_current=motor.rated_current
        ),
        shaft_speed=shaft_speed,
        resistance=motor.resistance,
        rotor_teeth=units.quantity(90.0, units.container("deg")) / motor.step_angle,
        inductance=motor.inductance,
    )


@words.with_units("Warmest air for a supply", returns="degC", derating="1")
def warmest_ambient(*, derating: Any) -> Any:
    """Warmest air in which a supply still gives this part of its label's power.

    Parameters
    ----------
    derating : ratio, any shape
        From what is left at 70 °C up to 1.

    Returns
    -------
    Quantity
        degC.

    Raises
    ------
    ValueRefused
        More than the label is asked, or so little that even air of 70 °C leaves it.
    UnitError
        As a formula does.

    Examples
    --------
    >>> print(warmest_ambient(derating="75 %"))
    50 °C

    """
    found = _DERATED_FROM + (1.0 - np.asarray(derating)) / _LOST
    if np.any((found < _DERATED_FROM) | (found > _NO_MORE)):
        raise ValueRefused(
            "Warmest air for a supply: it gives its label's power up to 40 °C and runs in no air "
            "above 70 °C; the part asked lies outside of that."
        )
    return found
