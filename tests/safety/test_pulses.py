"""Trains of pulses: each rule by hand, and against a look at every number of pulses."""

from __future__ import annotations

import math

import numpy as np
import pytest
import second_typing
from hypothesis import assume, given
from hypothesis import strategies as st

from mathlib import Q
from mathlib.safety import exposure, pulses
from mathlib.safety.exposure import Limit, Pulse, limit


def train(
    nm: float, s: float, tau: float, rate: float, mrad: float = 0.0, edition: str = "lowest"
) -> Limit:
    return limit(
        Q(nm, "nm"),
        Q(s, "s"),
        source_angle=Q(mrad, "mrad"),
        pulse=Pulse(duration=Q(tau, "s"), rate=Q(rate, "Hz")),
        edition=edition,
    )


def test_a_fibre_laser_is_bound_by_its_mean() -> None:
    # 1064 nm, 100 ns, 30 kHz, 10 s. Alone 2e-2; mean 50 W/m² / 30 kHz = 1.667e-3; repeated: 300000
    # pulses, 5 N**-0.25 = 0.21, floor 0.4, times 2e-2 = 8e-3
    found = train(1064, 10, 100e-9, 30e3)
    by_rule = {name: value.magnitude for name, value in found.by_rule.items()}
    assert by_rule == pytest.approx(
        {"each pulse": 2e-2, "pulses added up": 50 / 30e3, "repeated pulses": 8e-3}, rel=1e-12
    )
    assert found.irradiance.magnitude == pytest.approx(50, rel=1e-12)
    assert found.radiant_exposure.magnitude == pytest.approx(50 / 30e3, rel=1e-12)
    assert found.mechanism == "retinal thermal, pulses added up"
    assert (found.confidence, found.edition) == ("high", "IEC 2014, ICNIRP 2013")


def test_few_strong_pulses_are_bound_by_c5_and_the_doubt_in_it_is_told() -> None:
    # 1064 nm, 100 ns, 100 Hz, 10 s: 1000 pulses, 5 × 1000**-0.25 = 0.889; mean 50/100 = 0.5 J/m²
    found = train(1064, 10, 100e-9, 100)
    assert found.radiant_exposure.magnitude == pytest.approx(2e-2 * 5 * 1000**-0.25, rel=1e-12)
    assert found.mechanism == "retinal thermal, repeated pulses"
    assert found.confidence == "medium"
    # 0.25 s of it is 25 pulses, which need no correction: each pulse decides
    short = train(1064, 0.25, 100e-9, 100)
    assert short.radiant_exposure.magnitude == pytest.approx(2e-2, rel=1e-12)
    assert short.mechanism == "retinal thermal, each pulse"


def test_pulses_within_ti_count_as_one_and_their_energies_add() -> None:
    # 532 nm, 10 ns, 1 MHz: pulses at 0, 1, 2, 3, 4 µs lie within 5 µs; 10 s hold 2e6 such groups,
    # C5 is 0.4: 2e-3 × 0.4 / 5
    found = train(532, 10, 10e-9, 1e6)
    assert found.by_rule["repeated pulses"].magnitude == pytest.approx(2e-3 * 0.4 / 5, rel=1e-12)
    # 1064 nm: 13 pulses within 13 µs at 1 MHz, since the 14th would end at 13.01 µs
    found = train(1064, 10, 10e-9, 1e6)
    assert found.by_rule["repeated pulses"].magnitude == pytest.approx(2e-2 * 0.4 / 13, rel=1e-12)
    # pulses from 0 to 4.5 µs, of which the last ends at 5 µs, Ti itself
    found = train(532, 10, 0.5e-6, 1e6 / 1.5)
    assert found.by_rule["repeated pulses"].magnitude == pytest.approx(2e-3 * 0.4 / 4, rel=1e-12)
    # the exposure holds 3 of them, and is short: 2e-2 / 3
    found = train(1064, 2.5e-6, 10e-9, 1e6)
    assert found.by_rule["repeated pulses"].magnitude == pytest.approx(2e-2 / 3, rel=1e-12)


@pytest.mark.parametrize(
    ("mrad", "c5"),
    [
        (0.0, 1.0),  # small: 1
        (5.0, 1.0),
        (5.1, 100**-0.25),  # beyond 5 mrad: N**-0.25 of 100 pulses, 0.316, but at least 0.4
        (60.0, 100**-0.25),  # beyond 6.32 mrad, the largest that counts for 1 ms: at least 0.2
        (101.0, 1.0),  # beyond 100 mrad: 1
    ],
)
def test_c5_of_longer_pulses_depends_on_the_source(mrad: float, c5: float) -> None:
    # 532 nm, 1 ms, 10 Hz, 10 s (T2 is 10 s or more): 100 pulses
    found = train(532, 10, 1e-3, 10, mrad)
    counted = max(1.5, min(mrad, 200 * math.sqrt(1e-3)))
    single = 18 * 1e-3**0.75 * counted / 1.5
    floor = 0.4 if mrad <= 200 * math.sqrt(1e-3) else 0.2
    wanted = single * max(c5, floor)
    assert found.by_rule["repeated pulses"].magnitude == pytest.approx(wanted, rel=1e-12)


def test_pulses_are_counted_up_to_t2_and_in_the_directive_throughout() -> None:
    # 100 Hz for 1000 s; T2 of a small source is 10 s: 1000 pulses; the directive: 100000
    new, old = (train(1064, 1000, 1e-7, 100, edition=e) for e in ("IEC 2014", "2006/25/EC"))
    assert new.by_rule["repeated pulses"].magnitude == pytest.approx(0.02 * 5 * 1000**-0.25)
    assert old.by_rule["repeated pulses"].magnitude == pytest.approx(0.05 * 1e5**-0.25)
    # beyond 1400 nm only the directive corrects: 10.6 µm, 10 µs, 1 Hz, 100 s
    new, old = (train(10600, 100, 1e-5, 1, edition=e) for e in ("IEC 2014", "2006/25/EC"))
    assert new.by_rule["repeated pulses"].magnitude == math.inf
    single = 5600 * 1e-5**0.25
    assert old.by_rule["repeated pulses"].magnitude == pytest.approx(single * 100**-0.25)


def test_the_directive_groups_within_tmin() -> None:
    # 18 and 50 µs: 100 kHz gives 2 (0, 10 µs) and 5 (0 to 40 µs) pulses of 1 µs; 10 s: 1e6 pulses
    for nm, together, base in ((532, 2, 5e-3), (1064, 5, 5e-2)):
        found = train(nm, 10, 1e-6, 1e5, edition="2006/25/EC")
        wanted = base * (1e6 / together) ** -0.25 / together
        assert found.by_rule["repeated pulses"].magnitude == pytest.approx(wanted, rel=1e-12)
    assert exposure.pulse_factor("1 us", 1e4, "532 nm", edition="2006/25/EC").magnitude == 0.1


def test_blue_pulses_add_to_the_photochemical_dose() -> None:
    # 445 nm, 50 % at 1 kHz, 1000 s: the mean may be 1 W/m², as of a steady beam
    found = train(445, 1000, 0.5e-3, 1e3)
    # (from the first to the last of the pulses, 0.5 ms less than 100 s, it is 5e-6 less)
    assert found.irradiance.magnitude == pytest.approx(1.0, rel=1e-5)
    assert found.mechanism == "retinal photochemical, pulses added up"
    # ultraviolet: 30 J/m² over 1000 pulses
    found = train(250, 10, 1e-6, 100)
    assert found.radiant_exposure.magnitude == pytest.approx(30 / 1000, rel=1e-12)
    assert found.mechanism == "ultraviolet photochemical, pulses added up"


def test_one_pulse_is_the_limit_of_one_pulse() -> None:
    one = train(1064, 1e-3, 1e-7, 100)
    assert one.radiant_exposure.magnitude == pytest.approx(2e-2, rel=1e-12)
    assert one.by_rule["pulses added up"].magnitude == pytest.approx(2e-2, rel=1e-12)
    assert limit("1064 nm", "1 s").by_rule == {}


def test_c5_by_hand() -> None:
    # 5 × 2000**-0.25 = 0.7477; 600 pulses need none; 601: 5 × 601**-0.25 = 1.0098, held at 1
    n = Q(np.array([1, 600, 601, 2000, 24414, 24420, 3e5]), "1")
    found = exposure.pulse_factor("100 ns", n, "1064 nm").magnitude
    assert found == pytest.approx([1, 1, 1, 0.74767, 0.4, 0.4, 0.4], rel=2e-5)
    assert exposure.pulse_factor("100 ns", 2000, "1064 nm", exposure_time="0.25 s").magnitude == 1
    assert exposure.pulse_factor("100 ns", 2000, "10.6 um").magnitude == 1
    long = exposure.pulse_factor("1 ms", [16, 39, 40, 2000], "532 nm", source_angle="6 mrad")
    assert long.magnitude == pytest.approx([0.5, 39**-0.25, 0.4, 0.4], rel=1e-12)
    wide = exposure.pulse_factor("1 ms", [16, 624, 626], "532 nm", source_angle="50 mrad")
    assert wide.magnitude == pytest.approx([0.5, 624**-0.25, 0.2], rel=1e-12)


def test_c5_at_its_edges() -> None:
    # a pulse of Ti itself counts as short: 5 × 2000**-0.25; a longer one of a small source is 1
    at = [exposure.pulse_factor(t, 2000, "532 nm").magnitude for t in ("5e-6 s", "5.001e-6 s")]
    assert at == pytest.approx([0.74767, 1], rel=2e-5)
    # 100 mrad, the largest that counts for 0.5 s, is neither beyond it nor beyond 100 mrad
    edge = exposure.pulse_factor("0.5 s", 1000, "532 nm", source_angle=["100 mrad", "100.1 mrad"])
    assert edge.magnitude.tolist() == [0.4, 1]
    # where no time counts pulses as one there is no correction
    wide = exposure.pulse_factor("1 ms", 2000, ["532 nm", "10.6 um"], source_angle="50 mrad")
    assert wide.magnitude.tolist() == [0.2, 1]
    law = exposure.pulse_factor("1 us", 16, ["308 nm", "10.6 um"], edition="2006/25/EC")
    assert law.magnitude.tolist() == [1, 0.5]


def test_windows_hold_the_pulses_that_fit_whole() -> None:
    # 10 Hz, 10 ms: 0.21 s hold those at 0, 0.1 and 0.2 s; 0.209 s hold two
    assert pulses.pulses_in(0.21, 0.01, 10.0) == 3
    assert pulses.pulses_in(0.209, 0.01, 10.0) == 2
    assert pulses.pulses_in(0.005, 0.01, 10.0) == 1


def by_every_number(
    nm: float, s: float, tau: float, rate: float, mrad: float = 0.0, edition: str = "lowest"
) -> float:
    """Lowest share of one pulse, over every number of successive ones and the mean of all."""

    def dose(lasting: float) -> float:
        return second_typing.lowest("eye", nm, lasting, mrad, edition) * lasting

    most = math.floor((s - tau) * rate * (1 + 1e-12)) + 1
    every = [dose((n - 1) / rate + tau) / n for n in range(1, most + 1)]
    return min([*every, dose(s) / s / rate])


@pytest.mark.parametrize(
    ("nm", "s", "tau", "rate", "mrad", "pulses_of"),
    [
        (650, 1000, 5.0, 0.19, 0.0, 2),  # two last just above 10 s, where 10 W/m² begins
        (650, 1000, 5.0, 0.199, 50.0, 7),  # seven last just above T2, 31.07 s
        (650, 27, 5.0, 0.19, 50.0, 5),  # the exposure ends before T2
        (532, 0.2, 3e-4, 3e3, 150.0, 2),  # two last just above 625 µs: the largest angle grows
        (532, 0.2, 1e-4, 9.5e3, 150.0, 6),  # six, just above it
        (445, 9.1, 0.2, 1.8, 50.0, 17),  # a dose from 1 s on
        (250, 3, 1e-3, 10, 0.0, 30),
        (1064, 1e-3, 2e-6, 2e5, 0.0, 200),
    ],
)
def test_groups_at_the_edges_of_the_table(
    nm: float, s: float, tau: float, rate: float, mrad: float, pulses_of: int
) -> None:
    wanted = by_every_number(nm, s, tau, rate, mrad)
    found = train(nm, s, tau, rate, mrad).by_rule["pulses added up"].magnitude
    assert found == pytest.approx(wanted, rel=1e-9)
    lasting = (pulses_of - 1) / rate + tau
    alone = second_typing.lowest("eye", nm, lasting, mrad, "lowest") * lasting / pulses_of
    assert wanted == pytest.approx(alone, rel=1e-9)


def test_without_an_angle_the_source_is_small() -> None:
    told = {"pulse": Pulse(duration="0.1 ms", rate="100 Hz"), "exposure_time": "20 s"}
    plain = limit("650 nm", **told)
    small = limit("650 nm", **told, source_angle="1 mrad")
    assert plain.irradiance.magnitude == small.irradiance.magnitude
    for name, value in plain.by_rule.items():
        assert value.magnitude == small.by_rule[name].magnitude
    wide = limit("650 nm", **told, source_angle="4 mrad")
    assert wide.irradiance.magnitude > 2 * plain.irradiance.magnitude


def test_the_skin_has_the_rule_of_repeated_pulses_in_the_directive_only() -> None:
    told = {"wavelength": "1064 nm", "exposure_time": "10 s", "target": "skin"}
    pulse = Pulse(duration="1 us", rate="1 Hz")
    new, law = (limit(**told, pulse=pulse, edition=e) for e in ("IEC 2014", "2006/25/EC"))
    single = 1.1e4 * 5 * 1e-6**0.25
    assert new.by_rule["repeated pulses"].magnitude == math.inf
    assert law.by_rule["repeated pulses"].magnitude == pytest.approx(single * 10**-0.25, rel=1e-9)


def test_a_pulse_that_has_begun_counts_in_the_mean() -> None:
    # 1 s on end, repeated each second: 1.5 s of steady light, which gets 18 × 1.5**-0.25
    found = train(650, 1.5, 1.0, 1.0)
    assert found.irradiance.magnitude == pytest.approx(18 * 1.5**-0.25, rel=1e-9)
    assert found.irradiance.magnitude == pytest.approx(
        limit("650 nm", "1.5 s").irradiance.magnitude, rel=1e-9
    )


def test_the_directive_counts_groups_up_and_takes_their_whole_time() -> None:
    law = {"edition": "2006/25/EC"}
    # 3 pulses in 25 µs, two of them within 18 µs: 2 groups
    found = train(532, 2.5e-5, 1e-6, 1e5, **law)
    wanted = 5e-3 * 2**-0.25 / 2
    assert found.by_rule["repeated pulses"].magnitude == pytest.approx(wanted, rel=1e-12)
    # 350 nm, 10 ps at 10 GHz: 10 within 1 ns, from the first to the last 0.91 ns at 3e10 W/m²;
    # 1 µs holds floor(9999.9) + 1 pulses, 1000 groups
    found = train(350, 1e-6, 1e-11, 1e10, **law)
    wanted = 3e10 * 0.91e-9 / 10 * 1000**-0.25
    assert found.by_rule["repeated pulses"].magnitude == pytest.approx(wanted, rel=1e-9)
    # no rule below 315 nm, though there is a thermal limit
    assert train(308, 1, 1e-6, 10, **law).by_rule["repeated pulses"].magnitude == math.inf
    assert train(316, 1, 1e-6, 10, **law).by_rule["repeated pulses"].magnitude < math.inf


@given(
    nm=st.sampled_from([250.0, 308.0, 351.0, 445.0, 455.0, 532.0, 808.0, 1064.0, 1380.0, 10600.0]),
    time=st.floats(-6, 4.47),
    tau=st.floats(-9, 0),
    count=st.floats(1, 400),
    edition=st.sampled_from(["IEC 2014", "ICNIRP 2013", "2006/25/EC", "lowest"]),
    mrad=st.sampled_from([0.0, 0.0, 1.6, 4.0, 30.0, 150.0]),
)
def test_groups_agree_with_a_look_at_every_number_of_pulses(
    nm: float, time: float, tau: float, count: float, edition: str, mrad: float
) -> None:
    s, duration = 10**time, min(10**tau, 10**time)
    rate = count / s
    assume(rate * duration <= 1)

    found = train(nm, s, duration, rate, mrad, edition)
    wanted = by_every_number(nm, s, duration, rate, mrad, edition)
    assert found.by_rule["pulses added up"].magnitude == pytest.approx(wanted, rel=1e-9)
    alone = second_typing.lowest("eye", nm, duration, mrad, edition) * duration
    assert found.by_rule["each pulse"].magnitude == pytest.approx(alone, rel=1e-9)
    lowest = min(value.magnitude for value in found.by_rule.values())
    assert found.radiant_exposure.magnitude == pytest.approx(lowest, rel=1e-12)
    assert found.irradiance.magnitude == pytest.approx(lowest * rate, rel=1e-12)
