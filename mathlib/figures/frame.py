"""Sag of the moving beam under its head, along the travel."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from mathlib.answers import frame, tell
from mathlib.figures import style
from mathlib.units import Q

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine

_PLACES = 61
_DRAWS = 400


def curves(machine: Machine) -> dict[str, np.ndarray]:
    """Place of the head in mm, and the sag under it in µm: ends resting, clamped, low and high."""
    typical = machine.typical()
    travel = float(np.median(typical.machine.travel_x.to("mm").magnitude))
    place = np.linspace(0.0, travel, _PLACES)

    def sag(one: Machine, ends: str) -> np.ndarray:
        along = Q(place, "mm")[:, None] + frame.edge(one)
        found = frame.sag_under_head(one, along, ends).to("um").magnitude
        return np.asarray(np.broadcast_to(found, (_PLACES, found.shape[-1])))

    found = {
        "place": place,
        "typical": np.median(sag(typical, frame.ENDS), axis=1),
        "clamped": np.median(sag(typical, "fixed"), axis=1),
    }
    if machine.ranges:
        low, high = np.percentile(sag(machine.draw(_DRAWS), frame.ENDS), [5, 95], axis=1)
        found |= {"low": low, "high": high}
    return found


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw the sag under the head against its place, downwards, and the change over the travel."""
    told = curves(machine)
    figure, axes = style.new(
        "The head sags most in the middle: only the change over the travel costs focus",
        (style.SIZE[0], 4.2),
    )
    if "low" in told:
        axes.fill_between(
            told["place"], told["low"], told["high"], color=style.SKY, alpha=0.45, lw=0
        )
    axes.plot(told["place"], told["typical"], color=style.BLUE, label="ends rest")
    axes.plot(told["place"], told["clamped"], "--", color=style.OCHRE, label="ends clamped")
    middle, at_edge = told["typical"][_PLACES // 2], told["typical"][0]
    place = told["place"][_PLACES // 2]
    axes.hlines(at_edge, 0, place, color=style.VERMILION, lw=1, linestyle=":")
    axes.annotate(
        "",
        (place, middle),
        (place, at_edge),
        arrowprops={"arrowstyle": "<->", "color": style.VERMILION, "shrinkA": 0, "shrinkB": 0},
    )
    axes.annotate(
        f"change\n{tell(answer.values['sag_change'].to('um'), 2)}",
        (place, (middle + at_edge) / 2),
        xytext=(8, 0),
        textcoords="offset points",
        va="center",
        color=style.VERMILION,
        weight="bold",
    )
    highest = max(float(told.get("high", told["typical"]).max()), middle)
    axes.set_ylim(1.35 * highest, 0.0)
    axes.set_xlim(0, told["place"][-1])
    axes.set_xlabel("place of the head along its travel, in mm")
    axes.set_ylabel("sag under the head, in µm")
    axes.legend(loc="lower left", frameon=False)
    return figure


def describe(answer: Answer, machine: Machine) -> str:
    """Say the sag in the middle and at the edge, the change, and the depth of focus beside it."""
    values = answer.values
    told = (
        f"Sag of the beam under its head along the travel: {tell(values['sag_centre'], 2)} in the "
        f"middle, {tell(values['sag_edge'], 2)} at the ends, a change of "
        f"{tell(values['sag_change'], 2)}"
    )
    if "depth_of_focus" in values:
        told += f" beside ±{tell(values['depth_of_focus'])} of focus"
    return f"{told}."
