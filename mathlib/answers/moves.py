"""How long does the job take?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from mathlib.answers import (
    Answer,
    Values,
    evaluate,
    motor,
    motor_torque,
    percent,
    settled,
    share,
    sources_of,
    tell,
)
from mathlib.fields import in_unit_of
from mathlib.motion import belts, gantries, moves, steppers
from mathlib.units import Q, Quantity
from mathlib.words import Word

if TYPE_CHECKING:
    from mathlib.machine import Machine
    from mathlib.motion.moves import Plan
    from mathlib.paths import Path

#: Width and height of the filled area that is timed where nobody says another.
TAG: Final = ("80 mm", "20 mm")
_NEAR: Final = 0.02  # a speed as near to the best one costs 0.02 % of the time

_ABOUT: Final = {
    "width": "of the filled area, along the lines",
    "height": "of the filled area, across the lines",
    "raster_time": "of the area at the job's speed, turning round included",
    "naive_time": "length over speed: what forgets turning round",
    "turning_share": "part of the time in which nothing is marked",
    "run_up": "before each line, and as much after it",
    "room": "along x that the lines take with run-up and run-out",
    "fastest_raster_speed": "beyond which a faster raster takes longer",
    "least_time": "of the area at that speed, if motors and room allow it",
    "stepped_speed": "highest along x that the controller's steps allow",
}


def values(machine: Machine, width: Any = TAG[0], height: Any = TAG[1]) -> Values:
    """All values for a filled area of this size, its lines along x."""
    job = machine.job
    width = in_unit_of(Word("width", "mm", _ABOUT["width"]), width)
    height = in_unit_of(Word("height", "mm", _ABOUT["height"]), height)
    line = moves.raster_line_time(width=width, speed=job.speed, acceleration=job.acceleration)
    ends = moves.run_up(speed=job.speed, acceleration=job.acceleration)
    best = moves.fastest_raster_speed(acceleration=job.acceleration, width=width)
    return {
        "width": width,
        "height": height,
        "raster_time": time_at(machine, width, height, job.speed),
        "naive_time": moves.naive_raster_time(
            width=width, height=height, line_spacing=job.line_spacing, speed=job.speed
        ),
        "turning_share": 1 - (width / job.speed / line).to("1"),
        "run_up": ends,
        "room": width + 2 * ends,
        "fastest_raster_speed": best,
        "least_time": time_at(machine, width, height, best),
        "stepped_speed": stepped_speed(machine, "0 deg"),
    }


def time_at(machine: Machine, width: Any, height: Any, speed: Any) -> Quantity:
    """Time of a filled area at a speed, with the job's acceleration and line spacing."""
    found: Quantity = moves.raster_time(
        width=width,
        height=height,
        line_spacing=machine.job.line_spacing,
        speed=speed,
        acceleration=machine.job.acceleration,
    )
    return found


def _belt_speed(machine: Machine) -> Quantity:
    """Belt speed at the controller's highest step rate."""
    per_length = belts.steps_per_length(
        full_steps=steppers.full_steps(machine.motor),
        microsteps=machine.controller.microsteps,
        pitch=machine.belt.pitch,
        teeth=machine.pulley.teeth,
    )
    return steppers.step_rate.solve(
        "speed", step_rate=machine.controller.highest_step_rate, steps_per_length=per_length
    )


def stepped_speed(machine: Machine, direction: Any) -> Quantity:
    """Highest speed of the head in a direction, in the middle, that the steps allow."""
    layout = machine.layout
    return gantries.gantry(layout).fastest_speed(
        _belt_speed(machine), direction, layout.travel_x / 2, layout.travel_y / 2
    )


def along(machine: Machine, path: Path, **more: Any) -> Plan:
    """Plan a path at the job's speed and acceleration, corners within the work's accuracy.

    ``more`` goes to ``motion.moves.plan``: travel_speed, look_ahead, pause. Where the controller
    cannot send steps fast enough in the direction of a segment, that segment is slower.
    """
    fixed = machine.typical()
    most = moves.belt_limited_speed(path, gantries.gantry(fixed.layout), _belt_speed(fixed))
    wanted = np.minimum(most.magnitude, fixed.job.speed.to("mm/s").magnitude)
    found: Plan = moves.plan(
        path=path,
        speed=Q(wanted, "mm/s"),
        acceleration=fixed.job.acceleration,
        deviation=fixed.job.accuracy,
        **more,
    )
    return found


class WithMotor(NamedTuple):
    """What a motor makes of the job: its speed with margin, and the least time below it.

    ``limit`` is None where nothing within reason ends the margin; ``speed`` and ``time`` are None
    where the motor has no margin at any speed.
    """

    name: str
    limit: Quantity | None
    speed: Quantity | None
    time: Quantity | None


def by_motor(machine: Machine, width: Any = TAG[0], height: Any = TAG[1]) -> list[WithMotor]:
    """Least time of the area with each motor of the file, where its margin is enough."""
    if machine.draws:
        return []
    fixed = machine.typical()
    found, told = motor.answer(fixed), []
    best = values(fixed, width, height)["fastest_raster_speed"]
    for prefix, ending, made in (
        ("", "", fixed.motor),
        ("other_", "_other_motor", fixed.other_motor),
    ):
        if made is None:
            continue
        name = f"{tell(made.step_angle).replace(' deg', '°')} motor"
        limit = found.flips_at.get(f"speed{ending}")
        margin = float(found.values[f"{prefix}margin_at_speed"].magnitude)
        enough = margin >= motor_torque.enough(fixed, made)
        if limit is None and not enough:
            told.append(WithMotor(name, None, None, None))
            continue
        speed = best if limit is None else min(best, limit)
        told.append(WithMotor(name, limit, speed, time_at(fixed, width, height, speed)))
    return told


def spoken(time: Quantity) -> str:
    """Write a time as people say it: seconds, minutes or hours.

    >>> spoken(Q("150 s"))
    '2.5 min'
    """
    seconds = float(np.median(time.to("s").magnitude))
    for unit, size in (("s", 120.0), ("min", 7200.0)):
        if seconds < size:
            return tell(Q(seconds, "s").to(unit), 3)
    return tell(Q(seconds, "s").to("hour"), 3)


def answer(machine: Machine, width: Any = TAG[0], height: Any = TAG[1]) -> Answer:
    """Time a filled area of this size: at the job's speed, at the quickest, with each motor."""
    typical, drawn, ends = evaluate(machine, lambda m: values(m, width, height))
    below = drawn["fastest_raster_speed"].magnitude > machine.job.speed.to("mm/s").magnitude
    best = typical["fastest_raster_speed"]
    verdict = (
        f"An area of {tell(typical['width'])} by {tell(typical['height'])}, filled with lines "
        f"{tell(machine.job.line_spacing)} apart, takes {spoken(typical['raster_time'])} at "
        f"{tell(machine.job.speed)}. Length over speed says {spoken(typical['naive_time'])}; "
        f"{percent(typical['turning_share'].magnitude)} of the time goes into turning round. "
    )
    ratio = float(np.median((machine.job.speed / best).to("1").magnitude))
    if abs(ratio - 1) < _NEAR:
        verdict += "No other speed is quicker."
    elif share(below) > 0.5:
        verdict += (
            f"A higher speed shortens it up to {tell(best)}, to {spoken(typical['least_time'])}; "
            "beyond that a faster raster takes longer."
        )
    else:
        verdict += (
            f"That is too fast to be quick: at {tell(best)} it takes "
            f"{spoken(typical['least_time'])}."
        )
    verdict += _motors(machine, best, width, height)
    return Answer(
        asked="How long does the job take?",
        values=typical,
        verdict=verdict,
        decided_by="the time on the lines, W / v, against the time of turning round, 2 v / a",
        flips_at={"speed": best},
        certain=settled(below),
        warnings=_warnings(machine, typical),
        sources=(
            *sources_of(machine, "job"),
            "ramps of constant acceleration beyond both ends of each line; what a controller adds "
            "at each end is not counted",
        ),
        measure_next="Time fifty lines with a stopwatch: what the controller adds shows there.",
        ranges=ends,
        about=_ABOUT,
    )


def _motors(machine: Machine, best: Quantity, width: Any, height: Any) -> str:
    """Say which motor has margin at the best speed, and how far the others get."""
    able, told = [], ""
    for name, limit, speed, time in by_motor(machine, width, height):
        if speed is None or time is None:
            told += f" The {name} has no margin at any speed with this acceleration."
        elif limit is not None and limit < best:
            told += f" The {name} has margin only up to {tell(limit)}: {spoken(time)} at best."
        else:
            able.append(f"the {name}")
    if able:
        has = "have" if len(able) > 1 else "has"
        told = f" At {tell(best)} {' and '.join(able)} {has} margin.{told}"
    return told


def _warnings(machine: Machine, typical: Values) -> tuple[str, ...]:
    found = []
    job, work = machine.job, machine.machine
    if share(typical["room"].magnitude > work.travel_x.magnitude) > 0.5:
        found.append(
            f"Lines and run-ups take {tell(typical['room'])} along x and the head has "
            f"{tell(work.travel_x)}: the ends of the lines would be marked below speed, darker."
        )
    if share(typical["height"].magnitude > work.travel_y.magnitude) > 0.5:
        found.append("The area is higher than the travel along y.")
    if share(job.speed.magnitude > typical["stepped_speed"].magnitude) > 0.5:
        found.append(
            f"The controller's steps allow {tell(typical['stepped_speed'])} along x, less than the "
            "job's speed: coarser microsteps need fewer."
        )
    return tuple(found)
