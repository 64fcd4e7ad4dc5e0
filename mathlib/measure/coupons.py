"""Coupons: few lines burned on a sheet of one's own, that tell much about where a cut ceases.

``plan`` says which lines to burn and where; ``update`` reads what came of them and gives the
material with its finding; ``keep`` appends that to the builder's file.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import attrs
import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.fields import choice, optional, part, quantity, record
from mathlib.laser import cutting, heads, removal
from mathlib.laser.beams import Beam, Module
from mathlib.laser.coupon import Coupon
from mathlib.materials import Material
from mathlib.measure import coupon_layout
from mathlib.motion.rasters import run_up
from mathlib.units import Q, Quantity
from mathlib.words import Word

#: Levels of speed from the low to the high end of what is predicted; the inner ones replicated.
LEVELS: Final = 5
REPLICATES: Final = 3
MARKS: Final = 5
#: Length that is burned; with the run-ups a line is longer than two of them plus 10 mm.
BURNED: Final = 12.0
#: Run-up beyond what the acceleration asks for: a quarter of it, and 1 mm to settle.
_MORE, _SETTLE = 1.25, 1.0
#: Slower than this sheets char wide and catch fire; mm/s, an estimate.
SLOWEST: Final = 1.0
_MOST_PASSES: Final = 6
#: How far beyond the fastest cut the marks go, where the machine can.
_FASTER: Final = 40.0
_THICKNESS: Final = Word("thickness", "mm", "of the sheet, measured")


@attrs.frozen(kw_only=True)
class Piece:
    """One line: its place on the sheet in mm, and how it is burned; numbered as it burns.

    ``box`` is left, front, right and back of the line with its run-ups; ``kind`` is "cut" or
    "mark", a mark being far too fast to sever.
    """

    number: int
    kind: str
    level: int
    across: bool
    speed: float
    passes: int
    box: tuple[float, float, float, float]
    run: float

    @property
    def points(self) -> tuple[tuple[float, float], ...]:
        """Start, first and last place with the beam on, and end; mm."""
        left, front, right, back = self.box
        if self.across:
            places = (front, front + self.run, back - self.run, back)
            return tuple((left, y) for y in places)
        return tuple((x, front) for x in (left, left + self.run, right - self.run, right))

    @property
    def grain(self) -> str:
        """How the line lies to the grain, which runs along x."""
        return "across" if self.across else "along"


@attrs.frozen(kw_only=True, eq=False, repr=False)
class Plan:
    """Which lines to burn, where, and in which order."""

    material: Material
    thickness: Quantity
    module: Module
    beam: Beam
    power: Quantity
    pieces: tuple[Piece, ...]
    sheet: Quantity
    apart: Quantity
    machine: Any
    seed: int
    supplier_sheet: str | None
    cautions: tuple[str, ...]

    @property
    def levels(self) -> tuple[float, ...]:
        """Speeds in mm/s of the lines that may sever, slow to fast."""
        return tuple(sorted({p.speed for p in self.pieces if p.kind == "cut"}))

    def __repr__(self) -> str:
        """What is to be burned, in a few lines."""
        cuts = [p for p in self.pieces if p.kind == "cut"]
        width, depth = self.sheet.magnitude
        told = ", ".join(f"{speed:.3g}" for speed in self.levels)
        return (
            f"{len(self.pieces)} lines on {width:.0f} mm by {depth:.0f} mm of "
            f"{units.show(self.thickness, 3)} {self.material.name}, grain along x\n"
            f"  {len(cuts)} to find the boundary, {cuts[0].passes} passes at {told} mm/s\n"
            f"  {len(self.pieces) - len(cuts)} marks, one pass each, for threshold and spot\n"
            f"  all at full power, {units.show(self.power, 3)} of light; a line burns at least "
            f"{units.show(self.apart, 3)} from the one before"
        )


def plan(
    material: str | Material,
    thickness: Any,
    module: str | Module,
    machine: Any,
    seed: int,
    replicates: int = REPLICATES,
    supplier_sheet: str | None = None,
) -> Plan:
    """Plan coupons that find where a cut of one's own sheet ceases.

    Five speeds span what is predicted; at the inner three each direction of grain has all
    replicates, at the outer two one. Marks at one pass, far too fast to sever, tell threshold and
    spot. Places and order are random, and no line follows one that lies near it.

    Parameters
    ----------
    material : str or Material
        A name or a record.
    thickness : length
        Of the sheet, measured with a caliper in several places.
    module : Module or str
        The head, or the name of a row of ``lasers.csv``.
    machine : Machine
        For its speed, acceleration and work area.
    seed : int
        Of the random order; the same seed gives the same plan.
    replicates : int
        Lines of one kind near the boundary, three or more.
    supplier_sheet : str, optional
        Which data sheet was read; an unknown material needs it.

    Returns
    -------
    Plan
        Lines in the order of burning.

    Raises
    ------
    NeverProcess
        The material is never to be processed.
    UnitError, ValueRefused
        As a formula does; no speed that the machine has lies near the boundary; the work area is
        too small; an unknown material without its data sheet.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> mine = load(TAGMAKER)
    >>> made = plan("birch plywood", "3 mm", mine.heads.laser, mine, seed=1)
    >>> len(made.pieces), len(made.levels)
    (27, 5)

    """
    found = removal.as_material(material, supplier_sheet)
    read = words.read_words("Coupons", [_THICKNESS], {"thickness": thickness})
    _whole("seed", seed, 0)
    _whole("replicates", replicates, 3)
    if np.ndim(read["thickness"]):
        raise ValueRefused("Coupons: thickness is a single value here.")
    deep = float(read["thickness"])
    light, head = _light(module)
    beam, power = _beam(light), float(np.median(light.power))
    fastest, acceleration = (
        float(np.median(value.magnitude))
        for value in (machine.job.speed.to("mm/s"), machine.job.acceleration.to("mm/s^2"))
    )
    passes, low, high = _bounds(found, deep, power, beam, fastest, supplier_sheet)
    rng = np.random.default_rng(seed)
    wanted = _wanted(low, high, passes, replicates, fastest)
    wanted = [wanted[n] for n in rng.permutation(len(wanted))]
    speeds = np.array([each[2] for each in wanted])
    runs = _run(speeds, acceleration)
    across = np.array([each[3] for each in wanted])
    travel = tuple(
        float(np.median(value.to("mm").magnitude))
        for value in (machine.machine.travel_x, machine.machine.travel_y)
    )
    boxes, sheet = coupon_layout.scatter(BURNED + 2 * runs, across, (travel[0], travel[1]), rng)
    turn, apart = coupon_layout.order(boxes, rng)
    pieces = []
    for count, n in enumerate(turn, start=1):
        kind, level, speed, along, times = wanted[n]
        left, front, right, back = (float(v) for v in boxes[n])
        pieces.append(
            Piece(
                number=count,
                kind=kind,
                level=level,
                across=along,
                speed=speed,
                passes=times,
                box=(left, front, right, back),
                run=float(runs[n]),
            )
        )
    return Plan(
        material=found,
        thickness=Q(deep * 1e3, "mm"),
        module=head,
        beam=beam,
        power=Q(power, "W"),
        pieces=tuple(pieces),
        sheet=Q(np.array(sheet), "mm"),
        apart=Q(apart, "mm"),
        machine=machine,
        seed=int(seed),
        supplier_sheet=supplier_sheet,
        cautions=found.for_processing(supplier_sheet),
    )


def _whole(word: str, value: Any, least: int) -> None:
    whole = isinstance(value, int | np.integer) and not isinstance(value, bool)
    if not whole or value < least:
        raise ValueRefused(f"Coupons: {word} is a whole number, {least} or more; got {value!r}.")


def _light(module: str | Module) -> tuple[heads.Light, Module]:
    """Draws of a head, and its record."""
    if isinstance(module, Module):
        return heads.light("coupons", module, 2), module
    rows = heads.rows()
    if module not in rows:
        raise ValueRefused(
            f"Coupons: module is a Module, or a row of lasers.csv, one of {', '.join(rows)}; got "
            f"{module!r}."
        )
    kept = {field.name for field in attrs.fields(Module)}
    told: dict[str, Any] = {
        word: getattr(value, "typical", value)
        for word, value in rows[module].items()
        if word in kept
    }
    head = Module(**told)
    return heads.light(module, head, 2), head


def _beam(light: heads.Light) -> Beam:
    """Beam of a head at its focus, both axes where they differ."""
    waists = [float(np.median(diameter)) for diameter, _ in light.foci]
    lengths = [float(np.median(length)) for _, length in light.foci]
    quality = [
        max(1.0, math.pi * d * d / (4 * z * light.wavelength))
        for d, z in zip(waists, lengths, strict=True)
    ]
    two = len(waists) == 2
    told: dict[str, Any] = {
        "wavelength": Q(light.wavelength * 1e9, "nm"),
        "beam_quality": Q(np.array(quality) if two else quality[0], "1"),
        "waist_diameter": Q(np.array(waists) * 1e3 if two else waists[0] * 1e3, "mm"),
    }
    return Beam(**told)


def _bounds(
    material: Material, deep: float, power: float, beam: Beam, fastest: float, sheet: str | None
) -> tuple[int, float, float]:
    """Fewest passes whose boundary the machine can reach, and speeds below and above it, mm/s."""
    for passes in range(1, _MOST_PASSES + 1):
        drawn = 1e3 * cutting.speed_draws(
            material, Q(deep, "m"), Q(power, "W"), beam, passes, supplier_sheet=sheet
        )
        low, middle, high = (float(v) for v in np.percentile(drawn, [5, 50, 95]))
        if middle >= 1.5 * SLOWEST:
            break
    low, high = max(low, SLOWEST), min(high, fastest)
    if high < 1.3 * SLOWEST:
        raise ValueRefused(
            f"Coupons: {material.name} of {deep * 1e3:.3g} mm is not severed at {SLOWEST:g} mm/s "
            f"even in {passes} passes, and slower lines burn more than they cut. Take a thinner "
            "sheet or a stronger head."
        )
    if low > 0.8 * high:
        raise ValueRefused(
            f"Coupons: {material.name} of {deep * 1e3:.3g} mm is severed at every speed up to the "
            f"machine's {fastest:.3g} mm/s, as far as can be told: nothing would be learned. Take "
            "a thicker sheet, or state a higher speed under [job]."
        )
    return passes, low, high


def _wanted(
    low: float, high: float, passes: int, replicates: int, fastest: float
) -> list[tuple[str, int, float, bool, int]]:
    """Kind, level, speed, direction and passes of each line, in no order yet."""
    found: list[tuple[str, int, float, bool, int]] = []
    for level, speed in enumerate(np.geomspace(low, high, LEVELS)):
        count = replicates if 0 < level < LEVELS - 1 else 1
        value = float(f"{speed:.4g}")
        found += [("cut", level, value, across, passes) for across in (False, True)] * count
    top = min(fastest, _FASTER * high)
    if top >= 3.0 * high:  # closer together they would tell nothing of the threshold
        for level, speed in enumerate(np.geomspace(1.5 * high, top, MARKS)):
            found.append(("mark", level, float(f"{speed:.4g}"), level % 2 == 1, 1))
    return found


def _run(speeds: Any, acceleration: float) -> Any:
    """Run-up of each line in mm, rounded up to a hundredth."""
    least = run_up(speed=Q(speeds, "mm/s"), acceleration=Q(acceleration, "mm/s^2"))
    return np.ceil(100 * (_MORE * least.to("mm").magnitude + _SETTLE)) / 100


@record
class Cut:
    """What came of one line. ``severed`` is yes where it parted over 95 % of its length."""

    speed: Quantity = quantity("mm/s", "of the head")
    power: Quantity = quantity("W", "of light on the work")
    thickness: Quantity = quantity("mm", "of the sheet, measured beside the line")
    beam: Beam = part("at its focus")
    passes: Quantity = quantity("1", "over the same line", default="1 1")
    severed: str = choice(("yes", "no", ""), "whether it parted over 95 % of its length", "")
    width: Quantity | None = optional("mm", "of the line at the top", "zero")
    depth: Quantity | None = optional("mm", "of a line that did not sever", "zero")
    darkness: Quantity | None = optional("1", "from 0, the bare sheet, to 1, black", "zero")
    moisture: Quantity | None = optional("1", "of the sheet, as a share of its dry mass", "zero")


def as_cuts(results: Sequence[Cut | dict[str, Any]]) -> tuple[Cut, ...]:
    """Read results as records; a dict takes the words of ``Cut``, and True for a severed line.

    Examples
    --------
    >>> beam = Beam(wavelength="450 nm", beam_quality=15, waist_diameter="0.08 mm")
    >>> row = {"speed": "2 mm/s", "power": "5 W", "thickness": "3 mm", "beam": beam}
    >>> as_cuts([row | {"severed": True}])[0].severed
    'yes'

    """
    made = []
    for row in results:
        if isinstance(row, Cut):
            made.append(row)
            continue
        told = dict(row)
        if isinstance(told.get("severed"), bool | np.bool_):
            told["severed"] = "yes" if told["severed"] else "no"
        made.append(Cut(**told))
    return tuple(made)


def update(
    material: str | Material,
    results: Sequence[Cut | dict[str, Any]],
    supplier_sheet: str | None = None,
) -> Material:
    """Give a material what its coupons tell: energy of removal, threshold and spot.

    Parameters
    ----------
    material : str or Material
        A name or a record; one with coupons learns on.
    results : sequence of Cut or dict
        All of one head; see ``read`` for those of a table.
    supplier_sheet : str, optional
        Which data sheet was read; an unknown material needs it.

    Returns
    -------
    Material
        With ``heat_of_gasification`` as a measured range, and ``coupon``.

    Raises
    ------
    NeverProcess
        The material is never to be processed.
    ValueRefused
        Fewer than three lines say whether they severed; heads are mixed.

    Examples
    --------
    >>> beam = Beam(wavelength="450 nm", beam_quality=15, waist_diameter="0.08 mm")
    >>> told = {"power": "5 W", "thickness": "3 mm", "beam": beam, "passes": 3}
    >>> cuts = [told | {"speed": f"{v} mm/s", "severed": v < 2} for v in (1, 1.5, 1.8, 2.2, 2.6, 3)]
    >>> round(1e3 * update("birch plywood", cuts).coupon.speed, 1)
    2.0

    """
    from mathlib.measure import coupon_fit

    found = removal.as_material(material, supplier_sheet)
    return coupon_fit.update(found, as_cuts(results), supplier_sheet)


def keep(path: Any, material: Material, date: Any = None) -> str:
    """Append what coupons found to a machine file, under ``[coupon]`` and ``[[measured]]``.

    The material as it is known with that machine, and all that is worked out of it, then goes by
    the finding. Everything else in the file stays as it is.

    Parameters
    ----------
    path : path of the machine file
        Without ``[coupon]``, or with that of the same sheet.
    material : Material
        As ``update`` gave it.
    date : text or date, optional
        Of the burning; today where none is given.

    Returns
    -------
    str
        What was appended.

    Raises
    ------
    ValueRefused
        The material has no coupon; the file's ``[coupon]`` is that of another sheet.
    MachineFileError
        The file cannot be read or written.

    Examples
    --------
    >>> keep("my_machine.toml", removal.as_material("cork"))
    Traceback (most recent call last):
    ...
    mathlib.errors.ValueRefused: cork has no coupons yet: update it with results first.

    """
    from mathlib.measure import coupon_fit

    return coupon_fit.keep(path, material, date)


def form(plan: Plan) -> str:
    """Write the table to be filled in: one row for each line, in the order of burning.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> mine = load(TAGMAKER)
    >>> made = plan("birch plywood", "3 mm", mine.heads.laser, mine, seed=1)
    >>> form(made).splitlines()[-1].startswith("27,")
    True

    """
    from mathlib.measure import coupon_files

    return coupon_files.form(plan)


def read(path: Any, plan: Plan) -> tuple[Cut, ...]:
    """Read a table that was filled in; see ``coupon_files.read``.

    Examples
    --------
    >>> read("no such file.csv", None)
    Traceback (most recent call last):
    ...
    mathlib.errors.TableError: no such file.csv: there is no such file.

    """
    from mathlib.measure import coupon_files

    return coupon_files.read(path, plan)


def to_svg(plan: Plan) -> str:
    """Write the sheet as a drawing with numbered lines; see ``coupon_files.to_svg``.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> mine = load(TAGMAKER)
    >>> "<svg" in to_svg(plan("birch plywood", "3 mm", mine.heads.laser, mine, seed=1))
    True

    """
    from mathlib.measure import coupon_files

    return coupon_files.to_svg(plan)


def to_rs274(plan: Plan, machine: Any, supervised: bool) -> str:
    """Write the program that burns the lines; see ``coupon_files.to_rs274``.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> mine = load(TAGMAKER)
    >>> made = plan("birch plywood", "3 mm", mine.heads.laser, mine, seed=1)
    >>> to_rs274(made, mine, supervised=False)  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    mathlib.errors.ValueRefused: Coupon files: ...

    """
    from mathlib.measure import coupon_files

    return coupon_files.to_rs274(plan, machine, supervised)
