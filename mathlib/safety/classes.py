"""Classes of lasers: what a continuous beam of each class may emit, and what an enclosure owes.

A class is a matter of what people can reach, not of the parts inside. The functions here look at
the power of a bare head, to show how far an enclosure has to bring it down.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import tables, units, words
from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.safety import wording
from mathlib.safety.apertures import limiting_aperture
from mathlib.safety.cells import BLUEST, CONFIDENCES, LONGEST, REDDEST, Printed, as_printed
from mathlib.safety.corrections import WAVELENGTH, band, curves, holds, within
from mathlib.units import Quantity
from mathlib.words import Mistakes, Word

CLASSES: Final = ("1", "1M", "2", "2M", "3R", "3B")
EDITIONS: Final = ("IEC 2014", "IEC 2007")
_BLINK: Final = 0.25  # s: the shortest time base, of visible light where people turn away
_TIME_BASE: Final = Word("time_base", "s", "for which the beam is judged")
_POWER: Final = Word("power", "W", "of light that leaves the head, continuous")

enclosure_density = Formula(
    title="Optical density that an enclosure needs",
    equation="OD = log(P / AEL) / log(10)",
    where={
        "OD": ("optical_density", "1", "of walls and windows at the laser's wavelength", "signed"),
        "P": ("power", "W", "of light that the head can send to them"),
        "AEL": ("emission_limit", "W", "of Class 1 for that wavelength and time base"),
    },
    assumes=(
        "the whole beam meets the wall or window in a fault that can be foreseen",
        "the wall withstands that beam: density says nothing of burning through",
        "slots, hoses and the lid's gap let out nothing more",
    ),
    source="definition of optical density, with the Class 1 limit of IEC 60825-1 let through",
    example=Example(
        {"power": "10 W", "emission_limit": "3.9e-5 W"},
        "5.40894 1",
        2e-6,
        "by hand: 10 / 3.9e-5 = 256410; log10(256410) = 5.40894",
    ),
)


class Line(NamedTuple):
    """One line of ``data/emission_limits.csv``."""

    name: str
    laser_class: str
    wavelengths: tuple[float, float]
    times: tuple[float, float]
    printed: Printed
    confidence: str


@lru_cache(maxsize=1)
def lines() -> tuple[Line, ...]:
    """Every printed emission limit."""
    return tuple(
        Line(
            row.name,
            row.texts["class"],
            band(row, "wavelength"),
            band(row, "time"),
            as_printed(row.texts["limit"]),
            row.texts["confidence"],
        )
        for row in tables.read("emission_limits").rows.values()
    )


class Classed(NamedTuple):
    """Class of a bare head, its limit and the next one's, and what must be said beside it."""

    name: Any
    emission_limit: Quantity
    limits: dict[str, Quantity]
    decided_by: str
    confidence: Any
    notes: tuple[str, ...]


def emission_limit(
    laser_class: str, wavelength: Any, time_base: Any = None, edition: str = "IEC 2014"
) -> Quantity:
    """Give the accessible emission limit of a class for a continuous beam of a small source.

    Parameters
    ----------
    laser_class : str
        "1", "1M", "2", "2M", "3R" or "3B"; "Class 1" too. 1M and 2M have the limits of 1 and 2,
        met through 7 mm at 100 mm, and exceeded with a telescope.
    wavelength : length, broadcast
        180 nm to 1 mm; Classes 2 and 2M are for 400 to 700 nm only.
    time_base : time, broadcast, optional
        Left out: that of IEC 60825-1. Up to 400 nm, where doses add, it is 30 000 s. Above, where
        nobody is meant to look into the beam, it is 100 s, and no limit changes after that; Class
        2, 2M and visible 3R are meant for 0.25 s, and are printed alike for all times.
    edition : str
        "IEC 2014", or "IEC 2007" with C7 at 8 above 1200 nm.

    Returns
    -------
    Quantity
        W through the measuring aperture; where the table states a dose, the dose over the time
        base. Never above Class 3B.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; an unknown class; a wavelength or time base without a limit.

    Examples
    --------
    >>> print(emission_limit("1", "445 nm"), emission_limit("2", "532 nm"))
    3.9×10⁻⁵ W 0.001 W

    """
    who = "Emission limit"
    name, wave, time = _read(who, laser_class, wavelength, time_base, edition)
    made = _limit(name, wave, time, edition)[0]
    if np.any(~np.isfinite(made)):
        first = np.ravel(np.broadcast_arrays(made, wave)[1])[np.ravel(~np.isfinite(made))][0]
        raise ValueRefused(
            f"{who}: Class {name} has no limit for a continuous beam at "
            f"{units.show(words.result(first, WAVELENGTH.container), 5)} and that time base: "
            "Class 2 is for 400 to 700 nm, and Class 1 is judged over 10 s or longer."
        )
    return words.result(made, units.container("W"))


def _read(
    who: str, laser_class: str, wavelength: Any, time_base: Any, edition: str
) -> tuple[str, Any, Any]:
    mistakes = Mistakes(who)
    name = str(laser_class).removeprefix("Class").strip()
    if name not in CLASSES:
        told = ", ".join(CLASSES)
        mistakes.add(ValueRefused, f"laser_class is one of {told}; got {laser_class!r}.")
    if edition not in EDITIONS:
        told = " or ".join(map(repr, EDITIONS))
        mistakes.add(ValueRefused, f"edition is {told}; got {edition!r}.")
    wave = within(mistakes, WAVELENGTH, wavelength, BLUEST, REDDEST)
    time = None
    if time_base is not None:
        time = within(mistakes, _TIME_BASE, time_base, _BLINK, LONGEST)
    mistakes.stop()
    return name, wave, LONGEST if time is None else time


def _limit(name: str, wave: Any, time: Any, edition: str) -> tuple[Any, Any]:
    """Limit in W and how sure it is (a number into CONFIDENCES); infinite where there is none."""
    wave, time = np.broadcast_arrays(np.asarray(wave, float), np.asarray(time, float))
    made = np.full(wave.shape, np.inf)
    sure = np.zeros(wave.shape, dtype=np.intp)
    for line in lines():
        if line.laser_class != name.removesuffix("M"):
            continue
        on = holds(line.wavelengths, wave, REDDEST) & holds(line.times, time, LONGEST)
        value = _value(line.printed, wave, time, edition)
        lower = on & (value < made)
        made = np.where(lower, value, made)
        sure = np.where(lower, CONFIDENCES.index(line.confidence), sure)
    if name != "3B":
        cap, _ = _limit("3B", wave, time, edition)
        made = np.where(np.isfinite(made), np.minimum(made, cap), made)
    return made, sure


def _value(printed: Printed, wave: Any, time: Any, edition: str) -> Any:
    made = np.full(wave.shape, printed.coefficient)
    wanted = "2006/25/EC" if edition == "IEC 2007" else "IEC 2014"
    for curve in curves():
        if curve.factor in printed.factors and wanted in curve.editions:
            made = np.where(holds(curve.band, wave, REDDEST), made * curve.at(wave), made)
    if printed.unit == "J":
        return made / time
    if printed.unit == "W/m^2":
        across = limiting_aperture(units.Q(wave, "m"), units.Q(time, "s"))
        return made * np.pi * across.to("m").magnitude ** 2 / 4
    return made


def class_of_head(power: Any, wavelength: Any, time_base: Any = None) -> Classed:
    """Tell the class that a bare head of this power would have, and what decides it.

    Parameters
    ----------
    power : power, broadcast
        Of light that leaves the head, continuous; the whole of it may enter an eye.
    wavelength : length, broadcast
        180 nm to 1 mm.
    time_base : time, broadcast, optional
        As of ``emission_limit``, from 10 s on.

    Returns
    -------
    Classed
        ``.name`` ("1", "2", "3R", "3B" or "4"; an array for arrays), ``.emission_limit`` of
        Class 1, which an enclosure must keep, ``.limits`` of every class (infinite where a class
        does not exist), ``.decided_by``, ``.confidence`` and ``.notes``. Classes 1M and 2M depend
        on how wide the beam is, and are never named here: the stricter class is.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> head = class_of_head("10 W", "445 nm")
    >>> head.name, print(head.emission_limit)
    3.9×10⁻⁵ W
    ('4', None)

    """
    who = "Class of a bare head"
    mistakes = Mistakes(who)
    watts = within(mistakes, _POWER, power, 0.0, np.inf)
    wave = within(mistakes, WAVELENGTH, wavelength, BLUEST, REDDEST)
    time = LONGEST
    if time_base is not None:
        time = within(mistakes, _TIME_BASE, time_base, 10.0, LONGEST)
    mistakes.stop()
    limits, sure = {}, {}
    for name in ("1", "2", "3R", "3B"):
        limits[name], sure[name] = _limit(name, wave, time, EDITIONS[0])
    watts, *each = np.broadcast_arrays(watts, *limits.values())
    within_class = [(watts <= value) & np.isfinite(value) for value in each]
    names = np.select(within_class, list(limits), "4")
    surest = np.select(
        within_class, np.broadcast_arrays(watts, *sure.values())[1:], sure["3B"]
    ).astype(int)
    told = np.array(CONFIDENCES)[surest]
    single = names.ndim == 0
    return Classed(
        str(names) if single else names,
        words.result(limits["1"], units.container("W")),
        {n: words.result(value, units.container("W")) for n, value in limits.items()},
        "the power of the head against the emission limits of IEC 60825-1:2014 for a continuous "
        "beam of a small source; beyond Class 3B it is Class 4",
        str(told) if single else told,
        (wording.CLASSING, wording.PREVAIL, wording.TABLE_TO_CHECK),
    )


def density_for_class_1(power: Any, wavelength: Any, time_base: Any = None) -> Quantity:
    """Give the optical density that walls and windows need to keep a head within Class 1.

    Parameters
    ----------
    power : power, broadcast
        Of light that the head can send to them in a fault that can be foreseen.
    wavelength : length, broadcast
        Of the light.
    time_base : time, broadcast, optional
        As of ``emission_limit`` of Class 1.

    Returns
    -------
    Quantity
        A number, 0 where the head is within Class 1 as it is.

    Raises
    ------
    UnitError, ValueRefused
        As ``emission_limit``.

    Examples
    --------
    >>> print(density_for_class_1("20 W", "1064 nm"))
    4.011

    """
    limit = emission_limit("1", wavelength, time_base)
    density = enclosure_density(power=power, emission_limit=limit)
    return units.quantity(np.maximum(density.magnitude, 0.0), density._units)
