"""Reads the outlines of an SVG as polylines in mm; what it leaves out it tells.

One pass over the elements, without a tree and without recursion: a file can be neither too deep
nor too large for it. Entities are refused, nothing outside the file is ever opened.
"""

from __future__ import annotations

import math
import os
import re
from dataclasses import dataclass, replace
from typing import Any, Final
from xml.parsers import expat

import numpy as np

from mathlib import words
from mathlib.errors import ValueRefused
from mathlib.paths.flatten import Matrix, Trace
from mathlib.paths.polylines import MOST_POINTS, Drawing, joined
from mathlib.paths.reading import content
from mathlib.paths.svg_words import PX, fitted, length, numbers, trace_path, transform
from mathlib.units import Q
from mathlib.words import Word

MOST_ELEMENTS: Final = 500_000
DEEPEST: Final = 256
_SPACE: Final = "http://www.w3.org/2000/svg"
_FLATNESS: Final = Word("flatness", "mm", "by which segments may leave a curve")
_GROUPS: Final = frozenset({"g", "a", "switch"})
_SHAPES: Final = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"})
#: Never drawn where they stand, by the standard; clips and masks are told where they are used.
_UNSEEN: Final = frozenset({
    "title", "desc", "metadata", "defs", "symbol", "clipPath", "mask", "marker", "pattern",
    "filter", "linearGradient", "radialGradient", "view", "cursor",
})  # fmt: skip
_LEFT_OUT: Final = {
    "text": "letters are no outlines; turn them into paths where you draw",
    "image": "a picture of pixels has no outlines",
    "use": "a copy of another element; turn copies into paths of their own",
    "style": "a style sheet; what it hides or moves is read as if it did not",
    "script": "nothing is run",
    "foreignObject": "not SVG",
}
_IGNORED: Final = {
    "clip-path": "a clip; what it cuts away is read too",
    "mask": "a mask; what it hides is read too",
    "stroke-dasharray": "dashes; they are read as a whole line",
}
_PHYSICAL: Final = re.compile(r"(?i)(mm|cm|in|pt|pc|q)\s*$")


@dataclass(frozen=True)
class _Frame:
    """What an element hands down to those inside it."""

    matrix: Matrix
    width: float  # of the viewport, in its own units, for percentages
    height: float
    layer: str | None = None
    visible: bool = True


def read_svg(file: str | os.PathLike[str], flatness: Any = "0.01 mm") -> Drawing:
    """Read the outlines of an SVG: path, rect, circle, ellipse, line, polyline and polygon.

    Lengths follow width, height and viewBox of the file; without a unit they are px, 96 to the
    inch. SVG counts y downwards: it is turned here, so that y is 0 on the lower edge of the sheet.
    All shapes are read as outlines, whatever their fill or stroke. A layer is a group that stands
    directly in the file, by its label or id.

    Parameters
    ----------
    file : path
        Of an .svg file.
    flatness : length
        By which straight segments may leave the curves.

    Returns
    -------
    Drawing
        ``.path``, ``.layers``, ``.notes`` on all that was left out or assumed, ``.size``.

    Raises
    ------
    ValueRefused
        The file is no SVG that can be read; the message has line and element.

    """
    tolerance = float(words.base_value(_FLATNESS, flatness)) * 1e3
    name, raw = content(file)
    if raw.startswith(b"\x1f\x8b"):
        raise ValueRefused(f"{name} is compressed: save it as plain SVG.")
    return _Reader(name, tolerance).read(raw)


class _Reader:
    """Follows the elements of one file."""

    def __init__(self, name: str, tolerance: float) -> None:
        self.name, self.tolerance = name, tolerance
        self.frames: list[_Frame] = []
        self.skipping = 0
        self.elements = self.points = 0
        self.lines: list[tuple[str, np.ndarray]] = []
        self.told: dict[str, tuple[int, int]] = {}  # how often, and the first line
        self.notes: list[str] = []
        self.size: tuple[float, float | None] = (0.0, None)
        self.parser = expat.ParserCreate(namespace_separator=" ")
        self.parser.StartElementHandler = self.start
        self.parser.EndElementHandler = self.end
        self.parser.EntityDeclHandler = self.entity

    def read(self, raw: bytes) -> Drawing:
        """Read the whole file."""
        try:
            self.parser.Parse(raw, True)
        except expat.ExpatError as fault:
            what = expat.ErrorString(fault.code)
            raise ValueRefused(f"{self.name}, line {fault.lineno}: no XML: {what}.") from None
        notes = (*self.notes, *self._left_out())
        if not self.lines:
            told = f" {' '.join(notes)}" if notes else ""
            raise ValueRefused(f"{self.name} has no outlines.{told}")
        if self.size[1] is None:  # a sheet without a height: the lowest point is its edge
            lowest = min(float(line[:, 1].min()) for _, line in self.lines)
            self.lines = [(layer, line - [0.0, lowest]) for layer, line in self.lines]
        layers: dict[str, list[np.ndarray]] = {}
        for layer, line in self.lines:
            layers.setdefault(layer, []).append(line)
        height = self.size[1]
        return Drawing(
            file=self.name,
            path=joined([line for _, line in self.lines]),
            layers={layer: joined(lines) for layer, lines in layers.items()},
            notes=notes,
            size=None if height is None else Q(np.array([self.size[0], height]), "mm"),
        )

    def _left_out(self) -> list[str]:
        return [
            f"{count} × {what}" + (f", first on line {line}." if line else ".")
            for what, (count, line) in self.told.items()
        ]

    def _tell(self, what: str) -> None:
        count, line = self.told.get(what, (0, self.parser.CurrentLineNumber))
        self.told[what] = count + 1, line

    # -- what the parser calls ------------------------------------------------------------------

    def entity(self, name: str, *_: Any) -> None:
        """Refuse a file that defines entities: they can be made to grow without end."""
        raise ValueRefused(
            f"{self.name}, line {self.parser.CurrentLineNumber}: the file defines the entity "
            f"{name[:30]!r}: save it as plain SVG, without entities."
        )

    def start(self, tag: str, told: dict[str, str]) -> None:
        """Begin an element."""
        self.elements += 1
        if self.elements > MOST_ELEMENTS or len(self.frames) + self.skipping >= DEEPEST:
            raise ValueRefused(
                f"{self.name}, line {self.parser.CurrentLineNumber}: more than {MOST_ELEMENTS} "
                f"elements, or more than {DEEPEST} inside one another: simplify the drawing."
            )
        space, _, element = tag.rpartition(" ")
        if self.skipping:
            self.skipping += 1
            return
        try:
            self._start(element if space in ("", _SPACE) else "", told)
        except ValueRefused as fault:
            which = f' id="{told["id"][:40]}"' if told.get("id") else ""
            raise ValueRefused(
                f"{self.name}, line {self.parser.CurrentLineNumber}, <{element}{which}>: {fault}"
            ) from None

    def end(self, _: str) -> None:
        """End an element."""
        if self.skipping:
            self.skipping -= 1
        else:
            self.frames.pop()

    # -- elements -------------------------------------------------------------------------------

    def _start(self, element: str, told: dict[str, str]) -> None:
        if not self.frames:
            if element != "svg":
                raise ValueRefused("the file is XML, but no SVG.")
            self.frames.append(self._sheet(told))
            return
        if element == "" or element in _UNSEEN:
            self.skipping = 1
            return
        if element not in _GROUPS | _SHAPES | {"svg"}:
            self._tell(f"{element[:30]} left out ({_LEFT_OUT.get(element, 'it is not read')})")
            self.skipping = 1
            return
        style = (part.partition(":") for part in told.get("style", "").split(";"))
        looks = told | {key.strip(): value.strip() for key, _, value in style}
        if looks.get("display") == "none":
            self._tell(f"{element} left out (it is hidden)")
            self.skipping = 1
            return
        for look, what in _IGNORED.items():
            if looks.get(look, "none") != "none":
                self._tell(f"{what} ({look})")
        if "transform" in looks and "transform" not in told:
            self._tell("a transform in a style, which is not read")
        frame = self._inner(element, told, looks)
        if element in _SHAPES:
            self._draw(element, told, frame)
        self.frames.append(frame)

    def _inner(self, element: str, told: dict[str, str], looks: dict[str, str]) -> _Frame:
        outer = self.frames[-1]
        layer = outer.layer
        if layer is None and element in _GROUPS:
            labels = [v for k, v in told.items() if k.rpartition(" ")[2] == "label"]
            layer = (labels or [told.get("id", "")])[0]
        shown = {"visible": True, "hidden": False, "collapse": False}
        visible = shown.get(looks.get("visibility", ""), outer.visible)
        matrix = outer.matrix
        if "transform" in told:
            matrix = matrix @ transform(told["transform"])
        frame = replace(outer, matrix=matrix, layer=layer, visible=visible)
        return self._viewport(frame, told) if element == "svg" else frame

    def _viewport(self, frame: _Frame, told: dict[str, str]) -> _Frame:
        """Make the frame of an svg element inside another."""
        x, y = self._told(told, "x", frame.width), self._told(told, "y", frame.height)
        width = length(told.get("width", "100%"), frame.width)
        height = length(told.get("height", "100%"), frame.height)
        matrix = frame.matrix @ Matrix(e=x, f=y)
        box = self._box(told)
        if box is None:
            return replace(frame, matrix=matrix, width=width, height=height)
        fit = fitted(box, width, height, told.get("preserveAspectRatio", ""))
        return replace(frame, matrix=matrix @ fit, width=box[2], height=box[3])

    def _sheet(self, told: dict[str, str]) -> _Frame:
        """Make the outermost frame: px to mm, y upwards from the lower edge."""
        box = self._box(told)
        stated = {k: told[k] for k in ("width", "height") if k in told and "%" not in told[k]}
        if box is not None:
            # A side that is not stated follows from the other, or is in px of the view box.
            w, h = (length(stated[k], 0.0) if k in stated else None for k in ("width", "height"))
            scale = w / box[2] if w is not None else (h / box[3] if h is not None else 1.0)
            width = box[2] * scale if w is None else w
            height = box[3] * scale if h is None else h
        else:
            width = length(stated.get("width", "0"), 0.0)
            height = length(stated.get("height", "0"), 0.0)
        if min(width, height) < 0 or (box and min(width, height) == 0):
            raise ValueRefused("width and height of the sheet must be more than zero.")
        if not any(_PHYSICAL.search(value) for value in stated.values()):
            self.notes.append("The file states no size in mm: one px is taken for 1/96 inch.")
        known = box is not None or "height" in stated
        if not known:
            self.notes.append("The file states no height: its lowest point is put at y = 0.")
        self.size = width * PX, height * PX if known else None
        matrix = Matrix(PX, 0, 0, -PX, 0, height * PX)
        if box is not None:
            matrix = matrix @ fitted(box, width, height, told.get("preserveAspectRatio", ""))
            width, height = box[2], box[3]
        if "transform" in told:
            matrix = matrix @ transform(told["transform"])
        return _Frame(matrix, width, height)

    @staticmethod
    def _box(told: dict[str, str]) -> list[float] | None:
        if "viewBox" not in told:
            return None
        box = numbers(told["viewBox"])
        if len(box) != 4 or min(box[2:]) <= 1e-9:
            raise ValueRefused(
                f"viewBox has x, y, width and height, both more than zero; got "
                f"{told['viewBox'][:40]!r}."
            )
        return box

    @staticmethod
    def _told(told: dict[str, str], key: str, whole: float) -> float:
        return length(told[key], whole) if key in told else 0.0

    # -- shapes ---------------------------------------------------------------------------------

    def _draw(self, element: str, told: dict[str, str], frame: _Frame) -> None:
        if not frame.visible:
            self._tell(f"{element} left out (it is hidden)")
            return
        trace = Trace(frame.matrix, self.tolerance, MOST_POINTS - self.points)
        if element == "path":
            trace_path("" if told.get("d", "none") == "none" else told["d"], trace)
        elif element in ("polyline", "polygon"):
            self._points(numbers(told.get("points", "")), element == "polygon", trace)
        else:
            self._shape(element, told, frame, trace)
        self.points = MOST_POINTS - trace.room
        layer = frame.layer or ""
        for line in trace.lines:
            points = np.array(line)
            self.lines.append((layer, np.column_stack([points.real, points.imag])))
        if trace.pointless or not trace.lines:
            self._tell(f"{element} left out (it has no length)")

    @staticmethod
    def _points(told: list[float], closed: bool, trace: Trace) -> None:
        if len(told) % 2:
            raise ValueRefused(f"points come in pairs of x and y; there are {len(told)} numbers.")
        corners = [complex(x, y) for x, y in zip(told[::2], told[1::2], strict=True)]
        if corners:
            trace.move(corners[0])
            for corner in corners[1:]:
                trace.line(corner)
            if closed:
                trace.close()
            trace.end()

    def _shape(self, element: str, told: dict[str, str], frame: _Frame, trace: Trace) -> None:
        across, down = frame.width, frame.height
        wholes = dict.fromkeys(("x", "x1", "x2", "cx", "rx", "width"), across)
        wholes |= dict.fromkeys(("y", "y1", "y2", "cy", "ry", "height"), down)
        wholes["r"] = math.hypot(across, down) / math.sqrt(2)
        v = {
            key: self._told({} if told.get(key) == "auto" else told, key, whole)
            for key, whole in wholes.items()
        }
        for key in ("width", "height", "r", "rx", "ry"):
            if v[key] < 0:
                raise ValueRefused(f"{key} must not be negative; got {told[key][:30]!r}.")
        if element == "line":
            trace.move(complex(v["x1"], v["y1"]))
            trace.line(complex(v["x2"], v["y2"]))
            trace.end()
            return
        given = [key for key in ("rx", "ry") if key in told and told[key] != "auto"]
        if len(given) == 1:  # the other radius is the same
            v["rx"] = v["ry"] = v[given[0]]
        if element == "rect":
            if min(v["width"], v["height"]) > 0:
                _rectangle(v, trace)
            return
        rx, ry = (v["r"], v["r"]) if element == "circle" else (v["rx"], v["ry"])
        if min(rx, ry) > 0:
            middle = complex(v["cx"], v["cy"])
            trace.move(middle + rx)
            trace.arc(rx, ry, 0.0, False, True, middle - rx)
            trace.arc(rx, ry, 0.0, False, True, middle + rx)
            trace.end()


def _rectangle(v: dict[str, float], trace: Trace) -> None:
    """Draw a rectangle, its corners round where it has radii."""
    x, y, w, h = v["x"], v["y"], v["width"], v["height"]
    rx, ry = min(v["rx"], w / 2), min(v["ry"], h / 2)
    if min(rx, ry) <= 0:
        rx = ry = 0.0
    trace.move(complex(x + rx, y))
    for line, corner in (
        (complex(x + w - rx, y), complex(x + w, y + ry)),
        (complex(x + w, y + h - ry), complex(x + w - rx, y + h)),
        (complex(x + rx, y + h), complex(x, y + h - ry)),
        (complex(x, y + ry), complex(x + rx, y)),
    ):
        trace.line(line)
        if rx:
            trace.arc(rx, ry, 0.0, False, True, corner)
    trace.close()
