"""What a move asks of each motor, in every direction, and what a bigger rotor gives back."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import words
from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.motion.drive import BELTS
from mathlib.units import Quantity, container

_PER_MOTOR: Final = "that one motor moves: half of what two motors move together"


class MotorForces(NamedTuple):
    """Belt force that motor a and motor b must make, and how fast each belt runs over the head.

    Positive forces pull a belt the way in which that motor turns for a move along +x.
    """

    a: Quantity
    b: Quantity
    speed_a: Any
    speed_b: Any


def motor_forces(
    *,
    gantry: str,
    direction: Any,
    mass_x: Any,
    mass_y: Any,
    acceleration: Any,
    friction: Any,
    reflected_mass: Any,
    drag: Any = "0 N",
) -> MotorForces:
    """Which motor carries what while the head moves in one direction.

    Parameters
    ----------
    gantry : str
        "crossed" and "single": motor a runs by x + y and motor b by x - y. "plain" and "shaft":
        motor a moves x, motor b moves y.
    direction : angle
        Of the move, from +x towards +y; arrays broadcast, as all other words do.
    mass_x, mass_y : mass
        That moves along x, and along y.
    acceleration : acceleration
        Along the direction; zero at constant speed.
    friction : force
        Along each axis that moves, against the motion.
    reflected_mass : mass
        Of one rotor, felt along the belt.
    drag : force
        At the tool, against the motion: of a knife that is dragged through the sheet.

    Returns
    -------
    MotorForces
        ``.a`` and ``.b`` in N, signed; ``.speed_a`` and ``.speed_b``, belt speed over head speed.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; the gantry is unknown.

    Examples
    --------
    >>> found = motor_forces(gantry="crossed", direction="45 deg", mass_x="0.6 kg",
    ...     mass_y="1.3 kg", acceleration="2 m/s^2", friction="4 N", reflected_mass="0.133 kg")
    >>> print(f"{found.a:.4f~P}, {found.b:.4f~P}")
    5.7197 N, -0.4950 N

    """
    if not isinstance(gantry, str) or gantry not in BELTS:
        raise ValueRefused(f"Motor forces: gantry is one of {', '.join(BELTS)}; got {gantry!r}.")
    takes = {
        "direction": words.Word("direction", "deg", "of the move", "signed"),
        "mass_x": words.Word("mass_x", "kg", "that moves along x"),
        "mass_y": words.Word("mass_y", "kg", "that moves along y"),
        "acceleration": words.Word("acceleration", "mm/s^2", "along the direction", "zero"),
        "friction": words.Word("friction", "N", "along each axis that moves", "zero"),
        "reflected_mass": words.Word("reflected_mass", "kg", "of one rotor", "zero"),
        "drag": words.Word("drag", "N", "at the tool", "zero"),
    }
    given = {
        "direction": direction, "mass_x": mass_x, "mass_y": mass_y, "acceleration": acceleration,
        "friction": friction, "reflected_mass": reflected_mass, "drag": drag,
    }  # fmt: skip
    v = words.read_words("Motor forces", takes.values(), given)
    along_x, along_y = np.cos(v["direction"]), np.sin(v["direction"])
    along_x = np.where(np.abs(along_x) < 1e-12, 0.0, along_x)  # an axis at rest has no friction
    along_y = np.where(np.abs(along_y) < 1e-12, 0.0, along_y)
    force_x, force_y = (
        v[f"mass_{axis}"] * v["acceleration"] * part
        + v["friction"] * np.sign(part)
        + v["drag"] * part
        for axis, part in (("x", along_x), ("y", along_y))
    )
    rotor = v["reflected_mass"] * v["acceleration"]
    if gantry in ("crossed", "single"):
        speed_a, speed_b = along_x + along_y, along_x - along_y
        a, b = (force_x + force_y) / 2, (force_x - force_y) / 2
    else:
        speed_a, speed_b = along_x, along_y
        a, b = force_x, force_y
    newton = container("N")
    return MotorForces(
        words.result(a + rotor * speed_a, newton),
        words.result(b + rotor * speed_b, newton),
        speed_a,
        speed_b,
    )


acceleration_of_motor = Formula(
    title="Acceleration that a motor's torque gives to its share of the load",
    equation="a = (T * r - F_f * r**2) / (m * r**2 + J)",
    where={
        "a": ("acceleration", "mm/s^2", "of the belt", "signed"),
        "T": ("motor_torque", "N*m", "at the shaft, after the margin was taken off"),
        "r": ("pitch_radius", "mm", "of the pulley, to the belt's cords"),
        "F_f": ("motor_friction", "N", "of the axis, that one motor overcomes", "zero"),
        "m": ("motor_mass", "kg", _PER_MOTOR),
        "J": ("rotor_inertia", "g*cm^2", "of the rotor alone"),
    },
    assumes=("idlers and belts weigh little", "the torque is there at the speed that is meant"),
    source="Newton's second law for belt and rotor together",
    example=Example(
        {
            "motor_torque": "0.1 N*m",
            "pitch_radius": "6.366 mm",
            "motor_friction": "2 N",
            "motor_mass": "0.65 kg",
            "rotor_inertia": "54 g*cm^2",
        },
        "17502 mm/s^2",
        1e-4,
        "by hand: 0.1 / 0.006366 = 15.7084 N; less 2 is 13.7084 N; 54e-7 / 0.006366**2 = 0.133247 "
        "kg; 13.7084 / 0.783247 = 17.502",
        brackets={"pitch_radius": ("3 mm", "20 mm")},
    ),
)

best_pitch_radius = Formula(
    title="Pitch radius at which a motor accelerates its load most",
    equation="r = (sqrt((F_f * J)**2 + T**2 * m * J) - F_f * J) / (T * m)",
    where={
        "r": ("pitch_radius", "mm", "of the pulley, to the belt's cords"),
        "F_f": ("motor_friction", "N", "of the axis, that one motor overcomes", "zero"),
        "J": ("rotor_inertia", "g*cm^2", "of the rotor alone"),
        "T": ("motor_torque", "N*m", "at the shaft, the same at any radius"),
        "m": ("motor_mass", "kg", _PER_MOTOR),
    },
    assumes=(
        "the torque does not fall with speed: a smaller pulley turns faster, and may meet the "
        "supply's limit",
        "without friction the rotor then weighs as much as the load, felt at the belt",
    ),
    source="The acceleration of belt and rotor, put to a slope of zero over the radius",
    example=Example(
        {
            "motor_friction": "2 N",
            "rotor_inertia": "54 g*cm^2",
            "motor_torque": "0.1 N*m",
            "motor_mass": "0.65 kg",
        },
        "2.72095 mm",
        2e-5,
        "by hand: F J = 1.08e-5; its square 1.1664e-10; 0.01 * 0.65 * 5.4e-6 = 3.51e-8; the root "
        "of both 1.876610e-4; less 1.08e-5 is 1.768610e-4; over 0.065",
    ),
)
