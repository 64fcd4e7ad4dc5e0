"""Synthetic records of a tapped head, to rehearse on: the drive that made them is known.

They say in their first lines that they are synthetic. What is fitted to one can be held against
the drive that it was made from, before a real log is.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from mathlib import words
from mathlib.errors import ValueRefused
from mathlib.motion import modes
from mathlib.motion.drive import Drive
from mathlib.words import Word

if TYPE_CHECKING:
    from mathlib.machine import Machine

_QUIET: Final = 0.3  # s before the first tap
_EVERY: Final = 1.5  # s from tap to tap, and up to a fifth of a second more
_RESPONDS: Final = 0.25  # of the rate: modes above it are kept out, as a logger's filter does
_LOUDEST: Final = 8.0  # m/s^2, of the strongest tap


def tapped_head(
    path: str | os.PathLike[str],
    drive: Drive,
    x: Any,
    y: Any,
    *,
    direction: Any = "45 deg",
    taps: int = 8,
    rate: Any = "800 Hz",
    noise: float = 0.1,
    seed: int = 1,
) -> Path:
    """Write the record that an accelerometer on the head of this drive would make when tapped.

    All modes of the drive ring, each as much as a blow on the head wakes it, with the drive's
    damping; white noise and gravity are added, and what a logger's filter keeps out is left out.

    Parameters
    ----------
    path : path
        Of the file, comma-separated, that is written.
    drive : Drive
        With scalar fields: its modes are the truth.
    x, y : length
        Place of the head.
    direction : angle
        Of the blow, from the x axis towards y.
    taps, rate, noise, seed
        How many; samples each second; standard deviation in m/s²; of the random numbers.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    ValueRefused
        The head does not ring below a quarter of the rate, or the noise is not a plain number.
    UnitError
        As a formula does.

    Examples
    --------
    >>> import tempfile
    >>> from mathlib.machine import TAGMAKER, load
    >>> folder = Path(tempfile.mkdtemp())
    >>> made = tapped_head(folder / "a.csv", load(TAGMAKER).drive, "210 mm", "150 mm")
    >>> print(made.read_text().splitlines()[0])
    # synthetic: a tapped head, computed from a model; nobody measured it

    """
    each = float(words.base_value(Word("rate", "Hz"), rate))
    angle = float(words.base_value(Word("direction", "deg", "", "signed"), direction))
    if not noise >= 0:
        raise ValueRefused(f"tapped_head: noise is a plain number in m/s^2, 0 or more; {noise!r}.")
    found = modes.modes(drive, x, y)
    hertz = found.frequency.magnitude
    heard = (hertz > 0) & (hertz < _RESPONDS * each)
    if not heard.any():
        raise ValueRefused(
            f"tapped_head: the head rings first at {hertz[hertz > 0].min():.4g} Hz; take a rate of "
            f"{4.5 * hertz[hertz > 0].min():.0f} Hz or more."
        )
    rng = np.random.default_rng([seed, 61])
    starts = _QUIET + _EVERY * np.arange(taps) + rng.uniform(0.0, 0.2, taps)
    t = np.arange(int((_QUIET + _EVERY * taps + 0.5) * each)) / each
    struck = found.head[heard] @ np.array([np.cos(angle), np.sin(angle)])
    w, z = 2 * np.pi * hertz[heard], np.broadcast_to(found.damping, heard.shape)[heard]
    ring = struck[:, None] * found.head[heard]  # (mode, 2): velocity of the head after a blow
    moved = np.zeros((len(t), 2))
    for start, strength in zip(starts, rng.uniform(0.5, 1.0, taps), strict=True):
        since = t[t >= start] - start
        moved[t >= start] += strength * _accelerations(since, w, z) @ ring
    moved *= _LOUDEST / np.abs(moved).max()
    moved += rng.normal(0.0, noise, moved.shape)
    up = 9.81 + rng.normal(0.0, noise, len(t))
    lines = [
        "# synthetic: a tapped head, computed from a model; nobody measured it",
        f"# head at x = {x}, y = {y}",
        "time [s],accel_x [m/s^2],accel_y [m/s^2],accel_z [m/s^2]",
    ]
    lines += [f"{a:.5f},{b:.3f},{c:.3f},{d:.3f}" for a, (b, c), d in zip(t, moved, up, strict=True)]
    target = Path(path)
    target.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return target


def _accelerations(since: Any, w: Any, z: Any) -> Any:
    """Acceleration of each mode after a blow that gives it unit speed, shape (times, modes)."""
    root = np.sqrt(1 - z**2)
    turn = np.outer(since, w * root)
    # x = exp(-z w t) sin(w_d t) / w_d, differentiated twice
    swing = (2 * z**2 - 1) / root * np.sin(turn) - 2 * z * np.cos(turn)
    return w * np.exp(-np.outer(since, z * w)) * swing


def copy_of(machine: Machine) -> Path:
    """Copy a machine's file into a new temporary folder, to append findings to without harm.

    >>> from mathlib.machine import TAGMAKER, load
    >>> print(copy_of(load(TAGMAKER)).name)
    tagmaker.toml
    """
    return Path(shutil.copy(machine.path, tempfile.mkdtemp()))
