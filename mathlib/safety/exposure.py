"""How much light an eye or a patch of skin may get: limits of exposure, by edition.

For one wavelength and time every printed cell that applies is evaluated and brought to one
quantity, and the lowest is named with its mechanism. A limit is a line that experts drew where
injury was not found; it holds for the exposure and the assumptions that stand beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final, NamedTuple

import numpy as np

from mathlib import units, words
from mathlib.compiled import in_blocks
from mathlib.errors import MathlibError, ValueRefused
from mathlib.fields import quantity, record
from mathlib.safety import wording
from mathlib.safety.apertures import limiting_aperture as limiting_aperture
from mathlib.safety.cells import (
    BLUEST,
    CONFIDENCES,
    LONGEST,
    REDDEST,
    SHORTEST,
    Cell,
    Grid,
    grid,
    of_edition,
)
from mathlib.safety.classes import class_of_head as class_of_head
from mathlib.safety.classes import density_for_class_1 as density_for_class_1
from mathlib.safety.classes import emission_limit as emission_limit
from mathlib.safety.corrections import (
    ANGLE,
    EDGE,
    LOWEST,
    TIME,
    WAVELENGTH,
    by_law,
    one_of_targets,
    rules,
    within,
)
from mathlib.safety.corrections import factor as factor
from mathlib.safety.corrections import photochemical_field as photochemical_field
from mathlib.safety.corrections import pulse_factor as pulse_factor
from mathlib.safety.corrections import source_factor as source_factor
from mathlib.safety.corrections import thermal_time as thermal_time
from mathlib.safety.durations import allowed_time as allowed_time
from mathlib.safety.pulses import RULES, pulse_limits
from mathlib.units import Quantity
from mathlib.words import Mistakes, Word

_AREA: Final = Word("exposed_area", "m^2", "of skin that the light reaches")
#: Skin beyond 1400 nm for more than 10 s: from the first area on 10 W over the area, down to the
#: second. IEC 60825-1:2014, from memory; without an independent check.
_WIDE_SKIN: Final = (0.01, 0.1)  # m^2
_WIDE_SKIN_POWER: Final = 10.0  # W
_WIDE_SKIN_FROM: Final = (1400e-9, 10.0)  # m, s


@record
class Pulse:
    """A train of equal pulses: how long one lasts, and how many come in a second."""

    duration: Quantity = quantity("s", "of one pulse")
    rate: Quantity = quantity("Hz", "pulses in a second")


class Row(NamedTuple):
    """One printed cell that applies, with the irradiance that it alone would allow."""

    name: str
    mechanism: str
    printed: str
    irradiance: Quantity
    confidence: str
    editions: tuple[str, ...]
    note: str


class _Asked(NamedTuple):
    """One question in SI base units; arrays broadcast. ``pulse`` is (duration, rate) or ()."""

    edition: str
    target: str
    every: Grid
    thermal: Grid
    light: tuple[Any, ...]  # wavelength, time, and the source angle unless the source is small
    pulse: tuple[Any, ...]
    area: tuple[Any, ...]

    @property
    def cells(self) -> tuple[Cell, ...]:
        return (*self.every.cells, *self.thermal.cells)

    @property
    def numbers(self) -> list[Any]:
        return [*self.light, *self.pulse, *self.area]

    def lowest(self, *parts: Any) -> tuple[Any, Any, Any]:
        """Irradiance over flat arrays, the number of the cell, and that of the rule."""
        wave, time, angle, duration, rate, area = self.sorted(parts)
        if not self.pulse:
            made, cell = self.every.lowest(wave, time, angle)
            if area is not None:
                wide = (wave >= _WIDE_SKIN_FROM[0]) & (time >= _WIDE_SKIN_FROM[1])
                made = np.where(wide, np.minimum(made, _of_area(area)), made)
            return made, cell, np.zeros_like(cell)
        each, cells = pulse_limits(self.every, self.thermal, wave, time, angle, duration, rate)
        rule = np.argmin(each, axis=0)
        best = np.arange(rule.size)
        # the thermal grid numbers its own cells: behind those of the grid of all
        cells[2] += len(self.every.cells)
        return each[rule, best] * rate, cells[rule, best], rule

    def sorted(self, parts: Any) -> tuple[Any, ...]:
        flat = np.broadcast_arrays(*map(np.atleast_1d, parts))
        n, m = len(self.light), len(self.light) + len(self.pulse)
        angle = flat[2] if n == 3 else None
        duration, rate = flat[n:m] if self.pulse else (None, None)
        return flat[0], flat[1], angle, duration, rate, flat[m] if self.area else None

    def over(self, wanted: Any) -> Any:
        """Take what is ``wanted`` of ``lowest``, over the broadcast shape."""
        shape = np.broadcast_shapes(*(np.shape(n) for n in self.numbers))

        def code(*parts: Any) -> bool:
            parts[-1][...] = wanted(*self.lowest(*parts[:-1]))
            return True

        if 0 in shape:
            return np.empty(shape)
        if not shape:
            return wanted(*self.lowest(*self.numbers)).item()
        return in_blocks(code, self.numbers, shape)


def _of_area(area: Any) -> Any:
    return _WIDE_SKIN_POWER / np.clip(area, *_WIDE_SKIN)


@dataclass(frozen=True, eq=False, repr=False)
class Limit:
    """A limit of exposure, and what decided it; texts are arrays where the question was one.

    ``irradiance`` is the mean over the limiting aperture and, for pulses, over the train.
    """

    irradiance: Quantity
    _asked: _Asked

    def __repr__(self) -> str:
        if np.ndim(self.irradiance.magnitude):
            return f"limits of exposure of shape {np.shape(self.irradiance.magnitude)}"
        sure = "" if self.confidence == "high" else f"; {self.confidence} confidence in this cell"
        return (
            f"{units.show(self.irradiance)} ({self.mechanism}; {self.edition}{sure}). "
            f"{wording.TABLE_TO_CHECK}"
        )

    @cached_property
    def radiant_exposure(self) -> Quantity:
        """Of the whole exposure; of one pulse where there are pulses."""
        asked = self._asked
        lasting = 1 / asked.pulse[1] if asked.pulse else asked.light[1]
        return words.result(self.irradiance.magnitude * lasting, units.container("J/m^2"))

    @cached_property
    def _decided(self) -> Any:
        """Number of the cell and of the rule at each point, as one number."""
        return np.asarray(self._asked.over(lambda _, cell, rule: cell * len(RULES) + rule)).astype(
            np.intp
        )

    def _texts(self, told: Any) -> Any:
        """Say something of each deciding cell and rule, as a text or an array of texts."""
        codes, back = np.unique(self._decided, return_inverse=True)
        cells = self._asked.cells
        said = [
            told(cells[int(code) // len(RULES)], RULES[int(code) % len(RULES)]) for code in codes
        ]
        if not np.ndim(self._decided):
            return said[0]
        return np.array(said)[back].reshape(np.shape(self._decided))

    @cached_property
    def mechanism(self) -> Any:
        """What would be hurt first, and for pulses the rule that decides."""
        pulsed = bool(self._asked.pulse)
        return self._texts(lambda cell, rule: cell.mechanism + (f", {rule}" if pulsed else ""))

    @cached_property
    def confidence(self) -> Any:
        """How surely the deciding cell was remembered: high, medium or low."""
        most = {RULES[2]: rule_confidence()}
        return self._texts(
            lambda cell, rule: min(cell.confidence, most.get(rule, "high"), key=CONFIDENCES.index)
        )

    @cached_property
    def edition(self) -> Any:
        """Editions that have the deciding cell, of those that were asked for."""
        wanted = of_edition(self._asked.edition)
        return self._texts(lambda cell, _: ", ".join(e for e in wanted if e in cell.editions))

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """Every cell that applies somewhere; for pulses, to the exposure as a whole.

        The irradiance is infinite where a cell does not apply.
        """
        found = []
        asked = self._asked._replace(pulse=())
        for cell in asked.every.cells:
            alone = asked._replace(every=Grid((cell,), asked.edition))
            value = alone.over(lambda made, _, __: made)
            if np.any(np.isfinite(value)):
                told = words.result(value, _IRRADIANCE)
                editions = tuple(e for e in of_edition(asked.edition) if e in cell.editions)
                about = (cell.text, told, cell.confidence, editions, cell.note)
                found.append(Row(cell.name, cell.mechanism, *about))
        return tuple(found)

    @cached_property
    def by_mechanism(self) -> dict[str, Quantity]:
        """Lowest irradiance by mechanism, such as "retinal thermal"."""
        made: dict[str, Any] = {}
        for row in self.rows:
            value = row.irradiance.magnitude
            made[row.mechanism] = np.minimum(made.get(row.mechanism, np.inf), value)
        return {name: words.result(value, _IRRADIANCE) for name, value in made.items()}

    @cached_property
    def by_rule(self) -> dict[str, Quantity]:
        """Radiant exposure of one pulse by rule; empty for a continuous beam."""
        asked = self._asked
        if not asked.pulse:
            return {}
        shape = np.broadcast_shapes(*(np.shape(n) for n in asked.numbers))
        wave, time, angle, duration, rate, _ = asked.sorted(asked.numbers)
        flat = [v if v is None else v.reshape(-1) for v in (wave, time, angle, duration, rate)]
        each, _ = pulse_limits(asked.every, asked.thermal, *flat)
        return {
            name: words.result(value.reshape(shape), units.container("J/m^2"))
            for name, value in zip(RULES, each, strict=True)
        }

    @cached_property
    def unchecked(self) -> tuple[str, ...]:
        """Deciding cells and factors whose number nothing but a second typing confirms."""
        return ()

    @property
    def notes(self) -> tuple[str, ...]:
        """Sentences that must stand beside the number."""
        said = [wording.PREVAIL, wording.TABLE_TO_CHECK]
        if self._asked.target == "eye" and np.any(np.asarray(self._asked.light[1]) < 10.0):
            said.append(wording.BLINK)
        if np.any(np.char.startswith(self.mechanism, "corneal, second limit")):
            said.append(wording.SMALL_BEAM)
        return tuple(said)


_IRRADIANCE: Final = units.container("W/m^2")


def rule_confidence() -> str:
    """Lowest confidence of the numbers that the rule of repeated pulses uses."""
    told = [row.texts["confidence"] for name, row in rules().items() if name.startswith("C5")]
    return min(told, key=CONFIDENCES.index)


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
    law = False
    for ready in (lambda: by_law(who, edition), lambda: one_of_targets(target)):
        try:
            law = bool(ready()) or law
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
    asked = _Asked(
        edition,
        target,
        grid(target, edition),
        grid(target, edition, "thermal" if law else "retinal thermal"),
        tuple(light),
        train,
        area,
    )
    return Limit(words.result(asked.over(lambda made, _, __: made), _IRRADIANCE), asked)


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
