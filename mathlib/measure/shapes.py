"""Tables in other shapes: scans side by side, sensors in turn, rows that repeat or run backward."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib.measure import clock
from mathlib.measure.heads import Head
from mathlib.measure.text import Findings, shown

_SENSOR: Final = (
    "sensor", "id", "sensor_id", "sensor id", "sensor-id", "sensorid", "sensor no", "channel", "ch",
    "chan", "kanal", "device", "device_id", "device id", "axis", "achse", "node", "probe", "imu",
)  # fmt: skip
_MOST_IN_TURN: Final = 8  # sensors
DUPLICATES: Final = ("first", "last", "mean", "keep")


def scans(heads: list[Head], labels: list[dict[str, int]]) -> int:
    """Columns of one scan where several stand side by side; 0 where none do.

    >>> scans([Head(n, "mm") for n in ("x1", "y1", "x2", "y2")], [{}] * 4)
    2
    """
    names = [head.name.lower() for head in heads]
    if any(labels):
        return 0
    for width in (2, 3, 4):
        count, over = divmod(len(names), width)
        if over or count < 2:
            continue
        groups = [names[n * width : (n + 1) * width] for n in range(count)]
        if all(group == groups[0] for group in groups) and len(set(groups[0])) == width:
            return width
        bare = [[_without_number(name) for name in group] for group in groups]
        told = [{_number(name) for name in group} for group in groups]
        if (
            all(group == bare[0] for group in bare)
            and len(set(bare[0])) == width
            and all(len(n) == 1 for n in told)
            and len(set(map(min, told))) == count
        ):
            return width
    return 0


def _without_number(name: str) -> str:
    return name.rstrip("0123456789").rstrip(" _.-#(")


def _number(name: str) -> str:
    return name[len(name.rstrip("0123456789")) :]


def stacked(
    found: Findings, rows: Any, heads: list[Head], width: int, scan: int | None
) -> tuple[Any, list[Head]]:
    """Put scans that stand side by side under one another, numbered; or take one of them."""
    count = len(heads) // width
    units = [{heads[n * width + k].unit for n in range(count)} for k in range(width)]
    names = [
        _without_number(heads[k].name) if heads[0].name != heads[width].name else heads[k].name
        for k in range(width)
    ]
    for k, told in enumerate(units):
        if len(told) > 1:
            raise found.refuse(
                f"the scans have {names[k]} in several units: {', '.join(map(str, told))}."
            )
    if scan is not None and (isinstance(scan, bool) or scan not in range(1, count + 1)):
        raise found.refuse(f"scan is a number from 1 to {count}; got {scan!r}.")
    parts = []
    for n in range(count) if scan is None else [scan - 1]:
        part = rows[:, n * width : (n + 1) * width]
        filled = ~np.isnan(part).all(axis=1)
        part = part[filled]
        number = np.full((len(part), 1), n + 1.0)
        parts.append(part if scan is not None else np.hstack([part, number]))
    found.note(
        f"{count} scans stand side by side"
        + (f"; scan {scan} was taken." if scan else "; they are numbered in the column scan.")
    )
    kept = [Head(name, heads[k].unit, heads[k].factor) for k, name in enumerate(names)]
    return np.concatenate(parts), kept if scan is not None else [*kept, Head("scan", "1")]


def sensor_column(heads: list[Head], labels: list[dict[str, int]], rows: Any) -> int | None:
    """Column that tells which sensor a row is from, or None."""
    for n, (head, known) in enumerate(zip(heads, labels, strict=True)):
        named = head.name.lower().strip() in _SENSOR
        values = len(known) if known else len(np.unique(rows[:2000, n])) if named else 0
        if named and 1 < values <= 64:
            return n
    return None


def _named_in_turn(rows: Any, labels: list[dict[str, int]], at: int) -> int | None:
    """Column of words that come round once at each time: the names of sensors, whatever its head.

    >>> rows = np.array([[t, s, t + s] for t in range(4) for s in (0, 1)], float)
    >>> _named_in_turn(rows, [{}, {"A": 0, "B": 1}, {}], 0)
    1
    """
    for n, known in enumerate(labels):
        count = len(known)
        whole = len(rows) // count if count else 0
        if not 2 <= count <= _MOST_IN_TURN or whole < 2:
            continue
        parts = rows[: whole * count, [n, at]].reshape(whole, count, 2)
        if (parts[:, :, 0] == parts[0, :, 0]).all() and (parts[:, :, 1] == parts[:, :1, 1]).all():
            return n
    return None


def in_turn(rows: Any, at: int) -> int:
    """Count the sensors that write in turn at each time without a name; 0 where none do.

    Each time then stands as often as there are sensors, and each sensor has values of its own. A
    clock that is coarser than the sampling repeats its times too, but not that.

    >>> in_turn(np.array([[t, v] for t in range(6) for v in (0.1 * (t % 2), 9.8)]), 0)
    2
    """
    times = rows[:, at]
    if len(times) < 8 or (np.diff(times[:9]) != 0).all() or not np.isfinite(times).all():
        return 0
    starts = np.flatnonzero(np.concatenate(([True], np.diff(times) != 0)))
    lengths = np.diff(starts)
    count = int(lengths[0]) if len(lengths) else 0
    if not 2 <= count <= _MOST_IN_TURN or len(starts) < 4 or (lengths != count).any():
        return 0
    whole = len(rows) // count
    values = np.delete(rows[: whole * count], at, axis=1).reshape(whole, count, -1)
    apart = np.ptp(values.mean(axis=0), axis=0)
    return count if bool(np.any(apart > 3 * values.std(axis=0).mean(axis=0))) else 0


def one_in_turn(found: Findings, rows: Any, count: int, wanted: str | int | None) -> Any:
    """Rows of one of the sensors that write in turn without a name.

    Raises
    ------
    TableError
        None was chosen, or there is no such one.

    """
    told = f"each time stands {count} times, with values of {count} kinds: sensors that take turns"
    if wanted is None:
        raise found.refuse(
            f'{told}. Pass which one, sensor=1 to sensor={count}, or sensor="all" if it is one '
            "sensor on a coarse clock."
        )
    if wanted == "all":
        return rows
    number = str(wanted)
    if number not in map(str, range(1, count + 1)):
        raise found.refuse(f"sensor is a number from 1 to {count}; got {wanted!r}.")
    kept = rows[int(number) - 1 :: count]
    found.note(f"Of {count} sensors that take turns, {number} was taken: {len(kept)} rows.")
    return kept


def one_sensor(
    found: Findings, rows: Any, column: int, names: dict[str, int], wanted: str | int | None
) -> Any:
    """Rows of the sensor that was chosen.

    Raises
    ------
    TableError
        Several sensors take turns and none was chosen, or there is no such one.

    """
    if not names:
        names = {f"{value:g}": value for value in np.unique(rows[:, column])}
    told = ", ".join(map(repr, list(names)[:12]))
    if wanted is None:
        first = next(iter(names))
        raise found.refuse(
            f"several sensors take turns: {told}. Pass one, such as sensor={first!r}, or "
            'sensor="all" to keep their rows mixed.'
        )
    if wanted == "all":
        found.note(f"Rows of several sensors take turns: {told}.")
        return rows
    if str(wanted) not in names:
        raise found.refuse(f"there is no sensor {shown(str(wanted))}; there are {told}.")
    kept = rows[rows[:, column] == names[str(wanted)]]
    found.note(f"Of the sensors {told}, {wanted!r} was taken: {len(kept)} of {len(rows)} rows.")
    return kept


def of_sensor(
    found: Findings,
    rows: Any,
    headed: list[Head],
    labels: list[dict[str, int]],
    at: int | None,
    sensor: str | int | None,
) -> Any:
    """Rows of the sensor that was chosen, where several write into one table."""
    column = sensor_column(headed, labels, rows)
    if column is None and at is not None:
        column = _named_in_turn(rows, labels, at)
    if column is not None:
        return one_sensor(found, rows, column, labels[column], sensor)
    turns = in_turn(rows, at) if at is not None and not any(labels) else 0
    if turns:
        return one_in_turn(found, rows, turns, sensor)
    if sensor is not None:
        raise found.refuse("there is no column of sensors to choose from.")
    return rows


def filled(found: Findings, rows: Any) -> Any:
    """Rows that have a value, as those below a table in a spreadsheet have none."""
    if "absent" not in found.met or rows.shape[1] < 2:
        return rows
    empty = np.isnan(rows).all(axis=1)
    if not empty.any() or empty.all():
        return rows
    found.note(f"{np.count_nonzero(empty)} rows without any value were left out.")
    return rows[~empty]


def ordered(found: Findings, rows: Any, column: int, name: str, is_time: bool) -> Any:
    """Turn a table round that descends throughout; sort a few rows of time that came late."""
    steps = np.diff(rows[:, column])
    if not len(steps) or np.isnan(steps).any():
        return rows
    if (steps <= 0).all() and (steps < 0).any():
        found.note(f"{name} descended; the rows were turned round.")
        return rows[np.argsort(rows[:, column], kind="stable")]  # equal ones as they were written
    # Of a clock that starts anew all rows lie behind the latest before; of late rows a few.
    late = rows[:, column] < np.maximum.accumulate(rows[:, column])
    back = int(np.count_nonzero(late))
    if is_time and 0 < back <= 0.05 * len(steps):
        usual = np.median(steps)
        if usual > 0 and (steps[steps < 0] > -20 * usual).all():
            found.note(f"{back} rows came late; they were put in order of {name}.")
            return rows[np.argsort(rows[:, column], kind="stable")]
    return rows


def without_repeats(
    found: Findings, rows: Any, column: int, name: str, is_time: bool, wanted: str | None
) -> Any:
    """Rows that repeat: exact ones of a time are left out, others are a choice."""
    if wanted is not None and wanted not in DUPLICATES:
        raise found.refuse(f"duplicates is one of {', '.join(DUPLICATES)}; got {wanted!r}.")
    if len(rows) < 2 or wanted == "keep":
        return rows
    same = np.flatnonzero(np.diff(rows[:, column]) == 0)
    if not len(same):
        return rows
    equal = (rows[same] == rows[same + 1]) | (np.isnan(rows[same]) & np.isnan(rows[same + 1]))
    exact = same[equal.all(axis=1)]
    if is_time and wanted is None and clock.coarse(len(same), len(rows)):
        return rows  # a clock coarser than the sampling, which the clock's note tells
    if not is_time and wanted is None:
        if len(exact):
            found.note(
                f"{len(exact)} rows repeat the one before exactly; they were kept, "
                'duplicates="first" leaves them out.'
            )
        return rows
    if len(exact):
        found.note(f"{len(exact)} rows that repeat the one before exactly were left out.")
        rows = np.delete(rows, exact + 1, axis=0)
        same = np.flatnonzero(np.diff(rows[:, column]) == 0)
    if not len(same):
        return rows
    if wanted is None:
        at = rows[same[0], column]
        raise found.refuse(
            f"{len(same)} rows have the {name} of the row before and other values, the first at "
            f'{name} {at:g}: pass duplicates="first", "last", "mean" or "keep".'
        )
    found.note(f'{len(same)} rows with a repeated {name}: duplicates="{wanted}".')
    return _joined(rows, column, wanted)


def _joined(rows: Any, column: int, wanted: str) -> Any:
    new = np.concatenate(([True], np.diff(rows[:, column]) != 0))
    starts = np.flatnonzero(new)
    if wanted == "first":
        return rows[starts]
    ends = np.append(starts[1:], len(rows))
    if wanted == "last":
        return rows[ends - 1]
    return np.add.reduceat(rows, starts, axis=0) / (ends - starts)[:, None]
