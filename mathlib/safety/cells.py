"""The printed cells of the tables of exposure limits, and the lowest that applies at each point.

A cell is ``coefficient × time**power × factors`` over a band of wavelengths, times and source
angles. For many points each band is looked up once, by ``searchsorted``; the cells that share it
are laid one upon the other, and the lowest of them counts. Everything is in SI base units.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import tables, typed
from mathlib.errors import TableError
from mathlib.safety.corrections import (
    EDGE,
    EDITIONS,
    LAW,
    LOWEST,
    _source_factor,
    _thermal_time,
    band,
    curves,
)

SHORTEST: Final = 1e-13  # s
LONGEST: Final = 3e4  # s
BLUEST: Final = 180e-9  # m
REDDEST: Final = 1e-3  # m
CONFIDENCES: Final = ("low", "medium", "high")
_TO_T2: Final = "min(t,T2)^"
_MANY: Final = 512  # values from which comparing with every edge is faster than a search
_UNITS: Final = ("J/m^2", "W/m^2", "J", "W")


class Printed(NamedTuple):
    """A limit as it is printed, such as ``18 C6 t^0.75 J/m^2``, read into its parts."""

    coefficient: float
    power: float
    factors: tuple[str, ...]
    to_t2: bool
    unit: str


class Cell(NamedTuple):
    """One cell of the table."""

    name: str
    target: str
    mechanism: str
    angles: tuple[float, float]
    wavelengths: tuple[float, float]
    times: tuple[float, float]
    text: str
    printed: Printed
    confidence: str
    editions: tuple[str, ...]
    note: str
    checked: str


def as_printed(text: str) -> Printed:
    """Read a limit as the tables have it.

    >>> as_printed("18 C6 t^0.75 J/m^2")
    Printed(coefficient=18.0, power=0.75, factors=('C6',), to_t2=False, unit='J/m^2')

    Raises
    ------
    TableError
        The text is not a number, factors, a power of t or min(t,T2), and a unit.

    """
    first, *parts, unit = text.split(" ")
    power, factors, to_t2 = 0.0, [], False
    for part in parts:
        if part.startswith("C") and part[1:].isdigit():
            factors.append(part)
        elif part.startswith(("t^", _TO_T2)):
            to_t2 = part.startswith(_TO_T2)
            power = typed.number(part.partition("^")[2])
        else:
            raise TableError(f"{text!r}: {part!r} is neither a factor nor a power of time.")
    if unit not in _UNITS:
        raise TableError(f"{text!r} ends in none of the units {', '.join(_UNITS)}.")
    return Printed(typed.number(first), power, tuple(factors), to_t2, unit)


@lru_cache(maxsize=1)
def cells() -> tuple[Cell, ...]:
    """Every cell of ``data/exposure_limits.csv``."""
    return tuple(
        Cell(
            row.name,
            row.texts["target"],
            row.texts["mechanism"],
            band(row, "angle"),
            band(row, "wavelength"),
            band(row, "time"),
            row.texts["limit"],
            as_printed(row.texts["limit"]),
            row.texts["confidence"],
            tuple(row.texts["editions"].split("; ")),
            row.note,
            row.texts.get("checked_by", ""),
        )
        for row in tables.read("exposure_limits").rows.values()
    )


def of_edition(edition: str) -> tuple[str, ...]:
    """Editions whose cells count: for the lowest, both of the first two."""
    return EDITIONS[:2] if edition == LOWEST else (edition,)


class Grid:
    """Cells laid over bands of wavelength, time and source angle."""

    def __init__(self, chosen: tuple[Cell, ...], edition: str) -> None:
        self.cells, self.law = chosen, edition == LAW
        bent = [c for c in curves() if set(c.editions) & set(of_edition(edition))]
        self.waves = _edges([c.wavelengths for c in chosen] + [c.band for c in bent], REDDEST)
        self.times = _edges([c.times for c in chosen], LONGEST)
        self.angles = _edges([c.angles for c in chosen], 0.0)
        shape = (self.waves.size + 1, self.times.size + 1, self.angles.size + 1)
        self.stride = shape[1:]
        within = [
            np.ix_(
                _inside(self.waves, c.wavelengths),
                _inside(self.times, c.times),
                _inside(self.angles, c.angles),
            )
            for c in chosen
        ]
        self.count = np.zeros(shape, dtype=np.intp)
        for where in within:
            self.count[where] += 1
        size = (max(1, int(self.count.max())), *shape)
        self.coefficient = np.full(size, np.inf)
        self.power, self.plus, self.decades, self.start = (np.zeros(size) for _ in range(4))
        self.source, self.to_t2, self.bent = (np.zeros(size, dtype=bool) for _ in range(3))
        self.which = np.full(size, -1, dtype=np.intp)
        self.count[:] = 0
        for number, (cell, where) in enumerate(zip(chosen, within, strict=True)):
            self._lay(number, cell, where, bent)
        for name in _LAYERS:
            setattr(self, name, getattr(self, name).reshape(size[0], self.count.size))
        self.count = self.count.ravel()

    def _lay(self, number: int, cell: Cell, where: Any, bent: list[Any]) -> None:
        printed = cell.printed
        for i, j, k in np.broadcast(*where):
            at = (self.count[i, j, k], i, j, k)
            self.count[i, j, k] += 1
            self.which[at] = number
            self.coefficient[at] = printed.coefficient
            self.power[at] = printed.power - (printed.unit == "J/m^2")
            self.source[at] = "C6" in printed.factors
            self.to_t2[at] = printed.to_t2
            middle = (self.waves[i - 1] + self.waves[i]) / 2
            for curve in bent:
                low, high = curve.band
                if curve.factor not in printed.factors or not low <= middle < high:
                    continue
                if curve.decades == 0.0:
                    self.coefficient[at] *= curve.plus
                    continue
                if self.bent[at]:
                    raise TableError(f"{cell.name}: two factors vary with the wavelength at once.")
                self.bent[at] = True
                self.plus[at], self.decades[at] = curve.plus, curve.decades
                self.start[at] = curve.start

    def lowest(self, wave: Any, time: Any, angle: Any = None) -> tuple[Any, Any]:
        """Lowest irradiance over arrays of one shape, and the number of the cell that has it.

        ``angle`` is None for small sources. Infinite, with the number -1, where no cell is.
        """
        at = _place(self.waves, wave) * self.stride[0]
        at = (at + _place(self.times, time)) * self.stride[1]
        if angle is not None:
            at = at + self.angles.searchsorted(angle, "left")
        made = self._layer(0, at, wave, time, angle)
        chosen = self.which[0][at]
        for layer in range(1, len(self.which)):
            more = np.flatnonzero(self.count[at] > layer)
            if not more.size:
                break
            part = wave[more], time[more], None if angle is None else angle[more]
            value = self._layer(layer, at[more], *part)
            lower = value < made[more]
            made[more[lower]] = value[lower]
            chosen[more[lower]] = self.which[layer][at[more[lower]]]
        return made, chosen

    def _layer(self, layer: int, at: Any, wave: Any, time: Any, angle: Any) -> Any:
        if angle is not None:
            held = np.minimum(time, _thermal_time(angle))
            lasting = np.where(self.to_t2[layer][at], held, time)
        else:
            lasting = time
        made = self.coefficient[layer][at] * lasting ** self.power[layer][at]
        bent = np.flatnonzero(self.bent[layer][at])
        if bent.size:
            there = at[bent]
            away = wave[bent] - self.start[layer][there]
            made[bent] *= self.plus[layer][there] + 10.0 ** (self.decades[layer][there] * away)
        if angle is not None:
            wide = self.source[layer][at]
            made = np.where(wide, made * _source_factor(angle, time, self.law), made)
        return made


_LAYERS: Final = (
    "coefficient", "power", "plus", "decades", "start", "source", "to_t2", "bent", "which",
)  # fmt: skip


def _place(edges: Any, value: Any) -> Any:
    """Count the edges up to each value: by search, or for many by comparing, 5 times as fast."""
    if np.size(value) < _MANY:
        return edges.searchsorted(value, "right")
    count = np.zeros(value.shape, dtype=np.uint8)
    for edge in edges:
        count += (value >= edge).view(np.uint8)
    return count.astype(np.intp)


def _edges(bands: list[tuple[float, float]], closed: float) -> Any:
    """Sort the ends of all bands; a value on one lies above it, from ``closed`` on below it."""
    ends = np.array(sorted({end for pair in bands for end in pair if np.isfinite(end)}))
    return ends * np.where(ends < closed, 1 - EDGE, 1 + EDGE)


def _inside(edges: Any, ends: tuple[float, float]) -> Any:
    """Numbers of the intervals between the edges that lie within a band."""
    middles = np.concatenate([[-np.inf], (edges[1:] + edges[:-1]) / 2, [np.inf]])
    middles = middles[-edges.size - 1 :]  # without edges there is one interval
    return np.flatnonzero((middles >= ends[0]) & (middles <= ends[1]))


@lru_cache(maxsize=32)
def grid(target: str, edition: str, *mechanisms: str) -> Grid:
    """Cells of one target and edition; of the mechanisms whose name has one of these texts."""
    chosen = tuple(
        cell
        for cell in cells()
        if cell.target == target
        and set(cell.editions) & set(of_edition(edition))
        and (not mechanisms or any(each in cell.mechanism for each in mechanisms))
    )
    return Grid(chosen, edition)
