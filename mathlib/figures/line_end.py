"""Dose along the last stretch of a line, for each way in which a line can end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from mathlib.answers import tell
from mathlib.figures import style
from mathlib.figures.energy import middle, sides
from mathlib.laser import line_ends
from mathlib.units import Q

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine

_PLACES: Final = 401
#: Name, case, least power, and how the curve looks.
WAYS: Final = (
    ("stops, goes on", "stop and restart", 1.0, style.VERMILION, "-"),
    ("stops, beam off", "stop, beam off", 1.0, style.ORANGE, "--"),
    ("corner at half speed", "corner", 1.0, style.BLUE, "-."),
    ("power follows speed", "stop and restart", 0.0, style.INK, ":"),
)


def curves(machine: Machine) -> tuple[np.ndarray, list[np.ndarray]]:
    """Places before the end in mm, and the dose there over that of the line, for each way."""
    job, (diameter, _) = machine.typical().job, sides(machine)
    speed, acceleration = middle(job.speed), middle(job.acceleration)
    wide = diameter.to("mm").magnitude
    zone = float((speed**2 / acceleration).to("mm").magnitude) / 2
    reach = 1.2 * zone + 2 * wide
    # Close together near the end, where the dose climbs.
    places = np.concatenate(
        [np.linspace(-1.5 * wide, 0, 80), reach * np.linspace(0, 1, _PLACES)[1:] ** 2]
    )
    told: dict[str, Any] = {"speed": speed, "acceleration": acceleration, "diameter": diameter}
    found = []
    for _, case, least, _, _ in WAYS:
        corner = {"speed_at_corner": 0.5 * speed, "turn": "90 deg"} if case == "corner" else {}
        ratio = line_ends.end_profile(
            distance=Q(places, "mm"), case=case, least_power=Q(least, "1"), **corner, **told
        )
        found.append(np.asarray(ratio.magnitude))
    return places, found


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw the four curves over the distance from the end."""
    places, found = curves(machine)
    line = float(np.median(answer.values["peak_dose"].to("J/mm^2").magnitude))
    figure, axes = style.new("Where a line ends, the head is slow and the dose climbs", (5.4, 4.3))
    for (name, _, _, colour, look), ratio in zip(WAYS, found, strict=True):
        axes.plot(places, line * ratio, color=colour, linestyle=look, label=name)
    axes.axhline(line, color=style.GREY, linewidth=1)
    most = line * max(float(ratio.max()) for ratio in found)
    axes.annotate(
        f"on the line: {tell(answer.values['peak_dose'])}",
        (places[-1], line),
        xytext=(4, -6),
        textcoords="offset points",
        ha="left",
        va="top",
    )
    axes.set_yscale("log")
    axes.yaxis.set_major_formatter("{x:g}")
    axes.set_ylim(0.3 * line, 1.6 * most)
    axes.set_xlim(places[-1], places[0])
    axes.set_xlabel("distance from the end, in mm")
    axes.set_ylabel("dose on the middle of the line, in J/mm²")
    axes.legend(frameon=False, loc="upper left")
    return figure


def describe(answer: Answer, machine: Machine) -> str:
    """Say how many times the line's dose each way of ending leaves."""
    _, found = curves(machine)
    told = "; ".join(
        f"{name}: {float(ratio.max()):.2g} times"
        for (name, *_), ratio in zip(WAYS, found, strict=True)
    )
    return (
        f"Dose along the last {tell(answer.values['end_zone'], 2)} of a line, over "
        f"{tell(answer.values['peak_dose'])} on the line itself. At most {told}."
    )
