"""Darkness against power, speed and line spacing: why equal doses need not mark alike."""

from __future__ import annotations

from typing import Any, Final

import attrs
import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.laser.tone_curve import DARKNESS, strip_columns
from mathlib.words import Word

_POWER: Final = Word("power", "W", "of each strip")
_SPEED: Final = Word("speed", "mm/s", "of each strip")
_SPACING: Final = Word("line_spacing", "mm", "of each strip")
_AXES: Final = (_POWER, _SPEED, _SPACING)


@attrs.frozen(kw_only=True, eq=False)
class Response:
    """How darkness follows power, speed and line spacing: 1 - exp(-k P^a v^-b s^-c).

    An exponent is nan where the strips did not vary that setting; then the others are only known
    at its one value. ``std`` has their standard uncertainties, ``scatter`` that of the darkness.
    """

    power_exponent: float
    speed_exponent: float
    spacing_exponent: float
    std: tuple[float, float, float]
    scatter: float
    _constant: float
    _tested: tuple[tuple[float, float], ...]

    @property
    def reciprocal(self) -> bool | None:
        """Whether dose alone fixes the tone, within twice the uncertainty; None: not tested."""
        a, b = self.power_exponent, self.speed_exponent
        if np.isnan(a) or np.isnan(b):
            return None
        return bool(abs(a - b) <= 2 * float(np.hypot(self.std[0], self.std[1])))

    def darkness(self, *, power: Any, speed: Any, line_spacing: Any) -> Any:
        """Darkness to expect, within the speeds, powers and spacings that were varied.

        Raises
        ------
        ValueRefused
            A setting that the strips did not vary differs from theirs, or one lies more than a
            third beyond what they covered.

        """
        given = (power, speed, line_spacing)
        values = [np.asarray(words.base_value(w, g)) for w, g in zip(_AXES, given, strict=True)]
        refused = []
        for word, value, (low, high) in zip(_AXES, values, self._tested, strict=True):
            shown = [units.show(words.result(end, word.container), 3) for end in (low, high)]
            if low == high:
                if np.any(np.abs(value / low - 1) > 1e-6):
                    refused.append(
                        f"all strips had a {word.word.replace('_', ' ')} of {shown[0]}: burn "
                        "strips at another one, for equal doses need not mark alike."
                    )
            elif np.any(value < low / 1.334) or np.any(value > high * 1.334):
                refused.append(
                    f"strips had a {word.word.replace('_', ' ')} from {shown[0]} to {shown[1]}; "
                    "this is too far beyond."
                )
        if refused:
            raise ValueRefused("Response of the material: " + "\n  ".join(refused))
        total = self._constant
        exponents = (self.power_exponent, -self.speed_exponent, -self.spacing_exponent)
        for value, exponent in zip(values, exponents, strict=True):
            total = total + (0.0 if np.isnan(exponent) else exponent * np.log(value))
        return 1 - np.exp(-np.exp(total))


def response(*, power: Any, speed: Any, line_spacing: Any, darkness: Any) -> Response:
    """Fit how darkness follows power, speed and line spacing from strips.

    In wood equal doses do not mark alike: reciprocity fails. So each setting has an exponent of
    its own, found by a straight line through log(-log(1 - darkness)).

    Parameters
    ----------
    power, speed, line_spacing : power, speed, length, one-dimensional
        Of each strip.
    darkness : numbers
        Above 0 and below 1, where 1 is the darkest that the material gets; of the part that
        darkens with dose, not beyond the turn.

    Returns
    -------
    Response
        With exponents, their uncertainties, ``.reciprocal`` and ``.darkness(...)``.

    Raises
    ------
    UnitError, ValueRefused
        Too few strips; settings that only vary together; a darkness that is not between 0 and 1.

    Examples
    --------
    >>> from mathlib import Q
    >>> found = response(power=Q([1, 2, 1, 2, 4], "W"), speed=Q([50, 50, 100, 100, 100], "mm/s"),
    ...                  line_spacing=Q([0.1] * 5, "mm"), darkness=[0.4, 0.6, 0.3, 0.5, 0.75])
    >>> 0.4 < found.speed_exponent < found.power_exponent
    True

    """
    who = "Response of the material"
    read = strip_columns(
        who,
        power=(_POWER, power),
        speed=(_SPEED, speed),
        line_spacing=(_SPACING, line_spacing),
        darkness=(DARKNESS, darkness),
    )
    dark = read.pop("darkness")
    if not np.all((dark > 0) & (dark < 1)):
        raise ValueRefused(
            f"{who}: darkness lies above 0, the bare material, and below 1, the darkest; leave out "
            "strips without a mark and those beyond the turn."
        )
    columns = np.log(np.array(list(read.values())))
    varied = np.ptp(columns, axis=1) > 1e-6
    matrix = np.vstack([np.ones_like(dark), columns[varied]]).T
    free = dark.size - matrix.shape[1]
    if free < 1 or np.linalg.matrix_rank(matrix, tol=1e-6) < matrix.shape[1]:
        raise ValueRefused(
            f"{who}: {dark.size} strips do not tell {int(varied.sum())} settings apart. Vary "
            "power, speed and line spacing one at a time, with more strips than settings."
        )
    wanted = np.log(-np.log1p(-dark))
    found, *_ = np.linalg.lstsq(matrix, wanted, rcond=None)
    spread = float(np.sum((wanted - matrix @ found) ** 2)) / free
    std = np.sqrt(np.diag(np.linalg.inv(matrix.T @ matrix)) * spread)
    exponents, errors = np.full(3, np.nan), np.full(3, np.nan)
    exponents[varied], errors[varied] = found[1:], std[1:]
    predicted = 1 - np.exp(-np.exp(matrix @ found))
    ends = [(float(column.min()), float(column.max())) for column in read.values()]
    ends = [(low, high if v else low) for (low, high), v in zip(ends, varied, strict=True)]
    return Response(
        power_exponent=float(exponents[0]),
        speed_exponent=float(-exponents[1]),
        spacing_exponent=float(-exponents[2]),
        std=(float(errors[0]), float(errors[1]), float(errors[2])),
        scatter=float(np.sqrt(np.sum((dark - predicted) ** 2) / free)),
        constant=float(found[0]),
        tested=tuple(ends),
    )
