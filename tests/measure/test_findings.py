"""A finding goes to the end of a machine file, lies over the design value, and harms nothing."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import Any

import pytest

from mathlib import machine
from mathlib.errors import MachineFileError, ValueRefused
from mathlib.measure.findings import append_measured
from mathlib.measure.measured import measured


@pytest.fixture
def own(tmp_path: Path) -> Path:
    path = tmp_path / "my.toml"
    path.write_bytes(machine.TAGMAKER.read_bytes())
    return path


GOOD: dict[str, Any] = {
    "key": "carriage.friction", "value": "5 N", "uncertainty": "0.4 N", "method": "spring scale",
    "date": "2026-05-31",
}  # fmt: skip


def test_what_was_there_stays(own: Path) -> None:
    before = own.read_bytes()
    block = append_measured(own, **GOOD, state="cold", note='a "note" with \\ and \n', file="a.csv")
    after = own.read_bytes()
    assert after.startswith(before)
    assert after.decode().endswith(block)
    found = machine.load(own)
    assert found.carriage.friction.to("N").magnitude == 5.0
    span = found.ranges["carriage.friction"]
    assert span.kind == "measured"
    # 90 % of a normal spread lie within 1.645 standard deviations: 5 + 1.645 * 0.4 = 5.658
    assert span.high.to("N").magnitude == pytest.approx(5.658, abs=1e-3)
    assert "spring scale" in found.contents.measured["carriage.friction"]
    assert os.listdir(own.parent) == ["my.toml"]


def test_a_later_finding_lies_over_an_earlier_one(own: Path) -> None:
    append_measured(own, **GOOD)
    append_measured(own, **GOOD | {"value": measured(6.0, 0.2, "N"), "uncertainty": None})
    assert machine.load(own).carriage.friction.to("N").magnitude == 6.0


def test_ends_of_lines_and_rights_stay(own: Path) -> None:
    own.write_bytes(own.read_bytes().replace(b"\n", b"\r\n").rstrip())
    own.chmod(0o640)
    append_measured(own, **GOOD)
    assert b"\n" not in own.read_bytes().replace(b"\r\n", b"")
    assert stat.S_IMODE(own.stat().st_mode) == 0o640
    assert machine.load(own).carriage.friction.to("N").magnitude == 5.0


def test_a_link_stays_a_link(own: Path, tmp_path: Path) -> None:
    link = tmp_path / "link.toml"
    link.symlink_to(own)
    append_measured(link, **GOOD)
    assert link.is_symlink()
    assert machine.load(own).carriage.friction.to("N").magnitude == 5.0


@pytest.mark.parametrize(
    ("change", "error", "told"),
    [
        ({"key": "carriage.fricton"}, MachineFileError, "Did you mean 'carriage.friction'"),
        ({"value": "5 mm"}, MachineFileError, r"measured\[1\].value"),
        ({"date": "yesterday"}, MachineFileError, "write a day"),
        ({"value": "much"}, ValueRefused, "append_measured: value"),
        ({"uncertainty": None}, ValueRefused, "uncertainty is missing"),
    ],
)
def test_a_mistake_leaves_the_file_as_it_was(
    own: Path, change: dict[str, Any], error: type[Exception], told: str
) -> None:
    before = own.read_bytes()
    with pytest.raises(error, match=told):
        append_measured(own, **GOOD | change)
    assert own.read_bytes() == before
    assert os.listdir(own.parent) == ["my.toml"]


def test_a_file_with_mistakes_is_not_written_to(own: Path) -> None:
    own.write_text(own.read_text().replace("[frame]", "[fram]"))
    before = own.read_bytes()
    with pytest.raises(MachineFileError, match="fram"):
        append_measured(own, **GOOD)
    assert own.read_bytes() == before
