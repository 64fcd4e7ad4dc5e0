"""Frequency and damping of a mode that is shaken at random, from the logarithm of its spectrum.

The periodogram of noise has, at each frequency, an exponential distribution about the spectrum;
the likelihood of that (Whittle) is fitted, over bins that are averaged where the spectrum is
smooth. Steady tones such as hum stand in single bins and are taken out first.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

BINS: Final = 800  # at most, after averaging
_ROUNDS: Final = 60  # of Fisher scoring
_LINES: Final = 8  # searches for tones
_CLEAR: Final = 14.0  # gain in log likelihood that shows a mode above a smooth background
_PIECES: Final = 8  # of a record, each with its own frequency
_SECOND: Final = 10.0  # gain by a second mode that is worth a flag


@dataclass
class NoiseFit:
    """Frequency in Hz, damping ratio, covariance of (ln f, ln damping), and what is odd."""

    frequency: float
    damping: float
    covariance: Any
    gain: float  # of log likelihood over a smooth background
    misfit: float  # of the spectrum, in standard deviations
    flags: list[str] = field(default_factory=list)
    tones: list[float] = field(default_factory=list)


def averaged(frequency: Any, power: Any, size: int) -> tuple[Any, Any, Any]:
    """Means of neighbouring bins: frequency, power, number in each."""
    size = max(1, size)
    n = len(power) // size * size
    f = frequency[:n].reshape(-1, size).mean(axis=1)
    p = power[:n].reshape(-1, size).mean(axis=1)
    return f, p, np.full(len(p), float(size))


def log_model(f: Any, theta: Any, centre: float) -> tuple[Any, Any]:
    """Logarithm of the spectrum and its slopes.

    theta: for each mode ln(area), ln(f0), ln(damping); then the tilt of what shakes it, and
    ln(floor). A mode has area / ((1 - r^2)^2 + (2 d r)^2), r = f / f0.
    """
    log_f = np.log(f / centre)
    tilt = np.exp(theta[-2] * log_f)
    f2 = f * f
    modes = (len(theta) - 2) // 3
    slopes = np.zeros((len(theta), len(f)))
    slopes[-1] = np.exp(theta[-1])
    total = slopes[-1].copy()
    for m in range(modes):
        gain, lnf, lnd = theta[3 * m : 3 * m + 3]
        r2 = f2 * np.exp(-2 * lnf)
        d2 = np.exp(2 * lnd)
        below = (1 - r2) ** 2 + 4 * d2 * r2
        part = np.exp(gain) * d2 * tilt / below
        total += part
        share = r2 * part / below
        slopes[3 * m] = part
        slopes[3 * m + 1] = share * (4 * r2 + (8 * d2 - 4))
        slopes[3 * m + 2] = 2 * part - 8 * d2 * share
        slopes[-2] += part
    slopes[-2] *= log_f
    slopes /= total
    return np.log(total), slopes


def whittle(
    f: Any,
    power: Any,
    weight: Any,
    start: Any,
    centre: float,
    rounds: int = _ROUNDS,
    left: float = 2e-4,
) -> tuple[Any, float, Any]:
    """Fit by Fisher scoring: parameters, log likelihood, information matrix.

    It ends when no more than ``left`` of log likelihood seems to be gained by another step.

    A weak prior (tilt 0 with standard deviation 4, damping below one) keeps what the data do not
    tell from running away.
    """
    theta = np.array(start, dtype=float)
    tilt = len(theta) - 2
    prior = np.zeros((len(theta), len(theta)))
    prior[tilt, tilt] = 1 / 16.0

    def at(where: Any) -> tuple[float, Any, Any]:
        log_s, slopes = log_model(f, where, centre)
        with np.errstate(over="ignore", invalid="ignore"):
            ratio = power * np.exp(-log_s)
            told = -float(weight @ (log_s + ratio)) - float(where[tilt]) ** 2 / 32.0
        return (told if np.isfinite(told) else -np.inf), ratio, slopes

    best, ratio, slopes = at(theta)
    trust = 1e-3
    for _ in range(rounds):
        weighted = slopes * weight
        damped = weighted @ slopes.T + prior
        gradient = weighted @ (ratio - 1.0) - prior @ theta
        damped.flat[:: len(theta) + 1] += trust * damped.diagonal() + 1e-9
        try:
            step = np.linalg.solve(damped, gradient)
        except np.linalg.LinAlgError:
            break
        if float(gradient @ step) < left:
            break
        new = theta.copy()
        new += np.clip(step, -0.7, 0.7)
        new[2:-2:3] = np.clip(new[2:-2:3], np.log(1e-4), np.log(0.7))
        found = at(new)
        if found[0] >= best:
            theta, (best, ratio, slopes) = new, found
            trust = max(trust / 5, 1e-9)
        else:
            trust *= 8
            if trust > 1e8:
                break
    return theta, best, (slopes * weight) @ slopes.T + prior


def background(f: Any, power: Any, weight: Any, centre: float) -> float:
    """Log likelihood of a smooth spectrum: a power of frequency, and a curve in it."""
    x = np.log(f / centre)
    design = np.stack([np.ones_like(x), x, x * x])
    theta = np.array([np.log(np.mean(power)), 0.0, 0.0])
    best = -np.inf
    for _ in range(50):
        ratio = power * np.exp(-np.clip(theta @ design, -700, 700))
        told = float(-np.sum(weight * (theta @ design + ratio)))
        if told < best + 1e-6:
            break
        best = told
        gradient = design @ (weight * (ratio - 1.0))
        theta = theta + np.clip(np.linalg.solve((design * weight) @ design.T, gradient), -1, 1)
    return best


def _median(values: Any) -> float:
    """Median of a few values, without the checks that take NumPy longer than the sorting."""
    ordered = np.sort(values)
    return float(ordered[len(ordered) // 2] + ordered[(len(ordered) - 1) // 2]) / 2


def look(frequency: Any, power: Any) -> tuple[float, float]:
    """Frequency of the clearest peak, and its width as a rough damping ratio.

    Medians of neighbours stand against single tones; the peak is what rises most over the median
    of the octaves about it.
    """
    size = max(1, len(power) // 6000)
    f, p, _ = averaged(frequency, power, size)
    edges = np.unique(
        np.searchsorted(f, np.geomspace(f[0], f[-1] * 1.0001, 160 if len(f) > 400 else 60))
    )
    first = np.maximum(0, np.minimum(edges[:-1], edges[1:] - 5))
    last = np.minimum(len(f), np.maximum(edges[1:], edges[:-1] + 5))
    sums = np.concatenate([[0.0], np.cumsum(np.log(f))])
    x = (sums[last] - sums[first]) / (last - first)
    middle = np.array([_median(p[a:b]) for a, b in zip(first, last, strict=True)])
    y = np.log(middle / np.log(2) + 1e-300)
    around = np.array([_median(y[np.abs(x - at) < 0.9]) for at in x])
    top = int(np.argmax(y - around))
    f0 = float(np.exp(x[top]))
    rise = max(y[top] - around[top], 0.5)
    half = y > y[top] - min(np.log(2.0) + 0.2, rise / 2)
    left = top
    while left > 0 and half[left - 1]:
        left -= 1
    right = top
    while right < len(y) - 1 and half[right + 1]:
        right += 1
    width = (x[right] - x[left]) if right > left else x[min(top + 1, len(x) - 1)] - x[top]
    return f0, float(np.clip(0.5 * width, 0.006, 0.2))


def fit(frequency: Any, power: Any, duration: float) -> NoiseFit:
    """Fit the clearest mode of a periodogram."""
    f0, rough = look(frequency, power)
    tones: list[float] = []
    keep = np.ones(len(power), bool)
    result = _within(frequency, power, keep, f0, rough)
    for _ in range(_LINES):
        theta, _, _, centre, band = result
        log_s, _ = log_model(frequency[band], theta, centre)
        ratio = np.where(keep[band], power[band] * np.exp(-log_s), 0.0)
        sure = np.log(len(ratio)) + 7.0
        # The strongest first: while the fit is drawn to them the mode itself looks like lines.
        lines = np.flatnonzero(ratio > max(sure, float(ratio.max()) / 4))
        if not len(lines):
            break
        for n in lines:
            at = int(np.flatnonzero(band)[0]) + int(n)
            reach = 2 + int(np.sqrt(ratio[n] / sure))
            keep[max(0, at - reach) : at + reach + 1] = False
            if not any(abs(frequency[at] - tone) < 6 / duration + 0.05 for tone in tones):
                tones.append(float(frequency[at]))
        # Anew from where the medians saw the peak: the fit may have been drawn to a line.
        result = _within(frequency, power, keep, f0, rough)
    return _told(frequency, power, keep, result, tones)


_Result = tuple[Any, float, tuple[Any, Any, Any], float, Any]


def _within(frequency: Any, power: Any, keep: Any, f0: float, rough: float) -> _Result:
    """Fit in a band about the peak; again when the peak has moved or is narrower than thought."""
    made: _Result | None = None
    for _ in range(3):
        reach = float(np.clip(12 * rough, 0.2, 0.5))
        band = (frequency > f0 * (1 - reach)) & (frequency < f0 * (1 + reach))
        inside = np.flatnonzero(band)
        band[inside[0] : inside[-1] + 1] = True
        kept = band & keep
        spacing = float(frequency[1] - frequency[0])
        size = max(1, min(len(inside) // 200, int(f0 * rough / (6 * spacing))))
        size = max(size, len(inside) // BINS)
        bins = averaged(frequency[kept], power[kept], size)
        level = float(np.median(bins[1]) / np.log(2)) + 1e-300
        peak = float(bins[1].max()) + 1e-300
        tries = []
        for damping in (rough, 3 * rough):
            start = [np.log(peak) + np.log(4.0), np.log(f0), np.log(damping), 0.0,
                     np.log(0.3 * min(level, bins[1].min() * 3 + 1e-3 * level))]  # fmt: skip
            tries.append(whittle(*bins, start, f0))
        theta, value, _ = max(tries, key=lambda t: t[1])
        made = (theta, value, bins, f0, band)
        new_f, new_d = float(np.exp(theta[1])), float(np.exp(theta[2]))
        if not frequency[inside[0]] < new_f < frequency[inside[-1]]:
            break
        if abs(new_f / f0 - 1) < 0.03 and 0.6 < new_d / rough < 1.7:
            break
        f0, rough = new_f, float(np.clip(new_d, 0.002, 0.3))
    assert made is not None
    return made


def _told(frequency: Any, power: Any, keep: Any, result: _Result, tones: list[float]) -> NoiseFit:
    theta, value, bins, centre, _ = result
    _, _, information = whittle(*bins, theta, centre)
    covariance = np.linalg.pinv(information)[1:3, 1:3]
    f, p, weight = bins
    log_s, _ = log_model(f, theta, centre)
    ratio = p * np.exp(-log_s)
    flags: list[str] = []
    # The spectrum against the model, over some forty parts of the band.
    group = max(1, len(f) // 40)
    n = len(f) // group * group
    z = ((ratio[:n] - 1) * weight[:n]).reshape(-1, group).sum(axis=1)
    z = z / np.sqrt(weight[:n].reshape(-1, group).sum(axis=1))
    degrees = max(1, len(z) - 5)
    misfit = float((np.sum(z * z) - degrees) / np.sqrt(2.0 * degrees))
    gain = value - background(f, p, weight, centre)
    if not f[0] < np.exp(theta[1]) < f[-1]:
        gain = 0.0  # it ran out of the band: a slope of the background, and no mode
    second = _second_mode(bins, theta, value, centre)
    if second is not None:
        flags.append(f"another mode near {second:.3g} Hz")
    if misfit > 4.0:
        flags.append("the spectrum does not have the shape of one mode")
        covariance = covariance * max(1.0, float(np.sum(z * z)) / degrees)
    return NoiseFit(
        float(np.exp(theta[1])), float(np.exp(theta[2])), covariance, gain, misfit, flags, tones
    )


def _second_mode(
    bins: tuple[Any, Any, Any], theta: Any, value: float, centre: float
) -> float | None:
    """Frequency of a second mode where the data ask for one."""
    f = bins[0]
    found: tuple[float, float] | None = None
    damping = float(np.exp(theta[2]))
    near = (1 - 1.5 * damping, 1 + 1.5 * damping, 0.88, 1.13, 0.75, 1.3)
    for ratio in near:
        at = float(np.exp(theta[1])) * ratio
        if not f[2] < at < f[-3]:
            continue
        start = [*theta[:3], theta[0] - 1.5, np.log(at), theta[2], *theta[3:]]
        new, told, _ = whittle(*bins, start, centre, rounds=12, left=0.3)
        if told - value > 0.4 * _SECOND:
            new, told, _ = whittle(*bins, new, centre)
        if told - value > _SECOND and (found is None or told > found[1]):
            first = abs(new[1] - theta[1]) > abs(new[4] - theta[1])
            found = (float(np.exp(new[1] if first else new[4])), told)
            if told - value > 3 * _SECOND:
                break
    return None if found is None else found[0]


def sure(result: NoiseFit) -> bool:
    """Tell whether there is a mode at all, and not only a smooth background."""
    return result.gain > _CLEAR


def drifts(spectrum: Any, duration: float, found: NoiseFit) -> bool:
    """Tell whether pieces of the record ring at other frequencies than their noise allows.

    The band about the mode is brought down to a slow signal, which is cut into pieces.
    """
    from scipy import fft

    width = found.damping * found.frequency
    pieces = int(min(_PIECES, 2 * width * duration / 25))
    if pieces < 3:
        return False
    spacing = 1.0 / duration
    reach = min(10 * width, 0.4 * found.frequency)
    a, b = int((found.frequency - reach) / spacing), int((found.frequency + reach) / spacing)
    size = fft.prev_fast_len((min(b, len(spectrum) - 1) - a) // pieces)
    band = spectrum[a : a + pieces * size].copy()
    for tone in found.tones:
        at = round(tone / spacing) - a
        if -4 < at < len(band) + 4:
            band[max(0, at - 4) : at + 5] = 0.0
    slow = fft.ifft(band)
    found_f, slack = [], []
    start = np.array([0.0, np.log(found.frequency), np.log(found.damping), 0.0, 0.0])
    f = a * spacing + np.arange(size) * (spacing * len(slow) / size)
    edge = size // 12
    together = max(1, int(width / (6 * (f[1] - f[0]))))  # smooth within a sixth of the width
    for k in range(pieces):
        p = np.abs(fft.fft(slow[k * size : (k + 1) * size])) ** 2
        bins = averaged(f[edge : size - edge], p[edge : size - edge] + 1e-300, together)
        peak = float(np.mean(bins[1]))
        start[0] = np.log(peak) + np.log(4.0)
        start[-1] = np.log(0.1 * peak)
        theta, _, information = whittle(*bins, start, found.frequency)
        covariance = np.linalg.pinv(information)
        found_f.append(float(theta[1]))
        slack.append(float(covariance[1, 1]))
    y, variance = np.array(found_f), np.array(slack) * 1.2
    mean = np.sum(y / variance) / np.sum(1 / variance)
    chi = float(np.sum((y - mean) ** 2 / variance))
    along = np.linspace(-1, 1, pieces)
    along = along - np.sum(along / variance) / np.sum(1 / variance)
    slope = float(np.sum(along * (y - mean) / variance) / np.sqrt(np.sum(along**2 / variance)))
    degrees = pieces - 1
    return chi > degrees + 4.0 * np.sqrt(2 * degrees) + 2 or abs(slope) > 3.7
