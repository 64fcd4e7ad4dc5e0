"""What two diagonals say about the axes, and how closely they must be read."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import attrs
import matplotlib
import numpy as np

from mathlib.answers import square as answer
from mathlib.explore.panel import Control, Panel, Seen
from mathlib.fields import word_of
from mathlib.figures import square, style
from mathlib.motion.squareness import SquareTest
from mathlib.units import Q, Quantity, show

if TYPE_CHECKING:
    from mathlib.machine import Machine


def panel(machine: Machine) -> Panel:
    """Skew and verdict from both diagonals and their reading, for the commanded rectangle.

    The rectangle is the one of the file's test piece; without one it is the whole field, with
    equal diagonals to begin with.
    """
    test = machine.square if machine.square is not None else _whole_field(machine)
    view = _View(machine, test)
    diagonal = Q(
        float(np.hypot(test.width.to("mm").magnitude, test.depth.to("mm").magnitude)), "mm"
    )
    ends = {
        "diagonal_1": (0.99 * diagonal, 1.01 * diagonal),
        "diagonal_2": (0.99 * diagonal, 1.01 * diagonal),
        "reading": (Q("0.01 mm"), Q("1.01 mm")),
    }
    fields: Any = SquareTest
    controls = []
    for name, (low, high) in ends.items():
        word = word_of(attrs.fields_dict(fields)[name])
        assert word is not None
        start = getattr(test, name)
        controls.append(Control(name=f"square.{name}", word=word, low=low, high=high, start=start))
    return Panel(controls=controls, figure=view.figure, update=view.update)


def _whole_field(machine: Machine) -> SquareTest:
    """Largest rectangle of the machine, its diagonals as commanded, read by a rule."""
    work = machine.typical().machine
    across = float(np.hypot(work.travel_x.to("mm").magnitude, work.travel_y.to("mm").magnitude))
    whole = Q(round(across, 2), "mm")
    return SquareTest(
        width=work.travel_x,
        depth=work.travel_y,
        diagonal_1=whole,
        diagonal_2=whole,
        reading=Q("0.3 mm"),
    )


class _View:
    """The parallelogram, made once, and how it follows the diagonals."""

    def __init__(self, machine: Machine, test: SquareTest) -> None:
        self.machine, self.test = machine.typical(), test
        with matplotlib.rc_context(style.RC):
            self.figure, axes = style.new("The field leans far less than drawn", (5.2, 3.9))
            self.picture = square.SkewPicture(axes, test.width, test.depth)

    def update(self, values: dict[str, Quantity]) -> Seen:
        """Lean the field as the diagonals say, and give the answer's verdict."""
        changes = {name.partition(".")[2]: value for name, value in values.items()}
        piece: Any = self.test
        test = attrs.evolve(piece, **changes)
        found = answer.answer(attrs.evolve(self.machine, square=test))
        told = self.picture.show(found.values["skew"])
        size = f"{show(test.width, 3)} by {show(test.depth, 3)}"
        return Seen(
            f"Rectangle of {size} as a parallelogram, skewed by {show(found.values['skew'], 3)}: "
            f"{told}.",
            found.verdict,
        )
