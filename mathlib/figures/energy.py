"""Dose on the surface under a few lines, with the profile across them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from mathlib.answers import energy, percent, spot, tell
from mathlib.figures import style
from mathlib.laser import surface
from mathlib.units import Q, Quantity, quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine

LINES: Final = 5
COLOURS: Final = "YlOrBr"  # light to dark as wood burns; its lightness falls all the way
_PLACES: Final = 161
_LEVELS: Final = 15


class Field:
    """A few short lines under a spot: places in mm, and the dose on them in J/mm²."""

    def __init__(
        self, machine: Machine, sides: tuple[Quantity, Quantity], shape: str = "gaussian"
    ) -> None:
        typical = machine.typical()
        job, head = typical.job, spot.laser(typical)
        spacing = middle(job.line_spacing).to("mm").magnitude
        self.length = LINES * spacing
        margin = 0.5 * spacing + 0.8 * max(side.to("mm").magnitude for side in sides)
        reach = (LINES - 1) * spacing
        self.x = np.linspace(-margin, self.length + margin, _PLACES)
        self.y = np.linspace(-margin, reach + margin, _PLACES)
        told: dict[str, Any] = {
            "power": middle(head.optical_power * job.power_share.magnitude),
            "speed": middle(job.speed),
            "line_spacing": Q(spacing, "mm"),
            "lines": LINES,
            "length": Q(self.length, "mm"),
            "diameter_x": sides[0],
            "diameter_y": sides[1],
            "shape": shape,
        }
        found = surface.raster_dose(x=Q(self.x, "mm"), y=Q(self.y, "mm"), **told)
        self.dose = np.asarray(found.to("J/mm^2").magnitude)

    @property
    def across(self) -> np.ndarray:
        """Dose across the lines, in the middle of their length."""
        return self.dose[:, _PLACES // 2]

    @property
    def mean(self) -> float:
        """Mean dose between the middles of the first line and the last."""
        inner = (self.y >= 0) & (self.y <= self.y[0] + self.y[-1] + 1e-12)
        return float(np.trapezoid(self.across[inner], self.y[inner]) / np.ptp(self.y[inner]))

    def show(self, axes: Axes, most: float) -> Any:
        """Draw the map, colours up to ``most``."""
        levels = np.linspace(0, most, _LEVELS)
        return axes.contourf(self.x, self.y, self.dose, levels=levels, cmap=COLOURS)


def middle(value: Quantity) -> Quantity:
    """Give the one in the middle, where there are draws."""
    return quantity(float(np.median(value.magnitude)), value._units)


def sides(machine: Machine) -> tuple[Quantity, Quantity]:
    """Widths of the spot along the lines and across them, as the answer has it."""
    across, along = energy.widths(spot.laser(machine.typical()))
    return middle(along), middle(across)


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw the map of five lines, and beside it the dose across their middle."""
    from matplotlib.figure import Figure

    field = Field(machine, sides(machine))
    figure = Figure(figsize=(style.SIZE[0], 4.3), layout="constrained")
    left, right = figure.subplots(1, 2, sharey=True, width_ratios=(1.25, 1))
    style.name(figure, "What lands on the work: five lines, and a cut across them")
    most = 1.02 * float(field.dose.max())
    field.show(left, most)
    left.set_xlabel("along the lines, in mm")
    left.set_ylabel("across the lines, in mm")
    left.locator_params(axis="x", nbins=4)
    left.axvline(field.length / 2, color=style.INK, linewidth=1, linestyle=":")
    right.plot(field.across, field.y, color=style.BLUE)
    mean = float(np.median(answer.values["areal_dose"].to("J/mm^2").magnitude))
    right.axvline(mean, color=style.VERMILION, linestyle="--", linewidth=1.6)
    right.annotate(
        f"mean {tell(answer.values['areal_dose'])}",
        (mean, field.y[-1]),
        xytext=(0, 4),
        textcoords="offset points",
        ha="center",
        va="bottom",
        color=style.VERMILION,
        weight="bold",
        annotation_clip=False,
    )
    right.set_xlim(0, most)
    right.set_xlabel("dose, in J/mm²")
    right.locator_params(axis="x", nbins=4)
    return figure


def describe(answer: Answer, machine: Machine) -> str:
    """Say how even the lines are, and how dark their middles get."""
    values = answer.values
    return (
        f"Map of the dose under {LINES} lines {tell(machine.job.line_spacing)} apart, and a cut "
        f"across them: the mean is {tell(values['areal_dose'])}, a single line has "
        f"{tell(values['peak_dose'])} in its middle, and peak to valley is "
        f"{percent(values['ripple'].magnitude)} of the mean."
    )
