"""Programs of a coupon sheet: the one that burns it, and the outline to run before."""

from __future__ import annotations

from typing import Any, Final

import attrs
import numpy as np

from mathlib import units
from mathlib.laser import observed
from mathlib.measure.coupon_gate import against, refuse, single
from mathlib.measure.coupon_plan import Piece, Plan
from mathlib.paths import rs274
from mathlib.paths.beam_control import BeamControl
from mathlib.paths.rs274 import Stroke
from mathlib.safety import cautions, wording

_OUTLINE_SPEED: Final = 20.0


def to_rs274(plan: Plan, machine: Any, supervised: bool) -> str:
    """Write the program that burns a plan, in the words of ISO 6983 (RS-274).

    The sheet lies with its left front corner in that corner of the work area, its grain along x.

    Parameters
    ----------
    plan : Plan
        As ``coupons.plan`` gives it.
    machine : Machine
        With the hazard page's inputs, and ``[beam_control]`` as found out on the machine.
    supervised : bool
        True confirms that somebody who knows the machine stays beside it.

    Returns
    -------
    str
        The program, one block on a line.

    Raises
    ------
    NeverProcess
        The material is never to be processed.
    ValueRefused
        All reasons against it at once: what is not confirmed or not stated, eyewear that does not
        suit, a beam that stays on when a program stops, a plan that does not fit the machine.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> from mathlib.measure.coupon_plan import plan
    >>> mine = load(TAGMAKER)
    >>> made = plan("birch plywood", "3 mm", mine.heads.laser, mine, seed=1)
    >>> to_rs274(made, mine, supervised=True).splitlines()[0]
    'G17 G21 G90 G94 M5 S0'

    """
    control, travel = _program("Coupon program", plan, machine, supervised)
    return rs274.write([_stroke(p) for p in plan.pieces], control, travel, _header(plan, control))


def beam_off_outline(plan: Plan, machine: Any, supervised: bool) -> str:
    """Write the program to run first: round the sheet's lines and along each, the beam never on.

    Takes and refuses what ``to_rs274`` does.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> from mathlib.measure.coupon_plan import plan
    >>> mine = load(TAGMAKER)
    >>> made = plan("birch plywood", "3 mm", mine.heads.laser, mine, seed=1)
    >>> written = beam_off_outline(made, mine, supervised=True)
    >>> "M3" in written or "M4" in written
    False

    """
    control, travel = _program("Coupon outline", plan, machine, supervised)
    header = [
        "OUTLINE OF THE COUPONS, THE BEAM OFF: RUN THIS FIRST, THE LASER'S SUPPLY UNPLUGGED.",
        "See that nothing is hit, that all lines lie on the sheet, and that the sheet lies flat "
        "and is held down.",
        *sheet(plan),
        cautions.MOVING,
    ]
    speed = min(_OUTLINE_SPEED, single(machine.job.speed, "mm/s"))
    strokes = [_stroke(p) for p in plan.pieces]
    return rs274.outline(strokes, control, travel, header, speed)


def _program(
    who: str, plan: Plan, machine: Any, supervised: bool
) -> tuple[BeamControl, tuple[float, float]]:
    """Control and work area of a machine, once nothing stands against a program for it."""
    reasons = against(plan, machine, supervised)
    told: dict[str, Any] = {}
    control = _single(machine.beam_control or BeamControl(**told))
    if control.missing:
        reasons.append(
            f"[beam_control] of the machine file does not state {', '.join(control.missing)}: "
            "find it out on the machine, the laser's supply unplugged, and write it down."
        )
    if control.against:
        reasons.append(
            f"[beam_control] says that the beam stays on {' and '.join(control.against)}: let "
            "hardware take it away then, try that, and state what you found."
        )
    refuse(who, reasons)
    width, depth = (single(value, "mm") for value in _travel(machine))
    return control, (width, depth)


def _single(control: BeamControl) -> BeamControl:
    """Give the middle of each value, which matters where it is drawn."""
    record: Any = control
    told = {field.name: getattr(record, field.name) for field in attrs.fields(type(record))}
    found: BeamControl = attrs.evolve(
        record,
        **{
            word: units.quantity(float(np.median(value.magnitude)), value._units)
            for word, value in told.items()
            if isinstance(value, units.QUANTITY)
        },
    )
    return found


def _travel(machine: Any) -> tuple[Any, Any]:
    return machine.machine.travel_x, machine.machine.travel_y


def _stroke(piece: Piece) -> Stroke:
    start, first, last, end = piece.points
    times = "one pass" if piece.passes == 1 else f"{piece.passes} passes"
    return Stroke(
        start=start,
        first=first,
        last=last,
        end=end,
        speed=piece.speed,
        passes=piece.passes,
        label=f"line {piece.number}: {piece.kind}, {piece.grain} the grain, {times}",
    )


def sheet(plan: Plan) -> list[str]:
    """Say which sheet it is, and how it lies.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> from mathlib.measure.coupon_plan import plan
    >>> mine = load(TAGMAKER)
    >>> sheet(plan("birch plywood", "3 mm", mine.heads.laser, mine, seed=1))[0][:27]
    'Sheet: birch plywood, 3 mm,'

    """
    width, depth = plan.sheet.magnitude
    return [
        f"Sheet: {plan.material.name}, {units.show(plan.thickness, 3)}, at least {width:.0f} mm by "
        f"{depth:.0f} mm, its left front corner in that corner of the work area, grain along x. "
        "Focus half way down the sheet.",
        f"Measure its thickness in several places and its moisture; {len(plan.pieces)} lines, "
        f"seed {plan.seed}.",
    ]


def _header(plan: Plan, control: BeamControl) -> list[str]:
    follows = (
        "Power follows the speed of the head"
        if control.power_follows_speed == "yes"
        else "Power does not follow the speed of the head"
    )
    light = observed.light_of(single(plan.beam.wavelength, "m"))
    return [
        "COUPONS. FIRST RUN WITH THE LASER'S SUPPLY UNPLUGGED, after the outline file.",
        *sheet(plan),
        f"All lines at full power, {units.show(plan.power, 3)} of light as stated. {follows}; the "
        "beam is off in run-ups.",
        "As stated, the beam goes off on pause, at an alarm and when the link breaks: try each "
        "before the first beam.",
        *cautions.LASER,
        cautions.MOVING,
        *(cautions.TUBE if light == "tube" else ()),
        *plan.cautions,
        wording.PREVAIL,
    ]
