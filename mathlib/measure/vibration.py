"""What a record of an accelerometer says of a mode: frequency, damping, and how sure that is.

A record is of one of two kinds. After taps the head decays freely, and decays are fitted in time;
while something shakes it all the time, the spectrum is fitted. What cannot be judged is refused
with the reason; what can be judged but does not look like one mode carries flags.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from mathlib import words
from mathlib.errors import ValueRefused
from mathlib.measure import decays, noise_fit
from mathlib.measure.files import Table
from mathlib.measure.measured import measured
from mathlib.measure.series import Series, series
from mathlib.units import Q, Quantity
from mathlib.words import Word

KINDS: Final = ("taps", "run")
_PEAKED: Final = 5.5  # fourth moment over the square of the second, from which a record is taps
_LOWEST: Final = 4.0  # Hz; below it lie hands, tables and floors
_HIGHEST: Final = 400.0  # Hz
_SAMPLES: Final = 4.0  # at least, in each period
_SHORT: Final = 10.0  # s; a record below it may hold a mode that does not stand out yet
_FREEDOM: Final = 12.0  # at least: half-power widths times the length of the record


@dataclass(frozen=True)
class ModeFit:
    """A mode of one axis: ``frequency`` and ``damping`` are quantities with ``.std``.

    ``flags`` say what does not look like one steady mode; ``notes`` what was done to the record.
    """

    frequency: Any
    damping: Any
    kind: str
    axis: str
    taps: int = 0
    flags: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    def __str__(self) -> str:
        """One line: frequency, damping, and the flags."""
        odd = f"; but {', '.join(self.flags)}" if self.flags else ""
        how = f"{self.taps} taps" if self.kind == "taps" else "run"
        return f"{self.axis}: {self.frequency}, damping {self.damping} ({how}){odd}"


def fit_mode(
    record: Table,
    axis: str,
    *,
    kind: str | None = None,
    between: tuple[Any, Any] | None = None,
    highest: Any = None,
) -> ModeFit:
    """Fit frequency and damping of the clearest mode along one axis.

    Parameters
    ----------
    record : Table
        From ``files.read``: a column of time, and one for each axis (acceleration, or anything
        that follows the motion).
    axis : text
        Name of a column, or ``"x"`` for a column such as accel_x.
    kind : "taps" or "run", optional
        Whether the head decays after taps or is shaken all the time; told from the record.
    between : pair of frequencies, optional
        Where to look, where several modes ring; 4 to 400 Hz otherwise.
    highest : frequency, optional
        Above which nothing rings; only then a record of less than 200 Hz is judged.

    Returns
    -------
    ModeFit
        ``.frequency`` in Hz and ``.damping`` (ratio to critical), each a quantity with ``.std``
        (one standard deviation); ``.flags``, ``.notes``.

    Raises
    ------
    ValueRefused
        The record is too slow, too short, clipped, at rest, or has a gap.

    Notes
    -----
    Decays: Den Hartog, Mechanical Vibrations, ch. 2, fitted by least squares. Spectrum: Whittle,
    Arkiv for Matematik 2 (1953), the likelihood of a periodogram.

    Examples
    --------
    >>> t = np.arange(4000) / 1000.0
    >>> rng = np.random.default_rng(1)
    >>> a = np.exp(-0.03 * 2 * np.pi * 50 * (t % 2)) * np.sin(2 * np.pi * 50 * (t % 2))
    >>> record = Table({"t": Q(t, "s"), "ax": Q(a + rng.normal(0, 0.01, 4000), "m/s^2")}, time="t")
    >>> found = fit_mode(record, "x")
    >>> print(found.kind, round(found.frequency.to("Hz").magnitude, 1))
    taps 50.0

    """
    if kind not in (None, *KINDS):
        raise ValueRefused(f"fit_mode: kind is one of {', '.join(KINDS)}; got {kind!r}.")
    most = None if highest is None else float(words.base_value(Word("highest", "Hz"), highest))
    taken = series(record, axis, most)
    low, high = _band(taken, between, most)
    peaked = decays.peakedness(taken.values, taken.rate)
    if kind == "taps" or (kind is None and peaked > _PEAKED):
        found = _from_taps(taken, axis, low, high)
        if found is not None:
            return found
        if kind == "taps":
            raise ValueRefused(
                f"vibration along {axis!r}: no tap is clear enough to fit. Tap harder, motors "
                "energised, and leave a second between taps."
            )
    return _from_run(taken, axis, low, high)


def _band(
    taken: Series, between: tuple[Any, Any] | None, most: float | None
) -> tuple[float, float]:
    low, high = _LOWEST, min(_HIGHEST, taken.rate / 2 * 0.98)
    if between is not None:
        word = Word("between", "Hz")
        low, high = sorted(float(words.base_value(word, end)) for end in between)
        if high > taken.rate / _SAMPLES or low >= high:
            raise ValueRefused(
                f"fit_mode: between needs two frequencies below {taken.rate / _SAMPLES:.4g} Hz, "
                "a quarter of the samples each second."
            )
    elif most is not None:
        high = min(high, most)
    return low, high


def _from_taps(taken: Series, axis: str, low: float, high: float) -> ModeFit | None:
    peaks = decays.taps(taken.values, taken.rate)
    if not peaks:
        return None
    found = decays.fit(taken.values, taken.rate, peaks, low, high)
    if found is None:
        return None
    _refuse_fast(axis, taken, found.frequency)
    spread = np.sqrt(np.diag(found.covariance))
    if spread[0] > 0.1 or spread[1] > 1.0:
        raise ValueRefused(
            f"vibration along {axis!r}: the taps do not ring clearly enough to judge. Tap harder, "
            "or take more taps."
        )
    flags = [*found.flags, *(note for note in taken.notes if note.startswith("resolution"))]
    return ModeFit(
        measured(found.frequency, found.frequency * spread[0], "Hz"),
        measured(found.damping, found.damping * spread[1], "1"),
        "taps",
        axis,
        found.taps,
        tuple(flags),
        taken.notes,
    )


def _refuse_fast(axis: str, taken: Series, frequency: float) -> None:
    if frequency > taken.rate / _SAMPLES:
        raise ValueRefused(
            f"vibration along {axis!r}: it seems to ring at {frequency:.4g} Hz, for which "
            f"{taken.rate:.4g} samples each second are too few; it may also ring higher and "
            f"appear folded. Take {10 * frequency:.0f} Hz or more."
        )


def _from_run(taken: Series, axis: str, low: float, high: float) -> ModeFit:
    who = f"vibration along {axis!r}"
    frequency, power, spectrum = _periodogram(taken)
    duration = len(taken.values) / taken.rate
    if duration * low < 3:
        low = 3 / duration
    inside = (frequency >= low) & (frequency <= high)
    if np.count_nonzero(inside) < 60:
        raise ValueRefused(f"{who}: {duration:.3g} s are too short a record; take 30 s or more.")
    f, p = frequency[inside], power[inside]
    if not np.median(p) > 0:
        raise ValueRefused(f"{who}: nothing rings; the record is at rest.")
    found = noise_fit.fit(f, p, duration)
    if not noise_fit.sure(found):
        tones = f" besides steady tones at {_listed(found.tones)}" if found.tones else ""
        short = (
            f" Or {duration:.3g} s are too short; take 30 s or more." if duration < _SHORT else ""
        )
        raise ValueRefused(
            f"{who}: nothing rings clearly{tones}: the machine seems to be at rest. Tap the head, "
            f"or record while it moves.{short}"
        )
    _refuse_fast(axis, taken, found.frequency)
    freedom = 2 * found.damping * found.frequency * duration
    if freedom < _FREEDOM:
        needed = _FREEDOM / (2 * found.damping * found.frequency)
        raise ValueRefused(
            f"{who}: {duration:.3g} s are too short to tell the damping of a mode near "
            f"{found.frequency:.3g} Hz; take {max(needed, 1.2 * duration):.0f} s or more."
        )
    flags = [*found.flags]
    for tone in found.tones:
        hum = next((h for h in (50, 60) if abs(tone / h - round(tone / h)) * h < 0.3), None)
        flags.append(
            f"hum at {tone:.4g} Hz"
            if hum and round(tone / hum) <= 4
            else f"a steady tone at {tone:.4g} Hz"
        )
    if noise_fit.drifts(spectrum, duration, found):
        flags.append("the frequency drifts during the record")
    flags += [note for note in taken.notes if note.startswith("resolution")]
    spread = np.sqrt(np.maximum(np.diag(found.covariance), 0.0))
    return ModeFit(
        measured(found.frequency, found.frequency * spread[0], "Hz"),
        measured(found.damping, found.damping * spread[1], "1"),
        "run",
        axis,
        0,
        tuple(flags),
        taken.notes,
    )


def _listed(tones: list[float]) -> str:
    return ", ".join(f"{tone:.4g} Hz" for tone in sorted(tones))


def _periodogram(taken: Series) -> tuple[Any, Any, Any]:
    """Frequencies, power and spectrum up to what is looked at; a line through the record is off."""
    from scipy import fft

    x = taken.values
    n = len(x)
    kind: Any = np.float32 if n > 200_000 else np.float64
    ramp: Any = np.arange(n, dtype=kind)
    ramp -= (n - 1) / 2
    x = x.astype(kind)
    ramp *= float(ramp @ x) / float(ramp @ ramp)
    x -= ramp
    size = fft.prev_fast_len(n, real=True) if n > 10_000 else n
    most = int(min(1.7 * _HIGHEST, taken.rate / 2) / taken.rate * size)
    spectrum = fft.rfft(x[:size])[: most + 1]
    power = (spectrum.real.astype(float) ** 2 + spectrum.imag.astype(float) ** 2) / size
    return np.arange(most + 1) * taken.rate / size, power, spectrum


def spectrum(record: Table, axis: str, *, resolution: Any = "1 Hz") -> tuple[Quantity, Quantity]:
    """Give the spectrum of an axis to look at: frequencies, and density by Welch's means.

    Parameters
    ----------
    record, axis
        As ``fit_mode`` takes them.
    resolution : frequency
        Spacing of the frequencies.

    Returns
    -------
    tuple of Quantity
        Hz, and the square of the axis' SI unit for each Hz as a plain number.

    """
    from scipy import signal

    taken = series(record, axis, 1.0)
    wanted = float(words.base_value(Word("resolution", "Hz"), resolution))
    size = int(np.clip(round(taken.rate / wanted), 16, len(taken.values)))
    f, density = signal.welch(taken.values, fs=taken.rate, nperseg=size)
    return Q(f, "Hz"), Q(density, "1")
