"""Text to quantity: a strict reader for files, calls and forms, a lenient one for nameplates.

Neither evaluates what was typed, and both look at its length first. ``read`` wants exactly one
number and one unit. ``as_typed`` reads what shops print, in four steps: tidy the characters, read
the numbers, look the words up, compare. Where a number or a word has several meanings it keeps
them all; the wanted unit may decide, or a second value in the text, and nothing else does.
"""

from __future__ import annotations

import math
import re
from contextlib import suppress
from functools import lru_cache
from typing import Any, Final

from mathlib import nameplate, units
from mathlib.errors import TextRefused, UnitError
from mathlib.nameplate import Part, Reading
from mathlib.units import Quantity, UnitsContainer

#: A text as it should be; who knows the word puts its own unit there.
SUCH_AS: Final = '"9 mm"'
_LONGEST: Final = 200
_STRICT: Final = re.compile(
    r"\s*([-+−]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))(?:[eE]([-+]?[0-9]+)|\s*×\s*10([⁺⁻⁰¹²³⁴-⁹]+))?\s*"
)
#: What may follow the number of a strict text by mistake, and what to say of it.
_SLIPS: Final = (
    (r",\d", 'has a decimal comma, or one between thousands: write such as "2.5 mm"'),
    (r"(1\s*)?/\s*[\d.]", 'has a fraction, which is not evaluated: write such as "0.5 mm"'),
    (r"/", 'has nothing above the bar of its unit: write such as "5 1/mm"'),
    (r"[-+*^×·]", f"looks like an expression, which is not evaluated: write such as {SUCH_AS}"),
    (r"_", 'has an underscore in its number: write such as "1000 mm"'),
    (r"(?!1\s*(/|$))[\d.]|.*[^\s/(*^]\s+-?\d", f"holds two numbers: write one, such as {SUCH_AS}"),
)


def read(text: str) -> Quantity:
    """Read exactly one number with one unit from the list of spellings; plain numbers have unit 1.

    Raises
    ------
    TextRefused
        The text is anything else; the sentence says what to write.

    Examples
    --------
    >>> print(read("-1.5e3 mm/s"), read("16 1"))
    -1500 mm/s 16

    """
    return units.quantity(*_read(_short(text)))


def number(text: str) -> float:
    """Read exactly one plain number, without a unit.

    Raises
    ------
    TextRefused
        The text is anything else, or the number is not finite.

    Examples
    --------
    >>> number("16")
    16.0

    """
    value, rest = _leading(_short(text))
    if rest:
        raise TextRefused(f'{text!r} is not a plain number: write such as "16".')
    return value


def _short(text: Any) -> str:
    if not isinstance(text, str):
        raise TextRefused(f"a text such as {SUCH_AS} is needed; got a {type(text).__name__}.")
    if len(text) > _LONGEST:
        raise TextRefused(
            f"a text of {len(text)} characters is too long (at most {_LONGEST}): "
            f"write one number and one unit, such as {SUCH_AS}."
        )
    return str(text)


@lru_cache(maxsize=4096)
def _read(text: str) -> tuple[float, UnitsContainer]:
    value, rest = _leading(text)
    if not rest:
        n = text.strip()
        raise TextRefused(f'a unit is missing; write "{n} mm", or "{n} 1" for a plain number.')
    for pattern, fault in _SLIPS:
        if re.match(pattern, rest, re.DOTALL):
            raise TextRefused(f"{text!r} {fault}.")
    return value, nameplate.checked(units.container(rest))


def _leading(text: str) -> tuple[float, str]:
    """Split a strict text into its number and what follows."""
    match = _STRICT.match(text)
    if match is None:
        raise TextRefused(f"{text!r} has no finite number and unit: write such as {SUCH_AS}.")
    power = match[2] or (match[3] or "0").translate(nameplate.RAISED)
    return nameplate.finite(match[1].replace("−", "-"), power), text[match.end() :].rstrip()


# Compare


def as_typed(text: str, unit: str) -> Quantity:
    """Read what a data sheet prints, or a person writes, for a value that is wanted in ``unit``.

    A tolerance (2.8 mH ±20%) is dropped, and so are words from a short list (about, max, wire).
    Pounds, ounces, kilograms and grams are forces where a force is wanted, a gauge is a wire's
    diameter or area, and volts with amperes are a power. Of two values that agree the first counts.

    Parameters
    ----------
    text : str
        One value, or several that should agree, such as ``"65Ncm (92oz.in)"``.
    unit : str
        The unit wanted, in its strict spelling.

    Returns
    -------
    Quantity
        The value in that unit.

    Raises
    ------
    TextRefused
        The text has a word that is not understood, several meanings, or values that disagree.
    UnitError
        The value has a unit of another kind.

    Examples
    --------
    >>> print(as_typed("12.6 Kg-cm", "N*m"), as_typed("5V 4A", "W"))
    1.236 N·m 20 W

    """
    wanted = nameplate.checked(units.container(_short(unit)))
    return units.quantity(_as_typed(_short(text), unit), wanted)


@lru_cache(maxsize=4096)
def _as_typed(text: str, unit: str) -> float:
    wanted = units.container(unit)
    with suppress(TextRefused):
        value, given = _read(text)
        if fits := _fit(Part("", "", [Reading(value, 0.0, "", given)]), wanted):
            return fits[0].value
    try:
        parts = _products(_sums(nameplate.parts_of(nameplate.tidy(text))), wanted)
        _refuse_several(parts, unit)
        fitting = [_fit(part, wanted) for part in parts]
    except TextRefused as fault:
        raise TextRefused(f"{text!r}: {fault}") from None
    if [] in fitting:
        raise UnitError(f"{text!r}: {_misfit(parts[fitting.index([])], unit)}")
    agreed = fitting[0]
    for fits in fitting[1:]:
        close = [r for r in agreed if any(_agree(r, other, wanted) for other in fits)]
        if not close:
            a, b = agreed[0].value, fits[0].value
            raise TextRefused(
                f"{text!r} gives two values that do not agree: {a:.4g} {unit} and {b:.4g} {unit}, "
                f"{abs(a - b):.2g} {unit} apart. Write one of them."
            )
        agreed = close
    labels = {reading.value: f'"{reading.label}"' for reading in agreed}
    if len(labels) > 1:
        choice = " or ".join(labels.values())
        raise TextRefused(f"{text!r} can be read in several ways: write {choice}.")
    return agreed[0].value


def _sums(parts: list[Part]) -> list[Part]:
    """Add up 2 ft 6 in, and the like."""
    ratios = {tuple(map(units.container, pair.split())): n for pair, n in nameplate.SUMS.items()}
    summed = parts[-1:]
    for part in reversed(parts[:-1]):
        after = summed[0]
        both = [
            big._replace(value=big.value + math.copysign(small.value / ratio, big.value))
            for big in part.readings
            for small in after.readings
            if 0 <= small.value < (ratio := ratios.get((big.units, small.units), 0))
        ]
        if both and after.parting in ("", "-", ","):
            unit = f"{part.unit} {after.readings[0].label} {after.unit}"
            summed[0] = Part(part.parting, unit, both)
        else:
            summed.insert(0, part)
    return summed


def _products(parts: list[Part], wanted: UnitsContainer) -> list[Part]:
    """Put the product of volts and amperes in their place where a power is wanted."""
    watt, volt, ampere = map(units.container, "WVA")
    volts = [(i, r) for i, part in enumerate(parts) for r in _fit(part, volt)]
    amperes = [(i, r) for i, part in enumerate(parts) for r in _fit(part, ampere)]
    if len(volts) != 1 or len(amperes) != 1 or units.problem(watt, wanted):
        return parts
    (i, v), (j, a) = volts[0], amperes[0]
    power = Reading(v.value * a.value, v.half * a.value + a.half * v.value, "", watt)
    kept = [part for n, part in enumerate(parts) if n != max(i, j)]
    kept[min(i, j)] = Part(parts[min(i, j)].parting, "W", [power])
    return kept


def _refuse_several(parts: list[Part], unit: str) -> None:
    """Refuse a range, a size, and a number without its unit."""
    counted = units.container(unit) in map(units.container, ("1", "step"))
    bare = not counted and any(not part.unit for part in parts)
    joins = {part.parting.strip(" ;").lower() for part in parts[1:]}
    ranged = joins & {"-", "~", "..", "...", "to", "bis"}
    sized = any(set(join) & set("*x+") for join in joins)
    if bare or ranged or sized:
        spelled = next((part.unit for part in reversed(parts) if part.unit), unit)
        said = [f'"{r.label} {part.unit or spelled}"' for part in parts for r in part.readings]
        what = "there are several numbers" if len(parts) > 1 else "a unit is missing"
        what = "this is a range" if ranged else "this is a size or an expression" if sized else what
        raise TextRefused(f"{what}; write one value, {' or '.join(dict.fromkeys(said))}.")


def _fit(part: Part, wanted: UnitsContainer) -> list[Reading]:
    """Give the readings of a part that can stand where ``wanted`` is needed, converted to it."""
    fits, several = [], len({reading.units for reading in part.readings}) > 1
    for value, half, label, written in part.readings:
        for given in (written, nameplate.trade().get(written)):
            if given is None or units.problem(given, wanted):
                continue
            label = f"{value:.12g} {units.spelled(given)}" if several else f"{label} {part.unit}"
            have, want = units.kind(given), units.kind(wanted)
            ratio = have.factor / want.factor
            operator, factor = units.scale(ratio) if ratio else ("*", 0.0)
            shift = (have.offset - want.offset) / want.factor
            result = (value * factor if operator == "*" else value / factor) + shift
            if not math.isfinite(result) or (value and not result and not shift):
                raise TextRefused(f'"{label}" is out of range in {units.spelled(wanted)}.')
            fits.append(Reading(result, half * ratio, label.strip(), wanted))
    return fits


def _misfit(part: Part, unit: str) -> str:
    """Say why no reading of a part fits, and what may have been meant."""
    wanted = units.container(unit)
    want = units.kind(wanted)
    best = min(part.readings, key=lambda r: units.kind(r.units).dimension != want.dimension)
    have = units.kind(best.units)
    said = units.problem(best.units, wanted, best.value)
    if (have.dimension, want.dimension) == ((("[length]", -1.0),), (("[length]", 1.0),)):
        lines = best.value * have.factor * want.factor
        spacing = f'; write "{1 / lines:.4g} {unit}"' if lines else ""
        return (
            f"needs {units.needed(wanted)}; got {best.label} {part.unit}, a number per length. "
            f"The spacing of lines is its inverse (300 dpi: 25.4 mm / 300){spacing}."
        )
    for other in nameplate.dictionary()[1].get(part.unit.casefold(), ()):
        if not units.problem(units.container(other), wanted):
            said += f' Did you mean "{best.label} {other}"?'
    return said


def _agree(one: Reading, other: Reading, wanted: UnitsContainer) -> bool:
    """Tell whether two readings can be one value.

    Each may be off by half a unit of its last digit. Shops convert rounded values, so 2 % is
    allowed in any case, and 5 % at most: 3 mm (1/8 in) are two things. Of a temperature, whose
    zero is a convention, no share is taken.
    """
    apart, rounding = abs(one.value - other.value), one.half + other.half
    if units.kind(wanted).dimension == (("[temperature]", 1.0),):
        return apart <= rounding
    size = max(abs(one.value), abs(other.value))
    return apart <= 0.02 * size or apart <= min(rounding, 0.05 * size)
