"""A home calorimeter: a blackened copper block that a beam warms, and that cools again."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.units import Quantity
from mathlib.words import Word

_LEAST: Final = 8  # readings; four numbers are fitted
_TAKES: Final = (
    Word("time", "s", "of each reading", "signed"),
    Word("temperature", "K", "of the block"),
    Word("mass", "g", "of the block"),
    Word("specific_heat", "J/(kg*K)", "of the block"),
    Word("beam_on", "s", "at which the beam began", "signed"),
    Word("beam_off", "s", "at which it ended", "signed"),
    Word("absorptance", "1", "of the black coat at this wavelength"),
    Word("absorptance_std", "1", "its standard uncertainty", "zero"),
    Word("mass_std", "g", "its standard uncertainty", "zero"),
)


class Calorimetry(NamedTuple):
    """Power of the beam with its standard uncertainty, and what else the fit found.

    ``misfit`` is the rms of what the fit leaves, in K; ``note`` says where it does not fit.
    """

    power: Quantity
    std: Quantity
    time_constant: Quantity
    ambient: Quantity
    misfit: Quantity
    note: str


def absorbed_power(
    time: Any,
    temperature: Any,
    mass: Any,
    beam_on: Any,
    beam_off: Any,
    specific_heat: Any = "385 J/(kg*K)",
    absorptance: Any = 0.95,
    absorptance_std: Any = 0.03,
    mass_std: Any = "0 g",
) -> Calorimetry:
    """Fit the power of a beam from the temperatures of a block before, during and after it.

    The block gains heat from the beam and loses it to the room in proportion to how much warmer
    it is; power, loss, room and first temperature are fitted together to all readings.

    Parameters
    ----------
    time, temperature : shape (n,)
        Readings, temperatures as "24 degC" or Q([...], "degC"); go on for some minutes after the
        beam, or the loss cannot be told.
    mass : mass
        Of the block, sensor and coat included.
    beam_on, beam_off : time
        When the beam began and ended.
    specific_heat : heat per mass and kelvin
        Copper's by default (CRC Handbook).
    absorptance, absorptance_std : number
        Of the coat, and how well it is known: black stove paint, an estimate. It is not black to
        every wavelength.
    mass_std : mass
        Standard uncertainty of the mass.

    Returns
    -------
    Calorimetry
        ``.power`` in W with ``.std``, ``.time_constant`` in s, ``.ambient`` in degC, ``.misfit``.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; too few readings, none with the beam on or after it, or no rise.

    Examples
    --------
    >>> import numpy as np
    >>> from mathlib.units import Q
    >>> t = np.arange(0.0, 400.0, 10.0)  # 2 W on a block of 38.5 J/K that cools in 300 s
    >>> warm = 2 * 0.95 * 300 / 38.5 * (1 - np.exp(-np.clip(t - 60, 0, 120) / 300))
    >>> warm = warm * np.exp(-np.clip(t - 180, 0, 400) / 300)
    >>> print(absorbed_power(Q(t, "s"), Q(22 + warm, "degC"), "100 g", "60 s", "180 s").power)
    2 W

    """
    from scipy.optimize import curve_fit

    told = words.read_words(
        "Calorimeter",
        _TAKES,
        {
            "time": time, "temperature": temperature, "mass": mass, "beam_on": beam_on,
            "beam_off": beam_off, "specific_heat": specific_heat, "absorptance": absorptance,
            "absorptance_std": absorptance_std, "mass_std": mass_std,
        },
    )  # fmt: skip
    seconds, kelvin = np.atleast_1d(told["time"]), np.atleast_1d(told["temperature"])
    on, off = told["beam_on"], told["beam_off"]
    _check(seconds, kelvin, on, off, told["absorptance"])
    capacity = told["mass"] * told["specific_heat"]

    def model(t: Any, watts: float, log_tau: float, room: float, first: float) -> Any:
        tau = np.exp(log_tau)
        heated = np.clip(t - on, 0.0, off - on)
        after = np.clip(t - off, 0.0, None)
        rise = watts * tau / capacity * -np.expm1(-heated / tau) * np.exp(-after / tau)
        return room + (first - room) * np.exp(-(t - seconds[0]) / tau) + rise

    gained = float(kelvin.max() - kelvin[0])
    start = [capacity * gained / (off - on), np.log(2 * (off - on)), kelvin[0], kelvin[0]]
    try:
        found, spread = curve_fit(model, seconds, kelvin, p0=start, maxfev=4000)
    except RuntimeError:
        raise ValueRefused(
            "Calorimeter: no power and no loss fit these readings. Are the times of the beam right?"
        ) from None
    watts, tau = float(found[0]), float(np.exp(found[1]))
    power = watts / told["absorptance"]
    parts = (
        np.sqrt(spread[0, 0]) / watts,
        told["absorptance_std"] / told["absorptance"],
        told["mass_std"] / told["mass"],
    )
    std = power * float(np.sqrt(np.sum(np.square(parts))))
    misfit = float(np.sqrt(np.mean((kelvin - model(seconds, *found)) ** 2)))
    note = ""
    if misfit > 0.05 * gained:
        note = "The fit misses: a draught, a sensor that lags, or a beam that was not steady."
    elif not seconds[-1] - off > 0.2 * tau:
        note = "Read on longer after the beam: the loss is hardly seen."
    elif not 1.0 < tau < 1e5:
        note = "The loss is no loss: look at the times."
    return Calorimetry(
        units.quantity(power, units.container("W")),
        units.quantity(std, units.container("W")),
        units.quantity(tau, units.container("s")),
        words.result(float(found[2]), units.container("degC")),
        units.quantity(misfit, units.container("K")),
        note,
    )


def _check(seconds: Any, kelvin: Any, on: float, off: float, absorptance: float) -> None:
    fault = ""
    if seconds.ndim != 1 or seconds.shape != kelvin.shape or np.any(np.diff(seconds) <= 0):
        fault = "time and temperature are two lists of one length, times rising"
    elif not on < off:
        fault = "beam_off comes after beam_on"
    elif seconds.size < _LEAST:
        fault = f"at least {_LEAST} readings are needed; got {seconds.size}"
    elif np.sum((seconds > on) & (seconds <= off)) < 2 or np.sum(seconds > off) < 2:
        fault = "at least two readings with the beam on and two after it are needed"
    elif absorptance > 1:
        fault = "absorptance is a share, at most 1"
    elif not kelvin.max() > kelvin[0]:
        fault = "the block did not get warmer"
    if fault:
        raise ValueRefused(f"Calorimeter: {fault}.")
