"""Sizing: the same chances as single calls give, honest verdicts, refusals, and the file's list."""

from __future__ import annotations

from typing import ClassVar

import attrs
import numpy as np
import pytest

from mathlib import answers, explore
from mathlib.errors import MachineFileError, Unanswerable, UnitError, ValueRefused
from mathlib.laser import cutting, heads, sizing
from mathlib.laser.beams import Module
from mathlib.machine import TAGMAKER, load
from mathlib.materials import NeverProcess

TEXT = TAGMAKER.read_text(encoding="utf-8")
DIODE = Module(
    optical_power="10 W", wavelength="450 nm", focal_length="30 mm", beam_quality=15,
    spot_diameter="0.08 mm",
)  # fmt: skip


@pytest.fixture(scope="module")
def machine():
    return load(TAGMAKER)


def test_a_cell_says_what_single_calls_say(machine):
    sheet = {"material": "birch plywood", "thickness": "3 mm", "most_passes": 1}
    cell = sizing.size(machine, [sheet], {"mine": DIODE}).cells["3 mm birch plywood"]["mine"]
    told = {"wavelength": "450 nm", "beam_quality": 15, "waist_diameter": "0.08 mm"}
    beam = cutting.Beam(**told)
    one = cutting.cut_speed("birch plywood", "3 mm", "10 W", beam)
    assert cell.speed.typical.magnitude == pytest.approx(one.typical.magnitude, rel=1e-6)
    assert cell.chance == cutting.can_cut("birch plywood", "3 mm", "10 W", beam, cell.asked)
    needed = cutting.power_needed("birch plywood", "3 mm", cell.asked, beam)
    assert cell.power_needed.high.magnitude == pytest.approx(needed.high.magnitude, rel=1e-6)


def test_time_of_the_job_sets_the_speed():
    told = {"material": "pine", "thickness": "2 mm", "path_length": "6 m", "job_time": "10 min"}
    wanted = sizing.Wanted(**told)
    assert wanted.speed(1) == pytest.approx(0.01)  # 6 m in 600 s
    assert wanted.speed(3) == pytest.approx(0.03)
    assert sizing.Wanted(material="pine", thickness="2 mm").speed(3) == pytest.approx(0.001)


def test_shorter_jobs_and_thicker_sheets_are_less_sure(machine):
    names = ["blue diode, four emitters, 20 W"]
    sheets = [
        {"material": "basswood", "thickness": t, "path_length": "6 m", "job_time": time}
        for t, time in (("2 mm", "30 min"), ("2.01 mm", "6 min"), ("6 mm", "30 min"))
    ]
    found = sizing.size(machine, sheets, names)
    easy, quick, thick = (row[names[0]].chance for row in found.cells.values())
    assert easy > quick
    assert easy > thick


def test_the_deciding_sheet_is_the_one_that_only_tubes_cut(machine):
    sheets = [
        {"material": "paper and card", "thickness": "0.3 mm"},
        {"material": "clear acrylic", "thickness": "3 mm"},
    ]
    found = sizing.size(machine, sheets)
    assert found.able
    assert set(found.able) <= set(found.tubes)
    assert found.deciding == "3 mm clear acrylic"
    assert found.chance("blue diode, eight emitters, 40 W") == 0.02


def test_costs_are_the_readers(machine):
    found = sizing.size(machine, modules=["gas tube, 40 W"])
    assert found.table()[0][2] == ""
    assert found.table({"gas tube, 40 W": "320 with its supply"})[0][2] == "320 with its supply"
    with pytest.raises(ValueRefused, match="'gas tub'"):
        found.table({"gas tub": "1"})


def test_metal_is_left_out_with_its_reason_and_care_is_told(machine):
    sheets = [{"material": m, "thickness": "3 mm"} for m in ("slate", "MDF")]
    found = sizing.size(machine, sheets, ["gas tube, 40 W"])
    assert list(found.cells) == ["3 mm MDF"]
    assert "marked" in found.left_out["3 mm slate"]
    assert any("half an hour" in text for text in found.cautions["3 mm MDF"])


def test_refusals(machine):
    with pytest.raises(NeverProcess, match="hydrogen chloride"):
        sizing.size(machine, [{"material": "vinyl", "thickness": "1 mm"}])
    with pytest.raises(ValueRefused, match="data sheet"):
        sizing.size(machine, [{"material": "unobtanium board", "thickness": "1 mm"}])
    with pytest.raises(ValueRefused, match="no row 'blue'"):
        sizing.size(machine, modules=["blue"])
    with pytest.raises(ValueRefused, match="material and thickness"):
        sizing.size(machine, [{"material": "pine", "thick": "1 mm"}])
    with pytest.raises(ValueRefused, match="is empty"):
        sizing.size(machine, [])
    with pytest.raises(ValueRefused, match="state optical_power"):
        heads.light("bare", {"wavelength": DIODE.wavelength}, 3)


class TestWhatIsGiven:
    """One or many, texts or records: what a builder would write is taken, or refused in words."""

    SHEET: ClassVar = {"material": "birch plywood", "thickness": "3 mm"}
    NAME = "gas tube, 40 W"

    def test_one_sheet_and_one_row_need_no_list(self, machine):
        alone = sizing.size(machine, self.SHEET, self.NAME)
        listed = sizing.size(machine, [sizing.Wanted(**self.SHEET)], [self.NAME])
        here, there = (
            found.cells["3 mm birch plywood"][self.NAME].chance for found in (alone, listed)
        )
        assert here == there

    def test_a_head_may_be_told_in_texts(self, machine):
        told = {
            "optical_power": "10 W",
            "wavelength": "450 nm",
            "focal_length": "30 mm",
            "beam_quality": "15 1",
            "spot_diameter": "0.08 mm",
        }
        here = sizing.size(machine, [self.SHEET], {"mine": told}).cells["3 mm birch plywood"]
        there = sizing.size(machine, [self.SHEET], {"mine": DIODE}).cells["3 mm birch plywood"]
        assert here["mine"].speed.typical == there["mine"].speed.typical
        assert list(sizing.size(machine, self.SHEET, [DIODE]).light) == ["head 1, 10 W"]

    def test_a_spot_without_beam_quality_gets_what_is_usual(self, machine):
        told = {"optical_power": "10 W", "focal_length": "30 mm", "spot_diameter": "0.08 mm"}
        for light, quality in (("450 nm", 15), ("10.6 um", 1.1), ("1064 nm", 1.5)):
            given = told | {"wavelength": light}
            drawn = heads.light("mine", given, 2001).foci[0]
            stated = heads.light("mine", given | {"beam_quality": quality}, 3).foci[0]
            assert np.median(drawn[0]) == pytest.approx(stated[0][0])  # the spot as stated
            assert np.median(drawn[1]) == pytest.approx(stated[1][0], rel=0.05)  # its length
            assert np.std(drawn[1]) > 0
        with pytest.raises(ValueRefused, match="at 600 nm is not known"):
            heads.light("mine", told | {"wavelength": "600 nm"}, 3)

    def test_refusals_say_what_to_write(self, machine):
        for bad in ("birch plywood", ["birch plywood"], [3]):
            with pytest.raises(ValueRefused, match="material and thickness, such as"):
                sizing.size(machine, bad, self.NAME)
        for bad in (0, -1, 2.5, True, "many"):
            with pytest.raises(ValueRefused, match="draws is how many"):
                sizing.size(machine, self.SHEET, self.NAME, draws=bad)
        with pytest.raises(ValueRefused, match="job_time of 40 min says nothing without path"):
            sizing.size(machine, self.SHEET | {"job_time": "40 min"}, self.NAME)
        with pytest.raises(UnitError, match=r"mine: optical_power needs a unit"):
            sizing.size(machine, self.SHEET, {"mine": {"optical_power": 10}})
        with pytest.raises(ValueRefused, match="mine: a head has no watts; it has optical_power"):
            sizing.size(machine, self.SHEET, {"mine": {"watts": "10 W"}})

    def test_two_jobs_on_one_sheet_are_two(self, machine):
        jobs = [self.SHEET | {"path_length": "12 m", "job_time": t} for t in ("5 min", "1 h")]
        found = sizing.size(machine, [*jobs, jobs[0]], self.NAME)
        quick, slow = "3 mm birch plywood, 12 m in 5 min", "3 mm birch plywood, 12 m in 60 min"
        assert list(found.cells) == [quick, slow, f"{quick}, number 3"]
        assert found.cells[quick][self.NAME].asked.magnitude == pytest.approx(40)  # 12 m in 300 s
        assert found.weakest(self.NAME) == quick

    def test_a_file_may_leave_beam_quality_open(self, tmp_path):
        told = (
            'optical_power = "10 W"\nwavelength = "450 nm"\n'
            'focal_length = "30 mm"\nspot_diameter = "0.08 mm"'
        )
        path = tmp_path / "mine.toml"
        path.write_text(TEXT.replace('like = "blue diode, one emitter, 5.5 W"', told))
        machine = load(path)
        found = answers.ask("laser", machine)
        (text,) = (t for t in found.warnings if "beam quality" in t)
        assert "10 to 25 is taken (estimate)" in text
        assert answers.laser.beam_of(machine).beam_quality == 15
        assert str(explore.laser(machine))
        assert not any("beam quality" in t for t in answers.ask("laser", load(TAGMAKER)).warnings)


class TestNotStated:
    """What nobody stated is not known, and that is another thing than no."""

    def test_it_is_not_taken_for_no(self, machine):
        sheets = [
            {"material": "natural rubber", "thickness": "2 mm"},
            {"material": "birch plywood", "thickness": "9 mm"},
        ]
        names = ["blue diode, four emitters, 20 W", "gas tube, 60 W"]
        found = sizing.size(machine, sheets, names)
        cell = found.cells["2 mm natural rubber"][names[0]]
        assert cell.told == "cannot be told yet"
        assert "how much light of 450 nm" in cell.unknown
        assert found.cells["2 mm natural rubber"][names[1]].unknown == ""
        assert "not known" in dict((row[0], row[3]) for row in found.table())[names[0]]
        assert found.shown(names[0]) == "9 mm birch plywood"
        alone = sizing.size(machine, sheets[0], names)
        with pytest.raises(ValueRefused, match="natural rubber: how much light"):
            alone.shown(names[0])

    def test_the_answer_and_its_panel_say_so(self, tmp_path):
        text = TEXT.replace('material = "birch plywood"', 'material = "acrylic"')
        path = tmp_path / "mine.toml"
        path.write_text(text, encoding="utf-8")
        machine = load(path)
        found = answers.ask("laser", machine)
        assert "cannot be told: acrylic: how much light" in found.verdict
        assert "Name it by its colour" in found.verdict
        assert not found.certain
        assert not found.flips_at
        assert not {"chance", "power_needed", "cut_speed"} & set(found.values)
        with pytest.raises(Unanswerable, match="how much light"):
            explore.laser(machine)

    def test_what_is_left_out_stands_in_the_verdict(self, tmp_path):
        machine = load(file_with(tmp_path, LISTED % "slate"))
        found = answers.ask("laser", machine)
        assert "cut 0.3 mm paper and card: " in found.verdict
        assert found.verdict.endswith(
            "Not counted, for nothing can be worked out of it: 3 mm slate."
        )

    def test_each_reason_is_of_its_own_material(self, machine):
        names = ("corrugated card", "bare aluminium", "mystery board")
        sheets = [
            {"material": name, "thickness": "3 mm", "supplier_sheet": "a doctest"} for name in names
        ]
        out = sizing.size(machine, sheets, ["gas tube, 40 W"]).left_out
        air, metal, board = (out[f"3 mm {name}"] for name in names)
        assert "mostly air" in air
        assert "Metal" not in air
        assert "marked by these lasers" in metal
        assert not {"Metal", "air"} & set(board.split())


def test_near_infrared_is_never_more_than_even(machine):
    found = sizing.size(machine, modules=["infrared fibre, 1064 nm, 20 W"])
    for row in found.cells.values():
        assert row["infrared fibre, 1064 nm, 20 W"].chance <= 0.5


LISTED = """
[[cutting.wanted]]
material = "paper and card"
thickness = "0.3 mm"
path_length = "4 m"
job_time = "5 min"

[[cutting.wanted]]
material = "%s"
thickness = "3 mm"
"""


def file_with(tmp_path, text):
    path = tmp_path / "mine.toml"
    path.write_text(TEXT + text, encoding="utf-8")
    return path


class TestAnswer:
    def test_a_list_in_the_file_is_read(self, tmp_path):
        machine = load(file_with(tmp_path, LISTED % "clear acrylic"))
        found = answers.ask("laser", machine)
        assert "only gas tubes are sure to cut all 2 sheets" in found.verdict
        assert "3 mm clear acrylic" in found.decided_by
        assert "another wavelength" in found.decided_by
        assert any("passes through" in text for text in found.warnings)
        assert any("high voltage" in text for text in found.warnings)
        assert "power meter" in found.measure_next

    def test_what_must_never_be_processed_has_no_answer(self, tmp_path):
        machine = load(file_with(tmp_path, LISTED % "vinyl"))
        with pytest.raises(Unanswerable, match="hydrogen chloride"):
            answers.ask("laser", machine)

    def test_mistakes_in_the_list_are_told_with_their_line(self, tmp_path):
        with pytest.raises(
            MachineFileError, match=r"cutting\.wanted.*needs material and thickness"
        ):
            load(file_with(tmp_path, '[[cutting.wanted]]\nmaterial = "pine"\n'))

    def test_the_verdict_follows_the_chance(self, machine):
        for watts, said in (("0.5 W", "does not cut"), ("9 kW", " cuts 3 mm")):
            head = attrs.evolve(machine.heads.laser, optical_power=watts)
            strong = attrs.evolve(machine.typical(), heads=attrs.evolve(machine.heads, laser=head))
            found = answers.ask("laser", strong)
            assert said in found.verdict
            assert found.certain

    def test_light_needed_is_where_it_flips(self, machine):
        found = answers.ask("laser", machine)
        assert found.flips_at["optical_power"] == found.values["power_needed"]
        low, high = found.ranges["power_needed"]
        assert low < found.values["power_needed"] < high
        assert 0.02 <= found.values["chance"].magnitude <= 0.98

    def test_drawn_machines_keep_their_draws(self, machine):
        found = answers.ask("laser", machine.draw(32))
        assert np.shape(found.values["optical_power"].magnitude) == (32,)
