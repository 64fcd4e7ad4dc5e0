"""Map of the lowest natural frequency over the work area; a measured one may be put on it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from mathlib.answers.ringing import softest_place
from mathlib.figures import style
from mathlib.motion import resonance
from mathlib.units import Q, Quantity, show

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine
    from mathlib.measure.model_fit import Identified

_POINTS = 41  # along each axis; odd, so that the middle is one of them


def frequency_map(machine: Machine, mode: int = 0) -> tuple[Quantity, Quantity, Quantity]:
    """Places along x and y, and a mode's frequency with the motors energised, shape (y, x)."""
    machine = machine.typical()
    work = machine.machine
    x = Q(np.linspace(0.0, float(np.median(work.travel_x.magnitude)), _POINTS), "mm")
    y = Q(np.linspace(0.0, float(np.median(work.travel_y.magnitude)), _POINTS), "mm")
    return x, y, resonance.frequency_map(machine.drive, x, y, mode)


def draw(answer: Answer, machine: Machine, measured: Identified | None = None) -> Figure:
    """Draw lines of equal frequency, with the middle and the place where it is lowest.

    Of a measured mode it is that mode's map: the place of the measurement, and the line along
    which the machine's file has the head ring as measured.
    """
    mode = 0 if measured is None else measured.mode
    x, y, frequency = frequency_map(machine, mode)
    hertz = frequency.magnitude
    title = "Where the head rings lowest: each line joins places of equal frequency"
    if measured is not None:
        title = f"Mode {mode + 1} by the file, dashed as measured: does that line meet the place?"
    figure, axes = style.new(title, (style.SIZE[0], 4.4))
    flat = np.ptp(hertz) < 1e-3 * np.median(hertz)
    if not flat:
        axes.contourf(x.magnitude, y.magnitude, hertz, levels=7, cmap="Blues", alpha=0.55)
        lines = axes.contour(
            x.magnitude, y.magnitude, hertz, levels=7, colors=style.BLUE, linewidths=1.4
        )
        axes.clabel(
            lines,
            fmt="%.3g Hz",
            fontsize=11,
            colors=style.INK,
            manual=_label_places(
                np.asarray(lines.levels), x.magnitude, y.magnitude, hertz, _lowest(machine, hertz)
            ),
        )
    places = [("middle", _POINTS // 2, _POINTS // 2, "o")]
    places.append(("lowest", *_lowest(machine, hertz), "v"))
    if measured is not None:
        _put_measured(axes, x, y, hertz, measured)
        places = []
    for name, row, column, marker in places:
        place = float(x.magnitude[column]), float(y.magnitude[row])
        axes.plot(*place, marker, color=style.VERMILION, markersize=9, clip_on=False, zorder=5)
        right, high = column > _POINTS // 2, row > _POINTS // 2
        axes.annotate(
            f"{name}: {show(frequency[row, column], 3)}",
            place,
            xytext=(-10 if right else 10, -12 if high else 12),
            textcoords="offset points",
            ha="right" if right else "left",
            va="center",
            weight="bold",
            bbox={"facecolor": "white", "alpha": 0.8, "edgecolor": "none", "pad": 1.5},
        )
    axes.set_aspect("equal")
    axes.set_xlim(0, x.magnitude[-1])
    axes.set_ylim(0, y.magnitude[-1])
    axes.set_xlabel("x, along the moving beam, in mm")
    axes.set_ylabel("y, along the rails, in mm")
    return figure


def _place(number: int) -> tuple[int, int]:
    """Row and column of a point of the map that is counted row by row."""
    return divmod(number, _POINTS)


def _lowest(machine: Machine, hertz: np.ndarray) -> tuple[int, int]:
    """Row and column of the lowest frequency: of several as low, the one that the verdict names."""
    told, work = softest_place(machine), machine.typical().machine
    column, row = (
        round((_POINTS - 1) * float((place / travel).to("").magnitude))
        for place, travel in zip(told, (work.travel_x, work.travel_y), strict=True)
    )
    if hertz[row, column] <= hertz.min() * (1 + 1e-9):
        return row, column
    return _place(int(np.argmin(hertz)))


def _put_measured(
    axes: Any, x: Quantity, y: Quantity, hertz: np.ndarray, measured: Identified
) -> None:
    """Mark where it was measured, and the line along which the file has that frequency."""
    told = measured.frequency.value
    if hertz.min() < told.magnitude < hertz.max():
        axes.contour(
            x.magnitude,
            y.magnitude,
            hertz,
            levels=[told.magnitude],
            colors=style.VERMILION,
            linewidths=2.6,
            linestyles="--",
        )
    place = measured.x.to("mm").magnitude, measured.y.to("mm").magnitude
    right, high = place[0] > x.magnitude[-1] / 2, place[1] > y.magnitude[-1] / 2
    axes.plot(*place, "D", color=style.VERMILION, markersize=10, clip_on=False, zorder=5)
    axes.annotate(
        f"measured along {measured.axis}: {show(told, 3)}\nthe file says {show(measured.model, 3)}",
        place,
        xytext=(-12 if right else 12, -22 if high else 22),
        textcoords="offset points",
        ha="right" if right else "left",
        va="center",
        weight="bold",
        bbox={"facecolor": "white", "alpha": 0.85, "edgecolor": "none", "pad": 1.5},
        zorder=6,
    )


def _label_places(
    levels: np.ndarray, x: np.ndarray, y: np.ndarray, hertz: np.ndarray, lowest: tuple[int, int]
) -> list[tuple[float, float]]:
    """Places for the numbers on the lines, away from the words at the marks and from the edges."""
    found, edge, middle = [], _POINTS // 16, _POINTS // 2

    def worded(row: int, column: int) -> bool:
        """Tell whether the words of the middle or of the lowest place lie here."""
        for at_row, at_column in ((middle, middle), lowest):
            aside = (at_column - column) if at_column > middle else (column - at_column)
            below = (at_row - row) if at_row > middle else (row - at_row)
            if -3 <= aside <= middle and -2 <= below <= 6:
                return True
        return False

    for level in levels:
        for column in (6 * _POINTS // 7, _POINTS // 7):
            above = hertz[:, column] > level
            crossed = np.flatnonzero((above[1:] != above[:-1])[edge:-edge])
            if not crossed.size:
                continue
            row = int(crossed[0]) + edge
            if worded(row, column):
                continue
            found.append((float(x[column]), float(y[row])))
            break
    return found


def describe(answer: Answer, machine: Machine, measured: Identified | None = None) -> str:
    """Say the frequency in the middle, and the least and greatest with their places."""
    x, y, frequency = frequency_map(machine, 0 if measured is None else measured.mode)
    told = []
    hertz = frequency.magnitude
    lowest = _lowest(machine, hertz) if measured is None else _place(int(np.argmin(hertz)))
    highest = _place(int(np.argmax(hertz)))
    for name, (row, column) in (("lowest", lowest), ("highest", highest)):
        told.append(
            f"{name} {show(frequency[row, column], 3)} at x = {show(x[column], 3)}, "
            f"y = {show(y[row], 3)}"
        )
    middle = frequency[_POINTS // 2, _POINTS // 2]
    if measured is not None:
        inside = (
            frequency.magnitude.min() < measured.frequency.magnitude < frequency.magnitude.max()
        )
        line = (
            "A dashed line joins the places where the file has that frequency"
            if inside
            else "Nowhere on the map the file has that frequency"
        )
        return (
            f"Map of mode {measured.mode + 1} over {show(x[-1], 3)} by {show(y[-1], 3)} by the "
            f"file: {told[0]}, {told[1]}. Measured at x = {show(measured.x, 3)}, "
            f"y = {show(measured.y, 3)}: {show(measured.frequency.value, 3)}, where the file says "
            f"{show(measured.model, 3)}. {line}."
        )
    return (
        f"Map of the lowest natural frequency over {show(x[-1], 3)} by {show(y[-1], 3)}: "
        f"{show(middle, 3)} in the middle, {told[0]}, {told[1]}."
    )
