"""The room around the machine: how far light above the limits reaches, by how it gets there."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from mathlib.answers import hazard, tell
from mathlib.figures import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.patches import Wedge
    from matplotlib.text import Text

    from mathlib.answers import Answer
    from mathlib.machine import Machine
    from mathlib.units import Quantity

NEAREST: Final = 0.1  # m: the middle of the plan
RINGS: Final = (1.0, 10.0, 100.0, 1000.0)  # m
_FARTHEST: Final = 2e4  # m: what is farther is drawn up to here
#: Ways of the light: word, name, from which angle to which, where its label stands, and which
#: side of the label that is.
WAYS: Final = (
    ("scattered", "scattered\nby the work", 0.0, 180.0, 140.0, "right"),
    ("lens_on", "mirrored,\nlens on", 25.0, 55.0, 40.0, "left"),
    ("lens_off", "lens off", 84.0, 100.0, 92.0, "center"),
)
#: Exposures from long to short, so that the short lies on top.
_TIMES: Final = (("100_s", style.ORANGE, 0.45), ("10_s", style.VERMILION, 0.75))
_LABELS_FROM: Final = 1.35  # rings from the middle: nearer, labels would lie on each other
_EYES_AT: Final = 168.0  # deg: where the watchers stand
#: Behind words, so that no ring is drawn through them.
_BEHIND: Final[dict[str, Any]] = {"facecolor": "white", "edgecolor": "none", "pad": 1.5}


def radius(metres: float) -> float:
    """Place on the plan, on which each ring is ten times as far as the one within.

    >>> radius(1.0), radius(0.02)
    (1.0, 0.0)
    """
    return float(np.log10(np.clip(metres, NEAREST, _FARTHEST) / NEAREST))


def reached(answer: Answer) -> dict[str, Quantity]:
    """Distances to draw, by word: the strong end of each range, as the verdict has them."""
    words = [f"{way}_{time}" for way, *_ in WAYS for time, *_ in _TIMES]
    return {
        word: hazard.at_most(word, answer.values, answer.ranges)
        for word in words
        if word in answer.values
    }


class Plan:
    """The plan's artists, made once, and how they follow the distances."""

    def __init__(self, axes: Axes) -> None:
        from matplotlib.patches import Wedge as Sector

        self.axes = axes
        self.wedges: dict[str, Wedge] = {}
        self.labels: dict[str, Text] = {}
        for way, _, start, stop, _, side in WAYS:
            for time, colour, alpha in _TIMES:
                wedge = Sector((0, 0), 0.0, start, stop, facecolor=colour, alpha=alpha, lw=0)
                axes.add_patch(wedge)
                self.wedges[f"{way}_{time}"] = wedge
            self.labels[way] = axes.text(
                0, 0, "", ha=side, va="bottom", size=11, weight="bold", linespacing=1.05,
                bbox=_BEHIND,
            )  # fmt: skip
        (self.eyes,) = axes.plot([], [], "o", color=style.BLUE, markersize=8)
        self.eyes_label = axes.text(
            0, 0, "", color=style.BLUE, ha="right", va="bottom", bbox=_BEHIND
        )
        turn = np.radians(np.linspace(0, 180, 91))
        for ring in RINGS:
            axes.plot(
                radius(ring) * np.cos(turn), radius(ring) * np.sin(turn), color=style.GREY, lw=1
            )
        axes.plot([0], [0], "s", color=style.INK, markersize=11)
        axes.set_aspect("equal", anchor="N")
        axes.spines["left"].set_visible(False)
        axes.set_yticks([])
        places = [radius(ring) for ring in RINGS]
        told = [f"{ring:g}" for ring in RINGS]
        axes.set_xticks([*[-each for each in places], *places], [*told, *told])
        axes.set_xlabel("distance from the work, in m; rings ten times as far")

    def show(self, distances: dict[str, Quantity], watchers: Quantity) -> None:
        """Bring wedges, labels and watchers to these distances."""
        farthest = radius(RINGS[-1])
        for word, wedge in self.wedges.items():
            far = distances.get(word)
            at = 0.0 if far is None else radius(float(far.to("m").magnitude))
            wedge.set_radius(at)
            farthest = max(farthest, at)
        for way, name, _, _, turned, _ in WAYS:
            far, label = distances.get(f"{way}_100_s"), self.labels[way]
            label.set_text("" if far is None else f"{name}\n{tell(far)}")
            if far is not None:
                at = max(radius(float(far.to("m").magnitude)), _LABELS_FROM) + 0.08
                label.set_position(
                    (at * np.cos(np.radians(turned)), at * np.sin(np.radians(turned)))
                )
        near = radius(float(np.median(watchers.to("m").magnitude)))
        x, y = near * np.cos(np.radians(_EYES_AT)), near * np.sin(np.radians(_EYES_AT))
        self.eyes.set_data([x], [y])
        # beside the eyes, or just outside of the light they stand in, so as to cover none of it
        beyond = self.wedges["scattered_100_s"].r - near
        self.eyes_label.set_position((x - 0.14 - (beyond if 0 < beyond < 0.5 else 0.0), y - 0.02))
        self.eyes_label.set_text(f"eyes at {tell(watchers)}")
        self.axes.set_xlim(-farthest - 0.2, farthest + 0.2)
        self.axes.set_ylim(-0.12, farthest + 0.75)


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw the plan of the room; without a laser it is empty, and says so."""
    figure, axes = style.new(
        "Too much light for eyes: in 100 s (light), in 10 s (dark)", (style.SIZE[0], 4.1)
    )
    plan = Plan(axes)
    plan.show(reached(answer), hazard.watchers_at(machine))
    if not answer.values:
        axes.text(0, 0.45, "no laser in this file", ha="center", bbox=_BEHIND)
    return figure


def describe(answer: Answer, machine: Machine) -> str:
    """Say the distances of each way for both exposures, and where the watchers are."""
    found = reached(answer)
    if not found:
        return "Plan of the room around the machine, empty: there is no laser in this file."
    told = [
        f"{' '.join(name.split())} {tell(found[f'{way}_10_s'])} in 10 s and "
        f"{tell(found[f'{way}_100_s'])} in 100 s"
        for way, name, *_ in WAYS
        if f"{way}_100_s" in found
    ]
    return (
        "Plan of the room around the machine, each ring ten times as far as the one within. Light "
        f"above the limits for eyes reaches: {'; '.join(told)}. The nearest eyes are "
        f"{tell(hazard.watchers_at(machine))} from the work."
    )
