"""The picture of heads and its panel show the chances of the sizing, legible without colour."""

from __future__ import annotations

import re

import attrs
import pytest
from matplotlib.text import Text

from mathlib import answers, explore, figures
from mathlib.answers import laser
from mathlib.errors import UnitError
from mathlib.laser import cutting, sizing
from mathlib.laser.sizing import OWN
from mathlib.machine import TAGMAKER, load


@pytest.fixture(scope="module")
def machine():
    return load(TAGMAKER)


@pytest.fixture(scope="module")
def two_sheets(machine):
    told = [
        {"material": "clear acrylic", "thickness": "3 mm"},
        {"material": "paper and card", "thickness": "0.3 mm"},
    ]
    listed = sizing.Cutting(wanted=sizing.read_wanted(told))
    return attrs.evolve(machine, cutting=listed)


def test_marks_stand_at_the_chances(two_sheets):
    found = laser.sized(two_sheets)
    figure = figures.draw("laser", answers.ask("laser", two_sheets), two_sheets)
    marks = {line.get_label(): line for line in figure.axes[0].lines if line.get_marker() != "None"}
    for sheet, row in found.cells.items():
        chances = [cell.chance for cell in row.values()]
        assert list(marks[sheet].get_xdata()) == pytest.approx(chances)
    assert len({line.get_marker() for line in marks.values()}) == 2  # told apart without colour


def test_each_head_is_named_with_the_own_one_in_bold(machine):
    figure = figures.draw("laser", answers.ask("laser", machine), machine)
    labels = figure.axes[0].get_yticklabels()
    assert len(labels) == len(laser.sized(machine).light)
    assert [t.get_text() for t in labels if t.get_fontweight() == "bold"] == ["this head, 5.5 W"]
    words = {t.get_text() for t in figure.findobj(Text)}
    assert {"no", "cannot be told yet", "yes"} <= words


def test_the_description_names_every_head_once(machine):
    told = figures.describe("laser", answers.ask("laser", machine), machine)
    for name in laser.sized(machine).light:
        assert told.count(name) == 1
    assert "3 mm birch plywood" in told


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("sheet.thickness", "1 mm"),
        ("head.power", "20 W"),
        ("cut.speed", "10 mm/s"),
        ("cut.passes", "6"),
    ],
)
def test_value_moves_picture_and_words(machine, name, value):
    panel = explore.laser(machine)
    before = panel.picture, panel.said
    panel.set(name, value)
    assert panel.picture != before[0]
    assert panel.said != before[1]
    assert not re.search(r"\bnan\b", panel.said + panel.alternative)


def test_the_panel_says_what_the_library_says(machine):
    panel = explore.laser(machine)
    cell = laser.sized(machine).cells["3 mm birch plywood"][OWN]
    panel.set("head.power", "10 W")
    beam = laser.beam_of(machine)
    told = ("birch plywood", "3 mm", "10 W", beam)
    chance = cutting.can_cut(*told, cell.asked, passes=cell.passes)
    assert f"chance is {answers.percent(chance)}" in panel.said
    middle = panel.figure.axes[0].lines[0]
    at = [y for x, y in zip(*middle.get_data(), strict=True) if x == pytest.approx(3.0, rel=0.1)]
    typical = cutting.cut_speed(*told, passes=cell.passes).typical.magnitude
    assert at[0] == pytest.approx(typical, rel=0.25)
    with pytest.raises(UnitError, match="power needs"):
        panel.set("head.power", "10")
