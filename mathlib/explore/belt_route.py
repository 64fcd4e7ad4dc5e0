"""What happens to the belts when a pulley is not where the drawing says."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import attrs
import matplotlib

from mathlib.errors import ValueRefused
from mathlib.explore.panel import Control, Panel, Seen
from mathlib.figures import belt, square, style
from mathlib.motion import gantries
from mathlib.motion.gantry import Gantry
from mathlib.units import Q, Quantity, show
from mathlib.words import Word

if TYPE_CHECKING:
    from mathlib.machine import Machine

_SIZE: Final = (5.2, 4.3)


def panel(machine: Machine, pulley: str = "") -> Panel:
    """Routes of the belts with one pulley out of place, and what that does over the field.

    Parameters
    ----------
    machine : Machine
        With its layout.
    pulley : str
        Such as "belt a, rear right"; without it the last one on the frame of the first belt.

    Raises
    ------
    ValueRefused
        There is no such pulley; the message names those that there are.

    """
    view = _View(machine, pulley)
    layout = view.designed.layout
    controls = [
        Control(
            name=f"pulley.d{axis}",
            word=Word(f"d{axis}", "mm", "by which the pulley is out of place", "signed"),
            low=Q("-10 mm"),
            high=Q("10 mm"),
            start=Q("0 mm"),
        )
        for axis in ("x", "y")
    ]
    places = {"x": layout.travel_x, "y": layout.travel_y}
    for axis, start in zip(places, (0.3, 0.4), strict=True):
        controls.append(
            Control(
                name=f"head.{axis}",
                word=Word(axis, "mm", "of the head", "zero"),
                low=Q("0 mm"),
                high=places[axis],
                start=start * places[axis],
            )
        )
    return Panel(controls=controls, figure=view.figure, update=view.update)


def _found(gantry: Gantry, pulley: str) -> tuple[int, int]:
    """Belt and node number of a named pulley."""
    names = {
        f"{path.name}, {node.name}": (belt_number, number)
        for belt_number, path in enumerate(gantry.paths)
        for number, node in enumerate(path.nodes)
        if 0 < number < len(path.nodes) - 1
    }
    if not pulley:
        first, path = belt.shown_belts(gantry)[0], gantry.paths[0]
        on = [n for n, node in enumerate(path.nodes) if 0 < n < len(path.nodes) - 1]
        frame = [n for n in on if path.nodes[n].on == "frame"]
        return first, (frame or on)[-1]
    if pulley not in names:
        raise ValueRefused(f"There is no pulley {pulley!r} here; write one of {'; '.join(names)}.")
    return names[pulley]


class _View:
    """The picture, made once, and how it follows the values."""

    def __init__(self, machine: Machine, pulley: str) -> None:
        self.machine = machine.typical()
        self.designed = gantries.gantry(self.machine.layout)
        self.belt, self.number = _found(self.designed, pulley)
        path = self.designed.paths[self.belt]
        self.pulley = f"{path.name}, {path.nodes[self.number].name}"
        with matplotlib.rc_context(style.RC):
            self.figure, axes = style.new("Dotted: where the pulley should be", _SIZE)
            axes.remove()
            grid = self.figure.add_gridspec(1, 2, width_ratios=[3.7, 1.0])
            self.axes = self.figure.add_subplot(grid[0, 0])
            window = (self.figure.add_subplot(grid[0, 1]), self.belt, self.number)
            self.picture = belt.RoutePicture(self.axes, [window], self.designed, [self.belt])
            x, y = (0.3 * self.designed.layout.travel_x, 0.4 * self.designed.layout.travel_y)
            self.words = belt.lengths_above(self.axes, self.designed, x, y, [self.belt])

    def update(self, values: dict[str, Quantity]) -> Seen:
        """Move the pulley and the head, and say what the work sees of it."""
        by = [float(values[f"pulley.d{axis}"].to("mm").magnitude) for axis in "xy"]
        moved = self.designed.with_node_moved(self.belt, self.number, *by)
        x, y = values["head.x"], values["head.y"]
        worst, place, swing = square.worst_of(moved)
        self.picture.show(moved, x, y)
        told = belt.part_words(moved, self.belt, x, y)
        for words, text in zip(self.words, told, strict=True):
            words.set_text(text)
        accuracy = self.machine.job.accuracy
        enough = "less than" if worst <= accuracy else "more than"
        sentence = (
            f"With {self.pulley} out by {show(values['pulley.dx'], 3)} along x and "
            f"{show(values['pulley.dy'], 3)} along y the head is out by {show(worst, 3)} at worst, "
            f"at x = {show(place[0], 3)}, y = {show(place[1], 3)}: {enough} the "
            f"{show(accuracy, 3)} that the work allows. The tension of a belt swings by "
            f"{show(swing, 3)} over the field."
        )
        if worst < Q("1e-6 mm"):
            sentence = (
                f"With {self.pulley} out by {show(values['pulley.dx'], 3)} along x and "
                f"{show(values['pulley.dy'], 3)} along y all moving runs stay parallel to their "
                "rails: no error of place, and the tension is the same everywhere."
            )
        alternative = (
            f"Route of {self.designed.paths[self.belt].name}, to scale, with "
            f"{self.pulley} magnified. {belt.spoken(told)}. {sentence}"
        )
        return Seen(alternative, sentence)


def runs(machine: Machine) -> Panel:
    """Map of the error of place when the moving runs leave their line by an offset."""
    view = _Runs(machine)
    offset = Control(
        name="runs.offset",
        word=Word("offset", "mm", "by which the frame's idlers are out of line", "signed"),
        low=Q("-5 mm"),
        high=Q("5 mm"),
        start=Q("2 mm"),
    )
    return Panel(controls=[offset], figure=view.figure, update=view.update)


class _Runs:
    """The map, made once, and how it follows the offset."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine.typical()
        with matplotlib.rc_context(style.RC):
            self.figure, axes = style.new("Arrows lead to where the head stands", (5.2, 4.0))
            self.map = square.ErrorMap(axes, gantries.gantry(self.machine.layout))

    def update(self, values: dict[str, Quantity]) -> Seen:
        """Move map and arrows, and say the worst error, its place and the swing of tension."""
        offset = values["runs.offset"]
        layout: Any = self.machine.layout
        gantry = gantries.gantry(attrs.evolve(layout, run_offset=offset))
        worst, place, swing = square.worst_of(gantry)
        self.map.show(gantry)
        told = (
            f"Runs out of line by {show(offset, 3)}: the head is out by {show(worst, 3)} at worst, "
            f"at x = {show(place[0], 3)}, y = {show(place[1], 3)}; the tension of a belt swings by "
            f"{show(swing, 3)} over the field. The work allows "
            f"{show(self.machine.job.accuracy, 3)}."
        )
        return Seen(f"Map of the error of place over the work area. {told}", told)
