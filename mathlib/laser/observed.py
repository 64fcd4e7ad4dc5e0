"""Cuts that others reported: how well light couples into a kerf, and how far that can be trusted.

Of light that reaches the work only a part severs; the rest heats smoke, widens the kerf or passes
through it. That part, the coupling, is what observed cuts tell. Gas tubes and diodes have one
each; reports of the lowest grade never calibrate by themselves.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any, Final

import attrs
import numpy as np

from mathlib import materials, tables
from mathlib.errors import ValueRefused
from mathlib.laser import removal
from mathlib.laser.beams import Beam
from mathlib.materials import Material
from mathlib.ranges import Range

LIGHTS: Final = ("tube", "diode")
#: What a report is worth: standard deviation of the logarithm of its energy; estimates.
GRADES: Final = {"A": 0.20, "B": 0.30, "C": 0.40}
LOWEST: Final = "C"
#: Before any report: a fifth of the light, within a factor of four either way; an estimate.
_PRIOR: Final = (math.log(0.2), 0.8)
#: Scatter between materials and reports that counts like four of them; an estimate.
_SCATTER, _WORTH, _LEAST = 0.35, 4, 0.15
#: Scatter between runs on one sheet, of the logarithm of energy; an estimate.
RUNS: Final = 0.10
_Z90: Final = 1.6448536269514722
_DRAWS: Final = 2000
#: The optics of the reports, which state none: those of typical modules; an estimate.
_OPTICS: Final[dict[str, dict[str, Any]]] = {
    "tube": {"wavelength": "10.6 um", "beam_quality": 1.1, "waist_diameter": "0.126 mm"},
    "diode": {"wavelength": "450 nm", "beam_quality": 15, "waist_diameter": "0.08 mm"},
}


@attrs.frozen(kw_only=True, eq=False)
class Report:
    """One reported cut, in SI units; ``energy`` is what it spent for each area, in J/m²."""

    name: str
    material: str
    record: Material
    light: str
    grade: str
    power: float
    speed: float
    thickness: float
    passes: float
    absorptance: Range | None

    @property
    def energy(self) -> float:
        """Severance energy, in J/m²."""
        return self.passes * self.power / (self.speed * self.thickness)


@attrs.frozen(kw_only=True)
class Coupling:
    """Logarithm of the coupling with its standard deviation, and scatter between materials."""

    mean: float
    std: float
    scatter: float
    reports: tuple[str, ...]

    @property
    def calibrated(self) -> bool:
        """Whether reports stand behind it, not the prior alone."""
        return bool(self.reports)

    def draw(self, n: int, seed: Any, own: bool = False) -> Any:
        """Draw couplings; for a material with a coupon of its own only runs scatter."""
        z = np.random.default_rng(seed).standard_normal(n)
        spread = RUNS if own else math.hypot(self.std, self.scatter)
        return np.exp(self.mean + spread * z)


@attrs.frozen(kw_only=True)
class Validation:
    """How predictions do against reports whose material was left out of the calibration.

    ``inside`` is the part of reports within the 90 % range, ``spread`` the median of high over
    low, ``gain`` by how much larger the predicted density at what was observed is, on geometric
    average, than that of a constant that ignores material, laser and thickness.
    """

    light: str
    reports: int
    inside: float
    spread: float
    gain: float

    @property
    def met(self) -> bool:
        """Whether 80 % lie inside, high over low is at most 5, and the gain at least 20 %."""
        return self.inside >= 0.8 and self.spread <= 5 and self.gain >= 0.2

    def __str__(self) -> str:
        """All figures in a sentence."""
        verdict = "enough" if self.met else "not enough"
        return (
            f"{self.light}: {self.reports} reports, {self.inside:.0%} inside the 90 % range, high "
            f"over low {self.spread:.2g}, likelihood {self.gain:+.0%} against a constant: {verdict}"
        )


def light_of(wavelength: float) -> str:
    """Tell which reports speak for a wavelength in metres: those of tubes or those of diodes.

    Examples
    --------
    >>> light_of(450e-9)
    'diode'

    """
    return "tube" if wavelength > 2e-6 else "diode"


def reports() -> tuple[Report, ...]:
    """Give the reported cuts of ``data/observed_cuts.csv`` that state a thickness.

    Examples
    --------
    >>> round(reports()[0].energy / 1e6, 2)  # 240 W / (41.95 mm/s * 6.35 mm), in J/mm²
    0.9

    """
    return _reports(tables.read("observed_cuts").sha256)


@lru_cache(maxsize=2)
def _reports(_sha256: str) -> tuple[Report, ...]:
    found = []
    for row in tables.read("observed_cuts").rows.values():
        told: dict[str, Any] = row.values
        if "thickness" not in told:
            continue
        record = attrs.evolve(materials.material(row.texts["like"]), name=row.texts["material"])
        if "mass_density" in told:
            record = attrs.evolve(record, density=told["mass_density"])
        found.append(
            Report(
                name=row.name,
                material=row.texts["material"].removeprefix("southern "),
                record=record,
                light=row.texts["light"],
                grade=row.texts["grade"],
                power=float(told["optical_power"].to("W").magnitude),
                speed=float(told["speed"].to("m/s").magnitude),
                thickness=float(told["thickness"].to("m").magnitude),
                passes=float(told["passes"].magnitude),
                absorptance=told.get("absorptance"),
            )
        )
    return tuple(found)


@lru_cache(maxsize=64)
def _asked(report: Report) -> tuple[removal.Sheet, Any]:
    """Draws of the sheet of a report, and the width of its beam."""
    beam = Beam(**_OPTICS[report.light])
    light = float(beam.wavelength.to("m").magnitude)
    record = report.record
    if report.absorptance is not None:
        seen: Any = {f"absorptance_{removal.band(light)}": report.absorptance}
        record = attrs.evolve(record, **seen)
    found = removal.sheet(record, report.thickness, light, _DRAWS)
    return found, removal.widths(beam, report.thickness / report.passes)


def _shown(report: Report) -> Any:
    """Logarithm of the coupling that a report shows, for each draw of its sheet."""
    found, width = _asked(report)
    needed = removal.powers(found, report.thickness, report.speed, width, report.passes, 1.0)
    return np.log(needed / report.power)


def coupling(light: str, without: str = "") -> Coupling:
    """Work out how well light couples into a kerf from reported cuts.

    Parameters
    ----------
    light : str
        "tube" or "diode".
    without : str
        A material whose reports are left out, to test the rest.

    Returns
    -------
    Coupling
        The prior alone where only reports of the lowest grade are left.

    Raises
    ------
    ValueRefused
        Another light.

    Examples
    --------
    >>> coupling("diode").calibrated
    True
    >>> coupling("tube", without="pine").calibrated  # only the lowest grade is left
    False

    """
    if light not in LIGHTS:
        raise ValueRefused(f"Coupling: light is one of {', '.join(LIGHTS)}; got {light!r}.")
    return _coupling(light, without, tables.read("observed_cuts").sha256)


@lru_cache(maxsize=64)
def _coupling(light: str, without: str, _sha256: str) -> Coupling:
    used = [r for r in reports() if r.light == light and r.material != without]
    mean, std = _PRIOR
    if all(r.grade == LOWEST for r in used):
        return Coupling(mean=mean, std=std, scatter=_SCATTER, reports=())
    logs = [_shown(r) for r in used]
    middles = np.array([np.median(log) for log in logs])
    weights = np.array([1 / (_SCATTER**2 + GRADES[r.grade] ** 2) for r in used])
    total = 1 / std**2 + weights.sum()
    mean = float((mean / std**2 + float(weights @ middles)) / total)
    square = (_WORTH * _SCATTER**2 + float(((middles - mean) ** 2).sum())) / (_WORTH + len(used))
    square -= float(np.mean([np.var(log) for log in logs]))  # the sheet's draws bring that part
    return Coupling(
        mean=mean,
        std=1 / math.sqrt(float(total)),
        scatter=math.sqrt(max(square, _LEAST**2)),
        reports=tuple(r.name for r in used),
    )


def predicted(report: Report, known: Coupling) -> tuple[float, float]:
    """Mean and standard deviation of the logarithm of energy, in J/m², at the reported power.

    Examples
    --------
    >>> one = reports()[0]
    >>> mean, std = predicted(one, coupling("tube"))
    >>> abs(mean - math.log(one.energy)) < 2 * std
    True

    """
    found, width = _asked(report)
    part = known.draw(_DRAWS, removal.seed_of(report.name))
    speed = removal.speeds(found, report.thickness, report.power, width, report.passes, part)
    speed = np.maximum(speed, removal.SLOWEST)
    log = np.log(report.passes * report.power / (speed * report.thickness))
    return float(np.mean(log)), float(np.std(log))


def validate(light: str) -> Validation:
    """Test predictions against reports, leaving out one material at a time.

    Parameters
    ----------
    light : str
        "tube" or "diode".

    Returns
    -------
    Validation
        With ``.inside``, ``.spread``, ``.gain`` and ``.met``.

    Raises
    ------
    ValueRefused
        Another light.

    Examples
    --------
    >>> validate("diode").reports
    7

    """
    return _validated(light, tables.read("observed_cuts").sha256)


@lru_cache(maxsize=4)
def _validated(light: str, _sha256: str) -> Validation:
    every = reports()
    rows = [r for r in every if r.light == light]
    inside, spreads, gains = [], [], []
    for row in rows:
        mean, std = predicted(row, coupling(light, row.material))
        seen = math.log(row.energy)
        inside.append(abs(seen - mean) <= _Z90 * std)
        spreads.append(math.exp(2 * _Z90 * std))
        others = np.log([r.energy for r in every if r.material != row.material])
        constant = _log_density(seen, float(others.mean()), float(others.std(ddof=1)))
        gains.append(_log_density(seen, mean, std) - constant)
    if not rows:
        raise ValueRefused(f"Validation: light is one of {', '.join(LIGHTS)}; got {light!r}.")
    return Validation(
        light=light,
        reports=len(rows),
        inside=float(np.mean(inside)),
        spread=float(np.median(spreads)),
        gain=math.expm1(float(np.mean(gains))),
    )


def _log_density(value: float, mean: float, std: float) -> float:
    return -0.5 * ((value - mean) / std) ** 2 - math.log(std * math.sqrt(2 * math.pi))
