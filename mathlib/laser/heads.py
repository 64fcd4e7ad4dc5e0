"""Draws of a laser head: its light, its wavelength and its focus, for sizing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import attrs
import numpy as np

from mathlib import fields, tables, units
from mathlib.errors import MathlibError, ValueRefused
from mathlib.laser import removal
from mathlib.laser.beams import Module, focused_diameter, rayleigh_length
from mathlib.ranges import Range
from mathlib.units import Quantity, quantity
from mathlib.words import Mistakes

_AXES: Final = ("", "_y")
#: M² where a head's data sheet says only its spot, by band: as the rows of lasers.csv have it.
_USUAL: Final = {
    "450nm": Range("10 1", "15 1", "25 1", "blue heads of lasers.csv; estimate"),
    "1064nm": Range("1.2 1", "1.5 1", "2 1", "infrared heads of lasers.csv; estimate"),
    "10600nm": Range("1.05 1", "1.1 1", "1.3 1", "gas tubes of lasers.csv; estimate"),
}


@attrs.frozen(kw_only=True, eq=False)
class Light:
    """Draws of one head in SI units, arrays along the draws; ``foci`` has both axes if they differ.

    Each focus is its diameter and its Rayleigh length.
    """

    name: str
    power: Any
    wavelength: float
    foci: tuple[tuple[Any, Any], ...]
    _widths: dict[float, Any] = attrs.field(factory=dict, init=False, repr=False)

    @property
    def tube(self) -> bool:
        """Whether this is a gas tube's far infrared."""
        return self.wavelength > 2e-6

    def width(self, layer: Any) -> Any:
        """Mean width through a layer; of two axes their mean, as a closed contour cuts both."""
        if layer not in self._widths:  # sheets are often as thick as one another
            found = [removal.mean_width(d, z, layer) for d, z in self.foci]
            self._widths[layer] = found[0] if len(found) == 1 else 0.5 * (found[0] + found[1])
        return self._widths[layer]


def light(name: str, told: Module | Mapping[str, Any], n: int) -> Light:
    """Draw a head from its record, or from the values of a row of ``lasers.csv``.

    A head that states its spot and no beam quality gets what is usual for its light.

    Parameters
    ----------
    name : str
        What it is called; the same name gives the same draws.
    told : Module or dict
        Texts, quantities or ranges by word.
    n : int
        How many draws.

    Returns
    -------
    Light
        With power, wavelength and focus.

    Raises
    ------
    UnitError, ValueRefused
        Too little is stated to work out the focus; a word that a head does not have; a value
        without its unit.

    Examples
    --------
    >>> found = light("mine", Module(optical_power="5 W", wavelength="450 nm",
    ...     focal_length="30 mm", beam_quality=15, beam_diameter="4 mm"), 3)
    >>> found.power.shape, found.tube
    ((3,), False)

    """
    values = _read(name, told) if isinstance(told, Mapping) else fields_of(told)
    enough = {"optical_power", "wavelength"} <= set(values)
    foci = tuple(f for axis in _AXES if enough and (f := _focus(name, values, axis, n)) is not None)
    if not foci:
        raise ValueRefused(
            f"{name}: state optical_power, wavelength, focal_length, beam_quality, and "
            "beam_diameter at the lens or spot_diameter."
        )
    return Light(
        name=name,
        power=draws_of(name, "optical_power", values["optical_power"], n),
        wavelength=_nominal(values),
        foci=foci,
    )


def usual_quality(wavelength: float) -> Range:
    """Beam quality of heads of a wavelength in metres that do not state it.

    Raises
    ------
    ValueRefused
        No such head is known here.

    Examples
    --------
    >>> print(usual_quality(450e-9).typical)
    15

    """
    return _USUAL[removal.band(wavelength)]


def with_quality(head: Module) -> Module:
    """Give a head that does not state its beam quality what is usual for its light.

    Examples
    --------
    >>> head = Module(optical_power="5 W", wavelength="450 nm", focal_length="30 mm")
    >>> print(with_quality(head).beam_quality)
    15

    """
    if head.beam_quality is not None:
        return head
    record: Any = head
    usual = usual_quality(float(np.median(head.wavelength.to("m").magnitude)))
    found: Module = attrs.evolve(record, beam_quality=usual.typical)
    return found


def _read(name: str, told: Mapping[str, Any]) -> dict[str, Any]:
    """Values of a dict, texts read in the units of a ``Module``."""
    record: Any = Module
    known = {field.name: fields.word_of(field) for field in attrs.fields(record)}
    found: dict[str, Any] = {}
    mistakes = Mistakes(name)
    for key, value in told.items():
        word = known.get(key)
        if isinstance(value, Range):
            found[key] = value
        elif word is None:
            mistakes.add(ValueRefused, f"a head has no {key}; it has {', '.join(known)}.")
        elif value is not None:
            try:
                found[key] = fields.in_unit_of(word, value)
            except MathlibError as fault:
                mistakes.add(type(fault), str(fault))
    mistakes.stop()
    return found


def fields_of(head: Module) -> dict[str, Quantity]:
    """Give the values that a head states, by word.

    Examples
    --------
    >>> head = Module(optical_power="5 W", wavelength="450 nm", focal_length="30 mm")
    >>> sorted(fields_of(head))
    ['focal_length', 'optical_power', 'wavelength']

    """
    record: Any = head
    found = attrs.asdict(record, recurse=False)
    return {word: value for word, value in found.items() if value is not None}


def rows() -> dict[str, dict[str, Quantity | Range]]:
    """Give the values of every typical head of ``lasers.csv`` by its name.

    Examples
    --------
    >>> "optical_power" in rows()["gas tube, 40 W"]
    True

    """
    return {name: row.values for name, row in tables.read("lasers").rows.items()}


def draws_of(name: str, word: str, value: Quantity | Range, n: int) -> Any:
    """Draw one value in SI units; of a value that is drawn already, the middle.

    Examples
    --------
    >>> from mathlib import Q
    >>> draws_of("mine", "spot_diameter", Q("0.1 mm"), 2).tolist()
    [0.0001, 0.0001]

    """
    if isinstance(value, Range):
        return removal.drawn(value, n, removal.seed_of(name, word))
    factor = units.kind(value._units).factor
    return np.full(n, factor * float(np.median(value.magnitude)))


def _nominal(values: Mapping[str, Any]) -> float:
    """Wavelength in metres."""
    band = values["wavelength"]
    middle = band.typical if isinstance(band, Range) else band
    return float(np.median(middle.to("m").magnitude))


def _focus(name: str, values: Mapping[str, Any], axis: str, n: int) -> tuple[Any, Any] | None:
    """Focus along one axis; None for a second axis that does not differ from the first."""
    own = [
        word for word in ("beam_quality", "beam_diameter", "spot_diameter") if word + axis in values
    ]
    if not own:
        return None
    drawn = {}
    for word in ("beam_quality", "beam_diameter", "spot_diameter", "focal_length"):
        key = word + axis if word + axis in values else word
        if key in values:
            # Both axes of one head are good or bad together.
            drawn[word] = draws_of(name, word, values[key], n)
    if "beam_quality" not in drawn:
        if "spot_diameter" not in drawn:
            return None
        drawn["beam_quality"] = draws_of(name, "beam_quality", usual_quality(_nominal(values)), n)
    wavelength = draws_of(name, "wavelength", values["wavelength"], n)
    shared: dict[str, Any] = {
        "wavelength": quantity(wavelength, units.container("m")),
        "beam_quality": quantity(drawn["beam_quality"], units.container("1")),
    }
    if "beam_diameter" in drawn and "focal_length" in drawn:
        waist = focused_diameter(
            focal_length=quantity(drawn["focal_length"], units.container("m")),
            beam_diameter=quantity(drawn["beam_diameter"], units.container("m")),
            **shared,
        )
    elif "spot_diameter" in drawn:
        waist = quantity(drawn["spot_diameter"], units.container("m"))
    else:
        return None
    length = rayleigh_length(waist_diameter=waist, **shared)
    return waist.to("m").magnitude, length.to("m").magnitude
