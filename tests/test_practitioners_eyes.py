"""What people ask about eyes and beams, with the right answers and how they come about."""

from __future__ import annotations

import math

import pytest

from mathlib import Q
from mathlib.laser.beams import Module
from mathlib.safety import distances, exposure, filters


def limit(wavelength: str, time: str) -> object:
    return exposure.limit(wavelength=wavelength, exposure_time=time).irradiance


def test_the_limit_for_a_blink() -> None:
    # 18 t^0.75 J/m^2 over t: 18 / 0.25^0.25 = 25.46 W/m^2 = 2.546 mW/cm^2
    found = limit("633 nm", "0.25 s")
    assert found.to("W/m^2").magnitude == pytest.approx(18 * 0.25**-0.25, rel=1e-9)
    assert found.to("mW/cm^2").magnitude == pytest.approx(2.546, rel=1e-3)


def test_a_watt_with_a_milliradian() -> None:
    # sqrt(4 / (pi * 25.4558)) / 0.001 = 223.65 m; a half angle taken for the full one doubles it
    told = {"power": "1 W", "beam_diameter": "0 mm", "limit": limit("633 nm", "0.25 s")}
    found = distances.direct(**told, divergence="1 mrad", convention="1/e").to("m").magnitude
    assert found == pytest.approx(223.65, rel=1e-4)
    longer = distances.direct(**told, divergence="1 mrad", convention="1/e^2").to("m").magnitude
    assert longer == pytest.approx(math.sqrt(2) * found, rel=1e-9)
    halved = distances.direct(**told, divergence="0.5 mrad", convention="1/e").to("m").magnitude
    assert halved == pytest.approx(2 * found, rel=1e-9)


def test_a_head_that_focuses() -> None:
    # f / b = 5; sqrt(20 / (pi M)): 0.5001 at 25.4558 W/m^2, 2.523 at 1 W/m^2
    head = {"power": "5 W", "focal_length": "20 mm", "beam_diameter": "4 mm"}
    blink, stare = limit("445 nm", "0.25 s"), limit("445 nm", "100 s")
    for convention, wanted in (("1/e", (2.50, 12.6)), ("1/e^2", (3.54, 17.8))):
        found = [
            distances.after_lens(**head, limit=each, convention=convention).to("m").magnitude
            for each in (blink, stare)
        ]
        assert found == pytest.approx(wanted, rel=0.005)
    off = distances.direct(power="5 W", divergence="2 mrad", beam_diameter="4 mm", limit=blink)
    assert off.to("m").magnitude > 200


def test_near_infrared_gets_no_blink() -> None:
    # 10 C4 with C4 = 10^(0.002 * 108) = 1.644; 40 W through 7 mm over 16.4 W/m^2: 4.80
    bar = Module(
        optical_power="40 W", wavelength="808 nm", wavelength_tolerance="0 nm", focal_length="9 mm"
    )
    needed = filters.needed_density(bar, "10 s").magnitude
    assert needed == pytest.approx(4.80, abs=0.005)
    told = {"low": "780 nm", "high": "840 nm", "scale": 10}
    assert any("4.8" in r for r in filters.suits(filters.Filter(density=4.5, **told), bar))
    assert filters.suits(filters.Filter(density=5, **told), bar) == []


def test_light_from_white_paper() -> None:
    paper = {"power": "5 W", "reflectance": 0.9, "angle": "0 deg"}
    blink = distances.diffuse(**paper, limit=limit("445 nm", "0.25 s")).to("cm").magnitude
    stare = distances.diffuse(**paper, limit=limit("445 nm", "100 s")).to("cm").magnitude
    assert (blink, stare) == (pytest.approx(23.7, rel=0.005), pytest.approx(119.7, rel=0.005))
    arrives = distances.scattered(**paper, distance="0.5 m").to("W/m^2").magnitude
    assert arrives == pytest.approx(0.9 * 5 / (math.pi * 0.25), rel=1e-9)


def test_power_through_a_pupil_at_the_limit() -> None:
    # pi/4 d^2, not pi/4 d: 38.48 mm^2 of 25.46 W/m^2 are 0.98 mW, the limit of Class 2
    blink = limit("633 nm", "0.25 s")
    pupil = distances.mean_irradiance.solve("power", irradiance=blink, aperture="7 mm")
    assert pupil.to("mW").magnitude == pytest.approx(0.98, rel=0.002)
    whole = (blink * Q("1 cm^2")).to("mW").magnitude
    assert whole == pytest.approx(2.546, rel=0.002)


def test_blue_is_not_blue() -> None:
    module = Module(
        optical_power="5 W", wavelength="455 nm", wavelength_tolerance="5 nm", focal_length="20 mm"
    )
    glasses = filters.Filter(low="190 nm", high="450 nm", density=4)
    band, density, mark = filters.suits(glasses, module)
    assert "450 nm to 460 nm leaves the marked band" in band
    needed = [
        float(filters.needed_density(module, t).magnitude) for t in ("0.25 s", "10 s", "100 s")
    ]
    assert needed == pytest.approx([3.71, 4.11, 5.11], abs=0.01)
    assert "4.12 for 10 s" in density
    assert "No scale number" in mark
    assert filters.verdict([band, density, mark]).startswith("Not this one")
