"""Corners, feet and rail blocks against a frame of elements, by hand, and catalogues."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q, tables
from mathlib.errors import ValueRefused
from mathlib.motion import blocks, joints
from mathlib.motion.blocks import Block


def racked(depth: float, width: float, stiff: float, corner: float) -> float:
    """Stiffness of a rectangle: columns of this depth, corners that turn, by slope and deflection.

    Unknown are the turns of a column's end and of a beam's end, the same at all four corners, and
    the sway. A column with both ends turned by c under the sway s has the end moment
    6 EI/h (c - s/h); a beam with both ends turned by b has 6 EI/w b; the corner between has
    k (c - b). Shear of both columns is twice 12 EI/h**2 (s/h - c).
    """
    column, beam = 6 * stiff / depth, 6 * stiff / width
    matrix = np.array(
        [
            [column + corner, -corner, -column / depth],
            [-corner, beam + corner, 0.0],
            [-4 * column / depth, 0.0, 4 * column / depth**2],
        ]
    )
    _, _, sway = np.linalg.solve(matrix, [0.0, 0.0, 1.0])
    return 1 / sway


@given(depth=st.floats(0.2, 1.0), width=st.floats(0.2, 1.0), corner=st.floats(100.0, 1e5))
def test_a_frame_of_rigid_and_of_soft_corners(depth: float, width: float, corner: float) -> None:
    words = {"modulus": "70 GPa", "second_moment": "7000 mm^4"}
    size = {"depth": Q(depth, "m"), "width": Q(width, "m")}
    rigid = joints.racking_stiffness(**words, **size)
    assert rigid.to("N/m").magnitude == pytest.approx(racked(depth, width, 490.0, 1e12), rel=1e-6)
    soft = Q(racked(depth, width, 490.0, corner), "N/m")
    found = joints.joint_stiffness(depth=size["depth"], stiffness=soft, rigid_stiffness=rigid)
    assert found.to("N*m/rad").magnitude == pytest.approx(corner, rel=1e-6)


def test_a_frame_stiffer_than_rigid_is_refused() -> None:
    with pytest.raises(ValueRefused, match="something else holds it"):
        joints.joint_stiffness(depth="500 mm", stiffness="50 N/mm", rigid_stiffness="40 N/mm")


class TestPush:
    def test_pushes_to_both_sides_find_the_play(self) -> None:
        force = Q([-20.0, -10.0, 10.0, 20.0], "N")
        moved = Q([-0.15, -0.10, 0.10, 0.15], "mm")  # 0.05 mm to each side, then 200 N/mm
        found = joints.push_test(force=force, deflection=moved)
        assert found.stiffness.to("N/mm").magnitude == pytest.approx(200)
        assert found.play.to("mm").magnitude == pytest.approx(0.1)
        assert found.std.magnitude == pytest.approx(0, abs=1e-9)

    def test_its_spread_is_that_of_many_tests(self) -> None:
        rng = np.random.default_rng(5)
        force = np.array([5.0, 10.0, 15.0, 20.0, 25.0])
        tests = [
            joints.push_test(
                force=Q(force, "N"), deflection=Q(force / 200 + rng.normal(0, 0.002, 5), "mm")
            )
            for _ in range(400)
        ]
        found = np.array([t.stiffness.magnitude for t in tests])
        told = np.array([t.std.magnitude for t in tests])
        # 3 degrees of freedom: the mean square of the told spread is the true one, to some 10 %
        assert np.sqrt(np.mean(told**2)) == pytest.approx(found.std(), rel=0.2)

    @pytest.mark.parametrize(
        ("force", "moved", "told"),
        [
            ([5, 10], [0.1, 0.2], "three or more"),
            ([5, 5, 5], [0.1, 0.1, 0.1], "different size"),
            ([5, 10, 20], [0.1, 0.2], "as many deflections"),
            ([5, 10, 20], [-0.1, -0.2, -0.4], "against the push"),
            ([-5, 5, 5, -5], [-0.1, 0.1, 0.1, -0.1], "two different forces"),
        ],
    )
    def test_too_little_is_refused(self, force, moved, told) -> None:
        with pytest.raises(ValueRefused, match=told):
            joints.push_test(force=Q(force, "N"), deflection=Q(moved, "mm"))


class TestBlocks:
    @given(st.floats(10, 1e4), st.floats(50, 500))
    def test_life_does_not_depend_on_the_basis_that_is_stated(self, rating, load) -> None:
        # the same block rated on 100 km and on 50 km lives as long
        other = blocks.rating_on_basis(
            stated_rating=Q(rating, "N"), stated_basis="100 km", life_basis="50 km"
        )
        words = {"equivalent_load": Q(load, "N")}
        long = blocks.rail_life(dynamic_rating=Q(rating, "N"), life_basis="100 km", **words)
        short = blocks.rail_life(dynamic_rating=other, life_basis="50 km", **words)
        assert short.magnitude == pytest.approx(long.magnitude, rel=1e-9)

    def test_taking_one_basis_for_the_other_is_a_factor_two_in_life(self) -> None:
        words = {"dynamic_rating": "2 kN", "equivalent_load": "100 N"}
        wrong = blocks.rail_life(life_basis="100 km", **words) / blocks.rail_life(
            life_basis="50 km", **words
        )
        assert wrong.magnitude == pytest.approx(2)

    @pytest.mark.parametrize(
        ("share", "factor"),
        [
            ("90 %", 1),
            ("95 %", 0.62),
            ("96 %", 0.53),
            ("97 %", 0.44),
            ("98 %", 0.33),
            ("99 %", 0.21),
        ],
    )
    def test_printed_life_factors(self, share: str, factor: float) -> None:
        assert blocks.life_factor(reliability=share).magnitude == pytest.approx(factor)

    def test_what_is_not_printed_is_refused(self) -> None:
        with pytest.raises(ValueRefused, match="from 90 % to 99 %"):
            blocks.life_factor(reliability="99.9 %")

    def test_a_tool_beside_the_rail_wears_its_block(self) -> None:
        block = Block(
            dynamic_rating="1 kN", static_rating="1.5 kN", roll_moment="8 N*m", pitch_moment="6 N*m"
        )
        moment = blocks.block_moment(force="10 N", overhang="60 mm")
        near = blocks.life_of(block=block, force="10 N")
        far = blocks.life_of(block=block, force="10 N", roll=moment)
        # 10 N, and 10 + 1500 * 0.6 / 8 = 122.5 N: life falls by 12.25**3
        assert (near / far).magnitude == pytest.approx(12.25**3)

    @pytest.mark.parametrize("name", tables.read("rails").rows)
    def test_rows_are_blocks(self, name: str) -> None:
        found = blocks.block(name)
        assert found.source.startswith("estimate: ")  # until a catalogue's page is read
        assert found.static_rating > found.dynamic_rating
        assert found.roll_moment > found.pitch_moment

    def test_an_unknown_block_is_refused(self) -> None:
        with pytest.raises(ValueRefused, match="did you mean 'miniature rail 12 mm, "):
            blocks.block("miniature rail 12 mm")
