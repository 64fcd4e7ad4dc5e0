"""Things to move in a notebook: a control for each value, a picture and a sentence beside them.

A panel computes nothing: it changes the machine, asks the library, and shows what comes back.
"""

from mathlib.explore.belt_route import panel as belt_route
from mathlib.explore.belt_route import runs
from mathlib.explore.how_long import panel as how_long
from mathlib.explore.how_much_energy import panel as energy
from mathlib.explore.how_small_is_the_spot import panel as spot
from mathlib.explore.how_stiff import panel as frame
from mathlib.explore.is_it_square import panel as square
from mathlib.explore.one_step import panel as step
from mathlib.explore.panel import Control, Panel
from mathlib.explore.supply_and_leads import panel as power
from mathlib.explore.what_does_the_material_do import panel as material
from mathlib.explore.what_rings import panel as ringing
from mathlib.explore.which_laser import panel as laser
from mathlib.explore.which_motor import panel as motor
from mathlib.explore.who_could_be_hurt import panel as hazard

__all__ = [
    "Control",
    "Panel",
    "belt_route",
    "energy",
    "frame",
    "hazard",
    "how_long",
    "laser",
    "material",
    "motor",
    "power",
    "ringing",
    "runs",
    "spot",
    "square",
    "step",
]
