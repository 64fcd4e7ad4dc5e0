"""How much light an eye or a patch of skin may get: limits of exposure, by edition.

For one wavelength and time every printed cell that applies is evaluated and brought to one
quantity, and the lowest is named with its mechanism. A limit is a line that experts drew where
injury was not found; it holds for the exposure and the assumptions that stand beside it.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib import words
from mathlib.errors import MathlibError, ValueRefused
from mathlib.fields import quantity, record
from mathlib.safety.apertures import limiting_aperture as limiting_aperture
from mathlib.safety.cells import BLUEST, LONGEST, REDDEST, SHORTEST, grid
from mathlib.safety.classes import class_of_head as class_of_head
from mathlib.safety.classes import density_for_class_1 as density_for_class_1
from mathlib.safety.classes import emission_limit as emission_limit
from mathlib.safety.corrections import (
    ANGLE,
    EDGE,
    LAW,
    LOWEST,
    TIME,
    WAVELENGTH,
    by_law,
    one_of_targets,
    within,
)
from mathlib.safety.durations import allowed_time as allowed_time
from mathlib.safety.factors import factor as factor
from mathlib.safety.factors import photochemical_field as photochemical_field
from mathlib.safety.factors import pulse_factor as pulse_factor
from mathlib.safety.factors import source_factor as source_factor
from mathlib.safety.factors import thermal_time as thermal_time
from mathlib.safety.limits import IRRADIANCE, Asked
from mathlib.safety.limits import Limit as Limit
from mathlib.safety.limits import without_independent_check as without_independent_check
from mathlib.units import Quantity
from mathlib.words import Mistakes, Word

#: Mechanisms to which the rule of repeated pulses applies, in the newer editions and in law.
_HEATS: Final = ("retinal thermal",)
_HEATS_BY_LAW: Final = ("thermal", "ultraviolet")
_AREA: Final = Word("exposed_area", "m^2", "of skin that the light reaches")


@record
class Pulse:
    """A train of equal pulses: how long one lasts, and how many come in a second."""

    duration: Quantity = quantity("s", "of one pulse")
    rate: Quantity = quantity("Hz", "pulses in a second")


def limit(
    wavelength: Any,
    exposure_time: Any,
    target: str = "eye",
    source_angle: Any = None,
    pulse: Pulse | None = None,
    edition: str = LOWEST,
    exposed_area: Any = None,
) -> Limit:
    """Give the limit of exposure of an eye or of skin, and what decides it.

    Parameters
    ----------
    wavelength : length, broadcast
        180 nm to 1 mm.
    exposure_time : time, broadcast
        1e-13 s to 30 000 s, a working day; for pulses, of the whole train.
    target : str
        "eye" or "skin".
    source_angle : angle, broadcast, optional
        That the source takes up, seen by the eye. Without it the source is small, as a beam or
        its spot on the work is: the strict case. Of no matter to skin.
    pulse : Pulse, optional
        Of equal pulses; continuous without it. Fields may be arrays.
    edition : str
        "IEC 2014", "ICNIRP 2013", "2006/25/EC", or "lowest" of the first two.
    exposed_area : area, broadcast, optional
        Of skin; beyond 1400 nm and from 10 s on, more than 0.01 m² bears less.

    Returns
    -------
    Limit
        ``.irradiance`` in W/m² as the mean over the limiting aperture (and over the train),
        ``.radiant_exposure`` in J/m² of the exposure (or of one pulse), ``.mechanism``,
        ``.confidence`` and ``.edition`` of the cell that decided, and ``.rows`` with every cell
        that applies. The photochemical limits count the whole source, which is stricter than
        counting what lies within ``photochemical_field``.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; wavelength or time outside the table; pulses that overlap.

    Examples
    --------
    >>> found = limit("445 nm", "100 s")
    >>> print(found.irradiance, "|", found.mechanism, "|", found.confidence)
    1 W/m² | retinal photochemical | high

    """
    who = "Limit of exposure"
    mistakes = Mistakes(who)
    for ready in (lambda: by_law(who, edition), lambda: one_of_targets(target)):
        try:
            ready()
        except MathlibError as fault:
            mistakes.add(type(fault), str(fault).removeprefix(f"{who}: "))
    light = [within(mistakes, WAVELENGTH, wavelength, BLUEST, REDDEST)]
    light.append(within(mistakes, TIME, exposure_time, SHORTEST, LONGEST))
    if source_angle is not None:
        light.append(within(mistakes, ANGLE, source_angle, 0.0, np.pi))
    area: tuple[Any, ...] = ()
    if exposed_area is not None and target == "skin":
        area = (within(mistakes, _AREA, exposed_area, 0.0, np.inf),)
    mistakes.stop()
    train: tuple[Any, ...] = ()
    if pulse is not None:
        train = _train(who, pulse, light[1])
    asked = Asked(
        edition,
        target,
        grid(target, edition),
        grid(target, edition, *(_HEATS_BY_LAW if edition == LAW else _HEATS)),
        tuple(light),
        train,
        area,
    )
    return Limit(words.result(asked.over(lambda made, _, __: made), IRRADIANCE), asked)


def _train(who: str, pulse: Pulse, time: Any) -> tuple[Any, Any]:
    if not isinstance(pulse, Pulse):
        raise ValueRefused(
            f'{who}: pulse is a Pulse(duration="100 ns", rate="30 kHz") or None; got {pulse!r}.'
        )
    mistakes = Mistakes(who)
    duration = within(mistakes, Word("pulse.duration", "s"), pulse.duration, SHORTEST, LONGEST)
    rate = words.base_value(Word("rate", "Hz"), pulse.rate)
    if np.any(duration > time):
        mistakes.add(ValueRefused, "a pulse lasts longer than the exposure.")
    if np.any(duration * rate > 1 + EDGE):
        mistakes.add(
            ValueRefused,
            "the pulses overlap, since duration times rate is above 1: leave pulse out for a "
            "continuous beam.",
        )
    mistakes.stop()
    return duration, rate
