"""The one or two formulas on which an answer turns, with this machine's numbers put in."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from mathlib.answers import frame, hazard, loads, spot
from mathlib.formula import Formula
from mathlib.laser import beams, dose, heat
from mathlib.motion import (
    belts,
    drive,
    frames,
    lattice,
    moves,
    resonance,
    squareness,
    steppers,
    supply,
    tension,
)
from mathlib.record import scalar
from mathlib.safety import distances

if TYPE_CHECKING:
    from mathlib.answers import Answer
    from mathlib.machine import Machine


class Worked(NamedTuple):
    """A formula, its inputs, and the word of the answer that it gives."""

    formula: Formula
    inputs: dict[str, Any]
    word: str


def worked(name: str, answer: Answer, machine: Machine) -> tuple[Worked, ...]:
    """Key formulas of an answer for typical parts; none where an answer has no formula."""
    find = _OF.get(name)
    return () if find is None else find(machine.typical(), _Values(answer))


class _Values:
    """Values of an answer as scalars."""

    def __init__(self, answer: Answer) -> None:
        self.answer = answer

    def __getitem__(self, word: str) -> Any:
        return scalar(self.answer.values[word])


def _radius(machine: Machine) -> Any:
    return drive.pitch_radius(pitch=machine.belt.pitch, teeth=machine.pulley.teeth)


def _step(machine: Machine, values: _Values) -> tuple[Worked, ...]:
    told = {
        "full_steps": steppers.full_steps(machine.motor),
        "microsteps": machine.controller.microsteps,
        "pitch": machine.belt.pitch,
        "teeth": machine.pulley.teeth,
    }
    turned = machine.machine.belts in ("crossed", "single")
    worst = lattice.crossed_worst if turned else lattice.plain_worst
    return (
        Worked(belts.steps_per_length, told, "steps_per_length"),
        Worked(worst, {"belt_step": values["belt_step"]}, "lattice_worst"),
    )


def _motor(machine: Machine, values: _Values) -> tuple[Worked, ...]:
    holding = steppers.torque_at_current(
        rated_torque=machine.motor.holding_torque,
        set_current=machine.controller.set_current,
        rated_current=machine.motor.rated_current,
    )
    load = drive.motor_load(
        motor=machine.motor,
        set_current=machine.controller.set_current,
        pitch_radius=_radius(machine),
        gantry=machine.machine.belts,
        mass=machine.masses[1],
        acceleration=machine.job.acceleration,
        friction=machine.carriage.friction,
    )
    margin = {"holding_torque": holding, "load_torque": load.torque}
    if not load.lag.magnitude >= 0:  # the motor slips: there is no lag to show
        return (Worked(drive.torque_margin, margin, "torque_margin"),)
    lag = {
        **margin,
        "rotor_teeth": steppers.rotor_teeth(machine.motor),
        "pitch_radius": _radius(machine),
    }
    return (
        Worked(steppers.belt_lag, lag, "acceleration_lag"),
        Worked(drive.torque_margin, margin, "torque_margin"),
    )


def _moves(machine: Machine, values: _Values) -> tuple[Worked, ...]:
    ramp = {"speed": machine.job.speed, "acceleration": machine.job.acceleration}
    best = {"acceleration": machine.job.acceleration, "width": values["width"]}
    return (
        Worked(moves.run_up, ramp, "run_up"),
        Worked(moves.fastest_raster_speed, best, "fastest_raster_speed"),
    )


def _belt(machine: Machine, values: _Values) -> tuple[Worked, ...]:
    pluck = {
        "frequency": values["pluck_frequency"],
        "length": values["span_length"],
        "mass_per_length": machine.belt.mass_per_length,
    }
    return (
        Worked(belts.span_tension, pluck, "tension"),
        Worked(tension.shaft_load, {"tension": values["tension"]}, "shaft_load"),
    )


def _square(machine: Machine, values: _Values) -> tuple[Worked, ...]:
    found = []
    if machine.square is not None:
        test = machine.square
        names = ("width", "depth", "diagonal_1", "diagonal_2")
        diagonals = {name: getattr(test, name) for name in names}
        far = {"distance": machine.machine.travel_y, "skew": values["skew"]}
        found.append(Worked(squareness.skew_from_diagonals, diagonals, "skew"))
        found.append(Worked(squareness.shear_shift, far, "shift"))
    if "tooth_racking" in values.answer.values:
        crossed = machine.machine.belts == "crossed"
        turned = squareness.racking_crossed if crossed else squareness.racking_shaft
        tooth = {"pitch": machine.belt.pitch, "rail_spacing": machine.frame.rail_spacing}
        found.append(Worked(turned, tooth, "tooth_racking"))
    return tuple(found)


def _ringing(machine: Machine, values: _Values) -> tuple[Worked, ...]:
    told = {"speed": machine.job.speed, "frequency": values["first_frequency_centre"]}
    ramp = {"speed": machine.job.speed, "acceleration": machine.job.acceleration}
    return (
        Worked(resonance.ripple_spacing, told, "ripple_spacing"),
        Worked(drive.ramp_time, ramp, "ramp_time"),
    )


def _frame(machine: Machine, values: _Values) -> tuple[Worked, ...]:
    beam = {name: getattr(machine.beam, name) for name in ("modulus", "second_moment")}
    beam["length"] = machine.frame.rail_spacing
    head = {
        **beam,
        "load": frames.weight(mass=machine.masses[0]),
        "sag_coefficient": frames.sag_coefficient(ends=frame.ENDS),
    }
    held = {**beam, "mass": machine.masses[0], "beam_mass": machine.beam.mass}
    held |= frames.with_mass(ends=frame.ENDS)
    return (
        Worked(frames.beam_sag, head, "sag_of_head"),
        Worked(frames.loaded_beam_ringing, held, "bending_frequency"),
    )


def _spot(machine: Machine, values: _Values) -> tuple[Worked, ...]:
    head = spot.laser(machine)
    found = []
    if head.beam_diameter is not None:
        told = {
            "beam_quality": head.beam_quality,
            "wavelength": head.wavelength,
            "focal_length": head.focal_length,
            "beam_diameter": head.beam_diameter,
        }
        found.append(Worked(beams.focused_diameter, told, "spot_diameter"))
    depth = {"rayleigh_length": values["rayleigh_length"], "growth": spot.GROWTH}
    return (*found, Worked(beams.defocus_for_growth, depth, "depth_of_focus"))


def _energy(machine: Machine, values: _Values) -> tuple[Worked, ...]:
    line = {"power": values["power_on_work"], "speed": machine.job.speed}
    area = {**line, "line_spacing": machine.job.line_spacing}
    return (
        Worked(dose.line_energy, line, "line_energy"),
        Worked(dose.areal_dose, area, "areal_dose"),
    )


def _material(machine: Machine, values: _Values) -> tuple[Worked, ...]:
    if "peclet" not in values.answer.values:  # refused, or clear
        return ()
    spread = {"diffusivity": values["diffusivity"], "time": values["dwell"]}
    diameter, _ = spot.spot_diameter(spot.laser(machine))
    race = {
        "speed": machine.job.speed,
        "radius": diameter / 2.0,
        "diffusivity": values["diffusivity"],
    }
    return (
        Worked(heat.diffusion_length, spread, "heated_depth"),
        Worked(heat.peclet_number, race, "peclet"),
    )


def _power(machine: Machine, values: _Values) -> tuple[Worked, ...]:
    source = machine.supply
    label = {
        "power": values["mean_power"],
        "loading": source.loading,
        "derating": supply.derating(ambient=source.ambient),
    }
    braking = {"mass": loads.moving_mass(machine), "speed": machine.job.speed}
    found = [Worked(supply.moving_energy, braking, "braking_energy")]
    if supply.rated_power(**label).magnitude >= values["supply_power"].magnitude * (1 - 1e-9):
        found.insert(0, Worked(supply.rated_power, label, "supply_power"))
    return tuple(found)


def _hazard(machine: Machine, values: _Values) -> tuple[Worked, ...]:
    head = machine.heads.laser
    if head is None:
        return ()
    told = {"power": head.optical_power, "limit": values["limit_100_s"]}
    matt = Worked(
        distances.diffuse, {"reflectance": 1, "angle": "0 deg", **told}, "scattered_100_s"
    )
    wide = hazard.width(head)
    if wide is None:
        return (matt,)
    lens = {
        "focal_length": head.focal_length,
        "diameter_63": wide / np.sqrt(2.0),
        "reflectance": 1,
    }
    return (matt, Worked(distances.lens_distance, {**lens, **told}, "lens_on_100_s"))


_OF: dict[str, Callable[[Machine, _Values], tuple[Worked, ...]]] = {
    "step": _step,
    "motor": _motor,
    "moves": _moves,
    "belt": _belt,
    "square": _square,
    "ringing": _ringing,
    "frame": _frame,
    "spot": _spot,
    "energy": _energy,
    "material": _material,
    "power": _power,
    "hazard": _hazard,
}
