"""Who could be hurt: distances by hand, caution in every rounding, plan, panel and file."""

from __future__ import annotations

import math
import re

import attrs
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import answers, explore, figures, units
from mathlib.answers import hazard
from mathlib.errors import MachineFileError, UnitError
from mathlib.figures import hazard as plan
from mathlib.laser.beams import Module
from mathlib.machine import TAGMAKER, Heads, Machine, Room, load
from mathlib.safety import distances, exposure
from mathlib.safety.filters import Filter
from mathlib.units import Q

BLUE = Module(
    optical_power="5.5 W", wavelength="450 nm", wavelength_tolerance="10 nm", focal_length="30 mm",
    beam_diameter="4 mm", beam_quality=15,
)  # fmt: skip


@pytest.fixture(scope="module")
def machine() -> Machine:
    return load(TAGMAKER)


def with_head(machine: Machine, head: Module | None, **more: object) -> Machine:
    """Give the machine this head exactly, without ranges."""
    return attrs.evolve(machine.typical(), heads=Heads(laser=head), **more)


def number(answer: answers.Answer, word: str, unit: str = "m") -> float:
    return float(answer.values[word].to(unit).magnitude)


class TestValues:
    def test_distances_by_hand(self, machine):
        found = hazard.answer(with_head(machine, BLUE))
        # From 440 to 450 nm the limit from 100 s on is 1 W/m^2, for 10 s it is 10 W/m^2.
        assert number(found, "limit_10_s", "W/m^2") == pytest.approx(10, rel=1e-6)
        for end in ("100_s", "day"):
            assert number(found, f"limit_{end}", "W/m^2") == pytest.approx(1, rel=1e-6)
            assert number(found, f"scattered_{end}") == pytest.approx(math.sqrt(5.5 / math.pi))
            # 4 mm at 1/e^2 is 4 / sqrt(2) at 1/e
            wide = math.sqrt(4 * 5.5 / math.pi)
            assert number(found, f"lens_on_{end}") == pytest.approx(30 / (4 / 2**0.5) * wide)
            # 4 M2 lambda / (pi D) = 60 * 450e-6 / (pi * 4) = 2.14859e-3, over sqrt(2) at 1/e
            thin = 60 * 450e-6 / (math.pi * 4) / 2**0.5
            off = (wide - 0.004 / 2**0.5) / thin
            assert number(found, f"lens_off_{end}") == pytest.approx(off, rel=1e-6)
        assert number(found, "scattered_10_s") == pytest.approx(math.sqrt(5.5 / math.pi / 10))

    def test_watchers_have_the_time_in_which_the_dose_adds_up(self, machine):
        room = Room(watchers="1 m")
        found = hazard.answer(with_head(machine, BLUE, room=room))
        light = 5.5 / math.pi
        assert number(found, "scattered_light", "W/m^2") == pytest.approx(light)
        # 100 J/m^2 in 10 to 100 s: 57.1 s
        assert number(found, "watching_time", "s") == pytest.approx(100 / light, rel=1e-6)
        near = hazard.answer(with_head(machine, BLUE, room=Room(watchers="0.5 m")))
        assert number(near, "watching_time", "s") < number(found, "watching_time", "s") / 3.5
        assert "get too much after 57 s of looking, all looks added up" in found.verdict

    def test_where_the_file_has_no_room_a_metre_is_taken(self, machine):
        assert hazard.watchers_at(with_head(machine, BLUE, room=None)) == Q("1 m")
        assert hazard.watchers_at(with_head(machine, BLUE, room=Room(watchers="3 m"))) == Q("3 m")

    def test_light_that_a_whole_day_does_not_use_up(self, machine):
        weak = attrs.evolve(BLUE, optical_power="1 mW")
        found = hazard.answer(with_head(machine, weak))
        assert number(found, "watching_time", "s") == pytest.approx(3e4, rel=1e-9)
        assert "all looks added up" not in found.verdict

    def test_light_that_is_too_strong_for_a_blink(self):
        # 18 t^0.75 J/m^2 over t: (18 / 100)^4 s
        found = hazard.watching_time(BLUE, Q([100.0, 0.1], "W/m^2")).to("s").magnitude
        assert found == pytest.approx([0.18**4, 3e4], rel=1e-6)

    def test_a_stated_divergence_counts(self, machine):
        stated = hazard.answer(with_head(machine, attrs.evolve(BLUE, divergence="1 mrad")))
        off = (math.sqrt(22 / math.pi) - 0.004 / 2**0.5) / (0.001 / 2**0.5)
        assert number(stated, "lens_off_100_s") == pytest.approx(off, rel=1e-6)
        assert not any("states no divergence" in text for text in stated.warnings)
        told = hazard.answer(with_head(machine, BLUE)).warnings
        assert any("states no divergence" in text for text in told)

    def test_both_axes_of_a_beam_that_is_not_round_count(self, machine):
        flat = attrs.evolve(BLUE, beam_diameter_y="2 mm", beam_quality_y=6)
        found = hazard.answer(with_head(machine, flat))
        # behind the lens (b_x / f) (b_y / f) r^2 = 4 P / (pi M), widths at 1/e
        wide = math.sqrt(4 * 5.5 / math.pi)
        on = 30 * wide / math.sqrt(4 * 2 / 2)
        assert number(found, "lens_on_100_s") == pytest.approx(on, rel=1e-9)
        assert on > number(hazard.answer(with_head(machine, BLUE)), "lens_on_100_s")
        # without it (a + r phi_x) (b + r phi_y) = 4 P / (pi M)
        far = number(found, "lens_off_100_s")
        across = [
            4e-3 + far * 60 * 450e-6 / (math.pi * 4),
            2e-3 + far * 24 * 450e-6 / (math.pi * 2),
        ]
        assert across[0] * across[1] / 2 == pytest.approx(wide**2, rel=1e-9)
        assert hazard.width(flat).to("mm").magnitude == pytest.approx(8**0.5)

    def test_the_other_axis_follows_from_its_spot(self):
        spots = {"spot_diameter": "0.08 mm", "spot_diameter_y": "0.16 mm"}
        head = attrs.evolve(BLUE, beam_diameter=None, **spots)
        (wide, _), (other, _) = hazard.widths(head), hazard.widths(head, "_y")
        assert (wide / other).to("1").magnitude == pytest.approx(2, rel=1e-9)

    def test_a_head_that_tells_little_gets_the_longer_distance(self, machine):
        bare = Module(optical_power="5.5 W", wavelength="450 nm", focal_length="30 mm")
        found = hazard.answer(with_head(machine, bare))
        assert not any(word.startswith("lens_on") for word in found.values)
        assert "as far as the file does not tell with the lens on" in found.verdict
        assert any("an ideal beam is taken" in text for text in found.warnings)
        full = hazard.answer(with_head(machine, BLUE))
        assert number(found, "lens_off_100_s") > number(full, "lens_off_100_s")
        assert "lens on" not in figures.describe("hazard", found, with_head(machine, bare))

    def test_the_beam_follows_from_a_stated_spot(self, machine):
        spot = Q(4 * 15 * 450e-6 * 30 / (math.pi * 4), "mm")
        head = attrs.evolve(BLUE, beam_diameter=None, spot_diameter=spot)
        wide, divergence = hazard.widths(head)
        assert wide is not None
        assert wide.to("mm").magnitude == pytest.approx(4, rel=1e-9)
        assert divergence.to("mrad").magnitude == pytest.approx(2.14859, rel=1e-5)

    @given(st.floats(200, 12000), st.floats(1e-3, 100), st.floats(0.5, 12))
    def test_longer_exposures_never_give_shorter_distances(self, light, power, width):
        head = attrs.evolve(
            BLUE, wavelength=Q(light, "nm"), optical_power=Q(power, "W"),
            beam_diameter=Q(width, "mm"),
        )  # fmt: skip
        lowest = [each.irradiance.to("W/m^2").magnitude for each in hazard.limits(head).values()]
        assert lowest == sorted(lowest, reverse=True)
        found = hazard.values(with_head(load(TAGMAKER), head))
        for way in ("scattered", "lens_on", "lens_off"):
            far = [found[f"{way}_{end}"].magnitude for end in ("10_s", "100_s", "day")]
            assert far == sorted(far)

    def test_the_lowest_limit_over_the_tolerance_is_named(self):
        head = attrs.evolve(BLUE, wavelength="490 nm", wavelength_tolerance="20 nm")
        found = hazard.limit(head, "30000 s")
        # 10^(0.02 (470 - 450)) = 2.5119
        assert found.wavelength.to("nm").magnitude == pytest.approx(470)
        assert found.irradiance.to("W/m^2").magnitude == pytest.approx(10**0.4, rel=1e-6)
        same = exposure.limit(wavelength="470 nm", exposure_time="30000 s")
        assert (found.mechanism, found.edition) == (same.mechanism, same.edition)


class TestVerdict:
    def test_every_distance_in_it_is_rounded_up_from_the_strong_end(self, machine):
        found = hazard.answer(machine)
        for word in ("scattered_100_s", "lens_on_100_s", "lens_off_100_s"):
            told = hazard.at_most(word, found.values, found.ranges)
            assert units.show(told, 3) in found.verdict
            assert found.ranges[word][1] <= told < 1.1 * found.ranges[word][1]
        on, off = (found.verdict.index(text) for text in ("with the lens on", "with it off"))
        assert 0 < off - on < 60, "lens on and lens off stand in one sentence"

    @pytest.mark.parametrize(
        ("value", "told"), [(1.31, 1.4), (1.3, 1.3), (0.0431, 0.044), (2711.0, 2800.0), (0.0, 0.0)]
    )
    def test_rounding_up(self, value, told):
        found = hazard.at_most("word", {"word": Q(value, "m")}, {})
        assert found.magnitude == pytest.approx(told, rel=1e-12)

    def test_of_draws_without_a_range_the_largest_counts(self):
        assert hazard.at_most("word", {"word": Q([1.0, 3.0, 2.0], "m")}, {}).magnitude == 3.0

    def test_density_and_mark_are_those_for_the_strongest_head(self, machine):
        found = hazard.answer(machine)
        # More than 6 W through 7 mm over 1 W/m^2: log10(155900) = 5.193, told as 5.2 or 5.3
        density = float(re.search(r"takes density ([\d.]+)", found.verdict)[1])
        most = float(np.max(machine.draw(4096).heads.laser.optical_power.magnitude))
        assert density >= math.log10(most / (math.pi / 4 * 49e-6))
        assert density < math.log10(most / (math.pi / 4 * 49e-6)) + 0.1
        assert "a mark of LB6 or higher" in found.verdict

    def test_what_decides_names_mechanism_edition_and_confidence(self, machine):
        found = hazard.answer(machine)
        there = exposure.limit(wavelength="440 nm", exposure_time="30000 s")
        for text in (there.mechanism, there.edition, there.confidence):
            assert text in found.decided_by

    def test_the_blink_stands_in_a_footnote_only_and_only_for_visible_light(self, machine):
        found = hazard.answer(machine)
        assert "0.25" not in found.verdict
        assert sum("0.25 s" in text for text in found.warnings) == 1
        infrared = attrs.evolve(BLUE, wavelength="1064 nm")
        assert not any(
            "0.25 s" in text for text in hazard.answer(with_head(machine, infrared)).warnings
        )

    def test_light_that_often_comes_in_pulses_is_said_to_be_taken_as_continuous(self, machine):
        infrared = attrs.evolve(BLUE, wavelength="1064 nm", wavelength_tolerance="5 nm")
        told = hazard.answer(with_head(machine, infrared)).warnings
        assert any("limit for each pulse besides" in text for text in told)
        told = hazard.answer(with_head(machine, BLUE)).warnings
        assert not any("limit for each pulse besides" in text for text in told)

    def test_aided_eyes_stand_among_the_cautions(self, machine):
        (text,) = (t for t in hazard.answer(machine).warnings if "telescope" in t)
        gain = float(distances.optics_gain(objective="50 mm"))
        # 2500 / 49 = 51.0, whose root is 7.14
        assert "lenses of 50 mm send some fifty times the light" in text
        assert "some seven times as far" in text
        assert gain == pytest.approx(50, rel=0.03)
        assert math.sqrt(gain) == pytest.approx(7, rel=0.03)

    def test_without_a_laser_it_is_as_before(self, machine):
        found = hazard.answer(with_head(machine, None))
        assert found.values == {}
        assert "No laser in this file" in found.verdict
        assert figures.describe("hazard", found, with_head(machine, None)).endswith("in this file.")
        drawn = figures.draw("hazard", found, with_head(machine, None))
        assert "no laser in this file" in [text.get_text() for text in drawn.axes[0].texts]


class TestClass:
    @pytest.mark.parametrize(
        ("head", "named"),
        [
            ({}, ("4",)),
            ({"optical_power": "0.5 W"}, ("3B",)),
            ({"optical_power": "4 mW"}, ("3R",)),
            ({"optical_power": "0.9 mW"}, ("2",)),
            ({"optical_power": Q([0.49, 0.51, 6.0], "W")}, ("3B", "4")),
            # At 700 nm and beyond there is no Class 2: the worse of the tolerance counts.
            ({"optical_power": "0.9 mW", "wavelength": "695 nm"}, ("3R",)),
        ],
    )
    def test_classes_over_draws_and_tolerance(self, head, named):
        assert hazard.classes_of(attrs.evolve(BLUE, **head)) == named

    def test_only_class_4_is_too_strong_for_the_room(self, machine):
        weak = hazard.answer(with_head(machine, attrs.evolve(BLUE, optical_power="0.3 W")))
        assert "would be Class 3B" in weak.verdict
        assert weak.certain
        assert "No distance in this room" not in weak.verdict
        both = attrs.evolve(BLUE, optical_power=Q([0.4, 0.6], "W"))
        unsure = hazard.answer(with_head(machine, both))
        assert not unsure.certain
        assert "No distance in this room" in unsure.verdict

    def test_walls_bring_the_beam_down_to_class_1(self, machine):
        found = hazard.answer(with_head(machine, BLUE))
        # 5.5 W over the 3.9e-5 W of Class 1 at 440 to 450 nm
        assert number(found, "enclosure_density", "1") == pytest.approx(math.log10(5.5 / 3.9e-5))
        assert number(found, "class_3b_limit", "W") == 0.5


class TestSmoke:
    def told(self, machine, material):
        job = attrs.evolve(machine.typical().job, material=material)
        return hazard.answer(with_head(machine, BLUE, job=job))

    def test_a_material_that_is_never_to_be_processed_comes_first(self, machine):
        assert self.told(machine, "vinyl").verdict.startswith("Never process PVC")

    def test_what_the_material_asks_stands_among_the_cautions(self, machine):
        found = self.told(machine, "birch plywood")
        assert any("only with extraction outdoors" in text for text in found.warnings)
        assert found.verdict.startswith("Everyone in the room")

    def test_a_name_that_may_be_misspelt_says_so(self, machine):
        assert any("mdff" in text.lower() for text in self.told(machine, "MDFF").warnings)

    def test_what_is_not_known_to_be_allowed_comes_first_too(self, machine):
        assert self.told(machine, "plywood").verdict.startswith("Do not process plywood before")
        sheet = attrs.evolve(machine.typical().job, material="unobtainium")
        found = hazard.answer(with_head(machine, BLUE, job=sheet))
        assert found.verdict.startswith("Everyone"), "the file names a data sheet"
        found = hazard.answer(with_head(machine, BLUE, job=attrs.evolve(sheet, material_note="")))
        assert found.verdict.startswith("Do not process unobtainium before its data sheet")

    def test_without_a_material_nothing_is_said_of_one(self, machine):
        bare = self.told(machine, "")
        assert len(self.told(machine, "birch plywood").warnings) > len(bare.warnings)


class TestEyewear:
    def told(self, machine, eyewear):
        found = hazard.answer(with_head(machine, BLUE, eyewear=eyewear))
        return [text for text in found.warnings if text.startswith("The eyewear in the file.")]

    def test_reasons_against_it_stand_among_the_cautions(self, machine):
        bad = Filter(low="190 nm", high="445 nm", density=4)
        (text,) = self.told(machine, bad)
        assert "Not this one:" in text
        assert "leaves the marked band" in text

    def test_none_found_is_no_approval(self, machine):
        good = Filter(low="400 nm", high="480 nm", density=6, scale=7)
        (text,) = self.told(machine, good)
        assert "No reason against it was found in what you typed" in text
        assert self.told(machine, None) == []

    def test_it_is_judged_for_the_strongest_head_of_the_range(self, machine):
        # 5.5 W alone needs 5.155 for the day; the strongest that is drawn needs more.
        close = attrs.evolve(
            machine, eyewear=Filter(low="1 nm", high="1 um", density=5.16, scale=9)
        )
        texts = hazard.answer(close).warnings
        assert any("Density 5.16 is too low" in text for text in texts)
        assert not any("Density" in text for text in hazard.answer(close.typical()).warnings)


class TestFile:
    def read(self, tmp_path, text):
        path = tmp_path / "here.toml"
        path.write_text(text, encoding="utf-8")
        return load(path)

    @pytest.mark.parametrize(
        ("written", "scale"),
        [("6", 6), ('"6"', 6), ('"D LB6 + IR LB7"', 6), ('"DIRM LB5"', 5), ('"IR LB7"', None)],
    )
    def test_the_mark_may_be_written_as_it_stands_on_the_glasses(self, tmp_path, written, scale):
        text = TAGMAKER.read_text(encoding="utf-8")
        assert "scale = 6\n" in text
        path = tmp_path / "mine.toml"
        path.write_text(text.replace("scale = 6\n", f"scale = {written}\n"), encoding="utf-8")
        assert load(path).eyewear.scale == scale

    def test_another_mark_is_told_with_its_line(self, tmp_path):
        path = tmp_path / "mine.toml"
        text = TAGMAKER.read_text(encoding="utf-8").replace("scale = 6\n", 'scale = "RB2"\n')
        path.write_text(text, encoding="utf-8")
        with pytest.raises(MachineFileError, match=r"line \d+: eyewear.scale.*D LB6.*got 'RB2'"):
            load(path)

    def test_eyewear_and_room_are_read(self, machine):
        assert machine.eyewear is not None
        assert machine.eyewear.scale is not None
        assert machine.eyewear.high == Q("470 nm")
        assert machine.room is not None

    def test_both_may_be_left_out(self, tmp_path):
        text = TAGMAKER.read_text(encoding="utf-8")
        text = re.sub(r"\[eyewear\](.|\n)*?(?=\[heads.laser\])", "", text)
        made = self.read(tmp_path, text)
        assert (made.eyewear, made.room) == (None, None)
        assert "Eyes 1 m from the work" in hazard.answer(made).verdict

    def test_a_distance_without_a_unit_is_refused(self, tmp_path):
        text = TAGMAKER.read_text(encoding="utf-8").replace('watchers = "1 m"', "watchers = 1")
        with pytest.raises(MachineFileError, match="watchers"):
            self.read(tmp_path, text)


class TestPlan:
    def test_wedges_reach_as_far_as_the_verdict_says(self, machine):
        found = hazard.answer(machine)
        figure = figures.draw("hazard", found, machine)
        drawn = sorted(patch.r for patch in figure.axes[0].patches)
        told = [
            hazard.at_most(f"{way}_{end}", found.values, found.ranges).to("m").magnitude
            for way in ("scattered", "lens_on", "lens_off")
            for end in ("10_s", "100_s")
        ]
        assert drawn == pytest.approx(sorted(math.log10(each / 0.1) for each in told))

    def test_rings_and_ticks_agree(self, machine):
        axes = figures.draw("hazard", hazard.answer(machine), machine).axes[0]
        ticks = dict(zip(axes.get_xticks(), axes.get_xticklabels(), strict=True))
        for place, label in ticks.items():
            assert abs(place) == pytest.approx(math.log10(float(label.get_text()) / 0.1))

    def test_labels_and_watchers(self, machine):
        found = hazard.answer(machine)
        texts = [t.get_text() for t in figures.draw("hazard", found, machine).axes[0].texts]
        far = hazard.at_most("lens_off_100_s", found.values, found.ranges)
        assert f"lens off\n{units.show(far, 3)}" in texts
        assert "eyes at 1 m" in texts

    @pytest.mark.parametrize("power", ["1 mW", "0.1 W", "5.5 W", "100 W"])
    @pytest.mark.parametrize("watchers", ["0.3 m", "1 m", "3 m"])
    @pytest.mark.parametrize("light", ["450 nm", "10600 nm"])
    def test_words_do_not_overlap(self, machine, power, watchers, light):
        head = attrs.evolve(BLUE, optical_power=power, wavelength=light)
        made = with_head(machine, head, room=Room(watchers=watchers))
        figure = figures.draw("hazard", hazard.answer(made), made)
        figure.draw_without_rendering()
        boxes = [text.get_window_extent() for text in figure.axes[0].texts if text.get_text()]
        assert len(boxes) == 4
        for i, one in enumerate(boxes):
            assert not any(one.overlaps(other) for other in boxes[i + 1 :])

    @pytest.mark.parametrize(
        ("metres", "at"), [(0.0, 0.0), (0.1, 0.0), (1.0, 1.0), (100.0, 3.0), (1e6, math.log10(2e5))]
    )
    def test_places(self, metres, at):
        assert plan.radius(metres) == pytest.approx(at)


class TestPanel:
    def test_more_power_reaches_farther_by_its_root(self, machine):
        panel = explore.hazard(machine)
        assert "1.4 m" in panel.alternative
        panel.set("laser.optical_power", "22 W")
        assert "2.7 m in 100 s" in panel.alternative  # sqrt(22 / pi) = 2.646, rounded up
        assert "22 W at 450 nm" in panel.said
        panel.set("room.watchers", "3 m")
        assert "nearest eyes are 3 m" in panel.alternative

    def test_a_narrower_beam_behind_the_same_lens_reaches_farther(self, machine):
        panel = explore.hazard(machine)
        before = panel.said
        panel.set("laser.beam_diameter", "2 mm")
        # the file's beam is twice as wide one way as the other, and keeps that: 2 mm by 1 mm;
        # 30 / sqrt(2 * 1 / 2) * sqrt(22 / pi) = 79.4 m
        assert "80 m with the lens on" in panel.said
        assert panel.said != before

    def test_without_a_laser_the_first_row_of_the_table_stands_in(self, machine):
        panel = explore.hazard(with_head(machine, None))
        assert panel.values["laser.optical_power"] == Q("5.5 W")
        assert explore.hazard(machine.draw(8)).values["laser.optical_power"].magnitude > 0

    def test_a_head_without_its_beam_gets_one(self, machine):
        bare = attrs.evolve(BLUE, beam_diameter=None)
        assert explore.hazard(with_head(machine, bare)).values["laser.beam_diameter"] == Q("4 mm")

    def test_a_refused_value_keeps_the_last_good_one(self, machine):
        panel = explore.hazard(machine)
        with pytest.raises(UnitError):
            panel.set("room.watchers", "3 W")
        assert panel.values["room.watchers"] == Q("1 m")
