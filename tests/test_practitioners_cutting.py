"""Questions that people ask about cutting: does it go through, and why not.

The numbers are theirs; the arithmetic beside each assertion is by hand, and where a usual answer
is wrong the test says which.
"""

from __future__ import annotations

import pytest

from mathlib import Q
from mathlib.laser import cutting
from mathlib.laser.beams import Beam
from mathlib.measure import coupons

DIODE = Beam(wavelength="450 nm", beam_quality=15, waist_diameter="0.08 mm")


@pytest.mark.parametrize(("passes", "energy"), [(2, 2.0), (3, 3.0)])
def test_energy_of_a_cut_that_succeeded(passes: int, energy: float) -> None:
    # 5 W, 100 mm/min = 1.6667 mm/s, 3 mm: 5 n / (1.6667 * 3) = n J/mm2.
    told = {"power": "5 W", "speed": "100 mm/min", "thickness": "3 mm"}
    found = cutting.severance_energy(passes=passes, **told)
    assert found.to("J/mm^2").magnitude == pytest.approx(energy, rel=0.01)


def test_a_setting_that_fails_gets_a_third_of_the_energy() -> None:
    # 7 / 85 over 15 / 60: 0.08235 / 0.25 = 33 %; stepping the height alone changes nothing of it.
    told = {"power": "1.6 W", "thickness": "2 mm"}
    fails = cutting.severance_energy(passes=7, speed="85 mm/min", **told)
    cuts = cutting.severance_energy(passes=15, speed="60 mm/min", **told)
    assert float(fails / cuts) == pytest.approx(0.33, rel=0.02)
    assert cuts.to("J/mm^2").magnitude == pytest.approx(12, rel=0.01)


def test_path_of_a_job_of_33_hours() -> None:
    found = cutting.cut_path(job_time="33 h", speed="60 mm/min", passes=15)
    assert found.to("m").magnitude == pytest.approx(7.92, rel=0.03)  # 118800 s * 1 mm/s / 15


def test_more_energy_and_less_depth_is_not_cured_by_speed() -> None:
    mine = cutting.beam_time(passes=30, speed="10 mm/s")
    hers = cutting.beam_time(passes=4, speed="350 mm/min")
    assert mine.to("s/mm").magnitude == pytest.approx(3.0, rel=0.02)
    assert hers.to("s/mm").magnitude == pytest.approx(0.686, rel=0.02)
    assert float(mine / hers) == pytest.approx(4.4, rel=0.02)  # and half the depth: lens, smoke


def test_energy_for_each_length_alone_does_not_decide() -> None:
    # 80 % at 20 mm/s fails with 4.00 %s/mm, 55 % at 15 mm/s cuts with 3.67.
    full, sheet = Q("10 W"), {"thickness": "10 mm"}
    fails = cutting.severance_energy(power=0.80 * full, speed="20 mm/s", **sheet)
    cuts = cutting.severance_energy(power=0.55 * full, speed="15 mm/s", **sheet)
    assert float(fails / cuts) == pytest.approx(4.00 / 3.67, rel=0.01)
    assert fails > cuts
    # The library's own balance is no function of P/v either: at low speed more is led away.
    slow = cutting.cut_speed("basswood", "1 mm", "2 W", DIODE).typical
    fast = cutting.cut_speed("basswood", "1 mm", "20 W", DIODE).typical
    assert fast > 10 * slow * 1.1


def test_an_extrapolation_comes_as_a_range_and_not_as_one_number_of_passes() -> None:
    # 4 J/mm2 * 6.35 mm * 3.333 mm/s / 2.3 W = 36.8 passes.
    nominal = cutting.severance_energy.solve(
        "passes",
        severance_energy="4 J/mm^2",
        thickness="0.25 in",
        speed="200 mm/min",
        power="2.3 W",
    )
    assert float(nominal.magnitude) == pytest.approx(36.8, rel=0.01)
    asked = ("birch plywood", "0.25 in", "200 mm/min", DIODE)
    needed = cutting.power_needed(*asked, passes=37)
    assert needed.high > 2 * needed.low  # no firm number
    assert DIODE.rayleigh_length < Q("6.35 mm")  # the sheet is far thicker than the focus is deep
    sure = cutting.can_cut("birch plywood", "0.25 in", "2.3 W", DIODE, "200 mm/min", passes=37)
    assert 0.02 <= sure <= 0.98


def test_two_passes_and_sometimes_three_is_a_boundary_that_coupons_can_read() -> None:
    # Four of six lines severed at 100 mm/min in two passes, which is 5 * 2 / (1.6667 * 3) = 2
    # J/mm2: two passes are no setting to rely on, and neither are they hopeless.
    told = {"power": "5 W", "thickness": "3 mm", "beam": DIODE, "passes": 2, "speed": "100 mm/min"}
    lines = [told | {"severed": n < 4} for n in range(6)]
    found = coupons.update("birch plywood", lines)
    sheet = ("3 mm", "5 W", DIODE)
    two = cutting.can_cut(found, *sheet, "100 mm/min", passes=2)
    assert 0.4 < two < 0.8
    assert cutting.can_cut(found, *sheet, "100 mm/min", passes=3) > two + 0.15
    # Half the speed in two passes gives as much energy as four passes: also that severs.
    assert cutting.can_cut(found, *sheet, "50 mm/min", passes=2) > 0.9
    before = cutting.cut_speed("birch plywood", *sheet, passes=2)
    after = cutting.cut_speed(found, *sheet, passes=2)
    assert float(after.high / after.low) < 0.6 * float(before.high / before.low)
