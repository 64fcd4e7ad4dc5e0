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
from mathlib.motion import gantries
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
        # 100 mm/s x 160 step/mm = 16 000 step/s, and root 2 of it on a diagonal of crossed belts
        most = {"crossed": "22600 step/s", "plain": "16000 step/s"}[tagmaker.machine.belts]
        assert any(most in text for text in ask("step", slow).warnings)


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

    def test_at_the_flips_the_margin_at_speed_is_two(self, tagmaker):
        flips = ask("motor", tagmaker).flips_at
        fixed = tagmaker.typical()
        there = ask("motor", changed(fixed, job__acceleration=flips["acceleration"]))
        assert there.values["margin_at_speed"].magnitude == pytest.approx(2.0)
        there = ask("motor", changed(fixed, job__speed=flips["speed"]))
        # the speed is read off a grid 0.25 % fine
        assert there.values["margin_at_speed"].magnitude == pytest.approx(2.0, rel=0.01)

    def test_the_verdict_differs_on_both_sides_of_the_flip(self, tagmaker):
        flip = ask("motor", tagmaker).flips_at["speed"]
        fixed = tagmaker.typical()
        below = ask("motor", changed(fixed, job__speed=0.95 * flip)).verdict
        above = ask("motor", changed(fixed, job__speed=1.05 * flip)).verdict
        assert "Take the 0.9° motor" in below
        assert "Take the 1.8° motor" in above

    def test_the_torque_needed_on_a_diagonal_by_hand(self):
        v = ask("motor", load(TAGMAKER)).values
        # 5.3435 N and the rotor's root 2 x 0.13324 kg x 2 m/s2 = 0.37686 N, on r = 6.3662 mm
        needed = (5.3435 + 0.37686) * 6.3662e-3
        assert v["torque_needed"].to("N*m").magnitude == pytest.approx(needed, rel=1e-4)

    def test_draws_of_another_seed_draw_another_derating(self, tagmaker):
        told = [
            ask("motor", tagmaker.draw(200, seed=s)).values["torque_at_speed"].magnitude
            for s in (1, 2)
        ]
        assert abs(np.corrcoef(*told)[0, 1]) < 0.3

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
        assert v["first_frequency_lowest"] <= v["first_frequency_corner"]

    def test_a_lighter_head_rings_higher(self, tagmaker):
        light = changed(tagmaker.typical(), carriage__mass="0.1 kg")
        first = ask("ringing", tagmaker).values["first_frequency_centre"]
        assert ask("ringing", light).values["first_frequency_centre"] > first

    def test_the_swing_at_the_flip_is_what_the_work_allows(self, tagmaker):
        flip = ask("ringing", tagmaker).flips_at["acceleration"]
        fixed = tagmaker.typical()
        there = ask("ringing", changed(fixed, job__acceleration=flip))
        assert there.values["ringing"].to("mm").magnitude == pytest.approx(0.05)
        gentle = ask("ringing", changed(fixed, job__acceleration=0.9 * flip))
        harsh = ask("ringing", changed(fixed, job__acceleration=1.1 * flip))
        assert "little enough" in gentle.verdict
        assert "too much" in harsh.verdict

    def test_the_swing_against_the_equation_of_motion(self, tagmaker):
        # A ramp of one and a half periods leaves 2 (a / w^2) |sin(w t / 2)|, here all of it:
        # the undamped mode, stepped through by its exact solution in both phases.
        v = ask("ringing", tagmaker).values
        omega = 2 * math.pi * v["first_frequency_lowest"].to("Hz").magnitude
        a, t = 2000.0, 1.5 * 2 * math.pi / omega
        lag, speed = a / omega**2 * (1 - math.cos(omega * t)), a / omega * math.sin(omega * t)
        assert math.hypot(lag, speed / omega) == pytest.approx(v["ringing"].to("mm").magnitude)

    @pytest.mark.parametrize("belts", ["single", "shaft"])
    def test_every_layout_is_answered(self, tagmaker, belts):
        v = ask("ringing", changed(tagmaker, machine__belts=belts)).values
        held, given = v["held_frequency_centre"], v["first_frequency_centre"]
        assert given < held
        # each axis by its belts' two or three parts, EA / l each; the lower one rings first
        gantry = gantries.gantry(changed(tagmaker, machine__belts=belts).layout)
        at = ("210 mm", "150 mm")
        parts = [
            (length, g)
            for path in gantry.paths
            for length, g in zip(
                path.lengths(path.pose(*at)), path.gradients(path.pose(*at)), strict=True
            )
        ]
        lowest = min(
            sum(19_400.0 / length * g[axis] ** 2 for length, g in parts) / mass
            for axis, mass in ((0, 0.6), (1, 1.3))
        )
        expected = math.sqrt(lowest * 1000) / (2 * math.pi)
        assert held.to("Hz").magnitude == pytest.approx(expected, rel=1e-6)


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
        # Gaussian lines summed one by one, peak to valley over the mean
        lines, w = 0.08 * np.arange(-20, 21), 0.064458 / 2
        dose = [float(np.sum(np.exp(-2 * ((y - lines) / w) ** 2))) for y in (0.0, 0.04)]
        mean = w * math.sqrt(math.pi / 2) / 0.08
        assert v["ripple"].magnitude == pytest.approx((dose[0] - dose[1]) / mean, rel=1e-3)

    def test_lines_at_the_flip_are_as_even_as_counts(self, tagmaker):
        flip = ask("energy", tagmaker).flips_at["line_spacing"]
        there = ask("energy", changed(tagmaker.typical(), job__line_spacing=flip))
        assert there.values["ripple"].magnitude == pytest.approx(0.1, rel=0.01)

    def test_a_file_without_a_laser_is_told_what_to_add(self, tagmaker):
        bare = attrs.evolve(
            tagmaker,
            heads=attrs.evolve(tagmaker.heads, laser=None),
            ranges={k: v for k, v in tagmaker.ranges.items() if "laser" not in k},
        )
        with pytest.raises(ValueRefused, match=r"add \[heads.laser\]"):
            ask("spot", bare)
        assert "No laser in this file" in ask("hazard", bare).verdict

    def test_a_strong_head_is_class_4_and_one_near_the_limit_is_not_told_apart(self, tagmaker):
        strong = ask("hazard", tagmaker)
        assert strong.values["times_limit"].magnitude == pytest.approx(11.0)  # 5.5 W over 0.5 W
        assert "Class 4" in strong.verdict
        assert any("laser safety officer" in text for text in strong.warnings)
        ranges = {k: v for k, v in tagmaker.ranges.items() if k != "heads.laser.optical_power"}
        for power, sure, told in (
            ("0.3 W", True, "would be Class 3B"),
            (Q([0.4, 0.6, 0.6], "W"), False, "Class 3B or 4 cannot be told yet"),
        ):
            head = attrs.evolve(tagmaker.heads.laser, optical_power=power)
            heads = attrs.evolve(tagmaker.heads, laser=head)
            weak = ask("hazard", attrs.evolve(tagmaker, heads=heads, ranges=ranges).typical())
            assert told in weak.verdict
            assert weak.certain == sure

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
        # 1.3 kg x 2 m/s2 + 4 N; the rotor's inertia never passes through the belt
        assert v["required_tension"].to("N").magnitude == pytest.approx(6.6, rel=1e-9)
        assert v["order_length_belt_x"] != v["order_length_belt_y"]
        assert v["shaft_load"].to("N").magnitude == pytest.approx(40.0)  # twice 20 N
        assert v["allowed_shaft_load"].to("N").magnitude == pytest.approx(56.0)  # 28 x 20 / 10
        # 20 N over 19.4 kN of 420 mm
        assert v["size_error"].to("mm").magnitude == pytest.approx(420 * 20 / 19400, rel=1e-6)

    def test_what_the_job_asks_of_a_crossed_belt_on_a_diagonal(self):
        # (0.6 + 1.3) kg x 2 m/s2 / (2 root 2) = 1.3435 N, and both rails' friction, 4 N
        v = ask("belt", load(TAGMAKER)).values
        assert v["required_tension"].to("N").magnitude == pytest.approx(5.3435, rel=1e-4)
        assert "order_length" in v

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
        remedy = {
            "crossed": "shorten the belt of the left front motor",
            "plain": "square the beam on its rails",
        }
        assert remedy[tagmaker.machine.belts] in answer.verdict

    def test_the_belt_that_is_shortened_turns_the_beam_back(self):
        # Obtuse at the origin: the beam is turned with the clock. What a shorter belt a does to a
        # free beam follows from how the whole lengths change with yaw.
        gantry = gantries.gantry(load(TAGMAKER).layout)
        by_yaw = [float(sum(p.gradients(p.pose("210 mm", "150 mm")))[2]) for p in gantry.paths]
        assert by_yaw[0] < 0 < by_yaw[1]  # the left motor's belt shortens against the clock

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


def test_a_line_spacing_that_is_no_whole_number_of_steps_is_warned_of(tagmaker):
    # 0.08 mm x 160 step/mm = 12.8 steps: the fifth part of a step is left over
    odd = ask("step", tagmaker).warnings
    assert any("12.8 microsteps" in text and "every 5 lines" in text for text in odd)
    even = ask("step", changed(tagmaker, job__line_spacing="0.1 mm")).warnings
    assert not any("repeat every" in text for text in even)


class TestWarnings:
    def test_a_motor_that_cannot_be_sent_its_steps_is_told_so(self, tagmaker):
        slow = changed(tagmaker.typical(), controller__highest_step_rate="15000 step/s")
        verdict = ask("motor", slow).verdict
        assert "Take the 1.8° motor, although it is the coarser one." in verdict
        assert "the 0.9° motor would need" in verdict

    def test_a_tight_belt_is_told_in_the_verdict(self, tagmaker):
        tight = ask("belt", changed(tagmaker.typical(), frame__belt_tension="150 N"))
        # 28 N x 20 / 10 on the shaft is 28 N a strand
        assert "150 N is more than that shaft carries" in tight.verdict
        assert tight.flips_at["tension_at_most"].magnitude == pytest.approx(28.0)

    def test_the_hum_of_the_mains_is_warned_of(self, tagmaker):
        # 51.1 Hz on the crossed machine's span
        if tagmaker.machine.belts == "crossed":
            assert any("hum of the mains: hold" in text for text in ask("belt", tagmaker).warnings)
        quiet = ask("belt", changed(tagmaker.typical(), frame__belt_tension="35 N"))
        assert not any("hum of the mains: hold" in text for text in quiet.warnings)

    def test_readings_that_no_frame_has_are_doubted(self, tagmaker):
        told = {"width": "400 mm", "depth": "280 mm", "diagonal_2": "488.3 mm", "reading": "0.2 mm"}
        wild = attrs.evolve(tagmaker, square=SquareTest(**told, diagonal_1="690 mm"))
        assert "check the four numbers" in ask("square", wild).verdict

    def test_a_wrong_scale_shows_in_both_diagonals(self, tagmaker):
        told = {"width": "400 mm", "depth": "280 mm", "reading": "0.2 mm"}
        long = attrs.evolve(
            tagmaker, square=SquareTest(**told, diagonal_1="493 mm", diagonal_2="493 mm")
        )
        # hypot(400, 280) is 488.26: 493 is 0.97 % long
        assert any("0.97 % too long" in text for text in ask("square", long).warnings)


class TestMoves:
    def test_values_by_hand(self, tagmaker):
        v = ask("moves", tagmaker).values
        # 20 / 0.08 + 1 = 251 lines of 80 / 100 + 2 * 100 / 2000 = 0.9 s
        assert v["raster_time"].to("s").magnitude == pytest.approx(251 * 0.9)
        assert v["naive_time"].to("s").magnitude == pytest.approx(200)  # 80 * 20 / (0.08 * 100)
        assert v["turning_share"].magnitude == pytest.approx(0.1 / 0.9)
        assert v["room"].to("mm").magnitude == pytest.approx(85)  # 80 and twice 10000 / 4000
        # 100 000 step/s over 160 step/mm; along x both motors of crossed belts run as the head
        assert v["stepped_speed"].to("mm/s").magnitude == pytest.approx(625)

    def test_the_verdict_turns_at_the_flip(self, tagmaker):
        flip = ask("moves", tagmaker).flips_at["speed"]
        told = [
            ask("moves", changed(tagmaker, job__speed=factor * flip)).verdict
            for factor in (0.9, 1.0, 1.1)
        ]
        assert "A higher speed shortens it" in told[0]
        assert "No other speed is quicker." in told[1]
        assert "too fast to be quick" in told[2]

    def test_a_motor_without_margin_bounds_the_least_time(self, tagmaker):
        from mathlib.answers import moves

        # with this much acceleration the quickest raster is faster than the finer motor can turn
        eager = changed(tagmaker, job__acceleration="4500 mm/s^2")
        own, other = moves.by_motor(eager)
        best = ask("moves", eager).values["fastest_raster_speed"]
        assert own.limit < best
        assert own.speed == own.limit
        assert own.time > ask("moves", eager).values["least_time"]
        assert f"The {own.name} has margin only up to" in ask("moves", eager).verdict
        assert other.time <= own.time

    def test_a_motor_with_no_margin_at_all_is_told(self, tagmaker):
        wild = changed(tagmaker, job__acceleration="60 m/s^2")
        assert "has no margin at any speed" in ask("moves", wild).verdict

    def test_an_area_too_wide_for_its_run_ups_is_warned_of(self, tagmaker):
        from mathlib.answers import moves

        told = moves.answer(tagmaker, width="418 mm", height="310 mm").warnings
        assert any("423 mm" in text for text in told)
        assert any("higher than the travel" in text for text in told)

    def test_a_path_is_planned_with_the_jobs_limits_and_the_controllers(self, tagmaker):
        from mathlib.answers import moves
        from mathlib.paths import Path

        square = Path(points=Q([[50, 50], [90, 50], [90, 90], [50, 50]], "mm"))
        free = moves.along(tagmaker, square)
        assert free.naive_time.to("s").magnitude == pytest.approx((80 + 40 * math.sqrt(2)) / 100)
        slow = moves.along(changed(tagmaker, controller__highest_step_rate="8000 step/s"), square)
        # 8000 / 160 = 50 mm/s along an axis; on the diagonal of crossed belts over root 2
        diagonal = {"crossed": 50 / math.sqrt(2), "plain": 50 * math.sqrt(2)}
        expected = 80 / 50 + 40 * math.sqrt(2) / diagonal[tagmaker.machine.belts]
        assert slow.naive_time.to("s").magnitude == pytest.approx(expected)
