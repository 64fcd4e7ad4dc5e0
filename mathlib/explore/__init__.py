"""Things to move in a notebook: a control for each value, a picture and a sentence beside them.

A panel computes nothing: it changes the machine, asks the library, and shows what comes back.
"""

from mathlib.explore.panel import Control, Panel
from mathlib.explore.which_motor import panel as motor

__all__ = ["Control", "Panel", "motor"]
