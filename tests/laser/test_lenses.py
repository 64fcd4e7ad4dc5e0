"""Beams through lenses against diffraction integrals made here, by FFT and by quadrature."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.polynomial import hermite
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import j0

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused
from mathlib.laser import beams

WAVELENGTH = 1e-6  # m
RADIUS = 0.5e-3  # m
X = np.linspace(-8e-3, 8e-3, 16384, endpoint=False)
FREQUENCY = np.fft.fftfreq(X.size, X[1] - X[0])


def mode(order: int) -> np.ndarray:
    """Hermite-Gauss field in its waist, of no particular amplitude."""
    shape = hermite.hermval(math.sqrt(2) * X / RADIUS, [0.0] * order + [1.0])
    return 37.0 * shape * np.exp(-((X / RADIUS) ** 2)) + 0j


def space(field: np.ndarray, length: float) -> np.ndarray:
    """Fresnel propagation in the plane of frequencies."""
    phase = -1j * np.pi * WAVELENGTH * length * FREQUENCY**2
    return np.fft.ifft(np.fft.fft(field) * np.exp(phase))


def lens(field: np.ndarray, focal: float) -> np.ndarray:
    return field * np.exp(-1j * np.pi * X**2 / (WAVELENGTH * focal))


def energy(field: np.ndarray) -> float:
    return float(np.sum(np.abs(field) ** 2))


def d4sigma_of(fields: list[np.ndarray]) -> float:
    """Second-moment width in mm of modes that do not interfere, each with the same energy."""
    light = sum(np.abs(f) ** 2 / energy(f) for f in fields) / len(fields)
    return 4e3 * math.sqrt(float(np.sum(light * X**2)))


@pytest.mark.parametrize("orders", [(0,), (1,), (0, 1, 2, 3)], ids=["M2=1", "M2=3", "M2=4"])
@pytest.mark.parametrize("behind", [0.1, 0.5, 0.9])
def test_a_beam_through_a_lens_is_as_wide_as_the_diffraction_integral(
    orders: tuple[int, ...], behind: float
) -> None:
    fields = [space(lens(space(mode(m), 0.2), 0.5), behind) for m in orders]
    # M2 of order m is 2 m + 1, and of modes that do not interfere the mean: 1, 3, 4.
    quality = float(np.mean([2 * m + 1 for m in orders]))
    waist = Q(1.0 * math.sqrt(quality), "mm")
    beam = beams.Beam(wavelength="1 um", beam_quality=quality, waist_diameter=waist)
    found = beams.through(beam, [("space", "200 mm"), ("lens", "500 mm")]).diameter(Q(behind, "m"))
    assert found.magnitude == pytest.approx(d4sigma_of(fields), rel=1e-6)


def test_nothing_is_lost_on_the_way_and_the_slit_takes_what_is_told() -> None:
    start = mode(0)
    field = lens(space(start, 0.2), 0.5)
    assert energy(field) == pytest.approx(energy(start), rel=1e-9)
    beam = beams.Beam(wavelength="1 um", beam_quality=1, waist_diameter="1 mm")
    wide = beam.diameter("200 mm")
    # A slit between two points of the grid, so that each point is on one side.
    edge = 402.5 * (X[1] - X[0])
    cut = np.where(np.abs(X) < edge, field, 0)
    lost = beams.clipped_fraction(beam_diameter=wide, aperture=Q(2 * edge, "m"), opening="slit")
    assert 0.1 < lost.magnitude < 0.9
    # Counting points is a midpoint rule, off by some dx^2 / (12 w^2) = (1 / 512)^2 / 12 = 3e-7.
    passed = energy(cut) / energy(start)
    assert passed + lost.magnitude == pytest.approx(1, abs=1e-6)
    behind = space(cut, 0.3)
    assert energy(behind) / energy(start) + lost.magnitude == pytest.approx(1, abs=1e-6)


def test_the_profile_adds_up_to_the_power_and_its_rim_to_what_is_clipped() -> None:
    beam = beams.Beam(
        wavelength="450 nm", beam_quality=(4, 12), waist_diameter=("0.05 mm", "0.12 mm"),
        waist_place=("0 mm", "0.4 mm"), power="5 W",
    )  # fmt: skip
    x, step = np.linspace(-0.5, 0.5, 801, retstep=True)
    told = beams.irradiance(beam, Q(x, "mm"), Q(x[:, None], "mm"), "0.2 mm").magnitude
    assert told.sum() * step**2 == pytest.approx(5, rel=1e-6)
    round_beam = beams.Beam(
        wavelength="450 nm", beam_quality=4, waist_diameter="0.1 mm", power="5 W"
    )
    lost = beams.clipped_fraction(beam_diameter="0.1 mm", aperture="0.13 mm").magnitude

    def ring(r: float) -> float:
        there = beams.irradiance(round_beam, Q(r, "mm"), "0 mm").magnitude
        return 2 * math.pi * r * float(there)

    inside, _ = quad(ring, 0, 0.065)
    assert inside + 5 * lost == pytest.approx(5, rel=1e-6)


def test_an_evenly_lit_rectangle_holds_the_power() -> None:
    even = beams.rectangle_irradiance(power="20 W", side_x="0.08 mm", side_y="0.1 mm")
    assert (even * Q("0.08 mm") * Q("0.1 mm")).to("W").magnitude == pytest.approx(20, rel=1e-12)


@pytest.mark.parametrize("ratio", [0.05, 0.3, 0.7, 1.0, 3.0, "infinite"])
@pytest.mark.parametrize(("width", "level"), [("FWHM", 0.5), ("1/e^2", math.exp(-2))])
def test_a_cut_beam_has_the_spot_of_the_hankel_integral(
    ratio: Any, width: str, level: float
) -> None:
    shape = 0.0 if ratio == "infinite" else 1 / ratio**2

    def field(v: float) -> float:
        whole, _ = quad(lambda r: math.exp(-shape * r * r) * j0(v * r) * r, 0, 1, limit=200)
        return whole

    start = field(0.0)
    reach = 2.6 + (0 if ratio == "infinite" else 2 / ratio)
    root = brentq(lambda v: (field(v) / start) ** 2 - level, 1e-6, reach, xtol=1e-10)
    found = beams.truncated_spot("1 um", 1, ratio, width).to("um").magnitude
    assert found == pytest.approx(2 * root / math.pi, rel=1e-7)


def test_a_hardly_cut_beam_has_the_spot_of_a_whole_one() -> None:
    found = beams.truncated_spot("10.6 um", Q([10.0, 20.0], "1"), 0.05).magnitude
    # D = 0.05 of the clear diameter, so f / D = N / 0.05.
    whole = beams.focused_diameter(beam_quality=1, wavelength="10.6 um", beam_diameter="1 mm",
                                   focal_length=Q([200.0, 400.0], "mm"))  # fmt: skip
    np.testing.assert_allclose(found, whole.magnitude, rtol=1e-9)


BEAM = beams.Beam(wavelength="450 nm", beam_quality=10, waist_diameter="4 mm")


@given(
    st.floats(5, 500), st.floats(-400, 400).filter(lambda f: abs(f) > 5), st.floats(0, 2000),
    st.floats(1, 30),
)  # fmt: skip
def test_waist_times_divergence_stays_through_any_row(
    first: float, focal: float, gap: float, quality: float
) -> None:
    beam = beams.Beam(wavelength="450 nm", beam_quality=quality, waist_diameter="0.3 mm")
    row = [("space", Q(first, "mm")), ("lens", Q(focal, "mm")), ("space", Q(gap, "mm"))]
    behind = beams.through(beam, row)
    before = beam.waist_diameter.magnitude * beam.divergence.magnitude
    after = behind.waist_diameter.magnitude * behind.divergence.magnitude
    assert after == pytest.approx(before, rel=1e-9)
    # The lens itself changes no width: at the lens both beams are as wide.
    here = behind.diameter(Q(-gap, "mm")).magnitude
    assert here == pytest.approx(beam.diameter(Q(first, "mm")).magnitude, rel=1e-6)


def test_an_empty_row_leaves_the_beam() -> None:
    same = beams.through(BEAM, [])
    assert same.waist_diameter.magnitude == pytest.approx(4, rel=1e-12)
    assert same.waist_place.magnitude == pytest.approx(0, abs=1e-9)


def test_a_far_focused_beam_is_the_formula_of_the_spot() -> None:
    behind = beams.through(BEAM, [("lens", "20 mm")])
    spot = beams.focused_diameter(beam_quality=10, wavelength="450 nm", focal_length="20 mm",
                                  beam_diameter="4 mm")  # fmt: skip
    # The Rayleigh length of the input is 2.79 m: the formula is off by (0.02 / 2.79)^2 / 2.
    assert behind.waist_diameter.magnitude == pytest.approx(spot.magnitude, rel=5e-5)
    assert behind.waist_place.magnitude == pytest.approx(20, rel=1e-4)


def test_a_relay_images_by_the_ratio_of_its_lenses_whatever_the_quality() -> None:
    for quality in (1, 25):
        source = beams.Beam(wavelength="450 nm", beam_quality=quality, waist_diameter="0.04 mm")
        row = [("space", "5 mm"), ("lens", "5 mm"), ("space", "55 mm"), ("lens", "50 mm")]
        image = beams.through(source, row)
        assert image.waist_diameter.magnitude == pytest.approx(0.4, rel=1e-9)
        assert image.waist_place.magnitude == pytest.approx(50, rel=1e-9)


def test_an_expander_narrows_the_spot_by_its_ratio() -> None:
    expander = [("lens", "-20 mm"), ("space", "40 mm"), ("lens", "60 mm")]
    wide = beams.through(BEAM, expander)
    here = wide.diameter("0 mm")
    by_ratio = beams.expanded_diameter(beam_diameter="4 mm", exit_focal_length="60 mm",
                                       entry_focal_length="20 mm")  # fmt: skip
    assert here.magnitude == pytest.approx(by_ratio.magnitude, rel=1e-3)
    plain, finer = (
        beams.through(b, [("lens", "30 mm")]).waist_diameter.magnitude for b in (BEAM, wide)
    )
    assert plain / finer == pytest.approx(3, rel=1e-3)


def test_each_axis_of_an_elliptical_beam_passes_for_itself() -> None:
    axes = [(4, "3 mm", "0 mm"), (15, "1 mm", "100 mm")]
    whole = beams.Beam(
        wavelength="450 nm", beam_quality=(4, 15), waist_diameter=("3 mm", "1 mm"),
        waist_place=("0 mm", "100 mm"),
    )  # fmt: skip
    lengths = Q([20.0, 30.0, 40.0], "mm")
    behind = beams.through(whole, [("space", "50 mm"), ("lens", lengths)])
    assert behind.elliptical
    assert behind.waist_diameter.magnitude.shape == (2, 3)
    places = Q(np.linspace(10, 50, 3), "mm")
    for axis, (quality, diameter, place) in enumerate(axes):
        alone = beams.through(
            beams.Beam(wavelength="450 nm", beam_quality=quality, waist_diameter=diameter,
                       waist_place=place),
            [("space", "50 mm"), ("lens", lengths)],
        )  # fmt: skip
        assert not alone.elliptical
        for word in ("waist_diameter", "waist_place", "rayleigh_length"):
            pair, one = getattr(behind, word).magnitude[axis], getattr(alone, word).magnitude
            np.testing.assert_allclose(pair, one, rtol=1e-12)
        np.testing.assert_allclose(
            behind.diameter(places).magnitude[axis], alone.diameter(places).magnitude, rtol=1e-12
        )
    # One beam at many places: the axes come first.
    assert whole.diameter(Q(np.zeros(7), "mm")).magnitude.shape == (2, 7)


def test_a_row_of_two_lenses_to_try_is_not_taken_for_two_axes() -> None:
    behind = beams.through(BEAM, [("lens", Q([20.0, 40.0], "mm"))])
    assert not behind.elliptical
    assert behind.diameter("30 mm").magnitude.shape == (2,)


def test_mistakes_of_a_row_are_told_at_once() -> None:
    with pytest.raises(ValueRefused) as caught:
        beams.through(BEAM, [("mirror", "1 mm"), ("lens", "0 mm"), ("space", "-1 mm"), "lens"])
    for told in ("element 1 is", "element 2: a lens", "element 3: space", "element 4 is"):
        assert told in str(caught.value)
    with pytest.raises(UnitError, match="element 1: lens needs a unit"):
        beams.through(BEAM, [("lens", 20)])


@pytest.mark.parametrize(("wide", "high"), [(1.2, 0.4), (0.3, 3.0), (0.9, 0.9), (0.2, 4.0)])
def test_a_round_opening_clips_an_elliptical_beam(wide: float, high: float) -> None:
    # Power of the passing part, strip by strip, each strip along y a difference of two erf.
    def strip(x: float) -> float:
        half = math.sqrt(max(0.5**2 - x * x, 0.0))
        across = math.sqrt(8 / math.pi) / wide * math.exp(-8 * (x / wide) ** 2)
        return across * math.erf(math.sqrt(8) * half / high)

    passed = 2 * quad(strip, 0, 0.5, limit=200, epsabs=1e-12)[0]
    told = {"beam_diameter": Q(wide, "mm"), "beam_diameter_y": Q(high, "mm")}
    lost = beams.clipped_fraction(aperture="1 mm", **told).magnitude
    assert lost == pytest.approx(1 - passed, abs=1e-9)


def test_an_opening_is_round_or_a_slit() -> None:
    with pytest.raises(ValueRefused, match="of a slit only beam_diameter counts"):
        beams.clipped_fraction(
            beam_diameter="1 mm", beam_diameter_y="2 mm", aperture="1 mm", opening="slit"
        )
    with pytest.raises(ValueRefused, match="'round' or 'slit'"):
        beams.clipped_fraction(beam_diameter="1 mm", aperture="1 mm", opening="square")
    with pytest.raises(ValueRefused, match=r"'1/e\^2' or 'FWHM'"):
        beams.truncated_spot("1 um", 1, 1, "D4sigma")


class TestAberration:
    def test_best_form_is_the_least_of_all_bendings(self) -> None:
        for index in (1.5, 1.76, 2.4028):
            tried = np.linspace(-2, 4, 6001)
            blurs = beams.aberration_coefficient(refractive_index=index, bending=tried).magnitude
            best = beams.aberration_blur("1 mm", "1 mm", index, "best form").magnitude
            assert best == pytest.approx(blurs.min(), rel=1e-6)
            assert best == beams.aberration_blur("1 mm", "1 mm", index, "meniscus").magnitude

    def test_blur_of_a_plano_convex_lens_by_a_ray_trace(self) -> None:
        # Exact rays of a lens of crown glass, curved face to the laser, traced here by Snell's law:
        # the smallest disc that holds them is (third order) a quarter of what they miss at the
        # paraxial focus, and lies three quarters of the way from there to the rim's focus.
        n, f, height = 1.5, 100.0, 2.0
        radius = f * (n - 1)

        def crossing(h: float) -> tuple[float, float]:
            at = math.asin(h / radius)
            sag = radius - math.sqrt(radius**2 - h**2)
            bent = at - math.asin(math.sin(at) / n)  # downwards, inside the glass
            y = h + (0.2 - sag) * -math.tan(bent)  # flat face at 0.2 mm, as thin as it can be
            out = math.asin(n * math.sin(bent))
            return y, math.tan(out)

        tries = np.linspace(0.001, 1, 400) * height
        rays = np.array([crossing(h) for h in tries])
        planes = np.linspace(98.5, 100.5, 4001)
        missed = np.abs(rays[:, :1] - rays[:, 1:] * planes).max(axis=0)
        blur = 2 * float(missed.min())
        told = beams.aberration_blur("4 mm", "100 mm", 1.5, "plano-convex").magnitude
        assert told == pytest.approx(blur, rel=0.01)  # the thickness of 0.2 mm counts as well

    @pytest.mark.parametrize("index", [1.52, 2.2])
    @pytest.mark.parametrize("shape", ["best form", "biconvex", "plano-convex reversed"])
    def test_blur_of_any_shape_by_an_exact_trace(self, index: float, shape: str) -> None:
        # Thin lens of two faces, rays refracted exactly at each; f = 211 mm, beam 4 mm.
        bending = {"biconvex": 0.5, "plano-convex reversed": 0.0}.get(
            shape, index * (2 * index + 1) / (2 * (index + 2))
        )
        f, height = 211.0, 2.0
        power = 1 / (f * (index - 1))
        faces = [(bending * power, 1 / index), ((bending - 1) * power, index)]

        def ray(h: float) -> tuple[float, float, float]:
            """Place and direction behind the lens; both vertices lie at zero."""
            z, y, u = -1.0, h, 0.0
            for curved, ratio in faces:
                m = math.tan(u)
                meets = -z  # way along z to the face, by Newton
                for _ in range(8):
                    there = y + m * meets
                    root = math.sqrt(1 - (curved * there) ** 2)
                    sag = curved * there**2 / (1 + root)
                    meets -= (z + meets - sag) / (1 - m * curved * there / root)
                z, y = z + meets, y + m * meets
                leans = math.asin(curved * y)
                u = math.asin(ratio * math.sin(u + leans)) - leans
            return z, y, math.tan(u)

        rays = [ray(part * height) for part in np.linspace(0.005, 1, 300)]
        near, far = (z - y / m for z, y, m in (rays[-1], rays[0]))
        planes = np.linspace(near, far, 4001)
        missed = np.max([np.abs(y + (planes - z) * m) for z, y, m in rays], axis=0)
        told = beams.aberration_blur("4 mm", "211 mm", index, shape).magnitude
        assert told == pytest.approx(2 * float(missed.min()), rel=2e-3)

    def test_wrong_way_round_is_four_times_worse(self) -> None:
        right, wrong = (
            beams.aberration_blur("5 mm", "30 mm", 1.5, shape).magnitude
            for shape in ("plano-convex", "plano-convex reversed")
        )
        assert wrong / right == pytest.approx(27 / 7, rel=1e-9)  # 2.25 / 0.58333

    def test_best_input_is_where_the_sum_is_least(self) -> None:
        lens = {"wavelength": "10.6 um", "beam_quality": 1.2, "focal_length": "50.8 mm"}
        best = beams.best_input_diameter(coefficient=0.0286, **lens)
        tried = beams.spot_with_aberration(
            beam_diameter=best * np.array([0.98, 1.0, 1.02]), coefficient=0.0286, **lens
        ).magnitude
        assert tried[1] < min(tried[0], tried[2])

    def test_an_unknown_shape_is_refused(self) -> None:
        with pytest.raises(ValueRefused, match="'best form', 'plano-convex'"):
            beams.aberration_blur("5 mm", "30 mm", 1.5, "aspheric")
