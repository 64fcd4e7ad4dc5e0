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
        b"2026-05-01T10:00:02.0Z,1.7\n", "dates and times, given as seconds since the first "
        "sample, 2026-05-01 10:00:00 UTC."),
    "moments without a zone": (
        b"time,x [mm]\n2026-05-01 10:00:00,1.5\n2026-05-01 10:00:01,1.6\n"
        b"2026-05-01 10:00:02,1.7\n", "sample, 2026-05-01 10:00:00."),
    "days and hours of twice twelve": (
        b"date,time,x [mm]\n05/31/2026,11:59:59 AM,1.5\n05/31/2026,12:00:00 PM,1.6\n"
        b"05/31/2026,12:00:01 pm,1.7\n", "2026-05-31 11:59:59."),
    "epoch ms": (
        b"epoch_ms,x [mm]\n1780000000000,1.5\n1780000001000,1.6\n1780000002000,1.7\n", "in ms"),
    "minus and points of thousands": (
        b"t [s];x [um]\n0;1'500.0\n1;1'600.0\n2;1'700.0\n", "Apostrophes inside numbers"),
    "decimal comma and points of thousands": (
        "t [s];x [µm]\n0,0;1.500,0\n1,0;1.600,0\n2,0;1.700,0\n".encode(),
        "decimal comma. Points inside numbers part thousands."),
    "commas of thousands": (
        b't [s],x [um]\n0,"1,500.0"\n1,"1,600.0"\n2,"1,700.0"\n', "Commas inside numbers"),
    "blanks of thousands": (b"t [s];x [um]\n0;1 500,0\n1;1 600,0\n2;1 700,0\n", "'1 500,0'"),
    "narrow blanks of thousands": (
        "t [s]\tx [um]\n0\t1\u202f500\n1\t1\u202f600\n2\t1\u202f700\n".encode(), "part thousands"),
    "points of thousands twice": (
        b"t [s];x [nm]\n0;1.500.000\n1;1.600.000\n2;1.700.000\n", "Points inside numbers"),
    "heads by blanks, decimal comma": (
        b"t [s]   x [mm]\n0,0   1,5\n1,0   1,6\n2,0   1,7\n", "decimal comma"),
    "units behind a word": (b"Zeit in s;Weg in mm\n0;1,5\n1;1,6\n2;1,7\n", "decimal comma"),
    "a row written twice": (
        b"t [s],x [mm]\n0,1.5\n1,1.6\n1,1.6\n2,1.7\n", "1 rows that repeat"),
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
    ("x [mm];y [mm]\n0;1.234\n10;2.345\n20;987\n", {}, r"'1.234' may be a decimal .*decimal="),
    ("t [s],x [mm]\n0,1.5\n1,1.6\n\nx [mm],w [um]\n0,5\n1,6\n", {}, "line 5: another table"),
    ("t [s],x [mm]\n0,1.5\n1,1.6\n1,1.7\n2,1.8\n", {}, r"1 rows have the t .*duplicates="),
    ("2026-05-31 14:03:05 INFO a=1 mm\n2026-05-31 14:03:06 WARN full\n", {}, "numbers alone"),
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


def test_a_choice_for_repeated_times_is_always_taken(tmp_path: Path) -> None:
    path = tmp_path / "twice.csv"
    path.write_text("t [s],x [mm]\n0,1\n0,2\n0,6\n1,3\n1,5\n")  # a clock of whole seconds
    assert len(files.read(path)) == 5
    assert "coarser" in " ".join(files.read(path).notes)
    mean = files.read(path, duplicates="mean")
    assert mean["x"].magnitude.tolist() == [3.0, 4.0]  # (1 + 2 + 6) / 3, (3 + 5) / 2
    assert "coarser" not in " ".join(mean.notes)


def test_formulas_that_failed_in_a_spreadsheet_are_no_value(tmp_path: Path) -> None:
    path = tmp_path / "sheet.csv"
    path.write_text("x [mm];y [mm]\n1;\n2;#DIV/0!\n3;#NV\n#N/A;4\n5;5\n")
    table = files.read(path)
    assert np.isnan(table["y"].magnitude).tolist() == [True, True, True, False, False]
    assert np.isnan(table["x"].magnitude).tolist() == [False, False, False, True, False]
    assert "4 cells are empty or say that they have no value; nan, the first in line 2" in " ".join(
        table.notes
    )


def test_points_that_may_part_thousands_are_told(tmp_path: Path) -> None:
    path = tmp_path / "points.csv"
    path.write_text("x [mm];y [mm]\n1.234;2.345\n2.345;3.456\n")
    assert 'pass decimal=","' in " ".join(files.read(path).notes)
    grouped = files.read(path, decimal=",")
    assert grouped["x"].magnitude.tolist() == [1234.0, 2345.0]
    path.write_text("x [mm];y [mm]\n0.234;2.345\n2.345;3.456\n")  # 0.234 parts no thousands
    assert not files.read(path).notes


@pytest.mark.parametrize(
    ("head", "name", "unit"),
    [
        ("Beschl. in m/s²", "Beschl.", "m/s^2"),
        ("accel m/s^2", "accel", "m/s^2"),
        ("ax_m_s2", "ax", "m/s^2"),
        ("speed_mm_per_s", "speed", "mm/s"),
        ("ax/(m/s2)", "ax", "m/s^2"),
        ("v/(mm/s)", "v", "mm/s"),
        ("F/N", "F", "N"),
    ],
)
def test_a_unit_with_a_stroke_is_not_cut(head: str, name: str, unit: str, tmp_path: Path) -> None:
    path = tmp_path / "heads.csv"
    path.write_text(f"t [s],{head}\n0,1\n1,2\n2,3\n", encoding="utf-8")
    table = files.read(path)
    assert table[name].to(unit).magnitude.tolist() == [1.0, 2.0, 3.0]


def test_times_that_are_all_equal_are_told(tmp_path: Path) -> None:
    path = tmp_path / "day.csv"
    path.write_text("date,x [mm]\n2026-05-31,1\n2026-05-31,2\n2026-05-31,3\n")
    assert "all its times are equal" in " ".join(files.read(path).notes)


def test_rows_below_a_spreadsheet_table_are_left_out(tmp_path: Path) -> None:
    path = tmp_path / "sheet.csv"
    path.write_text("x [mm];y [mm];;\n1;2;;\n2;3;;\n;;;\n;;;\n")
    table = files.read(path)
    assert table["x"].magnitude.tolist() == [1.0, 2.0]
    assert "2 rows without any value were left out." in table.notes


def test_the_first_of_descending_rows_is_the_first_of_the_file(tmp_path: Path) -> None:
    path = tmp_path / "down.csv"
    path.write_text("t [s],x [mm]\n3,4\n2,3.5\n2,3.4\n1,2\n")
    assert files.read(path, duplicates="first")["x"].magnitude.tolist() == [2.0, 3.5, 4.0]
    assert files.read(path, duplicates="last")["x"].magnitude.tolist() == [2.0, 3.4, 4.0]


def test_heads_that_are_too_many_are_told(tmp_path: Path) -> None:
    path = tmp_path / "heads.csv"
    path.write_text("x (mm, left rail),y (mm)\n1,2\n2,3\n")
    with pytest.raises(TableError, match=r"no unit.*3 heads for 2 columns"):
        files.read(path)


def test_marks_that_nobody_sees_change_nothing(tmp_path: Path) -> None:
    path = tmp_path / "marks.csv"
    path.write_text("\ufeff\ufefft [s];x [mm]\n0;\u00a01,5\n1;1,6\u200b\n2;1,7\n", encoding="utf-8")
    table = files.read(path)
    assert table["t"].magnitude.tolist() == [0.0, 1.0, 2.0]
    assert table["x"].magnitude.tolist() == [1.5, 1.6, 1.7]


def test_shares_with_their_sign_are_words_and_told(tmp_path: Path) -> None:
    path = tmp_path / "shares.csv"
    path.write_text("x (mm);share\n1;50%\n2;60%\n")
    table = files.read(path)
    assert list(table["share"]) == ["50%", "60%"]
    assert "share is kept as words, such as '50%'; none is a number." in table.notes


def test_a_first_row_with_a_slip_is_no_head(tmp_path: Path) -> None:
    path = tmp_path / "slip.csv"
    path.write_text("t (s),x (mm)\n0,1O.5\n1,2\n2,3\n3,4\n")  # a letter O
    table = files.read(path)
    assert table["x"].magnitude.tolist() == [2.0, 3.0, 4.0]
    assert "1 lines that are no rows were left out, the first in line 2: '0,1O.5'." in table.notes


def test_sensors_in_turn_without_a_name_are_a_choice(tmp_path: Path) -> None:
    path = tmp_path / "turns.csv"
    rng = np.random.default_rng(1)
    rows = "".join(
        f"{n},{rng.normal(0, 0.1):.3f}\n{n},{rng.normal(9.8, 0.1):.3f}\n" for n in range(50)
    )
    path.write_text("t [ms],a [m/s^2]\n" + rows)
    with pytest.raises(TableError, match=r"each time stands 2 times.*sensor=1 to sensor=2"):
        files.read(path)
    second = files.read(path, sensor=2)
    assert len(second) == 50
    assert second["a"].magnitude.mean() == pytest.approx(9.8, abs=0.1)
    assert "Of 2 sensors that take turns, 2 was taken: 50 rows." in second.notes
    assert len(files.read(path, sensor="all")) == 100
    mean = files.read(path, sensor="all", duplicates="mean")  # as told, for whoever wants it
    assert mean["a"].magnitude.mean() == pytest.approx(4.9, abs=0.1)
    with pytest.raises(TableError, match="sensor is a number from 1 to 2; got 3"):
        files.read(path, sensor=3)


def test_one_sensor_on_a_coarse_clock_is_not_taken_for_two(tmp_path: Path) -> None:
    path = tmp_path / "coarse.csv"
    swing = np.sin(0.7 * np.arange(100))
    path.write_text(
        "t [ms],a [m/s^2]\n" + "".join(f"{n // 2},{v:.3f}\n" for n, v in enumerate(swing))
    )
    table = files.read(path)
    assert len(table) == 100
    assert "coarser" in " ".join(table.notes)


def test_names_of_sensors_are_found_whatever_their_head(tmp_path: Path) -> None:
    path = tmp_path / "names.csv"
    path.write_text("t [ms];where;a [m/s^2]\n0;head;1\n0;beam;2\n1;head;3\n1;beam;4\n2;head;5\n")
    with pytest.raises(TableError, match=r"take turns: 'head', 'beam'. Pass one, such as sensor="):
        files.read(path)
    assert files.read(path, sensor="beam")["a"].magnitude.tolist() == [2.0, 4.0]
    path.write_text("t [ms];where;a [m/s^2]\n0;left;1\n1;right;2\n2;left;3\n3;right;4\n")
    assert len(files.read(path)) == 4  # two places in turn, each at a time of its own
