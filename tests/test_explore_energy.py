"""The panel of the dose says what the answer says, and refuses what cannot be."""

from __future__ import annotations

import re

import numpy as np
import pytest

from mathlib import explore
from mathlib.errors import UnitError, ValueRefused
from mathlib.machine import TAGMAKER, load


@pytest.fixture(scope="module")
def machine():
    return load(TAGMAKER)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("job.speed", "200 mm/s"),
        ("job.line_spacing", "0.03 mm"),
        ("job.acceleration", "8 m/s^2"),
        ("job.power_share", "0.4"),
    ],
)
def test_value_moves_picture_and_words(machine, name, value):
    panel = explore.energy(machine)
    before = panel.picture, panel.said
    panel.set(name, value)
    assert panel.updates == 2
    assert panel.picture != before[0]
    assert panel.said != before[1]
    assert panel.alternative.endswith(".")
    assert not re.search(r"\bnan\b", panel.said + panel.alternative)


def test_twice_the_speed_is_half_the_dose(machine):
    panel = explore.energy(machine)
    assert "mean 0.55 J/mm²" in panel.alternative  # 4.4 W / (100 mm/s * 0.08 mm)
    panel.set("job.speed", "200 mm/s")
    assert "mean 0.275 J/mm²" in panel.alternative
    cut = panel.figure.axes[0].lines[0].get_ydata()
    assert np.max(cut) == pytest.approx(1.08932 / 2, rel=0.01)


def test_close_lines_are_said_to_be_even(machine):
    panel = explore.energy(machine)
    panel.set("job.line_spacing", "0.016 mm")
    assert "nearly even" in panel.said


def test_more_than_all_of_the_light_is_refused(machine):
    panel = explore.energy(machine)
    with pytest.raises(ValueRefused, match="more than 0 and at most 1"):
        panel.set("job.power_share", "1.2")
    with pytest.raises(UnitError, match="speed needs"):
        panel.set("job.speed", "100")
    assert panel.values["job.power_share"].magnitude == 0.8
