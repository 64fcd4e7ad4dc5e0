"""Factors of the tables by name, and what nothing independent confirms."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import second_typing
from test_exposure import ANGLES, EDITIONS, TIMES

from mathlib import Q, tables
from mathlib.errors import ValueRefused
from mathlib.safety import corrections, exposure
from mathlib.safety.exposure import Pulse, limit


def test_the_directive_s_names_stand_for_the_same_factors() -> None:
    # CA = 5 and CB = 10**(0.02 * 5) as printed; CC is 8 above 1200 nm in the directive alone
    assert exposure.factor("CA", "1064 nm").magnitude == 5
    assert exposure.factor("CB", "455 nm").magnitude == pytest.approx(10**0.1, rel=1e-12)
    assert exposure.factor("CC", "1310 nm", edition="2006/25/EC").magnitude == 8
    assert exposure.factor("CC", "1175 nm").magnitude == pytest.approx(10**0.45, rel=1e-12)


def test_factors_agree_with_the_second_typing() -> None:
    for edition in ("IEC 2014", "2006/25/EC"):
        nm = np.array([700.0, 850, 1049, 1050, 1149, 1150, 1175, 1200, 1310, 1399])
        c7 = exposure.factor("C7", Q(nm, "nm"), edition=edition).magnitude
        assert c7 == pytest.approx([second_typing.c7(w, edition) for w in nm], rel=1e-11)
        c4 = exposure.factor("C4", Q(nm, "nm")).magnitude
        assert c4 == pytest.approx([second_typing.c4(w) for w in nm], rel=1e-11)
        for mrad in ANGLES:
            for s in TIMES:
                c6 = exposure.source_factor(Q(mrad, "mrad"), Q(s, "s"), edition=edition).magnitude
                assert c6 == pytest.approx(second_typing.c6(mrad, s, edition), rel=1e-12)
            t2 = exposure.thermal_time(Q(mrad, "mrad")).magnitude
            assert t2 == pytest.approx(second_typing.t2(mrad), rel=1e-12)
    nm = np.array([400.0, 449, 450, 455, 500, 599])
    c3 = exposure.factor("C3", Q(nm, "nm")).magnitude
    assert c3 == pytest.approx([second_typing.c3(w) for w in nm], rel=1e-11)
    assert exposure.factor("C2", "302 nm").magnitude == 30
    assert exposure.factor("C2", "308 nm").magnitude == pytest.approx(10**2.6, rel=1e-11)


def test_the_field_of_view_grows_from_100_s_to_10_000_s() -> None:
    # 11 mrad; 1.1 mrad × sqrt(2500) = 55; 110 mrad
    field = exposure.photochemical_field(Q([1, 100, 2500, 1e4, 3e4], "s")).magnitude
    assert field == pytest.approx([11, 11, 55, 110, 110], rel=1e-12)


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: exposure.factor("C9", "500 nm"), "name is one of C2, C3, C4, C7"),
        (lambda: exposure.factor("C3", ["500 nm", "700 nm"]), "from 400 nm to below 600 nm"),
        (lambda: exposure.factor("C4", "500 nm", edition="1999"), "edition is one of"),
        (lambda: exposure.source_factor("-1 mrad", "1 s"), "source_angle must be"),
        (lambda: exposure.pulse_factor("1 us", [0.5, 9], "532 nm"), "pulse_count is 1 or more"),
    ],
)
def test_factors_refuse(call: Any, told: str) -> None:
    with pytest.raises(ValueRefused, match=told):
        call()


def test_the_ultraviolet_curves_meet_at_t1() -> None:
    # T1 = 10**(0.8 (wavelength - 295)) × 1e-15 s is where C1 is C2, to 0.4 %
    for nm in (303.0, 308.0, 314.0):
        t1 = 10 ** (0.8 * (nm - 295)) * 1e-15
        c2 = exposure.factor("C2", Q(nm, "nm")).magnitude
        assert 5600 * t1**0.25 == pytest.approx(c2, rel=5e-3)
    assert EDITIONS[:3] == corrections.EDITIONS


# -- what nothing independent confirms ---------------------------------------------------------


def test_all_numbers_without_an_independent_check_are_listed() -> None:
    """As many as the tables mark so, counted here line by line."""
    marked = sum(
        line.endswith(",second typing only")
        for name in ("limits", "factors", "rules")
        for line in (tables.DATA / f"exposure_{name}.csv").read_text(encoding="utf-8").splitlines()
    )
    listed = exposure.without_independent_check()
    assert len(set(listed)) == len(listed) == marked > 30


def test_numbers_without_an_independent_check_are_named() -> None:
    assert limit("532 nm", "1 s").unchecked == ()
    assert not any("one memory" in note for note in limit("532 nm", "1 s").notes)
    short = limit("808 nm", "1 ps")
    assert short.unchecked == ("eye 700 to 1050 nm, 1e-13 to 1e-11 s, retinal thermal",)
    assert any("one memory" in n and "1e-13 to 1e-11 s" in n for n in short.notes)
    # 455 nm for 100 s rests on C3, 445 nm does not use its rising part
    assert limit("455 nm", "100 s").unchecked == ("C3 at 450 to 600 nm",)
    assert limit("445 nm", "100 s").unchecked == ()
    far = limit("1300 nm", "1 ms", edition="IEC 2014").unchecked
    assert far == ("C7 at 1200 to 1400 nm",)
    assert limit("1300 nm", "1 ms", edition="2006/25/EC").unchecked == ()


def test_rules_of_wide_sources_and_of_pulses_are_named_where_they_decide() -> None:
    wide = {"wavelength": "650 nm", "exposure_time": "100 s"}
    named = limit(**wide, source_angle="50 mrad").unchecked
    assert {name.partition(",")[0] for name in named} == {
        "eye 400 to 1400 nm", "smallest source angle", "largest source angle", "T2",
    }  # fmt: skip
    assert limit(**wide, source_angle="1.5 mrad").unchecked == ()
    brief = {"wavelength": "650 nm", "exposure_time": "1 s"}
    assert limit(**brief, source_angle="1.5 mrad").unchecked == ()
    assert "smallest source angle" in limit(**brief, source_angle=["0 mrad", "9 mrad"]).unchecked
    assert limit(**wide).unchecked == ()
    few = Pulse(duration="100 ns", rate="100 Hz")
    repeated = limit("1064 nm", "10 s", pulse=few).unchecked
    assert "pulses as one, 1050 to 1400 nm" in repeated
    assert not any("directive" in name or "400 to 1050" in name for name in repeated)
    assert any(name.startswith("C5") for name in repeated)
    mean = limit("1064 nm", "10 s", pulse=Pulse(duration="100 ns", rate="30 kHz"))
    assert mean.unchecked == ()
    both = limit(Q([445.0, 455.0], "nm"), Q([[1.0], [100.0]], "s"))
    assert both.unchecked == ("C3 at 450 to 600 nm",)
