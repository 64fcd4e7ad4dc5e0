"""Bars and marks stand where the answer's numbers are; the panel moves them."""

from __future__ import annotations

import re

import attrs
import pytest

from mathlib import answers, explore, figures
from mathlib.figures import leads, power
from mathlib.machine import TAGMAKER, load

PLAIN = TAGMAKER.with_name("tagmaker_plain.toml")


@pytest.fixture(scope="module")
def machine():
    return load(TAGMAKER)


@pytest.fixture(scope="module")
def answer(machine):
    return answers.power.answer(machine)


def test_bars_add_up_to_the_power_at_rest_and_at_work(machine, answer):
    rows = power.parts(machine)
    for state, word in (("at rest", "rest_power"), ("at work", "mean_power")):
        whole = sum(rows[state].values())
        assert whole == pytest.approx(answer.values[word].to("W").magnitude, rel=1e-12)
    bars = figures.draw("power", answer, machine).axes[0].patches
    ends = [bar.get_x() + bar.get_width() for bar in bars]
    assert ends[2] == pytest.approx(sum(rows["at rest"].values()))
    assert ends[5] == pytest.approx(sum(rows["at work"].values()))


def test_lines_stand_at_what_is_allowed_and_at_the_label(machine, answer):
    lines = figures.draw("power", answer, machine).axes[0].lines
    places = sorted({float(line.get_xdata()[0]) for line in lines[1:]})
    assert places == pytest.approx([120, 150])  # 80 % of 150 W in air of 35 °C


def test_marks_of_the_leads_stand_at_what_each_criterion_asks(machine, answer):
    axes = figures.draw("leads", answer, machine).axes[0]
    marks = {
        (line.get_marker(), round(float(line.get_ydata()[0]))): float(line.get_xdata()[0])
        for line in axes.lines
        if len(line.get_xdata())
    }
    for row, lead in enumerate(leads.rows(answer, machine)):
        assert marks["v", row] == lead.wire.by_drop.magnitude
        assert marks["s", row] == lead.wire.by_ampacity.magnitude
        assert marks.get(("D", row), 0.0) == lead.wire.by_fuse.magnitude
    widths = [bar.get_width() for bar in axes.patches][:3]
    assert widths == pytest.approx([1.0, 0.34, 0.5])


def test_a_machine_without_label_fuses_or_plans_is_drawn_too(machine):
    bare = attrs.evolve(
        machine,
        supply=attrs.evolve(machine.supply, power=None),
        wiring=attrs.evolve(machine.wiring, feed_area=None, motor_area=None, laser_area=None),
    )
    found = answers.power.answer(bare)
    assert "label" not in figures.describe("power", found, bare)
    assert "none planned" in figures.describe("leads", found, bare)
    for name in ("power", "leads"):
        assert figures.draw(name, found, bare).axes


@pytest.mark.parametrize("path", [TAGMAKER, PLAIN], ids=["crossed", "plain"])
class TestPanel:
    def test_value_moves_picture_and_words(self, path):
        panel = explore.power(load(path))
        before = panel.picture, panel.said
        panel.set("controller.set_current", "4 A")
        assert panel.updates == 2
        assert panel.picture != before[0]
        assert "motors' leads of 0.34 mm² are too thin" in panel.said
        assert not re.search(r"\bnan\b", panel.said + panel.alternative)

    def test_air_that_is_too_warm_is_refused_and_the_last_good_value_stays(self, path):
        panel = explore.power(load(path))
        panel._try("supply.ambient", "80 degC")
        assert "no usual supply may run in air above 70" in panel.refused
        assert panel.values["supply.ambient"].magnitude == 35

    def test_warm_air_turns_the_verdict(self, path):
        panel = explore.power(load(path))
        assert "carries this machine" in panel.said
        panel.set("supply.ambient", "68 degC")
        assert "does not carry" in panel.said


def test_the_panel_starts_without_a_stated_laser_power(machine):
    bare = attrs.evolve(machine.typical(), wiring=attrs.evolve(machine.wiring, laser_power=None))
    panel = explore.power(bare)
    # 5.5 W of light at 20 %: 27.5 W of input
    assert panel.values["wiring.laser_power"].to("W").magnitude == pytest.approx(27.5)
