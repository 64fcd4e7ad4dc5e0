"""A parts list sums to a mass with a range."""

from __future__ import annotations

import math

import pytest

from mathlib.errors import MachineFileError
from mathlib.machine import TAGMAKER, load
from mathlib.motion.parts import total_mass

PLATE = {"name": "plate", "mass": {"low": "0.18 kg", "typical": "0.20 kg", "high": "0.24 kg"}}
CHAIN = {
    "name": "chain",
    "mass": {"low": "80 g", "typical": "100 g", "high": "130 g"},
    "share": 0.5,
}
SCREWS = {"name": "screw", "mass": "5 g", "count": 8}


def test_the_sum_and_its_range_by_hand():
    found = total_mass([PLATE, CHAIN, SCREWS])
    # 0.20 + 0.05 + 8 x 0.005; below: 0.02, 0.01 and 3 % of 0.04, by squares
    assert found.typical.magnitude == pytest.approx(0.29)
    assert 0.29 - found.low.magnitude == pytest.approx(math.hypot(0.02, 0.01, 0.0012))
    assert found.high.magnitude - 0.29 == pytest.approx(math.hypot(0.04, 0.015, 0.0012))
    assert "chain 0.05 kg" in found.source


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ([], "the list is empty"),
        ([{"name": "plate"}], "row 1: plate takes name, mass, count, share"),
        ([PLATE, {"name": "chain", "mass": "3 mm"}], "row 2: mass"),
        ([{"name": "chain", "mass": "1 kg", "share": 1.5}], "row 1: share"),
        ([{"name": "chain", "mass": "1 kg", "shares": 1}], "row 1: chain takes"),
        ([{"mass": "1 kg"}], "row 1: write name"),
    ],
)
def test_a_wrong_list_is_refused_with_its_row(rows, told):
    with pytest.raises(ValueError, match=told):
        total_mass(rows)


LISTED = """[[carriage.parts]]
name = "plate and blocks"
mass = {low = "0.18 kg", typical = "0.20 kg", high = "0.24 kg"}

[[carriage.parts]]
name = "cables and chain"
mass = "0.2 kg"
share = 0.5

[beam]"""


def edited(tmp_path, parts: str, keep_mass: bool = False):
    text = TAGMAKER.read_text(encoding="utf-8")
    line = next(row for row in text.splitlines() if row.startswith('mass = {low = "0.25 kg"'))
    text = text.replace(line + "\n", line + "\n" if keep_mass else "", 1)
    path = tmp_path / "mine.toml"
    path.write_text(text.replace("[beam]", parts, 1), encoding="utf-8")
    return path


def test_a_machine_file_takes_the_list_in_the_place_of_the_mass(tmp_path):
    machine = load(edited(tmp_path, LISTED))
    assert machine.carriage.mass.magnitude == pytest.approx(0.30)
    span = machine.ranges["carriage.mass"]
    assert span.low < span.typical < span.high
    assert "cables and chain 0.1 kg" in machine.contents.sources["carriage.mass"]
    assert machine.draw(50).carriage.mass.magnitude.std() > 0


def test_mass_and_list_together_are_refused_and_a_wrong_row_is_named_by_line(tmp_path):
    with pytest.raises(MachineFileError, match="give mass or parts, not both"):
        load(edited(tmp_path, LISTED, keep_mass=True))
    path = edited(tmp_path, LISTED.replace('"0.2 kg"', '"0.2 mm"'))
    with pytest.raises(MachineFileError, match=r"line \d+: carriage.parts: .*row 2: mass"):
        load(path)


def test_findings_after_a_list_keep_their_lines(tmp_path):
    path = edited(tmp_path, LISTED)
    text = path.read_text(encoding="utf-8") + '\n[[measured]]\nkey = "carriage.fiction"\n'
    text += 'value = "5 N"\nuncertainty = "1 N"\ndate = "2026-05-31"\nmethod = "scale"\n'
    path.write_text(text, encoding="utf-8")
    line = text[: text.index('key = "carriage.fiction"')].count("\n") + 1
    with pytest.raises(MachineFileError, match=rf"line {line}: measured\[1\].key"):
        load(path)
