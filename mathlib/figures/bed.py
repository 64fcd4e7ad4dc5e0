"""A bed from a few measured heights, and where it leaves the depth of focus."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from mathlib import words
from mathlib.answers import percent, tell
from mathlib.figures import style
from mathlib.laser import bed
from mathlib.units import Q, Quantity
from mathlib.words import Word

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_PLACES: Final = (61, 45)  # along x and along y
_COLOURS: Final = "PuOr"  # low to high; both ends can be told apart by colour-blind people


class Bed(NamedTuple):
    """Readings, and the map that goes through them; lengths in mm, heights from the focus."""

    x: np.ndarray
    y: np.ndarray
    height: np.ndarray
    at_x: np.ndarray
    at_y: np.ndarray
    map: np.ndarray
    half_range: float

    @property
    def out_of_focus(self) -> float:
        """Part of the bed that lies farther from the focus than the half range."""
        return float(np.mean(np.abs(self.map) > self.half_range))


def read(x: Any, y: Any, height: Any, width: Any, depth: Any, half_range: Any) -> Bed:
    """Put the map together, its focus in the middle between its lowest and highest place."""
    told = words.read_words(
        "Picture of a bed",
        (
            *(Word(name, "mm", "of the readings", "signed") for name in ("x", "y", "height")),
            *(Word(name, "mm", "") for name in ("width", "depth", "half_range")),
        ),
        {
            "x": x, "y": y, "height": height, "width": width, "depth": depth,
            "half_range": half_range,
        },
    )  # fmt: skip
    at_x, at_y = (
        1e3 * np.linspace(0, told[side], count)
        for side, count in zip(("width", "depth"), _PLACES, strict=True)
    )
    found = bed.height_map(x, y, height, Q(at_x, "mm"), Q(at_y, "mm")).magnitude
    focus = (found.min() + found.max()) / 2
    up = 1e3 * np.asarray(told["height"]) - focus
    across, along = (1e3 * np.asarray(told[name]) for name in ("x", "y"))
    half = 1e3 * float(np.median(told["half_range"]))
    return Bed(across, along, up, at_x, at_y, found - focus, half)


def draw(bed_read: Bed) -> Figure:
    """Draw heights as colours, readings as numbers, and hatch what is out of focus."""
    figure, axes = style.new(
        "Heights from the focus: hatched is where the spot has grown by a tenth",
        (style.SIZE[0], 4.4),
    )
    most = max(float(np.abs(bed_read.map).max()), 1e-6)
    levels = np.linspace(-most, most, 15)
    shown = axes.contourf(
        bed_read.at_x, bed_read.at_y, bed_read.map, levels=levels, cmap=_COLOURS, extend="both"
    )
    half = bed_read.half_range
    if most > half:
        edges = [-1.01 * most, -half, half, 1.01 * most]
        axes.contourf(
            bed_read.at_x, bed_read.at_y, bed_read.map, levels=edges, colors="none",
            hatches=["//", "", "//"],
        )  # fmt: skip
    axes.plot(bed_read.x, bed_read.y, "o", color=style.INK, markersize=5, clip_on=False)
    middle = (bed_read.at_x[-1] / 2, bed_read.at_y[-1] / 2)
    for x, y, up in zip(bed_read.x, bed_read.y, bed_read.height, strict=True):
        left, below = x > middle[0], y > middle[1]
        axes.annotate(
            f"{up:+.2f}", (x, y), xytext=(-6 if left else 6, -6 if below else 6),
            textcoords="offset points", ha="right" if left else "left",
            va="top" if below else "bottom", weight="bold",
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1},
        )  # fmt: skip
    axes.set_aspect("equal")
    axes.set_xlabel("x, in mm")
    axes.set_ylabel("y, in mm")
    bar = figure.colorbar(shown, ax=axes, shrink=0.8, ticks=[-most, 0, most], format="%+.2f")
    bar.set_label("height, in mm")
    return figure


def describe(bed_read: Bed, half_range: Quantity) -> str:
    """Say how far the bed goes up and down, and how much of it is out of focus."""
    span = Q(float(np.ptp(bed_read.map)), "mm")
    return (
        f"Map of a bed from {len(bed_read.height)} heights: {tell(span)} from lowest to highest. "
        f"With the focus in the middle, {percent(bed_read.out_of_focus)} of it lies farther off "
        f"than {tell(half_range)}."
    )
