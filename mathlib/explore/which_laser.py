"""What thickness, optical power, speed and passes do to the chance of a cut."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import matplotlib
import numpy as np

from mathlib import units
from mathlib.answers import laser, percent
from mathlib.errors import Unanswerable, ValueRefused
from mathlib.explore.panel import Control, Panel, Seen
from mathlib.figures import style
from mathlib.laser import cutting, sizing
from mathlib.units import Q, Quantity
from mathlib.words import Word

if TYPE_CHECKING:
    from mathlib.machine import Machine

_SIZE: Final = (4.6, 3.4)  # small, so that its words stay large on a phone
_POINTS: Final = 9
_WORDS: Final = {
    "sheet.thickness": Word("thickness", "mm", "of the sheet"),
    "head.power": Word("power", "W", "of light on the work"),
    "cut.speed": Word("speed", "mm/s", "of the head"),
    "cut.passes": Word("passes", "1", "over the same line"),
}


def panel(machine: Machine) -> Panel:
    """Speed that severs against thickness, beside the speed that is asked for."""
    view = _View(machine)
    return Panel(controls=view.controls(), figure=view.figure, update=view.update)


class _View:
    """The figure's artists, made once, and how they follow the values."""

    def __init__(self, machine: Machine) -> None:
        self.found = laser.sized(machine)
        try:
            sheet = self.found.shown(sizing.OWN)
        except ValueRefused as fault:
            raise Unanswerable(str(fault)) from None
        self.wanted = sizing.named(sizing.wanted_of(machine))[sheet]
        self.material = sizing.material_of(machine, self.wanted)
        self.cell = self.found.cells[sheet][sizing.OWN]
        self.beam = laser.beam_of(machine)
        with matplotlib.rc_context(style.RC):
            self._make()

    def controls(self) -> list[Control]:
        """Thickness, light, speed and passes, beginning where the file stands."""
        ends: dict[str, tuple[Quantity, Quantity, Quantity]] = {
            "sheet.thickness": (Q("0.2 mm"), Q("10 mm"), self.wanted.thickness),
            "head.power": (Q("0.5 W"), Q("100 W"), self.found.light[sizing.OWN]),
            "cut.speed": (Q("0.2 mm/s"), Q("30 mm/s"), self.cell.asked),
            "cut.passes": (Q("1 1"), Q("11 1"), Q(float(self.cell.passes), "1")),
        }
        return [
            Control(name=name, word=_WORDS[name], low=low, high=high, start=start)
            for name, (low, high, start) in ends.items()
        ]

    def _make(self) -> None:
        self.figure, self.axes = style.new("Below the band it cuts; above, it does not", _SIZE)
        axes = self.axes
        (self.middle,) = axes.plot([], [], color=style.BLUE)
        (self.low,) = axes.plot([], [], color=style.BLUE, linestyle="--", linewidth=1.4)
        (self.high,) = axes.plot([], [], color=style.BLUE, linestyle="--", linewidth=1.4)
        (self.point,) = axes.plot([], [], "o", color=style.VERMILION, markersize=9)
        axes.set_yscale("log")
        axes.set_xlabel("thickness, in mm")
        axes.set_ylabel("speed, in mm/s")
        axes.yaxis.set_major_formatter("{x:g}")
        axes.set_ylim(0.1, 300)
        axes.grid(alpha=0.3)

    def update(self, values: dict[str, Quantity]) -> Seen:
        """Move the artists to these values, and put them into words."""
        passes = Q(float(max(1.0, round(float(values["cut.passes"].magnitude)))), "1")
        thickness, speed = values["sheet.thickness"], values["cut.speed"]
        told: dict[str, Any] = {
            "power": values["head.power"],
            "beam": self.beam,
            "passes": passes,
            "supplier_sheet": self.wanted.supplier_sheet or None,
        }
        here = float(thickness.to("mm").magnitude)
        places = np.linspace(0.25, 2.0, _POINTS) * here
        spans = [cutting.cut_speed(self.material, Q(x, "mm"), **told) for x in places]
        for curve, end in ((self.low, "low"), (self.middle, "typical"), (self.high, "high")):
            speeds = [max(float(getattr(span, end).magnitude), 1e-3) for span in spans]
            curve.set_data(places, speeds)
        self.point.set_data([here], [float(speed.to("mm/s").magnitude)])
        self.axes.set_xlim(0, places[-1])
        chance = cutting.can_cut(self.material, thickness, speed=speed, **told)
        span = cutting.cut_speed(self.material, thickness, **told)
        ends = " to ".join(units.show(v, 2) for v in (span.low, span.high))
        name = self.wanted.material
        alternative = (
            f"Speed that severs {name} against its thickness, with the range of nine in ten "
            f"sheets: at {units.show(thickness, 3)} from {ends}; the point is at "
            f"{units.show(speed, 3)}."
        )
        sentence = (
            f"{units.show(thickness, 3)} {name} with {units.show(values['head.power'], 3)} of "
            f"light, {passes.magnitude:.0f} passes: severed at {ends}. At "
            f"{units.show(speed, 3)} the chance is {percent(chance)}."
        )
        return Seen(alternative, sentence)
