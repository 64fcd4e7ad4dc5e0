"""Eyewear and windows: densities, marks, and every reason against them."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused
from mathlib.laser.beams import Module
from mathlib.safety import filters, marks, windows
from mathlib.safety.filters import Filter, suits

BLUE = Module(
    optical_power="5 W", wavelength="455 nm", wavelength_tolerance="5 nm", focal_length="30 mm",
    beam_diameter="4 mm",
)  # fmt: skip
EDGE = Module(
    optical_power="1 W", wavelength="1400 nm", wavelength_tolerance="10 nm", focal_length="30 mm"
)
GOOD = Filter(low="400 nm", high="480 nm", density=6, scale=7)


def test_density_and_power_passed_undo_each_other() -> None:
    density = filters.optical_density(irradiance="2 kW/m^2", limit="4 W/m^2")
    passed = filters.transmitted(power="2 kW", density=density)
    assert passed.to("W").magnitude == pytest.approx(4, rel=1e-12)
    below = filters.optical_density(irradiance="1 W/m^2", limit="10 W/m^2")
    assert below.magnitude == pytest.approx(-1, rel=1e-12)


def test_filters_behind_one_another() -> None:
    assert filters.absorbing_pair(density_1=2, density_2=3).magnitude == 5
    # Light that bounces r times between the two passes T1 (R1 R2)^r T2: summed by hand.
    told: dict[str, Any] = {"transmittance_1": 0.02, "transmittance_2": 0.01}
    summed = sum(0.02 * (0.9 * 0.8) ** r * 0.01 for r in range(200))
    half = dict.fromkeys(("transmittance_1", "transmittance_2"), 0.5)
    whole = filters.reflecting_pair(**half, reflectance_1=0.5, reflectance_2=0.5)
    assert whole.magnitude == pytest.approx(1 / 3, rel=1e-12)  # nothing is lost in either
    pair = filters.reflecting_pair(**told, reflectance_1=0.9, reflectance_2=0.8)
    assert pair.magnitude == pytest.approx(summed, rel=1e-9)
    assert pair.magnitude > 0.02 * 0.01
    for number in (1, 2):
        mirror = {"reflectance_1": 0.5, "reflectance_2": 0.5, f"reflectance_{number}": 0.995}
        with pytest.raises(ValueRefused, match="adds no light"):
            filters.reflecting_pair(**told, **mirror)


class TestScaleNumbers:
    @pytest.mark.parametrize(
        ("mode", "wavelength", "unit", "most"),
        # The most that LB4 withstands, from the table of EN 207 by hand.
        [
            ("D", 250, "W/m^2", 10),
            ("D", 315, "W/m^2", 10),
            ("D", 316, "W/m^2", 1e5),
            ("D", 1400, "W/m^2", 1e5),
            ("D", 1401, "W/m^2", 1e7),
            ("D", 10600, "W/m^2", 1e7),
            ("I", 250, "J/m^2", 3e5),
            ("I", 1064, "J/m^2", 50),
            ("R", 250, "J/m^2", 3e5),
            ("R", 532, "J/m^2", 50),
            ("R", 10600, "J/m^2", 1e6),
            ("I", 10600, "J/m^2", 1e6),
            ("M", 250, "W/m^2", 3e14),
            ("M", 800, "J/m^2", 1.5),
            ("M", 10600, "W/m^2", 1e15),
        ],
    )
    def test_table(self, mode: str, wavelength: float, unit: str, most: float) -> None:
        light = Q(wavelength, "nm")
        for part, number in ((0.99, 4), (1.0, 4), (1.01, 5), (0.1, 3)):
            level = Q(part * most, unit)
            found = marks.scale_number(level=level, wavelength=light, mode=mode)
            assert found.magnitude == number
        held = marks.withstood(scale=4, wavelength=light, mode=mode)
        assert held.to(unit).magnitude == pytest.approx(most, rel=1e-12)

    @given(st.floats(0.0, 9.0), st.floats(180.0, 1e6))
    def test_what_a_number_withstands_covers_the_level(self, decades: float, light: float) -> None:
        level, wavelength = Q(10.0**decades, "W/m^2"), Q(light, "nm")
        number = marks.scale_number(level=level, wavelength=wavelength, mode="D")
        held = marks.withstood(scale=number, wavelength=wavelength)
        assert level.magnitude <= held.magnitude * (1 + 1e-8)
        if number.magnitude > 1:
            less = marks.withstood(scale=number - 1.0, wavelength=wavelength)
            assert less.magnitude < level.magnitude

    def test_numbers_begin_at_one(self) -> None:
        for level in ("1e-3 W/m^2", "99 W/m^2"):
            found = marks.scale_number(level=level, wavelength="450 nm", mode="D")
            assert found.magnitude == 1

    def test_wide_beams_count_more_in_mode_d_only(self) -> None:
        told: dict[str, Any] = {"wavelength": "1064 nm"}
        wide = {"level": "9e3 W/m^2", "mode": "D", "diameter": "20 mm"}
        assert marks.scale_number(**told, **wide).magnitude == 5  # 99.8 times: 9e5
        assert marks.scale_number(**told, **wide, diameter_factor=False).magnitude == 3
        pulse = {"level": "4 J/m^2", "mode": "I", "diameter": "20 mm"}
        assert marks.scale_number(**told, **pulse).magnitude == 3  # 4 / 5, up to 5e0

    @pytest.mark.parametrize(
        ("millimetres", "factor"), [(0.2, 1), (1, 1), (4, 4**1.7), (15, 15**1.7), (80, 15**1.7)]
    )
    def test_factor_of_width(self, millimetres: float, factor: float) -> None:
        found = marks.beam_factor(diameter=Q(millimetres, "mm")).magnitude
        assert found == pytest.approx(factor, rel=1e-12)

    def test_arrays_cross_bands_where_units_allow(self) -> None:
        light = Q([250.0, 450.0, 10600.0], "nm")
        found = marks.scale_number(level="1e5 W/m^2", wavelength=light, mode="D")
        assert list(found.magnitude) == [8, 4, 2]
        held = marks.withstood(scale=4, wavelength=light).magnitude
        assert held == pytest.approx([10, 1e5, 1e7])
        with pytest.raises(ValueRefused, match="mode M takes other units"):
            marks.scale_number(level="1 J/m^2", wavelength=light, mode="M")

    @pytest.mark.parametrize(
        ("words", "error", "told"),
        [
            ({"mode": "X"}, ValueRefused, "Scale number: mode is one of D, I, R, M; got 'X'"),
            ({"level": "1 J/m^2"}, UnitError, "Scale number: level needs"),
            ({"level": "-1 W/m^2"}, ValueRefused, "Scale number: level must be positive"),
            ({"wavelength": "179 nm"}, ValueRefused, "from 180 nm to 1 mm"),
            ({"wavelength": "1.1 mm"}, ValueRefused, "from 180 nm to 1 mm"),
            ({"wavelength": "5 W"}, UnitError, "Scale number: wavelength needs"),
        ],
    )
    def test_refusals(self, words: dict[str, str], error: Any, told: str) -> None:
        right = {"level": "1 W/m^2", "wavelength": "450 nm", "mode": "D"}
        with pytest.raises(error, match=told):
            marks.scale_number(**right | words)

    def test_one_wavelength_outside_is_enough_to_refuse(self) -> None:
        with pytest.raises(ValueRefused, match="from 180 nm to 1 mm"):
            marks.withstood(scale=4, wavelength=Q([450.0, 170.0], "nm"))
        with pytest.raises(ValueRefused, match="light that eyes see well"):
            marks.alignment_number(power="1 mW", wavelength=Q([633.0, 455.0], "nm"))

    def test_ends_of_the_standard_are_inside(self) -> None:
        for light in ("180 nm", "1 mm"):
            marks.scale_number(level="1 W/m^2", wavelength=light, mode="D")

    def test_refusals_of_what_is_withstood(self) -> None:
        with pytest.raises(ValueRefused, match="Level withstood: mode is one of"):
            marks.withstood(scale=4, wavelength="450 nm", mode="x")

    def test_adjusting(self) -> None:
        red = {"wavelength": "633 nm"}
        for power, number in (("0.1 mW", 1), ("10 mW", 1), ("10.1 mW", 2), ("5 W", 4)):
            assert marks.alignment_number(power=power, **red).magnitude == number
            assert marks.alignment_number(power=power).magnitude == number
        for refused in ("405 nm", "455 nm", "460 nm", "701 nm", "1064 nm"):
            with pytest.raises(ValueRefused, match="light that eyes see well"):
                marks.alignment_number(power="1 mW", wavelength=refused)
        for taken in ("461 nm", "700 nm"):
            assert marks.alignment_number(power="1 mW", wavelength=taken).magnitude == 1


class TestMarks:
    @pytest.mark.parametrize(
        ("text", "number"),
        [
            ("LB5", 5),
            ("lb 6", 6),
            ("D LB6 + IR LB7", 6),
            ("DIRM LB4", 4),
            ("D LB7 D LB5", 5),
            (7, 7),
            ("7", 7),
            ("7 1", 7),
        ],
    )
    def test_number_for_continuous_light(self, text: Any, number: int) -> None:
        made = Filter(low="400 nm", high="500 nm", density=6, scale=text)
        assert made.scale is not None
        assert made.scale.magnitude == number

    @pytest.mark.parametrize("text", [None, "IR LB7", "M LB3"])
    def test_no_number_for_continuous_light(self, text: Any) -> None:
        assert Filter(low="400 nm", high="500 nm", density=6, scale=text).scale is None


class TestSuits:
    def test_nothing_found_is_no_approval(self) -> None:
        assert suits(GOOD, BLUE) == []
        told = filters.verdict([])
        assert told.startswith("No reason against it was found in what you typed.")
        assert "not an approval" in told
        for thing in ("scratches", "beside the frame", "age", "slant", "pulses"):
            assert thing in told

    @pytest.mark.parametrize(
        ("low", "high", "leaves"),
        [
            (450, 460, False),
            (449, 461, False),
            (451, 480, True),
            (400, 459, True),
            (190, 450, True),
            (480, 400, True),
        ],
    )
    def test_the_whole_band_of_the_laser_must_be_marked(
        self, low: float, high: float, leaves: bool
    ) -> None:
        made = Filter(low=Q(low, "nm"), high=Q(high, "nm"), density=6, scale=7)
        reasons = suits(made, BLUE)
        assert len(reasons) == leaves
        if leaves:
            assert f"450 nm to 460 nm leaves the marked band, {low} nm to {high} nm" in reasons[0]
            assert filters.verdict(reasons).startswith("Not this one: Light of 450 nm")

    def test_a_tolerance_that_is_not_stated_speaks_against(self) -> None:
        vague = Module(optical_power="5 W", wavelength="455 nm", focal_length="30 mm")
        (reason,) = suits(GOOD, vague)
        assert "tolerance is not stated" in reason

    def test_without_a_tolerance_only_the_nominal_wavelength_is_judged(self) -> None:
        vague = Module(optical_power="5 W", wavelength="455 nm", focal_length="30 mm")
        assert filters.band(vague) == (455.0, 455.0)

    def test_a_density_that_just_reaches_the_limit_has_no_reason_against_it(self) -> None:
        just = max(float(filters.needed_density(BLUE, time)) for time in filters.EXPOSURES)
        assert suits(Filter(low="400 nm", high="480 nm", density=just, scale=7), BLUE) == []

    def test_density_must_reach_the_limits_for_an_accident_and_for_the_day(self) -> None:
        # 5 W through 7 mm: 129922 W/m^2; over 10 W/m^2 (10 s) 4.114; over the 1 W/m^2 that
        # stands for 450 nm from 100 s on 5.114.
        def reasons(density: float) -> list[str]:
            return suits(Filter(low="400 nm", high="480 nm", density=density, scale=7), BLUE)

        assert reasons(5.12) == []
        (two,) = reasons(5.1)
        assert two.endswith("it takes 5.12 for 100 s, 5.12 for 30000 s.")
        (three,) = reasons(4.1)
        assert "Density 4.1 is too low" in three
        assert "4.12 for 10 s, 5.12 for 100 s, 5.12 for 30000 s" in three
        assert "10 s," not in two

    def test_needed_density_takes_the_worst_of_what_was_drawn(self) -> None:
        one = float(filters.needed_density(BLUE, "100 s").magnitude)
        assert one == pytest.approx(math.log10(5 / (math.pi / 4 * 49e-6) / 1.0), rel=1e-9)
        drawn = Module(
            optical_power=Q([4.0, 5.0, 3.0], "W"), wavelength="455 nm",
            wavelength_tolerance=Q([1.0, 5.0, 2.0], "nm"), focal_length="30 mm",
        )  # fmt: skip
        assert float(filters.needed_density(drawn, "100 s").magnitude) == pytest.approx(one)
        assert filters.band(drawn) == (450.0, 460.0)

    def test_far_infrared_is_judged_over_its_own_aperture(self) -> None:
        tube = Module(
            optical_power="100 W", wavelength="10.6 um", wavelength_tolerance="50 nm",
            focal_length="50.8 mm", beam_diameter="6 mm",
        )  # fmt: skip
        # 100 W / 9.6211e-6 m^2 / 1000 W/m^2: a ratio of 10394, whose logarithm is 4.0168
        assert float(filters.needed_density(tube, "10 s").magnitude) == pytest.approx(4.0168, 1e-4)

    def test_a_mark_must_be_there_and_high_enough(self) -> None:
        bare = Filter(low="400 nm", high="480 nm", density=6)
        assert ["No scale number" in each for each in suits(bare, BLUE)] == [True]
        # 4 mm at 1/e^2 is 2.828 mm: 7.958e5 W/m^2 times 2.828**1.7 = 5.857, 4.66e6: LB6.
        assert filters.needed_scale(BLUE).magnitude == 6
        low = Filter(low="400 nm", high="480 nm", density=6, scale=5)
        assert suits(low, BLUE) == [
            "It takes LB6 to withstand the bare beam for 5 s; it is marked LB5."
        ]
        assert suits(Filter(low="400 nm", high="480 nm", density=6, scale=6), BLUE) == []

    def test_without_a_beam_diameter_a_millimetre_is_taken(self) -> None:
        vague = Module(
            optical_power="5 W", wavelength="455 nm", wavelength_tolerance="5 nm",
            focal_length="30 mm",
        )  # fmt: skip
        # 5 W over 1 mm: 6.37e6 W/m^2, LB6; 8 W: 1.02e7, LB7.
        assert filters.needed_scale(vague).magnitude == 6
        more = Module(optical_power="8 W", wavelength="455 nm", focal_length="30 mm")
        assert filters.needed_scale(more).magnitude == 7

    @pytest.mark.parametrize(
        ("power", "diameter", "number"),
        # 4 mm at 1/e^2 is 2.828 mm: times 4e6 / pi * 2.828**-0.3 = 9.32e5 for each watt: 9.69e6
        # at 10.4 W and 1.07e7 at 11.5 W. Of several widths the narrowest counts.
        [(10.4, 4.0, 6), (11.5, 4.0, 7), (11.5, [12.0, 4.0], 7), (11.5, 12.0, 6)],
    )
    def test_the_narrowest_width_at_1_over_e_counts(
        self, power: float, diameter: Any, number: int
    ) -> None:
        head = Module(
            optical_power=Q(power, "W"), wavelength="455 nm", focal_length="30 mm",
            beam_diameter=Q(diameter, "mm"),
        )  # fmt: skip
        assert filters.needed_scale(head).magnitude == number

    def test_both_axes_of_the_beam_count(self) -> None:
        # 10.4 W over 4 mm by 2 mm at 1/e^2: 2 mm is as wide at 1/e as both, 3.310e6 W/m^2; times
        # 2**1.7 = 3.249 1.076e7, LB7; a round one of 4 mm takes LB6
        head = Module(
            optical_power="10.4 W", wavelength="455 nm", focal_length="30 mm",
            beam_diameter="4 mm", beam_diameter_y="2 mm",
        )  # fmt: skip
        assert filters.needed_scale(head).magnitude == 7

    def test_a_laser_on_the_edge_of_two_bands_needs_the_higher_number(self) -> None:
        # 1 W over 1 mm are 1.27e6 W/m^2: LB6 up to 1400 nm, LB4 above.
        assert filters.needed_scale(EDGE).magnitude == 6

    def test_the_highest_number_that_is_marked(self) -> None:
        # 1 W over 1 mm at 300 nm: LB10 withstands 1e7 W/m^2 there.
        deep = Module(
            optical_power="1 W", wavelength="300 nm", wavelength_tolerance="1 nm",
            focal_length="30 mm",
        )  # fmt: skip
        (reason,) = suits(Filter(low="200 nm", high="400 nm", density=20, scale=9), deep)
        assert reason == ("It takes LB10 to withstand the bare beam for 5 s; it is marked LB9.")

    def test_a_beam_that_nothing_is_marked_for(self) -> None:
        furnace = Module(
            optical_power="100 kW", wavelength="300 nm", wavelength_tolerance="1 nm",
            focal_length="30 mm", beam_diameter="1 mm",
        )  # fmt: skip
        made = Filter(low="200 nm", high="400 nm", density=20, scale=10)
        (reason,) = suits(made, furnace)
        assert "the standard ends at LB10" in reason

    def test_every_laser_in_the_room_is_looked_at(self) -> None:
        tube = Module(
            optical_power="40 W", wavelength="10600 nm", wavelength_tolerance="50 nm",
            focal_length="50 mm", beam_diameter="6 mm",
        )  # fmt: skip
        both = suits(GOOD, [BLUE, tube])
        assert len(both) == 1
        assert both[0].startswith("10600 nm: Light of 10550 nm to 10650 nm leaves")
        assert suits(GOOD, (BLUE,)) == []

    @pytest.mark.parametrize(
        "laser",
        [
            None,
            "445 nm",
            {"wavelength": "445 nm"},
            ["445 nm"],
            SimpleNamespace(wavelength=Q("445 nm"), wavelength_tolerance=None),
        ],
    )
    def test_what_is_no_laser_is_refused_with_what_to_write(self, laser: Any) -> None:
        with pytest.raises(ValueRefused, match=r"laser is a Module\(optical_power=.*got"):
            suits(GOOD, laser)

    def test_what_is_no_filter_is_refused_with_what_to_write(self) -> None:
        with pytest.raises(ValueRefused, match=r"filter is a Filter\(low=.*got 'OD 4'"):
            suits("OD 4", BLUE)  # type: ignore[arg-type]

    def test_an_odd_mark_is_refused(self) -> None:
        for odd in ("RB2", "high", "LB"):
            with pytest.raises(ValueRefused, match='such as 6 or "D LB6"; got'):
                Filter(low="190 nm", high="450 nm", density=4, scale=odd)
        assert Filter(low="190 nm", high="450 nm", density=4, scale="6").scale == 6

    def test_a_room_without_a_named_laser_is_no_approval(self) -> None:
        assert suits(GOOD, []) == ["No laser is named: name every one in the room."]


class TestWindow:
    WINDOW = Filter(low="400 nm", high="480 nm", density=6, scale=7)

    def test_nothing_found(self) -> None:
        assert windows.against_window(self.WINDOW, BLUE, "1e6 W/m^2", "5 s") == []

    def test_a_mark_holds_for_five_seconds_only(self) -> None:
        (reason,) = windows.against_window(self.WINDOW, BLUE, "1e6 W/m^2")
        assert "holds for 5 s, and the light can stay for 30000 s" in reason
        (reason,) = windows.against_window(self.WINDOW, BLUE, "1e6 W/m^2", "5.1 s")
        assert "can stay for 5.1 s" in reason

    def test_a_parked_beam_burns_through(self) -> None:
        # LB7 withstands 1e8 W/m^2 at 455 nm.
        assert windows.against_window(self.WINDOW, BLUE, "1e8 W/m^2", "5 s") == []
        (reason,) = windows.against_window(self.WINDOW, BLUE, "1.1e8 W/m^2", "5 s")
        assert "may burn through" in reason
        assert "LB7 withstands" in reason
        bare = Filter(low="400 nm", high="480 nm", density=6)
        (reason,) = windows.against_window(bare, BLUE, "10 W/m^2", "5 s")
        assert "No scale number" in reason

    def test_on_the_edge_of_two_bands_the_weaker_counts(self) -> None:
        # LB4 withstands 1e5 W/m^2 up to 1400 nm and 1e7 above.
        pane = Filter(low="1300 nm", high="1500 nm", density=10, scale=4)
        (reason,) = windows.against_window(pane, EDGE, "1e6 W/m^2", "1 s")
        assert "may burn through" in reason

    def test_density_for_the_light_that_falls_on_it(self) -> None:
        # 100 W/m^2 against 1 W/m^2 for the day: 2. Of a parked beam no more than all its 5 W
        # enters an eye: 5.114.
        def reasons(density: float, light: str) -> list[str]:
            made = Filter(low="400 nm", high="480 nm", density=density, scale=7)
            return windows.against_window(made, BLUE, light)[:-1]

        assert reasons(2, "100 W/m^2") == []
        assert "2.01 for 30000 s" in reasons(1.9, "101 W/m^2")[0]
        assert reasons(5.12, "1e7 W/m^2") == []
        assert "5.12 for 30000 s" in reasons(5.11, "1e7 W/m^2")[0]

    def test_its_band(self) -> None:
        made = Filter(low="400 nm", high="455 nm", density=6, scale=7)
        (reason,) = windows.against_window(made, BLUE, "1 W/m^2", "1 s")
        assert "leaves the marked band" in reason

    def test_light_without_a_unit_is_refused(self) -> None:
        with pytest.raises(UnitError, match="irradiance needs"):
            windows.against_window(self.WINDOW, BLUE, 5.0)
        with pytest.raises(UnitError, match="stopped_after needs"):
            windows.against_window(self.WINDOW, BLUE, "5 W/m^2", "5 mm")


def test_wider_filters_never_have_more_reasons() -> None:
    widths = [
        len(
            suits(
                Filter(low=Q(455 - half, "nm"), high=Q(455 + half, "nm"), density=6, scale=7), BLUE
            )
        )
        for half in np.linspace(0, 10, 21)
    ]
    assert widths == sorted(widths, reverse=True)
