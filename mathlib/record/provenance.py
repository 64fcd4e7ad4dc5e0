"""What made a record, and from which files, so that others can make the same one."""

from __future__ import annotations

import subprocess
from typing import TYPE_CHECKING, Final

import attrs

import mathlib
from mathlib import tables
from mathlib.machine import ROOT, SECTIONS

if TYPE_CHECKING:
    from mathlib.machine import Machine

SHORT: Final = 12  # characters of a hash that are shown to people
_PATIENCE: Final = 5.0  # seconds


@attrs.frozen(kw_only=True)
class Provenance:
    """Version and commit of the library, hashes of the files read."""

    version: str
    commit: str
    machine_sha256: str
    tables: dict[str, str]


def provenance_of(machine: Machine) -> Provenance:
    """Version, commit, and hashes of the machine file and of the tables that it uses."""
    likes = machine.contents.sources
    used = {f"{s.table}.csv" for name, s in SECTIONS.items() if f"{name}.like" in likes}
    return Provenance(
        version=mathlib.__version__,
        commit=commit(),
        machine_sha256=machine.contents.sha256,
        tables={name: told for name, told in tables.hashes().items() if name in used},
    )


def commit() -> str:
    """Commit of the checkout, with ``-dirty`` behind it where files were changed since."""
    if not (ROOT / ".git").exists():
        return "no commit"
    asked = [
        "git",
        "-C",
        str(ROOT),
        "describe",
        "--always",
        "--dirty",
        "--exclude=*",
        "--abbrev=12",
    ]
    try:
        done = subprocess.run(asked, capture_output=True, text=True, timeout=_PATIENCE, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return "no commit"
    return done.stdout.strip() if done.returncode == 0 and done.stdout.strip() else "no commit"
