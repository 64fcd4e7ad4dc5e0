"""The points that the steps reach, around a wanted one, and the band that friction leaves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from mathlib.answers import tell
from mathlib.figures import style
from mathlib.motion import gantries

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine

_MOST = 4000  # points that are drawn
_SHOWN = ("belt_step", "lattice_worst", "friction_band")


def lattice_points(step: float, travel_matrix: np.ndarray, reach: float) -> np.ndarray:
    """Points within ``reach`` of the wanted one, shape (n, 2); the wanted one is as far as can be.

    ``travel_matrix`` is the belt travel of each motor for each travel of the head; its inverse
    moves the head for one step of each. The wanted point is the middle of four points.
    """
    each = step * np.linalg.inv(travel_matrix)
    most = int(min(2 * reach / step + 2, np.sqrt(_MOST) / 2))
    counts = np.indices((2 * most, 2 * most)).reshape(2, -1).T - most + 0.5
    points: np.ndarray = counts @ each.T
    return points[np.all(np.abs(points) <= reach, axis=1)]


def _micrometres(answer: Answer, word: str) -> float:
    """Value in the middle; nan where it holds for none."""
    held = np.atleast_1d(answer.values[word].to("um").magnitude)
    held = held[~np.isnan(held)]
    return float(np.median(held)) if held.size else np.nan


def _travel_matrix(machine: Machine) -> np.ndarray:
    layout = machine.typical().layout
    found = gantries.gantry(layout).travel_matrix(layout.travel_x / 2.0, layout.travel_y / 2.0)
    return np.asarray(found.magnitude)


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw the lattice around a wanted point, the worst error, and where friction lets it rest."""
    step, worst, band = (_micrometres(answer, word) for word in _SHOWN)
    span = answer.ranges.get("friction_band")
    most = band if span is None else float(span[1].to("um").magnitude)
    reach = 2.6 * step if np.isnan(band) else max(2.6 * step, 0.65 * most)
    points = lattice_points(step, _travel_matrix(machine), reach)
    figure, axes = style.new(
        "Steps reach the dots; friction lets the head rest anywhere in the square",
        (style.SIZE[0], 4.9),
    )
    for side, line, fill in ((most, ":", False), (band, "-", True)):
        if side > 0:
            axes.fill(
                *(side / 2 * np.array([[-1, 1, 1, -1], [-1, -1, 1, 1]])),
                facecolor=style.ORANGE if fill else "none",
                alpha=0.35 if fill else 1.0,
                edgecolor=style.ORANGE,
                linestyle=line,
                linewidth=2,
            )
    axes.plot(*points.T, "o", color=style.BLUE, markersize=5)
    axes.plot(0, 0, "+", color=style.VERMILION, markersize=14, markeredgewidth=2.5)
    nearest = points[np.argmin(np.hypot(*points.T))]
    axes.plot([0, nearest[0]], [0, nearest[1]], color=style.VERMILION, lw=1.5)
    axes.set_aspect("equal")
    axes.set_xlim(-reach, reach)
    axes.set_ylim(-reach, reach)
    axes.set_xlabel("x from the wanted point, in µm")
    axes.set_ylabel("y from the wanted point, in µm")
    legend = [
        (style.VERMILION, f"+ wanted; the nearest dot is {worst:.3g} µm away, at worst"),
        (style.BLUE, f"• reached by microsteps of {step:.3g} µm"),
        (style.OCHRE, f"■ {_friction(band, most)}"),
    ]
    for row, (colour, text) in enumerate(reversed(legend)):
        axes.annotate(
            text,
            (0, 1),
            xycoords="axes fraction",
            xytext=(0, 8 + 16 * row),
            textcoords="offset points",
            color=colour,
        )
    return figure


def describe(answer: Answer, machine: Machine) -> str:
    """Say the lattice's worst error and the friction band, in the unit of the picture."""
    turned = bool(np.all(_travel_matrix(machine) != 0.0))  # both motors move the head along x
    how = "square lattice turned by 45 degrees" if turned else "square lattice"
    step, worst, band = (_micrometres(answer, word) for word in _SHOWN)
    told = (
        f"Points that the steps reach, a {how} of {step:.3g} µm microsteps: a wanted point is at "
        f"most {worst:.3g} µm from one."
    )
    if np.isnan(band):
        return f"{told} Friction is more than the motor holds: it slips."
    ends = answer.ranges.get("friction_band")
    spread = "" if ends is None else f", 90 % of cases {tell(ends[0])} to {tell(ends[1])}"
    return f"{told} Friction lets the head rest within a square {band:.3g} µm wide{spread}."


def _friction(band: float, most: float) -> str:
    if np.isnan(band):
        return "friction is more than the motor holds: it slips"
    return f"friction band {band:.3g} µm" + (
        f"; dotted: {most:.3g} µm, 95 % are below" if most > band else ""
    )
