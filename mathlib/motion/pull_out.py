"""Torque against speed of a stepper motor from its nameplate: an upper bound.

Two phases with sine currents, as phasors: the driver can push no more than its current, and at
speed no more current than the supply's voltage drives through resistance, inductance and back-EMF.
Iron loss, the driver's decay, mid-speed resonance and a sagging supply are left out, so that no
printed curve was found above the bound; ``derating`` says how far below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from mathlib import units, words
from mathlib.compiled import in_blocks
from mathlib.errors import ValueRefused, WordError
from mathlib.formula import Example, Formula
from mathlib.units import Quantity
from mathlib.words import Word

if TYPE_CHECKING:
    from mathlib.motion.steppers import Motor

_SPEED: Final = Word("speed", "rpm", "of the shaft", "zero")
_VOLTAGE: Final = Word("supply_voltage", "V", "at the motor drivers")
_CURRENT: Final = Word("current", "A", "of one phase")

torque_constant = Formula(
    title="Torque constant of a two-phase motor, peak for each phase",
    equation="K = T_h / (sqrt(2) * I_r)",
    where={
        "K": ("torque_constant", "N*m/A", "torque for the amplitude of the phase current"),
        "T_h": ("holding_torque", "N*m", "peak of the static torque curve, both phases on"),
        "I_r": ("rated_current", "A", "rms for each phase, at that torque"),
    },
    assumes=("the holding torque is stated with both phases on at rated current",),
    source="Acarnley, Stepping Motors; a motor maker's manual states T_h / (2 I) for the rms value",
    example=Example(
        {"holding_torque": "0.49 N*m", "rated_current": "1.0 A"},
        "0.346482 N*m/A",
        2e-6,
        "by hand: 0.49 / 1.414214 = 0.346482",
    ),
)

electrical_frequency = Formula(
    title="Electrical frequency of a stepper motor",
    equation="f = N_r * w / (2 * pi)",
    where={
        "f": ("frequency", "Hz", "of the phase currents", "zero"),
        "N_r": ("rotor_teeth", "1", "of the rotor: 50 for 1.8 deg, 100 for 0.9 deg"),
        "w": ("shaft_speed", "rpm", "of the shaft", "zero"),
    },
    assumes=("one cycle for each rotor tooth: four full steps",),
    source="Acarnley, Stepping Motors",
    example=Example(
        {"rotor_teeth": 50, "shaft_speed": "375 rpm"},
        "312.5 Hz",
        1e-9,
        "by hand: 375 / 60 = 6.25 turns a second; times 50",
    ),
)

back_emf_constant = Formula(
    title="Back-EMF constant of a two-phase motor, rms for each phase",
    equation="K_e = T_h / (2 * I_r)",
    where={
        "K_e": ("back_emf_constant", "V*s/rad", "rms voltage of one phase for the shaft's speed"),
        "T_h": ("holding_torque", "N*m", "peak of the static torque curve, both phases on"),
        "I_r": ("rated_current", "A", "rms for each phase, at that torque"),
    },
    assumes=(
        "the holding torque is stated with both phases on at rated current",
        "the peak of the voltage is √2 times this",
    ),
    source="Energy: a phase turns its current into torque as it turns its speed into voltage",
    example=Example(
        {"holding_torque": "0.49 N*m", "rated_current": "1.0 A"},
        "0.245 V*s/rad",
        1e-9,
        "by hand: 0.49 / 2 = 0.245",
    ),
)

back_emf = Formula(
    title="Voltage that a turning motor makes in one phase",
    equation="E = K_e * w",
    where={
        "E": ("back_emf", "V", "rms if the constant is rms, peak if it is peak", "zero"),
        "K_e": ("back_emf_constant", "V*s/rad", "of one phase, as measured or from the nameplate"),
        "w": ("shaft_speed", "rpm", "of the shaft", "zero"),
    },
    assumes=("no current flows: an open winding, turned by hand or by a drill",),
    source="Induction; a motor maker's manual prints 6.28 V a turn each second for 1 N*m/A",
    example=Example(
        {"back_emf_constant": "0.245 V*s/rad", "shaft_speed": "375 rpm"},
        "9.62113 V",
        1e-6,
        "by hand: 375 / 60 * 6.283185 = 39.26991 rad/s; times 0.245",
    ),
)


def check_motor(who: str, motor: Any) -> None:
    """Refuse what is no motor, such as the name of a row.

    >>> check_motor("Pull-out torque", "frame 17")
    Traceback (most recent call last):
    mathlib.errors.ValueRefused: Pull-out torque: motor is a Motor; got str.
    """
    if not hasattr(motor, "rated_current") or not hasattr(motor, "step_angle"):
        raise ValueRefused(f"{who}: motor is a Motor; got {type(motor).__name__}.")


class _Phasors(NamedTuple):
    """A motor on a supply in SI units; arrays broadcast."""

    constant: Any
    teeth: Any
    resistance: Any
    inductance: Any
    voltage: Any
    amplitude: Any


def _phasors(
    who: str, motor: Motor, supply_voltage: Any, current_rms: Any, current_peak: Any
) -> _Phasors:
    check_motor(who, motor)
    if current_rms is not None and current_peak is not None:
        raise WordError(f"{who}: give current_rms or current_peak, not both.")
    try:
        voltage = words.base_value(_VOLTAGE, supply_voltage)
        if current_rms is None and current_peak is None:
            amplitude = np.sqrt(2.0) * motor.rated_current.to("A").magnitude
        elif current_peak is None:
            amplitude = np.sqrt(2.0) * words.base_value(_CURRENT, current_rms)
        else:
            amplitude = words.base_value(_CURRENT, current_peak)
    except ValueError as fault:
        raise type(fault)(f"{who}: {fault}") from None
    constant = torque_constant(
        holding_torque=motor.holding_torque, rated_current=motor.rated_current
    )
    return _Phasors(
        constant.magnitude,
        np.pi / 2 / motor.step_angle.to("rad").magnitude,
        motor.resistance.to("ohm").magnitude,
        motor.inductance.to("H").magnitude,
        voltage,
        amplitude,
    )


def corner_speed(
    motor: Motor, supply_voltage: Any, current_rms: Any = None, current_peak: Any = None
) -> Quantity:
    """Speed up to which the supply can drive the whole current in phase with the back-EMF.

    Parameters
    ----------
    motor : Motor
        Fields may be arrays; everything broadcasts.
    supply_voltage : voltage
        At the motor drivers.
    current_rms, current_peak : current
        Of one phase: one of the two, or neither for the rated current.

    Returns
    -------
    Quantity
        rpm; an upper bound.

    Raises
    ------
    ValueRefused
        The supply cannot drive that current even at rest.
    WordError
        Both currents were given.

    Examples
    --------
    >>> from mathlib.motion.steppers import Motor
    >>> m = Motor(step_angle="1.8 deg", holding_torque="0.49 N*m", rated_current="1 A",
    ...           resistance="5 ohm", inductance="8 mH", rotor_inertia="68 g*cm^2")
    >>> print(corner_speed(m, "24 V"))
    281.2 rpm

    """
    p = _phasors("Corner speed", motor, supply_voltage, current_rms, current_peak)
    drop = p.resistance * p.amplitude
    if np.any(drop >= p.voltage):
        raise ValueRefused(
            "Corner speed: the supply cannot drive that current through the windings even at "
            "rest: resistance times peak current is above the supply's voltage."
        )
    across = p.constant**2 + (p.teeth * p.inductance * p.amplitude) ** 2
    push = p.constant * drop
    speed = (-push + np.sqrt(push**2 + across * (p.voltage**2 - drop**2))) / across
    return words.result(speed, units.container("rpm"))


def _base_speed(who: str, speed: Any) -> Any:
    try:
        return words.base_value(_SPEED, speed)
    except ValueError as fault:
        raise type(fault)(f"{who}: {fault}") from None


def voltage_limited_torque(motor: Motor, speed: Any, supply_voltage: Any) -> Quantity:
    """Largest torque that the supply's voltage allows, whatever the current.

    Parameters
    ----------
    motor : Motor
        Fields may be arrays; everything broadcasts.
    speed : angle per time
        Of the shaft.
    supply_voltage : voltage
        At the motor drivers.

    Returns
    -------
    Quantity
        N*m, an upper bound; zero where the back-EMF leaves nothing.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> from mathlib.motion.steppers import Motor
    >>> m = Motor(step_angle="1.8 deg", holding_torque="0.49 N*m", rated_current="1 A",
    ...           resistance="5 ohm", inductance="8 mH", rotor_inertia="68 g*cm^2")
    >>> print(voltage_limited_torque(m, "562.47744 rpm", "24 V"))
    0.2843 N·m

    """
    p = _phasors("Voltage-limited torque", motor, supply_voltage, None, None)
    turning = _base_speed("Voltage-limited torque", speed)
    square = p.resistance**2 + (p.teeth * turning * p.inductance) ** 2
    torque = p.constant * p.voltage / np.sqrt(square)
    torque = torque - p.constant**2 * turning * p.resistance / square
    return words.result(np.maximum(torque, 0.0), units.container("N*m"))


def pull_out_torque(
    motor: Motor,
    speed: Any,
    supply_voltage: Any,
    current_rms: Any = None,
    current_peak: Any = None,
) -> Quantity:
    """Largest torque within both limits, current and voltage: the ideal bound.

    In the plane of the phase current both limits are discs, and torque is the distance along the
    back-EMF. The best point is the end of the current's disc, the top of the voltage's, or the
    corner where their rims cross.

    Parameters
    ----------
    motor : Motor
        Fields may be arrays; everything broadcasts.
    speed : angle per time
        Of the shaft.
    supply_voltage : voltage
        At the motor drivers.
    current_rms, current_peak : current
        Of one phase: one of the two, or neither for the rated current.

    Returns
    -------
    Quantity
        N*m, of the broadcast shape; zero where the supply drives nothing.

    Raises
    ------
    UnitError, ValueRefused, WordError
        As a formula does; both currents were given.

    Examples
    --------
    >>> from mathlib.motion.steppers import Motor
    >>> m = Motor(step_angle="1.8 deg", holding_torque="0.49 N*m", rated_current="1 A",
    ...           resistance="5 ohm", inductance="8 mH", rotor_inertia="68 g*cm^2")
    >>> print(pull_out_torque(m, "100 rpm", "24 V"), pull_out_torque(m, "1200 rpm", "24 V"))
    0.49 N·m 0.1351 N·m

    """
    p = _phasors("Pull-out torque", motor, supply_voltage, current_rms, current_peak)
    turning = _base_speed("Pull-out torque", speed)
    given = [p.constant, p.voltage, p.amplitude, *_circle(p, turning)]
    shape = np.broadcast_shapes(*(np.shape(v) for v in given))
    if not shape or 0 in shape:
        flat = [np.broadcast_to(v, shape).ravel() for v in given]
        return words.result(_best_torque(*flat).reshape(shape), units.container("N*m"))
    return words.result(in_blocks(_block_of_torque, given, shape), units.container("N*m"))


def _circle(p: _Phasors, turning: Any) -> tuple[Any, Any, Any, Any]:
    """Describe the voltage's disc at a speed, whatever the supply.

    Its rim for one volt; how far away its centre lies, and the parts of that distance along the
    back-EMF and across it.
    """
    reactance = p.teeth * turning * p.inductance
    rim = 1.0 / np.sqrt(p.resistance * p.resistance + reactance * reactance)
    return rim, p.constant * turning * rim, -p.resistance * rim, reactance * rim


def _block_of_torque(*given: Any) -> bool:
    out = given[-1]
    out[...] = _best_torque(*(np.broadcast_to(v, out.shape) for v in given[:-1]))
    return True


def _best_torque(
    constant: Any, voltage: Any, disc: Any, rim: Any, apart: Any, along: Any, across: Any
) -> Any:
    """Torque in SI units at the best point of both discs; ``disc`` is the peak current.

    All are arrays of one axis.
    """
    radius, centre, lifted = voltage * rim, apart * along, apart * across
    lifted *= lifted
    most, square = disc * disc, radius * radius
    top = centre + radius
    centre -= disc
    whole = centre * centre + lifted <= square
    rest = np.flatnonzero(~(whole | (top * top + lifted <= most)))
    best = np.where(whole, disc, top)
    if rest.size:
        best[rest] = _corner(*(v[rest] for v in (disc, radius, apart, along, across)))
    best *= constant
    return np.maximum(best, 0.0, out=best)


def _corner(disc: Any, radius: Any, apart: Any, along: Any, across: Any) -> Any:
    """Give the current along the back-EMF where both rims cross, on the better side."""
    toward = (disc * disc - radius * radius + apart * apart) / (2.0 * apart)
    beside = np.sqrt(np.maximum(disc * disc - toward * toward, 0.0))
    return np.where(apart > disc + radius, 0.0, toward * along + beside * across)
