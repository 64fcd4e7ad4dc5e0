"""Supply and leads: the verdict follows the numbers, and every caution comes when it is due."""

from __future__ import annotations

import attrs
import numpy as np
import pytest

from mathlib import Q, answers
from mathlib.answers import loads
from mathlib.errors import ValueRefused
from mathlib.machine import DEFAULT, TAGMAKER, Machine, load
from mathlib.motion import wiring

PLAIN = TAGMAKER.with_name("tagmaker_plain.toml")


@pytest.fixture(params=[TAGMAKER, PLAIN], ids=["crossed", "plain"])
def tagmaker(request) -> Machine:
    return load(request.param)


def changed(machine: Machine, **keys) -> Machine:
    """The machine with other values by dotted key, and no range for them."""
    ranges = dict(machine.ranges)
    for key, value in keys.items():
        section, name = key.split("__")
        ranges.pop(f"{section}.{name}", None)
        part = attrs.evolve(getattr(machine, section), **{name: value})
        machine = attrs.evolve(machine, **{section: part})
    return attrs.evolve(machine, ranges=ranges)


def without(text: str, *tables: str) -> str:
    """The Tagmaker's file without some of its tables."""
    kept, skip = [], False
    for line in text.splitlines():
        if line.startswith("["):
            skip = line.strip("[]") in tables
        if not skip:
            kept.append(line)
    return "\n".join(kept) + "\n"


def told(machine: Machine) -> str:
    return " ".join(answers.power.answer(machine).warnings)


def test_budget_of_the_tagmaker_by_hand(tagmaker):
    v = answers.power.answer(tagmaker).values
    # R_th from 65 K at 1.68 A: P = 2 x 1.68² x 1.65 = 9.3139 W, R_th = 65 / (9.3139 x 1.25545)
    # = 5.5588 K/W. At 1.2 A 4.752 W: x = R_th P = 26.4156 K; in air of 30 °C
    # rise = x (1 + 0.0393) / (1 - 0.00393 x) = 27.4537 / 0.896187 = 30.634 K
    assert v["winding_rise"].to("K").magnitude == pytest.approx(30.634, abs=0.002)
    # face: 30 + 0.9 x 30.634
    assert v["mount_temperature"].to("degC").magnitude == pytest.approx(57.571, abs=0.002)
    # hot: 4.752 x (1 + 0.00393 x 40.634) = 5.51086 W each
    assert v["motor_power"].to("W").magnitude == pytest.approx(11.0217, abs=0.001)
    # at work: (11.0217 + 2 x 2 + 4 N x 0.1 m/s) / 0.85 = 18.1432; laser 30 / 0.9; others 8
    assert v["mean_power"].to("W").magnitude == pytest.approx(59.4765, abs=0.002)
    # label: over 80 %, in air of 35 °C undiminished
    assert v["supply_power"].to("W").magnitude == pytest.approx(74.3456, abs=0.003)
    # at rest: 0.7² x 11.0217 / 0.85 + 8
    assert v["rest_power"].to("W").magnitude == pytest.approx(14.3537, abs=0.001)
    # braking: moving beam 1.3 kg and the rotors of 0.13324 kg that turn with it, at 0.1 m/s:
    # both with crossed belts, one with a plain axis
    rotors = 2 if tagmaker.machine.belts == "crossed" else 1
    energy = v["braking_energy"].to("J").magnitude
    assert energy == pytest.approx(0.5 * (1.3 + rotors * 0.13324) * 0.01, rel=1e-4)
    rise = np.sqrt(24**2 + 2 * energy / 1e-3) - 24
    assert v["bus_rise"].to("V").magnitude == pytest.approx(rise, rel=1e-9)


def test_each_part_stands_in_the_sum(tagmaker):
    parts, v = loads.budget(tagmaker.typical()), answers.power.answer(tagmaker).values
    names = ("windings", "iron", "moving", "laser", "other")
    whole = sum(parts[name].to("W").magnitude for name in names)
    assert v["mean_power"].to("W").magnitude == pytest.approx(whole, rel=1e-12)
    assert v["peak_power"] > v["mean_power"]


def test_the_verdict_follows_the_label(tagmaker):
    found = {
        power: answers.power.answer(changed(tagmaker, supply__power=power))
        for power in ("150 W", "85 W", "40 W")
    }
    assert "150 W supply carries this machine" in found["150 W"].verdict
    assert found["150 W"].certain
    assert "cannot be told yet" in found["85 W"].verdict
    assert not found["85 W"].certain
    assert "does not carry this machine" in found["40 W"].verdict
    assert "Its label must state 74.3 W" in found["40 W"].verdict


def test_a_supply_above_what_drivers_stand_is_not_to_be_connected(tagmaker):
    text = told(changed(tagmaker, supply__voltage="48 V"))
    assert "The supply's 48 V is more than the 29 V that the drivers stand" in text
    assert "Braking" not in text  # more capacitance would not help


def test_a_fuse_is_named_for_the_planned_wire_and_the_most_it_carries(tagmaker):
    # at 12 V the feed carries up to 6.46 A: 6.46 / 0.75 asks 10 A, which 1 mm² (10.1 A) allows
    text = told(changed(tagmaker, supply__voltage="12 V"))
    assert "The fuse of 6.3 A before the supply's lead carries up to 6.4" in text
    assert "With 1 mm² one of 10 A fits the load and protects the wire." in text


def test_differences_of_temperature_are_told_in_kelvin(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(without(TAGMAKER.read_text(encoding="utf-8"), "mount"), encoding="utf-8")
    text = told(load(path))
    assert "mount.rated_rise 80 K" in text
    assert "delta" not in text


def test_switching_on_takes_charge_over_current(tagmaker):
    # 1 mF x 24 V over 150 W / 24 V = 6.25 A
    found = answers.power.answer(tagmaker).values["charging_time"]
    assert found.to("ms").magnitude == pytest.approx(3.84)


def test_without_a_label_the_answer_says_what_to_order(tagmaker):
    bare = attrs.evolve(tagmaker, supply=attrs.evolve(tagmaker.supply, power=None))
    found = answers.power.answer(bare)
    assert "take one whose label states 74.3 W or more" in found.verdict
    assert "allowed_power" not in found.values


def test_at_each_flip_what_is_asked_equals_what_is_allowed(tagmaker):
    flips = answers.power.answer(tagmaker).flips_at
    assert {"supply.ambient", "wiring.laser_power"} <= set(flips)
    for key in ("supply.ambient", "wiring.laser_power"):
        there = changed(tagmaker.typical(), **{key.replace(".", "__"): flips[key]})
        asked = answers.power.answer(there).values["supply_power"].to("W").magnitude
        assert asked == pytest.approx(150, rel=1e-9), key


def test_length_of_the_laser_lead_flips_where_its_drop_is_used_up(tagmaker):
    thick = changed(tagmaker.typical(), wiring__laser_area="1 mm^2")
    flip = answers.power.answer(thick).flips_at["wiring.laser_length"]
    there = answers.power.answer(changed(thick, wiring__laser_length=flip))
    lost = 12 - there.values["laser_voltage"].to("V").magnitude
    assert lost == pytest.approx(0.02 * 12, rel=1e-9)
    # with 0.5 mm² the fuse decides: no length helps, and none is told
    assert "wiring.laser_length" not in answers.power.answer(tagmaker).flips_at


def test_a_lead_that_is_too_thin_is_named_with_what_it_needs(tagmaker):
    found = answers.power.answer(tagmaker)
    assert "The laser's lead of 0.5 mm² is too thin: 1 mm² is needed" in found.verdict
    assert "decided by the fuse" in found.verdict
    assert "laser's lead: fuse" in found.decided_by
    good = answers.power.answer(changed(tagmaker.typical(), wiring__laser_area="1 mm^2"))
    assert "laser's lead of 1 mm² serve." in good.verdict
    unplanned = changed(tagmaker, wiring__motor_area=None)
    assert "For the motors' leads order 0.25 mm²" in answers.power.answer(unplanned).verdict


def test_without_a_fuse_the_supplys_lead_must_carry_all_that_the_supply_can_push(tagmaker):
    bare = changed(tagmaker.typical(), wiring__feed_fuse=None, supply__power="600 W")
    # 1.3 x 600 / 24 = 32.5 A in air of 40 °C: 10 mm²
    assert answers.power.answer(bare).values["wire_area_feed"].magnitude == 10
    assert "No fuse is stated before the supply's lead." in told(bare)


def test_motor_leads_are_sized_for_the_peak_that_one_phase_may_hold(tagmaker):
    found = loads.leads(tagmaker.typical(), Q("60 W"))[1]
    assert found.current.to("A").magnitude == pytest.approx(1.2 * np.sqrt(2))


class TestCautions:
    @pytest.mark.parametrize(
        ("keys", "words"),
        [
            ({"mount__material": "PLA"}, "PLA may soften from 52 °C on"),
            ({"mount__softens_at": "40 degC"}, "may soften from 40 °C on"),
            ({"controller__set_current": "2 A"}, "above the motor's rated current"),
            ({"controller__set_current": "4 A"}, "passes 130 °C or runs away"),
            ({"wiring__laser_fuse": None}, "No fuse is stated before the laser's lead"),
            ({"wiring__laser_fuse": "2.5 A"}, "may not last"),
            ({"wiring__contact_current": "1 A"}, "Contacts of 1 A are too small for the"),
            ({"wiring__contact_current": None}, "Check that contacts are rated"),
            ({"wiring__input_kind": "CMOS"}, "level shifter"),
            ({"supply__voltage": "5 V"}, "lies outside of what a motor"),
            ({"supply__voltage": "9 V"}, "is little for 2.77 V coils"),
            ({"controller__highest_voltage": "24.1 V"}, "above the drivers' 24.1 V"),
            ({"controller__highest_voltage": None}, "what voltage the drivers stand"),
            ({"wiring__laser_power": None}, "read its label into wiring.laser_power"),
        ],
    )
    def test_is_given_when_due_and_not_before(self, tagmaker, keys, words):
        assert words in told(changed(tagmaker, **keys))
        if "wiring__laser_power" not in keys:
            assert words not in told(tagmaker)

    def test_mains_earth_and_stored_charge_are_left_to_who_is_qualified(self, tagmaker):
        assert "licensed electrician by your local code" in told(tagmaker)
        assert "earth bond" in told(tagmaker)

    def test_a_tube_hangs_on_a_supply_of_its_own(self, tmp_path):
        text = TAGMAKER.read_text(encoding="utf-8")
        text = text.replace("blue diode, one emitter, 5.5 W", "gas tube, 40 W")
        lines = [x for x in text.splitlines() if not x.startswith("laser_power =")]
        path = tmp_path / "tube.toml"
        path.write_text("\n".join(lines), encoding="utf-8")
        machine = load(path)
        assert "lethal charge" in told(machine)
        found = answers.power.answer(machine)
        assert found.values["laser_power"].magnitude == 0
        assert "wire_area_laser" not in found.values


def test_a_file_that_says_nothing_of_wiring_is_answered_by_marked_defaults(tmp_path):
    path = tmp_path / "bare.toml"
    text = without(TAGMAKER.read_text(encoding="utf-8"), "wiring", "mount")
    path.write_text(text, encoding="utf-8")
    machine = load(path)
    assert machine.wiring == wiring.Wiring()
    assert machine.contents.sources["wiring.drop"] == DEFAULT
    assert "wiring.laser_length" not in load(TAGMAKER).contents.sources
    found = answers.power.answer(machine)
    assert "For the laser's lead order" in found.verdict
    assert "Assumed, since the file does not say: wiring.ambient 40 °C" in " ".join(found.warnings)


def test_without_friction_or_a_laser_head_there_is_still_an_answer(tagmaker):
    heads = attrs.evolve(tagmaker.heads, laser=None)
    bare = attrs.evolve(changed(tagmaker.typical(), carriage__friction="0 N"), heads=heads)
    found = answers.power.answer(bare)
    # the laser's 33.33 W and the friction's 4 N x 0.1 m/s / 0.85 are gone
    assert found.values["mean_power"].magnitude == pytest.approx(
        59.4765 - 33.3333 - 0.4706, abs=3e-3
    )
    assert "laser's lead" not in found.verdict


def test_air_that_no_supply_may_breathe_is_refused(tagmaker):
    with pytest.raises(ValueRefused, match="no usual supply may run in air above 70"):
        answers.power.answer(changed(tagmaker, supply__ambient="75 degC"))
