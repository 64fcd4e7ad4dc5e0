"""What follows from the length of a belt, against textbook results and finite differences."""

from __future__ import annotations

import math

import attrs
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.motion import belts, gantries
from mathlib.motion.belts import Belt
from mathlib.motion.gantries import Layout
from mathlib.motion.routes import BeltPath, Node, Pose, Pulley

EA = 19_400.0  # N
WIDTH = 480.0  # mm
BELT = Belt(
    pitch="2 mm",
    width="6 mm",
    specific_stiffness=f"{EA} N",
    mass_per_length="8.3 g/m",
    thickness="1.38 mm",
    tooth_height="0.75 mm",
    pitch_line_differential="0.254 mm",
)
BUILDERS = {
    "crossed": gantries.crossed_belts,
    "plain": gantries.plain_axes,
    "shaft": gantries.common_shaft,
    "single": gantries.single_belt,
}
GRID_X = Q(np.linspace(0.0, 420.0, 8)[:, None], "mm")
GRID_Y = Q(np.linspace(0.0, 300.0, 6), "mm")


def built(kind: str, **more):
    told = {"rail_spacing": f"{WIDTH} mm", "travel_x": "420 mm", "travel_y": "300 mm"}
    return BUILDERS[kind](Layout(belts=kind, belt=BELT, **(told | more)))


@pytest.mark.parametrize("kind", list(BUILDERS))
def test_with_parallel_runs_the_whole_length_is_the_same_everywhere(kind):
    for path in built(kind).paths:
        whole = sum(path.part_lengths(GRID_X, GRID_Y)).magnitude
        assert whole.shape == (8, 6)
        assert np.ptp(whole) < 1e-9


@pytest.mark.parametrize("kind", list(BUILDERS))
@pytest.mark.parametrize("offset", ["0 mm", "4 mm"])
def test_gradients_equal_central_differences(kind, offset):
    for path in built(kind, run_offset=offset).paths:
        here = np.array([120.0, 70.0, 0.03])
        exact = np.array(path.gradients(Pose(*here, path.pivot_x)))
        for axis, step in enumerate(np.eye(3) * 1e-4):
            up = np.array(path.lengths(Pose(*(here + step), path.pivot_x)))
            down = np.array(path.lengths(Pose(*(here - step), path.pivot_x)))
            # a step of 1e-4 leaves 1e-8 of curvature and 1e-9 of rounding
            assert exact[:, axis] == pytest.approx((up - down) / 2e-4, abs=2e-6 * WIDTH)


class TestCrossed:
    def test_motor_travel_is_the_sum_and_the_difference(self):
        matrix = built("crossed").travel_matrix(GRID_X, GRID_Y).magnitude
        assert matrix.shape == (8, 6, 2, 2)
        assert np.allclose(matrix, [[1, 1], [1, -1]], atol=1e-12)

    def test_both_motors_pull_on_the_axes_and_one_alone_on_the_diagonal(self):
        gantry = built("crossed")
        along = gantry.carriage_force("30 N", "30 N", "100 mm", "50 mm")
        assert along.magnitude == pytest.approx([60.0, 0.0])
        diagonal = gantry.carriage_force("30 N", "0 N", "100 mm", "50 mm")
        assert np.linalg.norm(diagonal.magnitude) == pytest.approx(30 * math.sqrt(2))

    def test_unequal_tensions_rack_by_their_difference_times_the_width(self):
        moment = built("crossed").racking_moment("40 N", "34 N")
        assert moment.to("N*m").magnitude == pytest.approx(0.480 * 6.0, rel=1e-12)

    def test_stiffness_equals_the_four_span_matrix(self):
        gantry = built("crossed")
        x, y = 123.0, 77.0
        found = gantry.stiffness(f"{x} mm", f"{y} mm")
        by_hand = np.zeros((3, 3))
        signs = {0: (1.0, 1.0), 1: (-1.0, 1.0)}  # a lengthens with +x +y, b with -x +y
        for number, path in enumerate(gantry.paths):
            lengths = [v.to("mm").magnitude for v in path.part_lengths(f"{x} mm", f"{y} mm")]
            sx, sy = signs[number]
            # yaw about mid beam: a y run at 0 or W moves by half the width; the runs along the
            # beam lie on its axis of turning
            near = -WIDTH / 2 if number == 0 else WIDTH / 2
            spans = (np.array([sx, sy, near]), np.array([-sx, -sy, near]))
            for length, g in zip(lengths, spans, strict=True):
                by_hand += EA / length * np.outer(g, g)
        assert found.translation.magnitude == pytest.approx(by_hand[:2, :2], rel=1e-9)
        assert found.coupling.magnitude == pytest.approx(by_hand[:2, 2], rel=1e-9)
        assert found.yaw.magnitude == pytest.approx(by_hand[2, 2] * 1e-3, rel=1e-9)

    def test_a_force_along_x_racks_by_the_difference_of_the_spans(self):
        gantry = built("crossed")
        first, second = gantry.paths[0].part_lengths("210 mm", "100 mm")
        k1, k2 = EA / first.magnitude, EA / second.magnitude
        expected = 0.480 * 20 / 2 * (k1 - k2) / (k1 + k2)
        found = gantry.racking_under_force("20 N", "210 mm", "100 mm")
        assert found.to("N*m").magnitude == pytest.approx(expected, rel=1e-9)

    def test_rail_blocks_add_to_the_yaw_stiffness(self):
        gantry = built("crossed")
        free = gantry.stiffness("100 mm", "50 mm").yaw.magnitude
        held = gantry.stiffness("100 mm", "50 mm", yaw_stiffness="500 N*m/rad").yaw.magnitude
        assert held - free == pytest.approx(500.0)

    def test_one_tooth_turns_a_free_beam_by_half_of_it(self):
        # Equal belts, one shortened by a tooth: the yaw at which both tensions agree again.
        path_a, path_b = built("crossed").paths
        tooth = 2.0

        def difference(yaw):
            whole = [sum(p.lengths(Pose(210.0, 150.0, yaw, p.pivot_x))) for p in (path_a, path_b)]
            return whole[0] - tooth - whole[1]

        low, high = -0.02, 0.02
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (
                (middle, high) if difference(low) * difference(middle) > 0 else (low, middle)
            )
        assert abs(middle) == pytest.approx(tooth / (2 * WIDTH), rel=1e-3)


class TestOthers:
    def test_plain_axes_drive_each_axis_by_itself(self):
        for kind in ("plain", "shaft"):
            matrix = built(kind).travel_matrix("100 mm", "50 mm").magnitude
            assert matrix == pytest.approx(np.eye(2), abs=1e-12)

    def test_a_belt_along_the_beam_is_two_springs(self):
        gantry = built("plain")
        first, second = gantry.paths[0].part_lengths("100 mm", "50 mm")
        by_formula = belts.carriage_stiffness(
            specific_stiffness=f"{EA} N", length_1=first, length_2=second
        )
        found = gantry.stiffness("100 mm", "50 mm").translation[0, 0]
        assert found.to("N/mm").magnitude == pytest.approx(by_formula.to("N/mm").magnitude)

    def test_two_belts_on_one_shaft_are_twice_as_stiff_and_resist_yaw(self):
        one, two = built("plain"), built("shaft")
        y_one = one.stiffness("210 mm", "50 mm").translation[1, 1].magnitude
        y_two = two.stiffness("210 mm", "50 mm").translation[1, 1].magnitude
        assert y_two == pytest.approx(2 * y_one)
        yaw_one = one.stiffness("210 mm", "50 mm").yaw.magnitude
        assert two.stiffness("210 mm", "50 mm").yaw.magnitude > 100 * yaw_one

    def test_one_belt_round_both_axes_racks_by_half_the_width_times_the_force(self):
        moment = built("single").racking_under_force("20 N", "210 mm", "100 mm")
        assert abs(moment.to("N*m").magnitude) == pytest.approx(0.480 * 20 / 2, rel=1e-9)

    def test_the_single_belt_moves_the_head_as_crossed_ones_do(self):
        matrix = built("single").travel_matrix("100 mm", "50 mm").magnitude
        assert matrix == pytest.approx(np.array([[1.0, 1.0], [1.0, -1.0]]), abs=1e-12)


class TestNotParallel:
    def test_parallel_runs_make_no_error(self):
        error = built("crossed").parallel_error(GRID_X, GRID_Y)
        assert np.max(np.abs(error.position.magnitude)) < 1e-9
        assert np.max(np.abs(error.tension.magnitude)) < 1e-9

    @pytest.mark.parametrize("kind", list(BUILDERS))
    def test_place_and_tension_are_those_of_least_energy(self, kind):
        # Another route: put the motors where parallel runs would have them, let the head settle
        # where the springs of the true lengths hold the least energy, and read both.
        gantry, plain = built(kind, run_offset="5 mm"), built(kind)
        at, middle = (380.0, 260.0), (210.0, 150.0)

        def parts(g, x, y):
            return np.array([v for p in g.paths for v in p.lengths(Pose(x, y, 0.0, p.pivot_x))])

        # what the motors let through: the change of the parts of the parallel machine
        free = parts(gantry, *middle) + parts(plain, *at) - parts(plain, *middle)

        def energy(moved):
            now = parts(gantry, at[0] + moved[0], at[1] + moved[1])
            return 0.5 * np.sum(EA / free * (now - free) ** 2)

        settled = minimize(energy, (0.0, 0.0), method="Nelder-Mead", options={"xatol": 1e-7})
        found = gantry.parallel_error(f"{at[0]} mm", f"{at[1]} mm")
        # linear springs against the true ones: the error is up to 1 mm on runs of some 100 mm
        assert found.position.magnitude == pytest.approx(settled.x, abs=0.015)
        stretched = parts(gantry, *(np.array(at) + settled.x)) - free
        start = 0
        for number, path in enumerate(gantry.paths):
            mine = slice(start, start + len(path.drives) + 1)
            start = mine.stop
            tension = EA * np.sum(stretched[mine]) / np.sum(free[mine])
            assert found.tension.magnitude[number] == pytest.approx(tension, rel=0.02, abs=0.05)

    def test_an_offset_run_grows_by_its_root(self):
        # A y run that is out by e over its length s has sqrt(s^2 + e^2) instead of s.
        gantry = built("plain", run_offset="2 mm", overrun="200 mm")
        path = gantry.paths[1]
        e = 2.0
        idler = path.nodes[2]
        first = np.array([path.part_lengths("0 mm", f"{y} mm")[1].magnitude for y in (0.0, 300.0)])
        # The run from the idler leaves its line by e there. The idler's radius r enters only to
        # third order, r e^2 / s^2 or 6e-4 mm for the shortest run.
        runs = [idler.y - 2.0 - y for y in (0.0, 300.0)]
        grown = [math.hypot(s, e) - s for s in runs]
        change = (first[1] - first[0]) - -300.0
        assert change == pytest.approx(grown[1] - grown[0], abs=6e-4)

    def test_the_tolerance_of_a_pulley_gives_the_accuracy(self):
        found = built("crossed", overrun="45 mm").place_tolerance("0.05 mm")
        by_name = {each.pulley: each for each in found}
        # Putting that post there makes an error of just the accuracy somewhere in the field.
        gantry = built("crossed", overrun="45 mm")
        pulleys = [list(belt) for belt in _pulleys_of(gantry)]
        allowed = by_name["belt a, rear right"].x
        pulleys[0][3] = attrs.evolve(pulleys[0][3], x=pulleys[0][3].x + allowed)
        moved = built("crossed", overrun="45 mm", pulleys=tuple(map(tuple, pulleys)))
        x, y = Q(np.linspace(0, 420, 9)[:, None], "mm"), Q(np.linspace(0, 300, 9), "mm")
        error = np.linalg.norm(moved.parallel_error(x, y).position.magnitude, axis=-1)
        # the smaller of both ways is stated, so this way may leave a little
        assert np.max(error) == pytest.approx(0.05, rel=1e-2)
        assert np.isinf(by_name["belt a, rear left"].x.magnitude)  # its run is across the frame
        assert np.isinf(by_name["belt a, motor"].y.magnitude)

    def test_four_times_the_error_is_allowed_for_about_twice_the_offset(self):
        gantry = built("plain", overrun="45 mm")
        one, four = (gantry.place_tolerance(a)[2].x.magnitude for a in ("0.01 mm", "0.04 mm"))
        assert four == pytest.approx(2 * one, rel=0.02)  # the square law, to fourth order


class TestRoutes:
    def test_an_open_belt_round_two_pulleys_by_the_textbook(self):
        # Half of an open belt, from the top of one pulley's run to the other, with the exact
        # length 2 sqrt(C^2 - (R-r)^2) + pi (R + r) + 2 (R - r) asin((R - r) / C).
        big, small, apart = 50.929582 / 2, 12.732395 / 2, 100.0
        angle = math.asin((big - small) / apart)
        # A start and end point on the lower run, outside both pulleys' arcs.
        nodes = [
            Node("start", apart / 2, _lower_run(big, small, apart), "frame"),
            Node("small", apart, 0.0, "frame", small, 1.0),
            Node("big", 0.0, 0.0, "frame", big, 1.0),
            Node("end", apart / 2, _lower_run(big, small, apart), "frame"),
        ]
        first, second = BeltPath(nodes, 2, 0.0).part_lengths("0 mm", "0 mm")
        whole = (
            2 * math.sqrt(apart**2 - (big - small) ** 2)
            + math.pi * (big + small)
            + 2 * (big - small) * angle
        )
        assert (first + second).to("mm").magnitude == pytest.approx(whole, abs=1e-9)

    def test_overlapping_pulleys_are_named(self):
        nodes = [
            Node("start", 0.0, 0.0, "frame"),
            Node("left", 20.0, 0.0, "frame", 10.0, 1.0),
            Node("right", 25.0, 0.0, "frame", 10.0, -1.0),
            Node("end", 80.0, 0.0, "frame"),
        ]
        with pytest.raises(ValueRefused, match="left and right overlap or touch"):
            BeltPath(nodes, 1, 0.0, "belt q").part_lengths("0 mm", "0 mm")

    def test_neighbours_on_one_side_that_overlap_are_named(self):
        def length(apart):
            nodes = [
                Node("start", -50.0, 10.0, "frame"),
                Node("left", 0.0, 0.0, "frame", 10.0, -1.0),
                Node("right", apart, 0.0, "frame", 10.0, -1.0),
                Node("end", apart + 50.0, -20.0, "frame"),
            ]
            return BeltPath(nodes, 1, 0.0).part_lengths("0 mm", "0 mm")

        with pytest.raises(ValueRefused, match="left and right overlap or touch"):
            length(12.0)
        assert len(length(21.0)) == 2

    def test_a_pulley_on_the_wrong_side_is_named(self):
        nodes = [
            Node("start", 0.0, 0.0, "frame"),
            Node("idler", 50.0, 9.0, "frame", 10.0, -1.0),
            Node("end", 100.0, 60.0, "frame"),
        ]
        with pytest.raises(ValueRefused, match="does not reach round idler"):
            BeltPath(nodes, 1, 0.0).part_lengths("0 mm", "0 mm")

    def test_a_smooth_idler_has_the_radius_of_the_side_that_runs_on_it(self):
        told = {"x": "0 mm", "y": "0 mm", "on": "frame", "side": "left", "diameter": "12 mm"}
        teeth = Pulley(**told, face="teeth").pitch_radius(BELT)
        back = Pulley(**told, face="back").pitch_radius(BELT)
        # 6 + 0.75 + 0.254, and 6 + 1.38 - 0.75 - 0.254
        assert teeth.to("mm").magnitude == pytest.approx(7.004)
        assert back.to("mm").magnitude == pytest.approx(6.376)

    @given(x=st.floats(0, 420), y=st.floats(0, 300), dx=st.floats(-50, 50), dy=st.floats(-50, 50))
    def test_the_work_of_the_belts_is_the_work_at_the_head(self, x, y, dx, dy):
        gantry = built("crossed")
        matrix = gantry.travel_matrix(f"{x:.6f} mm", f"{y:.6f} mm").magnitude
        force = gantry.carriage_force("7 N", "-3 N", f"{x:.6f} mm", f"{y:.6f} mm").magnitude
        travel = matrix @ [dx, dy]
        assert force @ [dx, dy] == pytest.approx(7 * travel[0] - 3 * travel[1], abs=1e-9)


def _lower_run(big: float, small: float, apart: float) -> float:
    """Height of the lower common tangent half way between the centres."""
    angle = math.asin((big - small) / apart)
    start = -big * math.cos(angle)
    return start + (apart / 2 - big * math.sin(angle) * 1.0) * math.tan(angle)


class TestMeasuredPlaces:
    def test_pulleys_at_their_drawn_places_change_nothing(self):
        gantry = built("crossed")
        given_again = built("crossed", pulleys=_pulleys_of(gantry))
        for one, two in zip(gantry.paths, given_again.paths, strict=True):
            assert two.lengths(Pose(10.0, 20.0, 0.0, WIDTH / 2)) == pytest.approx(
                one.lengths(Pose(10.0, 20.0, 0.0, WIDTH / 2))
            )

    def test_a_post_that_is_out_of_place_makes_an_error(self):
        pulleys = [list(belt) for belt in _pulleys_of(built("crossed"))]
        pulleys[0][3] = attrs.evolve(pulleys[0][3], x=pulleys[0][3].x + Q("1 mm"))
        gantry = built("crossed", pulleys=tuple(tuple(belt) for belt in pulleys))
        worst = np.max(np.abs(gantry.parallel_error(GRID_X, GRID_Y).position.magnitude))
        assert 0.01 < worst < 1.0

    def test_too_few_sequences_are_told(self):
        with pytest.raises(ValueRefused, match="pulleys has 1 sequences; 2 belts"):
            built("crossed", pulleys=_pulleys_of(built("crossed"))[:1])


def _pulleys_of(gantry):
    return tuple(
        tuple(
            Pulley(
                x=f"{node.x!r} mm",
                y=f"{node.y!r} mm",
                on=node.on,
                side="left" if node.turn > 0 else "right",
                teeth=20,
                pitch="2 mm",
            )
            for node in path.nodes[1:-1]
        )
        for path in gantry.paths
    )


def test_what_to_order_covers_the_belt_and_both_clamps():
    for (length, teeth), path in zip(
        built("crossed").order_lengths("20 mm"), built("crossed").paths, strict=True
    ):
        whole = sum(path.lengths(Pose(0.0, 0.0, 0.0, path.pivot_x)))
        assert length.to("mm").magnitude == teeth * 2
        assert 0 <= length.to("mm").magnitude - (whole + 40) < 2


class TestEnergisedMotors:
    def test_a_magnetic_spring_stands_behind_the_belt(self):
        gantry = built("plain")
        belt = gantry.stiffness("100 mm", "50 mm").translation.magnitude
        both = gantry.stiffness("100 mm", "50 mm", motor_stiffness="500 N/mm").translation.magnitude
        for axis in (0, 1):  # two springs one behind the other
            k = belt[axis, axis]
            assert both[axis, axis] == pytest.approx(k * 500 / (k + 500))

    def test_two_belts_on_a_shaft_share_one_motor(self):
        gantry = built("shaft")
        k = gantry.stiffness("100 mm", "50 mm").translation.magnitude[1, 1]
        both = gantry.stiffness("100 mm", "50 mm", motor_stiffness="500 N/mm").translation.magnitude
        assert both[1, 1] == pytest.approx(k * 500 / (k + 500))

    def test_a_very_stiff_motor_is_a_held_one(self):
        gantry = built("crossed")
        held = gantry.stiffness("100 mm", "50 mm").translation.magnitude
        stiff = gantry.stiffness("100 mm", "50 mm", motor_stiffness="1e12 N/mm")
        assert stiff.translation.magnitude == pytest.approx(held, rel=1e-6)

    def test_arrays_of_belts_broadcast(self):
        drawn = attrs.evolve(BELT, specific_stiffness=Q([10_000.0, 20_000.0], "N"))
        gantry = gantries.crossed_belts(attrs.evolve(built("crossed").layout, belt=drawn))
        found = gantry.stiffness("100 mm", "50 mm").translation.magnitude
        assert found.shape == (2, 2, 2)
        assert found[1] == pytest.approx(2 * found[0])


class TestSecondDerivatives:
    @pytest.mark.parametrize("kind", list(BUILDERS))
    def test_they_equal_differences_of_the_gradients(self, kind):
        for path in built(kind, run_offset="4 mm").paths:
            here = np.array([120.0, 70.0, 0.03])
            exact = np.array(path.curvatures(Pose(*here, path.pivot_x)))
            for axis, step in enumerate(np.eye(3) * 1e-4):
                up = np.array(path.gradients(Pose(*(here + step), path.pivot_x)))
                down = np.array(path.gradients(Pose(*(here - step), path.pivot_x)))
                assert exact[:, :, axis] == pytest.approx((up - down) / 2e-4, abs=1e-4)

    def test_parallel_runs_do_not_curve_along_the_axes(self):
        for path in built("crossed").paths:
            for curvature in path.curvatures(Pose(120.0, 70.0, 0.0, path.pivot_x)):
                assert curvature[:2, :2] == pytest.approx(np.zeros((2, 2)), abs=1e-12)


class TestSpeeds:
    def test_one_motor_runs_faster_on_the_diagonal(self):
        gantry = built("crossed")
        found = gantry.belt_speeds("100 mm/s", "45 deg", "100 mm", "50 mm").magnitude
        assert found == pytest.approx([100 * math.sqrt(2), 0.0], abs=1e-9)

    @pytest.mark.parametrize(("direction", "expected"), [(0, 150.0), (45, 106.066), (135, 106.066)])
    def test_the_fastest_speed_for_a_limit_of_each_belt(self, direction, expected):
        found = built("crossed").fastest_speed("150 mm/s", Q(direction, "deg"), "100 mm", "50 mm")
        assert found.to("mm/s").magnitude == pytest.approx(expected, rel=1e-5)

    def test_plain_axes_run_faster_on_the_diagonal_than_on_an_axis(self):
        found = built("plain").fastest_speed("150 mm/s", "45 deg", "100 mm", "50 mm")
        assert found.to("mm/s").magnitude == pytest.approx(150 * math.sqrt(2))


class TestCures:
    def test_the_pulley_that_is_out_of_place_is_named_first(self):
        meant = built("crossed")
        pulleys = [list(belt) for belt in _pulleys_of(meant)]
        pulleys[0][3] = attrs.evolve(pulleys[0][3], x=pulleys[0][3].x + Q("1 mm"))
        pulleys[1][3] = attrs.evolve(pulleys[1][3], x=pulleys[1][3].x + Q("0.1 mm"))
        found = built("crossed", pulleys=tuple(tuple(belt) for belt in pulleys)).cures(meant)
        assert [cure.pulley for cure in found] == ["belt a, rear right", "belt b, rear left"]
        assert found[0].x.to("mm").magnitude == pytest.approx(-1.0)
        assert found[0].left < found[1].left

    def test_nothing_to_cure(self):
        assert built("crossed").cures(built("crossed")) == []


def test_taut_runs_add_their_own_stiffness():
    gantry = built("crossed")
    slack = gantry.stiffness("100 mm", "50 mm")
    taut = gantry.stiffness("100 mm", "50 mm", tension="30 N")
    # Parallel runs do not turn when the head moves along an axis, only when the beam yaws.
    assert taut.translation.magnitude == pytest.approx(slack.translation.magnitude, rel=1e-9)
    assert taut.yaw > slack.yaw


def test_forces_along_x_broadcast_and_scale():
    gantry = built("crossed")
    found = gantry.racking_under_force(Q([10.0, 20.0], "N"), "210 mm", "100 mm").magnitude
    assert found[1] == pytest.approx(2 * found[0])
    assert found[1] == gantry.racking_under_force("20 N", "210 mm", "100 mm").magnitude


def test_the_single_belt_is_one_belt_and_does_not_push_at_rest():
    gantry = built("single")
    assert len(gantry.order_lengths("20 mm")) == 1
    # equal tension everywhere pulls the beam neither way: the whole length is stationary
    whole = sum(gantry.paths[0].gradients(Pose(120.0, 70.0, 0.0, WIDTH / 2)))
    assert whole == pytest.approx(np.zeros(3), abs=1e-9)
