"""What stands against files that burn a coupon sheet.

None is written before the hazard page's inputs stand in the machine file and somebody confirms
that the machine will be supervised.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib import units
from mathlib.errors import ValueRefused
from mathlib.measure.coupon_plan import Plan, run_ups
from mathlib.safety import filters

#: By how much light and wavelength of a planned head may exceed those of the machine's.
_MORE_LIGHT, _NM = 1.05, 15.0
UNCONFIRMED: Final = (
    "supervision is not confirmed: somebody who knows the machine stays beside it from the first "
    "line to half an hour after the last, with an extinguisher; then pass supervised=True, or "
    "--supervised on the command line."
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
    reasons = [] if supervised is True else [UNCONFIRMED]
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


def single(value: Any, unit: str) -> float:
    """Give a value in a unit as a number, of draws their median.

    Examples
    --------
    >>> single(units.Q([1, 2, 4], "m"), "mm")
    2000.0

    """
    return float(np.median(value.to(unit).magnitude))


def _other_head(plan: Plan, head: Any) -> list[str]:
    """Say where the planned head is not the one that the hazard page was asked about."""
    more = single(plan.power, "W") > _MORE_LIGHT * single(head.optical_power, "W")
    light = abs(single(plan.module.wavelength, "nm") - single(head.wavelength, "nm")) > _NM
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
    most, acceleration = single(own.job.speed, "mm/s"), single(own.job.acceleration, "mm/s^2")
    speeds = np.array([piece.speed for piece in plan.pieces])
    short = run_ups(speeds, acceleration) > np.array([piece.run for piece in plan.pieces])
    reasons = []
    reach = np.max([piece.box[2:] for piece in plan.pieces], axis=0)
    if np.any(reach > [single(v, "mm") for v in (own.machine.travel_x, own.machine.travel_y)]):
        reasons.append(
            f"its lines reach {reach[0]:.0f} mm to the right and {reach[1]:.0f} mm to the back, "
            "beyond this machine's work area: plan anew."
        )
    if np.any(speeds > most):
        reasons.append(f"the plan asks for more than this machine's {most:.4g} mm/s.")
    if np.any(short):
        reasons.append("its run-ups are too short for this machine's acceleration: plan anew.")
    return reasons


def together(reasons: list[str]) -> str:
    """Join reasons into one text after a colon: only the first begins small.

    Examples
    --------
    >>> together(["no room is stated.", "no place is stated."])
    'no room is stated. No place is stated.'

    """
    first, *others = reasons
    return " ".join([first, *(other[0].upper() + other[1:] for other in others)])


def refuse(who: str, reasons: list[str]) -> None:
    """Raise all reasons at once, if there are any.

    Examples
    --------
    >>> refuse("Coupon program", [])

    """
    if reasons:
        raise ValueRefused(f"{who}: {together(reasons)}")
