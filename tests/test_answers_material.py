"""What the material does: refusals, what rules, and pictures that show the numbers."""

from __future__ import annotations

import attrs
import numpy as np
import pytest

from mathlib import Q, answers, explore, figures, materials
from mathlib.answers.material import answer
from mathlib.errors import Unanswerable
from mathlib.figures import material as picture
from mathlib.laser import heat
from mathlib.machine import TAGMAKER, load


@pytest.fixture(scope="module")
def machine():
    return load(TAGMAKER)


def working(machine, name, **job):
    told = {"material": name, "material_note": ""} | job
    return attrs.evolve(machine, job=attrs.evolve(machine.job, **told))


def faint(machine):
    ranges = {k: v for k, v in machine.ranges.items() if k != "job.power_share"}
    dim = attrs.evolve(machine.job, power_share=Q("0.0005 1"))
    return attrs.evolve(machine, job=dim, ranges=ranges)


def test_values_by_hand_for_birch(machine):
    found = answer(machine).values
    # 0.17 / (680 * 1500) = 1.6667e-7 m²/s; 100 mm/s * 0.03223 mm / (2 * 0.16667 mm²/s) = 9.669
    assert found["diffusivity"].to("mm^2/s").magnitude == pytest.approx(1 / 6, rel=1e-6)
    assert found["peclet"].magnitude == pytest.approx(9.669, rel=1e-3)
    # 0.54 * 4.4 W / (2.5066 * 0.17 W/m/K * 3.223e-5 m) = 173000 K, at rest
    assert found["stationary_rise"].to("K").magnitude == pytest.approx(173000, rel=2e-3)
    assert found["times_needed"].magnitude == pytest.approx(
        found["moving_rise"].to("K").magnitude / 280, rel=1e-9
    )


def test_thousands_of_degrees_are_called_no_temperature(machine):
    told = answer(machine)
    assert "Removal rules" in told.verdict
    assert "no temperature" in told.verdict


def test_faint_light_only_warms(machine):
    told = answer(faint(machine))
    assert "Conduction rules" in told.verdict
    assert told.values["times_needed"].magnitude < 1


def test_at_the_flip_the_surface_gets_just_hot_enough(machine):
    flip = answer(machine).flips_at["power_on_work"]
    plain = machine.typical()
    part = (flip / plain.heads.laser.optical_power).to("1")
    there = attrs.evolve(plain, job=attrs.evolve(plain.job, power_share=part))
    assert answer(there).values["times_needed"].magnitude == pytest.approx(1, rel=1e-6)


@pytest.mark.parametrize("note", ["", "sheet of 2026"])
@pytest.mark.parametrize("name", materials.names("never"))
def test_never_is_refused_with_its_gas_whatever_the_sheet(machine, name, note):
    told = answer(working(machine, name, material_note=note))
    assert told.values == {}
    assert "never to be processed" in told.verdict
    for gas in materials.material(name).products:
        assert gas in told.verdict


def test_unknown_is_refused_until_a_sheet_is_named(machine):
    told = answer(working(machine, "unobtainium"))
    assert "data sheet" in told.verdict
    assert "Do not burn a sample" in told.verdict
    named = answer(working(machine, "unobtainium", material_note="sheet of 2026"))
    assert "nobody has stated its density" in named.verdict


def test_what_nobody_stated_is_named_and_how_it_is_found(machine):
    found = answer(working(machine, "natural rubber"))
    assert "nobody has stated its absorptance" in found.verdict
    assert "power meter" in found.measure_next
    assert "nobody has stated" in found.decided_by
    assert any("chlorine" in text for text in found.warnings)  # care stands there too
    assert "by its colour" in answer(working(machine, "acrylic")).verdict
    board = answer(working(machine, "mystery board", material_note="maker X, 2025"))
    assert "temperature of decay" in board.verdict
    never = answer(working(machine, "vinyl"))
    assert "hazards" in never.decided_by
    assert "do not burn a sample" in never.measure_next


def test_no_material_is_unanswerable(machine):
    with pytest.raises(Unanswerable, match="material"):
        answer(working(machine, ""))


def test_clear_acrylic_lets_blue_light_through(machine):
    told = answer(working(machine, "clear acrylic"))
    # 0.04 comes back at each face; 0.0055 per mm over 3 mm takes 1.6 %: about 0.91 goes through
    assert told.values["transmittance"].magnitude == pytest.approx(0.91, abs=0.005)
    assert "91 %" in told.verdict
    assert "moving_rise" not in told.values


def test_films_and_bare_metal_are_told_apart(machine):
    words = {
        name: answer(working(machine, name))
        for name in ("dyed anodised aluminium", "clear anodised aluminium", "bare aluminium")
    }
    assert len({told.verdict for told in words.values()}) == 3
    assert "film" in words["dyed anodised aluminium"].verdict
    assert any("comes back" in text for text in words["bare aluminium"].warnings)


def test_corrugated_card_is_said_to_be_mostly_air(machine):
    told = answer(working(machine, "corrugated card"))
    assert any("air" in text for text in told.warnings)


@pytest.mark.parametrize(
    "name", [n for g in ("extraction only", "care") for n in materials.names(g)]
)
def test_every_other_material_gets_an_answer(machine, name):
    told = answer(working(machine, name, material_note="sheet"))
    assert told.verdict.endswith((".", '").'))
    assert "safe" not in told.verdict.lower().split()


def test_cut_shows_the_rise_of_the_answer(machine):
    found = answer(machine)
    cut = picture.Cut(machine)
    hottest = found.values["moving_rise"].to("K").magnitude
    assert cut.column[0] == pytest.approx(hottest, rel=1e-4)
    assert cut.times[0].max() * cut.stands == pytest.approx(hottest, rel=0.01)
    assert np.all(np.diff(cut.column) < 0)
    assert "Péclet" not in figures.describe("material", found, machine)
    assert figures.draw("material", found, machine).axes[1].lines[0].get_xdata()[0] > 1e4


@pytest.mark.parametrize("name", ["PVC", "clear acrylic"])
def test_without_temperatures_the_picture_says_so(machine, name):
    other = working(machine, name)
    found = answer(other)
    assert found.verdict in figures.describe("material", found, other)
    assert figures.draw("material", found, other).axes


def test_panel_follows_power_and_speed(machine):
    panel = explore.material(machine)
    assert "Removal rules" in panel.said
    panel.set("job.power_share", "0.001")
    assert "Conduction rules" in panel.said
    before = panel.picture
    panel.set("job.speed", "10 mm/s")
    assert panel.picture != before
    assert "Péclet number is 0.97" in panel.alternative


def test_longer_dwell_spreads_heat_by_its_root(machine):
    slow = attrs.evolve(machine.typical(), job=attrs.evolve(machine.job, speed=Q("25 mm/s")))
    both = [answer(m).values["heated_depth"].magnitude for m in (machine.typical(), slow)]
    assert both[1] / both[0] == pytest.approx(2, rel=1e-9)
    assert heat.diffusion_length(diffusivity="1 mm^2/s", time="1 s").magnitude == pytest.approx(2)


def test_it_is_among_the_answers():
    assert "material" in answers.NAMES
