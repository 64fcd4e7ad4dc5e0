"""Frequency and damping of a mode after taps: free decays, fitted together in time.

Each tap has its own amplitude, phase, offset and slope, which are solved for; frequency and
damping are common. The level of what is left over near the mode's frequency gives the uncertainty,
so coloured noise counts as it should.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

_RISE: Final = 3.0  # from one part to the next, that begins a tap
_ROUNDS: Final = 40
_BESIDE: Final = (0.72, 0.8, 0.86, 0.91, 0.95, 1.05, 1.09, 1.14, 1.2, 1.28, 1.4)  # of f0
_ENOUGH: Final = 30  # taps, to look for a second mode in
_SECOND: Final = 8.0  # deviations of the gain by a second mode, that are worth a flag
Piece = tuple[Any, Any, Any]  # times, values, and what is steady meanwhile


@dataclass
class Decay:
    """Frequency in Hz, damping ratio, covariance of (ln f, ln damping), taps, and what is odd."""

    frequency: float
    damping: float
    covariance: Any
    taps: int
    flags: list[str] = field(default_factory=list)


def peakedness(values: Any, rate: float) -> float:
    """Fourth moment over the square of the second, slow drift taken off; 3 for plain noise."""
    size = max(8, int(rate * 0.5))
    n = len(values) // size * size
    if not n:
        return 3.0
    parts = values[:n].reshape(-1, size)[:: 1 + n // 1_000_000]
    squares = (parts - parts.mean(axis=1, keepdims=True)) ** 2
    return float(np.mean(squares * squares) / (np.mean(squares) ** 2 + 1e-300))


def taps(values: Any, rate: float) -> list[int]:
    """Index of the highest sample of each tap."""
    size = max(2, int(rate * 0.01))
    n = len(values) // size * size
    level = np.abs(values[:n]).reshape(-1, size).max(axis=1)
    quiet = max(float(np.percentile(level, 30)), 1e-300)
    top = float(level.max())
    found: list[int] = []
    before = np.array([level[max(0, k - 4) : k].min() if k else quiet for k in range(len(level))])
    for k in np.flatnonzero((level > 0.15 * top) & (level > 4 * quiet) & (level > _RISE * before)):
        peak = int(k) * size + int(np.argmax(np.abs(values[k * size : (k + 3) * size])))
        if found and peak - found[-1] < 0.1 * rate:
            if abs(values[peak]) > abs(values[found[-1]]):
                found[-1] = peak
            continue
        found.append(peak)
    return found


def hums(values: Any, rate: float) -> list[float]:
    """Frequencies of hum: lines near the mains' 50 and 60 Hz that stand alone in the spectrum."""
    n = len(values)
    spectrum = np.fft.rfft(values)
    found = []
    for mains in (50.0, 60.0):
        a, b = int((mains - 3.0) * n / rate), int((mains + 3.0) * n / rate) + 2
        if b >= n // 2 or b - a < 20:
            continue
        power = np.abs(spectrum[a:b]) ** 2
        f = np.arange(a, b) * rate / n
        near = np.abs(f - mains) < max(0.15, 1.5 * rate / n)
        top = int(np.argmax(np.where(near, power, 0.0)))
        beside = np.concatenate(
            [power[max(0, top - 8) : max(0, top - 2)], power[top + 3 : top + 9]]
        )
        if power[top] > 30 * np.median(power) and power[top] > 12 * np.mean(beside):
            found.append(_finer(values, rate, float(f[top])))
    return found


def _finer(values: Any, rate: float, frequency: float) -> float:
    """Frequency of a line between the bins, from the phases of the record's two halves."""
    half = len(values) // 2
    t = np.arange(half) / rate
    wave = np.exp(-2j * np.pi * frequency * t)
    first, second = np.sum(values[:half] * wave), np.sum(values[half : 2 * half] * wave)
    turn = np.angle(second / first * np.exp(-2j * np.pi * frequency * half / rate))
    return float(frequency + turn / (2 * np.pi * half / rate))


def _basis(t: Any, frequency: float, damping: float, steady: Any) -> tuple[Any, Any, Any]:
    """Columns of one decay and of what is steady; slopes by ln frequency and ln damping."""
    w = 2 * np.pi * frequency
    root = np.sqrt(1 - damping**2)
    wd = w * root
    fall = np.exp(-damping * w * t)
    c, s = fall * np.cos(wd * t), fall * np.sin(wd * t)
    zero = np.zeros_like(steady)
    by_f = np.stack([-w * t * (damping * c + root * s), -w * t * (damping * s - root * c)])
    turn = w * t * damping**2 / root
    by_d = np.stack([-damping * w * t * c + turn * s, -damping * w * t * s - turn * c])
    return (
        np.concatenate([np.stack([c, s]), steady]),
        np.concatenate([by_f, zero]),
        np.concatenate([by_d, zero]),
    )


def _steady(t: Any, tones: list[float]) -> Any:
    """Offset, slope and tones of one piece."""
    rows = [np.ones_like(t), t - t.mean()]
    for tone in tones:
        rows += [np.cos(2 * np.pi * tone * t), np.sin(2 * np.pi * tone * t)]
    return np.stack(rows)


def _solve(pieces: list[Piece], theta: Any) -> tuple[float, list[Any], Any, Any, list[Any]]:
    """Residuals, normal matrix and gradient at one frequency and damping."""
    frequency, damping = float(np.exp(theta[0])), float(np.exp(theta[1]))
    total, left, normal, gradient, amplitudes = 0.0, [], np.zeros((2, 2)), np.zeros(2), []
    for t, y, steady in pieces:
        basis, by_f, by_d = _basis(t, frequency, damping, steady)
        q, _ = np.linalg.qr(basis.T)
        coefficients = np.linalg.lstsq(basis.T, y, rcond=None)[0]
        r = y - basis.T @ coefficients
        j = np.stack([coefficients @ by_f, coefficients @ by_d])
        j = j - (j @ q) @ q.T
        total += float(r @ r)
        normal += j @ j.T
        gradient += j @ r
        left.append(r)
        amplitudes.append(coefficients)
    return total, left, normal, gradient, amplitudes


def _fitted(pieces: list[Piece], theta: Any) -> tuple[Any, float, list[Any], Any]:
    theta = np.array(theta, dtype=float)
    best, left, normal, gradient, _ = _solve(pieces, theta)
    trust = 1e-4
    for _ in range(_ROUNDS):
        step = np.linalg.lstsq(normal + trust * np.diag(np.diag(normal)), gradient, rcond=None)[0]
        step = np.clip(step, [-0.05, -0.7], [0.05, 0.7])
        new = theta + step
        new[1] = np.clip(new[1], np.log(1e-4), np.log(0.7))
        told = _solve(pieces, new)
        if told[0] <= best:
            gained = best - told[0]
            theta, (best, left, normal, gradient, _) = new, told
            trust = max(trust / 5, 1e-9)
            if gained <= 1e-9 * best:
                break
        else:
            trust *= 10
            if trust > 1e8:
                break
    return theta, best, left, normal


def cut(
    values: Any, rate: float, peaks: list[int], f0: float, damping: float, tones: list[float]
) -> list[Piece]:
    """Piece of each tap: after the contact, until it has died down or the next tap comes."""
    wait = int(max(0.5 * rate / f0, 0.004 * rate))
    longest = int(min(rate * 8.0 / (2 * np.pi * f0 * max(damping, 0.004)), 6 * rate))
    pieces = []
    for n, peak in enumerate(peaks):
        stop = peaks[n + 1] - int(0.02 * rate) if n + 1 < len(peaks) else len(values)
        piece = values[peak + wait : min(stop, peak + wait + longest)]
        if len(piece) > max(3.0 * rate / f0, 24):
            t = np.arange(len(piece)) / rate
            pieces.append((t, piece, _steady(t, tones)))
    return pieces


def first_guess(pieces: list[Piece], rate: float, low: float, high: float) -> float:
    """Frequency of the highest peak in the summed spectra of the pieces."""
    size = 1 << int(np.ceil(np.log2(4 * max(len(y) for _, y, _ in pieces))))
    power: Any = 0.0
    for _, y, steady in pieces:
        plain = y - steady.T @ np.linalg.lstsq(steady.T, y, rcond=None)[0]
        power = power + np.abs(np.fft.rfft(plain, size)) ** 2
    f = np.fft.rfftfreq(size, 1 / rate)
    inside = (f >= low) & (f <= high)
    return float(f[inside][np.argmax(power[inside])])


def fit(values: Any, rate: float, peaks: list[int], low: float, high: float) -> Decay | None:
    """Fit all taps together; None where no tap leaves enough to fit."""
    tones = [tone for tone in hums(values, rate) if low < tone < high]
    rough = cut(values, rate, peaks, max(low, 15.0), 0.02, tones)
    if not rough:
        return None
    f0 = first_guess(rough, rate, low, high)
    damping = 0.03
    theta: Any = np.log([f0, damping])
    for _ in range(3):
        pieces = cut(values, rate, peaks, f0, damping, tones)
        if not pieces:
            return None
        tries = [_fitted(pieces, np.log([f0, d])) for d in (damping, 0.01, 0.1)]
        theta, _, left, normal = min(tries, key=lambda found: found[1])
        new_f, new_d = float(np.exp(theta[0])), float(np.exp(theta[1]))
        settled = abs(new_d / damping - 1) < 0.2 and abs(new_f / f0 - 1) < 0.02
        f0, damping = new_f, new_d
        if settled:
            break
    level = _level(left, rate, f0, damping)
    covariance = np.linalg.pinv(normal) * level
    flags = _odd(pieces, left, rate, f0, damping)
    second = _second_mode(pieces, left, rate, f0, damping)
    if second is not None:
        flags.append(f"another mode near {second:.3g} Hz")
    flags += [f"hum at {tone:.4g} Hz" for tone in tones]
    covariance, apart = _between(pieces, theta, covariance, level)
    if apart:
        flags.append("the taps do not agree with one another")
    return Decay(f0, damping, covariance, len(pieces), flags)


def _spectra(left: list[Any], rate: float) -> list[tuple[Any, Any]]:
    return [(np.fft.rfftfreq(len(r), 1 / rate), np.abs(np.fft.rfft(r)) ** 2 / len(r)) for r in left]


def _level(left: list[Any], rate: float, f0: float, damping: float) -> float:
    """Variance of white noise with the level that the rest has near the mode."""
    total, bins = 0.0, 0.0
    reach = max(0.3, 6 * damping)
    for f, p in _spectra(left, rate):
        near = (f > f0 * (1 - reach)) & (f < f0 * (1 + reach)) & (f > 0)
        total += float(p[near].sum())
        bins += max(float(np.count_nonzero(near)) - 1.0, 0.0)
    return total / max(bins - 1.0, 1.0)


def _odd(pieces: list[Piece], left: list[Any], rate: float, f0: float, damping: float) -> list[str]:
    """Name what is odd in what is left over: a second mode, hum, or a decay of another shape."""
    flags = []
    near_early = near_late = 0.0
    n_early = n_late = 0
    fall = damping * 2 * np.pi * f0
    for (t, _, _), r in zip(pieces, left, strict=True):
        half = int(np.searchsorted(t, min(2.0 / fall, 0.5 * t[-1])))
        for part, early in ((r[:half], True), (r[half:], False)):
            if len(part) < 3 * rate / f0:
                continue
            f = np.fft.rfftfreq(len(part), 1 / rate)
            p = np.abs(np.fft.rfft(part)) ** 2 / len(part)
            near = (f > 0.5 * f0) & (f < 1.7 * f0)
            if early:
                near_early += float(p[near].sum())
                n_early += int(np.count_nonzero(near))
            else:
                near_late += float(p[near].sum())
                n_late += int(np.count_nonzero(near))
    if n_early >= 3 and n_late >= 3:
        ratio = (near_early / n_early) / (near_late / n_late + 1e-300)
        if ratio > 1 + 5 * np.sqrt(1 / n_early + 1 / n_late):
            flags.append("the decays do not have the shape of one mode")
    return flags


def _second_mode(
    pieces: list[Piece], left: list[Any], rate: float, f0: float, damping: float
) -> float | None:
    """Frequency of a second mode that takes more off what is left over than noise would give.

    A broad fit can hide two close modes whose beat is the same after each tap: nothing then is odd
    between taps, and too little is left late. So a second decay is tried beside the first.
    """
    pieces, left = pieces[:_ENOUGH], left[:_ENOUGH]
    tried = [
        (f0 * ratio, float(np.clip(share * damping, 0.002, 0.4)))
        for ratio in _BESIDE
        for share in (0.45, 0.9)
        if f0 * ratio < 0.45 * rate
    ]
    gains: Any = np.zeros(len(tried))
    pairs = []
    for (t, _, steady), r in zip(pieces, left, strict=True):
        columns = [_basis(t, f, d, steady[:0])[0] for f, d in tried]
        q, _ = np.linalg.qr(_basis(t, f0, damping, steady)[0].T)
        pair = np.stack(columns).transpose(0, 2, 1)  # (tried, time, cosine and sine)
        pair = pair - q @ (q.T @ pair)
        turned = pair.transpose(0, 2, 1)
        told = (turned @ r)[..., None]
        shares = np.linalg.pinv(turned @ pair) @ told
        gains += (told * shares).sum(axis=(1, 2))
        pairs.append((pair, shares))
    best = int(np.argmax(gains))
    after = [r - (p[best] @ s[best])[:, 0] for r, (p, s) in zip(left, pairs, strict=True)]
    taken = 2.0 * len(pieces) + 2.0
    gained = float(gains[best]) / (_level(after, rate, f0, damping) + 1e-300)
    return tried[best][0] if gained > taken + _SECOND * np.sqrt(2 * taken) else None


def _between(pieces: list[Piece], theta: Any, covariance: Any, level: float) -> tuple[Any, bool]:
    """Widen the covariance where single taps scatter more than their noise says."""
    if len(pieces) < 3:
        return covariance, False
    chi = np.zeros(2)
    for piece in pieces:
        own, _, _, normal = _fitted([piece], theta)
        spread = np.linalg.pinv(normal) * level
        chi += (own - theta) ** 2 / np.maximum(np.diag(spread), 1e-30)
    chi = chi / (len(pieces) - 1)
    limit = 1 + 4.5 * np.sqrt(2 / (len(pieces) - 1))
    widen = np.sqrt(np.where(chi > limit, chi, 1.0))
    return covariance * np.outer(widen, widen), bool((chi > limit).any())
