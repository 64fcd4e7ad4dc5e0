"""Where the tool ends up beside where it was sent: every source of error, and its share.

Each source is a band, either way, of the tool along one axis. A band becomes a standard
uncertainty by the shape that it has: what is always at one end or the other counts whole, a
sine over the place counts 1/√2 of its height, and what may lie anywhere in the band 1/√3. Sources
are independent, so that squares add, and the share of a source is its part of that sum.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import words
from mathlib.errors import ValueRefused, WordError
from mathlib.fields import quantity, record
from mathlib.formula import Example, Formula
from mathlib.units import Quantity, container
from mathlib.words import Word

#: What a band counts for as a standard uncertainty, by its shape: JCGM 100, 4.3 and 4.4.
SHAPES: Final = {"ends": 1.0, "sine": 1 / np.sqrt(2.0), "flat": 1 / np.sqrt(3.0)}
#: Every source: its shape, whether it is the motor's, and what it is.
SOURCES: Final[dict[str, tuple[str, bool, str]]] = {
    "lattice": ("flat", False, "from a wanted point to the nearest that the microsteps reach"),
    "step_accuracy": ("flat", True, "of each step, which does not add up"),
    "detent": ("sine", True, "torque of the magnet alone, four times in a magnetic cycle"),
    "friction_lag": ("ends", True, "of the rotor under friction; turns over on reversal"),
    "acceleration_lag": ("ends", True, "of the rotor while the speed changes, friction apart"),
    "eccentricity": ("sine", False, "of the pulley, once in each turn"),
    "tooth": ("flat", False, "places of the belt's teeth, and how they run in"),
    "belt_stretch": ("ends", False, "of the belts under friction and acceleration"),
    "temperature": ("flat", False, "of the frame since it was calibrated, at the far end"),
}


@record
class ErrorSources:
    """Errors of place that no other table states; estimates, until they are measured."""

    step_accuracy: Quantity = quantity(
        "%", "of a full step, either way, as motor makers print it", default="5 %"
    )
    eccentricity: Quantity = quantity(
        "mm", "of the driven pulley's teeth on its shaft: half of its run-out", "zero", "0.03 mm"
    )
    tooth_error: Quantity = quantity(
        "mm", "of where a belt's tooth sits in its groove, either way", "zero", "0.01 mm"
    )
    temperature_change: Quantity = quantity(
        "delta_degC", "of the frame since it was calibrated", "zero", "5 delta_degC"
    )
    frame_expansion: Quantity = quantity("1/K", "of the frame", default="23.4e-6 1/K")


thermal_growth = Formula(
    title="Growth of a length with temperature",
    equation="x = a_f * t * L",
    where={
        "x": ("length_change", "mm", "of the length", "signed"),
        "a_f": ("frame_expansion", "1/K", "of the frame's material"),
        "t": ("temperature_change", "delta_degC", "since it was calibrated", "signed"),
        "L": ("length", "mm", "from where the machine finds its zero"),
    },
    assumes=("the whole frame warms up alike", "the belt follows the frame, as a tight one does"),
    source="Linear thermal expansion; 23.4e-6 1/K is printed for profile alloy",
    example=Example(
        {"frame_expansion": "23.4e-6 1/K", "temperature_change": "10 K", "length": "500 mm"},
        "0.117 mm",
        1e-9,
        "by hand: 23.4e-6 * 10 * 500",
    ),
)

belt_deflection = Formula(
    title="Stretch of the belts that hold a head, under a force at the head",
    equation="x = F / k",
    where={
        "x": ("belt_stretch", "mm", "of the head, motors held", "zero"),
        "F": ("head_force", "N", "along the axis", "zero"),
        "k": ("stiffness", "N/mm", "of the belts at the head, along that axis"),
    },
    assumes=("the force is small next to the tension, so that no span goes slack",),
    source="Hooke's law",
    example=Example(
        {"head_force": "6.6 N", "stiffness": "120 N/mm"}, "0.055 mm", 1e-9, "by hand: 6.6 / 120"
    ),
)


class Budget(NamedTuple):
    """Bands, standard uncertainties and shares by source, and what they come to.

    ``expanded`` is twice the root of the sum of squares: about 95 % of places lie within;
    ``worst`` has every band at its end at once. ``motor_share`` is the part of the motor's own
    sources.
    """

    bands: dict[str, Quantity]
    standard: dict[str, Quantity]
    shares: dict[str, Any]
    expanded: Quantity
    worst: Quantity
    motor_share: Any


def budget(bands: Mapping[str, Any]) -> Budget:
    """Add sources of error by their squares, and give each its share.

    Parameters
    ----------
    bands : mapping
        By name of the source, see ``SOURCES``: half the width of its band, a length; arrays
        broadcast. nan says that a motor slips there, and makes the sums nan.

    Returns
    -------
    Budget
        Shares add to 1.

    Raises
    ------
    WordError, UnitError, ValueRefused
        A source is unknown, or a band is no length; nothing but zeros is given.

    Examples
    --------
    >>> found = budget({"step_accuracy": "0.010 mm", "eccentricity": "0.03 mm"})
    >>> print(f"{found.expanded:.4f~P}, motor {found.motor_share:.0%}")
    0.0440 mm, motor 7%

    """
    mistakes = words.Mistakes("Error budget")
    if not isinstance(bands, Mapping):
        raise ValueRefused(
            f"Error budget: bands is a dict of sources to lengths; got {type(bands).__name__}."
        )
    unknown = [name for name in bands if name not in SOURCES]
    if unknown:
        known = ", ".join(SOURCES)
        mistakes.add(WordError, f"there is no source {', '.join(unknown)}; there are {known}.")
    mistakes.stop()
    read = words.read_words(
        "Error budget", [Word(n, "mm", "", "zero") for n in bands], bands, allow_missing=True
    )
    squares = {n: np.asarray((v * SHAPES[SOURCES[n][0]]) ** 2) for n, v in read.items()}
    total = sum(squares.values(), start=np.asarray(0.0))
    if np.any(total == 0):
        raise ValueRefused("Error budget: all bands are zero, and shares of nothing are none.")
    mm = container("mm")
    shares = {n: (s / total)[()] for n, s in squares.items()}
    return Budget(
        {n: words.result(v, mm) for n, v in read.items()},
        {n: words.result(np.sqrt(s), mm) for n, s in squares.items()},
        shares,
        words.result(2 * np.sqrt(total), mm),
        words.result(sum(np.asarray(v) for v in read.values()), mm),
        sum(share for name, share in shares.items() if SOURCES[name][1]),
    )
