"""Sizing of many sheets and heads: 10 by 20 with 4000 draws in at most two seconds."""

from __future__ import annotations

from mathlib.laser import heads, sizing
from mathlib.machine import TAGMAKER, load

MOST = 2.0  # seconds
SHEETS = (
    "birch plywood", "poplar plywood", "basswood", "pine", "MDF", "cork", "paper and card",
    "black acrylic", "clear acrylic", "wool felt",
)  # fmt: skip


def test_ten_materials_by_twenty_heads(benchmark) -> None:
    machine = load(TAGMAKER)
    rows = heads.rows()
    modules = dict(rows)
    for number in range(20 - len(rows)):
        modules[f"another {number}"] = rows[list(rows)[number]]
    modules = dict(list(modules.items())[:20])
    wanted = [{"material": name, "thickness": "3 mm"} for name in SHEETS]
    found = benchmark.pedantic(
        sizing.size, (machine, wanted, modules), {"draws": 4000}, rounds=5, warmup_rounds=1
    )
    assert len(found.cells) == 10
    assert all(len(row) == 20 for row in found.cells.values())
    assert benchmark.stats.stats.min <= MOST
