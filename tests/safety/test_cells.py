"""Cells of the tables: what is read, where there is none, and what arrays of them give."""

from __future__ import annotations

import numpy as np
import pytest
from test_exposure import BOTH, EVERY

from mathlib import Q
from mathlib.safety import cells
from mathlib.safety.exposure import limit


def test_every_cell_is_read_as_it_is_printed() -> None:
    from mathlib.errors import TableError

    assert len(cells.cells()) > 70
    printed = cells.as_printed("18 C4 C6 C7 min(t,T2)^-0.25 W/m^2")
    assert printed == cells.Printed(18.0, -0.25, ("C4", "C6", "C7"), True, "W/m^2")
    for wrong in ("18 C6 t0.75 J/m^2", "18 C6 J/cm^2", "C6 J/m^2", "2 Cx J/m^2"):
        with pytest.raises((TableError, ValueError)):
            cells.as_printed(wrong)
    assert {c.confidence for c in cells.cells()} == set(cells.CONFIDENCES)


def test_arrays_of_one_and_of_none() -> None:
    assert limit(["445 nm"], "10 s").irradiance.magnitude.tolist() == [10.0]
    wide = limit(Q([[445.0], [1064.0]], "nm"), "10 s").irradiance.magnitude
    assert wide.tolist() == [[10.0], [50.0]]
    assert limit(Q(np.empty((0, 3)), "nm"), "10 s").irradiance.magnitude.shape == (0, 3)


def test_rows_are_those_of_any_point_with_their_editions() -> None:
    found = limit(["445 nm", "1310 nm"], "1 s").rows
    told = {row.name.partition(", ")[0]: row.editions for row in found}
    assert set(told) == {"eye 400 to 700 nm", "eye 1050 to 1400 nm", "eye 1200 to 1400 nm"}
    assert told["eye 1200 to 1400 nm"] == ("ICNIRP 2013",)
    assert told["eye 400 to 700 nm"] == ("IEC 2014", "ICNIRP 2013")
    assert found[0].irradiance.magnitude[0] == 18
    assert found[0].irradiance.magnitude[1] == np.inf


def test_where_no_cell_is_there_is_no_limit() -> None:
    grid = cells.grid("eye", "IEC 2014", "retinal thermal")
    made, number = grid.lowest(np.array([250e-9, 532e-9, 2e-6]), np.ones(3))
    assert np.isfinite(made).tolist() == [False, True, False]
    assert (number[0], number[2]) == (-1, -1)
    assert grid.cells[number[1]].name == "eye 400 to 700 nm, 5e-6 to 10 s, retinal thermal"
    none, number = cells.grid("skin", "IEC 2014", "retinal").lowest(np.array([1e-6]), np.ones(1))
    assert (none[0], number[0]) == (np.inf, -1)


def test_of_two_that_are_equal_the_first_of_the_table_is_named() -> None:
    # 100 J/m² in 10 s, and 10 W/m²
    both = limit("445 nm", "10 s")
    assert both.by_mechanism["retinal thermal"] == both.by_mechanism["retinal photochemical"]
    assert both.mechanism == "retinal thermal"
    assert limit(["445 nm", "445 nm"], "10 s").mechanism.tolist() == ["retinal thermal"] * 2


@EVERY
@BOTH
def test_no_point_of_the_table_is_bare(target: str, edition: str) -> None:
    grid = cells.grid(target, edition)
    middle = [np.sqrt(edges[1:] * edges[:-1]) for edges in (grid.waves, grid.times)]
    for angle in (None, 0.1e-3, 10e-3, 90e-3):
        wave, time = (v.reshape(-1) for v in np.broadcast_arrays(middle[0][:, None], middle[1]))
        seen = None if angle is None else np.full_like(wave, angle)
        assert np.isfinite(grid.lowest(wave, time, seen)[0]).all()
