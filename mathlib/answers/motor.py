"""Which motor?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import attrs
import numpy as np

from mathlib.answers import (
    Answer,
    Values,
    evaluate,
    motor_errors,
    percent,
    ratio,
    settled,
    share,
    sources_of,
    tell,
)
from mathlib.answers.motor_torque import ENOUGH as ENOUGH
from mathlib.answers.motor_torque import ENOUGH_MEASURED as ENOUGH_MEASURED
from mathlib.answers.motor_torque import Strength, enough, measured, torque_needed
from mathlib.answers.motor_torque import fastest as fastest
from mathlib.answers.motor_torque import torque_at_speed as torque_at_speed
from mathlib.answers.motor_values import ABOUT as _ABOUT
from mathlib.answers.motor_values import least_margin
from mathlib.answers.motor_values import values as values
from mathlib.answers.motor_warnings import warnings
from mathlib.motion import derating
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine
    from mathlib.motion.steppers import Motor

_FASTEST: Final = 9000.0  # mm/s; a limit beyond it is none for such a machine
SOURCES: Final = (
    "step accuracy 5 % of a full step: motor makers' data sheets, not cumulative",
    f"torque at speed: Acarnley, Stepping Motors, phasors; estimate: {derating.DERATING_SOURCE}",
)
_NEXT: Final = (
    "Pull test: motors warm, mark where the head starts, run the beam back and forth along y at "
    "the job's speed, hold it back with a spring scale, harder on each pass, until it misses its "
    "mark; warm and cold. Write the force under [pull_test]. And weigh what moves."
)


def answer(machine: Machine) -> Answer:
    """Compare the machine's motor with the other one of its file, or of its row's pair."""
    typical, drawn, ends = evaluate(machine, lambda m: _both(m))
    if machine.other_motor is None:
        return _alone(machine, typical, drawn, ends)
    own, other = name(machine.motor), name(machine.other_motor)
    finer = can(machine, drawn, "") & (
        (drawn["position_error"].magnitude <= drawn["other_position_error"].magnitude)
        | ~can(machine, drawn, "other_")
    )
    neither = ~can(machine, drawn, "") & ~can(machine, drawn, "other_")
    better_is_own = share(finer) > 0.5
    better, left, prefix = (own, other, "") if better_is_own else (other, own, "other_")
    # one that would place better, and may be strong enough, keeps the question open
    open_still = _open(machine, drawn, "" if prefix else "other_") and not _places_worse(
        drawn, "" if prefix else "other_"
    )
    certain = settled(finer) and share(neither) < 0.1 and not open_still
    told = (
        f"At worst the {own} motor {_places(typical['position_error'])} and the {other} motor "
        f"{_places(typical['other_position_error'])}; the work needs "
        f"{tell(machine.job.accuracy)}."
    )
    limits = []
    for each, start in ((own, ""), (other, "other_")):
        why = _stopped(machine, typical, start)
        if why:
            limits.append(f"the {each} motor {why}")
    because = f" Here {' and '.join(limits)}." if limits else ""
    if share(neither) >= 0.1:
        verdict = (
            f"{told} Neither can be chosen from the nameplate: {percent(share(neither))} of the "
            f"drawn machines can use neither.{because} {_either(machine, drawn, own, other)}"
        )
    elif open_still:
        verdict = (
            f"{told} Whether the {left} motor is strong enough at speed cannot be told from the "
            f"nameplate: do the pull test.{because} If you must order before: "
            f"{_taken(machine, typical, drawn, better, prefix)}"
        )
    elif not certain:
        verdict = (
            f"{told} Which is better cannot be told yet: the {own} motor is the better choice in "
            f"{percent(share(finer))} of the drawn machines.{because} Do the pull test at speed, "
            "measure friction and weigh what moves."
        )
    else:
        verdict = f"{told} {_taken(machine, typical, drawn, better, prefix)}{because}"
    return Answer(
        asked=f"Which motor, {own} or {other}?",
        values=typical,
        verdict=f"{verdict}{_limit(machine, typical, ends, prefix)}",
        decided_by="step error and acceleration lag together, of motors with margin at speed",
        flips_at=_flips(machine, typical),
        certain=certain,
        warnings=(*_twin(machine), *warnings(machine, drawn, ((own, ""), (other, "other_")))),
        sources=(
            *sources_of(machine, "motor", "other_motor", "carriage", "beam", "errors", "pull_test"),
            *SOURCES,
        ),
        measure_next=_NEXT,
        ranges=ends,
        about={f"{p}{w}": a for p in ("", "other_") for w, a in _ABOUT.items()},
    )


def _both(machine: Machine) -> Values:
    own = values(machine, machine.motor)
    if machine.other_motor is None:
        return own
    other = values(machine, machine.other_motor)
    return own | {f"other_{word}": value for word, value in other.items()}


def name(motor: Motor) -> str:
    """Write a motor's step angle, as people name it by."""
    return tell(motor.step_angle).replace(" deg", "°")


def _either(machine: Machine, drawn: Values, own: str, other: str) -> str:
    """Say what to do where neither motor can be chosen: what a test, or an easier job, may tell."""
    easier = "lower the speed or the acceleration"
    mine, theirs = (share(can(machine, drawn, p)) for p in ("", "other_"))
    if max(mine, theirs) < 0.1 and not any(_open(machine, drawn, p) for p in ("", "other_")):
        return f"{easier.capitalize()}, or ask again with other motors."
    nearer, most = (own, mine) if mine >= theirs else (other, theirs)
    return (
        f"The {nearer} motor is enough in {percent(most)} of them: do the pull test with it at "
        f"speed, or {easier}."
    )


def _motor(machine: Machine, prefix: str) -> Motor:
    found = machine.other_motor if prefix else machine.motor
    assert found is not None
    return found


def _places(error: Quantity) -> str:
    """Say how closely a motor places the belt, or that it slips."""
    slips = bool(np.all(np.isnan(error.magnitude)))
    return "slips" if slips else f"places the belt within {tell(error, 2)}"


def _sends(machine: Machine, drawn: Values, prefix: str) -> np.ndarray:
    rate = drawn[f"{prefix}step_rate_diagonal"].to("step/s").magnitude
    return np.asarray(rate <= machine.controller.highest_step_rate.magnitude)


def can(machine: Machine, drawn: Values, prefix: str) -> np.ndarray:
    """Elementwise: margin enough, and the controller can send the steps."""
    most = enough(machine, _motor(machine, prefix))
    strong = drawn[f"{prefix}margin_at_speed"].magnitude >= most
    return np.asarray(strong & _sends(machine, drawn, prefix))


def _open(machine: Machine, drawn: Values, prefix: str) -> bool:
    """Whether the nameplate leaves open that a motor is strong enough: by its bound it may be."""
    if measured(machine, _motor(machine, prefix)):
        return False
    least = drawn[f"{prefix}margin_at_speed"].magnitude
    may_be = ratio(drawn[f"{prefix}bound_at_speed"], drawn[f"{prefix}torque_needed"]) >= 1.0
    return share((least < ENOUGH) & may_be & _sends(machine, drawn, prefix)) > 0.5


def _places_worse(drawn: Values, prefix: str) -> bool:
    """Whether this motor places worse than the other one in most cases."""
    mine = drawn[f"{prefix}position_error"].magnitude
    theirs = drawn[f"{'' if prefix else 'other_'}position_error"].magnitude
    return share(mine > theirs) > 0.5


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
    if share(margin.magnitude >= enough(machine, _motor(machine, prefix))) > 0.5:
        return ""
    told = f"has {tell(margin, 2)} times the torque that the job asks at its speed"
    if measured(machine, _motor(machine, prefix)):
        return f"{told}, as measured; {ENOUGH_MEASURED:g} would be enough"
    top = ratio(typical[f"{prefix}bound_at_speed"], typical[f"{prefix}torque_needed"])
    if share(top < 1.0) > 0.5:
        return f"{told}, and even its ideal bound is too little"
    return told


def _taken(machine: Machine, typical: Values, drawn: Values, better: str, prefix: str) -> str:
    """Say why the better motor is taken."""
    gap = drawn["other_position_error"].magnitude / drawn["position_error"].magnitude
    gain = np.nan if np.all(np.isnan(gap)) else float(np.nanmedian(1 / gap if prefix else gap))
    margin = typical[f"{prefix}margin_at_speed"]
    keeps = (
        f"The {better} motor has {tell(margin, 2)} times the torque that the job asks at its speed."
    )
    if gain < 1:  # the finer one is out for another reason
        return f"Take the {better} motor, although it is the coarser one. {keeps}"
    times = "" if np.isnan(gain) else f", {gain:.2g} times as good"
    return f"Take the {better} motor for position{times}. {_shows(machine, typical)} {keeps}"


def _shows(machine: Machine, typical: Values) -> str:
    """Say whether the motor's share is the share that shows, among all errors of place."""
    whole, other = (typical[f"{p}place_error"] for p in ("", "other_"))
    if np.all(np.isnan(whole.magnitude)) or np.all(np.isnan(other.magnitude)):
        return "One of them slips at this acceleration."
    fixed = machine.typical()
    budget = motor_errors.budget(fixed, fixed.motor)
    largest = max(budget.shares, key=lambda n: float(np.nanmedian(budget.shares[n])))
    apart = float(np.nanmedian(abs(ratio(whole, other) - 1.0)))
    shows = "shows" if apart >= 0.1 else "hardly shows"
    own, second = name(machine.motor), name(_motor(machine, "other_"))
    within = f"{tell(whole, 2)} with either"
    if tell(whole, 2) != tell(other, 2):
        within = f"{tell(whole, 2)} with the {own} motor and {tell(other, 2)} with the {second} one"
    need = machine.job.accuracy.magnitude
    missed = min(share(e.magnitude > need) for e in (whole, other)) > 0.5
    return (
        f"The difference {shows}: all errors together leave the head within {within}"
        f"{', more than the work needs' if missed else ''}; the motor's own part is "
        f"{percent(typical['motor_part'].magnitude)} and "
        f"{percent(typical['other_motor_part'].magnitude)}, the largest is "
        f"{largest.replace('_', ' ')}."
    )


def _limit(
    machine: Machine,
    typical: Values,
    ends: dict[str, tuple[Quantity, Quantity]],
    prefix: str,
) -> str:
    """Say where the better motor's limit of speed lies, and whether the job lies inside it."""
    word = f"{prefix}highest_speed"
    if word not in ends:
        return ""
    (low, high), job = ends[word], machine.job.speed
    if share(typical[word].magnitude >= _FASTEST) > 0.5:
        return ""
    if not np.any(high.magnitude > 0):
        return f" The {name(_motor(machine, prefix))} motor has margin enough at no speed."
    if share(job > high) > 0.5:
        place = "above it"
    elif share(job >= low) > 0.5:
        place = "inside that uncertainty"
    else:
        place = "below it"
    return (
        f" The limit of the {name(_motor(machine, prefix))} motor lies between {tell(low)} and "
        f"{tell(high)}; the job's {tell(job)} lies {place}."
    )


def _flips(machine: Machine, typical: Values) -> Values:
    """Acceleration, speed, supply and mass at which each motor's margin is just enough."""
    found: Values = {}
    fixed = machine.typical()
    for ending, prefix, motor in (
        ("", "", fixed.motor),
        ("_other_motor", "other_", fixed.other_motor),
    ):
        if motor is None or fixed.draws:
            continue
        told: dict[str, Quantity | None] = {
            "acceleration": typical[f"{prefix}highest_acceleration"],
            "speed": typical[f"{prefix}highest_speed"],
            "supply_voltage": supply_at_margin(fixed, motor),
            "moved_mass": mass_at_margin(fixed, motor),
        }
        if typical[f"{prefix}highest_speed"].magnitude >= _FASTEST:
            del told["speed"]
        found |= {f"{word}{ending}": v for word, v in told.items() if v is not None and v > 0 * v}
    return found


def supply_at_margin(machine: Machine, motor: Motor) -> Quantity | None:
    """Lowest supply voltage at which the margin is enough; None where none or any is."""
    if motor.pull_out is not None:
        return None  # a curve holds for the supply at which it was measured
    volts = np.geomspace(1.0, 200.0, 1061)  # 0.5 % apart
    now: Any = machine.supply
    supply = attrs.evolve(now, voltage=Q(volts, "V"))
    strong = Strength(attrs.evolve(machine, supply=supply), motor, tested_on=machine)
    margin = least_margin(strong, torque_needed(machine, motor))
    fits = np.broadcast_to(margin.magnitude >= enough(machine, motor), volts.shape)
    if fits[0] or not fits[-1]:
        return None
    return Q(volts[int(np.argmax(fits))], "V")


def mass_at_margin(machine: Machine, motor: Motor) -> Quantity | None:
    """Mass moved along y at which the margin is just enough, for a heavier or lighter beam."""

    def needed(beam: Any) -> float:
        moving: Any = machine.beam
        changed = attrs.evolve(machine, beam=attrs.evolve(moving, mass=beam))
        return float(torque_needed(changed, motor).to("N*m").magnitude)

    now = machine.beam.mass
    here, more = needed(now), needed(now + Q("1 kg"))
    margin = least_margin(Strength(machine, motor), torque_needed(machine, motor)).magnitude
    limit = here * margin / enough(machine, motor)
    mass = machine.masses[1].to("kg").magnitude + (limit - here) / (more - here)
    return Q(float(mass), "kg") if mass > 0 else None


def _twin(machine: Machine) -> tuple[str, ...]:
    """Name the other motor where the file does not."""
    row = machine.contents.sources.get("other_motor.like")
    if "other_motor" in machine.contents.values or row is None:
        return ()
    return (
        f"The other motor is the twin of your row, {row!r}: your file names none. If you changed "
        "values of your own motor it need not be its twin; name one under [other_motor].",
    )


def _alone(
    machine: Machine,
    typical: Values,
    drawn: Values,
    ends: dict[str, tuple[Quantity, Quantity]],
) -> Answer:
    """Judge one motor where the file has no other to compare."""
    fits = can(machine, drawn, "")
    certain = settled(fits) and not _open(machine, drawn, "")
    own = name(machine.motor)
    if not certain:
        verdict = "cannot be told from the nameplate: do the pull test."
    elif share(fits) > 0.5:
        verdict = "has margin enough at the job's speed."
    else:
        verdict = "lacks torque at the job's speed or asks for more steps than are sent."
    return Answer(
        asked=f"Is the {own} motor enough?",
        values=typical,
        verdict=f"The {own} motor {verdict} Add [other_motor] to compare with another.",
        decided_by="torque margin and step rate",
        flips_at=_flips(machine, typical),
        certain=certain,
        warnings=warnings(machine, drawn, ((own, ""),)),
        sources=(
            *sources_of(machine, "motor", "carriage", "beam", "errors", "pull_test"),
            *SOURCES,
        ),
        measure_next=_NEXT,
        ranges=ends,
        about=_ABOUT,
    )
