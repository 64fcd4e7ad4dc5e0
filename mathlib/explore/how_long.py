"""How long a filled area takes when speed, acceleration, line spacing or its size change."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import matplotlib
import numpy as np

from mathlib.answers import moves
from mathlib.explore.panel import Control, Panel, Seen
from mathlib.explore.settings import changed, control
from mathlib.figures import moves as picture
from mathlib.figures import style
from mathlib.units import Q, Quantity, show
from mathlib.words import Word

if TYPE_CHECKING:
    from mathlib.machine import Machine

#: Slider ends, as multiples of what the machine file says.
SPANS: Final = {
    "job.speed": (0.1, 8.0),
    "job.acceleration": (0.1, 10.0),
    "job.line_spacing": (0.5, 5.0),
}
_SIZES: Final = {"width": "400 mm", "height": "300 mm"}
_POINTS: Final = 240
_SIZE: Final = (4.6, 3.4)


def panel(machine: Machine, width: Any = moves.TAG[0], height: Any = moves.TAG[1]) -> Panel:
    """Time of a filled area against the raster speed, with the job's speed on it."""
    view = _View(machine)
    controls = [control(machine, key, *ends) for key, ends in SPANS.items()]
    for (name, most), start in zip(_SIZES.items(), (width, height), strict=True):
        controls.append(
            Control(
                name=f"area.{name}",
                word=Word(name, "mm", "of the filled area"),
                low=Q("1 mm"),
                high=Q(most),
                start=Q(start) if isinstance(start, str) else start,
            )
        )
    return Panel(controls=controls, figure=view.figure, update=view.update)


class _View:
    """The figure's artists, made once, and how they follow the values."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        with matplotlib.rc_context(style.RC):
            self.figure, self.axes = style.new("Left of the dot, faster is quicker", _SIZE)
            axes = self.axes
            axes.set_xlabel("raster speed, in mm/s")
            axes.set_ylabel("time, in min")
            axes.grid(alpha=0.3)
            (self.naive,) = axes.plot(
                [], [], color=style.GREY, linestyle="--", label="length over speed"
            )
            (self.whole,) = axes.plot([], [], color=style.BLUE, label="with turning round")
            (self.best,) = axes.plot([], [], "o", color=style.BLUE, label="least time")
            (self.job,) = axes.plot([], [], "s", color=style.VERMILION, label="your speed")
            axes.legend(frameon=False, loc="upper right")

    def update(self, values: dict[str, Quantity]) -> Seen:
        """Move the artists to these values, and put them into words."""
        told = {key: value for key, value in values.items() if not key.startswith("area.")}
        machine = changed(self.machine, told)
        found = moves.answer(machine, values["area.width"], values["area.height"])
        job = float(values["job.speed"].to("mm/s").magnitude)
        best = float(found.values["fastest_raster_speed"].to("mm/s").magnitude)
        last = 1.1 * max(2 * best, job)
        speeds = np.linspace(last / _POINTS, last, _POINTS)
        whole, naive = picture.times_at(found, machine, speeds)
        self.whole.set_data(speeds, whole)
        self.naive.set_data(speeds, naive)
        (here, least), _ = picture.times_at(found, machine, np.array([job, best]))
        self.job.set_data([job], [here])
        self.best.set_data([best], [least])
        self.axes.set_xlim(0.0, last)
        self.axes.set_ylim(0.0, 1.25 * max(2.2 * least, min(here, 5.0 * least)))
        alternative = (
            f"Time against raster speed: {moves.spoken(found.values['raster_time'])} at "
            f"{show(values['job.speed'])}, least {moves.spoken(found.values['least_time'])} at "
            f"{show(found.values['fastest_raster_speed'], 3)}."
        )
        return Seen(alternative, found.verdict)
