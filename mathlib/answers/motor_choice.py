"""Several motors of the table in one machine: which are strong enough, and which places best."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import attrs
import numpy as np

from mathlib import tables
from mathlib.answers import Values, evaluate, percent, ratio, share, tell
from mathlib.answers.motor import mass_at_margin, supply_at_margin
from mathlib.answers.motor_torque import ENOUGH
from mathlib.answers.motor_values import values
from mathlib.errors import ValueRefused
from mathlib.units import Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

ENOUGH_FOR: Final = "strong enough"
TEST: Final = "cannot be told from the nameplate: do the pull test"
WEAK: Final = "too weak, even by its ideal bound"
STEPS: Final = "needs more steps than the controller sends"
#: From the best to the worst; the first two are worth ordering one to test.
STATES: Final = (ENOUGH_FOR, TEST, STEPS, WEAK)
_CLOSE: Final = 0.05  # motors whose errors of place differ by less place alike


class Candidate(NamedTuple):
    """One motor of the table in this machine: its state, values, and ends of 90 % of cases."""

    name: str
    state: str
    values: Values
    ranges: dict[str, tuple[Quantity, Quantity]]
    set_current: Quantity
    machine: Machine

    @property
    def limit_inside(self) -> bool:
        """Whether the job's speed lies inside the range of this motor's limit of speed."""
        low, high = self.ranges.get("highest_speed", (self.values["highest_speed"],) * 2)
        return bool(low <= self.machine.job.speed <= high)


class Choice:
    """Motors in order, the best first, and what is to be said about them.

    ``candidates`` has them all; ``verdict`` says which to take, why, and where that flips;
    ``certain`` whether the best is settled.
    """

    def __init__(self, machine: Machine, candidates: Sequence[Candidate]) -> None:
        self.machine = machine
        self.candidates = tuple(sorted(candidates, key=_order))
        self.certain = self._settled()
        self.verdict = self._verdict()

    @property
    def best(self) -> Candidate:
        """The motor that is strong enough and places best, or the likeliest to be."""
        return self.candidates[0]

    def _rivals(self) -> list[Candidate]:
        """Motors left open by their nameplate that would place clearly better than the best."""
        error = _error(self.best)
        return [
            c
            for c in self.candidates
            if c.state == TEST and self.best.state == ENOUGH_FOR and _error(c) < error
        ]

    def _settled(self) -> bool:
        return self.best.state == ENOUGH_FOR and not self.best.limit_inside and not self._rivals()

    def _verdict(self) -> str:
        best, job = self.best, self.machine.job
        strong = [c for c in self.candidates if c.state == ENOUGH_FOR]
        if best.state in (WEAK, STEPS):
            return (
                f"None of these motors does this job at {tell(job.speed)}: the best, {best.name}, "
                f"{'is ' if best.state == WEAK else ''}{best.state}. Lower the speed or the "
                "acceleration, or take a higher supply voltage, and ask again."
            )
        if best.state == TEST:
            margin = tell(best.values["margin_at_speed"], 2)
            return (
                f"Which of these motors does this job at {tell(job.speed)} cannot be told from "
                f"their nameplates: the strongest that places well, {best.name}, has {margin} "
                f"times the torque needed, and {ENOUGH:g} times would be enough. Do the pull test."
            )
        told = [
            f"Take {best.name}: of {len(self.candidates)} motors {len(strong)} "
            f"{'is' if len(strong) == 1 else 'are'} strong enough at {tell(job.speed)}, and it "
            f"places the belt best, within {tell(best.values['position_error'], 2)}, with "
            f"{tell(best.values['margin_at_speed'], 2)} times the torque needed."
        ]
        alike = [c.name for c in strong[1:] if _error(c) <= (1 + _CLOSE) * _error(best)]
        if alike:
            told.append(f"Just as good: {', '.join(alike)}.")
        rivals = self._rivals()
        if rivals:
            told.append(
                f"Whether {rivals[0].name}, which would place better, is strong enough cannot be "
                "told from the nameplate: do the pull test."
            )
        told.append(self._limit(best))
        part = float(np.nanmedian(best.values["motor_part"].magnitude))
        told.append(
            f"Of all errors of place together, {tell(best.values['place_error'], 2)}, the motor's "
            f"own are {percent(part)}: {_what_shows(part)}"
        )
        return " ".join(told)

    def _limit(self, best: Candidate) -> str:
        """Say where the best motor's speed ends, and whether the job lies inside that range."""
        span = best.ranges.get("highest_speed")
        ends = tell(best.values["highest_speed"]) if span is None else " to ".join(map(tell, span))
        inside = "inside" if best.limit_inside else "outside"
        fixed = best.machine.typical()
        supply, mass = supply_at_margin(fixed, fixed.motor), mass_at_margin(fixed, fixed.motor)
        also = []
        if supply is not None:
            also.append(f"below a supply of {tell(supply, 2)}")
        if mass is not None:
            also.append(f"above {tell(mass, 2)} moved along y")
        return (
            f"That flips at {ends}, and the job's speed lies {inside} that"
            f"{' uncertainty: do the pull test' if best.limit_inside else ''}"
            f"{'; for typical parts also ' + ' or '.join(also) if also else ''}."
        )

    def table(self) -> list[tuple[str, ...]]:
        """Rows for people: motor, current, position error, margin, limit, rotor's part, state."""
        rows: list[tuple[str, ...]] = []
        for c in self.candidates:
            span = c.ranges.get("highest_speed")
            rows.append(
                (
                    c.name,
                    tell(c.set_current),
                    _said(c.values["position_error"], 2),
                    tell(c.values["margin_at_speed"], 2),
                    _said(c.values["highest_speed"], 2)
                    if span is None
                    else f"{tell(span[0], 2)} to {tell(span[1], 2)}",
                    _said(c.values["highest_acceleration"], 2),
                    percent(c.values["rotor_part"].magnitude),
                    c.state,
                )
            )
        return rows

    def _repr_markdown_(self) -> str:
        head = ("motor, set to", "error", "margin", "limit of speed", "rotor's part", "state")
        lines = [f"> {self.verdict}", "", f"| {' | '.join(head)} |", "|---" * len(head) + "|"]
        for name, current, error, margin, limit, _, rotor, state in self.table():
            cells = (f"{name}, {current}", error, margin, limit, rotor, state)
            lines.append(f"| {' | '.join(cells)} |")
        return "\n".join(lines)

    def __repr__(self) -> str:
        """Verdict and table as plain text."""
        return "\n".join([self.verdict, *("  ".join(row) for row in self.table())])


def compare(machine: Machine, names: Sequence[str] | None = None) -> Choice:
    """Compare motors of the table in this machine, each at its share of its rated current.

    Parameters
    ----------
    machine : Machine
        With everything but the motor; its own set current over its own motor's rated current is
        the share at which each motor is set.
    names : sequence of str, optional
        Rows of ``data/motors.csv``, two at least; left out: every pair of a 0.9 deg motor and its
        twin of 1.8 deg of the machine's frame.

    Raises
    ------
    ValueRefused
        There is no such row, or fewer than two are named.

    """
    named = list(dict.fromkeys(names_of_frame(machine, paired=True) if names is None else names))
    if len(named) < 2:
        raise ValueRefused("Compare motors: name two rows of motors.csv at least.")
    part = ratio(machine.controller.set_current, machine.motor.rated_current)
    middle = float(np.median(part))
    found = []
    for name in named:
        fitted = machine.with_motor(name)
        current = middle * fitted.motor.rated_current
        ranges = {k: v for k, v in fitted.ranges.items() if k != "controller.set_current"}
        controller: Any = fitted.controller
        fitted = attrs.evolve(
            fitted, controller=attrs.evolve(controller, set_current=current), ranges=ranges
        )
        typical, drawn, ends = evaluate(fitted, lambda m: values(m, m.motor))
        found.append(Candidate(name, _state(fitted, drawn), typical, ends, current, fitted))
    return Choice(machine, found)


def names_of_frame(machine: Machine, paired: bool = False) -> list[str]:
    """Rows of the frame of the machine's own row, or of frame 17; all, or those of pairs only."""
    own = machine.contents.sources.get("motor.like", "")
    frame = re.match(r"frame \d+, ", own)
    start = frame.group() if frame else "frame 17, "
    rows = tables.read("motors").rows.items()
    return [n for n, row in rows if n.startswith(start) and (row.pair or not paired)]


def _state(machine: Machine, drawn: Values) -> str:
    """Say what most of the drawn machines say; strong enough only if 95 % are."""
    rate = drawn["step_rate_diagonal"].to("step/s").magnitude
    if share(rate > machine.controller.highest_step_rate.magnitude) > 0.5:
        return STEPS
    if share(ratio(drawn["bound_at_speed"], drawn["torque_needed"]) < 1.0) > 0.5:
        return WEAK
    return ENOUGH_FOR if share(drawn["margin_at_speed"].magnitude >= ENOUGH) >= 0.95 else TEST


def _error(candidate: Candidate) -> float:
    error = candidate.values["position_error"].to("mm").magnitude
    return float("inf") if np.all(np.isnan(error)) else float(np.nanmedian(error))


def _order(candidate: Candidate) -> tuple[int, float]:
    return STATES.index(candidate.state), _error(candidate)


def _said(value: Quantity, digits: int) -> str:
    return "slips" if np.all(np.isnan(value.magnitude)) else tell(value, digits)


def _what_shows(part: float) -> str:
    if part >= 0.5:
        return "the motor is what shows."
    return "a better motor would show." if part >= 0.2 else "a better motor would hardly show."
