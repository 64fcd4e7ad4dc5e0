"""How far the head sags when the profile, the carriage or the rails' distance changes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import matplotlib
import numpy as np

from mathlib.answers import frame
from mathlib.explore.panel import Panel, Seen
from mathlib.explore.settings import changed, control
from mathlib.figures import frame as figure
from mathlib.figures import style
from mathlib.units import Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

#: Slider ends, as multiples of what the machine file says.
SPANS: Final = {
    "beam.second_moment": (0.1, 10.0),
    "carriage.mass": (0.2, 5.0),
    "frame.rail_spacing": (0.9, 2.5),
}
_SIZE: Final = (4.8, 3.6)


def panel(machine: Machine) -> Panel:
    """Sag under the head along the travel, with what it does to the focus."""
    frame.beam_of(machine)  # refuses a beam whose sag nothing is known of
    view = _View(machine)
    controls = [control(machine, key, *ends) for key, ends in SPANS.items()]
    return Panel(controls=controls, figure=view.figure, update=view.update)


class _View:
    """The figure's artists, made once, and how they follow the values."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        with matplotlib.rc_context(style.RC):
            self.figure, self.axes = style.new(
                "The lower the curve hangs in the middle, the more focus it costs", _SIZE
            )
            (self.resting,) = self.axes.plot([], [], color=style.BLUE, label="ends rest")
            (self.clamped,) = self.axes.plot([], [], "--", color=style.OCHRE, label="ends clamped")
            self.axes.set_xlabel("place of the head along its travel, in mm")
            self.axes.set_ylabel("sag under the head, in µm")
            self.axes.legend(loc="lower left", frameon=False)

    def update(self, values: dict[str, Quantity]) -> Seen:
        """Move the artists to these values, and put them into words."""
        machine = changed(self.machine, values)
        found = frame.answer(machine)
        told = figure.curves(machine.typical())
        self.resting.set_data(told["place"], told["typical"])
        self.clamped.set_data(told["place"], told["clamped"])
        self.axes.set_xlim(0, told["place"][-1])
        self.axes.set_ylim(1.6 * float(np.max(told["typical"])), 0.0)
        return Seen(figure.describe(found, machine), found.verdict)
