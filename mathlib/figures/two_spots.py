"""The same lines under two spots: the head's own, and what it may be instead."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from mathlib.answers import percent, tell
from mathlib.figures import style
from mathlib.figures.energy import LINES, Field, sides
from mathlib.units import Quantity

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine

#: Long side of a bar over its short one, where the file has one width only: an estimate for a
#: diode of one emitter.
BAR: Final = 2.0


class Spot(NamedTuple):
    """A spot, its widths along the lines and across them, and the dose that it leaves."""

    called: str
    along: Quantity
    across: Quantity
    field: Field


def spots(machine: Machine) -> list[Spot]:
    """Give the spots to compare.

    Of a spot with two axes: as it is, turned by a quarter, and as an evenly bright bar of these
    sides. Of one that is stated as round: as it is, and as a bar.
    """
    along, across = sides(machine)
    if along == across:
        told = [("round", along, across, "gaussian"), ("bar", along, BAR * across, "rectangle")]
    else:
        told = [
            ("first axis", along, across, "gaussian"),
            ("turned", across, along, "gaussian"),
            ("turned, even bar", across, along, "rectangle"),
        ]
    return [Spot(name, x, y, Field(machine, (x, y), shape)) for name, x, y, shape in told]


def unevenness(field: Field) -> float:
    """Peak to valley over the mean, between the first line and the last."""
    inner = (field.y >= 0.0) & (field.y <= (LINES - 1) / LINES * field.length)
    across = field.across[inner]
    return float(np.ptp(across) / (np.trapezoid(across, field.y[inner]) / np.ptp(field.y[inner])))


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw the map and the cut for each spot, one above the other, on the same scales."""
    from matplotlib.figure import Figure

    told = spots(machine)
    figure = Figure(figsize=(style.SIZE[0], 0.6 + 2.4 * len(told)), layout="constrained")
    style.name(figure, "Same power, speed and spacing; only the spot differs")
    rows = figure.subplots(len(told), 2, width_ratios=(1.1, 1))
    most = 1.05 * max(float(spot.field.dose.max()) for spot in told)
    for spot, (axes, cut) in zip(told, rows, strict=True):
        spot.field.show(axes, most)
        axes.set_xlabel("along the lines, in mm")
        axes.set_ylabel("across, in mm")
        axes.set_title(f"{spot.called}: {tell(spot.across, 2)}", fontsize=11)
        axes.locator_params(nbins=4)
        cut.plot(spot.field.y, spot.field.across, color=style.BLUE)
        cut.set_ylim(0, most)
        cut.set_xlabel("across, in mm")
        cut.set_ylabel("dose, in J/mm²")
        cut.set_title(f"ripple {percent(unevenness(spot.field))}", fontsize=11)
        cut.locator_params(nbins=4)
    return figure


def describe(answer: Answer, machine: Machine) -> str:
    """Say how uneven each of them is."""
    told = "; ".join(
        f"{spot.called}, {tell(spot.across, 2)} across the lines: {percent(unevenness(spot.field))}"
        for spot in spots(machine)
    )
    return f"Maps of the dose under {LINES} lines, and how far it varies over its mean. {told}."
