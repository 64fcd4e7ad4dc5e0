"""One axis of a record as even samples, or the reason why it cannot be judged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.measure.files import Table
from mathlib.words import Word

_PREFIXES: Final = ("accel", "acceleration", "acc", "a", "vib", "beschl", "imu", "g")
LOWEST_RATE: Final = 200.0  # Hz; below it a mode of a machine may well appear folded
_GAP: Final = 5.0  # usual steps without a sample
_FEWEST: Final = 200  # samples
_BLOCK: Final = 16_384  # samples that stay in cache
_COARSE: Final = 16  # steps of the converter across the whole swing


@dataclass(frozen=True)
class Series:
    """Even samples of one axis about their mean, their rate in Hz, and what was noticed."""

    values: Any
    rate: float
    name: str
    notes: tuple[str, ...]


def series(record: Table, axis: str, highest: float | None) -> Series:
    """Take one axis of a record.

    Raises
    ------
    ValueRefused
        It is too slow, too short, clipped, at rest, or has a gap; the sentence says what to do.

    """
    name = column_of(record, axis)
    who = f"vibration along {axis!r}"
    if record.time is None:
        raise ValueRefused(
            f'{who}: the record has no column of time; name it when reading: time="t".'
        )
    times = record[record.time]
    words.base_value(Word("time", "s", "", "signed"), times[:1], allow_missing=True)
    t, x = _plain(times), _plain(record[name])
    notes: list[str] = []
    with np.errstate(over="ignore", invalid="ignore"):
        told = np.isfinite(x.sum()) and np.isfinite(t.sum())  # else a look at each
    if not told:
        fine = np.isfinite(x) & np.isfinite(t)
        if not fine.all():
            notes.append(f"{np.count_nonzero(~fine)} samples without value were bridged")
            t, x = t[fine], x[fine]
    if len(x) < _FEWEST:
        raise ValueRefused(f"{who}: {len(x)} samples are too short a record; take some seconds.")
    x, rate = _even(who, t, x, notes)
    if rate < LOWEST_RATE and highest is None:
        raise ValueRefused(
            f"{who}: {rate:.4g} samples each second are too few: a mode above {rate / 2:.4g} Hz "
            f"would appear folded below it. Take {LOWEST_RATE:.0f} Hz or more, or say that nothing "
            f'rings above the half of it: highest="{rate / 5:.0f} Hz".'
        )
    low, high = _refuse_clipped(who, x, notes)
    mean = float(x.mean())
    x = x - mean
    x /= max(high - mean, mean - low, 1e-300)  # nothing here asks for the size
    return Series(x, rate, name, tuple(notes))


def _plain(column: Any) -> Any:
    """Values in the SI unit; the column's own array where that is its unit."""
    factor = units.kind(column._units).factor
    values = np.asarray(column.magnitude, dtype=float)
    return values if factor == 1.0 else values * factor


def column_of(record: Table, axis: str) -> str:
    """Name of the column that an axis means: its own name, or x for accel_x, ax and a_x."""
    if axis in record.columns:
        return axis
    low = axis.lower()
    made = [
        name
        for name in record.columns
        if name != record.time
        and any(
            name.lower().replace("_", "").replace(" ", "").replace("-", "") == prefix + low
            for prefix in ("", *_PREFIXES)
        )
    ]
    if len(made) == 1:
        return made[0]
    told = ", ".join(repr(name) for name in record.columns if name != record.time)
    raise ValueRefused(f"vibration: there is no one axis {axis!r}; the record has {told}.")


def _even(who: str, t: Any, x: Any, notes: list[str]) -> tuple[Any, float]:
    """Even samples and their rate; jitter and a few missing samples are bridged."""
    span = t[-1] - t[0]
    if not span > 0:
        raise ValueRefused(f"{who}: the time does not run forward.")
    mean = span / (len(t) - 1)
    few = 1 + len(t) // 100_000
    usual = max(float(np.median(t[1::few] - t[: len(t) - 1 : few])), 0.5 * mean)
    shortest, longest, coarse = _steps(t)
    if shortest < -_GAP * usual or longest > _GAP * usual + coarse:
        at = float(t[int(np.argmax(np.abs(np.diff(t))))])
        raise ValueRefused(
            f"{who}: there is a gap of {longest:.3g} s after {at:.4g} s. Choose one session when "
            "reading, session=1, or take the record again."
        )
    some = np.arange(0, len(t), 1 + len(t) // 200_000)
    away = t[some] - (t[0] + mean * some)
    if away.max() - away.min() <= 2.0 * mean + coarse:
        return x, 1.0 / mean
    if shortest < 0:
        order = np.argsort(t, kind="stable")
        t, x = t[order], x[order]
    grid = np.arange(t[0], t[-1], usual)
    notes.append("uneven samples were brought to an even rate by straight lines between them")
    return np.interp(grid, t, x), 1.0 / usual


def _steps(t: Any) -> tuple[float, float, float]:
    """Shortest and longest step, and the step of a clock whose readings repeat, or zero."""
    shortest, longest, still = np.inf, -np.inf, 0
    for begin in range(0, len(t) - 1, _BLOCK):
        steps = np.diff(t[begin : begin + _BLOCK + 1])
        shortest, longest = min(shortest, steps.min()), max(longest, steps.max())
        still += int(np.count_nonzero(steps == 0))
    coarse = 0.0
    if still >= 0.05 * (len(t) - 1):
        steps = np.diff(t)
        ahead = steps[steps > 0]
        coarse = float(ahead.min()) if len(ahead) else 0.0
    return float(shortest), float(longest), coarse


def _refuse_clipped(who: str, x: Any, notes: list[str]) -> tuple[float, float]:
    """Lowest and highest value of a record that is not clipped."""
    low, high = float(x.min()), float(x.max())
    span = high - low
    if not np.isfinite(span):
        raise ValueRefused(f"{who}: the values are too large to calculate with.")
    if not span > 1e-250:
        raise ValueRefused(f"{who}: the sensor gives one value only; nothing moves.")
    few = x[:: max(1, len(x) // 50_000)]
    levels = np.unique(few)
    step = float(np.diff(levels).min()) if len(levels) > 1 else span
    if span < _COARSE * step:
        notes.append("resolution: the swing is only a few steps of the sensor")
        return low, high
    for end, sign in ((high, 1.0), (low, -1.0)):
        edge = end - sign * 0.05 * span
        last = end - sign * 1e-9 * span
        at_end = int(np.count_nonzero(x >= last if sign > 0 else x <= last))
        near = int(np.count_nonzero(x >= edge if sign > 0 else x <= edge)) - at_end
        if at_end >= 6 and at_end > max(near, 2):
            raise ValueRefused(
                f"{who}: the record is clipped: {at_end} samples stand at {end:.4g}. Set the "
                "sensor to a wider range, or tap more gently."
            )
    return low, high
