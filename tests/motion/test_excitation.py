"""Orders by hand, and crossings with the modes in each direction."""

from __future__ import annotations

import attrs
import numpy as np
import pytest

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused
from mathlib.machine import TAGMAKER, load
from mathlib.motion import excitation, resonance
from mathlib.motion.belts import DrivenPulley
from mathlib.motion.routes import Pulley

MACHINE = load(TAGMAKER)
COARSE = attrs.evolve(MACHINE.motor, step_angle="1.8 deg")


def test_orders_by_hand() -> None:
    # 20 teeth of 2 mm are 40 mm a turn: 1/40; 1/2; 50/40; 100/40; 200/40 = 5 both ways.
    pulley = Pulley(x="0 mm", y="0 mm", on="frame", side="left", teeth=20, pitch="2 mm")
    found = resonance.excitation_orders(motor=COARSE, pulley=pulley)
    assert [v.to("1/mm").magnitude for v in found] == pytest.approx([0.025, 0.5, 1.25, 2.5, 5, 5])


def test_an_order_times_a_speed_is_a_frequency() -> None:
    orders = resonance.excitation_orders(motor=COARSE, pulley=DrivenPulley(teeth=20), pitch="2 mm")
    f = resonance.excitation_frequency(order=orders.full_step, speed=["40 mm/s", "80 mm/s"])
    assert f.to("Hz").magnitude == pytest.approx([200, 400])


def test_a_pulley_without_teeth_or_pitch_is_refused() -> None:
    smooth = Pulley(x="0 mm", y="0 mm", on="frame", side="left", diameter="12 mm")
    with pytest.raises(ValueRefused, match="the pulley states no teeth"):
        resonance.excitation_orders(motor=COARSE, pulley=smooth)
    with pytest.raises(ValueRefused, match="states no pitch"):
        resonance.excitation_orders(motor=COARSE, pulley=DrivenPulley(teeth=20))


def crossings(direction: str, **more):
    return excitation.speeds_to_avoid(MACHINE.drive, "210 mm", "150 mm", direction, **more)


def test_on_an_axis_both_motors_meet_a_mode_at_frequency_over_order() -> None:
    found = crossings("0 deg")
    modes = resonance.modes(MACHINE.drive, "210 mm", "150 mm").frequency.to("Hz").magnitude
    first = next(c for c in found if c.order == "full step" and c.mode == 0)
    # 400 full steps in 40 mm: 10 for each mm
    assert first.speed.to("mm/s").magnitude == pytest.approx(modes[0] / 10)
    assert {c.motors for c in found} == {"a and b"}
    assert len(found) == 5 * 4


def test_an_axis_stands_for_its_direction() -> None:
    for axis, angle in (("x", "0 deg"), ("Y", "90 deg")):
        assert [c.speed for c in crossings(axis)] == [c.speed for c in crossings(angle)]
    with pytest.raises(UnitError, match="direction needs"):
        crossings("z")


def test_on_a_diagonal_one_motor_turns_root_two_times_as_fast() -> None:
    along = {(c.order, c.mode): c.speed for c in crossings("0 deg")}
    diagonal = crossings("45 deg")
    assert {c.motors for c in diagonal} == {"a"}
    assert {c.motors for c in crossings("135 deg")} == {"b"}
    for c in diagonal:
        assert (along[c.order, c.mode] / c.speed).to("1").magnitude == pytest.approx(np.sqrt(2))


def test_a_bound_leaves_out_what_is_faster_and_the_slowest_comes_first() -> None:
    found = crossings("30 deg", fastest="50 mm/s")
    speeds = [c.speed.magnitude for c in found]
    assert speeds == sorted(speeds)
    assert speeds[-1] <= 50
    assert {c.motors for c in found} == {"a", "b"}  # on 30 deg they turn at their own rates


def test_plain_axes_on_x_turn_one_motor_only() -> None:
    work = attrs.evolve(MACHINE.machine, belts="plain")
    drive = attrs.evolve(MACHINE, machine=work).drive
    found = excitation.speeds_to_avoid(drive, "210 mm", "150 mm", "0 deg")
    assert {c.motors for c in found} == {"a"}
    assert {c.name for c in found} == {"mostly x", "mostly motors"}  # motor a does not reach y


def test_the_swing_is_the_exact_answer_of_the_drive_at_resonance() -> None:
    # Modal damping alone: the movement of the head for 1 N at both belts, all modes summed, as a
    # complex response at the frequency of the first mode; the other modes add a few percent.
    drive = MACHINE.drive
    found = resonance.modes(drive, "210 mm", "150 mm")
    omega = 2 * np.pi * found.frequency.to("Hz").magnitude
    at = omega[1]  # mostly x, on which both motors pull
    shake = found.motor[:, 0] + found.motor[:, 1]
    answer = np.sum(
        found.head[:, 0] * shake / (omega**2 - at**2 + 2j * float(found.damping) * omega * at)
    )
    told = next(c for c in crossings("0 deg") if c.mode == 1 and c.order == "full step")
    assert told.swing.to("m/N").magnitude == pytest.approx(abs(answer), rel=0.05)


def test_drawn_machines_give_speeds_along_their_draws() -> None:
    found = excitation.speeds_to_avoid(MACHINE.draw(7).drive, "210 mm", "150 mm", "0 deg")
    assert found[0].speed.magnitude.shape == (7,)
    assert Q(1, "mm/s") < found[0].speed.max()
