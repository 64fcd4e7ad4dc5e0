"""What rings, and what is left of it, when the job, the head, the motors or the damping change."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import matplotlib
import numpy as np

from mathlib import units
from mathlib.answers import ringing as answer
from mathlib.explore.panel import Panel, Seen
from mathlib.explore.settings import changed, control
from mathlib.figures import style
from mathlib.motion import resonance
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

#: Slider ends, as multiples of what the machine file says.
SPANS: Final = {
    "job.acceleration": (0.1, 10.0),
    "job.speed": (0.1, 4.0),
    "carriage.mass": (0.3, 4.0),
    "controller.set_current": (0.3, 1.5),
}
_POINTS: Final = 400


def panel(machine: Machine) -> Panel:
    """Ringing against acceleration, with sliders for acceleration, speed, mass and current."""
    view = _View(machine)
    controls = [control(machine, key, *ends) for key, ends in SPANS.items()]
    return Panel(controls=controls, figure=view.figure, update=view.update)


class _View:
    """The figure's artists, made once, and how they follow the values."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine.typical()
        with matplotlib.rc_context(style.RC):
            self.figure, axes = style.new(
                "Less acceleration is not always less ringing", (5.2, 3.9)
            )
            self.axes = axes
            axes.set_xlabel("acceleration, mm/s²")
            axes.set_ylabel("ringing at the middle, mm")
            axes.grid(alpha=0.3)
            axes.locator_params(nbins=5)
            (self.curve,) = axes.plot([], [], color=style.BLUE, label="ramp to the job's speed")
            (self.most,) = axes.plot(
                [], [], color=style.VERMILION, linestyle="--", label="worst ramp"
            )
            (self.point,) = axes.plot([], [], "o", color=style.BLUE, markersize=8)
            self.accuracy = float(machine.typical().job.accuracy.to("mm").magnitude)
            axes.axhline(self.accuracy, color=style.INK, linestyle=":", linewidth=2.2)
            axes.legend(loc="upper left", frameon=False, title="dotted: the work allows")

    def update(self, values: dict[str, Quantity]) -> Seen:
        """Move the artists to these values, and put them into words."""
        machine = changed(self.machine, values)
        here = values["job.acceleration"]
        most = max(here, control(self.machine, "job.acceleration", *SPANS["job.acceleration"]).high)
        found = answer.answer(machine)
        first, made = found.values["first_frequency_centre"], machine.drive
        sweep = units.quantity(
            np.linspace(0.0, most.to("mm/s^2").magnitude, _POINTS + 1)[1:], Q("1 mm/s^2")._units
        )
        left = resonance.ringing_amplitude(
            speed_change=machine.job.speed,
            ramp_time=machine.job.speed / sweep,
            frequency=first,
            damping=made.damping,
        )
        bound = resonance.ringing_bound(acceleration=sweep, frequency=first)
        self.curve.set_data(sweep.magnitude, left.to("mm").magnitude)
        self.most.set_data(sweep.magnitude, bound.to("mm").magnitude)
        told = found.values["ringing_left"].to("mm")
        self.point.set_data([here.to("mm/s^2").magnitude], [told.magnitude])
        self.axes.set_xlim(0.0, most.to("mm/s^2").magnitude)
        self.axes.set_ylim(0.0, 1.35 * max(self.accuracy, float(left.to("mm").magnitude.max())))
        alternative = (
            f"Ringing against acceleration, a curve with dips under a straight line. At "
            f"{units.show(here)} a ramp to {units.show(machine.job.speed)} leaves "
            f"{units.show(told, 3)} at {units.show(first, 3)}; the work allows "
            f"{units.show(machine.job.accuracy)}."
        )
        return Seen(alternative, found.verdict)
