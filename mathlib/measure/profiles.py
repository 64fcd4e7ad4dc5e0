"""Beams measured by a knife edge, and along their axis: widths, waist and M²."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final

import attrs
import numpy as np

from mathlib import units, words
from mathlib.errors import MathlibError, ValueRefused
from mathlib.laser.widths import OF_GAUSSIAN
from mathlib.measure.measured import measured
from mathlib.units import Quantity
from mathlib.words import Word, with_units

_PLACE: Final = Word("position", "mm", "of the knife", "signed")
_ALONG: Final = Word("position", "mm", "along the beam", "signed")
_DIAMETER: Final = Word("diameter", "mm", "1/e² or four standard deviations, at each place")
_WAVE: Final = Word("wavelength", "nm", "of the light")
_POWERS: Final = (
    Word("power", "W", "behind the knife", "signed"),
    Word("power", "1", "behind the knife, over the whole", "signed"),
    Word("power", "V", "reading of the detector behind the knife", "signed"),
)
#: Misfit, as a share of the whole power, that a Gaussian beam may show besides noise.
_MISFIT: Final = 0.006
#: Planes that ISO 11146-1 asks for; half of them near the waist and half far from it.
_PLANES: Final = 10


@attrs.frozen(kw_only=True, eq=False)
class KnifeEdge:
    """What a knife edge says of a beam.

    ``radius`` is that of the best Gaussian, 1/e², and ``place`` its middle, each with its
    standard uncertainty. ``widths`` has the way of the knife by convention, "10-90" and "16-84",
    read off the record itself. ``gaussian`` says whether the record is that of a Gaussian beam,
    ``misfit`` how far it is from one, rms over the whole power.
    """

    radius: Any
    place: Any
    gaussian: bool
    widths: Mapping[str, Quantity]
    misfit: float
    notes: tuple[str, ...]


@with_units("Light past a knife", returns="1", distance=("mm", "signed"), radius="mm")
def knife_transmission(*, distance: Any, radius: Any) -> Any:
    """Part of a Gaussian beam that passes a knife edge.

    Parameters
    ----------
    distance : length, any shape
        Of the edge from where it covers half, positive where less is covered.
    radius : length, broadcast
        1/e² radius of the beam.

    Returns
    -------
    Quantity
        A plain number.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> print(knife_transmission(distance="0.05 mm", radius="0.1 mm"))  # one standard deviation
    0.8413

    """
    from scipy.special import ndtr

    return ndtr(2.0 * np.asarray(distance) / radius)


def knife_edge(*, position: Any, power: Any) -> KnifeEdge:
    """Work out a beam's radius from the power behind a knife that is moved across it.

    Parameters
    ----------
    position : length, shape (n,)
        Of the knife.
    power : power, voltage or plain number, shape (n,)
        Behind the knife, whether it covers or uncovers the beam.

    Returns
    -------
    KnifeEdge
        With ``.radius``, ``.gaussian`` and ``.widths``.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; fewer than six places; the beam is not covered on one side and free on
        the other.

    Examples
    --------
    >>> x = np.linspace(-0.2, 0.2, 21)
    >>> found = knife_edge(position=units.Q(x, "mm"),
    ...                    power=knife_transmission(distance=units.Q(x, "mm"), radius="0.1 mm"))
    >>> print(f"{found.radius.magnitude:.4f}", found.gaussian)
    0.1000 True

    """
    x = np.atleast_1d(words.base_value(_PLACE, position))
    y = np.atleast_1d(_power(power))
    if x.ndim != 1 or x.shape != y.shape or len(x) < 6:
        raise ValueRefused(
            f"Knife edge: one power for each of at least six places; got {y.shape} and {x.shape}."
        )
    order = np.argsort(x, kind="stable")
    x, y = x[order], y[order]
    ends = max(1, len(x) // 10)
    step = float(y[-ends:].mean() - y[:ends].mean())
    if not abs(step) > 0.5 * float(np.ptp(y)):
        raise ValueRefused(
            "Knife edge: the beam has to be covered at one end and free at the other."
        )
    rises = y if step > 0 else -y
    told, std, misfit, noise = _fitted(x, rises)
    base, height, place, radius = told
    level = (_levelled(rises) - base) / height
    notes = []
    if min(level[0], 1 - level[-1]) < -0.1 or max(level[0], 1 - level[-1]) > 0.05:
        notes.append("The knife did not reach both ends of the beam: the fit fills them in.")
    widths = {}
    for name, low, high in (("10-90", 0.1, 0.9), ("16-84", 0.16, 0.84)):
        first, last = (float(np.interp(part, level, x)) for part in (low, high))
        widths[name] = words.result(last - first, units.container("mm"))
    gaussian = misfit <= max(_MISFIT, 1.5 * noise)
    if not gaussian:
        notes.append(
            f"No Gaussian beam: the record leaves it by {misfit:.1%} of the power. Compare widths "
            "in one convention only."
        )
    return KnifeEdge(
        radius=measured(1e3 * radius, 1e3 * std[3], "mm"),
        place=measured(1e3 * place, 1e3 * std[2], "mm"),
        gaussian=bool(gaussian),
        widths=widths,
        misfit=misfit,
        notes=tuple(notes),
    )


def _power(power: Any) -> Any:
    faults = []
    for word in _POWERS:
        try:
            return words.base_value(word, power)
        except MathlibError as fault:
            faults.append(fault)
    raise faults[0]


def _levelled(y: Any) -> Any:
    """Take dips of the reading out, so that each level is passed once."""
    from scipy.optimize import isotonic_regression

    level = isotonic_regression(y).x
    return level + 1e-12 * np.ptp(level) * np.arange(len(level))


def _fitted(x: Any, y: Any) -> tuple[Any, Any, float, float]:
    """Fit base, height, place and radius of a knife's record; with spreads, misfit and noise."""
    from scipy.optimize import curve_fit
    from scipy.special import ndtr

    height = float(np.ptp(y))
    level = (_levelled(y) - y.min()) / height
    low, middle, high = (float(np.interp(part, level, x)) for part in (0.1, 0.5, 0.9))
    guess = max((high - low) / (2 * OF_GAUSSIAN["10-90"]), 1e-3 * float(np.ptp(x)))

    def passed(at: Any, base: float, full: float, place: float, radius: float) -> Any:
        return base + full * ndtr(2.0 * (at - place) / radius)

    start = (float(y.min()), height, middle, guess)
    scale = (height, height, guess, guess)
    try:
        told, spread = curve_fit(passed, x, y, start, x_scale=scale, maxfev=2000, method="trf")
    except RuntimeError:
        raise ValueRefused("Knife edge: no Gaussian beam comes near this record.") from None
    told[3] = abs(told[3])
    left = (y - passed(x, *told)) / told[1]
    misfit = float(np.sqrt((left**2).sum() / (len(x) - 4)))
    noise = float(np.std(np.diff(left, 2)) / math.sqrt(6.0))
    return told, np.sqrt(np.diag(spread)), misfit, noise


@attrs.frozen(kw_only=True, eq=False)
class Caustic:
    """Waist diameter and its place, M², Rayleigh length and full divergence of one axis.

    Each but the divergence has its standard uncertainty; ``notes`` say what speaks against them.
    """

    waist: Any
    place: Any
    beam_quality: Any
    rayleigh_length: Any
    divergence: Quantity
    notes: tuple[str, ...]


def caustic(*, position: Any, diameter: Any, wavelength: Any) -> Caustic:
    """Work out waist and M² from diameters along the beam (ISO 11146-1).

    The square of the diameter is a parabola of the place; it is fitted so that diameters, not
    their squares, are met in the sense of least squares.

    Parameters
    ----------
    position, diameter : lengths, shape (n,)
        Places along the beam, and the 1/e² or second-moment diameter at each.
    wavelength : length
        Of the light.

    Returns
    -------
    Caustic
        With ``.waist``, ``.place``, ``.beam_quality``, ``.rayleigh_length`` and ``.notes``.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; fewer than four places; diameters that do not turn round a waist.

    Examples
    --------
    >>> z = np.linspace(-9, 9, 13)
    >>> found = caustic(position=units.Q(z, "mm"), wavelength="1 um",
    ...                 diameter=units.Q(0.1 * np.sqrt(1 + (z / 4) ** 2), "mm"))
    >>> print(f"{found.waist.magnitude:.3f} {found.beam_quality.magnitude:.4f}")
    0.100 1.9635

    """
    z = np.atleast_1d(words.base_value(_ALONG, position))
    d = np.atleast_1d(words.base_value(_DIAMETER, diameter))
    light = float(words.base_value(_WAVE, wavelength))
    if z.ndim != 1 or z.shape != d.shape or len(z) < 4:
        raise ValueRefused(
            f"Caustic: one diameter for each of at least four places; got {d.shape} and {z.shape}."
        )
    told, std = _hyperbola(z, d)
    waist, place, length = told
    quality = math.pi * waist**2 / (4 * light * length)
    quality_std = quality * math.hypot(2 * std[0, 0] ** 0.5 / waist, std[2, 2] ** 0.5 / length)
    tie = 2 * 2 * std[0, 2] / (waist * length)
    quality_std = math.sqrt(max(quality_std**2 - quality**2 * tie, 0.0))
    return Caustic(
        waist=measured(1e3 * waist, 1e3 * std[0, 0] ** 0.5, "mm"),
        place=measured(1e3 * place, 1e3 * std[1, 1] ** 0.5, "mm"),
        beam_quality=measured(quality, quality_std, "1"),
        rayleigh_length=measured(1e3 * length, 1e3 * std[2, 2] ** 0.5, "mm"),
        divergence=words.result(waist / length, units.container("mrad")),
        notes=_against(np.abs(z - place) / length, quality),
    )


def _hyperbola(z: Any, d: Any) -> tuple[Any, Any]:
    """Waist, place and Rayleigh length with their covariance."""
    from scipy.optimize import curve_fit

    shift, wide = float(z.mean()), float(np.ptp(z))
    if not wide > 0:
        raise ValueRefused("Caustic: all places are the same.")
    c, b, a = np.polyfit((z - shift) / wide, d**2, 2, w=1 / d)
    flat = (
        "Caustic: these diameters turn round no waist: measure on both sides of the focus, and far "
        "from it."
    )
    if not c > 1e-6 * float((d**2).mean()):
        raise ValueRefused(flat)
    place = shift - wide * b / (2 * c)
    waist = math.sqrt(max(a - b * b / (4 * c), (0.3 * float(d.min())) ** 2))
    start = (waist, place, waist * wide / math.sqrt(c))

    def width(at: Any, narrow: float, middle: float, length: float) -> Any:
        return narrow * np.sqrt(1 + ((at - middle) / length) ** 2)

    scale = (waist, wide, start[2])
    try:
        told, spread = curve_fit(width, z, d, start, x_scale=scale, maxfev=4000, method="trf")
    except RuntimeError:
        raise ValueRefused(flat) from None
    told = np.array([abs(told[0]), told[1], abs(told[2])])
    if not np.all(np.isfinite(spread)):
        raise ValueRefused(flat)
    return told, spread


def _against(away: Any, quality: float) -> tuple[str, ...]:
    """Say what the places, in Rayleigh lengths from the waist, leave open."""
    notes = []
    if quality < 1:
        notes.append(
            f"M² of {quality:.2f} is less than any beam can have: radius was taken for diameter, a "
            "wrong wavelength, or places too near the waist. Do not use it."
        )
    if not np.any(away > 2):
        notes.append("No place lies beyond two Rayleigh lengths: the divergence is guessed.")
    elif 3 * np.sum(away > 2) < len(away):
        notes.append("Fewer than a third of the places lie beyond two Rayleigh lengths.")
    if 3 * np.sum(away < 1) < len(away):
        notes.append("Fewer than a third of the places lie within one Rayleigh length.")
    if len(away) < _PLANES:
        notes.append(f"ISO 11146-1 asks for {_PLANES} places or more; there are {len(away)}.")
    return tuple(notes)
