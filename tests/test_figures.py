"""Figures show the numbers of their answers, in words too, and say so to whoever cannot see."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import attrs
import numpy as np
import pytest
from matplotlib.text import Text

from mathlib import answers, figures
from mathlib.answers import tell
from mathlib.answers.ringing import softest_place
from mathlib.errors import ValueRefused
from mathlib.figures import ringing, step, torque
from mathlib.machine import TAGMAKER, Machine, load

PLAIN = TAGMAKER.with_name("tagmaker_plain.toml")
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module", params=["crossed", "plain", "shaft"])
def machine(request, tmp_path_factory) -> Machine:
    if request.param == "crossed":
        return load(TAGMAKER)
    text = PLAIN.read_text(encoding="utf-8").replace('"plain"', f'"{request.param}"')
    path = tmp_path_factory.mktemp("machines") / f"{request.param}.toml"
    path.write_text(text, encoding="utf-8")
    return load(path)


@pytest.fixture(scope="module")
def asked(machine):
    return {name: answers.ask(figures.answer_of(name), machine) for name in figures.NAMES}


@pytest.fixture(scope="module")
def drawn(machine, asked):
    return {name: figures.draw(name, asked[name], machine) for name in figures.NAMES}


def number(answer, word, unit="mm") -> float:
    return float(answer.values[word].to(unit).magnitude)


def test_bars_of_the_motors_stack_to_their_position_errors(drawn, asked):
    axes, answer = drawn["motor"].axes[0], asked["motor"]
    bars = [(bar.get_x(), bar.get_width()) for bar in axes.patches]
    # By hand: 20 teeth of 2 mm in 400 steps are 0.1 mm a step, and 5 % of that is 0.005 mm.
    assert bars[0] == pytest.approx((0, 0.005))
    assert bars[2] == pytest.approx((0, 0.010))
    assert sum(bars[1]) == pytest.approx(number(answer, "position_error"))
    assert sum(bars[3]) == pytest.approx(number(answer, "other_position_error"))


def test_whiskers_of_the_motors_and_the_wanted_line_stand_where_the_answer_says(
    drawn, asked, machine
):
    lines = drawn["motor"].axes[0].lines
    for line, word in zip(lines, ("position_error", "other_position_error"), strict=False):
        ends = [end.to("mm").magnitude for end in asked["motor"].ranges[word]]
        assert list(line.get_xdata()) == pytest.approx(ends)
    assert lines[2].get_linestyle() == "--"
    assert list(lines[2].get_xdata()) == [machine.job.accuracy.magnitude] * 2


def test_a_motor_that_slips_has_no_lag_to_draw(tmp_path):
    path = tmp_path / "weak.toml"
    weak = TAGMAKER.read_text(encoding="utf-8").replace(
        'like = "frame 17, 40 mm, 0.9 deg"\n',
        'like = "frame 17, 40 mm, 0.9 deg"\nholding_torque = "1 mN*m"\n',
    )
    path.write_text(weak, encoding="utf-8")
    machine = load(path)
    answer = answers.ask("motor", machine)
    texts = [text.get_text() for text in figures.draw("motor", answer, machine).findobj(Text)]
    assert "  slips at this acceleration" in texts
    assert "0.9° motor: slips" in figures.describe("motor", answer, machine)
    told = figures.describe("step", answers.ask("step", machine), machine)
    assert "nan" not in told
    assert "it slips" in told


def test_one_motor_alone_has_one_bar(tmp_path):
    text = TAGMAKER.read_text(encoding="utf-8").replace(
        '[other_motor]\nlike = "frame 17, 40 mm, 1.8 deg"\n', ""
    )
    text = text.replace(
        'like = "frame 17, 40 mm, 0.9 deg"', 'like = "frame 17, 40 mm, 0.9 A, 0.9 deg"'
    )
    path = tmp_path / "alone.toml"
    path.write_text(text, encoding="utf-8")
    machine = load(path)
    assert machine.other_motor is None
    figure = figures.draw("motor", answers.ask("motor", machine), machine)
    assert len(figure.axes[0].get_yticks()) == 1


def test_the_map_agrees_with_the_answer_in_the_middle_and_in_the_corners(asked, machine):
    x, y, frequency = ringing.frequency_map(machine)
    hertz, answer = frequency.magnitude, asked["ringing"]
    assert (x[-1], y[-1]) == (machine.machine.travel_x, machine.machine.travel_y)
    middle = hertz[len(y) // 2, len(x) // 2]
    assert middle == pytest.approx(number(answer, "first_frequency_centre", "Hz"))
    corners = hertz[np.ix_([0, -1], [0, -1])].min()
    assert corners == pytest.approx(number(answer, "first_frequency_corner", "Hz"))


@pytest.mark.parametrize("belts", ["crossed", "plain", "shaft", "single"])
@pytest.mark.parametrize("yaw", [None, "2000 N*m/rad"])
def test_the_lowest_place_of_the_map_is_the_one_that_the_verdict_names(belts, yaw):
    machine = load(TAGMAKER).typical()
    machine = attrs.evolve(
        machine,
        machine=attrs.evolve(machine.machine, belts=belts),
        beam=attrs.evolve(machine.beam, yaw_stiffness=yaw),
    )
    x, y, frequency = ringing.frequency_map(machine)
    answer = answers.ask("ringing", machine)
    lowest = frequency.magnitude.min()
    assert lowest == pytest.approx(number(answer, "first_frequency_lowest", "Hz"), rel=1e-9)
    at = softest_place(machine)
    row, column = (list(line.magnitude).index(v.magnitude) for line, v in ((y, at[1]), (x, at[0])))
    assert frequency.magnitude[row, column] == pytest.approx(lowest, rel=1e-9)
    assert f"at x = {tell(at[0])}, y = {tell(at[1])}" in answer.verdict


def test_the_map_of_crossed_belts_is_the_same_from_left_and_right():
    machine = load(TAGMAKER)
    _, _, frequency = ringing.frequency_map(machine)
    np.testing.assert_allclose(frequency.magnitude, frequency.magnitude[:, ::-1], rtol=1e-9)


def test_the_beam_is_drawn_as_wide_as_the_answer_says(drawn, asked, machine):
    lines = [line for line in drawn["spot"].axes[0].lines if len(line.get_xdata()) > 2]
    left, right, *other = lines
    answer = asked["spot"]
    if "spot_diameter_y" in answer.values:
        across = other[1].get_xdata() - other[0].get_xdata()
        middle = np.interp(0, other[0].get_ydata(), across)
        assert middle == pytest.approx(number(answer, "spot_diameter_y"))
    width = right.get_xdata() - left.get_xdata()
    height = right.get_ydata()
    answer, half = asked["spot"], machine.job.thickness.magnitude / 2
    assert np.interp(0, height, width) == pytest.approx(number(answer, "spot_diameter"))
    faces = np.interp([-half, half], height, width)
    # Straight lines between points 0.03 mm apart lie above a hyperbola by less than 0.1 %.
    assert faces == pytest.approx(number(answer, "diameter_at_faces"), rel=1e-3)
    waist = np.interp(number(answer, "rayleigh_length"), height, width)
    assert waist == pytest.approx(np.sqrt(2) * number(answer, "spot_diameter"), rel=1e-2)


@pytest.mark.parametrize(
    ("matrix", "worst"),
    [
        ([[1, 0], [0, 1]], 10 / np.sqrt(2)),  # half the diagonal of a square of 10
        ([[1, 1], [1, -1]], 5.0),  # half the diagonal of a square of 10 / sqrt(2), turned
    ],
    ids=["plain", "crossed"],
)
def test_the_wanted_point_is_as_far_from_the_lattice_as_a_point_can_be(matrix, worst):
    points = step.lattice_points(10.0, np.array(matrix), 40.0)
    assert np.hypot(*points.T).min() == pytest.approx(worst)
    wanted = np.random.default_rng(1).uniform(-10, 10, (500, 2))
    gaps = np.hypot(*(wanted[:, None, :] - points[None, :, :]).T).min(axis=0)
    assert gaps.max() <= worst * (1 + 1e-12)
    assert gaps.max() > 0.9 * worst


def test_the_drawn_lattice_has_the_worst_distance_of_the_answer(drawn, asked):
    points = np.column_stack(drawn["step"].axes[0].lines[0].get_data())
    worst = number(asked["step"], "lattice_worst", "um")
    assert np.hypot(*points.T).min() == pytest.approx(worst)


def test_the_friction_square_has_the_width_of_the_band(drawn, asked):
    square = drawn["step"].axes[0].patches[-1].get_xy()
    assert np.ptp(square[:, 0]) == pytest.approx(number(asked["step"], "friction_band", "um"))
    assert np.ptp(square[:, 1]) == pytest.approx(number(asked["step"], "friction_band", "um"))


@pytest.mark.parametrize("name", figures.NAMES)
def test_every_figure_names_its_units_and_can_be_read(name, drawn):
    figure = drawn[name]
    labels = [figure.axes[0].get_xlabel()]
    if name not in (
        "motor",
        "budget",
        "power",
        "leads",
        "hazard",
        "laser",
    ):  # whose other axis has names
        labels.append(figure.axes[0].get_ylabel())
    assert all(re.search(r"in (m|mm²?|µm|N·m|W|J/mm²|Hz|%)(?!\w)", label) for label in labels)
    assert figure.get_suptitle()
    shown = [text for text in figure.findobj(Text) if text.get_text().strip()]
    assert min(text.get_fontsize() for text in shown) >= 11


@pytest.mark.parametrize("name", figures.NAMES)
def test_the_description_has_the_numbers_of_the_answer(name, asked, machine):
    told = figures.describe(name, asked[name], machine)
    words = {
        "motor": ("position_error", "other_position_error"),
        "torque": ("torque_at_speed", "other_torque_at_speed"),
        "budget": (),
        "ringing": ("first_frequency_centre",),
        "campbell": (),
        "velocities": (),
        "mode_shapes": (),
        "ripple": ("first_frequency_lowest",),
        "spot": ("spot_diameter", "diameter_at_faces"),
        "two_heads": ("spot_diameter", "spot_diameter_y"),
        "hazard": (),
        "square": ("skew_allowed",),
        "belt": (),
        "frame": ("depth_of_focus",),
        "step": (),
        "power": ("mean_power", "allowed_power"),
        "leads": ("wire_area_feed", "wire_area_motor", "wire_area_laser"),
        "energy": ("areal_dose", "peak_dose"),
        "two_spots": (),
        "line_end": ("peak_dose",),
        "moves": ("run_up", "fastest_raster_speed"),
        "material": (),
        "laser": (),
    }[name]
    for word in words:
        assert answers.tell(asked[name].values[word]) in told
    if name == "step":
        assert f"{number(asked[name], 'lattice_worst', 'um'):.3g} µm" in told
    assert told.endswith(".")


def test_svg_is_named_described_and_refers_only_to_itself(drawn):
    seen: set[str] = set()
    for name, figure in drawn.items():
        text = figures.svg(figure, f"Title of {name} <1>", f"Description & {name}")
        root = ET.fromstring(text)
        assert root.get("role") == "img"
        assert root.find(f"{SVG}title").text == f"Title of {name} <1>"
        assert root.find(f"{SVG}desc").text == f"Description & {name}"
        found = [each.get("id") for each in root.iter() if each.get("id")]
        assert len(found) == len(set(found))
        assert not seen & set(found)
        seen |= set(found)
        used = re.findall(r'(?:href="|url\()#([^")]+)', text)
        assert used
        assert set(used) | set(root.get("aria-labelledby").split()) <= set(found)
        assert set(re.findall(r"https?://[^\"' ]+", text)) == {SVG.strip("{}")}


def test_svg_is_the_same_each_time(asked):
    machine = load(TAGMAKER)
    answer = answers.ask("ringing", machine)
    twice = [figures.svg(figures.draw("ringing", answer, machine), "t", "d") for _ in range(2)]
    assert twice[0] == twice[1]


def test_an_answer_without_a_picture_is_refused(asked):
    with pytest.raises(ValueRefused, match="There is no picture of 'colour'; there are step, "):
        figures.draw("colour", asked["step"], load(TAGMAKER))


def test_the_torque_curves_meet_the_demand_where_the_answer_says(drawn, asked):
    axes, answer = drawn["torque"].axes[0], asked["torque"]
    own = next(line for line in axes.lines if line.get_label().startswith("0.9°"))
    speed, torque = own.get_data()
    needed = number(answer, "torque_needed", "N*m")
    flip = answer.flips_at["speed"].to("mm/s").magnitude
    # the flip may be the controller's, at a lower speed; torque then is more than enough there
    assert np.interp(flip, speed, torque) >= 2 * needed * 0.99
    beyond = np.interp(speed[-1], speed, torque)
    assert beyond < np.interp(1.0, speed, torque)


def test_the_torque_bands_hold_their_curves(machine):
    speeds = np.linspace(10.0, 1000.0, 20)
    told = torque.curves(machine, machine.motor, speeds)
    assert np.all(told["low"] < told["typical"])
    assert np.all(told["typical"] < told["high"])


def test_the_drawn_raster_line_speeds_up_outside_the_marked_width(drawn, asked, machine):
    dashed = [line for line in drawn["moves"].axes[0].lines if line.get_linestyle() == "--"]
    acceleration = machine.job.acceleration.to("mm/s^2").magnitude
    for line in dashed:
        place, speed = line.get_data()
        beyond = np.maximum(-place, place - number(asked["moves"], "width"))
        # v^2 / 2a is what is still to go, or already gone, from standstill
        run_up = number(asked["moves"], "run_up")
        np.testing.assert_allclose(speed**2 / (2 * acceleration), run_up - beyond, atol=1e-9)


def test_the_dot_on_the_times_is_their_lowest_point(drawn, asked):
    axes = drawn["moves"].axes[1]
    curve = next(line for line in axes.lines if line.get_label() == "with turning round")
    dot = next(line for line in axes.lines if line.get_marker() == "o")
    speed, time = curve.get_data()
    assert time.min() == pytest.approx(dot.get_ydata()[0], rel=1e-4)
    assert dot.get_ydata()[0] * 60 == pytest.approx(number(asked["moves"], "least_time", "s"))
    assert speed[np.argmin(time)] == pytest.approx(dot.get_xdata()[0], rel=0.01)
