"""How much energy lands: along a line, over an area, in a point. Diameters are 1/e².

What pulses add is in ``modulation``, what the ends of lines do in ``line_ends``, and the whole
surface in ``surface``.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from mathlib.formula import Example, Formula
from mathlib.laser.line_ends import end_overdose as end_overdose
from mathlib.words import with_units

_POWER = ("power", "W", "of light that reaches the work")
_SPEED = ("speed", "mm/s", "of the spot over the work")
_SPACING = ("line_spacing", "mm", "from one line to the next")
_ACROSS = ("diameter", "mm", "1/e² width of the spot across the line")
_GAUSSIAN = "the spot is Gaussian across the line; a diode's bar may be flat with steep sides"
_STEADY = "power and speed are constant; near the ends of a line they are not"

line_energy = Formula(
    title="Energy for each length of line",
    equation="E_l = P / v",
    where={
        "E_l": ("line_energy", "J/mm", "that lands on the line"),
        "P": _POWER,
        "v": _SPEED,
    },
    assumes=(_STEADY,),
    source="Definition",
    example=Example(
        {"power": "10 W", "speed": "50 mm/s"}, "0.2 J/mm", 1e-12, "by hand: 10 / 50 = 0.2"
    ),
)

areal_dose = Formula(
    title="Mean energy for each area of a filled raster",
    equation="H = P / (v * s)",
    where={
        "H": ("areal_dose", "J/mm^2", "averaged over the lines"),
        "P": _POWER,
        "v": _SPEED,
        "s": _SPACING,
    },
    assumes=(
        _STEADY,
        "the lines are evenly spaced; the spot's size does not enter the mean",
    ),
    source="Definition: line energy over line spacing",
    example=Example(
        {"power": "25 mW", "speed": "31.25 mm/s", "line_spacing": "0.8 mm"},
        "100 mJ/cm^2",
        1e-9,
        "by hand: 0.025 / (31.25 * 0.8) = 0.001 J/mm^2 = 100 mJ/cm^2",
    ),
)

dwell = Formula(
    title="Time for which the spot covers a point",
    equation="t = d / v",
    where={
        "t": ("dwell", "ms", "on the middle of the line"),
        "d": ("diameter", "mm", "1/e² diameter of the spot"),
        "v": _SPEED,
    },
    assumes=("the spot is round, or d is its width along the travel",),
    source="Definition",
    example=Example(
        {"diameter": "0.1 mm", "speed": "100 mm/s"}, "1 ms", 1e-12, "by hand: 0.1 / 100 s = 1 ms"
    ),
)

line_overlap = Formula(
    title="Overlap of neighbouring lines",
    equation="o = 1 - s / d",
    where={
        "o": (
            "overlap",
            "1",
            "part of the spot that the next line covers; below 0 a gap",
            "signed",
        ),
        "s": _SPACING,
        "d": ("diameter", "mm", "1/e² diameter of the spot"),
    },
    assumes=("the width counted is the 1/e² diameter; the burnt width may differ",),
    source="Definition",
    example=Example(
        {"line_spacing": "0.06 mm", "diameter": "0.08 mm"},
        "0.25 1",
        1e-12,
        "by hand: 1 - 0.06 / 0.08",
    ),
)


peak_line_dose = Formula(
    title="Dose in the middle of a single line",
    equation="H_0 = 2 * sqrt(2 / pi) * P / (v * d)",
    where={
        "H_0": ("peak_dose", "J/mm^2", "in the middle of the line"),
        "P": _POWER,
        "v": _SPEED,
        "d": _ACROSS,
    },
    assumes=(_STEADY, _GAUSSIAN, "the laser is on all the time, or its pulses run together"),
    source="Peak irradiance of a Gaussian beam, integrated while it passes",
    example=Example(
        {"power": "10 W", "speed": "100 mm/s", "diameter": "0.1 mm"},
        "1.595769 J/mm^2",
        1e-6,
        "by hand: 2 * 0.7978846 * 10 / (100 * 0.1) = 1.5957691",
    ),
)

dose_beside_line = Formula(
    title="Dose beside the middle of a single line",
    equation="H = H_0 * exp(-8 * (y / d)**2)",
    where={
        "H": ("dose", "J/mm^2", "at that distance from the middle"),
        "H_0": ("peak_dose", "J/mm^2", "in the middle of the line"),
        "y": ("offset", "mm", "from the middle of the line, either way", "signed"),
        "d": _ACROSS,
    },
    assumes=(_STEADY, _GAUSSIAN),
    source="A Gaussian beam that passes leaves a Gaussian across its line",
    example=Example(
        {"peak_dose": "1.595769 J/mm^2", "offset": "0.05 mm", "diameter": "0.1 mm"},
        "0.2159639 J/mm^2",
        1e-6,
        "by hand: at the 1/e² radius, 1.595769 * exp(-2) = 1.595769 * 0.1353353",
        brackets={"offset": ("0 mm", "1 mm")},
    ),
)

marked_width = Formula(
    title="Width over which a line passes a threshold",
    equation="W = d * sqrt(log(H_0 / H_t) / 2)",
    where={
        "W": ("mark_width", "mm", "of the marked line", "zero"),
        "d": _ACROSS,
        "H_0": ("peak_dose", "J/mm^2", "in the middle of the line"),
        "H_t": ("threshold_dose", "J/mm^2", "from which on the material marks"),
    },
    holds=("H_0 >= H_t; below its threshold the material shows no line",),
    assumes=(
        _GAUSSIAN,
        "the mark depends on the dose alone, and not on how fast it comes",
    ),
    source="Liu, Optics Letters 7 (1982) 196, for a beam that moves",
    example=Example(
        {"diameter": "0.1 mm", "peak_dose": "1.6 J/mm^2", "threshold_dose": "0.4 J/mm^2"},
        "0.083255 mm",
        1e-5,
        "by hand: log(4) = 1.386294; half of it 0.693147; its root 0.832555; times 0.1",
    ),
)

lines_over_a_point = Formula(
    title="Lines of a raster that cover a point",
    equation="n = d / s",
    where={
        "n": ("lines", "1", "whose 1/e² widths lie over one point, on average"),
        "d": _ACROSS,
        "s": _SPACING,
    },
    assumes=("the width counted is the 1/e² diameter",),
    source="Definition",
    example=Example(
        {"diameter": "0.15 mm", "line_spacing": "0.0254 mm"},
        "5.905512 1",
        1e-6,
        "by hand: 0.15 / 0.0254 = 5.905512",
    ),
)

ripple_first_harmonic = Formula(
    title="Ripple of a raster, by its first harmonic",
    equation="r = 4 * exp(-pi**2 * d**2 / (8 * s**2))",
    where={
        "r": ("ripple", "1", "peak to valley over the mean"),
        "d": _ACROSS,
        "s": _SPACING,
    },
    assumes=(
        _GAUSSIAN,
        "lines lie no farther apart than the 1/e² diameter: there it errs by less than 1e-4 of "
        "the mean; beyond, take the sum",
    ),
    source="Fourier series of a row of Gaussian lines, its first term",
    example=Example(
        {"diameter": "0.1 mm", "line_spacing": "0.06 mm"},
        "0.129944 1",
        1e-5,
        "by hand: 9.8696044 * 0.01 / (8 * 0.0036) = 3.4269460; 4 * 0.0324860 = 0.129944",
    ),
)

diameter_across = Formula(
    title="Width of an elliptical spot across its direction of travel",
    equation="d = sqrt((d_x * sin(t))**2 + (d_y * cos(t))**2)",
    where={
        "d": ("diameter", "mm", "1/e² width across the line that it draws"),
        "d_x": ("diameter_x", "mm", "1/e² diameter of the spot along x"),
        "d_y": ("diameter_y", "mm", "1/e² diameter of the spot along y"),
        "t": ("direction", "deg", "of travel, counted from x", "signed"),
    },
    assumes=(
        "the axes of the spot lie along x and y, and the head does not turn; which belt pulls "
        "does not enter",
        _GAUSSIAN,
    ),
    source="An elliptical Gaussian, summed along the direction of travel",
    example=Example(
        {"diameter_x": "0.06 mm", "diameter_y": "0.12 mm", "direction": "30 deg"},
        "0.1081665 mm",
        1e-6,
        "by hand: (0.06 * 0.5)**2 = 0.0009; (0.12 * 0.8660254)**2 = 0.0108; sqrt(0.0117)",
        brackets={"direction": ("1 deg", "89 deg")},
    ),
)

diameter_with_travel = Formula(
    title="Width of an elliptical spot along its direction of travel",
    equation="d = d_x * d_y / sqrt((d_x * sin(t))**2 + (d_y * cos(t))**2)",
    where={
        "d": ("diameter", "mm", "1/e² width through the middle of the spot, along the line"),
        "d_x": ("diameter_x", "mm", "1/e² diameter of the spot along x"),
        "d_y": ("diameter_y", "mm", "1/e² diameter of the spot along y"),
        "t": ("direction", "deg", "of travel, counted from x", "signed"),
    },
    assumes=(
        "the axes of the spot lie along x and y, and the head does not turn",
        "it is what dwell, pulses for each spot and ends of lines ask for; the dose of a line "
        "asks for the width across",
        _GAUSSIAN,
    ),
    source="Chord of the 1/e² ellipse through its middle",
    example=Example(
        {"diameter_x": "0.06 mm", "diameter_y": "0.12 mm", "direction": "30 deg"},
        "0.06656402 mm",
        1e-6,
        "by hand: 0.06 * 0.12 / 0.1081665, the width across at 30 deg",
        brackets={
            "direction": ("1 deg", "89 deg"),
            "diameter_x": ("0.01 mm", "0.5 mm"),
            "diameter_y": ("0.1 mm", "0.5 mm"),
        },
    ),
)

period_on_work = Formula(
    title="Distance on the work for each period of the modulation",
    equation="p = v / f",
    where={
        "p": ("period_on_work", "mm", "from one pulse to the next"),
        "v": _SPEED,
        "f": ("frequency", "Hz", "of the modulation, whole periods"),
    },
    assumes=("speed and frequency are constant",),
    source="Definition",
    example=Example(
        {"speed": "50 mm/s", "frequency": "20 Hz"}, "2.5 mm", 1e-12, "by hand: 50 / 20"
    ),
)


@with_units("Ripple of a raster", returns="1", diameter="mm", line_spacing="mm")
def ripple(*, diameter: Any, line_spacing: Any) -> Any:
    """Unevenness of a filled raster across its lines: peak to valley over the mean.

    The exact sum of Gaussian lines; ``ripple_first_harmonic`` is its first term.

    Parameters
    ----------
    diameter : length, any shape
        1/e² diameter of the spot, across the lines.
    line_spacing : length, broadcast
        From one line to the next.

    Returns
    -------
    Quantity
        A plain number; 0.03 at a spacing of half the diameter, above 1 near a whole one.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(ripple(diameter="0.1 mm", line_spacing="0.05 mm"))
    0.02877

    """
    return row_ripple(np.asarray(line_spacing) / np.asarray(diameter), 0.0)


def row_ripple(spacing: Any, lit: Any) -> Any:
    """Peak to valley over the mean of a row of equal strokes, seen through a Gaussian spot.

    ``spacing`` is that of the strokes over the 1/e² diameter, ``lit`` the part of it that each
    stroke covers: 0 for lines that are thin before the spot widens them. Plain numbers, any shape.

    >>> f"{row_ripple(0.5, 0.0):.4f}"
    '0.0288'
    """
    near = np.minimum(spacing, 2.0)
    # Strokes that run together are summed by their harmonics, whose mean is 1; even ones cancel
    # between peak and valley. Of strokes farther apart a point sees its own or the two beside it.
    # At two diameters both agree to 1e-13.
    close = 2 * sum(_harmonic(k, near, lit) for k in (1, 3, 5, 7, 9, 11))
    if np.all(np.asarray(spacing) <= 2.0):
        return close
    far = np.maximum(spacing, 2.0)
    peak = _stroke(0.0, far, lit) + 2 * _stroke(1.0, far, lit)
    valley = 2 * (_stroke(0.5, far, lit) + _stroke(1.5, far, lit))
    return np.where(np.asarray(spacing) > 2.0, peak - valley, close)


def row_valley(spacing: Any, lit: Any) -> Any:
    """Dose midway between two strokes over the mean; as ``row_ripple``.

    >>> f"{row_valley(0.5, 0.0):.4f}"
    '0.9856'
    """
    near, far = np.minimum(spacing, 2.0), np.maximum(spacing, 2.0)
    close = 1 + sum((-1) ** k * _harmonic(k, near, lit) for k in range(1, 12))
    apart = 2 * (_stroke(0.5, far, lit) + _stroke(1.5, far, lit))
    return np.where(np.asarray(spacing) > 2.0, apart, close)


def _harmonic(k: int, spacing: Any, lit: Any) -> Any:
    """Amplitude of one harmonic over the mean."""
    return 2 * np.sinc(k * lit) * np.exp(-((np.pi * k / spacing) ** 2) / 8)


def _stroke(place: float, spacing: Any, lit: Any) -> Any:
    """Dose over the mean from one stroke whose middle is ``place`` spacings away."""
    from scipy.special import erf

    away, root = place * spacing, np.sqrt(8.0)
    thin = np.asarray(lit) < 1e-6
    half = np.where(thin, 1.0, lit) * spacing / 2
    wide = (erf(root * (away + half)) - erf(root * (away - half))) / (2 * np.where(thin, 1.0, lit))
    line = spacing * np.sqrt(8 / np.pi) * np.exp(-8 * np.minimum(away, 1e3) ** 2)
    return np.where(thin, line, wide)
