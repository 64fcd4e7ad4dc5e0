"""Natural frequencies of what the belts hold."""

from __future__ import annotations

from typing import Any

import numpy as np

from mathlib import words
from mathlib.formula import Example, Formula
from mathlib.units import Q, Quantity
from mathlib.words import Word

held_carriage_frequency = Formula(
    title="Natural frequency of a carriage on its belt, motor shaft held",
    equation="f = sqrt(k / m) / (2 * pi)",
    where={
        "f": ("frequency", "Hz", "free oscillation of the carriage"),
        "k": ("stiffness", "N/mm", "of all the spans that hold the carriage"),
        "m": ("mass", "kg", "of what moves; not the rotor, which is held"),
    },
    assumes=(
        "the motor shaft does not move",
        "damping is small",
        "the belt weighs little next to the carriage",
    ),
    source="Den Hartog, Mechanical Vibrations, ch. 2",
    example=Example(
        {"stiffness": "10 N/mm", "mass": "1 kg"},
        "15.92 Hz",
        5e-4,
        "by hand: sqrt(10000 / 1) = 100 rad/s; 100 / 6.2832 = 15.92",
    ),
)

series_stiffness = Formula(
    title="Stiffness of two springs one behind the other",
    equation="k = k_1 * k_2 / (k_1 + k_2)",
    where={
        "k": ("stiffness", "N/mm", "of both together"),
        "k_1": ("stiffness_1", "N/mm", "of the first, such as the belt"),
        "k_2": ("stiffness_2", "N/mm", "of the second, such as the motor's magnetic spring"),
    },
    assumes=("the point between them has no mass; with the rotor there, two modes appear",),
    source="Equal force in both, stretches add",
    example=Example(
        {"stiffness_1": "66.6 N/mm", "stiffness_2": "493 N/mm"},
        "58.67 N/mm",
        2e-4,
        "by hand: 66.6 * 493 / (66.6 + 493) = 32833.8 / 559.6 = 58.67",
    ),
)

crossed_low_frequency = Formula(
    title="Lower natural frequency of a head on crossed belts, motor shafts held",
    equation=(
        "f = sqrt(((k_a + k_b) / m_x + (k_a + k_b) / m_y) / 2 - sqrt((((k_a + k_b) / m_x "
        "- (k_a + k_b) / m_y) / 2)**2 + (k_a - k_b)**2 / (m_x * m_y))) / (2 * pi)"
    ),
    where={
        "f": ("frequency", "Hz", "free oscillation, the lower of two"),
        "k_a": ("stiffness_a", "N/mm", "of belt a alone, both its spans"),
        "k_b": ("stiffness_b", "N/mm", "of belt b alone, both its spans"),
        "m_x": ("mass_x", "kg", "that moves along x"),
        "m_y": ("mass_y", "kg", "that moves along y"),
    },
    assumes=(
        "the motor shafts do not move",
        "the beam does not turn on its rails",
        "damping is small",
    ),
    source="Eigenvalues of K = [[k_a + k_b, k_a - k_b], [k_a - k_b, k_a + k_b]] over the masses",
    example=Example(
        {
            "stiffness_a": "50 N/mm",
            "stiffness_b": "40 N/mm",
            "mass_x": "0.4 kg",
            "mass_y": "1.2 kg",
        },
        "43.1846 Hz",
        1e-6,
        "by hand: 90000 / 0.4 = 225000, 90000 / 1.2 = 75000; mean 150000, half gap 75000; "
        "10000**2 / 0.48 = 2.08333e8; 150000 - sqrt(5.625e9 + 2.08333e8) = 73623.8; "
        "its root is 271.337 rad/s",
        brackets={
            "stiffness_a": ("30 N/mm", "60 N/mm"),
            "stiffness_b": ("30 N/mm", "45 N/mm"),
            "mass_x": ("0.3 kg", "0.5 kg"),
            "mass_y": ("1 kg", "1.4 kg"),
        },
    ),
)

ripple_spacing = Formula(
    title="Spacing of the ripples that an oscillation leaves on the work",
    equation="s = v / f",
    where={
        "s": ("ripple_spacing", "mm", "from crest to crest along the path"),
        "v": ("speed", "mm/s", "of the head at that place"),
        "f": ("frequency", "Hz", "of the oscillation"),
    },
    assumes=("the head runs at that speed there; a short segment may never reach it",),
    source="Definition",
    example=Example(
        {"speed": "100 mm/s", "frequency": "50 Hz"}, "2 mm", 1e-12, "by hand: 100 / 50 = 2"
    ),
)


ringing_bound = Formula(
    title="Largest swing that an acceleration can leave on a mode",
    equation="A = 2 * a / (2 * pi * f)**2",
    where={
        "A": ("ringing", "mm", "amplitude of the head about its place"),
        "a": ("acceleration", "mm/s^2", "that begins or ends at once"),
        "f": ("frequency", "Hz", "of the mode"),
    },
    assumes=(
        "damping is small",
        "the ramp may last any time: whole periods of the mode leave nothing, half ones this",
    ),
    source="Undamped mode under a pulse of acceleration: 2 (a / w**2) |sin(w t / 2)| at most",
    example=Example(
        {"acceleration": "3000 mm/s^2", "frequency": "45 Hz"},
        "0.0750527 mm",
        2e-6,
        "by hand: (2 * 3.141593 * 45)**2 = 79943.8; 6000 / 79943.8 = 0.0750527",
    ),
)


def two_axis_frequency(*, stiffness: Any, mass_x: Any, mass_y: Any) -> Quantity:
    """Natural frequencies of a head that moves along two axes on coupled springs.

    Parameters
    ----------
    stiffness : stiffness, shape (..., 2, 2)
        Force along x, y for a displacement along x, y; symmetric.
    mass_x, mass_y : mass, broadcast over the leading shape
        That moves along x, and along y.

    Returns
    -------
    Quantity
        Hz, shape (..., 2), the lower first.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(two_axis_frequency(stiffness=Q([[90.0, 10.0], [10.0, 90.0]], "N/mm"),
    ...                          mass_x="0.4 kg", mass_y="1.2 kg"))
    [43.18 75.72] Hz

    """
    matrix = words.base_value(Word("stiffness", "N/mm", "", "signed"), stiffness)
    along = [
        words.base_value(Word(w, "kg"), v) for w, v in (("mass_x", mass_x), ("mass_y", mass_y))
    ]
    masses = np.stack(np.broadcast_arrays(*along), axis=-1)
    weights = 1.0 / np.sqrt(masses[..., :, None] * masses[..., None, :])
    squares = np.linalg.eigvalsh(matrix * weights)
    return Q(np.sqrt(np.maximum(squares, 0.0)) / (2 * np.pi), "Hz")
