"""Which motor?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from mathlib.answers import (
    Answer,
    Values,
    evaluate,
    flip,
    percent,
    settled,
    share,
    sources_of,
    tell,
)
from mathlib.motion import belts, derating, drive, pull_out, steppers
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.formula import Formula
    from mathlib.machine import Machine
    from mathlib.motion.steppers import Motor

STEP_ACCURACY = "5 %"  # of a full step, not cumulative, as motor makers print it
ENOUGH = 2.0  # torque margin at speed below which the nameplate cannot tell

_ABOUT = {
    "step": "belt travel of one full step",
    "step_error": "band of step accuracy at the belt, either way, 5 % of a full step",
    "lag": "of the belt under friction; on reversal the path shows twice this",
    "acceleration_lag": "of the belt while it accelerates along y, the heavier axis",
    "position_error": "step error and acceleration lag together, at worst",
    "torque_margin": "holding torque over what the job's acceleration asks, at low speed",
    "torque_at_speed": "to expect at the motor's fastest turn in this job, below the ideal bound",
    "torque_needed": "for the job's acceleration where a motor works hardest",
    "margin_at_speed": "torque to expect over torque needed, at the motor's fastest turn",
    "rotor_frequency": "of the rotor on its magnetic spring, with the mass that it moves",
    "magnetic_stiffness": "of the motor's magnetic spring at the belt",
    "step_rate": "for one motor at the job's speed along an axis",
    "step_rate_diagonal": "the same at 45 deg, where one motor of crossed belts runs √2 faster",
}


def values(machine: Machine, motor: Motor) -> Values:
    """All values for one of the two motors in this machine."""
    radius = _radius(machine)
    full_steps = steppers.full_steps(motor)
    teeth = steppers.rotor_teeth(motor)
    per_length = belts.steps_per_length(
        full_steps=full_steps,
        microsteps=machine.controller.microsteps,
        pitch=machine.belt.pitch,
        teeth=machine.pulley.teeth,
    )
    told: dict[str, Any] = {
        "motor": motor,
        "set_current": machine.controller.set_current,
        "pitch_radius": radius,
        "gantry": machine.machine.belts,
        "mass": machine.masses[1],
        "friction": machine.carriage.friction,
    }
    slow = drive.motor_load(acceleration="0 mm/s^2", **told)
    fast = drive.motor_load(acceleration=machine.job.acceleration, **told)
    step_error = steppers.step_accuracy_at_belt(
        step_accuracy=STEP_ACCURACY, step_angle=motor.step_angle, pitch_radius=radius
    )
    rate = steppers.step_rate(speed=machine.job.speed, steps_per_length=per_length)
    moved = machine.masses[1] / drive.motors_pulling(machine.machine.belts)
    at_speed = torque_at_speed(machine, motor, machine.job.speed * fastest(machine))
    hardest = drive.belt_torque(
        belt_force=_hardest(machine)(**_hardest_words(machine, motor)), pitch_radius=radius
    )
    return {
        "step": machine.belt.pitch * (machine.pulley.teeth / full_steps).magnitude,
        "step_error": step_error,
        "lag": slow.lag,
        "acceleration_lag": fast.lag,
        "position_error": step_error + fast.lag,
        "torque_margin": drive.torque_margin(
            holding_torque=fast.holding_torque, load_torque=fast.torque
        ),
        "torque_at_speed": at_speed,
        "torque_needed": hardest,
        "margin_at_speed": at_speed / hardest,
        "rotor_frequency": steppers.rotor_frequency(
            rotor_teeth=teeth,
            holding_torque=fast.holding_torque,
            inertia=steppers.loaded_inertia(
                rotor_inertia=motor.rotor_inertia, mass=moved, pitch_radius=radius
            ),
        ),
        "magnetic_stiffness": steppers.magnetic_stiffness(
            rotor_teeth=teeth, holding_torque=fast.holding_torque, pitch_radius=radius
        ),
        "step_rate": rate,
        "step_rate_diagonal": rate * fastest(machine),
    }


def _radius(machine: Machine) -> Quantity:
    return drive.pitch_radius(pitch=machine.belt.pitch, teeth=machine.pulley.teeth)


def _diagonal(machine: Machine) -> bool:
    """Whether one motor alone moves the head along a diagonal."""
    return machine.machine.belts in ("crossed", "single")


def fastest(machine: Machine) -> float:
    """How much faster than the head the faster motor runs, in the worst direction."""
    return float(np.sqrt(2.0)) if _diagonal(machine) else 1.0


def _hardest(machine: Machine) -> Formula:
    """Force of a motor where it works hardest: along a diagonal, or along y."""
    return drive.diagonal_force if _diagonal(machine) else drive.axis_force


def _hardest_words(machine: Machine, motor: Motor) -> dict[str, Any]:
    """Gather what that formula takes."""
    told: dict[str, Any] = {
        "acceleration": machine.job.acceleration,
        "friction": machine.carriage.friction,
        "reflected_mass": steppers.reflected_mass(
            inertia=motor.rotor_inertia, pitch_radius=_radius(machine)
        ),
    }
    if _diagonal(machine):
        return told | dict(zip(("mass_x", "mass_y"), machine.masses, strict=True))
    return told | {"mass": machine.masses[1], "motors": 1}


def torque_at_speed(
    machine: Machine, motor: Motor, speed: Quantity, normal: float = 0.0
) -> Quantity:
    """Pull-out torque to expect at a belt speed; of a drawn machine with its share drawn too.

    ``normal`` is the deviate of a machine that is not drawn, 0 for the typical one.
    """
    turning = belts.belt_speed_of_shaft.solve(
        "shaft_speed", belt_speed=speed, pitch_diameter=2.0 * _radius(machine)
    )
    bound = pull_out.pull_out_torque(
        motor, turning, machine.supply.voltage, current_rms=machine.controller.set_current
    )
    cycles = pull_out.electrical_frequency(
        rotor_teeth=steppers.rotor_teeth(motor), shaft_speed=turning
    )
    part = derating.derating(cycles, _deviates(machine, motor) if machine.draws else normal)
    found: Quantity = bound * part
    return found


def _deviates(machine: Machine, motor: Motor) -> np.ndarray:
    """How far below the bound each drawn machine's motor stays.

    Half of the variance is shared by both motors (driver, supply), half is each motor's own: a
    0.9 deg motor need not fall short as its twin does.
    """
    own = int(1000 * float(np.median(motor.step_angle.to("deg").magnitude)))
    seeds = ([_DERATED, machine.seed], [_DERATED, machine.seed, own])
    shared, alone = (np.random.default_rng(s).standard_normal(machine.draws) for s in seeds)
    both: np.ndarray = (shared + alone) / np.sqrt(2.0)
    return both


_DERATED = 311  # a seed of its own, so that no range of the file shares its draws


def answer(machine: Machine) -> Answer:
    """Compare the machine's motor with the other one of its file, or of its row's pair."""
    typical, drawn, ends = evaluate(machine, lambda m: _both(m))
    if machine.other_motor is None:
        return _alone(machine, typical, drawn, ends)
    own, other = _name(machine.motor), _name(machine.other_motor)
    finer = _can(machine, drawn, "") & (
        (drawn["position_error"].magnitude <= drawn["other_position_error"].magnitude)
        | ~_can(machine, drawn, "other_")
    )
    neither = ~_can(machine, drawn, "") & ~_can(machine, drawn, "other_")
    certain = settled(finer) and share(neither) < 0.1
    better = own if share(finer) > 0.5 else other
    told = (
        f"At worst the {own} motor {_places(typical['position_error'])} and the {other} motor "
        f"{_places(typical['other_position_error'])}, where the work needs "
        f"{tell(machine.job.accuracy)}."
    )
    limits = []
    for name, prefix in ((own, ""), (other, "other_")):
        why = _stopped(machine, typical, prefix)
        if why:
            limits.append(f"the {name} motor {why}")
    because = f" Here {' and '.join(limits)}." if limits else ""
    if share(neither) >= 0.1:
        verdict = (
            f"{told} Neither can be chosen from the nameplate: {percent(share(neither))} of the "
            f"drawn machines can use neither.{because} Do the pull test at speed before you order."
        )
    elif not certain:
        verdict = (
            f"{told} Which is better cannot be told yet: the {own} motor is the better choice in "
            f"{percent(share(finer))} of the drawn machines.{because} Do the pull test at speed, "
            "measure friction and weigh what moves."
        )
    else:
        verdict = f"{told} {_taken(machine, typical, drawn, better, better == own)}{because}"
    return Answer(
        asked=f"Which motor, {own} or {other}?",
        values=typical,
        verdict=verdict,
        decided_by="step error and acceleration lag together, of motors with margin at speed",
        flips_at=_flips(machine, typical),
        certain=certain,
        warnings=(*_twin(machine), *_warnings(machine, drawn, own, other)),
        sources=(*sources_of(machine, "motor", "other_motor", "carriage", "beam"), *_SOURCES),
        measure_next=(
            "Pull test: run the axis at the job's speed against a spring scale until steps are "
            "lost, motor warm; weigh carriage, head and beam."
        ),
        ranges=ends,
        about={f"{p}{w}": a for p in ("", "other_") for w, a in _ABOUT.items()},
    )


_SOURCES = (
    "step accuracy 5 % of a full step: motor makers' data sheets, not cumulative",
    f"torque at speed: Acarnley, Stepping Motors, phasors; estimate: {derating.DERATING_SOURCE}",
)


def _both(machine: Machine) -> Values:
    own = values(machine, machine.motor)
    if machine.other_motor is None:
        return own
    other = values(machine, machine.other_motor)
    return own | {f"other_{word}": value for word, value in other.items()}


def _name(motor: Motor) -> str:
    return tell(motor.step_angle).replace(" deg", "°")


def _places(error: Quantity) -> str:
    """Say how closely a motor places the belt, or that it slips."""
    slips = bool(np.all(np.isnan(error.magnitude)))
    return "slips" if slips else f"places the belt within {tell(error)}"


def _can(machine: Machine, drawn: Values, prefix: str) -> np.ndarray:
    """Elementwise: margin enough, and the controller can send the steps."""
    rate = drawn[f"{prefix}step_rate_diagonal"].to("step/s").magnitude
    sends = rate <= machine.controller.highest_step_rate.magnitude
    return np.asarray((drawn[f"{prefix}margin_at_speed"].magnitude >= ENOUGH) & sends)


def _gain(gap: np.ndarray, own: bool) -> float:
    """How many times as good the better motor is, where both hold."""
    return float(np.nanmedian(gap if own else 1 / gap))


def _stopped(machine: Machine, typical: Values, prefix: str) -> str:
    """Say what keeps a motor from this job, or nothing."""
    rate = typical[f"{prefix}step_rate_diagonal"]
    most = machine.controller.highest_step_rate
    if share(rate.magnitude > most.magnitude) > 0.5:
        return (
            f"would need {tell(rate)}, and the controller sends {tell(most)}; coarser microsteps "
            "need fewer"
        )
    margin = typical[f"{prefix}margin_at_speed"]
    if share(margin.magnitude < ENOUGH) > 0.5:
        return f"has {tell(margin, 2)} times the torque that the job asks at its speed"
    return ""


def _taken(machine: Machine, typical: Values, drawn: Values, better: str, own: bool) -> str:
    """Say why the better motor is taken."""
    gap = drawn["other_position_error"].magnitude / drawn["position_error"].magnitude
    gain = np.nan if np.all(np.isnan(gap)) else _gain(gap, own)
    margin = typical["margin_at_speed" if own else "other_margin_at_speed"]
    keeps = (
        f"The {better} motor has {tell(margin, 2)} times the torque that the job asks at its speed."
    )
    if gain < 1:  # the finer one is out for another reason
        return f"Take the {better} motor, although it is the coarser one. {keeps}"
    times = "" if np.isnan(gain) else f", {gain:.2g} times as good"
    return f"Take the {better} motor for position{times}. {_shows(machine, drawn)} {keeps}"


def _shows(machine: Machine, drawn: Values) -> str:
    """Say whether the motor's share of the error shows in the work at all."""
    worse = np.maximum(drawn["position_error"].magnitude, drawn["other_position_error"].magnitude)
    if np.all(np.isnan(worse)):
        return "The other one slips at this acceleration."
    part = float(np.nanmedian(worse)) / float(np.median(machine.job.accuracy.magnitude))
    if part < 1 / 3:
        return (
            f"It hardly shows: even the worse motor uses {percent(part)} of what the work allows."
        )
    return f"The difference shows: the worse motor uses {percent(part)} of what the work allows."


def _flips(machine: Machine, typical: Values) -> Values:
    """Acceleration, and speed, at which each motor's margin at speed falls to what is enough."""
    found = {}
    fixed = machine.typical()
    for ending, prefix, motor in (
        ("", "", fixed.motor),
        ("_other_motor", "other_", fixed.other_motor),
    ):
        if motor is None:
            continue
        told = _hardest_words(fixed, motor)
        del told["acceleration"]
        force = typical[f"{prefix}torque_at_speed"] / ENOUGH / _radius(fixed)

        def at_margin(force: Quantity = force, told: dict[str, Any] = told) -> Quantity:
            return _hardest(fixed).solve("acceleration", belt_force=force, **told)

        for word, value in (
            ("acceleration", flip(at_margin)),
            ("speed", _speed_at_margin(fixed, motor)),
        ):
            if value is not None:
                found[f"{word}{ending}"] = value
    return found


def _speed_at_margin(machine: Machine, motor: Motor) -> Quantity | None:
    """Speed of the head at which torque or steps are no longer enough, or None."""
    if machine.draws:
        return None
    values_at = values(machine, motor)
    load = values_at["torque_needed"].to("N*m").magnitude
    speeds = np.geomspace(1.0, 10_000.0, 4001)  # mm/s, 0.25 % apart
    belt = Q(speeds * fastest(machine), "mm/s")
    torque = torque_at_speed(machine, motor, belt).to("N*m").magnitude
    sent = speeds * (values_at["step_rate_diagonal"] / machine.job.speed).to("step/mm").magnitude
    enough = (torque >= ENOUGH * load) & (sent <= machine.controller.highest_step_rate.magnitude)
    if not enough[0] or enough[-1]:
        return None
    return Q(speeds[int(np.argmin(enough))], "mm/s")


def _twin(machine: Machine) -> tuple[str, ...]:
    """Name the other motor where the file does not."""
    row = machine.contents.sources.get("other_motor.like")
    if "other_motor" in machine.contents.values or row is None:
        return ()
    return (
        f"The other motor is the twin of your row, {row!r}: your file names none. If you changed "
        "values of your own motor it need not be its twin; name one under [other_motor].",
    )


def _warnings(machine: Machine, drawn: Values, own: str, other: str) -> tuple[str, ...]:
    found = [
        "Torque at speed is worked out from the nameplate and taken down by what printed curves of "
        "other, larger 1.8° motors leave of it. For a 0.9° motor that is an extrapolation: below a "
        "margin of two do the pull test, warm."
    ]
    for prefix, name in (("", own), ("other_", other)):
        if f"{prefix}lag" not in drawn:
            continue
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
    set_current, rated = machine.controller.set_current, machine.motor.rated_current
    if share(set_current.magnitude > rated.magnitude) > 0:
        found.append(
            "The set current is above the motor's rated current (rms): the motor overheats, and "
            "saturation gives less torque than counted here. Lower it before you believe any of "
            "these margins."
        )
    return tuple(found)


def _alone(
    machine: Machine,
    typical: Values,
    drawn: Values,
    ends: dict[str, tuple[Quantity, Quantity]],
) -> Answer:
    """Judge one motor where the file has no other to compare."""
    enough = _can(machine, drawn, "")
    certain = settled(enough)
    name = _name(machine.motor)
    if not certain:
        verdict = "cannot be told from the nameplate: do the pull test."
    elif share(enough) > 0.5:
        verdict = "has margin enough at the job's speed."
    else:
        verdict = "lacks torque at the job's speed or asks for more steps than are sent."
    return Answer(
        asked=f"Is the {name} motor enough?",
        values=typical,
        verdict=f"The {name} motor {verdict} Add [other_motor] to compare with another.",
        decided_by="torque margin and step rate",
        flips_at=_flips(machine, typical),
        certain=certain,
        warnings=_warnings(machine, drawn, name, ""),
        sources=(*sources_of(machine, "motor", "carriage", "beam"), *_SOURCES),
        measure_next="Pull test at the job's speed, motor warm.",
        ranges=ends,
        about=_ABOUT,
    )
