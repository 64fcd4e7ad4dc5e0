"""Tables that people saved: each file is written here, so that what it holds is known."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib.errors import MathlibError, TableError
from mathlib.measure import files, text


def saved(folder: Path, content: str | bytes, name: str = "log.csv") -> Path:
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def told(table: files.Table) -> str:
    return "\n".join(table.notes)


def table_or_sentence(path: Path, **choices: Any) -> files.Table | None:
    """Read a file; a refusal must be one of ours and name the file."""
    try:
        return files.read(path, **choices)
    except MathlibError as fault:
        if str(path) not in str(fault):
            raise AssertionError("the sentence does not name the file") from fault
        return None


X, Y = [0.5, 1.0, 1.5], [10.25, -20.5, 30.0]
HEAD = "x [mm],power [mW]\n"
BODY = "0.5,10.25\n1.0,-20.5\n1.5,30.0\n"
WAYS: dict[str, str | bytes] = {
    "plain": HEAD + BODY,
    "mark of order": b"\xef\xbb\xbf" + (HEAD + BODY).encode(),
    "lines of Windows": (HEAD + BODY).replace("\n", "\r\n"),
    "lines of old": (HEAD + BODY).replace("\n", "\r"),
    "mixed ends": HEAD + "0.5,10.25\r\n1.0,-20.5\r1.5,30.0\n",
    "two bytes": "\ufeff".encode("utf-16-le") + (HEAD + BODY).encode("utf-16-le"),
    "two bytes, other order": b"\xfe\xff" + (HEAD + BODY).encode("utf-16-be"),
    "two bytes, unmarked": (HEAD + BODY * 1).encode("utf-16-le"),
    "tabs": (HEAD + BODY).replace(",", "\t"),
    "blanks": "x[mm] power[mW]\n  0.5   10.25\n  1.0  -20.5\n 1.5 30.0\n",
    "bars": (HEAD + BODY).replace(",", "|"),
    "semicolons, decimal comma": "x [mm];power [mW]\n0,5;10,25\n1,0;-20,5\n1,5;30,0\n",
    "tabs, decimal comma": "x [mm]\tpower [mW]\n0,5\t10,25\n1,0\t-20,5\n1,5\t30,0\n",
    "quotes": '"x [mm]","power [mW]"\n"0.5","10.25"\n"1.0","-20.5"\n"1.5","30.0"\n',
    "quotes, decimal comma": '"x [mm]","power [mW]"\n"0,5","10,25"\n"1,0","-20,5"\n"1,5","30,0"\n',
    "parentheses": "x (mm), power (mW)\n" + BODY,
    "slashes": "x/mm, power / mW\n" + BODY,
    "under": "x_mm, power_mW\n" + BODY,
    "unit row": "x,power\nmm,mW\n" + BODY,
    "unit row in brackets": "x;power\n[mm];[mW]\n" + BODY.replace(",", ";"),
    "comment head": "# saved by hand\n# x [mm], power [mW]\n" + BODY,
    "preamble": "Power meter\nSerial: 12\n\nGain 1,5\n" + HEAD + BODY,
    "stray delimiter": "x [mm],power [mW],\n" + BODY.replace("\n", ",\n"),
    "minus of print": (HEAD + BODY).replace("-", "\u2212"),
    "blank lines": HEAD + BODY.replace("\n", "\n\n"),
    "exponents": HEAD + "5e-1,1.025E+1\n1e0,-2.05e1\n.15e1,3.e1\n",
    "chatter": HEAD + "0.5,10.25\nok\nbusy: processing\n1.0,-20.5\n[12] T:23.1 /0.0\n1.5,30.0\n",
    "comments between": HEAD + "0.5,10.25\n# lamp on\n1.0,-20.5\n# 3,4\n1.5,30.0\n",
    "heads again": HEAD + "0.5,10.25\n" + HEAD + "1.0,-20.5\n1.5,30.0\n",
    "cut short": HEAD + "0.5,10.25\n7.5\n1.0,-20.5\n1.5,30.0\n1.\n",
    "turned round": HEAD + "1.5,30.0\n1.0,-20.5\n0.5,10.25\n",
}  # fmt: skip


@pytest.mark.parametrize("way", WAYS)
def test_one_table_in_many_ways(tmp_path: Path, way: str) -> None:
    table = files.read(saved(tmp_path, WAYS[way]))
    assert list(table.columns) == ["x", "power"]
    np.testing.assert_array_equal(table["x"].to("mm").magnitude, X)
    np.testing.assert_array_equal(table["power"].to("mW").magnitude, Y)
    assert len(table) == 3


@pytest.mark.parametrize(
    ("way", "words"),
    [
        ("chatter", "3 lines that are no rows were left out, the first in line 3: 'ok'"),
        ("comments between", "2 comment lines between the rows were left out, the first in line 3"),
        ("heads again", "heads come again 1 times, the first in line 3"),
        ("cut short", "2 lines are cut short and were left out, the first in line 3: '7.5'"),
        ("turned round", "x descended; the rows were turned round"),
        ("semicolons, decimal comma", "decimal comma"),
        ("stray delimiter", "1 columns without head and values were left out"),
        ("two bytes, unmarked", "UTF-16, although the file does not say so"),
    ],
)
def test_what_was_changed_is_told(tmp_path: Path, way: str, words: str) -> None:
    assert words in told(files.read(saved(tmp_path, WAYS[way])))


def test_a_clean_table_has_no_notes(tmp_path: Path) -> None:
    assert files.read(saved(tmp_path, WAYS["plain"])).notes == ()


REFUSED: list[tuple[str, dict[str, Any], str]] = [
    ("x,power\n" + BODY, {}, r'x, power have no unit.*units=\{"x": "mm", "power": "mm"\}'),
    ("x [furlong],y [mm]\n" + BODY, {}, "x has no unit.*x says 'furlong'"),
    ("t [ms],ax [counts]\n0,12\n1,15\n2,11\n", {}, r'counts of a device.*scale=\{"ax": "0.0039'),
    ("t [ms],left (g)\n0,0.12\n1,0.15\n2,0.11\n", {}, "g of left may be gravity or grams"),
    (HEAD + "0.5,9?\n1.0,8\n1.5,7\n", {}, 'line 2: 1 cells are in doubt.*doubtful="keep"'),
    (HEAD + "0.5,9\n", {"doubtful": "maybe"}, 'doubtful is "keep" or "drop"'),
    ("1,234\n1,245\n1,250\n", {}, 'line 1: .*two cells, or one number.*delimiter=","'),
    ("x [mm];y [mm]\n1,234;2,345\n1,235;2,346\n", {}, 'decimal comma or part thousands.*decimal="'),
    ("x [mm];y [mm]\n0,5;1.5\n0,6;1.7\n", {}, 'point .* and some a comma.*decimal=","'),
    ("t [s];x [mm]\n0;1\n1;2\n1;3\n2;4\n3;5\n4;6\n5;7\n", {}, "1 rows have the t.*duplicates="),
    ("t [s],sensor,x [mm]\n0,a,1\n0,b,2\n1,a,3\n1,b,4\n", {}, "take turns: 'a', 'b'.*sensor='a'"),
    ("t [s],sensor,x [mm]\n0,a,1\n0,b,2\n", {"sensor": "c"}, "no sensor 'c'; there are 'a', 'b'"),
    (HEAD + BODY, {"scan": 2}, "no scans side by side"),
    (HEAD + BODY, {"session": 1}, "sessions are told by a column of time"),
    (HEAD + BODY, {"sensor": 1}, "no column of sensors"),
    (HEAD + BODY, {"units": {"z": "mm"}}, "no column 'z'; there are 'x', 'power'"),
    (HEAD + BODY, {"units": {"x": "mn"}}, "units of x: there is no unit"),
    (HEAD + BODY, {"names": ["x"]}, "there are 2 columns; names has 1"),
    (HEAD + BODY, {"time": "t"}, "time names 't'"),
    (HEAD + BODY, {"delimiter": ":"}, "delimiter is one of"),
    (HEAD + BODY, {"delimiter": ";"}, "no table with the delimiter ';'"),
    (HEAD + BODY, {"decimal": ";"}, 'decimal is "." or ","'),
    ("t [s],ax [counts]\n0,1\n1,2\n2,3\n", {"scale": "big"}, "scale of ax"),
    ("a,b,c\n0,5,1,5,2,5\n0,6,1,6,2,5\n", {}, "6 cells stand under 3 heads"),
    ("only words here\nand there\n", {}, "no table of numbers in it; the first line is 'only"),
    ("", {}, "the file is empty"),
    ("\n\n\n", {}, "no table of numbers"),
    ("t [s],x [mm]\n1780000000000,1\n1780000000100,2\n", {}, 'look like ms since 1970: pass units'),
    ("x1 [mm],y1 [mm],x2 [m],y2 [mm]\n1,2,3,4\n2,3,4,5\n", {}, "x in several units"),
]  # fmt: skip


@pytest.mark.parametrize(("content", "choices", "words"), REFUSED)
def test_what_cannot_be_decided_names_the_choice(
    tmp_path: Path, content: str, choices: dict[str, Any], words: str
) -> None:
    with pytest.raises(TableError, match=r"(?s)log\.csv.*" + words):
        files.read(saved(tmp_path, content), **choices)


def test_binary_absent_and_large(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(TableError, match="binary"):
        files.read(saved(tmp_path, b"\x89PNG\r\n\x1a\n\x00\x01\x02\x03" * 5))
    with pytest.raises(TableError, match="no such file"):
        files.read(tmp_path / "none.csv")
    with pytest.raises(TableError, match="folder"):
        files.read(tmp_path)
    path = saved(tmp_path, HEAD + BODY)
    monkeypatch.setattr(text, "LARGEST", 10)
    with pytest.raises(TableError, match="more than is read at once"):
        files.read(path)


def test_choices_decide(tmp_path: Path) -> None:
    doubt = saved(tmp_path, HEAD + "0.5,9?\n1.0,8\n1.5,~7\n")
    np.testing.assert_array_equal(files.read(doubt, doubtful="keep")["power"].magnitude, [9, 8, 7])
    dropped = files.read(doubt, doubtful="drop")
    np.testing.assert_array_equal(dropped["power"].magnitude, [np.nan, 8, np.nan])
    assert "2 cells are in doubt, the first in line 2: '9?'; they are nan" in told(dropped)
    bare = saved(tmp_path, BODY)
    table = files.read(bare, names=["x", "p [mW]"], units={"x": "um"})
    np.testing.assert_allclose(table["x"].to("mm").magnitude, np.array(X) / 1000, rtol=1e-15)
    groups = saved(tmp_path, "x [mm];y [mm]\n1,234;2,345\n1,235;2,346\n")
    assert files.read(groups, decimal=",")["x"].magnitude[0] == 1.234
    assert files.read(groups, decimal=".")["x"].magnitude[0] == 1234.0
    pair = saved(tmp_path, "1,234\n1,245\n1,250\n")
    two = files.read(pair, delimiter=",", units={"column 1": "mm", "column 2": "mm"})
    assert two["column 2"].magnitude[0] == 234
    one = files.read(pair, delimiter="", decimal=",", units={"column 1": "mm"})
    assert one["column 1"].magnitude[0] == 1.234


def test_thousands_and_decimals_of_two_countries(tmp_path: Path) -> None:
    german = saved(tmp_path, "x [mm];y [mm]\n1.234,5;0,25\n2.345,5;0,5\n")
    np.testing.assert_array_equal(files.read(german)["x"].magnitude, [1234.5, 2345.5])
    english = saved(tmp_path, "x [mm];y [mm]\n1,234.5;0.25\n2,345.5;0.5\n")
    np.testing.assert_array_equal(files.read(english)["x"].magnitude, [1234.5, 2345.5])
    swiss = saved(tmp_path, "x [mm];y [mm]\n1'234.5;0.25\n2'345.5;0.5\n")
    np.testing.assert_array_equal(files.read(swiss)["x"].magnitude, [1234.5, 2345.5])


def test_counts_take_their_scale(tmp_path: Path) -> None:
    path = saved(tmp_path, "t [ms],ax [counts],ay [LSB]\n0,100,-50\n1,200,0\n2,0,4\n")
    table = files.read(path, scale="0.0039 gn")
    # by hand: 100 counts of 0.0039 gn are 0.39 gn = 0.39 * 9.80665 = 3.8245935 m/s^2
    assert table["ax"].to("m/s^2").magnitude[0] == pytest.approx(3.8245935, rel=1e-12)
    both = files.read(path, scale={"ax": "0.0039 gn", "ay": "0.001 gn"})
    assert both["ay"].to("m/s^2").magnitude[0] == pytest.approx(-0.05 * 9.80665, rel=1e-12)
    assert "one count is" in told(both)


def test_g_of_an_accelerometer_is_gravity(tmp_path: Path) -> None:
    table = files.read(saved(tmp_path, "time (s),accel_x (g),acc_y [mg]\n0,1,500\n1,0,0\n2,1,2\n"))
    assert table["accel_x"].to("m/s^2").magnitude[0] == pytest.approx(9.80665, rel=1e-12)
    assert table["acc_y"].to("m/s^2").magnitude[0] == pytest.approx(4.903325, rel=1e-12)
    weight = files.read(saved(tmp_path, "n,weight (g)\n1,250\n2,300\n"))
    assert weight["weight"].to("kg").magnitude[0] == 0.25


def test_cells_without_value(tmp_path: Path) -> None:
    words = ["nan", "", "n/a", "-", "OL", "NaN", "#N/A", "NULL", "overload"]
    rows = "".join(f"{n},{word}\n" for n, word in enumerate([*words, "5"]))
    table = files.read(saved(tmp_path, "x [mm],power [mW]\n" + rows))
    np.testing.assert_array_equal(np.isnan(table["power"].magnitude), [True] * 9 + [False])
    assert "7 cells are empty or say that they have no value" in told(table)
    assert "2 cells say that the instrument was beyond its range" in told(table)


def test_scans_side_by_side_of_unequal_length(tmp_path: Path) -> None:
    path = saved(
        tmp_path, "x [mm],p [mW],x [mm],p [mW]\n1,10,1,20\n2,11,2,21\n3,12,,\n", "scan.csv"
    )
    table = files.read(path)
    np.testing.assert_array_equal(table["x"].magnitude, [1, 2, 3, 1, 2])
    np.testing.assert_array_equal(table["scan"].magnitude, [1, 1, 1, 2, 2])
    assert "2 scans stand side by side" in told(table)
    np.testing.assert_array_equal(files.read(path, scan=2)["p"].magnitude, [20, 21])
    numbered = saved(tmp_path, "x1 [mm];y1 [um];x2 [mm];y2 [um]\n1;2;3;4\n2;3;4;5\n")
    np.testing.assert_array_equal(files.read(numbered, scan=2)["x"].magnitude, [3, 4])


def test_sensors_in_turn(tmp_path: Path) -> None:
    rows = "".join(f"{n},{'left' if n % 2 else 'right'},{n * 0.5}\n" for n in range(100))
    path = saved(tmp_path, "t [ms],sensor,acc [m/s^2]\n" + rows)
    table = files.read(path, sensor="left")
    np.testing.assert_array_equal(table["acc"].magnitude, np.arange(1, 100, 2) * 0.5)
    assert set(table["sensor"]) == {"left"}
    assert "'left' was taken: 50 of 100 rows" in told(table)
    numbers = saved(tmp_path, "t [ms],id,acc [m/s^2]\n0,1,5\n0,2,6\n1,1,7\n1,2,8\n")
    np.testing.assert_array_equal(files.read(numbers, sensor=2)["acc"].magnitude, [6, 8])


def test_epochs_moments_and_times_of_day(tmp_path: Path) -> None:
    epoch = saved(tmp_path, "timestamp,ax (g)\n1780000000000,1\n1780000000250,2\n1780000000500,3\n")
    table = files.read(epoch)
    np.testing.assert_array_equal(table["timestamp"].to("s").magnitude, [0, 0.25, 0.5])
    # 1 780 000 000 s are 20601 days of 86400 s and 73600 s; day 20601 is 2026-05-28, at 20:26:40
    assert "since 1970 in ms" in told(table)
    assert "2026-05-28 20:26:40 UTC" in told(table)
    moments = saved(
        tmp_path,
        "date,x [mm]\n2026-05-31 10:00:00.5,1\n2026-05-31 10:00:01,2\n2026-05-31T10:00:02,3\n",
    )
    np.testing.assert_allclose(files.read(moments)["date"].magnitude, [0, 0.5, 1.5], atol=1e-6)
    day = saved(tmp_path, "time;x [mm]\n23:59:59,5;1\n00:00:00,5;2\n00:00:01,5;3\n")
    np.testing.assert_allclose(files.read(day)["time"].magnitude, [0, 1, 2], atol=1e-9)


def test_dates_as_people_write_them(tmp_path: Path) -> None:
    start = "2026-11-24 14:03:05."  # no zone is told
    for stamps in (
        ("24.11.2026 14:03:05", "24.11.2026 14:03:06", "24.11.2026 14:03:08"),
        ("24.11.26 14:03:05", "24.11.26 14:03:06", "24.11.26 14:03:08"),
        ("11/24/2026 2:03:05 PM", "11/24/2026 2:03:06 PM", "11/24/2026 2:03:08 PM"),
        ("24/11/2026 14:03:05", "24/11/2026 14:03:06", "24/11/2026 14:03:08"),
        ("24.11.2026;14:03:05", "24.11.2026;14:03:06", "24.11.2026;14:03:08"),
        ("2026-11-24;14:03:05", "2026-11-24;14:03:06", "2026-11-24;14:03:08"),
    ):
        head = "day;time;x [mm]" if ";" in stamps[0] else "time;x [mm]"
        rows = "".join(f"{stamp};{n},5\n" for n, stamp in enumerate(stamps))
        table = files.read(saved(tmp_path, f"{head}\n{rows}"))
        assert table.time == "time"
        np.testing.assert_allclose(table["time"].to("s").magnitude, [0, 1, 3], atol=1e-6)
        assert start in told(table)
    noon = saved(tmp_path, "time,x [mm]\n11/24/2026 11:59:59 AM,1\n11/24/2026 12:00:01 PM,2\n")
    np.testing.assert_allclose(files.read(noon)["time"].magnitude, [0, 2], atol=1e-6)
    short = saved(tmp_path, "time;x [mm]\n24.11.2026 14:03;1,5\n24.11.2026 14:05;2,5\n")
    np.testing.assert_allclose(files.read(short)["time"].magnitude, [0, 120], atol=1e-6)


def test_a_date_that_may_be_read_two_ways_is_refused(tmp_path: Path) -> None:
    path = saved(tmp_path, "time,x [mm]\n05/06/2026 23:59:59,1\n06/06/2026 00:00:01,2\n")
    with pytest.raises(TableError, match=r'dates="day first" or dates="month first"'):
        files.read(path)
    # Five past six is 5 June or 6 May. From 6 May to 6 June are 31 days, from 23:59:59 on the first
    # to 0:00:01 on the last 30 days and 2 s.
    np.testing.assert_allclose(files.read(path, dates="day first")["time"].magnitude, [0, 2])
    apart = files.read(path, dates="month first")["time"].magnitude
    np.testing.assert_allclose(apart, [0, 30 * 86400 + 2], atol=1e-6)
    with pytest.raises(TableError, match="dates is"):
        files.read(path, dates="year first")


def test_a_column_of_time_that_holds_words_is_refused(tmp_path: Path) -> None:
    rows = "".join(f"{word},{n}.5,2.5\n" for n, word in enumerate(("one", "two", "three")))
    path = saved(tmp_path, "time,x [mm],y [mm]\n" + rows)
    with pytest.raises(TableError, match="time should hold times, and holds words such as 'one'"):
        files.read(path)


@pytest.mark.parametrize("first", ["sep=;\r\n", '"sep=;"\r\n', "\ufeffsep=;\r\n"])
def test_the_line_that_names_the_delimiter_is_no_head(tmp_path: Path, first: str) -> None:
    table = files.read(saved(tmp_path, first + "t [s];x [mm]\r\n0,1;2,5\r\n0,2;3,5\r\n"))
    assert list(table.columns) == ["t", "x"]
    np.testing.assert_array_equal(table["x"].magnitude, [2.5, 3.5])


def test_jitter_missing_samples_and_gaps_are_told(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    t = np.arange(2000) / 1000 + rng.uniform(-1e-4, 1e-4, 2000)
    t = np.delete(t, [300, 301, 900])
    t[1500:] += 60.0
    content = "t [s],ax [m/s^2]\n" + "".join(f"{a:.6f},1.5\n" for a in t)
    table = files.read(saved(tmp_path, content))
    assert "about 3 samples are missing, in 2 places" in told(table)
    assert "the steps jitter by 8%" in told(table)  # 0.2 / sqrt(12) * sqrt(2) = 8.2 %
    assert [s.stop - s.start for s in table.sessions] == [1500, 497]
    assert "2 sessions with gaps between them (1500 rows, 497 rows)" in told(table)
    assert len(files.read(saved(tmp_path, content), session=2)) == 497


def test_a_clock_that_starts_anew_parts_sessions(tmp_path: Path) -> None:
    once = "".join(f"{n / 100:.2f},{n}\n" for n in range(200))
    table = files.read(saved(tmp_path, "t [s],ax [m/s^2]\n" + once + once))
    assert [s.stop - s.start for s in table.sessions] == [200, 200]


def test_a_coarse_clock_is_no_error(tmp_path: Path) -> None:
    content = "t [ms],ax [m/s^2]\n" + "".join(f"{n // 3},{n}\n" for n in range(900))
    table = files.read(saved(tmp_path, content))
    assert len(table) == 900
    assert "resolution is coarser than the sampling" in told(table)


def test_repeats(tmp_path: Path) -> None:
    rows = "0,1\n1,2\n1,2\n2,3\n3,4\n4,5\n5,5\n5,6\n6,7\n7,8\n8,9\n9,9\n10,9\n"
    path = saved(tmp_path, "t [s],x [mm]\n" + rows)
    mean = files.read(path, duplicates="mean")
    np.testing.assert_array_equal(mean["t"].magnitude, np.arange(11))
    assert mean["x"].magnitude[5] == 5.5
    assert files.read(path, duplicates="first")["x"].magnitude[5] == 5
    assert files.read(path, duplicates="last")["x"].magnitude[5] == 6
    assert len(files.read(path, duplicates="keep")) == 13
    assert "1 rows that repeat the one before exactly were left out" in told(mean)


def test_late_rows_are_put_in_order(tmp_path: Path) -> None:
    t = list(range(100))
    t[50], t[51] = t[51], t[50]
    table = files.read(saved(tmp_path, "t [s],x [mm]\n" + "".join(f"{a},{a}\n" for a in t)))
    np.testing.assert_array_equal(table["x"].magnitude, np.arange(100))
    assert "1 rows came late" in told(table)


def test_letters_outside_ascii(tmp_path: Path) -> None:
    path = saved(tmp_path, "x [µm],angle [°]\n1,2\n3,4\n".encode("cp1252"))
    table = files.read(path)
    assert table["x"].to("mm").magnitude[0] == pytest.approx(1e-3, rel=1e-12)
    assert "Windows-1252" in told(table)


@pytest.mark.parametrize("size", [50, 333, 4096])
def test_blocks_leave_no_seam(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, size: int) -> None:
    """The same file in blocks of any size gives the same numbers, ends of lines split or not."""
    rng = np.random.default_rng(size)
    values = rng.normal(size=(500, 3)).round(4)
    lines = [",".join(f"{v:.4f}" for v in row) for row in values]
    for at in (100, 250, 400):
        lines.insert(at, "echo: working\r\n# 1,2,3")
    content = "a [mm],b [mm],c [mm]\r\n" + "\r\n".join(lines) + "\r\n"
    monkeypatch.setattr(text, "BLOCK", size)
    table = files.read(saved(tmp_path, content))
    np.testing.assert_array_equal(np.column_stack([table[c].magnitude for c in "abc"]), values)
    assert "3 lines that are no rows were left out, the first in line 102" in told(table)


@given(st.binary(max_size=400))
def test_any_bytes_give_a_table_or_a_sentence(tmp_path_factory: Any, content: bytes) -> None:
    path = saved(tmp_path_factory.mktemp("any"), content)
    table = table_or_sentence(path)
    if table is not None:
        assert len(table) > 0


_CELL = st.sampled_from(
    ["1", "-2.5", "3,5", "1e3", "9?", "nan", "", "OL", "x", "t [ms]", "a (g)", "1.234,5", '"',
     '"1,5"', "1e999", "2026-05-31 10:00", "10:00:01", "#", "1780000000000", "−5", "left", "1_0",
     "0x1f", "--", "1 2", "9" * 70, "00:99:99", "9999-99-99", "\x1f"]
)  # fmt: skip


@given(
    st.lists(st.lists(_CELL, min_size=1, max_size=5), min_size=1, max_size=12),
    st.sampled_from([",", ";", "\t", "|", " "]),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.sampled_from(
        [{}, {"units": {}}, {"doubtful": "keep"}, {"scale": "1 mm"}, {"duplicates": "mean"},
         {"decimal": ","}, {"decimal": "."}, {"delimiter": ""}, {"sensor": "all"}, {"scan": 1},
         {"session": 1}]
    ),
)  # fmt: skip
def test_any_cells_give_a_table_or_a_sentence(
    tmp_path_factory: Any, rows: list[list[str]], mark: str, end: str, choices: dict[str, Any]
) -> None:
    content = end.join(mark.join(row) for row in rows) + end
    path = saved(tmp_path_factory.mktemp("any"), content)
    table = table_or_sentence(path, **choices)
    if table is not None:
        lengths = {len(column.magnitude) for column in table.columns.values()}
        assert lengths <= {len(table)}


@pytest.mark.slow
@given(st.data())
def test_many_spoiled_files(tmp_path_factory: Any, data: Any) -> None:
    """A good file with bytes changed, cut out and doubled never ends in anything but a sentence."""
    good = bytearray((HEAD + BODY * 20 + "ok\n" + BODY * 20).encode())
    for _ in range(data.draw(st.integers(1, 12))):
        at = data.draw(st.integers(0, max(0, len(good) - 1)))
        deed = data.draw(st.sampled_from(["set", "cut", "double"]))
        if deed == "set" and good:
            good[at] = data.draw(st.integers(0, 255))
        elif deed == "cut":
            del good[at : at + data.draw(st.integers(1, 30))]
        else:
            good[at:at] = good[at : at + 20]
    path = saved(tmp_path_factory.mktemp("any"), bytes(good))
    table = table_or_sentence(path, doubtful="drop")
    assert table is None or len(table) > 0
