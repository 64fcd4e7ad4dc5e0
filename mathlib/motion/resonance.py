"""Natural frequencies and damping of what the belts hold, and what ringing leaves on the work.

The modes of a whole drive, speeds to avoid, ringing after a ramp and input shapers have chapters of
their own; their names are found here too.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from mathlib import words
from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.motion.excitation import excitation_orders as excitation_orders
from mathlib.motion.excitation import speeds_to_avoid as speeds_to_avoid
from mathlib.motion.modes import frequency_map as frequency_map
from mathlib.motion.modes import modes as modes
from mathlib.motion.ringing import ringing_amplitude as ringing_amplitude
from mathlib.motion.shapers import residual_vibration as residual_vibration
from mathlib.motion.shapers import shaper as shaper
from mathlib.units import Q, Quantity
from mathlib.words import Word

held_carriage_frequency = Formula(
    title="Natural frequency of one mass on a spring: a carriage on its belt, a frame on its feet",
    equation="f = sqrt(k / m) / (2 * pi)",
    where={
        "f": ("frequency", "Hz", "of the mass, swinging freely"),
        "k": ("stiffness", "N/mm", "of all that holds it: all belt spans, or a push test's"),
        "m": ("mass", "kg", "of what moves; not the rotor, which is held"),
    },
    assumes=(
        "the far end of the spring is held: the motor shaft does not move, nor the bench",
        "damping is small",
        "what moves does so as a whole; the belt or spring weighs little next to it",
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

free_frequency = Formula(
    title="Natural frequency of a carriage against a rotor that turns freely",
    equation="f = sqrt(k * (m + m_r) / (m * m_r)) / (2 * pi)",
    where={
        "f": ("frequency", "Hz", "at which both swing against each other"),
        "k": ("stiffness", "N/mm", "of the belt between them"),
        "m": ("mass", "kg", "of the carriage with what it carries"),
        "m_r": ("reflected_mass", "kg", "of the rotor or rotors, felt along the belt"),
    },
    assumes=("the motor has no current, so that nothing holds its shaft", "damping is small"),
    source="Den Hartog, Mechanical Vibrations, ch. 2: two masses on one spring",
    example=Example(
        {"stiffness": "200 N/mm", "mass": "0.5 kg", "reflected_mass": "0.2 kg"},
        "188.3 Hz",
        2e-4,
        "by hand: 0.5 * 0.2 / 0.7 = 0.142857 kg; sqrt(200000 / 0.142857) = 1183.2 rad/s; "
        "1183.2 / 6.28319 = 188.31",
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

excitation_frequency = Formula(
    title="Frequency at which a running motor or belt shakes",
    equation="f = n * v",
    where={
        "f": ("frequency", "Hz", "of the shaking"),
        "n": ("order", "1/mm", "how often it happens in a length of belt travel"),
        "v": ("speed", "mm/s", "of the belt"),
    },
    assumes=("the speed is even",),
    source="Definition",
    example=Example(
        {"order": "5 1/mm", "speed": "40 mm/s"}, "200 Hz", 1e-12, "by hand: 5 * 40 = 200"
    ),
)

log_decrement = Formula(
    title="Logarithmic decrement of an oscillation that dies away",
    equation="delta = log(r) / n",
    where={
        "delta": ("log_decrement", "1", "natural logarithm of neighbouring amplitudes' ratio"),
        "r": ("amplitude_ratio", "1", "of the first amplitude over the last"),
        "n": ("cycles", "1", "whole cycles from the first to the last; a half cycle is 0.5"),
    },
    holds=("r > 1; amplitudes that do not die away have no decrement",),
    assumes=("damping is the same at large and small amplitudes, as dry friction's is not",),
    source="Rao, Mechanical Vibrations, free vibration with viscous damping",
    example=Example(
        {"amplitude_ratio": 8, "cycles": 3},
        "0.693147 1",
        1e-6,
        "by hand: log(8) = 3 log(2) = 3 * 0.693147",
    ),
)

damping_of_decrement = Formula(
    title="Damping from the logarithmic decrement",
    equation="z = delta / sqrt(4 * pi**2 + delta**2)",
    where={
        "z": ("damping", "1", "ratio to critical"),
        "delta": ("log_decrement", "1", "natural logarithm of neighbouring amplitudes' ratio"),
    },
    assumes=("damping grows with speed, as in oil; dry friction stops the swing earlier",),
    source="Rao, Mechanical Vibrations, free vibration with viscous damping",
    example=Example(
        {"log_decrement": 0.693147},
        "0.109652 1",
        2e-5,
        "by hand: sqrt(39.478418 + 0.480453) = 6.321303; 0.693147 / 6.321303 = 0.109652",
        brackets={"log_decrement": ("0.1 1", "2 1")},
    ),
)

half_power_damping = Formula(
    title="Damping from the half-power width of a resonance",
    equation="z = (f_2 - f_1) / (2 * f)",
    where={
        "z": ("damping", "1", "ratio to critical"),
        "f_2": ("upper_frequency", "Hz", "above the peak, where the amplitude is 0.707 of it"),
        "f_1": ("lower_frequency", "Hz", "below the peak, where the amplitude is 0.707 of it"),
        "f": ("frequency", "Hz", "of the peak"),
    },
    holds=("f_2 > f_1; the upper one lies above the peak",),
    assumes=(
        "damping is small: the result is 0.5 % high at 0.05, 2 % at 0.1",
        "amplitude is read, not power: of power the half is half",
    ),
    source="Rao, Mechanical Vibrations, quality factor and bandwidth",
    example=Example(
        {"upper_frequency": "52.5 Hz", "lower_frequency": "47.5 Hz", "frequency": "50 Hz"},
        "0.05 1",
        1e-9,
        "by hand: 5 / 100",
    ),
)

damped_period = Formula(
    title="Period of a damped oscillation",
    equation="t = 1 / (f * sqrt(1 - z**2))",
    where={
        "t": ("period", "s", "from crest to crest"),
        "f": ("frequency", "Hz", "of the mode without damping"),
        "z": ("damping", "1", "ratio to critical"),
    },
    holds=("z < 1; beyond critical damping nothing swings",),
    assumes=("damping grows with speed, as in oil",),
    source="Rao, Mechanical Vibrations, free vibration with viscous damping",
    example=Example(
        {"frequency": "50 Hz", "damping": 0.6},
        "25 ms",
        1e-9,
        "by hand: sqrt(1 - 0.36) = 0.8; 1 / (50 * 0.8) = 0.025",
    ),
)

critical_damping = Formula(
    title="Damping constant at which a mass on a spring just does not swing",
    equation="c = 2 * sqrt(k * m)",
    where={
        "c": ("damping_constant", "N*s/m", "force for each speed"),
        "k": ("stiffness", "N/mm", "of what holds the mass"),
        "m": ("mass", "kg", "of what moves"),
    },
    assumes=("damping grows with speed, as in oil",),
    source="Rao, Mechanical Vibrations, free vibration with viscous damping",
    example=Example(
        {"stiffness": "5.4 N/mm", "mass": "8 kg"},
        "415.69 N*s/m",
        1e-5,
        "by hand: sqrt(5400 * 8) = 207.846; twice that",
    ),
)

damping_constant = Formula(
    title="Damping constant of a mode",
    equation="c = 4 * pi * f * m * z",
    where={
        "c": ("damping_constant", "N*s/m", "force for each speed"),
        "f": ("frequency", "Hz", "of the mode without damping"),
        "m": ("mass", "kg", "of what moves"),
        "z": ("damping", "1", "ratio to critical"),
    },
    assumes=("damping grows with speed, as in oil",),
    source="Rao, Mechanical Vibrations, free vibration with viscous damping",
    example=Example(
        {"frequency": "50 Hz", "mass": "0.5 kg", "damping": 0.05},
        "15.708 N*s/m",
        1e-5,
        "by hand: 4 * 3.141593 * 50 = 628.3185; 628.3185 * 0.5 * 0.05 = 15.70796",
    ),
)

damping_ratio = Formula(
    title="Damping as a ratio to critical",
    equation="z = c / (2 * sqrt(k * m))",
    where={
        "z": ("damping", "1", "ratio to critical"),
        "c": ("damping_constant", "N*s/m", "force for each speed"),
        "k": ("stiffness", "N/mm", "of what holds the mass"),
        "m": ("mass", "kg", "of what moves"),
    },
    assumes=("damping grows with speed, as in oil",),
    source="Rao, Mechanical Vibrations, free vibration with viscous damping",
    example=Example(
        {"damping_constant": "40 N*s/m", "stiffness": "5.4 N/mm", "mass": "8 kg"},
        "0.096225 1",
        1e-5,
        "by hand: 40 / 415.692 = 0.096225",
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


@words.with_units(
    "Damping from amplitudes that die away", returns="1", amplitude_ratio="1", cycles="1"
)
def damping_from_decrement(*, amplitude_ratio: Any, cycles: Any) -> Any:
    """Tell the damping from two amplitudes and the whole cycles between them.

    Parameters
    ----------
    amplitude_ratio : plain number
        Of the two amplitudes, either over the other: 4 and 0.25 say the same.
    cycles : plain number
        Whole cycles from the first to the last: crest to crest, not crest to trough.

    Returns
    -------
    Quantity
        Ratio to critical damping, of the broadcast shape.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; both amplitudes are equal.

    Examples
    --------
    >>> print(damping_from_decrement(amplitude_ratio=0.6, cycles=1).round(4))
    0.081

    """
    fallen = np.abs(np.log(amplitude_ratio))
    if np.any(fallen == 0):
        raise ValueRefused(
            "Damping from amplitudes that die away: amplitude_ratio is 1 somewhere; without decay "
            "there is no damping to tell. Take amplitudes more cycles apart."
        )
    decrement = log_decrement(amplitude_ratio=np.exp(fallen), cycles=cycles)
    return damping_of_decrement(log_decrement=decrement).magnitude


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
