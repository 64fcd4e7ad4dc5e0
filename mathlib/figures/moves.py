"""A line of a raster with its run-up, and the time of a filled area against the raster speed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from mathlib.answers import moves, tell
from mathlib.figures import style
from mathlib.motion import moves as motion
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine

_POINTS: Final = 400
_RAMP: Final = 60  # points of one ramp
_LOOKS: Final = (("-.", style.SKY), (":", style.GREY))
_WHITE: Final = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.0}


def _number(value: Quantity, unit: str) -> float:
    return float(np.median(value.to(unit).magnitude))


def line_of(answer: Answer, machine: Machine) -> tuple[np.ndarray, np.ndarray]:
    """Places in mm along one line, 0 where marking begins, and the speeds there in mm/s."""
    speed = _number(machine.job.speed, "mm/s")
    ends, width = (_number(answer.values[word], "mm") for word in ("run_up", "width"))
    part = np.linspace(0.0, 1.0, _RAMP)
    places = np.concatenate([ends * (part**2 - 1), width + ends * (1 - part[::-1] ** 2)])
    return places, speed * np.concatenate([part, part[::-1]])


def times_at(answer: Answer, machine: Machine, speeds: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Time of the area in min at speeds in mm/s: with turning round, and by length over speed."""
    area: dict[str, Any] = {
        "width": answer.values["width"],
        "height": answer.values["height"],
        "line_spacing": Q(_number(machine.job.line_spacing, "mm"), "mm"),
    }
    swept = Q(speeds, "mm/s")
    acceleration = Q(_number(machine.job.acceleration, "mm/s^2"), "mm/s^2")
    whole = motion.raster_time(**area, speed=swept, acceleration=acceleration)
    naive = motion.naive_raster_time(**area, speed=swept)
    return whole.to("min").magnitude, naive.to("min").magnitude


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw speed over place for one line, and below it time over raster speed."""
    figure, axes = style.new(
        "Turning round costs time: beyond the dot a faster raster takes longer",
        (style.SIZE[0], 6.8),
    )
    axes.remove()
    upper, lower = figure.subplots(2, 1, height_ratios=(1.0, 1.6))
    _draw_line(upper, answer, machine)
    _draw_times(lower, answer, machine)
    return figure


def _draw_line(axes: Axes, answer: Answer, machine: Machine) -> None:
    places, speeds = line_of(answer, machine)
    width, top = _number(answer.values["width"], "mm"), speeds.max()
    axes.axvspan(0.0, width, color=style.BLUE, alpha=0.12, linewidth=0)
    axes.plot(places[:_RAMP], speeds[:_RAMP], color=style.VERMILION, linestyle="--")
    axes.plot([0.0, width], [top, top], color=style.BLUE)
    axes.plot(places[_RAMP:], speeds[_RAMP:], color=style.VERMILION, linestyle="--")
    axes.annotate("marked", (width / 2, 0.45 * top), ha="center", va="center")
    axes.annotate(
        f"run-up and run-out {tell(answer.values['run_up'])} each",
        (width / 2, 0.14 * top),
        ha="center",
        va="center",
        color=style.VERMILION,
    )
    axes.set_ylim(0.0, 1.2 * top)
    axes.set_xlabel("place along the line, in mm")
    axes.set_ylabel("speed, in mm/s")


def _draw_times(axes: Axes, answer: Answer, machine: Machine) -> None:
    job, best = (
        _number(value, "mm/s")
        for value in (machine.job.speed, answer.values["fastest_raster_speed"])
    )
    limits = [
        (told.name, _number(told.limit, "mm/s"))
        for told in moves.by_motor(machine, answer.values["width"], answer.values["height"])
        if told.limit is not None
    ]
    last = 1.15 * max(2.0 * best, 1.2 * job, *(min(v, 3.0 * best) for _, v in limits))
    speeds = np.linspace(last / _POINTS, last, _POINTS)
    whole, naive = times_at(answer, machine, speeds)
    axes.plot(speeds, naive, color=style.GREY, linestyle="--", label="length over speed")
    axes.plot(speeds, whole, color=style.BLUE, label="with turning round")
    (at_best,), _ = times_at(answer, machine, np.array([best]))
    (at_job,), _ = times_at(answer, machine, np.array([job]))
    top = 3.0 * max(at_best, 0.55 * at_job)
    axes.plot([best], [at_best], "o", color=style.BLUE, markersize=8)
    axes.annotate(
        f"least: {tell(Q(at_best, 'min'))}\nat {tell(Q(best, 'mm/s'))}",
        (best, at_best),
        xytext=(0, 17),
        textcoords="offset points",
        ha="center",
        bbox=_WHITE,
    )
    axes.plot([job], [at_job], "s", color=style.INK, markersize=7)
    right = job < 0.6 * last
    axes.annotate(
        f"job: {tell(Q(at_job, 'min'))}",
        (job, at_job),
        xytext=(9 if right else -9, 6),
        textcoords="offset points",
        ha="left" if right else "right",
        bbox=_WHITE,
    )
    for (name, limit), (line, colour) in zip(limits, _LOOKS, strict=False):
        if limit < last:
            axes.plot(  # not up to the legend
                [limit, limit],
                [0.0, 0.62 * top],
                color=colour,
                linestyle=line,
                label=f"margin of the {name} ends",
            )
    axes.set_xlim(0.0, last)
    axes.set_ylim(0.0, top)
    axes.set_xlabel("raster speed, in mm/s")
    axes.set_ylabel("time of the area, in min")
    axes.legend(frameon=False, loc="upper right")


def describe(answer: Answer, machine: Machine) -> str:
    """Say run-up, time at the job's speed, and where the least time lies."""
    v = answer.values
    return (
        f"Above, speed over place of one line of {tell(v['width'])}, with {tell(v['run_up'])} of "
        f"run-up and as much run-out. Below, time against raster speed: "
        f"{moves.spoken(v['raster_time'])} at the job's {tell(machine.job.speed)}, least at "
        f"{tell(v['fastest_raster_speed'])} with {moves.spoken(v['least_time'])}; length over "
        f"speed says {moves.spoken(v['naive_time'])}."
    )
