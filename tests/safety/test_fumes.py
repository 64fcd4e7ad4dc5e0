"""Smoke: what comes off, how much of it, how long it stays."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q, materials, tables
from mathlib.errors import NotUnique, ValueRefused
from mathlib.safety import fumes


class TestHazards:
    def test_vinyl(self) -> None:
        told = fumes.hazards("vinyl")
        assert (told.material, told.group) == ("PVC", "never")
        assert told.products[0].name == "hydrogen chloride"
        assert told.products[0].limits() == "5 ppm over a shift, 5 ppm to 10 ppm for a short time"
        assert told.never
        assert not told.extraction

    def test_an_unknown_material_is_explained(self) -> None:
        told = fumes.hazards("unobtainium")
        assert told.group == "unknown"
        assert told.never, "what is unknown counts as never"
        assert "data sheet" in told.verdict
        assert "Do not burn a sample" in told.verdict

    def test_a_misspelling_is_asked_back(self) -> None:
        with pytest.raises(NotUnique, match="'MDF'"):
            fumes.hazards("MFD")

    def test_a_record_is_taken_too(self) -> None:
        assert fumes.hazards(materials.material("slate")).group == "care"

    @pytest.mark.parametrize("name", materials.names())
    def test_every_material_shows_on_a_page(self, name: str) -> None:
        told = fumes.hazards(name)
        for page in (repr(told), told._repr_markdown_()):
            assert told.verdict in page
            assert "prevail" in page
            assert not re.search(r"\bsafe(ly)?\b|harmless", page, re.IGNORECASE)
            if told.products:
                assert "check your national list" in page
        assert sum(map(bool, (told.never, told.extraction))) == (told.group != "care")

    def test_lists_are_those_of_the_materials(self) -> None:
        found = fumes.lists()
        assert "polycarbonate" in found["never"]
        assert "MDF" in found["extraction only"]
        assert "slate" in found["care"]


class TestLimits:
    def test_every_limit_says_where_it_is_to_be_checked(self) -> None:
        for name in tables.read("fume_products").rows:
            assert re.search(
                "check your national list|ask your authority", fumes.product(name).source
            )

    def test_a_product_without_a_limit_says_so(self) -> None:
        dioxins = fumes.product("dioxins")
        assert dioxins.limits() == "no limit known here"
        with pytest.raises(ValueRefused, match="no list here states a limit for dioxins"):
            fumes.share_of_limit(Q("1 mg/m^3"), dioxins)

    def test_an_unknown_product_is_refused(self) -> None:
        with pytest.raises(ValueRefused, match="no product 'steam'"):
            fumes.product("steam")

    def test_one_metre_of_pvc_passes_the_limit_of_a_room(self) -> None:
        # 0.2 mm x 3 mm x 1 m of 1400 kg/m3 is 0.84 g; 0.5834 of it in 30 m3 is 16.3 mg/m3;
        # 5 ppm of hydrogen chloride is 7.46 mg/m3
        mass = fumes.kerf_mass(
            kerf="0.2 mm", thickness="3 mm", length="1 m", mass_density="1400 kg/m^3"
        )
        share = fumes.molar_share(product_molar_mass="36.461 g/mol", unit_molar_mass="62.498 g/mol")
        found = fumes.closed_room_concentration(mass=mass * share, room_volume="30 m^3")
        times = fumes.share_of_limit(found, fumes.product("hydrogen chloride"))
        assert times == pytest.approx(16.335 / 7.456, rel=1e-3)

    def test_the_lowest_limit_counts(self) -> None:
        # formaldehyde: 0.3 ppm over a shift and 0.6 ppm for a short time; 0.3 * 30.026 / 24.45
        share = fumes.share_of_limit(Q("1 mg/m^3"), fumes.product("formaldehyde"))
        assert share == pytest.approx(24.45 / (0.3 * 30.026), rel=1e-3)

    def test_a_unit_may_turn_into_its_product_altogether(self) -> None:
        # methyl methacrylate from acrylic
        same = fumes.molar_share(product_molar_mass="100.12 g/mol", unit_molar_mass="100.12 g/mol")
        assert same.magnitude == 1
        with pytest.raises(ValueRefused, match="more than it holds"):
            fumes.molar_share(product_molar_mass="101 g/mol", unit_molar_mass="100.12 g/mol")

    def test_a_limit_by_mass_is_taken_as_it_is(self) -> None:
        # the lowest that is listed for wood dust is 1 mg/m3
        assert fumes.share_of_limit(Q([0.5, 3.0], "mg/m^3"), fumes.product("wood dust")) == 3.0


class TestClearing:
    def test_against_a_count_of_steps(self) -> None:
        # mixed volume, explicit steps of a thousandth of V/Q until it has fallen a hundredfold
        volume, flow, step = 0.135, 250 / 3600, 1e-3
        left, steps = 1.0, 0
        while left > 0.01:
            left -= left * step
            steps += 1
        by_steps = steps * step * volume / flow
        found = fumes.clearing_time(volume="0.135 m^3", flow="250 m^3/h", ratio=100, mixing=1)
        assert found.to("s").magnitude == pytest.approx(by_steps, rel=2e-3)

    def test_mixing_is_three_unless_told(self) -> None:
        words = {"volume": "0.135 m^3", "flow": "250 m^3/h", "ratio": 100}
        usual, best = fumes.clearing_time(**words), fumes.clearing_time(**words, mixing=1)
        assert (usual / best).magnitude == pytest.approx(3)

    def test_a_small_fall_counts_too(self) -> None:
        found = fumes.clearing_time(volume="1 m^3", flow="3600 m^3/h", ratio=1.5, mixing=1)
        assert found.to("s").magnitude == pytest.approx(math.log(1.5))

    @pytest.mark.parametrize(("ratio", "mixing"), [(1, 3), (0.5, 3), (100, 0.5)])
    def test_what_cannot_be_is_refused(self, ratio: float, mixing: float) -> None:
        with pytest.raises(ValueRefused, match=r"falls|perfectly"):
            fumes.clearing_time(volume="1 m^3", flow="100 m^3/h", ratio=ratio, mixing=mixing)

    def test_particles_are_waited_for_besides(self) -> None:
        wait = fumes.wait_before_opening(volume="0.135 m^3", flow="250 m^3/h")
        assert wait.least.to("s").magnitude == pytest.approx(wait.gases.to("s").magnitude + 1200)
        assert "prevail" in wait.sentence
        assert "20 min" in wait.sentence


@given(
    speed=st.floats(1, 50),
    kerf=st.floats(0.05, 0.6),
    sheet=st.floats(0.2, 10),
    flow=st.floats(20, 900),
)
def test_the_exhaust_carries_what_the_cut_gave(speed, kerf, sheet, flow) -> None:
    # mass per time in the duct, c Q, is what the kerf lost in that time
    words = {"kerf": Q(kerf, "mm"), "thickness": Q(sheet, "mm"), "mass_density": "680 kg/m^3"}
    rate = fumes.emission_bound(speed=Q(speed, "mm/s"), **words)
    thin = fumes.exhaust_concentration(emission=rate, flow=Q(flow, "m^3/h"))
    minute = fumes.kerf_mass(length=Q(speed * 60, "mm"), **words)
    carried = (thin * Q(flow / 60, "m^3")).to("g").magnitude
    assert math.isclose(carried, minute.magnitude, rel_tol=1e-9)


def test_extraction_flow_of_an_array() -> None:
    found = fumes.extraction_flow(opening_area=Q([0.01, 0.02], "m^2"), inward_speed="0.5 m/s")
    np.testing.assert_allclose(found.to("m^3/h").magnitude, [18, 36])
