"""Sizing: the same chances as single calls give, honest verdicts, refusals, and the file's list."""

from __future__ import annotations

import attrs
import numpy as np
import pytest

from mathlib import answers
from mathlib.errors import MachineFileError, Unanswerable, ValueRefused
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
