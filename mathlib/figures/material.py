"""The sheet cut open along the line: how hot conduction alone would make it, and how deep."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from mathlib.answers import material, spot, tell
from mathlib.figures import style
from mathlib.laser import heat, stock
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine

_ALONG: Final = 121
_DEEP: Final = 61
_BEHIND: Final = 4.0  # radii shown behind the spot and ahead of it
_AHEAD: Final = 2.0
_LEVELS: Final = (0.03, 0.1, 0.3, 1.0, 3.0, 10.0, 1e4)  # of the rise over what the material stands
#: Whether some of what is shown gets too hot, and whether some does not.
_TITLES: Final = {
    (True, True): "Inside the black line it gets too hot to stay",
    (True, False): "All that is shown gets too hot to stay",
    (False, True): "By typical values nowhere gets too hot to stay",
}
_COLOURS: Final = ("#fdf3dc", "#fbe3b0", "#f6c66b", "#e69f00", "#d55e00", "#8c2d04")


class Cut:
    """Rise over what the material stands: along the line and below it, in the middle plane.

    ``along`` and ``depth`` are in mm, ``times`` has a row for each depth; ``column`` is the rise
    in K below the hottest place of the surface, ``stands`` the rise that the material stands.
    """

    def __init__(self, machine: Machine) -> None:
        plain = machine.typical()
        head = spot.laser(plain)
        sheet = stock.typical(material.of_job(plain), head.wavelength)
        radius = spot.spot_diameter(head)[0] / 2.0
        told: dict[str, Any] = {
            "power": head.optical_power * plain.job.power_share.magnitude,
            "absorptance": sheet.absorptance,
            "radius": radius,
            "speed": plain.job.speed,
            "conductivity": sheet.conductivity,
            "diffusivity": sheet.diffusivity,
        }
        wide = float(np.median(radius.to("mm").magnitude))
        found = material.values(plain, sheet)
        spread = float(np.median(found["heated_depth"].to("mm").magnitude))
        self.radius = wide
        self.along = np.linspace(-_BEHIND * wide, _AHEAD * wide, _ALONG)
        self.depth = np.linspace(0, min(4 * wide, 2.5 * max(spread, 0.4 * wide)), _DEEP)
        self.stands = float(
            np.median(sheet.leaves_at.to("degC").magnitude - Q(material.ROOM).magnitude)
        )
        rise = heat.moving_rise(
            **told, x=Q(self.along[None, :], "mm"), z=Q(self.depth[:, None], "mm")
        )
        self.times = rise.to("K").magnitude / self.stands
        lag = heat.hottest(peclet=found["peclet"]).lag.magnitude
        self.column = (
            heat.moving_rise(**told, x=-1.0 * lag * radius, z=Q(self.depth, "mm")).to("K").magnitude
        )

    @property
    def parted(self) -> tuple[bool, bool]:
        """Whether some of what is shown gets too hot to stay, and whether some does not."""
        return bool(self.times.max() > 1), bool(self.times.min() < 1)

    @property
    def reached(self) -> Quantity:
        """Depth to which the material would get as hot as it stands; 0 where nowhere."""
        hot = self.column >= self.stands
        return Q(float(self.depth[hot][-1]) if hot.any() else 0.0, "mm")


class View:
    """Artists of the picture, made once, and how they follow a cut."""

    def __init__(self, section: Axes, below: Axes) -> None:
        self.section, self.below = section, below
        self.drawn: list[Any] = []
        (self.curve,) = below.plot([], [], color=style.BLUE, label="conduction alone")
        self.stands = below.axvline(
            1.0, color=style.VERMILION, linestyle="--", label="what it stands"
        )
        below.set_xscale("log")
        below.set_xlabel("rise, in K")
        below.grid(alpha=0.3)
        section.set_xlabel("behind the spot (−), ahead (+), in mm")
        section.set_ylabel("depth, in mm")

    def show(self, cut: Cut) -> None:
        """Bring the artists to a cut."""
        for artist in self.drawn:
            artist.remove()
        filled = self.section.contourf(
            cut.along, cut.depth, np.clip(cut.times, 1e-9, 9e3), levels=_LEVELS, colors=_COLOURS
        )
        self.drawn = [filled]
        if cut.times.max() > 1 > cut.times.min():
            line = self.section.contour(
                cut.along, cut.depth, cut.times, levels=[1.0], colors=[style.INK], linewidths=2.5
            )
            self.drawn.append(line)
        (marked,) = self.section.plot(
            [-cut.radius, cut.radius], [0, 0], color=style.BLUE, linewidth=6, clip_on=False
        )
        self.drawn.append(marked)
        for axes in (self.section, self.below):
            axes.set_ylim(cut.depth[-1], 0)
        self.section.set_xlim(cut.along[0], cut.along[-1])
        self.curve.set_data(np.maximum(cut.column, 1e-3), cut.depth)
        self.stands.set_xdata([cut.stands, cut.stands])
        most = max(float(cut.column.max()), 3 * cut.stands)
        self.below.set_xlim(max(min(float(cut.column.min()), cut.stands / 3), most / 3e4), 2 * most)


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw the cut along the line and the rise against depth; without values say why."""
    from matplotlib.figure import Figure as Made

    if "moving_rise" not in answer.values:
        figure, axes = style.new("No surface is heated here")
        axes.set_axis_off()
        axes.text(0.5, 0.5, "no temperatures: see the verdict", ha="center", va="center")
        return figure
    figure = Made(figsize=(style.SIZE[0], 4.4), layout="constrained")
    cut = Cut(machine)
    style.name(figure, _TITLES[cut.parted])
    section, below = figure.subplots(1, 2, sharey=True, width_ratios=(1.5, 1))
    view = View(section, below)
    view.show(cut)
    section.tick_params(axis="x", rotation=30)
    handles, names = below.get_legend_handles_labels()
    if all(cut.parted):
        handles.append(section.plot([], [], color=style.INK, linewidth=2.5)[0])
        names.append("reached here")
    handles.append(section.plot([], [], color=style.BLUE, linewidth=6)[0])
    names.append("spot, 1/e²")
    figure.legend(handles, names, loc="outside lower center", ncols=2, frameon=False)
    return figure


def describe(answer: Answer, machine: Machine) -> str:
    """Say how hot and how deep, and that it is conduction alone."""
    if "moving_rise" not in answer.values:
        return f"No picture of temperatures. {answer.verdict}"
    cut = Cut(machine)
    return (
        "The sheet cut open along the line, and beside it the rise against depth below the hottest "
        f"place. By conduction alone the surface would warm by {tell(answer.values['moving_rise'])}"
        f"; the material stands {cut.stands:.3g} K, which would be passed down to "
        f"{tell(cut.reached, 2)}. The spot moves to the right; heat trails behind it."
    )
