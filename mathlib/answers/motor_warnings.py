"""What to take care of when a motor is chosen from its nameplate."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from mathlib.answers import Values, percent, ratio, share, tell
from mathlib.answers.motor_torque import ENOUGH, enough, measured
from mathlib.units import Q

if TYPE_CHECKING:
    from mathlib.machine import Machine


def warnings(
    machine: Machine, drawn: Values, named: tuple[tuple[str, str], ...]
) -> tuple[str, ...]:
    """All that a reader should take care of; ``named`` has name and prefix of each motor."""
    found = []
    motors = {p: machine.other_motor if p else machine.motor for _, p in named}
    if not all(m is not None and measured(machine, m) for m in motors.values()):
        found.append(
            "Torque at speed is worked out from the nameplate and taken down by what printed "
            "curves of other, larger 1.8° motors leave of it. None was found for a 0.9° motor: "
            f"there it is an extrapolation, and below a margin of {ENOUGH:g} nothing can be told. "
            "Do the pull test, warm."
        )
        found.append(
            "Makers rarely say whether a rated current is rms or peak. If your sheet means peak, "
            "its rms is 71 % of the number, and so is what your driver should be set to."
        )
    for name, prefix in named:
        slips = share(np.isnan(drawn[f"{prefix}acceleration_lag"].magnitude))
        if slips > 0.01:
            found.append(
                f"The {name} motor slips at this acceleration in {percent(slips)} of cases."
            )
        rate = drawn[f"{prefix}step_rate_diagonal"].to("step/s").magnitude
        if share(rate > machine.controller.highest_step_rate.magnitude) > 0:
            found.append(
                f"The {name} motor needs {tell(Q(rate, 'step/s'))} at the job's speed, more than "
                f"the controller's {tell(machine.controller.highest_step_rate)}."
            )
        motor = motors[prefix]
        assert motor is not None
        if motor.pull_out is not None:
            found += [
                f"Measured curve of the {name} motor: {note}." for note in motor.pull_out.notes
            ]
        if f"{prefix}torque_needed_knife" in drawn:
            margin = drawn[f"{prefix}margin_at_speed"] * ratio(
                drawn[f"{prefix}torque_needed"], drawn[f"{prefix}torque_needed_knife"]
            )
            if share(margin.magnitude < enough(machine, motor)) > 0.5:
                found.append(
                    f"With the knife on and dragging the {name} motor has {tell(margin, 2)} times "
                    "the torque needed at the job's speed: cut more slowly, or test it."
                )
    set_current, rated = machine.controller.set_current, machine.motor.rated_current
    if share(set_current.magnitude > rated.magnitude) > 0:
        found.append(
            "The set current is above the motor's rated current (rms): the motor overheats, and "
            "saturation gives less torque than counted here. Lower it before you believe any of "
            "these margins."
        )
    return tuple(found)
