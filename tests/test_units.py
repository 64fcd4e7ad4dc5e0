"""Spellings of units, the check that refuses mixed counts, and quantities made of numbers."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import xarray
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q, units
from mathlib.errors import TextRefused, UnitError
from mathlib.spellings import GLUED, SPELLINGS


@pytest.mark.parametrize(
    ("text", "base"),
    [
        # value of one unit in SI base units, from the SI brochure and NIST SP 811
        ("mm", 1e-3), ("um", 1e-6), ("µm", 1e-6), ("μm", 1e-6), ("nm", 1e-9), ("in", 0.0254),
        ("mil", 25.4e-6), ("thou", 25.4e-6), ("ft", 0.3048), ("g", 1e-3), ("lb", 0.45359237),
        ("oz", 0.028349523125), ("lbf", 4.4482216152605), ("ozf", 0.27801385095378),
        ("kgf", 9.80665), ("gf", 9.80665e-3), ("N*cm", 1e-2), ("Ncm", 1e-2), ("N·m", 1.0),
        ("g*cm^2", 1e-7), ("g·cm²", 1e-7), ("g cm2", 1e-7), ("W/(m*K)", 1.0), ("W/m/K", 1.0),
        ("mm/min", 1e-3 / 60), ("m/s^2", 1.0), ("m s⁻²", 1.0), ("J/cm^2", 1e4), ("mJ/cm²", 10.0),
        ("kW/cm^2", 1e7), ("1/mm", 1e3), ("step/mm", 1e3), ("deg", math.pi / 180),
        ("turn", 2 * math.pi), ("rev", 2 * math.pi), ("rpm", 2 * math.pi / 60), ("%", 0.01),
        ("ppm", 1e-6), ("psi", 6894.757293168361), ("bar", 1e5), ("MPa", 1e6), ("L/min", 1e-3 / 60),
        ("Wh", 3600.0), ("dioptre", 1.0), ("hp", 745.6998715822702), ("mrad", 1e-3), ("mH", 1e-3),
    ],
)  # fmt: skip
def test_one_unit_in_base_units(text: str, base: float) -> None:
    assert units.kind(units.container(text)).factor == pytest.approx(base, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("foo", "there is no unit 'foo'"),
        ("mm/foo", "there is no unit 'foo' .in 'mm/foo'"),
        ("Mm", "Did you mean"),
        ("W/m*K", "two ways"),
        ("mm**99", "there is no unit"),
        ("mm^2^2", "there is no unit"),
        ("m" * 50, "at most 40 characters"),
        ("mm)", "there is no unit"),
        ("(mm", "there is no unit"),
        ("/", "there is no unit"),
        ("mm/", "there is no unit"),
        ("__import__('os')", "there is no unit"),
        ("dB", "there is no unit 'dB'"),
        ("C", "there is no unit 'C'"),
        ("dpi", "there is no unit 'dpi'"),
    ],
)
def test_what_is_no_unit_is_refused(text: str, told: str) -> None:
    with pytest.raises(TextRefused, match=told):
        units.container(text)


@given(st.text(max_size=60))
def test_any_text_is_a_unit_or_refused(text: str) -> None:
    try:
        factor = units.kind(units.container(text)).factor
    except TextRefused:
        return
    assert factor > 0


@pytest.mark.parametrize("text", [*SPELLINGS, *GLUED])
def test_every_spelling_reads_back_from_what_is_printed(text: str) -> None:
    found = units.container(text)
    again = units.container(units.spelled(found) or "1")
    assert units.kind(again).measured() == units.kind(found).measured()
    assert units.kind(again).factor == pytest.approx(units.kind(found).factor, rel=1e-12)


def test_a_unit_that_is_no_text_is_refused() -> None:
    with pytest.raises(TextRefused, match='a unit is a text such as "mm"; got 5'):
        Q(9, 5)  # type: ignore[arg-type]


TURNS, CYCLES, STEPS, PLAIN = ("rpm", "rad/s", "turn/s", "deg/s"), ("Hz",), ("step/s",), ("1/s",)


@pytest.mark.parametrize("wanted", [*TURNS, *CYCLES, *STEPS, *PLAIN])
@pytest.mark.parametrize("given", [*TURNS, *CYCLES, *STEPS, *PLAIN])
def test_turns_cycles_and_steps_do_not_mix(given: str, wanted: str) -> None:
    groups = TURNS, CYCLES, STEPS, PLAIN
    of_given, of_wanted = (next(g for g in groups if unit in g) for unit in (given, wanted))
    # Per second stands for Hz and for steps per second, and either for it; never for turns.
    fits = of_given is of_wanted or (PLAIN in (of_given, of_wanted) and TURNS not in
                                     (of_given, of_wanted))  # fmt: skip
    fault = units.problem(units.container(given), units.container(wanted), 60.0)
    assert (fault == "") == fits
    if not fits:
        assert f"60 {units.unit_text(units.container(given))}" in fault


@pytest.mark.parametrize(
    ("given", "wanted", "told"),
    [
        ("rpm", "Hz", 'Write "1 Hz"'),  # 60 turns in a minute are one cycle in a second
        ("Hz", "rpm", 'Write "3600 rpm"'),
        ("Hz", "rad/s", 'Write "376.991 rad/s"'),  # 60 * 2 pi
        ("rad/s", "Hz", 'Write "9.5493 Hz"'),  # 60 / (2 pi)
        ("turn/s", "Hz", 'Write "60 Hz"'),
        ("step/s", "rpm", "Use the steps of one turn"),
        ("rpm", "step/s", "Use the steps of one turn"),
        ("deg", "1", "counts radians or turns"),
        ("1", "deg", "a plain number"),
        ("step", "deg", "counts steps"),
        ("N/cm", "N*cm", r"Did you mean 'N\*cm'"),
        ("mm", "s", "needs a time, in a unit such as s; got 60 mm"),
        ("mm", "N/mm", "needs a stiffness"),
        ("mm", "J/mm^2", "needs an energy for each area"),
        ("mm", "rpm", "needs a unit such as rpm"),
    ],
)
def test_the_sentence_says_what_to_write(given: str, wanted: str, told: str) -> None:
    import re

    fault = units.problem(units.container(given), units.container(wanted), 60.0)
    assert re.search(told, fault)


@pytest.mark.parametrize(
    ("given", "wanted", "told"),
    [
        ("degC", "K", ""),
        ("degF", "degC", ""),
        ("K", "degC", ""),
        ("delta_degC", "K", "needs a temperature"),
        ("degC", "delta_degC", 'Write "60 delta_degC"'),
        ("K", "delta_degC", ""),
        ("delta_degF", "delta_degC", ""),
        ("mm/degC", "mm/K", "write delta_degC or K"),
        ("mm/delta_degC", "mm/K", ""),
    ],
)
def test_temperatures_and_differences_do_not_mix(given: str, wanted: str, told: str) -> None:
    fault = units.problem(units.container(given), units.container(wanted), 60.0)
    assert (told in fault) if told else fault == ""


def test_numbers_and_a_unit() -> None:
    assert Q(9, "mm").magnitude == 9.0
    assert isinstance(Q(np.array(9), "mm").magnitude, float)
    assert Q([1, 2], "mm").magnitude.dtype == np.float64
    assert Q(np.float32(0.5), "1").magnitude == 0.5
    assert list(Q(["9 mm", "1 cm"][:0], "mm").magnitude) == []
    assert list(Q([Q("9 mm"), Q("1 cm")], "mm").magnitude) == [9, 10]
    assert Q(Q("1 in"), "mm").magnitude == pytest.approx(25.4, rel=1e-15)


def test_a_quantity_keeps_its_own_copy() -> None:
    source = np.array([1.0, 2.0])
    made = Q(source, "mm")
    source[0] = 99
    assert made.magnitude[0] == 1


@pytest.mark.parametrize(
    ("value", "unit", "told"),
    [
        (9, None, "Q needs a unit; got 9"),
        (True, "mm", "got True"),
        ("9", "mm", "got '9'"),
        ([True], "mm", "an array of bool"),
        ([1j], "mm", "an array of complex128"),
        (None, "mm", "an array of object"),
        (10**400, "mm", "an array of object"),
        ([[1], [1, 2]], "mm", "equally long"),
        (np.ma.array([1.0], mask=[1]), "mm", "fill what is masked"),
        (xarray.DataArray([1.0], attrs={"units": "m"}), "mm", "take .values of labels"),
        (Q("60 rpm"), "Hz", "counts radians or turns"),
        (Q("9 mm"), "s", "needs a time"),
    ],
)
def test_what_makes_no_quantity(value: Any, unit: str | None, told: str) -> None:
    with pytest.raises(UnitError, match=told):
        Q(value, unit)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("0.0125 mm", "0.0125 mm"), ("1e-9 m", "1 × 10⁻⁹ m"), ("2.5e7 Hz", "2.5 × 10⁷ Hz"),
        ("50 %", "50 %"), ("16 1", "16"), ("5 N*m", "5 N·m"), ("-5 degC", "-5 °C"),
        ("3 delta_degC", "3 delta_degC"),
    ],
)  # fmt: skip
def test_a_quantity_is_written_for_people(value: str, text: str) -> None:
    assert units.show(Q(value)) == text


@pytest.mark.parametrize(
    ("factor", "told"),
    [
        (0.001, ("/", 1000.0)),
        (25.4, ("*", 25.4)),
        (1.0, ("*", 1.0)),
        (1e-7, ("/", 1e7)),
        (1e20, ("*", 1e20)),
        (1e-20, ("*", 1e-20)),
    ],
)
def test_a_factor_is_applied_with_least_rounding(factor: float, told: tuple[str, float]) -> None:
    assert units.scale(factor) == told
