"""A coupon sheet as a drawing."""

from __future__ import annotations

from html import escape

from mathlib.measure.coupon_files import sheet
from mathlib.measure.coupon_gate import UNCONFIRMED, against, refuse
from mathlib.measure.coupon_plan import Piece, Plan
from mathlib.paths import rs274
from mathlib.safety import cautions, wording


def to_svg(plan: Plan, supervised: bool = False) -> str:
    """Write the sheet as a drawing in mm: each line where its beam is on, with its number.

    One colour, for nothing is told by colours. Speeds and passes stand in it only where
    supervision is confirmed; until then it shows where the lines lie, and no more.

    Parameters
    ----------
    plan : Plan
        As ``coupons.plan`` gives it; its machine states the hazard page's inputs.
    supervised : bool
        True confirms that somebody who knows the machine stays beside it.

    Returns
    -------
    str
        An SVG, as large as the sheet.

    Raises
    ------
    NeverProcess
        The material is never to be processed.
    ValueRefused
        What the hazard page asks for is not stated, or does not suit.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> from mathlib.measure.coupon_plan import plan
    >>> mine = load(TAGMAKER)
    >>> to_svg(plan("birch plywood", "3 mm", mine.heads.laser, mine, seed=1)).count("<line")
    27

    """
    refuse("Coupon drawing", against(plan, plan.machine, True))
    width, depth = (float(v) for v in plan.sheet.magnitude)
    cautious = [*sheet(plan), *cautions.LASER, cautions.MOVING, *plan.cautions, wording.PREVAIL]
    if supervised is True:
        first = "All lines at full power. First with the laser's supply unplugged."
    else:
        first = f"Where the lines lie, without speeds: {UNCONFIRMED}"
    lines, numbers = [], []
    for piece in plan.pieces:
        _, begin, last, _ = piece.points
        x1, y1, x2, y2 = (
            rs274.number(v, 3) for v in (begin[0], depth - begin[1], last[0], depth - last[1])
        )
        say = f"line {piece.number}: {piece.kind}, {piece.grain} the grain"
        if supervised is True:
            say += f", {piece.speed:.4g} mm/s, passes: {piece.passes}"
        lines.append(f'<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}"><title>{say}</title></line>')
        x, y = _beside(piece, depth)
        numbers.append(f'<text x="{x}" y="{y}">{piece.number}</text>')
    size = f"{rs274.number(width, 3)} {rs274.number(depth, 3)}".split()
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{size[0]}mm" height="{size[1]}mm" '
            f'viewBox="0 0 {size[0]} {size[1]}">',
            f"<title>Coupons on {escape(plan.material.name)}</title>",
            f"<desc>{escape(' '.join([first, *cautious]))}</desc>",
            '<g id="lines" stroke="black" stroke-width="0.4" fill="none">',
            *lines,
            "</g>",
            '<g id="numbers" font-family="sans-serif" font-size="4" text-anchor="middle">',
            *numbers,
            "</g>",
            "</svg>\n",
        ]
    )


def _beside(piece: Piece, depth: float) -> tuple[str, str]:
    """Place of a number: beside the middle of its line, where no other line may lie."""
    left, front, right, back = piece.box
    x, y = 0.5 * (left + right), depth - 0.5 * (front + back)
    if piece.across:
        return rs274.number(x - 3.5, 2), rs274.number(y + 1.4, 2)
    return rs274.number(x, 2), rs274.number(y - 1.5, 2)
