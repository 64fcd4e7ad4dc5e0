"""Dose over a surface keeps the energy, whatever the spot; measured profiles do as well."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.laser import dose, surface

FIELD: dict[str, Any] = {
    "power": "4 W", "speed": "100 mm/s", "line_spacing": "0.08 mm", "length": "1 mm", "lines": 5,
}  # fmt: skip


@pytest.mark.parametrize("shape", surface.SHAPES)
@pytest.mark.parametrize(("dx", "dy"), [(0.06, 0.06), (0.05, 0.12), (0.2, 0.04)])
def test_energy_on_the_surface_is_power_times_time(shape: str, dx: float, dy: float) -> None:
    step = 0.002  # a whole part of every side, so that flat spots are counted exactly
    x = np.arange(-0.4, 1.4 + step / 2, step)
    y = np.arange(-0.3, 0.62 + step / 2, step)
    found = surface.raster_dose(
        x=Q(x, "mm"), y=Q(y, "mm"), diameter_x=Q(dx, "mm"), diameter_y=Q(dy, "mm"), shape=shape,
        **FIELD,
    ).magnitude  # fmt: skip
    assert found.shape == (y.size, x.size)
    # Five lines of 1 mm at 100 mm/s take 0.05 s; 4 W make 0.2 J.
    assert found.sum() * step**2 == pytest.approx(0.2, rel=1e-6)


def test_the_middle_of_a_long_field_has_the_mean_dose_and_the_ripple() -> None:
    spacing = 0.08
    y = 20 * spacing + np.linspace(0, spacing, 801)
    found = surface.raster_dose(
        x=Q([5.0], "mm"), y=Q(y, "mm"), diameter_x="0.1 mm", diameter_y="0.1 mm",
        **FIELD | {"length": "10 mm", "lines": 41},
    ).magnitude[:, 0]  # fmt: skip
    mean = dose.areal_dose(power="4 W", speed="100 mm/s", line_spacing="0.08 mm").magnitude
    assert np.trapezoid(found, y) / spacing == pytest.approx(mean, rel=1e-9)
    ripple = dose.ripple(diameter="0.1 mm", line_spacing="0.08 mm").magnitude
    assert np.ptp(found) / mean == pytest.approx(ripple, rel=1e-5)


def test_one_line_is_the_line_of_the_formulas() -> None:
    y = np.linspace(-0.1, 0.1, 21)
    found = surface.raster_dose(
        x=Q([0.5], "mm"), y=Q(y, "mm"), diameter_x="0.1 mm", diameter_y="0.1 mm",
        **FIELD | {"lines": 1},
    ).magnitude[:, 0]  # fmt: skip
    peak = dose.peak_line_dose(power="4 W", speed="100 mm/s", diameter="0.1 mm")
    beside = dose.dose_beside_line(peak_dose=peak, offset=Q(y, "mm"), diameter="0.1 mm").magnitude
    np.testing.assert_allclose(found, beside, rtol=1e-12)


@given(
    st.lists(st.floats(0, 1), min_size=3, max_size=40).filter(
        lambda light: sum(light[1:-1]) > 0.01
    ),
    st.floats(1e-6, 1e6),
)
def test_a_profile_in_any_unit_keeps_the_energy(light: list[float], scale: float) -> None:
    places = np.linspace(-0.2, 0.3, len(light))
    found = surface.dose_of_profile(
        offset=Q(places, "mm"), profile=scale * np.array(light), power="10 W", speed="50 mm/s"
    ).magnitude
    # 10 W at 50 mm/s leave 0.2 J on each millimetre.
    assert np.trapezoid(found, places) == pytest.approx(0.2, rel=1e-6)


def test_a_measured_gaussian_has_the_peak_and_ripple_of_the_formulas() -> None:
    y = np.linspace(-0.2, 0.2, 2001)
    told: dict[str, Any] = {
        "offset": Q(y, "mm"), "profile": 37 * np.exp(-2 * (y / 0.05) ** 2)
    }  # fmt: skip
    found = surface.dose_of_profile(power="10 W", speed="100 mm/s", **told).magnitude
    peak = dose.peak_line_dose(power="10 W", speed="100 mm/s", diameter="0.1 mm").magnitude
    assert found.max() == pytest.approx(peak, rel=1e-6)
    for spacing in ("0.06 mm", "0.1 mm", "0.25 mm"):
        ripple = surface.ripple_of_profile(line_spacing=spacing, **told).magnitude
        wanted = dose.ripple(diameter="0.1 mm", line_spacing=spacing).magnitude
        assert ripple == pytest.approx(wanted, rel=1e-4)


def test_flat_spots_side_by_side_are_even_where_round_ones_are_not() -> None:
    y = np.linspace(0.1, 0.3, 401)  # from the second line to the fourth, seams included
    told: dict[str, Any] = {
        "x": Q([0.5], "mm"), "y": Q(y, "mm"), "diameter_x": "0.1 mm", "diameter_y": "0.1 mm",
        **FIELD | {"line_spacing": "0.1 mm"},
    }  # fmt: skip
    flat = surface.raster_dose(shape="rectangle", **told).magnitude
    np.testing.assert_allclose(flat, 0.4, rtol=1e-12)  # 4 W / (100 mm/s * 0.1 mm)
    gaussian = surface.raster_dose(**told).magnitude
    assert np.ptp(gaussian) / 0.4 > 1.1


def test_refusals() -> None:
    spot = {"diameter_x": "0.1 mm", "diameter_y": "0.1 mm", "x": ["0 mm"], "y": ["0 mm"]}
    with pytest.raises(ValueRefused, match="shape is 'gaussian' or 'rectangle'"):
        surface.raster_dose(shape="round", **spot, **FIELD)
    with pytest.raises(ValueRefused, match="lines is a count"):
        surface.raster_dose(**spot, **FIELD | {"lines": 0})
    told: dict[str, Any] = {"power": "1 W", "speed": "1 mm/s"}
    with pytest.raises(ValueRefused, match="must rise"):
        surface.dose_of_profile(offset=Q([0, 2, 1], "mm"), profile=[1, 2, 1], **told)
    with pytest.raises(ValueRefused, match="holds no light"):
        surface.dose_of_profile(offset=Q([0, 1, 2], "mm"), profile=[0, -2, 0], **told)
    with pytest.raises(ValueRefused, match="lists of one length"):
        surface.dose_of_profile(offset=Q([0, 1, 2], "mm"), profile=[0, 2], **told)
