"""What happens where a line ends: the head brakes, and the light stays on longer over each place.

The head comes along a line at its speed, brakes with a constant acceleration, and stops, or turns
a corner at some lower speed and speeds up again. The dose is that on the middle of the line, over
the dose far from its end. Diameters are 1/e².
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib.errors import ValueRefused, WordError
from mathlib.formula import Example, Formula
from mathlib.words import with_units

CASES: Final = ("stop and restart", "stop, beam off", "corner")
_NODES: Final = 96

_SPEED = ("speed", "mm/s", "of the line, away from its ends")
_ACCELERATION = ("acceleration", "mm/s^2", "along the line, constant")
_FROM_END = ("distance", "mm", "from the place where the head stops or starts")
_RATIO = "over that of the line away from its ends"
_STAYS = "the power stays as it is while the head is slower"
_THIN = "the spot is much smaller than the distance; at the end itself take end_overdose"

overdose_near_end = Formula(
    title="Dose at a distance from the end of a line, power constant",
    equation="r = v / sqrt(2 * a * x)",
    where={
        "r": ("overdose", "1", _RATIO),
        "v": _SPEED,
        "a": _ACCELERATION,
        "x": _FROM_END,
    },
    holds=("2 * a * x <= v**2 * (1 + 1e-9); farther out the head has its full speed",),
    assumes=(_STAYS, _THIN),
    source="Energy for each length is power over speed, and v² = 2 a x",
    example=Example(
        {"speed": "50 mm/s", "acceleration": "300 mm/s^2", "distance": "1 mm"},
        "2.041241 1",
        1e-6,
        "by hand: 50 / sqrt(600) = 50 / 24.494897",
    ),
)

mean_overdose = Formula(
    title="Mean dose over the last stretch of a line, power constant",
    equation="r = v * sqrt(2 / (a * x))",
    where={
        "r": ("overdose", "1", _RATIO),
        "v": _SPEED,
        "a": _ACCELERATION,
        "x": ("distance", "mm", "over which the mean is taken, from the end"),
    },
    holds=("2 * a * x <= v**2 * (1 + 1e-9); farther out the head has its full speed",),
    assumes=(_STAYS, "the light goes off where the head stops, and counts once"),
    source="Time sqrt(2 x / a) over the last x, against x / v",
    example=Example(
        {"speed": "50 mm/s", "acceleration": "1000 mm/s^2", "distance": "0.5 mm"},
        "3.162278 1",
        1e-6,
        "by hand: 50 * sqrt(2 / 500) = 50 * 0.0632456",
    ),
)


def _numbers(
    case: str, speed: Any, acceleration: Any, corner: Any, least_power: Any, who: str
) -> tuple[Any, Any]:
    """Check the case; give the corner's speed and the reach of constant power from the end."""
    if case not in CASES:
        told = ", ".join(map(repr, CASES))
        raise ValueRefused(f"{who}: case is one of {told}; got {case!r}.")
    if (case == "corner") != (corner is not None):
        raise WordError(
            f'{who}: give speed_at_corner with case "corner", such as "20 mm/s", and only there.'
        )
    slow = 0.0 if corner is None else corner
    if np.any(np.asarray(slow) > speed):
        raise ValueRefused(f"{who}: speed_at_corner is above the speed of the line.")
    if np.any(np.asarray(least_power) > 1):
        raise ValueRefused(
            f"{who}: least_power is a part of the line's power, from 0 to 1; write 1 where the "
            "power stays, 0 where it follows the speed all the way."
        )
    held = np.maximum(least_power * speed, slow)
    return slow, (held**2 - np.asarray(slow) ** 2) / (2 * acceleration)


@with_units(
    "Dose along a line near its end",
    returns="1",
    distance=("mm", "signed"),
    speed="mm/s",
    acceleration="mm/s^2",
    diameter="mm",
    speed_at_corner=("mm/s", "zero"),
    turn=("deg", "signed"),
    least_power=("1", "zero"),
)
def end_profile(
    *,
    distance: Any,
    speed: Any,
    acceleration: Any,
    diameter: Any,
    case: str,
    speed_at_corner: Any = None,
    turn: Any = "0 deg",
    least_power: Any = "1 1",
) -> Any:
    """Dose on the middle of a line near its end, over that of the line away from its ends.

    Parameters
    ----------
    distance : length, any shape
        From the end, back along the line; negative beyond the end.
    speed, acceleration : speed, acceleration
        Of the line, and at its end; broadcast.
    diameter : length
        1/e² diameter of the spot.
    case : str
        "stop and restart", "stop, beam off" or "corner".
    speed_at_corner : speed, optional
        With "corner": that at which it is taken.
    turn : angle
        Of the next line against this one; 0 goes straight on, 180 deg comes back on it.
    least_power : number
        Part of the line's power below which it does not go: 1 for constant power, 0 for power
        that follows the speed all the way.

    Returns
    -------
    Quantity
        A plain number, 1 far from the end.

    Raises
    ------
    UnitError, ValueRefused, WordError
        As a formula does; an unknown case; a corner without its speed.

    Examples
    --------
    >>> line = {"speed": "50 mm/s", "acceleration": "1000 mm/s^2", "diameter": "0.1 mm"}
    >>> print(end_profile(distance=["0 mm", "0.5 mm"], case="stop, beam off", **line))
    [6.081 1.583]

    """
    slow, reach = _numbers(
        case, speed, acceleration, speed_at_corner, least_power, "Dose along a line near its end"
    )
    told = (acceleration, np.asarray(diameter) / 2, np.asarray(slow), np.asarray(reach))
    first = _one_way(np.asarray(distance), np.zeros(()), speed, least_power, *told)
    if case == "stop, beam off":
        return first
    along = -np.asarray(distance) * np.cos(turn)
    aside = np.asarray(distance) * np.sin(turn)
    return first + _one_way(along, aside, speed, least_power, *told)


def _one_way(
    along: Any, aside: Any, speed: Any, least: Any, acceleration: Any, w: Any, slow: Any, reach: Any
) -> Any:
    """Dose from one half line that leaves a point, at ``along`` it and ``aside`` of it.

    Up to ``reach`` the light has its least power for a longer time; beyond, the same energy lands
    on each length, for there the power follows the speed, or the speed is the line's own.
    """
    from scipy.special import erfc

    root = np.sqrt(2.0) / w
    steady = erfc(root * (reach - along)) / 2
    # The time at the least power, by Gauss-Legendre over the time at which the spot is near.
    nearest = np.clip(along - 4.5 * w, 0.0, reach)
    farthest = np.clip(along + 4.5 * w, 0.0, reach)
    start, stop = (
        (np.sqrt(slow**2 + 2 * acceleration * x) - slow) / acceleration for x in (nearest, farthest)
    )
    places, weights = np.polynomial.legendre.leggauss(_NODES)
    middle, half = (start + stop) / 2, (stop - start) / 2
    held = 0.0
    for place, weight in zip(places, weights, strict=True):
        t = middle + half * place
        held = held + weight * np.exp(-((root * (along - slow * t - acceleration * t**2 / 2)) ** 2))
    held = held * half * least * speed * root / np.sqrt(np.pi)
    return (steady + held) * np.exp(-((root * aside) ** 2))


@with_units(
    "Dose at the end of a line",
    returns="1",
    speed="mm/s",
    acceleration="mm/s^2",
    diameter="mm",
    speed_at_corner=("mm/s", "zero"),
    least_power=("1", "zero"),
)
def end_overdose(
    *,
    speed: Any,
    acceleration: Any,
    diameter: Any,
    case: str,
    speed_at_corner: Any = None,
    least_power: Any = "1 1",
) -> Any:
    """Dose at the very place where a head stops or turns, over that of the line.

    A stop has a closed form; where the braking distance is long against the spot it is
    1.720 v / sqrt(a w) for a stop and restart, w the 1/e² radius, and half of it where the beam
    goes off. A corner is summed. The angle of the corner does not enter at the corner itself.

    Parameters
    ----------
    speed, acceleration, diameter : speed, acceleration, length
        Of the line, at its end, and 1/e² of the spot; arrays broadcast.
    case : str
        "stop and restart", "stop, beam off" or "corner".
    speed_at_corner : speed, optional
        With "corner": that at which it is taken.
    least_power : number
        Part of the line's power below which it does not go: 1 for constant power, 0 for power
        that follows the speed all the way.

    Returns
    -------
    Quantity
        A plain number; 1 where nothing is added.

    Raises
    ------
    UnitError, ValueRefused, WordError
        As a formula does; an unknown case; a corner without its speed.

    Examples
    --------
    >>> line = {"speed": "50 mm/s", "acceleration": "1000 mm/s^2", "diameter": "0.1 mm"}
    >>> print(end_overdose(case="stop and restart", **line))
    12.16
    >>> print(end_overdose(case="corner", speed_at_corner="25 mm/s", **line))
    1.941

    """
    slow, reach = _numbers(
        case, speed, acceleration, speed_at_corner, least_power, "Dose at the end of a line"
    )
    w = np.asarray(diameter) / 2
    if case == "corner":
        told = (acceleration, w, np.asarray(slow), np.asarray(reach))
        return 2 * _one_way(np.zeros(()), np.zeros(()), speed, least_power, *told)
    from scipy.special import erfc, gamma, gammainc

    limit = 2 * (reach / w) ** 2  # exp(-limit) is what is left of the spot at the reach
    stays = gamma(1.25) * gammainc(0.25, limit) * (2 * w**2 / np.asarray(acceleration) ** 2) ** 0.25
    held = np.sqrt(2 / np.pi) / w * speed * least_power * stays
    once = held + erfc(np.sqrt(2.0) * reach / w) / 2
    return once if case == "stop, beam off" else 2 * once
