"""Widths in every convention, from profiles made here; and what a data sheet may mean."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import erf

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused
from mathlib.laser import beams, widths

NAMES = list(widths.OF_GAUSSIAN)


def profile(x: float) -> float:
    return math.exp(-2 * x * x)  # of radius 1, so its 1/e2 diameter is 2


#: Each width of that profile, found from its definition.
DEFINED = {
    "1/e^2": 2 * brentq(lambda x: profile(x) - math.exp(-2), 0, 5),
    "FWHM": 2 * brentq(lambda x: profile(x) - 0.5, 0, 5),
    "1/e": 2 * brentq(lambda x: profile(x) - math.exp(-1), 0, 5),
    "D4sigma": 4 * math.sqrt(
        quad(lambda x: x * x * profile(x), -9, 9)[0] / quad(profile, -9, 9)[0]
    ),
    "10-90": 2 * brentq(lambda x: (1 + erf(math.sqrt(2) * x)) / 2 - 0.9, 0, 5),
    "16-84": 2 * brentq(lambda x: (1 + erf(math.sqrt(2) * x)) / 2 - 0.84, 0, 5),
}  # fmt: skip


@pytest.mark.parametrize("given_as", NAMES)
@pytest.mark.parametrize("wanted", NAMES)
def test_widths_turn_into_one_another_as_they_are_defined(given_as: str, wanted: str) -> None:
    found = beams.width_in(Q(DEFINED[given_as], "mm"), given_as, wanted)
    assert found.magnitude == pytest.approx(DEFINED[wanted], rel=1e-9)


@given(st.sampled_from(NAMES), st.sampled_from(NAMES), st.floats(1e-3, 1e3))
def test_there_and_back(one: str, other: str, size: float) -> None:
    there = beams.width_in(Q(size, "um"), one, other)
    assert there.units == Q("1 um").units
    assert beams.width_in(there, other, one).magnitude == pytest.approx(size, rel=1e-12)


def test_angles_and_arrays_keep_their_unit() -> None:
    found = beams.width_in(Q([7.0, 23.0], "deg"), "FWHM", "1/e^2")
    np.testing.assert_allclose(found.to("deg").magnitude, [11.890, 39.069], rtol=1e-4)
    assert str(beams.width_in("0.05 mm", "FWHM", "1/e^2").units) == "mm"


def test_what_is_no_width_is_refused() -> None:
    with pytest.raises(ValueRefused, match="a convention is one of '1/e\\^2', 'FWHM'"):
        beams.width_in("1 mm", "fwhm", "1/e^2")
    with pytest.raises(UnitError, match="needs a length"):
        beams.width_in("1 W", "FWHM", "1/e^2")
    with pytest.raises(UnitError, match="needs a unit"):
        beams.width_in(0.08, "FWHM", "1/e^2")
    with pytest.raises(ValueRefused, match="must be positive"):
        beams.width_in("-1 mm", "FWHM", "1/e^2")


def second_moment(light: np.ndarray, x: np.ndarray) -> float:
    return 4 * math.sqrt(float(np.sum(light * x * x) / np.sum(light)))


def test_second_moments_of_other_shapes() -> None:
    x = np.linspace(-4, 4, 160001)
    disc = np.sqrt(np.clip(1 - x * x, 0, None))  # light along x of a disc of diameter 2
    assert beams.d4sigma("2 mm", "disc").magnitude == pytest.approx(second_moment(disc, x), 1e-6)
    even = np.where(np.abs(x) < 1, 1.0, 0.0)
    side = beams.d4sigma("2 mm", "rectangle").magnitude
    assert side == pytest.approx(second_moment(even, x), rel=1e-4)  # its edge falls on the grid
    for order in range(4):
        shape = np.polynomial.hermite.hermval(math.sqrt(2) * x, [0.0] * order + [1.0])
        light = (shape * np.exp(-x * x)) ** 2
        found = beams.d4sigma("2 mm", "mode", order).magnitude
        assert found == pytest.approx(second_moment(light, x), rel=1e-6)


@pytest.mark.parametrize(
    ("shape", "order"), [("star", 0), ("disc", 1), ("mode", -1), ("mode", 0.5)]
)
def test_shapes_that_are_none(shape: str, order: int) -> None:
    with pytest.raises(ValueRefused, match="a mode alone has an order"):
        beams.d4sigma("1 mm", shape, order)


class TestReadings:
    def test_each_reading_of_a_spot_has_the_peak_of_its_width(self) -> None:
        first, *others = beams.spot_readings("0.08 mm")
        bright = beams.peak_irradiance(power="5 W", diameter=first.value).magnitude
        for reading in others[:-1]:
            there = beams.peak_irradiance(power="5 W", diameter=reading.value).magnitude
            assert there / bright == pytest.approx(reading.times, rel=1e-12)
        even = beams.rectangle_irradiance(power="5 W", side_x="0.08 mm", side_y="0.08 mm")
        assert even.magnitude / bright == pytest.approx(others[-1].times, rel=1e-12)

    def test_readings_of_a_pair_are_pairs(self) -> None:
        found = {r.taken_as: r for r in beams.spot_readings(("0.08 mm", "0.10 mm"))}
        half = found["half of the peak"].value.magnitude
        np.testing.assert_allclose(half, [0.13589, 0.16986], rtol=1e-4)  # 1.69864 times

    @pytest.mark.parametrize(
        "printed",
        ["0.08 mm x 0.10 mm", "0.08 x 0.10 mm", "0,08 × 0,10 mm", "80µm*100µm", "80 by 100 um",
         ("0.08 mm", "0.10 mm")],
    )  # fmt: skip
    def test_a_product_is_read_as_it_is_printed(self, printed: str | tuple[str, str]) -> None:
        first, half, *_ = beams.spot_readings(printed)
        np.testing.assert_allclose(first.value.to("mm").magnitude, [0.08, 0.10], rtol=1e-12)
        np.testing.assert_allclose(half.value.to("mm").magnitude, [0.13589, 0.16986], rtol=1e-4)

    def test_a_pair_of_angles_and_the_label_of_a_plug(self) -> None:
        half = beams.divergence_readings("7 x 23 deg")[1].value.to("deg").magnitude
        np.testing.assert_allclose(half, [11.8905, 39.0689], rtol=1e-5)  # 1.69864 times
        assert str(beams.divergence_readings("4 mrad")[0].value) == "4 mrad"
        assert beams.power_readings("12 V 4 A")[0].value.magnitude[0] == pytest.approx(48)

    @pytest.mark.parametrize(
        ("printed", "match"),
        [
            ("1 x 2 x 3 mm", "two sides at most"),
            ("0 x 0.1 mm", "must be positive"),
            ("0.08", "needs a unit such as mm"),
            ("5 W x 3 W", "needs a length"),
            ("0.08 mm x", "needs a length"),
        ],
    )
    def test_what_is_no_size(self, printed: str, match: str) -> None:
        with pytest.raises((UnitError, ValueRefused), match=match):
            beams.spot_readings(printed)

    def test_each_reading_of_a_depth_grows_as_it_says(self) -> None:
        growths = [1.05, 1.1, math.sqrt(2)] * 2
        found = beams.depth_readings("3 mm")
        assert len(found) == len(growths)
        for reading, growth in zip(found, growths, strict=True):
            half = "1.5 mm" if reading.taken_as.startswith("in all") else "3 mm"
            there = beams.diameter_at(
                waist_diameter="0.1 mm", distance=half, rayleigh_length=reading.value
            )
            assert there.magnitude == pytest.approx(0.1 * growth, rel=1e-9)
        assert found[3].times == pytest.approx(0.5)

    def test_readings_of_a_divergence_span_more_than_three(self) -> None:
        angles = [r.value.to("deg").magnitude for r in beams.divergence_readings("7 deg")]
        assert max(angles) / min(angles) == pytest.approx(2 * 1.69864, rel=1e-5)

    def test_watts_of_a_label_may_be_seven_times_the_light(self) -> None:
        found = {r.taken_as: r for r in beams.power_readings("48 W")}
        low, typical, high = found["electrical power of the module"].value.magnitude
        assert low < 5.5 < high  # a module that takes 48 W and gives 5.5 W of light
        assert found["optical power"].times == 1
        assert low < typical < high
        with pytest.raises(UnitError, match="stated needs a power"):
            beams.power_readings("40 mm")
