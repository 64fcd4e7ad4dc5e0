"""How far light above the limits reaches when power, beam, lens or watchers change."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import attrs
import matplotlib
import numpy as np

from mathlib import units
from mathlib.answers import hazard
from mathlib.explore.panel import Panel, Seen
from mathlib.explore.settings import between
from mathlib.figures import hazard as plan
from mathlib.figures import style
from mathlib.machine import Room
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine

#: Slider ends: field of the head, and its values.
SPANS: Final = {
    "optical_power": ("0.1 W", "100 W"),
    "beam_diameter": ("1 mm", "11 mm"),
    "focal_length": ("5 mm", "105 mm"),
}
_BEAM: Final = "4 mm"  # where a head does not state its beam


def panel(machine: Machine) -> Panel:
    """Plan of the room for the machine's head; without one, for the first row of the table."""
    start = _stated(machine)
    view = _View(start)
    head: Any = start.heads.laser
    controls = []
    for name, (low, high) in SPANS.items():
        controls.append(between(f"laser.{name}", head, Q(low), Q(high)))
    room = Room(watchers=hazard.watchers_at(machine))
    controls.append(between("room.watchers", room, Q("0.2 m"), Q("10.2 m")))
    return Panel(controls=controls, figure=view.figure, update=view.update)


def _stated(machine: Machine) -> Machine:
    """Give the machine with typical values and a laser head that states its beam."""
    typical: Any = hazard.with_laser(machine)
    head: Any = typical.heads.laser
    if head.beam_diameter is None:
        head = attrs.evolve(head, beam_diameter=hazard.widths(head)[0] or Q(_BEAM))
    heads = attrs.evolve(typical.heads, laser=_middle(head))
    made: Machine = attrs.evolve(typical, heads=heads)
    return made


def _middle(head: Any) -> Any:
    """Of a head that was drawn the one in the middle."""
    told = {
        field.name: units.quantity(float(np.median(value.magnitude)), value._units)
        for field in attrs.fields(type(head))
        if (value := getattr(head, field.name)) is not None
    }
    return attrs.evolve(head, **told)


class _View:
    """The plan, made once, and how it follows the values."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        with matplotlib.rc_context(style.RC):
            self.figure, axes = style.new(
                "Too much light for eyes: in 100 s (light), in 10 s (dark)", (5.2, 4.1)
            )
            self.plan = plan.Plan(axes)

    def update(self, values: dict[str, Quantity]) -> Seen:
        """Ask the library for the machine with these values, and move the plan."""
        machine: Any = self.machine
        told = {
            name.partition(".")[2]: value
            for name, value in values.items()
            if name.startswith("laser.")
        }
        head = machine.heads.laser
        if head.beam_diameter_y is not None:  # the beam keeps its shape
            told["beam_diameter_y"] = head.beam_diameter_y * (
                told["beam_diameter"] / head.beam_diameter
            )
        heads = attrs.evolve(machine.heads, laser=attrs.evolve(head, **told))
        room = Room(watchers=values["room.watchers"])
        there = attrs.evolve(machine, heads=heads, room=room)
        found = hazard.answer(there)
        self.plan.show(plan.reached(found), room.watchers)
        return Seen(plan.describe(found, there), found.verdict)
