"""Sections against tables, against a sum of small squares, and against each other."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q, tables
from mathlib.errors import NotUnique, ValueRefused
from mathlib.motion import frames, sections
from mathlib.motion.sections import Section, with_rail


def by_squares(width: float, height: float, radius: float, n: int = 2000) -> tuple[float, float]:
    """Area and second moment of a rounded rectangle, from a quarter cut into small squares."""
    x = (np.arange(n) + 0.5) / n * width / 2
    y = (np.arange(n) + 0.5) / n * height / 2
    far_x, far_y = np.maximum(x - (width / 2 - radius), 0), np.maximum(y - (height / 2 - radius), 0)
    inside = far_x[:, None] ** 2 + far_y[None, :] ** 2 <= radius**2
    each = width * height / (4 * n * n)
    return 4 * each * inside.sum(), 4 * each * (inside * y[None, :] ** 2).sum()


@pytest.mark.parametrize(("width", "height", "radius"), [(40, 20, 6), (20, 40, 3), (30, 30, 15)])
def test_a_rounded_rectangle_is_the_sum_of_its_squares(width, height, radius) -> None:
    found = Section.rectangle(Q(width, "mm"), Q(height, "mm"), Q(radius, "mm"))
    area, moment = by_squares(width, height, radius)
    assert found.area.magnitude == pytest.approx(area, rel=2e-5)  # the edge cuts squares
    assert found.second_moment.magnitude == pytest.approx(moment, rel=2e-5)


@given(st.floats(1, 200))
def test_a_square_rounded_to_the_full_is_a_round_bar(diameter: float) -> None:
    wide = Q(diameter, "mm")
    square, bar = Section.rectangle(wide, wide, wide / 2.0), Section.round(wide)
    assert square.second_moment.magnitude == pytest.approx(bar.second_moment.magnitude, rel=1e-9)
    assert square.area.magnitude == pytest.approx(bar.area.magnitude, rel=1e-9)


def test_turning_a_tube_swaps_its_moments() -> None:
    flat, upright = Section.tube("40 mm", "20 mm", "2 mm"), Section.tube("20 mm", "40 mm", "2 mm")
    assert flat.second_moment == upright.second_moment_sideways
    # by hand: (40 * 20**3 - 36 * 16**3) / 12 = (320000 - 147456) / 12
    assert flat.second_moment.magnitude == pytest.approx(172544 / 12)
    assert flat.area.magnitude == pytest.approx(800 - 576)


def test_walls_that_meet_are_refused() -> None:
    with pytest.raises(ValueRefused, match="solid"):
        Section.tube("40 mm", "20 mm", "10 mm")
    with pytest.raises(ValueRefused, match="corners meet"):
        Section.rectangle("40 mm", "20 mm", "12 mm")


def test_arrays_broadcast() -> None:
    found = Section.tube(Q([20.0, 30.0], "mm"), "40 mm", "2 mm")
    assert found.second_moment.magnitude.shape == (2,)


class TestNamed:
    def test_typical_values_and_ranges(self) -> None:
        found = Section.named("t-slot 20×20")
        assert found.second_moment == Q("7000 mm^4")
        assert found.spans["second_moment"].kind == "estimate"
        assert found.name == "T-slot 20 x 20"

    def test_flat_or_upright_must_be_said(self) -> None:
        with pytest.raises(NotUnique, match=r"upright or T-slot 20 x 40, flat: name which"):
            Section.named("T-slot 20 x 40")

    def test_laid_flat_it_sags_three_times_as_far(self) -> None:
        words = {"load": "10 N", "length": "500 mm", "modulus": "70 GPa", "ends": "fixed"}
        flat, upright = (
            frames.deflection(
                second_moment=Section.named(f"T-slot 20 x 40, {how}").second_moment, **words
            )
            for how in ("flat", "upright")
        )
        assert 3 < (flat / upright).magnitude < 4

    @pytest.mark.parametrize("name", ["T-slot 25 x 25", "", "oak"])
    def test_an_unknown_one_is_refused_with_near_names(self, name: str) -> None:
        with pytest.raises(ValueRefused, match="T-slot"):
            Section.named(name)

    @pytest.mark.parametrize("name", tables.read("sections").rows)
    def test_rows_are_what_a_profile_can_be(self, name: str) -> None:
        found = Section.named(name)
        solid = Section.rectangle(found.width, found.height)
        # slots and chambers leave a third to two thirds, most of it near the outside
        assert 0.3 < (found.area / solid.area).magnitude < 0.66
        for word in ("second_moment", "second_moment_sideways"):
            left = getattr(found, word) / getattr(solid, word)
            assert (found.area / solid.area).magnitude * 0.85 < left.magnitude < 0.75
        row = tables.read("sections").rows[name].values
        light = sections.section_mass(area=found.area, mass_density="2700 kg/m^3")
        stated = row["mass_per_length"].typical
        assert light.magnitude == pytest.approx(stated.to("g/m").magnitude, rel=0.03)


@pytest.mark.parametrize("offset", [0.0, 6.0, 14.0])
def test_a_rail_that_does_not_slip_is_what_thin_layers_sum_to(offset: float) -> None:
    # beam 20 x 20 of 70 GPa, rail 12 x 8 of 210 GPa beside it; 100 000 layers along the load
    def layers(middle: float, height: float) -> np.ndarray:
        return middle + height * ((np.arange(100_000) + 0.5) / 100_000 - 0.5)

    beam, rail = layers(0.0, 20.0), layers(offset, 8.0)
    carries_beam, carries_rail = 70e3 * 20 * 20 / 1e5, 210e3 * 12 * 8 / 1e5
    neutral = (carries_beam * beam.sum() + carries_rail * rail.sum()) / (
        1e5 * (carries_beam + carries_rail)
    )
    summed = carries_beam * ((beam - neutral) ** 2).sum()
    summed += carries_rail * ((rail - neutral) ** 2).sum()
    alone, bar = Section.rectangle("20 mm", "20 mm"), Section.rectangle("12 mm", "8 mm")
    found = with_rail(
        beam_second_moment=alone.second_moment,
        beam_area=alone.area,
        rail_second_moment=bar.second_moment,
        rail_area=bar.area,
        rail_offset=Q(offset, "mm"),
        modulus_ratio=3,
    )
    assert found.to("mm^4").magnitude == pytest.approx(summed / 70e3, rel=1e-8)


@pytest.mark.parametrize("name", ["20x20", "2020", "20 × 20 mm", "t-slot 20x20", "Tslot 20 x 20"])
def test_a_profile_is_found_by_the_names_that_people_write(name: str) -> None:
    assert Section.named(name).name == "T-slot 20 x 20"


@pytest.mark.parametrize("name", ["2040", "20x40", "40 x 20", "T-slot 40 x 20"])
def test_an_oblong_profile_needs_to_know_how_it_lies(name: str) -> None:
    with pytest.raises(NotUnique, match="20 x 40, upright or T-slot 20 x 40, flat: name which"):
        Section.named(name)
    assert Section.named(f"{name}, flat").name == "T-slot 20 x 40, flat"
