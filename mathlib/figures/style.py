"""How every picture looks: colours, lines, sizes. Stated here and nowhere else."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK: Final = "#1c2126"  # text and axes

# Okabe and Ito's colours, which people with the common colour blindnesses can tell apart.
BLUE: Final = "#0072b2"
ORANGE: Final = "#e69f00"
VERMILION: Final = "#d55e00"
OCHRE: Final = "#8a5f00"  # words about what is orange: orange itself is too light to read
SKY: Final = "#56b4e9"
GREY: Final = "#8a8f94"

SIZE: Final = (5.4, 3.9)  # inches; narrow enough that 11 pt can be read on a phone
_TITLE_WIDTH: Final = 44

RC: Final[Any] = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans", "Arial", "Liberation Sans"],
    "font.size": 11,
    "axes.titlesize": 12,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.titlepad": 10,
    "axes.labelsize": 11,
    "xtick.labelsize": 11,
    "ytick.labelsize": 11,
    "text.color": INK,
    "axes.labelcolor": INK,
    "axes.edgecolor": INK,
    "axes.titlecolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "lines.linewidth": 2.0,
    "hatch.linewidth": 1.2,
    "figure.facecolor": "white",
    "axes.facecolor": "none",
    "svg.fonttype": "none",
    "svg.hashsalt": "belts and beams",
}


def new(title: str, size: tuple[float, float] = SIZE) -> tuple[Figure, Axes]:
    """Make a figure with one pair of axes and a title that says what to look at."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=size, layout="constrained")
    axes = figure.add_subplot()
    name(figure, title)
    return figure, axes


def name(figure: Figure, title: str) -> None:
    """Write a title that says what to look at over a figure."""
    figure.suptitle(
        textwrap.fill(title, _TITLE_WIDTH), x=0.01, ha="left", size=12, weight="bold", color=INK
    )
