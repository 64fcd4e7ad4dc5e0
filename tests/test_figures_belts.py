"""The route is drawn where the belts run, the field leans as the skew says, arrows as they err."""

from __future__ import annotations

import itertools

import attrs
import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from mathlib import answers, figures
from mathlib.figures import belt, square
from mathlib.machine import TAGMAKER, Machine, load
from mathlib.motion import gantries
from mathlib.motion.squareness import SquareTest
from mathlib.units import Q

PLAIN = TAGMAKER.with_name("tagmaker_plain.toml")
KINDS = ("crossed", "plain", "shaft", "single")


def gantry_of(kind: str, **more) -> gantries.Gantry:
    layout = load(TAGMAKER).typical().layout
    return gantries.gantry(attrs.evolve(layout, belts=kind, **more))


@pytest.fixture(scope="module")
def machine() -> Machine:
    return load(TAGMAKER)


def drawn_length(points: np.ndarray) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


class TestTraced:
    @pytest.mark.parametrize("kind", KINDS)
    @pytest.mark.parametrize("place", [(0.0, 0.0), (126.0, 120.0), (420.0, 300.0)])
    def test_lines_are_as_long_as_the_parts(self, kind, place):
        for path in gantry_of(kind).paths:
            x, y = (Q(value, "mm") for value in place)
            parts = belt.traced(path, path.pose(x, y))
            exact = [part.magnitude for part in path.part_lengths(x, y)]
            for one, following in itertools.pairwise(parts):
                assert tuple(one[-1]) == tuple(following[0])
            # Chords of 1/40 turn are shorter than their arc by 1 in 1000: 0.02 mm for a half turn.
            drawn = [drawn_length(part) for part in parts]
            assert sum(drawn) == pytest.approx(sum(exact), abs=0.15)
            # The line is parted at the middle of the wrap, the lengths at a fixed mark near it.
            assert drawn == pytest.approx(exact, abs=25)

    def test_ends_lie_where_the_carriage_holds_the_belt(self):
        # By hand: (480 - 420) / 2 = 30 mm beside the travel; half of 30 less two radii of
        # 6.366 mm is 8.634 mm to either side of the head.
        path = gantry_of("crossed").paths[0]
        first, second = belt.traced(path, path.pose(Q(100, "mm"), Q(50, "mm")))
        assert tuple(first[0]) == pytest.approx((130 - 8.634, 50), abs=1e-3)
        assert tuple(second[-1]) == pytest.approx((130 + 8.634, 50), abs=1e-3)

    def test_arc_lies_on_its_pulley(self):
        path = gantry_of("crossed").paths[0]
        at = path.pose(Q(100, "mm"), Q(50, "mm"))
        whole = np.vstack(belt.traced(path, at))
        for node, (x, y) in list(zip(path.nodes, path.places(at), strict=True))[1:-1]:
            gaps = np.hypot(whole[:, 0] - float(x), whole[:, 1] - float(y))
            assert gaps.min() == pytest.approx(node.radius, rel=1e-9)
            assert (gaps < node.radius * (1 + 1e-9)).sum() >= 10


class TestSides:
    def test_of_crossed_belts_one_beam_pulley_runs_on_the_back(self):
        # By hand: the belt turns left round the first pulley of the beam and right round all
        # others, the motor among them; its teeth are on the right.
        path = gantry_of("crossed").paths[0]
        touched = {path.nodes[n].name: belt.has_teeth(path, n) for n in range(1, 6)}
        assert touched.pop("beam left") is False
        assert all(touched.values())

    @pytest.mark.parametrize("kind", ["plain", "shaft"])
    def test_plain_loops_touch_pulleys_with_their_teeth_only(self, kind):
        for path in gantry_of(kind).paths:
            assert all(belt.has_teeth(path, n) for n in range(1, len(path.nodes) - 1))

    def test_strokes_point_to_the_toothed_pulley_and_away_from_the_smooth_one(self):
        path = gantry_of("crossed").paths[0]
        at = path.pose(Q(100, "mm"), Q(50, "mm"))
        strokes = belt._ticks(path, np.vstack(belt.traced(path, at)), 2.0).reshape(-1, 3, 2)
        for number, closer in ((1, False), (2, True)):
            centre = np.array([float(value) for value in path.places(at)[number]])
            foot, tip = (np.hypot(*(strokes[:, n] - centre).T) for n in (0, 1))
            near = foot < path.nodes[number].radius + 0.05
            assert near.sum() >= 3
            assert np.all((tip < foot)[near] == closer)


class TestRoutePicture:
    def test_parts_differ_in_colour_and_line_and_circles_are_to_scale(self, machine):
        figure = figures.draw("belt", answers.ask("belt", machine), machine)
        axes, *windows = figure.axes
        lines = [line for line in axes.lines if line.get_linewidth() == 2.4]
        assert len({line.get_color() for line in lines}) == 2
        assert len({str(line.get_linestyle()) for line in lines}) == 2
        assert axes.get_aspect() == 1
        radii = [patch.get_radius() for patch in axes.patches if hasattr(patch, "get_radius")]
        assert radii == pytest.approx([40 / (2 * np.pi)] * 5)  # 20 teeth of 2 mm
        assert len(windows) == 5

    @pytest.mark.parametrize("path", [TAGMAKER, PLAIN])
    def test_what_carries_a_pulley_is_told_by_tint_and_by_word(self, path):
        machine = load(path)
        figure = figures.draw("belt", answers.ask("belt", machine), machine)
        axes, *windows = figure.axes
        gantry = gantries.gantry(machine.layout)
        nodes = [n for b in belt.shown_belts(gantry) for n in gantry.paths[b].nodes[1:-1]]
        for window, node in zip(windows, nodes, strict=True):
            assert window.get_xlabel().startswith(f"{node.on},")
            assert node.name.split()[0] in window.get_title()
        words = " ".join(text.get_text() for text in axes.findobj(Text))
        assert all(word in words for word in ("frame", "beam", "carriage", "head", "motor"))
        assert len(set(belt.TINTS.values())) == 3

    def test_lengths_above_are_those_of_the_route_in_the_colour_of_their_line(self, machine):
        figure = figures.draw("belt", answers.ask("belt", machine), machine)
        axes = figure.axes[0]
        path = gantries.gantry(machine.layout).paths[0]
        parts = path.part_lengths(Q(126, "mm"), Q(120, "mm"))  # 0.3 and 0.4 of the travel
        colours = {line.get_color() for line in axes.lines if line.get_linewidth() == 2.4}
        told = {text.get_text(): text.get_color() for text in axes.findobj(Text)}
        for part in parts:
            (found,) = [text for text in told if f"{part.magnitude:.4g} mm" in text]
            assert told[found] in colours

    def test_moved_pulley_moves_its_circle_and_the_belt_with_it(self):
        gantry = gantry_of("crossed")
        figure = Figure()
        axes, window = figure.subplots(1, 2)
        picture = belt.RoutePicture(axes, [(window, 0, 4)], gantry, [0])
        x, y = Q(100, "mm"), Q(50, "mm")
        picture.show(gantry, x, y)
        before = window.get_xlim(), axes.patches[-2].get_center()
        picture.show(gantry.with_node_moved(0, 4, 5.0, 0.0), x, y)
        assert axes.patches[-2].get_center()[0] == pytest.approx(before[1][0] + 5)
        assert window.get_xlim() == before[0]  # the window stays at the designed place


class TestPlaceToCompare:
    def test_drawing_and_words_name_the_middle_for_mirrored_belts(self):
        machine = load(TAGMAKER)
        answer = answers.ask("belt", machine)
        told = "Both belts' runs are equal with the head at x = 210 mm."
        assert any(told in ax.get_xlabel() for ax in belt.draw(answer, machine).axes)
        assert belt.describe(answer, machine).endswith(told)

    def test_it_is_said_when_no_place_will_do(self):
        far = gantry_of("crossed").with_node_moved(0, 1, -600.0, 0.0)
        assert belt.place_to_compare(far, Q(100, "mm")).endswith("nowhere.")
        assert belt.place_to_compare(gantry_of("plain"), Q(100, "mm")) == ""


class TestSkewPicture:
    @pytest.fixture
    def picture(self):
        return square.SkewPicture(Figure().add_subplot(), Q(400, "mm"), Q(300, "mm"))

    def test_obtuse_corner_at_the_origin_leans_left_by_the_stated_scale(self, picture):
        # By hand: 0.1 deg over 300 mm is 300 * 0.00174533 = 0.5236 mm; 0.12 * 400 * 1.6 = 76.8;
        # 76.8 / 0.5236 = 147, rounded down to 100.
        told = picture.show(Q(0.1, "deg"))
        assert told == "far side shifted by 0.524 mm, drawn 100 times as far"
        corners = picture.field.get_xydata()
        assert corners[3] == pytest.approx([-52.36, 300], rel=1e-3)
        assert corners[2] == pytest.approx([400 - 52.36, 300], rel=1e-3)
        one, two = (np.ptp(line.get_xydata(), axis=0) for line in picture.diagonals)
        assert np.hypot(*one) > np.hypot(*two)  # diagonal 1 is the longer one

    def test_other_sign_leans_right_and_none_is_said(self, picture):
        picture.show(Q(-0.1, "deg"))
        assert picture.field.get_xydata()[3, 0] == pytest.approx(52.36, rel=1e-3)
        assert picture.show(Q(0, "deg")) == "no skew: the diagonals are equal"
        assert picture.field.get_xydata()[3, 0] == 0

    def test_measured_skew_is_drawn_in_place_of_the_allowed_one(self, machine):
        test = SquareTest(
            width="400 mm",
            depth="300 mm",
            diagonal_1="500.6 mm",
            diagonal_2="499.4 mm",
            reading="0.1 mm",
        )
        told = []
        for each in (machine, attrs.evolve(machine, square=test)):
            answer = answers.ask("square", each)
            figure = figures.draw("square", answer, each)
            told.append((figure.get_suptitle(), figures.describe("square", answer, each)))
        assert "allowed by the work" in told[0][1]
        # By hand: (250600.36 - 249400.36) / 480000 = 0.0025, which is 0.1432 deg.
        assert "measured is 0.143 deg" in told[1][1]
        assert told[0][0] != told[1][0]


class TestErrorMap:
    def test_arrows_point_where_the_head_errs_by_the_stated_scale(self):
        gantry = gantry_of("plain", run_offset=Q(2, "mm"))
        shown = square.ErrorMap(Figure().add_subplot(), gantry_of("plain"))
        shown.show(gantry)
        times = float(shown.told.get_text().split()[2])
        error = gantry.parallel_error("420 mm", "300 mm").position.magnitude
        u, v = (part.reshape(7, 7)[-1, -1] for part in (shown.arrows.U, shown.arrows.V))
        assert (u, v) == pytest.approx(tuple(times * error))
        assert np.max(shown.map.get_array()) == pytest.approx(np.hypot(*error), rel=1e-6)

    def test_parallel_runs_have_no_error(self):
        shown = square.ErrorMap(Figure().add_subplot(), gantry_of("crossed"))
        shown.show(gantry_of("crossed"))
        assert shown.told.get_text() == "no error anywhere"
        assert np.max(np.abs(shown.arrows.U)) < 1e-6

    def test_worst_error_of_a_tilted_run_by_hand(self):
        # Plain axes, the rear idler of the y belt out by 2 mm, both loops out: along y the run from
        # the idler is s = 345 - y - 2 long and e = 2 mm out of line, so it grows by
        # sqrt(s^2 + 4) - s: 0.04649 mm at y = 300 mm (s = 43), 0.01036 mm in the middle (s = 193).
        # The other part, 353 of 816 mm long, is straight; both share the difference of 0.03613 mm
        # as springs do: the head errs by 353 / 816 of it, 0.01563 mm along y.
        gantry = gantry_of("plain", run_offset=Q(2, "mm"))
        error = gantry.parallel_error("210 mm", "300 mm").position.magnitude
        # The belt also turns further round the idler, which is of third order: 4e-4 mm.
        assert abs(error[1]) == pytest.approx(0.01563, abs=4e-4)
        worst, place, swing = square.worst_of(gantry)
        assert worst.magnitude >= abs(error[1])
        assert place[1] == Q(300, "mm")
        assert swing.magnitude > 0

    @pytest.mark.parametrize(
        ("value", "rounded"), [(147.0, 100.0), (0.37, 0.2), (5.0, 5.0), (999.0, 500.0), (0.0, 1.0)]
    )
    def test_scales_are_round(self, value, rounded):
        assert square.round_number(value) == pytest.approx(rounded)
