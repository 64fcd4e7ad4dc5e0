"""What to take care of with power and wiring, for one machine; the words behind ``power``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from mathlib.answers import Values, loads, percent, share, tell
from mathlib.errors import ValueRefused
from mathlib.motion import belts, conductors, drive, heat, pull_out, supply, wiring
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.answers.loads import Lead
    from mathlib.machine import Machine

#: Values with a default that decide, so that a reader is told which ones were assumed.
_DECIDING: Final = (
    ("supply", "ambient"),
    ("supply", "capacitance"),
    ("wiring", "ambient"),
    ("wiring", "bundled"),
    ("wiring", "feed_length"),
    ("wiring", "motor_length"),
    ("wiring", "laser_length"),
    ("wiring", "motor_loss"),
    ("wiring", "other_power"),
    ("mount", "rated_rise"),
    ("mount", "ambient"),
)
_HAND: Final = "500 mm/s"  # at which a carriage is pushed by hand
_PRACTICE: Final = (
    "Mains wiring, its fuse and the earth bond of supply, frame and enclosure are work for a "
    "licensed electrician by your local code. Pull the plug and wait before you touch: capacitors "
    "keep their charge.",
    "Limit switches: wire them normally closed, so that a broken wire reads as pressed, and filter "
    "at the input. Wires in a chain are of a kind rated for chains; lay power apart from signals.",
)


def warnings(
    machine: Machine, typical: Values, drawn: Values, leads: list[Lead]
) -> tuple[str, ...]:
    """All that a builder should be told beside the verdict, the most pressing first."""
    most = {
        "feed": _most(drawn["peak_power"] / machine.supply.voltage),
        "motor": max(_most(lead.current) for lead in leads if lead.word == "motor"),
        "laser": _most(drawn.get("laser_current", Q("0 A"))),
    }
    found = [
        *_motors(machine, drawn),
        *_mount(machine, drawn),
        *_voltage(machine, typical),
        *_fuses(machine, leads, most),
        *_contacts(machine, leads, most),
        *_signals(typical),
        *_laser(machine),
        *_PRACTICE,
        *_assumed(machine),
    ]
    return tuple(found)


def _most(current: Quantity) -> float:
    """Give the current in A that 95 % of the drawn machines stay below."""
    return float(np.percentile(current.to("A").magnitude, 95))


def _motors(machine: Machine, drawn: Values) -> list[str]:
    lost = share(np.isnan(drawn["winding_rise"].magnitude))
    current, rated = machine.controller.set_current, machine.motor.rated_current
    found = []
    if lost > 0.01:
        found.append(
            f"In {percent(lost)} of cases the winding passes {tell(Q(loads.HOTTEST))} or runs "
            "away, since hot copper makes more heat at the same current: lower the set current."
        )
    if share(current.magnitude > rated.magnitude) > 0:
        found.append(
            "The set current is above the motor's rated current (rms). Check whether your driver "
            "is set by the peak, which is √2 times the rms."
        )
    return found


def softens_at(machine: Machine) -> Quantity | None:
    """Temperature at which the mount may begin to soften, or None for a metal."""
    mount = machine.mount
    if mount.softens_at is not None:
        return mount.softens_at
    row = heat.softening_of(mount.material) if mount.material else None
    return None if row is None else row.low


def _mount(machine: Machine, drawn: Values) -> list[str]:
    limit = softens_at(machine)
    face = drawn["mount_temperature"]
    if limit is None:
        return []
    over = share(~(face.to("degC").magnitude < limit.to("degC").magnitude))
    if over <= 0.05:
        return []
    name = machine.mount.material or "the mount"
    return [
        f"{name} may soften from {tell(limit)} on, and a motor's face gets that warm in "
        f"{percent(over)} of cases when it holds its full current for hours. Lower the current at "
        "rest, put metal between, or print another plastic."
    ]


def _voltage(machine: Machine, typical: Values) -> list[str]:
    motor, source = machine.typical().motor, machine.typical().supply
    rule = supply.voltage_rule(coil_voltage=(motor.rated_current * motor.resistance).to("V"))
    volts = float(np.median(source.voltage.magnitude))
    lowest, good, _, highest = (float(np.median(v.magnitude)) for v in rule)
    found = []
    if volts < lowest or volts > highest:
        found.append(
            f"{tell(source.voltage)} lies outside of what a motor with {tell(rule.lowest / 2)} "
            f"coils takes: {tell(rule.lowest)} to {tell(rule.highest)}."
        )
    elif volts < good:
        found.append(
            f"{tell(source.voltage)} is little for {tell(rule.lowest / 2)} coils: from "
            f"{tell(rule.good_from)} on the current follows the steps well."
        )
    most = machine.controller.highest_voltage
    after = source.voltage + typical["bus_rise"]
    if most is None:
        found.append(
            "The file does not say what voltage the drivers stand: give "
            f"controller.highest_voltage. Braking may lift the bus to {tell(after)}."
        )
    elif share(source.voltage.magnitude > most.magnitude) > 0:
        found.append(
            f"The supply's {tell(source.voltage)} is more than the {tell(most)} that the drivers "
            "stand: do not connect them."
        )
    elif share(after.magnitude > most.magnitude) > 0:
        found.append(
            f"Braking at the job's speed may lift the bus to {tell(after)}, above the drivers' "
            f"{tell(most)}: add capacitance, brake more slowly, or clamp the bus."
        )
    return found + _by_hand(machine)


def _by_hand(machine: Machine) -> list[str]:
    fixed = machine.typical()
    radius = drive.pitch_radius(pitch=fixed.belt.pitch, teeth=fixed.pulley.teeth)
    made = supply.generated_voltage(
        torque_constant=pull_out.torque_constant(
            holding_torque=fixed.motor.holding_torque, rated_current=fixed.motor.rated_current
        ),
        shaft_speed=belts.belt_speed_of_shaft.solve(
            "shaft_speed", belt_speed=_HAND, pitch_diameter=2.0 * radius
        ),
    )
    return [
        f"Pushed by hand at {tell(Q(_HAND))}, each motor makes up to {tell(made)} and feeds its "
        "unpowered driver; that also brakes, so unplug the motors before you judge friction."
    ]


def _fuses(machine: Machine, leads: list[Lead], most: dict[str, float]) -> list[str]:
    found = []
    for lead in leads:
        if lead.word == "motor":
            continue  # the driver limits the current of its phases
        if lead.fuse is None:
            fit = _fuse_told(machine, lead, most[lead.word])
            found.append(f"No fuse is stated before the {lead.name}. {fit}")
        elif most[lead.word] > (1 + 1e-3) * wiring.FUSE_LOADING * float(
            np.min(lead.fuse.magnitude)
        ):
            found.append(
                f"The fuse of {tell(lead.fuse)} before the {lead.name} carries up to "
                f"{tell(Q(most[lead.word], 'A'))} for long and may not last. "
                f"{_fuse_told(machine, lead, most[lead.word])}"
            )
    return found


def _fuse_told(machine: Machine, lead: Lead, most: float) -> str:
    """Name a fuse for the most that a lead carries, and for the wire that is planned or needed."""
    needed = lead.wire.area
    area = needed if lead.planned is None or lead.planned < needed else lead.planned
    carries = loads.carried(machine, lead, area)
    try:
        fit = wiring.fuse_for(current=Q(most, "A"), ampacity=carries)
    except ValueRefused:
        return f"No fuse fits {tell(area)} at this load: take a thicker wire."
    return f"With {tell(area)} one of {tell(fit)} fits the load and protects the wire."


def _contacts(machine: Machine, leads: list[Lead], most: dict[str, float]) -> list[str]:
    rated, wires = machine.wiring.contact_current, machine.wiring
    found = []
    if rated is None:
        found.append(
            "Check that contacts are rated for their current and crimps for the wire's "
            "cross-section: a loose crimp heats a connector that looks right."
        )
    else:
        over = [
            f"{lead.name} (up to {tell(Q(most[lead.word], 'A'))})"
            for lead in leads
            if share(most[lead.word] > rated.magnitude) > 0
        ]
        if over:
            found.append(
                f"Contacts of {tell(rated)} are too small for the {' and the '.join(over)}."
            )
    if wires.cable_diameter is not None and wires.chain_radius is not None:
        least = conductors.bend_radius(cable_diameter=wires.cable_diameter)
        if share(wires.chain_radius.magnitude < least.magnitude) > 0:
            found.append(
                f"A cable of {tell(wires.cable_diameter)} wants to be bent over {tell(least)} or "
                f"more; the chain bends it over {tell(wires.chain_radius)}. Take a thinner one, or "
                "one whose sheet allows that."
            )
    return found


def _signals(typical: Values) -> list[str]:
    margin = typical.get("level_margin")
    if margin is None or share(margin.magnitude < 0.4) == 0:
        return []
    return [
        f"The signals' high level has a margin of {tell(margin)} over what the inputs need: put a "
        "level shifter with TTL thresholds in between, or inputs may miss steps."
    ]


def _laser(machine: Machine) -> list[str]:
    wires, head = machine.wiring, machine.heads.laser
    if loads.own_supply(machine) and wires.laser_power is None:
        return [
            "The tube's own supply hangs on the mains and is not counted here. It holds a lethal "
            "charge at tens of kilovolts after it is unplugged: leave it to who is qualified."
        ]
    if head is not None and wires.laser_power is None:
        return [
            "The laser head's electrical power is worked out from its light and an estimate of "
            f"{percent(wires.laser_efficiency.magnitude)}: read its label into wiring.laser_power."
        ]
    return []


def _assumed(machine: Machine) -> list[str]:
    known = machine.contents.values
    told = [
        f"{section}.{key} {_plain(getattr(getattr(machine, section), key))}"
        for section, key in _DECIDING
        if known.get(section, {}).get(key) is None
    ]
    return [f"Assumed, since the file does not say: {', '.join(told)}."] if told else []


def _plain(value: Quantity) -> str:
    """Write a value as people do: a difference of temperatures in kelvin."""
    return tell(value).replace(" delta_degC", " K")
