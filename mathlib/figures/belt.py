"""The route of each belt, drawn to scale: pulleys, what carries them, and both part-lengths."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from mathlib.errors import ValueRefused
from mathlib.figures import style
from mathlib.motion import gantries, placing
from mathlib.motion.gantry import Gantry
from mathlib.motion.routes import BeltPath, Node, Pose
from mathlib.units import Q, Quantity, show

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine

#: Tint of each body that carries pulleys; its name stands beside it as well.
TINTS: Final = {"frame": "#d9dde1", "beam": "#bfe0f2", "carriage": "#ffe3a8"}
_PARTS: Final = (
    (style.BLUE, "-", "──"),
    (style.VERMILION, (0, (4, 1.6)), "╌╌"),
    (style.OCHRE, (0, (6, 1.5, 1.2, 1.5)), "─·"),
)
_HALF: Final = 15.0  # mm, of a magnified pulley's window
_TOOTH: Final = 1.6  # mm, drawn height of a belt's tooth
_MOST_ZOOMS: Final = 5


def traced(route: BeltPath, at: Pose) -> list[np.ndarray]:
    """Points along each part of the belt at one pose, from the first end to the last.

    Straight runs go from tangent point to tangent point; arcs are lines of 1/40 turn at most. The
    belt is parted at the middle of its wrap on each driven pulley.
    """
    _, tangents = route.runs(at)
    wraps = route._wraps(tangents)
    points: list[Any] = []
    parted = []
    for number, (node, place) in enumerate(zip(route.nodes, route.places(at), strict=True)):
        centre = np.array([float(value) for value in place])
        if number not in wraps:
            points.append(centre)
            continue
        x, y = (float(value) for value in tangents[number - 1])
        start = np.arctan2(-node.turn * x, node.turn * y)
        count = 2 * int(np.ceil(20 * float(wraps[number]) / (2 * np.pi))) + 1
        angles = start + node.turn * np.linspace(0.0, float(wraps[number]), count)
        arc = centre + node.radius * np.column_stack([np.cos(angles), np.sin(angles)])
        if number in route.drives:
            parted.append(len(points) + count // 2)
        points.extend(arc)
    whole = np.array(points)
    cuts = [0, *parted, len(whole) - 1]
    return [whole[a : b + 1] for a, b in itertools.pairwise(cuts)]


def teeth_side(route: BeltPath) -> float:
    """Side of the belt that has the teeth, +1 for left: the one that its driven pulley is on."""
    return route.nodes[route.driven].turn


def has_teeth(route: BeltPath, number: int) -> bool:
    """Tell whether a pulley touches the belt's toothed side; the others carry its back."""
    return route.nodes[number].turn == teeth_side(route)


def _ticks(route: BeltPath, line: np.ndarray, pitch: float) -> np.ndarray:
    """Short strokes for a belt's teeth, one for each pitch; nan parts them."""
    steps = np.diff(line, axis=0)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*steps.T))])
    places = np.arange(pitch / 2, along[-1], pitch)
    segment = np.clip(np.searchsorted(along, places) - 1, 0, len(steps) - 1)
    foot = np.column_stack([np.interp(places, along, line[:, axis]) for axis in (0, 1)])
    way = steps[segment] / np.hypot(*steps[segment].T)[:, None]
    tip = foot + teeth_side(route) * _TOOTH * np.column_stack([-way[:, 1], way[:, 0]])
    return np.stack([foot, tip, np.full_like(foot, np.nan)], axis=1).reshape(-1, 2)


class RoutePicture:
    """Axes with the routes of a gantry, and windows that magnify some of its pulleys.

    Parameters
    ----------
    axes : Axes
        For the whole machine.
    windows : sequence of (Axes, belt, node number)
        Each shows one pulley; its place on ``gantry`` stays in the middle.
    gantry : Gantry
        As designed; later ones are drawn by ``show``.
    belts : sequence of int
        Belts that are drawn in full; the others are thin and grey.

    """

    def __init__(
        self, axes: Axes, windows: list[tuple[Axes, int, int]], gantry: Gantry, belts: list[int]
    ) -> None:
        self.axes, self.windows, self.designed, self.belts = axes, windows, gantry, belts
        layout = gantry.layout
        width, reach_x, reach_y, over = (
            float(value.to("mm").magnitude)
            for value in (
                layout.rail_spacing,
                layout.travel_x,
                layout.travel_y,
                layout.overrun if layout.overrun is not None else Q("20 mm"),
            )
        )
        self.width, self.margin = width, (width - reach_x) / 2.0
        self._ground(width, reach_x, reach_y, over)
        every = range(len(gantry.paths))
        # For each pane a dict from belt to the lines of its two parts.
        self.parts = [{belt: self._belt_lines(axes, belt) for belt in every}]
        self.circles = [self._pulleys(axes)]
        self.teeth = []
        for pane, belt, _ in windows:
            self.parts.append({belt: self._belt_lines(pane, belt)})
            self.circles.append(self._pulleys(pane))
            self.teeth += pane.plot([], [], color=style.INK, lw=1)
        self.labels = [
            self.axes.annotate(
                str(order),
                (0, 0),
                xytext=(0, 0),
                textcoords="offset points",
                ha="center",
                va="center",
                weight="bold",
            )
            for order in range(1, len(self._numbered()) + 1)
        ]
        self.ghosts = [self._ghost(pane, gantry.paths[b].nodes[n]) for pane, b, n in windows]
        for pane, belt, number in windows:
            self._window(pane, belt, number)

    def _window(self, pane: Axes, belt: int, number: int) -> None:
        route = self.designed.paths[belt]
        node = route.nodes[number]
        pane.set_aspect("equal")
        pane.set_xticks([])
        pane.set_yticks([])
        for spine in pane.spines.values():
            spine.set_visible(True)
        said = node.name.replace(" ", "\n", 1) if " " in node.name else f"{node.name}\n"
        order = self._numbered().index((belt, number)) + 1
        pane.set_title(f"{order} {said}", fontsize=11, weight="normal", loc="center", pad=3)
        face = "teeth" if has_teeth(route, number) else "back"
        pane.set_xlabel(f"{node.on},\n{face}", fontsize=11, labelpad=3)

    @staticmethod
    def _ghost(pane: Axes, node: Node) -> Any:
        """Mark where a magnified pulley was designed to be."""
        from matplotlib.patches import Circle

        ghost = Circle((0, 0), node.radius, fc="none", ec=style.GREY, ls=":", lw=1.4, zorder=2)
        pane.add_patch(ghost)
        return ghost

    def _numbered(self) -> list[tuple[int, int]]:
        """Belt and node number of the pulleys that carry a number on the picture, in order."""
        return [
            (belt, number)
            for belt in self.belts
            for number in range(1, len(self.designed.paths[belt].nodes) - 1)
        ]

    def _ground(self, width: float, reach_x: float, reach_y: float, over: float) -> None:
        """Draw frame, work area, beam, carriage and head; the last three move."""
        from matplotlib.patches import Rectangle

        axes = self.axes
        edge = 30.0
        axes.set_xlim(-edge, width + edge)
        nodes = [node for path in self.designed.paths for node in path.nodes]
        top = max(node.y for node in nodes if node.on == "frame") + edge
        axes.set_ylim(-over - edge, top)
        axes.set_aspect("equal")
        whole = (width + 2 * edge, top + over + edge)
        axes.add_patch(Rectangle((-edge, -over - edge), *whole, fc=TINTS["frame"], zorder=0))
        axes.set_xlabel("across the frame, in mm")
        axes.set_ylabel("along the rails, in mm")
        area = Rectangle((self.margin, 0), reach_x, reach_y, fc="white", ec=style.GREY, ls=":")
        axes.add_patch(area)
        self.beam = Rectangle((0, 0), width, 24, fc=TINTS["beam"], ec=style.GREY)
        self.carriage = Rectangle((0, 0), 60, 44, fc=TINTS["carriage"], ec=style.GREY)
        for body in (self.beam, self.carriage):
            axes.add_patch(body)
        (self.head,) = axes.plot([], [], "+", color=style.INK, ms=13, mew=2.5, zorder=6)
        (self.motors,) = axes.plot([], [], "s", mfc="none", mec=style.INK, ms=15, mew=1.6)
        self.names = {
            name: axes.annotate(
                name,
                (0, 0),
                xytext=(0, offset),
                textcoords="offset points",
                ha="center",
                va="center",
                color=style.INK,
                bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 1},
                zorder=7,
            )
            for name, offset in (
                ("beam", 20),
                ("carriage, head +", -27),
                ("frame; □ is a motor", 0),
            )
        }
        free = 0.22 if self.designed.layout.belts == "plain" else 0.5  # of pulleys, in front
        self.names["frame; □ is a motor"].xy = (free * width, -over / 2 - 12)

    def _belt_lines(self, pane: Axes, belt: int) -> list[Any]:
        full = belt in self.belts
        return [
            pane.plot(
                [],
                [],
                color=colour if full else style.GREY,
                linestyle=line if full else "-",
                lw=2.4 if full else 1.0,
                zorder=4 if full else 3,
                solid_capstyle="butt",
            )[0]
            for colour, line, _ in _PARTS[: len(self.designed.paths[belt].drives) + 1]
        ]

    def _pulleys(self, pane: Axes) -> list[Any]:
        """Draw a pitch circle for each pulley of the belts that are drawn in full."""
        from matplotlib.patches import Circle

        made = []
        for belt, number in self._numbered():
            route = self.designed.paths[belt]
            node = route.nodes[number]
            circle = Circle((0, 0), node.radius, fc=TINTS[node.on], ec=style.INK, lw=1.0, zorder=3)
            pane.add_patch(circle)
            marks = np.empty((0, 2))
            if has_teeth(route, number) and pane is not self.axes:
                angles = np.linspace(0, 2 * np.pi, 21)[:-1]
                ring = np.column_stack([np.cos(angles), np.sin(angles)])
                rows = [ring * 0.72 * node.radius, ring * node.radius, np.full_like(ring, np.nan)]
                marks = np.stack(rows, axis=1).reshape(-1, 2)
            (strokes,) = pane.plot([], [], color=style.INK, lw=1.0, zorder=3)
            made.append((belt, number, circle, strokes, marks))
        return made

    def show(self, gantry: Gantry, x: Quantity, y: Quantity) -> None:
        """Move everything to a gantry and a place of the head."""
        across, along = (float(value.to("mm").magnitude) for value in (x, y))
        head = across + self.margin
        self.beam.set_y(along - 12)
        self.carriage.set_xy((head - 30, along - 22))
        self.head.set_data([head], [along])
        self.names["beam"].xy = (self.width * (0.25 if 2 * head > self.width else 0.75), along)
        self.names["carriage, head +"].xy = (head, along)
        lines = [traced(path, path.pose(x, y)) for path in gantry.paths]
        for parts in self.parts:
            for belt, drawn in parts.items():
                for line, part in zip(drawn, lines[belt], strict=True):
                    line.set_data(*part.T)
        places = [path.places(path.pose(x, y)) for path in gantry.paths]
        for pane in self.circles:
            for belt, number, circle, strokes, marks in pane:
                centre = np.array([float(value) for value in places[belt][number]])
                circle.set_center(centre)
                strokes.set_data(*(marks + centre).T)
        self._place_words(gantry, places)
        self._magnify(gantry, lines, x, y)

    def _place_words(self, gantry: Gantry, places: list[Any]) -> None:
        driven = [places[b][drive] for b in self.belts for drive in gantry.paths[b].drives]
        self.motors.set_data(*np.array(driven, dtype=float).T)
        for label, (belt, number) in zip(self.labels, self._numbered(), strict=True):
            across, along = (float(value) for value in places[belt][number])
            label.xy = across, along
            inward = 14 if across <= self.width / 2.0 + 1e-9 else -14
            on_frame = gantry.paths[belt].nodes[number].on == "frame"
            label.set_position((inward, 0 if on_frame else (14 if number > 2 else -14)))

    def _magnify(self, gantry: Gantry, lines: list[Any], x: Quantity, y: Quantity) -> None:
        """Follow each magnified pulley's designed place, and put the teeth on the belts."""
        pitch = float(np.median(gantry.layout.belt.pitch.to("mm").magnitude))
        for (pane, belt, number), teeth, ghost in zip(
            self.windows, self.teeth, self.ghosts, strict=True
        ):
            path = self.designed.paths[belt]
            centre = [float(value) for value in path.places(path.pose(x, y))[number]]
            ghost.set_center(centre)
            pane.set_xlim(centre[0] - _HALF, centre[0] + _HALF)
            pane.set_ylim(centre[1] - _HALF, centre[1] + _HALF)
            teeth.set_data(*_ticks(gantry.paths[belt], np.vstack(lines[belt]), pitch).T)


def shown_belts(gantry: Gantry) -> list[int]:
    """Belts that are drawn in full: one of a mirrored pair, else each."""
    mirrored = gantry.layout.belts in ("crossed", "single")
    return [0] if mirrored else list(range(len(gantry.paths)))


def part_words(gantry: Gantry, belt: int, x: Quantity, y: Quantity) -> tuple[str, ...]:
    """Say the part-lengths of a belt at a place of the head, each with a sample of its line."""
    path = gantry.paths[belt]
    stops = ["first end", *(path.nodes[drive].name for drive in path.drives), "last end"]
    told = []
    for part, length in enumerate(path.part_lengths(x, y)):
        name = f"{path.name}, " if part == 0 else ""
        ends = f"{name}{stops[part]} to {stops[part + 1]}"
        told.append(f"{_PARTS[part][2]} {ends}: {show(length, 4)}")
    return tuple(told)


def spoken(words: tuple[str, ...]) -> str:
    """Give the part-lengths for a sentence, without the samples of their lines."""
    return "; ".join(text[3:] for text in words)


def lengths_above(
    axes: Axes, gantry: Gantry, x: Quantity, y: Quantity, belts: list[int]
) -> list[Any]:
    """Write the part-lengths above the axes, each in the colour and line of its part."""
    told = [
        (text, _PARTS[part][0])
        for belt in belts
        for part, text in enumerate(part_words(gantry, belt, x, y))
    ]
    return [
        axes.annotate(
            text,
            (0, 1),
            xycoords="axes fraction",
            xytext=(0, 7 + 16 * (len(told) - 1 - row)),
            textcoords="offset points",
            color=colour,
        )
        for row, (text, colour) in enumerate(told)
    ]


def place_to_compare(gantry: Gantry, y: Quantity) -> str:
    """Say where the head must stand for both belts to be compared by ear."""
    if gantry.layout.belts != "crossed":
        return ""
    try:
        x = placing.equal_spans(gantry, y)
    except ValueRefused:
        return "The runs of both belts are equal nowhere."
    return f"Both belts' runs are equal with the head at x = {show(x, 4)}."


def _middle(gantry: Gantry) -> tuple[Quantity, Quantity]:
    return gantry.layout.travel_x * 0.3, gantry.layout.travel_y * 0.4


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw the routes with both part-lengths, and the pulleys of the first belts magnified."""
    gantry = gantries.gantry(machine.typical().layout)
    belts = shown_belts(gantry)
    numbered = [(b, n) for b in belts for n in range(1, len(gantry.paths[b].nodes) - 1)]
    numbered = numbered[:_MOST_ZOOMS]
    figure, axes = style.new(
        "One belt in parts: what one loses as the head moves, another gains",
        (style.SIZE[0], 6.6 + 0.45 * (len(belts) - 1)),
    )
    axes.remove()
    grid = figure.add_gridspec(2, len(numbered), height_ratios=[3.6, 1.0])
    axes = figure.add_subplot(grid[0, :])
    windows = [
        (figure.add_subplot(grid[1, column]), belt, number)
        for column, (belt, number) in enumerate(numbered)
    ]
    picture = RoutePicture(axes, windows, gantry, belts)
    x, y = _middle(gantry)
    picture.show(gantry, x, y)
    lengths_above(axes, gantry, x, y, belts)
    axes.set_xlabel(f"{axes.get_xlabel()}\n{place_to_compare(gantry, y)}".rstrip("\n"))
    return figure


def describe(answer: Answer, machine: Machine) -> str:
    """Say both part-lengths of each belt, where its pulleys ride and which side they touch."""
    gantry = gantries.gantry(machine.typical().layout)
    x, y = _middle(gantry)
    told = []
    for belt in shown_belts(gantry):
        path = gantry.paths[belt]
        pulleys = ", ".join(
            f"{node.name} on the {node.on} ({'teeth' if has_teeth(path, number) else 'back'})"
            for number, node in enumerate(path.nodes)
            if 0 < number < len(path.nodes) - 1
        )
        told.append(f"{spoken(part_words(gantry, belt, x, y))}; pulleys: {pulleys}")
    mirrored = len(shown_belts(gantry)) < len(gantry.paths)
    other = " The other belt is its mirror image, thin and grey." if mirrored else ""
    return (
        f"Routes of the belts to scale, with the head at x = {show(x, 3)}, y = {show(y, 3)}. "
        f"{'. '.join(told)}.{other} {place_to_compare(gantry, y)}".rstrip(" ")
    )
