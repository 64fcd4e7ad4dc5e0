"""Frequency and damping of a mode after taps: free decays, fitted together in time.

Each tap has its own amplitude, phase, offset and slope, which are solved for; frequency and
damping are common. The level of what is left over near the mode's frequency gives the uncertainty,
so coloured noise counts as it should.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final, NamedTuple

import numpy as np

_RISE: Final = 3.0  # from one part to the next, that begins a tap
_ROUNDS: Final = 40
_BESIDE: Final = (0.72, 0.8, 0.86, 0.91, 0.95, 1.05, 1.09, 1.14, 1.2, 1.28, 1.4)  # of f0
_FEW: Final = 30  # taps, to guess from and to look for a second mode in
_MANY: Final = 100  # taps, to tell from what is left over
_SECOND: Final = 8.0  # deviations of the gain by a second mode, that are worth a flag
_TAPS: Final = 10  # in one product
_SAME: Final = 1e-11  # of a matrix of products, from which on rows count as one
_SHORTER: Final = 0.9  # from one length of pieces to the next


class Pieces(NamedTuple):
    """Pieces of one length, one after each of some taps, and what is steady meanwhile."""

    t: Any  # (times,)
    y: Any  # (taps, times)
    steady: Any  # (offset, slope and tones, times)


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
    squares = parts - parts.mean(axis=1, keepdims=True)
    squares *= squares
    return float(np.einsum("nt,nt->", squares, squares) / squares.size) / (
        float(squares.mean()) ** 2 + 1e-300
    )


def taps(values: Any, rate: float) -> list[int]:
    """Index of the highest sample of each tap."""
    size = max(2, int(rate * 0.01))
    n = len(values) // size * size
    level = np.abs(values[:n]).reshape(-1, size).max(axis=1)
    quiet = max(float(np.percentile(level, 30)), 1e-300)
    top = float(level.max())
    found: list[int] = []
    before = np.concatenate([[quiet], level[:-1]])
    for parts in (2, 3, 4):
        before[parts:] = np.minimum(before[parts:], level[:-parts])
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
    from scipy import fft

    n = fft.prev_fast_len(len(values), real=True) if len(values) > 10_000 else len(values)
    spectrum = fft.rfft(np.asarray(values[:n], np.float32 if n > 200_000 else np.float64))
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


def _wave(values: Any, rate: float, frequency: float) -> complex:
    """Sum of the values times a wave, block by block, so that few phases are worked out."""
    size = 256
    parts = values[: len(values) // size * size].reshape(-1, size)
    turn = -2j * np.pi * frequency / rate
    inner, outer = np.exp(turn * np.arange(size)), np.exp(turn * size * np.arange(len(parts)))
    return complex(outer @ (parts @ inner.real + 1j * (parts @ inner.imag)))


def _finer(values: Any, rate: float, frequency: float) -> float:
    """Frequency of a line between the bins, from the phases of the record's two halves."""
    half = len(values) // 2
    first, second = _wave(values[:half], rate, frequency), _wave(values[half:], rate, frequency)
    turn = np.angle(second / first * np.exp(-2j * np.pi * frequency * half / rate))
    return float(frequency + turn / (2 * np.pi * half / rate))


def _decay(t: Any, frequency: float, damping: float) -> Any:
    """Cosine and sine that decay, (2, times)."""
    w = 2 * np.pi * frequency
    fall, turned = np.exp(-damping * w * t), w * np.sqrt(1 - damping**2) * t
    return np.stack([fall * np.cos(turned), fall * np.sin(turned)])


def _slopes(t: Any, frequency: float, damping: float, decay: Any) -> Any:
    """Slopes of both by ln frequency, and of both by ln damping, (4, times)."""
    w = 2 * np.pi * frequency
    root = np.sqrt(1 - damping**2)
    c, s = decay
    turn = w * t * damping**2 / root
    slopes = [
        -w * t * (damping * c + root * s),
        -w * t * (damping * s - root * c),
        -damping * w * t * c + turn * s,
        -damping * w * t * s - turn * c,
    ]
    return np.stack(slopes)


def _steady(t: Any, tones: list[float]) -> Any:
    """Offset, slope and tones of one piece."""
    rows = [np.ones_like(t), t - t.mean()]
    for tone in tones:
        rows += [np.cos(2 * np.pi * tone * t), np.sin(2 * np.pi * tone * t)]
    return np.stack(rows)


def _orthonormal(rows: Any) -> tuple[Any, Any]:
    """Orthonormal rows that span the same, and the matrix that makes them of the given ones.

    Of a few long rows, which are scaled alike: their products tell enough, and take less than a
    decomposition of the rows does.
    """
    size = np.sqrt(np.einsum("it,it->i", rows, rows))
    squares, turn = np.linalg.eigh(rows @ rows.T / np.outer(size, size))
    kept = squares > _SAME * squares[-1]
    made = (turn[:, kept] / np.sqrt(squares[kept])).T / size
    return made @ rows, made


def _products(y: Any, columns: Any) -> Any:
    """Give y @ columns, a few taps at a time: threads would cost more here than they save."""
    return np.concatenate([y[n : n + _TAPS] @ columns for n in range(0, len(y), _TAPS)])


def _without(y: Any, q: Any) -> Any:
    """Pieces without what orthonormal rows account for."""
    return y - _products(_products(y, q.T), q)


def _solve(groups: list[Pieces], theta: Any) -> tuple[float, Any, Any]:
    """Sum of squares left over at one frequency and damping; each tap's normal matrix, gradient.

    Amplitudes and all that is steady are solved for: they are linear. Pieces of one length have
    the same columns, so all that is asked of them is their products with a few rows.
    """
    frequency, damping = float(np.exp(theta[0])), float(np.exp(theta[1]))
    total, normals, gradients = 0.0, [], []
    for t, y, steady in groups:
        basis = _decay(t, frequency, damping)
        slopes = _slopes(t, frequency, damping, basis)
        q, made = _orthonormal(np.concatenate([basis, steady]))
        slopes = slopes - (slopes @ q.T) @ q
        products = _products(y, np.concatenate([q, slopes]).T)
        known, toward = products[:, : len(q)], products[:, len(q) :].reshape(-1, 2, 2)
        amplitudes = (known @ made)[:, :2]
        square = float(np.einsum("nt,nt->", y, y))
        total += max(square - float(np.vdot(known, known)), 1e-14 * square)
        gram = (slopes @ slopes.T).reshape(2, 2, 2, 2)
        normals.append(np.einsum("na,iajb,nb->nij", amplitudes, gram, amplitudes))
        gradients.append(np.einsum("na,nia->ni", amplitudes, toward))
    return total, np.concatenate(normals), np.concatenate(gradients)


def _fitted(groups: list[Pieces], theta: Any) -> tuple[Any, float, Any, Any]:
    """Fit frequency and damping to all pieces together, and what ``_solve`` gives there."""
    theta = np.array(theta, dtype=float)
    best, normals, gradients = _solve(groups, theta)
    trust = 1e-4
    for _ in range(_ROUNDS):
        normal = normals.sum(axis=0)
        damped = normal + trust * np.diag(normal.diagonal())
        step = np.linalg.lstsq(damped, gradients.sum(axis=0), rcond=None)[0]
        step = np.clip(step, [-0.05, -0.7], [0.05, 0.7])
        new = theta + step
        new[1] = np.clip(new[1], np.log(1e-4), np.log(0.7))
        told = _solve(groups, new)
        if told[0] <= best:
            gained = best - told[0]
            theta, (best, normals, gradients) = new, told
            trust = max(trust / 5, 1e-9)
            if gained <= 1e-9 * best:
                break
        else:
            trust *= 10
            if trust > 1e8:
                break
    return theta, best, normals, gradients


def _rest(groups: list[Pieces], theta: Any) -> list[Pieces]:
    """Pieces without the decays and without all that is steady."""
    left = []
    for t, y, steady in groups:
        basis = _decay(t, float(np.exp(theta[0])), float(np.exp(theta[1])))
        q, _ = _orthonormal(np.concatenate([basis, steady]))
        left.append(Pieces(t, _without(y, q), steady))
    return left


def cut(
    values: Any, rate: float, peaks: list[int], f0: float, damping: float, tones: list[float]
) -> list[Pieces]:
    """Pieces after the contact, until it has died down or the next tap comes.

    A piece gives up to a tenth of its end away, so that pieces have few lengths.
    """
    from scipy import fft

    wait = int(max(0.5 * rate / f0, 0.004 * rate))
    longest = int(min(rate * 8.0 / (2 * np.pi * f0 * max(damping, 0.004)), 6 * rate))
    least = int(max(3.0 * rate / f0, 24)) + 1
    found: dict[int, list[Any]] = {}
    for n, peak in enumerate(peaks):
        stop = peaks[n + 1] - int(0.02 * rate) if n + 1 < len(peaks) else len(values)
        begin, room = peak + wait, min(stop - peak - wait, longest)
        if room < least:
            continue
        steps = np.ceil(np.log(longest / room) / -np.log(_SHORTER) - 1e-9)
        size = max(least, fft.prev_fast_len(max(1, int(longest * _SHORTER**steps)), real=True))
        found.setdefault(size, []).append(values[begin : begin + size])
    return [
        Pieces(t, np.stack(several), _steady(t, tones))
        for size, several in found.items()
        for t in [np.arange(size) / rate]
    ]


def _some(groups: list[Pieces], enough: int) -> list[Pieces]:
    """Take enough taps of all of them, evenly."""
    every = 1 + sum(len(g.y) for g in groups) // enough
    return [g._replace(y=np.ascontiguousarray(g.y[::every])) for g in groups]


def first_guess(groups: list[Pieces], rate: float, low: float, high: float) -> float:
    """Frequency of the highest peak in the summed spectra of the pieces."""
    size = 1 << int(np.ceil(np.log2(4 * max(len(g.t) for g in groups))))
    power: Any = 0.0
    for _, y, steady in groups:
        q, _ = _orthonormal(steady)
        power = power + (np.abs(np.fft.rfft(_without(y, q), size)) ** 2).sum(axis=0)
    f = np.fft.rfftfreq(size, 1 / rate)
    inside = (f >= low) & (f <= high)
    return float(f[inside][np.argmax(power[inside])])


def fit(values: Any, rate: float, peaks: list[int], low: float, high: float) -> Decay | None:
    """Fit all taps together; None where no tap leaves enough to fit."""
    tones = [tone for tone in hums(values, rate) if low < tone < high]
    rough = cut(values, rate, peaks, max(low, 15.0), 0.02, tones)
    if not rough:
        return None
    f0 = first_guess(_some(rough, _FEW), rate, low, high)
    damping = 0.03
    for _ in range(3):
        groups = cut(values, rate, peaks, f0, damping, tones)
        if not groups:
            return None
        some = _some(groups, _FEW)
        tries = [_fitted(some, np.log([f0, d])) for d in (damping, 0.01, 0.1)]
        theta, _, normals, gradients = _fitted(groups, min(tries, key=lambda found: found[1])[0])
        new_f, new_d = float(np.exp(theta[0])), float(np.exp(theta[1]))
        settled = abs(new_d / damping - 1) < 0.2 and abs(new_f / f0 - 1) < 0.02
        f0, damping = new_f, new_d
        if settled:
            break
    left = _rest(_some(groups, _MANY), theta)
    level = _level(left, rate, f0, damping)
    covariance = np.linalg.pinv(normals.sum(axis=0)) * level
    flags = _odd(left, rate, f0, damping)
    second = _second_mode(_some(left, _FEW), rate, f0, damping)
    if second is not None:
        flags.append(f"another mode near {second:.3g} Hz")
    flags += [f"hum at {tone:.4g} Hz" for tone in tones]
    covariance, apart = _between(normals, gradients, covariance, level)
    if apart:
        flags.append("the taps do not agree with one another")
    return Decay(f0, damping, covariance, len(normals), flags)


def _power(values: Any, rate: float) -> tuple[Any, Any]:
    """Frequencies and power of the rows of an array."""
    size = values.shape[-1]
    return np.fft.rfftfreq(size, 1 / rate), np.abs(np.fft.rfft(values)) ** 2 / size


def _level(left: list[Pieces], rate: float, f0: float, damping: float) -> float:
    """Variance of white noise with the level that the rest has near the mode."""
    total, bins = 0.0, 0.0
    reach = max(0.3, 6 * damping)
    for _, y, _ in left:
        f, p = _power(y, rate)
        near = (f > f0 * (1 - reach)) & (f < f0 * (1 + reach)) & (f > 0)
        total += float(p[:, near].sum())
        bins += len(y) * max(float(np.count_nonzero(near)) - 1.0, 0.0)
    return total / max(bins - 1.0, 1.0)


def _odd(left: list[Pieces], rate: float, f0: float, damping: float) -> list[str]:
    """Name what is odd in what is left over: a second mode, hum, or a decay of another shape."""
    sums, counts = np.zeros(2), np.zeros(2)
    fall = damping * 2 * np.pi * f0
    for t, y, _ in left:
        half = int(np.searchsorted(t, min(2.0 / fall, 0.5 * t[-1])))
        for late, part in enumerate((y[:, :half], y[:, half:])):
            if part.shape[1] < 3 * rate / f0:
                continue
            f, p = _power(part, rate)
            near = (f > 0.5 * f0) & (f < 1.7 * f0)
            sums[late] += float(p[:, near].sum())
            counts[late] += len(y) * int(np.count_nonzero(near))
    if counts.min() < 3:
        return []
    early, late_level = sums / counts
    ratio = early / (late_level + 1e-300)
    odd = ratio > 1 + 5 * np.sqrt((1 / counts).sum())
    return ["the decays do not have the shape of one mode"] if odd else []


def _second_mode(left: list[Pieces], rate: float, f0: float, damping: float) -> float | None:
    """Frequency of a second mode that takes more off what is left over than noise would give.

    A broad fit can hide two close modes whose beat is the same after each tap: nothing then is odd
    between taps, and too little is left late. So a second decay is tried beside the first.
    """
    tried = [
        (f0 * ratio, float(np.clip(share * damping, 0.002, 0.4)))
        for ratio in _BESIDE
        for share in (0.45, 0.9)
        if f0 * ratio < 0.45 * rate
    ]
    gains: Any = np.zeros(len(tried))
    taken_off = []
    for t, y, steady in left:
        q, _ = _orthonormal(np.concatenate([_decay(t, f0, damping), steady]))
        rows = np.stack([_decay(t, f, d) for f, d in tried])  # (tried, cosine and sine, times)
        rows = rows - (rows @ q.T) @ q
        told = rows @ y.T  # (tried, cosine and sine, taps)
        shares = np.linalg.pinv(rows @ rows.transpose(0, 2, 1)) @ told
        gains += (told * shares).sum(axis=(1, 2))
        taken_off.append((rows, shares))
    best = int(np.argmax(gains))
    after = [
        g._replace(y=g.y - shares[best].T @ rows[best])
        for g, (rows, shares) in zip(left, taken_off, strict=True)
    ]
    taken = 2.0 * sum(len(g.y) for g in left) + 2.0
    gained = float(gains[best]) / (_level(after, rate, f0, damping) + 1e-300)
    return tried[best][0] if gained > taken + _SECOND * np.sqrt(2 * taken) else None


def _between(normals: Any, gradients: Any, covariance: Any, level: float) -> tuple[Any, bool]:
    """Widen the covariance where single taps scatter more than their noise says.

    Each tap's own place is one step from the common one.
    """
    if len(normals) < 3:
        return covariance, False
    own = np.linalg.pinv(normals)
    steps = (own @ gradients[..., None])[..., 0]
    spread = np.diagonal(own, axis1=1, axis2=2) * level
    chi = (steps**2 / np.maximum(spread, 1e-30)).sum(axis=0) / (len(normals) - 1)
    limit = 1 + 4.5 * np.sqrt(2 / (len(normals) - 1))
    widen = np.sqrt(np.where(chi > limit, chi, 1.0))
    return covariance * np.outer(widen, widen), bool((chi > limit).any())
