"""Machines unlike the Tagmaker: other belts, heads, materials, and files that say less or more."""

from __future__ import annotations

import itertools

import attrs
import numpy as np
import pytest

from mathlib import answers, explore, figures
from mathlib.errors import TableError, Unanswerable, ValueRefused
from mathlib.figures import material as heat_picture
from mathlib.figures import ringing as ringing_map
from mathlib.laser.beams import Module
from mathlib.machine import TAGMAKER, Heads, Machine, load
from mathlib.measure import coupon_gate, coupons
from mathlib.measure.coupon_plan import plan
from mathlib.units import Q

PLAIN = TAGMAKER.with_name("tagmaker_plain.toml")
TUBE = Module(
    optical_power=Q("40 W"),
    wavelength=Q("10600 nm"),
    focal_length=Q("50.8 mm"),
    beam_diameter=Q("7 mm"),
    beam_quality=Q("1.3 1"),
)


@pytest.fixture(scope="module")
def machine() -> Machine:
    return load(TAGMAKER)


def of_job(machine: Machine, **changed) -> Machine:
    return attrs.evolve(machine, job=attrs.evolve(machine.job, **changed))


def with_head(machine: Machine, head: Module | None) -> Machine:
    return attrs.evolve(machine.typical(), heads=Heads(laser=head))


def boxes(figure):
    """Words of a figure and where they lie, in pixels."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    texts = [t for axes in figure.axes for t in [*axes.texts, axes.title, axes._left_title]]
    found = [(t.get_text(), t.get_window_extent(canvas.get_renderer())) for t in texts]
    return [(text, box) for text, box in found if text]


class TestAnswers:
    def test_a_head_with_a_range_of_wavelengths_is_sized(self, tmp_path):
        text = TAGMAKER.read_text(encoding="utf-8").replace(
            "[heads.laser]\n",
            '[heads.laser]\nwavelength = {low = "440 nm", typical = "450 nm", high = "460 nm", '
            'source = "label"}\n',
        )
        path = tmp_path / "mine.toml"
        path.write_text(text, encoding="utf-8")
        mine = load(path)
        found, told = (answers.ask("laser", one) for one in (mine.draw(3), mine))
        assert np.shape(found.values["optical_power"].magnitude) == (3,)
        assert "this machine's head, 5.5 W of light, cuts" in told.verdict

    def test_only_typical_heads_are_called_so(self, machine):
        mine = with_head(of_job(machine, material="clear acrylic"), TUBE)
        verdict = answers.ask("laser", mine).verdict
        assert verdict.startswith("This machine's head, 40 W of light, cuts 3 mm clear acrylic")
        assert "only gas tubes are sure to cut it, from 'gas tube, 40 W' on." in verdict

    def test_where_nobody_is_placed_the_distance_that_is_taken_is_told(self, machine):
        told = "The file does not say how near people come: 1 m from the work"
        placed, nobody = (
            answers.ask("hazard", attrs.evolve(machine.typical(), room=room)).warnings
            for room in (machine.room, None)
        )
        assert not any(each.startswith(told) for each in placed)
        assert sum(each.startswith(told) for each in nobody) == 1

    @pytest.mark.parametrize(
        ("material", "begins"),
        [
            ("PVC", "Never process PVC"),
            ("mystery board", "mystery board: nothing is known of it here."),
        ],
    )
    def test_a_dose_on_what_must_not_be_burned_says_so_first(self, machine, material, begins):
        mine = of_job(machine.typical(), material=material, material_note="")
        assert answers.ask("energy", mine).warnings[0].startswith(begins)

    def test_a_dose_on_wood_is_told_without_a_ban(self, machine):
        warnings = answers.ask("energy", machine.typical()).warnings
        assert not any("ever process" in each for each in warnings)

    def test_ringing_names_the_sway_that_a_push_test_tells(self, machine):
        frame = attrs.evolve(machine.frame, push_stiffness=Q("40 N/mm"), swaying_mass=Q("12 kg"))
        mine = attrs.evolve(machine, frame=frame).typical()
        sways = np.sqrt(40e3 / (12 + float(mine.masses[1].to("kg").magnitude))) / (2 * np.pi)
        assert f"sways at about {sways:.3g} Hz" in " ".join(answers.ask("ringing", mine).warnings)


class TestPictures:
    @pytest.mark.parametrize("path", [TAGMAKER, PLAIN], ids=["crossed", "plain"])
    def test_map_and_verdict_name_the_same_place(self, path):
        mine = load(path)
        asked = answers.ask("ringing", mine)
        place = asked.verdict.partition("where it rings lowest, at ")[2].partition(";")[0]
        told = figures.describe("ringing", asked, mine)
        assert f" at {place}" in told.partition("lowest ")[2].partition("highest")[0]

    @pytest.mark.parametrize("path", [TAGMAKER, PLAIN], ids=["crossed", "plain"])
    @pytest.mark.parametrize("travel", ["200 mm", "300 mm", "400 mm"])
    def test_words_on_the_map_keep_apart(self, path, travel):
        mine = load(path).typical()
        work = attrs.evolve(mine.machine, travel_x=Q(travel), travel_y=Q("300 mm"))
        mine = attrs.evolve(mine, machine=work)
        found = boxes(figures.draw("ringing", answers.ask("ringing", mine), mine))
        marks = [box for text, box in found if text.startswith(("middle", "lowest"))]
        numbers = [(text, box) for text, box in found if text.endswith("Hz") and ":" not in text]
        assert len(marks) == 2
        assert numbers
        for text, box in numbers:
            assert not any(box.overlaps(mark) for mark in marks), text

    @pytest.mark.parametrize("yaw", [None, Q("2000 N*m/rad")], ids=["two modes", "three modes"])
    @pytest.mark.parametrize("deep", ["150 mm", "300 mm", "450 mm"])
    def test_titles_of_mode_shapes_stay_inside(self, machine, yaw, deep):
        mine = attrs.evolve(
            machine.typical(),
            beam=attrs.evolve(machine.typical().beam, yaw_stiffness=yaw),
            machine=attrs.evolve(machine.machine, travel_y=Q(deep)),
        )
        figure = figures.draw("mode_shapes", answers.ask("ringing", mine), mine)
        found = [box for text, box in boxes(figure) if "belts move" in text]
        width = figure.get_size_inches()[0] * figure.dpi
        below = figure._suptitle.get_window_extent().y0
        assert len(found) == (2 if yaw is None else 3)
        for box, axes in zip(sorted(found, key=lambda b: b.x0), figure.axes, strict=True):
            assert 0 <= box.x0 < box.x1 <= width
            assert box.y1 <= below
            assert axes.xaxis.label.get_window_extent().y0 >= 0
        assert not any(a.x1 > b.x0 for a, b in itertools.pairwise(found))

    def test_a_title_of_heat_speaks_of_a_black_line_only_where_there_is_one(self, machine):
        for share, says in (("1 1", "Inside the black line"), ("0.00001 1", "nowhere gets")):
            mine = of_job(machine.typical(), power_share=Q(share))
            figure = figures.draw("material", answers.ask("material", mine), mine)
            legend = {text.get_text() for text in figure.legends[0].get_texts()}
            assert says in " ".join(figure._suptitle.get_text().split())
            assert ("reached here" in legend) == all(heat_picture.Cut(mine).parted)


class TestPanels:
    def test_heat_titles_follow_the_values(self, machine):
        made = explore.material(machine)
        assert made.figure._suptitle.get_text().startswith("Inside the black line")
        made.set("job.power_share", "0.00001")
        assert made.figure._suptitle.get_text() == "Nowhere shown does it get too hot"

    def test_without_heat_nothing_empty_is_drawn(self, machine):
        made = explore.material(of_job(machine, material="clear acrylic"))
        assert made.figure._suptitle.get_text() == "No surface is heated here"
        assert not any(axes.get_visible() for axes in made.figure.axes)

    def test_a_beam_of_which_nothing_is_known_is_refused_with_what_to_write(self, machine):
        beam = attrs.evolve(machine.beam, second_moment=None)
        with pytest.raises(Unanswerable, match=r"under \[beam\] give like"):
            explore.frame(attrs.evolve(machine, beam=beam, ranges={}))


class TestCoupons:
    def test_light_that_goes_through_is_not_cured_by_more_of_it(self, machine):
        with pytest.raises(ValueRefused, match="a stronger head changes nothing") as refused:
            plan("clear acrylic", "3 mm", machine.heads.laser, machine, seed=1)
        assert "450 nm" in str(refused.value)
        assert "another wavelength" in str(refused.value)

    def test_a_sheet_that_is_too_thick_is_still_told_so(self, machine):
        with pytest.raises(ValueRefused, match="Take a thinner sheet or a stronger head"):
            plan("birch plywood", "40 mm", machine.heads.laser, machine, seed=1, supplier_sheet="x")

    def test_one_pass_is_no_passes(self, machine):
        made = plan("clear acrylic", "3 mm", TUBE, machine, seed=1)
        assert made.passes == 1
        assert "the boundary, one pass at " in repr(made)

    @pytest.fixture
    def filled(self, machine):
        """Rows of a table that somebody filled in, with the lines above them."""
        made = plan(
            "birch plywood", "3 mm", machine.heads.laser, machine, seed=1, supplier_sheet="x"
        )
        lines = coupons.form(made).splitlines()
        start = next(i for i, line in enumerate(lines) if line.startswith("number"))
        rows = [line.split(",") for line in lines[start + 1 :]]
        for row in rows:
            speed = float(row[3])
            if row[1] == "cut":
                row[5], row[7] = "3.05", "yes" if speed < 2 else "no"
            else:
                row[8] = f"{max(20.0, 160 - 1.5 * speed):.1f}"
        return lines[: start + 1], rows

    def written(self, path, filled):
        head, rows = filled
        path.write_text("\n".join([*head, *map(",".join, rows)]) + "\n", encoding="utf-8")
        return path

    def test_a_unit_written_into_a_cell_is_refused_with_its_line(self, tmp_path, filled):
        head, rows = filled
        row = next(i for i, row in enumerate(rows) if row[1] == "cut")
        rows[row][5] = "3.05 mm"
        path = self.written(tmp_path / "mine.csv", filled)
        with pytest.raises(TableError, match=f"line {len(head) + row + 1}: '3.05 mm'"):
            coupons.read(path)

    @pytest.mark.parametrize("other", ["", "2", "wet"])
    def test_words_in_the_notes_are_nobodys_number(self, tmp_path, filled, other):
        filled[1][3][11] = "smoky"
        filled[1][4][11] = other
        assert len(coupons.read(self.written(tmp_path / "mine.csv", filled))) == len(filled[1])

    def test_widths_in_millimetres_under_micrometres_tell_no_spot(self, tmp_path, filled):
        for row in filled[1]:
            row[8] = row[8] and f"{float(row[8]) / 1000:.4f}"
        cuts = coupons.read(self.written(tmp_path / "mine.csv", filled))
        found = coupons.update("birch plywood", cuts, "x").coupon
        assert "are they millimetres?" in " ".join(found.notes)
        assert "Radius of the spot" not in str(found)

    def test_each_reason_is_a_sentence(self):
        with pytest.raises(ValueRefused, match=r"^Who: one\. Two\.$"):
            coupon_gate.refuse("Who", ["one.", "two."])


def test_the_map_takes_the_verdicts_place_only_where_nothing_is_lower(machine):
    hertz = np.full((41, 41), 50.0)
    hertz[3, 7] = 40.0
    assert ringing_map._lowest(machine, hertz) == (3, 7)
