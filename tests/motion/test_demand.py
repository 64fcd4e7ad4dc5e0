"""What each motor carries in each direction, and the pulley at which a rotor costs least."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.motion import demand, drive

TOLD = {
    "mass_x": "0.6 kg", "mass_y": "1.3 kg", "acceleration": "2 m/s^2", "friction": "4 N",
    "reflected_mass": "0.133 kg",
}  # fmt: skip


def forces(direction: str, gantry: str = "crossed", **more):
    return demand.motor_forces(gantry=gantry, direction=direction, **(TOLD | more))


def test_along_x_both_motors_carry_half_and_along_y_they_turn_against_each_other():
    x = forces("0 deg")
    # (0.6 x 2 + 4) / 2 + 0.133 x 2
    assert x.a.magnitude == pytest.approx(2.866)
    assert x.b.magnitude == pytest.approx(2.866)
    y = forces("90 deg")
    # (1.3 x 2 + 4) / 2 + 0.266
    assert y.a.magnitude == pytest.approx(3.566)
    assert y.b.magnitude == pytest.approx(-3.566)


def test_along_a_diagonal_one_motor_works_and_the_other_stands():
    along = forces("45 deg")
    expected = drive.diagonal_force(**TOLD).magnitude
    assert along.a.magnitude == pytest.approx(expected)
    assert along.speed_a == pytest.approx(math.sqrt(2))
    assert along.speed_b == pytest.approx(0.0, abs=1e-12)
    # across it the roles are swapped
    across = forces("-45 deg")
    assert across.b.magnitude == pytest.approx(expected)


def test_plain_axes_carry_one_axis_each():
    found = forces("90 deg", "plain")
    assert found.a.magnitude == 0
    assert found.b.magnitude == pytest.approx(1.3 * 2 + 4 + 0.266)


def test_a_knife_drags_along_the_move():
    for direction, part in (("0 deg", 0.5), ("45 deg", math.sqrt(0.5))):
        more = forces(direction, drag="3 N").a.magnitude - forces(direction).a.magnitude
        assert more == pytest.approx(3 * part)


@given(degrees=st.floats(-180, 180))
def test_the_motors_do_the_work_of_the_head(degrees):
    # power of both belts equals that of inertia, friction, drag and both rotors, at 1 mm/s
    found = forces(f"{degrees:.9f} deg", drag="3 N")
    work = found.a.magnitude * found.speed_a + found.b.magnitude * found.speed_b
    x, y = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    inertia = 2 * (0.6 * x * x + 1.3 * y * y)
    rotors = 0.133 * 2 * ((x + y) ** 2 + (x - y) ** 2)
    assert work == pytest.approx(inertia + 4 * (abs(x) + abs(y)) + 3 + rotors, rel=1e-6)


def test_the_hardest_direction_of_crossed_belts_is_near_a_diagonal():
    angles = np.linspace(0.0, 90.0, 3601)
    hardest = forces(Q(angles, "deg")).a.magnitude
    # the slope of 2 (0.433 cos d + 0.783 sin d) is zero where tan d = 0.783 / 0.433
    assert angles[int(np.argmax(hardest))] == pytest.approx(
        math.degrees(math.atan(0.783 / 0.433)), abs=0.03
    )
    # and the diagonal, where that motor is fastest, asks for 1.2 % less
    assert hardest.max() / forces("45 deg").a.magnitude == pytest.approx(
        (4 + 2 * math.hypot(0.433, 0.783)) / 5.7197, rel=1e-4
    )


def test_an_unknown_gantry_is_refused():
    with pytest.raises(ValueRefused, match="gantry is one of crossed, plain, shaft, single"):
        forces("0 deg", "cross")


ROTOR = {"motor_torque": "0.1 N*m", "motor_mass": "0.65 kg", "rotor_inertia": "54 g*cm^2"}


class TestRotor:
    @pytest.mark.parametrize("friction", ["0 N", "2 N", "8 N"])
    def test_the_best_radius_is_the_top_of_the_curve(self, friction):
        best = demand.best_pitch_radius(motor_friction=friction, **ROTOR).to("mm").magnitude
        radii = np.linspace(0.5 * best, 2 * best, 3001)
        curve = demand.acceleration_of_motor(
            pitch_radius=Q(radii, "mm"), motor_friction=friction, **ROTOR
        ).magnitude
        assert radii[int(np.argmax(curve))] == pytest.approx(best, rel=1e-3)

    def test_without_friction_the_rotor_then_weighs_what_the_load_weighs(self):
        best = demand.best_pitch_radius(motor_friction="0 N", **ROTOR).to("m").magnitude
        assert 54e-7 / best**2 == pytest.approx(0.65)

    def test_a_motor_of_twice_the_torque_and_rotor_gains_less_than_twice(self):
        told = {"pitch_radius": "4 mm", "motor_mass": "0.3 kg", "motor_friction": "0 N"}
        one, two = (
            demand.acceleration_of_motor(
                motor_torque=Q(0.1 * n, "N*m"), rotor_inertia=Q(54.0 * n, "g*cm^2"), **told
            ).magnitude
            for n in (1, 2)
        )
        # 0.1 / 4 mm = 25 N on 0.3 + 0.3375 kg; 50 N on 0.3 + 0.675 kg: 51.28 over 39.22
        assert two / one == pytest.approx(51.282 / 39.216, rel=1e-4)
