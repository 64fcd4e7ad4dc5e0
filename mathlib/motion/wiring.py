"""Wires: how much voltage they lose, how much current they may carry, and what a fuse protects."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import tables, units, words
from mathlib.errors import ValueRefused
from mathlib.fields import choice, optional, quantity, record
from mathlib.motion.conductors import ambient_factor, wire_temperature
from mathlib.motion.conductors import awg as awg
from mathlib.motion.conductors import voltage_drop as voltage_drop
from mathlib.motion.conductors import wire_resistance as wire_resistance
from mathlib.motion.heat import winding_power as winding_power
from mathlib.motion.signals import KINDS
from mathlib.units import Q, Quantity

#: Rated currents of small fuses, in A: the steps of IEC 60127; from memory.
FUSES: Final = (0.5, 0.63, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0, 12.5,
                16.0, 20.0, 25.0, 30.0)  # fmt: skip
_COLD: Final = 293.15  # K, at which resistivity is stated
#: A fuse that is to last carries at most this part of its rated current for long; an estimate.
FUSE_LOADING: Final = 0.8
SOURCES: Final = (
    "ampacity: EN 60204-1 table 6, PVC in duct, 40 °C; from memory, estimate, check the page",
    "bundles: IEC 60364-5-52 table B.52.17; from memory, estimate, check the page",
    "fuse: IEC 60364-4-43, rated current at most the wire's ampacity as reduced; from memory",
)


@record
class Wiring:
    """Leads, fuses and what they feed; lengths are one way, areas those that you mean to fit."""

    ambient: Quantity = quantity("degC", "air in the box, bundle and chain", default="40 degC")
    bundled: Quantity = quantity("1", "loaded circuits in the fullest bundle", default="6 1")
    drop: Quantity = quantity("1", "of a lead's voltage that may be lost", "share", "2 %")
    feed_length: Quantity = quantity("m", "from supply to drivers", default="0.5 m")
    feed_area: Quantity | None = optional("mm^2", "of each wire from supply to drivers")
    feed_fuse: Quantity | None = optional("A", "behind the supply, rated current")
    motor_length: Quantity = quantity("m", "from a driver to its motor", default="1.5 m")
    motor_area: Quantity | None = optional("mm^2", "of each wire to a motor")
    laser_length: Quantity = quantity("m", "to the laser head, through the chain", default="1.5 m")
    laser_area: Quantity | None = optional("mm^2", "of each wire to the laser head")
    laser_fuse: Quantity | None = optional("A", "before the laser's lead, rated current")
    laser_voltage: Quantity | None = optional("V", "of the laser head; else the supply's")
    laser_power: Quantity | None = optional("W", "that the laser head draws, electrical", "zero")
    laser_efficiency: Quantity = quantity(
        "1", "of the laser head, light over input, where its input is not given", "share", "20 %"
    )
    converter_efficiency: Quantity = quantity(
        "1", "of a converter, where the laser head has another voltage", "share", "90 %"
    )
    motor_loss: Quantity = quantity(
        "W", "in the iron of each moving motor; unknown, an estimate", "zero", "3 W"
    )
    other_power: Quantity = quantity("W", "of controller, fans and lights", "zero", "8 W")
    contact_current: Quantity | None = optional("A", "that the connectors' contacts are rated for")
    cable_diameter: Quantity | None = optional("mm", "outside, of the thickest cable in the chain")
    chain_radius: Quantity | None = optional("mm", "inside the chain's bend")
    signal_voltage: Quantity | None = optional("V", "of the controller's outputs, high")
    input_voltage: Quantity | None = optional("V", "that feeds the inputs which they drive")
    input_kind: str = choice(KINDS, "of those inputs", "CMOS")


class Wire(NamedTuple):
    """A wire that serves: the cross-section to order, and what decides it.

    ``by_drop``, ``by_ampacity`` and ``by_fuse`` are the cross-sections of the table that each
    asks alone (zero without a fuse); ``voltage_drop``, ``ampacity`` (bundle and air counted) and
    ``temperature`` are those of the wire to order.
    """

    area: Quantity
    reason: Any
    by_drop: Quantity
    by_ampacity: Quantity
    by_fuse: Quantity
    voltage_drop: Quantity
    ampacity: Quantity
    temperature: Quantity


@words.with_units("Ampacity of a wire", returns="A", area="mm^2", ambient="K", bundled="1")
def ampacity(*, area: Any, ambient: Any = "30 degC", bundled: Any = 1) -> Any:
    """Give the current that a wire may carry for long, in air this warm, bundled with others.

    Parameters
    ----------
    area : area, any shape
        Of the copper; between two rows of ``data/wires.csv`` the smaller one counts.
    ambient : temperature
        Of the air around the bundle, or in the chain.
    bundled : count
        Of loaded circuits in the same bundle or chain, this one included; between two rows of
        ``data/bundles.csv`` the one with more circuits counts.

    Returns
    -------
    Quantity
        A, of the broadcast shape; see ``SOURCES``.

    Raises
    ------
    ValueRefused
        The wire is thinner than all of the table, the air warmer than PVC may get, or the bundle
        larger than any of the table.
    UnitError
        As a formula does.

    Examples
    --------
    >>> print(ampacity(area="1 mm^2", ambient="40 degC", bundled=6))
    5.757 A

    """
    rows = _rows()
    place = np.searchsorted(rows[0], np.asarray(area) * (1 + 1e-9), side="right") - 1
    if np.any(place < 0):
        raise ValueRefused(
            f"Ampacity of a wire: wires.csv begins at {rows[0][0] * 1e6:g} mm²; a thinner wire is "
            "for signals only."
        )
    return rows[1][place] * _reduction("Ampacity of a wire", ambient, bundled)


@words.with_units("Cross-section of a wire", length="m", current="A", supply_voltage="V",
                  drop="1", ambient="K", bundled="1", fuse="A")  # fmt: skip
def wire_area(
    *,
    length: Any,
    current: Any,
    supply_voltage: Any,
    drop: Any,
    ambient: Any = "30 degC",
    bundled: Any = 1,
    fuse: Any = None,
) -> Wire:
    """Cross-section to order for a lead: the largest that drop, ampacity and fuse ask.

    Parameters
    ----------
    length : length, any shape
        One way; the current flows there and back.
    current : current
        Through the lead, for long.
    supply_voltage : voltage
        At the lead's beginning.
    drop : ratio
        Part of that voltage that may be lost, such as "2 %".
    ambient : temperature
        Of the air around the bundle, or in the chain.
    bundled : count
        Of loaded circuits in the same bundle or chain, this one included.
    fuse : current, or None
        Rated current of the fuse before the lead. It protects the wire only where the wire may
        carry that much. Without a fuse the wire must carry whatever feeds it can give: then put
        that current here.

    Returns
    -------
    Wire
        ``.area`` from ``data/wires.csv``; ``.reason`` says which of the three decides, all of
        them where they ask for the same wire. Arrays broadcast.

    Raises
    ------
    ValueRefused
        No wire of the table serves, or the air is warmer than PVC may get.
    UnitError
        As a formula does.

    Notes
    -----
    The drop counts the wire as warm as it is at this current. Contacts are not in it. Check that
    the connector's contacts are rated for the current and their crimps for the wire.

    Examples
    --------
    >>> found = wire_area(length="1.5 m", current="4 A", supply_voltage="12 V", drop="2 %")
    >>> print(found.area, found.reason, sep=", ")
    1 mm², voltage drop
    >>> short = wire_area(length="0.2 m", current="8 A", supply_voltage="12 V", drop="2 %")
    >>> print(short.area, short.reason, sep=", ")
    0.5 mm², ampacity

    """
    who = "Cross-section of a wire"
    given = [length, current, supply_voltage, drop, ambient, bundled, 0.0 if fuse is None else fuse]
    far, load, source, part, air, others, blows = np.broadcast_arrays(
        *(np.asarray(g, dtype=float)[..., None] for g in given)
    )
    areas, plain = _rows()
    carried = plain * _reduction(who, air, others)
    kelvin = wire_temperature(
        ambient=Q(air, "K"), current=Q(load, "A"), ampacity=Q(carried, "A")
    ).magnitude
    told: dict[str, Any] = {"length": Q(far, "m"), "current": Q(load, "A"), "area": Q(areas, "m^2")}
    lost = voltage_drop(temperature_change=Q(kelvin - _COLD, "delta_degC"), **told).magnitude
    asked = {
        "voltage drop": _first(who, "the voltage drop", lost <= part * source),
        "ampacity": _first(who, "the current", carried >= load),
        "fuse": _first(who, "the fuse", carried >= blows),
    }
    place = np.maximum.reduce(list(asked.values()))
    if fuse is None:
        asked["fuse"] = np.full_like(place, -1)
    reason = _told(asked, place)
    square, volt, ampere, degrees = map(units.container, ("mm^2", "V", "A", "degC"))
    chosen = place[..., None]
    asks = {
        name: words.result(np.where(at < 0, 0.0, areas[at]), square) for name, at in asked.items()
    }
    return Wire(
        area=words.result(areas[place], square),
        reason=reason,
        by_drop=asks["voltage drop"],
        by_ampacity=asks["ampacity"],
        by_fuse=asks["fuse"],
        voltage_drop=words.result(np.take_along_axis(lost, chosen, -1)[..., 0], volt),
        ampacity=words.result(np.take_along_axis(carried, chosen, -1)[..., 0], ampere),
        temperature=words.result(np.take_along_axis(kelvin, chosen, -1)[..., 0], degrees),
    )


def _first(who: str, what: str, serves: np.ndarray) -> np.ndarray:
    """Row of the thinnest wire that serves."""
    if not np.all(np.any(serves, axis=-1)):
        raise ValueRefused(
            f"{who}: {what} asks for more than the largest wire of wires.csv. Shorten the lead, "
            "raise the voltage, or take cables apart from the bundle."
        )
    found: np.ndarray = np.argmax(serves, axis=-1)
    return found


def _told(asked: dict[str, np.ndarray], place: np.ndarray) -> Any:
    """Name what asks for the wire that is chosen."""
    names = list(asked)
    decides = [[name for k, name in enumerate(names) if code >> k & 1] for code in range(8)]
    texts = np.array([" and ".join(found) for found in decides], dtype=object)
    codes = sum((at == place).astype(int) << k for k, at in enumerate(asked.values()))
    return texts[codes] if np.ndim(codes) else str(texts[codes])


def _rows() -> tuple[np.ndarray, np.ndarray]:
    """Cross-sections in m² and ampacities in A, the thinnest first."""
    found = [
        (row.values["area"].magnitude, row.values["ampacity"].magnitude)  # type: ignore[union-attr]
        for row in tables.read("wires").rows.values()
    ]
    areas, amperes = np.array(sorted(found)).T
    return areas * 1e-6, amperes


def _reduction(who: str, ambient: Any, bundled: Any) -> Any:
    """Part of the table's ampacity that is left in this air and this bundle."""
    table = [
        (row.values["circuits"].magnitude, row.values["factor"].magnitude)  # type: ignore[union-attr]
        for row in tables.read("bundles").rows.values()
    ]
    circuits, factors = np.array(sorted(table)).T
    if np.any(np.asarray(bundled) > circuits[-1]) or np.any(np.asarray(bundled) < 1):
        raise ValueRefused(
            f"{who}: bundled counts this circuit and those beside it, from 1 to {circuits[-1]:g}; "
            "part a larger bundle."
        )
    place = np.searchsorted(circuits, np.asarray(bundled, dtype=float), side="left")
    air = ambient_factor(ambient=Q(np.asarray(ambient), "K")).magnitude
    return factors[place] * air


@words.with_units("Fuse for a lead", returns="A", current="A", ampacity="A")
def fuse_for(*, current: Any, ampacity: Any) -> Any:
    """Smallest fuse that lasts under a load and still protects its wire.

    Parameters
    ----------
    current : current
        Through the lead, for long.
    ampacity : current
        Of the wire, bundle and air counted. Arrays broadcast.

    Returns
    -------
    Quantity
        A, rated current of a fuse of ``FUSES``.

    Raises
    ------
    ValueRefused
        No fuse fits between load and wire: a thicker wire is needed.
    UnitError
        As a formula does.

    Examples
    --------
    >>> print(fuse_for(current="4 A", ampacity="5.757 A"))
    5 A

    """
    steps = np.array(FUSES)
    needed, most = np.broadcast_arrays(np.asarray(current) / FUSE_LOADING, np.asarray(ampacity))
    place = np.searchsorted(steps, needed * (1 - 1e-9), side="left")
    found = steps[np.minimum(place, len(steps) - 1)]
    if np.any((place == len(steps)) | (found > most)):
        raise ValueRefused(
            "Fuse for a lead: no fuse both lasts under this load and blows before the wire is "
            "too hot. Take a thicker wire, or part the bundle."
        )
    return found
