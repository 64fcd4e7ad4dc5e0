"""The record says what the answers say, three times, with all that it rests on."""

from __future__ import annotations

import datetime
import hashlib
import json
import re
import subprocess
import tomllib
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from mathlib import Q, answers, figures, record, tables
from mathlib.answers import NAMES
from mathlib.errors import MathlibError, Unanswerable
from mathlib.machine import SECTIONS, TAGMAKER, Machine, load
from mathlib.record import MOMENTS, data, files, page, plain, provenance, template
from mathlib.record.worked import worked
from mathlib.safety import cautions, wording

PLAIN = TAGMAKER.with_name("tagmaker_plain.toml")
DAY = datetime.date(2026, 5, 31)
FINDING = """
[[measured]]
key = "carriage.friction"
value = "5 N"
uncertainty = "0.5 N"
date = "2026-05-30"
method = "spring scale"
"""


@pytest.fixture(scope="module")
def made() -> record.Record:
    return record.make(load(TAGMAKER), DAY)


@pytest.fixture(scope="module")
def html(made) -> str:
    return page.write(made)


def changed(folder: Path, old: str, new: str, source: Path = TAGMAKER) -> Machine:
    text = source.read_text(encoding="utf-8")
    assert old in text
    path = folder / "changed.toml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    return load(path)


def without_laser(folder: Path) -> Machine:
    return changed(folder, '[heads.laser]\nlike = "blue diode, one emitter, 5.5 W"\n', "")


class Outline(HTMLParser):
    """Ids, links and open tags of a page."""

    SELF_CLOSED = ("meta", "link", "img", "br", "hr", "input")

    def __init__(self) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.tags: list[str] = []
        self.open: list[str] = []

    def handle_starttag(self, tag, attrs):
        told = dict(attrs)
        self.tags.append(tag)
        self.ids += [told["id"]] if "id" in told else []
        self.links += [told[key] for key in ("href", "src") if key in told]
        if tag not in self.SELF_CLOSED:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in self.SELF_CLOSED:
            self.open.pop()

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def outline(text: str) -> Outline:
    found = Outline()
    found.feed(text)
    return found


def test_every_answer_has_its_moment():
    listed = [name for _, names in MOMENTS for name in names]
    assert sorted(listed) == sorted(NAMES)
    assert MOMENTS[0][0] == "Before ordering"


def test_all_three_forms_have_each_verdict_and_caution(made, html):
    text, told = " ".join(plain.write(made).split()), json.loads(data.write(made))
    shown = re.sub(r"\s+", " ", html.replace("&#39;", "'").replace("&#34;", '"'))
    assert len(made.answered) == len(NAMES)
    for entry in made.entries:
        stored = told["answers"][entry.name]
        assert stored["verdict"] == entry.answer.verdict
        assert stored["warnings"] == list(entry.answer.warnings)
        for sentence in (entry.answer.verdict, entry.answer.measure_next, *entry.answer.warnings):
            assert sentence in text
            assert sentence in shown


def test_the_json_carries_who_prevails_and_the_cautions_of_a_laser(made):
    told = json.loads(data.write(made))["answers"]["hazard"]["warnings"]
    for sentence in (
        wording.PREVAIL, wording.TABLE_TO_CHECK, wording.CLASSING, cautions.MOVING,
        *cautions.LASER, *cautions.DISTANCES, cautions.KNIFE,
    ):  # fmt: skip
        assert sentence in told


def test_verdicts_come_before_the_numbers(made, html):
    for text in (plain.write(made), html):
        first = text.index("steps_per_length" if text[0] != "<" else "steps per length")
        for entry in made.entries:
            assert text.index(entry.answer.asked.removesuffix("?")) < first


def test_json_reads_back_to_the_values(made):
    told = json.loads(data.write(made))
    for entry in made.entries:
        for word, value in entry.answer.values.items():
            stored = told["answers"][entry.name]["values"][word]
            assert Q(stored["number"], stored["unit"]) == value
            if word in entry.answer.ranges:
                low, high = entry.answer.ranges[word]
                assert Q(stored["low"], stored["unit"]) == low
                assert Q(stored["high"], stored["unit"]) == high
    mass = told["inputs"]["carriage.mass"]
    assert (mass["low"], mass["number"], mass["high"], mass["unit"]) == (0.25, 0.3, 0.38, "kg")
    assert mass["kind"] == "estimate"


def test_json_has_the_hashes_of_the_files_read(made):
    told = json.loads(data.write(made))
    assert told["machine"]["sha256"] == hashlib.sha256(TAGMAKER.read_bytes()).hexdigest()
    assert set(told["tables"]) == {"motors.csv", "belts.csv", "sections.csv", "lasers.csv"}
    for name, stored in told["tables"].items():
        assert stored == hashlib.sha256((tables.DATA / name).read_bytes()).hexdigest()


def test_a_number_that_does_not_hold_is_null(tmp_path):
    like = 'like = "frame 17, 40 mm, 0.9 deg"\n'
    weak = record.make(changed(tmp_path, like, like + 'holding_torque = "1 mN*m"\n'), DAY)
    told = json.loads(data.write(weak))
    assert told["answers"]["motor"]["values"]["lag"]["number"] is None
    assert "does not hold" in page.write(weak)


def test_the_page_stands_alone(html):
    found = outline(html)
    assert found.open == []
    assert len(found.ids) == len(set(found.ids))
    assert all(link.startswith("#") for link in found.links)
    assert {link[1:] for link in found.links} <= set(found.ids)
    assert not {"script", "link", "img", "iframe"} & set(found.tags)
    namespaces = {"http://www.w3.org/2000/svg", "http://www.w3.org/1998/Math/MathML"}
    assert set(re.findall(r"https?://[^\"' <)]+", html)) <= namespaces
    assert "url(" not in html.replace("url(#", "")
    assert found.tags.count("figure") == len(figures.NAMES)
    machine = load(TAGMAKER)
    formulas = sum(len(worked(name, answers.ask(name, machine), machine)) for name in NAMES)
    assert found.tags.count("math") == 2 * formulas  # equation and numbers


def test_estimates_are_marked_where_they_show(made):
    marked = {entry.name: entry.estimated for entry in made.entries}
    # The spot follows the estimated beam quality, friction's band the estimated friction ...
    assert {"spot_diameter", "depth_of_focus"} <= marked["spot"]
    assert {"friction_band", "friction_torque"} <= marked["step"]
    # ... while 16 microsteps of 400 on 20 teeth of 2 mm, and 100 mm/s by 2000 mm/s^2, do not.
    assert not {"steps_per_length", "lattice_worst", "step_rate"} & marked["step"]
    assert "ramp_time" not in marked["ringing"]
    assert "class_3b_limit" not in marked["hazard"]
    assert re.search(r"friction_band +~0\.007", plain.write(made))
    assert re.search(r"steps_per_length +160 step/mm", plain.write(made))


def test_a_finding_lies_over_the_estimate_and_is_named(tmp_path):
    text = TAGMAKER.read_text(encoding="utf-8") + FINDING
    path = tmp_path / "found.toml"
    path.write_text(text, encoding="utf-8")
    found = record.make(load(path), DAY)
    marked = {entry.name: entry.estimated for entry in found.entries}
    # friction is measured now; the band still follows the motor's torque, an estimate
    assert "friction_torque" not in marked["step"]
    assert "friction_band" in marked["step"]
    said = "carriage.friction: measured 2026-05-30: spring scale"
    assert said in plain.write(found)
    assert said in page.write(found)
    assert json.loads(data.write(found))["measured"].keys() == {"carriage.friction"}


@pytest.mark.parametrize("belts", ["crossed", "plain", "shaft"])
def test_worked_formulas_give_the_values_of_the_answers(belts, tmp_path):
    machine = changed(tmp_path, '"plain"', f'"{belts}"', PLAIN)
    counted = dict.fromkeys(NAMES, 0)
    for name in NAMES:
        answer = answers.ask(name, machine)
        for each in worked(name, answer, machine):
            value = each.formula(**each.inputs)
            assert value.magnitude == pytest.approx(answer.values[each.word].magnitude, rel=1e-9)
            counted[name] += 1
    counted["laser"] += 1  # its numbers are percentiles of draws, no equation's result
    counted["square"] += belts == "plain"  # no tooth racks a beam that a single belt holds
    assert all(counted.values()), counted


def test_what_cannot_be_answered_is_said_and_the_rest_stands(tmp_path):
    made = record.make(without_laser(tmp_path), DAY)
    left = {entry.name for entry in made.entries if entry.answer is None}
    assert left == {"spot", "energy", "material", "laser"}
    assert all(isinstance(e.fault, Unanswerable) for e in made.entries if e.fault)
    told = json.loads(data.write(made))
    assert "no laser head" in told["not_answered"]["spot"]
    assert set(told["answers"]) == set(NAMES) - left
    for text in (plain.write(made), page.write(made)):
        assert "How small is the spot?" in text
        assert "This machine has no laser head" in text
        assert "no laser in this file" in text.lower()


def test_a_belt_round_both_axes_has_a_record_too(tmp_path):
    made = record.make(changed(tmp_path, '"crossed"', '"single"'), DAY)
    assert [entry.name for entry in made.entries if entry.answer is None] == []
    assert outline(page.write(made)).tags.count("figure") == len(figures.NAMES)


def test_when_nothing_can_be_answered_nothing_is_made(monkeypatch):
    def refuse(name, machine):
        raise Unanswerable(f"No answer to {name}.")

    monkeypatch.setattr(answers, "ask", refuse)
    with pytest.raises(MathlibError, match=r"no question can be answered\.\n  Which motor\? No "):
        record.make(load(TAGMAKER), DAY)


def test_two_runs_differ_in_the_date_alone(made, html):
    again = record.make(load(TAGMAKER), DAY + datetime.timedelta(days=1))
    pairs = ((plain.write, plain.write(made)), (page.write, html), (data.write, data.write(made)))
    for write, first in pairs:
        assert first.count("2026-05-31") == 1
        assert write(again) == first.replace("2026-05-31", "2026-06-01")


def test_progress_counts_the_questions():
    lines: list[str] = []
    record.make(load(TAGMAKER), DAY, lines.append)
    assert lines[0] == f"1 of {len(NAMES)}: which motor"
    assert lines[-1].startswith(f"{len(NAMES)} of {len(NAMES)}: ")


def test_the_commit_is_named_and_never_needed(tmp_path, monkeypatch):
    monkeypatch.setattr(provenance, "ROOT", tmp_path)
    assert provenance.commit() == "no commit"

    def git(*arguments: str) -> str:
        person = ["-c", "user.name=t", "-c", "user.email=t@example.org"]
        asked = ["git", "-C", str(tmp_path), *person, *arguments]
        return subprocess.run(asked, check=True, capture_output=True, text=True).stdout.strip()

    git("init", "--quiet")
    assert provenance.commit() == "no commit"
    (tmp_path / "file").write_text("one")
    git("add", "file")
    git("commit", "--quiet", "-m", "one")
    assert provenance.commit() == git("rev-parse", "--short=12", "HEAD")
    (tmp_path / "file").write_text("two")
    assert provenance.commit() == git("rev-parse", "--short=12", "HEAD") + "-dirty"
    monkeypatch.setenv("PATH", str(tmp_path))
    assert provenance.commit() == "no commit"


def test_files_are_written_all_or_none(tmp_path):
    first, second = tmp_path / "first", tmp_path / "absent" / "second"
    first.write_text("as it was")
    with pytest.raises(MathlibError, match=r"absent.second cannot be written: No such file"):
        files.write_whole({first: "new", second: "new"})
    assert first.read_text() == "as it was"
    assert [path.name for path in tmp_path.iterdir()] == ["first"]
    files.write_whole({first: "new °\n"})
    assert first.read_bytes() == "new °\n".encode()


def test_a_folder_is_not_made_where_a_file_stands(tmp_path):
    (tmp_path / "taken").write_text("")
    for path in (tmp_path / "taken", tmp_path / "taken" / "below"):
        with pytest.raises(MathlibError, match="is a file, or lies below one; name a folder"):
            files.folder(path)
    assert files.folder(tmp_path / "a" / "b").is_dir()


def test_the_template_names_every_key_and_reads_without_mistake(tmp_path):
    text = template.write()
    path = tmp_path / "my.toml"
    path.write_text(text, encoding="utf-8")
    machine, tagmaker = load(path), load(TAGMAKER)
    assert machine.carriage == tagmaker.carriage
    assert machine.ranges["carriage.mass"] == tagmaker.ranges["carriage.mass"]
    for name, section in SECTIONS.items():
        part = text[text.index(f"[{name}]") :].split("\n\n")[0]
        for field in section.record.__attrs_attrs__:
            assert re.search(rf"^(# )?(or: )?{field.name} = ", part, re.MULTILINE), (
                name,
                field.name,
            )


def test_every_commented_key_of_the_template_reads_once_it_is_taken_up(tmp_path):
    text = re.sub(r"^# (\w+ = |\[)", r"\1", template.write(), flags=re.MULTILINE)
    told = tomllib.loads(text)
    assert set(told) == {"format", "measured", *(name.partition(".")[0] for name in SECTIONS)}
    path = tmp_path / "all.toml"
    path.write_text(text, encoding="utf-8")
    machine = load(path)
    assert machine.heads.knife is not None
    assert machine.heads.laser.divergence == Q("1 mrad")
    assert list(machine.contents.measured) == ["carriage.friction"]


def test_the_reference_has_every_formula_and_word():
    from mathlib import catalogue

    known = catalogue.formulas()
    words = catalogue.glossary(known)
    text = page.reference(known, words)
    found = outline(text)
    assert found.open == []
    assert set(known) <= set(found.ids)
    assert len(found.ids) == len(set(found.ids))
    assert {link[1:] for link in found.links} <= set(found.ids)
    assert all(f"<code>{word}</code>" in text for word in words)
    assert found.tags.count("math") == sum(2 + len(each.inputs) for each in known.values())


def test_drawn_machines_have_a_record_too():
    drawn = load(TAGMAKER).draw(64)
    value = answers.ask("motor", drawn).values["position_error"]
    assert record.scalar(value).magnitude == np.median(value.magnitude)
