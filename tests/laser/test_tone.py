"""Tones: counting, areas summed point by point, and curves that turn over."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused
from mathlib.laser import dots, modulation, response, tone, tone_curve
from mathlib.motion import lattice


def test_grey_levels_count_whole_periods() -> None:
    # 5 kHz * 0.1 mm / 100 mm/s = 5 periods; 4.99 are 4; 0.5 is none, and one level is no tone.
    told = {"pixel": "0.1 mm", "speed": "100 mm/s"}
    found = tone.grey_levels(frequency=Q([5000, 4990, 500, 255_000], "Hz"), **told).magnitude
    np.testing.assert_array_equal(found, [6, 5, 1, 256])


@given(st.integers(1, 500), st.floats(1, 1000), st.floats(0.01, 1))
def test_levels_and_their_frequency_undo_each_other(n: int, speed: float, pixel: float) -> None:
    told = {"pixel": Q(pixel, "mm"), "speed": Q(speed, "mm/s")}
    frequency = modulation.periods_per_pixel.solve("frequency", periods=n, **told)
    assert tone.grey_levels(frequency=frequency, **told).magnitude == n + 1


class TestLineSpacing:
    @pytest.mark.parametrize(
        ("value", "kind", "mm"),
        [
            (254, "dpi", 0.1),
            ("254", "dpi", 0.1),
            ("254 dpi", "dpi", 0.1),
            (Q(254, "1/in"), "lpi", 0.1),
            (Q(254, "1"), "lpi", 0.1),
            ("10 lines/mm", "lines/mm", 0.1),
            (10, "lines/mm", 0.1),
            (4, "mil", 0.1016),
            ("4 mil", "mil", 0.1016),
            ("0.1016 mm", "mil", 0.1016),
            (0.08, "mm", 0.08),
            ("80 um", "mm", 0.08),
        ],
    )
    def test_every_kind(self, value: Any, kind: str, mm: float) -> None:
        found = tone.line_spacing_from(value=value, kind=kind).to("mm").magnitude
        assert found == pytest.approx(mm, rel=1e-12)

    def test_arrays(self) -> None:
        found = tone.line_spacing_from(value=[254, 508], kind="dpi").magnitude
        np.testing.assert_allclose(found, [0.1, 0.05])

    def test_refusals(self) -> None:
        with pytest.raises(ValueRefused, match="kind is one of 'dpi', 'lpi', 'lines/mm', 'mil'"):
            tone.line_spacing_from(value=254, kind="ppi")
        with pytest.raises(UnitError, match="The spacing of lines is its inverse"):
            tone.line_spacing_from(value="254 dpi", kind="mm")
        with pytest.raises(UnitError, match="Line spacing from dpi"):
            tone.line_spacing_from(value="0.1 mm", kind="dpi")
        with pytest.raises(ValueRefused, match="Line spacing from dpi: value"):
            tone.line_spacing_from(value=0, kind="dpi")
        with pytest.raises(ValueRefused, match="Line spacing from mil: value"):
            tone.line_spacing_from(value=-4, kind="mil")

    def test_whole_steps_have_no_beat(self) -> None:
        spacing = tone.whole_step_spacing(
            steps_between_lines=np.arange(1, 30), steps_per_length="80 step/mm"
        )
        beat = lattice.lines_per_beat(line_spacing=spacing, steps_per_length="80 step/mm")
        assert np.all(np.isinf(beat.magnitude))
        # 254 dpi: 0.1 mm, 8 steps. 300 dpi: 6.7733 steps, off by 0.2267: a beat of 4.4 lines.
        dpi = tone.line_spacing_from(value=[254, 300], kind="dpi")
        found = lattice.lines_per_beat(line_spacing=dpi, steps_per_length="80 step/mm").magnitude
        assert np.isinf(found[0])
        assert found[1] == pytest.approx(1 / (7 - 80 * 25.4 / 300), rel=1e-9)


def test_dot_area_with_and_without_spread_light() -> None:
    patch = {"blank_reflectance": 0.8, "solid_reflectance": 0.05, "reflectance": 0.4}
    plain = tone.dot_area(**patch).magnitude
    assert plain == pytest.approx(0.40 / 0.75, rel=1e-12)
    spread = tone.dot_area(spread_factor=2, **patch).magnitude
    roots = [math.sqrt(r) for r in (0.8, 0.4, 0.05)]
    assert spread == pytest.approx((roots[0] - roots[1]) / (roots[0] - roots[2]), rel=1e-12)
    with pytest.raises(ValueRefused, match=r"lighter than the bare material"):
        tone.dot_area(**patch | {"reflectance": 0.9})


def test_blank_is_no_dots() -> None:
    ends = tone.dot_area(blank_reflectance=0.8, solid_reflectance=0.05, reflectance=[0.8, 0.05])
    np.testing.assert_allclose(ends.magnitude, [0, 1], atol=1e-12)


def point_by_point(lit: np.ndarray, width: float, n: int = 80) -> float:
    """Part of a field within half a mark width of the way of the spot, on a fine grid."""
    rows, columns = lit.shape
    x = (np.arange(columns * n) + 0.5) / n
    y = (np.arange(rows * n) + 0.5) / n - 0.5
    burnt = np.zeros((rows * n, columns * n), dtype=bool)
    for row, column in np.argwhere(lit):
        along = np.maximum(np.maximum(column - x, x - column - 1), 0)
        burnt |= along[None] ** 2 + (y - row)[:, None] ** 2 <= (width / 2) ** 2
    return float(burnt.mean())


def coverage(lit: np.ndarray, width: float) -> float:
    return float(
        dots.burnt_coverage(dots=lit, pixel="0.1 mm", mark_width=Q(0.1 * width, "mm")).magnitude
    )


class TestDots:
    @pytest.mark.parametrize("width", [0.3, 0.66, 0.8, 1.0, 1.5, 2.4])
    def test_a_lone_pixel_burns_a_stadium(self, width: float) -> None:
        lone = np.zeros((9, 9), dtype=bool)
        lone[4, 4] = True
        area = tone.lone_pixel_area(mark_width=Q(0.1 * width, "mm"), pixel="0.1 mm").magnitude
        assert 0.81 * coverage(lone, width) == pytest.approx(area, rel=1.5e-3)

    @pytest.mark.parametrize("width", [0.5, 0.9, 1.3, 2.2])
    @pytest.mark.parametrize("part", [0.1, 0.4, 0.8])
    def test_coverage_is_that_of_a_fine_grid(self, width: float, part: float) -> None:
        lit = np.random.default_rng(7).random((10, 12)) < part
        assert coverage(lit, width) == pytest.approx(point_by_point(lit, width), abs=2e-3)

    def test_blank_and_solid(self) -> None:
        assert coverage(np.zeros((5, 6), dtype=bool), 1.2) == 0
        assert coverage(np.ones((5, 6), dtype=bool), 1.2) == pytest.approx(1)
        # Lines 0.4 of their spacing wide leave 0.6 bare.
        assert coverage(np.ones((5, 6), dtype=bool), 0.4) == pytest.approx(0.4, rel=1e-6)


class TestDither:
    @pytest.mark.parametrize("level", [0.0, 0.03, 0.25, 0.5, 0.9, 1.0])
    def test_an_even_patch_keeps_its_tone(self, level: float) -> None:
        lit = dots.dither(np.full((120, 120), level))
        assert lit.mean() == pytest.approx(level, abs=0.01)

    def test_a_ramp_keeps_its_tone_in_every_stretch(self) -> None:
        ramp = np.tile(np.linspace(0, 1, 400), (100, 1))
        lit = dots.dither(ramp)
        for part in range(10):
            here = slice(40 * part, 40 * part + 40)
            assert lit[:, here].mean() == pytest.approx(ramp[:, here].mean(), abs=0.02)

    def test_first_pixels_by_hand(self) -> None:
        # 0.5 lights the first pixel; its error -0.5 hands 7/16 on: 0.5 - 0.21875 = 0.28125 is
        # dark and hands 0.28125 * 7/16 = 0.123 on: 0.623 lights the third.
        assert dots.dither([[0.5, 0.5, 0.5]]).tolist() == [[True, False, True]]

    def test_refusals(self) -> None:
        with pytest.raises(ValueRefused, match="from 0, blank, to 1, solid"):
            dots.dither([[0.5, 200]])
        with pytest.raises(ValueRefused, match="from 0, blank, to 1, solid"):
            dots.dither([[0.5, float("nan")]])
        with pytest.raises(ValueRefused, match="rows and columns"):
            dots.dither([0.5, 0.5])


class TestCompensation:
    @pytest.mark.parametrize("width", ["0.07 mm", "0.1 mm", "0.13 mm"])
    def test_the_burnt_patch_is_as_dark_as_wanted(self, width: str) -> None:
        wanted = np.array([0.2, 0.4, 0.6])
        tones = dots.compensation(pixel="0.1 mm", mark_width=width, wanted=wanted)
        for level, made in zip(wanted, tones, strict=True):
            lit = dots.dither(np.full((96, 96), made))
            found = dots.burnt_coverage(dots=lit, pixel="0.1 mm", mark_width=width).magnitude
            # Runs of dots change in jumps from tone to tone; without the curve 0.1 mm errs by 0.2.
            assert found == pytest.approx(level, abs=0.04)
            raw = dots.burnt_coverage(
                dots=dots.dither(np.full((96, 96), level)), pixel="0.1 mm", mark_width=width
            ).magnitude
            assert abs(found - level) <= abs(raw - level) + 0.01

    def test_wide_marks_need_less(self) -> None:
        tones = [
            float(dots.compensation(pixel="0.1 mm", mark_width=w, wanted=0.5))
            for w in ("0.07 mm", "0.1 mm", "0.15 mm")
        ]
        assert tones[0] > tones[1] > tones[2]

    def test_marks_too_narrow_for_a_solid_patch_say_so(self) -> None:
        with pytest.raises(ValueRefused, match=r"burn 50 % of a solid patch at most"):
            dots.compensation(pixel="0.1 mm", mark_width="0.05 mm", wanted=0.8)


STRIPS: dict[str, Any] = {
    "dose": Q([0.8, 0.1, 0.4, 0.2, 0.4, 1.6], "J/mm^2"),
    "darkness": [0.70, 0.10, 0.52, 0.30, 0.48, 0.55],
}


class TestToneCurve:
    def test_unsorted_and_repeated_strips(self) -> None:
        curve = tone_curve.tone_curve(**STRIPS)
        np.testing.assert_allclose(curve.dose.magnitude, [0.1, 0.2, 0.4, 0.8, 1.6])
        np.testing.assert_allclose(curve.darkness, [0.1, 0.3, 0.5, 0.7, 0.55])

    def test_where_it_turns_is_told(self) -> None:
        curve = tone_curve.tone_curve(**STRIPS)
        assert curve.turns_at == Q("0.8 J/mm^2")
        assert "beyond 0.8 J/mm² it gets lighter again" in str(curve)

    def test_only_the_rising_part_is_inverted(self) -> None:
        curve = tone_curve.tone_curve(**STRIPS)
        # 0.6 lies at 0.6 J/mm2 on the way up, and again near 1.3 on the way down.
        assert curve.dose_for(0.6).magnitude == pytest.approx(0.6, rel=1e-12)
        assert curve.darkness_at(curve.dose_for(0.6)) == pytest.approx(0.6, rel=1e-12)
        assert curve.darkness_at("1.2 J/mm^2") == pytest.approx(0.625, rel=1e-12)

    def test_beyond_the_turn_and_below_the_lightest_are_refused(self) -> None:
        curve = tone_curve.tone_curve(**STRIPS)
        with pytest.raises(ValueRefused, match=r"darkest is 0.7; beyond 0.8 J/mm² it gets lighter"):
            curve.dose_for(0.75)
        with pytest.raises(
            ValueRefused, match=r"lighter than the lightest strip, 0.1 at 0.1 J/mm²"
        ):
            curve.dose_for(0.05)
        with pytest.raises(ValueRefused, match="beyond them nothing is known"):
            curve.darkness_at("2 J/mm^2")

    def test_a_curve_that_only_rises_asks_for_more_dose(self) -> None:
        curve = tone_curve.tone_curve(dose=Q([1, 2, 3], "J/mm^2"), darkness=[0.1, 0.4, 0.5])
        assert curve.turns_at is None
        with pytest.raises(ValueRefused, match="burn strips with more dose"):
            curve.dose_for(0.6)

    def test_a_dip_within_the_reading_is_no_turn(self) -> None:
        curve = tone_curve.tone_curve(
            dose=Q([1, 2, 3, 4], "J/mm^2"), darkness=[0.1, 0.5, 0.49, 0.7]
        )
        assert curve.turns_at is None
        np.testing.assert_allclose(curve.rising, [0.1, 0.495, 0.495, 0.7])

    @given(st.lists(st.floats(0, 1), min_size=3, max_size=12), st.floats(0, 1))
    def test_what_is_inverted_is_found_again(self, darkness: list[float], part: float) -> None:
        doses = Q(np.arange(1.0, len(darkness) + 1), "J/mm^2")
        curve = tone_curve.tone_curve(dose=doses, darkness=darkness)
        assert np.all(np.diff(curve.rising) >= -1e-12)
        wanted = curve.rising[0] + part * (curve.darkest - curve.rising[0])
        found = curve.dose_for(wanted).magnitude
        back = np.interp(found, curve.rising_dose.magnitude, curve.rising)
        assert back == pytest.approx(wanted, abs=1e-9)
        assert found <= curve.rising_dose.magnitude[-1]

    def test_columns_of_different_lengths_and_too_few(self) -> None:
        with pytest.raises(ValueRefused, match="got 3 of dose, 2 of darkness"):
            tone_curve.tone_curve(dose=Q([1, 2, 3], "J/mm^2"), darkness=[0, 1])
        with pytest.raises(ValueRefused, match="at least three doses"):
            tone_curve.tone_curve(dose=Q([1, 1, 2], "J/mm^2"), darkness=[0, 0.1, 1])
        with pytest.raises(UnitError, match="dose needs a unit"):
            tone_curve.tone_curve(dose=[1, 2, 3], darkness=[0, 0.5, 1])


def strips(a: float, b: float, c: float, noise: float = 0.0) -> dict[str, Any]:
    """Strips of a made-up material, 1 - exp(-k P^a v^-b s^-c), at three speeds."""
    rng = np.random.default_rng(3)
    grid = np.array(
        [(p, v, s) for p in (1, 2, 4) for v in (50, 100, 200) for s in (0.06, 0.1)], dtype=float
    )
    power, speed, spacing = grid.T
    dark = 1 - np.exp(-6 * power**a * speed**-b * (spacing / 0.1) ** -c)
    dark = np.clip(dark + noise * rng.standard_normal(dark.size), 0.01, 0.99)
    return {
        "power": Q(power, "W"), "speed": Q(speed, "mm/s"), "line_spacing": Q(spacing, "mm"),
        "darkness": dark,
    }  # fmt: skip


class TestResponse:
    def test_exponents_are_found_again(self) -> None:
        found = response.response(**strips(0.9, 0.6, 0.8))
        exponents = (found.power_exponent, found.speed_exponent, found.spacing_exponent)
        assert exponents == pytest.approx((0.9, 0.6, 0.8), rel=1e-9)
        assert found.reciprocal is False
        assert found.scatter < 1e-9

    def test_with_noise_they_lie_within_their_uncertainties(self) -> None:
        found = response.response(**strips(0.8, 0.8, 0.8, noise=0.01))
        for value, std in zip(
            (found.power_exponent, found.speed_exponent, found.spacing_exponent),
            found.std,
            strict=True,
        ):
            assert value == pytest.approx(0.8, abs=3 * std)
            assert 0 < std < 0.2
        assert found.reciprocal is True

    def test_settings_between_the_strips_are_told_and_others_refused(self) -> None:
        found = response.response(**strips(0.9, 0.6, 0.8))
        got = found.darkness(power="3 W", speed="80 mm/s", line_spacing="0.08 mm")
        wanted = 1 - math.exp(-6 * 3**0.9 * 80**-0.6 * 0.8**-0.8)
        assert got == pytest.approx(wanted, rel=1e-9)
        with pytest.raises(ValueRefused, match=r"speed from 50 mm/s to 200 mm/s.*too far beyond"):
            found.darkness(power="3 W", speed="800 mm/s", line_spacing="0.08 mm")

    def test_strips_at_one_speed_say_nothing_about_another(self) -> None:
        told = strips(0.9, 0.6, 0.8)
        same = told["speed"].magnitude == 100
        found = response.response(**{
            word: value[same] for word, value in told.items()
        })  # fmt: skip
        assert np.isnan(found.speed_exponent)
        assert found.reciprocal is None
        known = found.darkness(power="3 W", speed="100 mm/s", line_spacing="0.08 mm")
        assert 0 < known < 1
        with pytest.raises(ValueRefused, match="all strips had a speed of 100 mm/s"):
            found.darkness(power="3 W", speed="120 mm/s", line_spacing="0.08 mm")

    def test_settings_that_only_vary_together_are_refused(self) -> None:
        power = np.array([1.0, 2.0, 3.0, 4.0])
        with pytest.raises(ValueRefused, match="do not tell 2 settings apart"):
            response.response(
                power=Q(power, "W"), speed=Q(50 * power, "mm/s"),
                line_spacing=Q([0.1] * 4, "mm"), darkness=[0.2, 0.3, 0.3, 0.4],
            )  # fmt: skip

    def test_blank_strips_are_refused(self) -> None:
        told = strips(0.9, 0.6, 0.8)
        told["darkness"][0] = 0.0
        with pytest.raises(ValueRefused, match="leave out strips without a mark"):
            response.response(**told)
