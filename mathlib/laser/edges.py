"""Light that takes time to rise and fall: blurred edges, late and short pulses, lost duty."""

from __future__ import annotations

from typing import Any

import numpy as np

from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.words import with_units

_FREQUENCY = ("frequency", "Hz", "of the modulation, whole periods")
_SPEED = ("speed", "mm/s", "of the spot over the work")
_STEADY = "speed and frequency are constant"
_LAG = (
    "light follows its signal as a first-order lag does, up and down alike; a driver that starts "
    "late or climbs at a fixed rate does not"
)

time_constant = Formula(
    title="Time constant of a first-order lag from its rise time",
    equation="tau = t_r / log(9)",
    where={
        "tau": ("time_constant", "us", "in which it covers 63 % of what is left"),
        "t_r": ("rise_time", "us", "from 10 % to 90 %"),
    },
    assumes=(_LAG,),
    source="Step response 1 - exp(-t / tau), solved for 10 % and 90 %",
    example=Example(
        {"rise_time": "100 us"}, "45.51196 us", 1e-6, "by hand: 100 / 2.1972246 = 45.511961"
    ),
)

edge_blur = Formula(
    title="Way of the spot while the light rises",
    equation="x = v * t_r",
    where={
        "x": ("blur", "mm", "over which an edge goes from 10 % to 90 %"),
        "v": _SPEED,
        "t_r": ("rise_time", "us", "from 10 % to 90 %"),
    },
    assumes=(_STEADY, "the spot is small; its own width blurs the edge as well"),
    source="Definition",
    example=Example(
        {"speed": "300 mm/s", "rise_time": "100 us"}, "0.03 mm", 1e-12, "by hand: 300 * 1e-4"
    ),
)

edge_shift = Formula(
    title="Way by which a slow edge starts late",
    equation="x = -v * tau * log(1 - q)",
    where={
        "x": ("edge_shift", "mm", "along the travel; on the way back it points the other way"),
        "v": _SPEED,
        "tau": ("time_constant", "us", "of the light"),
        "q": ("level", "1", "part of full power at which the material marks"),
    },
    holds=("q < 1; full power is never quite reached",),
    assumes=(_LAG, "the mark begins where the power passes the level"),
    source="Step response 1 - exp(-t / tau), solved for the level",
    example=Example(
        {"speed": "300 mm/s", "time_constant": "50 us", "level": 0.5},
        "0.01039721 mm",
        1e-6,
        "by hand: 300 * 5e-5 * log(2) = 0.015 * 0.6931472",
    ),
)

pulse_above_level = Formula(
    title="Time for which a short pulse stays above a level",
    equation="T_q = T + tau * log((1 - exp(-T / tau)) * (1 - q) / q)",
    where={
        "T_q": ("time_above", "us", "for which the light is above the level", "zero"),
        "T": ("pulse", "us", "for which the signal is on"),
        "tau": ("time_constant", "us", "of the light"),
        "q": ("level", "1", "part of full power at which the material marks"),
    },
    holds=(
        "q < 1; full power is never quite reached",
        "1 - exp(-T / tau) >= q; the pulse is over before the light reaches the level",
    ),
    assumes=(_LAG, "the light is off for long before the pulse"),
    source="Rise and decay of a first-order lag; the fall starts from 1 - exp(-T / tau)",
    example=Example(
        {"pulse": "100 us", "time_constant": "50 us", "level": 0.5},
        "92.729 us",
        1e-5,
        "by hand: 1 - exp(-2) = 0.8646647; its logarithm -0.1454134; 100 - 50 * 0.1454134",
        brackets={"level": ("0.01 1", "0.8 1"), "time_constant": ("1 us", "100 us")},
    ),
)

lowest_full_duty = Formula(
    title="Duty below which a pulse ends before full power",
    equation="D = f * t_f",
    where={
        "D": ("duty", "1", "from which on a pulse is full"),
        "f": _FREQUENCY,
        "t_f": ("full_rise_time", "us", "from nothing to full power"),
    },
    assumes=("the light climbs at a fixed rate",),
    source="Definition: the pulse lasts as long as the rise",
    example=Example(
        {"frequency": "20 kHz", "full_rise_time": "20 us"}, "0.4 1", 1e-12, "by hand: 2e4 * 2e-5"
    ),
)


@with_units(
    "Duty that arrives",
    returns="1",
    duty=("1", "zero"),
    frequency="Hz",
    full_rise_time=("us", "zero"),
)
def delivered_duty(*, duty: Any, frequency: Any, full_rise_time: Any) -> Any:
    """Average light over full power, from a driver that climbs and falls at a fixed rate.

    A pulse longer than the rise loses at its start what it gains at its end. A shorter one is a
    small triangle: half the duty is then a quarter of the light. A gap that is too short to get
    dark is the same from the other side. (A first-order lag keeps the average at any duty; what
    it loses is the peak.)

    Parameters
    ----------
    duty : number
        Part of each period for which the signal is on.
    frequency : frequency
        Of the modulation.
    full_rise_time : time
        From nothing to full power, and back.

    Returns
    -------
    Quantity
        A plain number, 0 to 1.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; a duty above 1.

    Examples
    --------
    >>> print(delivered_duty(duty=[0.1, 0.4], frequency="20 kHz", full_rise_time="20 us"))
    [0.025 0.4]

    """
    on = np.asarray(duty)
    if np.any(on > 1):
        raise ValueRefused("Duty that arrives: duty is a part of the period, from 0 to 1.")
    ramp = np.maximum(np.asarray(frequency) * np.asarray(full_rise_time), 1e-300)
    short = np.minimum(on, 1 - on)  # the pulse or the gap, whichever is shorter
    arrives = np.where(short < ramp, short**2 / ramp, short)
    return np.where(on <= 0.5, arrives, 1 - arrives)
