"""A machine file: every mistake at once, named by key and line; findings over design values."""

from __future__ import annotations

import pytest

from mathlib import machine
from mathlib.errors import MachineFileError

TEXT = machine.TAGMAKER.read_text(encoding="utf-8")


@pytest.fixture
def write(tmp_path):
    def write_file(text: str | bytes, name: str = "mine.toml"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write_file


def mistakes_in(path) -> str:
    with pytest.raises(MachineFileError) as caught:
        machine.load(path)
    return str(caught.value)


def line_of(text: str, part: str) -> int:
    return text[: text.index(part)].count("\n") + 1


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('rail_spacing = "480 mm"', "rail_spacing = 480", 'the bare number 480. Write "480 mm"'),
        ('rail_spacing = "480 mm"', 'rail_spacing = "480 N"', "needs a length"),
        ('rail_spacing = "480 mm"', 'rail_spacing = "480 mn"', "no unit 'mn'"),
        ('rail_spacing = "480 mm"', 'rail_spacing = "0 mm"', "must be positive; got 0 mm"),
        ('rail_spacing = "480 mm"', 'rail_spacing = "-480 mm"', "must be positive; got -480 mm"),
        ('rail_spacing = "480 mm"', 'rail_spacing = "1e300 mm"', "far beyond"),
        ('rail_spacing = "480 mm"', 'rail_spacing = "4,80 mm"', "decimal comma"),
        ('rail_spacing = "480 mm"', 'rail_spacing = ["480 mm"]', "needs a length"),
        ('rail_spacing = "480 mm"', "rail_spacing = 2026-05-31", "needs a length"),
        ('rail_spacing = "480 mm"', "rail_spacing = nan", "the bare number nan"),
        ('rail_spacing = "480 mm"', "rail_spacing = inf", "the bare number inf"),
        ("teeth = 20", 'teeth = "20 mm"', "needs a plain number; got 20 mm"),
        ("teeth = 20", "teeth = true", "the truth value True"),
        ("teeth = 20", "teeth = nan", "must be positive; got nan"),
        ("teeth = 20", "teeth = 0", "must be positive; got 0"),
        ('belts = "crossed"', 'belts = "cross"', 'one of "crossed", "plain", "shaft", "single"'),
        ('name = "Tagmaker, crossed belts"', "name = 3", "a text in double quotes is needed"),
    ],
)
def test_a_wrong_value_is_named_by_line_key_value_and_what_to_write(write, old, new, told):
    found = mistakes_in(write(TEXT.replace(old, new, 1)))
    key = new.partition(" = ")[0]
    assert "one mistake" in found
    assert f"line {line_of(TEXT, old)}: " in found
    assert f".{key} = " in found
    assert told in found


def test_a_torque_given_as_force_over_length_gets_the_likely_unit(write):
    like = 'like = "frame 17, 40 mm, 0.9 deg"'
    text = TEXT.replace(like, f'{like}\nholding_torque = "40 N/cm"', 1)
    found = mistakes_in(write(text))
    assert "motor.holding_torque = '40 N/cm': needs a torque" in found
    assert "Did you mean 'N*cm'?" in found


def test_all_mistakes_of_a_file_are_told_at_once(write):
    text = (
        TEXT.replace('"24 V"', "24")
        .replace("teeth = 20", "teeth = -20")
        .replace("rail_spacing", "rail_spacin")
        .replace("[supply]", "[suply]")
        .replace("format = 1", "format = 7")
    )
    found = mistakes_in(write(text))
    for told in ("format", "pulley.teeth", "'rail_spacing'", "'supply'", "suply.voltage = 24"):
        assert told in found


def test_an_absent_key_says_what_it_is_and_its_unit(write):
    found = mistakes_in(write(TEXT.replace('travel_x = "420 mm"\n', "")))
    assert "machine.travel_x: missing: of the head along the moving beam, a length" in found


def test_an_unknown_row_names_the_nearest(write):
    found = mistakes_in(write(TEXT.replace("frame 17, 40 mm, 0.9 deg", "frame 17, 40mm, 0.9 deg")))
    assert "motors.csv has no such row" in found
    assert "'frame 17, 40 mm, 0.9 deg'" in found


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "is empty"),
        (b" \n\n", "is empty"),
        (b"\x00\x01\x02", "binary"),
        (TEXT.encode("utf-16"), "UTF-16"),
        (TEXT.replace("Tagmaker", "T\xe4gmaker").encode("latin-1"), "not UTF-8"),
        (TEXT.replace('"480 mm"', "480 mm").encode(), "not TOML"),
        (b"x" * 1_000_001, "larger than a machine file"),
        (b"\xef\xbb\xbfformat = 1\n", "the table [machine] is missing"),
    ],
)
def test_what_is_no_machine_file_is_refused_in_a_sentence(write, content, told):
    assert told in mistakes_in(write(content))


def test_a_folder_and_an_absent_file_are_refused(tmp_path, write):
    assert "is a folder" in mistakes_in(tmp_path)
    write(TEXT, "tagmaker.toml")
    assert "Did you mean" in mistakes_in(tmp_path / "tagmakr.toml")


RANGE = 'friction = {low = "2 N", typical = "4 N", high = "8 N", source = "two rail'


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('high = "8 N", source = "two', 'high = "3 N", source = "two', "out of order"),
        ('high = "8 N", source = "two', 'high = "8 mm", source = "two', "needs a force"),
        ('high = "8 N", source = "two', 'top = "8 N", source = "two', "a range is {low ="),
        (
            'high = "8 N", source = "two',
            'high = "8 N", kind = "guess", source = "two',
            "kind is one",
        ),
    ],
)
def test_a_wrong_range_is_told(write, old, new, told):
    assert RANGE in TEXT
    assert told in mistakes_in(write(TEXT.replace(old, new, 1)))


FINDING = """
[[measured]]
key = "carriage.friction"
value = "{value}"
uncertainty = "0.3 N"
date = {date}
method = "spring scale"
"""


def test_the_newest_finding_lies_over_the_design_value(write):
    older = FINDING.format(value="2.5 N", date='"2026-04-30"')
    newer = FINDING.format(value="3.1 N", date="2026-05-31")
    found = machine.load(write(TEXT + newer + older))
    assert found.carriage.friction.magnitude == pytest.approx(3.1)
    span = found.ranges["carriage.friction"]
    assert span.kind == "measured"
    # 90 % of a normal distribution: 1.645 standard uncertainties of 0.3 N above.
    assert span.high.magnitude == pytest.approx(3.1 + 1.645 * 0.3, rel=1e-4)
    assert found.contents.measured["carriage.friction"] == "measured 2026-05-31: spring scale"
    assert "measured: carriage.friction" in repr(found)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("carriage.friction", "carriage.fricton", "Did you mean 'carriage.friction'?"),
        ('"2026-04-30"', '"30.4.2026"', "write a day such as 2026-05-31"),
        ('uncertainty = "0.3 N"\n', "", "uncertainty missing"),
        ('value = "2 N"', 'value = "2 mm"', "needs a force"),
        ("method", "methd", "Did you mean 'method'?"),
    ],
)
def test_a_wrong_finding_is_told_with_its_number(write, old, new, told):
    block = FINDING.format(value="2 N", date='"2026-04-30"').replace(old, new)
    found = mistakes_in(write(TEXT + block))
    assert "measured[1]" in found
    assert told in found


def test_keys_beside_like_override_the_row(write):
    like = 'like = "frame 17, 40 mm, 0.9 deg"'
    found = machine.load(write(TEXT.replace(like, f'{like}\nholding_torque = "0.40 N*m"', 1)))
    assert found.motor.holding_torque.magnitude == 0.40
    assert "motor.holding_torque" not in found.ranges
    assert found.motor.resistance.magnitude == pytest.approx(1.65)


def test_keys_of_a_misspelt_table_are_checked_too(write):
    text = TEXT.replace("[supply]", "[suply]").replace('"24 V"', "24")
    found = mistakes_in(write(text))
    assert "Did you mean 'supply'?" in found
    assert "suply.voltage = 24" in found
    assert "is missing" not in found


def test_a_width_over_a_row_needs_what_goes_with_it(write):
    like = 'like = "2 mm curvilinear, glass cord, 6 mm"'
    found = mistakes_in(write(TEXT.replace(like, f'{like}\nwidth = "9 mm"', 1)))
    assert "specific_stiffness and mass_per_length belong to its own width" in found


def test_a_share_is_at_most_a_whole(write):
    found = mistakes_in(write(TEXT.replace("power_share = 0.8", "power_share = 80")))
    assert "job.power_share = 80: must be more than 0 and at most 1, which is 100 %" in found
    assert machine.load(write(TEXT.replace("power_share = 0.8", 'power_share = "80 %"')))


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ('"48 N.cm"', "0.48 N*m"),
        ('"0,48 Nm"', "0.48 N*m"),
        ('"68 oz-in"', "0.480186 N*m"),
        ('"4.9 kg.cm"', "0.480526 N*m"),
    ],
)
def test_a_nameplate_s_spelling_is_answered_with_what_to_write(write, typed, meant):
    like = 'like = "frame 17, 40 mm, 0.9 deg"'
    found = mistakes_in(write(TEXT.replace(like, f"{like}\nholding_torque = {typed}", 1)))
    assert f'Here write "{meant}".' in found


def test_a_range_without_a_source_is_told(write):
    found = mistakes_in(write(TEXT.replace(', source = "parts list before weighing"', "", 1)))
    assert "source is missing: who measured or stated it, and how" in found
