"""Campbell diagram: frequencies of the motors' orders over speed, where they cross the modes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from mathlib.answers import tell
from mathlib.figures import style
from mathlib.motion import excitation
from mathlib.units import Q, show

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine
    from mathlib.motion.excitation import Crossing

LOOKS: Final = {
    "belt tooth": (style.ORANGE, ":"),
    "electrical cycle": (style.BLUE, "-"),
    "torque ripple, 2 a cycle": (style.SKY, "-."),
    "full step": (style.VERMILION, "--"),
}
_MOST: Final = 3.0  # times the job's speed, up to which speeds are drawn


def crossings(machine: Machine, direction: str = "0 deg") -> list[Crossing]:
    """Give the crossings in the middle of the work area that lie in the drawn range of speeds."""
    fixed = machine.typical()
    x, y = fixed.layout.travel_x / 2.0, fixed.layout.travel_y / 2.0
    found = excitation.speeds_to_avoid(
        fixed.drive, x, y, direction, fastest=_MOST * fixed.job.speed
    )
    most = max(c.swing.magnitude for c in found) if found else 0.0
    felt = [c for c in found if c.order in LOOKS and c.swing.magnitude > 1e-3 * most]
    return sorted(felt, key=lambda c: float(c.speed.magnitude))


def belt_rates(machine: Machine, direction: str) -> list[float]:
    """Belt travel of each motor that turns, for each travel of the head, without doubles."""
    layout, gantry = machine.layout, machine.typical().drive.gantry
    angle = float(Q(direction).to("rad").magnitude)
    rows = gantry.travel_matrix(layout.travel_x / 2.0, layout.travel_y / 2.0).magnitude
    rates = np.abs(rows @ np.array([np.cos(angle), np.sin(angle)]))
    return sorted({round(float(rate), 9) for rate in rates if rate > 1e-6})


def called(direction: str) -> str:
    """Call a direction of travel: along x, along y, or its angle."""
    angle = Q(direction).to("deg").magnitude
    return {0.0: "along x", 90.0: "along y"}.get(float(angle), f"at {angle:.4g}°")


def draw(answer: Answer, machine: Machine, direction: str = "0 deg") -> Figure:
    """Draw the orders as lines, the modes as levels, the crossings as rings.

    ``direction`` is that of travel. Where both motors turn, at two rates, each has its lines.
    """
    found = crossings(machine, direction)
    job = float(np.median(machine.job.speed.to("mm/s").magnitude))
    speeds = np.geomspace(job / 50.0, _MOST * job, 50)
    figure, axes = style.new(
        f"A ring is a speed {called(direction)} that shakes a mode: pass it quickly, do not mark "
        "there",
        (style.SIZE[0], 4.6),
    )
    layout = machine.layout
    orders = excitation.excitation_orders(machine.motor, layout, machine.belt.pitch)._asdict()
    rates = belt_rates(machine, direction)
    for key, name in excitation.CALLED.items():
        if name in LOOKS:
            colour, line = LOOKS[name]
            each = float(np.median(orders[key].magnitude))
            for number, rate in enumerate(rates):
                label = None if number else name
                axes.plot(speeds, each * rate * speeds, color=colour, linestyle=line, label=label)
    modes = {c.mode: c for c in found}
    for number in sorted(modes):
        hertz = float(modes[number].frequency.to("Hz").magnitude)
        axes.axhline(hertz, color=style.GREY, linewidth=1.2)
        axes.annotate(
            f"{modes[number].name}, {show(modes[number].frequency, 3)}",
            (speeds[0], hertz),
            xytext=(3, 3 if number % 2 else -3),
            textcoords="offset points",
            va="bottom" if number % 2 else "top",
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 0.5},
            zorder=4,
        )
    axes.plot(
        [c.speed.magnitude for c in found],
        [c.frequency.magnitude for c in found],
        "o",
        markersize=9,
        markerfacecolor="white",
        markeredgecolor=style.INK,
        markeredgewidth=1.8,
        zorder=5,
    )
    axes.axvline(job, color=style.INK, linestyle=":", linewidth=1.4)
    axes.set_xscale("log")
    axes.set_yscale("log")
    axes.set_xlim(speeds[0], speeds[-1])
    lowest = min([float(c.frequency.magnitude) for c in found], default=30.0)
    highest = max([float(c.frequency.magnitude) for c in found], default=300.0)
    axes.set_ylim(lowest / 3.0, 2.2 * highest)
    ticks = [n * 10.0**ten for ten in range(-1, 5) for n in (1, 2, 5)]
    axes.set_yticks([tick for tick in ticks if lowest / 3.0 <= tick <= 2.2 * highest])
    axes.annotate(
        "job",
        (job, lowest / 3.0),
        xytext=(4, 6),
        textcoords="offset points",
    )
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter("{x:g}")
        axis.set_minor_formatter("")
    axes.set_xlabel(f"speed of the head {called(direction)}, in mm/s")
    axes.set_ylabel("frequency, in Hz")
    figure.legend(*axes.get_legend_handles_labels(), loc="outside lower center", ncols=2)
    return figure


def describe(answer: Answer, machine: Machine, direction: str = "0 deg") -> str:
    """List the crossings with speed, order and mode."""
    told = [
        f"{show(c.speed, 3)}, {c.order} at {show(c.frequency, 3)} ({c.name})"
        for c in crossings(machine, direction)
    ]
    job = tell(Q(np.median(machine.job.speed.magnitude), "mm/s"))
    where = "; ".join(told) if told else "none"
    return (
        f"Diagram of excitation against speed {called(direction)}, both axes logarithmic; "
        f"the job runs at {job}. Speeds that shake a mode: {where}."
    )
