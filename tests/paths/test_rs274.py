"""Programs of strokes: every rule, played by a reader that shares nothing with the writer."""

from __future__ import annotations

import math

import pytest
import rs274_reader as reader
from hypothesis import given
from hypothesis import strategies as some

from mathlib.errors import ValueRefused
from mathlib.paths import rs274
from mathlib.paths.beam_control import BeamControl
from mathlib.paths.rs274 import Stroke

OFF = dict.fromkeys(("on_pause", "on_alarm", "on_lost_link"), "beam goes off")
TOLD = {
    "highest_power_word": 1000, "beam_on_word": "M4", "power_follows_speed": "yes",
    "origin_x": "0 mm", "origin_y": "0 mm", **OFF,
}  # fmt: skip
AREA = (420.0, 300.0)
ONE = Stroke(start=(5, 9), first=(6, 9), last=(26, 9), end=(27, 9), speed=2)


def control(**more) -> BeamControl:
    return BeamControl(**TOLD | more)


coordinates = some.tuples(
    some.floats(0, 1, allow_nan=False), some.floats(0, 1, allow_nan=False)
).map(lambda p: (p[0] * AREA[0], p[1] * AREA[1]))


@some.composite
def strokes(draw) -> Stroke:
    first = draw(coordinates)
    last = draw(coordinates.filter(lambda p: math.dist(p, first) >= 0.011))
    start = draw(some.one_of(some.just(first), coordinates))
    end = draw(some.one_of(some.just(last), coordinates))
    return Stroke(
        start=start,
        first=first,
        last=last,
        end=end,
        speed=draw(some.floats(0.02, 500)),
        share=draw(some.floats(1e-3, 1)),
        passes=draw(some.integers(1, 4)),
        label=draw(some.text(max_size=90)),
    )


controls = some.builds(
    control,
    highest_power_word=some.sampled_from([1, 255, 1000, 12000.0, 99.7]),
    beam_on_word=some.sampled_from(["M3", "M4"]),
    power_follows_speed=some.sampled_from(["yes", "no"]),
    origin_x=some.floats(-500, 500).map("{:.3f} mm".format),
    origin_y=some.floats(-500, 500).map("{:.3f} mm".format),
    park_x=some.just("12 mm"),
    park_y=some.just("288 mm"),
)


def played(text: str, told: BeamControl) -> reader.Played:
    park = None
    if told.park_x is not None:
        park = (told.park_x.magnitude, told.park_y.magnitude)
    origin = (told.origin_x.magnitude, told.origin_y.magnitude)
    return reader.play(text, told.highest_power_word.magnitude, AREA, origin, park)


class TestEdges:
    """Places are written to a micrometre; none is rounded out of the work area."""

    @pytest.mark.parametrize(
        ("origin", "least", "most"),
        [
            ("0 mm", "0", "420"),
            ("0.1 mm", "-0.1", "419.9"),  # 420 - 0.1 has bits to spare, and stays exact
            ("0.3 mm", "-0.3", "419.7"),
            ("0.0004 mm", "0", "419.999"),  # -0.0004 and 419.9996
            ("0.0006 mm", "0", "419.999"),  # -0.0006 and 419.9994
            ("-7.7777 mm", "7.778", "427.777"),  # 7.7777 and 427.7777
            ("-7.7772 mm", "7.778", "427.777"),  # 7.7772 and 427.7772
        ],
    )
    def test_the_edge_is_as_far_as_it_goes(self, origin, least, most):
        wide = Stroke(start=(0, 0), first=(1, 0), last=(419, 0), end=(420, 0), speed=2)
        tall = Stroke(start=(5, 0), first=(5, 1), last=(5, 299), end=(5, 300), speed=2)
        across = rs274.write([wide], control(origin_x=origin), AREA).splitlines()
        assert across[2].split()[1] == f"X{least}"
        assert across[6].split()[1] == f"X{most}"
        along = rs274.outline([tall], control(origin_y=origin), (420.0, 300.0)).splitlines()
        assert along[2].split()[2] == f"Y{least}"
        assert along[4].split()[2] == f"Y{float(most) - 120:.3f}".rstrip("0").rstrip(".")
        parked = rs274.write([wide], control(origin_x=origin, park_x="420 mm", park_y="0 mm"), AREA)
        assert parked.splitlines()[-2] == f"G0 X{most} Y0"

    @given(some.lists(strokes(), min_size=1, max_size=3), some.floats(-500, 500))
    def test_any_origin_keeps_everything_inside(self, listed, origin):
        told = control(origin_x=f"{origin!r} mm", origin_y=f"{origin / 3!r} mm")
        text = rs274.write(listed, told, AREA)
        for line in text.splitlines():
            if "X" in line and not line.startswith("("):
                x, y = (float(word[1:]) for word in line.split() if word[0] in "XY")
                assert -1e-8 <= x + origin <= 420 + 1e-8
                assert -1e-8 <= y + origin / 3 <= 300 + 1e-8


class TestEveryRule:
    @given(some.lists(strokes(), min_size=1, max_size=6), controls, some.text(max_size=200))
    def test_a_program_keeps_them_all(self, listed, told, header):
        found = played(rs274.write(listed, told, AREA, [header]), told)
        assert found.faults == []
        assert set(found.armed) == {told.beam_on_word}
        assert len(found.burned) == len(found.armed) == sum(s.passes for s in listed)

    @given(some.lists(strokes(), min_size=1, max_size=6), controls)
    def test_it_burns_what_was_asked_and_nothing_else(self, listed, told):
        found = played(rs274.write(listed, told, AREA), told)
        wanted = [s for s in listed for _ in range(s.passes)]
        most = told.highest_power_word.magnitude
        x, y = told.origin_x.magnitude, told.origin_y.magnitude
        for move, stroke in zip(found.burned, wanted, strict=True):
            start = (move.start[0] + x, move.start[1] + y)
            assert math.dist(start, stroke.first) < 1.5e-3
            assert math.dist((move.end[0] + x, move.end[1] + y), stroke.last) < 1.5e-3
            assert move.feed == pytest.approx(60 * stroke.speed, abs=0.051)
            assert move.power <= most * stroke.share + 1e-9
            assert move.power == pytest.approx(most * stroke.share, abs=1.1e-3)

    @given(some.lists(strokes(), min_size=1, max_size=6), controls)
    def test_run_ups_are_at_the_same_feed_with_the_beam_off(self, listed, told):
        found = played(rs274.write(listed, told, AREA), told)
        fed = [m for m in found.moves if not m.rapid]
        assert {m.power for m in fed} - {m.power for m in found.burned} <= {0.0}
        rapids = [m.end for m in found.moves if m.rapid]
        wanted = [s.start for s in listed for _ in range(s.passes)]
        for place, start in zip(rapids, wanted, strict=False):
            at = (place[0] + told.origin_x.magnitude, place[1] + told.origin_y.magnitude)
            assert math.dist(at, start) < 1.5e-3

    @given(some.lists(strokes(), min_size=1, max_size=6), controls)
    def test_an_outline_never_arms_the_beam_and_passes_every_place(self, listed, told):
        text = rs274.outline(listed, told, AREA, speed=20.0)
        assert "M3" not in text
        assert "M4" not in text
        found = played(text, told)
        flat = [fault for fault in found.faults if "does not move" not in fault]
        assert flat == []  # strokes that all lie on one line have a flat outline
        assert found.burned == []
        assert {m.feed for m in found.moves if not m.rapid} == {1200.0}
        x, y = told.origin_x.magnitude, told.origin_y.magnitude
        seen = [(m.end[0] + x, m.end[1] + y) for m in found.moves]
        for stroke in listed:
            assert min(math.dist(p, stroke.start) for p in seen) < 1.5e-3
            assert min(math.dist(p, stroke.end) for p in seen) < 1.5e-3
        ends = [p for s in listed for p in (s.start, s.end)]
        round_it = seen[:5]
        for k in (0, 1):
            assert min(p[k] for p in round_it) == pytest.approx(min(p[k] for p in ends), abs=2e-3)
            assert max(p[k] for p in round_it) == pytest.approx(max(p[k] for p in ends), abs=2e-3)


def test_a_program_by_hand():
    told = control(origin_x="10 mm", origin_y="-5 mm", park_x="0 mm", park_y="300 mm")
    line = Stroke(
        start=(15, 20), first=(16, 20), last=(36, 20), end=(37, 20), speed=2.5, share=0.5,
        label="line 7",
    )  # fmt: skip
    assert rs274.write([line], told, AREA, ["A note."]).splitlines() == [
        "G17 G21 G90 G94 M5 S0",
        "( A note. )",
        "( line 7 )",
        "M5 S0",
        "G0 X5 Y25",
        "M4 S0",
        "G1 X6 Y25 F150 S0",
        "G1 X26 Y25 F150 S500",
        "G1 X27 Y25 F150 S0",
        "M5 S0",
        "G0 X-10 Y305",
        "M5 S0",
    ]


def test_an_outline_by_hand():
    other = Stroke(start=(8, 4), first=(8, 5), last=(8, 25), end=(8, 26), speed=2, label="line 2")
    assert rs274.outline([ONE, other], control(), AREA, ["First."]).splitlines() == [
        "G17 G21 G90 G94 M5 S0",
        "( First. )",
        "M5 S0",
        "G0 X5 Y4",
        "G1 X27 Y4 F1200 S0",
        "G1 X27 Y26 F1200 S0",
        "G1 X5 Y26 F1200 S0",
        "G1 X5 Y4 F1200 S0",
        "M5 S0",
        "G0 X5 Y9",
        "G1 X27 Y9 F1200 S0",
        "( line 2 )",
        "M5 S0",
        "G0 X8 Y4",
        "G1 X8 Y26 F1200 S0",
        "M5 S0",
    ]


@pytest.mark.parametrize("missing", sorted(TOLD))
def test_nothing_is_written_while_the_control_leaves_something_open(missing):
    told = BeamControl(**{key: value for key, value in TOLD.items() if key != missing})
    assert told.missing == (missing,)
    for made in (rs274.write, rs274.outline):
        with pytest.raises(ValueRefused, match=rf"\[beam_control\] leaves open: {missing}\."):
            made([ONE], told, AREA)


def test_all_that_is_not_stated_is_named():
    assert set(BeamControl().missing) == set(TOLD)
    assert BeamControl(**TOLD).against == ()
    told = control(on_alarm="beam stays on", on_pause="beam stays on")
    assert told.against == ("when a program is paused", "at an alarm")


def changed(**more) -> Stroke:
    import attrs

    return attrs.evolve(ONE, **more)


@pytest.mark.parametrize(
    ("stroke", "reason"),
    [
        (changed(end=(420.001, 9)), "stroke 1 leaves the work area"),
        (changed(start=(-0.001, 9)), "stroke 1 leaves the work area"),
        (changed(last=(26, 300.001)), "stroke 1 leaves the work area"),
        (changed(first=(6, -0.001)), "stroke 1 leaves the work area"),
        (changed(end=(math.nan, 9)), "stroke 1 leaves the work area"),
        (changed(last=(6.009, 9)), "stroke 1 has no length with the beam on"),
        (changed(speed=0.0099), "stroke 1 has no speed"),
        (changed(speed=math.inf), "stroke 1 has no speed"),
        (changed(speed=math.nan), "stroke 1 has no speed"),
        (changed(share=0.0), "a power that is none, or beyond the largest"),
        (changed(share=1.0001), "a power that is none, or beyond the largest"),
        (changed(share=math.nan), "a power that is none, or beyond the largest"),
        (changed(passes=0), "no whole number of passes"),
        (changed(passes=1.0), "no whole number of passes"),
    ],
)
def test_a_stroke_that_no_program_may_hold_is_refused(stroke, reason):
    for made in (rs274.write, rs274.outline):
        with pytest.raises(ValueRefused, match=reason):
            made([stroke], control(), AREA)


def test_strokes_at_the_very_edge_are_written():
    edge = Stroke(
        start=(0, 0), first=(0, 300), last=(0.01, 300), end=(420, 300), speed=0.01, share=1.0
    )
    found = played(rs274.write([edge], control(), AREA), control())
    assert found.faults == []
    assert found.burned[0].power == 1000
    assert found.burned[0].feed == 0.6


def test_every_reason_is_told_at_once():
    told = BeamControl(**{**TOLD, "highest_power_word": None}, park_x="1 mm")
    with pytest.raises(ValueRefused) as refused:
        rs274.write([ONE, changed(speed=0, share=2)], told, AREA)
    for part in ("highest_power_word", "stroke 2 has no speed", "beyond", "both park_x and park_y"):
        assert part in str(refused.value)
    with pytest.raises(ValueRefused, match="there is no stroke"):
        rs274.write([], control(), AREA)
    for park in ({"park_x": "421 mm", "park_y": "1 mm"}, {"park_x": "1 mm", "park_y": "301 mm"}):
        with pytest.raises(ValueRefused, match="parking place lies outside"):
            rs274.write([ONE], control(**park), AREA)
    with pytest.raises(ValueRefused, match="both park_x and park_y"):
        rs274.write([ONE], control(park_y="1 mm"), AREA)


def test_places_are_written_to_a_thousandth_of_a_millimetre():
    third = Stroke(start=(1 / 3, 0), first=(2 / 3, 0), last=(10 / 3, 0), end=(11 / 3, 0), speed=1)
    places = [line.split()[1] for line in rs274.write([third], control(), AREA).splitlines()[2:]]
    assert places == ["X0.333", "S0", "X0.667", "X3.333", "X3.667", "S0"]


def test_numbers_and_comments():
    assert [rs274.number(v, 3) for v in (0, -0.0001, 12.5, 1000, 1.23456, -3)] == [
        "0", "0", "12.5", "1000", "1.235", "-3",
    ]  # fmt: skip
    assert rs274.comments(["", " "]) == []
    long = rs274.comments(["word " * 40])
    assert len(long) == 4
    assert max(map(len, long)) <= 72
    # Sixty-six letters go on a line: with the brackets it has seventy.
    assert rs274.comments(["a" * 65 + "b c"]) == [f"( {'a' * 65}b )", "( c )"]
    assert rs274.comments(["a" * 60 + " bcdefg"]) == [f"( {'a' * 60} )", "( bcdefg )"]
    assert rs274.comments(["a" * 60 + " bcdef"]) == [f"( {'a' * 60} bcdef )"]
    assert rs274.comments(["5 %; (x) [y] {z} ~!$?#\u00b5\n"]) == ["( 5 percent, x y z )"]


class TestTheReader:
    """It has to see what it is there for."""

    good = rs274.write([ONE], control(), AREA)

    @pytest.mark.parametrize(
        ("old", "new", "said"),
        [
            ("G17 G21", "G21 G17", "first block"),
            ("G94 M5 S0", "G94 M5", "first block"),
            ("M4 S0\n", "M4 S10\n", "block of its own"),
            ("M4 S0\n", "M4\n", "block of its own"),
            ("M4 S0\n", "", "without an armed beam"),
            ("M5 S0\nG0", "G0", "no M5 S0 stands"),
            ("S1000", "S1001", "beyond the largest"),
            ("X27 Y9 F120 S0", "X26 Y9 F120 S0", "does not move"),
            ("X27 Y9 F120 S0", "X-1 Y9 F120 S0", "leaves the work area"),
            ("X27 Y9 F120 S0", "X27 Y301 F120 S0", "leaves the work area"),
            ("G1 X27 Y9 F120 S0\nM5 S0\n", "G1 X27 Y9 F120 S0\n", "last block"),
            ("G0 X5 Y9", "G0 X5 Y9 S5", "places alone"),
            ("F120 S1000", "F0 S1000", "no feed"),
            ("M4 S0\n", "M4 S0\nG4 P1\n", "none that a stroke needs|one order"),
            ("M4 S0\n", "M4 S0\nG2 X6 Y9 F120 S0\n", "one order"),
            ("G1 X26 Y9 F120 S1000", "G1 X26 Y9 F120", "says its power"),
            ("M4 S0\n", "M4 S0\n(no [end)\n", "does not belong"),
            ("G0 X5", "g0 X5", "cannot be read"),
        ],
    )  # fmt: skip
    def test_it_sees(self, old, new, said):
        import re

        assert old in self.good
        assert reader.play(self.good, 1000, AREA).faults == []
        found = reader.play(self.good.replace(old, new), 1000, AREA).faults
        assert any(re.search(said, fault) for fault in found), found

    def test_it_sees_a_rapid_move_with_the_beam_armed(self):
        text = "G17 G21 G90 G94 M5 S0\nM5 S0\nG0 X1 Y1\nM4 S0\nG0 X2 Y2\nM5 S0\n"
        assert len(reader.play(text, 1000, AREA).faults) == 2

    def test_it_sees_that_a_head_is_not_parked(self):
        assert reader.play(self.good, 1000, AREA, park=(0, 300)).faults == [
            "the head is not parked"
        ]
