"""Panels: a value moves the picture and the sentence; a wrong one is refused with a sentence."""

import base64
import re

import attrs
import numpy as np
import pytest
from matplotlib.figure import Figure

from mathlib import answers, explore
from mathlib.errors import UnitError, ValueRefused, WordError
from mathlib.explore import settings
from mathlib.explore.panel import Seen
from mathlib.machine import TAGMAKER, load
from mathlib.units import Q
from mathlib.words import Word

PNG = b"\x89PNG\r\n\x1a\n"


@pytest.fixture(scope="module")
def machine():
    return load(TAGMAKER)


@pytest.fixture
def panel(machine):
    return explore.motor(machine)


def spring_panel() -> explore.Panel:
    """Show the smallest panel there can be: one control, one line, one sentence."""
    figure = Figure(figsize=(2, 1))
    (line,) = figure.add_subplot().plot([0, 1], [0, 1])

    def update(values):
        length = values["belt.length"].to("mm").magnitude
        if length > 900:
            raise ValueRefused("too long to draw.")
        line.set_ydata([0, length / 1000])
        return Seen(f"A line that ends at {length:g}.", f"It is <{length:g}> mm long.")

    control = explore.Control(
        name="belt.length",
        word=Word("length", "mm", "of the belt"),
        low=Q("0 mm"),
        high=Q("500 mm"),
        start=Q("100 mm"),
    )
    return explore.Panel(controls=[control], figure=figure, update=update)


def widgets(panel, name="belt.length"):
    return panel._fields[name], panel._sliders[name]


def test_first_picture_stands_before_anything_is_touched(panel):
    assert panel.updates == 1
    assert panel.picture.startswith(PNG)
    assert panel.said
    data, metadata = panel._repr_mimebundle_()
    assert base64.b64decode(data["image/png"]) == panel.picture
    assert data["text/plain"] == metadata["image/png"]["alt"] == panel.alternative
    assert "application/vnd.jupyter.widget-view+json" in data


def test_value_moves_picture_sentence_slider_and_field():
    panel = spring_panel()
    field, slider = widgets(panel)
    assert slider.value == 20  # by hand: 100 of 500 mm is 20 of 100 places
    before = panel.picture
    panel.set("belt.length", "0.3 m")
    assert panel.values["belt.length"] == Q("300 mm")
    assert panel.picture != before
    assert panel.said == "It is <300> mm long."
    assert (field.value, slider.value, panel.updates) == ("300 mm", 60, 2)


def test_slider_gives_the_value_at_its_place():
    panel = spring_panel()
    field, slider = widgets(panel)
    slider.value = 33  # by hand: 33 of 100 places of 500 mm is 165 mm
    assert panel.values["belt.length"].magnitude == pytest.approx(165, rel=1e-12)
    assert (field.value, panel.updates) == ("165 mm", 2)


def test_typed_value_stays_exact_between_places_and_beyond_the_end():
    panel = spring_panel()
    field, slider = widgets(panel)
    field.value = "101.25 mm"
    assert panel.values["belt.length"].magnitude == 101.25
    assert (field.value, slider.value) == ("101.25 mm", 20)
    field.value = "700 mm"
    assert panel.values["belt.length"].magnitude == 700
    assert slider.value == 100


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("7 kg", "length needs a length"),
        ("7", "length needs a unit such as mm; got the bare number 7"),
        ("2,5 mm", "decimal comma"),
        ("2*3 mm", "not evaluated"),
        ("-4 mm", "positive"),
        ("", "length needs"),
        ("950 mm", "too long to draw"),
    ],
)
def test_wrong_entry_shows_a_sentence_and_keeps_the_last_good_value(text, told):
    panel = spring_panel()
    field, slider = widgets(panel)
    field.value = "200 mm"
    good = (panel.picture, panel.said, panel.values, panel.updates)
    field.value = text
    assert told in panel.refused
    assert panel.refused.endswith("Kept: 200 mm.")
    assert 'role="alert"' in panel._parts["refused"].value
    assert field.value == text  # still there, to be mended
    assert slider.value == 40
    assert (panel.picture, panel.said, panel.values, panel.updates) == good
    field.value = "300 mm"
    assert panel.refused == panel._parts["refused"].value == ""


def test_page_gets_alternative_text_state_and_an_announced_sentence():
    panel = spring_panel()
    panel.set("belt.length", "250 mm")
    shown = panel._parts["picture"].value
    assert 'alt="A line that ends at 250."' in shown
    assert 'data-update="2"' in shown
    assert 'data-belt-length="250 mm"' in shown
    source = re.search(r'src="data:image/png;base64,([^"]+)"', shown)
    assert source
    assert base64.b64decode(source[1]) == panel.picture
    said = panel._parts["said"].value
    assert 'aria-live="polite"' in said
    assert "It is &lt;250&gt; mm long." in said


def test_every_control_has_a_name_to_read_and_a_slider_for_the_keyboard(panel):
    for name in panel.values:
        field, slider = widgets(panel, name)
        assert field.description == name.replace(".", " ").replace("_", " ")
        assert field.description in slider.tooltip
        assert not field.continuous_update
        assert 0 < slider.value < 100


def test_direct_call_raises_what_is_wrong(panel):
    with pytest.raises(WordError, match=r"'friction' is no control here.*carriage\.friction"):
        panel.set("friction", "3 N")
    with pytest.raises(UnitError, match="friction needs"):
        panel.set("carriage.friction", "3 mm")
    assert panel.updates == 1


def test_same_values_give_the_same_picture_to_the_byte(machine):
    first, second = explore.motor(machine), explore.motor(machine)
    second.set("job.acceleration", "9 m/s^2")
    second.set("job.acceleration", machine.job.acceleration)
    assert second.picture == first.picture
    assert second.said == first.said


class TestMotor:
    def test_curve_passes_through_the_point_at_the_chosen_acceleration(self, machine):
        from mathlib.explore.which_motor import _View

        view = _View(machine)
        values = {
            "job.acceleration": machine.job.acceleration,
            "carriage.friction": machine.carriage.friction,
            "carriage.mass": machine.carriage.mass,
            "controller.set_current": machine.controller.set_current,
        }
        view.update(values)
        assert len(view.curves) == 2
        for curve, point, span in zip(view.curves, view.points, view.spans, strict=True):
            (x,), (y,) = point.get_data()
            # The curve is straight to a part in a thousand between its points.
            assert np.interp(x, *curve.get_data()) == pytest.approx(y, rel=1e-3)
            low, high = span.get_ydata()
            assert low < y < high
        line = view.axes.lines[-1]
        assert set(line.get_ydata()) == {0.05}  # what the Tagmaker's job needs

    def test_finer_motor_errs_by_what_a_hand_finds(self, panel):
        told = re.search(r"the 0\.9° motor errs by ([\d.]+) mm", panel.alternative)
        assert told
        # By hand for crossed belts: m = 0.3 + 0.3 + 0.7 = 1.3 kg; r = 40 / 2 pi = 6.366 mm;
        # rotor 54 g*cm^2 / r^2 = 0.1332 kg; F = (1.3 * 2 + 4) / 2 + 0.1332 * 2 = 3.566 N;
        # T = 22.70 mN*m; T_h = 0.3236 * 1.2 / 1.68 = 231.1 mN*m; asin(0.09823) = 0.09839;
        # lag = 6.366 * 0.09839 / 100 = 0.00626; step error 5 % of 0.1 = 0.005; sum 0.01126.
        assert float(told[1]) == pytest.approx(0.01126, rel=5e-3)

    def test_more_friction_makes_it_worse_and_too_much_slips(self, panel):
        before = panel.said
        panel.set("carriage.friction", "20 N")
        assert panel.said != before
        panel.set("carriage.friction", "300 N")
        assert "0.9° motor slips" in panel.alternative
        assert "nan" not in panel.alternative

    def test_machine_with_one_motor_has_one_curve(self, machine):
        alone = explore.motor(attrs.evolve(machine, other_motor=None))
        assert alone.alternative.count("errs by") == 1
        assert alone.picture.startswith(PNG)


class TestSettings:
    def test_changed_machine_differs_in_the_value_and_loses_its_range_only(self, machine):
        values = {"carriage.mass": Q("0.5 kg"), "job.speed": Q("50 mm/s")}
        found = settings.changed(machine, values)
        assert found.carriage.mass == Q("0.5 kg")
        assert found.job.speed == Q("50 mm/s")
        assert found.carriage.friction == machine.carriage.friction
        assert set(machine.ranges) - set(found.ranges) == {"carriage.mass"}
        assert machine.carriage.mass == Q("0.3 kg")

    def test_value_of_zero_has_a_slider_too(self, machine):
        smooth = settings.changed(machine, {"carriage.friction": Q("0 N")})
        control = settings.control(smooth, "carriage.friction", 0.0, 5.0)
        assert (control.low, control.start, control.high) == (Q("0 N"), Q("0 N"), Q("5 N"))
        assert control.place(control.start) == 0

    def test_words_have_no_slider(self, machine):
        with pytest.raises(ValueError, match=r"job\.material is not a quantity"):
            settings.control(machine, "job.material", 0.1, 2)


class TestHowLong:
    def test_it_stands_before_it_is_touched_and_says_what_the_answer_says(self, machine):
        panel = explore.how_long(machine)
        assert panel.picture.startswith(PNG)
        assert panel.said == answers.ask("moves", machine).verdict
        assert "3.76 min" in panel.alternative  # 251 lines of 0.9 s

    def test_a_faster_raster_can_take_longer(self, machine):
        panel = explore.how_long(machine)
        panel.set("job.speed", "600 mm/s")
        # 251 lines of 80 / 600 + 1200 / 2000 = 0.7333 s
        assert "takes 3.07 min at 600 mm/s" in panel.said
        assert "too fast to be quick" in panel.said
        (dot,) = [line for line in panel.figure.axes[0].lines if line.get_label() == "your speed"]
        assert dot.get_data()[1][0] == pytest.approx(251 * 0.733333 / 60, rel=1e-5)

    def test_the_area_has_its_own_controls(self, machine):
        panel = explore.how_long(machine, width="200 mm", height="30 mm")
        assert panel.values["area.width"] == Q("200 mm")
        panel.set("area.height", "0.16 mm")
        assert "200 mm by 0.16 mm" in panel.said
        with pytest.raises(UnitError, match="width needs"):
            panel.set("area.width", "3")
