"""Two-phase hybrid stepper motors: how far they step, how they hold and how they give way."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from mathlib.fields import optional, quantity, record, rows
from mathlib.formula import Example, Formula
from mathlib.motion.derating import derated as derated
from mathlib.motion.pull_out import check_motor
from mathlib.motion.pull_out import corner_speed as corner_speed
from mathlib.motion.pull_out import pull_out_torque as pull_out_torque
from mathlib.motion.pull_out import voltage_limited_torque as voltage_limited_torque
from mathlib.motion.pull_test import PullOutTable
from mathlib.units import Q, Quantity

_HOLDING = ("holding_torque", "N*m", "peak of the static torque curve, both phases on")
_TEETH = ("rotor_teeth", "1", "of the rotor: 50 for 1.8 deg, 100 for 0.9 deg")
_RADIUS = ("pitch_radius", "mm", "of the pulley, to the belt's cords")
_SLIPS = "T <= T_h; beyond its holding torque the motor slips"
_SINE = "the static torque is a sine of the electrical angle, as in a hybrid motor nearly so"


def _pull_out_rows(told: Any, values: Mapping[str, Any]) -> PullOutTable:
    """Read a measured curve; a speed in steps counts full steps of this motor's angle."""
    angle = values.get("step_angle")
    turn = None if angle is None else Q("1 turn") / (Q(angle) if isinstance(angle, str) else angle)
    return PullOutTable.of(told, None if turn is None else turn.to("1").magnitude)


@record
class Motor:
    """A two-phase hybrid stepper motor; ``rated_current`` is rms per phase, both phases on."""

    step_angle: Quantity = quantity("deg", "of one full step")
    holding_torque: Quantity = quantity("N*m", "both phases on at rated current")
    rated_current: Quantity = quantity("A", "rms, each phase")
    resistance: Quantity = quantity("ohm", "of one phase")
    inductance: Quantity = quantity("mH", "of one phase")
    rotor_inertia: Quantity = quantity("g*cm^2", "of the rotor alone")
    detent_torque: Quantity | None = optional("mN*m", "without current", sign="zero")
    mass: Quantity | None = optional("kg", "of the whole motor")
    body_length: Quantity | None = optional("mm", "without the shaft")
    radial_limit: Quantity | None = optional("N", "across the shaft, as the data sheet states it")
    limit_distance: Quantity | None = optional("mm", "from the face to where that limit is stated")
    pull_out: PullOutTable | None = rows(
        _pull_out_rows,
        '[{speed = "300 rpm", torque = "0.3 N*m"}, {speed = "600 rpm", torque = "0.2 N*m"}]',
        "measured torque against speed, at this machine's supply and current",
    )


full_steps_per_turn = Formula(
    title="Full steps in one turn",
    equation="S = 2 * pi / a",
    where={
        "S": ("full_steps", "step", "of the motor in one turn"),
        "a": ("step_angle", "deg", "of one full step"),
    },
    assumes=("the motor turns through the same angle at each full step",),
    source="Definition: a whole turn over the angle of one step",
    example=Example({"step_angle": "0.9 deg"}, "400 step", 1e-12, "by hand: 360 / 0.9 = 400"),
)

rotor_teeth_of = Formula(
    title="Teeth of a two-phase hybrid rotor",
    equation="N_r = S / 4",
    where={"N_r": _TEETH, "S": ("full_steps", "step", "of the motor in one turn")},
    assumes=("two phases: four full steps make one electrical cycle, one tooth",),
    source="Acarnley, Stepping Motors, hybrid motors",
    example=Example({"full_steps": "200 step"}, "50 1", 1e-12, "by hand: 200 / 4 = 50"),
)

step_torque = Formula(
    title="Torque that resists a displacement of one microstep",
    equation="T = T_h * sin(pi / (2 * mu))",
    where={
        "T": ("torque", "N*m", "that turns the rotor by one microstep from rest"),
        "T_h": _HOLDING,
        "mu": ("microsteps", "1", "into which the driver divides one full step"),
    },
    holds=("mu >= 1; a full step is the coarsest there is",),
    assumes=(
        _SINE,
        "this is stiffness at rest, not torque lost: the peak torque stays what it is",
    ),
    source="Static torque curve, a quarter of an electrical cycle for each full step",
    example=Example(
        {"holding_torque": "0.40 N*m", "microsteps": 16},
        "0.03921 N*m",
        2e-4,
        "by hand: sin(90 deg / 16) = sin(5.625 deg) = 0.09802; 0.40 * 0.09802 = 0.03921",
    ),
)

load_angle = Formula(
    title="Angle by which a load turns the rotor out of its step",
    equation="theta = asin(T / T_h) / N_r",
    where={
        "theta": ("angle", "deg", "of the shaft, behind the commanded position", "zero"),
        "T": ("load_torque", "N*m", "that the load asks of the motor", "zero"),
        "T_h": _HOLDING,
        "N_r": _TEETH,
    },
    holds=(_SLIPS,),
    assumes=(_SINE, "the motor stands, or turns slowly enough to have its full current"),
    source="Static torque curve T = T_h sin(N_r theta), solved for the angle",
    example=Example(
        {"load_torque": "31.8 mN*m", "holding_torque": "0.40 N*m", "rotor_teeth": 50},
        "0.0912 deg",
        5e-4,
        "by hand: asin(0.0318 / 0.40) = asin(0.0795) = 4.560 deg; 4.560 / 50 = 0.0912",
    ),
)

belt_lag = Formula(
    title="Distance by which a load pulls the belt out of step",
    equation="x = r * asin(T / T_h) / N_r",
    where={
        "x": ("lag", "mm", "of the belt, behind the commanded position", "zero"),
        "r": _RADIUS,
        "T": ("load_torque", "N*m", "that the load asks of the motor", "zero"),
        "T_h": _HOLDING,
        "N_r": _TEETH,
    },
    holds=(_SLIPS,),
    assumes=(_SINE, "on reversal of the load it changes sign: the path shows twice this"),
    source="Load angle of the rotor times the pitch radius",
    example=Example(
        {
            "load_torque": "31.83 mN*m",
            "holding_torque": "0.40 N*m",
            "rotor_teeth": 50,
            "pitch_radius": "6.366 mm",
        },
        "0.01014 mm",
        5e-4,
        "by hand: asin(0.03183 / 0.40) = 0.07966 rad; 6.366 * 0.07966 / 50 = 0.01014",
    ),
)

magnetic_stiffness = Formula(
    title="Magnetic stiffness of a motor, felt at the belt",
    equation="k = N_r * T_h / r**2",
    where={
        "k": ("stiffness", "N/mm", "of the motor's magnetic spring along the belt"),
        "N_r": _TEETH,
        "T_h": _HOLDING,
        "r": _RADIUS,
    },
    assumes=(_SINE, "the load angle is small, and the driver holds the current"),
    source="Slope of the static torque curve at rest, over the square of the pitch radius",
    example=Example(
        {"rotor_teeth": 50, "holding_torque": "0.40 N*m", "pitch_radius": "6.366 mm"},
        "493.5 N/mm",
        5e-4,
        "by hand: 50 * 0.40 = 20 N*m/rad; 20 / 0.006366**2 = 493 500 N/m",
    ),
)

rotor_frequency = Formula(
    title="Natural frequency of a rotor on its magnetic spring",
    equation="f = sqrt(N_r * T_h / J) / (2 * pi)",
    where={
        "f": ("frequency", "Hz", "free oscillation about the step"),
        "N_r": _TEETH,
        "T_h": _HOLDING,
        "J": ("inertia", "g*cm^2", "of all that turns with the shaft, the load's included"),
    },
    assumes=(_SINE, "the belt is stiff next to the magnetic spring", "damping is small"),
    source="Den Hartog, Mechanical Vibrations, ch. 2, with the magnetic spring",
    example=Example(
        {"rotor_teeth": 50, "holding_torque": "0.27 N*m", "inertia": "35 g*cm^2"},
        "312.6 Hz",
        2e-4,
        "by hand: sqrt(50 * 0.27 / 3.5e-6) = 1964.0 rad/s; 1964.0 / 6.2832 = 312.6",
    ),
)

loaded_inertia = Formula(
    title="Inertia that a motor turns, belt-driven mass included",
    equation="J = J_r + m * r**2",
    where={
        "J": ("inertia", "g*cm^2", "of rotor and load together"),
        "J_r": ("rotor_inertia", "g*cm^2", "of the rotor alone"),
        "m": ("mass", "kg", "that the belt moves for this motor"),
        "r": _RADIUS,
    },
    assumes=("the belt does not stretch", "pulleys and idlers weigh little"),
    source="Kinetic energy of the load, written as that of a turning inertia",
    example=Example(
        {"rotor_inertia": "68 g*cm^2", "mass": "0.5 kg", "pitch_radius": "6.366 mm"},
        "270.6 g*cm^2",
        5e-4,
        "by hand: 500 g * 0.6366**2 cm^2 = 202.6; 68 + 202.6 = 270.6",
    ),
)

reflected_mass = Formula(
    title="Mass that a rotor adds to the belt",
    equation="m = J / r**2",
    where={
        "m": ("mass", "kg", "felt along the belt"),
        "J": ("inertia", "g*cm^2", "of the rotor"),
        "r": _RADIUS,
    },
    assumes=("the rotor turns with the belt, without slip",),
    source="Kinetic energy of the rotor, written as that of a mass on the belt",
    example=Example(
        {"inertia": "82 g*cm^2", "pitch_radius": "5.093 mm"},
        "0.316 kg",
        1e-3,
        "by hand: 82 g*cm^2 / 0.5093**2 cm^2 = 316.1 g",
    ),
)

step_rate = Formula(
    title="Step rate",
    equation="q = v * n",
    where={
        "q": ("step_rate", "step/s", "that the controller must send to one motor"),
        "v": ("speed", "mm/s", "of the belt"),
        "n": ("steps_per_length", "step/mm", "microsteps for each length of belt travel"),
    },
    assumes=("every microstep is sent",),
    source="Definition",
    example=Example(
        {"speed": "150 mm/s", "steps_per_length": "200 step/mm"},
        "30000 step/s",
        1e-12,
        "by hand: 150 * 200 = 30000",
    ),
)

torque_at_current = Formula(
    title="Holding torque at the set current",
    equation="T_h = T_r * I / I_r",
    where={
        "T_h": _HOLDING,
        "T_r": ("rated_torque", "N*m", "holding torque at rated current"),
        "I": ("set_current", "A", "to which the driver is set, rms for each phase"),
        "I_r": ("rated_current", "A", "rms for each phase"),
    },
    assumes=("the iron is not saturated: above the rated current the torque gains less",),
    source="Torque of a hybrid motor, proportional to current below saturation",
    example=Example(
        {"rated_torque": "0.40 N*m", "set_current": "1.36 A", "rated_current": "1.7 A"},
        "0.32 N*m",
        1e-9,
        "by hand: 0.40 * 1.36 / 1.7 = 0.40 * 0.8 = 0.32",
    ),
)

step_accuracy_at_belt = Formula(
    title="Band of step accuracy, at the belt",
    equation="x = e_s * a * r",
    where={
        "x": ("step_error", "mm", "of the belt, either way"),
        "e_s": ("step_accuracy", "%", "of a full step, as the data sheet states it"),
        "a": ("step_angle", "deg", "of one full step"),
        "r": _RADIUS,
    },
    assumes=("the error of a step does not add up over steps",),
    source="Motor makers' data sheets print 5 % of a full step, not cumulative",
    example=Example(
        {"step_accuracy": "5 %", "step_angle": "1.8 deg", "pitch_radius": "6.3662 mm"},
        "0.01 mm",
        1e-4,
        "by hand: 40 mm in 200 steps is 0.2 mm a step; 5 % of it is 0.01",
    ),
)


def full_steps(motor: Motor) -> Quantity:
    """Full steps of a motor in one turn.

    >>> print(full_steps(Motor(step_angle="1.8 deg", holding_torque="0.4 N*m",
    ...     rated_current="1.7 A", resistance="1.5 ohm", inductance="2.8 mH",
    ...     rotor_inertia="54 g*cm^2")))
    200 step
    """
    check_motor("Full steps", motor)
    return full_steps_per_turn(step_angle=motor.step_angle)


def held_torque(motor: Motor, set_current: Any) -> Quantity:
    """Give the holding torque of a motor at the driver's current.

    >>> from mathlib.units import Q
    >>> m = Motor(step_angle="1.8 deg", holding_torque="0.4 N*m", rated_current="1.7 A",
    ...           resistance="1.5 ohm", inductance="2.8 mH", rotor_inertia="54 g*cm^2")
    >>> print(held_torque(m, Q("1.36 A")))
    0.32 N·m
    """
    check_motor("Held torque", motor)
    return torque_at_current(
        rated_torque=motor.holding_torque,
        set_current=set_current,
        rated_current=motor.rated_current,
    )


def rotor_teeth(motor: Motor) -> Quantity:
    """Rotor teeth of a two-phase motor.

    >>> print(rotor_teeth(Motor(step_angle="0.9 deg", holding_torque="0.4 N*m",
    ...     rated_current="1.7 A", resistance="1.5 ohm", inductance="2.8 mH",
    ...     rotor_inertia="54 g*cm^2")))
    100
    """
    return rotor_teeth_of(full_steps=full_steps(motor))
