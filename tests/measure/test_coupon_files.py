"""Files of coupons: gated, and every rule of the program played by a reader of its own."""

from __future__ import annotations

import functools
import itertools
import math
import re
import sys
from pathlib import Path
from xml.etree import ElementTree

import attrs
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from mathlib import Q, materials, paths
from mathlib.errors import ValueRefused
from mathlib.laser.beams import Module
from mathlib.machine import TAGMAKER, load
from mathlib.materials import NeverProcess
from mathlib.measure import coupons
from mathlib.safety import cautions, wording
from mathlib.safety.filters import Filter

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "paths"))
import rs274_reader as reader

MINE = load(TAGMAKER)
PLAN = coupons.plan("birch plywood", "3 mm", MINE.heads.laser, MINE, seed=1)
WRITERS = (coupons.to_rs274, coupons.beam_off_outline)


@functools.cache
def program() -> str:
    return coupons.to_rs274(PLAN, MINE, supervised=True)


@functools.cache
def outline() -> str:
    return coupons.beam_off_outline(PLAN, MINE, supervised=True)


@functools.cache
def drawn() -> str:
    return coupons.to_svg(PLAN, supervised=True)


@functools.cache
def tree() -> ElementTree.Element:
    return ElementTree.fromstring(drawn())


def without(**more):
    return attrs.evolve(MINE, **more)


def controlled(**more):
    return without(beam_control=attrs.evolve(MINE.beam_control, **more))


def played(text, machine=MINE):
    control = machine.beam_control
    origin = (control.origin_x.to("mm").magnitude, control.origin_y.to("mm").magnitude)
    park = None if control.park_x is None else (control.park_x.magnitude, control.park_y.magnitude)
    return reader.play(text, control.highest_power_word.magnitude, (420, 300), origin, park)


class TestProgram:
    def test_the_reader_finds_no_fault(self):
        for text in (program(), outline()):
            assert played(text).faults == []

    @settings(max_examples=8)
    @given(
        some.integers(0, 10**6),
        some.sampled_from(["basswood", "MDF", "cork", "birch plywood"]),
        some.sampled_from([300.0, 2000.0, 8000.0]),
        some.floats(-200, 200),
        some.sampled_from(["M3", "M4"]),
        some.sampled_from([1, 255, 1000, 999.5]),
    )
    def test_no_plan_makes_a_fault(self, seed, material, acceleration, origin, word, most):
        machine = attrs.evolve(
            controlled(
                origin_x=Q(origin, "mm"), beam_on_word=word, highest_power_word=Q(most, "1")
            ),
            job=attrs.evolve(MINE.job, acceleration=Q(acceleration, "mm/s^2")),
        )
        plan = coupons.plan(material, "3 mm", MINE.heads.laser, machine, seed)
        found = played(coupons.to_rs274(plan, machine, supervised=True), machine)
        assert found.faults == []
        assert set(found.armed) == {word}
        assert {move.power for move in found.burned} == {most}
        assert played(coupons.beam_off_outline(plan, machine, True), machine).burned == []

    def test_it_burns_the_plan(self):
        found = played(program())
        wanted = [piece for piece in PLAN.pieces for _ in range(piece.passes)]
        assert len(found.burned) == len(wanted)
        for move, piece in zip(found.burned, wanted, strict=True):
            assert move.start == pytest.approx(piece.points[1], abs=1.1e-3)
            assert move.end == pytest.approx(piece.points[2], abs=1.1e-3)
            assert move.feed == pytest.approx(60 * piece.speed, abs=0.051)
            assert move.length == pytest.approx(12.0, abs=2e-3)

    def test_the_speed_is_reached_before_the_beam_and_kept_after_it(self):
        fed = [move for move in played(program()).moves if not move.rapid]
        for before, move, after in zip(fed[::3], fed[1::3], fed[2::3], strict=True):
            assert (before.power, after.power) == (0, 0)
            assert before.feed == move.feed == after.feed
            needed = (move.feed / 60) ** 2 / (2 * 2000.0)
            assert min(before.length, after.length) >= needed + 1

    def test_no_line_is_followed_by_a_neighbour(self):
        for one, other in itertools.pairwise(played(program()).burned):
            if one.start != other.start:
                assert math.dist(one.end, other.start) > 15

    def test_the_header_cautions(self):
        text = " ".join(played(program()).comments)
        assert "FIRST RUN WITH THE LASER'S SUPPLY UNPLUGGED" in text
        for sentence in (*cautions.LASER, cautions.MOVING, wording.PREVAIL, *PLAN.cautions):
            plain = re.sub(r"[^a-z0-9]+", " ", sentence.lower().replace("%", "percent"))
            assert plain.strip() in re.sub(r"[^a-z0-9]+", " ", text.lower())
        assert "grain along x" in text
        assert "Focus half way down" in text
        first = program().index("G0 ")
        assert program().index("UNPLUGGED") < first

    def test_the_header_says_whether_power_follows_speed(self):
        assert "Power follows the speed of the head" in " ".join(played(program()).comments)
        text = coupons.to_rs274(PLAN, controlled(power_follows_speed="no"), supervised=True)
        assert "Power does not follow the speed" in " ".join(played(text).comments)

    def test_each_line_says_its_passes(self):
        said = re.findall(r"line \d+: (\w+), \w+ the grain, (.*) \)", program())
        times = {"cut": f"{PLAN.passes} passes", "mark": "one pass"}
        assert said == [(piece.kind, times[piece.kind]) for piece in PLAN.pieces]

    def test_lines_are_numbered_in_it(self):
        said = [int(n) for n in re.findall(r"line (\d+): ", program())]
        assert said == list(range(1, 28))

    def test_a_tube_has_its_own_caution(self):
        tube = load(TAGMAKER).heads
        head = Module(
            optical_power="40 W", wavelength="10.6 um", focal_length="50.8 mm",
            beam_diameter="6 mm", beam_quality=1.1, wavelength_tolerance="50 nm",
        )  # fmt: skip
        seen = Filter(low="9 um", high="11 um", density=7, scale=7)
        machine = without(heads=attrs.evolve(tube, laser=head), eyewear=seen)
        plan = coupons.plan("birch plywood", "3 mm", head, machine, seed=1)
        assert coupons.against(plan, machine, True) == []
        assert "lethal charge" in " ".join(coupons.to_rs274(plan, machine, True).split(" )\n( "))
        assert "lethal charge" not in " ".join(program().split(" )\n( "))


class TestOutline:
    def test_no_word_of_it_arms_the_beam(self):
        blocks = [line for line in outline().splitlines() if not line.startswith("(")]
        assert not any("M3" in line or "M4" in line for line in blocks)
        assert {s for line in blocks for s in re.findall(r"S(\S+)", line)} == {"0"}

    def test_it_goes_round_all_lines_and_along_each(self):
        ends = [move.end for move in played(outline()).moves]
        points = np.array([p for piece in PLAN.pieces for p in (piece.points[0], piece.points[3])])
        for point in points:
            assert min(math.dist(point, end) for end in ends) < 1.5e-3
        round_it = np.array(ends[:5])
        assert round_it.min(axis=0) == pytest.approx(points.min(axis=0), abs=1e-3)
        assert round_it.max(axis=0) == pytest.approx(points.max(axis=0), abs=1e-3)
        assert "RUN THIS FIRST" in outline()

    def test_it_runs_slowly_and_no_faster_than_the_machine(self):
        assert {m.feed for m in played(outline()).moves if not m.rapid} == {1200.0}  # 20 mm/s
        slow = without(job=attrs.evolve(MINE.job, speed=Q("8 mm/s")))
        plan = coupons.plan("birch plywood", "3 mm", MINE.heads.laser, slow, seed=1)
        text = coupons.beam_off_outline(plan, slow, supervised=True)
        assert {m.feed for m in played(text, slow).moves if not m.rapid} == {480.0}


class TestGate:
    @pytest.mark.parametrize("supervised", [False, None, 1, "yes"])
    def test_supervision_is_confirmed_by_true_alone(self, supervised):
        for write in WRITERS:
            with pytest.raises(ValueRefused, match="supervision is not confirmed"):
                write(PLAN, MINE, supervised=supervised)

    @pytest.mark.parametrize("lost", ["eyewear", "room", "laser"])
    def test_the_hazard_pages_inputs_are_asked_for(self, lost):
        if lost == "laser":
            machine = without(heads=attrs.evolve(MINE.heads, laser=None))
        else:
            machine = without(**{lost: None})
        name = "heads.laser" if lost == "laser" else lost
        for write in WRITERS:
            with pytest.raises(ValueRefused, match=rf"does not state \[{name}\]"):
                write(PLAN, machine, supervised=True)
        with pytest.raises(ValueRefused, match=rf"does not state \[{name}\]"):
            coupons.to_svg(attrs.evolve(PLAN, machine=machine), supervised=True)

    def test_eyewear_that_does_not_suit_is_no_eyewear(self):
        machine = without(eyewear=attrs.evolve(MINE.eyewear, high=Q("400 nm")))
        with pytest.raises(ValueRefused, match=r"eyewear does not suit: .*leaves the marked band"):
            coupons.to_rs274(PLAN, machine, supervised=True)

    @pytest.mark.parametrize(
        "key",
        [
            "highest_power_word", "beam_on_word", "power_follows_speed", "origin_x", "origin_y",
            "on_pause", "on_alarm", "on_lost_link",
        ],
    )  # fmt: skip
    def test_what_the_machine_file_does_not_state_is_no_program(self, key):
        optional = key in ("highest_power_word", "origin_x", "origin_y")
        machine = controlled(**{key: None if optional else "not stated"})
        for write in WRITERS:
            with pytest.raises(ValueRefused, match=f"does not state {key}: find it out"):
                write(PLAN, machine, supervised=True)
        assert coupons.to_svg(attrs.evolve(PLAN, machine=machine), supervised=True)

    def test_no_table_at_all_names_every_key(self):
        with pytest.raises(ValueRefused, match=r"highest_power_word.*on_lost_link"):
            coupons.to_rs274(PLAN, without(beam_control=None), supervised=True)

    @pytest.mark.parametrize(
        ("key", "said"),
        [("on_pause", "paused"), ("on_alarm", "alarm"), ("on_lost_link", "link")],
    )
    def test_a_beam_that_stays_on_is_no_program(self, key, said):
        with pytest.raises(ValueRefused, match=f"stays on .*{said}.*hardware"):
            coupons.to_rs274(PLAN, controlled(**{key: "beam stays on"}), supervised=True)

    def test_another_head_than_the_hazard_page_was_asked_about(self):
        stronger = coupons.plan("birch plywood", "3 mm", "blue diode, four emitters, 20 W", MINE, 1)
        with pytest.raises(ValueRefused, match="the plan is for a head of 20 W at 450 nm"):
            coupons.to_rs274(stronger, MINE, supervised=True)
        other = coupons.plan("birch plywood", "3 mm", "infrared, 1064 nm, 2 W", MINE, 1)
        with pytest.raises(ValueRefused, match="the plan is for a head of 2 W at 1064 nm"):
            coupons.to_rs274(other, MINE, supervised=True)

    def reasons(self, plan, **more):
        """What is said of the head, the machine's own being another one."""
        own = attrs.evolve(MINE.heads.laser, **more)
        machine = without(heads=attrs.evolve(MINE.heads, laser=own))
        told = coupons.against(plan, machine, True)
        return [text for text in told if "the plan is for a head" in text]

    def test_a_head_may_be_off_by_little(self):
        brighter = attrs.evolve(PLAN, power=Q(10.5, "W"))
        assert self.reasons(brighter, optical_power=Q(10.0, "W")) == []  # just 5 % more
        assert len(self.reasons(brighter, optical_power=Q(9.99, "W"))) == 1
        assert self.reasons(brighter, optical_power=Q(40.0, "W")) == []
        assert self.reasons(PLAN, wavelength=Q(465.0, "nm")) == []
        assert self.reasons(PLAN, wavelength=Q(435.0, "nm")) == []
        assert len(self.reasons(PLAN, wavelength=Q(465.5, "nm"))) == 1
        assert len(self.reasons(PLAN, wavelength=Q(434.5, "nm"))) == 1

    def test_each_reason_is_told_once(self):
        machine = without(eyewear=attrs.evolve(MINE.eyewear, high=Q("400 nm")))
        told = coupons.against(PLAN, machine, True)
        assert len(told) == len(set(told)) >= 1

    def test_drawn_machines_burn_as_the_typical_one(self, tmp_path):
        text = TAGMAKER.read_text(encoding="utf-8")
        spread = '{low = "0 mm", typical = "1 mm", high = "2 mm", source = "ruler"}'
        path = tmp_path / "mine.toml"
        path.write_text(text.replace('origin_x = "0 mm"', f"origin_x = {spread}"), encoding="utf-8")
        own = load(path)
        drawn = coupons.to_rs274(PLAN, own.draw(8, seed=1), supervised=True).splitlines()
        plain = coupons.to_rs274(PLAN, own, supervised=True).splitlines()
        assert plain[-2] == "G0 X-1 Y300"
        middle = -float(np.median(own.draw(8, seed=1).beam_control.origin_x.magnitude))
        assert float(drawn[-2].split()[1][1:]) == pytest.approx(middle, abs=1e-3)
        assert len(drawn) == len(plain)

    def test_another_machine_than_the_plans(self):
        slow = without(job=attrs.evolve(MINE.job, acceleration=Q("100 mm/s^2")))
        with pytest.raises(ValueRefused, match="run-ups are too short"):
            coupons.to_rs274(PLAN, slow, supervised=True)
        slow = without(job=attrs.evolve(MINE.job, speed=Q("20 mm/s")))
        with pytest.raises(ValueRefused, match="more than this machine's 20 mm/s"):
            coupons.to_rs274(PLAN, slow, supervised=True)
        small = without(machine=attrs.evolve(MINE.machine, travel_x=Q("120 mm")))
        with pytest.raises(ValueRefused, match=r"lines reach .* beyond this machine's work area"):
            coupons.to_rs274(PLAN, small, supervised=True)
        right, back = np.max([piece.box[2:] for piece in PLAN.pieces], axis=0)
        for word, most in (("travel_x", right), ("travel_y", back)):
            for by, told in ((0.001, 0), (0.0, 0), (-0.001, 1)):
                tight = without(machine=attrs.evolve(MINE.machine, **{word: Q(most + by, "mm")}))
                assert len(coupons.against(PLAN, tight, True)) == told

    def test_all_reasons_are_told_at_once(self):
        machine = without(beam_control=None, eyewear=None)
        with pytest.raises(ValueRefused) as refused:
            coupons.to_rs274(PLAN, machine, supervised=False)
        for part in ("supervision", "[eyewear]", "[beam_control]"):
            assert part in str(refused.value)

    def test_a_plan_made_by_hand_does_not_pass_a_ban(self):
        banned = attrs.evolve(PLAN, material=materials.material("PVC"))
        for write in (*WRITERS, lambda plan, *_, **__: coupons.to_svg(plan)):
            with pytest.raises(NeverProcess, match="hydrogen chloride"):
                write(banned, MINE, supervised=True)

    def test_drawn_machines_are_taken_at_their_typical_values(self):
        assert coupons.to_rs274(PLAN, MINE.draw(20, 1), supervised=True) == program()


class TestDrawing:
    space = "{http://www.w3.org/2000/svg}"

    def test_it_is_as_large_as_the_sheet_in_mm(self):
        width, depth = PLAN.sheet.magnitude
        assert tree().get("width") == f"{width:.3f}".rstrip("0").rstrip(".") + "mm"
        assert [float(v) for v in tree().get("viewBox").split()] == pytest.approx(
            [0, 0, width, depth], abs=1e-3
        )

    def test_its_lines_are_read_back_where_the_beam_is_on(self, tmp_path):
        path = tmp_path / "coupons.svg"
        path.write_text(drawn(), encoding="utf-8")
        read = paths.read_svg(path).path
        points, on = read.points.to("mm").magnitude, read.on
        marked = [(points[k], points[k + 1]) for k in range(len(on)) if on[k]]
        assert len(marked) == 27
        for (first, last), piece in zip(marked, PLAN.pieces, strict=True):
            assert first == pytest.approx(piece.points[1], abs=2e-3)
            assert last == pytest.approx(piece.points[2], abs=2e-3)

    def test_one_colour_and_one_width_for_all(self):
        assert set(re.findall(r'stroke="([^"]*)"', drawn())) == {"black"}
        assert len(set(re.findall(r'stroke-width="([^"]*)"', drawn()))) == 1
        assert not re.search(r"#[0-9a-fA-F]{3,6}|rgb|class=|style=", drawn())
        for line in tree().iter(f"{self.space}line"):
            assert set(line.attrib) == {"x1", "y1", "x2", "y2"}

    def test_each_line_has_its_number_beside_it_and_clear_of_the_others(self):
        numbers = list(tree().iter(f"{self.space}text"))
        assert [t.text for t in numbers] == [str(n) for n in range(1, 28)]
        lines = np.array(
            [[float(e.get(k)) for k in ("x1", "y1", "x2", "y2")]
             for e in tree().iter(f"{self.space}line")]
        )  # fmt: skip
        for index, text in enumerate(numbers):
            at = np.array([float(text.get("x")), float(text.get("y")) - 1.4])
            middles = 0.5 * (lines[:, :2] + lines[:, 2:])
            away = np.hypot(*(middles - at).T)
            assert int(np.argmin(away)) == index
            assert away[index] < 5

    def test_a_number_stands_left_of_an_upright_line_and_above_a_level_one(self):
        depth = float(PLAN.sheet.magnitude[1])
        texts = list(tree().iter(f"{self.space}text"))
        for piece, text in zip(PLAN.pieces, texts, strict=True):
            (x1, y1), (x2, y2) = piece.points[0], piece.points[3]
            middle = ((x1 + x2) / 2, depth - (y1 + y2) / 2)
            away = (-3.5, 1.4) if piece.across else (0.0, -1.5)
            wanted = [
                f"{a + b:.2f}".rstrip("0").rstrip(".") for a, b in zip(middle, away, strict=True)
            ]
            assert [text.get("x"), text.get("y")] == wanted

    def test_places_are_written_to_a_thousandth_of_a_millimetre(self):
        for line in tree().iter(f"{self.space}line"):
            for text in (line.get(key) for key in ("x1", "y1", "x2", "y2")):
                assert len(text.partition(".")[2]) <= 3

    def test_speeds_stand_in_it_only_when_supervision_is_confirmed(self):
        assert "mm/s" in drawn()
        shown = coupons.to_svg(PLAN)
        assert "mm/s" not in shown
        assert "passes:" not in shown
        assert "<desc>Where the lines lie, without speeds: supervision is not confirmed" in shown
        assert shown.count("<line") == 27

    def test_cautions_stand_in_it(self):
        told = tree().find(f"{self.space}desc").text
        for sentence in (*cautions.LASER, wording.PREVAIL, *PLAN.cautions):
            assert sentence in told
        assert told.startswith("All lines at full power. First with the laser's supply unplugged.")

    def test_a_name_with_odd_letters_stays_text(self):
        odd = attrs.evolve(PLAN.material, name='<b>&"ply"')
        named = ElementTree.fromstring(coupons.to_svg(attrs.evolve(PLAN, material=odd), True))
        assert named.find(f"{self.space}title").text == 'Coupons on <b>&"ply"'
