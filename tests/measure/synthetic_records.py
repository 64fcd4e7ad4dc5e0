"""Synthetic records of an accelerometer with known truth, made by recursion in time."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy import signal

from mathlib.measure.files import Table
from mathlib.units import Q


def table(t: Any, x: Any) -> Table:
    return Table({"t": Q(t, "s"), "accel_x": Q(x, "m/s^2")}, time="t")


def shaken(
    rng: Any, rate: float, seconds: float, frequency: Any, damping: float, what: str = "position"
) -> Any:
    """Response of one mode to white force, exactly in law at the samples (state space, discrete).

    ``frequency`` may be an array, for a mode that drifts: the state is then stepped one by one.
    """
    n = int(rate * seconds)
    w = 2 * np.pi * np.asarray(frequency, dtype=float)
    if w.ndim == 0:
        # Oversampled 8 times: force held between fine samples, then each eighth kept.
        fine = 8 if rate < 2000 else 4
        dt = 1 / (rate * fine)
        w = 2 / dt * np.tan(w * dt / 2)  # so that the bilinear step rings at the frequency told
        system = ([1.0], [1.0, 2 * damping * w, w * w])
        if what == "acceleration":
            system = ([1.0, 0.0, 0.0], [1.0, 2 * damping * w, w * w])
        b, a, _ = signal.cont2discrete(system, dt, "bilinear")
        settle = int(8 / (damping * w) / dt)
        x = signal.lfilter(b[0], a, rng.normal(size=n * fine + settle))[settle:]
        x = x[::fine] if what == "position" else signal.decimate(x, fine, ftype="fir")
        return x / x.std()
    decay = np.exp((-damping + 1j * np.sqrt(1 - damping**2)) * w / rate)
    noise = rng.normal(size=(n, 2)) @ np.array([1, 1j])
    out, state = np.empty(n), 0j
    for k in range(n):
        state = decay[k] * state + noise[k]
        out[k] = state.real
    return out / out.std()


def tapped(
    rng: Any,
    rate: float,
    seconds: float,
    frequency: float,
    damping: float,
    every: float = 1.5,
    noise: float = 0.02,
    scatter: float = 0.0,
) -> tuple[Any, Any]:
    """Decays after taps, with white noise; ``scatter`` varies the frequency from tap to tap."""
    t = np.arange(int(rate * seconds)) / rate
    x = rng.normal(0, noise, len(t))
    for start in np.arange(0.3, seconds - 0.5, every):
        start = start + rng.uniform(0, 0.2)
        own = frequency * (1 + scatter * rng.normal())
        w = 2 * np.pi * own
        since = t - start
        on = since >= 0
        root = np.sqrt(1 - damping**2)
        x[on] += (
            rng.uniform(0.6, 1.4)
            * np.exp(-damping * w * since[on])
            * np.sin(root * w * since[on] + rng.uniform(-0.3, 0.3))
        )
    return t, x
