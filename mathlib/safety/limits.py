"""What a question about a limit of exposure finds, and what decided it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import units, words
from mathlib.compiled import in_blocks
from mathlib.safety import wording
from mathlib.safety.cells import CONFIDENCES, Cell, Grid, of_edition
from mathlib.safety.cells import cells as all_cells
from mathlib.safety.corrections import (
    UNCONFIRMED,
    band,
    curves,
    holds,
    number,
    reached,
    rules,
    smallest_angle,
)
from mathlib.safety.pulses import RULES, pulse_limits
from mathlib.tables import Row as TableRow
from mathlib.units import Quantity

WIDE: Final = "wide skin"
LABELS: Final = (*RULES, WIDE)


class Row(NamedTuple):
    """One printed cell that applies, with the irradiance that it alone would allow."""

    name: str
    mechanism: str
    printed: str
    irradiance: Quantity
    confidence: str
    editions: tuple[str, ...]
    note: str


class Asked(NamedTuple):
    """One question in SI base units; arrays broadcast. ``pulse`` is (duration, rate) or ()."""

    edition: str
    target: str
    every: Grid
    thermal: Grid
    light: tuple[Any, ...]  # wavelength, time, and the source angle unless the source is small
    pulse: tuple[Any, ...]
    area: tuple[Any, ...]

    @property
    def cells(self) -> tuple[Cell, ...]:
        """Cells by their number: those of the grid of all, then those of the thermal one."""
        return (*self.every.cells, *self.thermal.cells)

    @property
    def numbers(self) -> list[Any]:
        """Every number of the question, in the order in which ``sorted`` takes them."""
        return [*self.light, *self.pulse, *self.area]

    def lowest(self, *parts: Any) -> tuple[Any, Any, Any]:
        """Irradiance over flat arrays, the number of the cell, and that of the rule."""
        wave, time, angle, duration, rate, area = self.sorted(parts)
        if self.pulse:
            each, cells = pulse_limits(self.every, self.thermal, wave, time, angle, duration, rate)
            cells[2] += len(self.every.cells)
            rule = np.argmin(each, axis=0)
            at = rule, np.arange(rule.size)
            made, cell = each[at] * rate, cells[at]
        else:
            made, cell = self.every.lowest(wave, time, angle)
            rule = np.zeros_like(cell)
        if area is not None:
            whole, there = self.every.lowest(wave, time, angle)
            most = whole * _of_wide_skin(wave, time, area)
            cell = np.where(most < made, there, cell)
            rule = np.where(most < made, LABELS.index(WIDE), rule)
            made = np.minimum(made, most)
        return made, cell, rule

    def sorted(self, parts: Any) -> tuple[Any, ...]:
        """Tell parts of ``numbers`` apart, broadcast; None for what was not asked."""
        flat = np.broadcast_arrays(*map(np.atleast_1d, parts))
        n, m = len(self.light), len(self.light) + len(self.pulse)
        angle = flat[2] if n == 3 else None
        duration, rate = flat[n:m] if self.pulse else (None, None)
        return flat[0], flat[1], angle, duration, rate, flat[m] if self.area else None

    def over(self, wanted: Any) -> Any:
        """Take what is ``wanted`` of ``lowest``, over the broadcast shape."""
        shape = np.broadcast_shapes(*(np.shape(n) for n in self.numbers))

        def code(*parts: Any) -> bool:
            parts[-1][...] = wanted(*self.lowest(*parts[:-1]))
            return True

        if 0 in shape:
            return np.empty(shape)
        if not shape:
            return wanted(*self.lowest(*self.numbers)).item()
        return in_blocks(code, self.numbers, shape)


def _of_wide_skin(wave: Any, time: Any, area: Any) -> Any:
    """Part of the limit that skin bears where much of it is exposed; infinite where none counts."""
    first, last = rules()["wide skin, from"], rules()["wide skin, to"]
    least = number(first, "area")
    part = least / np.clip(area, least, number(last, "area"))
    here = holds(band(first, "wavelength"), wave) & reached(time, number(first, "time"))
    return np.where(here, part, np.inf)


@dataclass(frozen=True, eq=False, repr=False)
class Limit:
    """A limit of exposure, and what decided it; texts are arrays where the question was one.

    ``irradiance`` is the mean over the limiting aperture and, for pulses, over the train.
    """

    irradiance: Quantity
    _asked: Asked

    def __repr__(self) -> str:
        if np.ndim(self.irradiance.magnitude):
            return f"limits of exposure of shape {np.shape(self.irradiance.magnitude)}"
        sure = "" if self.confidence == "high" else f"; {self.confidence} confidence in this cell"
        return (
            f"{units.show(self.irradiance)} ({self.mechanism}; {self.edition}{sure}). "
            f"{wording.TABLE_TO_CHECK}"
        )

    @cached_property
    def radiant_exposure(self) -> Quantity:
        """Of the whole exposure; of one pulse where there are pulses."""
        asked = self._asked
        lasting = 1 / asked.pulse[1] if asked.pulse else asked.light[1]
        return words.result(self.irradiance.magnitude * lasting, units.container("J/m^2"))

    @cached_property
    def _decided(self) -> Any:
        """Number of the cell and of the rule at each point, as one number."""
        return np.asarray(self._asked.over(lambda _, cell, rule: cell * len(LABELS) + rule)).astype(
            np.intp
        )

    def _texts(self, told: Any) -> Any:
        """Say something of each deciding cell and rule, as a text or an array of texts."""
        codes, back = np.unique(self._decided, return_inverse=True)
        cells = self._asked.cells
        said = [told(cells[code // len(LABELS)], LABELS[code % len(LABELS)]) for code in codes]
        if not np.ndim(self._decided):
            return said[0]
        return np.array(said)[back].reshape(np.shape(self._decided))

    @cached_property
    def mechanism(self) -> Any:
        """What would be hurt first, and for pulses the rule that decides."""
        pulsed = bool(self._asked.pulse)
        return self._texts(
            lambda cell, rule: (
                f"{cell.mechanism}, {rule}" if pulsed or rule == WIDE else cell.mechanism
            )
        )

    @cached_property
    def confidence(self) -> Any:
        """How surely the deciding cell was remembered: high, medium or low."""
        most = {RULES[2]: _confidence("C5"), WIDE: _confidence(WIDE)}
        return self._texts(
            lambda cell, rule: min(cell.confidence, most.get(rule, "high"), key=CONFIDENCES.index)
        )

    @cached_property
    def edition(self) -> Any:
        """Editions that have the deciding cell, of those that were asked for."""
        wanted = of_edition(self._asked.edition)
        return self._texts(lambda cell, _: ", ".join(e for e in wanted if e in cell.editions))

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """Every cell that applies somewhere; for pulses, to the exposure as a whole.

        The irradiance is infinite where a cell does not apply.
        """
        found = []
        asked = self._asked._replace(pulse=())
        for cell in asked.every.cells:
            alone = asked._replace(every=Grid((cell,), asked.edition))
            value = alone.over(lambda made, _, __: made)
            if np.any(np.isfinite(value)):
                told = words.result(value, IRRADIANCE)
                editions = tuple(e for e in of_edition(asked.edition) if e in cell.editions)
                about = (cell.text, told, cell.confidence, editions, cell.note)
                found.append(Row(cell.name, cell.mechanism, *about))
        return tuple(found)

    @cached_property
    def by_mechanism(self) -> dict[str, Quantity]:
        """Lowest irradiance by mechanism, such as "retinal thermal"."""
        made: dict[str, Any] = {}
        for row in self.rows:
            value = row.irradiance.magnitude
            made[row.mechanism] = np.minimum(made.get(row.mechanism, np.inf), value)
        return {name: words.result(value, IRRADIANCE) for name, value in made.items()}

    @cached_property
    def by_rule(self) -> dict[str, Quantity]:
        """Radiant exposure of one pulse by rule; empty for a continuous beam."""
        asked = self._asked
        if not asked.pulse:
            return {}
        shape = np.broadcast_shapes(*(np.shape(n) for n in asked.numbers))
        wave, time, angle, duration, rate, _ = asked.sorted(asked.numbers)
        flat = [v if v is None else v.ravel() for v in (wave, time, angle, duration, rate)]
        each, _ = pulse_limits(asked.every, asked.thermal, *flat)
        return {
            name: words.result(value.reshape(shape), units.container("J/m^2"))
            for name, value in zip(RULES, each, strict=True)
        }

    @cached_property
    def unchecked(self) -> tuple[str, ...]:
        """Names of deciding cells, factors and rules that nothing independent confirms."""
        asked, decided = self._asked, self._decided
        wanted, wave, wide = of_edition(asked.edition), asked.light[0], False
        if len(asked.light) == 3:
            wide = bool(np.any(asked.light[2] > smallest_angle()))
        used: dict[str, str] = {}
        for code in np.unique(decided):
            cell, rule = asked.cells[code // len(LABELS)], LABELS[code % len(LABELS)]
            used[cell.name] = cell.checked
            there = np.broadcast_to(wave, np.shape(decided))[decided == code]
            for curve in curves():
                ours = curve.factor in cell.printed.factors and set(curve.editions) & set(wanted)
                if ours and np.any(holds(curve.band, there)):
                    used[curve.name] = curve.checked
            begins = [word for word, at in _RULES_OF.items() if wide and at(cell)]
            begins += _OF_LABEL.get(rule, [])
            for name, row in rules().items():
                if name.startswith(tuple(begins)) and _is_of(row, wanted, there):
                    used[name] = row.texts["checked_by"]
        return tuple(name for name, by in used.items() if by == UNCONFIRMED)

    @property
    def notes(self) -> tuple[str, ...]:
        """Sentences that must stand beside the number."""
        said = [wording.PREVAIL, wording.TABLE_TO_CHECK]
        if self._asked.target == "eye" and np.any(np.asarray(self._asked.light[1]) < 10.0):
            said.append(wording.BLINK)
        if np.any(np.char.startswith(self.mechanism, "corneal, second limit")):
            said.append(wording.SMALL_BEAM)
        if self.unchecked:
            said.append(f"{wording.UNCONFIRMED} {'; '.join(self.unchecked)}.")
        return tuple(said)


#: How rows of the table of rules begin that a wide source uses, and those of repeated pulses.
_RULES_OF: Final[dict[str, Callable[[Cell], bool]]] = {
    "smallest source angle": lambda cell: "C6" in cell.printed.factors,
    "largest source angle": lambda cell: "C6" in cell.printed.factors,
    "T2": lambda cell: cell.printed.to_t2,
}
_OF_LABEL: Final = {RULES[2]: ["C5", "pulses as one"], WIDE: [WIDE]}


def _is_of(row: TableRow, wanted: tuple[str, ...], wave: Any) -> bool:
    """Tell whether a row of the table of rules is for these editions and wavelengths."""
    told = row.texts.get("editions", "")
    of_these = not told or set(told.split("; ")) & set(wanted)
    return bool(of_these and np.any(holds(band(row, "wavelength"), wave)))


IRRADIANCE: Final = units.container("W/m^2")


def without_independent_check() -> tuple[str, ...]:
    """Names of every cell, factor and rule of the tables that rests on a second typing alone.

    >>> "eye 1050 to 1400 nm, 1e-13 to 1e-11 s, retinal thermal" in without_independent_check()
    True
    """
    of_curves = ((curve.name, curve.checked) for curve in curves())
    of_rules = ((name, row.texts["checked_by"]) for name, row in rules().items())
    every = (*((cell.name, cell.checked) for cell in all_cells()), *of_curves, *of_rules)
    return tuple(name for name, by in every if by == UNCONFIRMED)


def _confidence(rule: str) -> str:
    """Lowest confidence of the numbers of a rule."""
    told = [row.texts["confidence"] for name, row in rules().items() if name.startswith(rule)]
    return min(told, key=CONFIDENCES.index)
