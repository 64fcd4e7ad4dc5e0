"""Wires: how much voltage they lose, how much current they may carry, and what a fuse protects."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import tables, units, words
from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.motion.heat import COPPER
from mathlib.motion.heat import winding_power as winding_power
from mathlib.units import Quantity

#: A wire that carries its ampacity in air of 40 °C reaches the 70 °C that PVC may have for good.
_INSULATION: Final = 343.15  # K
_TABLE_AIR: Final = 313.15  # K
_COLD: Final = 293.15  # K, at which resistivity is stated
_ALPHA: Final = 0.00393  # 1/K, copper
_RHO: Final = 1.7241e-8  # ohm m, copper at 20 °C
#: Rated currents of small fuses, in A: the steps of IEC 60127; from memory.
FUSES: Final = (0.5, 0.63, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0, 12.5,
                16.0, 20.0, 25.0, 30.0)  # fmt: skip
#: A fuse that is to last carries at most this part of its rated current for long; an estimate.
FUSE_LOADING: Final = 0.8
SOURCES: Final = (
    "ampacity: EN 60204-1 table 6, PVC in duct, 40 °C; from memory, estimate, check the page",
    "bundles: IEC 60364-5-52 table B.52.17; from memory, estimate, check the page",
    "fuse: IEC 60364-4-43, rated current at most the wire's ampacity as reduced; from memory",
)

_LENGTH: Final = ("length", "m", "one way; the current flows there and back")
_AREA: Final = ("area", "mm^2", "of the copper of one conductor")
_RESISTIVITY: Final = (
    "resistivity", "ohm*m", "of copper at 20 °C", "positive", "1.7241e-8 ohm*m", COPPER,
)  # fmt: skip
_WARM: Final = ("temperature_change", "delta_degC", "of the wire above 20 °C", "signed",
                "0 delta_degC", "20 °C unless told: 50 K more is 20 % more drop")  # fmt: skip
_COEFFICIENT: Final = (
    "temperature_coefficient", "1/K", "of copper's resistance", "positive", "0.00393 1/K", COPPER,
)  # fmt: skip

awg = Formula(
    title="Cross-section of a wire of American gauge",
    equation="A = pi / 4 * d**2 * exp((36 - n) / 19.5 * log(92))",
    where={
        "A": _AREA,
        "d": (
            "finest_diameter", "mm", "of gauge 36", "positive", "0.127 mm",
            "ASTM B258: gauge 36 is 0.005 inch and 0000 is 0.46 inch, 39 equal ratios apart",
        ),
        "n": ("gauge", "1", "number of the gauge; 0 for 1/0, -1 for 2/0, -3 for 4/0", "signed"),
    },
    assumes=("solid round wire; strands are stated by their copper's cross-section",),
    source="ASTM B258: diameter 0.127 mm times 92 to the power (36 - n) / 39",
    example=Example(
        {"gauge": 20},
        "0.517619 mm^2",
        1e-5,
        "by hand: 92**(16/39) = 6.39229; 0.127 * 6.39229 = 0.811821 mm; pi / 4 * 0.811821**2; "
        "wire tables print 0.518",
    ),
)  # fmt: skip

wire_resistance = Formula(
    title="Resistance of a wire",
    equation="R = rho * l * (1 + a * dT) / A",
    where={
        "R": ("resistance", "ohm", "of one conductor over that length"),
        "rho": _RESISTIVITY,
        "l": ("length", "m", "of the conductor"),
        "a": _COEFFICIENT,
        "dT": _WARM,
        "A": _AREA,
    },
    holds=("a * dT > -1; copper's resistance does not fall in proportion down to there",),
    assumes=("copper; fine strands may have up to 13 % more than their stated area says",),
    source="Definition of resistivity; IEC 60028 for copper, IEC 60228 for strands",
    example=Example(
        {"length": "1000 m", "area": "0.823 mm^2", "temperature_change": "10 delta_degC"},
        "21.772 ohm",
        2e-5,
        "by hand: 1.7241e-8 * 1000 / 8.23e-7 = 20.9490; times 1.0393 = 21.7723",
    ),
)

voltage_drop = Formula(
    title="Voltage that a lead loses, there and back",
    equation="dU = 2 * l * I * rho * (1 + a * dT) / A",
    where={
        "dU": ("voltage_drop", "V", "between supply and load"),
        "l": _LENGTH,
        "I": ("current", "A", "through the lead"),
        "rho": _RESISTIVITY,
        "a": _COEFFICIENT,
        "dT": _WARM,
        "A": _AREA,
    },
    holds=("a * dT > -1; copper's resistance does not fall in proportion down to there",),
    assumes=(
        "both conductors have the same cross-section",
        "contacts are left out: each adds some milliohm when new",
    ),
    source="Ohm's law over twice the one-way length",
    example=Example(
        {
            "length": "1.5 m",
            "current": "4 A",
            "area": "0.75 mm^2",
            "temperature_change": "20 delta_degC",
        },
        "0.297538 V",
        2e-6,
        "by hand: 2 * 1.5 * 4 * 1.7241e-8 / 7.5e-7 = 0.275856; times 1.0786 = 0.297538",
    ),
)

wire_temperature = Formula(
    title="Temperature of a wire that carries a current",
    equation="T = T_a + (T_i - T_a) * (I / I_z)**2",
    where={
        "T": ("temperature", "K", "of the conductor"),
        "T_a": ("ambient", "K", "air around the bundle"),
        "T_i": (
            "insulation_limit", "K", "that the insulation may have for good", "positive",
            "343.15 K", "70 °C for PVC, EN 60204-1",
        ),
        "I": ("current", "A", "through it, for long"),
        "I_z": ("ampacity", "A", "that it may carry there, bundle and air counted"),
    },
    holds=("T_a < T_i; no current is left in air as warm as the insulation may get",),
    assumes=("heat goes with the square of the current", "for long: at first it is cooler"),
    source="Definition of ampacity: the current that brings the wire to its insulation's limit",
    example=Example(
        {"ambient": "303.15 K", "current": "4 A", "ampacity": "8 A"},
        "313.15 K",
        1e-9,
        "by hand: 30 + (70 - 30) / 4 = 40 °C",
    ),
)  # fmt: skip

bend_radius = Formula(
    title="Least bending radius of a cable in a chain",
    equation="r = k * d",
    where={
        "r": ("bend_radius", "mm", "inside the bend"),
        "k": (
            "bend_factor",
            "1",
            "of the cable's sheet",
            "positive",
            "10 1",
            "7.5 to 15 for cables rated for chains; from memory, an estimate: read the sheet",
        ),
        "d": ("cable_diameter", "mm", "outside"),
    },
    assumes=("the cable is of a kind rated for chains: others break within weeks",),
    source="Sheets of cables for moving use state a multiple of the diameter",
    example=Example({"cable_diameter": "6 mm"}, "60 mm", 1e-12, "by hand: 10 * 6"),
)


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
    """Current that a wire may carry for long, in air this warm, bundled with others.

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
    warm = air + (_INSULATION - air) * (load / carried) ** 2
    each = 2 * far * load * _RHO * (1 + _ALPHA * (warm - _COLD)) / areas
    each = np.where(load <= carried, each, np.inf)  # hotter than this says
    asked = {
        "voltage drop": _first(who, "the voltage drop", each <= part * source, load),
        "ampacity": _first(who, "the current", carried >= load, load),
        "fuse": _first(who, "the fuse", carried >= blows, blows),
    }
    # each of the three alone: the drop of a wire that is too hot is judged as if at its limit
    limit = 2 * far * load * _RHO * (1 + _ALPHA * (_INSULATION - _COLD)) / areas
    alone = np.argmax(np.where(np.isinf(each), limit, each) <= part * source, axis=-1)
    place = np.maximum.reduce(list(asked.values()))
    asked["voltage drop"] = alone
    if fuse is None:
        asked["fuse"] = np.full_like(place, -1)
    reason = _told(asked, place)
    sections = {name: np.where(at < 0, 0.0, areas[at]) for name, at in asked.items()}
    chosen = place[..., None]
    volt, kelvin = units.container("V"), units.container("degC")
    square, ampere = units.container("mm^2"), units.container("A")
    return Wire(
        words.result(areas[place], square),
        reason,
        *(words.result(section, square) for section in sections.values()),
        words.result(np.take_along_axis(each, chosen, -1)[..., 0], volt),
        words.result(np.take_along_axis(carried, chosen, -1)[..., 0], ampere),
        words.result(np.take_along_axis(warm, chosen, -1)[..., 0], kelvin),
    )


def _first(who: str, what: str, serves: np.ndarray, load: np.ndarray) -> np.ndarray:
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
    texts = np.empty(place.shape, dtype=object)
    for index in np.ndindex(place.shape):
        decides = [name for name, at in asked.items() if at[index] == place[index]]
        texts[index] = " and ".join(decides)
    return texts if place.ndim else str(texts[()])


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
    if np.any(np.asarray(ambient) >= _INSULATION):
        raise ValueRefused(
            f"{who}: air of 70 °C or more leaves PVC no current at all. Take a wire with "
            "insulation for heat, and its own table."
        )
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
    return factors[place] * np.sqrt((_INSULATION - ambient) / (_INSULATION - _TABLE_AIR))


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
