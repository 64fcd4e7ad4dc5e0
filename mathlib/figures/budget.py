"""Errors of place source by source, with either motor: does the motor's share show?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from mathlib.answers import motor_errors, percent, tell
from mathlib.figures import style
from mathlib.motion.error_budget import SOURCES, Budget

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine

_HIGH: Final = 0.36  # of a bar, where two stand in one row
_LOOKS: Final = ((style.BLUE, ""), (style.ORANGE, "//"))


def budgets(machine: Machine) -> list[tuple[str, Budget]]:
    """Give the error budget with each motor of the machine, by name, for typical parts."""
    fixed = machine.typical()
    motors = [m for m in (fixed.motor, fixed.other_motor) if m is not None]
    names = [f"{tell(m.step_angle).replace(' deg', '°')} motor" for m in motors]
    return [(n, motor_errors.budget(fixed, m)) for n, m in zip(names, motors, strict=True)]


def _number(value: object) -> float:
    found = np.asarray(value, dtype=float)
    return float("nan") if np.all(np.isnan(found)) else float(np.nanmedian(found))


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw a pair of bars for each source, the motor's own named so, the largest on top."""
    told = budgets(machine)
    first = told[0][1]
    order = sorted(SOURCES, key=lambda n: -_size(first, n))
    figure, axes = style.new(
        "Errors of place, source by source: only the longest bars show",
        (style.SIZE[0], 1.6 + 0.42 * (len(order) + 1)),
    )
    for place, ((name, budget), (colour, hatch)) in enumerate(zip(told, _LOOKS, strict=False)):
        sizes = [_size(budget, n) for n in order] + [_number(budget.expanded.magnitude)]
        rows = np.arange(len(sizes)) + (place - (len(told) - 1) / 2) * _HIGH
        axes.barh(
            rows, np.nan_to_num(sizes), _HIGH, color=colour, hatch=hatch, edgecolor="white",
            label=name,
        )  # fmt: skip
    labels = [f"{n.replace('_', ' ')}{' (motor)' if SOURCES[n][1] else ''}" for n in order]
    axes.set_yticks(range(len(order) + 1), [*labels, "all together, 95 %"])
    for label, source in zip(axes.get_yticklabels(), [*order, ""], strict=True):
        if source and SOURCES[source][1]:
            label.set_fontweight("bold")
    axes.set_ylim(len(order) + 0.6, -0.6)
    axes.axhline(len(order) - 0.5, color=style.GREY, linewidth=1)
    axes.tick_params(axis="y", length=0)
    wanted = float(np.median(machine.job.accuracy.to("mm").magnitude))
    axes.axvline(wanted, color=style.VERMILION, linestyle="--")
    axes.set_xlabel("half width of the band, in mm")
    axes.annotate(
        f"wanted: {tell(machine.job.accuracy)}",
        (wanted, 0.46 * len(order)),
        xytext=(5, 0),
        textcoords="offset points",
        color=style.VERMILION,
    )
    axes.legend(frameon=False, loc="lower right", bbox_to_anchor=(1.0, 0.22))
    return figure


def _size(budget: Budget, source: str) -> float:
    return _number(budget.bands[source].to("mm").magnitude)


def describe(answer: Answer, machine: Machine) -> str:
    """Say each motor's whole error, the motor's own part, and the largest sources."""
    told = []
    for name, budget in budgets(machine):
        if np.isnan(_number(budget.expanded.magnitude)):
            told.append(f"with the {name}: it slips")
            continue
        largest = sorted(SOURCES, key=lambda n: -_number(budget.shares[n]))[:3]
        parts = ", ".join(
            f"{n.replace('_', ' ')} {tell(budget.bands[n], 2)} "
            f"({percent(_number(budget.shares[n]))})"
            for n in largest
        )
        told.append(
            f"with the {name}: {tell(budget.expanded, 2)} for 95 % of places, of whose squares the "
            f"motor's own errors are {percent(_number(budget.motor_share))}; largest are {parts}"
        )
    return (
        f"Bars of errors of place by source. {'; '.join(told)}. Wanted: "
        f"{tell(machine.job.accuracy)}."
    )
