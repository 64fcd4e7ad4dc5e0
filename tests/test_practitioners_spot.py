"""Questions of builders about spots and watts: focus, depth, stripes, labels."""

from __future__ import annotations

import math

import pytest

from mathlib.laser import beams, dose, sources
from mathlib.laser.beams import Beam

ARGON = {"beam_quality": 1, "wavelength": "514.5 nm", "focal_length": "25 mm"}


def test_sixteen_millimetres_were_micrometres() -> None:
    # 4 * 514.5e-6 * 25 / (pi * 0.016) = 1.0236 mm; 8 * 625 * 514.5e-6 / (pi * 1.0236^2) = 0.7815
    wide = beams.focused_diameter.solve("beam_diameter", waist_diameter="16 um", **ARGON)
    assert wide.to("mm").magnitude == pytest.approx(1.02, rel=0.01)
    spot = beams.focused_diameter(beam_diameter=wide, **ARGON)
    length = beams.rayleigh_length(
        waist_diameter=spot, wavelength=ARGON["wavelength"], beam_quality=1
    )
    assert (2 * length).to("um").magnitude == pytest.approx(782, rel=0.06)
    # The spot as it was printed would need a beam thinner than a hair's tenth at the lens.
    printed = beams.focused_diameter.solve("beam_diameter", waist_diameter="16 mm", **ARGON)
    assert printed.to("mm").magnitude < 0.002


@pytest.mark.parametrize(("quality", "length", "face"), [(15, 1.177, 0.162), (1, 17.65, 0.10036)])
def test_a_diode_stays_narrow_over_a_millimetre_not_over_eighteen(
    quality: float, length: float, face: float
) -> None:
    # pi * 0.01 / (4 * 445e-6) = 17.65 mm for M2 = 1, a fifteenth of it for M2 = 15
    spot = Beam(wavelength="445 nm", beam_quality=quality, waist_diameter="0.1 mm")
    assert spot.rayleigh_length.to("mm").magnitude == pytest.approx(length, rel=2e-3)
    found = beams.through_sheet(spot, "3 mm", "1.5 mm")
    assert found.top.to("mm").magnitude == pytest.approx(face, rel=2e-3)
    assert found.bottom.to("mm").magnitude == pytest.approx(face, rel=2e-3)


def test_a_stripe_cuts_along_its_length_and_not_across() -> None:
    line = {"power": "5 W", "speed": "5 mm/s"}
    along = dose.peak_line_dose(diameter="0.05 mm", **line)
    across = dose.peak_line_dose(diameter="0.20 mm", **line)
    assert (along / across).to("1").magnitude == pytest.approx(4.0)


def test_a_shorter_lens_does_not_gain_by_the_inverse_square_of_the_way() -> None:
    told = {"beam_quality": 15, "wavelength": "450 nm", "beam_diameter": "4 mm"}
    spots = [beams.focused_diameter(focal_length=f, **told) for f in ("40 mm", "20 mm")]
    lengths = [
        beams.rayleigh_length(waist_diameter=d, wavelength="450 nm", beam_quality=15) for d in spots
    ]
    peaks = [beams.peak_irradiance(power="5 W", diameter=d) for d in spots]
    assert (spots[0] / spots[1]).to("1").magnitude == pytest.approx(2)
    assert (lengths[0] / lengths[1]).to("1").magnitude == pytest.approx(4)
    assert (peaks[1] / peaks[0]).to("1").magnitude == pytest.approx(4)
    # The power is that of the head wherever one looks: peak times half the 1/e2 area.
    for peak, wide in zip(peaks, spots, strict=True):
        held = (peak * wide**2).to("W").magnitude * math.pi / 8
        assert held == pytest.approx(5)


def test_forty_watts_on_the_label_are_five_and_a_half_of_light() -> None:
    # 5.5 / 16 = 34.4 %; 5.5 / (12 * 4) = 11.5 %; 40 / 5.5 = 7.27
    diode = sources.diode_efficiency(optical_power="5.5 W", current="4 A", voltage="4 V")
    module = sources.diode_efficiency(optical_power="5.5 W", current="4 A", voltage="12 V")
    assert diode.magnitude == pytest.approx(0.34, rel=0.02)
    assert module.magnitude == pytest.approx(0.115, rel=0.02)
    line = {"speed": "10 mm/s", "line_spacing": "0.1 mm"}
    believed, landed = (dose.areal_dose(power=p, **line) for p in ("40 W", "5.5 W"))
    assert (believed / landed).to("1").magnitude == pytest.approx(7.3, rel=0.02)
    light = {r.taken_as: r.value.to("W").magnitude for r in beams.power_readings("40 W")}
    low, _, high = light["electrical power of the module"]
    assert low < 5.5 < high
