"""Classes of continuous beams, apertures, times, and the sentences beside them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import second_typing
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused
from mathlib.safety import apertures, classes, wording
from mathlib.safety.exposure import (
    allowed_time,
    class_of_head,
    density_for_class_1,
    emission_limit,
    limit,
    limiting_aperture,
)

# -- emission limits ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "wave", "time", "watts"),
    [
        ("1", "250 nm", None, 2.4e-5 / 3e4),  # a dose over the working day
        ("1", "250 nm", "100 s", 2.4e-7),
        ("1", "308 nm", None, 7.9e-7 * 10**2.6 / 3e4),
        ("1", "351 nm", None, 7.9e-6),
        ("1", "351 nm", "100 s", 7.9e-5),
        ("1", "400 nm", None, 3.9e-5),
        ("1", "445 nm", None, 3.9e-5),
        ("Class 1", "445 nm", "20 s", 3.9e-3 / 20),
        ("1M", "445 nm", None, 3.9e-5),
        ("1", "455 nm", None, 3.9e-5 * 10**0.1),
        ("1", "499.9 nm", None, 3.9e-5 * 10 ** (0.02 * 49.9)),
        ("1", "500 nm", None, 3.9e-4),
        ("1", "445 nm", "10 s", 3.9e-4),  # 3.9e-3 J in 10 s meets the thermal limit
        ("1", "650 nm", None, 3.9e-4),
        ("1", "808 nm", None, 3.9e-4 * 10**0.216),
        ("1", "1064 nm", None, 1.95e-3),
        ("1", "1175 nm", None, 1.95e-3 * 10**0.45),
        ("1", "1300 nm", None, 1.95e-3 * (8 + 100)),
        ("1", "1390 nm", None, 0.5),  # capped by Class 3B
        ("1", "1550 nm", None, 1e-2),
        ("1", "3999 nm", None, 1e-2),
        ("1", "10.6 um", None, 1000 * np.pi * 0.00175**2),
        ("1", "0.5 mm", None, 1000 * np.pi * 0.0055**2),
        ("2", "532 nm", None, 1e-3),
        ("2M", "445 nm", "0.25 s", 1e-3),
        ("3R", "532 nm", None, 5e-3),
        ("3R", "699 nm", "0.25 s", 5e-3),
        ("3R", "808 nm", None, 2e-3 * 10**0.216),
        ("3R", "1390 nm", None, 0.5),
        ("3R", "1550 nm", None, 5e-2),
        ("3R", "10.6 um", None, 5000 * np.pi * 0.00175**2),
        ("3R", "250 nm", None, 1.2e-4 / 3e4),
        ("3R", "308 nm", None, 5 * 7.9e-7 * 10**2.6 / 3e4),
        ("3R", "351 nm", None, 3.95e-5),
        ("3R", "351 nm", "100 s", 3.95e-4),
        ("3B", "250 nm", None, 1.5e-3),
        ("3B", "308 nm", None, 5e-5 * 10**2.6),
        ("3B", "351 nm", None, 0.5),
        ("3B", "445 nm", "0.25 s", 0.5),
        ("3B", "1 mm", "30000 s", 0.5),
    ],
)
def test_emission_limits_by_hand(name: str, wave: str, time: Any, watts: float) -> None:
    found = emission_limit(name, wave, time).to("W").magnitude
    assert found == pytest.approx(watts, rel=1e-11)


def test_above_400_nm_no_limit_changes_after_100_s() -> None:
    """So that a time base of 100 s and one of the whole day are the same there."""
    wave = Q(np.array([400.1, 405, 445, 499, 500, 650, 808, 1064, 1250, 1550, 5e3, 10600]), "nm")
    for name in ("1", "3R", "3B"):
        hundred, left_out = (emission_limit(name, wave, t).magnitude for t in ("100 s", None))
        np.testing.assert_array_equal(hundred, left_out)
        day = emission_limit(name, "351 nm", "30000 s").magnitude
        assert emission_limit(name, "351 nm").magnitude == day
    blink = emission_limit("2", "445 nm", "0.25 s").magnitude
    assert emission_limit("2", "445 nm").magnitude == blink


def test_a_wavelength_without_a_limit_among_others_is_refused() -> None:
    with pytest.raises(ValueRefused, match=r"Class 2 has no limit .* at 808 nm"):
        emission_limit("2", ["532 nm", "808 nm"])


def test_a_head_is_classed_by_the_newer_edition() -> None:
    # 1300 nm: 1.95e-3 × (8 + 100) = 0.21 W; the older one has 0.0156 W
    assert class_of_head("50 mW", "1300 nm").name == "1"


def test_the_older_edition_holds_c7_at_8() -> None:
    # 3.9e-4 × 5 × 8
    older = emission_limit("1", "1310 nm", edition="IEC 2007").magnitude
    assert older == pytest.approx(0.0156, rel=1e-12)
    both = [emission_limit("1", "1150 nm", edition=e).magnitude for e in classes.EDITIONS]
    assert both[0] == both[1]


@pytest.mark.parametrize("nm", [250, 308, 351, 405, 445, 520, 650, 808, 1064, 1175, 1550, 10600])
def test_class_1_is_the_limit_of_exposure_through_the_aperture(nm: float) -> None:
    time = "30000 s" if nm < 400 else "100 s"
    meant = limit(Q(nm, "nm"), time, edition="IEC 2014").irradiance
    across = limiting_aperture(Q(nm, "nm"), time)
    through = (meant * np.pi * across**2 / 4).to("W").magnitude
    # the standard prints two digits, and 10 mW for 9.6 mW
    assert emission_limit("1", Q(nm, "nm")).magnitude == pytest.approx(through, rel=0.04)


@given(nm=st.floats(180, 1e6), time=st.floats(1, 4.47))
def test_classes_are_ordered_and_a_longer_time_base_is_never_laxer(nm: float, time: float) -> None:
    wave = Q(nm, "nm")
    one, other = (emission_limit("1", wave, Q(t, "s")).magnitude for t in (10**time, 3e4))
    assert other <= one * (1 + 1e-12)
    higher = [emission_limit(n, wave, Q(10**time, "s")).magnitude for n in ("1", "3R", "3B")]
    assert higher == sorted(higher)


@pytest.mark.parametrize(
    ("call", "error", "told"),
    [
        (lambda: emission_limit("4", "445 nm"), ValueRefused, "laser_class is one of 1, 1M, 2"),
        (lambda: emission_limit("2", "808 nm"), ValueRefused, "Class 2 has no limit .* at 808 nm"),
        (lambda: emission_limit("1", "808 nm", "1 s"), ValueRefused, "judged over 10 s or longer"),
        (lambda: emission_limit("1", "808 nm", "0.1 s"), ValueRefused, "time_base lies from 0.25"),
        (lambda: emission_limit("1", "170 nm"), ValueRefused, "wavelength lies from 180 nm"),
        (lambda: emission_limit("1", "445 nm", edition="x"), ValueRefused, "edition is 'IEC 2014'"),
        (lambda: emission_limit("1", 445), UnitError, "wavelength needs a unit"),
        (lambda: class_of_head("-1 W", "445 nm"), ValueRefused, "power must be positive"),
        (lambda: class_of_head("1 W", "445 nm", "5 s"), ValueRefused, "time_base lies from 10 s"),
        (
            lambda: emission_limit("9", "9 m", "9 m", "9"),
            ValueRefused,
            "laser_class(.|\n)*edition(.|\n)*wavelength(.|\n)*time_base",
        ),
        (
            lambda: limiting_aperture("9 m", "9 d", "hair"),
            ValueRefused,
            "wavelength(.|\n)*exposure_time(.|\n)*target",
        ),
        (
            lambda: allowed_time("-1 W/m^2", "9 m", "hair", "9 rad", "9"),
            ValueRefused,
            "edition(.|\n)*target(.|\n)*irradiance(.|\n)*wavelength(.|\n)*source_angle",
        ),
    ],
)
def test_refusals(call: Any, error: Any, told: str) -> None:
    with pytest.raises(error, match=told):
        call()


# -- the class of a bare head ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("watts", "wave", "name"),
    [
        (0.03e-3, "445 nm", "1"),
        (0.05e-3, "445 nm", "2"),  # above 39 µW: blue light adds up over 100 s
        (1e-3, "532 nm", "2"),
        (1.01e-3, "532 nm", "3R"),
        (5e-3, "650 nm", "3R"),
        (5.1e-3, "650 nm", "3B"),
        (0.5, "445 nm", "3B"),
        (0.51, "445 nm", "4"),
        (1.9e-3, "1064 nm", "1"),
        (3e-3, "1064 nm", "3R"),  # no Class 2 where light is not seen
        (11e-3, "1064 nm", "3B"),
        (9.7e-3, "10.6 um", "3R"),
        (1e-3, "250 nm", "3B"),
        (2e-3, "250 nm", "4"),
        (5.5, "450 nm", "4"),
        (20, "1064 nm", "4"),
        (40, "10.6 um", "4"),
    ],
)
def test_class_of_a_bare_head(watts: float, wave: str, name: str) -> None:
    found = class_of_head(Q(watts, "W"), wave)
    assert found.name == name
    assert found.emission_limit.magnitude == emission_limit("1", wave).magnitude
    assert wording.CLASSING in found.notes
    assert wording.PREVAIL in found.notes
    assert "IEC 60825-1:2014" in found.decided_by


def test_heads_broadcast_and_tell_their_confidence() -> None:
    found = class_of_head(Q([1e-4, 1e-2, 1], "W"), Q(np.array([250.0, 532.0])[:, None], "nm"))
    assert found.name.tolist() == [["3B", "4", "4"], ["1", "3B", "4"]]
    assert found.confidence.tolist() == [["low", "low", "low"], ["high"] * 3]
    assert np.isinf(found.limits["2"].magnitude[0])
    assert class_of_head("1 W", "445 nm").confidence == "high"


def test_a_time_base_applies_where_nobody_turns_away() -> None:
    # 0.2 mW at 445 nm: over 20 s Class 1 is 3.9e-3 / 20 = 0.195 mW, over 10 s 0.39 mW
    assert class_of_head("0.2 mW", "445 nm", "20 s").name == "2"
    assert class_of_head("0.2 mW", "445 nm", "10 s").name == "1"
    assert class_of_head("0.9 mW", "532 nm", "1000 s").name == "2"


@pytest.mark.parametrize(
    ("watts", "wave", "density"),
    [
        (10, "445 nm", 5.40894),
        (20, "1064 nm", 4.01100),
        (100, "10.6 um", 4.01677),
        (1e-5, "445 nm", 0),
    ],
)
def test_density_that_an_enclosure_needs(watts: float, wave: str, density: float) -> None:
    found = density_for_class_1(Q(watts, "W"), wave).magnitude
    assert found == pytest.approx(density, rel=1e-5, abs=0)


# -- apertures ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wave", "time", "target", "mm"),
    [
        ("180 nm", "1 s", "eye", 1),
        ("399 nm", "100 s", "eye", 1),
        ("400 nm", "1e-9 s", "eye", 7),
        ("1399 nm", "100 s", "eye", 7),
        ("1400 nm", "0.35 s", "eye", 1),
        ("1400 nm", "0.36 s", "eye", 1.5 * 0.36**0.375),
        ("10.6 um", "3 s", "eye", 1.5 * 3**0.375),
        ("10.6 um", "9.99 s", "eye", 1.5 * 9.99**0.375),
        ("10.6 um", "10 s", "eye", 3.5),
        ("99 um", "100 s", "eye", 3.5),
        ("100 um", "1e-6 s", "eye", 11),
        ("1 mm", "100 s", "eye", 11),
        ("445 nm", "1 s", "skin", 3.5),
        ("10.6 um", "1e-6 s", "skin", 3.5),
        ("0.1 mm", "100 s", "skin", 11),
    ],
)
def test_limiting_aperture(wave: str, time: str, target: str, mm: float) -> None:
    assert limiting_aperture(wave, time, target).magnitude == pytest.approx(mm, rel=1e-12)


def test_apertures_broadcast() -> None:
    found = limiting_aperture(Q(np.array([445.0, 10600.0])[:, None], "nm"), Q([1, 10, 20], "s"))
    assert found.magnitude.tolist() == [[7, 7, 7], [1.5, 3.5, 3.5]]
    skin = limiting_aperture("445 nm", Q([1, 10], "s"), "skin")
    assert skin.magnitude.tolist() == [3.5, 3.5]


def test_a_beam_of_the_aperture_s_size_sends_63_percent_through() -> None:
    part = apertures.fraction_through(aperture="7 mm", diameter_63="7 mm").magnitude
    assert part == pytest.approx(1 - 1 / np.e, rel=1e-12)


# -- times -------------------------------------------------------------------------------------


@given(
    log_e=st.floats(-3, 14),
    nm=st.sampled_from([250.0, 308.0, 351.0, 445.0, 455.0, 532.0, 808.0, 1064.0, 1250.0, 10600.0]),
    mrad=st.sampled_from([None, 0.0, 4.0, 30.0, 150.0]),
    edition=st.sampled_from(["IEC 2014", "ICNIRP 2013", "2006/25/EC", "lowest"]),
)
def test_the_allowed_time_is_within_every_limit_before_it_and_beyond_one_after(
    log_e: float, nm: float, mrad: float | None, edition: str
) -> None:
    e, wide = 10**log_e, None if mrad is None else Q(mrad, "mrad")
    found = allowed_time(Q(e, "W/m^2"), Q(nm, "nm"), source_angle=wide, edition=edition).magnitude
    before = [t for t in np.geomspace(1e-13, 3e4, 400) if t < found * (1 - 1e-9)]
    for t in before:
        assert second_typing.lowest("eye", nm, t, mrad or 0.0, edition) >= e * (1 - 1e-9)
    if found < 3e4:
        at = max(found * (1 + 1e-9), 1e-13)
        beyond = min(
            second_typing.lowest("eye", nm, t, mrad or 0.0, edition) for t in (at, at * 1.0001)
        )
        assert beyond <= e * (1 + 1e-6)


def test_an_irradiance_at_the_very_limit_is_allowed() -> None:
    assert allowed_time("1 W/m^2", "445 nm").magnitude == 3e4
    assert allowed_time("10 W/m^2", "532 nm").magnitude == 3e4


def test_an_exposure_ends_at_the_first_limit_that_it_passes() -> None:
    # 1e-3 J/m² up to 1e-11 s, from where 2e-3 J/m² would allow it again
    strong = allowed_time(["1.5e8 W/m^2", "1 W/m^2"], "532 nm").to("s").magnitude
    assert strong == pytest.approx([1e-3 / 1.5e8, 3e4], rel=1e-9)
    # of a wide source 5 mrad count below 625 µs, and more after: 18 t^0.75 × 5 / 1.5 J/m²
    wide = allowed_time("500 W/m^2", "532 nm", source_angle="82 mrad")
    assert wide.magnitude == pytest.approx((18 * 5 / 1.5 / 500) ** 4, rel=1e-9)


def test_allowed_times_by_hand() -> None:
    # (18 / 10.6)**4 = 8.32 s; 125.9 J/m² / 6.366 W/m² = 19.8 s; 1.2 W/m² for the whole day
    assert allowed_time("10.6 W/m^2", "633 nm").magnitude == pytest.approx(8.315, rel=1e-3)
    e = Q([6.366, 1.2, 1.26, 1e20], "W/m^2")
    assert allowed_time(e, "455 nm").magnitude == pytest.approx(
        [19.777, 3e4, 100 * 10**0.1 / 1.26, 0.0], rel=1e-4
    )
    assert allowed_time("999 W/m^2", "532 nm", target="skin").magnitude == 3e4


# -- wording -----------------------------------------------------------------------------------


def test_the_sentences_say_who_decides_and_who_becomes_the_maker() -> None:
    said = {name: text for name, text in vars(wording).items() if name.isupper()}
    assert len(said) >= 8
    for text in said.values():
        assert "safe" not in text.replace("safety officer", "").lower()
        assert text.endswith((".", ":"))
    assert "Local codes" in wording.PREVAIL
    assert "laser safety officer" in wording.PREVAIL
    assert "qualified person" in wording.PREVAIL
    assert "licensed copy" in wording.TABLE_TO_CHECK
    assert "qualified person" in wording.CLASSING
    for word in ("sells", "lends", "manufacturer", "labels", "Ask a qualified person"):
        assert word in wording.MANUFACTURER


def test_nothing_here_calls_a_thing_safe() -> None:
    from pathlib import Path

    from mathlib import tables

    for path in [*Path(wording.__file__).parent.glob("*.py"), *tables.DATA.glob("e*_l*.csv")]:
        text = path.read_text(encoding="utf-8").lower()
        for allowed in ("mathlib.safety", "laser safety officer"):
            text = text.replace(allowed, "")
        assert "safe" not in text, path.name
