"""Beam of the machine beside that of another head, both axes of each, with the sheet drawn in."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import attrs
import numpy as np

from mathlib import tables
from mathlib.answers import spot, tell
from mathlib.figures import style
from mathlib.laser.beams import Module
from mathlib.ranges import Range
from mathlib.units import Q

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.laser.beams import Beam
    from mathlib.machine import Machine

#: Rows of the table of lasers to set beside it: the second where the machine has the first.
BESIDE: Final = ("blue diode, four emitters, 20 W", "blue diode, one emitter, 5.5 W")
_HEIGHTS: Final = 121
_AXES: Final = ((style.BLUE, "-", "first axis"), (style.VERMILION, "--", "other axis"))


def row(name: str) -> Module:
    """Head of a row of the table, with its typical values."""
    told: dict[str, Any] = {
        key: value.typical if isinstance(value, Range) else value
        for key, value in tables.read("lasers").rows[name].values.items()
    }
    known = attrs.fields_dict(Module)  # type: ignore[arg-type]
    return Module(**{key: value for key, value in told.items() if key in known})


def pair(machine: Machine) -> tuple[tuple[str, Beam], tuple[str, Beam]]:
    """Names and beams: of this machine's head, and of another one to compare."""
    head = spot.laser(machine.typical())
    other = BESIDE[0]
    if head.optical_power.to("W").magnitude > 0.9 * row(other).optical_power.to("W").magnitude:
        other = BESIDE[1]
    return ("this head", spot.as_beam(head)), (other, spot.as_beam(row(other)))


def widths(beam: Beam, height: np.ndarray) -> np.ndarray:
    """1/e² widths in mm at each height: a row for each axis."""
    return np.atleast_2d(beam.diameter(Q(height, "mm")).to("mm").magnitude)


def reach(machine: Machine) -> float:
    """Height to show on each side of the focus, in mm."""
    sheet = machine.typical().job.thickness
    half = 0.0 if sheet is None else float(sheet.to("mm").magnitude) / 2
    depth = float(np.min(pair(machine)[0][1].rayleigh_length.to("mm").magnitude))
    return max(1.35 * half, 1.5 * depth)


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw the outlines of both beams on one scale, along each axis."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(style.SIZE[0], 4.6), layout="constrained")
    style.name(figure, "Two heads on one scale: more light, but where is it still narrow?")
    most = reach(machine)
    height = np.linspace(-most, most, _HEIGHTS)
    both = pair(machine)
    widest = max(float(widths(beam, height).max()) for _, beam in both)
    places = figure.subplots(1, 2, sharex=True, sharey=True)
    for axes, (name, beam) in zip(places, both, strict=True):
        for wide, (colour, look, label) in zip(widths(beam, height), _AXES, strict=False):
            axes.plot(-wide / 2, height, color=colour, linestyle=look)
            axes.plot(wide / 2, height, color=colour, linestyle=look, label=label)
        sheet = machine.typical().job.thickness
        if sheet is not None:
            half = float(sheet.to("mm").magnitude) / 2
            axes.axhspan(-half, half, color=style.GREY, alpha=0.22, lw=0)
        axes.set_title(name.replace(", ", ",\n", 1), fontsize=11)
        axes.set_xlabel("across, in mm (1/e²)")
        axes.locator_params(axis="x", nbins=4)
    places[0].set_xlim(-0.55 * widest, 0.55 * widest)
    places[0].set_ylim(-most, most)
    places[0].set_ylabel("height above the focus, in mm")
    handles, labels = places[1].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=2, frameon=False)
    return figure


def describe(answer: Answer, machine: Machine) -> str:
    """Say the focus of each, along both axes."""
    told = []
    for name, beam in pair(machine):
        sides = np.atleast_1d(beam.waist_diameter.to("mm").magnitude)
        wide = " by ".join(tell(Q(float(side), "mm")) for side in sides)
        told.append(f"{name} has a focus of {wide}")
    return f"Outlines of two beams around their focus, on one scale: {', '.join(told)}."
