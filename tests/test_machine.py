"""A machine as records: which file, typical values, draws."""

from __future__ import annotations

import attrs
import numpy as np
import pytest

from mathlib import machine
from mathlib.errors import MachineFileError
from mathlib.machine import SECTIONS, TAGMAKER, load, open_machine

PLAIN = TAGMAKER.with_name("tagmaker_plain.toml")


def test_the_tagmaker_comes_in_both_variants():
    assert load(TAGMAKER).machine.belts == "crossed"
    assert load(PLAIN).machine.belts == "plain"
    heads = load(PLAIN).heads
    assert heads.laser is not None
    assert heads.pen is not None
    assert heads.knife is not None


def test_both_variants_differ_in_their_belts_alone():
    both = [path.read_text(encoding="utf-8").splitlines() for path in (TAGMAKER, PLAIN)]
    differ = [(a, b) for a, b in zip(*both, strict=True) if a != b]
    comment, *keys = [a.partition(" =")[0] for a, _ in differ]
    assert comment.startswith("# The Tagmaker with crossed belts")
    assert keys == ["name", "belts"]


def test_which_file_is_opened(monkeypatch, tmp_path, capsys):
    monkeypatch.delenv(machine.VARIABLE, raising=False)
    monkeypatch.setattr(machine, "ROOT", tmp_path)
    assert machine.default_path() == TAGMAKER
    own = tmp_path / "my_machine.toml"
    own.write_text(PLAIN.read_text(encoding="utf-8"), encoding="utf-8")
    assert machine.default_path() == own
    monkeypatch.setenv(machine.VARIABLE, str(TAGMAKER))
    assert machine.default_path() == TAGMAKER
    assert open_machine(PLAIN).machine.belts == "plain"
    assert "Tagmaker, plain axes" in capsys.readouterr().out
    monkeypatch.setenv(machine.VARIABLE, str(tmp_path / "gone.toml"))
    with pytest.raises(MachineFileError, match=r"names .*gone\.toml, and there is no such file"):
        open_machine()


def test_draws_are_the_same_records_with_arrays():
    tagmaker = load(TAGMAKER)
    drawn = tagmaker.draw(500, seed=3)
    assert drawn.draws == 500
    assert drawn.carriage.friction.magnitude.shape == (500,)
    assert drawn.heads.laser.beam_quality.magnitude.shape == (500,)
    assert np.ndim(drawn.pulley.teeth.magnitude) == 0
    again = tagmaker.draw(500, seed=3)
    assert np.array_equal(drawn.carriage.mass.magnitude, again.carriage.mass.magnitude)
    other = tagmaker.draw(500, seed=4)
    assert not np.array_equal(drawn.carriage.mass.magnitude, other.carriage.mass.magnitude)


def test_ninety_percent_of_draws_lie_between_low_and_high():
    tagmaker = load(TAGMAKER)
    values = tagmaker.draw(20_000).carriage.friction.magnitude
    # 20 000 draws give a 5 % share to within 0.15 % standard deviation; 0.6 % is four of them.
    assert np.mean(values < 2.0) == pytest.approx(0.05, abs=0.006)
    assert np.mean(values > 8.0) == pytest.approx(0.05, abs=0.006)
    assert np.mean(values < 4.0) == pytest.approx(0.50, abs=0.015)


def test_a_range_that_is_added_leaves_the_other_draws_alone():
    tagmaker = load(TAGMAKER)
    fewer = attrs.evolve(
        tagmaker,
        ranges={k: v for k, v in tagmaker.ranges.items() if k != "beam.mass"},
    )
    a, b = tagmaker.draw(50), fewer.draw(50)
    assert np.array_equal(a.carriage.friction.magnitude, b.carriage.friction.magnitude)
    assert np.ndim(b.beam.mass.magnitude) == 0


def test_typical_has_no_ranges():
    assert load(TAGMAKER).typical().ranges == {}


def test_the_drive_adds_head_carriage_and_beam():
    tagmaker = load(TAGMAKER)
    # typical parts of the file: carriage 0.30 kg, laser head 0.30 kg, beam 0.7 kg
    assert tagmaker.drive.masses[0].magnitude == pytest.approx(0.60)
    assert tagmaker.drive.masses[1].magnitude == pytest.approx(1.30)


def test_the_other_motor_is_the_pair_of_the_row_when_the_file_names_none(tmp_path):
    text = TAGMAKER.read_text(encoding="utf-8")
    start, end = text.index("[other_motor]"), text.index("[belt]")
    path = tmp_path / "alone.toml"
    path.write_text(text[:start] + text[end:], encoding="utf-8")
    found = load(path)
    assert found.other_motor.step_angle.magnitude == 1.8
    assert "other_motor.holding_torque" in found.ranges


def test_every_field_of_a_section_says_what_it_is():
    for section in SECTIONS.values():
        for field in attrs.fields(section.record):
            assert field.metadata.get("about"), f"{section.record.__name__}.{field.name}"
