"""Each lead: the cross-sections that drop, ampacity and fuse ask, and the one that is planned."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from mathlib.answers import loads, tell
from mathlib.figures import style
from mathlib.units import Quantity

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.answers.loads import Lead
    from mathlib.machine import Machine

_MARKS: Final = {
    "voltage drop": ("by_drop", "v", style.BLUE, 0.22),
    "ampacity": ("by_ampacity", "s", style.OCHRE, 0.0),
    "fuse": ("by_fuse", "D", style.VERMILION, -0.22),
}


def _area(value: Quantity) -> float:
    return float(np.nanmedian(value.to("mm^2").magnitude))


def rows(answer: Answer, machine: Machine) -> list[Lead]:
    """Leads of the machine with typical parts."""
    return loads.leads(machine.typical(), answer.values["peak_power"])


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw a row for each lead: three marks for what is asked, a bar up to what is planned."""
    found = rows(answer, machine)
    figure, axes = style.new(
        "A lead serves when its bar reaches all of its marks",
        (style.SIZE[0], 2.0 + 0.75 * len(found)),
    )
    seen: list[float] = []
    for row, lead in enumerate(found):
        if lead.planned is not None:
            axes.barh(row, _area(lead.planned), 0.62, color=style.SKY, alpha=0.55)
            seen.append(_area(lead.planned))
        else:
            axes.text(0.02, row, "none planned", va="center", transform=axes.get_yaxis_transform())
        for field, marker, colour, up in _MARKS.values():
            area = _area(getattr(lead.wire, field))
            if area:
                axes.plot(area, row - up, marker, color=colour, markersize=9, zorder=3)
                seen.append(area)
    for name, (_, marker, colour, _) in _MARKS.items():
        axes.plot([], [], marker, color=colour, markersize=9, label=f"asked by {name}")
    axes.barh(0, 0, color=style.SKY, alpha=0.55, label="planned")
    axes.set_xscale("log")
    axes.set_xlim(0.1, 1.5 * max(seen))
    ticks = [t for t in (0.14, 0.25, 0.5, 1.0, 2.5, 6.0, 10.0) if t <= 1.5 * max(seen)]
    axes.set_xticks(ticks, [f"{t:g}" for t in ticks])
    axes.minorticks_off()
    axes.set_yticks(range(len(found)), [lead.name for lead in found])
    axes.set_ylim(len(found) - 0.45, -0.55)
    axes.tick_params(axis="y", length=0)
    axes.set_xlabel("cross-section of each wire, in mm²")
    figure.legend(loc="outside lower center", ncols=2, frameon=False)
    return figure


def describe(answer: Answer, machine: Machine) -> str:
    """Say what each lead needs, what asks for it, and what is planned."""
    told = []
    for lead in rows(answer, machine):
        reason = str(np.ravel(np.asarray(lead.wire.reason, dtype=object))[0])
        planned = "none planned" if lead.planned is None else f"{tell(lead.planned)} planned"
        told.append(f"{lead.name} needs {tell(lead.wire.area)} by {reason}, {planned}")
    return f"Cross-section of each lead: {'; '.join(told)}."
