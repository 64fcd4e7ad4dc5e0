"""Coupon plans: few lines, scattered, near the predicted boundary; and who must not burn any."""

from __future__ import annotations

import itertools
import math

import attrs
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from mathlib import Q, materials
from mathlib.errors import UnitError, ValueRefused
from mathlib.laser import cutting
from mathlib.laser.beams import Module
from mathlib.machine import TAGMAKER, load
from mathlib.materials import NeverProcess
from mathlib.measure import coupon_layout, coupon_plan, coupons

MINE = load(TAGMAKER)
HEAD = MINE.heads.laser


def plan(material="birch plywood", thickness="3 mm", head=HEAD, machine=MINE, seed=1, **more):
    return coupons.plan(material, thickness, head, machine, seed, **more)


def with_job(**more):
    return attrs.evolve(MINE, job=attrs.evolve(MINE.job, **more))


def places(piece: coupons.Piece) -> np.ndarray:
    """A line with its run-ups as points, some 0.2 mm apart."""
    start, _, _, end = (np.array(point) for point in piece.points)
    return start + np.linspace(0, 1, 80)[:, None] * (end - start)


def apart(one: coupons.Piece, other: coupons.Piece) -> float:
    """Distance of two lines in mm, by brute force over their points."""
    a, b = places(one), places(other)
    return float(np.sqrt(((a[:, None] - b[None]) ** 2).sum(axis=-1)).min())


def length(piece: coupons.Piece) -> float:
    return math.dist(piece.points[0], piece.points[-1])


def test_a_head_without_beam_quality_burns_as_the_usual_one():
    told = {"optical_power": "10 W", "wavelength": "450 nm", "focal_length": "30 mm"}
    told |= {"spot_diameter": "0.08 mm"}
    here, there = plan(head=Module(**told)), plan(head=Module(**told, beam_quality="15 1"))
    assert here.levels == there.levels
    assert here.beam.beam_quality.magnitude == pytest.approx(15)
    for bad in (told, None, 5):
        with pytest.raises(ValueRefused, match="module is a Module, or a row"):
            plan(head=bad)


def test_no_line_follows_its_nearest_even_where_lines_lie_far_apart():
    rng = np.random.default_rng(1)
    tried = 0
    for _ in range(60):
        corners = rng.uniform(0, 900, (9, 2))
        boxes = np.hstack([corners, corners + np.array([12.0, 0.0])])
        if coupon_layout.gaps(boxes)[np.triu_indices(9, 1)].min() < 30:
            continue
        tried += 1
        turn, _ = coupon_layout.order(boxes, rng)
        between = coupon_layout.gaps(boxes) + np.diag(np.full(9, np.inf))
        for one, other in itertools.pairwise(turn):
            assert between[one].argmin() != other
            assert between[other].argmin() != one
    assert tried > 9


class TestWhatIsAsked:
    def test_levels_lie_around_the_predicted_boundary(self):
        made = plan()
        passes = made.pieces[1].passes
        span = cutting.cut_speed("birch plywood", "3 mm", made.power, made.beam, passes)
        low, middle, high = (
            float(v.to("mm/s").magnitude) for v in (span.low, span.typical, span.high)
        )
        levels = made.levels
        assert len(levels) == 5
        assert levels[0] == pytest.approx(max(low, 1.0), rel=1e-3)
        assert levels[-1] == pytest.approx(high, rel=1e-3)
        assert levels[0] < middle < levels[-1]
        ratios = [b / a for a, b in itertools.pairwise(levels)]
        assert ratios == pytest.approx([ratios[0]] * 4, rel=2e-3)

    def test_three_or_more_of_each_grain_at_the_inner_levels_and_few_in_all(self):
        made = plan()
        counted = {}
        for piece in made.pieces:
            if piece.kind == "cut":
                key = (piece.speed, piece.across)
                counted[key] = counted.get(key, 0) + 1
        for speed in made.levels[1:-1]:
            assert counted[speed, True] == counted[speed, False] == 3
        for speed in (made.levels[0], made.levels[-1]):
            assert counted[speed, True] == counted[speed, False] == 1
        assert len(made.pieces) == 27  # 3 * 2 * 3 + 2 * 2 and five marks

    def test_more_replicates_are_given_and_fewer_refused(self):
        made = plan(replicates=4)
        assert sum(p.kind == "cut" for p in made.pieces) == 4 * 2 * 3 + 2 * 2
        with pytest.raises(ValueRefused, match="replicates is a whole number, 3 or more"):
            plan(replicates=2)

    def test_marks_are_too_fast_to_sever_and_lie_far_apart_in_energy(self):
        made = plan()
        marks = sorted(p.speed for p in made.pieces if p.kind == "mark")
        assert len(marks) == 5
        assert marks[0] > made.levels[-1]
        assert marks[-1] <= 100.0  # of the job
        assert marks[-1] > 3 * marks[0]
        assert {p.passes for p in made.pieces if p.kind == "mark"} == {1}
        slow = with_job(speed=Q("5 mm/s"))
        assert {p.kind for p in plan(machine=slow).pieces} == {"cut"}

    def test_lines_are_longer_than_two_run_ups_and_ten_millimetres(self):
        for acceleration in (150.0, 2000.0, 9000.0):
            made = plan(machine=with_job(acceleration=Q(acceleration, "mm/s^2")))
            for piece in made.pieces:
                needed = piece.speed**2 / (2 * acceleration)  # v^2 / 2a
                assert piece.run >= 1.25 * needed + 1.0 - 1e-9
                assert length(piece) >= 2 * needed + 10 + 2
                start, first, last, end = piece.points
                assert math.dist(first, last) == pytest.approx(12.0)
                assert math.dist(start, first) == pytest.approx(piece.run)
                assert math.dist(last, end) == pytest.approx(piece.run)

    def test_the_table_asks_for_thickness_and_moisture(self):
        head = next(line for line in coupons.form(plan()).splitlines() if line[:6] == "number")
        assert {"thickness [mm]", "moisture [%]", "severed", "darkness [1]"} <= set(head.split(","))

    def test_the_same_seed_gives_the_same_plan_and_another_another(self):
        told = [(p.kind, p.speed, p.box) for p in plan(seed=5).pieces]
        assert told == [(p.kind, p.speed, p.box) for p in plan(seed=5).pieces]
        assert told != [(p.kind, p.speed, p.box) for p in plan(seed=6).pieces]

    def test_it_says_what_is_to_be_burned(self):
        text = repr(plan())
        assert "27 lines" in text
        assert "22 to find the boundary, 3 passes at" in text
        assert "5.5 W of light" in text


seeds = some.integers(0, 10**6)


class TestScattering:
    @settings(max_examples=6)
    @given(seeds)
    def test_lines_keep_their_distance_in_space_and_the_next_one_a_larger_one(self, seed):
        pieces = plan(seed=seed).pieces
        for one, other in itertools.combinations(pieces, 2):
            assert apart(one, other) >= coupon_layout.GAP - 0.15
        told = float(plan(seed=seed).apart.magnitude)
        following = [apart(a, b) for a, b in itertools.pairwise(pieces)]
        assert min(following) == pytest.approx(told, abs=0.2)
        assert min(following) > 2.5 * coupon_layout.GAP

    @settings(max_examples=12)
    @given(seeds)
    def test_all_lie_on_the_sheet_and_the_sheet_in_the_work_area(self, seed):
        made = plan(seed=seed)
        width, depth = made.sheet.magnitude
        assert width <= 420
        assert depth <= 300
        points = np.array([point for piece in made.pieces for point in piece.points])
        assert points.min() >= coupon_layout.MARGIN - 1e-6
        assert points[:, 0].max() <= width - coupon_layout.MARGIN + 1e-6
        assert points[:, 1].max() <= depth - coupon_layout.MARGIN + 1e-6

    def test_there_are_no_rows_and_no_columns(self):
        for seed in range(8):
            for across in (False, True):
                k = 0 if across else 1
                there = sorted(p.points[0][k] for p in plan(seed=seed).pieces if p.across is across)
                steps = np.diff(there)
                assert np.sum(steps < 0.05) <= 1  # two may meet by chance, a row would be many
                assert np.std(steps) > 0.4 * np.mean(steps)  # a grid has equal steps

    def test_speed_goes_neither_with_the_order_nor_with_the_place(self):
        found = []
        for seed in range(40):
            pieces = [p for p in plan(seed=seed).pieces if p.kind == "cut"]
            speed = np.log([p.speed for p in pieces])
            order = [p.number for p in pieces]
            x, y = np.array([p.points[0] for p in pieces]).T
            found.append([np.corrcoef(speed, other)[0, 1] for other in (order, x, y)])
        # Of 22 lines a correlation scatters by 1/sqrt(21) = 0.22, the mean of 40 by 0.035.
        assert np.abs(np.mean(found, axis=0)).max() < 0.11
        assert np.abs(found).max() < 0.85

    def test_pieces_are_numbered_as_they_burn(self):
        assert [p.number for p in plan().pieces] == list(range(1, 28))


class TestRefusals:
    @pytest.mark.parametrize("name", materials.names("never"))
    def test_what_must_never_be_processed_has_no_coupon(self, name):
        record = materials.material(name)
        for call in (
            lambda: plan(name, supplier_sheet="a sheet"),
            lambda: plan(record, supplier_sheet="a sheet"),
            lambda: coupons.update(name, [], supplier_sheet="a sheet"),
        ):
            with pytest.raises(NeverProcess, match="never to be processed") as refused:
                call()
            assert record.reason in str(refused.value)
            for product in record.products:
                assert product in str(refused.value)

    def test_an_unknown_one_waits_for_its_data_sheet_and_nobody_is_told_to_burn_it(self):
        with pytest.raises(ValueRefused, match="Do not burn a sample"):
            plan("unobtanium board")
        mine = attrs.evolve(materials.material("pine"), name="walnut", hazard="unknown")
        with pytest.raises(ValueRefused, match="data sheet"):
            plan(mine)
        assert "walnut" in repr(plan(mine, supplier_sheet="sheet of 2026"))

    def test_the_care_list_is_warned(self):
        assert any("half an hour" in text or "half" in text for text in plan("MDF").cautions)
        assert any("glue" in text for text in plan().cautions)

    def test_a_boundary_that_the_machine_cannot_reach(self):
        with pytest.raises(ValueRefused, match="not severed at 1 mm/s even in 6 passes"):
            plan(thickness="30 mm")
        with pytest.raises(ValueRefused, match="of light at 450 nm; the rest passes through"):
            plan("clear acrylic")
        with pytest.raises(ValueRefused, match="at every speed up to the machine's 2 mm/s"):
            plan("cork", "0.5 mm", "gas tube, 40 W", with_job(speed=Q("2 mm/s")))

    def test_metal_is_marked_not_cut(self):
        with pytest.raises(ValueRefused, match="marked by these lasers, not cut"):
            plan("bare aluminium")

    def test_a_work_area_that_is_too_small(self):
        area = attrs.evolve(MINE.machine, travel_x=Q("60 mm"), travel_y=Q("40 mm"))
        with pytest.raises(ValueRefused, match="do not fit into a work area of 60 mm by 40 mm"):
            plan(machine=attrs.evolve(MINE, machine=area))

    @pytest.mark.parametrize("seed", [-1, 1.0, True, "1"])
    def test_a_seed_is_a_whole_number(self, seed):
        with pytest.raises(ValueRefused, match="seed is a whole number"):
            plan(seed=seed)

    def test_a_thickness_is_one_length(self):
        with pytest.raises(UnitError, match="thickness"):
            plan(thickness=3)
        with pytest.raises(ValueRefused, match="single value"):
            plan(thickness=Q([3, 4], "mm"))

    def test_a_head_that_there_is_not(self):
        with pytest.raises(ValueRefused, match="one of blue diode, one emitter"):
            plan(head="a strong one")


def test_a_row_of_the_table_stands_for_a_head():
    made = plan(head="gas tube, 40 W")
    assert made.module == Module(
        optical_power="40 W", wavelength="10600 nm", wavelength_tolerance="50 nm",
        focal_length="50.8 mm", beam_diameter="6 mm", beam_quality=1.1, mass="0.15 kg",
    )  # fmt: skip
    # 4 M2 lambda f / (pi D) = 4 * 1.1 * 10.6e-3 * 50.8 / (pi * 6) mm
    focus = float(made.beam.waist_diameter.to("mm").magnitude)
    assert focus == pytest.approx(4 * 1.1 * 10.6e-3 * 50.8 / (math.pi * 6), rel=1e-6)
    assert not made.beam.elliptical


def test_both_axes_of_a_head_go_into_its_beam():
    made = plan()
    widths = made.beam.waist_diameter.to("mm").magnitude
    assert made.beam.elliptical
    assert widths[1] == pytest.approx(2 * widths[0], rel=1e-3)  # 4 mm and 2 mm at the lens


def test_a_second_plan_begins_where_the_first_one_ended():
    made = plan()
    told = {"power": made.power, "thickness": "3 mm", "beam": made.beam, "passes": 3}
    cuts = [
        told | {"speed": Q(p.speed, "mm/s"), "severed": p.speed < 1.6}
        for p in made.pieces
        if p.kind == "cut"
    ]
    again = plan(coupons.update("birch plywood", cuts))
    span = again.levels[-1] / again.levels[0]
    assert span < 0.75 * made.levels[-1] / made.levels[0]
    assert again.levels[0] < 1.65 < again.levels[-1]


def test_run_ups_by_hand():
    # 1.25 * 100^2 / (2 * 2000) + 1 = 4.125, up to the next hundredth
    assert coupon_plan.run_ups(np.array([100.0, 1.0]), 2000.0) == pytest.approx([4.13, 1.01])
