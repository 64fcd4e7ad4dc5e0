"""Light that is switched: pulses on the work, and what a setting makes of the power."""

from __future__ import annotations

from typing import Any

import numpy as np

from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.laser.dose import row_ripple, row_valley
from mathlib.words import with_units

_FREQUENCY = ("frequency", "Hz", "of the modulation, whole periods")
_SPEED = ("speed", "mm/s", "of the spot over the work")
_DUTY = ("duty", "1", "part of each period for which the light is on")
_STEADY = "speed and frequency are constant"
pulses_per_spot = Formula(
    title="Pulses that land while the spot passes",
    equation="n = f * d / v",
    where={
        "n": ("pulses", "1", "whose spots cover one point"),
        "f": _FREQUENCY,
        "d": ("diameter", "mm", "1/e² width of the spot along the travel"),
        "v": _SPEED,
    },
    assumes=(_STEADY,),
    source="Definition",
    example=Example(
        {"frequency": "1 kHz", "diameter": "0.1 mm", "speed": "20 mm/s"},
        "5 1",
        1e-12,
        "by hand: 1000 * 0.1 / 20",
    ),
)

pulse_overlap = Formula(
    title="Overlap of neighbouring pulses along a line",
    equation="o = 1 - v / (f * d)",
    where={
        "o": (
            "overlap",
            "1",
            "part of the spot that the next pulse covers; below 0 a gap",
            "signed",
        ),
        "v": _SPEED,
        "f": _FREQUENCY,
        "d": ("diameter", "mm", "1/e² width of the spot along the travel"),
    },
    assumes=(_STEADY, "each pulse is so short that the spot hardly moves while it lasts"),
    source="Definition: the way from pulse to pulse against the spot",
    example=Example(
        {"speed": "20 mm/s", "frequency": "1 kHz", "diameter": "0.1 mm"},
        "0.8 1",
        1e-12,
        "by hand: 1 - 20 / (1000 * 0.1) = 1 - 0.2",
    ),
)

periods_per_pixel = Formula(
    title="Periods of the modulation while the spot crosses a pixel",
    equation="n = f * p / v",
    where={
        "n": ("periods", "1", "for each pixel; only whole ones can be dropped"),
        "f": _FREQUENCY,
        "p": ("pixel", "mm", "along the travel"),
        "v": _SPEED,
    },
    assumes=(_STEADY,),
    source="Definition",
    example=Example(
        {"frequency": "5 kHz", "pixel": "0.1 mm", "speed": "100 mm/s"},
        "5 1",
        1e-12,
        "by hand: 5000 * 0.1 / 100",
    ),
)

average_power = Formula(
    title="Average power of light that is switched on and off",
    equation="P = D * P_f",
    where={
        "P": ("power", "W", "on average", "zero"),
        "D": (*_DUTY, "zero"),
        "P_f": ("full_power", "W", "while it is on"),
    },
    holds=("D <= 1; a duty is a part of the period",),
    assumes=(
        "the light is fully on and fully off: pulses are long against its rise time",
        "a gas tube near its least current does not follow in proportion",
    ),
    source="Definition",
    example=Example({"duty": 0.35, "full_power": "10 W"}, "3.5 W", 1e-12, "by hand: 0.35 * 10"),
)

dash_length = Formula(
    title="Way of the spot while the light is on",
    equation="L = D * v / f",
    where={
        "L": ("dash_length", "mm", "of the spot's middle; the mark is wider by the spot"),
        "D": _DUTY,
        "v": _SPEED,
        "f": _FREQUENCY,
    },
    holds=("D <= 1; a duty is a part of the period",),
    assumes=(_STEADY,),
    source="Definition",
    example=Example(
        {"duty": 0.5, "speed": "50 mm/s", "frequency": "20 Hz"},
        "1.25 mm",
        1e-12,
        "by hand: 0.5 * 50 / 20",
    ),
)


@with_units(
    "Dose along a line of pulses",
    returns="1",
    speed="mm/s",
    frequency="Hz",
    duty="1",
    diameter="mm",
)
def ripple_along(*, speed: Any, frequency: Any, duty: Any, diameter: Any) -> Any:
    """Unevenness along a line of pulses: peak to valley over the mean.

    The pulses of a constant full power, each drawn out by the way of the spot while the light is
    on. With very short pulses it is the ripple of a raster whose line spacing is the period.

    Parameters
    ----------
    speed, frequency : speed, frequency
        Of the spot, and of the modulation; arrays broadcast.
    duty : number
        Part of each period for which the light is on, up to 1.
    diameter : length
        1/e² width of the spot along the travel.

    Returns
    -------
    Quantity
        A plain number; 0 where the light is on all the time. At the period where it nears 1 over
        the duty, the gaps are dark and the line falls into dashes.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; a duty above 1.

    Examples
    --------
    >>> print(ripple_along(speed="50 mm/s", frequency="20 Hz", duty=0.5, diameter="0.1 mm"))
    2

    """
    if np.any(np.asarray(duty) > 1):
        raise ValueRefused("Dose along a line of pulses: duty is a part of the period, up to 1.")
    return row_ripple(np.asarray(speed) / np.asarray(frequency) / np.asarray(diameter), duty)


@with_units(
    "Dose between two pulses",
    returns="1",
    speed="mm/s",
    frequency="Hz",
    duty="1",
    diameter="mm",
)
def valley_along(*, speed: Any, frequency: Any, duty: Any, diameter: Any) -> Any:
    """Dose in the gap between two pulses, over the mean of the line.

    Times the mean peak dose of the line it is the dose in the gap: where that is below what the
    material needs to mark, the marks part and the line is dashed.

    Parameters
    ----------
    speed, frequency : speed, frequency
        Of the spot, and of the modulation; arrays broadcast.
    duty : number
        Part of each period for which the light is on, up to 1.
    diameter : length
        1/e² width of the spot along the travel.

    Returns
    -------
    Quantity
        A plain number: 1 on an even line, 0 in a dark gap.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; a duty above 1.

    Examples
    --------
    >>> print(valley_along(speed="100 mm/s", frequency="1 kHz", duty=0.5, diameter="0.1 mm"))
    0.6292

    """
    if np.any(np.asarray(duty) > 1):
        raise ValueRefused("Dose between two pulses: duty is a part of the period, up to 1.")
    return row_valley(np.asarray(speed) / np.asarray(frequency) / np.asarray(diameter), duty)


light_of_current = Formula(
    title="Light of a diode whose current is set",
    equation="q = (i - i_t) / (1 - i_t)",
    where={
        "q": ("light_share", "1", "of full light", "zero"),
        "i": ("setting", "1", "current over full current"),
        "i_t": ("threshold_share", "1", "current at which light begins, over the full one", "zero"),
    },
    holds=(
        "i >= i_t; below its threshold a diode gives no beam",
        "i <= 1; full current is the most",
    ),
    assumes=(
        "light grows in proportion above the threshold; a hot diode gives less",
        "the current is set, and not its duty: with duty the light follows the setting itself",
    ),
    source="Straight line of light against current above the threshold",
    example=Example(
        {"setting": 0.5, "threshold_share": 0.1},
        "0.4444444 1",
        1e-6,
        "by hand: 0.4 / 0.9",
    ),
)

two_dimmers = Formula(
    title="Light behind two controls in series",
    equation="q = q_1 * q_2",
    where={
        "q": ("light_share", "1", "of full light", "zero"),
        "q_1": ("first_share", "1", "that the first control lets through", "zero"),
        "q_2": ("second_share", "1", "that the second control lets through", "zero"),
    },
    assumes=("each control acts in proportion on what it gets",),
    source="Definition: both multiply",
    example=Example(
        {"first_share": 0.5, "second_share": 0.6}, "0.3 1", 1e-12, "by hand: 0.5 * 0.6"
    ),
)
