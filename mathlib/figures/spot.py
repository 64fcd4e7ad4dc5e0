"""The beam through its focus, with the sheet drawn in."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from mathlib.answers import spot, tell
from mathlib.figures import style
from mathlib.laser import beams
from mathlib.units import Q

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine

_HEIGHTS = 121
_DRAWS = 500


def _reach(answer: Answer, machine: Machine) -> float:
    """Height to show on each side of the focus, in mm: the sheet, and the depth of focus."""
    depth = float(np.nanmedian(answer.values["depth_of_focus"].to("mm").magnitude))
    sheet = machine.job.thickness
    half = 0.0 if sheet is None else float(np.median(sheet.to("mm").magnitude)) / 2
    return max(1.35 * half, 3.0 * depth)


def _diameters(machine: Machine, height: np.ndarray) -> np.ndarray:
    """Diameter in mm at each height for the typical head, or rows of them for drawn heads."""
    diameter, length = (part.to("mm").magnitude for part in spot.spot_diameter(spot.laser(machine)))
    found = beams.diameter_at(
        waist_diameter=Q(np.atleast_1d(diameter)[:, None], "mm"),
        distance=Q(height, "mm"),
        rayleigh_length=Q(np.atleast_1d(length)[:, None], "mm"),
    )
    return np.asarray(found.to("mm").magnitude)


def _other_diameters(machine: Machine, height: np.ndarray) -> np.ndarray | None:
    """Diameter in mm at each height along the other axis, if the typical head states one."""
    focus = spot.other_axis(spot.laser(machine.typical()))
    if focus is None:
        return None
    found = beams.diameter_at(
        waist_diameter=focus[0], distance=Q(height, "mm"), rayleigh_length=focus[1]
    )
    return np.asarray(found.to("mm").magnitude)


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw the edges of the beam from above to below the focus, and the sheet around it."""
    reach = _reach(answer, machine)
    height = np.linspace(-reach, reach, _HEIGHTS)
    typical = np.median(_diameters(machine.typical(), height), axis=0)
    figure, axes = style.new(
        "The beam is narrow only near its focus: see how wide it is where it enters the sheet",
        (style.SIZE[0], 4.4),
    )
    widest = float(typical.max())
    if machine.ranges:
        drawn = _diameters(machine.draw(_DRAWS), height)
        low, high = np.percentile(drawn, [5, 95], axis=0)
        for side in (-0.5, 0.5):
            axes.fill_betweenx(height, side * low, side * high, color=style.SKY, alpha=0.45, lw=0)
        widest = max(widest, float(high.max()))
    for side in (-0.5, 0.5):
        axes.plot(side * typical, height, color=style.BLUE)
    other = _other_diameters(machine, height)
    if other is not None:
        for side in (-0.5, 0.5):
            axes.plot(side * other, height, color=style.OCHRE, linestyle="--")
        widest = max(widest, float(other.max()))
        axes.plot([], [], color=style.BLUE, label="first axis")
        axes.plot([], [], color=style.OCHRE, linestyle="--", label="other axis")
        figure.legend(loc="outside lower center", ncols=2, frameon=False)
    edge = 0.75 * widest
    if machine.job.thickness is not None:
        half = float(np.median(machine.job.thickness.to("mm").magnitude)) / 2
        axes.axhspan(-half, half, color=style.GREY, alpha=0.22, lw=0)
        for face in (-half, half):
            axes.axhline(face, color=style.GREY, lw=1)
        axes.text(-0.96 * edge, 0, f"{tell(machine.job.thickness)}\nsheet", va="center")
        faces = answer.values["diameter_at_faces"]
        wide = float(np.nanmedian(faces.to("mm").magnitude))
        _dimension(axes, wide, half, f"{tell(faces)}\nat the faces", "top")
    waist = answer.values["spot_diameter"]
    wide = float(np.nanmedian(waist.to("mm").magnitude))
    _dimension(axes, wide, 0.0, f"{tell(waist)}\nat the focus", "center")
    axes.set_xlim(-edge, edge)
    axes.set_ylim(-reach, reach)
    axes.set_xlabel("across the beam, in mm (1/e² width)")
    axes.set_ylabel("height above the focus, in mm")
    return figure


def _dimension(axes: Axes, width: float, height: float, text: str, side: str) -> None:
    """Mark a width by an arrow with two heads, and name it to the right."""
    axes.annotate(
        "",
        (-width / 2, height),
        (width / 2, height),
        arrowprops={"arrowstyle": "<->", "color": style.VERMILION, "shrinkA": 0, "shrinkB": 0},
    )
    axes.annotate(
        text,
        (width / 2, height),
        xytext=(20, -4 if side == "top" else 0),
        textcoords="offset points",
        va=side,
        color=style.VERMILION,
        weight="bold",
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1},
    )


def describe(answer: Answer, machine: Machine) -> str:
    """Say the width at the focus and at the faces, and over which depth it stays narrow."""
    told = f"Outline of the beam: {tell(answer.values['spot_diameter'])} wide at the focus"
    if machine.job.thickness is not None:
        told += (
            f", {tell(answer.values['diameter_at_faces'])} at the faces of a "
            f"{tell(machine.job.thickness)} sheet with the focus in its middle"
        )
    if "spot_diameter_y" in answer.values:
        told += f"; along the other axis {tell(answer.values['spot_diameter_y'])} at the focus"
    depth = answer.values["depth_of_focus"]
    return f"{told}; it grows by 10 % within {tell(depth)} to each side."
