"""What the machine draws from its supply, by consumer, against what the supply may give."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from mathlib.answers import loads, tell
from mathlib.figures import style
from mathlib.units import Quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine

_LOOKS: Final = {
    "motors": (style.BLUE, ""),
    "laser": (style.ORANGE, "//"),
    "the rest": (style.GREY, ".."),
}


def _watts(value: Quantity) -> float:
    return float(np.nanmedian(value.to("W").magnitude))


def parts(machine: Machine) -> dict[str, dict[str, float]]:
    """Power in W of each consumer, losses included, by state of the machine; typical parts."""
    found = {word: _watts(value) for word, value in loads.budget(machine.typical()).items()}
    moving = found["windings"] + found["iron"] + found["moving"]
    return {
        "at rest": {"motors": found["holding"], "laser": 0.0, "the rest": found["other"]},
        "at work": {"motors": moving, "laser": found["laser"], "the rest": found["other"]},
    }


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw a bar for the machine at rest and at work, and lines for what the supply may give."""
    rows = parts(machine)
    figure, axes = style.new(
        "Power from the supply: the lower bar must end left of the dashed line",
        (style.SIZE[0], 3.4),
    )
    reach = 0.0
    for row, powers in enumerate(rows.values()):
        left = 0.0
        for name, power in powers.items():
            colour, hatch = _LOOKS[name]
            label = name if row == 1 else None
            axes.barh(
                row, power, 0.5, left=left, color=colour, hatch=hatch, edgecolor="white",
                label=label,
            )  # fmt: skip
            left += power
        reach = max(reach, left)
    span = answer.ranges.get("mean_power")
    if span is not None:
        ends = [_watts(end) for end in span]
        axes.plot(ends, [1, 1], color=style.INK, marker="|", markersize=11)
        reach = max(reach, *ends)
    reach = max(reach, _limits(axes, answer, machine))
    axes.set_yticks(range(len(rows)), list(rows))
    axes.set_ylim(len(rows) - 0.5, -1.6)
    axes.set_xlim(0, 1.12 * reach)
    axes.tick_params(axis="y", length=0)
    axes.set_xlabel("power from the supply, in W")
    figure.legend(loc="outside lower center", ncols=3, frameon=False)
    return figure


def _limits(axes: Axes, answer: Answer, machine: Machine) -> float:
    """Draw what the supply may give for long, and what its label says."""
    if machine.supply.power is None:
        return 0.0
    label, allowed = _watts(machine.supply.power), _watts(answer.values["allowed_power"])
    axes.plot([allowed, allowed], [1.5, -0.45], color=style.VERMILION, linestyle="--")
    axes.plot([label, label], [1.5, -1.05], color=style.INK, linestyle=":")
    axes.annotate(
        f"may give {tell(answer.values['allowed_power'])} for long",
        (allowed, -0.68),
        xytext=(4, 0),
        textcoords="offset points",
        ha="right",
        va="center",
        color=style.VERMILION,
    )
    axes.annotate(
        f"label: {tell(machine.supply.power)}",
        (label, -1.28),
        xytext=(4, 0),
        textcoords="offset points",
        ha="right",
        va="center",
    )
    return label


def describe(answer: Answer, machine: Machine) -> str:
    """Say the power of each consumer, and what the supply may give."""
    rows = parts(machine)
    told = []
    for state, powers in rows.items():
        each = ", ".join(f"{name} {power:.3g} W" for name, power in powers.items() if power)
        told.append(f"{state} {each}")
    limit = ""
    if machine.supply.power is not None:
        limit = (
            f" The label says {tell(machine.supply.power)}; "
            f"{tell(answer.values['allowed_power'])} may be drawn for long."
        )
    return (
        f"Bars of power from the supply: {'; '.join(told)}; in all "
        f"{tell(answer.values['mean_power'])} at work.{limit}"
    )
