"""Pages keep their rhythm, stay short, read right for any machine, and are stored as they ran."""

import ast
import base64
import contextlib
import importlib.util
import io
import re
from pathlib import Path
from xml.etree import ElementTree

import nbformat
import pytest

from mathlib.answers import hazard
from mathlib.errors import Unanswerable
from mathlib.machine import load
from mathlib.safety import wording

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "notebooks"
PAGES = sorted(FOLDER.glob("*.ipynb"))
START = FOLDER / "00_start_here.ipynb"
QUESTIONS = [path for path in PAGES if path != START]
MOTOR = FOLDER / "02_which_motor.ipynb"
TAGMAKER = (ROOT / "data" / "machines" / "tagmaker.toml").read_text(encoding="utf-8")
RHYTHM = [
    "In short",
    "The picture",
    "The formula",
    "Your number",
    "Play",
    "Verdict",
    "What would change my mind",
    "Exercises",
    "Where next",
]
#: Letters of each page's first formulas, as its picture writes them.
SYMBOLS = {
    "01_how_far_is_one_step.ipynb": ("S", "μ", "p", "z", "s", "ew"),
    "02_which_motor.ipynb": ("x", "r", "T", "Th", "Nr"),
    "03_how_tight_is_a_belt.ipynb": ("T", "f", "L", "m", "Fs"),
    "04_is_it_square.ipynb": ("g", "w", "h", "d1", "d2"),
    "05_what_makes_it_ring.ipynb": ("m", "k", "f", "v", "A", "s"),
    "14_power_and_wiring.ipynb": ("P", "Ps", "I", "R", "l", "A"),
    "07_how_small_is_the_spot.ipynb": ("D", "f", "d0", "d", "z", "zR"),
    "08_how_much_energy_lands.ipynb": ("H", "P", "v", "s", "H0", "d", "r", "a", "x"),
    "09_what_does_the_material_do.ipynb": ("P", "w", "v", "A", "k", "α", "L", "dT", "Pe"),
    "10_which_laser.ipynb": ("P", "v", "t", "w", "n"),
    "12_who_could_be_hurt.ipynb": ("P", "M", "r", "f", "b", "θ", "φ"),
    "06_how_stiff_is_the_frame.ipynb": ("s", "W", "L", "E", "I", "m"),
}
#: Pages that cannot be without a laser head.
LASER = [
    FOLDER / "07_how_small_is_the_spot.ipynb",
    FOLDER / "08_how_much_energy_lands.ipynb",
    FOLDER / "09_what_does_the_material_do.ipynb",
    FOLDER / "10_which_laser.ipynb",
]
HURT = FOLDER / "12_who_could_be_hurt.ipynb"
MOST_LINES = 15
MOST_IMPORT_LINES = 8
NUMBER = re.compile(r"(?<![\w.])\d+\.\d+(?!\w)")


def read(path: Path) -> nbformat.NotebookNode:
    return nbformat.read(path, as_version=4)


def code_of(path: Path) -> list[nbformat.NotebookNode]:
    return [cell for cell in read(path).cells if cell.cell_type == "code"]


def prose_of(path: Path) -> str:
    return "\n\n".join(cell.source for cell in read(path).cells if cell.cell_type == "markdown")


def printed(cell: nbformat.NotebookNode) -> str:
    """Put together what a cell showed as text."""
    found = []
    for output in cell.outputs:
        found.append(output.get("text", ""))
        data = output.get("data", {})
        found += [text for kind, text in data.items() if kind.startswith("text/")]
    return "\n".join(found)


def each(paths):
    return pytest.mark.parametrize("path", paths, ids=lambda path: path.stem)


@pytest.fixture(scope="module")
def run_pages():
    spec = importlib.util.spec_from_file_location("run_pages", FOLDER / "run_pages.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_there_are_pages_and_a_start():
    assert START in PAGES
    assert MOTOR in QUESTIONS


@each(PAGES)
class TestText:
    def test_title_is_a_question(self, path):
        first = read(path).cells[0]
        assert first.cell_type == "markdown"
        assert re.match(r"# [A-Z].*\?$", first.source.splitlines()[0])
        assert len(re.findall(r"^# ", prose_of(path), flags=re.MULTILINE)) == 1

    def test_there_is_as_much_prose_as_code(self, path):
        code = " ".join(cell.source for cell in code_of(path))
        assert len(prose_of(path).split()) >= len(code.split())

    def test_no_result_is_typed_into_the_prose(self, path):
        results = set(NUMBER.findall("\n".join(map(printed, code_of(path)))))
        assert results
        assert set(NUMBER.findall(prose_of(path))) & results <= {"1.8", "0.9"}  # the question

    def test_no_motor_is_chosen_in_the_prose(self, path):
        assert not re.search(r"(?i)\b(take|choose|buy|order) the (0\.9|1\.8|finer)", prose_of(path))

    def test_pictures_exist_and_say_what_they_show(self, path):
        for alternative, target in re.findall(r"!\[([^]]*)\]\(([^)]+)\)", prose_of(path)):
            assert len(alternative.split()) >= 8
            picture = ElementTree.parse(FOLDER / target).getroot()
            assert picture.get("role") == "img"
            names = {child.tag.rpartition("}")[2]: child.text for child in picture}
            assert names["title"]
            assert names["desc"]

    def test_links_lead_to_files(self, path):
        for target in re.findall(r"(?<!!)\[[^]]*\]\(([^)#]+)\)", prose_of(path)):
            assert "://" not in target
            assert (FOLDER / target).is_file(), target


@each(PAGES)
class TestCode:
    def test_first_cell_imports_and_opens_the_machine(self, path):
        first, *rest = (cell.source for cell in code_of(path))
        assert "machine = mathlib.open_machine()" in first.splitlines()
        assert len([line for line in first.splitlines() if line]) <= MOST_IMPORT_LINES
        assert "import *" not in first
        for source in rest:
            assert not re.search(r"^\s*(import|from) ", source, flags=re.MULTILINE), source

    def test_cells_are_short(self, path):
        lengths = [len(cell.source.splitlines()) for cell in code_of(path)]
        assert max(lengths) <= MOST_LINES
        assert sorted(lengths)[len(lengths) // 2] <= 8

    def test_cells_define_nothing_install_nothing_and_use_no_magic(self, path):
        for cell in code_of(path):
            assert not re.search(r"^\s*[%!]|\bpip\b|https?:", cell.source, flags=re.MULTILINE)
            kinds = {type(node) for node in ast.walk(ast.parse(cell.source))}
            assert not kinds & {ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef, ast.Lambda}

    def test_something_is_asserted(self, path):
        sources = "\n".join(cell.source for cell in code_of(path))
        assert any(isinstance(node, ast.Assert) for node in ast.walk(ast.parse(sources)))


@each(PAGES)
class TestStored:
    def test_cells_were_run_once_from_top_to_bottom(self, path):
        counts = [cell.execution_count for cell in code_of(path)]
        assert counts == list(range(1, len(counts) + 1))

    def test_outputs_are_there_and_none_is_an_error(self, path):
        kinds = [output.output_type for cell in code_of(path) for output in cell.outputs]
        assert kinds
        assert "error" not in kinds
        assert "stderr" not in [o.get("name") for cell in code_of(path) for o in cell.outputs]

    def test_file_is_what_the_runner_writes(self, path, run_pages):
        assert run_pages.tidy(read(path)) == path.read_text(encoding="utf-8")

    def test_nothing_in_it_changes_from_run_to_run(self, path):
        page = read(path)
        assert "widgets" not in page.metadata
        assert "version" not in page.metadata.language_info
        assert all(not cell.metadata for cell in page.cells)
        assert "widget-view" not in path.read_text(encoding="utf-8")
        assert all(re.fullmatch(r"[a-z][a-z0-9-]+", cell.id) for cell in page.cells)
        assert not re.search(r"0x[0-9a-f]{6,}|/tmp/|/home/", "".join(map(printed, code_of(path))))

    def test_pictures_are_small_and_carry_their_alternative_text(self, path):
        for cell in code_of(path):
            for output in cell.outputs:
                picture = output.get("data", {}).get("image/png")
                if picture is not None:
                    assert len(base64.b64decode(picture)) < 100_000
                    assert len(output.metadata["image/png"]["alt"].split()) >= 8
                    assert output.data["text/plain"] == output.metadata["image/png"]["alt"]

    def test_stored_for_the_tagmaker(self, path):
        assert "Machine: Tagmaker, crossed belts" in printed(code_of(path)[0])


@each(QUESTIONS)
class TestQuestion:
    def test_rhythm(self, path):
        assert re.findall(r"^## (.+)$", prose_of(path), flags=re.MULTILINE) == RHYTHM

    def test_verdict_stands_on_the_first_screen_as_an_output(self, path):
        cells = read(path).cells
        assert "found.verdict" in cells[3].source
        assert len("".join(cell.source for cell in cells[:4]).split()) < 120

    def test_symbols_of_the_formula_stand_on_the_picture(self, path):
        drawn = " ".join(
            "".join(node.itertext())
            for target in re.findall(r"!\[[^]]*\]\(([^)]+)\)", prose_of(path))
            for node in ElementTree.parse(FOLDER / target).getroot().iter()
            if node.tag.endswith("}text")
        )
        for symbol in SYMBOLS[path.name]:
            assert re.search(rf"\b{symbol}\b", drawn), symbol

    def test_formula_cells_hold_a_name_only(self, path):
        sources = [cell.source for cell in code_of(path)]
        assert [s for s in sources if re.fullmatch(r"(motion|laser|safety)\.[a-z_.]+", s)]
        assert "\\frac" not in prose_of(path)

    def test_exercises_start_empty_and_have_folded_hints_and_solutions(self, path):
        sources = "\n".join(cell.source for cell in code_of(path))
        count = len(re.findall(r"^answer_\d = None  # yours", sources, flags=re.MULTILINE))
        assert count >= 2
        prose = prose_of(path)
        assert prose.count("<summary>Hint</summary>") == count
        assert prose.count("<summary>Solution</summary>") == count
        assert prose.count("<details>") == prose.count("</details>") == 2 * count
        assert prose.index("Hint") < prose.index("Solution")


class TestMap:
    def test_start_links_every_page_and_every_page_links_back(self):
        linked = set(re.findall(r"\]\(([^)]+\.ipynb)\)", prose_of(START)))
        assert linked == {path.name for path in QUESTIONS}
        for path in QUESTIONS:
            assert f"]({START.name})" in prose_of(path)

    def test_start_gives_each_page_its_own_title(self):
        for path in QUESTIONS:
            title = read(path).cells[0].source.splitlines()[0].removeprefix("# ")
            assert f"| {title} |" in prose_of(START)

    def test_moments_are_all_there(self):
        moments = ("before ordering", "after assembly", "before the first burn", "a new material")
        for moment in (*moments, "at the meetup"):
            assert f"| {moment} |" in prose_of(START)


def run(path: Path, replace: dict[str, str] | None = None) -> tuple[str, dict]:
    """Run a page's code in this process; return what it printed, and its names."""
    names: dict = {}
    heard = io.StringIO()
    with contextlib.redirect_stdout(heard):
        for cell in code_of(path):
            source = cell.source
            for old, new in (replace or {}).items():
                source = source.replace(old, new)
            exec(compile(source, f"{path.name}:{cell.id}", "exec"), names)
    return heard.getvalue(), names


def edited(*changes: tuple[str, str]) -> str:
    """Change the Tagmaker's file; each pattern must be found."""
    text = TAGMAKER
    for pattern, new in changes:
        text, count = re.subn(pattern, new, text, flags=re.MULTILINE)
        assert count, pattern
    return text


SPELLED_OUT = (
    '[motor]\nstep_angle = "1.8 deg"\nholding_torque = "0.4 N*m"\nrated_current = "1.7 A"\n'
    'resistance = "1.6 ohm"\ninductance = "3 mH"\nrotor_inertia = "54 g*cm^2"\n'
)
ALONE = [(r"\[motor\]\nlike.*\n", SPELLED_OUT), (r"\[other_motor\]\nlike.*\n", "")]
EXACT = [(r"\{low = .*typical = (\"[^\"]+\").*\}", r"\1"), (r"^\[heads\.laser\]\nlike.*\n", "")]
MACHINES = {
    "plain": (ROOT / "data" / "machines" / "tagmaker_plain.toml").read_text(encoding="utf-8"),
    "one motor": edited(*ALONE),
    "no ranges": edited(
        *ALONE,
        (
            r"\[belt\]\nlike.*\n",
            "[belt]\n"
            + """pitch = "2 mm"
width = "6 mm"\nspecific_stiffness = "19 kN"\nmass_per_length = "8.3 g/m"\n""",
        ),
        *EXACT,
    ),
    "slips": edited((r"^acceleration = .*$", 'acceleration = "90 m/s^2"')),
    "motor too weak": edited(
        (r"\[motor\]\nlike.*\n", SPELLED_OUT.replace('"0.4 N*m"', '"0.02 N*m"')),
    ),
    "no friction": edited((r"^friction = .*$", 'friction = "0 N"')),
    "coarse motor fitted": edited(
        (r"\[motor\]\nlike.*\n", '[motor]\nlike = "frame 17, 48 mm, 1.8 deg"\n'),
        (r"\[other_motor\]\nlike.*\n", '[other_motor]\nlike = "frame 17, 34 mm, 0.9 deg"\n'),
    ),
}


@pytest.fixture
def other_machine(request, tmp_path, monkeypatch):
    file = tmp_path / "other.toml"
    file.write_text(MACHINES[request.param], encoding="utf-8")
    monkeypatch.setenv("BELTS_AND_BEAMS_MACHINE", str(file))
    return request.param


class TestWhatEveryPageWithALaserSays:
    """Whoever reads one page only must meet the hazard, who prevails, and what is unchecked."""

    def test_no_page_with_a_laser_is_left_out(self):
        """A page that computes with the laser's part of the library has one."""
        found = {
            path
            for path in QUESTIONS
            if any(re.search(r"\blaser\.|\.laser\b", cell.source) for cell in code_of(path))
        }
        assert found == {*LASER, HURT}

    @each([*LASER, HURT])
    def test_it_says_so_on_its_first_screen(self, path):
        cells = read(path).cells
        first = next(i for i, cell in enumerate(cells) if "## The picture" in cell.source)
        told = " ".join(
            "".join(output.get("data", {}).get("text/markdown", ""))
            for cell in cells[:first]
            for output in cell.get("outputs", [])
        )
        tagmaker = load(ROOT / "data" / "machines" / "tagmaker.toml")
        for sentence in (hazard.answer(tagmaker).verdict, wording.PREVAIL, wording.TABLE_TO_CHECK):
            assert sentence in told

    def test_the_page_on_hazards_says_who_classes_and_who_becomes_a_manufacturer(self):
        told = " ".join(printed(cell) for cell in code_of(HURT))
        for sentence in (wording.CLASSING, wording.MANUFACTURER):
            assert sentence in told


class TestOtherMachines:
    @each(PAGES)
    @pytest.mark.parametrize("other_machine", MACHINES, indirect=True)
    def test_page_runs_and_its_asserts_hold(self, path, other_machine):
        if other_machine == "no ranges" and path in LASER:  # nor a laser
            with pytest.raises(Unanswerable, match="no laser head"):
                run(path)
            return
        heard, names = run(path)
        assert str(names["machine"].path) in heard
        if path == MOTOR:
            slips = names["load"].torque > names["load"].holding_torque
            assert slips == (other_machine in ("slips", "motor too weak"))
            for text in (names["found"].verdict, names["panel"].said, str(names["panel"])):
                assert not re.search(r"\bnan\b", text)


class TestExercises:
    """The cells tell right from wrong. Expected values are found by hand, for the Tagmaker."""

    @pytest.fixture(autouse=True)
    def tagmaker(self, monkeypatch):
        file = ROOT / "data" / "machines" / "tagmaker.toml"
        monkeypatch.setenv("BELTS_AND_BEAMS_MACHINE", str(file))

    @pytest.mark.parametrize(
        ("name", "text", "right"),
        [
            ("answer_1", "0", True),  # no microsteps in the formula
            ("answer_1", "93.75", False),  # 1 - 16 / 256, the tempting one
            # T_h = 0.3236 * 1.2 / 1.68 = 0.23114 N*m; 100 * 0.05 / 6.3662 = 0.78540;
            # 0.23114 * sin 0.78540 = 0.16344 N*m; over 6.3662 mm 25.673 N; two motors 51.35 N
            ("answer_2", '"51.35 N"', True),
            ("answer_2", '"25.67 N"', False),  # one motor only
            ("answer_2", '"9000 N"', False),  # slips
            ("answer_3", "10", True),  # half of 20
            ("answer_3", "40", False),
            # 0.65 kg for each motor, rotor 0.13324 kg: 2 * 0.78324 / 0.91648 = 1.7092
            ("answer_4", "70.9", True),
            ("answer_4", "100", False),  # the rotor forgotten
        ],
    )
    def test_cell_tells_right_from_wrong(self, name, text, right):
        heard, _ = run(MOTOR, {f"{name} = None": f"{name} = {text}"})
        assert heard.count("Right.") == right
        assert heard.count("Not yet") == (not right)
        assert heard.count("Put a ") == 3

    @pytest.mark.parametrize(("place", "expected"), [(0, 51.35), (1, 70.92)])
    def test_folded_solutions_are_right(self, place, expected):
        _, names = run(MOTOR)
        blocks = re.findall(r"```python\n(.*?)```", prose_of(MOTOR), flags=re.DOTALL)
        assert len(blocks) == 2
        *lines, last = blocks[place].strip().splitlines()
        exec("\n".join(lines), names)
        found = eval(last, names)
        assert getattr(found, "magnitude", found) == pytest.approx(expected, rel=1e-3)


STEP = FOLDER / "01_how_far_is_one_step.ipynb"
BELT = FOLDER / "03_how_tight_is_a_belt.ipynb"
SQUARE = FOLDER / "04_is_it_square.ipynb"
RING = FOLDER / "05_what_makes_it_ring.ipynb"
FRAME = FOLDER / "06_how_stiff_is_the_frame.ipynb"
SPOT = FOLDER / "07_how_small_is_the_spot.ipynb"
ENERGY = FOLDER / "08_how_much_energy_lands.ipynb"
MATERIAL = FOLDER / "09_what_does_the_material_do.ipynb"
WHICH_LASER = FOLDER / "10_which_laser.ipynb"
HURT = FOLDER / "12_who_could_be_hurt.ipynb"
POWER = FOLDER / "14_power_and_wiring.ipynb"
ANSWERS = {
    # 2 * 5 / (5/3 * 3) = 2; 3 s/mm over 4 / 5.8333 = 0.6857 s/mm is 4.375; 33 * 3600 * 1 / 15
    WHICH_LASER: (('"2 J/mm^2"', "4.375", '"7.92 m"'), ('"1 J/mm^2"', "0.2625", '"118.8 m"')),
    # 30000 / 200 / sqrt(2) = 106.07 mm/s; one rounding, not a hundred; 18 * 222 / 200 = 19.98
    STEP: (('"106.07 mm/s"', "25", "20"), ('"150 mm/s"', "2500", "18")),
    # 100 * sqrt(0.8) = 89.44; 4 * 0.008 * (0.16 * 74)**2 = 4.486; 121.92 / 60 = 2.032
    BELT: (('"89.44 Hz"', '"4.486 N"', '"2.032 mm"'), ('"80 Hz"', '"17.9 N"', '"2 mm"')),
    # (473**2 - 470**2) / 400000 = 0.0070725, which is 0.4052 deg; 2 / 2 = 1; 3 / 2 = 1.5
    SQUARE: (('"0.4052 deg"', '"1 mm"', '"1.5 mm"'), ('"0.304 deg"', '"2 mm"', '"3 mm"')),
    # 100 / (12 / 6) = 50; one period is 20 ms, 100 / 0.02 = 5000; log(1 / 0.6) = 0.510826, over
    # sqrt(39.4784 + 0.2609) = 6.30392 it is 0.08103
    RING: (('"50 Hz"', '"5000 mm/s^2"', "0.081"), ('"8.3 Hz"', '"3000 mm/s^2"', "0.51")),
    # 1 - 0.5**2; gauge 24 has 84.2 mohm/m: 0.24 / (2 * 4 * 0.0842) = 0.356; 0.57 * 7.5 = 4.28
    POWER: (("75", '"0.356 m"', '"4 A"'), ("50", '"0.71 m"', '"6.3 A"')),
    # 4 W / (0.4 J/mm2 * 0.1 mm) = 100 mm/s; 0.1^2 / (20 kHz * 20 us) = 0.025; 150 / 25.4 = 5.9055
    ENERGY: (('"100 mm/s"', "0.025", "5.9"), ('"1 mm/s"', "0.1", "1")),
    # 1 * 2 * 0.16 / 0.1 = 3.2 mm/s; the radius counts, not the area; 8 s / 2^2
    MATERIAL: (('"3.2 mm/s"', "0.5", '"2 s"'), ('"1.6 mm/s"', "0.25", '"4 s"')),
    # 4 * 10 * 450e-6 * 20 / (pi * 0.04) = 2.8648 mm; pi * 0.01 / (60 * 445e-6) = 1.1766 mm;
    # 50 um * sqrt(2 / ln 2) = 84.93 um
    SPOT: (('"2.865 mm"', '"1.177 mm"', '"84.9 um"'), ('"0.2865 mm"', '"17.65 mm"', '"50 um"')),
    # 20 / (4 / sqrt 2) * sqrt(20 / pi) = 17.84 m; 5 W over 38.485 mm^2 and 10 W/m^2 is a ratio
    # of 12992, log 4.1137; 5 / (pi / 4) = 6.366 W/m^2, 100 * 10^0.1 J/m^2 over it 19.77 s
    HURT: (('"17.84 m"', "4.11", '"19.77 s"'), ('"12.6 m"', "3.7", '"15.7 s"')),
    # 2**3; (30 / 10)**2; 0.5 kg are 4.9033 N, for 0.0196 mm each: 250.17 N/mm
    FRAME: (("8", "9", '"250.2 N/mm"'), ("4", "3", '"187 N/mm"')),
}
#: What the folded solutions of each page give, by the arithmetic above.
SOLVED = {
    WHICH_LASER: [2.0, 4.375, 7.92],
    STEP: [106.07],
    BELT: [89.44, 4.486, 2.032],
    SQUARE: [0.4052, 1.0],
    RING: [50.0, 5000.0, 0.08103],
    POWER: [75.0, 0.356, 4.0],
    ENERGY: [100, 0.025, 5.9055],
    MATERIAL: [3.2, 0.5, 2.0],
    SPOT: [2.8648, 1.1766, 84.93],
    HURT: [17.84, 4.1137, 19.77],
    FRAME: [8.0, 9.0, 250.17],
}


@each(ANSWERS)
class TestBeltExercises:
    @pytest.fixture(autouse=True)
    def tagmaker(self, monkeypatch):
        file = ROOT / "data" / "machines" / "tagmaker.toml"
        monkeypatch.setenv("BELTS_AND_BEAMS_MACHINE", str(file))

    @pytest.mark.parametrize("right", [True, False])
    def test_cells_tell_right_from_wrong(self, path, right):
        given = ANSWERS[path][0 if right else 1]
        told = {f"answer_{n} = None": f"answer_{n} = {text}" for n, text in enumerate(given, 1)}
        heard, _ = run(path, told)
        assert heard.count("Right.") == 3 * right
        assert heard.count("Not yet") == 3 * (not right)

    def test_folded_solutions_give_the_answers(self, path):
        _, names = run(path)
        blocks = re.findall(r"```python\n(.*?)```", prose_of(path), flags=re.DOTALL)
        found = []
        for code in blocks:
            *lines, last = ast.parse(code).body
            exec(compile(ast.Module(lines, []), path.name, "exec"), names)
            assert isinstance(last, ast.Expr)
            found.append(eval(compile(ast.Expression(last.value), path.name, "eval"), names))
        assert [value.magnitude for value in found] == pytest.approx(SOLVED[path], rel=1e-3)


class TestRunner:
    def test_file_that_is_no_page_is_named(self, run_pages, capsys):
        assert run_pages.main(["nowhere.ipynb"]) == 2
        assert "There is no page nowhere.ipynb" in capsys.readouterr().err

    def test_pieces_of_what_was_printed_are_joined(self, run_pages):
        pieces = [nbformat.v4.new_output("stream", name="stdout", text=t) for t in ("a", "b\n")]
        other = nbformat.v4.new_output("display_data", {"text/plain": "c"})
        joined = run_pages.joined([*pieces, other])
        assert [output.get("text") for output in joined] == ["ab\n", None]
