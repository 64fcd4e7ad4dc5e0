"""Heads of columns: the name, the unit, and what must be chosen where no unit is told."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from mathlib import typed, units
from mathlib.errors import MathlibError
from mathlib.measure.text import Findings, shown
from mathlib.units import Quantity, UnitsContainer

COUNTS: Final = frozenset(
    ["count", "counts", "cts", "ct", "lsb", "lsbs", "raw", "adc", "digits", "bits", "ticks"]
)
_MEANT: Final = {
    "sec": "s", "secs": "s", "second": "s", "seconds": "s", "msec": "ms", "millis": "ms",
    "millisecond": "ms", "milliseconds": "ms", "usec": "us", "micros": "us", "microseconds": "us",
    "µs": "us", "μs": "us",
    "mins": "min", "minutes": "min", "volt": "V", "volts": "V", "millivolts": "mV",
    "watt": "W", "watts": "W", "milliwatts": "mW", "newton": "N", "newtons": "N", "MM": "mm",
    "millimeter": "mm", "millimetre": "mm", "millimeters": "mm", "micron": "um", "microns": "um",
    "hz": "Hz", "HZ": "Hz", "kHZ": "kHz", "S": "s", "MS": "ms", "degrees": "deg", "celsius": "degC",
    "amps": "A", "ampere": "A", "meter": "m", "C": "degC", "°": "deg", "m/s/s": "m/s^2", "g0": "gn",
    "m/sec^2": "m/s^2", "m/sec2": "m/s^2", "meters/sec^2": "m/s^2",
}  # fmt: skip
_BRACKETS: Final = re.compile(r"(.*?)\s*[\[({<]\s*([^\[\](){}<>]*?)\s*[\])}>]\s*")
_SLASH: Final = re.compile(r"(.+?)\s*/\s*(\S+|\(.+\))")
_RATIO: Final = re.compile(r"(.*\S)[ _]((?:[munk]?m|cm|deg|rad)_(?:per_)?(?:s|min)(?:\^?2|²)?)")
_IN: Final = re.compile(r"(?i)(.*\S)\s+in")
_AFTER: Final = re.compile(r"(.*\S)[ _,]\s*(\S+)")
_ACCELERATION: Final = re.compile(r"(?i)acc|beschl|vib|^a_?[xyz]$|^g_?[xyz]$|^imu")
_TEMPERATURE: Final = re.compile(r"(?i)t$|temp")
_WEIGHT: Final = re.compile(r"(?i)weig|mass|gewicht|masse|load|scale|sample")
_COUNTER: Final = re.compile(
    r"(?i)(n|no|nr|#|index|idx|sample|samples|count|counter|row|line|point|point no|run|seq|"
    r"sensor|id|sensor[_ ]id|channel|device|axis|node)\.?"
)
TIME: Final = re.compile(
    r"(?i)(t|time|times|timestamp|time ?stamp|elapsed|zeit|datetime|date|clock|millis|micros|epoch|"
    r"unix ?time|t_?ms|t_?us|t_?s)([ _].*)?"
)


@dataclass(frozen=True)
class Head:
    """Name of a column, its unit (None if nobody told) and a factor into it; or moments."""

    name: str
    unit: str | None
    factor: float = 1.0
    moment: bool = False


def unit_of(text: str) -> str | None:
    """Spell a unit as the library does; None where it is none.

    >>> unit_of("seconds"), unit_of("m/s²"), unit_of("left")
    ('s', 'm/s²', None)
    """
    text = text.strip()
    if text.lower() in COUNTS:
        return "counts"
    if text in ("-", "1"):
        return "1"
    meant = _MEANT.get(text, _MEANT.get(text.lower(), text))
    try:
        return meant if meant and units.container(meant) else None
    except MathlibError:
        return None


def parted(head: str) -> tuple[str, str]:
    """Part a head into name and unit text, which is empty where there is none.

    >>> parted("x [mm]"), parted("t/ms"), parted("accel_x (g)"), parted("pos_mm"), parted("beam")
    (('x', 'mm'), ('t', 'ms'), ('accel_x', 'g'), ('pos', 'mm'), ('beam', ''))
    >>> parted("a in m/s²"), parted("speed_mm_s")
    (('a', 'm/s²'), ('speed', 'mm/s'))
    """
    head = head.strip().strip("\ufeff\u200b ")[:200]
    match = _BRACKETS.fullmatch(head)
    if match and match[1]:
        return match[1].strip(" ,_/"), match[2]
    match = _RATIO.fullmatch(head)
    if match:
        return match[1], re.sub("_(per_)?", "/", match[2])
    match = _AFTER.fullmatch(head)
    if match and "/" in match[2] and unit_of(match[2]) is not None:
        return _plain(match[1]), match[2]
    match = _SLASH.fullmatch(head)
    if match and unit_of(match[2].strip("()")) is not None:
        return match[1], match[2].strip("()")
    match = _AFTER.fullmatch(head)
    if match and len(match[2]) > 1 and unit_of(match[2]) is not None:
        return _plain(match[1]), match[2]
    if match and match[2] in ("s", "g", "V", "W", "N", "A", "C"):
        plain = _plain(match[1])
        fits = {
            "s": TIME.fullmatch(plain),
            "g": _ACCELERATION.search(plain),
            "C": _TEMPERATURE.match(plain),
        }
        if fits.get(match[2], "_" not in head):
            return plain, match[2]
    if head.lower() in ("millis", "micros"):
        return head, head
    return head, ""


def _plain(name: str) -> str:
    """Name without what leads over to its unit, as in "time in s"."""
    name = name.rstrip(" ,_")
    leads = _IN.fullmatch(name)
    return leads[1].rstrip(" ,_") if leads else name


def named(
    found: Findings, heads: tuple[str, ...], unit_row: tuple[str, ...], width: int
) -> list[Head]:
    """Names and units from the heads; doubled names are numbered."""
    if not heads:
        found.note("The columns have no heads; they are called column 1, column 2 and so on.")
        return [Head(f"column {n + 1}", None) for n in range(width)]
    made: list[Head] = []
    for number, head in enumerate(heads):
        name, told = parted(head)
        if unit_row and unit_row[number].strip("[]() "):
            told = unit_row[number].strip("[]() ")
        name = name or f"column {number + 1}"
        made.append(with_unit(found, name, told))
    return made


def with_unit(found: Findings, name: str, told: str) -> Head:
    """Make a head from a name and the unit that was told, if any."""
    if not told:
        if _COUNTER.fullmatch(name):
            return Head(name, "1")
        return Head(name, None)
    if told in ("g", "G", "mg", "mG"):
        if _ACCELERATION.search(name):
            found.note(f"{name}: {told} was read as standard gravity, 9.80665 m/s².")
            return Head(name, "gn", 1e-3 if told[0] == "m" else 1.0)
        if not _WEIGHT.search(name):
            return Head(name, f"?{told}")
    unit = unit_of(told)
    if unit is None:
        return Head(name, f"?{told}")
    return Head(name, unit)


def chosen(
    found: Findings,
    heads: list[Head],
    numeric: list[bool],
    told: Mapping[str, str] | None,
    scale: Mapping[str, str] | str | None,
    free: set[str],
) -> list[Head]:
    """Put the choices of units and scales over what the heads say; refuse what stays open.

    ``free`` are columns that need no unit, such as epoch times.
    """
    told = dict(told or {})
    names = [head.name for head in heads]
    stray = [name for name in told if name not in names]
    if isinstance(scale, Mapping):
        stray += [name for name in scale if name not in names]
    if stray:
        raise found.refuse(
            f"there is no column {shown(stray[0])}; there are {', '.join(map(repr, names))}."
        )
    made: list[Head] = []
    open_units: list[str] = []
    open_counts: list[str] = []
    open_gravity: list[str] = []
    for head, is_number in zip(heads, numeric, strict=True):
        rate = scale.get(head.name) if isinstance(scale, Mapping) else scale
        new = head
        if head.name in told:
            unit = told[head.name]
            try:
                units.container(unit)
            except MathlibError as fault:
                raise found.refuse(f"units of {head.name}: {fault}") from None
            new = Head(head.name, unit)
        elif head.unit == "counts" or (isinstance(scale, Mapping) and rate is not None):
            if rate is None:
                open_counts.append(head.name)
            else:
                per = _scale(found, head.name, rate)
                new = Head(head.name, units.spelled(per._units) or "1", per.magnitude)
                found.note(f"{head.name}: one count is {units.show(per)}.")
        elif is_number and head.name not in free:
            if head.unit is None:
                open_units.append(head.name)
            elif head.unit.startswith("?"):
                (open_gravity if head.unit[1:] in ("g", "G", "mg", "mG") else open_units).append(
                    head.name
                )
        made.append(new)
    _refuse_open(found, heads, open_units, open_counts, open_gravity)
    return made


def refuse_words(
    found: Findings, heads: list[Head], labels: list[dict[str, int]], free: set[str]
) -> None:
    """Refuse a column that has a unit and holds words: numbers that were written another way."""
    for head, known in zip(heads, labels, strict=True):
        unit = head.unit
        if known and unit not in (None, "1") and not unit.startswith("?") and head.name not in free:
            raise found.refuse(
                f"{head.name} is in {unit}, and holds what is no number, such as "
                f"{shown(next(iter(known)))}. Write numbers as 1234.5 or 1.5e-3, without unit or "
                "spaces in the cell; or pass names= with a name that has no unit, to keep words."
            )
        first = next(iter(known), "")
        if known and head.name not in free and first[:1].isdigit():
            found.note(f"{head.name} is kept as words, such as {shown(first)}; none is a number.")


def _scale(found: Findings, name: str, rate: str) -> Quantity:
    try:
        return typed.read(rate)
    except MathlibError as fault:
        raise found.refuse(f"scale of {name}: {fault}") from None


def _refuse_open(
    found: Findings,
    heads: list[Head],
    open_units: list[str],
    open_counts: list[str],
    open_gravity: list[str],
) -> None:
    sentences = []
    if open_counts:
        pairs = ", ".join(f'{name!r}: "0.0039 gn"' for name in open_counts).replace("'", '"')
        sentences.append(
            f"{', '.join(open_counts)} are counts of a device. Pass what one count is, such as "
            f"scale={{{pairs}}}."
        )
    if open_gravity:
        pairs = ", ".join(f'{name!r}: "gn"' for name in open_gravity).replace("'", '"')
        sentences.append(
            f"the g of {', '.join(open_gravity)} may be gravity or grams. Pass units={{{pairs}}} "
            'or "g".'
        )
    if open_units:
        guess = {h.name: "s" if TIME.fullmatch(h.name) else "mm" for h in heads}
        pairs = ", ".join(f'"{name}": "{guess[name]}"' for name in open_units)
        strange = [h for h in heads if h.name in open_units and h.unit]
        told = "".join(f" {h.name} says {shown(str(h.unit)[1:])}, which is none." for h in strange)
        sentences.append(
            f"{', '.join(open_units)} {'has' if len(open_units) == 1 else 'have'} no unit.{told} "
            f'Pass such as units={{{pairs}}}; "1" is a plain number.{found.above}'
        )
    if sentences:
        raise found.refuse(" ".join(sentences))


def container(head: Head) -> UnitsContainer:
    """Units of a column that has been settled."""
    return units.container(head.unit or "1")
