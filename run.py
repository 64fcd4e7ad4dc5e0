"""Set up Belts and Beams in this folder, then run one command in it.

This is the only file that runs outside the virtual environment, so it needs
nothing but Python, and its syntax stays old enough for an old Python to get as
far as the sentence that says so.
"""

import hashlib
import importlib.util
import json
import os
import signal
import subprocess
import sys
from pathlib import Path

HOME = Path(__file__).resolve().parent
OLDEST = (3, 11)
QUIET_LAB = {"fetchNews": "false", "checkForUpdates": False}
LIBRARY_COMMANDS = ("record", "check", "checklist", "coupons", "new", "formulas")
USAGE = """\
usage: python3 run.py COMMAND [arguments]

  record [FILE]     write the record of a machine; of the Tagmaker when no file is named
  check FILE        list every mistake in a machine file
  checklist [FILE]  write what to look at before a first beam; --meetup adds a public meetup
  coupons plan      write lines to burn on your own sheet; coupons read reads what came of them
  new FILE          write a machine file to start from
  formulas [WORD]   print what the library knows
  lab [OPTIONS]     open the notebooks; the options go to JupyterLab
  test              run every check
  setup             set up and do nothing else

Each command first sets up the folder .venv if it is missing or out of date.
"""


class SetupError(Exception):
    """A sentence for the person who started this script, and an exit status."""

    def __init__(self, sentence, status=2):
        super().__init__(sentence)
        self.status = status


def say(line):
    """Print one line beside the results, not among them."""
    print(line, file=sys.stderr, flush=True)


def own_variables():
    """Return the environment variables without those that bring in packages from elsewhere."""
    strangers = ("PYTHONPATH", "PYTHONHOME", "__PYVENV_LAUNCHER__")
    return {name: value for name, value in os.environ.items() if name not in strangers}


def run(command, cwd=None):
    """Run a command in full view, leave Ctrl-C to it, and return its exit status."""
    before = signal.signal(signal.SIGINT, lambda number, frame: None)
    try:
        status = subprocess.run(command, cwd=cwd, env=own_variables()).returncode
    finally:
        signal.signal(signal.SIGINT, before)
    return status if status >= 0 else 128 - status


def run_quietly(command, cwd=None):
    """Run a command, show what it printed only if it fails, and return its exit status."""
    both = {"stdout": subprocess.PIPE, "stderr": subprocess.STDOUT}
    done = subprocess.run(
        command, cwd=cwd, env=own_variables(), text=True, errors="replace", **both
    )
    if done.returncode:
        say(done.stdout.rstrip())
    return done.returncode


class Environment:
    """The virtual environment of one checkout, made from its lock."""

    def __init__(self, home=HOME, runner=run_quietly):
        self.home = Path(home)
        self.folder = self.home / ".venv"
        self.lock = self.home / "requirements.lock"
        self.stamp = self.folder / "installed-from"
        self.runner = runner
        inside = ("Scripts", "python.exe") if os.name == "nt" else ("bin", "python")
        self.python = self.folder.joinpath(*inside)

    def fingerprint(self):
        """Return what the environment depends on: the lock, the Python and the folder."""
        if not self.lock.is_file():
            raise SetupError(f"{self.lock} is missing; fetch the whole repository again.")
        digest = hashlib.sha256(self.lock.read_bytes()).hexdigest()
        major, minor = sys.version_info[:2]
        return f"lock {digest}\npython {major}.{minor}\nfolder {self.home}\n"

    def is_current(self):
        """Tell whether a finished set-up fits this lock, this Python and this folder."""
        if not (self.stamp.is_file() and self.python.exists()):
            return False
        return self.stamp.read_text(encoding="utf-8") == self.fingerprint()

    def steps(self):
        """Return the title and the command of each step."""
        base = getattr(sys, "_base_executable", None) or sys.executable
        pip = [str(self.python), "-m", "pip", "--disable-pip-version-check", "--no-input"]
        # Compiling all at once would double the wait; each module is compiled when first used.
        install = [*pip, "install", "--quiet", "--no-compile"]
        pinned = [*install, "--require-hashes", "-r", str(self.lock)]
        linked = [*install, "--no-deps", "--no-build-isolation", "-e", str(self.home)]
        return (
            (f"making {self.folder}", [base, "-m", "venv", "--clear", str(self.folder)]),
            ("installing the pinned packages (about a minute the first time)", pinned),
            ("linking mathlib to this folder", linked),
        )

    def set_up(self):
        """Make the environment anew unless it is current; the stamp is written last."""
        if self.is_current():
            return
        refuse_without_venv()
        fingerprint, steps = self.fingerprint(), self.steps()
        if self.stamp.exists():
            self.stamp.unlink()
        for number, (title, command) in enumerate(steps, start=1):
            say(f"Set-up {number}/{len(steps)}: {title}")
            if self.runner(command, cwd=str(self.home)):
                raise SetupError(
                    f"Set-up stopped while {title.split(' (')[0]}; the messages above say why. The "
                    "first set-up needs the network. Mend that, then run the same command again.",
                    status=1,
                )
        self.stamp.write_text(fingerprint, encoding="utf-8")
        say("Set-up finished.")


def refuse_without_venv(find=importlib.util.find_spec):
    """Name the system package if this Python cannot make virtual environments."""
    missing = [name for name in ("venv", "ensurepip") if find(name) is None]
    if missing:
        major, minor = sys.version_info[:2]
        raise SetupError(
            f"This Python lacks {' and '.join(missing)}, which make virtual environments. On "
            f"Debian or Ubuntu: sudo apt install python3-venv (or python{major}.{minor}-venv). "
            "Elsewhere install the complete Python. Then run the same command again."
        )


def refuse_old_python(version=sys.version_info):
    """Say which Python is needed if this one is too old."""
    if tuple(version[:2]) < OLDEST:
        needed, found = (".".join(map(str, pair)) for pair in (OLDEST, version[:2]))
        raise SetupError(
            f"Belts and Beams needs Python {needed} or newer and this is Python {found}; "
            f"install a newer one and start run.py with it: python{needed} run.py record"
        )


def open_lab(environment, options):
    """Open JupyterLab on the first notebook, without its questions about news and updates."""
    folder = environment.folder / "etc" / "jupyter" / "labconfig"
    folder.mkdir(parents=True, exist_ok=True)
    settings = folder / "default_setting_overrides.json"
    settings.write_text(json.dumps({"@jupyterlab/apputils-extension:notification": QUIET_LAB}))
    root = f"--ServerApp.root_dir={HOME}"
    first = "--LabApp.default_url=/lab/tree/notebooks/00_start_here.ipynb"
    return run([str(environment.python), "-m", "jupyterlab", root, first, *options])


def checks(python):
    """Return the title and the command of every check, in the order of their cost."""
    pytest = [python, "-m", "pytest", "-n", "2", "--dist", "loadfile"]
    nbval = "--nbval --nbval-current-env --nbval-sanitize-with=tests/nbval.cfg"
    limits = "--nbval-cell-timeout=120 --nbval-kernel-startup-timeout=120"
    found = [
        ("ruff check", [python, "-m", "ruff", "check", "."]),
        ("ruff format", [python, "-m", "ruff", "format", "--check", "."]),
        ("mypy", [python, "-m", "mypy"]),
        ("tests, doctests and the browser", pytest),
    ]
    if list(HOME.glob("notebooks/*.ipynb")):
        arguments = ["notebooks", *nbval.split(), *limits.split(), "-p", "no:cacheprovider"]
        found.append(("notebooks against their stored outputs", pytest + arguments))
    return found


def test(python):
    """Run every check, stop at the first that fails, and return its exit status."""
    # The stored outputs are the Tagmaker's, whatever machine the reader has.
    os.environ["BELTS_AND_BEAMS_MACHINE"] = str(HOME / "data" / "machines" / "tagmaker.toml")
    listed = checks(python)
    for number, (title, command) in enumerate(listed, start=1):
        print(f"== {number}/{len(listed)} {title}", flush=True)
        status = run(command, cwd=str(HOME))
        if status:
            say(f"Stopped at check {number} of {len(listed)}, {title}: exit status {status}.")
            return status
    print("Every check passed.")
    return 0


def main(arguments):
    """Do what the command line says and return the exit status."""
    command, rest = (arguments[0], arguments[1:]) if arguments else ("", [])
    if command in ("-h", "--help"):
        print(USAGE, end="")
        return 0
    if command not in (*LIBRARY_COMMANDS, "lab", "test", "setup"):
        raise SetupError((f"run.py has no command '{command}'.\n\n" if command else "") + USAGE)
    if rest and command in ("test", "setup"):
        raise SetupError(f"run.py {command} takes no arguments; leave out: {' '.join(rest)}")
    refuse_old_python()
    environment = Environment()
    environment.set_up()
    python = str(environment.python)
    if command in LIBRARY_COMMANDS:
        return run([python, "-P", "-m", "mathlib", command, *rest])
    if command == "lab":
        return open_lab(environment, rest)
    return test(python) if command == "test" else 0


def start(arguments):
    """Run main, turning a refusal into its sentence and Ctrl-C into status 130."""
    try:
        return main(arguments)
    except SetupError as error:
        say(str(error).rstrip())
        return error.status
    except KeyboardInterrupt:
        say("Stopped.")
        return 130


if __name__ == "__main__":
    sys.exit(start(sys.argv[1:]))
