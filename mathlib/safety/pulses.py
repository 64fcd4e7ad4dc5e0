"""Limits of exposure to a train of equal pulses, by three rules of which the lowest counts.

Each pulse stays below the limit of a single one. So does every group of successive pulses, taken
as one exposure that lasts from the first to the last. And on the thermal limits each stays below
C5 times the limit of a single one, where the pulses within Ti count as one whose energies add.
Everything is in SI base units.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib.safety.cells import Grid
from mathlib.safety.corrections import (
    EDGE,
    _pulse_factor,
    _pulses_as_one,
    _thermal_time,
    angle_grows,
)

RULES: Final = ("each pulse", "pulses added up", "repeated pulses")
_WHOLE: Final = 1 + 1e-12  # so that 0.3 s at 10 Hz are 3 periods


def pulses_in(window: Any, duration: Any, rate: Any) -> Any:
    """Most pulses that fit whole into a window that is at least one pulse long."""
    return np.floor(np.maximum(window - duration, 0.0) * rate * _WHOLE) + 1.0


def pulse_limits(
    every: Grid, thermal: Grid, wave: Any, time: Any, angle: Any, duration: Any, rate: Any
) -> tuple[Any, Any]:
    """Radiant exposure of each pulse by each rule, and the cells that decide; (3, n) each."""
    alone, cell = every.lowest(wave, duration, angle)
    alone = alone * duration
    added, added_cell = _added_up(every, wave, time, angle, duration, rate, alone, cell)
    repeated, repeated_cell = _repeated(thermal, wave, time, angle, duration, rate)
    return np.stack([alone, added, repeated]), np.stack([cell, added_cell, repeated_cell])


def _added_up(
    every: Grid, wave: Any, time: Any, angle: Any, duration: Any, rate: Any, best: Any, cell: Any
) -> tuple[Any, Any]:
    """Lowest over every number of successive pulses that falls into the exposure.

    Between two edges of the table the limit of a group is a power of its time, so that its share
    for each pulse is lowest at the least or the largest number of pulses there. The mean of the
    whole train against the limit of the whole time is looked at too; it also counts a pulse that
    has begun when the exposure ends.
    """
    most = pulses_in(time, duration, rate)
    edges: list[Any] = [*every.times, time]
    if angle is not None:
        edges.append(_thermal_time(angle))
        edges += angle_grows()
    best, cell = best.copy(), cell.copy()
    for edge in edges:
        last = pulses_in(edge, duration, rate)
        for count in (last, last + 1.0):
            group = np.minimum(count, most)
            window = duration + (group - 1.0) / rate
            value, chosen = every.lowest(wave, window, angle)
            best, cell = _lower(best, cell, value * window / group, chosen)
    value, chosen = every.lowest(wave, time, angle)
    return _lower(best, cell, value / rate, chosen)


def _lower(best: Any, cell: Any, value: Any, chosen: Any) -> tuple[Any, Any]:
    lower = value < best
    return np.where(lower, value, best), np.where(lower, chosen, cell)


def _repeated(
    thermal: Grid, wave: Any, time: Any, angle: Any, duration: Any, rate: Any
) -> tuple[Any, Any]:
    seen = np.zeros_like(wave) if angle is None else angle
    together = _pulses_as_one(wave, thermal.law)
    within = pulses_in(np.minimum(together, time), duration, rate)
    # one exposure from the first to the last of them, which the cells up to Ti cover
    lasting = np.minimum(duration + (within - 1.0) / rate, together * (1 - 4 * EDGE))
    lasting = np.maximum(lasting, duration)
    held = time if thermal.law else np.minimum(time, _thermal_time(seen))
    groups = np.ceil(pulses_in(held, duration, rate) / within)
    single, cell = thermal.lowest(wave, lasting, angle)
    c5 = _pulse_factor(lasting, groups, together, seen, time, thermal.law)
    return np.where(together > 0.0, c5 * single * lasting / within, np.inf), cell
