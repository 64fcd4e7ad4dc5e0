"""What lens, beam, beam quality and sheet do to the spot and to the depth in which it stays."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import attrs
import matplotlib
import numpy as np

from mathlib import units
from mathlib.answers import spot, tell
from mathlib.explore.panel import Panel, Seen
from mathlib.explore.settings import between, changed
from mathlib.figures import style, two_heads
from mathlib.laser import beams
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

#: Slider ends: fields of the head, and their values.
SPANS: Final = {
    "focal_length": ("5 mm", "105 mm"),
    "beam_diameter": ("1 mm", "11 mm"),
    "beam_quality": ("1 1", "41 1"),
}
_SHEET: Final = ("0.2 mm", "10.2 mm")
_SIZE: Final = (5.0, 3.6)  # small, so that its words stay large on a phone
_HEIGHTS: Final = 121
_MOST: Final = 6.2  # mm shown to each side of the focus
_BESIDE: Final = 0.4  # mm shown to each side of the axis


def panel(machine: Machine) -> Panel:
    """Outline of the beam around its focus, for lens, beam and sheet to move."""
    start = _stated(machine)
    head: Any = start.heads.laser
    view = _View(start)
    controls = [
        between(f"laser.{name}", head, Q(low), Q(high)) for name, (low, high) in SPANS.items()
    ]
    controls.append(between("job.thickness", start.job, *map(Q, _SHEET)))
    return Panel(controls=controls, figure=view.figure, update=view.update)


def _stated(machine: Machine) -> Machine:
    """Give the machine with typical values, a sheet, and the beam that makes the stated spot."""
    made = machine.typical()
    head: Any = spot.laser(made)
    diameter, _ = spot.spot_diameter(head)
    if head.beam_diameter is None:
        wide = _beam_for(head, head.beam_quality, diameter)
        head = attrs.evolve(head, beam_diameter=wide)
    if made.job.thickness is None:
        job: Any = made.job
        made = attrs.evolve(made, job=attrs.evolve(job, thickness=Q("3 mm")))
    heads: Any = made.heads
    stated: Machine = attrs.evolve(made, heads=attrs.evolve(heads, laser=head))
    return stated


def _beam_for(head: Any, quality: Quantity, diameter: Quantity) -> Quantity:
    return beams.focused_diameter.solve(
        "beam_diameter",
        waist_diameter=diameter,
        beam_quality=quality,
        wavelength=head.wavelength,
        focal_length=head.focal_length,
    )


class _View:
    """The figure's artists, made once, and how they follow the values."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        with matplotlib.rc_context(style.RC):
            self.figure, self.axes = style.new("Narrow at the focus, or narrow for long?", _SIZE)
            self.sides = [self.axes.plot([], [], color=style.BLUE)[0] for _ in range(2)]
            self.others = [
                self.axes.plot([], [], color=style.OCHRE, linestyle="--")[0] for _ in range(2)
            ]
            self.sheet = self.axes.axhspan(-1.0, 1.0, color=style.GREY, alpha=0.22, lw=0)
            self.faces = [self.axes.axhline(0.0, color=style.GREY, lw=1) for _ in range(2)]
            self.axes.set_xlim(-_BESIDE, _BESIDE)
            self.axes.set_ylim(-_MOST, _MOST)
            self.axes.set_xlabel("across the beam, in mm (1/e²)")
            self.axes.set_ylabel("above the focus, in mm")
            self.others[0].set_label("other axis")
            self.sides[0].set_label("first axis")
            self.figure.legend(frameon=False, loc="outside lower center", ncols=2)

    def update(self, values: dict[str, Quantity]) -> Seen:
        """Move the artists to these values, and put them into words."""
        told = {k.partition(".")[2]: v for k, v in values.items() if k.startswith("laser.")}
        machine = changed(self.machine, {"job.thickness": values["job.thickness"]})
        heads: Any = machine.heads
        head: Any = attrs.evolve(heads.laser, **told)
        machine = attrs.evolve(machine, heads=attrs.evolve(heads, laser=head))
        found = spot.answer(machine)
        height = np.linspace(-_MOST, _MOST, _HEIGHTS)
        wide = two_heads.widths(spot.as_beam(head), height)
        for lines, width in zip((self.sides, self.others), wide, strict=False):
            for line, side in zip(lines, (-0.5, 0.5), strict=True):
                line.set_data(side * width, height)
        half = float(values["job.thickness"].to("mm").magnitude) / 2
        self.sheet.set_y(-half)
        self.sheet.set_height(2 * half)
        for face, place in zip(self.faces, (-half, half), strict=True):
            face.set_ydata([place, place])
        alternative = (
            f"Outline of a beam of {units.show(values['laser.beam_diameter'], 3)} behind a lens of "
            f"{units.show(values['laser.focal_length'], 3)}: "
            f"{tell(found.values['spot_diameter'])} at the focus, "
            f"{tell(found.values['diameter_at_faces'])} at the faces of a sheet of "
            f"{units.show(values['job.thickness'], 3)}."
        )
        return Seen(alternative, found.verdict)
