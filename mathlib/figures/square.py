"""Skewed field, far too skewed to see it; and the error of place of runs that are not parallel."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from mathlib.answers import tell
from mathlib.figures import style
from mathlib.motion import squareness
from mathlib.motion.gantry import Gantry, RunError
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine

_SHOWN: Final = 0.12  # part of the field's width by which its far side is drawn shifted
_FINE, _COARSE = 41, 7  # places along each axis, of the map and of its arrows


def round_number(value: float) -> float:
    """Round to one digit, 1, 2 or 5, so that a scale is easy to say."""
    if value <= 0 or not np.isfinite(value):
        return 1.0
    ten = 10.0 ** np.floor(np.log10(value))
    return float(max(step for step in (1.0, 2.0, 5.0) if step * ten <= value * (1 + 1e-9)) * ten)


class SkewPicture:
    """A rectangle, and the parallelogram that a skew makes of it, exaggerated."""

    def __init__(self, axes: Axes, width: Quantity, depth: Quantity) -> None:
        self.axes, self.depth = axes, depth
        self.width_mm, self.depth_mm = (float(v.to("mm").magnitude) for v in (width, depth))
        right = self._corners(0.0)
        axes.plot(*right.T, color=style.GREY, ls=":", lw=2)
        (self.field,) = axes.plot([], [], color=style.BLUE, lw=2.4)
        self.diagonals = [
            axes.plot([], [], color=colour, ls=line, lw=1.8)[0]
            for colour, line in ((style.VERMILION, "--"), (style.OCHRE, "-."))
        ]
        self.words = [
            axes.annotate(
                text,
                (0, 0),
                xytext=(0, 0),
                textcoords="offset points",
                color=colour,
                ha="center",
                va="center",
                bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1},
            )
            for text, colour in (("diagonal 1", style.VERMILION), ("diagonal 2", style.OCHRE))
        ]
        self.told = axes.annotate(
            "", (0, 1), xycoords="axes fraction", xytext=(0, 8), textcoords="offset points"
        )
        axes.set_aspect("equal")
        reach = 2.6 * _SHOWN * self.width_mm
        axes.set_xlim(-reach, self.width_mm + reach)
        axes.set_ylim(-0.08 * self.depth_mm, 1.08 * self.depth_mm)
        axes.set_xlabel("x, along the moving beam, in mm")
        axes.set_ylabel("y, along the rails, in mm")

    def _corners(self, shift: float) -> np.ndarray:
        w, h = self.width_mm, self.depth_mm
        return np.array([[0, 0], [w, 0], [w + shift, h], [shift, h], [0, 0]], dtype=float)

    def show(self, skew: Quantity) -> str:
        """Move to a skew; give the words that stand above the picture."""
        shift = float(squareness.shear_shift(distance=self.depth, skew=skew).magnitude)
        wanted = _SHOWN * self.width_mm
        times = 1.0 if abs(shift) < 1e-9 else round_number(1.6 * wanted / abs(shift))
        corners = self._corners(-times * shift)  # an obtuse corner at the origin leans left
        self.field.set_data(*corners.T)
        for line, word, ends, place in zip(
            self.diagonals, self.words, ((1, 3), (0, 2)), (0.72, 0.72), strict=True
        ):
            first, second = corners[ends[0]], corners[ends[1]]
            line.set_data([first[0], second[0]], [first[1], second[1]])
            word.xy = tuple(first + place * (second - first))
        told = f"far side shifted by {abs(shift):.3g} mm, drawn {times:g} times as far"
        if abs(shift) < 1e-9:
            told = "no skew: the diagonals are equal"
        self.told.set_text(told)
        return told


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw the field at its measured skew, or at the most that the work allows."""
    work = machine.typical().machine
    known = "skew" in answer.values
    title = (
        "Your field leans like this, far less than drawn"
        if known
        else "The most that the work allows: the field may lean like this, far less than drawn"
    )
    figure, axes = style.new(title, (style.SIZE[0], 4.1))
    picture = SkewPicture(axes, work.travel_x, work.travel_y)
    picture.show(_skew(answer))
    return figure


def _skew(answer: Answer) -> Quantity:
    found = answer.values.get("skew", answer.values["skew_allowed"])
    return Q(float(np.median(found.to("deg").magnitude)), "deg")


def describe(answer: Answer, machine: Machine) -> str:
    """Say the skew, what it shifts at the far side, and what the work allows."""
    work = machine.typical().machine
    skew = _skew(answer)
    shift = squareness.shear_shift(distance=work.travel_y, skew=skew)
    whose = "measured" if "skew" in answer.values else "allowed by the work"
    return (
        f"Field of {tell(work.travel_x)} by {tell(work.travel_y)} as a parallelogram: the skew "
        f"{whose} is {tell(skew)}, which shifts the far side by {tell(shift)}. Allowed: "
        f"{tell(answer.values['skew_allowed'])}. Both diagonals are drawn."
    )


class ErrorMap:
    """Error of place over the work area: a map of its size, and arrows to where the head stands."""

    def __init__(self, axes: Axes, gantry: Gantry) -> None:
        from matplotlib import colormaps

        self.axes = axes
        layout = gantry.layout
        ends = [float(value.to("mm").magnitude) for value in (layout.travel_x, layout.travel_y)]
        self.fine = [np.linspace(0.0, end, _FINE) for end in ends]
        self.coarse = [np.linspace(0.0, end, _COARSE) for end in ends]
        empty = np.zeros((_FINE, _FINE))
        colours = colormaps["Blues"].resampled(9)  # few of them keep the picture small
        self.map = axes.pcolormesh(*self.fine, empty, cmap=colours, shading="nearest")
        grid = np.meshgrid(*self.coarse)
        axes.plot(grid[0].ravel(), grid[1].ravel(), ".", color=style.INK, ms=4, clip_on=False)
        self.arrows = axes.quiver(
            *grid,
            np.zeros_like(grid[0]),
            np.zeros_like(grid[0]),
            angles="xy",
            scale_units="xy",
            scale=1,
            width=0.007,
            color=style.VERMILION,
            clip_on=False,
            zorder=5,
        )
        self.bar = axes.figure.colorbar(self.map, ax=axes, shrink=0.8)
        self.bar.set_label("error of place, in mm")
        self.told = axes.annotate(
            "", (0, 1), xycoords="axes fraction", xytext=(0, 8), textcoords="offset points"
        )
        axes.set_aspect("equal")
        axes.set_xlim(-0.11 * ends[0], 1.11 * ends[0])
        axes.set_ylim(-0.11 * ends[1], 1.11 * ends[1])
        axes.set_xlabel("x, along the moving beam, in mm")
        axes.set_ylabel("y, along the rails, in mm")

    def show(self, gantry: Gantry) -> None:
        """Move map and arrows to a gantry."""
        error = _error(gantry, *self.fine).position.magnitude
        size = np.hypot(error[..., 0], error[..., 1])
        worst = float(size.max())
        self.map.set_array(size)
        self.map.set_clim(0.0, max(worst, 1e-6))
        arrows = _error(gantry, *self.coarse).position.magnitude
        room = 0.1 * self.coarse[1][-1]
        times = 1.0 if worst < 1e-9 else round_number(room / worst)
        self.arrows.set_UVC(times * arrows[..., 0], times * arrows[..., 1])
        self.told.set_text(
            "no error anywhere" if worst < 1e-9 else f"arrows drawn {times:g} times too long"
        )


def _error(gantry: Gantry, x: np.ndarray, y: np.ndarray) -> RunError:
    """Error over a grid, shape (y, x, 2)."""
    return gantry.parallel_error(Q(x[None, :], "mm"), Q(y[:, None], "mm"))


def worst_of(gantry: Gantry) -> tuple[Quantity, tuple[Quantity, Quantity], Quantity]:
    """Largest error of place over the work area, where it is, and the swing of tension."""
    layout = gantry.layout
    ends = [float(value.to("mm").magnitude) for value in (layout.travel_x, layout.travel_y)]
    x, y = (np.linspace(0.0, end, 21) for end in ends)
    found = _error(gantry, x, y)
    size = np.linalg.norm(found.position.magnitude, axis=-1)
    row, column = np.unravel_index(int(np.argmax(size)), size.shape)
    swing: Any = np.ptp(found.tension.magnitude, axis=(0, 1))
    place = Q(float(x[column]), "mm"), Q(float(y[row]), "mm")
    return Q(float(size.max()), "mm"), place, Q(float(np.max(swing)), "N")
