"""The drive as a whole: what moves, what pulls it, and what the job asks of it."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from mathlib import units
from mathlib.errors import ValueRefused
from mathlib.fields import choice, optional, pair, part, quantity, record, rows, text
from mathlib.formula import Example, Formula
from mathlib.motion import belts, steppers
from mathlib.motion.belts import Belt
from mathlib.motion.parts import total_mass
from mathlib.motion.steppers import Motor
from mathlib.units import Quantity
from mathlib.words import Mistakes

BELTS = ("crossed", "plain", "shaft", "single")
_PARTS = '[{name = "plate", mass = "0.2 kg"}, {name = "chain", mass = "0.1 kg", share = 0.5}]'
POWER_CONTROLS = ("constant", "follows speed")


@record
class Supply:
    """The supply of the motors."""

    voltage: Quantity = quantity("V", "at the motor drivers")
    power: Quantity | None = optional("W", "that it can give for long")
    ambient: Quantity = quantity("degC", "air that it breathes", default="30 degC")
    loading: Quantity = quantity("1", "of its power that is asked for long", "share", "80 %")
    capacitance: Quantity = quantity("uF", "on its output, the drivers' included", default="470 uF")


@record
class Controller:
    """What sends steps, and how the drivers are set."""

    microsteps: Quantity = quantity("1", "into which a driver divides one full step")
    set_current: Quantity = quantity("A", "rms, each phase, while moving")
    highest_step_rate: Quantity = quantity("step/s", "for one motor")
    hold_share: Quantity = quantity("1", "of the set current that is left at rest", "share", "1 1")
    driver_efficiency: Quantity = quantity("1", "of the motor drivers", "share", "85 %")
    highest_voltage: Quantity | None = optional("V", "that the drivers' sheet allows")


@record
class Carriage:
    """What moves along both axes, without the head."""

    mass: Quantity = quantity("kg", "with belt clamps, cables and half the chain")
    parts: None = rows(total_mass, _PARTS, "instead of mass: what it is made of", "mass")
    friction: Quantity = quantity("N", "along either axis, pulled slowly by a spring scale", "zero")
    damping: Quantity | None = optional("1", "ratio to critical, of the lowest mode")


@record
class MovingBeam:
    """The beam that carries the carriage and moves along y."""

    mass: Quantity = quantity("kg", "with end plates, rail and everything that rides on it")
    parts: None = rows(total_mass, _PARTS, "instead of mass: what it is made of", "mass")
    second_moment: Quantity | None = optional("mm^4", "of its section, for weight upon it")
    second_moment_sideways: Quantity | None = optional("mm^4", "the same for a push along y")
    modulus: Quantity | None = optional("GPa", "of its material's elasticity")
    yaw_stiffness: Quantity | None = optional("N*m/rad", "of the beam on its rail blocks, no belts")


@record
class Frame:
    """Lengths of the frame that the belts see."""

    rail_spacing: Quantity = quantity("mm", "between the two rails on which the beam runs")
    overrun: Quantity = quantity("mm", "from the end of travel to the nearest pulley's centre")
    belt_tension: Quantity | None = optional("N", "of each belt at rest, as it is set")
    push_stiffness: Quantity | None = optional("N/mm", "at its rails, from a push test")
    swaying_mass: Quantity | None = optional("kg", "of what sways there, without beam and carriage")


@record
class Job:
    """What is asked of the machine."""

    speed: Quantity = quantity("mm/s", "of the head while it marks")
    acceleration: Quantity = quantity("mm/s^2", "at the ends of a line")
    line_spacing: Quantity = quantity("mm", "of a filled area")
    accuracy: Quantity = quantity("mm", "of position, either way, that the work needs")
    power_share: Quantity = quantity("1", "of the laser's light that is used", sign="share")
    material: str = text("what is worked")
    material_note: str = text("what its supplier's data sheet states, such as the glue")
    thickness: Quantity | None = optional("mm", "of the sheet")
    modulation_frequency: Quantity | None = optional("Hz", "at which the laser is switched")
    power_control: str = choice(POWER_CONTROLS, "the laser where the head slows", "constant")


@record
class Drive:
    """Gantry, motors, belt and what they move; stiffness and modes are built on it.

    The belt is that of the gantry's layout; ``refits.fitted`` fits another one to both.
    """

    gantry: Any = part("a Gantry, from its layout")
    motors: tuple[Motor, ...] = part("two, a and b")
    belt: Belt = part("of both loops")
    masses: tuple[Quantity, Quantity] = pair(
        "kg", "moved along x, then along y with the beam", '("0.6 kg", "1.3 kg")'
    )
    damping: Quantity = quantity("1", "ratio to critical, of the first mode", "zero")
    yaw_stiffness: Quantity | None = optional("N*m/rad", "of the beam on its rails", "zero")
    set_current: Quantity = quantity("A", "rms, each phase")
    friction: Quantity = quantity("N", "along either axis", "zero")

    def _agree(self, mistakes: Mistakes) -> None:
        layout = getattr(self.gantry, "layout", None)
        if layout is None:
            mistakes.add(
                ValueRefused,
                "gantry is what gantries.crossed_belts(layout) or plain_axes(layout) builds; "
                f"got {type(self.gantry).__name__}.",
            )
        if np.any(self.damping.magnitude >= 1):
            mistakes.add(
                ValueRefused, 'damping is a ratio to critical below 1; write 0.05 or "5 %".'
            )
        motors = self.motors if isinstance(self.motors, list | tuple) else ()
        if len(motors) != 2 or not all(isinstance(motor, Motor) for motor in motors):
            mistakes.add(
                ValueRefused,
                "motors are two Motor records, a and b; write (motor, motor) where both are alike.",
            )
        if not isinstance(self.belt, Belt):
            mistakes.add(ValueRefused, f"belt is a Belt; got {type(self.belt).__name__}.")
        elif layout is not None and layout.belt is not self.belt and layout.belt != self.belt:
            mistakes.add(
                ValueRefused,
                "belt is another than that of the gantry, and only one can hold the head. Build "
                "the gantry with it, Layout(..., belt=belt), or use refits.fitted(drive, belt=).",
            )


axis_force = Formula(
    title="Belt force that each motor makes on a straight move along an axis",
    equation="F = (m * a + F_f) / n + m_r * a",
    where={
        "F": ("belt_force", "N", "of one motor, its own rotor included", "zero"),
        "m": ("mass", "kg", "that moves along the axis"),
        "a": ("acceleration", "mm/s^2", "along the axis", "zero"),
        "F_f": ("friction", "N", "along the axis", "zero"),
        "n": ("motors", "1", "that pull together: 2 with crossed belts, 1 with plain axes"),
        "m_r": ("reflected_mass", "kg", "of one rotor, felt along the belt", "zero"),
    },
    assumes=(
        "the motors share the load evenly, as on a straight move along an axis",
        "idlers and belts weigh little",
    ),
    source="Newton's second law along the axis; virtual work for crossed belts",
    example=Example(
        {
            "mass": "1 kg",
            "acceleration": "10 m/s^2",
            "friction": "10 N",
            "motors": 1,
            "reflected_mass": "0.2 kg",
        },
        "22 N",
        1e-9,
        "by hand: (1 * 10 + 10) / 1 + 0.2 * 10 = 22",
    ),
)

diagonal_force = Formula(
    title="Belt force of the one motor that moves a head on crossed belts along a diagonal",
    equation="F = (m_x + m_y) * a / (2 * sqrt(2)) + F_f + sqrt(2) * m_r * a",
    where={
        "F": ("belt_force", "N", "of that motor, its own rotor included", "zero"),
        "m_x": ("mass_x", "kg", "that moves along x"),
        "m_y": ("mass_y", "kg", "that moves along y"),
        "a": ("acceleration", "mm/s^2", "along the diagonal", "zero"),
        "F_f": ("friction", "N", "along each axis; both rails keep theirs", "zero"),
        "m_r": ("reflected_mass", "kg", "of one rotor, felt along the belt", "zero"),
    },
    assumes=(
        "the other motor stands, and its belt only guides",
        "idlers and belts weigh little",
    ),
    source="Virtual work, F_a = (F_x + F_y) / 2, with x and y accelerating by a over √2 each",
    example=Example(
        {
            "mass_x": "0.6 kg",
            "mass_y": "1.3 kg",
            "acceleration": "2 m/s^2",
            "friction": "4 N",
            "reflected_mass": "0.133 kg",
        },
        "5.7197 N",
        2e-5,
        "by hand: 1.9 * 2 / 2.828427 = 1.343503; 1.414214 * 0.133 * 2 = 0.376181; and 4",
    ),
)

belt_torque = Formula(
    title="Motor torque for a belt force",
    equation="T = F * r",
    where={
        "T": ("load_torque", "N*m", "at the shaft", "zero"),
        "F": ("belt_force", "N", "along the belt", "zero"),
        "r": ("pitch_radius", "mm", "of the pulley, to the belt's cords"),
    },
    assumes=("the belt leaves the pulley along its pitch line",),
    source="Definition of torque",
    example=Example(
        {"belt_force": "20 N", "pitch_radius": "5.411 mm"},
        "108.2 mN*m",
        5e-4,
        "by hand: 20 * 5.411 = 108.2",
    ),
)

torque_margin = Formula(
    title="Torque margin at low speed",
    equation="k_T = T_h / T",
    where={
        "k_T": ("margin", "1", "how many times the motor can hold what the load asks"),
        "T_h": ("holding_torque", "N*m", "peak of the static torque curve, both phases on"),
        "T": ("load_torque", "N*m", "that the load asks of the motor"),
    },
    assumes=("the motor turns so slowly that it has its full current: at speed it has less",),
    source="Definition",
    example=Example(
        {"holding_torque": "0.40 N*m", "load_torque": "0.108 N*m"},
        "3.704 1",
        5e-4,
        "by hand: 0.40 / 0.108 = 3.704",
    ),
)

ramp_time = Formula(
    title="Time to reach a speed",
    equation="t = v / a",
    where={
        "t": ("ramp_time", "s", "from rest to the speed"),
        "v": ("speed", "mm/s", "that is reached"),
        "a": ("acceleration", "mm/s^2", "constant until then"),
    },
    assumes=("the acceleration is constant",),
    source="Definition",
    example=Example(
        {"speed": "100 mm/s", "acceleration": "5000 mm/s^2"}, "0.02 s", 1e-12, "by hand: 100 / 5000"
    ),
)


class MotorLoad(NamedTuple):
    """What a straight move along an axis asks of each motor, and how far the belt gives way.

    ``lag`` is nan where the load is beyond the holding torque: the motor slips there.
    """

    holding_torque: Quantity
    torque: Quantity
    lag: Quantity


def pitch_radius(*, pitch: Any, teeth: Any) -> Quantity:
    """Pitch radius of a pulley: half its pitch diameter.

    >>> print(pitch_radius(pitch="2 mm", teeth=20))
    6.366 mm
    """
    radius: Quantity = belts.pitch_diameter(pitch=pitch, teeth=teeth) / 2.0
    return radius


def motors_pulling(gantry: str) -> float:
    """Motors that pull together on a move along one axis.

    >>> motors_pulling("crossed")
    2.0
    """
    return 2.0 if gantry in ("crossed", "single") else 1.0


def motor_load(
    *,
    motor: Motor,
    set_current: Any,
    pitch_radius: Any,
    gantry: str,
    mass: Any,
    acceleration: Any,
    friction: Any,
) -> MotorLoad:
    """Load of each motor on a straight move along an axis, rotor included.

    Parameters
    ----------
    motor : Motor
        Each of the two.
    set_current : current
        Rms, each phase.
    pitch_radius : length
        Of the driven pulley.
    gantry : str
        "crossed", "plain", "shaft" or "single".
    mass, acceleration, friction : mass, acceleration, force
        Along the axis; arrays broadcast.

    Returns
    -------
    MotorLoad
        ``.holding_torque`` at the set current, ``.torque`` asked for, ``.lag`` of the belt.

    Raises
    ------
    UnitError, ValueRefused
        As the formulas that it calls.

    Examples
    --------
    >>> from mathlib.units import Q
    >>> m = Motor(step_angle="1.8 deg", holding_torque="0.4 N*m", rated_current="1.7 A",
    ...           resistance="1.5 ohm", inductance="2.8 mH", rotor_inertia="54 g*cm^2")
    >>> print(motor_load(motor=m, set_current="1.7 A", pitch_radius="6.366 mm", gantry="plain",
    ...                  mass="1 kg", acceleration="0 mm/s^2", friction="5 N").lag)
    0.01014 mm

    """
    holding = steppers.held_torque(motor, set_current)
    rotor = steppers.reflected_mass(inertia=motor.rotor_inertia, pitch_radius=pitch_radius)
    force = axis_force(
        mass=mass,
        acceleration=acceleration,
        friction=friction,
        motors=motors_pulling(gantry),
        reflected_mass=rotor,
    )
    torque = belt_torque(belt_force=force, pitch_radius=pitch_radius)
    asked = np.where(torque.magnitude <= holding.to("N*m").magnitude, torque.magnitude, np.nan)
    lag = steppers.belt_lag(
        load_torque=units.quantity(asked, torque._units),
        holding_torque=holding,
        rotor_teeth=steppers.rotor_teeth(motor),
        pitch_radius=pitch_radius,
        allow_missing=True,
    )
    return MotorLoad(holding, torque, lag)
