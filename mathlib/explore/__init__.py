"""Things to move in a notebook: a control for each value, a picture and a sentence beside them.

A panel computes nothing: it changes the machine, asks the library, and shows what comes back.
"""

from mathlib.explore.belt_route import panel as belt_route
from mathlib.explore.belt_route import runs
from mathlib.explore.how_long import panel as how_long
from mathlib.explore.is_it_square import panel as square
from mathlib.explore.one_step import panel as step
from mathlib.explore.panel import Control, Panel
from mathlib.explore.which_motor import panel as motor

__all__ = ["Control", "Panel", "belt_route", "how_long", "motor", "runs", "square", "step"]
