"""Light from the diode to the work, the home calorimeter, and the bed under the beam."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused
from mathlib.laser import beams, delivery

TUBE = beams.Beam(wavelength="10.6 um", beam_quality=1.1, waist_diameter="6 mm")


def test_a_diode_is_dark_up_to_its_threshold_and_then_a_line() -> None:
    found = delivery.diode_power(
        current=Q([0, 0.15, 0.2, 0.7, 1.2], "A"), threshold="0.2 A", slope="1.6 W/A"
    ).magnitude
    np.testing.assert_allclose(found, [0, 0, 0, 0.8, 1.6], atol=1e-12)


def test_more_light_than_input_is_refused() -> None:
    with pytest.raises(ValueRefused, match="slip of units"):
        delivery.diode_efficiency(optical_power="16 W", current="1.2 A", voltage="4.8 V")


def test_light_and_heat_make_up_the_input() -> None:
    told = {"optical_power": "5.5 W", "current": "4 A", "voltage": "4.2 V"}
    heat, part = delivery.diode_heat(**told), delivery.diode_efficiency(**told)
    assert heat.magnitude + 5.5 == pytest.approx(16.8, rel=1e-12)
    tube = delivery.tube_heat(optical_power="5.5 W", efficiency=part)
    assert tube.magnitude == pytest.approx(heat.magnitude, rel=1e-12)  # the same balance


def test_a_mirror_that_leans_by_a_milliradian() -> None:
    tilt = 1e-3
    turned = np.array([[math.cos(2 * tilt), -math.sin(2 * tilt)],
                       [math.sin(2 * tilt), math.cos(2 * tilt)]])  # fmt: skip
    away = turned @ np.array([1.5, 0.0])  # 1.5 m along the turned beam
    found = delivery.walk_off(tilt="1 mrad", distance="1.5 m")
    assert found.to("m").magnitude == pytest.approx(away[1], rel=1e-5)


def test_stacking_keeps_the_radiance_of_one() -> None:
    # Two beams side by side: twice the light, twice M2 on one axis, so power over M2 stays.
    both = delivery.stacked_quality(beams=2, beam_quality=3).magnitude
    assert 2 * 5.5 / both == pytest.approx(5.5 / 3, rel=1e-12)


class TestCurve:
    def test_points_of_the_curve_come_back(self) -> None:
        currents, powers = Q([6.0, 10.0, 18.0], "mA"), Q([12.0, 24.0, 37.0], "W")
        found = delivery.measured_power(currents, currents, powers).magnitude
        np.testing.assert_allclose(found, powers.magnitude)

    @pytest.mark.parametrize("current", ["5 mA", "19 mA"])
    def test_it_is_not_drawn_on(self, current: str) -> None:
        with pytest.raises(ValueRefused, match="from 6 to 18 mA"):
            delivery.measured_power(current, Q([6.0, 18.0], "mA"), Q([12.0, 37.0], "W"))

    def test_falling_currents_are_no_curve(self) -> None:
        with pytest.raises(ValueRefused, match="currents rising"):
            delivery.measured_power("9 mA", Q([18.0, 6.0], "mA"), Q([12.0, 37.0], "W"))


class TestAge:
    def test_a_new_and_a_worn_source(self) -> None:
        life = {"optical_power": "10 W", "life": "10000 hour"}
        worn = delivery.aged_power(age="10000 hour", **life)
        assert worn.magnitude == pytest.approx(8, rel=1e-12)  # 80 % is left by definition
        assert delivery.aged_power(age="1 hour", **life).magnitude == pytest.approx(10, rel=1e-4)
        with pytest.raises(ValueRefused, match="no light is left"):
            delivery.aged_power(age="60000 hour", **life)


class TestPath:
    def test_near_and_far_corner_differ_as_the_caustic_says(self) -> None:
        found = delivery.along_path(TUBE, Q([0.5, 1.8], "m"), "50.8 mm")
        length = math.pi * 9 / (1.1 * 10.6e-3)  # mm
        by_hand = [6 * math.hypot(1, z / length) for z in (500, 1800)]
        np.testing.assert_allclose(found.beam_diameter.magnitude, by_hand, rtol=1e-9)
        # A wider beam at the lens makes a narrower spot, and the focus moves.
        assert found.spot_diameter.magnitude[1] < found.spot_diameter.magnitude[0]
        assert np.all(np.abs(found.focus_shift.magnitude) < 5)

    def test_focus_shift_by_the_lens_formula(self) -> None:
        found = delivery.along_path(TUBE, "1.8 m", "50.8 mm")
        away, length = 1800 - 50.8, math.pi * 9 / (1.1 * 10.6e-3)
        shift = 50.8**2 * away / (away**2 + length**2)  # s' - f, Self's formula
        assert found.focus_shift.magnitude == pytest.approx(shift, rel=1e-6)

    def test_of_an_elliptical_beam_each_axis_goes_for_itself(self) -> None:
        both = beams.Beam(wavelength="450 nm", beam_quality=(4, 9), waist_diameter="3 mm")
        found = delivery.along_path(both, Q([0.3, 1.0, 2.5], "m"), "30 mm")
        assert found.spot_diameter.magnitude.shape == (2, 3)
        for axis, quality in enumerate((4, 9)):
            one = beams.Beam(wavelength="450 nm", beam_quality=quality, waist_diameter="3 mm")
            alone = delivery.along_path(one, Q([0.3, 1.0, 2.5], "m"), "30 mm")
            for pair, single in zip(found, alone, strict=True):
                np.testing.assert_allclose(pair.magnitude[axis], single.magnitude, rtol=1e-12)

    def test_a_path_by_rays(self) -> None:
        # A beam of M2 as rays that scatter in place and angle without correlation in its waist:
        # their spread is a quarter of its width, their angle's a quarter of its full angle.
        tube = beams.Beam(
            wavelength="9.3 um", beam_quality=1.7, waist_diameter="3.9 mm", waist_place="-0.6 m"
        )
        found = delivery.along_path(tube, "2.9 m", "63.5 mm")
        rng = np.random.default_rng(5)
        place, angle = rng.standard_normal((2, 1000))
        place -= place.mean()
        angle -= angle.mean()
        angle -= place * (place @ angle) / (place @ place)
        place *= 3.9 / 4 / place.std()
        angle *= 1.7 * 9.3e-3 / (math.pi * 3.9 / 2) / 2 / angle.std()
        place = place + 3500 * angle
        assert found.beam_diameter.magnitude == pytest.approx(4 * place.std(), rel=1e-9)
        angle = angle - place / 63.5
        focus = -(place @ angle) / (angle @ angle)
        assert found.focus_shift.magnitude == pytest.approx(focus - 63.5, rel=1e-9)
        wide = 4 * (place + focus * angle).std()
        assert found.spot_diameter.magnitude == pytest.approx(wide, rel=1e-9)


#: A block of 150 g of copper: 57.75 J/K; 4 W on a coat of 0.95; 400 s to lose 63 %.
CAPACITY, WATTS, TAU = 57.75, 4.0, 400.0


def readings(noise: float, seed: int = 3) -> dict[str, Any]:
    """Temperatures by integrating the heat balance, with a step on and off."""

    def balance(t: float, rise: np.ndarray) -> np.ndarray:
        on = 30 < t <= 150
        return np.asarray(WATTS * 0.95 * on / CAPACITY - (rise - 0.0) / TAU)

    t = np.arange(0.0, 600.0, 5.0)
    made = solve_ivp(balance, (0, 600), [0.4], t_eval=t, max_step=0.5, rtol=1e-9)
    warm = 21.0 + made.y[0] + noise * np.random.default_rng(seed).standard_normal(t.size)
    return {
        "time": Q(t, "s"), "temperature": Q(warm, "degC"), "mass": "150 g", "beam_on": "30 s",
        "beam_off": "150 s",
    }  # fmt: skip


class TestCalorimeter:
    def test_power_and_loss_come_back_from_an_integrated_balance(self) -> None:
        found = delivery.absorbed_power(**readings(0.0), absorptance_std=0)
        assert found.power.magnitude == pytest.approx(WATTS, rel=2e-3)  # steps of 0.5 s
        assert found.time_constant.magnitude == pytest.approx(TAU, rel=5e-3)
        assert found.ambient.to("degC").magnitude == pytest.approx(21, abs=0.02)
        assert found.note == ""

    def test_the_stated_uncertainty_holds_the_truth_as_often_as_it_says(self) -> None:
        pulls = []
        for seed in range(40):
            found = delivery.absorbed_power(**readings(0.1, seed), absorptance_std=0)
            pulls.append((found.power.magnitude - WATTS) / found.std.magnitude)
        # 40 pulls with a standard deviation of 1 have one between 0.75 and 1.3 (3 sigma).
        assert 0.7 < float(np.std(pulls)) < 1.35
        assert abs(float(np.mean(pulls))) < 0.6

    def test_coat_and_mass_add_their_share(self) -> None:
        found = delivery.absorbed_power(**readings(0.0), mass_std="3 g")
        parts = math.hypot(0.03 / 0.95, 3 / 150)
        assert found.std.magnitude / found.power.magnitude == pytest.approx(parts, rel=0.02)

    def test_a_drifting_beam_is_noticed(self) -> None:
        told = readings(0.0)
        warm = told["temperature"].magnitude.copy()
        warm[60:] += 4.0  # someone leaned on the block
        told["temperature"] = Q(warm, "degC")
        assert "The fit misses" in delivery.absorbed_power(**told).note

    @pytest.mark.parametrize(
        ("changes", "match"),
        [
            ({"beam_off": "20 s"}, "beam_off comes after"),
            ({"beam_off": "595 s"}, "two after it"),
            ({"absorptance": 1.2}, "at most 1"),
            ({"temperature": Q(np.full(120, 20.0), "degC")}, "did not get warmer"),
            ({"temperature": Q(np.full(9, 20.0), "degC")}, "two lists of one length"),
        ],
    )
    def test_readings_that_cannot_tell(self, changes: dict[str, Any], match: str) -> None:
        with pytest.raises(ValueRefused, match=match):
            delivery.absorbed_power(**readings(0.0) | changes)

    def test_too_few(self) -> None:
        with pytest.raises(ValueRefused, match="at least 8"):
            delivery.absorbed_power(
                Q([0.0, 1.0, 2.0], "s"), Q([20.0, 21.0, 22.0], "degC"), "1 g", "0 s", "1 s"
            )
        with pytest.raises(UnitError, match="temperature needs"):
            delivery.absorbed_power(**readings(0.0) | {"temperature": Q(np.ones(120), "mm")})


class TestBed:
    def test_shims_make_a_tilted_bed_level_and_leave_its_bow(self) -> None:
        x, y = np.meshgrid([0.0, 210.0, 420.0], [0.0, 150.0, 300.0])
        bow = 0.2 * (1 - ((x - 210) / 210) ** 2)
        height = 1.5 + 0.001 * x - 0.002 * y + bow
        found = beams.flatness(
            Q(x.ravel(), "mm"), Q(y.ravel(), "mm"), Q(height.ravel(), "mm"), "420 mm", "300 mm"
        )
        assert found.slope_x.magnitude == pytest.approx(1.0, rel=1e-9)  # mm/m
        assert found.slope_y.magnitude == pytest.approx(-2.0, rel=1e-9)
        # By hand: the far right rises 0.42 - 0.6 = -0.18; highest is near right, 0.42.
        told = {corner: shim.magnitude for corner, shim in found.shims.items()}
        expected = {"near left": 0.42, "near right": 0, "far left": 1.02, "far right": 0.6}
        assert told == pytest.approx(expected, abs=1e-9)
        assert found.after.magnitude == pytest.approx(0.2, rel=1e-9)  # the bow is no tilt
        # What was measured, plus the shims' plane, is level but for the bow.
        raised = height + np.interp(0, [0], [0]) + 0.42 - 0.001 * x + 0.002 * y
        assert np.ptp(raised) == pytest.approx(0.2, rel=1e-9)

    def test_three_places_give_a_plane_and_no_judgement(self) -> None:
        found = beams.flatness(
            Q([0.0, 400.0, 0.0], "mm"), Q([0.0, 0.0, 300.0], "mm"), Q([0.0, 0.4, 0.3], "mm"),
            "400 mm", "300 mm",
        )  # fmt: skip
        assert np.isnan(found.after.magnitude)
        assert found.shims["far right"].magnitude == 0

    @pytest.mark.parametrize("y", [[0.0, 0.0, 0.0, 0.0], [0.0, 1.0, 2.0, 3.0]])
    def test_places_in_a_line_are_refused(self, y: list[float]) -> None:
        with pytest.raises(ValueRefused, match="not all in one line"):
            beams.flatness(
                Q([0.0, 1.0, 2.0, 3.0], "mm"), Q(y, "mm"), Q([0.0, 0.1, 0.2, 0.1], "mm"),
                "400 mm", "300 mm",
            )  # fmt: skip

    def test_a_map_keeps_a_plane_and_meets_every_reading(self) -> None:
        x, y = Q([0.0, 400.0, 0.0, 400.0, 180.0], "mm"), Q([0.0, 0.0, 300.0, 300.0, 130.0], "mm")
        tilted = 0.2 + 0.001 * x.magnitude - 0.002 * y.magnitude
        at = Q([20.0, 210.0, 390.0], "mm"), Q([10.0, 260.0], "mm")
        found = beams.height_map(x, y, Q(tilted, "mm"), *at).magnitude
        wanted = 0.2 + 0.001 * at[0].magnitude - 0.002 * at[1].magnitude[:, None]
        np.testing.assert_allclose(found, wanted, atol=1e-9)
        uneven = tilted + np.array([0.1, -0.2, 0.05, 0.0, 0.3])
        for k in range(5):
            there = beams.height_map(x, y, Q(uneven, "mm"), x[k : k + 1], y[k : k + 1])
            assert there.magnitude[0, 0] == pytest.approx(uneven[k], abs=1e-9)

    def test_a_map_finds_a_bow_between_its_readings(self) -> None:
        def bow(x: Any, y: Any) -> Any:
            return 0.3 * np.sin(np.pi * x / 400) * np.sin(np.pi * y / 300)

        x, y = (g.ravel() for g in np.meshgrid([0.0, 133, 267, 400], [0.0, 100, 200, 300]))
        found = beams.height_map(
            Q(x, "mm"), Q(y, "mm"), Q(bow(x, y), "mm"), Q([200.0, 70.0], "mm"), Q([150.0], "mm")
        ).magnitude[0]
        np.testing.assert_allclose(found, [0.3, bow(70.0, 150.0)], atol=0.03)

    def test_a_map_is_refused_where_its_readings_are(self) -> None:
        line = Q([0.0, 1.0, 2.0], "mm")
        with pytest.raises(ValueRefused, match="not all in one line"):
            beams.height_map(line, line, line, line, line)
        x, y = Q([0.0, 1.0, 0.0, 0.0], "mm"), Q([0.0, 0.0, 1.0, 1.0], "mm")
        with pytest.raises(ValueRefused, match="measured twice"):
            beams.height_map(x, y, x, line, line)

    def test_focus_in_the_middle_leaves_the_narrowest_wider_face(self) -> None:
        spot = beams.Beam(wavelength="445 nm", beam_quality=15, waist_diameter="0.1 mm")
        depths = np.linspace(0, 3, 31)
        wide = [beams.through_sheet(spot, "3 mm", Q(d, "mm")).widest.magnitude for d in depths]
        assert depths[int(np.argmin(wide))] == pytest.approx(1.5)
        middle = beams.through_sheet(spot, "3 mm", "1.5 mm")
        assert middle.top.magnitude == pytest.approx(middle.bottom.magnitude, rel=1e-12)

    def test_many_thicknesses_meet_both_axes(self) -> None:
        beam = beams.Beam(
            wavelength="450 nm", beam_quality=(4, 12), waist_diameter=("0.05 mm", "0.1 mm"),
            waist_place=("0 mm", "0.3 mm"),
        )  # fmt: skip
        many = beams.through_sheet(beam, Q([3.0, 4.0, 5.0], "mm"), "1 mm")
        for k, thick in enumerate(("3 mm", "4 mm", "5 mm")):
            one = beams.through_sheet(beam, thick, "1 mm")
            for face, alone in zip(many, one, strict=True):
                np.testing.assert_allclose(face.magnitude[:, k], alone.magnitude, rtol=1e-12)

    def test_room_is_used_up_exactly_at_the_growth(self) -> None:
        spot = beams.Beam(wavelength="445 nm", beam_quality=3, waist_diameter="0.1 mm")
        half = beams.depth_of_focus(spot, 1.1)
        room = beams.height_margin(half_range=half, thickness="2 mm", height_range="0.3 mm")
        off = half - room  # faces and heights use the rest
        assert off.magnitude == pytest.approx(1.15, rel=1e-12)
        there = spot.diameter(Q("1.15 mm") + room)
        assert there.magnitude == pytest.approx(0.11, rel=1e-9)


class TestTwoAxes:
    BEAM = beams.Beam(
        wavelength="450 nm", beam_quality=(4, 12), waist_diameter="0.05 mm",
        waist_place=("0 mm", "0.6 mm"),
    )  # fmt: skip

    def test_least_area_is_where_both_slopes_cancel(self) -> None:
        best = beams.best_plane(self.BEAM).magnitude
        length = math.pi * 0.05**2 / (4 * np.array([4, 12]) * 450e-6)
        away = best - np.array([0, 0.6])
        # d ln(d_x d_y) / dz: z / (z_R^2 + z^2) of both axes adds to nothing.
        assert float(np.sum(away / (length**2 + away**2))) == pytest.approx(0, abs=1e-6)

    def test_depth_of_focus_is_a_pair(self) -> None:
        half = beams.depth_of_focus(self.BEAM, 1.1).magnitude
        assert half[0] / half[1] == pytest.approx(3, rel=1e-9)  # M2 of 4 against 12

    def test_depth_of_focus_for_many_growths_of_both_axes(self) -> None:
        half = beams.depth_of_focus(self.BEAM, [1.05, 1.1, 1.4])
        assert half.magnitude.shape == (2, 3)
        for axis in (0, 1):
            there = half.magnitude[axis] + np.array([0, 0.6])[axis]
            grown = self.BEAM.diameter(Q(there, "mm")).magnitude[axis] / 0.05
            np.testing.assert_allclose(grown, [1.05, 1.1, 1.4], rtol=1e-12)

    def test_what_is_no_beam_is_told_so(self) -> None:
        no_beam: Any = "red"
        calls = (
            lambda: beams.through(no_beam, []),
            lambda: beams.depth_of_focus(no_beam, 1.1),
            lambda: beams.through_sheet(no_beam, "3 mm", "0 mm"),
            lambda: beams.irradiance(no_beam, "0 mm", "0 mm"),
            lambda: beams.best_plane(no_beam),
            lambda: delivery.along_path(no_beam, "1 m", "30 mm"),
        )
        for call in calls:
            with pytest.raises(ValueRefused, match=r"beam is a Beam, such as Beam\(wavelength="):
                call()

    def test_wavefront_of_each_axis(self) -> None:
        radius = self.BEAM.wavefront_radius("2 mm").to("mm").magnitude
        length = math.pi * 0.05**2 / (4 * np.array([4, 12]) * 450e-6)
        away = np.array([2.0, 1.4])
        np.testing.assert_allclose(radius, away + length**2 / away, rtol=1e-12)

    def test_a_beam_better_than_gaussian_is_refused(self) -> None:
        beam = beams.Beam(wavelength="450 nm", beam_quality=0.42, waist_diameter="0.1 mm")
        with pytest.raises(ValueRefused, match="at least 1"):
            beam.diameter("0 mm")

    def test_without_power_there_is_no_irradiance(self) -> None:
        with pytest.raises(ValueRefused, match="states no power"):
            beams.irradiance(self.BEAM, "0 mm", "0 mm")
