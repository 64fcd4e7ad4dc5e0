"""The lowest modes as what moves: beam and head at rest, and at the end of their swing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from mathlib.figures import style
from mathlib.motion import modes
from mathlib.units import show

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine
    from mathlib.motion.modes import Modes

_SWING: Final = 0.13  # of the rail spacing, by which what moves most is drawn aside
_WIDE: Final = 1.24  # of the rail spacing, that is shown
_DEEP: Final = 1.35  # of the travel along y, that is shown


def lowest(machine: Machine) -> Modes:
    """Modes with the head a quarter from the left, where x, y and yaw do not keep apart."""
    fixed = machine.typical()
    return modes.modes(fixed.drive, fixed.layout.travel_x / 4.0, fixed.layout.travel_y / 2.0)


def _count(found: Modes) -> int:
    return 3 if "yaw" in found.moves else 2


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw each of the lowest modes of the head over the frame seen from above."""
    from matplotlib.figure import Figure as Made

    found = lowest(machine)
    count = _count(found)
    figure = Made(figsize=(style.SIZE[0], _height(machine, count)), layout="constrained")
    figure.suptitle(
        "What swings, a quarter from the left: grey to blue", x=0.01, ha="left", weight="bold"
    )
    for number, axes in enumerate(figure.subplots(1, count)):
        _one(axes, found, number, machine, ", " if count == 2 else "\n")
    return figure


def _height(machine: Machine, count: int) -> float:
    """Inches that a frame as deep as this one takes, with its words above and below."""
    layout = machine.layout
    wide = (style.SIZE[0] / count - 0.6) / (_WIDE * float(layout.rail_spacing.to("mm").magnitude))
    words = 1.6 if count == 2 else 1.8
    return max(3.0, _DEEP * float(layout.travel_y.to("mm").magnitude) * wide + words)


def _one(axes: Axes, found: Modes, number: int, machine: Machine, parted: str) -> None:
    layout = machine.layout
    width, deep = (float(v.to("mm").magnitude) for v in (layout.rail_spacing, layout.travel_y))
    across = float(layout.travel_x.to("mm").magnitude)
    head_x, head_y = (width - across) / 2.0 + across / 4.0, deep / 2.0
    shape = dict(zip(found.moves, found.shape[number], strict=True))
    swing = _SWING * width
    yaw = swing * shape.get("yaw", 0.0) / (width / 2.0)
    aside, along = swing * shape["x"], swing * shape["y"]
    for side in (0.0, width):
        axes.plot([side, side], [-0.1 * deep, 1.1 * deep], color=style.INK, linewidth=1.2)
    ends = np.array([0.0, width])
    for colour, shift, turn, moved, line in (
        (style.GREY, 0.0, 0.0, 0.0, ":"),
        (style.BLUE, along, yaw, aside, "-"),
    ):
        axes.plot(ends, head_y + shift + turn * (ends - width / 2), color=colour, linestyle=line)
        at: Any = head_x + moved, head_y + shift + turn * (head_x + moved - width / 2)
        axes.plot(*at, "s", color=colour, markersize=11)
    axes.annotate(
        "",
        (head_x + aside, head_y + along + yaw * (head_x + aside - width / 2)),
        xytext=(head_x, head_y),
        arrowprops={"arrowstyle": "->", "color": style.VERMILION, "linewidth": 2},
        zorder=6,
    )
    motors = max(abs(shape["motor a"]), abs(shape["motor b"]))
    axes.set_title(
        f"{show(found.frequency[number], 3)}{parted}{found.names()[number]}\n"
        f"belts move {100 * motors:.0f} %",
        loc="left",
        size=11 if parted == ", " else 9,  # of three the words are narrow
    )
    axes.set_xlabel("x, in mm")
    axes.set_ylabel("y, in mm" if number == 0 else "")
    axes.set_xticks([(width - across) / 2.0, (width + across) / 2.0], ["0", f"{across:.3g}"])
    axes.set_yticks([0.0, deep], ["0", f"{deep:.3g}"])
    axes.set_aspect("equal")
    axes.set_xlim(-0.12 * width, (_WIDE - 0.12) * width)
    axes.set_ylim(-0.15 * deep, (_DEEP - 0.15) * deep)


def describe(answer: Answer, machine: Machine) -> str:
    """Say for each mode how far each thing goes."""
    found = lowest(machine)
    told = []
    for number in range(_count(found)):
        parts = ", ".join(
            f"{move} {100 * float(share):.0f} %"
            for move, share in zip(found.moves, found.shape[number], strict=True)
            if abs(share) >= 0.005
        )
        told.append(
            f"{show(found.frequency[number], 3)}, {found.names()[number]}, in parts of the "
            f"largest movement: {parts}"
        )
    return (
        f"Beam and head from above at rest and at the end of a swing, head a quarter from the "
        f"left. {'; '.join(told)}."
    )
