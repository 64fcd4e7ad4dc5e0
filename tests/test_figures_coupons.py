"""Pictures of coupons: what is drawn is what was planned and what came of it."""

from __future__ import annotations

import numpy as np
import pytest

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused
from mathlib.figures.coupons import chances_of, sheet_of
from mathlib.laser import cutting
from mathlib.machine import TAGMAKER, load
from mathlib.measure import coupons

MINE = load(TAGMAKER)
PLAN = coupons.plan("birch plywood", "3 mm", MINE.heads.laser, MINE, seed=1)
ROWS = coupons.rehearse(PLAN, boundary="1.5 mm/s", seed=3)


def test_each_line_is_drawn_where_it_is_burned_with_its_number():
    shown = sheet_of(PLAN)
    axes = shown.figure.axes[0]
    whole, burned = axes.lines[::2], axes.lines[1::2]
    for piece, run, line in zip(PLAN.pieces, whole, burned, strict=True):
        np.testing.assert_allclose(run.get_xydata(), piece.points)
        np.testing.assert_allclose(line.get_xydata(), piece.points[1:3])
        assert run.get_linestyle() == ":"
    assert [text.get_text() for text in axes.texts] == [str(n) for n in range(1, 28)]
    assert len({line.get_color() for line in burned}) == 1  # nothing is told by colour
    thick = {line.get_linewidth() for line, p in zip(burned, PLAN.pieces, strict=True)
             if p.kind == "cut"}  # fmt: skip
    thin = {line.get_linewidth() for line, p in zip(burned, PLAN.pieces, strict=True)
            if p.kind == "mark"}  # fmt: skip
    assert min(thick) > 2 * max(thin)
    assert "27 numbered lines" in shown.description
    assert "22 of them cuts" in shown.description
    width, depth = PLAN.sheet.magnitude
    assert axes.get_xlim() == (0, pytest.approx(width))
    assert axes.get_ylim() == (0, pytest.approx(depth))


def test_chances_are_those_of_the_library_and_dots_what_severed():
    after = coupons.update(PLAN.material, ROWS)
    levels = coupons.calibration(PLAN.material, ROWS)
    shown = chances_of(PLAN.material, after, PLAN, levels)
    before_line, after_line, dots = shown.figure.axes[0].lines
    for line, material in ((before_line, PLAN.material), (after_line, after)):
        speed, chance = line.get_xydata()[20]
        told = ("3 mm", PLAN.power, PLAN.beam, Q(speed, "mm/s"), PLAN.passes)
        assert chance == cutting.can_cut(material, *told)
    severed = [[r.severed == "yes" for r in ROWS if r.speed.magnitude == v] for v in PLAN.levels]
    np.testing.assert_allclose(dots.get_ydata(), [np.mean(s) for s in severed])
    np.testing.assert_allclose(dots.get_xdata(), PLAN.levels)
    assert before_line.get_linestyle() != after_line.get_linestyle()
    assert f"{sum(severed[1])} of 6 severed" in shown.description


class TestRehearsal:
    def test_lines_sever_below_the_boundary_and_half_of_them_at_it(self):
        clean = coupons.rehearse(PLAN, boundary="1.5 mm/s", scatter=0)
        assert len(clean) == 22
        for row in clean:
            assert (row.severed == "yes") == (row.speed.to("mm/s").magnitude < 1.5)
        at = f"{PLAN.levels[2]} mm/s"
        counted = [
            row.severed == "yes"
            for seed in range(60)
            for row in coupons.rehearse(PLAN, boundary=at, scatter=0.2, seed=seed)
            if row.speed.to("mm/s").magnitude == PLAN.levels[2]
        ]
        assert np.mean(counted) == pytest.approx(0.5, abs=0.08)  # 360 lines scatter by 0.026

    def test_refusals(self):
        with pytest.raises(UnitError, match="boundary"):
            coupons.rehearse(PLAN, boundary=2)
        with pytest.raises(ValueRefused, match="single values"):
            coupons.rehearse(PLAN, boundary=Q([1, 2], "mm/s"))
