"""Where the steps let the head stand when microsteps, pulley or friction change."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import attrs
import matplotlib
import numpy as np

from mathlib.answers import step
from mathlib.errors import ValueRefused
from mathlib.explore.panel import Control, Panel, Seen
from mathlib.explore.settings import changed, control
from mathlib.fields import word_of
from mathlib.figures import step as figure
from mathlib.figures import style
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

#: Lowest and highest value of what is counted; one place of the slider is one.
COUNTED: Final = {"controller.microsteps": (1, 101), "pulley.teeth": (10, 110)}


def panel(machine: Machine) -> Panel:
    """Points that the steps reach, and the square in which friction lets the head rest."""
    view = _View(machine)
    controls = []
    for key, (low, high) in COUNTED.items():
        section, _, name = key.partition(".")
        record = getattr(machine.typical(), section)
        word = word_of(attrs.fields_dict(type(record))[name])
        assert word is not None
        start = Q(float(np.median(getattr(record, name).magnitude)), "1")
        controls.append(
            Control(name=key, word=word, low=Q(low, "1"), high=Q(high, "1"), start=start)
        )
    controls.append(control(machine, "carriage.friction", 0.0, 5.0))
    return Panel(controls=controls, figure=view.figure, update=view.update)


class _View:
    """The figure's artists, made once, and how they follow the values."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.travel = figure._travel_matrix(machine)
        with matplotlib.rc_context(style.RC):
            self.figure, axes = style.new(
                "Steps reach the dots; friction lets the head rest anywhere in the square",
                (4.9, 4.2),
            )
            self.axes = axes
            (self.square,) = axes.fill([0, 0, 0, 0], [0, 0, 0, 0], fc=style.ORANGE, alpha=0.35)
            (self.dots,) = axes.plot([], [], "o", color=style.BLUE, markersize=5)
            axes.plot(0, 0, "+", color=style.VERMILION, markersize=14, markeredgewidth=2.5)
            (self.nearest,) = axes.plot([], [], color=style.VERMILION, lw=1.5)
            axes.set_aspect("equal")
            axes.set_xlabel("x from the wanted point +, in µm")
            axes.set_ylabel("y from the wanted point, in µm")

    def update(self, values: dict[str, Quantity]) -> Seen:
        """Move the artists to these values, and put them into words."""
        for key in COUNTED:
            if float(values[key].magnitude) % 1:
                raise ValueRefused(f"{key.partition('.')[2]} is a whole number.")
        machine = changed(self.machine, values)
        found = step.answer(machine)
        length, band = (figure._micrometres(found, word) for word in ("belt_step", "friction_band"))
        reach = 2.6 * length if np.isnan(band) else max(2.6 * length, 0.65 * band)
        points = figure.lattice_points(length, self.travel, reach)
        self.dots.set_data(*points.T)
        half = 0.0 if np.isnan(band) else band / 2
        self.square.set_xy(half * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]))
        nearest = points[np.argmin(np.hypot(*points.T))]
        self.nearest.set_data([0, nearest[0]], [0, nearest[1]])
        self.axes.set_xlim(-reach, reach)
        self.axes.set_ylim(-reach, reach)
        return Seen(figure.describe(found, machine), found.verdict)
