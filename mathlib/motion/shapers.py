"""Input shapers: a command sent in two or three parts, so that their swings cancel.

Impulses of ZV and ZVD after Singer and Seering, of EI after Singhose, Seering and Singer. On
crossed belts shape x and y before they become motor travel: the modes are those of the head.
"""

from __future__ import annotations

import itertools
from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import words
from mathlib.errors import ValueRefused
from mathlib.motion.ringing import Command, left_ringing
from mathlib.units import Q, Quantity
from mathlib.words import Word

KINDS: Final = ("ZV", "ZVD", "EI")
_FREQUENCY: Final = Word("frequency", "Hz", "of the mode without damping")
_DAMPING: Final = Word("damping", "1", "ratio to critical", "zero")
#: Damped EI shaper as a fit, powers of V and z with their factors; Singhose, Derezinski and Singer
#: 1996. It agrees within 0.15 % with the shaper's own equations, solved.
_FIT: Final = {
    "first": (
        (0, 0, 0.24968),
        (1, 0, 0.24961),
        (0, 1, 0.80008),
        (1, 1, 1.23328),
        (0, 2, 0.49599),
        (1, 2, 3.17316),
    ),
    "third": (
        (0, 0, 0.25149),
        (1, 0, 0.21474),
        (0, 1, -0.83249),
        (1, 1, 1.41498),
        (0, 2, 0.85181),
        (1, 2, -4.90094),
    ),
    "second time": (
        (0, 0, 0.49990),
        (1, 1, 0.46159),
        (1, 2, 4.26169),
        (1, 3, 1.75601),
        (2, 1, 8.57843),
        (2, 2, -108.644),
        (2, 3, 336.989),
    ),
}
_MOST_FITTED: Final = 0.3  # damping up to which the fit was made; beyond it shapers do little


class Shaper(NamedTuple):
    """Impulses of a shaper: plain amplitudes that add to 1, and their times, shape (..., n)."""

    amplitudes: Quantity
    times: Quantity
    kind: str = ""

    @property
    def delay(self) -> Quantity:
        """By which the head follows later, on the mean: what offsets a position at a speed."""
        return Q(np.sum(self.amplitudes.magnitude * self.times.magnitude, axis=-1), "s")

    @property
    def longer(self) -> Quantity:
        """By which each move takes longer: the time of the last impulse."""
        last: Quantity = self.times[..., -1]
        return last


def _fit(which: str, v: Any, z: Any) -> Any:
    return sum(factor * v**a * z**b for a, b, factor in _FIT[which])


def shaper(kind: str, frequency: Any, damping: Any, tolerance: Any = 0.05) -> Shaper:
    """Give the impulses of an input shaper for a mode.

    Parameters
    ----------
    kind : str
        "ZV" takes half a period and needs the frequency within 3 %; "ZVD" takes a whole one and
        forgives 14 %; "EI" takes as long, leaves ``tolerance`` at the mode itself and forgives
        20 %.
    frequency : frequency
        Of the mode without damping.
    damping : plain number
        Ratio to critical; for "EI" up to 0.3.
    tolerance : plain number
        Share of the ringing that "EI" may leave, 0.05 by default; the others leave none.

    Returns
    -------
    Shaper
        ``.amplitudes`` plain numbers and ``.times`` in s, of shape (..., 2) or (..., 3).

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; there is no such kind; damping or tolerance is out of range.

    Examples
    --------
    >>> made = shaper("ZV", "45 Hz", 0.1)
    >>> print(made.amplitudes.round(4), made.times.to("ms").round(3))
    [0.5783 0.4217] [0 11.17] ms

    """
    if kind not in KINDS:
        raise ValueRefused(f"Shaper: kind is one of {', '.join(KINDS)}; got {kind!r}.")
    given = {"frequency": frequency, "damping": damping, "tolerance": tolerance}
    takes = (_FREQUENCY, _DAMPING, Word("tolerance", "1"))
    f, z, v = map(np.asarray, words.read_words("Shaper", takes, given).values())
    most = _MOST_FITTED if kind == "EI" else 1.0
    if np.any(z >= 1) or np.any(z > most):
        raise ValueRefused(f"Shaper: damping for {kind} is a ratio to critical below {most:g}.")
    if np.any(v >= 1):
        raise ValueRefused("Shaper: tolerance is a share of the ringing, below 1, such as 0.05.")
    root = np.sqrt(1 - z**2)
    period = 1 / (f * root)
    k = np.exp(-z * np.pi / root)
    if kind == "ZV":
        impulses = [1 / (1 + k), k / (1 + k)]
        times: list[Any] = [0.0, 0.5]
    elif kind == "ZVD":
        impulses = [1 / (1 + k) ** 2, 2 * k / (1 + k) ** 2, (k / (1 + k)) ** 2]
        times = [0.0, 0.5, 1.0]
    else:  # exact without damping, a fit with it: the fit is some 0.15 % off
        bare = z == 0
        first = np.where(bare, (1 + v) / 4, _fit("first", v, z))
        third = np.where(bare, (1 + v) / 4, _fit("third", v, z))
        impulses = [first, 1 - first - third, third]
        times = [0.0, np.where(bare, 0.5, _fit("second time", v, z)), 1.0]
    amplitudes = np.stack(np.broadcast_arrays(*impulses), axis=-1)
    moments = np.stack(np.broadcast_arrays(*(period * t for t in times)), axis=-1)
    amplitudes, moments = np.broadcast_arrays(amplitudes, moments)
    return Shaper(Q(amplitudes.copy(), "1"), Q(moments.copy(), "s"), kind)


def residual_vibration(shaper: Shaper, frequency: Any, damping: Any) -> Quantity:
    """Tell which share of the ringing a shaper leaves on a mode that is not quite as thought.

    Parameters
    ----------
    shaper : Shaper
        With its impulses, shape (..., n).
    frequency, damping : frequency, plain number
        What the mode really has; arrays broadcast with the leading shape of the shaper.

    Returns
    -------
    Quantity
        Plain number: amplitude with the shaper over that of one impulse, at the last impulse.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> made = shaper("ZV", "50 Hz", 0)
    >>> print(residual_vibration(made, Q([50.0, 55.0], "Hz"), 0).round(4))
    [0 0.1564]

    """
    given = {"frequency": frequency, "damping": damping}
    read = words.read_words("Residual vibration", (_FREQUENCY, _DAMPING), given)
    omega, z = 2 * np.pi * np.asarray(read["frequency"]), np.asarray(read["damping"])
    if np.any(z >= 1):
        raise ValueRefused("Residual vibration: damping is a ratio to critical below 1.")
    times = shaper.times.to("s").magnitude
    turn = (omega * (-z + 1j * np.sqrt(1 - z**2)))[..., None]
    since = times[..., -1:] - times
    return Q(np.abs(np.sum(shaper.amplitudes.magnitude * np.exp(turn * since), axis=-1)), "1")


def insensitivity(kind: str, damping: Any, residual: Any, tolerance: Any = 0.05) -> Quantity:
    """Tell how wide a band of frequencies a shaper covers, as a share of the mode's frequency.

    Parameters
    ----------
    kind : str
        "ZV", "ZVD" or "EI".
    damping : plain number
        Ratio to critical, one.
    residual : plain number
        Share of the ringing that may be left, one.
    tolerance : plain number
        For which an "EI" shaper is made.

    Returns
    -------
    Quantity
        Plain number: from the lowest to the highest frequency, over the mode's own.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; nothing is covered, as of "EI" made for a larger share than ``residual``.

    Examples
    --------
    >>> print(insensitivity("ZVD", 0, 0.05).round(4))
    0.2871

    """
    from scipy.optimize import brentq

    made = shaper(kind, "1 Hz", damping, tolerance)
    wanted = float(words.base_value(Word("residual", "1"), residual))

    def over(ratio: Any) -> Any:
        return residual_vibration(made, Q(ratio, "Hz"), damping).magnitude - wanted

    # Times and shares of the damped EI fit are good to 0.15 %, so that it leaves up to 4 % more
    # than its own tolerance at the mode, for tolerances of 0.05 and more: that is let through.
    grid = np.linspace(1e-3, 2.0, 4000)
    within = over(grid) <= (0.04 if kind == "EI" else 0.0) * wanted
    middle = int(np.argmin(np.abs(grid - 1)))
    if not within[middle]:
        raise ValueRefused(
            f"Insensitivity: {kind} leaves more than {wanted:.3g} at the mode itself; take another "
            "shaper, or make it for a smaller tolerance."
        )
    outside = np.flatnonzero(~within)
    low, high = outside[outside < middle], outside[outside > middle]
    ends = [
        0.0 if not low.size else float(brentq(over, grid[low[-1]], _inner(over, grid, low[-1], 1))),
        2.0
        if not high.size
        else float(brentq(over, _inner(over, grid, high[0], -1), grid[high[0]])),
    ]
    return Q(ends[1] - ends[0], "1")


def _inner(over: Any, grid: Any, place: int, way: int) -> float:
    """Nearest place inside at which the residual really is below the bound."""
    while over(grid[place]) > 0:
        place += way
    return float(grid[place])


def shaped(shaper: Shaper, time: Any, position: Any) -> Quantity:
    """Shape a commanded position along one axis: the weighed sum of delayed copies.

    Shape x and y, each for its own mode, and turn the result into motor travel afterwards. Motor
    travels shaped each for itself would mix both axes' impulses on crossed belts.

    Parameters
    ----------
    shaper : Shaper
        For one mode, shape (n,).
    time : time, shape (m,), rising
        At which the command is given; before the first it stands.
    position : length, shape (m,)
        That is commanded.

    Returns
    -------
    Quantity
        mm, shape (m,).

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> half = shaper("ZV", "50 Hz", 0)
    >>> print(shaped(half, Q([0.0, 5.0, 10.0, 15.0], "ms"), Q([0.0, 1.0, 1.0, 1.0], "mm")))
    [0 0.5 0.5 1] mm

    """
    t = np.asarray(words.base_value(Word("time", "s", "", "signed"), time))
    p = np.asarray(words.base_value(Word("position", "mm", "", "signed"), position)) * 1e3
    pairs = zip(shaper.amplitudes.magnitude, shaper.times.to("s").magnitude, strict=True)
    return Q(sum(a * np.interp(t - late, t, p) for a, late in pairs), "mm")


def corner_cut(shaper: Shaper, speed: Any, turn: Any) -> Quantity:
    """Tell how far the head passes from a corner that is taken at a speed, through a shaper.

    Both axes have the same shaper. While it sends its parts, head and command are parted by the
    mean delay times the speed; the corner is cut by about half of that, times the root of two
    for a right angle.

    Parameters
    ----------
    shaper : Shaper
        Shape (n,).
    speed : speed
        At which the corner is taken: that after braking, where the controller brakes for it.
    turn : angle
        By which the direction changes, 0 to 180 deg; one.

    Returns
    -------
    Quantity
        mm, of the shape of ``speed``.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(corner_cut(shaper("ZV", "50 Hz", 0), "20 mm/s", "90 deg").round(4))
    0.0707 mm

    """
    v = np.asarray(words.base_value(Word("speed", "mm/s"), speed)) * 1e3
    angle = float(words.base_value(Word("turn", "deg"), turn))
    if angle > np.pi:
        raise ValueRefused("Corner cut: turn is the change of direction, at most 180 deg.")
    amplitudes, times = shaper.amplitudes.magnitude, shaper.times.to("s").magnitude
    since = times[:, None] - times
    before = np.sum(amplitudes * np.minimum(since, 0.0), axis=-1)
    after = np.sum(amplitudes * np.maximum(since, 0.0), axis=-1)
    ways = np.array([[1.0, 0.0], [np.cos(angle), np.sin(angle)]])
    places = before[:, None] * ways[0] + after[:, None] * ways[1]
    nearest = min(_from_origin(a, b) for a, b in itertools.pairwise(places))
    return Q(nearest * v, "mm")


def _from_origin(a: Any, b: Any) -> float:
    """Distance from the origin to a straight piece."""
    along = b - a
    length = float(along @ along)
    share = 0.0 if length == 0 else min(max(float(-a @ along) / length, 0.0), 1.0)
    return float(np.hypot(*(a + share * along)))


class Choice(NamedTuple):
    """One shaper against the ripple that is allowed: what is left at worst, and what it costs."""

    kind: str
    shaper: Shaper | None
    left: Quantity
    longer: Quantity
    enough: bool


def choices(command: Command, frequencies: Any, damping: Any, allowed: Any) -> list[Choice]:
    """Set every shaper, and none, against the ripple that the work allows.

    Each is made for the middle of the frequencies, and judged at the worst of them: those of one
    mode over the whole work area, or of drawn machines, or both.

    Parameters
    ----------
    command : Command
        Such as ``ringing.speed_ramp`` gives.
    frequencies : frequency, any shape
        That the mode may have.
    damping : plain number
        Ratio to critical, one.
    allowed : length
        Amplitude that may be left.

    Returns
    -------
    list of Choice
        Those that are enough first, the quickest of them on top; then the others, the calmest
        first. ``.left`` is the worst amplitude, ``.longer`` what each move takes longer.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> from mathlib.motion.ringing import speed_ramp
    >>> stop = speed_ramp("100 mm/s", "10000 mm/s^2")
    >>> found = choices(stop, Q([48.0, 52.0], "Hz"), 0.05, "0.01 mm")
    >>> found[0].kind
    'ZVD'

    """
    hertz = np.asarray(words.base_value(_FREQUENCY, frequencies))
    bound = float(words.base_value(Word("allowed", "mm"), allowed)) * 1e3
    middle = Q(float(hertz.min() + hertz.max()) / 2.0, "Hz")
    found = []
    for kind in ("none", *KINDS):
        made = None if kind == "none" else shaper(kind, middle, damping)
        sent = command if made is None else command.shaped(made)
        worst = float(np.max(left_ringing(sent, Q(hertz, "Hz"), damping).magnitude))
        longer = Q("0 s") if made is None else made.longer
        found.append(Choice(kind, made, Q(worst, "mm"), longer, worst <= bound))
    return sorted(
        found,
        key=lambda c: (not c.enough, c.longer.magnitude if c.enough else c.left.magnitude),
    )
