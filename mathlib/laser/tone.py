"""Tones: what a pixel can carry, what a patch of dots reflects, and how lines are spaced."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib import typed, units, words
from mathlib.errors import MathlibError, UnitError, ValueRefused
from mathlib.formula import Example, Formula
from mathlib.units import QUANTITY, Quantity
from mathlib.words import Word, with_units

_PER_LENGTH: Final = {"dpi": "1/in", "lpi": "1/in", "lines/mm": "1/mm"}
_LENGTH: Final = {"mil": "thou", "mm": "mm"}
_REFLECTANCE = "1"

cell_tones = Formula(
    title="Tones of a cell of dots that are on or off",
    equation="N = n**2 + 1",
    where={
        "N": ("tones", "1", "blank included"),
        "n": ("cell_side", "1", "dots along one side of the cell"),
    },
    assumes=("every dot adds the same; it does not where dots grow into each other",),
    source="Counting: none to all of n² dots",
    example=Example({"cell_side": 8}, "65 1", 1e-12, "by hand: 64 + 1"),
)

dot_area = Formula(
    title="Area of dots from reflectance, after Murray and Davies",
    equation="a = (R_b**(1 / n) - R**(1 / n)) / (R_b**(1 / n) - R_s**(1 / n))",
    where={
        "a": ("coverage", "1", "part of the area that is marked", "zero"),
        "R_b": ("blank_reflectance", _REFLECTANCE, "of the bare material"),
        "R": ("reflectance", _REFLECTANCE, "of the patch"),
        "R_s": ("solid_reflectance", _REFLECTANCE, "of a patch that is marked all over"),
        "n": (
            "spread_factor",
            "1",
            "1 for plain areas; up to 2 where light spreads below the surface",
            "positive",
            "1 1",
            "Murray and Davies 1936; the factor after Yule and Nielsen 1951",
        ),
    },
    holds=(
        "R <= R_b; a patch lighter than the bare material has no dots",
        "R > R_s * (1 - 1e-9); a patch darker than the solid one has more than dots",
        "R_s < R_b; the solid patch is the darker one",
    ),
    assumes=("all marks are equally dark, and the bare material between them is untouched",),
    source="Murray and Davies 1936; Yule and Nielsen 1951",
    example=Example(
        {"blank_reflectance": 0.8, "reflectance": 0.4, "solid_reflectance": 0.05},
        "0.533333 1",
        1e-6,
        "by hand: 0.40 / 0.75",
        brackets={
            "blank_reflectance": ("0.5 1", "0.95 1"),
            "reflectance": ("0.1 1", "0.7 1"),
            "solid_reflectance": ("0.01 1", "0.3 1"),
            "spread_factor": ("0.5 1", "3 1"),
        },
    ),
)

lone_pixel_area = Formula(
    title="Area that a lone lit pixel burns",
    equation="A = W * p + pi * W**2 / 4",
    where={
        "A": ("area", "mm^2", "a stadium: the way of the spot, with half a disc at each end"),
        "W": ("mark_width", "mm", "that a line marks"),
        "p": ("pixel", "mm", "along the travel, for which the light is on"),
    },
    assumes=(
        "the mark is as wide at its ends as in its middle; a short one is fainter there",
        "the light is on for the whole pixel",
    ),
    source="Area that a disc sweeps",
    example=Example(
        {"mark_width": "0.08 mm", "pixel": "0.1 mm"},
        "0.01302655 mm^2",
        1e-6,
        "by hand: 0.008 + 3.1415927 * 0.0064 / 4 = 0.008 + 0.0050265",
    ),
)

colour_difference = Formula(
    title="Difference of two colours",
    equation="dE = sqrt(dL**2 + da**2 + db**2)",
    where={
        "dE": ("colour_difference", "1", "2 is just seen side by side, above 12 another colour"),
        "dL": ("lightness_change", "1", "of L*, 0 black to 100 white", "signed"),
        "da": ("redness_change", "1", "of a*, green to red", "signed"),
        "db": ("yellowness_change", "1", "of b*, blue to yellow", "signed"),
    },
    assumes=("both patches are seen under the same light",),
    source="CIE 1976 L*a*b* (ISO/CIE 11664-4)",
    example=Example(
        {"lightness_change": 3, "redness_change": 4, "yellowness_change": 12},
        "13 1",
        1e-12,
        "by hand: 9 + 16 + 144 = 169",
        brackets={
            "lightness_change": ("0 1", "100 1"),
            "redness_change": ("0 1", "100 1"),
            "yellowness_change": ("0 1", "100 1"),
        },
    ),
)

whole_step_spacing = Formula(
    title="Line spacing of a whole number of steps",
    equation="s = n / S",
    where={
        "s": ("line_spacing", "mm", "from one line to the next"),
        "n": ("steps_between_lines", "step", "a whole number"),
        "S": ("steps_per_length", "step/mm", "of the axis that moves from line to line"),
    },
    assumes=("each step of the axis is as long as the next; microsteps are so only roughly",),
    source="Definition",
    example=Example(
        {"steps_between_lines": 7, "steps_per_length": "80 step/mm"},
        "0.0875 mm",
        1e-12,
        "by hand: 7 / 80",
    ),
)


@with_units("Grey levels of a pixel", returns="1", pixel="mm", speed="mm/s", frequency="Hz")
def grey_levels(*, pixel: Any, speed: Any, frequency: Any) -> Any:
    """Grey levels of a pixel if only whole periods of the modulation can be dropped.

    N whole periods fit while the spot crosses the pixel: none to N of them make N + 1 levels.
    Where the power itself is set for each pixel, this limit does not apply.

    Parameters
    ----------
    pixel : length, any shape
        Along the travel.
    speed, frequency : speed, frequency
        Of the spot and of the modulation; broadcast.

    Returns
    -------
    Quantity
        A whole number; 1 where not even one period fits, so that no tone is sure.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(grey_levels(pixel="0.1 mm", speed="100 mm/s", frequency="5 kHz"))
    6

    """
    # 5000 Hz * 0.1 mm / 100 mm/s is 5 but for the last digit: 1e-9 of a period is none.
    return np.floor(np.asarray(frequency) * pixel / speed * (1 + 1e-9)) + 1


def line_spacing_from(*, value: Any, kind: str) -> Quantity:
    """Line spacing from what a setting, a data sheet or a picture states.

    Parameters
    ----------
    value : number, text, quantity or array
        A bare number, or one with a unit of that kind.
    kind : str
        "dpi", "lpi", "lines/mm", "mil" or "mm". The dots of a picture file are lines on the work
        only where each of its rows is burnt as one line.

    Returns
    -------
    Quantity
        mm.

    Raises
    ------
    UnitError, ValueRefused
        An unknown kind, or a value with a unit of another kind.

    Examples
    --------
    >>> print(line_spacing_from(value=254, kind="dpi"))
    0.1 mm
    >>> print(line_spacing_from(value="4 mil", kind="mil"))
    0.1016 mm

    """
    who = "Line spacing"
    if kind not in _PER_LENGTH and kind not in _LENGTH:
        told = ", ".join(map(repr, (*_PER_LENGTH, *_LENGTH)))
        raise ValueRefused(f"{who}: kind is one of {told}; got {kind!r}.")
    unit = (_PER_LENGTH | _LENGTH)[kind]
    try:
        base = words.base_value(Word("value", unit), _with_unit(value, unit))
    except MathlibError as fault:
        raise type(fault)(f"{who} from {kind}: {fault}") from None
    found = 1 / np.asarray(base) if kind in _PER_LENGTH else base
    made: Quantity = words.result(found, units.container("mm"))
    return made


def _with_unit(value: Any, unit: str) -> Any:
    """Give a bare number, as a text or a quantity too, the unit of its kind."""
    if isinstance(value, str):
        try:
            value = typed.number(value)
        except MathlibError:
            # "254 dpi" and "10 lines/mm" are words for 1/in and 1/mm
            value = typed.as_typed(value, unit)
    bare = value.magnitude if isinstance(value, QUANTITY) and value.unitless else value
    if isinstance(bare, QUANTITY):
        return bare
    numbers = np.asarray(bare)
    if numbers.dtype.kind not in "iuf":
        raise UnitError(f"value is a number, or one with a unit such as {unit}; got {value!r}.")
    return units.quantity(numbers.astype(float)[()], units.container(unit))
