"""Writes straight strokes of a beam as a program in the words of ISO 6983 (RS-274).

The rules that every program keeps: the beam is armed in a block of its own, with no power; power
stands only in a block of a feed move that moves; every rapid move follows a block that takes the
beam away; nothing lies outside the work area; there is no dwell.
"""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Iterable, Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import Final

import attrs

from mathlib.errors import ValueRefused
from mathlib.paths.beam_control import BeamControl

FIRST: Final = "G17 G21 G90 G94 M5 S0"
OFF: Final = "M5 S0"
#: Places of the numbers that are written, and the shortest move with power that can be told.
_MM, _SHORTEST = 3, 0.01
#: Letters of a comment's line, and what does not stand in it.
_WIDE: Final = 66
_ODD: Final = re.compile(r"[^A-Za-z0-9 .,:'/+-]+")


@attrs.frozen(kw_only=True)
class Stroke:
    """One straight move, its beam on between two points of it; places in mm, work area based.

    ``start`` and ``end`` hold the run-ups, ``first`` and ``last`` the part with the beam on;
    ``speed`` is in mm/s, ``share`` of the largest power, ``passes`` over the same line.
    """

    start: tuple[float, float]
    first: tuple[float, float]
    last: tuple[float, float]
    end: tuple[float, float]
    speed: float
    share: float = 1.0
    passes: int = 1
    label: str = ""


def write(
    strokes: Sequence[Stroke],
    control: BeamControl,
    travel: tuple[float, float],
    header: Iterable[str] = (),
) -> str:
    """Write a program that burns strokes one after another.

    Parameters
    ----------
    strokes : sequence of Stroke
        In the order of burning.
    control : BeamControl
        With nothing missing.
    travel : (float, float)
        Size of the work area in mm.
    header : texts
        Comments after the first block.

    Returns
    -------
    str
        The program, one block on a line.

    Raises
    ------
    ValueRefused
        Nothing to burn; control leaves something open; a stroke that leaves the work area, has
        no length with the beam on, no speed, or a power beyond the largest.

    Examples
    --------
    >>> told = {"highest_power_word": 1000, "beam_on_word": "M4", "origin_x": "0 mm",
    ...         "origin_y": "0 mm"}
    >>> told |= dict.fromkeys(("on_pause", "on_alarm", "on_lost_link"), "beam goes off")
    >>> told["power_follows_speed"] = "yes"
    >>> line = Stroke(start=(5, 9), first=(6, 9), last=(26, 9), end=(27, 9), speed=2)
    >>> print(write([line], BeamControl(**told), (420, 300)))
    G17 G21 G90 G94 M5 S0
    M5 S0
    G0 X5 Y9
    M4 S0
    G1 X6 Y9 F120 S0
    G1 X26 Y9 F120 S1000
    G1 X27 Y9 F120 S0
    M5 S0
    <BLANKLINE>

    """
    _check(strokes, control, travel)
    at = _Places(control, travel)
    lines = [FIRST, *comments(header)]
    for stroke in strokes:
        lines += comments([stroke.label] if stroke.label else [])
        feed = f"F{number(60.0 * stroke.speed, 1)}"
        power = f"S{_power(control, stroke.share)}"
        for _ in range(stroke.passes):
            lines += [OFF, f"G0 {at(stroke.start)}", f"{control.beam_on_word} S0"]
            if at(stroke.first) != at(stroke.start):
                lines.append(f"G1 {at(stroke.first)} {feed} S0")
            lines.append(f"G1 {at(stroke.last)} {feed} {power}")
            if at(stroke.end) != at(stroke.last):
                lines.append(f"G1 {at(stroke.end)} {feed} S0")
    return "\n".join([*lines, *_park(control, at), OFF]) + "\n"


def outline(
    strokes: Sequence[Stroke],
    control: BeamControl,
    travel: tuple[float, float],
    header: Iterable[str] = (),
    speed: float = 20.0,
) -> str:
    """Write the program to run first: round everything and along each stroke, the beam off.

    No word in it arms the beam.

    Parameters
    ----------
    strokes, control, travel, header
        As ``write`` takes them.
    speed : float
        Of the head in mm/s.

    Returns
    -------
    str
        The program, one block on a line.

    Raises
    ------
    ValueRefused
        As ``write`` does.

    Examples
    --------
    >>> told = {"highest_power_word": 1000, "beam_on_word": "M4", "origin_x": "0 mm",
    ...         "origin_y": "0 mm"}
    >>> told |= dict.fromkeys(("on_pause", "on_alarm", "on_lost_link"), "beam goes off")
    >>> told["power_follows_speed"] = "yes"
    >>> line = Stroke(start=(5, 9), first=(6, 9), last=(26, 9), end=(27, 9), speed=2)
    >>> "M4" in outline([line], BeamControl(**told), (420, 300))
    False

    """
    _check(strokes, control, travel)
    at = _Places(control, travel)
    feed = f"F{number(60.0 * speed, 1)}"
    points = [point for stroke in strokes for point in (stroke.start, stroke.end)]
    left, right = min(x for x, _ in points), max(x for x, _ in points)
    front, back = min(y for _, y in points), max(y for _, y in points)
    lines = [FIRST, *comments(header), OFF, f"G0 {at((left, front))}"]
    corners = ((right, front), (right, back), (left, back), (left, front))
    lines += [f"G1 {at(corner)} {feed} S0" for corner in corners]
    for stroke in strokes:
        lines += comments([stroke.label] if stroke.label else [])
        lines += [OFF, f"G0 {at(stroke.start)}", f"G1 {at(stroke.end)} {feed} S0"]
    return "\n".join([*lines, *_park(control, at), OFF]) + "\n"


def comments(texts: Iterable[str]) -> list[str]:
    """Write comments: short lines of letters, digits and plain stops, with no bracket within.

    What controllers take for a command even in a comment, such as an exclamation mark, is left
    out.

    Examples
    --------
    >>> comments(["a (small) note, 5 %!", ""])
    ['( a small note, 5 percent )']

    """
    plain = (_ODD.sub(" ", text.replace("%", " percent").replace(";", ",")) for text in texts)
    return [
        f"( {line} )" for text in plain for line in textwrap.wrap(" ".join(text.split()), _WIDE)
    ]


def number(value: float, places: int) -> str:
    """Write a number without needless digits, and no negative nothing.

    Examples
    --------
    >>> number(-0.0001, 3), number(12.5, 3)
    ('0', '12.5')

    """
    text = f"{value:.{places}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


class _Places:
    """Words of a place: the work area's coordinates as the program counts them.

    What would be rounded to beyond an edge of the work area is rounded back.
    """

    def __init__(self, control: BeamControl, travel: tuple[float, float]) -> None:
        assert control.origin_x is not None
        assert control.origin_y is not None
        at = (control.origin_x, control.origin_y)
        self.origin = tuple(float(value.to("mm").magnitude) for value in at)
        self.travel = travel

    def __call__(self, point: Sequence[float]) -> str:
        x, y = (self._word(*each) for each in zip(point, self.origin, self.travel, strict=True))
        return f"X{x} Y{y}"

    @staticmethod
    def _word(value: float, origin: float, most: float) -> str:
        step = Decimal(f"1e-{_MM}")
        at, low, high = (Decimal(str(v)) - Decimal(str(origin)) for v in (value, 0.0, most))
        least, last = low.quantize(step, ROUND_CEILING), high.quantize(step, ROUND_FLOOR)
        return number(float(min(max(at.quantize(step), least), last)), _MM)


def _power(control: BeamControl, share: float) -> str:
    """Power word of a share, rounded down so that none goes beyond the largest."""
    assert control.highest_power_word is not None
    word = float(control.highest_power_word.magnitude) * share
    return number(math.floor(word * 1e3) / 1e3, _MM)


def _park(control: BeamControl, at: _Places) -> list[str]:
    return [OFF, f"G0 {at(control.parking)}"] if control.parking else []


def _check(strokes: Sequence[Stroke], control: BeamControl, travel: tuple[float, float]) -> None:
    """Refuse, all at once, what no program may hold."""
    wrong: list[str] = []
    if control.missing:
        wrong.append(f"[beam_control] leaves open: {', '.join(control.missing)}.")
    if not strokes:
        wrong.append("there is no stroke.")
    for count, stroke in enumerate(strokes, start=1):
        wrong += [f"stroke {count} {reason}." for reason in _against(stroke, travel)]
    if len(control.parking) == 1:
        wrong.append("a parking place needs both park_x and park_y.")
    elif control.parking and not _inside(control.parking, travel):
        wrong.append("the parking place lies outside the work area.")
    if wrong:
        raise ValueRefused(f"Program: {' '.join(wrong)}")


def _inside(point: Sequence[float], travel: tuple[float, float]) -> bool:
    return 0.0 <= point[0] <= travel[0] and 0.0 <= point[1] <= travel[1]


def _against(stroke: Stroke, travel: tuple[float, float]) -> list[str]:
    points = (stroke.start, stroke.first, stroke.last, stroke.end)
    reasons = []
    if not all(_inside(point, travel) for point in points):
        reasons.append("leaves the work area")
    if not math.dist(stroke.first, stroke.last) >= _SHORTEST:
        reasons.append("has no length with the beam on")
    if not 0.01 <= stroke.speed < math.inf:
        reasons.append("has no speed")
    if not 0.0 < stroke.share <= 1.0:
        reasons.append("asks for a power that is none, or beyond the largest")
    if not (isinstance(stroke.passes, int) and stroke.passes >= 1):
        reasons.append("has no whole number of passes")
    return reasons
