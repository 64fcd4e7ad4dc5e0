"""Paths of the head: polylines with a length for every coordinate, and readers of drawings.

x runs to the right and y away from the front of the machine, from the lower left corner of the
work; drawings whose y runs downwards are turned over as they are read.
"""

from mathlib.paths.polylines import Beyond, Drawing, Path
from mathlib.paths.reading import read
from mathlib.paths.svg import read_svg
from mathlib.paths.table import read_csv

__all__ = ["Beyond", "Drawing", "Path", "read", "read_csv", "read_svg"]
