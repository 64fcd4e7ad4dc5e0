"""What happens to both motors when the job, the friction, the mass or the current changes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import matplotlib
import numpy as np

from mathlib import units
from mathlib.answers import motor
from mathlib.explore.panel import Panel, Seen
from mathlib.explore.settings import changed, control
from mathlib.figures import style
from mathlib.units import Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

#: Slider ends, as multiples of what the machine file says.
SPANS: Final = {
    "job.acceleration": (0.1, 10.0),
    "carriage.friction": (0.0, 5.0),
    "carriage.mass": (0.2, 5.0),
    "controller.set_current": (0.2, 1.5),
}
_POINTS: Final = 160
_SIZE: Final = (4.6, 3.2)  # small, so that its words stay large on a phone
_LOOK: Final = ((style.BLUE, "-", "o"), (style.VERMILION, "--", "s"))


def panel(machine: Machine) -> Panel:
    """Position error of each motor against acceleration, beside what the work needs."""
    view = _View(machine)
    controls = [control(machine, key, *ends) for key, ends in SPANS.items()]
    return Panel(controls=controls, figure=view.figure, update=view.update)


class _View:
    """The figure's artists, made once, and how they follow the values."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.motors = [m for m in (machine.motor, machine.other_motor) if m is not None]
        angles = [units.show(m.step_angle).replace(" deg", "°") for m in self.motors]
        self.names = [f"{angle} motor" for angle in angles]
        with matplotlib.rc_context(style.RC):
            self.figure, self.axes = style.new(
                "A motor is good enough below the dotted line", _SIZE
            )
            self._make()

    def _make(self) -> None:
        axes, accuracy = self.axes, self.machine.job.accuracy
        axes.set_xlabel("acceleration, mm/s²")
        axes.set_ylabel("position error, mm")
        axes.grid(alpha=0.3)
        axes.locator_params(nbins=5)
        self.curves, self.spans, self.points = [], [], []
        for name, (colour, line, mark) in zip(self.names, _LOOK, strict=False):
            self.curves += axes.plot(
                [], [], color=colour, linestyle=line, marker=mark, markevery=[], label=name
            )
            self.spans += axes.plot([], [], color=colour, marker="_", markersize=16)
            self.points += axes.plot([], [], mark, color=colour, markersize=7)
        wanted = accuracy.to("mm").magnitude
        axes.axhline(wanted, color=style.INK, linestyle=":", linewidth=2.5)
        axes.annotate(
            f"the work needs {units.show(accuracy)}",
            (0.02, wanted),
            xycoords=("axes fraction", "data"),
            textcoords="offset points",
            xytext=(0, 6),
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1},
        )
        axes.set_ylim(0.0, 2.2 * wanted)
        axes.legend(loc="upper left", title="bar: 90 % of cases", frameon=False, handlelength=3)

    def update(self, values: dict[str, Quantity]) -> Seen:
        """Move the artists to these values, and put them into words."""
        machine = changed(self.machine, values)
        here = values["job.acceleration"]
        most = max(here, control(self.machine, "job.acceleration", *SPANS["job.acceleration"]).high)
        sweep = units.quantity(np.linspace(0.0, most.magnitude, _POINTS)[1:], here._units)
        swept = changed(machine.typical(), {"job.acceleration": sweep})
        found = motor.answer(machine)
        told = []
        for place, made in enumerate(self.motors):
            curve = motor.values(swept, made)["position_error"].to("mm").magnitude
            self.curves[place].set_data(sweep.magnitude, curve)
            word = "position_error" if place == 0 else "other_position_error"
            value = found.values[word].to("mm")
            low, high = (end.to("mm").magnitude for end in found.ranges.get(word, (value, value)))
            self.points[place].set_data([here.magnitude], [value.magnitude])
            self.spans[place].set_data([here.magnitude] * 2, [low, high])
            at = "slips" if np.isnan(value.magnitude) else f"errs by {units.show(value, 3)}"
            told.append(f"the {self.names[place]} {at}")
        self.axes.set_xlim(0.0, most.magnitude)
        alternative = (
            f"Position error against acceleration. At {units.show(here)} {' and '.join(told)}; "
            f"the work needs {units.show(machine.job.accuracy)}."
        )
        return Seen(alternative, found.verdict)
