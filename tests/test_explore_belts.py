"""Panels of steps, belts and squareness say what the library says, and refuse what cannot be."""

from __future__ import annotations

import re

import attrs
import pytest

from mathlib import explore
from mathlib.errors import ValueRefused
from mathlib.explore.panel import Control
from mathlib.machine import TAGMAKER, load
from mathlib.motion import gantries
from mathlib.motion.squareness import SquareTest
from mathlib.units import Q
from mathlib.words import Word

PLAIN = TAGMAKER.with_name("tagmaker_plain.toml")
PANELS = {
    "step": ("controller.microsteps", "32"),
    "belt_route": ("pulley.dy", "3 mm"),
    "runs": ("runs.offset", "3 mm"),
    "square": ("square.diagonal_1", "516.5 mm"),
    "ringing": ("job.acceleration", "9000 mm/s^2"),
}


@pytest.fixture(scope="module")
def machine():
    return load(TAGMAKER)


@pytest.mark.parametrize("path", [TAGMAKER, PLAIN], ids=["crossed", "plain"])
@pytest.mark.parametrize("name", PANELS)
def test_value_moves_picture_and_words(name, path):
    panel = getattr(explore, name)(load(path))
    before = panel.picture, panel.said, panel.alternative
    panel.set(*PANELS[name])
    assert panel.updates == 2
    assert panel.picture != before[0]
    assert panel.alternative.endswith(".")
    assert not re.search(r"\bnan\b", panel.said + panel.alternative)


class TestStep:
    def test_twice_the_microsteps_halve_the_step_and_leave_the_friction_square(self, machine):
        panel = explore.step(machine)
        # By hand: 40 mm / 6400 = 6.25 µm; 12800 microsteps give 3.125 µm.
        assert "6.25 µm microsteps" in panel.alternative
        square = re.search(r"square ([\d.]+) µm wide", panel.alternative)
        panel.set("controller.microsteps", "32")
        assert "3.12 µm microsteps" in panel.alternative
        assert square
        assert f"square {square[1]} µm wide" in panel.alternative

    def test_part_of_a_tooth_is_refused(self, machine):
        with pytest.raises(ValueRefused, match="teeth is a whole number"):
            explore.step(machine).set("pulley.teeth", "20.5")

    def test_every_place_of_a_counting_slider_is_a_whole_number(self, machine):
        panel = explore.step(machine)
        for name in ("controller.microsteps", "pulley.teeth"):
            control = panel._controls[name]
            places = [float(control.at(place).magnitude) for place in range(101)]
            assert all(value == round(value) for value in places)
            assert len(set(places)) == 101

    def test_motor_that_slips_is_said(self, machine):
        panel = explore.step(machine)
        panel.set("carriage.friction", "500 N")
        assert "it slips" in panel.alternative


class TestBeltRoute:
    def test_nothing_out_of_place_is_no_error(self, machine):
        panel = explore.belt_route(machine)
        assert "no error of place" in panel.said
        assert "rear right" in panel.said

    def test_pulley_at_its_tolerance_uses_up_what_the_work_allows(self, machine):
        panel = explore.belt_route(machine)
        gantry = gantries.gantry(machine.typical().layout)
        rows = {row.pulley: row.x for row in gantry.place_tolerance("0.05 mm")}
        allowed = rows["belt a, rear right"]  # the smaller of both ways; they differ by little
        panel.set("pulley.dx", 1.06 * allowed)
        assert "more than the 0.05 mm that the work allows" in panel.said
        panel.set("pulley.dx", 0.94 * allowed)
        assert "less than the 0.05 mm that the work allows" in panel.said

    def test_part_lengths_are_told(self, machine):
        panel = explore.belt_route(machine)
        panel.set("head.x", "210 mm")
        panel.set("head.y", "150 mm")
        one, two = (float(n) for n in re.findall(r"(?:motor|end): ([\d.]+) mm", panel.alternative))
        panel.set("head.x", "310 mm")
        less, more = (
            float(n) for n in re.findall(r"(?:motor|end): ([\d.]+) mm", panel.alternative)
        )
        # 100 mm to the right: one part grows by what the other loses, to the digits shown.
        assert less - one == pytest.approx(100, abs=0.2)
        assert two - more == pytest.approx(100, abs=1)

    def test_named_pulley_is_taken_and_an_unknown_one_names_those_there_are(self, machine):
        assert "belt b, motor" in explore.belt_route(machine, "belt b, motor").said
        with pytest.raises(ValueRefused, match=r"no pulley 'rear'.*belt a, rear left"):
            explore.belt_route(machine, "rear")

    def test_pulley_that_gets_in_the_way_is_refused_by_name_and_the_picture_stays(self, machine):
        panel = explore.belt_route(machine, "belt a, motor")
        panel.set("pulley.dx", "5 mm")
        good = panel.picture, panel.said
        panel._fields["pulley.dy"].value = "60 mm"  # among the places of the beam's left pulley
        assert "beam left and motor overlap" in panel.refused
        assert (panel.picture, panel.said) == good


class TestSquare:
    def test_verdict_and_lean_follow_the_diagonals(self, machine):
        panel = explore.square(machine)
        assert "no skew" in panel.alternative
        panel.set("square.reading", "0.01 mm")
        panel.set("square.diagonal_1", "517 mm")
        assert "not square enough" in panel.said
        # By hand: (517^2 - 516.14^2) / (4 * 420 * 300) = 888.49 / 504000 = 0.0017629 = 0.101 deg.
        assert "skewed by 0.101 deg" in panel.alternative

    def test_reading_too_coarse_cannot_tell(self, machine):
        panel = explore.square(machine)
        panel.set("square.diagonal_1", "516.2 mm")
        assert "cannot be told yet" in panel.said

    def test_test_piece_of_the_file_comes_first(self, machine):
        piece = SquareTest(
            width="200 mm",
            depth="150 mm",
            diagonal_1="250.3 mm",
            diagonal_2="249.7 mm",
            reading="0.1 mm",
        )
        panel = explore.square(attrs.evolve(machine, square=piece))
        assert panel.values["square.diagonal_1"] == Q("250.3 mm")
        assert "Rectangle of 200 mm by 150 mm" in panel.alternative


def test_slider_with_near_ends_tells_its_places_apart():
    control = Control(
        name="a.b",
        word=Word("length", "mm", "of it"),
        low=Q("510 mm"),
        high=Q("521 mm"),
        start=Q("515 mm"),
    )
    # By hand: 11 mm over 100 places is 0.11 mm; the 37th is 510 + 4.07 = 514.07 mm.
    assert control.at(37).magnitude == pytest.approx(514.07, abs=0.01)
    assert len({control.at(place).magnitude for place in range(101)}) == 101
