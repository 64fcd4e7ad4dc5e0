"""The command line: ``python -m mathlib COMMAND``, or ``python3 run.py COMMAND`` from a checkout.

Heavy imports stand where they are used, so that a command starts at once.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final, NoReturn

from mathlib.errors import MathlibError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from mathlib.formula import Formula
    from mathlib.machine import Machine

MISTAKE: Final = 2
STOPPED: Final = 130  # what a shell reports after Ctrl-C
PIPE_CLOSED: Final = 141  # and after the reader of a pipe has left


class Parser(argparse.ArgumentParser):
    """A parser whose refusals are one sentence."""

    def error(self, message: str) -> NoReturn:
        """Say what is wrong and how to see what there is."""
        sentence = message[0].upper() + message[1:].rstrip(".")
        self.exit(MISTAKE, f"{sentence}. See: {self.prog} --help\n")


def parser() -> Parser:
    """Build the parser of all commands."""
    made = Parser(
        prog="python3 run.py",
        description="Calculate a belt-driven bench machine and its heads, with units.",
        epilog="Without run.py: python -m mathlib COMMAND",
        allow_abbrev=False,
    )
    commands = made.add_subparsers(dest="command", metavar="COMMAND", required=True)

    record = commands.add_parser("record", help="write the record of a machine")
    record.add_argument("file", nargs="?", type=Path, metavar="FILE", help="a machine file")
    record.add_argument(
        "-o",
        "--output",
        type=Path,
        default=Path("records"),
        metavar="DIR",
        help="folder for the HTML and JSON files (records, here)",
    )
    record.set_defaults(run=run_record)

    check = commands.add_parser("check", help="list every mistake in a machine file")
    check.add_argument("file", type=Path, metavar="FILE", help="a machine file")
    check.set_defaults(run=run_check)

    checklist = commands.add_parser("checklist", help="write what to look at before a first beam")
    checklist.add_argument("file", nargs="?", type=Path, metavar="FILE", help="a machine file")
    checklist.add_argument("--meetup", action="store_true", help="add what a public meetup asks")
    checklist.add_argument(
        "-o",
        "--output",
        type=Path,
        default=Path("records"),
        metavar="DIR",
        help="folder for the HTML file (records, here)",
    )
    checklist.set_defaults(run=run_checklist)

    coupon = commands.add_parser("coupons", help="plan lines to burn on your own sheet, read them")
    steps = coupon.add_subparsers(dest="step", metavar="STEP", required=True)
    plan = steps.add_parser("plan", help="write the table to fill in, and the files to burn")
    plan.add_argument("file", nargs="?", type=Path, metavar="FILE", help="a machine file")
    plan.add_argument("--material", metavar="NAME", help="by default that of the job")
    plan.add_argument("--thickness", metavar="LENGTH", help="measured; by default that of the job")
    plan.add_argument("--head", metavar="ROW", help="a row of lasers.csv; by default the file's")
    plan.add_argument("--sheet", metavar="TEXT", help="which data sheet of the supplier was read")
    plan.add_argument("--seed", type=int, default=1, help="of the random order (1)")
    plan.add_argument(
        "--supervised",
        action="store_true",
        help="confirm that somebody who knows the machine stays beside it",
    )
    plan.add_argument(
        "-o",
        "--output",
        type=Path,
        default=Path("records"),
        metavar="DIR",
        help="folder for the files (records, here)",
    )
    plan.set_defaults(run=run_coupons_plan)
    read = steps.add_parser("read", help="read a table that was filled in, say what it changes")
    read.add_argument("table", type=Path, metavar="TABLE", help="that coupons plan wrote")
    read.add_argument(
        "--keep", type=Path, metavar="FILE", help="append the finding to this machine file"
    )
    read.set_defaults(run=run_coupons_read)

    new = commands.add_parser("new", help="write a machine file to start from")
    new.add_argument("file", type=Path, metavar="FILE", help="must not exist yet")
    new.set_defaults(run=run_new)

    formulas = commands.add_parser("formulas", help="print what the library knows")
    formulas.add_argument(
        "word", nargs="?", default="", help="in the name, the title or a word of a formula"
    )
    formulas.add_argument("--html", type=Path, metavar="FILE", help="write one HTML page instead")
    formulas.set_defaults(run=run_formulas)
    return made


def run_record(told: argparse.Namespace) -> None:
    """Write the record beside each other as HTML and JSON, and print it."""
    import datetime

    from mathlib import machine, record
    from mathlib.record import data, files, page, plain

    opened = machine.load(told.file or machine.default_path())
    folder = files.folder(told.output)
    made = record.make(opened, datetime.date.today(), _say)
    stem = f"record_{opened.path.stem}"
    written = {folder / f"{stem}.html": page.write(made), folder / f"{stem}.json": data.write(made)}
    files.write_whole(written)
    print(plain.write(made))
    print("\n".join(f"Written: {path}" for path in written))


def run_checklist(told: argparse.Namespace) -> None:
    """Write the checklist as HTML, and print it."""
    import datetime

    from mathlib import machine
    from mathlib.record import files, page
    from mathlib.safety import checklist

    opened = machine.load(told.file or machine.default_path())
    made = checklist.for_machine(opened, told.meetup)
    folder = files.folder(told.output)
    path = folder / f"checklist_{opened.path.stem}{'_meetup' if told.meetup else ''}.html"
    files.write_whole({path: page.checklist(made, opened, datetime.date.today())})
    print(f"{made!r}\nWritten: {path}")


def run_coupons_plan(told: argparse.Namespace) -> None:
    """Write all files of a plan at once, and print it."""
    from mathlib import machine
    from mathlib.record import coupons, files

    opened = machine.load(told.file or machine.default_path())
    made = coupons.plan(opened, told.material, told.thickness, told.head, told.seed, told.sheet)
    texts, left_out = coupons.texts(made, told.supervised, told.output)
    files.folder(told.output)
    files.write_whole(texts)
    print(made)
    print("\n".join([*made.cautions, *left_out, *(f"Written: {path}" for path in texts)]))


def run_coupons_read(told: argparse.Namespace) -> None:
    """Say what a filled table changes, and append that where it is asked for."""
    from mathlib import machine
    from mathlib.measure import coupons
    from mathlib.record.coupons import learned

    if told.keep is not None and told.keep.resolve().parent == machine.TAGMAKER.parent:
        raise MathlibError(f"{told.keep} is an example; name your own machine file after --keep.")
    material, lines = learned(told.table)
    print("\n".join(lines))
    if told.keep is not None:
        coupons.keep(told.keep, material)
        print(f"Appended to {told.keep}")


def run_check(told: argparse.Namespace) -> None:
    """Read a file, say what it is, and try every question on it."""
    from mathlib import machine

    opened = machine.load(told.file)
    print(f"{opened}: no mistakes.")
    print("\n".join(_kinds(opened)))
    _try_all(opened)


def _kinds(machine: Machine) -> list[str]:
    """Say which values are measured, which are estimates, and which vary otherwise."""
    from mathlib.record.inputs import inputs_of

    titles = {
        "measured": "measured",
        "estimate": "estimates, worth measuring",
        "catalogue": "ranges from a catalogue",
    }
    found = inputs_of(machine)
    lines = []
    for kind, title in titles.items():
        keys = [each.key for each in found if each.kind == kind and each.varies]
        lines.append(f"  {title}: {', '.join(keys) or 'none'}")
    return lines


def _try_all(machine: Machine) -> None:
    """Ask every question of typical parts; say which the file leaves open.

    Raises
    ------
    MathlibError
        A value in the file makes a question fail.

    """
    from mathlib import record
    from mathlib.errors import Unanswerable

    asked = record.ask_all(machine.typical())
    print("Questions that this file answers: ", end="")
    print(", ".join(e.answer.asked for e in asked if e.answer is not None) or "none")
    for entry in asked:
        if isinstance(entry.fault, Unanswerable):
            print(f"Left open: {entry.question} {entry.refusal}")
    failed = [f"  {e.question} {e.refusal}" for e in asked if e.refusal]
    if any(e.refusal and not isinstance(e.fault, Unanswerable) for e in asked):
        raise MathlibError(f"{machine.path}: its values cannot be used.\n" + "\n".join(failed))


def run_new(told: argparse.Namespace) -> None:
    """Write the template, unless something stands in its place."""
    from mathlib.record import files, template

    path: Path = told.file
    if path.exists() or path.is_symlink():
        raise MathlibError(f"{path} is there already and stays as it is; name another file.")
    files.write_whole({path: template.write()})
    print(f"Written: {path}. Put your values in, then: python3 run.py check {path}")


def run_formulas(told: argparse.Namespace) -> None:
    """Print or write the formulas that have to do with a word."""
    from mathlib import catalogue

    known = catalogue.formulas()
    word = told.word.lower().replace(" ", "_")
    found = {
        name: formula
        for name, formula in known.items()
        if any(word in text for text in _texts(name, formula))
    }
    if not found:
        raise MathlibError(f"Nothing is called {told.word!r}." + _nearest(word, known))
    if told.html is None:
        print("\n\n".join(f"{name}\n{formula!r}" for name, formula in found.items()))
        return
    from mathlib.record import files, page

    files.write_whole({told.html: page.reference(found, catalogue.glossary(found))})
    print(f"Written: {told.html}, {len(found)} formulas")


def _texts(name: str, formula: Formula) -> list[str]:
    """Where a word is looked for: the name, the title, and the words of a formula."""
    words = [each.word for each in (formula.output, *formula.inputs)]
    return [text.lower().replace(" ", "_") for text in (name, formula.title, *words)]


def _nearest(word: str, known: Mapping[str, Formula]) -> str:
    import difflib

    near: dict[str, None] = {}
    for name, formula in known.items():
        near |= dict.fromkeys([name.rpartition(".")[2], *_texts(name, formula)[2:]])
    close = difflib.get_close_matches(word, near, n=3, cutoff=0.5)
    if not close:
        return " See all with: python3 run.py formulas"
    return f" Did you mean {' or '.join(close)}?"


def _say(line: str) -> None:
    """Print progress beside the results, not among them."""
    print(line, file=sys.stderr, flush=True)


def main(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit status."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    try:
        told = parser().parse_args(arguments)
        told.run(told)
        sys.stdout.flush()
    except MathlibError as fault:
        _say(str(fault))
        return MISTAKE
    except KeyboardInterrupt:
        _say("Stopped.")
        return STOPPED
    except BrokenPipeError:
        # The reader has left: let the interpreter flush into nothing at its end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return PIPE_CLOSED
    except OSError as fault:
        _say(f"{fault.filename or 'A file'}: {fault.strerror}.")
        return MISTAKE
    return 0


if __name__ == "__main__":
    sys.exit(main())
