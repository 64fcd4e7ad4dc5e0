"""Position error of both motors against what the work needs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from mathlib.answers import tell
from mathlib.figures import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine


def _bars(answer: Answer, machine: Machine) -> list[tuple[str, str]]:
    """Name of each motor, and what its words begin with in the answer."""
    found = [(machine.motor, "")]
    if machine.other_motor is not None and "other_position_error" in answer.values:
        found.append((machine.other_motor, "other_"))
    return [(f"{tell(m.step_angle).replace(' deg', '°')} motor", prefix) for m, prefix in found]


def _number(answer: Answer, word: str) -> float:
    return float(np.nanmedian(answer.values[word].to("mm").magnitude))


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw a bar for each motor, step error and lag stacked, whiskers where 90 % of cases lie."""
    bars = _bars(answer, machine)
    figure, axes = style.new(
        "Worst position error of the belt: compare the bars with the dashed line",
        (style.SIZE[0], 1.7 + 0.85 * len(bars)),
    )
    wanted = float(np.median(machine.job.accuracy.to("mm").magnitude))
    reach = wanted
    for row, (_, prefix) in enumerate(bars):
        step = _number(answer, f"{prefix}step_error")
        lag = answer.values[f"{prefix}acceleration_lag"].to("mm").magnitude
        axes.barh(row, step, 0.5, color=style.BLUE)
        reach = max(reach, step)
        if np.all(np.isnan(lag)):
            axes.text(step, row, "  slips at this acceleration", va="center")
            continue
        lag = float(np.nanmedian(lag))
        axes.barh(row, lag, 0.5, left=step, color=style.ORANGE, hatch="//", edgecolor="white")
        reach = max(reach, step + lag)
        span = answer.ranges.get(f"{prefix}position_error")
        if span is not None:
            low, high = (float(end.to("mm").magnitude) for end in span)
            axes.plot([low, high], [row, row], color=style.INK, marker="|", markersize=11)
            reach = max(reach, high)
    _name_parts(axes)
    axes.axvline(wanted, color=style.VERMILION, linestyle="--")
    axes.annotate(
        f"wanted: {tell(machine.job.accuracy)}",
        (wanted, -0.72),
        xytext=(-5, 0),
        textcoords="offset points",
        ha="right",
        va="center",
        color=style.VERMILION,
    )
    axes.set_yticks(range(len(bars)), [name for name, _ in bars])
    axes.set_ylim(len(bars) - 0.5, -1.0)
    axes.set_xlim(0, 1.08 * reach)
    axes.tick_params(axis="y", length=0)
    axes.set_xlabel("position error of the belt, either way, in mm")
    return figure


def _name_parts(axes: Axes) -> None:
    """Name the two parts of the first bar right above it."""
    told = {"step error": (style.BLUE, 0), "acceleration lag": (style.OCHRE, 80)}
    for text, (colour, offset) in told.items():
        axes.annotate(
            text,
            (0, -0.33),
            xytext=(offset, 0),
            textcoords="offset points",
            color=colour,
            weight="bold",
            va="bottom",
        )


def describe(answer: Answer, machine: Machine) -> str:
    """Say each motor's error, its parts and its range, against what is wanted."""
    told = []
    for name, prefix in _bars(answer, machine):
        error = answer.values[f"{prefix}position_error"]
        if np.all(np.isnan(error.magnitude)):
            told.append(f"{name}: slips at this acceleration")
            continue
        span = answer.ranges.get(f"{prefix}position_error")
        ends = "" if span is None else f", 90 % of cases {tell(span[0])} to {tell(span[1])}"
        told.append(
            f"{name}: {tell(error)}, of which step error "
            f"{tell(answer.values[f'{prefix}step_error'])} and acceleration lag "
            f"{tell(answer.values[f'{prefix}acceleration_lag'])}{ends}"
        )
    return f"Bars of position error. {'; '.join(told)}. Wanted: {tell(machine.job.accuracy)}."
