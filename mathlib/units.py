"""The one registry of units, the maker of quantities ``Q``, and the one check of units.

pint treats radians, turns, cycles and motor steps as plain numbers, so that 60 rpm "is" 6.28 Hz.
Here every unit also carries how often it counts angle, cycles and steps, and a value whose counts
differ from those of the place that it is meant for is refused with a sentence.
"""

from __future__ import annotations

import math
import re
import sys
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final, TypeAlias

# pint looks whether SciPy is there by loading it, and asks nothing of it that we use.
_waits = "scipy" not in sys.modules
if _waits:
    sys.modules["scipy"] = None  # type: ignore[assignment]
import pint  # noqa: E402
from pint.util import UnitsContainer as UnitsContainer  # noqa: E402

if _waits:
    del sys.modules["scipy"]

from mathlib.errors import UnitError  # noqa: E402
from mathlib.spellings import ODD, SUPERSCRIPTS, powers_of  # noqa: E402

registry: Final[Any] = pint.UnitRegistry()
registry.define("step = []")
registry.define("rev = turn")
registry.define("diopter = 1 / meter = dioptre")
registry.define("millimeter_of_water = 9.80665 pascal = mmH2O")
registry.define("inch_of_water = 25.4 millimeter_of_water = inH2O")
registry.formatter.default_format = ".4g~P"
registry.formatter.default_sort_func = lambda items, _registry: items  # N·m stays N·m
pint.set_application_registry(registry)  # type: ignore[no-untyped-call]

Quantity: TypeAlias = pint.Quantity[Any]
QUANTITY: Final = registry.Quantity  # the class whose instances every quantity of ours is


@lru_cache(maxsize=2048)
def container(text: str) -> UnitsContainer:
    """Read a unit as people spell it, and never as an expression to evaluate.

    >>> container("W/(m*K)") == container("W/m/K")
    True

    Raises
    ------
    TextRefused
        The text is not a product of spellings from ``SPELLINGS``.

    """
    powers = powers_of(text)
    return UnitsContainer({registry.get_name(name): n for name, n in powers.items() if n})


@dataclass(frozen=True)
class Kind:
    """What a unit measures: its dimension, and how often it counts angle, cycles and steps."""

    dimension: tuple[tuple[str, float], ...]
    angle: float
    cycle: float
    step: float
    factor: float  # value in SI base units = factor * value + offset
    offset: float

    def measured(self) -> tuple[Any, ...]:
        """Give what is measured: the same for mm and m, another for rpm and Hz.

        >>> kind(container("mm")).measured() == kind(container("m")).measured()
        True
        """
        return self.dimension, self.angle, self.cycle, self.step

    def counts(self) -> str:
        """Say in words what is counted.

        >>> kind(container("rpm")).counts()
        'radians or turns'
        """
        names = {"radians or turns": self.angle, "cycles": self.cycle, "steps": self.step}
        return " and ".join(name for name, n in names.items() if n) or "neither turns nor steps"


@lru_cache(maxsize=4096)
def kind(units: UnitsContainer) -> Kind:
    """Dimension, counts and factor to SI base units of a container of units.

    >>> kind(container("mm")).factor
    0.001
    """
    unit = registry.Unit(units)
    factor: Any
    factor, root = registry.get_root_units(unit, check_nonmult=False)
    offset = 0.0
    if units in _ABSOLUTE:
        offset = float(registry.Quantity(0.0, unit).to("kelvin").magnitude)
        factor = float(registry.Quantity(1.0, unit).to("kelvin").magnitude) - offset
    angle = cycle = 0.0
    powers: dict[str, Any] = dict(units.items())
    for name, power in powers.items():
        if name.endswith("hertz"):
            cycle += power
        else:
            _, part = registry.get_root_units(name, check_nonmult=False)
            angle += power * float(part._units.get("radian", 0))
    # get_root_units works in grams: bring mass to kilograms, which is what SI calls base.
    grams = float(root._units.get("gram", 0))
    dimension = registry.get_dimensionality(units)
    return Kind(
        dimension=tuple(sorted((k, round(float(v), 9)) for k, v in dimension.items() if v)),
        angle=angle,
        cycle=cycle,
        step=float(root._units.get("step", 0)),
        factor=float(factor) * 10.0 ** (-3 * grams),
        offset=offset,
    )


@lru_cache(maxsize=4096)
def scale(factor: float) -> tuple[str, float]:
    """Tell how to apply a factor with least rounding: times it, or divided by a whole number.

    >>> scale(0.001), scale(25.4)
    (('/', 1000.0), ('*', 25.4))
    """
    inverse = 1.0 / factor
    whole = float(round(inverse)) if inverse < 1e15 else 0.0
    if whole > 1.0 and abs(inverse - whole) <= 4e-16 * whole:
        return "/", whole
    near = float(round(factor)) if factor < 1e15 else 0.0
    return "*", near if near and abs(factor - near) <= 4e-16 * near else factor


_ABSOLUTE: Final = frozenset(
    UnitsContainer({name: 1}) for name in ("degree_Celsius", "degree_Fahrenheit")
)
_OFFSET_NAMES: Final = ("degree_Celsius", "degree_Fahrenheit")
_DIFFERENCE_NAMES: Final = ("delta_degree_Celsius", "delta_degree_Fahrenheit")


def show(value: Quantity, digits: int = 4) -> str:
    """Write a scalar quantity for people: number, space, unit.

    >>> show(Q("0.0125 mm")), show(Q("20618 mm/s^2"))
    ('0.0125 mm', '20620 mm/s²')
    """
    number = f"{value.magnitude:.{digits}g}"
    if "e+0" in number and abs(value.magnitude) < 1e7:
        number = f"{float(number):.0f}"  # people write 20620, not 2.062e4
    if "e" in number:
        mantissa, power = number.split("e")
        raised = str(int(power)).translate(str.maketrans("0123456789-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻"))
        number = f"{mantissa} × 10{raised}"
    return f"{number} {unit_text(value._units)}".strip()


@lru_cache(maxsize=4096)
def unit_text(units: UnitsContainer) -> str:
    """Write units for people.

    >>> unit_text(container("N*m"))
    'N·m'
    """
    if units == UnitsContainer({"percent": 1}):
        return "%"
    text = f"{registry.Unit(units):~P}".replace("Δ°C", "delta_degC").replace("Δ°F", "delta_degF")
    return re.sub(r"\bth\b", "thou", text).replace("g_0", "gn")


@lru_cache(maxsize=4096)
def spelled(units: UnitsContainer) -> str:
    """Write units as a person may type them.

    >>> spelled(container("N·m²"))
    'N*m^2'
    """
    text = unit_text(units).replace("·", "*")
    for power in re.findall("[⁰¹²³⁴⁵⁶⁷⁸⁹⁻]+", text):
        text = text.replace(power, "^" + power.translate(SUPERSCRIPTS), 1)
    return text.translate(ODD).replace("°C", "degC").replace("°F", "degF")


_NAMED_KINDS: Final = {
    "mm": "a length", "mm^2": "an area", "mm/s": "a speed", "mm/s^2": "an acceleration",
    "mm/s^3": "a jerk", "s": "a time", "kg": "a mass", "g/m": "a mass for each length",
    "kg/m^3": "a density", "N": "a force", "N*m": "a torque", "N/mm": "a stiffness",
    "g*cm^2": "an inertia", "Pa": "a pressure", "W": "a power", "W/mm^2": "an irradiance",
    "J/mm": "an energy for each length", "J/mm^2": "an energy for each area", "A": "a current",
    "V": "a voltage", "deg": "an angle", "ohm": "a resistance", "mH": "an inductance",
    "Hz": "a frequency",
    "K": "a temperature", "step/mm": "a number for each length", "W/(m*K)": "a conductivity",
}  # fmt: skip


@lru_cache(maxsize=1)
def _names_by_kind() -> dict[tuple[Any, ...], str]:
    # Of two kinds with one dimension, such as force and energy for each length, the first named.
    named = reversed(_NAMED_KINDS.items())
    return {kind(container(unit)).measured(): name for unit, name in named}


def needed(wanted: UnitsContainer) -> str:
    """Say what a place takes, with a unit to write.

    >>> needed(container("N*m"))
    'a torque, in a unit such as N*m'
    """
    such = spelled(wanted)
    if not such:
        return "a plain number"
    name = _NAMED_KINDS.get(such)
    if name is None and kind(wanted).dimension:
        name = _names_by_kind().get(kind(wanted).measured())
    return f"{name}, in a unit such as {such}" if name else f"a unit such as {such}"


def problem(given: UnitsContainer, wanted: UnitsContainer, value: float | None = None) -> str:
    """Say why a value in the units ``given`` cannot stand where ``wanted`` is needed, or "".

    ``value`` is the number that came with the units; it lets the sentence say what to write.

    >>> problem(container("mm"), container("m"))
    ''
    >>> problem(container("rpm"), container("Hz"), 60.0)
    'needs cycles, such as "1 Hz"; got 60 rpm, which counts radians or turns. Write "1 Hz".'
    """
    have, want = kind(given), kind(wanted)
    got = show(quantity(value, given)) if value is not None else unit_text(given) or "1"
    such = spelled(wanted)
    if have.dimension != want.dimension:
        return f"needs {needed(wanted)}; got {got}." + _exponent_hint(given, wanted)
    fault = _temperature_problem(given, wanted, got, value)
    if fault:
        return fault
    if (have.angle, have.cycle, have.step) == (want.angle, want.cycle, want.step):
        return ""
    if have.angle == want.angle == 0 and not (
        (have.step and want.cycle) or (have.cycle and want.step)
    ):
        return ""  # plain numbers stand for steps, and 1/s stands for Hz
    if have.angle == 0 == have.cycle == have.step:
        return f"needs {want.counts()}, such as {such}; got {got}, a plain number."
    such = f'{want.counts()}, such as "1 {such}"' if such else "a plain number"
    return f"needs {such}; got {got}, which counts {have.counts()}." + _rewritten(
        have, want, wanted, value
    )


def _rewritten(have: Kind, want: Kind, wanted: UnitsContainer, value: float | None) -> str:
    """Say what to write instead where turns and cycles were mixed."""
    if have.step or want.step:
        return " Use the steps of one turn to go from one to the other."
    if value is None:
        return ""
    turns = have.cycle - want.cycle  # a cycle is one turn, 2 pi radians
    base = value * have.factor * (2 * math.pi) ** turns
    number = f"{base / want.factor:.6g}"
    return f' Write "{f"{number} {spelled(wanted)}".strip()}".'


def _temperature_problem(
    given: UnitsContainer, wanted: UnitsContainer, got: str, value: float | None
) -> str:
    offset = any(name in given for name in _OFFSET_NAMES)
    if offset and given not in _ABSOLUTE:
        return f"got {got}; a unit per degree is a difference: write delta_degC or K."
    absolute = wanted in _ABSOLUTE or wanted == UnitsContainer({"kelvin": 1})
    if offset and not absolute:
        number = "20" if value is None else f"{value:.6g}"
        scale = "delta_degF" if "degree_Fahrenheit" in given else "delta_degC"
        return f'needs a difference; got {got}, a temperature. Write "{number} {scale}".'
    if absolute and any(name in given for name in _DIFFERENCE_NAMES):
        return f'needs a temperature, such as "293 K"; got the difference {got}.'
    return ""


def _exponent_hint(given: UnitsContainer, wanted: UnitsContainer) -> str:
    """Name the likely slip where a product and a quotient were mixed up."""
    powers: dict[str, Any] = dict(given.items())
    for name, power in powers.items():
        flipped = UnitsContainer({**powers, name: -power})
        if kind(flipped).measured() == kind(wanted).measured():
            return f" Did you mean {spelled(flipped)!r}?"
    return ""


def quantity(magnitude: Any, units: UnitsContainer) -> Quantity:
    """Build a quantity from a float or float array without pint's checks (ten times faster)."""
    new: Quantity = object.__new__(QUANTITY)
    new._magnitude = magnitude
    new._units = units
    return new


def Q(value: Any, unit: str | None = None) -> Quantity:  # noqa: N802 - the name of the trade
    """Make a quantity: from one strict text, or from numbers and a unit.

    Parameters
    ----------
    value : str, float, array of any shape, or Quantity
        ``Q("9 mm")`` reads text; ``Q(9, "mm")`` and ``Q([1, 2], "mm")`` take numbers;
        ``Q(quantity, "mm")`` converts.
    unit : str
        A unit as people spell it.

    Returns
    -------
    Quantity
        A float, or a float array of the same shape, with its unit.

    Raises
    ------
    TextRefused
        The text is not one number with one unit, or the unit is not known.
    UnitError
        A number came without a unit, or a quantity of another kind.

    Examples
    --------
    >>> print(Q("9 mm"), Q([1, 2], "mm"))
    9 mm [1 2] mm

    """
    import numpy as np

    if isinstance(value, str) and unit is None:
        from mathlib import typed

        return typed.read(value)
    if unit is None:
        raise UnitError(f'Q needs a unit; got {value!r}. Write such as Q({value!r}, "mm").')
    units = container(unit)
    if isinstance(value, QUANTITY):
        fault = problem(value._units, units)
        if fault:
            raise UnitError(f"Q {fault}")
        converted: Quantity = value.to(registry.Unit(units))
        return converted
    if isinstance(value, bool | str | bytes):
        raise UnitError(f'Q needs a number and a unit; got {value!r}. Write such as Q(9, "mm").')
    if isinstance(value, list | tuple) and any(isinstance(v, QUANTITY) for v in value):
        value = [Q(v, unit).magnitude for v in value]
    if isinstance(value, np.ma.MaskedArray) or hasattr(value, "attrs"):
        raise UnitError("Q needs a plain array: fill what is masked, or take .values of labels.")
    try:
        array = np.asarray(value)
    except ValueError:
        raise UnitError("Q needs an array whose rows are equally long.") from None
    if array.dtype.kind not in "iuf":
        raise UnitError(f"Q needs real numbers; got an array of {array.dtype}.")
    return quantity(float(array) if array.ndim == 0 else array.astype(float), units)
