"""The set-up: three lists of packages agree, and run.py installs when it must and only then."""

import ast
import importlib.util
import json
import re
import shutil
import subprocess
import sys
import tomllib
from importlib import metadata
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest
from packaging.markers import Marker
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[1]
PIN = re.compile(r"^(?P<name>[a-z0-9-]+)==(?P<version>[^ ;]+)(?: ; (?P<marker>[^\\]+?))? \\$")


@pytest.fixture(scope="module")
def project() -> dict[str, Any]:
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def lock() -> str:
    return (ROOT / "requirements.lock").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def wanted(project) -> list[str]:
    groups = project["dependency-groups"]
    return [*project["project"]["dependencies"], *groups["build"], *groups["test"]]


@pytest.fixture(scope="module")
def pins(lock) -> list[tuple[str, str, str | None]]:
    found = [match.groups() for line in lock.splitlines() if (match := PIN.match(line))]
    assert len(found) > 50
    return found


@pytest.fixture(scope="module")
def conda() -> str:
    return (ROOT / "environment.yml").read_text(encoding="utf-8")


@pytest.fixture
def run() -> ModuleType:
    """Load run.py afresh, so that a test may change it."""
    spec = importlib.util.spec_from_file_location("run_under_test", ROOT / "run.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def needed_names(wanted: list[str]) -> set[str]:
    """Follow what the installed packages ask for on this Python, their extras included."""
    seen: set[tuple[str, str]] = set()
    waiting = [Requirement(one) for one in wanted]
    while waiting:
        requirement = waiting.pop()
        for extra in ("", *requirement.extras):
            node = (canonicalize_name(requirement.name), extra)
            if node not in seen:
                seen.add(node)
                asked = map(Requirement, metadata.requires(requirement.name) or ())
                waiting += [
                    one for one in asked if not one.marker or one.marker.evaluate({"extra": extra})
                ]
    return {name for name, _ in seen}


class TestLists:
    def test_lock_has_what_is_needed_and_nothing_else(self, wanted, pins):
        here = {name for name, _, marker in pins if not marker or Marker(marker).evaluate()}
        needed = needed_names(wanted)
        assert needed <= here, f"make requirements.lock anew, it lacks {sorted(needed - here)}"
        assert here <= needed, f"make requirements.lock anew, without {sorted(here - needed)}"

    def test_lower_bounds_hold_in_the_lock(self, wanted, pins):
        bounded = [one for one in map(Requirement, wanted) if one.specifier]
        assert len(bounded) >= 3
        for one in bounded:
            versions = [version for name, version, _ in pins if name == canonicalize_name(one.name)]
            assert versions, f"{one.name} is not in requirements.lock"
            for version in versions:
                assert version in one.specifier, f"{one.name} {version} is not {one.specifier}"

    def test_build_backend_and_build_group_are_the_same(self, project):
        assert project["build-system"]["requires"] == project["dependency-groups"]["build"]

    def test_every_pin_has_a_hash(self, lock):
        entries = re.split(r"\n(?=\S)", lock.strip())
        assert len(entries) > 50
        for entry in entries:
            first, *hashes = entry.splitlines()
            assert PIN.match(first), f"not a pin with hashes: {first}"
            assert hashes, f"no hash: {first}"
            for line in hashes:
                assert re.fullmatch(r" {4}--hash=sha256:[0-9a-f]{64}( \\)?", line), line

    @pytest.mark.parametrize("stranger", ["://", "--index", "--extra-index", "--find-links", " @ "])
    def test_lock_names_no_place_to_fetch_from(self, lock, stranger):
        assert stranger not in lock

    def test_conda_users_get_the_same_lock(self, project, conda):
        lines = [line.strip() for line in conda.splitlines() if not line.startswith("#")]
        dependencies = lines[lines.index("dependencies:") + 1 :]
        python, *rest = dependencies
        assert rest == ["- pip", "- pip:", "- -r requirements.lock"]
        assert f"name: {project['project']['name']}" in lines
        lowest = project["project"]["requires-python"]
        assert re.fullmatch(rf"- python{re.escape(lowest)},<3\.\d+", python), (
            f"environment.yml has {python!r} where pyproject.toml has {lowest!r}"
        )

    def test_oldest_python_is_named_once(self, project, run):
        assert project["project"]["requires-python"] == ">=" + ".".join(map(str, run.OLDEST))

    def test_version_stands_in_the_package_alone(self, project):
        assert project["project"]["dynamic"] == ["version"]
        assert "version" not in project["project"]
        citation = (ROOT / "CITATION.cff").read_text(encoding="utf-8")
        assert not re.search(r"^version:", citation, flags=re.MULTILINE)
        initial = (ROOT / "mathlib" / "__init__.py").read_text(encoding="utf-8")
        assert len(re.findall(r"^__version__ = ", initial, flags=re.MULTILINE)) == 1


class Recorder:
    """Stand in for the commands of the set-up: note each, make what `venv` would make."""

    def __init__(self, fail_at: int | None = None):
        self.commands: list[list[str]] = []
        self.fail_at = fail_at
        self.environment: Any = None

    def __call__(self, command: list[str], cwd: str | None = None) -> int:
        self.commands.append(command)
        if self.fail_at == len(self.commands):
            return 1
        if "venv" in command:
            self.environment.python.parent.mkdir(parents=True, exist_ok=True)
            self.environment.python.touch()
        return 0


@pytest.fixture
def checkout(tmp_path, run):
    """Give an environment in an empty folder with a lock and a recorder."""
    (tmp_path / "requirements.lock").write_text("attrs==1 \\\n", encoding="utf-8")

    def make(fail_at: int | None = None) -> SimpleNamespace:
        recorder = Recorder(fail_at)
        recorder.environment = run.Environment(home=tmp_path, runner=recorder)
        return SimpleNamespace(environment=recorder.environment, commands=recorder.commands)

    return make


class TestStamp:
    def test_first_set_up_takes_three_steps(self, checkout, capfd):
        fresh = checkout()
        fresh.environment.set_up()
        venv, pinned, linked = fresh.commands
        assert venv[1:3] == ["-m", "venv"]
        assert "--require-hashes" in pinned
        assert {"--no-deps", "--no-build-isolation", "-e"} <= set(linked)
        assert fresh.environment.is_current()
        out, err = capfd.readouterr()
        assert out == ""
        assert re.findall(r"Set-up (\d)/3", err) == ["1", "2", "3"]

    def test_second_start_does_nothing_and_says_nothing(self, checkout, capfd):
        checkout().environment.set_up()
        capfd.readouterr()
        again = checkout()
        again.environment.set_up()
        assert again.commands == []
        assert capfd.readouterr() == ("", "")

    def test_changed_lock_installs_again(self, checkout, tmp_path):
        checkout().environment.set_up()
        (tmp_path / "requirements.lock").write_text("attrs==2 \\\n", encoding="utf-8")
        again = checkout()
        again.environment.set_up()
        assert len(again.commands) == 3
        assert again.environment.is_current()

    def test_other_python_installs_again(self, checkout, run, monkeypatch):
        checkout().environment.set_up()
        newer = (sys.version_info[0], sys.version_info[1] + 1, 0)
        monkeypatch.setattr(run.sys, "version_info", newer)
        assert not checkout().environment.is_current()

    def test_moved_folder_installs_again(self, checkout, run, tmp_path):
        checkout().environment.set_up()
        moved = tmp_path / "moved"
        moved.mkdir()
        shutil.copy(tmp_path / "requirements.lock", moved)
        shutil.copytree(tmp_path / ".venv", moved / ".venv")
        assert not run.Environment(home=moved).is_current()

    def test_lost_python_installs_again(self, checkout):
        fresh = checkout()
        fresh.environment.set_up()
        fresh.environment.python.unlink()
        assert not fresh.environment.is_current()

    @pytest.mark.parametrize("step", [1, 2, 3])
    def test_failed_step_stops_and_is_done_again(self, checkout, run, tmp_path, step):
        checkout().environment.set_up()
        (tmp_path / "requirements.lock").write_text("attrs==2 \\\n", encoding="utf-8")
        broken = checkout(fail_at=step)
        with pytest.raises(run.SetupError, match="run the same command again") as caught:
            broken.environment.set_up()
        assert caught.value.status == 1
        assert len(broken.commands) == step
        assert not broken.environment.stamp.exists()
        again = checkout()
        again.environment.set_up()
        assert len(again.commands) == 3

    def test_failed_command_shows_its_messages(self, run, capfd):
        code = "import sys; print('to out'); print('to err', file=sys.stderr); sys.exit(3)"
        assert run.run_quietly([sys.executable, "-c", code]) == 3
        out, err = capfd.readouterr()
        assert out == ""
        assert "to out" in err
        assert "to err" in err
        assert run.run_quietly([sys.executable, "-c", "print('chatter')"]) == 0
        assert capfd.readouterr() == ("", "")

    def test_missing_lock_is_one_sentence(self, run, tmp_path):
        with pytest.raises(run.SetupError, match=r"requirements\.lock is missing"):
            run.Environment(home=tmp_path).set_up()


class TestRefusals:
    @pytest.mark.parametrize("missing", ["venv", "ensurepip"])
    def test_missing_module_names_the_system_package(self, run, missing):
        package = rf"lacks {missing},.*python3-venv .*python3\.{sys.version_info[1]}-venv"
        with pytest.raises(run.SetupError, match=package) as caught:
            run.refuse_without_venv(find=lambda name: None if name == missing else object())
        assert caught.value.status == 2

    def test_complete_python_is_not_refused(self, run):
        run.refuse_without_venv(find=lambda name: object())
        run.refuse_old_python(run.OLDEST)

    def test_old_python_is_told_which_one_is_needed(self, run):
        with pytest.raises(run.SetupError, match=r"Python 3\.11 or newer .* Python 3\.8") as caught:
            run.refuse_old_python((3, 8, 18))
        assert caught.value.status == 2

    def test_old_python_can_read_the_script(self):
        ast.parse((ROOT / "run.py").read_text(encoding="utf-8"), feature_version=(3, 8))

    @pytest.mark.parametrize(
        ("arguments", "sentence"),
        [
            ([], "usage: python3 run.py COMMAND"),
            (["recrod"], "run.py has no command 'recrod'."),
            (["test", "quickly"], "run.py test takes no arguments; leave out: quickly"),
        ],
    )
    def test_bad_command_line_is_refused_before_any_set_up(self, tmp_path, arguments, sentence):
        script = shutil.copy(ROOT / "run.py", tmp_path)
        done = subprocess.run(
            [sys.executable, script, *arguments], capture_output=True, text=True, timeout=60
        )
        assert done.returncode == 2
        assert done.stdout == ""
        assert sentence in done.stderr
        assert "Traceback" not in done.stderr
        assert not (tmp_path / ".venv").exists()

    def test_interrupt_ends_without_a_traceback(self, run, monkeypatch, capfd):
        def interrupted(arguments):
            raise KeyboardInterrupt

        monkeypatch.setattr(run, "main", interrupted)
        assert run.start(["record"]) == 130
        assert capfd.readouterr().err == "Stopped.\n"


class TestCommands:
    @pytest.fixture
    def started(self, run, monkeypatch):
        """Note what would be started, and let it end with status 7."""
        commands: list[tuple[list[str], str | None]] = []

        def note(command, cwd=None):
            commands.append((command, cwd))
            return 7

        monkeypatch.setattr(run, "run", note)
        monkeypatch.setattr(run.Environment, "set_up", lambda self: None)
        return commands

    @pytest.mark.parametrize("command", ["record", "check", "checklist", "new", "formulas"])
    def test_library_commands_pass_through(self, run, started, command):
        assert run.start([command, "a file.toml", "-o", "out"]) == 7
        [(given, cwd)] = started
        assert given[1:] == ["-P", "-m", "mathlib", command, "a file.toml", "-o", "out"]
        assert cwd is None, "a file argument counts from the caller's folder"

    def test_lab_opens_the_first_page_and_asks_nothing(self, run, started, tmp_path):
        environment = run.Environment(home=tmp_path)
        assert run.open_lab(environment, ["--no-browser"]) == 7
        [(given, _)] = started
        assert given[:3] == [str(environment.python), "-m", "jupyterlab"]
        assert f"--ServerApp.root_dir={ROOT}" in given
        assert "--LabApp.default_url=/lab/tree/notebooks/00_start_here.ipynb" in given
        assert given[-1] == "--no-browser"
        [settings] = environment.folder.rglob("default_setting_overrides.json")
        assert settings.parent.relative_to(environment.folder) == Path("etc/jupyter/labconfig")
        [switched_off] = json.loads(settings.read_text(encoding="utf-8")).values()
        assert switched_off == {"fetchNews": "false", "checkForUpdates": False}

    def test_test_stops_at_the_first_failure_and_names_it(self, run, started, capfd):
        assert run.start(["test"]) == 7
        assert len(started) == 1
        out, err = capfd.readouterr()
        assert "ruff check" in out
        assert "check 1 of" in err
        assert "ruff check: exit status 7" in err

    def test_notebooks_are_checked_when_there_are_any(self, run, monkeypatch, tmp_path):
        monkeypatch.setattr(run, "HOME", tmp_path)
        without = run.checks("python")
        (tmp_path / "notebooks").mkdir()
        (tmp_path / "notebooks" / "00_start_here.ipynb").touch()
        with_notebooks = run.checks("python")
        assert not any("--nbval" in command for _, command in without)
        assert "--nbval" in with_notebooks[-1][1]
        assert with_notebooks[:-1] == without

    def test_status_is_passed_on(self, run):
        assert run.run([sys.executable, "-c", "raise SystemExit(5)"]) == 5

    @pytest.mark.skipif(sys.platform == "win32", reason="Windows has no signals to end a command")
    def test_command_ended_by_ctrl_c_gives_130(self, run):
        code = (
            "import os, signal\n"
            "signal.signal(signal.SIGINT, signal.SIG_DFL)\n"
            "os.kill(os.getpid(), signal.SIGINT)"
        )
        assert run.run([sys.executable, "-c", code]) == 130

    def test_packages_from_elsewhere_stay_out(self, run, monkeypatch, capfd):
        monkeypatch.setenv("PYTHONPATH", "elsewhere")
        run.run([sys.executable, "-c", "import os; print(os.environ.get('PYTHONPATH'))"])
        assert capfd.readouterr().out == "None\n"
