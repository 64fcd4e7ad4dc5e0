"""Distances against the light that arrives there, their order, and what must be refused."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused
from mathlib.safety import apertures, distances

LIMIT = "25.4 W/m^2"
WATTS = st.floats(1e-3, 100)
MRAD = st.floats(0.1, 50)
MM = st.floats(0.1, 20)
LIMITS = st.floats(1.0, 1000)


def metres(quantity: Any) -> Any:
    return quantity.to("m").magnitude


def direct(power: float, divergence: float, diameter: float, limit: float, **more: Any) -> Any:
    return metres(
        distances.direct(
            power=Q(power, "W"),
            divergence=Q(divergence, "mrad"),
            beam_diameter=Q(diameter, "mm"),
            limit=Q(limit, "W/m^2"),
            **more,
        )
    )


@given(WATTS, MRAD, MM, LIMITS, MRAD, MM)
def test_the_beam_has_the_limit_at_its_distance(
    power: float, phi: float, a: float, limit: float, phi_y: float, b: float
) -> None:
    found = direct(
        power, phi, a, limit, convention="1/e", divergence_y=Q(phi_y, "mrad"),
        beam_diameter_y=Q(b, "mm"),
    )  # fmt: skip
    # At 1/e of the peak a Gaussian of widths u and v has the peak 4 P / (pi u v).
    across = (a + found * phi) * (b + found * phi_y) * 1e-6
    arrives = 4 * power / (math.pi * across)
    if found == 0.0:
        assert arrives <= limit * (1 + 1e-9)
    else:
        assert arrives == pytest.approx(limit, rel=1e-6)


@given(WATTS, MRAD, MM, LIMITS)
def test_a_round_beam_is_an_elliptical_one_with_equal_axes(
    power: float, phi: float, a: float, limit: float
) -> None:
    round_one = direct(power, phi, a, limit)
    for more in ({"divergence_y": Q(phi, "mrad")}, {"beam_diameter_y": Q(a, "mm")}):
        assert direct(power, phi, a, limit, **more) == pytest.approx(round_one, rel=1e-6, abs=1e-9)


def test_what_is_left_out_of_an_ellipse_is_as_the_first() -> None:
    half = direct(5, 2, 2, 25, divergence_y=Q(8, "mrad"))
    assert half == direct(5, 2, 2, 25, divergence_y=Q(8, "mrad"), beam_diameter_y=Q(2, "mm"))
    other = direct(5, 2, 2, 25, beam_diameter_y=Q(40, "mm"))
    assert other == direct(5, 2, 2, 25, beam_diameter_y=Q(40, "mm"), divergence_y=Q(2, "mrad"))
    assert other < direct(5, 2, 2, 25)


def test_without_a_convention_the_longer_distance_counts() -> None:
    told = {each: direct(1, 1, 0, 25.4, convention=each) for each in ("1/e", "1/e^2", None)}
    assert told["1/e"] == pytest.approx(223.9, rel=1e-3)  # sqrt(4 / (pi 25.4)) / 0.001
    assert told["1/e^2"] == pytest.approx(math.sqrt(2) * told["1/e"], rel=1e-12)
    assert told[None] == told["1/e^2"]
    lens = {
        each: metres(
            distances.after_lens(
                power="5 W", focal_length="20 mm", beam_diameter="4 mm", limit="1 W/m^2",
                convention=each,
            )
        )
        for each in ("1/e", "1/e^2", None)
    }  # fmt: skip
    assert lens["1/e"] == pytest.approx(5 * math.sqrt(20 / math.pi), rel=1e-12)
    assert lens[None] == lens["1/e^2"] == pytest.approx(math.sqrt(2) * lens["1/e"], rel=1e-12)
    mean = {"power": "10 mW", "divergence": "1 mrad", "beam_diameter": "2 mm", "limit": LIMIT}
    averaged = [
        metres(distances.direct_averaged(**mean, aperture="7 mm", convention=each))
        for each in ("1/e", "1/e^2", None)
    ]
    assert averaged[0] < averaged[1] == averaged[2]


@pytest.mark.parametrize("more", [{}, {"divergence_y": "3 mrad"}])
def test_a_beam_that_is_thin_at_its_exit_has_no_distance(more: dict[str, Any]) -> None:
    # 1 mW over 10 mm at 1/e: 4e-3 / (pi 1e-4) = 12.7 W/m^2.
    wide = {"power": "1 mW", "divergence": "1 mrad", "beam_diameter": "10 mm", **more}
    assert metres(distances.direct(**wide, convention="1/e", limit="12.8 W/m^2")) == 0.0
    assert metres(distances.direct(**wide, convention="1/e", limit="12.7 W/m^2")) > 0.0


def test_hot_spots_lengthen_a_distance() -> None:
    far = direct(4, 0.7, 1, 10, nonuniformity=2.5)
    # (sqrt(10 * 4 / (10 pi)) - 0.001 / sqrt(2)) / (0.0007 / sqrt(2))
    hand = (math.sqrt(40 / (10 * math.pi)) - 0.001 / 2**0.5) / (0.0007 / 2**0.5)
    assert far == pytest.approx(hand, rel=1e-12)
    with pytest.raises(ValueRefused, match="a smooth beam is the least"):
        direct(4, 0.7, 1, 10, nonuniformity=0.5)
    with pytest.raises(ValueRefused, match="a smooth beam is the least"):
        direct(4, 0.7, 1, 10, nonuniformity=0.5, divergence_y="1 mrad")


@given(WATTS, MRAD, MM, LIMITS, st.floats(1.0, 3.0))
def test_order(power: float, phi: float, a: float, limit: float, more: float) -> None:
    here = direct(power, phi, a, limit)
    assert direct(power * more, phi, a, limit) >= here
    assert direct(power, phi, a, limit * more) <= here
    assert direct(power, phi * more, a, limit) <= here
    assert direct(power, phi, a * more, limit) <= here
    assert direct(power, phi, a, limit, nonuniformity=more) >= here


@given(WATTS, MRAD, MM, LIMITS, st.floats(1.0, 15.0))
def test_the_mean_over_an_aperture_is_never_farther_than_the_peak(
    power: float, phi: float, a: float, limit: float, aperture: float
) -> None:
    told = {
        "power": Q(power, "W"),
        "divergence": Q(phi, "mrad"),
        "beam_diameter": Q(a, "mm"),
        "limit": Q(limit, "W/m^2"),
    }
    mean = metres(distances.direct_averaged(**told, aperture=Q(aperture, "mm")))
    assert mean <= metres(distances.direct(**told)) * (1 + 1e-9) + 1e-9
    wide = math.sqrt(0.5) * (a + mean * phi)
    arrives = distances.averaged_irradiance(
        power=told["power"], aperture=Q(aperture, "mm"), diameter_63=Q(wide, "mm")
    ).magnitude
    if mean == 0.0:
        assert arrives <= limit * (1 + 1e-9)
    else:
        assert arrives == pytest.approx(limit, rel=1e-5)


@given(WATTS, MM, st.floats(1.0, 3.0), st.floats(1.0, 15.0))
def test_a_larger_beam_never_has_a_larger_irradiance(
    power: float, wide: float, more: float, aperture: float
) -> None:
    def mean(diameter: float) -> float:
        found = distances.averaged_irradiance(
            power=Q(power, "W"), aperture=Q(aperture, "mm"), diameter_63=Q(diameter, "mm")
        )
        return float(found.magnitude)

    assert mean(wide * more) <= mean(wide) * (1 + 1e-12)
    # nor more than all of it through the aperture, nor more than its peak, 4 P / (pi d^2)
    whole = distances.mean_irradiance(power=Q(power, "W"), aperture=Q(aperture, "mm")).magnitude
    peak = distances.mean_irradiance(power=Q(power, "W"), aperture=Q(wide, "mm")).magnitude
    assert mean(wide) <= min(whole, peak) * (1 + 1e-9)


@given(WATTS, st.floats(5, 200), MM, LIMITS, st.floats(1.0, 3.0))
def test_order_behind_a_lens_and_of_scattered_light(
    power: float, f: float, b: float, limit: float, more: float
) -> None:
    def lens(power: float, f: float, b: float, limit: float) -> Any:
        return metres(
            distances.after_lens(
                power=Q(power, "W"), focal_length=Q(f, "mm"), beam_diameter=Q(b, "mm"),
                limit=Q(limit, "W/m^2"),
            )
        )  # fmt: skip

    def matt(power: float, limit: float) -> Any:
        told = {"power": Q(power, "W"), "limit": Q(limit, "W/m^2")}
        return metres(distances.diffuse(**told, reflectance=1, angle="0 deg"))

    here = lens(power, f, b, limit)
    assert lens(power * more, f, b, limit) >= here
    assert lens(power, f * more, b, limit) >= here
    assert lens(power, f, b * more, limit) <= here
    assert lens(power, f, b, limit * more) <= here
    assert matt(power * more, limit) >= matt(power, limit) >= matt(power, limit * more)


def test_the_formula_for_an_aperture_refuses_too_little_power() -> None:
    # 25.4 W/m^2 over 7 mm are 0.9775 mW, a fifth of 4 times that 0.782 mW
    told = {"aperture": "7 mm", "limit": LIMIT, "diameter_63": "1 mm", "divergence_63": "1 mrad"}
    assert distances.averaged_distance(power="0.978 mW", **told).magnitude > -1
    for power in ("0.977 mW", "0.79 mW", "0.1 mW"):
        with pytest.raises(ValueRefused, match="less power than that never exceeds the limit"):
            distances.averaged_distance(power=power, **told)


def test_too_little_power_for_an_aperture_has_no_distance_among_others() -> None:
    # 25.4 W/m^2 over 38.48 mm^2 are 0.978 mW.
    found = metres(
        distances.direct_averaged(
            power=Q([0.977, 0.979, 10.0], "mW"), divergence="1 mrad", beam_diameter="0.1 mm",
            limit=LIMIT, aperture="7 mm",
        )
    )  # fmt: skip
    assert found[0] == 0.0
    assert 0.0 < found[1] < found[2]
    # A beam wider than that at its exit counts as 0 too, not as behind the exit.
    wide = distances.direct_averaged(
        power="1 mW", divergence="1 mrad", beam_diameter="50 mm", limit=LIMIT, aperture="7 mm"
    )
    assert metres(wide) == 0.0


@given(WATTS, st.floats(5, 200), MM, LIMITS, st.floats(0.05, 1.0))
def test_behind_a_lens_the_cone_has_the_limit(
    power: float, f: float, b: float, limit: float, rho: float
) -> None:
    found = metres(
        distances.after_lens(
            power=Q(power, "W"), focal_length=Q(f, "mm"), beam_diameter=Q(b, "mm"),
            limit=Q(limit, "W/m^2"), convention="1/e", reflectance=rho,
        )
    )  # fmt: skip
    wide = found * b / f
    assert 4 * rho * power / (math.pi * wide**2) == pytest.approx(limit, rel=1e-9)


@given(WATTS, st.floats(0.05, 1.0), st.floats(0, 89), LIMITS)
def test_scattered_light_has_the_limit_at_its_distance(
    power: float, rho: float, angle: float, limit: float
) -> None:
    told: dict[str, Any] = {"power": Q(power, "W"), "reflectance": rho, "angle": Q(angle, "deg")}
    found = distances.diffuse(**told, limit=Q(limit, "W/m^2"))
    arrives = distances.scattered(**told, distance=found).to("W/m^2").magnitude
    assert arrives == pytest.approx(limit, rel=1e-9)
    straight = distances.diffuse(**told | {"angle": "0 deg"}, limit=Q(limit, "W/m^2"))
    assert found <= straight


def test_a_matt_surface_sends_all_its_light_into_half_a_sphere() -> None:
    # Integral over the half sphere of E(angle) r^2 dOmega, with rings of area 2 pi sin(angle).
    edges = np.linspace(0, 90, 2001)
    angle = (edges[1:] + edges[:-1]) / 2
    light = distances.scattered(
        power="10 W", reflectance=0.7, angle=Q(angle, "deg"), distance="2 m"
    ).magnitude
    rings = 2 * np.pi * 2.0**2 * (np.cos(np.radians(edges[:-1])) - np.cos(np.radians(edges[1:])))
    assert np.sum(light * rings) == pytest.approx(7.0, rel=1e-6)


@pytest.mark.parametrize("word", ["diffuse", "scattered"])
def test_no_surface_gives_more_than_it_gets_or_shines_behind_itself(word: str) -> None:
    told = {"power": "1 W", "reflectance": 1.0, "angle": "0 deg"}
    told |= {"limit": "1 W/m^2"} if word == "diffuse" else {"distance": "1 m"}
    call = getattr(distances, word)
    assert call(**told).magnitude > 0
    with pytest.raises(ValueRefused, match="more light than it gets"):
        call(**told | {"reflectance": 1.1})
    with pytest.raises(ValueRefused, match="behind the surface"):
        call(**told | {"angle": "100 deg"})


def test_a_mirror_gives_no_more_than_it_gets() -> None:
    told = {"power": "1 W", "focal_length": "50 mm", "beam_diameter": "5 mm", "limit": "10 W/m^2"}
    assert distances.after_lens(**told, reflectance="95 %") < distances.after_lens(**told)
    with pytest.raises(ValueRefused, match="more light than it gets"):
        distances.after_lens(**told, reflectance=1.01)


def test_a_telescope_gathers_more() -> None:
    gain = distances.optics_gain(objective="50 mm").magnitude
    assert gain == pytest.approx((50 / 7) ** 2, rel=1e-12)
    # Seven times the distance in the far field: 50 / 7.
    far = direct(1, 1, 0, 25.4)
    assert direct(float(gain), 1, 0, 25.4) == pytest.approx(50 / 7 * far, rel=1e-12)
    with pytest.raises(ValueRefused, match="adds no light"):
        distances.optics_gain(objective="50 mm", transmission=1.2)


@pytest.mark.parametrize("convention", ["1/e2", "FWHM", "", 2])
def test_an_unknown_convention_is_refused(convention: Any) -> None:
    with pytest.raises(ValueRefused, match='convention is "1/e" or "1/e\\^2", or None'):
        direct(1, 1, 1, 25.4, convention=convention)
    with pytest.raises(ValueRefused, match="convention is"):
        distances.after_lens(
            power="1 W", focal_length="9 mm", beam_diameter="1 mm", limit=LIMIT,
            convention=convention,
        )  # fmt: skip


def test_a_limit_in_other_units_is_the_same_and_a_dose_is_refused() -> None:
    told: dict[str, Any] = {"power": "1 W", "divergence": "1 mrad", "beam_diameter": "3 mm"}
    one = distances.direct(**told, limit="2.54 mW/cm^2")
    assert metres(one) == pytest.approx(metres(distances.direct(**told, limit=LIMIT)), rel=1e-12)
    with pytest.raises(UnitError, match="limit needs"):
        distances.direct(**told, limit="18 J/m^2")


def test_arrays_of_every_input_broadcast() -> None:
    found = distances.direct(
        power=Q(np.array([[1.0], [2.0]]), "W"),
        divergence="1 mrad",
        beam_diameter=Q([1.0, 2.0, 3.0], "mm"),
        limit=LIMIT,
    )
    assert found.magnitude.shape == (2, 3)
    assert found.magnitude[1, 2] == pytest.approx(direct(2, 1, 3, 25.4), rel=1e-12)


def test_the_end_of_a_fibre_gives_the_width_of_its_beam() -> None:
    told = {"numerical_aperture": [0.1, 0.22, 0.4]}
    far = distances.fibre_distance(**told, power="25 W", limit="10 W/m^2")
    wide = apertures.fibre_beam_diameter(**told, distance=far)
    arriving = 4 * 25 / (np.pi * wide.to("m").magnitude ** 2)
    np.testing.assert_allclose(arriving, 10, rtol=1e-12)
    widest = distances.fibre_distance(numerical_aperture=1, power="25 W", limit="10 W/m^2")
    assert metres(widest) == pytest.approx(0.85 * math.sqrt(10 / math.pi))
    with pytest.raises(ValueRefused, match="no cone in air is wider"):
        distances.fibre_distance(numerical_aperture=1.01, power="25 W", limit="10 W/m^2")
