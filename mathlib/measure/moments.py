"""Dates and times of day as people and devices write them, as seconds.

Between points the day comes first; between slashes it may be the day or the month, and where no
number is beyond 12 only the reader knows.
"""

from __future__ import annotations

import re
from typing import Any, Final

import numpy as np

from mathlib.measure.text import Findings, shown

ORDERS: Final = ("day first", "month first")
_SLASHED: Final = re.compile(r"(\d{1,2})/(\d{1,2})/\d{2,4}(?!\d)")
_POINTED: Final = r"^(\d{1,2})\.(\d{1,2})\.(\d{2,4})"
_DAY: Final = 86400.0


def order(found: Findings, texts: list[str], chosen: str | None) -> str:
    """Tell what comes first in dates with slashes, from cells of a file or by choice.

    Raises
    ------
    TableError
        Both orders are possible, or neither is; the sentence names the choice.

    """
    if chosen is not None:
        if chosen not in ORDERS:
            raise found.refuse(f'dates is "day first" or "month first"; got {chosen!r}.')
        return chosen
    met = [m for m in map(_SLASHED.match, texts) if m]
    ways = {
        way
        for m in met
        for way, number in (("day first", int(m[1])), ("month first", int(m[2])))
        if number > 12
    }
    if len(ways) == 1 or not met:
        return ways.pop() if ways else "day first"
    raise found.refuse(
        f"in the date {shown(met[0][0])} day or month may come first: pass "
        'dates="day first" or dates="month first".'
    )


def seconds(texts: Any, dates: str) -> Any:
    """Seconds since 1970 of dates, seconds since midnight of times of day; nan for others.

    >>> seconds(["24.11.2026 14:03:05", "14:03:05.5", "left"], "day first")
    array([1.79552898e+09, 5.05855000e+04,            nan])
    """
    import pandas as pd

    plain = pd.Series(texts, dtype=object).astype(str).str.strip().str.strip('"')
    day = plain.str.contains(r"^\d{4}-|^\d{1,2}[./]\d", regex=True)
    made = np.full(len(plain), np.nan)
    clock = plain.str.replace(",", ".", regex=False)[~day]
    if len(clock):
        made[~day.to_numpy()] = _of_day(clock)
    if not day.any():
        return made
    told = plain[day].str.replace(r"(\d),(\d)", r"\1.\2", regex=True).str.replace(",", "")
    told = told.str.replace(_POINTED, r"\1/\2/\3", regex=True)
    iso = told.str.contains(r"^\d{4}-", regex=True)
    points = plain[day].str.match(r"\d{1,2}\.\d{1,2}\.\d")
    for rows, told_order in (
        (iso, ""),
        (~iso & points, "day first"),
        (~iso & ~points, dates),
    ):
        if rows.any():
            at = np.flatnonzero(day.to_numpy())[rows.to_numpy()]
            made[at] = _dated(told[rows], told_order)
    return made


def _dated(told: Any, dates: str) -> Any:
    import pandas as pd

    if not dates:
        read = pd.to_datetime(told, format="ISO8601", utc=True, errors="coerce")
        return _in_seconds(read.dt.tz_localize(None))
    short = told.str.extract(r"^\d+/\d+/(\d+)")[0].str.len() == 2
    parts = told.str.replace("T", " ").str.split(" ", n=1)
    days = pd.Series(pd.NaT, index=told.index, dtype="datetime64[ns]")
    for rows, year in ((short, "%y"), (~short, "%Y")):
        form = f"%d/%m/{year}" if dates == "day first" else f"%m/%d/{year}"
        days[rows] = pd.to_datetime(parts.str[0][rows], format=form, errors="coerce")
    clock = parts.str[1].astype(object).fillna("0:00:00").str.strip()
    return _in_seconds(days) + _of_day(clock)


def _of_day(clock: Any) -> Any:
    """Seconds since midnight of times of day, in 24 hours or in twice twelve."""
    import pandas as pd

    half = clock.str.extract(r"([AaPp])[Mm]$")[0].str.lower()
    clock = clock.str.replace(r" ?[AaPp][Mm]$", "", regex=True)
    clock = clock.str.replace(r"^(\d+:\d\d)$", r"\1:00", regex=True)
    made = _in_seconds(pd.to_timedelta(clock, errors="coerce"))
    twelve = clock.str.match("12:").to_numpy()
    made += np.where((half == "p").to_numpy() & ~twelve, _DAY / 2, 0.0)
    return made - np.where((half == "a").to_numpy() & twelve, _DAY / 2, 0.0)


def _in_seconds(read: Any) -> Any:
    whole = read.to_numpy()
    whole = whole.astype("datetime64[ns]" if whole.dtype.kind == "M" else "timedelta64[ns]")
    made = whole.astype(np.int64) / 1e9
    made[np.isnat(whole)] = np.nan
    return made


def joined(found: Findings, rows: Any, headed: list[Any], *beside: list[Any]) -> Any:
    """Put a column of days into that of times of day; the heads and ``beside`` lose the days."""
    when = [n for n, head in enumerate(headed) if head.moment]
    days = [n for n in when if _all(rows[:, n], lambda v: (v > _DAY) & (v % _DAY == 0))]
    times = [n for n in when if _all(rows[:, n], lambda v: (v >= 0) & (v < _DAY))]
    if len(days) != 1 or len(times) != 1:
        return rows
    rows[:, times[0]] += rows[:, days[0]]
    found.note(f"{headed[times[0]].name}: the day is taken from {headed[days[0]].name}.")
    for told in (headed, *beside):
        del told[days[0]]
    return np.delete(rows, days[0], axis=1)


def _all(values: Any, test: Any) -> bool:
    known = values[np.isfinite(values)]
    return bool(len(known)) and bool(test(known).all())
