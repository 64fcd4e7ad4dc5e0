"""The command line: what it prints and writes, and one clear sentence for each mistake."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from mathlib import answers, machine
from mathlib.__main__ import main
from mathlib.machine import TAGMAKER, VARIABLE


def shell(*arguments: str | Path, folder: Path, **environment: str) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "-P", "-m", "mathlib", *map(str, arguments)],
        cwd=folder,
        env=os.environ | environment,
        capture_output=True,
        timeout=120,
    )


@pytest.fixture
def here(tmp_path, monkeypatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv(VARIABLE, raising=False)
    return tmp_path


def toml(folder: Path, old: str, new: str) -> Path:
    text = TAGMAKER.read_text(encoding="utf-8")
    assert old in text
    path = folder / "mine.toml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    return path


def test_record_prints_and_writes_beside_each_other(here):
    done = shell("record", TAGMAKER, folder=here)
    assert done.returncode == 0
    printed, progress = done.stdout.decode(), done.stderr.decode().splitlines()
    assert printed.startswith("Record of Tagmaker, crossed belts, ")
    assert "Written: " + str(Path("records") / "record_tagmaker.html") in printed
    assert [path.name for path in sorted((here / "records").iterdir())] == [
        "record_tagmaker.html",
        "record_tagmaker.json",
    ]
    stored = json.loads((here / "records" / "record_tagmaker.json").read_text(encoding="utf-8"))
    assert stored["answers"]["step"]["values"]["steps_per_length"]["number"] == pytest.approx(160)
    of = len(answers.NAMES)
    assert len(progress) == of
    assert all(line.startswith(f"{n} of {of}: ") for n, line in enumerate(progress, start=1))


def test_record_without_a_file_takes_the_same_choice_as_everything_else(here, capsys, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(TAGMAKER.with_name("tagmaker_plain.toml")))
    assert main(["record", "-o", "a/b"]) == 0
    assert capsys.readouterr().out.startswith("Record of Tagmaker, plain axes, ")
    assert (here / "a" / "b" / "record_tagmaker_plain.html").is_file()


def test_check_says_what_the_file_is(here, capsys):
    assert main(["check", str(TAGMAKER)]) == 0
    printed = capsys.readouterr().out
    assert printed.startswith("Tagmaker, crossed belts (crossed belts, from ")
    assert "measured: none" in printed
    assert "estimates, worth measuring: motor.holding_torque, " in printed
    assert "belt.specific_stiffness, carriage.mass, " in printed
    assert "How small is the spot?" in printed


def test_check_does_not_blame_a_file_for_what_it_leaves_out(here, capsys):
    path = toml(here, '[heads.laser]\nlike = "blue diode, one emitter, 5.5 W"\n', "")
    assert main(["check", str(path)]) == 0
    assert "Left open: How small is the spot? This machine has no laser" in capsys.readouterr().out


def test_check_lists_all_mistakes_at_once(here, capsys):
    path = toml(here, 'travel_x = "420 mm"', 'travel_x = "420"\ntravel_z = "1 mm"')
    assert main(["check", str(path)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "2 mistakes" in told.err
    assert "machine.travel_x" in told.err
    assert "machine.travel_z" in told.err


def test_check_refuses_values_that_no_answer_can_use(here, capsys, monkeypatch):
    from mathlib.errors import ValueRefused

    def overflow(name, opened):
        raise ValueRefused("Step rate: the result is infinite.")

    monkeypatch.setattr(answers, "ask", overflow)
    assert main(["check", str(TAGMAKER)]) == 2
    assert "its values cannot be used.\n  Which motor? Step rate: the" in capsys.readouterr().err


def test_new_writes_a_file_that_passes_check_and_never_overwrites(here, capsys):
    assert main(["new", "my.toml"]) == 0
    assert main(["check", "my.toml"]) == 0
    before = (here / "my.toml").read_bytes()
    capsys.readouterr()
    assert main(["new", "my.toml"]) == 2
    assert capsys.readouterr().err == (
        "my.toml is there already and stays as it is; name another file.\n"
    )
    assert (here / "my.toml").read_bytes() == before
    assert [path.name for path in here.iterdir()] == ["my.toml"]


def test_formulas_prints_those_that_have_to_do_with_a_word(here, capsys):
    assert main(["formulas", "belt lag"]) == 0
    printed = capsys.readouterr().out
    assert printed.startswith("motion.steppers.belt_lag\n")
    assert "x = r * asin(T / T_h) / N_r" in printed
    assert "span_tension" not in printed


def test_formulas_names_the_nearest_words(here, capsys):
    assert main(["formulas", "stifness"]) == 2
    told = capsys.readouterr().err
    assert told.startswith("Nothing is called 'stifness'. Did you mean ")
    assert "stiffness" in told
    assert main(["formulas", "qqqq"]) == 2
    assert "See all with: python3 run.py formulas" in capsys.readouterr().err


def test_formulas_writes_the_reference(here, capsys):
    assert main(["formulas", "--html", "known.html"]) == 0
    text = (here / "known.html").read_text(encoding="utf-8")
    assert 'id="motion.belts.span_stiffness"' in text
    assert "<math" in text


BAD = {
    "missing file": (["record", "absent.toml"], "there is no such file"),
    "folder": (["record", "folder"], "is a folder; name the machine file in it"),
    "empty": (["check", "empty.toml"], "is empty"),
    "binary": (["check", "binary.toml"], "is a binary file"),
    "UTF-16": (["check", "utf16.toml"], "is in UTF-16; save it as UTF-8"),
    "Latin-1": (["check", "latin.toml"], "not UTF-8"),
    "not TOML": (["check", "prose.toml"], "this is not TOML"),
    "nested without end": (["check", "nested.toml"], "brackets within brackets"),
    "bare number": (["check", "bare.toml"], 'got the bare number 100. Write "100 mm/s"'),
    "wrong dimension": (["check", "kind.toml"], "job.speed = '100 mm': needs a speed"),
    "unknown unit": (["check", "unit.toml"], "there is no unit 'mmm'"),
    "not a number": (["check", "nan.toml"], "job.speed = nan"),
    "infinite": (["check", "inf.toml"], "job.speed = 'inf mm/s'"),
    "negative": (["check", "below.toml"], "job.speed = '-1 mm/s'"),
    "zero": (["check", "zero.toml"], "job.speed = '0 mm/s'"),
    "1e300": (["record", "huge.toml"], "job.speed = '1e300 mm/s'"),
    "folder is a file": (["record", "-o", "empty.toml"], "is a file, or lies below one"),
    "no place to write": (["new", "absent/my.toml"], "cannot be written: No such file"),
    "unknown command": (["recrod"], "invalid choice: 'recrod'"),
    "no command": ([], "required: COMMAND"),
    "unknown option": (["check", "--loud", "empty.toml"], "Unrecognized arguments: --loud"),
}
SPEEDS = {
    "bare": "100",
    "kind": '"100 mm"',
    "unit": '"100 mmm/s"',
    "nan": "nan",
    "inf": '"inf mm/s"',
    "below": '"-1 mm/s"',
    "zero": '"0 mm/s"',
    "huge": '"1e300 mm/s"',
}


@pytest.fixture(scope="module")
def bad(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("bad")
    (folder / "folder").mkdir()
    (folder / "empty.toml").write_bytes(b"")
    (folder / "binary.toml").write_bytes(b"\x00\x01\x02format")
    (folder / "utf16.toml").write_text("format = 1", encoding="utf-16")
    (folder / "latin.toml").write_bytes("format = 1 # 20 °C".encode("latin-1"))
    (folder / "prose.toml").write_text("a machine of mine")
    (folder / "nested.toml").write_text("x = " + "[" * 5000 + "]" * 5000)
    text = TAGMAKER.read_text(encoding="utf-8")
    for name, speed in SPEEDS.items():
        changed = text.replace('speed = "100 mm/s"', f"speed = {speed}")
        assert changed != text
        (folder / f"{name}.toml").write_text(changed, encoding="utf-8")
    return folder


@pytest.mark.parametrize("case", BAD)
def test_bad_input_gets_a_sentence_status_2_and_leaves_nothing(case, bad):
    arguments, sentence = BAD[case]
    before = {path: path.stat().st_size for path in bad.rglob("*")}
    done = shell(*arguments, folder=bad)
    told = done.stderr.decode()
    assert done.returncode == 2
    assert sentence in told
    assert "Traceback" not in told
    assert done.stdout == b""
    assert {path: path.stat().st_size for path in bad.rglob("*")} == before


def test_a_name_that_is_too_long_is_a_mistake_like_others(here, capsys):
    assert main(["check", "a" * 400]) == 2
    assert "too long" in capsys.readouterr().err


def test_a_failure_to_write_leaves_the_old_record(here, capsys, monkeypatch):
    folder = here / "records"
    folder.mkdir()
    (folder / "record_tagmaker.html").write_text("old")
    (folder / "record_tagmaker.json").mkdir()  # a folder cannot be replaced by a file
    assert main(["record", str(TAGMAKER)]) == 2
    assert "record_tagmaker.json cannot be written: " in capsys.readouterr().err
    assert [path.name for path in folder.glob(".*")] == []


def test_control_c_is_status_130(here, capsys, monkeypatch):
    def interrupted(path):
        raise KeyboardInterrupt

    monkeypatch.setattr(machine, "load", interrupted)
    assert main(["check", str(TAGMAKER)]) == 130
    assert capsys.readouterr().err == "Stopped.\n"


@pytest.mark.skipif(os.name == "nt", reason="signals differ there")
def test_a_reader_that_leaves_is_not_an_error(here):
    asked = [sys.executable, "-P", "-m", "mathlib", "check", str(TAGMAKER)]
    with subprocess.Popen(asked, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as run:
        run.stdout.close()
        told = run.stderr.read()
        run.wait(timeout=60)
    assert told == b""
    assert run.returncode == 128 + signal.SIGPIPE


def test_an_old_console_gets_utf_8(here):
    old = {"PYTHONUTF8": "0", "PYTHONIOENCODING": "cp1252"}
    done = shell("formulas", "rayleigh_length", folder=here, **old)
    assert done.returncode == 0
    assert "√2" in done.stdout.decode("utf-8")


def test_help_loads_nothing_heavy(here):
    seen = (
        "import sys\n"
        "from mathlib.__main__ import main\n"
        "try:\n    main(['--help'])\n"
        "except SystemExit as end:\n    assert end.code == 0\n"
        "print(sorted({'numpy', 'pint', 'sympy', 'matplotlib', 'jinja2'} & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", seen], capture_output=True, text=True, timeout=60)
    assert done.stdout.startswith("usage: python3 run.py")
    assert done.stdout.splitlines()[-1] == "[]"


def test_check_draws_and_typesets_nothing(here):
    seen = (
        "import sys\n"
        "from mathlib.__main__ import main\n"
        f"assert main(['check', {str(TAGMAKER)!r}]) == 0\n"
        "print(sorted({'matplotlib', 'jinja2', 'latex2mathml', 'xarray'} & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", seen], capture_output=True, text=True, timeout=60)
    assert done.stdout.splitlines()[-1] == "[]"


class TestCoupons:
    def fill(self, path: Path, limit: float) -> None:
        """Fill a table in as a builder would whose sheet ceases to sever at ``limit``, in mm/s."""
        lines = path.read_text(encoding="utf-8").splitlines()
        for n, line in enumerate(lines):
            cells = line.split(",")
            if len(cells) == 12 and cells[1] == "cut":
                cells[7] = "yes" if float(cells[3]) < limit else "no"
                lines[n] = ",".join(cells)
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")

    def test_a_plan_is_written_whole_once_supervision_is_confirmed(self, here, capsys):
        assert main(["coupons", "plan", str(TAGMAKER), "--supervised", "-o", "burn"]) == 0
        printed = capsys.readouterr().out
        assert "27 lines on" in printed
        assert "watch for half an hour" in printed
        names = sorted(path.name for path in (here / "burn").iterdir())
        stem = "coupons_birch_plywood_1"
        assert names == [
            f"{stem}.csv", f"{stem}.svg", f"{stem}_first_the_outline.nc", f"{stem}_program.nc",
        ]  # fmt: skip
        program = (here / "burn" / f"{stem}_program.nc").read_text(encoding="ascii")
        assert program.startswith("G17 G21 G90 G94 M5 S0\n")
        assert "mm/s" in (here / "burn" / f"{stem}.svg").read_text(encoding="utf-8")

    def test_without_confirmation_nothing_that_burns_is_written(self, here, capsys):
        assert main(["coupons", "plan", str(TAGMAKER), "-o", "burn"]) == 0
        printed = capsys.readouterr().out
        assert "supervision is not confirmed" in printed
        assert sorted(path.suffix for path in (here / "burn").iterdir()) == [".csv", ".svg"]
        drawn = next((here / "burn").glob("*.svg")).read_text(encoding="utf-8")
        assert "mm/s" not in drawn

    def test_without_the_controller_there_is_no_program_and_without_eyewear_nothing(
        self, here, capsys
    ):
        path = toml(here, "[beam_control]\nhighest_power_word = 1000\n", "[beam_control]\n")
        assert main(["coupons", "plan", str(path), "--supervised", "-o", "burn"]) == 0
        assert "does not state highest_power_word" in capsys.readouterr().out
        assert sorted(path.suffix for path in (here / "burn").iterdir()) == [".csv", ".svg"]
        path = toml(here, '[room]\nwatchers = "1 m"', "")
        assert main(["coupons", "plan", str(path), "--supervised", "-o", "other"]) == 2
        assert "does not state [room]" in capsys.readouterr().err
        assert not (here / "other").exists()

    def test_a_table_that_may_be_filled_in_is_never_replaced(self, here, capsys):
        assert main(["coupons", "plan", str(TAGMAKER)]) == 0
        table = here / "records" / "coupons_birch_plywood_1.csv"
        table.write_text("mine", encoding="utf-8")
        assert main(["coupons", "plan", str(TAGMAKER)]) == 2
        assert "stays as it is" in capsys.readouterr().err
        assert table.read_text(encoding="utf-8") == "mine"
        assert main(["coupons", "plan", str(TAGMAKER), "--seed", "2"]) == 0

    def test_a_filled_table_is_read_and_kept(self, here, capsys):
        assert main(["coupons", "plan", str(TAGMAKER)]) == 0
        table = here / "records" / "coupons_birch_plywood_1.csv"
        self.fill(table, 2.0)
        own = toml(here, "[job]\n", "[job]\n")
        before = own.read_text(encoding="utf-8")
        assert main(["coupons", "read", str(table)]) == 0
        printed = capsys.readouterr().out
        assert "Half of the lines sever at" in printed
        assert "6 of 6 severed" in printed
        assert "0 of 6 severed" in printed
        assert own.read_text(encoding="utf-8") == before
        assert main(["coupons", "read", str(table), "--keep", str(own)]) == 0
        assert machine.load(own).coupon.boundary_speed.to("mm/s").magnitude == pytest.approx(
            2.0, rel=0.15
        )
        assert own.read_text(encoding="utf-8").startswith(before)

    def test_examples_are_not_written_to(self, here, capsys):
        assert main(["coupons", "plan", str(TAGMAKER)]) == 0
        table = here / "records" / "coupons_birch_plywood_1.csv"
        self.fill(table, 2.0)
        before = TAGMAKER.read_bytes()
        assert main(["coupons", "read", str(table), "--keep", str(TAGMAKER)]) == 2
        assert "is an example" in capsys.readouterr().err
        assert TAGMAKER.read_bytes() == before

    @pytest.mark.parametrize(
        ("arguments", "said"),
        [
            (["plan", str(TAGMAKER), "--material", "vinyl"], "hydrogen chloride"),
            (["plan", str(TAGMAKER), "--material", "unobtanium"], "Do not burn a sample"),
            (["plan", str(TAGMAKER), "--thickness", "3"], "thickness"),
            (["plan", str(TAGMAKER), "--thickness", "40 mm"], "not severed"),
            (["plan", str(TAGMAKER), "--head", "strong"], "module is a Module, or a row"),
            (["plan", str(TAGMAKER), "--seed", "-4"], "seed is a whole number"),
            (["plan", "none.toml"], "none.toml"),
            (["read", "none.csv"], "there is no such file"),
            (["read"], "TABLE"),
            ([], "STEP"),
        ],
    )
    def test_a_mistake_is_one_sentence_and_no_file(self, here, capsys, arguments, said):
        try:
            status = main(["coupons", *arguments])
        except SystemExit as stop:
            status = stop.code
        assert status == 2
        printed = capsys.readouterr()
        assert said in printed.err
        assert "Traceback" not in printed.err
        assert printed.out == ""
        assert list(here.iterdir()) == []
