"""Spots measured: by marks, which also tell the threshold of a material, by a knife, and along."""

from __future__ import annotations

import math
from typing import Any, Final

import attrs
import numpy as np

from mathlib import words
from mathlib.errors import MathlibError, ValueRefused
from mathlib.measure.measured import measured
from mathlib.measure.profiles import caustic as caustic
from mathlib.measure.profiles import knife_edge as knife_edge
from mathlib.measure.profiles import knife_transmission as knife_transmission
from mathlib.words import Word

_WIDTH: Final = Word("width", "um", "diameter of each mark, or width of each line")
_PULSE: Final = Word("energy", "uJ", "of each pulse")
_LINE: Final = Word("energy", "J/mm", "on each length of line, power over speed")


@attrs.frozen(kw_only=True, eq=False)
class ThresholdPlot:
    """What widths of marks say: radius and threshold, each with its standard uncertainty.

    ``radius`` is 1/e². ``threshold`` is the peak fluence from which on a mark shows, ``energy``
    the energy, of a pulse or on each length of line, that just reaches it. ``scatter`` is that of
    the squared widths about the straight line, as a share of their mean.
    """

    radius: Any
    threshold: Any
    energy: Any
    scatter: float
    notes: tuple[str, ...]


def threshold_plot(*, energy: Any, width: Any) -> ThresholdPlot:
    """Fit a straight line to squared widths over the logarithm of energy.

    A Gaussian beam of radius w marks where its fluence exceeds a threshold, so that
    D² = 2·w²·ln(E/E_th): the slope tells the radius, the intercept the threshold. For lines the
    energy is that on each length, if the mark depends on dose; vary power at one speed, or see
    whether both ways agree.

    Parameters
    ----------
    energy : energy or energy over length, shape (n,)
        Of single pulses, or power over speed of lines.
    width : length, shape (n,)
        Diameters of the marks or widths of the lines; zero where nothing showed, which is left
        out.

    Returns
    -------
    ThresholdPlot
        ``.radius``, ``.threshold`` in J/cm² (peak, which is twice the mean over π·w²) and
        ``.energy``, with ``.std`` each.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; fewer than three marks, or all of one energy; widths that do not grow.

    Examples
    --------
    >>> found = threshold_plot(energy=["25 uJ", "60 uJ", "250 uJ"],
    ...                        width=["17.21 um", "43.27 um", "66.64 um"])
    >>> print(f"{found.radius.magnitude:.1f}", f"{found.threshold.magnitude:.2f}")
    30.0 1.50

    """
    try:
        given, line = words.base_value(_PULSE, energy), False
    except MathlibError as fault:
        try:
            given, line = words.base_value(_LINE, energy), True
        except MathlibError:
            raise fault from None
    wide = words.base_value(Word("width", "um", _WIDTH.about, "zero"), width)
    given, wide = np.atleast_1d(given), np.atleast_1d(wide)
    if given.ndim != 1 or given.shape != wide.shape:
        raise ValueRefused(
            f"Threshold plot: one width for each energy; got {wide.shape} and {given.shape}."
        )
    seen = wide > 0
    notes = () if seen.all() else (f"{int((~seen).sum())} marks of no width were left out.",)
    x, y = np.log(given[seen]), wide[seen] ** 2
    if len(x) < 3 or np.ptp(x) < 1e-6:
        raise ValueRefused("Threshold plot: three marks that show, at several energies, are least.")
    middle = x.mean()
    spread = float(((x - middle) ** 2).sum())
    slope = float(((x - middle) * y).sum()) / spread
    if slope <= 0:
        raise ValueRefused(
            "Threshold plot: widths do not grow with energy, so no threshold can be told. Was the "
            "order of the rows kept?"
        )
    left = y - y.mean() - slope * (x - middle)
    square = float((left**2).sum()) / (len(x) - 2)
    slope_std = math.sqrt(square / spread)
    reach = middle - y.mean() / slope  # the logarithm of the energy at which the width is nothing
    reach_std = math.sqrt(square / slope**2 * (1 / len(x) + (y.mean() / slope) ** 2 / spread))
    radius = math.sqrt(slope / 2)
    radius_std = 0.5 * radius * slope_std / slope
    at = math.exp(reach)
    peak = math.sqrt(2 / math.pi) * at / radius if line else 2 * at / (math.pi * radius**2)
    # ln F = reach - p ln(slope): its two parts are tied, for a steeper line meets zero later
    power = 0.5 if line else 1.0
    tie = square * (y.mean() / slope) / (slope * spread)
    share = math.sqrt(
        max(reach_std**2 + (power * slope_std / slope) ** 2 - 2 * power * tie / slope, 0.0)
    )
    unit, factor = ("J/mm", 1e-3) if line else ("uJ", 1e6)
    return ThresholdPlot(
        radius=measured(1e6 * radius, 1e6 * radius_std, "um"),
        threshold=measured(1e-4 * peak, 1e-4 * peak * share, "J/cm^2"),
        energy=measured(factor * at, factor * at * reach_std, unit),
        scatter=math.sqrt(square) / float(y.mean()),
        notes=notes,
    )
