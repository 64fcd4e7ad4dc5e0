"""Which lines to burn on a sheet of one's own, at which speeds, where and in which order."""

from __future__ import annotations

import math
from typing import Any, Final

import attrs
import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.laser import coupon, cutting, heads, removal
from mathlib.laser.beams import Beam, Module
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

    @property
    def passes(self) -> int:
        """Passes of the lines that may sever."""
        return max(p.passes for p in self.pieces if p.kind == "cut")

    def __repr__(self) -> str:
        """Say what is to be burned, in a few lines."""
        cuts = [p for p in self.pieces if p.kind == "cut"]
        width, depth = self.sheet.magnitude
        told = ", ".join(f"{speed:.3g}" for speed in self.levels)
        passes = "one pass" if self.passes == 1 else f"{self.passes} passes"
        marks = len(self.pieces) - len(cuts)
        return (
            f"{len(self.pieces)} lines on {width:.0f} mm by {depth:.0f} mm of "
            f"{units.show(self.thickness, 3)} {self.material.name}, grain along x\n"
            f"  {len(cuts)} to find the boundary, {passes} at {told} mm/s\n"
            f"  {marks or 'no'} marks, one pass each, for threshold and spot\n"
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
    found = coupon.known(machine, removal.as_material(material, supplier_sheet))
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
    runs = run_ups(speeds, acceleration)
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
        head = module if module.spot_diameter is None else heads.with_quality(module)
        return heads.light("coupons", head, 2), module
    rows = heads.rows()
    if not isinstance(module, str) or module not in rows:
        raise ValueRefused(
            f"Coupons: module is a Module, or a row of lasers.csv, one of {', '.join(rows)}; got "
            f"{module!r}."
        )
    record: Any = Module
    kept = attrs.fields_dict(record)
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


def _refuse_clear(material: Material, deep: float, beam: Beam, sheet: str | None) -> None:
    """Say where light goes through the sheet: no thinner sheet and no stronger head helps that."""
    kept = cutting.absorbed(material, Q(deep, "m"), beam.wavelength, sheet).typical
    if kept.magnitude < cutting.SEE_THROUGH:
        raise ValueRefused(
            f"Coupons: {material.name} of {deep * 1e3:.3g} mm keeps {100 * kept.magnitude:.2g} % "
            f"of light at {units.show(beam.wavelength, 4)}; the rest passes through, or back, "
            "and burns what lies below; a stronger head changes nothing in that. Take another "
            "sheet, or a head of another wavelength."
        )


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
        _refuse_clear(material, deep, beam, sheet)
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
        value = _rounded(speed, fastest)
        found += [("cut", level, value, across, passes) for across in (False, True)] * count
    top = min(fastest, _FASTER * high)
    if top >= 3.0 * high:  # closer together they would tell nothing of the threshold
        for level, speed in enumerate(np.geomspace(1.5 * high, top, MARKS)):
            found.append(("mark", level, _rounded(speed, fastest), level % 2 == 1, 1))
    return found


def _rounded(speed: float, fastest: float) -> float:
    return min(float(f"{speed:.4g}"), fastest)


def run_ups(speeds: Any, acceleration: float) -> Any:
    """Run-up of each line in mm, rounded up to a hundredth, for mm/s and mm/s².

    Examples
    --------
    >>> run_ups(np.array([100.0]), 2000.0)  # 1.25 * 100² / (2 * 2000) + 1
    array([4.13])

    """
    least = run_up(speed=Q(speeds, "mm/s"), acceleration=Q(acceleration, "mm/s^2"))
    return np.ceil(100 * (_MORE * least.to("mm").magnitude + _SETTLE)) / 100
