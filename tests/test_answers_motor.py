"""Which motor: what a test, a curve, a hot winding and other rows of the table change."""

from __future__ import annotations

import math

import attrs
import numpy as np
import pytest

from mathlib import Q, figures
from mathlib.answers import ask, motor, motor_choice, motor_errors
from mathlib.answers.motor_torque import Strength, warm
from mathlib.errors import ValueRefused
from mathlib.figures import budget as budget_figure
from mathlib.machine import TAGMAKER, Machine, load
from mathlib.motion.pull_test import PullTest

PLAIN = TAGMAKER.with_name("tagmaker_plain.toml")


def edited(tmp_path, *changes: tuple[str, str], add: str = "") -> Machine:
    text = TAGMAKER.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path = tmp_path / "mine.toml"
    path.write_text(text + add, encoding="utf-8")
    return load(path)


def at_speed(machine: Machine, speed: str) -> Machine:
    return attrs.evolve(machine, job=attrs.evolve(machine.job, speed=speed))


class TestNameplate:
    def test_a_finer_motor_below_a_margin_of_two_cannot_be_told(self):
        # twice the demand ends at 400 mm/s; the bound is above the demand still
        answer = motor.answer(at_speed(load(TAGMAKER), "430 mm/s"))
        assert not answer.certain
        assert "0.9° motor is strong enough at speed cannot be told from the nameplate" in (
            answer.verdict
        )
        assert "do the pull test" in answer.verdict
        assert answer.values["margin_at_speed"].magnitude < 2

    def test_a_bound_below_the_demand_needs_no_test(self, tmp_path):
        # 60 mN m cannot carry what 12 m/s2 ask, whatever the derating
        weak = ('like = "frame 17, 40 mm, 0.9 deg"\n',
                'like = "frame 17, 40 mm, 0.9 deg"\nholding_torque = "0.06 N*m"\n')  # fmt: skip
        fast = ('acceleration = "2000 mm/s^2"', 'acceleration = "12000 mm/s^2"')
        answer = motor.answer(edited(tmp_path, weak, fast).typical())
        v = answer.values
        assert v["bound_at_speed"] < v["torque_needed"]
        assert "even its ideal bound is too little" in answer.verdict

    def test_where_neither_is_sure_the_likelier_one_is_named(self):
        # at 500 mm/s the 0.9 deg motor needs 500 x 1.414 x 160 = 113 000 steps a second
        answer = motor.answer(at_speed(load(TAGMAKER), "500 mm/s"))
        assert not answer.certain
        assert "controller sends 100000 step/s" in answer.verdict
        assert "The 1.8° motor is enough in" in answer.verdict
        assert "do the pull test with it at speed" in answer.verdict

    def test_where_no_speed_helps_the_limit_says_so(self, tmp_path):
        fast = ('acceleration = "2000 mm/s^2"', 'acceleration = "20000 mm/s^2"')
        answer = motor.answer(edited(tmp_path, fast))
        assert answer.ranges["highest_speed"][1].magnitude == 0
        assert "has margin enough at no speed" in answer.verdict
        assert "between 0 mm/s" not in answer.verdict

    def test_the_verdict_says_where_the_limit_lies(self):
        answer = motor.answer(load(TAGMAKER))
        low, high = answer.ranges["highest_speed"]
        assert low < answer.values["highest_speed"] < high
        assert "The limit of the 0.9° motor lies between" in answer.verdict
        assert "lies below it" in answer.verdict
        inside = motor.answer(at_speed(load(TAGMAKER), f"{low.magnitude * 1.3} mm/s"))
        assert "inside that uncertainty" in inside.verdict

    @pytest.mark.parametrize("path", [TAGMAKER, PLAIN])
    @pytest.mark.parametrize("word", ["supply_voltage", "moved_mass", "acceleration", "speed"])
    def test_at_each_flip_the_margin_is_two(self, path, word):
        machine = load(path).typical()
        flip = motor.answer(machine).flips_at[word]
        if word == "supply_voltage":
            there = attrs.evolve(machine, supply=attrs.evolve(machine.supply, voltage=flip))
        elif word == "moved_mass":
            beam = machine.beam.mass + flip - machine.masses[1]
            there = attrs.evolve(machine, beam=attrs.evolve(machine.beam, mass=beam))
        else:
            there = attrs.evolve(machine, job=attrs.evolve(machine.job, **{word: flip}))
        margin = motor.values(there, there.motor)["margin_at_speed"].magnitude
        assert margin == pytest.approx(2.0, rel=0.01)  # supplies are tried 0.5 % apart

    def test_drawn_limits_of_speed_are_where_the_drawn_margin_is_two(self):
        machine = load(TAGMAKER).draw(20)
        found = motor.values(machine, machine.motor)
        strong = Strength(machine, machine.motor)
        there = strong.expected(found["highest_speed"] * math.sqrt(2))
        margin = (there / found["torque_needed"]).to("1").magnitude
        sent = 100_000 / 160 / math.sqrt(2)  # mm/s that the controller can send
        slow = found["highest_speed"].magnitude < 0.999 * sent
        assert slow.any()
        np.testing.assert_allclose(margin[slow], 2.0, rtol=2e-3)

    def test_a_hot_winding_lowers_the_torque_only_where_voltage_is_short(self):
        machine = load(TAGMAKER).typical()
        hot = warm(machine, machine.motor)
        # rated rise 65 K at 1.68 A; at 1.2 A about half of that, over air of 30 degC
        assert 1.1 < (hot.resistance / machine.motor.resistance).magnitude < 1.25
        strong = Strength(machine, machine.motor)
        for speed, less in (("100 mm/s", False), ("500 mm/s", True)):
            cold, warmed = (strong.bound(Q(speed), cold=c).magnitude for c in (True, False))
            assert (warmed < cold * 0.999) == less

    def test_hold_torque_falls_with_the_hold_current(self):
        v = motor.answer(load(TAGMAKER)).values
        # 0.3236 x 1.2 / 1.68 x 0.7
        assert v["hold_torque"].to("N*m").magnitude == pytest.approx(0.16180, rel=1e-3)

    def test_the_knife_asks_more_by_its_drag_along_the_diagonal(self):
        machine = load(TAGMAKER).typical()
        v = motor.values(machine, machine.motor)
        # 2 N of drag: 1.4142 N more on the one motor; the knife head's 0.12 kg in place of 0.3 kg
        heads = (machine.heads.knife.mass - machine.head_mass).to("kg").magnitude
        more = 2 / math.sqrt(2) + 2 * heads * 2 / (2 * math.sqrt(2))
        found = (v["torque_needed_knife"] - v["torque_needed"]).to("N*m").magnitude
        assert found == pytest.approx(more * 6.3662e-3, rel=1e-4)


TESTED = """
[pull_test]
force = "{force}"
speed = "200 mm/s"
winding = "{winding}"
"""


class TestMeasured:
    def test_a_pull_test_replaces_the_derating(self, tmp_path):
        machine = edited(tmp_path, add=TESTED.format(force="40 N", winding="warm")).typical()
        strong = Strength(machine, machine.motor)
        # (40 + 4) N / 2 on 6.3662 mm, at the speed of the test, whatever the model says
        assert strong.expected(Q("200 mm/s")).to("mN*m").magnitude == pytest.approx(
            22 * 6.3662, rel=1e-4
        )
        assert motor.enough(machine, machine.motor) == 1.5
        assert motor.enough(machine, machine.other_motor) == 2.0  # the other was not tested

    def test_a_pull_test_keeps_its_part_of_the_bound_at_another_supply(self, tmp_path):
        # 30 N at 200 mm/s and 24 V are a part of the bound at 24 V; at the flip it is the same
        machine = edited(tmp_path, add=TESTED.format(force="30 N", winding="warm")).typical()
        flip = motor.answer(machine).flips_at["supply_voltage"]
        there = attrs.evolve(machine, supply=attrs.evolve(machine.supply, voltage=flip))
        strong = Strength(there, there.motor, tested_on=machine)
        top = machine.job.speed * math.sqrt(2)  # below the test's speed, so that no frequency acts
        part = 17 * 6.3662e-3 / Strength(machine, machine.motor).bound(Q("200 mm/s")).magnitude
        torque = strong.bound(top).magnitude * part
        assert strong.expected(top).magnitude == pytest.approx(torque, rel=1e-4)
        assert torque == pytest.approx(
            1.5 * motor.torque_needed(there, there.motor).to("N*m").magnitude, rel=0.01
        )

    def test_tested_cold_a_warm_motor_has_less(self, tmp_path):
        torque = []
        for winding in ("cold", "warm"):
            told = TESTED.format(force="20 N", winding=winding).replace("200 mm/s", "500 mm/s")
            machine = edited(tmp_path, add=told).typical()
            torque.append(Strength(machine, machine.motor).expected(Q("500 mm/s")).magnitude)
        assert torque[0] < torque[1]

    def test_a_finding_narrows_the_margin_and_settles_the_verdict(self, tmp_path):
        finding = """
[[measured]]
key = "pull_test.force"
value = "12 N"
uncertainty = "0.5 N"
date = "2026-05-31"
method = "spring scale, until the mark was missed, motors warm"
"""
        told = TESTED.format(force="12 N", winding="warm").replace("200 mm/s", "430 mm/s")
        machine = at_speed(edited(tmp_path, add=told + finding), "430 mm/s")
        answer = motor.answer(machine)
        # (12 + 4) / 2 x 6.3662 = 50.9 mN m at 430 mm/s along y, less on a diagonal, where 36.4
        # are needed: below 1.5
        assert "as measured" in answer.verdict
        assert "pull test" not in answer.verdict.partition("Here")[0]
        assert "measured 2026-05-31" in machine.contents.measured["pull_test.force"]

    def test_a_curve_replaces_the_model_and_its_dip_decides(self, tmp_path):
        curve = """pull_out = [
    {speed = "800 rpm", torque = "0.12 N*m"},
    {speed = "10 rpm", torque = "24 N*cm"},
    {speed = "190 rpm", torque = "0.05 N*m"},
    {speed = "150 rpm", torque = "0.2 N*m"},
    {speed = "230 rpm", torque = "0.2 N*m"},
]
"""
        like = 'like = "frame 17, 40 mm, 0.9 deg"\n'
        machine = edited(tmp_path, (like, like + curve)).typical()
        v = motor.values(machine, machine.motor)
        # 141.4 mm/s on 6.3662 mm is 212.1 rpm: between 0.05 at 190 and 0.2 at 230 rpm
        expected = 0.05 + 0.15 * (212.13 - 190) / 40
        assert v["torque_at_speed"].magnitude == pytest.approx(expected, rel=1e-3)
        # but on the way there the dip at 190 rpm is passed
        needed = v["torque_needed"].to("N*m").magnitude
        assert v["margin_at_speed"].magnitude == pytest.approx(0.05 / needed, rel=1e-6)
        # enough, 1.5 times, ends on the flank of the dip between 150 and 190 rpm
        rpm = 150 + 40 * (0.2 - 1.5 * needed) / 0.15
        speed = rpm * 2 * math.pi / 60 * 6.3662 / math.sqrt(2)
        assert v["highest_speed"].to("mm/s").magnitude == pytest.approx(speed, rel=1e-3)

    def test_a_pull_test_of_the_other_motor_is_its_own(self, tmp_path):
        told = TESTED.format(force="40 N", winding="warm") + 'motors = "other_motor"\n'
        machine = edited(tmp_path, add=told)
        assert isinstance(machine.pull_test, PullTest)
        assert motor.measured(machine, machine.other_motor)
        assert not motor.measured(machine, machine.motor)


class TestBudget:
    def test_bands_by_hand_for_plain_axes(self):
        machine = load(PLAIN).typical()
        bands = {n: b.to("mm").magnitude for n, b in
                 motor_errors.bands(machine, machine.motor).items()}  # fmt: skip
        assert bands["step_accuracy"] == pytest.approx(0.005)
        assert bands["friction_lag"] == pytest.approx(0.0070278, rel=1e-4)
        # 0.0121125 with acceleration, see the hand arithmetic of the motor's answer
        assert bands["acceleration_lag"] == pytest.approx(0.0121125 - 0.0070278, rel=1e-3)
        # detent 21.6 mN m of 231.14: asin(0.093449) x 6.3662 / 100
        assert bands["detent"] == pytest.approx(math.asin(0.093449) * 0.063662, rel=1e-3)
        # 23.4e-6 x 5 K x 300 mm
        assert bands["temperature"] == pytest.approx(0.0351)
        # 1.3 kg x 2 m/s2 + 4 N on 127.21 N/mm, see the hand arithmetic of ringing
        assert bands["belt_stretch"] == pytest.approx(6.6 / 127.21, rel=1e-3)

    def test_halving_the_step_halves_the_motors_bands_and_no_others(self):
        machine = load(PLAIN).typical()
        half = attrs.evolve(machine.motor, step_angle=machine.motor.step_angle / 2)
        one, two = (motor_errors.bands(machine, m) for m in (machine.motor, half))
        for name in one:
            halves = (one[name] / two[name]).to("1").magnitude
            own = name in ("lattice", "step_accuracy", "detent", "friction_lag", "acceleration_lag")
            assert halves == pytest.approx(2.0 if own else 1.0)

    def test_the_verdict_says_whether_the_motors_share_shows(self):
        answer = motor.answer(load(TAGMAKER))
        assert "The difference hardly shows" in answer.verdict
        assert "the largest is belt stretch" in answer.verdict
        assert answer.values["place_error"] > load(TAGMAKER).job.accuracy
        assert "more than the work needs" in answer.verdict
        stiff = load(TAGMAKER)
        calm = {"eccentricity": "0 mm", "tooth_error": "0 mm", "temperature_change": "0 K"}
        stiff = attrs.evolve(
            stiff,
            errors=attrs.evolve(stiff.errors, **calm),
            belt=attrs.evolve(stiff.belt, specific_stiffness="5 MN"),
            ranges={k: v for k, v in stiff.ranges.items() if not k.startswith(("errors", "belt"))},
        )
        assert "The difference shows" in motor.answer(stiff).verdict

    def test_the_figure_shows_the_bands(self):
        machine = load(TAGMAKER)
        answer = ask("motor", machine)
        figure = figures.draw("budget", answer, machine)
        axes = figure.axes[0]
        named = [text.get_text() for text in axes.get_yticklabels()]
        widths = [bar.get_width() for bar in axes.patches]
        (_, own), (_, other) = budget_figure.budgets(machine)
        place = named.index("step accuracy (motor)")
        assert widths[place] == pytest.approx(own.bands["step_accuracy"].to("mm").magnitude)
        assert widths[len(named) + place] == pytest.approx(2 * widths[place])
        assert widths[-1] == pytest.approx(other.expanded.to("mm").magnitude)
        assert "belt stretch" in figures.describe("budget", answer, machine)


class TestChoice:
    def test_every_motor_of_the_frame_is_judged_and_the_best_places_best(self):
        machine = load(TAGMAKER)
        every = motor_choice.names_of_frame(machine)
        found = motor_choice.compare(machine, every)
        assert len(found.candidates) == len(every) >= 20
        strong = [c for c in found.candidates if c.state == motor_choice.ENOUGH_FOR]
        errors = [c.values["position_error"].to("mm").magnitude for c in strong]
        assert errors == sorted(errors)
        assert f"Take {found.best.name}" in found.verdict
        assert found.best.name in found._repr_markdown_()
        assert "flips at" in found.verdict
        assert "moved along y" in found.verdict

    def test_each_motor_has_its_share_of_its_rated_current(self):
        names = ["frame 17, 40 mm, 0.9 deg", "frame 17, 48 mm, 2.8 A, 1.8 deg"]
        found = {c.name: c for c in motor_choice.compare(load(TAGMAKER), names).candidates}
        # 1.2 A of 1.68 A is 71.4 %; of 2.8 A that is 2 A
        assert found[names[1]].set_current.to("A").magnitude == pytest.approx(2.0)
        assert found[names[0]].values["margin_at_speed"].magnitude == pytest.approx(
            motor.answer(load(TAGMAKER)).values["margin_at_speed"].magnitude
        )

    def test_at_high_speed_it_cannot_be_told_and_beyond_nothing_does_it(self):
        names = ["frame 17, 40 mm, 0.9 deg", "frame 17, 40 mm, 1.8 deg"]
        machine = load(TAGMAKER)
        free = attrs.evolve(machine.controller, highest_step_rate="10000000 step/s")
        machine = attrs.evolve(machine, controller=free)
        near = motor_choice.compare(at_speed(machine, "1000 mm/s"), names)
        assert not near.certain
        assert "cannot be told from their nameplates" in near.verdict
        far = motor_choice.compare(at_speed(machine, "9000 mm/s"), names)
        assert far.verdict.startswith("None of these motors does this job")

    def test_one_alone_and_an_unknown_one_are_refused(self):
        with pytest.raises(ValueRefused, match="two rows"):
            motor_choice.compare(load(TAGMAKER), ["frame 17, 40 mm, 0.9 deg"])
        with pytest.raises(ValueRefused, match=r"has no row 'frame 17, 41 mm, 0.9 deg'; did you"):
            motor_choice.compare(load(TAGMAKER), ["frame 17, 41 mm, 0.9 deg", "x"])
