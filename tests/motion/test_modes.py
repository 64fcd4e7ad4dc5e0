"""Modes of the whole drive against general solvers, limits, energy, and a swing in time."""

from __future__ import annotations

from typing import Any

import attrs
import numpy as np
import pytest
from scipy.linalg import eigh

from mathlib import Q
from mathlib.errors import ValueRefused
from mathlib.machine import ROOT, TAGMAKER, load
from mathlib.motion import gantries, modes, refits, resonance, steppers

MACHINE = load(TAGMAKER)
LAYOUTS = ("crossed", "plain", "shaft", "single")


def drive_of(belts: str = "crossed", yaw: str | None = "2000 N*m/rad"):
    work = attrs.evolve(MACHINE.machine, belts=belts)
    return attrs.evolve(attrs.evolve(MACHINE, machine=work).drive, yaw_stiffness=yaw)


def by_hand(drive, x: float, y: float):
    """Stiffness and mass of x, y, yaw and both motors from belt lengths alone, by differences."""
    gantry = drive.gantry
    specific = drive.belt.specific_stiffness.to("N").magnitude

    def lengths(at):
        found = []
        for path in gantry.paths:
            found += [
                v.to("m").magnitude
                for v in path.part_lengths(Q(at[0], "m"), Q(at[1], "m"), Q(at[2], "rad"))
            ]
        return np.array(found)

    at, h = np.array([x, y, 0.0]), 1e-6
    slopes = np.array([(lengths(at + d) - lengths(at - d)) / (2 * h) for d in h * np.eye(3)]).T
    slopes = np.hstack([slopes, -gantry.passing])
    stiffness = (slopes.T * (specific / lengths(at))) @ slopes
    radius = 0.002 * 20 / (2 * np.pi)
    motor = drive.motors[0]
    torque = 0.3236 * 1.2 / 1.68  # the row's holding torque at the set current of 1.2 A
    assert steppers.held_torque(motor, drive.set_current).to("N*m").magnitude == pytest.approx(
        torque, rel=1e-3
    )
    magnet = 100 * steppers.held_torque(motor, drive.set_current).to("N*m").magnitude / radius**2
    rotor = motor.rotor_inertia.to("kg*m^2").magnitude / radius**2
    stiffness += np.diag([0, 0, drive.yaw_stiffness.to("N*m/rad").magnitude, magnet, magnet])
    carried, along_y = (m.to("kg").magnitude for m in drive.masses)
    arm = x - 0.21
    mass = np.diag([carried, along_y, (along_y - carried) * 0.48**2 / 12, rotor, rotor])
    mass[1, 2] = mass[2, 1] = carried * arm
    mass[2, 2] += carried * arm**2
    return stiffness, mass


@pytest.mark.parametrize("belts", LAYOUTS)
@pytest.mark.parametrize("place", [(0.05, 0.08), (0.21, 0.15), (0.4, 0.29)])
def test_against_a_general_solver_on_differences_of_belt_lengths(belts, place) -> None:
    drive = drive_of(belts)
    stiffness, mass = by_hand(drive, *place)
    wanted = np.sqrt(eigh(stiffness, mass, eigvals_only=True)) / (2 * np.pi)
    found = modes.modes(drive, *(Q(v, "m") for v in place))
    np.testing.assert_allclose(found.frequency.magnitude, wanted, rtol=2e-6)  # of differences


def test_shapes_and_frequencies_solve_the_equation_of_motion() -> None:
    drive = drive_of()
    stiffness, mass = by_hand(drive, 0.05, 0.08)
    found = modes.modes(drive, "50 mm", "80 mm")
    moved = found.shape / np.array([1, 1, 0.24, 1, 1])  # the beam's end is 240 mm from its middle
    squares = (2 * np.pi * found.frequency.magnitude) ** 2
    for shape, square in zip(moved, squares, strict=True):
        rest = stiffness @ shape - square * (mass @ shape)
        assert np.max(np.abs(rest)) < 1e-5 * np.max(np.abs(stiffness @ shape))
    assert np.max(np.abs(found.shape), axis=-1) == pytest.approx(1.0)


def test_the_shape_of_a_mode_swings_at_its_frequency_in_time() -> None:
    # Equation of motion, stepped through by SciPy from the shape at rest: a quarter of the period
    # later it passes zero, a half later it stands reversed.
    from scipy.integrate import solve_ivp

    drive = drive_of()
    stiffness, mass = by_hand(drive, 0.05, 0.08)
    found = modes.modes(drive, "50 mm", "80 mm")
    shape = found.shape[0] / np.array([1, 1, 0.24, 1, 1])
    period = 1 / found.frequency[0].magnitude
    push = -np.linalg.solve(mass, stiffness)

    def moved(_, state):
        return np.concatenate([state[5:], push @ state[:5]])

    start = np.concatenate([shape, np.zeros(5)])
    path = solve_ivp(
        moved, (0, period / 2), start, t_eval=[period / 4, period / 2], rtol=1e-9, atol=1e-12
    ).y[:5]
    assert np.max(np.abs(path[:, 0])) < 1e-4
    np.testing.assert_allclose(path[:, 1], -shape, atol=1e-4)


@pytest.mark.parametrize("belts", LAYOUTS)
def test_energies_are_shared_out_whole(belts) -> None:
    found = modes.modes(drive_of(belts), "50 mm", "80 mm")
    for shares in (found.moving, found.stored):
        np.testing.assert_allclose(sum(shares.values()), 1.0, rtol=1e-9)
    assert all(np.all(part >= 0) for part in found.moving.values())


def test_stiff_rails_give_what_a_drive_without_yaw_gives() -> None:
    free = modes.modes(drive_of(yaw=None), "50 mm", "80 mm")
    stiff = modes.modes(drive_of(yaw="1e9 N*m/rad"), "50 mm", "80 mm")
    assert "yaw" not in free.moves
    assert "yaw" in free.left_out
    assert stiff.left_out == ""
    np.testing.assert_allclose(
        free.frequency.magnitude, stiff.frequency.magnitude[:4], rtol=1e-4
    )  # a thousandth of a stiffness of 1e9 is left: the belts' 1e4 N*m/rad over it


def test_soft_rails_lower_the_first_mode_away_from_the_middle() -> None:
    lowest = [modes.modes(drive_of(yaw=k), "20 mm", "280 mm").frequency[0].magnitude
              for k in ("500 N*m/rad", "10000 N*m/rad", "1e9 N*m/rad")]  # fmt: skip
    assert lowest == sorted(lowest)
    assert lowest[0] < 0.98 * lowest[2]


def test_held_motors_and_no_yaw_give_the_two_axes_of_the_gantry() -> None:
    drive = drive_of(yaw=None)
    rated = drive.motors[0].rated_current
    strong = attrs.evolve(drive.motors[0], holding_torque="1e6 N*m", rated_current=rated)
    held = attrs.evolve(drive, motors=(strong, strong))
    both = resonance.two_axis_frequency(
        stiffness=drive.gantry.stiffness("50 mm", "80 mm").translation,
        mass_x=drive.masses[0],
        mass_y=drive.masses[1],
    )
    found = modes.modes(held, "50 mm", "80 mm").frequency[:2]
    np.testing.assert_allclose(found.magnitude, both.magnitude, rtol=1e-5)


def test_broadcasts_over_places_and_drawn_machines() -> None:
    drawn = MACHINE.draw(5).drive
    x, y = Q(np.linspace(0, 420, 3)[:, None, None], "mm"), Q(np.linspace(0, 300, 4)[:, None], "mm")
    found = modes.modes(drawn, x, y)
    assert found.frequency.magnitude.shape == (3, 4, 5, 4)
    assert found.shape.shape == (3, 4, 5, 4, 4)
    one = MACHINE.draw(5)
    mass = one.drive.masses[0].magnitude[2]
    single = attrs.evolve(
        drawn,
        masses=tuple(Q(m.magnitude[2], "kg") for m in drawn.masses),
        belt=attrs.evolve(drawn.belt, specific_stiffness=drawn.belt.specific_stiffness[2]),
        gantry=gantries.gantry(
            attrs.evolve(
                one.layout,
                belt=attrs.evolve(drawn.belt, specific_stiffness=drawn.belt.specific_stiffness[2]),
            )
        ),
        motors=(_nth(drawn.motors[0], 2),) * 2,
    )
    assert mass == single.masses[0].magnitude
    alone = modes.modes(single, "210 mm", "100 mm").frequency.magnitude
    np.testing.assert_allclose(found.frequency.magnitude[1, 1, 2], alone, rtol=1e-9)


def _nth(motor, n: int):
    changed = {
        field.name: getattr(motor, field.name)[n]
        for field in attrs.fields(type(motor))
        if np.ndim(getattr(getattr(motor, field.name), "magnitude", 0))
    }
    return attrs.evolve(motor, **changed)


def test_the_map_is_the_lowest_mode_at_each_place() -> None:
    drive = drive_of()
    x, y = Q([0.0, 210.0, 420.0], "mm"), Q([0.0, 300.0], "mm")
    found = modes.frequency_map(drive, x, y).magnitude
    for row, column in ((0, 0), (1, 2)):
        alone = modes.modes(drive, x[column], y[row]).frequency[0].magnitude
        assert found[row, column] == pytest.approx(alone, rel=1e-12)
    np.testing.assert_allclose(found, found[:, ::-1], rtol=1e-9)  # crossed belts are symmetric


def test_modes_are_named_by_what_moves() -> None:
    assert modes.modes(drive_of(yaw=None), "210 mm", "150 mm").names() == (
        "mostly y",
        "mostly x",
        "mostly motors",
        "mostly motors",
    )
    assert "mostly yaw" in modes.modes(drive_of(), "210 mm", "150 mm").names()


def test_masses_that_cannot_be_are_refused() -> None:
    wrong = attrs.evolve(drive_of(), masses=(Q("1 kg"), Q("0.5 kg")))
    with pytest.raises(ValueRefused, match="the second holds the first"):
        modes.modes(wrong, "0 mm", "0 mm")


class TestCompliance:
    def test_belts_motors_and_yaw_add_up_by_hand_for_plain_axes(self) -> None:
        drive = drive_of("plain")
        # Along x the belt and the motor's spring one behind the other, 1/k each; along y also
        # the yaw: the y belt runs one pitch radius right of the middle, the head stands 160 mm
        # left of it, so a force turns the beam by F arm / K and moves the head by arm of that.
        arm = 0.16 + 0.04 / (2 * np.pi)
        held = drive.gantry.stiffness("50 mm", "80 mm").translation.to("N/m").magnitude
        springs, _ = modes.felt_at_belts(drive)
        wanted = [1 / held[0, 0] + 1 / springs[0], 1 / held[1, 1] + 1 / springs[1] + arm**2 / 2000]
        found = modes.compliance(drive, "50 mm", "80 mm").matrix.to("m/N").magnitude
        np.testing.assert_allclose(np.diag(found), wanted, rtol=1e-9)

    def test_is_the_inverse_of_the_gantrys_stiffness_without_yaw(self) -> None:
        drive = drive_of(yaw=None)
        springs, _ = modes.felt_at_belts(drive)
        soft = drive.gantry.stiffness("50 mm", "80 mm", motor_stiffness=Q(springs[0], "N/m"))
        found = modes.compliance(drive, "50 mm", "80 mm")
        np.testing.assert_allclose(
            found.matrix.magnitude @ soft.translation.magnitude, np.eye(2), atol=1e-9
        )

    def test_the_softest_direction_is_softer_than_all_others(self) -> None:
        found = modes.compliance(drive_of(), "50 mm", "80 mm")
        angle, least = found.softest()
        round_it = found.stiffness_along(Q(np.arange(0.0, 180.0, 1.0), "deg")).magnitude
        assert least.magnitude <= round_it.min() * (1 + 1e-12)
        assert found.stiffness_along(angle).magnitude == pytest.approx(least.magnitude)
        assert angle.magnitude == pytest.approx(float(np.argmin(round_it)), abs=0.6)


class TestRefits:
    def test_influence_agrees_with_parts_that_are_really_changed(self) -> None:
        drive, at = drive_of(), ("50 mm", "80 mm")
        told = refits.influence(drive, *at)
        first = modes.modes(drive, *at).frequency[0].magnitude
        changes: dict[str, Any] = {
            "rail blocks": {"yaw_stiffness": 1.001 * drive.yaw_stiffness},
            "motors": {"set_current": 1.001 * drive.set_current},
            "carriage and head": {
                "masses": (1.001 * drive.masses[0], drive.masses[1] + 0.001 * drive.masses[0])
            },
            "beam": {
                "masses": (
                    drive.masses[0],
                    drive.masses[1] + 0.001 * (drive.masses[1] - drive.masses[0]),
                )
            },
        }
        stiffer = attrs.evolve(drive.belt, specific_stiffness=1.001 * drive.belt.specific_stiffness)
        layout = attrs.evolve(drive.gantry.layout, belt=stiffer)
        changes["belts"] = {"gantry": gantries.gantry(layout), "belt": stiffer}
        for part, change in changes.items():
            shifted = modes.modes(attrs.evolve(drive, **change), *at).frequency[0].magnitude
            assert np.log(shifted / first) / 0.001 == pytest.approx(told[part], rel=2e-3, abs=1e-6)
        springs = told["belts"] + told["motors"] + told["rail blocks"]
        assert springs == pytest.approx(0.5)
        assert sum(told.values()) == pytest.approx(0.0, abs=1e-9)

    def test_the_one_mass_estimates_bracket_the_mode(self) -> None:
        for axis in refits.estimates(drive_of(yaw=None), "210 mm", "150 mm"):
            assert axis.found < axis.held
            assert axis.found < axis.sprung < axis.held
            assert axis.free > axis.held
            assert axis.error.magnitude > axis.error_sprung.magnitude > 0
            wanted = 100 * (axis.held.magnitude / axis.found.magnitude - 1)
            assert axis.error.magnitude == pytest.approx(wanted)

    def test_other_parts_shift_the_modes_the_way_they_must(self) -> None:
        drive, at = drive_of(yaw=None), ("210 mm", "150 mm")
        heavy = refits.fitted(drive, added_mass="0.3 kg")
        assert (heavy.masses[1] - drive.masses[1]).magnitude == pytest.approx(0.3)
        rows = {c.what: c for c in refits.before_after(drive, heavy, *at)}
        assert rows["mode 1, mostly y"].after < rows["mode 1, mostly y"].before
        assert rows["stiffness along x"].after == rows["stiffness along x"].before
        stiff = attrs.evolve(drive.belt, specific_stiffness=2 * drive.belt.specific_stiffness)
        for change, softer in (
            ({"belt": stiff}, False),
            ({"motor": attrs.evolve(drive.motors[0], step_angle="1.8 deg")}, True),
            ({"teeth": 30}, True),
        ):
            row = refits.before_after(drive, refits.fitted(drive, **change), *at)[0]
            assert (row.after < row.before) == softer
        light = refits.before_after(drive, refits.fitted(drive, beam_mass="0.3 kg"), *at)
        assert light[0].after > light[0].before
        assert light[1].after.magnitude == pytest.approx(light[1].before.magnitude)  # x, no beam

    def test_plain_axes_of_the_file_too(self) -> None:
        drive = load(ROOT / "data" / "machines" / "tagmaker_plain.toml").drive
        assert len(refits.before_after(drive, refits.fitted(drive, teeth=16), "9 mm", "9 mm")) == 6


def test_yaw_and_damping_of_the_file_reach_the_drive_and_the_answer(tmp_path) -> None:
    from mathlib import answers

    text = TAGMAKER.read_text(encoding="utf-8")
    text = text.replace("[carriage]\n", "[carriage]\ndamping = 0.08\n", 1)
    text = text.replace("[beam]\n", '[beam]\nyaw_stiffness = "2000 N*m/rad"\n', 1)
    file = tmp_path / "own.toml"
    file.write_text(text, encoding="utf-8")
    own = load(file)
    assert own.drive.damping.magnitude == 0.08
    assert own.drive.yaw_stiffness.magnitude == 2000
    found, bare = answers.ask("ringing", own), answers.ask("ringing", MACHINE)
    assert found.values["first_frequency_corner"] < bare.values["first_frequency_corner"]
    assert not any("yaw" in text for text in found.warnings)
    assert any("yaw" in text for text in bare.warnings)
