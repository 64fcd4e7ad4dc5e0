"""What a machine draws from its supply, and what its leads carry: the figures behind ``power``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from mathlib.answers import Values
from mathlib.motion import conductors, drive, heat, steppers, wiring
from mathlib.units import Q, Quantity, quantity

if TYPE_CHECKING:
    from mathlib.machine import Machine
    from mathlib.motion.wiring import Wire

#: Winding temperature up to which usual enamel (class B) may go. What would get hotter is counted
#: at it, and its rise is told as not holding.
HOTTEST: Final = "130 degC"
#: What a supply may push before its own limit acts, over its label; an estimate.
OVERLOAD: Final = 1.3
_INFRARED: Final = 2000.0  # nm; beyond it is a gas tube, with a supply of its own on the mains
_COLD: Final = "20 degC"  # at which sheets state a resistance


class Lead(NamedTuple):
    """One lead: its word and name, the wire that it needs, the one planned, and what it carries."""

    word: str
    name: str
    wire: Wire
    planned: Quantity | None
    current: Quantity
    length: Quantity
    voltage: Quantity
    fuse: Quantity | None


def own_supply(machine: Machine) -> bool:
    """Tell whether the laser is a gas tube, which hangs on a supply of its own."""
    head = machine.heads.laser
    return head is not None and bool(np.all(head.wavelength.to("nm").magnitude > _INFRARED))


def input_power(machine: Machine) -> Quantity:
    """Electrical power that the laser head draws here; zero without one, or for a gas tube."""
    head, wires = machine.heads.laser, machine.wiring
    if head is None or (wires.laser_power is None and own_supply(machine)):
        return Q("0 W")
    if wires.laser_power is not None:
        return wires.laser_power
    found: Quantity = head.optical_power / wires.laser_efficiency.magnitude
    return found


def fed_at(machine: Machine) -> Quantity:
    """Voltage at which the laser head is fed."""
    own = machine.wiring.laser_voltage
    return machine.supply.voltage if own is None else own


def converted(machine: Machine) -> Any:
    """Efficiency between the supply and the laser head: 1 where both have the same voltage."""
    direct = np.isclose(fed_at(machine).magnitude, machine.supply.voltage.to("V").magnitude)
    return np.where(direct, 1.0, machine.wiring.converter_efficiency.magnitude)[()]


def winding_rise(machine: Machine) -> Quantity:
    """Rise of a motor's winding at rest and full current; nan where its enamel would go."""
    motor, mount = machine.motor, machine.mount
    resists = heat.thermal_resistance(
        rated_rise=mount.rated_rise, current_rms=motor.rated_current, resistance=motor.resistance
    )
    current = machine.controller.set_current
    away = heat.runaway_current(thermal_resistance=resists, resistance=motor.resistance)
    power = heat.winding_power(current_rms=current, resistance=motor.resistance)
    ends = (current / away).to("1").magnitude < 1.0  # beyond, the temperature has no end
    rise: Quantity = heat.steady_rise(
        thermal_resistance=resists,
        power=power * np.where(ends, 1.0, np.nan)[()],
        temperature_change=mount.ambient - Q(_COLD),
        allow_missing=True,
    )
    most = (Q(HOTTEST) - mount.ambient).magnitude
    return quantity(np.where(rise.magnitude <= most, rise.magnitude, np.nan)[()], rise._units)


def budget(machine: Machine) -> Values:
    """Power of each consumer, as the supply feels it: losses of drivers and converter included."""
    motor, job, control = machine.motor, machine.job, machine.controller
    air, rise = machine.mount.ambient, winding_rise(machine).magnitude
    warm = np.where(np.isnan(rise), (Q(HOTTEST) - air).magnitude, rise)[()]
    hot = heat.hot_resistance(
        resistance=motor.resistance, temperature_change=Q(warm, "delta_degC") + (air - Q(_COLD))
    )
    one = heat.winding_power(current_rms=control.set_current, resistance=hot)
    held = heat.held_power(hold_share=control.hold_share, power=one)
    pulling = drive.motors_pulling(machine.machine.belts)
    told: dict[str, Any] = {
        "mass": machine.masses[1],
        "friction": machine.carriage.friction,
        "motors": pulling,
        "reflected_mass": reflected(machine),
    }
    steady, ramping = (
        heat.mechanical_power(
            belt_force=drive.axis_force(acceleration=a, **told), belt_speed=job.speed
        )
        for a in ("0 mm/s^2", job.acceleration)
    )
    wasted = 1.0 / control.driver_efficiency.magnitude
    return {
        "windings": 2.0 * one * wasted,
        "holding": 2.0 * held * wasted,
        "iron": 2.0 * machine.wiring.motor_loss * wasted,
        "moving": pulling * steady * wasted,
        "accelerating": pulling * (ramping - steady) * wasted,
        "laser": input_power(machine) / converted(machine),
        "other": machine.wiring.other_power,
        "motor_heat": 2.0 * one,
    }


def reflected(machine: Machine) -> Quantity:
    """Mass of one rotor as felt at the belt."""
    radius = drive.pitch_radius(pitch=machine.belt.pitch, teeth=machine.pulley.teeth)
    return steppers.reflected_mass(inertia=machine.motor.rotor_inertia, pitch_radius=radius)


def moving_mass(machine: Machine) -> Quantity:
    """Mass that braking must stop along y, with the rotors that pull it as felt at the belt."""
    rotors = drive.motors_pulling(machine.machine.belts)
    mass: Quantity = machine.masses[1] + rotors * reflected(machine)
    return mass


def leads(machine: Machine, peak: Quantity) -> list[Lead]:
    """Leads of supply, motors and laser head, with the wire that each needs.

    Without a fuse behind the supply its lead must carry all that the supply can push.
    """
    wires, source = machine.wiring, machine.supply
    pushed = wires.feed_fuse
    if pushed is None and source.power is not None:
        pushed = OVERLOAD * source.power / source.voltage
    phase = np.sqrt(2.0) * machine.controller.set_current  # at some steps one phase has its peak
    laser = (input_power(machine) / fed_at(machine)).to("A")
    told: list[tuple[Any, ...]] = [
        ("feed", "supply's lead", (peak / source.voltage).to("A"), source.voltage, 1, pushed),
        ("motor", "motors' leads", phase, source.voltage, wires.bundled, None),
    ]
    if np.any(laser.magnitude > 0):
        fuse = wires.laser_fuse
        told.append(("laser", "laser's lead", laser, fed_at(machine), wires.bundled, fuse))
    found = []
    for word, name, current, voltage, bundled, fuse in told:
        length = getattr(wires, f"{word}_length")
        wire = wiring.wire_area(
            length=length,
            current=current,
            supply_voltage=voltage,
            drop=wires.drop,
            ambient=wires.ambient,
            bundled=bundled,
            fuse=fuse,
        )
        planned, fitted = getattr(wires, f"{word}_area"), getattr(wires, f"{word}_fuse", None)
        found.append(Lead(word, name, wire, planned, current, length, voltage, fitted))
    return found


def carried(machine: Machine, lead: Lead, area: Quantity) -> Quantity:
    """Tell what a wire may carry where a lead lies: the supply's lies alone, others in a bundle."""
    wires = machine.wiring
    bundled = 1 if lead.word == "feed" else wires.bundled
    found: Quantity = wiring.ampacity(area=area, ambient=wires.ambient, bundled=bundled)
    return found


def at_head(machine: Machine, lead: Lead) -> Quantity:
    """Voltage at the end of a lead: of the wire that is planned, or else of the one needed."""
    area = lead.wire.area if lead.planned is None else lead.planned
    warm = conductors.wire_temperature(
        ambient=machine.wiring.ambient,
        current=lead.current,
        ampacity=carried(machine, lead, area),
    )
    lost = wiring.voltage_drop(
        length=lead.length,
        current=lead.current,
        area=area,
        temperature_change=warm.to("degC") - Q(_COLD),
    )
    found: Quantity = lead.voltage - lost
    return found
