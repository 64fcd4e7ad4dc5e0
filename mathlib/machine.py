"""A machine, assembled from its file: records of parts, and the ranges that they lie in.

No physics here: the file is read, and the records that the physics takes are filled.
"""

from __future__ import annotations

import difflib
import os
import zlib
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import attrs
import numpy as np

from mathlib import tables
from mathlib.errors import MachineFileError, ValueRefused
from mathlib.fields import choice, optional, part, quantity, record, text, word_of
from mathlib.laser.beams import Module
from mathlib.laser.coupon import CouponFound
from mathlib.laser.sizing import Cutting
from mathlib.machine_file import Contents, Section, read_file
from mathlib.motion import gantries
from mathlib.motion.belts import Belt, DrivenPulley
from mathlib.motion.drive import (
    BELTS,
    Carriage,
    Controller,
    Drive,
    Frame,
    Job,
    MovingBeam,
    Supply,
)
from mathlib.motion.error_budget import ErrorSources
from mathlib.motion.gantry import Layout
from mathlib.motion.heat import Mount
from mathlib.motion.pull_test import PullTest
from mathlib.motion.squareness import SquareTest
from mathlib.motion.steppers import Motor
from mathlib.motion.wiring import Wiring
from mathlib.paths.beam_control import BeamControl
from mathlib.ranges import Range
from mathlib.safety.filters import Filter
from mathlib.units import Q, Quantity
from mathlib.units import quantity as quantity_of

VARIABLE: Final = "BELTS_AND_BEAMS_MACHINE"
ROOT: Final = tables.DATA.parent
#: Source of a value that the file leaves out and that has a default.
DEFAULT: Final = "default (estimate: the file does not say)"
TAGMAKER: Final = tables.DATA / "machines" / "tagmaker.toml"


@record
class Work:
    """What the machine is, and the area over which its head moves."""

    name: str = text("what you call it")
    belts: str = choice(BELTS, "how the belts run")
    travel_x: Quantity = quantity("mm", "of the head along the moving beam")
    travel_y: Quantity = quantity("mm", "of the beam along its rails")


@record
class Pen:
    """A pen in a spring holder."""

    mass: Quantity = quantity("kg", "of the head")
    force: Quantity = quantity("N", "on the paper")
    line_width: Quantity | None = optional("mm", "that it draws")


@record
class Knife:
    """A blade that swivels behind its pivot."""

    mass: Quantity = quantity("kg", "of the head")
    force: Quantity = quantity("N", "on the sheet")
    offset: Quantity = quantity("mm", "from the pivot to the tip")
    drag: Quantity | None = optional("N", "along the cut", sign="zero")


@record
class Room:
    """Where people are while the machine works."""

    watchers: Quantity = quantity("m", "from the work to the nearest eyes")


@record
class Heads:
    """The heads that the motion system carries, one at a time."""

    laser: Module | None = part("", None)
    pen: Pen | None = part("", None)
    knife: Knife | None = part("", None)


SECTIONS: Final[dict[str, Section]] = {
    "machine": Section(Work),
    "motor": Section(Motor, "motors"),
    "other_motor": Section(Motor, "motors", required=False),
    "belt": Section(Belt, "belts", together={"width": ("specific_stiffness", "mass_per_length")}),
    "pulley": Section(DrivenPulley),
    "supply": Section(Supply),
    "controller": Section(Controller),
    "carriage": Section(Carriage),
    "beam": Section(MovingBeam, "sections"),
    "frame": Section(Frame),
    "job": Section(Job),
    "square": Section(SquareTest, required=False),
    "errors": Section(ErrorSources, required=False),
    "pull_test": Section(PullTest, required=False),
    "wiring": Section(Wiring, required=False),
    "mount": Section(Mount, required=False),
    "eyewear": Section(Filter, required=False),
    "room": Section(Room, required=False),
    "cutting": Section(Cutting, required=False),
    "coupon": Section(CouponFound, required=False),
    "beam_control": Section(BeamControl, required=False),
    "heads.laser": Section(Module, "lasers", required=False),
    "heads.pen": Section(Pen, required=False),
    "heads.knife": Section(Knife, required=False),
}


@attrs.frozen(kw_only=True, eq=False)
class Machine:
    """Records of all parts. Fields hold typical values, or arrays along ``draw`` once drawn.

    ``ranges`` has the range of each dotted key that varies; ``sources`` says where values come
    from; ``measured`` names the findings that lie over design values.
    """

    machine: Work
    motor: Motor
    other_motor: Motor | None
    belt: Belt
    pulley: DrivenPulley
    supply: Supply
    controller: Controller
    carriage: Carriage
    beam: MovingBeam
    frame: Frame
    job: Job
    square: SquareTest | None
    errors: ErrorSources
    pull_test: PullTest | None
    wiring: Wiring
    mount: Mount
    eyewear: Filter | None
    room: Room | None
    cutting: Cutting | None
    coupon: CouponFound | None
    beam_control: BeamControl | None
    heads: Heads
    ranges: dict[str, Range]
    contents: Contents
    draws: int = 0
    seed: int = 0

    @property
    def name(self) -> str:
        """What the builder calls it, or the name of the file."""
        return self.machine.name or self.contents.path.stem

    @property
    def path(self) -> Path:
        """The file that it was read from."""
        return self.contents.path

    @property
    def drive(self) -> Drive:
        """The drive as one record, with the laser head or the first head that there is."""
        return Drive(
            gantry=gantries.gantry(self.layout),
            motors=(self.motor, self.motor),
            belt=self.belt,
            masses=self.masses,
            # an estimate, until a decrement is measured
            damping=Q("0.05 1") if self.carriage.damping is None else self.carriage.damping,
            yaw_stiffness=self.beam.yaw_stiffness,
            set_current=self.controller.set_current,
            friction=self.carriage.friction,
        )

    @property
    def masses(self) -> tuple[Quantity, Quantity]:
        """What moves along x, carriage and head; and along y, the beam besides."""
        carried = self.carriage.mass + self.head_mass
        return carried, carried + self.beam.mass

    @property
    def layout(self) -> Layout:
        """Where the belts run; of lengths that vary, the ones in the middle."""
        told: dict[str, Quantity] = {
            "rail_spacing": self.frame.rail_spacing,
            "travel_x": self.machine.travel_x,
            "travel_y": self.machine.travel_y,
            "overrun": self.frame.overrun,
            "teeth": self.pulley.teeth,
        }
        middle: dict[str, Any] = {
            k: quantity_of(float(np.median(v.magnitude)), v._units) for k, v in told.items()
        }
        return Layout(belts=self.machine.belts, belt=self.belt, **middle)

    @property
    def head_mass(self) -> Quantity:
        """Mass of the first of laser, pen and knife that states one; zero if none does."""
        for head in (self.heads.laser, self.heads.pen, self.heads.knife):
            if head is not None and head.mass is not None:
                return head.mass
        return Q("0 kg")

    def typical(self) -> Machine:
        """Give the machine with typical values only, and no ranges."""
        return attrs.evolve(self, ranges={})

    def draw(self, n: int, seed: int = 1) -> Machine:
        """Give the same records with arrays of shape ``(n,)`` wherever the file has a range.

        Each of the ``n`` is one machine: what is drawn once is used wherever it enters, so
        inputs that appear twice stay correlated. The same seed gives the same machines, and a
        range that is added leaves the draws of the others as they are.
        """
        changed: dict[str, dict[str, Any]] = {}
        for key, span in self.ranges.items():
            section, _, name = key.rpartition(".")
            rng = np.random.default_rng([seed, zlib.crc32(key.encode())])
            values = span.draw(n, rng)
            word = word_of(attrs.fields_dict(SECTIONS[section].record)[name])
            if word is not None and word.sign != "signed":
                most = 1.0 if word.sign == "share" else np.inf
                values = quantity_of(np.clip(values.magnitude, 0.0, most), values._units)
            changed.setdefault(section, {})[name] = values
        parts: dict[str, Any] = {}
        heads: dict[str, Any] = {}
        for section, drawn in changed.items():
            group, _, name = section.rpartition(".")
            owner, changes = (self.heads, heads) if group else (self, parts)
            if getattr(owner, name) is not None:
                changes[name] = attrs.evolve(getattr(owner, name), **drawn)
        kept = {head: getattr(self.heads, head) for head in ("laser", "pen", "knife")}
        return attrs.evolve(
            self, heads=Heads(**kept | heads), ranges={}, draws=n, seed=seed, **parts
        )

    def with_motor(self, name: str) -> Machine:
        """Give the machine with the motor of another row of the table, and its ranges.

        What was measured with the machine's own motor, such as a pull test, does not go over.

        Raises
        ------
        ValueRefused
            There is no such row.

        """
        rows = tables.read("motors").rows
        if name not in rows:
            close = difflib.get_close_matches(name, rows, n=3, cutoff=0.3) or list(rows)
            told = " or ".join(map(repr, close))
            raise ValueRefused(f"motors.csv has no row {name!r}; did you mean {told}?")
        motor, spans = _motor_of(rows[name])
        kept = {k: v for k, v in self.ranges.items() if not k.startswith("motor.")}
        ranges = kept | {f"motor.{key}": span for key, span in spans.items()}
        return attrs.evolve(self, motor=motor, pull_test=None, ranges=ranges)

    def __repr__(self) -> str:
        """Name, belts, file, and what was measured."""
        measured = ", ".join(self.contents.measured)
        found = f"; measured: {measured}" if measured else ""
        return f"{self.name} ({self.machine.belts} belts, from {shown_path(self.path)}{found})"


def load(path: str | os.PathLike[str]) -> Machine:
    """Read a machine file.

    Raises
    ------
    MachineFileError
        The file cannot be read, or has mistakes; the message lists all of them.

    Examples
    --------
    >>> load(TAGMAKER).machine.belts
    'crossed'

    """
    contents = read_file(Path(path), SECTIONS)
    filled: dict[str, Any] = {
        name: section.record(**contents.values[name]) if name in contents.values else None
        for name, section in SECTIONS.items()
    }
    heads = {
        name.removeprefix("heads."): filled.pop(name)
        for name in list(filled)
        if name.startswith("heads.")
    }
    for name in ("wiring", "mount", "errors"):  # a file may leave all of it to the defaults
        filled[name] = filled[name] or SECTIONS[name].record()
    _mark_defaults(contents, filled)
    filled["other_motor"] = filled["other_motor"] or _pair_of(contents)
    return Machine(heads=Heads(**heads), ranges=contents.ranges, contents=contents, **filled)


def _mark_defaults(contents: Contents, filled: dict[str, Any]) -> None:
    """Say of each value that the file leaves to its default where it comes from."""
    for name, filling in filled.items():
        for field in () if filling is None else attrs.fields(type(filling)):
            left = contents.values.get(name, {}).get(field.name) is None
            if left and word_of(field) is not None and getattr(filling, field.name) is not None:
                contents.sources[f"{name}.{field.name}"] = DEFAULT


def _pair_of(contents: Contents) -> Motor | None:
    """Find the row of the other step angle with the same body and current as the motor's row."""
    pair, own = contents.pairs.get("motor"), contents.sources.get("motor.like")
    if not pair:
        return None
    for row in tables.read("motors").rows.values():
        if row.pair == pair and row.name != own:
            motor, spans = _motor_of(row)
            contents.ranges |= {f"other_motor.{key}": span for key, span in spans.items()}
            contents.sources["other_motor.like"] = row.name
            return motor
    return None


def _motor_of(row: tables.Row) -> tuple[Motor, dict[str, Range]]:
    """Motor of a row of the table, typical values, and the ranges of those that vary."""
    told = {
        key: value
        for key, value in row.values.items()
        if key in attrs.fields_dict(SECTIONS["motor"].record)
    }
    known: dict[str, Any] = {
        key: value.typical if isinstance(value, Range) else value for key, value in told.items()
    }
    return Motor(**known), {key: v for key, v in told.items() if isinstance(v, Range)}


def open_machine(path: str | os.PathLike[str] | None = None) -> Machine:
    """Open the reader's machine, and say which it is.

    ``path``, else the file that the environment variable BELTS_AND_BEAMS_MACHINE names, else
    ``my_machine.toml`` in the checkout, else the Tagmaker.

    Raises
    ------
    MachineFileError
        The file cannot be read, or has mistakes; the message lists all of them.

    """
    machine = load(path or default_path())
    print(f"Machine: {machine}")
    return machine


def default_path() -> Path:
    """Tell which file is opened when none is named."""
    named = os.environ.get(VARIABLE)
    if named:
        for path in (Path(named), ROOT / named):  # notebooks run in their own folder
            if path.is_file():
                return path
        raise MachineFileError(f"{VARIABLE} names {named}, and there is no such file.")
    own = ROOT / "my_machine.toml"
    return own if own.is_file() else TAGMAKER


@lru_cache(maxsize=64)
def shown_path(path: Path) -> str:
    """Write a path as a reader finds it: inside the checkout, from its root."""
    resolved = path.resolve()
    inside = resolved.is_relative_to(ROOT)
    return resolved.relative_to(ROOT).as_posix() if inside else str(path)
