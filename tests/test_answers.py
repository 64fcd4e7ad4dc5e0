"""Answers: right by another route, honest about what cannot be told, for any machine."""

from __future__ import annotations

import math

import attrs
import numpy as np
import pytest

from mathlib import Q, answers
from mathlib.answers import NAMES, Answer, ask
from mathlib.errors import ValueRefused
from mathlib.machine import TAGMAKER, Machine, load
from mathlib.motion.squareness import SquareTest

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


@pytest.mark.parametrize("name", NAMES)
def test_every_answer_has_all_that_a_reader_needs(name, tagmaker):
    answer = ask(name, tagmaker)
    assert isinstance(answer, Answer)
    assert answer.asked.endswith("?")
    assert answer.verdict.endswith(".")
    for part in (answer.decided_by, answer.measure_next, answer.sources):
        assert part
    assert set(answer.about) >= set(answer.values)
    assert set(answer.ranges) <= set(answer.values)
    for word, (low, high) in answer.ranges.items():
        assert low <= answer.values[word] <= high, word
    assert answer.verdict in repr(answer)
    assert f"> {answer.verdict}" in answer._repr_markdown_()


@pytest.mark.parametrize("name", NAMES)
def test_a_drawn_machine_gives_draws(name, tagmaker):
    answer = ask(name, tagmaker.draw(64))
    shapes = {np.shape(value.magnitude) for value in answer.values.values()}
    assert (64,) in shapes or not ask(name, tagmaker).ranges  # nothing that it uses varies
    assert shapes <= {(), (64,)}
    assert answer.verdict


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_called_free_of_danger(name, tagmaker):
    words = repr(ask(name, tagmaker)).lower().split()
    assert not {"safe", "safely", "harmless"} & set(words)


class TestStep:
    def test_steps_per_length_and_lattice_by_hand(self, tagmaker):
        answer = ask("step", tagmaker)
        # 400 steps x 16 microsteps over 20 teeth of 2 mm: 6400 / 40 = 160 a millimetre
        assert answer.values["steps_per_length"].to("step/mm").magnitude == pytest.approx(160)
        # crossed: half a microstep of 1/160 mm; plain axes: over the root of two
        worst = {"crossed": 1 / 320, "plain": 1 / 160 / math.sqrt(2)}[tagmaker.machine.belts]
        assert answer.values["lattice_worst"].to("mm").magnitude == pytest.approx(worst)

    def test_the_friction_at_the_flip_makes_the_band_as_wide_as_the_lattice(self, tagmaker):
        flip = ask("step", tagmaker).flips_at["friction"]
        there = ask("step", changed(tagmaker.typical(), carriage__friction=flip))
        band, worst = there.values["friction_band"], there.values["lattice_worst"]
        assert (band / worst).to("1").magnitude == pytest.approx(2.0)

    def test_the_verdict_follows_friction(self, tagmaker):
        calm = ask("step", changed(tagmaker, carriage__friction="0.2 N"))
        stiff = ask("step", changed(tagmaker, carriage__friction="20 N"))
        assert calm.certain
        assert "finer microsteps reach more points" in calm.verdict
        assert stiff.certain
        assert "Friction, not the lattice" in stiff.verdict

    def test_a_controller_that_is_too_slow_is_warned_of(self, tagmaker):
        slow = changed(tagmaker, controller__highest_step_rate="10000 step/s")
        # 100 mm/s x 160 step/mm = 16 000 step/s
        assert any("16000 step/s" in text for text in ask("step", slow).warnings)


class TestMotor:
    def test_first_values_by_hand_for_plain_axes(self):
        answer = ask("motor", load(PLAIN))
        v = answer.values
        assert v["step"].to("mm").magnitude == pytest.approx(0.1)  # 40 mm over 400
        assert v["other_step"].to("mm").magnitude == pytest.approx(0.2)
        # y axis: 1.3 kg at 2 m/s2 and 4 N make 6.6 N; rotor 54 g cm2 on r = 6.3662 mm is
        # 0.13324 kg, 0.26648 N; together 6.86648 N, times r = 43.713 mN m.
        # holding torque 0.3236 x 1.2 / 1.68 = 231.143 mN m; asin(0.189117) = 0.190263 rad;
        # times r / 100 = 0.0121125 mm
        assert v["acceleration_lag"].to("mm").magnitude == pytest.approx(0.0121125, rel=1e-4)
        assert v["torque_margin"].magnitude == pytest.approx(231.143 / 43.713, rel=1e-4)
        # 4 N x r = 25.465 mN m; asin(0.110169) = 0.110393; times r / 100
        assert v["lag"].to("mm").magnitude == pytest.approx(0.0070278, rel=1e-4)
        assert v["step_rate"].to("step/s").magnitude == pytest.approx(16_000)
        assert v["step_rate_diagonal"] == v["step_rate"]

    def test_crossed_belts_share_the_load_and_run_faster_on_a_diagonal(self):
        crossed, plain = ask("motor", load(TAGMAKER)).values, ask("motor", load(PLAIN)).values
        assert crossed["lag"] < plain["lag"]
        rates = crossed["step_rate_diagonal"] / crossed["step_rate"]
        assert rates.magnitude == pytest.approx(math.sqrt(2))

    def test_the_step_error_is_five_percent_of_a_full_step(self, tagmaker):
        v = ask("motor", tagmaker).values
        assert (v["step_error"] / v["step"]).to("1").magnitude == pytest.approx(0.05)

    def test_the_acceleration_at_the_flip_leaves_a_margin_of_two(self, tagmaker):
        flip = ask("motor", tagmaker).flips_at["acceleration"]
        there = ask("motor", changed(tagmaker.typical(), job__acceleration=flip))
        assert there.values["torque_margin"].magnitude == pytest.approx(2.0)

    def test_a_motor_that_slips_is_said_to_slip(self, tagmaker):
        answer = ask("motor", changed(tagmaker, job__acceleration="200000 mm/s^2"))
        assert "Neither can be chosen" in answer.verdict
        assert not answer.certain
        assert any("slips" in text for text in answer.warnings)
        assert "does not hold" in repr(answer)

    def test_one_motor_alone_is_judged_alone(self, tagmaker):
        answer = ask("motor", attrs.evolve(tagmaker, other_motor=None))
        assert "Add [other_motor]" in answer.verdict
        assert not [word for word in answer.values if word.startswith("other_")]

    def test_a_set_current_above_the_rating_is_warned_of(self, tagmaker):
        answer = ask("motor", changed(tagmaker, controller__set_current="2.5 A"))
        assert any("overheats" in text for text in answer.warnings)

    def test_a_slow_controller_makes_the_coarser_motor_the_choice(self, tagmaker):
        answer = ask("motor", changed(tagmaker, controller__highest_step_rate="12000 step/s"))
        assert "Take the 1.8° motor" in answer.verdict


class TestRinging:
    def test_the_centre_by_hand_for_plain_axes(self):
        v = ask("ringing", load(PLAIN)).values
        # y belt, clamps 4 mm apart, pulleys of r = 6.366 mm at -45 and 345 mm, head at 150:
        # 148 + 45 + pi r / 2 = 203.00 mm to the motor's mark; the other way pi r / 2 + 390 + pi r
        # + 345 - 152 = 613.00 mm. 19.4 kN (1/203 + 1/613) = 127.21 N/mm on 1.3 kg:
        # sqrt(127213 / 1.3) / (2 pi) = 49.79 Hz
        assert v["held_frequency_centre"].to("Hz").magnitude == pytest.approx(49.79, rel=2e-4)
        assert v["first_frequency_centre"] < v["held_frequency_centre"]
        assert v["first_frequency_corner"] <= v["first_frequency_centre"]

    def test_a_lighter_head_rings_higher(self, tagmaker):
        light = changed(tagmaker.typical(), carriage__mass="0.1 kg")
        first = ask("ringing", tagmaker).values["first_frequency_centre"]
        assert ask("ringing", light).values["first_frequency_centre"] > first

    def test_the_acceleration_at_the_flip_ramps_for_one_period(self, tagmaker):
        flip = ask("ringing", tagmaker).flips_at["acceleration"]
        there = ask("ringing", changed(tagmaker.typical(), job__acceleration=flip))
        assert there.values["ramp_periods"].magnitude == pytest.approx(1.0)

    @pytest.mark.parametrize("belts", ["single", "shaft"])
    def test_every_layout_is_answered(self, tagmaker, belts):
        v = ask("ringing", changed(tagmaker, machine__belts=belts)).values
        assert 10 < v["first_frequency_centre"].to("Hz").magnitude < 100


class TestLaser:
    def test_spot_by_hand(self, tagmaker):
        v = ask("spot", tagmaker).values
        # 4 x 15 x 450e-6 x 30 / (pi x 4) = 0.81 / 12.566 = 0.064458 mm
        assert v["spot_diameter"].to("mm").magnitude == pytest.approx(0.064458, rel=1e-4)
        # pi d^2 / (4 x 15 x 450e-6) = 0.013053 / 0.027 = 0.48344; times sqrt(0.21)
        assert v["depth_of_focus"].to("mm").magnitude == pytest.approx(0.22154, rel=1e-4)

    def test_energy_by_hand(self, tagmaker):
        v = ask("energy", tagmaker).values
        # 5.5 W x 0.8 = 4.4 W at 100 mm/s; lines 0.08 mm apart
        assert v["line_energy"].to("J/mm").magnitude == pytest.approx(0.044)
        assert v["areal_dose"].to("J/mm^2").magnitude == pytest.approx(0.55)
        assert v["overlap"].magnitude == pytest.approx(1 - 0.08 / 0.064458, rel=1e-4)

    def test_a_file_without_a_laser_is_told_what_to_add(self, tagmaker):
        bare = attrs.evolve(
            tagmaker,
            heads=attrs.evolve(tagmaker.heads, laser=None),
            ranges={k: v for k, v in tagmaker.ranges.items() if "laser" not in k},
        )
        with pytest.raises(ValueRefused, match=r"add \[heads.laser\]"):
            ask("spot", bare)
        assert "No laser in this file" in ask("hazard", bare).verdict

    def test_a_strong_head_is_class_4_and_a_weak_one_is_not_told_apart(self, tagmaker):
        strong = ask("hazard", tagmaker)
        assert strong.values["times_limit"].magnitude == pytest.approx(11.0)  # 5.5 W over 0.5 W
        assert "Class 4" in strong.verdict
        assert any("laser safety officer" in text for text in strong.warnings)
        head = attrs.evolve(tagmaker.heads.laser, optical_power="0.3 W")
        ranges = {k: v for k, v in tagmaker.ranges.items() if k != "heads.laser.optical_power"}
        weak = attrs.evolve(tagmaker, heads=attrs.evolve(tagmaker.heads, laser=head), ranges=ranges)
        assert "cannot tell apart" in ask("hazard", weak).verdict
        assert not ask("hazard", weak).certain

    def test_a_gas_tube_adds_its_high_voltage(self, tagmaker):
        head = attrs.evolve(tagmaker.heads.laser, wavelength="10.6 um")
        tube = attrs.evolve(tagmaker, heads=attrs.evolve(tagmaker.heads, laser=head))
        assert any("lethal charge" in text for text in ask("hazard", tube).warnings)
        assert not any("lethal charge" in text for text in ask("hazard", tagmaker).warnings)


def test_draws_through_all_answers_keep_what_is_drawn_once(tagmaker):
    drawn = tagmaker.draw(200)
    spot = answers.ask("spot", drawn).values["spot_diameter"]
    energy = answers.ask("energy", drawn).values
    # The same head in both answers: overlap = 1 - spacing / diameter, draw by draw.
    expected = 1 - (Q("0.08 mm") / spot).to("1").magnitude
    assert np.allclose(energy["overlap"].magnitude, expected, rtol=1e-12)


class TestBelt:
    def test_what_the_job_asks_of_one_belt_by_hand(self):
        v = ask("belt", load(PLAIN)).values
        # 1.3 kg x 2 m/s2 + 4 N = 6.6 N, and the rotor's 0.13324 kg x 2 m/s2 = 0.26648 N
        assert v["required_tension"].to("N").magnitude == pytest.approx(6.8665, rel=1e-4)
        assert v["shaft_load"].to("N").magnitude == pytest.approx(40.0)  # twice 20 N
        assert v["allowed_shaft_load"].to("N").magnitude == pytest.approx(56.0)  # 28 x 20 / 10
        # 20 N over 19.4 kN of 420 mm
        assert v["size_error"].to("mm").magnitude == pytest.approx(420 * 20 / 19400, rel=1e-6)

    def test_the_pluck_frequency_is_that_of_a_string(self, tagmaker):
        v = ask("belt", tagmaker).values
        span = v["span_length"].to("m").magnitude
        expected = math.sqrt(20 / 0.0083) / (2 * span)
        assert v["pluck_frequency"].to("Hz").magnitude == pytest.approx(expected)

    def test_the_span_to_pluck_is_the_same_wherever_the_head_is(self):
        # crossed belts: across the rear, between the two idlers; 480 mm less nothing
        assert ask("belt", load(TAGMAKER)).values["span_length"].to("mm").magnitude == (
            pytest.approx(480.0)
        )

    def test_a_slack_belt_and_an_unknown_one(self, tagmaker):
        slack = ask("belt", changed(tagmaker, frame__belt_tension="1 N"))
        assert "too little" in slack.verdict
        unknown = ask("belt", changed(tagmaker, frame__belt_tension=None))
        assert "cannot be told yet" in unknown.verdict
        assert not unknown.certain

    def test_a_tight_belt_overloads_the_shaft(self, tagmaker):
        tight = ask("belt", changed(tagmaker, frame__belt_tension="40 N"))
        assert any("loads the motor's shaft" in text for text in tight.warnings)


class TestSquare:
    def piece(self, machine, diagonal_1, reading="0.2 mm"):
        told = {"width": "420 mm", "depth": "300 mm", "diagonal_2": "516.14 mm"}
        test = SquareTest(**told, diagonal_1=diagonal_1, reading=reading)
        return attrs.evolve(machine, square=test)

    def test_what_is_allowed_by_hand(self, tagmaker):
        v = ask("square", tagmaker).values
        skew = math.atan(0.05 / 300)
        assert v["skew_allowed"].to("rad").magnitude == pytest.approx(skew)
        # d1^2 - d2^2 = 4 w h sin(g), so d1 - d2 is about 2 w h g / d
        diagonal = math.hypot(420, 300)
        expected = math.sqrt(diagonal**2 + 4 * 420 * 300 * math.sin(skew)) - diagonal
        found = v["diagonal_difference_allowed"].to("mm").magnitude
        assert found == pytest.approx(expected, rel=1e-6)

    def test_without_a_test_piece_it_cannot_be_told(self, tagmaker):
        answer = ask("square", tagmaker)
        assert not answer.certain
        assert "cannot be told yet: draw the largest rectangle" in answer.verdict

    def test_a_skewed_piece_is_told_with_its_remedy(self, tagmaker):
        answer = ask("square", self.piece(tagmaker, "517.5 mm"))
        assert answer.certain
        assert "not square enough" in answer.verdict
        remedy = {"crossed": "shorten one belt", "plain": "square the beam on its rails"}
        assert remedy[tagmaker.machine.belts] in answer.verdict

    def test_a_coarse_reading_tells_nothing_and_a_fine_one_does(self, tagmaker):
        coarse = ask("square", self.piece(tagmaker, "516.15 mm"))
        assert "cannot be told yet" in coarse.verdict
        fine = ask("square", self.piece(tagmaker, "516.15 mm", reading="0.005 mm"))
        assert fine.certain
        assert "square enough for this work" in fine.verdict

    def test_the_correction_of_a_crossed_machine_turns_it_back(self):
        answer = ask("square", self.piece(load(TAGMAKER), "517.5 mm")).values
        # half of the difference shows across the rails
        turned = answer["belt_difference"].to("mm").magnitude / 2 / 480
        assert turned == pytest.approx(math.tan(answer["skew"].to("rad").magnitude))
