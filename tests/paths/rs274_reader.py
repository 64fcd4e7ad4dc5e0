"""A small reader of programs, apart from the code that writes them: it plays one and lists faults.

It knows of ISO 6983 only what a straight stroke needs and refuses every other word. What it
returns are moves, each with where the head was, where it goes, at which feed and power.
"""

from __future__ import annotations

import math
import re
from typing import NamedTuple

WORD = re.compile(r"([A-Z])(-?[0-9]+(?:\.[0-9]+)?)")
FIRST = ["G17", "G21", "G90", "G94", "M5", "S0"]
KNOWN = {"G0", "G1", "G17", "G21", "G90", "G94", "M3", "M4", "M5"}
ROUNDING = 0.51e-3  # of a place that is written to a thousandth of a millimetre
STOPS = set("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789 .,:'/+-")


class Move(NamedTuple):
    """One move of the head, mm as the program counts them, mm/min, and the power word."""

    rapid: bool
    start: tuple[float, float] | None
    end: tuple[float, float]
    feed: float
    power: float

    @property
    def length(self) -> float:
        return 0.0 if self.start is None else math.dist(self.start, self.end)


class Played(NamedTuple):
    """What a program does, and each rule that it breaks."""

    moves: list[Move]
    comments: list[str]
    faults: list[str]
    armed: list[str]

    @property
    def burned(self) -> list[Move]:
        return [move for move in self.moves if move.power > 0]


def words_of(block: str) -> list[tuple[str, str]] | None:
    """Letters and numbers of a block, or None where something else stands in it."""
    parts = block.split()
    matched = [WORD.fullmatch(part) for part in parts]
    if not all(matched):
        return None
    return [(m.group(1), m.group(2)) for m in matched if m is not None]


def play(
    text: str,
    most: float,
    area: tuple[float, float],
    origin: tuple[float, float] = (0.0, 0.0),
    park: tuple[float, float] | None = None,
) -> Played:
    """Play a program; ``area`` is the work area, in which X0 Y0 lies at ``origin``."""
    moves: list[Move] = []
    comments: list[str] = []
    faults: list[str] = []
    armed_by: list[str] = []
    at: tuple[float, float] | None = None
    mode, feed, power, armed = "", 0.0, 0.0, False
    blocks: list[list[str]] = []

    def fault(sentence: str) -> None:
        faults.append(f"block {len(blocks)}: {sentence}: {raw}")

    raw = ""
    if not text.endswith("\n"):
        faults.append("the last line has no end")
    for raw in text.splitlines():
        if raw.startswith("("):
            inner = raw[1:-1]
            if not raw.endswith(")") or set(inner) - STOPS:
                fault("a comment holds what does not belong there")
            if len(raw) > 72:
                fault("a line is long")
            comments.append(inner.strip())
            if not blocks:
                fault("something stands before the first block")
            continue
        read = words_of(raw)
        if read is None:
            fault("this cannot be read")
            continue
        names = [letter + number for letter, number in read]
        letters = [letter for letter, _ in read if letter not in "GM"]
        blocks.append(names)
        if len(blocks) == 1:
            if names != FIRST:
                fault("the first block is another one")
            continue
        if len(set(letters)) != len(letters) or set(letters) - set("XYFS"):
            fault("a word is there twice, or is none that a stroke needs")
            continue
        orders = [name for name in names if name[0] in "GM"]
        if len(orders) != 1 or orders[0] not in KNOWN or orders[0] in FIRST[:4]:
            fault("a block has one order of G0, G1, M3, M4 and M5")
            continue
        order = orders[0]
        told = {letter: float(number) for letter, number in read if letter not in "GM"}
        if order in ("M3", "M4", "M5"):
            if names[1:] != ["S0"]:
                fault("the beam is armed or disarmed in a block of its own, with S0")
            armed, power = order != "M5", 0.0
            if armed:
                armed_by.append(order)
            continue
        mode = order
        if "X" not in told or "Y" not in told:
            fault("a move names both places")
            continue
        to = (told["X"], told["Y"])
        if not all(
            -ROUNDING <= v + o <= a + ROUNDING for v, o, a in zip(to, origin, area, strict=True)
        ):
            fault("this leaves the work area")
        if mode == "G0":
            if set(told) != {"X", "Y"}:
                fault("a rapid move has places alone")
            if blocks[-2] != ["M5", "S0"]:
                fault("no M5 S0 stands before a rapid move")
            if armed or power:
                fault("the beam is armed in a rapid move")
        else:
            feed = told.get("F", feed)
            power = told.get("S", power)
            if "S" not in told:
                fault("a feed move says its power")
            if feed <= 0:
                fault("a feed move has no feed")
            if at is None:
                fault("a feed move begins nowhere")
            elif math.dist(at, to) < 1e-6:
                fault("a feed move does not move")
            if power > 0 and not armed:
                fault("power without an armed beam")
            if power > most:
                fault("power beyond the largest")
        moves.append(Move(mode == "G0", at, to, 0.0 if mode == "G0" else feed, power))
        at = to
        if mode == "G0":
            power = 0.0
    if blocks and blocks[-1] != ["M5", "S0"]:
        faults.append("the last block is not M5 S0")
    parked = (0.0, 0.0) if park is None else (park[0] - origin[0], park[1] - origin[1])
    if park is not None and (
        at is None or math.dist(at, parked) > 2 * ROUNDING or not moves[-1].rapid
    ):
        faults.append("the head is not parked")
    return Played(moves, comments, faults, armed_by)
