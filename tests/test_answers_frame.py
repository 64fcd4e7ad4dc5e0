"""The answer on the frame: sag by hand, the flip, what a push test changes, what is missing."""

from __future__ import annotations

import attrs
import numpy as np
import pytest

from mathlib import answers, explore, figures
from mathlib.errors import Unanswerable
from mathlib.figures import frame as figure
from mathlib.machine import TAGMAKER, load


@pytest.fixture(scope="module")
def tagmaker():
    return load(TAGMAKER)


def changed(machine, **parts):
    typical = machine.typical()
    return attrs.evolve(
        typical,
        **{name: attrs.evolve(getattr(typical, name), **told) for name, told in parts.items()},
    )


def test_sag_by_hand(tagmaker):
    told = answers.ask("frame", tagmaker.typical()).values
    # 0.6 kg of head and carriage are 5.884 N: 5.884 * 480**3 / (48 * 70000 * 7000)
    assert told["sag_of_head"].to("mm").magnitude == pytest.approx(
        0.6 * 9.80665 * 480**3 / (48 * 70000 * 7000), rel=1e-9
    )
    # 0.7 kg of beam, spread: 5 W L**3 / (384 E I)
    assert told["sag_of_beam"].to("mm").magnitude == pytest.approx(
        5 * 0.7 * 9.80665 * 480**3 / (384 * 70000 * 7000), rel=1e-9
    )
    # at 30 mm from a rail: a**2 b**2 / (3 L) of the head, and x (L**3 - 2 L x**2 + x**3) / 24
    head = 0.6 * 9.80665 * 30**2 * 450**2 / (3 * 480 * 70000 * 7000)
    own = 0.7 * 9.80665 / 480 * 30 * (480**3 - 2 * 480 * 900 + 27000) / (24 * 70000 * 7000)
    assert told["sag_edge"].to("mm").magnitude == pytest.approx(head + own, rel=1e-9)
    change = told["sag_centre"] - told["sag_edge"]
    assert told["sag_change"].magnitude == pytest.approx(change.magnitude)


def test_frequencies_by_hand(tagmaker):
    told = answers.ask("frame", tagmaker.typical()).values
    # 48 E I / L**3 = 212.67 N/mm over 0.6 + 17/35 * 0.7 = 0.94 kg; clamped 192 and 13/35
    rests = np.sqrt(48 * 490 / 0.48**3 / 0.94) / 2 / np.pi
    clamped = np.sqrt(192 * 490 / 0.48**3 / 0.86) / 2 / np.pi
    assert told["bending_frequency"].magnitude == pytest.approx(rests, rel=1e-9)
    assert told["frequency_bound"].magnitude == pytest.approx(clamped, rel=1e-9)


def test_at_the_flip_the_change_is_the_depth_of_focus(tagmaker):
    flip = answers.ask("frame", tagmaker).flips_at["second_moment"]
    there = answers.ask("frame", changed(tagmaker, beam={"second_moment": flip})).values
    assert there["sag_share"].magnitude == pytest.approx(1.0, rel=1e-9)
    softer = changed(tagmaker, beam={"second_moment": 0.9 * flip})
    assert "leaves the" in answers.ask("frame", softer).verdict
    stiffer = changed(tagmaker, beam={"second_moment": 1.1 * flip})
    assert "it costs no focus" in answers.ask("frame", stiffer).verdict


def test_a_soft_beam_cannot_be_told(tagmaker, tmp_path):
    text = TAGMAKER.read_text(encoding="utf-8").replace(
        'like = "T-slot 20 x 20"', 'second_moment = "1337 mm^4"\nmodulus = "70 GPa"'
    )
    path = tmp_path / "soft.toml"
    path.write_text(text, encoding="utf-8")
    told = answers.ask("frame", load(path))
    assert "focus cannot be told yet" in told.verdict
    assert not told.certain
    assert "sideways_frequency" not in told.values


class TestPush:
    def test_without_one_there_is_a_bound_and_the_reason(self, tagmaker):
        told = answers.ask("frame", tagmaker)
        assert not told.certain
        assert "frame_frequency" not in told.values
        assert "cannot be told yet: measure it by a push" in told.verdict
        assert "No push test is in the file" in told.warnings[0]
        assert "only a rail screwed along the profile can raise it" in told.verdict
        assert "frame.push_stiffness" in told.measure_next

    def test_with_one_the_frame_has_a_frequency(self, tagmaker):
        pushed = changed(tagmaker, frame={"push_stiffness": "100 N/mm"})
        told = answers.ask("frame", pushed)
        assert told.certain
        # 5 kg of frame, 0.6 kg of head and carriage, 0.7 kg of beam
        by_hand = np.sqrt(100e3 / 6.3) / 2 / np.pi
        assert told.values["frame_frequency"].magnitude == pytest.approx(by_hand)
        assert "Pushed, the frame gives 100 N/mm" in told.verdict

    def test_a_finding_in_the_file_is_enough(self, tmp_path):
        text = TAGMAKER.read_text(encoding="utf-8") + (
            '\n[[measured]]\nkey = "frame.push_stiffness"\nvalue = "80 N/mm"\n'
            'uncertainty = "10 N/mm"\ndate = "2026-06-01"\nmethod = "five weights, dial gauge"\n'
        )
        path = tmp_path / "pushed.toml"
        path.write_text(text, encoding="utf-8")
        told = answers.ask("frame", load(path))
        low, high = told.ranges["frame_frequency"]
        assert low < told.values["frame_frequency"] < high


def test_without_a_laser_there_is_nothing_to_focus(tagmaker):
    bare = changed(tagmaker, heads={"laser": None})
    told = answers.ask("frame", bare)
    assert "There is no laser to keep in focus" in told.verdict
    assert told.flips_at == {}
    assert "depth_of_focus" not in told.values


@pytest.mark.parametrize(
    ("parts", "why"),
    [
        ({"beam": {"second_moment": None}}, "what the moving beam is made of"),
        ({"beam": {"modulus": None}}, "what the moving beam is made of"),
        ({"frame": {"rail_spacing": "400 mm"}}, "closer than the travel"),
        ({"frame": {"push_stiffness": "90 N/mm", "swaying_mass": None}}, "give swaying_mass"),
    ],
)
def test_what_is_missing_is_said(tagmaker, parts, why):
    with pytest.raises(Unanswerable, match=why):
        answers.ask("frame", changed(tagmaker, **parts))


class TestPicture:
    def test_the_curve_passes_through_the_answer(self, tagmaker):
        told = answers.ask("frame", tagmaker)
        curves = figure.curves(tagmaker)
        assert curves["typical"].max() == pytest.approx(
            told.values["sag_centre"].to("um").magnitude
        )
        assert curves["typical"][0] == pytest.approx(told.values["sag_edge"].to("um").magnitude)
        assert np.all(curves["low"] < curves["typical"])
        assert np.all(curves["clamped"] < curves["typical"])
        assert curves["typical"] == pytest.approx(curves["typical"][::-1])

    def test_it_is_drawn_with_and_without_ranges(self, tagmaker):
        for machine in (tagmaker, tagmaker.typical()):
            told = answers.ask("frame", machine)
            drawn = figures.draw("frame", told, machine)
            line = drawn.axes[0].lines[0].get_ydata()
            assert line.max() == pytest.approx(told.values["sag_centre"].to("um").magnitude)
            assert figures.describe("frame", told, machine).endswith("of focus.")


class TestPanel:
    def test_a_stiffer_profile_sags_less(self, tagmaker):
        panel = explore.frame(tagmaker)
        before = panel._update.__self__.resting.get_ydata().max()
        panel.set("beam.second_moment", "14000 mm^4")
        after = panel._update.__self__.resting.get_ydata().max()
        assert after == pytest.approx(before / 2, rel=1e-9)
        assert panel.said

    def test_rails_closer_than_the_travel_are_refused(self, tagmaker):
        panel = explore.frame(tagmaker)
        kept = panel.values["frame.rail_spacing"]
        panel._fields["frame.rail_spacing"].value = "410 mm"
        assert "closer than the travel" in panel.refused
        assert panel.values["frame.rail_spacing"] == kept
