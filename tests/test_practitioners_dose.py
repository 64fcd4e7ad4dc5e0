"""Questions that people ask about power, raster settings and the switching of a laser.

The numbers are theirs; the arithmetic beside each assertion is by hand, and where a usual answer
is wrong the test says which.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from mathlib import Q
from mathlib.errors import UnitError
from mathlib.laser import dose, edges, line_ends, modulation, readings, tone
from mathlib.motion import drive

# -- power and dose ------------------------------------------------------------------------------


def test_what_a_label_of_40_w_is_worth() -> None:
    # 12 V * 4 A = 48 W go in, the diode takes 16 W, 5.5 W are light: 34 % and 11.5 %.
    light, diode, label = Q("5.5 W"), Q("16 W"), Q("12 V") * Q("4 A")
    assert float(light / diode) == pytest.approx(0.344, rel=0.02)
    assert float((light / label).to("1")) == pytest.approx(0.115, rel=0.02)
    line = {"speed": "50 mm/s"}
    believed = dose.line_energy(power="40 W", **line)
    real = dose.line_energy(power=light, **line)
    assert float(believed / real) == pytest.approx(7.27, rel=0.02)


def test_speed_for_a_resist_that_needs_a_dose() -> None:
    # 100 mJ/cm2 from 25 mW. A spot that stands still: 0.9 mm across are 0.00636 cm2, so
    # 0.1 * 0.00636 / 0.025 = 25.4 ms. A fill at 0.8 mm: 25 mW / (1 mJ/mm2 * 0.8 mm) = 31.25 mm/s.
    needed, source = Q("100 mJ/cm^2"), Q("25 mW")
    standing = (needed * Q(math.pi * 0.9**2 / 4, "mm^2") / source).to("ms").magnitude
    assert standing == pytest.approx(25.4, rel=0.01)
    fill = {"areal_dose": needed, "power": source}
    for spacing, speed in (("0.8 mm", 31.25), ("0.1 mm", 250.0)):
        found = dose.areal_dose.solve("speed", line_spacing=spacing, **fill)
        assert found.to("mm/s").magnitude == pytest.approx(speed, rel=0.01)
    # Spot over dwell, 0.9 mm / 25.4 ms = 35 mm/s, would leave the fill 12 % short of its dose.
    wrong = dose.areal_dose(power=source, speed="35.4 mm/s", line_spacing="0.8 mm")
    assert wrong.to("mJ/cm^2").magnitude == pytest.approx(88, rel=0.01)
    assert "diameter" not in {word.word for word in dose.areal_dose.inputs}


def test_a_speed_in_minutes_read_as_seconds() -> None:
    # 800 mm/min are 13.3 mm/s; read as 800 mm/s a sixtieth of the energy lands.
    meant, read = (dose.line_energy(power="5 W", speed=f"800 mm/{t}") for t in ("min", "s"))
    assert float(read / meant) == pytest.approx(1 / 60, rel=1e-12)
    with pytest.raises(UnitError, match="speed needs a unit such as mm/s; got the bare number 800"):
        dose.line_energy(power="5 W", speed=800)


def test_two_controls_at_a_half_leave_a_quarter() -> None:
    assert modulation.two_dimmers(first_share=0.5, second_share=0.5).magnitude == 0.25  # not 0.5


def test_four_home_made_meters() -> None:
    found = readings.combine(readings=["0.1 mW", "0.15 mW", "0.27 mW", "0.1 mW"], unit="mW")
    assert found.median.magnitude == pytest.approx(0.125)
    assert found.span == pytest.approx(2.7)
    # Logarithms of 1, 1.5, 2.7, 1: mean 0.34967, so 0.142 mW; their deviation 0.472 is x 1.60.
    assert found.log_mean.magnitude == pytest.approx(0.1 * math.exp(0.34967), rel=1e-4)
    assert found.factor == pytest.approx(1.60, rel=0.01)
    # The tempting 0.155 +- 0.04 would leave out two of the four readings.
    low, high = 0.142 / found.factor, 0.142 * found.factor
    assert low < 0.1 < 0.15 < high


def test_dose_where_the_head_speeds_up() -> None:
    line = {"speed": "3000 mm/min", "acceleration": "300 mm/s^2"}
    found = line_ends.overdose_near_end(distance=Q([1.0, 0.25], "mm"), **line).magnitude
    # sqrt(2 * 300 * 1) = 24.5 mm/s of 50; a quarter of the way has half of that speed.
    np.testing.assert_allclose(found, [2.041, 4.082], rtol=0.02)
    ramp = drive.ramp_time(**line)
    assert (ramp * Q("50 mm/s") / 2).to("mm").magnitude == pytest.approx(4.17, rel=0.02)
    # Less power for the whole job leaves the ratio as it is: power is not among its inputs.
    assert "power" not in {word.word for word in line_ends.overdose_near_end.inputs}


def test_square_millimetres_and_square_centimetres() -> None:
    per_mm = dose.areal_dose(power="4 W", speed="100 mm/s", line_spacing="0.1 mm")
    assert per_mm.magnitude == pytest.approx(0.4)
    assert per_mm.to("J/cm^2").magnitude == pytest.approx(40)  # a hundred times, not ten


# -- raster settings -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "kind", "mm"),
    [
        (254, "dpi", 0.1000),
        (318, "dpi", 0.0799),
        (500, "lpi", 0.0508),
        (1000, "dpi", 0.0254),
        (10, "lines/mm", 0.1),
        (0.08, "mm", 0.08),
        (4, "mil", 0.1016),
    ],
)
def test_line_spacing_from_what_people_write(value: float, kind: str, mm: float) -> None:
    found = tone.line_spacing_from(value=value, kind=kind).to("mm").magnitude
    assert found == pytest.approx(mm, rel=0.005)


def test_lines_closer_than_the_spot_add_dose_not_detail() -> None:
    spacing = tone.line_spacing_from(value=1000, kind="dpi")
    found = dose.lines_over_a_point(diameter="0.15 mm", line_spacing=spacing).magnitude
    assert found == pytest.approx(5.9, rel=0.01)
    line = {"power": "4 W", "speed": "100 mm/s"}
    times = dose.areal_dose(line_spacing=spacing, **line) / dose.areal_dose(
        line_spacing="0.15 mm", **line
    )
    assert float(times) == pytest.approx(5.9, rel=0.01)


def test_lines_in_eight_inches() -> None:
    side = Q("8 in")
    for spot, lines in (("1 in", 8), ("0.004 in", 2000)):
        # Without overlap the line spacing is the spot: 8 / 0.004 = 2000.
        found = dose.lines_over_a_point(diameter=side, line_spacing=spot).magnitude
        assert found == pytest.approx(lines, rel=1e-9)
        edge = dose.line_overlap(line_spacing=spot, diameter=spot).magnitude
        assert edge == pytest.approx(0, abs=1e-12)
    each = tone.line_spacing_from(value=250, kind="lpi").to("in").magnitude
    assert each == pytest.approx(0.004, rel=1e-12)


# -- switching -----------------------------------------------------------------------------------


def test_slow_switching_draws_dashes() -> None:
    told = {"speed": "50 mm/s", "frequency": "20 Hz"}
    assert dose.period_on_work(**told).magnitude == pytest.approx(2.5)
    assert modulation.dash_length(duty=0.5, **told).magnitude == pytest.approx(1.25)
    gap = modulation.valley_along(duty=0.5, diameter="0.1 mm", **told).magnitude
    assert gap == pytest.approx(0, abs=1e-12)  # dark between them
    fast = modulation.valley_along(speed="50 mm/s", frequency="2 kHz", duty=0.5, diameter="0.1 mm")
    assert fast.magnitude > 0.99  # at 2 kHz the same setting draws a line


def test_speed_for_a_rate_of_dots() -> None:
    # 1 ms on and 1 ms off are 500 dots in a second; 0.1 mm each are 50 mm/s, not 500 / 25.4.
    rate = 1 / (Q("1 ms") + Q("1 ms"))
    found = dose.period_on_work.solve("speed", frequency=rate, period_on_work="0.1 mm")
    assert found.to("mm/s").magnitude == pytest.approx(50, rel=0.05)


def test_a_tenth_of_duty_is_no_tenth_of_power() -> None:
    told = {"frequency": "20 kHz", "full_rise_time": "20 us"}
    # A period of 50 us: 5 us of 10 % end long before 20 us of rise; 20 / 50 = 40 % is the least.
    assert edges.lowest_full_duty(**told).magnitude == pytest.approx(0.4)
    arrives = edges.delivered_duty(duty=[0.1, 0.2, 0.4, 0.5], **told).magnitude
    np.testing.assert_allclose(arrives, [0.025, 0.1, 0.4, 0.5], rtol=1e-9)
    slower = edges.delivered_duty(duty=0.1, frequency="1 kHz", full_rise_time="20 us").magnitude
    assert slower == pytest.approx(0.1, rel=1e-9)
