"""What speed, line spacing, acceleration and power do to the dose, across lines and at ends."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import attrs
import matplotlib
import numpy as np

from mathlib import units
from mathlib.answers import energy, percent, tell
from mathlib.explore.panel import Control, Panel, Seen
from mathlib.explore.settings import changed, control
from mathlib.fields import word_of
from mathlib.figures import line_end, style
from mathlib.figures.energy import LINES, Field, sides
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

#: Slider ends, as multiples of what the machine file says.
SPANS: Final = {
    "job.speed": (0.1, 4.0),
    "job.line_spacing": (0.2, 2.5),
    "job.acceleration": (0.1, 10.0),
}
_SIZE: Final = (5.0, 3.6)  # small, so that its words stay large on a phone
_SHOWN: Final = (0, 3)  # of the ways in which a line ends: power constant, and following


def panel(machine: Machine) -> Panel:
    """Dose across the lines and towards their end, for values to move."""
    view = _View(machine)
    controls = [control(machine, key, *ends) for key, ends in SPANS.items()]
    controls.append(_power(machine))
    return Panel(controls=controls, figure=view.figure, update=view.update)


def _power(machine: Machine) -> Control:
    """Share of the light, which ends at all of it."""
    job: Any = type(machine.job)
    word = word_of(attrs.fields_dict(job)["power_share"])
    assert word is not None
    start = machine.typical().job.power_share
    return Control(name="job.power_share", word=word, low=Q("0.05 1"), high=Q("1 1"), start=start)


class _View:
    """The figure's artists, made once, and how they follow the values."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        with matplotlib.rc_context(style.RC):
            self._make()

    def _make(self) -> None:
        from matplotlib.figure import Figure

        self.figure = Figure(figsize=_SIZE, layout="constrained")
        style.name(self.figure, "Across the lines, and where a line ends")
        self.across, self.ends = self.figure.subplots(1, 2, sharey=True)
        (self.cut,) = self.across.plot([], [], color=style.BLUE)
        self.mean = self.across.axhline(1.0, color=style.OCHRE, linestyle="--", label="mean")
        self.curves = [
            self.ends.plot([], [], color=colour, linestyle=look, label=name)[0]
            for name, _, _, colour, look in (line_end.WAYS[place] for place in _SHOWN)
        ]
        start = energy.values(self.machine.typical())["peak_dose"].to("J/mm^2").magnitude
        self.across.set_yscale("log")
        self.across.set_ylim(0.01 * start, 300 * start)
        self.across.yaxis.set_major_formatter("{x:g}")
        self.across.set_xlabel("across, in mm")
        self.across.set_ylabel("dose, in J/mm²")
        self.ends.set_xlabel("before the end, in mm")
        for axes in (self.across, self.ends):
            axes.legend(frameon=False, loc="upper left", handlelength=1.6, borderaxespad=0)
            axes.grid(alpha=0.3)
            axes.locator_params(axis="x", nbins=4)

    def update(self, values: dict[str, Quantity]) -> Seen:
        """Move the artists to these values, and put them into words."""
        machine = changed(self.machine, values)
        found = energy.answer(machine)
        field = Field(machine, sides(machine))
        self.cut.set_data(field.y, np.maximum(field.across, 1e-9))
        self.across.set_xlim(field.y[0], field.y[-1])
        mean = float(found.values["areal_dose"].to("J/mm^2").magnitude)
        self.mean.set_ydata([mean, mean])
        places, ratios = line_end.curves(machine)
        peak = float(found.values["peak_dose"].to("J/mm^2").magnitude)
        for curve, place in zip(self.curves, _SHOWN, strict=True):
            curve.set_data(places, np.maximum(peak * ratios[place], 1e-9))
        self.ends.set_xlim(places[-1], places[0])
        alternative = (
            f"Dose across {LINES} lines at {units.show(values['job.speed'], 3)} and "
            f"{units.show(values['job.line_spacing'], 3)} apart: mean "
            f"{tell(found.values['areal_dose'])}, peak to valley "
            f"{percent(found.values['ripple'].magnitude)} of it; at the end of a line "
            f"{tell(found.values['end_overdose'], 2)} times the line's dose."
        )
        return Seen(alternative, found.verdict)
