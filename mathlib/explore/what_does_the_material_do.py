"""What power and speed do to the heat in the material of the job."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import matplotlib

from mathlib import units
from mathlib.answers import material, tell
from mathlib.explore.panel import Panel, Seen
from mathlib.explore.settings import between, changed, control
from mathlib.figures import material as picture
from mathlib.figures import style
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

#: Slider ends, as multiples of what the machine file says.
SPANS: Final = {"job.speed": (0.02, 5.0)}
#: Whether some of what is shown gets too hot, and whether some does not.
_TITLES: Final = {
    (True, True): "Inside the black line it gets too hot",
    (True, False): "All that is shown gets too hot",
    (False, True): "Nowhere shown does it get too hot",
}
_SIZE: Final = (5.0, 3.6)  # small, so that its words stay large on a phone


def panel(machine: Machine) -> Panel:
    """Heat below the moving spot, for a speed and a share of the light to move."""
    view = _View(machine)
    controls = [control(machine, key, *ends) for key, ends in SPANS.items()]
    job = machine.typical().job
    controls.append(between("job.power_share", job, Q("0.001 1"), Q("1 1")))
    return Panel(controls=controls, figure=view.figure, update=view.update)


class _View:
    """The figure's artists, made once, and how they follow the values."""

    def __init__(self, machine: Machine) -> None:
        from matplotlib.figure import Figure

        self.machine = machine
        with matplotlib.rc_context(style.RC):
            self.figure = Figure(figsize=_SIZE, layout="constrained")
            style.name(self.figure, _TITLES[True, True])
            section, below = self.figure.subplots(1, 2, sharey=True, width_ratios=(1.5, 1))
            self.view = picture.View(section, below)
            section.tick_params(axis="x", rotation=30)
            section.set_xlabel("along the line, in mm")

    def update(self, values: dict[str, Quantity]) -> Seen:
        """Move the artists to these values, and put them into words."""
        machine = changed(self.machine, values)
        found = material.answer(machine)
        heated = "moving_rise" in found.values
        for axes in self.figure.axes:
            axes.set_visible(heated)
        if not heated:
            style.name(self.figure, "No surface is heated here")
            return Seen(picture.describe(found, machine), found.verdict)
        with matplotlib.rc_context(style.RC):
            cut = picture.Cut(machine)
            self.view.show(cut)
        style.name(self.figure, _TITLES[cut.parted])
        alternative = (
            f"At {units.show(values['job.speed'], 3)} and a share of "
            f"{units.show(values['job.power_share'], 3)} of the light the Péclet number is "
            f"{tell(found.values['peclet'], 2)}, and conduction alone would warm the surface by "
            f"{tell(found.values['moving_rise'], 2)}, {tell(found.values['times_needed'], 2)} "
            "times what the material stands."
        )
        return Seen(alternative, found.verdict)
