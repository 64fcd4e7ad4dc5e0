"""Do supply and leads carry the machine?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from mathlib.answers import (
    Answer,
    Values,
    evaluate,
    flip,
    loads,
    percent,
    settled,
    share,
    sources_of,
    tell,
)
from mathlib.answers.power_warnings import warnings
from mathlib.motion import heat, signals, supply, wiring
from mathlib.units import Q, Quantity

if TYPE_CHECKING:
    from mathlib.answers.loads import Lead
    from mathlib.machine import Machine

_ABOUT: Final = {
    "supply_power": "that the label must state for this machine, in air this warm",
    "mean_power": "from the supply with motors moving and the laser at full light",
    "peak_power": "the same while the motors accelerate at full speed",
    "rest_power": "motors holding, laser off",
    "allowed_power": "that the supply may give for long: label, loading and warm air",
    "supply_current": "mean, from the supply",
    "motor_power": "heat in the windings of both motors, warm",
    "laser_power": "that the laser head draws, electrical",
    "braking_energy": "of all that moves, at the job's speed",
    "charging_time": "of the capacitors when the supply is switched on, at its label's current",
    "bus_rise": "of the supply's voltage when all of that flows back at once",
    "winding_rise": "of a motor at rest at full current, after hours",
    "mount_temperature": "of the motor's face in its mount, after hours",
    "wire_area_feed": "that the lead from supply to drivers needs",
    "wire_area_motor": "that each wire to a motor needs",
    "wire_area_laser": "that each wire to the laser head needs",
    "laser_current": "through the laser's lead",
    "laser_voltage": "at the laser head, over the wire that is planned, or else needed",
    "level_margin": "of a high signal over what the inputs need",
}
_SOURCES: Final = (
    f"supply voltage: {supply.VOLTAGE_RULE_SOURCE}",
    f"supply: {supply.DERATING_SOURCE}",
    *wiring.SOURCES,
    "motors: 2 I² R with hot copper, IEC 60028",
)


def values(machine: Machine) -> Values:
    """All values of the answer."""
    parts, source = loads.budget(machine), machine.supply
    mean = parts["windings"] + parts["iron"] + parts["moving"] + parts["laser"] + parts["other"]
    peak = mean + parts["accelerating"]
    left = supply.derating(ambient=source.ambient).magnitude
    label = supply.rated_power(power=mean, loading=source.loading, derating=left)
    found = {
        "supply_power": Q(np.maximum(label.magnitude, (peak / left).to("W").magnitude)[()], "W"),
        "mean_power": mean,
        "peak_power": peak,
        "rest_power": parts["holding"] + parts["other"],
    }
    if source.power is not None:
        found["allowed_power"] = source.power * (source.loading.magnitude * left)
        found["charging_time"] = supply.charging_time(
            capacitance=source.capacitance,
            supply_voltage=source.voltage,
            current=(source.power / source.voltage).to("A"),
        )
    energy = supply.moving_energy(mass=loads.moving_mass(machine), speed=machine.job.speed)
    bus = supply.bus_voltage(
        supply_voltage=source.voltage,
        returned_share=1,
        energy=energy,
        capacitance=source.capacitance,
    )
    rise = loads.winding_rise(machine)
    face = heat.face_temperature(
        ambient=machine.mount.ambient,
        surface_share=machine.mount.surface_share,
        temperature_rise=rise,
        allow_missing=True,
    )
    found |= {
        "supply_current": supply.supply_current(
            power=mean, efficiency=1, supply_voltage=source.voltage
        ),
        "motor_power": parts["motor_heat"],
        "laser_power": loads.input_power(machine),
        "braking_energy": energy,
        "bus_rise": bus - source.voltage,
        "winding_rise": Q(rise.magnitude, "K"),
        "mount_temperature": face.to("degC"),
    }
    for lead in loads.leads(machine, peak):
        found[f"wire_area_{lead.word}"] = lead.wire.area
        if lead.word == "laser":
            found["laser_current"] = lead.current
            found["laser_voltage"] = loads.at_head(machine, lead)
    wires = machine.wiring
    if wires.signal_voltage is not None and wires.input_voltage is not None:
        levels = signals.input_levels(kind=wires.input_kind, logic_voltage=wires.input_voltage)
        found["level_margin"] = signals.level_margin(
            output_voltage=wires.signal_voltage, high_threshold=levels.high
        )
    return found


def answer(machine: Machine) -> Answer:
    """Judge the supply and the leads of this machine."""
    typical, drawn, ends = evaluate(machine, values)
    leads = loads.leads(machine.typical(), typical["peak_power"])
    enough = _enough(machine, drawn)
    serves = {
        lead.word: drawn[f"wire_area_{lead.word}"].magnitude <= lead.planned.magnitude * (1 + 1e-9)
        for lead in leads
        if lead.planned is not None
    }
    told = [_supply_told(machine, typical, drawn, enough), *_leads_told(leads, serves)]
    thin = [lead for lead in leads if lead.word in serves and share(serves[lead.word]) < 0.9]
    return Answer(
        asked="Do supply and leads carry this machine?",
        values=typical,
        verdict=" ".join(told),
        decided_by=_decided_by(machine, typical, thin or leads),
        flips_at=_flips(machine, typical, leads),
        certain=settled(enough) and all(settled(met) for met in serves.values()),
        warnings=warnings(machine, typical, drawn, leads),
        sources=(*sources_of(machine, "motor", "wiring", "mount", "carriage", "beam"), *_SOURCES),
        measure_next=(
            "Current from the supply with the machine at work, by a clamp meter for direct "
            "current; voltage at the laser head at full light; and a motor's face after an hour."
        ),
        ranges=ends,
        about=_ABOUT,
    )


def _enough(machine: Machine, drawn: Values) -> np.ndarray:
    """Elementwise: the label is as much as this machine asks; a label not stated asks nothing."""
    label = machine.supply.power
    if label is None:
        return np.array(True)
    return np.asarray(drawn["supply_power"].magnitude <= label.magnitude)


def _supply_told(machine: Machine, typical: Values, drawn: Values, enough: np.ndarray) -> str:
    source = machine.supply
    asks = f"it asks {tell(typical['mean_power'])} for long, {tell(typical['peak_power'])} at most"
    if source.power is None:
        return (
            f"The file states no power of the supply: {asks}, so take one whose label states "
            f"{tell(typical['supply_power'])} or more."
        )
    name = f"The {tell(source.power)} supply"
    may = (
        f"and at {percent(source.loading.magnitude)} load in air of {tell(source.ambient)} it may "
        f"give {tell(typical['allowed_power'])} for long"
    )
    if not settled(enough):
        return (
            f"Whether the {tell(source.power)} supply carries this machine cannot be told yet: it "
            f"is too small for {percent(1 - share(enough))} of the drawn machines; {asks}, {may}."
        )
    if share(enough) > 0.5:
        return f"{name} carries this machine: {asks}, {may}."
    return (
        f"{name} does not carry this machine: {asks}, {may}. Its label must state "
        f"{tell(typical['supply_power'])}, or the load must shrink."
    )


def _leads_told(leads: list[Lead], serves: dict[str, np.ndarray]) -> list[str]:
    """Judge the leads that are planned, and say what to order for the others."""
    told: list[str] = []
    fine: list[tuple[Lead, str]] = []
    for lead in leads:
        met = serves.get(lead.word)
        need = f"decided by the {_reason(lead)}"
        if lead.planned is None or met is None:
            told.append(f"For the {lead.name} order {tell(lead.wire.area)}, {need}.")
        elif not settled(met):
            told.append(
                f"Whether the {lead.name} of {tell(lead.planned)} serve{_s(lead)} cannot be told "
                f"yet: too thin for {percent(1 - share(met))} of the drawn machines."
            )
        elif share(met) < 0.5:
            told.append(
                f"The {lead.name} of {tell(lead.planned)} {'is' if _s(lead) else 'are'} too thin: "
                f"{tell(lead.wire.area)} is needed, {need}."
            )
        else:
            fine.append((lead, f"the {lead.name} of {tell(lead.planned)}"))
    if fine:
        names = " and ".join(name for _, name in fine)
        many = len(fine) > 1 or not _s(fine[0][0])
        told.append(f"{names[0].upper()}{names[1:]} serve{'' if many else 's'}.")
    return told


def _s(lead: Lead) -> str:
    """Give the ending of the verb after a lead's name."""
    return "" if lead.name.endswith("leads") else "s"


def _reason(lead: Lead) -> str:
    reasons = np.ravel(np.asarray(lead.wire.reason, dtype=object))
    names, counts = np.unique(reasons.astype(str), return_counts=True)
    return str(names[np.argmax(counts)])


def _by_drop_alone(lead: Lead) -> bool:
    """Tell whether ampacity and fuse leave the wire that is planned to its length."""
    assert lead.planned is not None
    others = np.maximum(lead.wire.by_ampacity.magnitude, lead.wire.by_fuse.magnitude)
    return share(others <= lead.planned.magnitude * (1 + 1e-9)) > 0.5


def _decided_by(machine: Machine, typical: Values, leads: list[Lead]) -> str:
    loaded = typical["mean_power"].magnitude / machine.supply.loading.magnitude
    peak = share(typical["peak_power"].magnitude > loaded) > 0.5
    power = "peak against the label" if peak else "mean power against the label's loading"
    told = "; ".join(f"{lead.name}: {_reason(lead)}" for lead in leads)
    return f"supply: {power}, in air this warm; {told}"


def _flips(machine: Machine, typical: Values, leads: list[Lead]) -> Values:
    """Air, laser power and length of the laser's lead at which the verdict turns over."""
    found: dict[str, Quantity | None] = {}
    source = machine.typical().supply
    if source.power is not None:
        mean, peak = typical["mean_power"], typical["peak_power"]
        asked = np.maximum(mean.magnitude / source.loading.magnitude, peak.magnitude)
        label = source.power.magnitude
        found["supply.ambient"] = flip(lambda: supply.warmest_ambient(derating=asked / label))
        left = supply.derating(ambient=source.ambient).magnitude * label
        room = np.minimum(
            source.loading.magnitude * left - mean.magnitude, left - peak.magnitude
        ) * loads.converted(machine)
        whole = typical["laser_power"] + Q(room[()], "W")
        if machine.heads.laser is not None and np.all(whole.magnitude > 0):
            found["wiring.laser_power"] = whole
    for lead in leads:
        if lead.word == "laser" and lead.planned is not None and _by_drop_alone(lead):
            lost = lead.voltage - typical["laser_voltage"]
            allowed = lead.voltage * machine.wiring.drop.magnitude
            found["wiring.laser_length"] = lead.length * (allowed / lost).to("1").magnitude
    return {word: value for word, value in found.items() if value is not None}
