"""Files as people have them: each kind read right and told, or refused with what to do."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from mathlib.errors import TableError
from mathlib.measure import files

ROWS = "0,1.5\n1,1.6\n2,1.7\n"

#: What a file holds, and what is told of it; all are the same three times and places.
READ: dict[str, tuple[bytes, str]] = {
    "UTF-16 with a row of units": (
        "time\tx\r\ns\tmm\r\n0\t1.5\r\n1\t1.6\r\n2\t1.7\r\n".encode("utf-16"), "UTF-16"),
    "quoted cells, decimal comma": (
        b'"t [s]";"x [mm]"\n"0,0";"1,5"\n"1,0";"1,6"\n"2,0";"1,7"\n', "decimal comma"),
    "quoted cells, comma twice": (
        b'"t [s]","x [mm]"\n"0,0","1,5"\n"1,0","1,6"\n"2,0","1,7"\n', "decimal comma"),
    "columns by blanks": (b" t[s]   x[mm]\n 0.0    1.5\n 1.0    1.6\n 2.0    1.7\n", ""),
    "line ends of old computers": (("t [s],x [mm]\n" + ROWS).replace("\n", "\r").encode(), ""),
    "line ends of all kinds": (b"t [s],x [mm]\r\n0,1.5\n1,1.6\r2,1.7\n", ""),
    "a delimiter too many": (b"t [s],x [mm],\n0,1.5,\n1,1.6,\n2,1.7,\n", "without head"),
    "units behind a stroke": (b"Time/s,Distance/mm\n" + ROWS.encode(), ""),
    "units with a micro sign": (
        "t [µs],x [μm]\n0,1500\n1e6,1600\n2e6,1700\n".encode(), ""),
    "comments of four kinds": (
        b"% by me\n; note\n// more\n# and\nt [s],x [mm]\n" + ROWS.encode(), ""),
    "zeros after the end": (b"t [s],x [mm]\n" + ROWS.encode() + bytes(5000), "5000 zero bytes"),
    "moments": (
        b"time,x [mm]\n2026-05-01T10:00:00.000Z,1.5\n2026-05-01T10:00:01Z,1.6\n"
        b"2026-05-01T10:00:02.0Z,1.7\n", "since 1970"),
    "epoch ms": (
        b"epoch_ms,x [mm]\n1780000000000,1.5\n1780000001000,1.6\n1780000002000,1.7\n", "in ms"),
    "minus and points of thousands": (
        b"t [s];x [um]\n0;1'500.0\n1;1'600.0\n2;1'700.0\n", ""),
    "last line without end": (b"t [s],x [mm]\n0,1.5\n1,1.6\n2,1.7", "cut short"),
    "rows from the last to the first": (b"t [s],x [mm]\n2,1.7\n1,1.6\n0,1.5\n", "turned round"),
    "a boot message": (b"boot v2\nt [s],x [mm]\n0,1.5\nok\n1,1.6\n2,1.7\n", "no rows"),
}  # fmt: skip


@pytest.mark.parametrize("kind", READ)
def test_a_messy_file_is_read_and_told(kind: str, tmp_path: Path) -> None:
    content, told = READ[kind]
    path = tmp_path / "messy.csv"
    path.write_bytes(content)
    table = files.read(path)
    assert table.time is not None
    _, place = table.columns
    seconds = table[table.time].to("s").magnitude
    assert seconds == pytest.approx([0, 1, 2], abs=1e-6)
    assert table[place].to("mm").magnitude == pytest.approx([1.5, 1.6, 1.7])
    assert told in " ".join(table.notes)
    if not told:
        assert not table.notes


REFUSED: list[tuple[str, dict[str, Any], str]] = [
    ("x [mm];n [1]\n1 234,5;1\n1 235,5;2\n1 236,5;3\n", {}, r"x is in mm, .* '1 234,5'.*names="),
    ("t [ms],a [LSB]\n0,0x10\n5,0x12\n9,0x0F\n", {"scale": "4 mm"}, r"a is in mm, .*'0x10'"),
    ("t,x\n0 s,1.5 mm\n1 s,1.6 mm\n", {}, "numbers alone"),
    ("[INFO] boot\nT:0.00 X:1.5\nT:0.10 X:1.6\n", {}, "numbers alone"),
    ("t [s],x [mm]\n0.0D+00,1.5D-03\n1.0D+00,1.6D-03\n", {}, "numbers alone"),
    ('{"t":0,"x":1}\n{"t":1,"x":2}\n', {}, "numbers alone"),
    ("A 0.0 1.5\nB 0.0 2.5\nA 0.1 1.6\nB 0.1 2.6\n", {}, "no unit.*units="),
    ("date,x [mm]\n45413.5,1\n45413.6,2\n45413.7,3\n", {}, "date has no unit.*units="),
    ("x [mm],y [mm]\n1,9?\n2,(8)\n3,~7\n4,6*\n5,5\n", {}, "4 cells are in doubt.*doubtful="),
]


@pytest.mark.parametrize(("content", "choices", "words"), REFUSED)
def test_what_is_no_plain_table_says_what_to_do(
    content: str, choices: dict[str, Any], words: str, tmp_path: Path
) -> None:
    path = tmp_path / "messy.csv"
    path.write_text(content)
    with pytest.raises(TableError, match=words):
        files.read(path, **choices)


def test_zeros_amid_the_rows_are_no_text(tmp_path: Path) -> None:
    path = tmp_path / "messy.csv"
    path.write_bytes(b"t [s],x [mm]\n0,1\n" + bytes(50) + b"1,2\n2,3\n")
    with pytest.raises(TableError, match="binary"):
        files.read(path)


@pytest.mark.parametrize("rows", [4, 12, 300])
def test_a_short_session_that_starts_anew_is_one_of_its_own(rows: int, tmp_path: Path) -> None:
    """Neither sorted into the other nor left as one: its times fall back to the start."""
    part = "t [s],x [mm]\n" + "".join(f"{n * 0.01:.2f},{n}\n" for n in range(rows))
    path = tmp_path / "twice.csv"
    path.write_text(part + part)
    table = files.read(path)
    assert table.sessions == (slice(0, rows), slice(rows, 2 * rows))
    assert len(files.read(path, session=2)) == rows


def test_times_that_go_back_and_forth_are_told(tmp_path: Path) -> None:
    times = np.arange(60.0)
    times[10:50:4] -= 1.5  # too many to be rows that came late
    path = tmp_path / "back.csv"
    path.write_text("t [s],x [mm]\n" + "".join(f"{t},{n}\n" for n, t in enumerate(times)))
    table = files.read(path)
    assert any("goes back 10 times" in note for note in table.notes)
