"""Darkness against dose from measured strips: a curve that may turn over, and what it allows."""

from __future__ import annotations

from typing import Any, Final

import attrs
import numpy as np

from mathlib import units, words
from mathlib.errors import MathlibError, ValueRefused
from mathlib.units import Quantity
from mathlib.words import Word

_DOSE: Final = Word("dose", "J/mm^2", "of each strip")
DARKNESS: Final = Word("darkness", "1", "of each strip, 0 for bare material", "signed")


def strip_columns(who: str, **given: tuple[Word, Any]) -> dict[str, np.ndarray]:
    """Read columns of strips, all of one length, in SI base units.

    >>> strip_columns("Strips", speed=(Word("speed", "mm/s"), ["50 mm/s", "0.1 m/s"]))
    {'speed': array([0.05, 0.1 ])}
    """
    read = {}
    for name, (word, value) in given.items():
        try:
            read[name] = np.atleast_1d(np.asarray(words.base_value(word, value), dtype=float))
        except MathlibError as fault:
            raise type(fault)(f"{who}: {fault}") from None
    lengths = {name: column.size for name, column in read.items()}
    if any(column.ndim != 1 for column in read.values()) or len(set(lengths.values())) > 1:
        told = ", ".join(f"{size} of {name}" for name, size in lengths.items())
        raise ValueRefused(f"{who}: one value of each for every strip; got {told}.")
    return read


@attrs.frozen(kw_only=True, eq=False)
class ToneCurve:
    """Darkness of measured strips against dose, sorted, repeats averaged.

    ``turns_at`` is the dose from which on it gets lighter again, or None where no strip does;
    ``darkest`` the darkness there. ``rising_dose`` and ``rising`` are the part up to there, with
    small dips of the reading levelled out: only that part is inverted.
    """

    dose: Quantity
    darkness: np.ndarray
    rising_dose: Quantity
    rising: np.ndarray
    turns_at: Quantity | None

    @property
    def darkest(self) -> float:
        """Darkness where the rising part ends."""
        return float(self.rising[-1])

    def __str__(self) -> str:
        """Say over which doses it darkens, and where it turns."""
        low, high = (units.show(self.rising_dose[k], 3) for k in (0, -1))
        told = f"Darkness {self.rising[0]:.2g} at {low} to {self.darkest:.2g} at {high}"
        if self.turns_at is None:
            return f"{told}; no strip is lighter than one with less dose."
        return f"{told}; beyond {units.show(self.turns_at, 3)} it gets lighter again."

    def darkness_at(self, dose: Any) -> Any:
        """Darkness at a dose between the strips, on either side of the turn.

        Raises
        ------
        ValueRefused
            The dose is beyond the strips that were measured.

        """
        x = np.asarray(words.base_value(_DOSE, dose))
        known = self.dose.to("J/m^2").magnitude
        if np.any(x < known[0] * (1 - 1e-9)) or np.any(x > known[-1] * (1 + 1e-9)):
            raise ValueRefused(
                f"Tone curve: strips were measured from {units.show(self.dose[0], 3)} to "
                f"{units.show(self.dose[-1], 3)}; beyond them nothing is known. Burn more strips."
            )
        return np.interp(x, known, self.darkness)

    def dose_for(self, darkness: Any) -> Quantity:
        """Dose for a darkness, on the rising part alone.

        Raises
        ------
        ValueRefused
            It is darker than the curve gets before it turns, or lighter than its lightest strip.

        """
        asked = np.asarray(words.base_value(DARKNESS, darkness))
        if np.any(asked > self.darkest + 1e-12):
            turn = (
                "no strip was darker; burn strips with more dose"
                if self.turns_at is None
                else f"beyond {units.show(self.turns_at, 3)} it gets lighter again, and more dose "
                "does not help"
            )
            raise ValueRefused(
                f"Tone curve: a darkness of {np.max(asked):.3g} is not reached. The darkest is "
                f"{self.darkest:.3g}; {turn}."
            )
        if np.any(asked < self.rising[0] - 1e-12):
            raise ValueRefused(
                f"Tone curve: a darkness of {np.min(asked):.3g} is lighter than the lightest "
                f"strip, {self.rising[0]:.3g} at {units.show(self.dose[0], 3)}. Burn strips with "
                "less dose."
            )
        found = inverted(asked, self.rising, self.rising_dose.magnitude)
        return units.quantity(found if found.ndim else float(found), self.rising_dose._units)


def tone_curve(*, dose: Any, darkness: Any, reading: Any = "0.02 1") -> ToneCurve:
    """Tone curve from measured strips, in any order, repeats allowed.

    Parameters
    ----------
    dose : energy per area, one-dimensional
        Mean areal dose of each strip.
    darkness : numbers, the same length
        0 for the bare material, larger for darker; such as 1 - reflectance over that of the bare.
    reading : number
        How closely a darkness is read: a later strip that is lighter by more than this shows that
        the curve turned. The default of 0.02 is an estimate for a scanned coupon.

    Returns
    -------
    ToneCurve
        With ``.dose_for``, ``.darkness_at`` and ``.turns_at``.

    Raises
    ------
    UnitError, ValueRefused
        Fewer than three doses, columns of different lengths, values without a unit.

    Examples
    --------
    >>> from mathlib import Q
    >>> curve = tone_curve(dose=Q([0.4, 0.1, 0.2, 0.8], "J/mm^2"), darkness=[0.7, 0.1, 0.4, 0.5])
    >>> print(curve.dose_for(0.25))
    0.15 J/mm²
    >>> print(curve.turns_at)
    0.4 J/mm²

    """
    who = "Tone curve"
    told = {"dose": (_DOSE, dose), "darkness": (DARKNESS, darkness)}
    close = float(words.base_value(Word("reading", "1", "", "zero"), reading))
    read = strip_columns(who, **told)
    doses, place = np.unique(read["dose"], return_inverse=True)
    if doses.size < 3:
        raise ValueRefused(f"{who}: strips of at least three doses are needed; got {doses.size}.")
    count = np.bincount(place)
    mean = np.bincount(place, weights=read["darkness"]) / count
    top = int(np.argmax(mean))
    turned = bool(np.any(mean[top + 1 :] < mean[top] - close))
    upto = top + 1 if turned else doses.size
    rising = _levelled(mean[:upto], count[:upto])
    in_unit = words.result(doses, units.container("J/mm^2"))
    return ToneCurve(
        dose=in_unit,
        darkness=mean,
        rising_dose=in_unit[:upto],
        rising=rising,
        turns_at=in_unit[top] if turned else None,
    )


def _levelled(values: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Nearest values in the least-squares sense that never fall: neighbours that do are pooled."""
    pools: list[list[float]] = []
    for value, weight in zip(values.tolist(), weights.tolist(), strict=True):
        pools.append([value, weight, 1])
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            last, before = pools.pop(), pools.pop()
            total = before[1] + last[1]
            level = (before[0] * before[1] + last[0] * last[1]) / total
            pools.append([level, total, before[2] + last[2]])
    return np.concatenate([np.full(int(size), level) for level, _, size in pools])


def inverted(asked: Any, rising: np.ndarray, places: np.ndarray) -> Any:
    """First place at which a curve of straight pieces, which never falls, has the values asked.

    Plain numbers; a value beyond the curve gets its end.

    >>> print(inverted([0.0, 0.5], np.array([0.0, 0.0, 1.0]), np.array([1.0, 2.0, 3.0])))
    [1.  2.5]
    """
    at = np.clip(np.searchsorted(rising, asked), 1, rising.size - 1)
    low, high = rising[at - 1], rising[at]
    step = np.where(high > low, high - low, 1.0)
    part = np.clip((np.asarray(asked) - low) / step, 0.0, 1.0)
    return places[at - 1] + part * (places[at] - places[at - 1])
