"""What the supply must give, and the laser's wire, as current, laser, lead and air change."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import matplotlib
import numpy as np

from mathlib import units
from mathlib.answers import loads, power
from mathlib.explore.panel import Panel, Seen
from mathlib.explore.settings import changed, control
from mathlib.figures import power as figure
from mathlib.figures import style
from mathlib.units import Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

#: Slider ends, as multiples of what the machine file says.
SPANS: Final = {
    "controller.set_current": (0.2, 1.6),
    "wiring.laser_power": (0.0, 4.0),
    "wiring.laser_length": (0.1, 4.0),
    "supply.ambient": (0.5, 1.9),
}


def panel(machine: Machine) -> Panel:
    """Power by consumer beside what the supply may give for long."""
    if machine.wiring.laser_power is None:  # a slider needs a value to start from
        drawn = loads.input_power(machine.typical())
        start = units.quantity(float(np.median(drawn.magnitude)), drawn._units)
        machine = changed(machine, {"wiring.laser_power": start})
    view = _View(machine)
    controls = [control(machine, key, *ends) for key, ends in SPANS.items()]
    return Panel(controls=controls, figure=view.figure, update=view.update)


class _View:
    """The figure's artists, made once, and how they follow the values."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        with matplotlib.rc_context(style.RC):
            self.figure, self.axes = style.new(
                "The bar must end left of the dashed line", (4.6, 2.6)
            )
            self.bars = [
                self.axes.barh(0, 1, 0.5, color=colour, hatch=hatch, edgecolor="white", label=name)[
                    0
                ]
                for name, (colour, hatch) in figure._LOOKS.items()
            ]
            (self.limit,) = self.axes.plot([], [], color=style.VERMILION, linestyle="--")
            self.axes.set_yticks([])
            self.axes.set_ylim(-0.4, 0.5)
            self.axes.set_xlabel("power from the supply at work, in W")
            self.figure.legend(loc="outside lower center", ncols=3, frameon=False)

    def update(self, values: dict[str, Quantity]) -> Seen:
        """Move the artists to these values, and put them into words."""
        machine = changed(self.machine, values)
        found = power.answer(machine)
        left = 0.0
        for bar, width in zip(self.bars, figure.parts(machine)["at work"].values(), strict=True):
            bar.set_x(left)
            bar.set_width(width)
            left += width
        reach = left
        if "allowed_power" in found.values:
            allowed = float(found.values["allowed_power"].to("W").magnitude)
            self.limit.set_data([allowed, allowed], [-0.4, 0.5])
            reach = max(reach, allowed)
        self.axes.set_xlim(0.0, 1.1 * reach)
        return Seen(figure.describe(found, machine), found.verdict)
