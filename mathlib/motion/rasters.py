"""Filled areas line by line, and what a link or a controller's look-ahead can keep up with."""

from __future__ import annotations

from typing import Any

import numpy as np

from mathlib.formula import Example, Formula
from mathlib.units import Q
from mathlib.words import with_units

_WIDTH = ("width", "mm", "of the area, along the lines")
_HEIGHT = ("height", "mm", "of the area, from the first line to the last")
_SPACING = ("line_spacing", "mm", "from one line to the next")
_SPEED = ("speed", "mm/s", "along the lines, while marking")
_ACCELERATION = ("acceleration", "mm/s^2", "beyond the ends of the lines")
_BEYOND = "the head speeds up and slows down beyond the ends of the line, so that it marks at speed"
_STEPS_ASIDE = "the step to the next line, 2 sqrt(s / a), is made while the head turns round"

run_up = Formula(
    title="Distance to get to speed before a line",
    equation="x = v**2 / (2 * a)",
    where={
        "x": ("run_up", "mm", "before the line, and as much after it"),
        "v": _SPEED,
        "a": _ACCELERATION,
    },
    assumes=("the acceleration is constant",),
    source="v^2 = 2 a x",
    example=Example(
        {"speed": "100 mm/s", "acceleration": "1000 mm/s^2"},
        "5 mm",
        1e-12,
        "by hand: 10000 / 2000 = 5",
    ),
)

raster_lines = Formula(
    title="Lines of a raster",
    equation="n = H / s + 1",
    where={"n": ("lines", "1", "of the raster"), "H": _HEIGHT, "s": _SPACING},
    assumes=("there is a line on both edges; what is left of a spacing is left empty",),
    source="Posts of a fence: one more than gaps",
    example=Example(
        {"height": "10 mm", "line_spacing": "0.1 mm"}, "101 1", 1e-12, "by hand: 10 / 0.1 + 1"
    ),
)

raster_line_time = Formula(
    title="Time of one line of a raster, turning round included",
    equation="t = W / v + 2 * v / a",
    where={
        "t": ("time", "s", "of a line with its turn"),
        "W": _WIDTH,
        "v": _SPEED,
        "a": _ACCELERATION,
    },
    assumes=(_BEYOND, "every line is marked over its whole width, to and fro", _STEPS_ASIDE),
    source="Width at constant speed, and a ramp v / a on each side",
    example=Example(
        {"width": "100 mm", "speed": "100 mm/s", "acceleration": "1000 mm/s^2"},
        "1.2 s",
        1e-12,
        "by hand: 100 / 100 + 2 * 100 / 1000 = 1 + 0.2",
        brackets={"speed": ("1 mm/s", "200 mm/s")},
    ),
)

naive_raster_time = Formula(
    title="Time of a raster by length over speed, without turning round",
    equation="t = W * H / (s * v)",
    where={
        "t": ("time", "s", "while marking only: too short"),
        "W": _WIDTH,
        "H": _HEIGHT,
        "s": _SPACING,
        "v": _SPEED,
    },
    assumes=("the head turns round in no time, which it never does",),
    source="Definition: area over the area covered each second",
    example=Example(
        {"width": "50 mm", "height": "30 mm", "line_spacing": "0.1 mm", "speed": "150 mm/s"},
        "100 s",
        1e-12,
        "by hand: 50 * 30 / (0.1 * 150) = 1500 / 15",
    ),
)

fastest_raster_speed = Formula(
    title="Raster speed that takes the least time",
    equation="v = sqrt(a * W / 2)",
    where={"v": _SPEED, "a": _ACCELERATION, "W": _WIDTH},
    assumes=(_BEYOND, "beyond it a faster raster takes longer, since turning round takes over"),
    source="Slope of W / v + 2 v / a set to zero: as long marking as turning",
    example=Example(
        {"acceleration": "1000 mm/s^2", "width": "100 mm"},
        "223.607 mm/s",
        2e-6,
        "by hand: sqrt(50000) = 223.607",
    ),
)

bidirectional_offset = Formula(
    title="Offset between lines to and lines fro that a delay makes",
    equation="o = 2 * v * tau",
    where={
        "o": ("offset", "mm", "along the lines, between neighbours", "zero"),
        "v": _SPEED,
        "tau": ("delay", "ms", "from the command to the mark, the same both ways", "zero"),
    },
    assumes=(
        "the delay is the same in both directions",
        "play in the drive adds a part that does not grow with speed",
    ),
    source="Each line is late by v tau in its own direction",
    example=Example(
        {"speed": "200 mm/s", "delay": "0.3 ms"}, "0.12 mm", 1e-12, "by hand: 2 * 200 * 0.0003"
    ),
)

look_ahead_speed = Formula(
    title="Highest speed from which a controller can stop within the segments that it has planned",
    equation="v = sqrt(2 * a * N * l)",
    where={
        "v": ("speed", "mm/s", "along a path of short segments"),
        "a": ("acceleration", "mm/s^2", "while stopping"),
        "N": ("segments", "1", "that are planned ahead"),
        "l": ("segment_length", "mm", "of one segment"),
    },
    assumes=("the controller always keeps room to stop at the end of what it has planned",),
    source="v^2 = 2 a x over the planned length N l",
    example=Example(
        {"acceleration": "1000 mm/s^2", "segments": 16, "segment_length": "0.1 mm"},
        "56.5685 mm/s",
        2e-6,
        "by hand: sqrt(2 * 1000 * 1.6) = sqrt(3200) = 56.5685",
    ),
)

pixel_rate = Formula(
    title="Pixels each second that a link feeds",
    equation="r = B / b",
    where={
        "r": ("pixel_rate", "1/s", "that arrive"),
        "B": ("link_rate", "1/s", "bytes each second that the link carries, measured"),
        "b": ("bytes_per_pixel", "1", "sent for one pixel, its share of line ends included"),
    },
    assumes=("the link never waits for answers longer than what it has in store lasts",),
    source="Definition",
    example=Example(
        {"link_rate": "11500 1/s", "bytes_per_pixel": 20}, "575 1/s", 1e-12, "by hand: 11500 / 20"
    ),
)

link_speed = Formula(
    title="Highest speed along a line that a link can feed with pixels",
    equation="v = B * p / b",
    where={
        "v": _SPEED,
        "B": ("link_rate", "1/s", "bytes each second that the link carries, measured"),
        "p": ("pixel", "mm", "along the line"),
        "b": ("bytes_per_pixel", "1", "sent for one pixel, its share of line ends included"),
    },
    assumes=(
        "every pixel is sent as a command of its own",
        "while the head turns round nothing is gained: what is stored is soon used up",
    ),
    source="One pixel of length p for each b bytes",
    example=Example(
        {"link_rate": "11500 1/s", "pixel": "0.1 mm", "bytes_per_pixel": 18},
        "63.8889 mm/s",
        1e-6,
        "by hand: 11500 * 0.1 / 18 = 63.8889",
    ),
)


@with_units(
    "Time of a raster",
    returns="s",
    width="mm",
    height="mm",
    line_spacing="mm",
    speed="mm/s",
    acceleration="mm/s^2",
)
def raster_time(
    *, width: Any, height: Any, line_spacing: Any, speed: Any, acceleration: Any
) -> Any:
    """Time of a filled area: whole lines by ``raster_lines``, each ``raster_line_time``.

    Parameters
    ----------
    width, height : length, any shape
        Of the area, along the lines and across them.
    line_spacing : length, broadcast
        From one line to the next.
    speed, acceleration : speed, acceleration, broadcast
        While marking; beyond the ends of the lines.

    Returns
    -------
    Quantity
        s, of the broadcast shape. The step from line to line is taken to fit into the turn;
        where v^2 < a s it does not, and the time is short by less than 2 s / W of itself.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(raster_time(width="100 mm", height="100 mm", line_spacing="0.1 mm",
    ...                   speed="100 mm/s", acceleration="1000 mm/s^2").to("min"))
    20.02 min

    """
    lines = raster_lines(height=Q(height, "m"), line_spacing=Q(line_spacing, "m")).magnitude
    each = raster_line_time(
        width=Q(width, "m"), speed=Q(speed, "m/s"), acceleration=Q(acceleration, "m/s^2")
    )
    whole = np.floor(lines * (1 + 1e-12) + 1e-9)  # 0.3 mm in steps of 0.1 mm are four lines
    return whole * each.magnitude
