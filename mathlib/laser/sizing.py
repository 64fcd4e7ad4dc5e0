"""Sizing a laser: which typical heads cut what a builder wants, how fast and how surely."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

import attrs
import numpy as np

from mathlib import units
from mathlib.errors import MathlibError, ValueRefused
from mathlib.laser import coupon, cutting, heads, removal
from mathlib.laser.beams import Module
from mathlib.laser.wanted import SLOWEST as SLOWEST
from mathlib.laser.wanted import Cutting as Cutting
from mathlib.laser.wanted import Wanted as Wanted
from mathlib.laser.wanted import named as named
from mathlib.laser.wanted import read_wanted as read_wanted
from mathlib.laser.wanted import wanted_of as wanted_of
from mathlib.materials import Material
from mathlib.ranges import Range
from mathlib.units import Q, Quantity

#: From this chance on a head counts as able, and below the other as unable; between: not told yet.
SURE, UNABLE = 0.8, 0.2
_MM_S: Final = units.container("mm/s")
OWN: Final = "this machine's head"
#: What a gas tube asks for besides its price.
TUBE_ASKS: Final = (
    "cooling: water that carries off several times its light, with a flow switch that stops the "
    "beam",
    "high voltage: 3 to 20 kV at the tube, which kills; earth, interlocks and work on it are for "
    "a qualified person",
    "ventilation: more power makes more smoke; ducted outdoors",
    "space: a tube of a metre and more that stands on the frame, and a lid over the whole path",
    "alignment: mirrors whose tilt moves the beam by twice the angle along the path",
    "eyes: its light is invisible, and glass and acrylic stop it where blue eyewear does not",
)


@attrs.frozen(kw_only=True, eq=False)
class Cell:
    """What one head does with one sheet, at the number of passes that does it most surely.

    ``unknown`` says why nothing can be told of it, where nobody stated what it takes.
    """

    chance: float
    passes: int
    asked: Quantity
    speed: Range
    power_needed: Range
    slower: float
    unknown: str = ""

    @property
    def told(self) -> str:
        """The chance in a word: "cuts", "cannot be told yet" or "does not cut"."""
        if self.chance >= SURE:
            return "cuts"
        return "does not cut" if self.chance <= UNABLE else "cannot be told yet"


@attrs.frozen(kw_only=True, eq=False)
class Sized:
    """Cells by sheet and head, and what follows; ``left_out`` says why a sheet has none.

    ``light`` has the typical optical power of each head, by its name, weakest first.
    """

    cells: dict[str, dict[str, Cell]]
    light: dict[str, Quantity]
    tubes: tuple[str, ...]
    left_out: dict[str, str]
    cautions: dict[str, tuple[str, ...]]
    fastest: Quantity

    def weakest(self, module: str) -> str:
        """Sheet that a head is least sure to cut: it decides."""
        return min(self.cells, key=lambda sheet: self.cells[sheet][module].chance)

    def shown(self, module: str) -> str:
        """Sheet that a head is least sure to cut, of those of which anything is told.

        Raises
        ------
        ValueRefused
            Nothing is told of any.

        """
        told = {sheet: row[module] for sheet, row in self.cells.items() if not row[module].unknown}
        if not told:
            raise ValueRefused(self.cells[self.weakest(module)][module].unknown)
        return min(told, key=lambda sheet: told[sheet].chance)

    def chance(self, module: str) -> float:
        """Chance of the least sure sheet."""
        return self.cells[self.weakest(module)][module].chance

    @property
    def able(self) -> tuple[str, ...]:
        """Heads that cut all that is wanted, weakest first."""
        return tuple(m for m in self.light if self.cells and self.chance(m) >= SURE)

    @property
    def deciding(self) -> str:
        """Sheet that decides: what the strongest head that is too weak is least sure of."""
        failing = [m for m in self.light if self.chance(m) < SURE]
        able = self.able
        if failing and able:
            below = [m for m in failing if self.light[m] <= self.light[able[0]]] or failing
            return self.weakest(below[-1])
        return self.weakest(max(self.light, key=self.chance))

    def table(self, costs: Mapping[str, str] | None = None) -> list[tuple[str, ...]]:
        """Rows of head, light, what it costs, and what it does with each sheet.

        ``costs`` has what the reader was asked for each head; a cell stays empty without it.
        """
        priced = costs or {}
        odd = [name for name in priced if name not in self.light]
        if odd:
            raise ValueRefused(f"No head here is called {' or '.join(map(repr, odd))}.")
        return [
            (
                name,
                units.show(self.light[name], 3),
                priced.get(name, ""),
                *(_short(self.cells[sheet][name], self.fastest) for sheet in self.cells),
            )
            for name in self.light
        ]


def _short(cell: Cell, fastest: Quantity) -> str:
    if cell.unknown:
        return "not known"
    if cell.chance <= UNABLE:
        return f"{cell.chance:.0%}"
    times = "1 pass" if cell.passes == 1 else f"{cell.passes} passes"
    if cell.speed.typical > fastest:
        return f"{cell.chance:.0%}: {times}, as fast as the job's {units.show(fastest, 2)}"
    return f"{cell.chance:.0%}: {times}, {units.show(cell.speed.typical, 2)}"


def size(
    machine: Any,
    wanted: Wanted | Mapping[str, Any] | Iterable[Wanted | Mapping[str, Any]] | None = None,
    modules: str | Module | Iterable[str | Module] | Mapping[str, Any] | None = None,
    draws: int = 4000,
) -> Sized:
    """Size a laser for what is wanted: chance, passes and speed of each head for each sheet.

    Parameters
    ----------
    machine : Machine
        Its file may list what is wanted under [[cutting.wanted]]; its head is sized along.
    wanted : Wanted or dict, or iterable of them, optional
        Sheets; by default those of the file, else the job's material and thickness.
    modules : str or Module, or iterable of them, or dict, optional
        Rows of ``lasers.csv``, records of heads, or either's values by name; by default all rows.
    draws : int
        How many draws stand behind each chance.

    Returns
    -------
    Sized
        Cells by sheet and head.

    Raises
    ------
    NeverProcess
        A material that is never to be processed is among the wanted ones.
    ValueRefused
        An unknown material without a data sheet; no such row; nothing wanted; a time for no
        length; no count of draws.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> sheet = {"material": "paper and card", "thickness": "0.3 mm"}
    >>> found = size(load(TAGMAKER), [sheet], ["blue diode, two emitters, 10 W"])
    >>> found.cells["0.3 mm paper and card"]["blue diode, two emitters, 10 W"].told
    'cuts'

    """
    if isinstance(draws, bool) or not isinstance(draws, int | np.integer) or draws < 1:
        raise ValueRefused(f"Sizing: draws is how many, such as 4000; got {draws!r}.")
    sheets = named(wanted_of(machine) if wanted is None else _read(wanted))
    lights = sorted(_lights(machine, modules, draws), key=lambda each: float(np.median(each.power)))
    found = {name: material_of(machine, each) for name, each in sheets.items()}
    cells: dict[str, dict[str, Cell]] = {}
    left_out: dict[str, str] = {}
    for name, each in sheets.items():
        try:
            cells[name] = _row(each, found[name], lights, draws)
        except ValueRefused as fault:
            left_out[name] = str(fault)
    return Sized(
        cells=cells,
        light={each.name: Q(float(np.median(each.power)), "W") for each in lights},
        tubes=tuple(each.name for each in lights if each.tube),
        left_out=left_out,
        cautions={
            name: found[name].for_processing(each.supplier_sheet or None)
            for name, each in sheets.items()
        },
        fastest=units.quantity(float(np.median(machine.job.speed.magnitude)), _MM_S),
    )


def material_of(machine: Any, wanted: Wanted) -> Material:
    """Material of a sheet, with what the machine's file knows from coupons of it.

    Raises
    ------
    NeverProcess, ValueRefused, NotUnique
        The material is never to be processed, or not known.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> mine = load(TAGMAKER)
    >>> material_of(mine, wanted_of(mine)[0]).name
    'birch plywood'

    """
    found = removal.as_material(wanted.material, wanted.supplier_sheet or None)
    return coupon.known(machine, found)


def _read(wanted: Any) -> tuple[Wanted, ...]:
    rows = [wanted] if isinstance(wanted, Wanted | Mapping) else wanted
    if isinstance(rows, str) or not all(isinstance(row, Wanted | Mapping) for row in rows):
        raise ValueRefused(
            "Sizing: each thing wanted says its material and thickness, such as "
            f'{{"material": "birch plywood", "thickness": "3 mm"}}; got {wanted!r}.'
        )
    listed = tuple(w if isinstance(w, Wanted) else read_wanted([w])[0] for w in rows)
    if not listed:
        raise ValueRefused("Sizing: the list of what is wanted is empty.")
    return listed


def _lights(machine: Any, modules: Any, draws: int) -> list[heads.Light]:
    every = heads.rows()
    if modules is None:
        told: dict[str, Any] = dict(every)
        head = machine.heads.laser
        if head is not None:
            spans = {k.removeprefix("heads.laser."): v for k, v in machine.ranges.items()}
            own = heads.fields_of(head)
            told[OWN] = own | {k: v for k, v in spans.items() if k in own}
    elif isinstance(modules, Mapping):
        told = dict(modules)
    else:
        told = {}
        for count, each in enumerate(_listed(modules), start=1):
            if isinstance(each, Module):
                told[f"head {count}, {units.show(each.optical_power, 3)}"] = each
            elif each in every:
                told[each] = every[each]
            else:
                raise ValueRefused(f"lasers.csv has no row {each!r}; there are {', '.join(every)}.")
    if not told:
        raise ValueRefused("Sizing: the list of heads is empty.")
    return [heads.light(name, values, draws) for name, values in told.items()]


def _listed(modules: Any) -> list[Any]:
    """Rows and records as a list, whether one was given or many."""
    return [modules] if isinstance(modules, str | Module) else list(modules)


def _row(
    wanted: Wanted, material: Material, lights: Sequence[heads.Light], draws: int
) -> dict[str, Cell]:
    """Cells of one sheet; of a wavelength that the record does not know nothing is told."""
    thickness = float(wanted.thickness.to("m").magnitude)
    most = max(1, int(wanted.most_passes.magnitude))
    sheets: dict[str, Any] = {}
    for each in lights:
        key = removal.band(each.wavelength)
        if key not in sheets:
            try:
                sheets[key] = (
                    removal.sheet(material, thickness, each.wavelength, draws),
                    cutting.coupling_draws(material, each.wavelength, draws),
                )
            except MathlibError as fault:
                sheets[key] = fault
    if all(isinstance(value, MathlibError) for value in sheets.values()):
        raise next(iter(sheets.values()))
    return {
        each.name: _cell(
            wanted,
            thickness,
            most,
            each,
            sheets[removal.band(each.wavelength)],
            cutting.has_coupon(material, each.wavelength, thickness),
        )
        for each in lights
    }


def _cell(
    wanted: Wanted, thickness: float, most: int, light: heads.Light, told: Any, own: bool
) -> Cell:
    if isinstance(told, MathlibError):
        return Cell(
            chance=cutting.UNSEEN,
            passes=1,
            asked=units.quantity(1e3 * wanted.speed(1), _MM_S),
            speed=Range("0 mm/s", "0 mm/s", "0 mm/s", str(told)),
            power_needed=Range("0 W", "0 W", "0 W", str(told)),
            slower=np.inf,
            unknown=str(told),
        )
    sheet, coupling = told
    reported = removal.reported(light.wavelength)
    most_likely = cutting.MOST if reported else cutting.UNSEEN
    best: tuple[float, int, Any] | None = None
    for passes in range(1, most + 1):
        width = light.width(thickness / passes)
        speed = removal.speeds(sheet, thickness, light.power, width, passes, coupling)
        part = cutting.chance(speed >= wanted.speed(passes), own, reported)
        if best is None or part > best[0] + 0.005:
            best = part, passes, speed
        if best[0] >= most_likely - 0.005:
            break  # no more passes than it takes
    assert best is not None
    part, passes, speed = best
    asked = wanted.speed(passes)
    width = light.width(thickness / passes)
    needed = removal.powers(sheet, thickness, asked, width, passes, coupling)
    sure, low, middle, high = np.percentile(speed, [100 * (1 - SURE), 5, 50, 95])
    return Cell(
        chance=part,
        passes=passes,
        asked=units.quantity(1e3 * asked, _MM_S),
        speed=removal.in_unit([low, middle, high], "mm/s", "energy balance, reported cuts"),
        power_needed=removal.in_unit(
            np.percentile(needed, [5, 50, 95]), "W", "energy balance, reported cuts"
        ),
        slower=float(asked / sure) if sure > 0 else np.inf,
    )
