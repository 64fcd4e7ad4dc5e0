"""Ties a measured frequency to the drive's model: which mode it is, and what belt makes it ring.

The machines that the file allows are drawn; each mode has a band of frequencies over them, and a
share of the head's movement along the measured axis. What fits best is the mode, unless another
one fits nearly as well: then the caller must say which.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import attrs
import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.measure.measured import Measured, measured
from mathlib.motion import modes, refits
from mathlib.units import Q, Quantity
from mathlib.words import Word

if TYPE_CHECKING:
    from mathlib.machine import Machine

_FREQUENCY: Final = Word("frequency", "Hz")
_PLACE: Final = Word("place", "mm", "of the head", "signed")
_FAR: Final = 3.0  # standard deviations from a mode's band, beyond which it is not that mode
_SURE: Final = 0.9  # share of belief that tells a mode from the others
_FELT: Final = 0.01  # share of the head's movement, below which a tap does not wake a mode
_NARROW: Final = 0.02  # of ln f: what the model itself may be off, idlers, bending and all


class Candidate(NamedTuple):
    """A mode beside the measured frequency.

    ``frequency`` is the typical machine's and ``spread`` that of the drawn ones, one standard
    deviation; ``apart`` is how many deviations the measured one lies above it; ``felt`` the share
    of a tap's effect along the axis; ``belief`` that it is this one, of 1 for all together.
    """

    mode: int
    name: str
    frequency: Quantity
    spread: Quantity
    apart: float
    felt: float
    belief: float


@dataclass(frozen=True)
class Identified:
    """A measured frequency as a mode of the drive: ``mode`` counts from the lowest, 0.

    ``x`` and ``y`` are where the head was. ``candidates`` has all modes that a tap along ``axis``
    wakes, the likeliest first; ``notes`` what the model leaves out.
    """

    frequency: Measured
    axis: str
    x: Quantity
    y: Quantity
    mode: int
    candidates: tuple[Candidate, ...]
    notes: tuple[str, ...]

    @property
    def model(self) -> Quantity:
        """The same mode's frequency by the machine's file, typical values."""
        return self.of(self.mode).frequency

    def of(self, mode: int) -> Candidate:
        """Give the candidate of this number."""
        return next(c for c in self.candidates if c.mode == mode)

    def __str__(self) -> str:
        """One line: the measured frequency, the mode, and what the file led to expect."""
        best = self.of(self.mode)
        return (
            f"{self.frequency} along {self.axis} at x = {units.show(self.x, 4)}, "
            f"y = {units.show(self.y, 4)}: mode {self.mode + 1}, {best.name}; the file says "
            f"{units.show(best.frequency, 3)} ± {units.show(best.spread, 2)}"
        )


def which_mode(
    frequency: Any,
    axis: str,
    machine: Machine,
    x: Any,
    y: Any,
    *,
    mode: int | None = None,
    draws: int = 400,
    seed: int = 1,
) -> Identified:
    """Tell which mode of the whole drive was measured.

    Parameters
    ----------
    frequency : frequency
        As ``vibration.fit_mode`` gives it; one without ``.std`` counts as exact.
    axis : "x" or "y"
        Along which it was measured.
    machine : Machine
        Its ranges say how far each mode may lie from where the file has it.
    x, y : length
        Place of the head.
    mode : int, optional
        Its number where you know it, 0 for the lowest.
    draws, seed : int
        Of machines within the ranges.

    Returns
    -------
    Identified
        With ``.mode``, ``.candidates``, ``.model``.

    Raises
    ------
    ValueRefused
        Nothing in the model rings near it, or two modes fit alike: the sentence lists them.
    UnitError
        As a formula does.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> found = which_mode(measured(48, 0.2, "Hz"), "y", load(TAGMAKER), "210 mm", "150 mm")
    >>> print(found.mode, found.of(0).name, "|", found.model.round(1))
    0 mostly y | 45.8 Hz

    """
    if axis not in ("x", "y"):
        raise ValueRefused(f'which_mode: axis is "x" or "y", along which it rang; got {axis!r}.')
    hertz = float(words.base_value(_FREQUENCY, frequency))
    std = float(frequency.std.to("Hz").magnitude) if isinstance(frequency, Measured) else 0.0
    found = _candidates(hertz, std, axis, machine, (x, y), draws, seed)
    told = measured(hertz, std, "Hz")
    if mode is not None:
        if mode not in [c.mode for c in found]:
            known = ", ".join(str(c.mode) for c in found)
            raise ValueRefused(
                f"which_mode: a tap along {axis} there wakes modes {known}; got mode={mode}."
            )
        best = mode
    else:
        best = _told_apart(told, axis, found)
    head_x, head_y = (Q(words.base_value(_PLACE, place), "m").to("mm") for place in (x, y))
    return Identified(told, axis, head_x, head_y, best, found, _left_out(machine))


def _candidates(
    hertz: float, std: float, axis: str, machine: Machine, place: Any, draws: int, seed: int
) -> tuple[Candidate, ...]:
    """All modes that a tap along the axis wakes, the likeliest first."""
    typical = modes.modes(machine.typical().drive, *place)
    drawn = modes.modes(machine.draw(draws, seed).drive, *place)
    spread = np.log(drawn.frequency.magnitude).reshape(-1, len(typical.names())).std(axis=0)
    along = typical.head[:, "xy".index(axis)] ** 2
    felt = along / along.sum()
    whole = np.sqrt(spread**2 + _NARROW**2 + (std / hertz) ** 2)
    apart = (np.log(hertz) - np.log(typical.frequency.magnitude)) / whole
    score = np.log(felt + 1e-300) - np.log(whole) - apart**2 / 2
    belief = np.exp(score - score.max())
    belief /= belief.sum()
    rows = [
        Candidate(
            n,
            name,
            typical.frequency[n],
            Q(float(spread[n]) * typical.frequency[n].magnitude, "Hz"),
            float(apart[n]),
            float(felt[n]),
            float(belief[n]),
        )
        for n, name in enumerate(typical.names())
        if felt[n] >= _FELT
    ]
    return tuple(sorted(rows, key=lambda c: -c.belief))


def _told_apart(told: Any, axis: str, found: tuple[Candidate, ...]) -> int:
    best = found[0]
    listed = "; ".join(
        f"mode={c.mode}: {c.name}, {units.show(c.frequency, 3)} ± {units.show(c.spread, 2)}"
        for c in found
    )
    if abs(best.apart) > _FAR:
        raise ValueRefused(
            f"which_mode: nothing in the model rings near {told} along {axis} there ({listed}). It "
            "may be the beam's bending, the frame or the table, or a value in the file is off: "
            "look at masses and belt. If you know which one it is, pass its number as mode=."
        )
    if best.belief < _SURE:
        raise ValueRefused(
            f"which_mode: {told} along {axis} there may be more than one mode ({listed}). Measure "
            "where they lie further apart, weigh what moves, or pass the number as mode=."
        )
    return best.mode


def _left_out(machine: Machine) -> tuple[str, ...]:
    if machine.beam.yaw_stiffness is not None:
        return ()
    return (
        "the beam's yaw is left out, since the file does not know its stiffness: off the middle of "
        "the beam, and along x everywhere, the belt then comes out too soft; along y with the head "
        "in the middle the beam does not turn",
    )


def _half_width(drawn: Any) -> float:
    """Half of the width in which the middle 68 % lie; ranges of masses are often skewed."""
    low, high = np.nanpercentile(drawn, [15.87, 84.13])
    return float(high - low) / 2


@dataclass(frozen=True)
class BeltFit:
    """Belt stiffness from a measured mode: ``stiffness`` in N for the whole width, with ``.std``.

    Two of three machines within the file's ranges have a belt that lies within one ``.std``.
    ``shares`` tells how much of its variance comes from the measured frequency, and how much from
    masses, motors and what else the file has ranges for.
    """

    stiffness: Measured
    shares: dict[str, float]
    identified: Identified
    notes: tuple[str, ...]

    def __str__(self) -> str:
        """One line: the stiffness, and where its uncertainty comes from."""
        told = ", ".join(f"{100 * share:.0f} % {name}" for name, share in self.shares.items())
        return f"specific stiffness {self.stiffness}; of its variance {told}"


def belt_stiffness(
    identified: Identified, machine: Machine, *, draws: int = 400, seed: int = 1
) -> BeltFit:
    """Fit the belt's specific stiffness so that the identified mode rings as measured.

    Masses, motors and all else that the file has a range for are drawn, the frequency too; the
    belt's own range is not used.

    Parameters
    ----------
    identified : Identified
        From ``which_mode``.
    machine : Machine
        The same one.
    draws, seed : int
        Of machines within the ranges.

    Returns
    -------
    BeltFit
        ``.stiffness`` goes to ``findings.append_measured`` as it is.

    Raises
    ------
    ValueRefused
        No belt makes the mode ring there.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> machine = load(TAGMAKER)
    >>> found = which_mode(measured(48, 0.2, "Hz"), "y", machine, "210 mm", "150 mm")
    >>> print(belt_stiffness(found, machine).stiffness)
    21550 N ± 2200 N

    """
    place, number = (identified.x, identified.y), identified.mode
    told = identified.frequency
    fixed = machine.typical().drive
    at = refits.belt_for_frequency(fixed, *place, told.value, number).magnitude
    if np.isnan(at):
        raise ValueRefused(
            f"belt_stiffness: no belt makes mode {number + 1} of this drive ring at {told} there, "
            "whether a hundred times softer or stiffer: the motors' magnetic springs set an upper "
            "end. Look at the masses, the set current, or whether it was another mode."
        )
    rng = np.random.default_rng([seed, 51])
    hertz = np.abs(told.magnitude + told.std.magnitude * rng.normal(size=draws))
    # Each machine begins at the fitted belt: its own range is what the measurement replaces.
    own: Any = machine.typical().belt
    belt = attrs.evolve(own, specific_stiffness=Q(float(at), "N"))
    drawn = refits.fitted(machine.draw(draws, seed).drive, belt=belt)
    spread = [
        refits.belt_for_frequency(drawn, *place, Q(f, "Hz"), number).magnitude
        for f in (hertz, np.full(draws, told.magnitude))
    ]
    lost = np.isnan(spread).any(axis=0)
    if lost.mean() > 0.05:
        raise ValueRefused(
            f"belt_stiffness: in {100 * lost.mean():.0f} % of the machines that the file allows no "
            f"belt makes mode {number + 1} ring at {told}. Weigh what moves, or narrow the ranges."
        )
    both, rest = (_half_width(one) for one in spread)
    share = 1.0 if both == 0 else min(1.0, (rest / both) ** 2)
    notes = list(identified.notes)
    if not machine.ranges:
        notes.append("the file has no ranges: masses and motors are believed to be exact")
    elif share > 0.5:
        notes.append(
            "the masses tell most of the uncertainty: weigh beam, carriage and head, put that into "
            "the file, and fit again"
        )
    notes.append("idlers, the belts' own mass and bending of the beam count for nothing here")
    return BeltFit(
        measured(float(at), both, "N"),
        {"masses, motors and the rest": share, "the frequency": 1.0 - share},
        identified,
        tuple(notes),
    )
