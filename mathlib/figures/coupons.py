"""A sheet of coupons as it is burned, and how chances that were foretold came true."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from mathlib.figures import Picture, style
from mathlib.laser import cutting
from mathlib.units import Q, show

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from mathlib.materials import Material
    from mathlib.measure.coupons import Level, Plan


def sheet_of(plan: Plan) -> Picture:
    """Draw where the lines of a plan lie, with their numbers, for a notebook."""
    return Picture(_styled(_sheet, plan), _told(plan))


def chances_of(before: Material, after: Material, plan: Plan, levels: Sequence[Level]) -> Picture:
    """Draw chances before and after coupons over the speed, and what severed, for a notebook."""
    counted = "; ".join(
        f"{show(v.speed, 3)}: foretold {v.foretold:.0%}, {v.severed} of {v.lines} severed"
        for v in levels
    )
    said = f"Chance of a cut over speed, before and after the coupons, and what severed. {counted}."
    return Picture(_styled(_calibration, before, after, plan, levels), said)


def _styled(draw: Any, *told: Any) -> Any:
    import matplotlib

    with matplotlib.rc_context(style.RC):
        return draw(*told)


def _told(plan: Plan) -> str:
    width, depth = plan.sheet.magnitude
    cuts = sum(piece.kind == "cut" for piece in plan.pieces)
    return (
        f"{len(plan.pieces)} numbered lines scattered over a sheet of {width:.0f} mm by "
        f"{depth:.0f} mm, in no rows: {cuts} of them cuts, the others fast marks; about half lie "
        "along the grain and half across. Numbers give the order of burning, in which no line "
        "follows one that lies near it."
    )


def _sheet(plan: Plan) -> Figure:
    width, depth = plan.sheet.magnitude
    size = (style.SIZE[0], style.SIZE[0] * (0.55 + 0.45 * depth / width))
    figure, axes = style.new("Few lines, scattered, in an order that lets each cool", size)
    for piece in plan.pieces:
        points = np.array(piece.points)
        axes.plot(*points.T, color=style.GREY, linewidth=0.9, linestyle=":")
        mark = piece.kind == "mark"
        axes.plot(*points[1:3].T, color=style.INK, linewidth=1.2 if mark else 2.8)
        x, y = points.mean(axis=0)
        beside = (x - 2.2, y) if piece.across else (x, y + 2.0)
        spot: Any = {"ha": "right", "va": "center"} if piece.across else {"ha": "center"}
        axes.text(*beside, str(piece.number), size=9, **spot)
    axes.set_xlim(0, width)
    axes.set_ylim(0, depth)
    axes.set_aspect("equal")
    for side in ("top", "right"):
        axes.spines[side].set_visible(True)
    axes.set_xlabel("mm along the grain; thick: cuts, thin: marks,\ndotted: run-ups, beam off")
    axes.set_ylabel("mm")
    return figure


def _calibration(before: Material, after: Material, plan: Plan, levels: Sequence[Level]) -> Figure:
    speeds = np.geomspace(0.5 * plan.levels[0], 2.0 * plan.levels[-1], 41)
    figure, axes = style.new("Coupons turn a slope of doubt into a step")
    looks: tuple[Any, ...] = (
        (before, "before", style.BLUE, "--"),
        (after, "after", style.VERMILION, "-"),
    )
    for material, name, colour, line in looks:
        chances = [
            cutting.can_cut(
                material,
                plan.thickness,
                plan.power,
                plan.beam,
                Q(float(speed), "mm/s"),
                plan.passes,
                supplier_sheet=plan.supplier_sheet,
            )
            for speed in speeds
        ]
        axes.plot(speeds, chances, line, color=colour, label=f"chance {name} the coupons")
    seen = [float(v.speed.to("mm/s").magnitude) for v in levels]
    axes.plot(seen, [v.share for v in levels], "o", color=style.INK, label="part that severed")
    for speed, level in zip(seen, levels, strict=True):
        told = f"{level.severed}/{level.lines}"
        axes.annotate(
            told, (speed, level.share), xytext=(6, 4), textcoords="offset points", size=10
        )
    axes.set_xscale("log")
    ticks = [t for t in (0.5, 1, 2, 5, 10, 20, 50, 100) if speeds[0] <= t <= speeds[-1]]
    axes.set_xticks(ticks, [f"{t:g}" for t in ticks])
    axes.minorticks_off()
    axes.set_ylim(-0.03, 1.09)
    axes.set_xlabel("speed of the head in mm/s")
    axes.set_ylabel("chance of a cut")
    figure.legend(loc="outside lower left", frameon=False, ncols=1)
    return figure
