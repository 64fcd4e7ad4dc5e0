"""How people spell units, and the name of each in the registry; text only, nothing is evaluated."""

from __future__ import annotations

import difflib
import re
from typing import Final

from mathlib.errors import TextRefused

_PREFIXES: Final = {"": "", "k": "kilo", "m": "milli", "u": "micro", "n": "nano"}
_PREFIXED: Final = {
    "m": "meter", "s": "second", "N": "newton", "W": "watt", "J": "joule", "V": "volt",
    "A": "ampere", "H": "henry", "ohm": "ohm", "Hz": "hertz", "Pa": "pascal", "rad": "radian",
}  # fmt: skip
_PLAIN: Final = {
    "cm": "centimeter", "dm": "decimeter", "kg": "kilogram", "g": "gram", "mg": "milligram",
    "ug": "microgram", "in": "inch", "inch": "inch", "inches": "inch", "ft": "foot", "mil": "thou",
    "ps": "picosecond", "fs": "femtosecond", "min": "minute", "h": "hour", "hour": "hour",
    "d": "day", "day": "day", "deg": "degree", "°": "degree", "arcmin": "arcminute",
    "arcsec": "arcsecond", "turn": "turn", "rev": "turn", "rpm": "revolutions_per_minute",
    "step": "step", "steps": "step", "step/turn": "step", "MHz": "megahertz", "GHz": "gigahertz",
    "MPa": "megapascal", "GPa": "gigapascal", "bar": "bar", "mbar": "millibar", "psi": "psi",
    "hPa": "hectopascal", "MW": "megawatt", "GW": "gigawatt", "TW": "terawatt",
    "pJ": "picojoule", "MJ": "megajoule", "MN": "meganewton", "lbf": "force_pound",
    "ozf": "force_ounce", "kgf": "kilogram_force", "gf": "gram_force", "lb": "pound",
    "cN": "centinewton", "daN": "decanewton", "ksi": "ksi", "hp": "horsepower", "thou": "thou",
    "MΩ": "megaohm", "uΩ": "microohm", "nΩ": "nanoohm",
    "oz": "ounce", "F": "farad", "mF": "millifarad", "uF": "microfarad", "nF": "nanofarad",
    "pF": "picofarad", "Ω": "ohm", "mΩ": "milliohm", "kΩ": "kiloohm", "Mohm": "megaohm",
    "Wh": "watt_hour", "kWh": "kilowatt_hour", "L": "liter", "l": "liter", "mL": "milliliter",
    "ml": "milliliter", "K": "kelvin", "mK": "millikelvin", "degC": "degree_Celsius",
    "°C": "degree_Celsius", "degF": "degree_Fahrenheit", "°F": "degree_Fahrenheit",
    "delta_degC": "delta_degree_Celsius", "delta_degF": "delta_degree_Fahrenheit",
    "%": "percent", "ppm": "ppm", "dB": "decibel", "mol": "mole", "T": "tesla", "mT": "millitesla",
    "inAq": "inch_of_water", "mmAq": "millimeter_of_water", "dioptre": "diopter",
    "sr": "steradian", "gn": "standard_gravity",
}  # fmt: skip
GLUED: Final[dict[str, str]] = {
    "Nm": "N*m", "Ncm": "N*cm", "Nmm": "N*mm", "mNm": "mN*m", "uNm": "uN*m", "kNm": "kN*m",
    "As": "A*s", "Ah": "A*h", "Vs": "V*s", "Ws": "W*s", "sccm": "cm^3/min", "lpm": "L/min",
}  # fmt: skip

#: Every spelling of a unit that a text may use, and its name in the registry.
SPELLINGS: Final[dict[str, str]] = {
    prefix + short: _PREFIXES[prefix] + name
    for prefix in _PREFIXES
    for short, name in _PREFIXED.items()
} | _PLAIN
del SPELLINGS["dB"], SPELLINGS["step/turn"]

SUPERSCRIPTS: Final = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")
ODD: Final = str.maketrans({"µ": "u", "μ": "u", "·": "*", "⋅": "*", "×": "*", "−": "-", "Ω": "Ω"})
_FACTOR: Final = re.compile(r"\s*([^\W\d_][^\W\d]*|°[CF]?|%)\s*(?:(?:\^|\*\*)?\s*(-?\d))?(?!\d)\s*")
_LONGEST: Final = 40


def _product(text: str, whole: str) -> dict[str, int]:
    """Powers by registry name of one product such as ``N*m`` or ``kg/m^3``."""
    powers: dict[str, int] = {}
    rest, sign, divided = text.strip(), 1, False
    if rest.startswith("1") and rest[1:].lstrip().startswith("/"):
        rest, sign, divided = rest[1:].lstrip()[1:], -1, True
    while True:
        rest = rest.lstrip()
        if rest.startswith("(") and ")" in rest:
            inner, rest = rest[1:].split(")", 1)
            found = _product(inner, whole)
        else:
            match = _FACTOR.match(rest)
            if match is None:
                raise TextRefused(_unit_unknown(whole, rest))
            name, power = match.group(1), int(match.group(2) or 1)
            found = {k: v * power for k, v in _one(name, whole).items()}
            rest = rest[match.end() :]
        for name, power in found.items():
            powers[name] = powers.get(name, 0) + sign * power
        rest = rest.lstrip()
        if not rest:
            return powers
        if rest[0] == "/":
            rest, sign, divided = rest[1:], -1, True
        elif divided:
            raise TextRefused(
                f"{whole!r} can be read in two ways: put what stands under the bar in "
                'parentheses, such as "W/(m*K)".'
            )
        else:
            rest = rest.removeprefix("*")


def _one(name: str, whole: str) -> dict[str, int]:
    if name in GLUED:
        return _product(GLUED[name], whole)
    if name not in SPELLINGS:
        raise TextRefused(_unit_unknown(whole, name))
    return {SPELLINGS[name]: 1}


def _unit_unknown(whole: str, part: str) -> str:
    part = part.strip()[:20] or whole
    close = difflib.get_close_matches(part, [*SPELLINGS, *GLUED], n=3, cutoff=0.5)
    hint = f" Did you mean {' or '.join(map(repr, close))}?" if close else ' Write such as "mm/s".'
    return f"there is no unit {part!r}" + (f" (in {whole!r})" if part != whole else "") + "." + hint


def powers_of(text: str) -> dict[str, int]:
    """Read a unit such as ``N*m`` or ``kg/m^3`` into powers by registry name.

    >>> powers_of("kg/m^3")
    {'kilogram': 1, 'meter': -3}

    Raises
    ------
    TextRefused
        The text is not a product of spellings from ``SPELLINGS``.

    """
    if not isinstance(text, str):
        raise TextRefused(f'a unit is a text such as "mm"; got {text!r}.')
    plain = text.strip().translate(ODD).translate(SUPERSCRIPTS).replace("H2O", "Aq")
    if len(plain) > _LONGEST:
        raise TextRefused(f"a unit has at most {_LONGEST} characters; got {len(plain)}.")
    return {} if plain in ("1", "") else _product(plain, plain)
