"""Paths and drawings: geometry by hand, the standard's rules, and files that are not what they say.

Expected places are worked out beside each case; curves are compared with the curve itself.
"""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from mathlib import Q, paths
from mathlib.errors import UnitError, ValueRefused
from mathlib.paths import Path, reading, svg
from mathlib.paths.flatten import Matrix, Trace
from mathlib.paths.svg_words import transform

SHEET = 'xmlns="http://www.w3.org/2000/svg" width="100mm" height="50mm" viewBox="0 0 100 50"'


@pytest.fixture
def drawn(tmp_path):
    """Read an SVG on a sheet of 100 mm by 50 mm, one unit to the millimetre."""

    def read(inside: str, head: str = SHEET, flatness: str = "0.01 mm") -> paths.Drawing:
        file = tmp_path / "tag.svg"
        file.write_text(f"<svg {head}>\n{inside}\n</svg>", encoding="utf-8")
        return paths.read_svg(file, flatness)

    return read


def lines_of(drawing: paths.Drawing) -> list[list[list[float]]]:
    return [line.magnitude.tolist() for line in drawing.path.polylines]


def near(found: list, expected: list) -> None:
    assert len(found) == len(expected)
    for one, other in zip(found, expected, strict=True):
        np.testing.assert_allclose(one, other, atol=1e-9)


class TestPath:
    def test_lengths_of_marks_and_travel(self):
        path = Path(points=Q([[0, 0], [3, 4], [3, 10], [3, 11]], "cm"), on=[True, False, True])
        assert path.lengths.magnitude.tolist() == [50, 60, 10]
        assert (path.length, path.travel) == (Q("60 mm"), Q("60 mm"))
        near(lines_of_path(path), [[[0, 0], [30, 40]], [[30, 100], [30, 110]]])

    def test_one_truth_value_stands_for_all_segments(self):
        assert Path(points=Q([[0, 0], [1, 0], [2, 0]], "mm"), on=False).on.tolist() == [False] * 2
        assert Path(points=Q([[0, 0], [1, 0]], "mm")).on.tolist() == [True]

    def test_it_cannot_be_changed(self):
        points = np.zeros((2, 2))
        path = Path(points=Q(points, "mm"))
        points[0] = 7
        assert path.points.magnitude[0].tolist() == [0, 0]
        with pytest.raises(ValueError, match="read-only"):
            path.points.magnitude[0] = 1
        with pytest.raises(ValueError, match="read-only"):
            path.on[0] = False

    @pytest.mark.parametrize(
        ("told", "message"),
        [
            ({"points": [[0, 0], [1, 0]]}, "points needs a unit such as mm"),
            ({"points": Q([[0, 0], [1, 0]], "s")}, "points needs a length"),
            ({"points": Q([0.0, 1.0], "mm")}, r"got the shape \(2,\)"),
            ({"points": Q([[0.0, 1.0]], "mm")}, r"got the shape \(1, 2\)"),
            ({"points": Q([[0, 0], [np.nan, 0]], "mm")}, "points must be finite"),
            ({"points": Q([[0, 0], [1, 0]], "km")}, "farther than 100000 mm: look at the unit"),
            ({"points": Q([[0, 0], [1, 0]], "mm"), "on": [True, True]}, "one fewer than points"),
            ({"points": Q([[0, 0], [1, 0]], "mm"), "on": 1}, "on is True or False"),
            ({"points": Q([[0, 0], [1, 0]], "mm"), "on": [1]}, "on is True or False"),
        ],
    )
    def test_refusals(self, told, message):
        with pytest.raises((UnitError, ValueRefused), match=message):
            Path(**told)

    def test_polylines_are_joined_by_travel(self):
        parts = [Q([[0, 0], [10, 0]], "mm"), Q([[10, 5], [0, 5], [0, 9]], "mm")]
        path = Path.from_polylines(parts)
        assert path.on.tolist() == [True, False, True, True]
        near(lines_of_path(path), [part.magnitude.tolist() for part in parts])
        with pytest.raises(ValueRefused, match="no polyline"):
            Path.from_polylines([])

    def test_what_lies_outside_is_told_by_side(self):
        path = Path(points=Q([[-2, 10], [425, 10], [425, 301], [3, -0.5], [3, 3]], "mm"))
        found = path.beyond("420 mm", "300 mm")
        sides = [side.magnitude for side in found[:4]]
        assert sides == pytest.approx([2, 5, 0.5, 1])
        assert found.points == 4
        assert str(found) == (
            "4 points lie outside the work area: 2 mm to the left, 5 mm to the right, "
            "0.5 mm in front, 1 mm behind."
        )
        assert path.bounds.magnitude.tolist() == [[-2, -0.5], [425, 301]]

    def test_a_point_on_the_edge_is_inside(self):
        third = Path(points=Q([[0, 0], [3 * 0.1, 0.3]], "m"))
        found = third.beyond("0.3 m", "300 mm")
        assert found.points == 0
        assert str(found) == "All of it lies within the work area."


def lines_of_path(path: Path) -> list:
    return [line.magnitude.tolist() for line in path.polylines]


class TestShapes:
    def test_y_is_turned_and_the_lower_left_corner_of_the_sheet_is_the_origin(self, drawn):
        found = drawn('<line x1="0" y1="50" x2="30" y2="0"/>')
        near(lines_of(found), [[[0, 0], [30, 50]]])
        assert found.size.magnitude.tolist() == pytest.approx([100, 50])

    def test_rectangle_polyline_and_polygon(self, drawn):
        found = drawn(
            '<rect x="10" y="10" width="20" height="5"/>'
            '<polyline points="0,50 5,45,5 40"/><polygon points="0 50 10 50 10 40"/>'
        )
        near(
            lines_of(found),
            [
                [[10, 40], [30, 40], [30, 35], [10, 35], [10, 40]],
                [[0, 0], [5, 5], [5, 10]],
                [[0, 0], [10, 0], [10, 10], [0, 0]],
            ],
        )

    @pytest.mark.parametrize("flatness", [0.1, 0.01, 0.0005])
    def test_a_circle_stays_within_the_tolerance_and_is_not_finer_than_need_be(
        self, drawn, flatness
    ):
        found = drawn('<circle cx="50" cy="25" r="20"/>', flatness=f"{flatness} mm")
        (line,) = found.path.polylines
        at = line.magnitude - [50, 25]
        np.testing.assert_allclose(np.hypot(*at.T), 20, rtol=1e-12)
        chords = (at[1:] + at[:-1]) / 2
        sagitta = 20 - np.hypot(*chords.T)
        assert 0.7 * flatness < sagitta.max() <= flatness
        np.testing.assert_allclose(at[0], at[-1], atol=1e-9)

    def test_an_ellipse_and_the_round_corners_of_a_rectangle(self, drawn):
        found = drawn(
            '<ellipse cx="50" cy="25" rx="40" ry="10"/>'
            '<rect x="0" y="0" width="20" height="10" rx="3"/>',
            flatness="0.001 mm",
        )
        one, two = (line.magnitude for line in found.path.polylines)
        at = (one - [50, 25]) / [40, 10]
        np.testing.assert_allclose(np.hypot(*at.T), 1, rtol=1e-9)
        # 2 (14 + 4) of straight sides and one circle of radius 3
        length = np.sum(np.hypot(*np.diff(two, axis=0).T))
        assert length == pytest.approx(36 + 6 * math.pi, rel=1e-4)

    def test_one_stated_radius_counts_for_both_and_is_cut_to_half_the_side(self, drawn):
        found = drawn('<rect width="20" height="10" ry="50"/>', flatness="0.0005 mm")
        # rx = 10, ry = 5: an ellipse, whose half axes are half of the sides
        (line,) = found.path.polylines
        at = (line.magnitude - [10, 45]) / [10, 5]
        np.testing.assert_allclose(np.hypot(*at.T), 1, rtol=1e-9)

    def test_percentages_and_units(self, drawn):
        found = drawn('<rect width="100%" height="50%"/><line x2="1in" y1="0" y2="0"/>')
        first, second = lines_of(found)
        np.testing.assert_allclose(first[2], [100, 25])
        np.testing.assert_allclose(second[1], [96, 50])  # 96 user units, each a millimetre here


class TestPathData:
    @pytest.mark.parametrize(
        ("data", "expected"),
        [
            ("M1 2L3 4H5V6z", [[[1, 2], [3, 4], [5, 4], [5, 6], [1, 2]]]),
            ("m1 2l2 2h2v2z", [[[1, 2], [3, 4], [5, 4], [5, 6], [1, 2]]]),
            ("M1,2 3,4 5,6", [[[1, 2], [3, 4], [5, 6]]]),  # more pairs are lines
            ("m1 2 3 4 5 6", [[[1, 2], [4, 6], [9, 12]]]),
            ("M1 2h3m1 1h3", [[[1, 2], [4, 2]], [[5, 3], [8, 3]]]),  # relative to the last point
            ("M1 1h3v3zl1 1", [[[1, 1], [4, 1], [4, 4], [1, 1]], [[1, 1], [2, 2]]]),  # after z
            ("M1-2.5.5e1-3E0", [[[1, -2.5], [5, -3]]]),  # numbers run together
            ("M 1 1 H 2 3", [[[1, 1], [2, 1], [3, 1]]]),
            ("M0 0a0 3 0 0 1 4 4", [[[0, 0], [4, 4]]]),  # no radius: a straight line
            ("M1 1L1 1 2 2", [[[1, 1], [2, 2]]]),
        ],
    )
    def test_straight_commands(self, drawn, data, expected):
        found = drawn(f'<path transform="matrix(1 0 0 -1 0 50)" d="{data}"/>')
        near(lines_of(found), expected)

    @pytest.mark.parametrize(
        ("data", "curve"),
        [
            ("M0 0C0 20 40 20 40 0", [0, 20j, 40 + 20j, 40]),
            ("M0 0c0 20 40 20 40 0", [0, 20j, 40 + 20j, 40]),
            ("M0 0Q20 40 40 0", [0, 20 + 40j, 40]),
            ("M0 0S40 20 40 0", [0, 0, 40 + 20j, 40]),  # nothing before: no mirror
            ("M0 0T40 0", [0, 0, 40]),
        ],
    )
    @pytest.mark.parametrize("flatness", [0.2, 0.01])
    def test_curves_stay_within_the_tolerance(self, drawn, data, curve, flatness):
        found = drawn(
            f'<path transform="matrix(1 0 0 -1 0 50)" d="{data}"/>', flatness=f"{flatness} mm"
        )
        (line,) = found.path.polylines
        z = line.magnitude @ [1, 1j]
        t = np.linspace(0, 1, 4001)
        n = len(curve) - 1
        true = sum(
            math.comb(n, k) * t**k * (1 - t) ** (n - k) * p
            for k, p in enumerate(map(complex, curve))
        )
        away = [
            np.min(np.abs(point - z[:-1] - np.clip(_along(point, z), 0, 1) * np.diff(z)))
            for point in true
        ]
        assert max(away) <= flatness * 1.001
        np.testing.assert_allclose([z[0], z[-1]], [true[0], true[-1]], atol=1e-9)

    def test_smooth_curves_mirror_the_control_point_before_them(self, drawn):
        short = drawn('<path d="M0 9C0 0 10 0 10 9S20 18 20 9M30 9Q35 0 40 9T50 9T60 9"/>')
        spelled = drawn(
            '<path d="M0 9C0 0 10 0 10 9C10 18 20 18 20 9M30 9Q35 0 40 9Q45 18 50 9Q55 0 60 9"/>'
        )
        near(lines_of(short), lines_of(spelled))

    @pytest.mark.parametrize("large", [0, 1])
    @pytest.mark.parametrize("sweep", [0, 1])
    def test_arcs_take_the_way_that_their_flags_say(self, drawn, large, sweep):
        # Radius 5 from (10, 20) to (15, 25): centres (10, 25) and (15, 20). In a drawing, y down,
        # a sweep of 1 turns clockwise as it is seen.
        found = drawn(f'<path d="M10 20A5 5 0 {large}{sweep}15 25"/>', flatness="0.001 mm")
        (line,) = found.path.polylines
        at = line.magnitude * [1, -1] + [0, 50]
        centre = [10, 25] if large != sweep else [15, 20]
        np.testing.assert_allclose(np.hypot(*(at - centre).T), 5, rtol=1e-9)
        turns = np.unwrap(np.arctan2(*(at - centre).T[::-1]))
        turned = math.degrees(turns[-1] - turns[0])
        assert turned == pytest.approx((1 if sweep else -1) * (270 if large else 90))

    def test_radii_that_are_too_small_grow_until_they_reach(self, drawn):
        found = drawn('<path d="M10 20A1 1 0 0 1 20 20"/>', flatness="0.001 mm")
        at = found.path.polylines[0].magnitude - [15, 30]
        np.testing.assert_allclose(np.hypot(*at.T), 5, rtol=1e-9)

    def test_a_turned_ellipse(self, drawn):
        # half axes 10 and 4, turned by 30 deg; the ends are those of its long axis
        axis = 10 * np.array([math.cos(math.pi / 6), math.sin(math.pi / 6)])
        middle = np.array([50, 25])
        start, end = middle - axis, middle + axis
        found = drawn(
            f'<path d="M{start[0]} {start[1]}A10 4 30 0 1 {end[0]} {end[1]}"/>', flatness="0.001 mm"
        )
        at = found.path.polylines[0].magnitude * [1, -1] + [0, 50] - [50, 25]
        along = at @ axis / 10
        across = at @ [-axis[1], axis[0]] / 10
        np.testing.assert_allclose((along / 10) ** 2 + (across / 4) ** 2, 1, rtol=1e-9)

    @pytest.mark.parametrize(
        ("data", "message"),
        [
            ("L1 2", "path data begin with M"),
            ("1 2", "a command is missing at character 1, before '1 2'"),
            ("M1", "a number is missing at character 3, where they end"),
            ("M1 2 L3", "a number is missing"),
            ("M1 2 A3 3 0 2 0 4 4", "a flag, 0 or 1, is missing at character 12, before '2 0 4 4'"),
            ("M1 2 B3 4", "'B' is no command at character 6"),
            ("M1 2 L3 4;", "a command is missing at character 10"),
            ("M1 1e99", "1e99 is too large"),
            ("M0 0L1e9 0", "farther away than 100000 mm"),
            ("M0 0L1e3 1e3 nan", "'n' is no command"),
        ],
    )
    def test_mistakes_say_line_element_and_character(self, drawn, data, message):
        with pytest.raises(ValueRefused, match=message) as caught:
            drawn(f'<g>\n<path id="rim" d="{data}"/></g>')
        assert str(caught.value).startswith('tag.svg, line 3, <path id="rim">: ')


def outcome(call, *told):
    """Give what a call returns, or None and the sentence with which it refuses."""
    try:
        return call(*told), ""
    except ValueRefused as fault:
        return None, str(fault)


def _along(point, z):
    step = np.diff(z)
    return np.real((point - z[:-1]) * np.conj(step)) / np.maximum(np.abs(step) ** 2, 1e-300)


class TestSheet:
    LINE = '<line x1="0" y1="0" x2="10" y2="0"/>'

    @pytest.mark.parametrize(
        ("head", "ends", "size"),
        [
            # 200 mm for 100 units
            ('width="20cm" height="100mm" viewBox="0 0 100 50"', [[0, 100], [20, 100]], [200, 100]),
            # the box begins elsewhere: x - 5, y - (-10)
            ('width="100mm" height="50mm" viewBox="5 -10 100 50"', [[-5, 40], [5, 40]], [100, 50]),
            # twice as wide as need be: scale 1, in the middle
            ('width="200mm" height="50mm" viewBox="0 0 100 50"', [[50, 50], [60, 50]], [200, 50]),
            (
                'width="200mm" height="50mm" viewBox="0 0 100 50" preserveAspectRatio="xMinYMid"',
                [[0, 50], [10, 50]],
                [200, 50],
            ),
            (
                'width="200mm" height="50mm" viewBox="0 0 100 50" preserveAspectRatio="none"',
                [[0, 50], [20, 50]],
                [200, 50],
            ),
            # slice: scale 2, of 100 mm height only 50 are seen, 25 above and below
            (
                'width="200mm" height="50mm" viewBox="0 0 100 50" '
                'preserveAspectRatio="xMidYMid slice"',
                [[0, 75], [20, 75]],
                [200, 50],
            ),
            # only the width is stated: the height follows
            ('width="200mm" viewBox="0 0 100 50"', [[0, 100], [20, 100]], [200, 100]),
        ],
    )
    def test_size_and_view_box(self, drawn, head, ends, size):
        found = drawn(self.LINE, f'xmlns="http://www.w3.org/2000/svg" {head}')
        near(lines_of(found), [ends])
        np.testing.assert_allclose(found.size.magnitude, size)
        assert found.notes == ()

    def test_a_file_without_a_size_is_in_pixels_and_says_so(self, drawn):
        found = drawn(self.LINE, 'viewBox="0 0 96 48"')
        near(lines_of(found), [[[0, 12.7], [10 * 25.4 / 96, 12.7]]])
        assert any("96" in note and "px" in note for note in found.notes)

    def test_a_file_without_a_height_begins_at_its_lowest_point(self, drawn):
        found = drawn('<line x1="0" y1="96" x2="0" y2="0"/>', "")
        near(lines_of(found), [[[0, 25.4], [0, 0]][::-1]])
        assert any("no height" in note for note in found.notes)
        assert found.size is None

    def test_an_svg_inside_has_its_own_view_box(self, drawn):
        found = drawn(
            f'<svg x="10" y="10" width="20" height="20" viewBox="0 0 10 10">{self.LINE}</svg>'
        )
        near(lines_of(found), [[[10, 40], [30, 40]]])

    @pytest.mark.parametrize(
        ("head", "message"),
        [
            ('viewBox="0 0 0 50"', "viewBox has x, y, width and height"),
            ('viewBox="0 0 50"', "viewBox has x, y, width and height"),
            ('width="3 apples"', "no length"),
            ('width="-3mm" height="3mm"', "more than zero"),
            ('viewBox="0 0 9 9" preserveAspectRatio="left"', "no preserveAspectRatio"),
        ],
    )
    def test_refusals(self, drawn, head, message):
        with pytest.raises(ValueRefused, match=message):
            drawn(self.LINE, head)


class TestTransforms:
    @pytest.mark.parametrize(
        ("text", "goes_to"),
        [
            ("translate(10)", 12 + 1j),
            ("translate(10,20)", 12 + 21j),
            ("scale(3)", 6 + 3j),
            ("scale(3 -1)", 6 - 1j),
            ("rotate(90)", -1 + 2j),
            ("rotate(90 2 1)", 2 + 1j),
            ("skewX(45)", 3 + 1j),
            ("skewY(45)", 2 + 3j),
            ("matrix(1 2 3 4 5 6)", 10 + 14j),  # 1*2 + 3*1 + 5, 2*2 + 4*1 + 6
            ("translate(10) scale(2), rotate(90)", 8 + 4j),  # the last one first
            ("none", 2 + 1j),
        ],
    )
    def test_where_a_point_goes(self, text, goes_to):
        assert transform(text).point(2 + 1j) == pytest.approx(goes_to)

    @pytest.mark.parametrize("text", ["scale()", "turn(3)", "rotate(1 2)", "scale(2", "scale(2);"])
    def test_what_is_no_transform_is_refused(self, text):
        with pytest.raises(ValueRefused, match="no transform"):
            transform(text)

    def test_groups_hand_theirs_down(self, drawn):
        found = drawn(
            '<g transform="translate(10 0)"><g transform="scale(2)">'
            '<line x2="5" transform="translate(1 0)"/></g></g>'
        )
        near(lines_of(found), [[[12, 50], [22, 50]]])

    def test_the_tolerance_holds_on_the_sheet_not_in_the_groups_units(self, drawn):
        small, large = (
            len(drawn(f'<g transform="scale({s})"><circle r="{10 / s}"/></g>').path.on)
            for s in (0.01, 100)
        )
        assert small == large

    @given(
        st.lists(st.floats(-3, 3), min_size=12, max_size=12), st.complex_numbers(max_magnitude=9)
    )
    def test_a_product_applies_the_second_first(self, told, z):
        one, two = Matrix(*told[:6]), Matrix(*told[6:])
        assert (one @ two).point(z) == pytest.approx(one.point(two.point(z)), abs=1e-9)


class TestLayersAndNotes:
    def test_layers_are_the_groups_of_the_file(self, drawn):
        found = drawn(
            '<g xmlns:k="http://example.org/k" k:label="cut" id="g1"><line x2="5"/><g id="inner">'
            '<line x2="6"/></g></g><g id="draw"><line x2="7"/></g><line x2="8"/>'
        )
        assert {name: part.length.magnitude for name, part in found.layers.items()} == {
            "cut": pytest.approx(11),
            "draw": pytest.approx(7),
            "": pytest.approx(8),
        }

    def test_nothing_is_left_out_in_silence(self, drawn):
        found = drawn(
            '<line x2="5"/>\n<text>tag</text><text>two</text>\n<image href="x.png"/>'
            '<use href="#a"/>'
            '<line x2="5" style="display:none"/><g visibility="hidden"><line x2="5"/></g>'
            '<path d="M1 1"/><rect width="0" height="4"/><blob/><style>.a{display:none}</style>'
            '<line x2="5" stroke-dasharray="1 2" clip-path="url(#c)"/>'
        )
        told = "\n".join(found.notes)
        assert len(lines_of(found)) == 2
        for part in (
            "2 × text left out (letters are no outlines",
            "first on line 3",
            "1 × image left out",
            "1 × use left out",
            "2 × line left out (it is hidden)",
            "1 × path left out (it has no length)",
            "1 × rect left out (it has no length)",
            "1 × blob left out (it is not read)",
            "1 × style left out",
            "1 × dashes",
            "1 × a clip",
        ):
            assert part in told, part

    def test_what_the_standard_never_draws_is_no_news(self, drawn):
        found = drawn(
            "<title>tag</title><defs><path d='M0 0h9'/></defs><metadata><a/></metadata>"
            '<line x2="5"/><k:grid xmlns:k="http://example.org/k"><line x2="9"/></k:grid>'
        )
        assert len(lines_of(found)) == 1
        assert found.notes == ()

    def test_a_visible_shape_in_a_hidden_group_is_read(self, drawn):
        found = drawn('<g visibility="hidden"><line visibility="visible" x2="5"/></g>')
        assert len(lines_of(found)) == 1

    def test_a_drawing_of_letters_only_is_refused_with_the_reason(self, drawn):
        with pytest.raises(ValueRefused, match=r"no outlines.*1 × text left out"):
            drawn("<text>tag</text>")


class TestHostile:
    def write(self, tmp_path, raw: bytes):
        file = tmp_path / "tag.svg"
        file.write_bytes(raw)
        return file

    @pytest.mark.parametrize(
        ("raw", "message"),
        [
            (b"", "line 1: no XML: no element found"),
            (b"<svg>", "no XML"),
            (b"<html/>", "XML, but no SVG"),
            (b"\x1f\x8b\x08", "compressed"),
            (b"<svg><path d='M0 0L1 1'></svg>", "line 1: no XML: mismatched tag"),
            (b"<svg>\xff</svg>", "no XML"),
            (
                b'<!DOCTYPE svg [<!ENTITY a "b">]><svg><path d="M0 0h1"/></svg>',
                "defines the entity 'a'",
            ),
            (
                b'<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]><svg>&a;</svg>',
                "defines the entity 'a'",
            ),
            (b"<svg>" + b"<g>" * 300, "more than 256 inside one another"),
            (b"<svg>" + b"<defs>" * 300, "more than 256 inside one another"),
            (b"<svg><rect width='-1' height='2'/></svg>", "width must not be negative"),
            (b"<svg><polygon points='1 2 3'/></svg>", "pairs of x and y; there are 3"),
            (b"<svg><g transform='scale(1e11)'><circle r='1e11'/></g></svg>", "farther away"),
        ],
    )
    def test_refused_with_a_sentence(self, tmp_path, raw, message):
        with pytest.raises(ValueRefused, match=message):
            paths.read_svg(self.write(tmp_path, raw))

    def test_a_doctype_without_entities_is_read(self, tmp_path):
        raw = b'<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "nowhere.dtd">'
        raw += b'<svg><line x2="9"/></svg>'
        assert len(lines_of(paths.read_svg(self.write(tmp_path, raw)))) == 1

    def test_sizes_are_limited(self, tmp_path, monkeypatch):
        monkeypatch.setattr(reading, "LARGEST_FILE", 100)
        with pytest.raises(ValueRefused, match=r"at most 0\.0001 MB"):
            paths.read_svg(self.write(tmp_path, b" " * 101))
        monkeypatch.setattr(svg, "MOST_ELEMENTS", 3)
        with pytest.raises(ValueRefused, match="more than 3 elements"):
            paths.read_svg(self.write(tmp_path, b"<svg><g/><g/><g/></svg>"))

    def test_points_are_limited_over_all_shapes(self, tmp_path, monkeypatch):
        monkeypatch.setattr(svg, "MOST_POINTS", 100)
        line = b"<polyline points='" + b"0 0 1 1 " * 20 + b"'/>"
        paths.read_svg(self.write(tmp_path, b"<svg>" + 2 * line + b"</svg>"))
        with pytest.raises(ValueRefused, match=r"more than .* points"):
            paths.read_svg(self.write(tmp_path, b"<svg>" + 3 * line + b"</svg>"))

    def test_a_flatness_out_of_proportion_is_refused(self, tmp_path):
        raw = b'<svg width="90000mm" height="9mm"><circle r="50000"/></svg>'
        with pytest.raises(ValueRefused, match="more than 100000 segments"):
            paths.read_svg(self.write(tmp_path, raw), "1e-9 mm")

    @pytest.mark.parametrize(
        "inside",
        [
            '<path style="' + "a" * 400_000 + '" d="M0 0h1"/>',
            '<path style="' + "a:" * 200_000 + '" d="M0 0h1"/>',
            '<path d="M0 0' + "z" * 200_000 + 'h1"/>',
            '<path d="M0 0h1' + " " * 400_000 + '"/>',
            '<path d="M0 0h' + "1" * 300_000 + '"/>',
            '<rect width="' + "1" * 400_000 + 'x!" height="1"/>',
            '<path transform="' + "scale(" * 70_000 + '" d="M0 0h1"/>',
            '<path transform="' + "scale(1)" * 50_000 + '" d="M0 0h1"/>',
            '<polygon points="' + "," * 400_000 + '"/><path d="M0 0h1"/>',
        ],
        ids=["style", "styles", "closed", "blank", "digits", "length", "open", "many", "commas"],
    )
    def test_long_attributes_take_no_longer_than_their_length(self, tmp_path, inside):
        """A reader that looked back at every character would take hours."""
        raw = f"<svg>{inside}</svg>".encode()
        found, told = outcome(paths.read_svg, self.write(tmp_path, raw))
        assert len(told) < 600
        if found is not None:
            assert found.path.length.magnitude == pytest.approx(25.4 / 96)

    @settings(max_examples=400, deadline=None, suppress_health_check=list(HealthCheck))
    @given(seed=st.integers(0, 2**32))
    def test_spoiled_files_are_read_or_refused(self, tmp_path, seed):
        rng = random.Random(seed)
        text = list(GOOD)
        for _ in range(rng.randint(1, 12)):
            at = rng.randrange(len(text))
            what = rng.random()
            if what < 0.35:
                text[at] = rng.choice(SPOIL)
            elif what < 0.6:
                text.insert(at, rng.choice(SPOIL))
            elif what < 0.8:
                del text[at : at + rng.randint(1, 6)]
            else:
                other = rng.randrange(len(text))
                text[at:at] = text[other : other + rng.randint(1, 30)]
        file = self.write(tmp_path, "".join(text).encode())
        found, told = outcome(paths.read_svg, file)
        if found is None:
            assert "tag.svg" in told
        else:
            assert np.all(np.isfinite(found.path.points.magnitude))

    @settings(max_examples=300, deadline=None, suppress_health_check=list(HealthCheck))
    @given(data=st.text("MmLlHhVvCcSsQqTtAaZz0123456789.,-+eE ", max_size=60))
    def test_any_path_data_are_read_or_refused(self, tmp_path, data):
        trace = Trace(Matrix(), 0.01)
        try:
            svg.trace_path(data, trace)
        except ValueRefused:
            return
        assert all(math.isfinite(abs(z)) for line in trace.lines for z in line)


GOOD = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="10cm" height="50mm" viewBox="0 0 100 50">\n'
    '<g id="a" transform="rotate(5 1 2) scale(.5)" style="display:inline">'
    '<path d="M1 2L3 4H5V6C1 2 3 4 5 6S1 2 3 4Q1 2 3 4T5 6A3 2 10 0 1 9 9z"/></g>\n'
    '<rect x="1" y="2" width="3" height="4" rx="1"/><circle cx="5" cy="5" r="2"/>'
    '<polygon points="1,2 3,4 5,6"/><line x1="1" y1="2" x2="3mm" y2="40%"/><text>t</text></svg>'
)
SPOIL = [
    "<",
    ">",
    "/",
    '"',
    "&",
    "0",
    "-",
    "e",
    "9",
    ".",
    " ",
    "%",
    "(",
    "M",
    "A",
    "\x00",
    "é",
    "1e9",
]


class TestTable:
    def read(self, tmp_path, text: str) -> paths.Drawing:
        file = tmp_path / "tag.csv"
        file.write_text(text, encoding="utf-8")
        return paths.read_csv(file)

    def test_a_blank_line_begins_a_polyline(self, tmp_path):
        found = self.read(tmp_path, "x [mm],y [cm]\n0,0\n10,1\n\n5,5\n5,6\n")
        near(lines_of(found), [[[0, 0], [10, 10]], [[5, 50], [5, 60]]])

    def test_a_column_line_does_too(self, tmp_path):
        found = self.read(tmp_path, "line,x [in],y [in]\n1,0,0\n1,1,0\n2,0,1\n2,1,1\n")
        near(lines_of(found), [[[0, 0], [25.4, 0]], [[0, 25.4], [25.4, 25.4]]])

    def test_a_pen_says_for_each_way_whether_it_marks(self, tmp_path):
        found = self.read(tmp_path, "x (mm);y (mm);pen\n0;0;up\n1,5;0;down\n3;0;0\n4;0;1\n")
        assert found.path.on.tolist() == [True, False, True]
        assert found.path.points.magnitude[1].tolist() == [1.5, 0]

    @pytest.mark.parametrize(
        ("text", "message"),
        [
            ("", "names no x and y"),
            ("x,y\n0,0\n", r'line 1: x needs a unit of length in its head: write "x \[mm\]"'),
            ("x [s],y [mm]\n", "x needs a unit of length"),
            ("x [furlong],y [mm]\n", "there is no unit 'furlong'"),
            ("x [mm],y [mm]\n0,zero\n1\n1,1\n", "2 mistakes.\n  line 2: y: 'zero' is no number.\n"
             "  line 3: there is no cell for y."),
            ("x [mm],y [mm]\n0,nan\n1,1\n", "line 2: y: 'nan' is no number"),
            ("x [mm],y [mm]\n0,1e9\n1,1\n", "farther away"),
            ("x [mm],y [mm]\n1,1\n", "no polyline of two points"),
            ("x [mm],y [mm],pen\n1,1,1\n2,2,maybe\n", "neither 1 nor 0"),
        ],
    )  # fmt: skip
    def test_refusals(self, tmp_path, text, message):
        with pytest.raises(ValueRefused, match=message):
            self.read(tmp_path, text)

    def test_lonely_points_are_told(self, tmp_path):
        found = self.read(tmp_path, "x [mm],y [mm]\n0,0\n\n5,5\n5,6\n")
        assert found.notes == ("Left out: 1 × a point alone, which has no length.",)

    @settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
    @given(text=st.text('xy[m] ,;\n0123.5-"e\x00line', max_size=80))
    def test_anything_is_read_or_refused(self, tmp_path, text):
        for start in ("x [mm],y [mm]\n", "x [mm];y [mm];pen\n", ""):
            found, told = outcome(self.read, tmp_path, start + text)
            assert found is not None or "tag.csv" in told


def test_the_ending_says_how_a_file_is_read(tmp_path):
    (tmp_path / "a.csv").write_text("x [mm],y [mm]\n0,0\n1,1\n")
    assert paths.read(tmp_path / "a.csv").path.on.tolist() == [True]
    (tmp_path / "a.SVG").write_text('<svg><line x2="96"/></svg>')
    assert paths.read(tmp_path / "a.SVG").path.length.magnitude == pytest.approx(25.4)
    with pytest.raises(ValueRefused, match=r"a\.pdf: drawings are read from \.svg and \.csv"):
        paths.read(tmp_path / "a.pdf")
    with pytest.raises(ValueRefused, match=r"none\.svg cannot be read"):
        paths.read(tmp_path / "none.svg")
    with pytest.raises(ValueRefused, match="is no file"):
        paths.read_svg(tmp_path)


def test_a_column_that_is_not_read_is_named(tmp_path):
    # "on" looks like marks, and is none: silence would mark the way between
    file = tmp_path / "marks.csv"
    file.write_text("x [mm],y [mm],on,depth [mm]\n0,0,0,1\n10,0,0,1\n")
    (note,) = paths.read_csv(file).notes
    assert note.startswith("Not read: 'on', 'depth [mm]'.")
    assert "pen" in note
