"""Heat from a spot, against quadrature, a Fourier solution, and limits that are known."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

from mathlib import Q
from mathlib.errors import MathlibError, UnitError, ValueRefused
from mathlib.laser import heat, optics, stock, thresholds, wood
from mathlib.laser.moving_source import relative
from mathlib.materials import material

SPOT = {
    "power": "1 W",
    "absorptance": 0.5,
    "radius": "0.05 mm",
    "conductivity": "0.17 W/(m*K)",
    "diffusivity": "0.16 mm^2/s",
}


def by_quadrature(pe: float, x: float, y: float, z: float) -> float:
    """The integral over the past by adaptive quadrature, split where the integrand peaks."""

    def part(s: float) -> float:
        if s == 0:
            return float(np.exp(-2 * (x * x + y * y))) if z == 0 else 0.0
        q = 1 + s * s
        return float(np.exp(-2 * ((x + pe * s * s / 4) ** 2 + y * y) / q - 2 * z * z / s**2) / q)

    places = np.geomspace(1e-5, 1e6, 2001)
    top = places[int(np.argmax([part(s) for s in places]))]
    wide = sorted({0.0, *(top * np.array([0.2, 0.6, 0.9, 1.0, 1.1, 1.5, 3.0, 30.0]))})
    pieces = [quad(part, a, b, epsabs=0, epsrel=1e-9, limit=200)[0] for a, b in pairwise(wide)]
    return 2 / np.pi * (sum(pieces) + quad(part, wide[-1], np.inf, epsabs=1e-12)[0])


def by_fourier(pe: float) -> float:
    """Rise at the centre over that at rest, from the Fourier transform of the flux.

    A wave exp(i (kx x + ky y)) of flux makes a surface wave over sqrt(k² + 2 i Pe kx), lengths in
    radii (v / alpha = 2 Pe); a Gaussian flux weighs waves by exp(-k² / 8).
    """
    angle = (np.arange(400) + 0.5) * np.pi / 400
    k = np.linspace(0, 14, 6001)[1:, None]
    waves = np.real(k / np.sqrt(k**2 + 2j * pe * k * np.cos(angle))) * np.exp(-(k**2) / 8)
    at_rest = np.exp(-(k**2) / 8).sum()
    return float(waves.mean(axis=1).sum() / at_rest)


@pytest.mark.filterwarnings("ignore::scipy.integrate.IntegrationWarning")
@pytest.mark.parametrize("pe", [0.01, 1.0, 10.0, 100.0])
@pytest.mark.parametrize("z", [0.0, 0.02, 0.3])
def test_moving_source_equals_split_quadrature_to_1e_4(pe, z):
    rng = np.random.default_rng(3)
    places = np.stack([rng.uniform(-6, 1.5, 12), rng.uniform(-1.5, 1.5, 12)])
    wanted = np.array([by_quadrature(pe, x, y, z) for x, y in places.T])
    found = relative(pe, *places, z)
    assert np.max(np.abs(found - wanted)) < 1e-4 * wanted.max()


@pytest.mark.filterwarnings("ignore::scipy.integrate.IntegrationWarning")
@pytest.mark.parametrize("pe", [0.0, 0.01, 1.0, 20.0])
@pytest.mark.parametrize("z", [0.0, 0.3])
@pytest.mark.parametrize("meshed", [True, False])
def test_a_map_equals_split_quadrature_to_1e_4(pe, z, meshed):
    x, y = np.linspace(-6, 1.5, 120), np.linspace(-1.5, 1.5, 110)[:, None]
    found = relative(pe, *(np.meshgrid(x, y) if meshed else (x, y)), z)
    assert found.shape == (110, 120)
    some = [(0, 0), (55, 95), (55, 97), (109, 119), (30, 60)]
    wanted = np.array([by_quadrature(pe, x[j], y[i, 0], z) for i, j in some])
    assert np.max(np.abs([found[place] for place in some] - wanted)) < 1e-4 * wanted.max()
    at_random = np.random.default_rng(2).permutation(found.size)
    mx, my = (v.ravel()[at_random] for v in np.meshgrid(x, y))
    assert relative(pe, mx, my, z) == pytest.approx(found.ravel()[at_random], rel=1e-5)


def test_values_that_repeat_along_an_axis_keep_the_shape():
    x = np.full((100, 100), 0.5)
    wanted = np.full((100, 100), by_quadrature(1.0, 0.5, 0.0, 0.0))
    assert relative(1.0, x, 0.0, 0.0) == pytest.approx(wanted, rel=1e-4)
    pe = np.linspace(0.1, 3, 100)[:, None] + np.zeros((100, 100))
    found = relative(pe, x, 0.0, 0.0)
    assert found.shape == (100, 100)
    assert found[7, 3] == pytest.approx(relative(pe[7, 0], 0.5, 0.0, 0.0), rel=1e-6)


@pytest.mark.parametrize("pe", [0.5, 2.0, 10.0])
def test_moving_source_equals_a_fourier_solution(pe):
    assert relative(pe, 0.0, 0.0, 0.0) == pytest.approx(by_fourier(pe), rel=2e-3)


def test_a_spot_at_rest_is_the_limit_of_a_slow_one():
    still = heat.stationary_rise(**{k: v for k, v in SPOT.items() if k != "diffusivity"})
    for speed in ("0 mm/s", "1e-6 mm/s"):
        assert heat.moving_rise(**SPOT, speed=speed).magnitude == pytest.approx(
            still.magnitude, rel=1e-4
        )


def test_far_away_a_spot_is_a_point():
    at = {"x": "-30 mm", "y": "0.4 mm", "z": "0.3 mm"}
    point = {k: v for k, v in SPOT.items() if k != "radius"}
    wide = heat.moving_rise(**SPOT, speed="20 mm/s", **at)
    assert wide.magnitude == pytest.approx(
        heat.rosenthal(**point, speed="20 mm/s", **at).magnitude, rel=2e-3
    )


def test_slow_and_fast_together_are_as_each_alone():
    speeds = np.array([0.0, 0.01, 1.0, 30.0, 1000.0, 5.0])
    together = heat.moving_rise(**SPOT, speed=Q(speeds, "mm/s"), x="-0.02 mm")
    alone = [heat.moving_rise(**SPOT, speed=Q(v, "mm/s"), x="-0.02 mm").magnitude for v in speeds]
    assert together.magnitude == pytest.approx(alone, rel=1e-4)


def test_heat_goes_nowhere_but_into_the_solid():
    """Far behind, what flows through a cross-section is what the spot brings: A P."""
    y, z = np.linspace(-4, 4, 401), np.linspace(0, 4, 201)
    told = SPOT | {"conductivity": "1 W/(m*K)", "diffusivity": "1 mm^2/s"}
    rise = heat.moving_rise(
        **told, speed="20 mm/s", x="-4 mm", y=Q(y[None, :], "mm"), z=Q(z[:, None], "mm")
    )
    area = np.trapezoid(np.trapezoid(rise.magnitude, y, axis=1), z) * 1e-6
    # heat per length of track, rho c * integral of rise, times speed; rho c = k / alpha = 1e6.
    # Conduction along the track adds 1 / (Pe of that distance): 4 mm * 20 mm/s / 1 mm²/s = 80.
    assert 1e6 * area * 0.02 == pytest.approx(0.5, rel=0.03)


def test_hottest_place_is_higher_than_its_neighbours():
    found = heat.hottest(peclet=[0.2, 3.0, 40.0])
    both = zip(found.ratio.magnitude, found.lag.magnitude, strict=True)
    for pe, (ratio, lag) in zip((0.2, 3.0, 40.0), both, strict=True):
        around = relative(pe, -lag + np.array([-0.02, 0.02]), 0.0, 0.0)
        assert np.all(around < ratio)


def test_fast_limit_is_met_from_above():
    rise = {"power": "1 W", "absorptance": 0.5, "radius": "0.05 mm"}
    exact = heat.hottest(peclet=500).ratio.magnitude
    speed = 500 * 2 * 0.16 / 0.05
    inertia = 0.17 * 0.17 / 0.16e-6  # k rho c = k² / alpha
    fast = heat.fast_rise(
        **rise, thermal_inertia=Q(inertia, "W^2*s/(m^4*K^2)"), speed=Q(speed, "mm/s")
    )
    still = heat.stationary_rise(**rise, conductivity="0.17 W/(m*K)")
    assert exact * still.magnitude == pytest.approx(fast.magnitude, rel=0.01)


def test_refusals():
    with pytest.raises(ValueRefused, match="part of the light"):
        heat.moving_rise(**(SPOT | {"absorptance": 1.2}), speed="1 mm/s")
    with pytest.raises(ValueRefused, match="moving_rise"):
        heat.rosenthal(
            power="1 W", speed="1 mm/s", conductivity="1 W/(m*K)", diffusivity="1 mm^2/s",
            x="0 mm", y="0 mm",
        )  # fmt: skip
    with pytest.raises(ValueRefused, match="never settles"):
        heat.rosenthal(
            power="1 W", speed="0 mm/s", conductivity="1 W/(m*K)", diffusivity="1 mm^2/s",
            x="1 mm", y="0 mm", thickness="1 mm",
        )  # fmt: skip
    with pytest.raises(UnitError, match="speed"):
        heat.moving_rise(**SPOT, speed=10)
    with pytest.raises(ValueRefused, match="25 %"):
        wood.conductivity(specific_gravity=0.5, moisture="30 %")
    with pytest.raises(ValueRefused, match="below the threshold"):
        thresholds.line_mark_width(radius="1 mm", power="1 W", threshold_power="2 W")


def test_thin_sheet_equals_the_bessel_function():
    from scipy.special import k0

    # 1000 W, k 40, h 2 mm, v / (2 alpha) = 250 per metre, 5 mm aside: K0(1.25)
    found = heat.rosenthal(
        power="1000 W", speed="5 mm/s", conductivity="40 W/(m*K)", diffusivity="10 mm^2/s",
        x="0 mm", y="5 mm", thickness="2 mm",
    )  # fmt: skip
    assert found.magnitude == pytest.approx(1000 / (2 * np.pi * 40 * 0.002) * k0(1.25), rel=1e-9)


def test_light_on_a_slab_goes_somewhere():
    slab = {"surface_reflectance": 0.2, "absorption_coefficient": "0.3 1/mm", "thickness": "2 mm"}
    t, r = (float(f(**slab)) for f in (optics.slab_transmittance, optics.slab_reflectance))
    # sum of the echoes, one by one
    inside, through, back, light = np.exp(-0.6), 0.0, 0.2, 0.8
    for bounce in range(60):
        light *= inside
        if bounce % 2 == 0:
            through += 0.8 * light
        else:
            back += 0.8 * light
        light *= 0.2
    assert (t, r) == (pytest.approx(through), pytest.approx(back))
    clear = slab | {"absorption_coefficient": "0 1/mm"}
    assert float(optics.slab_transmittance(**clear)) + float(
        optics.slab_reflectance(**clear)
    ) == pytest.approx(1)


class TestStock:
    def test_draws_keep_the_ranges_and_go_together(self):
        birch = material("birch plywood")
        drawn = stock.draw(birch, "445 nm", n=4000, seed=2, runs=3)
        low, high = np.percentile(drawn.mass_density.magnitude, [5, 95])
        assert (low, high) == (pytest.approx(620, rel=0.01), pytest.approx(750, rel=0.01))
        dense, conducts = drawn.mass_density.magnitude[:, 0], drawn.conductivity.magnitude[:, 0]
        rank = np.corrcoef(np.argsort(np.argsort(dense)), np.argsort(np.argsort(conducts)))[0, 1]
        assert 0.6 < rank < 0.9
        assert np.all(np.ptp(drawn.mass_density.magnitude, axis=1) == 0)  # a sheet stays a sheet
        light = np.log(drawn.absorptance.magnitude)
        assert light.std(axis=1).mean() < light.mean(axis=1).std()

    def test_what_nobody_stated_is_named(self):
        with pytest.raises(ValueRefused, match="absorptance"):
            stock.typical(material("acrylic"), "450 nm")


def test_a_plain_0_is_a_place_and_other_plain_numbers_are_not():
    told = SPOT | {"speed": "20 mm/s"}
    assert heat.moving_rise(**told, x=0, y=0.0, z=0) == heat.moving_rise(**told)
    with pytest.raises(UnitError, match="y"):
        heat.moving_rise(**told, y=0.1)
    with pytest.raises(MathlibError, match="power"):
        heat.moving_rise(**told | {"power": 0})
