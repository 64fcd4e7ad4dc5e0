"""The column of time: epochs, jitter, missing samples, and gaps between sessions."""

from __future__ import annotations

import datetime
import itertools
from typing import Any, Final

import numpy as np

from mathlib.measure.text import Findings

_EPOCHS: Final = ((1.0, "s"), (1e3, "ms"), (1e6, "us"), (1e9, "ns"))
_EARLIEST: Final = 9.4e8  # the end of 1999, in seconds since 1970
_LATEST: Final = 2.6e9  # 2052
_MANY: Final = 20  # rows of a repeated time; below that more of them must repeat
_GAP: Final = 20.0  # usual steps; fewer are missing samples
MISSING: Final = 1.5  # usual steps


def epoch_unit(values: Any) -> str | None:
    """Tell the unit in which numbers can be seconds since 1970, or None.

    >>> epoch_unit(np.array([1.78e12, 1.78e12 + 10]))
    'ms'
    """
    middle = float(np.nanmedian(values)) if np.isfinite(values).any() else 0.0
    for factor, unit in _EPOCHS:
        if _EARLIEST <= middle / factor <= _LATEST:
            return unit
    return None


def coarse(repeats: int, count: int) -> bool:
    """Tell whether times that repeat say that the clock is coarser than the sampling.

    A few rows may as well have been written twice.

    >>> coarse(1, 4), coarse(4, 6), coarse(300, 1000)
    (False, True, True)
    """
    return repeats > (0.2 if repeats >= _MANY else 0.5) * count


def since_start(found: Findings, name: str, values: Any, unit: str, dated: bool = False) -> Any:
    """Seconds since the first sample, from an epoch in a unit; the start goes into the notes."""
    factor = {unit: factor for factor, unit in _EPOCHS}[unit]
    first = float(values[np.isfinite(values)][0])
    start = datetime.datetime.fromtimestamp(first / factor, datetime.UTC)
    what = "dates and times" if dated else f"times since 1970 in {unit}"
    at = f"{start:%Y-%m-%d %H:%M:%S}{found.zone if dated else ' UTC'}"
    found.note(f"{name}: {what}, given as seconds since the first sample, {at}.")
    return (values - first) / factor


def sessions(found: Findings, name: str, seconds: Any) -> tuple[slice, ...]:
    """Rows of each session, parted where time jumps far ahead or back; jitter goes into notes."""
    steps = np.diff(seconds)
    if len(steps) and not steps.any():
        found.note(f"{name}: all its times are equal; they tell no order and no rate.")
    if len(steps) < 2 or not (steps > 0).any():
        return (slice(0, len(seconds)),)
    usual = _usual(steps)
    if coarse(int(np.count_nonzero(steps == 0)), len(steps)):
        usual = max(usual, 0.5 * float(np.ptp(seconds)) / len(steps))
    anew = (steps < 0) & (seconds[1:] <= seconds[0] + 0.5 * usual)
    cut = np.flatnonzero((np.abs(steps) > _GAP * usual) | anew)
    edges = [0, *(int(n) + 1 for n in cut), len(seconds)]
    made = tuple(slice(a, b) for a, b in itertools.pairwise(edges))
    inside = np.delete(steps, cut) if len(cut) else steps
    if back := int(np.count_nonzero(inside < 0)):
        found.note(f"{name}: it goes back {back} times within a session; the rows were left so.")
    equal = int(np.count_nonzero(inside == 0))
    if coarse(equal, len(inside)):
        found.note(
            f"{name}: its resolution is coarser than the sampling, many times repeat; the rate "
            "is that of the whole record."
        )
    else:
        _tell_jitter(found, name, inside)
    if len(made) > 1:
        lengths = ", ".join(f"{s.stop - s.start} rows" for s in made[:6])
        more = "" if len(made) <= 6 else " and so on"
        found.note(
            f"{name}: {len(made)} sessions with gaps between them ({lengths}{more}); "
            "session=1 takes the first."
        )
    return made


def _usual(steps: Any) -> float:
    """Median of the steps, of some of them where there are many; of those ahead if it is zero."""
    some = steps[:: 1 + len(steps) // 200_000]
    middle = float(np.median(some))
    ahead = steps[steps > 0] if middle <= 0 else some
    return float(np.median(ahead))


def _tell_jitter(found: Findings, name: str, steps: Any) -> None:
    usual = _usual(steps)
    missing = steps[steps > MISSING * usual]
    if len(missing):
        lost = int(np.sum(np.round(missing / usual) - 1))
        found.note(f"{name}: about {max(lost, 1)} samples are missing, in {len(missing)} places.")
    some = steps[:: 1 + len(steps) // 200_000]
    near = some[(some > 0) & (some <= MISSING * usual)]
    jitter = float(np.std(near)) if len(near) else 0.0
    if jitter > 0.02 * usual:
        found.note(
            f"{name}: the steps jitter by {jitter / usual:.0%} of {usual:.4g} s (standard "
            "deviation)."
        )
