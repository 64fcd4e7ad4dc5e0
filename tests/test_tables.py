"""Tables of data: what a cell may hold, and that every mistake is told with its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from mathlib import Range, tables
from mathlib.errors import TableError
from mathlib.ranges import KINDS
from mathlib.units import QUANTITY

HEAD = "name,width [mm],force [N],kind,source,checked,note\n"
NAMES = sorted(path.stem for path in tables.DATA.glob("*.csv"))


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(tables, "DATA", tmp_path)
    return tmp_path


def write(folder: Path, text: str) -> None:
    (folder / "trial.csv").write_text(text, encoding="utf-8")


def test_a_table_is_read(folder: Path) -> None:
    write(
        folder, HEAD + 'a,9,1..2..3,estimate,"a book, p. 5",2026-01-01,\nb,,4,measured,me,2026,x\n'
    )
    found = tables.read("trial").rows
    assert list(found) == ["a", "b"]
    width, force = found["a"].values["width"], found["a"].values["force"]
    assert isinstance(width, QUANTITY)
    assert str(width) == "9 mm"
    assert force == Range("1 N", "2 N", "3 N", "a book, p. 5", "estimate")
    assert list(found["b"].values) == ["force"]
    assert found["b"].note == "x"


def test_a_column_may_hold_texts(folder: Path) -> None:
    head = "name,colour [text],width [mm],kind,source,checked\n"
    write(folder, head + "a, 18 t^0.75 J ,9,estimate,book,2026\nb,,9,estimate,book,2026\n")
    rows = tables.read("trial").rows
    assert [row.texts for row in rows.values()] == [{"colour": "18 t^0.75 J"}, {}]
    assert list(rows["a"].values) == ["width"]


def test_a_cell_may_hold_a_line_break(folder: Path) -> None:
    write(folder, HEAD + 'a,9,1,estimate,"a book,\npage 5",2026,\nb,9,x,measured,me,2026,\n')
    with pytest.raises(TableError, match=r"trial\.csv, line 4: force: 'x' is neither"):
        tables.read("trial")


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("a,9,1,estimate,book,2026", "line 2: 6 cells under 7 heads"),
        (
            "a,9 mm,1,estimate,book,2026,",
            "width: '9 mm' is neither a number nor low..typical..high",
        ),
        ("a,nan,1,estimate,book,2026,", "width: 'nan' is neither"),
        ("a,inf,1,estimate,book,2026,", "width: 'inf' is neither"),
        ("a,1e400,1,estimate,book,2026,", "width: '1e400' is neither"),
        ("a,1_000,1,estimate,book,2026,", "width: '1_000' is neither"),
        ("a,1..2,1,estimate,book,2026,", "width: '1..2' is neither"),
        ("a,3..2..1,1,estimate,book,2026,", "width: Range: low, typical and high are out of order"),
        ("a,9,1,estimate,,2026,", "source is empty"),
        ("a,9,1,estimate,book,,", "checked is empty"),
        (",9,1,estimate,book,2026,", "name is empty"),
        ("a,9,1,guess,book,2026,", "kind is one of measured, catalogue, estimate"),
        ("a,9,1,estimate,b,2026,\na,9,1,estimate,b,2026,", "line 3: a second row 'a'"),
    ],
)
def test_a_wrong_row_is_told_with_its_line(folder: Path, row: str, told: str) -> None:
    write(folder, HEAD + row + "\n")
    with pytest.raises(TableError, match=told):
        tables.read("trial")


def test_all_mistakes_of_a_table_come_at_once(folder: Path) -> None:
    write(folder, HEAD + "a,x,y,estimate,,2026,\nb,9,1,guess,me,2026,\n")
    with pytest.raises(TableError) as caught:
        tables.read("trial")
    assert str(caught.value).count("\n") == 3


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "has no column name, kind, source, checked"),
        ("name,width [mm]\n", "has no column kind, source, checked"),
        ("name,name,kind,source,checked\n", "two columns of one name"),
        ("name,width [foo],kind,source,checked\na,9,estimate,me,2026\n", "no unit 'foo'"),
    ],
)
def test_a_wrong_head_is_told(folder: Path, text: str, told: str) -> None:
    write(folder, text)
    with pytest.raises(TableError, match=told):
        tables.read("trial")


def test_what_is_no_text_is_told(folder: Path) -> None:
    (folder / "trial.csv").write_bytes(b"name,\xff\xfe\n")
    with pytest.raises(TableError, match="is not text in UTF-8"):
        tables.read("trial")


def test_a_table_that_is_not_there(folder: Path) -> None:
    write(folder, HEAD)
    with pytest.raises(TableError, match=r"no table 'other'; there are trial\."):
        tables.read("other")


def test_a_changed_table_is_read_anew(folder: Path) -> None:
    import os

    write(folder, HEAD + "a,9,1,estimate,book,2026,\n")
    first = tables.read("trial")
    write(folder, HEAD + "b,9,1,estimate,book,2026,\n")
    os.utime(folder / "trial.csv", ns=(1, 1))
    second = tables.read("trial")
    assert list(second.rows) == ["b"]
    assert second.sha256 != first.sha256
    assert tables.hashes() == {"trial.csv": second.sha256}


@pytest.mark.parametrize("name", NAMES)
def test_every_row_that_ships_has_a_source(name: str) -> None:
    rows = tables.read(name).rows
    assert rows
    for row in rows.values():
        assert row.kind in KINDS
        assert len(row.source) > 5
        assert row.values
