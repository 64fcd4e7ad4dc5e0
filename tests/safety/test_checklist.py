"""The checklist: what it must hold, and that it follows what a machine has."""

from __future__ import annotations

import re
import tomllib

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q, machine, tables
from mathlib.__main__ import main
from mathlib.errors import TableError, ValueRefused
from mathlib.machine import TAGMAKER
from mathlib.safety import checklist

TEXT = {
    name: " ".join(repr(checklist.build(parts)).split())
    for name, parts in {
        "diode": ["laser", "pen", "knife"],
        "tube": ["laser", "gas tube", "unseen beam"],
        "knife": ["knife", "pen"],
        "meetup": ["laser", "pen", "knife", "meetup"],
    }.items()
}


@pytest.mark.parametrize(
    "said",
    [
        "in series with a hardware enable",
        "pulls the beam's control line to off",
        "at power-up, reset, pause, feed hold, alarm, end of job and lost link",
        "No motion, no beam",
        "A lamp shows that the laser is enabled",
        "A key enables the laser",
        "An emergency stop",
        "protective earth",
        "Signs with the laser symbol",
        "was trained on this machine",
        "Hands out, then key on",
        "not pushed by hand while the motors are wired",
        "carbon dioxide extinguisher",
        "does not cool embers",
        "Half an hour of watching",
        "watching is by camera",
        "extraction off",
    ],
)
def test_a_laser_asks_for(said: str) -> None:
    assert said.lower() in TEXT["diode"].lower()


def test_high_voltage_is_for_tubes_and_for_trained_people_only() -> None:
    assert "high voltage" not in TEXT["diode"]
    assert "installed, bonded and interlocked by trained people" in TEXT["tube"]
    assert "By: people trained for high voltage" in TEXT["tube"]
    assert "Nobody looks for the beam with the eye" in TEXT["tube"]


def test_without_a_laser_no_beam_is_spoken_of() -> None:
    before = TEXT["knife"].split("Local codes")[0]
    assert not re.search(r"\b(beam|laser|eyewear|key)\b", before.replace("beam's ends", ""))
    assert "blade is capped" in before
    assert "emergency stop" in before
    assert "blade" not in TEXT["tube"]


def test_no_open_beam_at_a_meetup() -> None:
    assert "At a public meetup" not in TEXT["diode"]
    assert "No open beam" in TEXT["meetup"]
    assert "Nobody is handed eyewear" in TEXT["meetup"]


@given(st.sets(st.sampled_from(checklist.PARTS)))
def test_nothing_is_called_free_of_danger_and_the_law_prevails(parts: set[str]) -> None:
    made = checklist.build(parts)
    for page in (repr(made), made._repr_markdown_()):
        assert not re.search(r"\bsafe(ly)?\b|harmless", page, re.IGNORECASE)
        assert "prevail" in page
        for _, items in made.groups:
            assert all(item.text.split()[0] in page for item in items)
    assert all(items for _, items in made.groups)
    assert max(map(len, repr(made).splitlines())) <= 110


def test_an_unknown_part_is_refused() -> None:
    with pytest.raises(ValueRefused, match="no part 'plasma'"):
        checklist.build(["plasma"])


@pytest.mark.parametrize(
    ("wavelength", "parts"),
    [
        ("450 nm", {"laser"}),
        ("1064 nm", {"laser", "unseen beam"}),
        ("10.6 um", {"laser", "unseen beam", "gas tube"}),
    ],
)
def test_a_machine_says_what_it_has(wavelength: str, parts: set[str]) -> None:
    tagmaker = machine.load(TAGMAKER).typical()
    head = attrs.evolve(tagmaker.heads.laser, wavelength=wavelength)
    changed = attrs.evolve(tagmaker, heads=attrs.evolve(tagmaker.heads, laser=head))
    assert checklist.of(changed) == parts | {"knife", "pen"}
    bare = attrs.evolve(tagmaker, heads=attrs.evolve(tagmaker.heads, laser=None))
    assert checklist.of(bare) == {"knife", "pen"}


@pytest.mark.parametrize(
    ("light", "parts"),
    [
        ([400.0, 700.0], set()),
        ([399.9, 450.0], {"unseen beam"}),
        ([450.0, 700.1], {"unseen beam"}),
        ([4000.0, 4000.0], {"unseen beam"}),
        ([3990.0, 4000.1], {"unseen beam", "gas tube"}),
    ],
)
def test_of_a_head_that_was_drawn_every_wavelength_counts(
    light: list[float], parts: set[str]
) -> None:
    tagmaker = machine.load(TAGMAKER).typical()
    head = attrs.evolve(tagmaker.heads.laser, wavelength=Q(light, "nm"))
    drawn = attrs.evolve(tagmaker, heads=attrs.evolve(tagmaker.heads, laser=head))
    assert checklist.of(drawn) == parts | {"laser", "knife", "pen"}


@pytest.mark.parametrize("part", ["laser", "knife", "pen", "meetup"])
def test_a_build_with_one_part_gets_the_items_for_that_part(part: str) -> None:
    told = tomllib.loads((tables.DATA / "checklist.toml").read_text(encoding="utf-8"))
    wanted = [
        item["text"]
        for group in told["group"]
        for item in group["items"]
        if set(item.get("needs", [])) <= {part} and part not in item.get("unless", [])
    ]
    assert [item.text for _, items in checklist.build([part]).groups for item in items] == wanted
    alone = [i for g in told["group"] for i in g["items"] if i.get("needs") == [part]]
    assert alone or part == "pen"


def test_lines_are_as_long_as_a_page_is_wide() -> None:
    lines = repr(checklist.build(["laser", "pen", "knife"])).splitlines()
    assert max(map(len, lines)) == 96


def test_a_mistake_in_the_file_is_told(tmp_path, monkeypatch) -> None:
    text = '[[group]]\ntitle = "A"\nitems = [{ text = "b", why = "c", needs = ["plasma"] }]\n'
    (tmp_path / "checklist.toml").write_text(text, encoding="utf-8")
    monkeypatch.setattr(checklist.tables, "DATA", tmp_path)
    with pytest.raises(TableError, match="no machine has plasma"):
        checklist.build([])


class TestCommand:
    def test_it_prints_and_writes_a_page(self, tmp_path, capsys) -> None:
        assert main(["checklist", str(TAGMAKER), "-o", str(tmp_path)]) == 0
        printed = capsys.readouterr().out
        assert printed.startswith("Checklist for Tagmaker, crossed belts\n")
        page = (tmp_path / "checklist_tagmaker.html").read_text(encoding="utf-8")
        for _, items in checklist.for_machine(machine.load(TAGMAKER)).groups:
            for item in items:
                shown = page.replace("\N{NO-BREAK SPACE}", " ").replace("&#39;", "'")
                assert item.text in shown
        assert "At a public meetup" not in page
        assert "<script" not in page

    def test_a_meetup_has_its_own_page(self, tmp_path, capsys) -> None:
        assert main(["checklist", str(TAGMAKER), "--meetup", "-o", str(tmp_path)]) == 0
        assert "At a public meetup" in capsys.readouterr().out
        assert (tmp_path / "checklist_tagmaker_meetup.html").is_file()

    @pytest.mark.parametrize(
        ("name", "laser", "says", "says_not"),
        [
            ("pen", "", "emergency stop", "eyewear"),
            ("tube", 'like = "gas tube, 40 W"', "trained for high voltage", "At a public meetup"),
            ("fibre", 'like = "infrared fibre, 1064 nm, 20 W"', "looks for the beam", "gas tube"),
        ],
    )
    def test_machines_with_other_heads(self, tmp_path, capsys, name, laser, says, says_not) -> None:
        text = TAGMAKER.read_text(encoding="utf-8")
        old = '[heads.laser]\nlike = "blue diode, one emitter, 5.5 W"\n'
        assert old in text
        file = tmp_path / f"{name}.toml"
        new = text.replace(old, f"[heads.laser]\n{laser}\n" if laser else "")
        file.write_text(new, encoding="utf-8")
        assert main(["checklist", str(file), "-o", str(tmp_path)]) == 0
        printed = " ".join(capsys.readouterr().out.split())
        page = (tmp_path / f"checklist_{name}.html").read_text(encoding="utf-8")
        for told in (printed, page.replace("\N{NO-BREAK SPACE}", " ")):
            assert says in told
            assert says_not not in told
            assert "prevail" in told

    def test_a_missing_file_is_one_sentence(self, tmp_path, capsys) -> None:
        assert main(["checklist", str(tmp_path / "none.toml"), "-o", str(tmp_path)]) == 2
        assert "none.toml" in capsys.readouterr().err
