"""Change each number of the tables of limits by 10 %, up and down, and see who notices.

``python tests/mutate_exposure.py`` prints what each number is checked by; with ``--write`` it
stores that in the column ``checked_by`` of the tables. Three checks are independent of the typing:
values that others printed, the emission limits (which are limits of exposure through an aperture,
printed separately), and continuity, since neighbouring cells were made to meet. What only the
second typing notices rests on one memory alone, and pages say so.
"""

from __future__ import annotations

import contextlib
import csv
import itertools
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

HERE = Path(__file__).resolve().parent
for folder in (HERE.parent, HERE, HERE / "safety"):
    sys.path.insert(0, str(folder))

import second_typing  # noqa: E402
import test_reference  # noqa: E402

from mathlib import Q, tables  # noqa: E402
from mathlib.safety import cells, classes, corrections, exposure  # noqa: E402

FILES = {
    "exposure_limits": ("limit [text]",),
    "exposure_factors": ("plus [1]", "decades_per_length [1/nm]", "start [nm]"),
    "exposure_rules": ("number [1]", "angle [mrad]", "time [s]", "area [m^2]"),
    "emission_limits": ("limit [text]",),
}
COLUMN = "checked_by [text]"
ONLY = "second typing only"
CHANGES = (1.1, 0.9)
FACTORS = (("C2", 180, 315), ("C3", 400, 600), ("C4", 400, 1400), ("C7", 400, 1400))  # nm
EDITIONS = ("IEC 2014", "ICNIRP 2013", "2006/25/EC")
TOPICS = ("mpe", "mpe_old_edition", "factor", "ael", "ael_old_edition", "repetitive")


class Place(NamedTuple):
    """One number of a table."""

    file: str
    row: str
    column: str


def read(file: str) -> list[dict[str, str]]:
    with (tables.DATA / f"{file}.csv").open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


def write(folder: Path, file: str, rows: list[dict[str, str]]) -> None:
    with (folder / f"{file}.csv").open("w", encoding="utf-8", newline="") as opened:
        writer = csv.DictWriter(opened, fieldnames=list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def places() -> list[Place]:
    """Every number that can be changed; a 0 cannot."""
    return [
        Place(file, row["name"], column)
        for file, columns in FILES.items()
        for row in read(file)
        for column in columns
        if row[column] not in ("", "0")
    ]


def forget() -> None:
    for kept in (
        cells.cells, cells.grid, corrections.curves, corrections.rules, classes.lines,
    ):  # fmt: skip
        kept.cache_clear()


@contextlib.contextmanager
def changed(place: Place, by: float) -> Iterator[None]:
    """Let the library read tables in which one number is larger or smaller."""
    home = tables.DATA
    rows = read(place.file)
    row = next(row for row in rows if row["name"] == place.row)
    first, gap, rest = row[place.column].partition(" ")
    row[place.column] = f"{float(first) * by!r}{gap}{rest}"
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        for file in FILES:
            shutil.copy(home / f"{file}.csv", folder)
        write(folder, place.file, rows)
        try:
            tables.DATA = folder  # type: ignore[misc]
            forget()
            yield
        finally:
            tables.DATA = home  # type: ignore[misc]
            forget()


# -- the checks: each tells whether all is as it should be -------------------------------------


def printed_values() -> bool:
    """Values that others printed; chart readings are too coarse to count."""
    for param in test_reference.CASES:
        case = param.values[0]
        counts = case["id"].startswith("SAF") and case["topic"] in TOPICS
        if counts and case["kind"] == "published" and "chart" not in case["quantity"]:
            try:
                test_reference.test_reference(case)
            except AssertionError:
                return False
    return True


def emission_limits() -> bool:
    """Classes 1 and 2 are the limit through the aperture; 3R is five times as much."""
    for nm in (250, 308, 351, 405, 445, 520, 650, 808, 1064, 1175, 1250, 1550, 10600):
        wave = Q(float(nm), "nm")
        for s in (20.0, 100.0, 3e4):
            time = Q(s, "s")
            meant = exposure.limit(wave, time, edition="IEC 2014").irradiance
            across = exposure.limiting_aperture(wave, time)
            through = (meant * np.pi * across**2 / 4).to("W").magnitude
            one = exposure.emission_limit("1", wave, time).magnitude
            # two digits are printed, and 10 mW for 9.6 mW
            if abs(one / min(through, 0.5) - 1) > 0.045:
                return False
            if not 400 <= nm < 700:
                three = exposure.emission_limit("3R", wave, time).magnitude
                if abs(three / (5 * one) - 1) > 0.045:
                    return False
    blink = exposure.limit("532 nm", "0.25 s").irradiance.magnitude * np.pi * 0.0035**2
    two, three = (exposure.emission_limit(n, "532 nm").magnitude for n in ("2", "3R"))
    return abs(two / blink - 1) < 0.045 and abs(three / two / 5 - 1) < 0.045


def _lowest(target: str, edition: str, mechanism: str, wave: Any, time: Any) -> Any:
    wave, time = (v.reshape(-1) for v in np.broadcast_arrays(wave[:, None], time))
    return cells.grid(target, edition, mechanism).lowest(wave, time)[0]


#: nm, mechanism, and from when on the limits of both sides were made to meet.
MEETING = (
    ("eye", 302.5, "ultraviolet photochemical", 1e-9),
    ("skin", 302.5, "ultraviolet photochemical", 1e-9),
    ("eye", 450, "retinal photochemical", 10),
    ("eye", 700, "retinal thermal", 1e-9),
    ("eye", 1050, "retinal thermal", 50e-6),
    ("eye", 1150, "retinal thermal", 50e-6),
    ("eye", 1200, "retinal thermal", 50e-6),
    ("skin", 700, "skin thermal", 1e-9),
    ("skin", 1050, "skin thermal", 1e-9),
)
OFF = 1e-9  # beside an edge, relatively


def continuity() -> bool:
    """Neighbouring cells meet within 6 %, but for the printed step of the directive at 50 µs."""
    for edition in EDITIONS:
        for target in ("eye", "skin"):
            grid = cells.grid(target, edition)
            wave = np.sqrt(grid.waves[1:] * grid.waves[:-1])
            edges = grid.times[(grid.times > 0.99e-9) & (grid.times < 2e4)]
            before, after = (
                _lowest(target, edition, "", wave, edges * side).reshape(wave.size, -1)
                for side in (1 - OFF, 1 + OFF)
            )
            most = np.where(np.isclose(edges, 50e-6, rtol=1e-6), 1.0703, 1.06)
            if np.any(after / before > most) or np.any(after / before < 0.94):
                return False
        for target, nm, mechanism, start in MEETING:
            edges = cells.grid(target, edition).times
            time = np.sqrt(edges[1:] * edges[:-1])
            time = time[time > start]
            below, above = (
                _lowest(target, edition, mechanism, np.array([nm * 1e-9 * side]), time)
                for side in (1 - OFF, 1 + OFF)
            )
            if np.any(np.abs(above / below - 1) > 0.06):
                return False
    return True


def second_typed() -> bool:
    """Everything against the second typing, over a grid that touches every cell and rule."""
    import test_exposure as grid

    wave, time, angle = (np.array(v, float) for v in (grid.WAVES, grid.TIMES, grid.ANGLES))
    for name, low, high in FACTORS:
        for edition in EDITIONS:
            within = [nm for nm in grid.WAVES if low <= nm < high]
            got = exposure.factor(name, Q(np.array(within, float), "nm"), edition=edition).magnitude
            again = getattr(second_typing, name.lower())
            told = (edition,) if name == "C7" else ()
            if not np.allclose(got, [again(nm, *told) for nm in within], rtol=1e-9, atol=0):
                return False
    for edition in EDITIONS:
        for target in ("eye", "skin"):
            found = exposure.limit(
                Q(wave[:, None, None], "nm"),
                Q(time[:, None], "s"),
                target=target,
                source_angle=Q(angle, "mrad"),
                edition=edition,
            ).by_mechanism
            for name, values in found.items():
                wanted = WANTED.get((target, edition, name))
                if wanted is None or not np.allclose(values.magnitude, wanted, rtol=1e-9, atol=0):
                    return False
        got = _repeated(edition)
        if not np.allclose(got, REPEATED[edition], rtol=1e-9, atol=0):
            return False
        for nm, wanted in AS_ONE[edition].items():
            as_one = corrections._pulses_as_one(np.array([nm * 1e-9]), edition == "2006/25/EC")
            if not np.isclose(as_one[0], wanted, rtol=1e-9, atol=0):
                return False
    area = np.array([1e-3, 0.0105, 0.05, 0.095, 0.105])
    for s, wanted in ((9.5, 5600 * 9.5**-0.75), (10.5, 10 / np.clip(area, 0.01, 0.1))):
        wide = exposure.limit("5 um", Q(s, "s"), target="skin", exposed_area=Q(area, "m^2"))
        if not np.allclose(wide.irradiance.magnitude, wanted, rtol=1e-9, atol=0):
            return False
    field = exposure.photochemical_field(Q(time, "s")).magnitude
    if not np.allclose(
        field, [second_typing.photochemical_field(t) for t in time], rtol=1e-9, atol=0
    ):
        return False
    for name, wanted in EMISSION.items():
        there = np.isfinite(wanted)
        waves, times = np.meshgrid(wave, EMISSION_TIMES, indexing="ij")
        told = Q(waves[there], "nm"), Q(times[there], "s")
        got = exposure.emission_limit(name, *told).magnitude
        if not np.allclose(got, wanted[there], rtol=1e-9, atol=0):
            return False
    return True


#: Trains for C5: nm, duration in s, mrad, count, time of exposure in s.
TRAINS = (
    (320.0, 532.0, 1064.0, 1450.0, 1550.0, 2000.0, 10600.0),
    (0.9e-9, 0.9e-7, 4.9e-6, 12e-6, 17e-6, 49e-6, 0.9e-3, 9.0),
    (0.0, 4.9, 5.2, 60.0, 99.0, 104.0),
    (1, 30, 41, 590, 610, 640, 2000, 3e5),
    (0.24, 0.26, 10.0),
)
EMISSION_TIMES = (0.25, 20.0, 100.0, 2000.0, 3e4)


def _repeated(edition: str) -> Any:
    nm, tau, mrad, count, s = np.meshgrid(*TRAINS, indexing="ij")
    told = Q(nm, "nm"), Q(mrad, "mrad"), Q(s, "s")
    return exposure.pulse_factor(Q(tau, "s"), count, *told, edition=edition).magnitude


def _repeated_again(edition: str) -> Any:
    every = [
        second_typing.c5(nm, tau, n, mrad, s, edition)
        for nm, tau, mrad, n, s in itertools.product(*TRAINS)
    ]
    return np.array(every).reshape([len(values) for values in TRAINS])


def _emission_again(name: str) -> Any:
    import test_exposure as grid

    return np.array(
        [[second_typing.emission(name, nm, s) for s in EMISSION_TIMES] for nm in grid.WAVES]
    )


def _wanted() -> dict[tuple[str, str, str], Any]:
    import test_exposure as grid

    made: dict[tuple[str, str, str], Any] = {}
    shape = (len(grid.WAVES), len(grid.TIMES), len(grid.ANGLES))
    for edition in EDITIONS:
        for target in ("eye", "skin"):
            for i, nm in enumerate(grid.WAVES):
                for j, s in enumerate(grid.TIMES):
                    for k, mrad in enumerate(grid.ANGLES):
                        told = second_typing.by_mechanism(target, nm, s, mrad, edition)
                        for name, value in told.items():
                            key = (target, edition, name)
                            made.setdefault(key, np.full(shape, np.inf))[i, j, k] = value
    return made


WANTED = _wanted()
REPEATED = {edition: _repeated_again(edition) for edition in EDITIONS}
AS_ONE = {e: {nm: second_typing.together(nm, e) for nm in TRAINS[0]} for e in EDITIONS}
EMISSION = {name: _emission_again(name) for name in ("1", "2", "3R", "3B")}
INDEPENDENT = {
    "printed value": printed_values,
    "emission limit": emission_limits,
    "continuity": continuity,
}


def notices(check: Any, place: Place) -> bool:
    """Whether a check notices the change, upwards and downwards; an error is no notice."""
    for by in CHANGES:
        with changed(place, by):
            if check():
                return False
    return True


def checked_by() -> dict[tuple[str, str], str]:
    """What each row is checked by: of a row with several numbers the weakest of them."""
    for name, check in (*INDEPENDENT.items(), ("second typing", second_typed)):
        assert check(), f"{name}: the tables fail before anything is changed"
    order = [*INDEPENDENT, ONLY]
    found: dict[tuple[str, str], str] = {}
    for place in places():
        best = next((n for n, check in INDEPENDENT.items() if notices(check, place)), ONLY)
        if best == ONLY:
            assert notices(second_typed, place), f"nothing notices a change of {place}"
        key = place.file, place.row
        found[key] = max(found.get(key, order[0]), best, key=order.index)
    return found


def stored() -> dict[tuple[str, str], str]:
    return {(file, row["name"]): row.get(COLUMN, "") for file in FILES for row in read(file)}


if __name__ == "__main__":
    told = checked_by()
    for (file, row), by in told.items():
        print(f"{by:20} {file}: {row}")
    if "--write" in sys.argv:
        for file in FILES:
            rows = read(file)
            for row in rows:
                row[COLUMN] = told[file, row["name"]]
            write(tables.DATA, file, rows)
