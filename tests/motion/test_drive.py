"""A drive that a person puts together from its parts, and what does not fit together."""

from __future__ import annotations

from typing import Any

import attrs
import numpy as np
import pytest

from mathlib import Q
from mathlib.errors import UnitError, ValueRefused
from mathlib.motion import gantries, modes, refits, resonance
from mathlib.motion.belts import Belt
from mathlib.motion.drive import Drive
from mathlib.motion.gantry import Layout
from mathlib.motion.steppers import Motor

BELT = Belt(pitch="2 mm", width="6 mm", specific_stiffness="45000 N", mass_per_length="7 g/m")
MOTOR = Motor(
    step_angle="1.8 deg", holding_torque="0.49 N*m", rated_current="1 A", resistance="5 ohm",
    inductance="8 mH", rotor_inertia="68 g*cm^2",
)  # fmt: skip


def drive(belts: str = "crossed", **other: Any) -> Drive:
    layout = Layout(
        belts=belts, rail_spacing="480 mm", travel_x="420 mm", travel_y="300 mm", belt=BELT
    )
    told: dict[str, Any] = {
        "gantry": gantries.gantry(layout),
        "motors": (MOTOR, MOTOR),
        "belt": BELT,
        "masses": ("0.4 kg", "1.2 kg"),
        "damping": 0.05,
        "yaw_stiffness": "4000 N*m/rad",
        "set_current": "1 A",
        "friction": "3 N",
    }
    return Drive(**(told | other))


@pytest.mark.parametrize(
    "masses",
    [
        ("0.4 kg", "1.2 kg"),
        ["400 g", "1200 g"],
        (Q("0.4 kg"), Q("1200 g")),
        Q([0.4, 1.2], "kg"),
    ],
)
def test_masses_are_read_as_a_person_writes_them(masses: Any) -> None:
    made = drive(masses=masses)
    assert [mass.to("kg").magnitude for mass in made.masses] == pytest.approx([0.4, 1.2])
    found = modes.modes(made, "100 mm", "100 mm").frequency.magnitude
    same = modes.modes(drive(), "100 mm", "100 mm").frequency.magnitude
    assert found == pytest.approx(same, rel=1e-12)


def test_drawn_masses_broadcast() -> None:
    both = drive(masses=(Q([0.4, 0.3], "kg"), Q([1.2, 1.1], "kg")))
    found = modes.modes(both, "100 mm", "100 mm").frequency.magnitude
    alone = modes.modes(drive(masses=("0.3 kg", "1.1 kg")), "100 mm", "100 mm").frequency.magnitude
    assert found[1] == pytest.approx(alone, rel=1e-12)


@pytest.mark.parametrize(
    ("wrong", "error", "told"),
    [
        ({"masses": "0.4 kg"}, ValueRefused, 'masses are two values.*write \\("0.6 kg"'),
        ({"masses": ("1 kg", "2 kg", "3 kg")}, ValueRefused, "masses are two values"),
        ({"masses": (0.4, 1.2)}, UnitError, 'masses needs a unit.*Write "0.4 kg"'),
        ({"masses": ("4 N", "12 N")}, UnitError, "masses needs a mass"),
        ({"masses": ("0 kg", "1.2 kg")}, ValueRefused, "masses must be positive"),
        ({"motors": MOTOR}, ValueRefused, "motors are two Motor records.*\\(motor, motor\\)"),
        ({"motors": (MOTOR,)}, ValueRefused, "motors are two Motor records"),
        ({"damping": 5}, ValueRefused, "damping is a ratio to critical below 1"),
        ({"gantry": "crossed"}, ValueRefused, "gantry is what gantries.crossed_belts"),
        ({"belt": "6 mm"}, ValueRefused, "belt is a Belt; got str"),
    ],
)
def test_what_does_not_fit_is_refused_by_its_word(
    wrong: dict[str, Any], error: type[Exception], told: str
) -> None:
    with pytest.raises(error, match=f"(?s)Drive: .*{told}"):
        drive(**wrong)


def test_two_belts_are_not_chosen_between() -> None:
    stiffer = attrs.evolve(BELT, specific_stiffness="90 kN")
    with pytest.raises(ValueRefused, match=r"another than that of the gantry.*refits\.fitted"):
        drive(belt=stiffer)
    both = refits.fitted(drive(), belt=stiffer)
    before, after = (modes.modes(d, "100 mm", "100 mm").frequency[0] for d in (drive(), both))
    assert after > 1.2 * before


def test_a_place_beyond_the_pulleys_is_refused() -> None:
    for x, y, axis in (("500 mm", "100 mm", "x"), ("210 mm", "400 mm", "y")):
        with pytest.raises(ValueRefused, match=f"{axis} is a place of the head, within its travel"):
            resonance.modes(drive(), x, y)
        with pytest.raises(ValueRefused, match=f"{axis} is a place of the head"):
            resonance.frequency_map(drive(), x, y)
    assert np.all(resonance.modes(drive(), "420 mm", "300 mm").frequency.magnitude > 0)
    with pytest.raises(UnitError, match=r'Modes of a drive: x needs a unit.*Write "100 mm"'):
        resonance.modes(drive(), 100, "100 mm")


def test_unequal_motors_each_have_their_own_steps() -> None:
    finer = attrs.evolve(MOTOR, step_angle="0.9 deg")
    found = resonance.speeds_to_avoid(drive(motors=(MOTOR, finer)), "210 mm", "150 mm", "0 deg")
    steps = {c.motors: c.frequency / c.speed for c in found if c.order == "full step"}
    # On an axis each motor turns as fast as the head: 200 / 40 mm = 5, 400 / 40 mm = 10 in a mm.
    assert {m: round(float(s.to("1/mm").magnitude), 9) for m, s in steps.items()} == {
        "a": 5.0,
        "b": 10.0,
    }


@pytest.mark.parametrize("mode", [5, -1, 1.5, "x", True])
def test_the_number_of_a_mode_is_checked(mode: Any) -> None:
    with pytest.raises(ValueRefused, match="mode is a number from 0, the lowest, to 4"):
        resonance.frequency_map(drive(), "100 mm", "100 mm", mode=mode)
    with pytest.raises(ValueRefused, match="mode is a number from 0, the lowest, to 4"):
        refits.influence(drive(), "100 mm", "100 mm", mode=mode)


def test_what_is_no_drive_or_no_single_place_is_refused() -> None:
    with pytest.raises(ValueRefused, match=r"drive is a Drive, such as machine\.drive; got str"):
        resonance.modes("crossed", "100 mm", "100 mm")  # type: ignore[arg-type]
    with pytest.raises(ValueRefused, match="x and y are one place of the head"):
        resonance.speeds_to_avoid(drive(), Q([1.0, 2.0], "mm"), "100 mm", "0 deg")


def test_a_beam_that_turns_freely_gives_more_along_x() -> None:
    free, stiff = drive(yaw_stiffness="0 N*m/rad"), drive(yaw_stiffness=None)
    for x, y in (("210 mm", "150 mm"), ("20 mm", "280 mm")):
        soft, hard = (
            modes.compliance(d, x, y).stiffness_along("0 deg").magnitude for d in (free, stiff)
        )
        assert 0.5 * hard < soft < hard  # up to twice the compliance, from unequal spans
        assert resonance.modes(free, x, y).frequency[0].magnitude > 10  # crossed belts hold yaw


def test_a_beam_that_nothing_holds_is_told() -> None:
    loose = drive("plain", yaw_stiffness="0 N*m/rad")  # one belt along y, at one side
    found = resonance.modes(loose, "210 mm", "150 mm").frequency.magnitude
    assert found[0] == pytest.approx(0, abs=1e-2)
    assert found[1] > 10
    with pytest.raises(ValueRefused, match="nothing holds the beam against yaw"):
        modes.compliance(loose, "20 mm", "150 mm")
    crossings = resonance.speeds_to_avoid(loose, "210 mm", "150 mm", "0 deg")
    assert {c.mode for c in crossings} == {2, 3}  # that along x and its motor
