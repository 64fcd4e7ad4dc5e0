"""Files of a coupon sheet: a drawing, the program that burns it, and the outline to run before.

None is written before the hazard page's inputs stand in the machine file and somebody confirms
that the machine will be supervised.
"""

from __future__ import annotations

from html import escape
from typing import Any, Final

import numpy as np

from mathlib import units
from mathlib.errors import ValueRefused
from mathlib.measure.coupon_plan import Piece, Plan, run_ups
from mathlib.paths import rs274
from mathlib.paths.beam_control import BeamControl
from mathlib.paths.rs274 import Stroke
from mathlib.safety import cautions, filters, wording

#: By how much light and wavelength of a planned head may exceed those of the machine's.
_MORE_LIGHT, _NM = 1.05, 15.0
_OUTLINE_SPEED: Final = 20.0
_UNCONFIRMED: Final = (
    "supervision is not confirmed: somebody who knows the machine stays beside it from the first "
    "line to half an hour after the last, with an extinguisher; then pass supervised=True."
)


def against(plan: Plan, machine: Any, supervised: bool) -> list[str]:
    """List the reasons against writing files that burn: what is not stated, or does not fit.

    Parameters
    ----------
    plan : Plan
        What is to be burned.
    machine : Machine
        With ``[heads.laser]``, ``[eyewear]`` and ``[room]``, as the hazard page asks.
    supervised : bool
        True if somebody who knows the machine stays beside it.

    Returns
    -------
    list of str
        Sentences; an empty list lifts the gate, and says nothing else.

    Raises
    ------
    NeverProcess
        The material is never to be processed.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> from mathlib.measure.coupon_plan import plan
    >>> mine = load(TAGMAKER)
    >>> made = plan("birch plywood", "3 mm", mine.heads.laser, mine, seed=1)
    >>> against(made, mine, supervised=False)[0].partition(":")[0]
    'supervision is not confirmed'

    """
    plan.material.for_processing(plan.supplier_sheet)
    own = machine.typical()
    head = own.heads.laser
    told = {"[heads.laser]": head, "[eyewear]": own.eyewear, "[room]": own.room}
    lacking = [name for name, value in told.items() if value is None]
    reasons = [] if supervised is True else [_UNCONFIRMED]
    if lacking:
        reasons.append(
            f"the machine file does not state {', '.join(lacking)}, which the hazard page asks "
            "for: state them, read that page, then come back."
        )
    if head is not None:
        reasons += _other_head(plan, head)
    if own.eyewear is not None:
        found = [*filters.suits(own.eyewear, plan.module)]
        if head is not None:
            found += [text for text in filters.suits(own.eyewear, head) if text not in found]
        reasons += [f"the eyewear does not suit: {text}" for text in found]
    return [*reasons, *_other_machine(plan, own)]


def _one(value: Any, unit: str) -> float:
    return float(np.median(value.to(unit).magnitude))


def _other_head(plan: Plan, head: Any) -> list[str]:
    """Say where the planned head is not the one that the hazard page was asked about."""
    more = _one(plan.power, "W") > _MORE_LIGHT * _one(head.optical_power, "W")
    light = abs(_one(plan.module.wavelength, "nm") - _one(head.wavelength, "nm")) > _NM
    if not more and not light:
        return []
    told = f"{units.show(plan.power, 3)} at {units.show(plan.module.wavelength, 4)}"
    own = f"{units.show(head.optical_power, 3)} at {units.show(head.wavelength, 4)}"
    return [
        f"the plan is for a head of {told}, and the machine file states {own}, for which the "
        "hazard page speaks: state the head that is mounted under [heads.laser]."
    ]


def _other_machine(plan: Plan, own: Any) -> list[str]:
    """Say where the plan asks for more than this machine does."""
    most, acceleration = _one(own.job.speed, "mm/s"), _one(own.job.acceleration, "mm/s^2")
    speeds = np.array([piece.speed for piece in plan.pieces])
    short = run_ups(speeds, acceleration) > np.array([piece.run for piece in plan.pieces]) + 1e-9
    reasons = []
    if np.any(speeds > most * (1 + 1e-9)):
        reasons.append(f"the plan asks for more than this machine's {most:.4g} mm/s.")
    if np.any(short):
        reasons.append("its run-ups are too short for this machine's acceleration: plan anew.")
    return reasons


def _refuse(who: str, reasons: list[str]) -> None:
    if reasons:
        raise ValueRefused(f"{who}: " + " ".join(reasons))


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
        *_sheet(plan),
        cautions.MOVING,
    ]
    speed = min(_OUTLINE_SPEED, _one(machine.job.speed, "mm/s"))
    strokes = [_stroke(p) for p in plan.pieces]
    return rs274.outline(strokes, control, travel, header, speed)


def _program(
    who: str, plan: Plan, machine: Any, supervised: bool
) -> tuple[BeamControl, tuple[float, float]]:
    """Control and work area of a machine, once nothing stands against a program for it."""
    reasons = against(plan, machine, supervised)
    told: dict[str, Any] = {}
    control: BeamControl = machine.beam_control or BeamControl(**told)
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
    _refuse(who, reasons)
    width, depth = (_one(value, "mm") for value in _travel(machine))
    return control, (width, depth)


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


def _sheet(plan: Plan) -> list[str]:
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
    return [
        "COUPONS. FIRST RUN WITH THE LASER'S SUPPLY UNPLUGGED, after the outline file.",
        *_sheet(plan),
        f"All lines at full power, {units.show(plan.power, 3)} of light as stated. {follows}; the "
        "beam is off in run-ups.",
        "As stated, the beam goes off on pause, at an alarm and when the link breaks: try each "
        "before the first beam.",
        *cautions.LASER,
        cautions.MOVING,
        *(cautions.TUBE if _one(plan.beam.wavelength, "um") > 2 else ()),
        *plan.cautions,
        wording.PREVAIL,
    ]


def to_svg(plan: Plan, supervised: bool = False) -> str:
    """Write the sheet as a drawing in mm: each line where its beam is on, with its number.

    One colour, for nothing is told by colours. Speeds and passes stand in it only where
    supervision is confirmed; until then it shows where the lines lie, and no more.

    Parameters
    ----------
    plan : Plan
        As ``coupons.plan`` gives it; its machine states the hazard page's inputs.
    supervised : bool
        True confirms that somebody who knows the machine stays beside it.

    Returns
    -------
    str
        An SVG, as large as the sheet.

    Raises
    ------
    NeverProcess
        The material is never to be processed.
    ValueRefused
        What the hazard page asks for is not stated, or does not suit.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> from mathlib.measure.coupon_plan import plan
    >>> mine = load(TAGMAKER)
    >>> to_svg(plan("birch plywood", "3 mm", mine.heads.laser, mine, seed=1)).count("<line")
    27

    """
    _refuse("Coupon drawing", against(plan, plan.machine, True))
    width, depth = (float(v) for v in plan.sheet.magnitude)
    told = [*_sheet(plan), *cautions.LASER, cautions.MOVING, *plan.cautions, wording.PREVAIL]
    if supervised is True:
        told.insert(0, "All lines at full power. First with the laser's supply unplugged.")
    else:
        told.insert(0, f"Where the lines lie, without speeds: {_UNCONFIRMED}")
    lines, numbers = [], []
    for piece in plan.pieces:
        _, first, last, _ = piece.points
        x1, y1, x2, y2 = (
            rs274.number(v, 3) for v in (first[0], depth - first[1], last[0], depth - last[1])
        )
        say = f"line {piece.number}: {piece.kind}, {piece.grain} the grain"
        if supervised is True:
            say += f", {piece.speed:.4g} mm/s, passes: {piece.passes}"
        lines.append(f'<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}"><title>{say}</title></line>')
        x, y = _beside(piece, depth)
        numbers.append(f'<text x="{x}" y="{y}">{piece.number}</text>')
    size = f"{rs274.number(width, 3)} {rs274.number(depth, 3)}".split()
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{size[0]}mm" height="{size[1]}mm" '
            f'viewBox="0 0 {size[0]} {size[1]}">',
            f"<title>Coupons on {escape(plan.material.name)}</title>",
            f"<desc>{escape(' '.join(told))}</desc>",
            '<g id="lines" stroke="black" stroke-width="0.4" fill="none">',
            *lines,
            "</g>",
            '<g id="numbers" font-family="sans-serif" font-size="4" text-anchor="middle">',
            *numbers,
            "</g>",
            "</svg>\n",
        ]
    )


def _beside(piece: Piece, depth: float) -> tuple[str, str]:
    """Place of a number: beside the middle of its line, where no other line may lie."""
    left, front, right, back = piece.box
    x, y = 0.5 * (left + right), depth - 0.5 * (front + back)
    if piece.across:
        return rs274.number(x - 3.5, 2), rs274.number(y + 1.4, 2)
    return rs274.number(x, 2), rs274.number(y - 1.5, 2)
