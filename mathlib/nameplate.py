"""The language of nameplates: from a printed text to its numbers and to all their meanings.

Characters are tidied, numbers read, and words looked up. Where a number or a word has several
meanings all of them are kept: ``typed`` decides by the unit that is wanted.
"""

from __future__ import annotations

import itertools
import math
import re
import unicodedata
from contextlib import suppress
from functools import lru_cache
from typing import Any, Final, NamedTuple

from mathlib import units
from mathlib.errors import TextRefused
from mathlib.spellings import SPELLINGS
from mathlib.units import UnitsContainer

_MOST_FACTORS: Final = 20
RAISED: Final = str.maketrans("⁺⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "+-0123456789")


def checked(unit: UnitsContainer) -> UnitsContainer:
    """Refuse powers whose conversion would overflow."""
    powers: list[Any] = list(unit.values())
    if sum(map(abs, powers)) > _MOST_FACTORS:
        raise TextRefused('the unit has too many factors: write such as "W/(m*K)".')
    return unit


def finite(digits: str, power: str) -> float:
    """Make a finite number; one that is not nought does not become nought."""
    value = float(f"{digits}e{power}")
    if not math.isfinite(value) or (value == 0 and re.search("[1-9]", digits)):
        size = "large" if value else "small"
        raise TextRefused(f"the number is too {size} to be handled: write it in another unit.")
    return value


# Tidy the characters

_SIGNS: Final = str.maketrans(
    dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2015\u2212", "-")
    | dict.fromkeys("\u00b7\u22c5\u2219\u2022\u2027\u00d7\u2715", "*")
    | dict.fromkeys("\u2044\u2215", "/")
    | dict.fromkeys("\u02b9\u2018\u2019\u2032\u00b4`", "'")
    | dict.fromkeys("\u02ba\u201c\u201d\u201e\u2033", '"')
    | dict.fromkeys("\u00ba\u02da", "°")
    | dict.fromkeys("\u200b\u2060\ufeff\u00ad", "")
    | {"\u00b5": "u", "\u03bc": "u", "\u223c": "~"}
)
_CHATTER: Final = (
    "about|approx(?:imately)?|ca|circa|roughly|around|nom(?:inal)?|typ(?:ical)?|max(?:imum)?|up to|"
    "rated|each|wire|optical(?: power)?|dc|ac|rms|(?:holding )?torque|thrust|tension|force|"
    "dia(?:meter)?|pitch|wide|thick|long|hung on (?:a|the) belt"
)
#: Patterns and what they become, in this order; what becomes ";" is dropped as chatter.
_PHRASES: Final = tuple(
    (re.compile(pattern, re.IGNORECASE), new)
    for pattern, new in (
        (r"''", '"'),
        (r"\s+", " "),
        (r"(micro|full)[ -]step", r"\1step"),
        (r"(?<![a-z])(kg|g|lbs?|oz|pounds?|ounces?|kilograms?|grams?)[ -]force", r"\1f"),
        (r"(?:°|(?<![a-z_])deg(?:rees?|s|\.)?) ?([cf])(?:elsius|ahrenheit)?(?![a-z])", r"°\1"),
        (r"(?<![a-z])sq(?:uare)?\.? ?([a-z]+)", r"\1^2"),
        (r" ?(?<![a-z])(?:per|por|pro)(?![a-z]) ?", "/"),
        (r" ?(?<![a-z])(?:lines|dots|pixels|threads) ?/", " 1/"),
        (r"/ ?(?:phase|ph|winding|coil)(?![a-z])\.?|[ø⌀⎓]|^ ?min(?:imum)?\.? ?(?=\d)", ";"),
        (rf"(?<![a-z])(?:{_CHATTER})(?![a-z])\.?", ";"),
    )
)


def tidy(text: str) -> str:
    """Bring a text to few characters, and chatter to semicolons.

    >>> tidy("about 54\u00a0g·cm²")
    '; 54 g*cm^2'
    """
    text = re.sub("[¼-¾⅐-⅞]", lambda m: " " + unicodedata.normalize("NFKC", m[0]), text)
    text = re.sub("[⁺⁻⁰¹²³⁴-⁹]+", lambda m: "^" + m[0].translate(RAISED), text)
    text = unicodedata.normalize("NFKC", text.translate(_SIGNS)).translate(_SIGNS)
    for pattern, new in _PHRASES:
        text = pattern.sub(new, text)
    return text.strip()


# Read the numbers


class Reading(NamedTuple):
    """One meaning of a number and its unit; ``half`` a unit of the last digit may be rounded."""

    value: float
    half: float
    label: str  # what to type to mean this
    units: UnitsContainer = UnitsContainer()


_MIXED: Final = re.compile(r"(?:([0-9]{1,6})(?: ?- ?| ))?([0-9]{1,3})/([0-9]{1,4})(?![\d.,/])")
_INCHES: Final = re.compile(r"[ -]?(?:\"|'|in|ft|lb|oz|deg|°|turn|rev)", re.IGNORECASE)
_DIGITS: Final = re.compile(
    r"[0-9]+(?:(?: (?=\d{3}(?!\d))|[.,](?=\d)|'(?=\d{3}(?:'\d{3})*(?![\d\"'])))[0-9]+)*|[.,][0-9]+"
)
_POWER: Final = re.compile(r"[eE]([+-]?[0-9]+)| ?[*xX] ?10(?:\^ ?([+-]?[0-9]+)|([+-][0-9]+))")


def _number(text: str, at: int) -> tuple[list[Reading], int]:
    """Read the number at a place: all its meanings, and where it ends."""
    minus = "-" * text.startswith("-", at)
    start = at + len(text[at:]) - len(text[at:].removeprefix(minus or "+").lstrip(" "))
    match = _MIXED.match(text, start)
    if match:
        whole, over, under = (int(group or 0) for group in match.groups())
        # 12/24 V are two values; a fraction that somebody means is proper and in lowest terms.
        inches, alone = _INCHES.match(text, match.end()), match[1] is None
        meant = inches or not alone or over == 1 or under == 4
        proper = over < under or (inches and alone and under > 1)
        if meant and proper and math.gcd(over, under) == 1:
            label = f"{minus}{whole + over / under:.10g}"
            return [Reading(float(label), 0.0, label)], match.end()
    match = _DIGITS.match(text, start)
    if match is None:
        raise TextRefused(
            f"do not understand {text[at : at + 20]!r}: leave out what is neither number nor unit, "
            'and write such as "9 mm".'
        )
    power = _POWER.match(text, match.end())
    raised = (power[1] or power[2] or power[3])[:9] if power else "0"
    readings = []
    for digits in _meanings(match[0]):
        half = float(f"5e{int(raised) - len(digits.partition('.')[2]) - 1}")
        label = minus + digits + (f"e{int(raised)}" if power else "")
        readings.append(Reading(finite(minus + digits, raised), half, label))
    return readings, (power or match).end()


def _meanings(digits: str) -> list[str]:
    """Give all meanings of the commas, points, spaces and apostrophes in a number.

    >>> _meanings("1.234,5"), _meanings("1,234")
    (['1234.5'], ['1.234', '1234'])
    """
    *before, last = re.split("[ .,']", digits)
    marks = re.findall("[ .,']", digits)
    thousands = re.fullmatch("[1-9][0-9]{0,2}(,[0-9]{3})*", ",".join(before))
    thousands = thousands if len(set(marks[:-1])) < 2 else None
    found = [] if marks else [digits]
    if marks and marks[-1] in ".," and (len(marks) == 1 or (thousands and marks[-1] != marks[0])):
        found.append("".join(before or "0") + "." + last)
    if thousands and marks[-1] == marks[0] and marks != ["."] and len(last) == 3:
        found.append("".join(before) + last)
    if not found:
        raise TextRefused(f'{digits!r} is not one number: write such as "1234.5 mm".')
    return found


# Look the words up

#: What units are called besides their strict spelling; "|" parts the meanings of one word.
_SAID: Final = {
    "m": "metro metros", "um": "micron microns", "thou": "mil mils thous", "ft": "feet",
    "in|arcsec": '"', "in": "zoll pulgada pulgadas", "ft|arcmin": "'", "deg": "degs",
    "s": "sec secs sek seg segundo segundos", "ms": "msec", "us": "usec", "h": "hr hrs hours",
    "min": "mins minuto minutos minuten", "turn": "revs revolution revolutions r tr U",
    "kg|kgf": "kg kgs kilo kilos kilogram kilograms", "g|gf|gn": "g gm gms gram grams",
    "lb|lbf": "lb lbs pound pounds", "oz|ozf": "oz ounce ounces", "lb": "lbm",
    "kgf": "kp kilogramf kilogramsf", "gf": "gramf gramsf", "lbf": "poundf poundsf lbsf",
    "ozf": "ouncef ouncesf", "V": "VDC VAC Vrms", "A": "amp amps ADC Arms", "V*A": "VA",
    "mA": "milliamp milliamps", "mohm": "mOhm", "Mohm": "MOhm", "degC": "C celsius",
    "F|degF": "F", "degF": "fahrenheit", "mK|m*K": "mK", "kg*K": "kgK", "g*K": "gK",
    "ksi": "kpsi", "cm^3": "cc", "ft^3/min": "cfm",
    "L/min": "lpm", "in/min": "ipm", "in/s": "ips", "ft/min": "fpm sfm", "turn/s": "rps",
    "step/s": "pps sps", "step": "pulse pulses fullstep fullsteps", "1/in": "dpi lpi ppi tpi",
    "1": "tooth teeth microstep microsteps microstepping", "T|1": "T",
}  # fmt: skip
_FORCES: Final = "kg kgs g kgf kp gf lb lbs lbf oz ozf N mN uN kN cN daN"
#: Units that stand for others in the trade: r/min is written min^-1, a motor has 200 steps/rev.
_TRADE: Final = {"1/min": "rpm", "step/turn": "step", "1/turn": "step", "deg/step": "deg"}
#: 2 ft 6 in is a sum; other values side by side are not.
SUMS: Final = {
    "ft in": 12, "lb oz": 16, "lbf ozf": 16, "h min": 60, "min s": 60, "deg arcmin": 60,
    "arcmin arcsec": 60,
}  # fmt: skip


@lru_cache(maxsize=1)
def trade() -> dict[UnitsContainer, UnitsContainer]:
    """Units that stand for others, by units."""
    return {units.container(said): units.container(meant) for said, meant in _TRADE.items()}


@lru_cache(maxsize=1)
def dictionary() -> tuple[dict[str, tuple[str, ...]], dict[str, tuple[str, ...]]]:
    """Give the meanings of each word as it is written, and of its lower-case form."""
    words = {word: tuple(u.split("|")) for u, said in _SAID.items() for word in said.split()}
    for short, name in SPELLINGS.items():
        words.setdefault(short, (short,))
        for long in {name, name.replace("meter", "metre"), short if "ohm" in short else name}:
            words |= {w: words[short] for w in (long, long + "s") if w not in words}
    pairs = [*itertools.product(_FORCES.split(), ("m", "cm", "mm", "in", "ft"))]
    pairs += itertools.product(("in", "ft"), ("lb", "lbs", "lbf", "oz", "ozf"))
    for a, b in pairs:
        words.setdefault(a + b, tuple(f"{x}*{y}" for x in words[a] for y in words[b]))
    folded: dict[str, tuple[str, ...]] = {}
    for word, meanings in words.items():
        low = word.casefold()
        folded[low] = tuple(dict.fromkeys(folded.get(low, ()) + meanings))
    return words, folded


@lru_cache(maxsize=1024)
def _word(word: str) -> tuple[str, ...]:
    """Give the strict meanings of one word; none when it is unknown.

    A slip of capitals is forgiven, but milli and mega are never guessed from one another.

    >>> _word("Kg"), _word("mw")
    (('kg', 'kgf'), ('mW', 'MW'))
    """
    words, folded = dictionary()
    if word in words:
        return words[word]
    low = folded.get(word.casefold(), ())
    with suppress(TextRefused):
        units.container(word)
        return (word,)
    milli = [m for m in low if m[0] == "m" and m not in ("m", "min")]
    if milli and word[0] == "M" != word[1:] and "M" not in {m[0] for m in low}:
        raise TextRefused(f"{word!r} can be mega or milli: write {milli[0]!r}, if that is meant.")
    return low


_TOKEN: Final = re.compile(r"delta_deg[CF]|°[CFcf]?(?![a-z])|%|\"|'|[^\W\d_]+")
_FIRST: Final = re.compile(r"\.? ?(?:1 ?)?/ ?\(?(?=[^\W\d_])|-(?=[^\W\d_])|\.? ?[(\[]?")
_JOIN: Final = re.compile(r"\.? ?[*/] ?\(?|(?:\.? ?- ?|\. ?| )(?=[^\W\d_])")
_DOT: Final = re.compile(r"\.(?![.\d])")
#: A power needs its ^ after volts, amperes and watts: 5V4A are two values, and so are 2mm-4mm.
_RAISE: Final = re.compile(
    r" ?(?:\^|\*\*) ?(-?[1-9])(?![\d.,])|"
    r"(?<![VAWvaw])([1-4](?![\d.,/])|-[1-4](?![\d.,/]| ?[^\W\d_]))"
)


def _unit(text: str, at: int) -> tuple[list[UnitsContainer], int]:
    """Read the unit at a place: its meanings, none when there is none, and where it ends."""
    found, end, sign, join = [UnitsContainer()], at, 1, _FIRST.match(text, at)
    while join and (token := _TOKEN.match(text, join.end())) and (means := _word(token[0])):
        # W/m K is W/(m*K) on every data sheet; where it is not, the wanted unit does not fit.
        sign = -1 if "/" in join[0] else sign
        power = _RAISE.match(text, token.end())
        raised = int(power[1] or power[2]) if power else 1
        end = power.end() if power else token.end()
        parts = [meaning.rpartition("*") for meaning in means]
        factors = [units.container(a) * units.container(b) ** raised for a, _, b in parts]
        found = [checked(whole * factor**sign) for whole in found for factor in factors][:64]
        end += text.startswith(")", end) and "(" in text[at:end]
        join = _JOIN.match(text, end)
        end = _skip(_DOT, text, end)
    return found if end > at else [], end


_GAUGE: Final = re.compile(
    r"awg ?#? ?([1-4]/0|[0-9]{1,2})(?![\w./,])|"
    r"#? ?([1-4]/0|[0-9]{1,2}) ?(?:awg|ga|gauge|gage)(?![a-z])\.?",
    re.IGNORECASE,
)
_PARTING: Final = re.compile(
    r" ?(?:(?:[-+~]|\.{2,3}|to(?![a-z])|bis(?![a-z]))(?= ?[+-]?[\d.,]) ?|"
    r"(?:(?:x(?= ?\d)|(?:or|oder|at)(?![a-z])|[*/~≈=@:;,()\[\]]) ?)*)",
    re.IGNORECASE,
)
_TOLERANCE: Final = re.compile(
    r"[ (,;\[]*(?:(?:±|\+ ?/? ?-) ?[0-9][0-9.,]*|\+ ?[0-9][0-9.,]* ?/? ?- ?[0-9][0-9.,]*)(?: ?%)?"
)


class Part(NamedTuple):
    """One value of a text: what parts it from the one before, its unit as written, meanings."""

    parting: str
    unit: str
    readings: list[Reading]


def parts_of(text: str) -> list[Part]:
    """Read one value after another until the text is used up."""
    parts: list[Part] = []
    parting, at = "", len(text) - len(text.lstrip(" :;([~≈"))
    while at < len(text):
        begin = at
        if gauge := _GAUGE.match(text, at):
            unit, readings, at = "AWG", _wire(gauge[1] or gauge[2]), gauge.end()
        else:
            numbers, at = _number(text, at)
            start = at = _skip(_TOLERANCE, text, at)
            means, at = _unit(text, at)
            unit, fraction = text[start:at].strip(), "/" in text[begin:start]
            if fraction and re.match("(?:micro|full)?step", unit, re.IGNORECASE):
                n = numbers[0].value
                raise TextRefused(f'write "{1 / n:.10g}" for a count, or "{n:.10g}" for a size.')
            readings = [n._replace(units=u) for u in means or [UnitsContainer()] for n in numbers]
        parts.append(Part(parting, unit, readings))
        after = _skip(_TOLERANCE, text, at)
        at = _unit(text, after)[1] if after > at else at
        parting, at = text[at : (after := _skip(_PARTING, text, at))].strip(), after
    if not parts or not re.fullmatch(r"[ :;,()\[\]]*", parting):
        raise TextRefused('a number with a unit is needed: write such as "9 mm".')
    return parts


def _wire(gauge: str) -> list[Reading]:
    """Give the diameter and the area of a wire by its gauge, ASTM B258; 1/0 is 0, 2/0 is -1."""
    n = 1 - int(gauge[0]) if "/" in gauge else int(gauge)
    diameter = 0.127 * 92 ** ((36 - n) / 39)
    area = math.pi / 4 * diameter**2
    mm, mm2 = units.container("mm"), units.container("mm^2")
    return [Reading(diameter, 0.0, gauge, mm), Reading(area, 0.0, gauge, mm2)]


def _skip(pattern: re.Pattern[str], text: str, at: int) -> int:
    match = pattern.match(text, at)
    return match.end() if match else at
