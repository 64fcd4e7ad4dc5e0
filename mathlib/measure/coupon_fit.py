"""What coupons tell: the boundary by Bayes over a grid, threshold and spot by widths of marks."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import attrs
import numpy as np

from mathlib.errors import MathlibError, ValueRefused
from mathlib.laser import cutting, observed, removal
from mathlib.laser.coupon import Coupon, with_coupon
from mathlib.materials import Material
from mathlib.measure import spots
from mathlib.measure.coupon_results import Cut
from mathlib.units import Q, Quantity

#: Scatter between lines of one sheet, of the logarithm of speed: middle and width, an estimate.
_SCATTER: Final = (0.15, 0.5)
_SCATTERS: Final = np.geomspace(0.04, 0.7, 15)
#: How a speed goes with the depth that it reaches, and how well that is known; estimates but for
#: the exponent, that of pine by McMillin and Harry 1971.
_DEEPER, _DEPTH_STD, _LEAST_DEPTH = 1.38, 0.35, 0.2
_GRID: Final = 801
_LEAST: Final = 3


@attrs.frozen(kw_only=True)
class Level:
    """Lines of one speed: the chance that was foretold, and how many severed."""

    speed: Quantity
    foretold: float
    severed: int
    lines: int

    @property
    def share(self) -> float:
        """Part of the lines that severed."""
        return self.severed / self.lines


def update(material: Material, cuts: Sequence[Cut], supplier_sheet: str | None) -> Material:
    """Give a material its coupon; ``coupons.update`` says what it takes.

    Examples
    --------
    >>> update(removal.as_material("cork"), [], None)
    Traceback (most recent call last):
    ...
    mathlib.errors.ValueRefused: Coupons: whether they severed is told of 0 lines; 3 are least.

    """
    decided = [cut for cut in cuts if cut.severed]
    if len(decided) < _LEAST:
        raise ValueRefused(
            f"Coupons: whether they severed is told of {len(decided)} lines; {_LEAST} are least."
        )
    beams = {_light(cut) for cut in cuts}
    if len(beams) > 1:
        raise ValueRefused("Coupons: all results of one update are of one head.")
    light = beams.pop()
    band = removal.band(light)
    there = _condition(decided)
    offsets = {key: there.offset(material, key) for key in {_key(cut) for cut in cuts}}
    drawn = _speeds(material, there.beam, *there.key, supplier_sheet)
    prior = np.log(drawn[drawn > 0])
    if len(prior) < 0.05 * len(drawn):
        raise ValueRefused(
            f"Coupons: {material.name} is not cut by this light as far as can be told here; look "
            "whether material and power are the right ones."
        )
    _right_way_round(decided, offsets)
    mean, std, scatter = _posterior(prior, cuts, offsets)
    told = {cut.severed for cut in decided}
    spot, notes = _spot(cuts)
    wet = [_one(cut.moisture, "1") for cut in cuts if cut.moisture is not None]
    thickness, power, passes = there.key
    found = Coupon(
        band=band,
        thickness=thickness,
        power=power,
        width=float(removal.widths(there.beam, thickness / passes)),
        passes=passes,
        coupling=math.exp(observed.coupling(observed.light_of(light)).mean),
        speed=math.exp(mean),
        std=std,
        scatter=scatter,
        both_sides=len(told) == 2,
        cuts=len(decided),
        source=f"{len(decided)} coupons of one's own",
        spot_radius=None if spot is None else spot.radius,
        threshold=None if spot is None else spot.threshold,
        shows_from=_shows(cuts),
        moisture=float(np.median(wet)) if wet else None,
        notes=notes,
    )
    return with_coupon(material, found)


def _right_way_round(decided: Sequence[Cut], offsets: Any) -> None:
    """Refuse lines of which the fast ones severed and the slow ones did not."""
    at: dict[str, list[float]] = {"yes": [], "no": []}
    for cut in decided:
        at[cut.severed].append(math.log(_one(cut.speed, "m/s")) - offsets[_key(cut)])
    if min(map(len, at.values())) and np.mean(at["yes"]) > np.mean(at["no"]) + _SCATTER[0]:
        raise ValueRefused(
            "Coupons: the lines that severed are the faster ones, and slower ones did not: look "
            "whether yes and no, or the numbers of the pieces, were taken for each other."
        )


def _light(cut: Cut) -> float:
    return float(np.median(cut.beam.wavelength.to("m").magnitude))


def _one(value: Quantity, unit: str) -> float:
    if np.ndim(value.magnitude):
        raise ValueRefused("Coupons: each line has single values.")
    return float(value.to(unit).magnitude)


def _key(cut: Cut) -> tuple[float, float, float]:
    """Thickness, power and passes of a line, SI."""
    return _one(cut.thickness, "m"), _one(cut.power, "W"), _one(cut.passes, "1")


@attrs.frozen(kw_only=True)
class _Condition:
    """What a boundary speed is for; others are brought to it by the model."""

    key: tuple[float, float, float]
    beam: Any

    def offset(self, material: Material, key: tuple[float, float, float]) -> float:
        """Logarithm of the boundary speed under other conditions, over that under these."""
        if key == self.key:
            return 0.0
        here, other = (_plain(material, self.beam, *each) for each in (self.key, key))
        both = (here > 0) & (other > 0)
        return float(np.median(np.log(other[both] / here[both]))) if both.any() else -math.inf


def _condition(decided: Sequence[Cut]) -> _Condition:
    thickness, power, passes = (float(v) for v in np.median([_key(c) for c in decided], axis=0))
    return _Condition(key=(thickness, power, round(passes)), beam=decided[0].beam)


def _plain(material: Material, beam: Any, thickness: float, power: float, passes: float) -> Any:
    """Speeds at one coupling: thickness, power and passes are compared, not materials."""
    light = float(np.median(beam.wavelength.to("m").magnitude))
    sheet = removal.sheet(material, thickness, light, 500)
    width = removal.widths(beam, thickness / passes)
    part = math.exp(observed.coupling(observed.light_of(light)).mean)
    return removal.speeds(sheet, thickness, power, width, passes, part)


def _speeds(
    material: Material, beam: Any, thickness: float, power: float, passes: float, sheet: str | None
) -> Any:
    return cutting.speed_draws(
        material, Q(thickness, "m"), Q(power, "W"), beam, passes, supplier_sheet=sheet
    )


def _posterior(prior: Any, cuts: Sequence[Cut], offsets: Any) -> tuple[float, float, float]:
    """Mean and standard deviation of the boundary's logarithm, and scatter between lines."""
    from scipy.special import ndtr

    middle, width = float(np.mean(prior)), max(float(np.std(prior)), 0.05)
    seen = [math.log(_one(cut.speed, "m/s")) - offsets[_key(cut)] for cut in cuts if cut.severed]
    low = min(middle - 4 * width, min(seen) - 1.0)
    high = max(middle + 4 * width, max(seen) + 1.0)
    grid = np.linspace(low, high, _GRID)[:, None]
    spread = _SCATTERS[None, :]
    log = -0.5 * ((grid - middle) / width) ** 2
    log = log - 0.5 * (np.log(spread / _SCATTER[0]) / _SCATTER[1]) ** 2
    for cut in cuts:
        at = math.log(_one(cut.speed, "m/s")) - offsets[_key(cut)]
        if not math.isfinite(at):
            continue
        if cut.severed:
            part = cutting.LAPSE + (1 - 2 * cutting.LAPSE) * ndtr((grid - at) / spread)
            log = log + np.log(part if cut.severed == "yes" else 1 - part)
        if cut.severed == "no" and cut.depth is not None:
            share = _one(cut.depth, "m") / _one(cut.thickness, "m")
            if _LEAST_DEPTH < share < 1:  # it would have severed at a speed so much lower
                meant = at + _DEEPER * math.log(share)
                log = log - 0.5 * (grid - meant) ** 2 / (_DEPTH_STD**2 + spread**2)
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    mean = float((weight * grid).sum())
    std = math.sqrt(float((weight * (grid - mean) ** 2).sum()))
    return mean, std, float((weight * spread).sum())


def _shows(cuts: Sequence[Cut]) -> tuple[float, float] | None:
    """Energies on each length, in J/mm: the most that left no mark, the least that left one."""
    seen: list[float] = []
    unseen = [0.0]
    for cut in cuts:
        looked = [v for v in (cut.width, cut.darkness) if v is not None]
        if looked and _one(cut.passes, "1") == 1:
            energy = _one(cut.power, "W") / _one(cut.speed, "mm/s")
            (seen if any(v.magnitude > 0 for v in looked) else unseen).append(energy)
    return (max(unseen), min(seen)) if seen else None


def _spot(cuts: Sequence[Cut]) -> tuple[Any, tuple[str, ...]]:
    """Spot and threshold from marks of one pass; nothing where widths do not tell them."""
    marks = [
        cut
        for cut in cuts
        if cut.width is not None and cut.severed != "yes" and _one(cut.passes, "1") == 1
    ]
    if len(marks) < _LEAST:
        return None, ("Fewer than three widths of marks: spot and threshold stay as they were.",)
    energy = [_one(cut.power, "W") / _one(cut.speed, "mm/s") for cut in marks]
    width = [_one(cut.width, "um") for cut in marks if cut.width is not None]
    light = _one(marks[0].beam.wavelength, "um")
    if 0 < max(width) < light:
        return None, (
            f"No mark is wider than {max(width):.2g} µm, less than a wavelength of the light: are "
            "they millimetres? Spot and threshold stay as they were.",
        )
    try:
        found = spots.threshold_plot(energy=Q(np.array(energy), "J/mm"), width=Q(width, "um"))
    except MathlibError as fault:
        return None, (str(fault),)
    return found, found.notes


def calibration(
    material: Material, cuts: Sequence[Cut], supplier_sheet: str | None = None
) -> tuple[Level, ...]:
    """Compare the chances that a material foretold with what its lines did, level by level.

    Asked with the material as it was before, it tests the forecast; with the updated one it only
    shows how the curve lies through its own data.

    Returns
    -------
    tuple of Level
        Slow to fast.

    Examples
    --------
    >>> from mathlib.laser.beams import Beam
    >>> beam = Beam(wavelength="450 nm", beam_quality=15, waist_diameter="0.08 mm")
    >>> told = {"power": "5 W", "thickness": "3 mm", "beam": beam, "passes": 3, "speed": "2 mm/s"}
    >>> level, = calibration(removal.as_material("birch plywood"), [
    ...     Cut(**told, severed=each) for each in ("yes", "yes", "no")])
    >>> level.severed, level.lines
    (2, 3)

    """
    by: dict[Any, list[Cut]] = {}
    for cut in cuts:
        if cut.severed:
            by.setdefault((_one(cut.speed, "mm/s"), *_key(cut)[1:]), []).append(cut)
    levels = []
    for _, group in sorted(by.items(), key=lambda each: each[0]):
        first = group[0]
        thickness = Q(float(np.mean([_one(cut.thickness, "mm") for cut in group])), "mm")
        foretold = cutting.can_cut(
            material,
            thickness,
            first.power,
            first.beam,
            first.speed,
            first.passes,
            supplier_sheet=supplier_sheet,
        )
        severed = sum(cut.severed == "yes" for cut in group)
        levels.append(
            Level(speed=first.speed, foretold=foretold, severed=severed, lines=len(group))
        )
    return tuple(levels)
