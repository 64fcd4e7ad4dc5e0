"""The same lines under two spots: a small round one, and a bar as a diode makes it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from mathlib.answers import percent, tell
from mathlib.figures import style
from mathlib.figures.energy import LINES, Field, round_spot
from mathlib.units import Quantity

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine

#: Long side of the bar over its short one: an estimate for a diode of one emitter.
BAR: Final = 2.0


def fields(machine: Machine) -> tuple[Field, Field]:
    """Give both maps: the round spot, and the bar with its long side across the lines."""
    short, _ = round_spot(machine)
    return Field(machine, (short, short)), Field(machine, bar(machine), "rectangle")


def bar(machine: Machine) -> tuple[Quantity, Quantity]:
    """Sides of the bar along the lines and across them."""
    short, _ = round_spot(machine)
    return short, BAR * short


def unevenness(field: Field) -> float:
    """Peak to valley over the mean, between the first line and the last."""
    inner = (field.y >= 0.0) & (field.y <= (LINES - 1) / LINES * field.length)
    across = field.across[inner]
    return float(np.ptp(across) / (np.trapezoid(across, field.y[inner]) / np.ptp(field.y[inner])))


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw the map and the cut for each spot, one above the other, on the same scales."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(style.SIZE[0], 5.4), layout="constrained")
    style.name(figure, "Same power, speed and spacing; only the shape of the spot differs")
    (map_1, cut_1), (map_2, cut_2) = figure.subplots(2, 2, width_ratios=(1.1, 1))
    both = fields(machine)
    most = 1.05 * max(float(field.dose.max()) for field in both)
    names = ("round", "bar")
    sides = (round_spot(machine), bar(machine))
    for name, field, side, axes, cut in zip(
        names, both, sides, (map_1, map_2), (cut_1, cut_2), strict=True
    ):
        field.show(axes, most)
        axes.set_xlabel("along the lines, in mm")
        axes.set_ylabel("across, in mm")
        axes.set_title(f"{name}, {tell(side[1], 2)}", fontsize=11)
        axes.locator_params(nbins=4)
        cut.plot(field.y, field.across, color=style.BLUE)
        cut.set_ylim(0, most)
        cut.set_xlabel("across, in mm")
        cut.set_ylabel("dose, in J/mm²")
        cut.set_title(f"ripple {percent(unevenness(field))}", fontsize=11)
        cut.locator_params(nbins=4)
    return figure


def describe(answer: Answer, machine: Machine) -> str:
    """Say how uneven each of the two is."""
    first, second = fields(machine)
    return (
        f"Maps of the dose under {LINES} lines: with a round spot of "
        f"{tell(round_spot(machine)[0], 2)} the dose varies by {percent(unevenness(first))} of its "
        f"mean across the lines, with an even bar {tell(bar(machine)[1], 2)} long across them by "
        f"{percent(unevenness(second))}."
    )
