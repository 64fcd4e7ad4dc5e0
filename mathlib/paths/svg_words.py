"""What stands in the attributes of an SVG: lengths, transforms, view boxes, path data."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Final

from mathlib.errors import ValueRefused
from mathlib.paths.flatten import Matrix, Trace

#: One px of a drawing in mm, and other units in px, as CSS defines them.
PX: Final = 25.4 / 96
UNITS: Final = {
    "": 1.0, "px": 1.0, "in": 96.0, "mm": 96 / 25.4, "cm": 960 / 25.4, "q": 24 / 25.4,
    "pt": 4 / 3, "pc": 16.0,
}  # fmt: skip
_LARGEST: Final = 1e12
_NUMBER: Final = re.compile(r"[\s,]*([-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?)")
_LENGTH: Final = re.compile(
    r"\s*([-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?)\s*([A-Za-z]*|%)\s*"
)
_FLAG: Final = re.compile(r"[\s,]*([01])")
_COMMAND: Final = re.compile(r"[\s,]*([A-Za-z])")
_BLANK: Final = re.compile(r"[\s,]*")
_TRANSFORM: Final = re.compile(r"[\s,]*([A-Za-z]+)\s*\(([^()]*)\)")


def finite(text: str) -> float:
    """Read a number that the pattern has found."""
    value = float(text)
    if not abs(value) <= _LARGEST:
        raise ValueRefused(f"{text[:30]} is too large a number.")
    return value


def numbers(text: str) -> list[float]:
    """Read a list of numbers, parted by spaces or commas.

    >>> numbers("1,2 -3.5.5")
    [1.0, 2.0, -3.5, 0.5]
    """
    found, place = [], 0
    while match := _NUMBER.match(text, place):
        found.append(finite(match.group(1)))
        place = match.end()
    if _BLANK.fullmatch(text, place) is None:
        raise ValueRefused(f"{text[place : place + 20]!r} is no number.")
    return found


def length(text: str, whole: float) -> float:
    """Read a length in px; a percentage is of ``whole``.

    >>> round(length("25.4 mm", 100), 9), length("50%", 100)
    (96.0, 50.0)
    """
    match = _LENGTH.fullmatch(text) if len(text) < 80 else None
    unit = match.group(2).lower() if match else ""
    if match is None or (unit != "%" and unit not in UNITS):
        raise ValueRefused(
            f"{text[:30]!r} is no length; units are mm, cm, in, pt, pc, Q, px and %."
        )
    value = finite(match.group(1))
    return value * whole / 100 if unit == "%" else value * UNITS[unit]


def transform(text: str) -> Matrix:
    """Read a list of transforms; the last one is applied first.

    >>> transform("translate(10) scale(2)").point(1 + 1j)
    (12+2j)
    """
    made, place = Matrix(), 0
    while match := _TRANSFORM.match(text, place):
        name, told = match.group(1), numbers(match.group(2))
        counts, make = _TRANSFORMS.get(name, ((), None))
        if make is None or len(told) not in counts:
            raise ValueRefused(f"{match.group(0).strip()[:40]!r} is no transform.")
        made = made @ make(told)
        place = match.end()
    if _BLANK.fullmatch(text, place) is None and text.strip() != "none":
        raise ValueRefused(f"{text[place : place + 20]!r} is no transform.")
    return made


def _rotate(told: list[float]) -> Matrix:
    angle, *about = told
    x, y = about or (0.0, 0.0)
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return Matrix(e=x, f=y) @ Matrix(c, s, -s, c) @ Matrix(e=-x, f=-y)


_TRANSFORMS: Final[dict[str, tuple[tuple[int, ...], Callable[[list[float]], Matrix]]]] = {
    "matrix": ((6,), lambda n: Matrix(*n)),
    "translate": ((1, 2), lambda n: Matrix(e=n[0], f=n[1] if len(n) > 1 else 0.0)),
    "scale": ((1, 2), lambda n: Matrix(a=n[0], d=n[-1])),
    "rotate": ((1, 3), _rotate),
    "skewX": ((1,), lambda n: Matrix(c=math.tan(math.radians(n[0])))),
    "skewY": ((1,), lambda n: Matrix(b=math.tan(math.radians(n[0])))),
}


def fitted(box: list[float], width: float, height: float, aspect: str) -> Matrix:
    """Map of a view box onto a viewport of this width and height.

    >>> fitted([0, 0, 100, 50], 200, 200, "xMidYMid meet").point(0j)
    50j
    """
    x, y, w, h = box
    across, down = width / w, height / h
    words = aspect.split() or ["xMidYMid"]
    if words[0] == "none":
        return Matrix(across, 0, 0, down, -x * across, -y * down)
    if not re.fullmatch(r"x(Min|Mid|Max)Y(Min|Mid|Max)", words[0]):
        raise ValueRefused(f"{aspect[:30]!r} is no preserveAspectRatio.")
    scale = max(across, down) if "slice" in words[1:] else min(across, down)
    part = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    return Matrix(
        scale, 0, 0, scale,
        -x * scale + part[words[0][1:4]] * (width - w * scale),
        -y * scale + part[words[0][5:8]] * (height - h * scale),
    )  # fmt: skip


class _Data:
    """A place in path data, and what is read from there on."""

    def __init__(self, text: str) -> None:
        self.text, self.place = text, 0

    def _take(self, pattern: re.Pattern[str]) -> str | None:
        match = pattern.match(self.text, self.place)
        if match is None:
            return None
        self.place = match.end()
        return match.group(1)

    def command(self) -> str | None:
        """Next letter, or None at the end."""
        found = self._take(_COMMAND)
        if found is None and _BLANK.fullmatch(self.text, self.place) is None:
            self.fail("a command")
        return found

    def more(self) -> bool:
        """Whether another number follows."""
        return _NUMBER.match(self.text, self.place) is not None

    def number(self) -> float:
        """Next number."""
        found = self._take(_NUMBER)
        return self.fail("a number") if found is None else finite(found)

    def flag(self) -> bool:
        """Next flag of an arc, which may stand without a space before the next."""
        found = self._take(_FLAG)
        return bool(self.fail("a flag, 0 or 1,") if found is None else found == "1")

    def point(self) -> complex:
        """Next pair of numbers."""
        x = self.number()
        return complex(x, self.number())

    def fail(self, what: str) -> float:
        """Say what is missing, and where."""
        got = self.text[self.place : self.place + 20].strip()
        raise ValueRefused(
            f"path data: {what} is missing at character {self.place + 1}"
            + (f", before {got!r}." if got else ", where they end.")
        )


def trace_path(text: str, trace: Trace) -> None:
    """Draw path data: M L H V C S Q T A Z, absolute and relative."""
    data = _Data(text)
    first, control, before = True, 0j, ""
    while (letter := data.command()) is not None:
        kind = letter.upper()
        if kind not in "MLHVCSQTAZ" or (first and kind != "M"):
            what = f"{letter!r} is no command" if not first or kind != "M" else ""
            start = "; path data begin with M" if first and kind in "LHVCSQTAZ" else ""
            raise ValueRefused(f"path data: {what} at character {data.place}{start}.")
        first = False
        if kind == "Z":
            trace.close()
            before = kind
            continue
        again = True
        while again:
            here = trace.here
            base = here if letter.islower() else 0j
            if kind == "M":
                trace.move(base + data.point())
                letter, kind = ("l" if letter == "m" else "L"), "L"
                before = "M"
                again = data.more()
                continue
            if kind == "L":
                trace.line(base + data.point())
            elif kind == "H":
                trace.line(complex(base.real + data.number(), here.imag))
            elif kind == "V":
                trace.line(complex(here.real, base.imag + data.number()))
            elif kind == "A":
                rx, ry, turned = data.number(), data.number(), math.radians(data.number())
                large, sweep = data.flag(), data.flag()
                trace.arc(rx, ry, turned, large, sweep, base + data.point())
            else:
                # S and T mirror the control point of a curve of their own kind before them.
                same = before in ("CS" if kind in "CS" else "QT") and before
                mirrored = 2 * here - control if same else here
                controls = [mirrored] if kind in "ST" else [base + data.point()]
                if kind in "CS":
                    controls.append(base + data.point())
                control = controls[-1]
                trace.bezier(*controls, base + data.point())
            before = kind
            again = data.more()
    trace.end()
