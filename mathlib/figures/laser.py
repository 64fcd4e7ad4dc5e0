"""How surely each head cuts each sheet: dots along a scale of chance, heads from weak to strong."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from mathlib.answers import laser
from mathlib.figures import style
from mathlib.laser.sizing import OWN, SURE, UNABLE
from mathlib.units import show

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine

#: Marks tell sheets apart without their colour.
_LOOK: Final = (
    ("o", style.BLUE), ("s", style.VERMILION), ("^", style.OCHRE), ("D", style.INK),
    ("v", style.SKY), ("P", style.GREY),
)  # fmt: skip
_MOST: Final = len(_LOOK)


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw a line for each head, with a mark for each sheet at its chance."""
    found = laser.sized(machine)
    names = list(found.light)
    sheets = _shown(list(found.cells), found.weakest(OWN))
    what = sheets[0] if len(sheets) == 1 else "each sheet"
    figure, axes = style.new(
        f"How surely each head severs {what}", (style.SIZE[0], 1.6 + 0.29 * len(names))
    )
    for edge in (UNABLE, SURE):
        axes.axvline(edge, color=style.INK, linestyle=":", linewidth=1.2)
    axes.hlines(range(len(names)), 0, 1, color=style.GREY, linewidth=0.5, alpha=0.6)
    offsets = [0.16 * (k - (len(sheets) - 1) / 2) for k in range(len(sheets))]
    for (mark, colour), sheet, shift in zip(_LOOK, sheets, offsets, strict=False):
        chances = [found.cells[sheet][name].chance for name in names]
        places = [place + shift for place in range(len(names))]
        axes.plot(chances, places, mark, color=colour, markersize=7, label=sheet, clip_on=False)
    axes.set_yticks(range(len(names)), [_name(n, show(found.light[n], 2)) for n in names])
    for label, name in zip(axes.get_yticklabels(), names, strict=True):
        label.set_fontweight("bold" if name == OWN else "normal")
        label.set_fontsize(11)
    axes.set_xlim(0, 1)
    axes.set_ylim(-0.6, len(names) + 0.5)
    axes.set_xticks([0, UNABLE, 0.5, SURE, 1], ["0", "20", "50", "80", "100"])
    axes.set_xlabel("chance of a cut in %")
    for place, text in ((0.1, "no"), (0.5, "cannot be told yet"), (0.9, "yes")):
        axes.text(place, len(names) - 0.1, text, ha="center", va="center", style="italic")
    if len(sheets) > 1:
        figure.legend(loc="outside lower left", frameon=False, ncols=1)
    return figure


def _name(name: str, light: str) -> str:
    return f"this head, {light}" if name == OWN else name.replace("blue diode, ", "blue, ")


def _shown(sheets: list[str], deciding: str) -> list[str]:
    """Sheets that fit on the picture, the one that decides among them."""
    rest = [sheet for sheet in sheets if sheet != deciding]
    return [deciding, *rest][:_MOST]


def describe(answer: Answer, machine: Machine) -> str:
    """Say for the sheet that decides which heads are sure, unsure and unable."""
    found = laser.sized(machine)
    sheet = found.weakest(OWN)
    groups: dict[str, list[str]] = {"cuts": [], "cannot be told yet": [], "does not cut": []}
    for name, cell in found.cells[sheet].items():
        groups[cell.told].append(name)
    told = "; ".join(f"{word}: {', '.join(names) or 'none'}" for word, names in groups.items())
    return f"Chances with which typical heads, from weak to strong, sever {sheet}. {told}."
