"""Directive 2006/25/EC against the newer editions: where they agree, and by how much they differ.

The differences are stated here as guides to the editions list them, apart from both typings of the
table. Rows of the directive that only this list and the typings know stay marked in the tables as
without an independent check; the last test says which.
"""

from __future__ import annotations

import numpy as np
import pytest

from mathlib import Q
from mathlib.safety import cells, exposure

LAW = "2006/25/EC"
WAVES = np.array(
    [200, 302, 310, 350, 399, 400, 445, 550, 699, 700, 808, 1049, 1050, 1064, 1149, 1175, 1199,
     1200, 1250, 1310, 1399, 1400, 1450, 1550, 2000, 10600, 5e5]
)  # fmt: skip
TIMES = np.array(
    [2e-13, 9e-12, 2e-11, 9e-10, 2e-9, 4e-6, 6e-6, 12e-6, 14e-6, 17e-6, 19e-6, 49e-6, 51e-6, 1e-3,
     0.25, 1, 9, 10, 50, 100, 999, 1001, 3e4]
)  # fmt: skip


def ratio(target: str = "eye", mrad: float = 0.0, newer: str = "IEC 2014") -> np.ndarray:
    """Limit of the directive over that of a newer edition, by wavelength and time."""
    law, new = (
        exposure.limit(
            Q(WAVES[:, None], "nm"), Q(TIMES, "s"), target=target, source_angle=Q(mrad, "mrad"),
            edition=edition,
        ).irradiance.magnitude
        for edition in (LAW, newer)
    )  # fmt: skip
    return law / new


def difference(nm: float, s: float) -> float:
    """Ratio for a small source, of the retina's limits; the newer one's numbers stand below."""
    if not 400 <= nm < 1400:
        # above 1000 s at 315 to 400 nm: 1e4 J/m² against 10 W/m²
        return 1e3 / s if 315 <= nm < 400 and s > 1000 else 1.0
    near = nm < 1050
    c4 = 10 ** (0.002 * (nm - 700)) if 700 <= nm < 1050 else 1.0
    # C7: 8 against 8 + 10^(0.04 (nm - 1250))
    c7 = 8 / (8 + 10 ** (0.04 * (nm - 1250))) if nm >= 1200 else 1.0
    if s < 1e-11:
        return 0.15 * c4 if near else 1.5 * c7  # 1.5e-4 C4, 1.5e-3 C7 against 1e-3, 1e-3 C7
    if s < 1e-9:
        return 2.7e4 * s**0.75 / 2e-3 if near else 2.7e5 * s**0.75 / 2e-2 * c7
    if s < (5e-6 if near else 13e-6):
        return 2.5 * c7  # 5e-3, 5e-2 against 2e-3, 2e-2
    if near:
        return 5e-3 / (18 * s**0.75) if s < 18e-6 else 1.0
    return c7 * (5e-2 / (90 * s**0.75) if s < 50e-6 else 1.0)


def test_the_differences_for_a_small_source_are_these_and_no_others() -> None:
    wanted = np.array([[difference(nm, s) for s in TIMES] for nm in WAVES])
    np.testing.assert_allclose(ratio(), wanted, rtol=1e-9)
    assert 0.3 < np.mean(wanted == 1.0) < 0.95  # both kinds are looked at


def test_with_the_other_edition_they_are_those_and_the_second_limit_of_the_cornea() -> None:
    wanted = np.array([[difference(nm, s) for s in TIMES] for nm in WAVES])
    wanted[np.ix_((WAVES >= 315) & (WAVES < 400), TIMES > 1000)] = 1.0  # both have the dose
    here = (WAVES < 1200) | (WAVES >= 1400)
    np.testing.assert_allclose(ratio(newer="ICNIRP 2013")[here], wanted[here], rtol=1e-9)
    assert np.all(ratio(newer="ICNIRP 2013")[~here] >= wanted[~here] * (1 - 1e-12))


def test_the_skin_differs_in_ultraviolet_for_long_only() -> None:
    found = ratio("skin")
    long = np.ix_((WAVES >= 315) & (WAVES < 400), TIMES > 1000)
    np.testing.assert_allclose(found[long], 1e3 / TIMES[None, TIMES > 1000].repeat(2, 0), rtol=1e-9)
    found[long] = 1.0
    np.testing.assert_allclose(found, 1.0, rtol=1e-9)


@pytest.mark.parametrize("mrad", [4.0, 50.0, 120.0])
def test_a_wide_source_counts_up_to_100_mrad_at_any_time(mrad: float) -> None:
    """Newer: up to 5 mrad below 625 µs, and by the root of the time up to 0.25 s."""
    at = (WAVES >= 400) & (WAVES < 1200)
    largest = np.clip(200 * np.sqrt(TIMES), 5, 100)
    wider = min(mrad, 100.0) / np.minimum(mrad, largest)
    early = TIMES < 1  # from there on blue light has a row of its own in one edition
    wanted = np.array([[difference(nm, s) for s in TIMES[early]] for nm in WAVES[at]])
    found = ratio(mrad=mrad)[at][:, early]
    np.testing.assert_allclose(found, wanted * wider[early], rtol=1e-9)
    # from 10 s on the same, but for the directive's cap of 1000 W/m² on infrared
    late = TIMES >= 10
    infrared = (WAVES >= 700) & at
    law = exposure.limit(
        Q(WAVES[infrared][:, None], "nm"), Q(TIMES[late], "s"), source_angle=Q(mrad, "mrad"),
        edition=LAW,
    ).irradiance.magnitude  # fmt: skip
    np.testing.assert_allclose(
        law, np.minimum(law / ratio(mrad=mrad)[infrared][:, late], 1000), rtol=1e-9
    )
    np.testing.assert_allclose(ratio(mrad=mrad)[at & ~infrared][:, late], 1.0, rtol=1e-9)


def test_pulses_are_printed_as_five_thousandths_and_five_hundredths() -> None:
    """A course on medical lasers prints 5e-6 J/cm² for 1064 nm and 1 ns, before 2014."""
    found = exposure.limit(["532 nm", "1064 nm"], "1 ns", edition=LAW).radiant_exposure
    assert found.to("J/cm^2").magnitude == pytest.approx([5e-7, 5e-6], rel=1e-9)


def test_the_directive_differs_where_it_must() -> None:
    law = {"edition": "2006/25/EC"}
    assert exposure.limit("1064 nm", "1 ns", **law).radiant_exposure.magnitude == pytest.approx(
        5e-2
    )
    assert exposure.limit("532 nm", "1 ns", **law).radiant_exposure.magnitude == pytest.approx(5e-3)
    assert exposure.limit("1064 nm", "1 ns").radiant_exposure.magnitude == pytest.approx(2e-2)
    assert exposure.limit("1310 nm", "100 s", **law).irradiance.magnitude == pytest.approx(
        10 * 5 * 8
    )
    # 8 + 10**(0.04 × 60) = 259.19, times 50 = 12959; below it stands the skin's 2000 × 5
    assert exposure.limit("1310 nm", "100 s").irradiance.magnitude == pytest.approx(10000)
    iec = exposure.limit("1310 nm", "100 s", edition="IEC 2014").irradiance.magnitude
    assert iec == pytest.approx(50 * (8 + 10**2.4), rel=1e-12)
    # 100 mrad counts at any time in the directive, and 5 mrad for short pulses in the others
    wide = {"wavelength": "532 nm", "exposure_time": "1 us", "source_angle": "150 mrad"}
    assert exposure.limit(**wide, **law).radiant_exposure.magnitude == pytest.approx(
        5e-3 * 100 / 1.5
    )
    assert exposure.limit(**wide).radiant_exposure.magnitude == pytest.approx(2e-3 * 5 / 1.5)


def test_rows_of_the_directive_alone_that_nothing_else_confirms_are_marked() -> None:
    alone = {
        cell.name.partition(" nm")[0].removeprefix("eye ")
        + cell.name.partition(" nm")[2].removesuffix(", directive")
        for cell in cells.cells()
        if cell.editions == (LAW,) and cell.checked == "second typing only"
    }
    short = [f"{t}, retinal thermal" for t in (", 1e-13 to 1e-11 s", ", 1e-11 to 1e-9 s")]
    bands = ("400 to 700", "700 to 1050", "1050 to 1400")
    assert alone == {
        *(band + time for band in bands for time in short),
        "700 to 1400, 10 to 3e4 s, retinal thermal, wide source",
    }
    listed = exposure.without_independent_check()
    assert sum("directive" in name and name.startswith("eye") for name in listed) == len(alone)
