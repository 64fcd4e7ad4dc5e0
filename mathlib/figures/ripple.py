"""What is left on the work after a corner, by distance, for three ways to change the speed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from mathlib.answers import tell
from mathlib.figures import style
from mathlib.motion import resonance, ringing, shapers
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine

_RIPPLES: Final = 6  # that are drawn
_SOFT: Final = 0.3  # part of the ramp in which a jerk-limited acceleration rises


class Trace(NamedTuple):
    """One command's ripple: distance along the work and deviation in mm, and what is left."""

    called: str
    distance: np.ndarray
    deviation: np.ndarray
    left: Quantity


def traces(answer: Answer, machine: Machine) -> list[Trace]:
    """Ripples after a stop from the job's speed, as the other axis draws on at that speed.

    They are those where the head rings lowest; the shaper is made for the middle of the work area.
    """
    fixed = machine.typical()
    job, made = fixed.job, fixed.drive
    middle = Q(float(np.median(answer.values["first_frequency_centre"].magnitude)), "Hz")
    first = Q(float(np.median(answer.values["first_frequency_lowest"].magnitude)), "Hz")
    ramp = (job.speed / job.acceleration).to("s").magnitude
    jerk = Q(job.acceleration.to("mm/s^2").magnitude / (_SOFT * ramp), "mm/s^3")
    even = ringing.speed_ramp(job.speed, job.acceleration)
    commands = {
        "even ramp": even,
        "jerk-limited": ringing.speed_ramp(job.speed, job.acceleration, jerk),
        "even, ZV shaped": even.shaped(shapers.shaper("ZV", middle, made.damping)),
    }
    spacing = resonance.ripple_spacing(speed=job.speed, frequency=first).to("mm").magnitude
    distance = np.linspace(0.0, _RIPPLES * spacing, 500)
    since = distance / job.speed.to("mm/s").magnitude
    return [
        Trace(
            called,
            distance,
            ringing.swing(command, Q(since + command.end, "s"), first, made.damping).magnitude,
            ringing.left_ringing(command, first, made.damping),
        )
        for called, command in commands.items()
    ]


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw the three traces over the distance from the corner, and what the work allows."""
    figure, axes = style.new(
        "What the corner leaves on the work: compare each line with the dotted band"
    )
    looks = ((style.VERMILION, "-"), (style.BLUE, "--"), (style.OCHRE, "-."))
    reach = float(np.median(machine.job.accuracy.to("mm").magnitude))
    for side in (-1.0, 1.0):
        axes.axhline(side * reach, color=style.INK, linestyle=":")
    axes.annotate(
        f"the work allows {tell(machine.job.accuracy)}",
        (1.0, reach),
        xycoords=("axes fraction", "data"),
        xytext=(-4, 4),
        textcoords="offset points",
        ha="right",
    )
    most = reach
    for trace, (colour, line) in zip(traces(answer, machine), looks, strict=True):
        axes.plot(trace.distance, trace.deviation, color=colour, linestyle=line, label=trace.called)
        most = max(most, float(np.max(np.abs(trace.deviation))))
    axes.set_ylim(-1.15 * most, 1.35 * most)
    axes.set_xlim(0.0, trace.distance[-1])
    axes.set_xlabel("distance from the corner, in mm")
    axes.set_ylabel("deviation, in mm")
    figure.legend(*axes.get_legend_handles_labels(), loc="outside lower center", ncols=3)
    return figure


def describe(answer: Answer, machine: Machine) -> str:
    """Say what amplitude each command leaves."""
    told = "; ".join(f"{t.called} {tell(t.left, 2)}" for t in traces(answer, machine))
    return (
        f"Ripples by distance from a corner, at the place where the head rings lowest, "
        f"at {tell(answer.values['first_frequency_lowest'])}. Amplitude at first: "
        f"{told}. The work allows {tell(machine.job.accuracy)}."
    )
