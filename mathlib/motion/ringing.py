"""What a change of speed leaves swinging: exact for a mode under any ramp, shaped or not.

A command is its jumps of acceleration and of jerk. A mode answers each of them with an oscillation
that is known in closed form, so what is left is a sum of turning arrows, without time steps.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import attrs
import numpy as np

from mathlib import words
from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.units import Q, Quantity
from mathlib.words import Word

_FREQUENCY = ("frequency", "Hz", "of the mode without damping")
_DAMPING = ("damping", "1", "ratio to critical", "zero")
_VISCOUS = "one mode rings; its damping grows with speed, as in oil"

acceleration_lag = Formula(
    title="Lag of a head on its mode while the acceleration lasts",
    equation="x = a / (2 * pi * f)**2",
    where={
        "x": ("lag", "mm", "of the head behind the command, once the swing has died away"),
        "a": ("acceleration", "mm/s^2", "constant"),
        "f": _FREQUENCY,
    },
    assumes=("the acceleration lasts many periods",),
    source="Newton's second law on a spring: m a = k x, with k / m = (2 pi f)**2",
    example=Example(
        {"acceleration": "3000 mm/s^2", "frequency": "45 Hz"},
        "0.0375264 mm",
        2e-6,
        "by hand: (2 * 3.141593 * 45)**2 = 79943.8; 3000 / 79943.8 = 0.0375264",
    ),
)

peak_lag = Formula(
    title="Largest lag of a head after an acceleration begins at once",
    equation="x = a / (2 * pi * f)**2 * (1 + exp(-pi * z / sqrt(1 - z**2)))",
    where={
        "x": ("peak_lag", "mm", "of the head behind the command, at the first crest"),
        "a": ("acceleration", "mm/s^2", "that begins at once and lasts half a period at least"),
        "f": _FREQUENCY,
        "z": _DAMPING,
    },
    holds=("z < 1; beyond critical damping nothing swings",),
    assumes=(_VISCOUS,),
    source="Step response of a mass on a spring, first overshoot",
    example=Example(
        {"acceleration": "3000 mm/s^2", "frequency": "45 Hz", "damping": 0.2},
        "0.0572885 mm",
        1e-5,
        "by hand: 0.2 * 3.141593 / sqrt(0.96) = 0.641275; exp(-0.641275) = 0.526621; "
        "0.0375264 * 1.526621 = 0.0572885",
    ),
)

ringing_amplitude = Formula(
    title="Ringing that an even ramp of speed leaves",
    equation=(
        "A = v / (t * (2 * pi * f)**2 * sqrt(1 - z**2)) * sqrt((1 - exp(-2 * pi * f * z * t))**2 "
        "+ 4 * exp(-2 * pi * f * z * t) * sin(pi * f * t * sqrt(1 - z**2))**2)"
    ),
    where={
        "A": ("ringing", "mm", "amplitude of the head about its place when the ramp ends", "zero"),
        "v": ("speed_change", "mm/s", "of the head along the mode"),
        "t": ("ramp_time", "s", "in which the speed changes evenly"),
        "f": _FREQUENCY,
        "z": _DAMPING,
    },
    holds=("z < 1; beyond critical damping nothing swings",),
    assumes=(_VISCOUS, "the head does not swing before the ramp begins"),
    source=(
        "Response to an acceleration v / t that begins and ends at once; without damping "
        "v / (2 pi f) |sin(pi f t) / (pi f t)|, nothing after whole periods"
    ),
    example=Example(
        {"speed_change": "100 mm/s", "ramp_time": "10 ms", "frequency": "40 Hz", "damping": 0.1},
        "0.268695 mm",
        2e-4,
        "by hand: w = 251.327 rad/s, w z t = 0.251327, E = exp(-0.251327) = 0.777768; "
        "pi f t sqrt(0.99) = 1.250338, sin = 0.949091, squared 0.900774; "
        "(1 - E)**2 + 4 E 0.900733 = 0.049387 + 2.802372 = 2.851759, root 1.688715; "
        "100 / (0.01 * 63165.5 * 0.994987) = 0.159112; 0.159112 * 1.688715 = 0.268695",
        brackets={
            "ramp_time": ("8 ms", "15 ms"),
            "frequency": ("35 Hz", "60 Hz"),
            "damping": ("0.01 1", "0.3 1"),
        },
    ),
)

ringing_reach = Formula(
    title="Distance along the work after which ringing no longer shows",
    equation="s = v * log(A / b) / (2 * pi * f * z)",
    where={
        "s": ("ringing_reach", "mm", "from the end of the ramp, along the path"),
        "v": ("speed", "mm/s", "of the head at that place"),
        "A": ("ringing", "mm", "amplitude when the ramp ends"),
        "b": ("visible", "mm", "amplitude that can just be seen"),
        "f": _FREQUENCY,
        "z": ("damping", "1", "ratio to critical"),
    },
    holds=("A > b; what is smaller from the start reaches nowhere",),
    assumes=(_VISCOUS, "the head runs at that speed there"),
    source="Decay exp(-2 pi f z t) of a damped oscillation, at the speed v",
    example=Example(
        {
            "speed": "100 mm/s",
            "ringing": "0.1 mm",
            "visible": "0.01 mm",
            "frequency": "50 Hz",
            "damping": 0.05,
        },
        "14.6587 mm",
        1e-5,
        "by hand: log(10) = 2.302585; 100 * 2.302585 / (314.1593 * 0.05) = 14.6587",
    ),
)


@words.with_units("Visible ripples", returns="1", ringing="mm", visible="mm", damping="1")
def visible_ripples(*, ringing: Any, visible: Any, damping: Any) -> Any:
    """Count the ripples, the first one included, whose amplitude is above what can be seen.

    Parameters
    ----------
    ringing : length
        Amplitude of the first ripple.
    visible : length
        Amplitude that can just be seen.
    damping : plain number
        Ratio to critical.

    Returns
    -------
    Quantity
        Plain number of ripples, of the broadcast shape; 0 where the first is too small.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(visible_ripples(ringing="100 um", visible="10 um", damping=0.081))
    5

    """
    decrement = 2 * np.pi * damping / np.sqrt(1 - np.asarray(damping) ** 2)
    return np.maximum(np.ceil(np.log(ringing / np.asarray(visible)) / decrement), 0.0)


@attrs.frozen(eq=False)
class Command:
    """A command along one axis as its jumps: mm/s^2 and mm/s^3, each at its time in s.

    All three are arrays of one shape (..., n); speed and place are what follows from them, from
    rest or from an even speed.
    """

    times: Any
    accelerations: Any
    jerks: Any

    def shaped(self, shaper: Any) -> Command:
        """Give the command after an input shaper: a scaled copy for each of its impulses."""
        amplitudes, delays = shaper.amplitudes.magnitude, shaper.times.to("s").magnitude
        times = np.asarray(self.times)[..., None] + delays[..., None, :]

        def copies(jumps: Any) -> Any:
            made = np.asarray(jumps)[..., None] * amplitudes[..., None, :]
            return made.reshape(*made.shape[:-2], -1)

        return Command(
            times.reshape(*times.shape[:-2], -1), copies(self.accelerations), copies(self.jerks)
        )

    def acceleration(self, time: Any) -> Any:
        """Acceleration of the command in mm/s^2 at times in s."""
        since = np.asarray(time)[..., None] - self.times
        gone = since >= 0
        return np.sum(np.where(gone, self.accelerations + self.jerks * since, 0.0), axis=-1)

    @property
    def end(self) -> Any:
        """Time of the last jump, in s."""
        return np.max(self.times, axis=-1)


def speed_ramp(speed_change: Any, acceleration: Any, jerk: Any = None) -> Command:
    """Command of a change of speed with an even acceleration, or with a limited jerk.

    Parameters
    ----------
    speed_change : speed
        From first to last.
    acceleration : acceleration
        The most that is used.
    jerk : jerk, optional
        The most that is used; without it the acceleration begins and ends at once.

    Returns
    -------
    Command
        That begins at the time 0; of a small change the acceleration never gets to its limit.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> speed_ramp("100 mm/s", "5000 mm/s^2").end.round(6).tolist()
    0.02
    >>> speed_ramp("100 mm/s", "5000 mm/s^2", "500000 mm/s^3").end.round(6).tolist()
    0.03

    """
    v, a = (
        np.asarray(words.base_value(Word(word, unit), value)) * 1e3
        for word, unit, value in (
            ("speed_change", "mm/s", speed_change),
            ("acceleration", "mm/s^2", acceleration),
        )
    )
    if jerk is None:
        v, a = np.broadcast_arrays(v, a)
        times = np.stack([np.zeros_like(v), v / a], axis=-1)
        return Command(times, np.stack([a, -a], axis=-1), np.zeros_like(times))
    j = np.asarray(words.base_value(Word("jerk", "mm/s^3"), jerk)) * 1e3
    v, a, j = np.broadcast_arrays(v, a, j)
    rise = np.minimum(a, np.sqrt(v * j)) / j
    held = v / (rise * j)  # from the first jump to the third
    times = np.stack([np.zeros_like(v), rise, held, held + rise], axis=-1)
    return Command(times, np.zeros_like(times), np.stack([j, -j, -j, j], axis=-1))


def swing(command: Command, time: Any, frequency: Any, damping: Any) -> Quantity:
    """Tell how far the head is from the command while and after the speed changes: exact.

    Parameters
    ----------
    command : Command
        Of one axis, its arrays of shape (n,).
    time : time, any shape
        From the command's own 0.
    frequency, damping : frequency, plain number
        Of one mode.

    Returns
    -------
    Quantity
        mm, of the shape of ``time``; negative where the head lags.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> stop = speed_ramp("100 mm/s", "5000 mm/s^2")
    >>> print(swing(stop, "10 ms", "45 Hz", 0.05).round(4))
    -0.1133 mm

    """
    omega, turn, factor = _phasor(frequency, damping)
    z = words.base_value(Word("damping", "1", "", "zero"), damping)
    since = np.asarray(words.base_value(Word("time", "s", "", "signed"), time))[..., None]
    since = since - np.asarray(command.times)
    gone = np.maximum(since, 0.0)
    turned = np.exp(turn * gone)
    step = 1.0 - np.real(factor * turned)
    # Under a growing acceleration the lag grows with it, late by 2 z / w, and swings about that.
    ramp = gone - 2 * z / omega - np.real(factor / turn * turned)
    told = np.where(since >= 0, command.accelerations * step + command.jerks * ramp, 0.0)
    return Q(-np.sum(told, axis=-1) / omega**2, "mm")


def left_ringing(command: Command, frequency: Any, damping: Any) -> Quantity:
    """Tell the amplitude with which a mode rings when a command ends: exact.

    Parameters
    ----------
    command : Command
        Of one axis, its arrays of shape (n,).
    frequency, damping : frequency, plain number, broadcast together
        Of the mode, or of many.

    Returns
    -------
    Quantity
        mm, of the broadcast shape.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(left_ringing(speed_ramp("100 mm/s", "3000 mm/s^2"), "50 Hz", 0).round(4))
    0.0526 mm

    """
    omega, turn, factor = (np.asarray(v)[..., None] for v in _phasor(frequency, damping))
    left = np.exp(turn * (np.max(command.times) - np.asarray(command.times)))
    arrows = (command.accelerations * factor + command.jerks * factor / turn) * left
    return Q(np.abs(np.sum(arrows, axis=-1)) / omega[..., 0] ** 2, "mm")


def _phasor(frequency: Any, damping: Any) -> tuple[Any, Any, Any]:
    """Angular frequency; exponent of the free swing; and the arrow of a step's answer."""
    omega = 2 * np.pi * np.asarray(words.base_value(Word("frequency", "Hz"), frequency))
    z = np.asarray(words.base_value(Word("damping", "1", "", "zero"), damping))
    if np.any(z >= 1):
        raise ValueRefused("Ringing: damping is a ratio to critical below 1; beyond it none rings.")
    root = np.sqrt(1 - z**2)
    return omega, omega * (-z + 1j * root), 1 - 1j * z / root


class RippleTest(NamedTuple):
    """What ripples at two speeds say: what makes them, how sure that is, and the frequency.

    ``exponent`` is 1 where the spacing grows as the speed does, 0 where it stays; ``std`` is its
    standard deviation. ``frequency`` is that of each test, ``spacing`` the spacings themselves.
    """

    verdict: str
    exponent: float
    std: float
    frequency: Quantity
    spacing: Quantity


def two_speed_test(speeds: Any, spacings: Any, reading: Any) -> RippleTest:
    """Tell resonance from geometry by ripples that were marked at two speeds.

    A resonance keeps its frequency, so the spacing grows with the speed. A belt's teeth, an
    eccentric pulley or a motor's steps keep their spacing at any speed.

    Parameters
    ----------
    speeds : two speeds
        Of the head where the ripples lie; as far apart as possible.
    spacings : two lengths
        From crest to crest; measure over many ripples and divide.
    reading : length
        Standard deviation of each spacing.

    Returns
    -------
    RippleTest
        ``.verdict`` is "resonance", "geometry", "neither" or "cannot be told".

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; not two of each, or both speeds are equal.

    Examples
    --------
    >>> two_speed_test(["50 mm/s", "100 mm/s"], ["1.02 mm", "1.98 mm"], "0.05 mm").verdict
    'resonance'
    >>> two_speed_test(["50 mm/s", "100 mm/s"], ["2.0 mm", "2.02 mm"], "0.05 mm").verdict
    'geometry'

    """
    v = np.asarray(words.base_value(Word("speeds", "mm/s"), speeds)) * 1e3
    s = np.asarray(words.base_value(Word("spacings", "mm"), spacings)) * 1e3
    read = float(words.base_value(Word("reading", "mm"), reading)) * 1e3
    if v.shape != (2,) or s.shape != (2,) or v[0] == v[1]:
        raise ValueRefused(
            "Two-speed test: give two different speeds and the two spacings that belong to them."
        )
    apart = np.log(v[1] / v[0])
    exponent = float(np.log(s[1] / s[0]) / apart)
    std = float(read * np.hypot(1 / s[0], 1 / s[1]) / abs(apart))
    near = [abs(exponent - meant) <= 2 * std for meant in (1.0, 0.0)]
    verdict = {
        (True, True): "cannot be told",
        (True, False): "resonance",
        (False, True): "geometry",
        (False, False): "neither",
    }[near[0], near[1]]
    return RippleTest(verdict, exponent, std, Q(v / s, "Hz"), Q(s, "mm"))
