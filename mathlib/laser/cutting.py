"""Cutting: what severs a sheet, how fast, and how sure that is.

Speeds and powers come as ranges, for coupling, material and optics are known to a factor of two
at best. A material that is never to be processed refuses every call.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib import words
from mathlib.errors import ValueRefused
from mathlib.laser import removal
from mathlib.laser.asked import DRAWS, PASSES, POWER, SPEED, THICKNESS, Asked
from mathlib.laser.asked import coupling_draws as coupling_draws
from mathlib.laser.asked import has_coupon as has_coupon
from mathlib.laser.beams import Beam
from mathlib.laser.comb import fit_comb as fit_comb
from mathlib.laser.severance import balance_speed as balance_speed
from mathlib.laser.severance import balance_speed_by_terms as balance_speed_by_terms
from mathlib.laser.severance import beam_time as beam_time
from mathlib.laser.severance import cut_path as cut_path
from mathlib.laser.severance import line_energy_of_ply as line_energy_of_ply
from mathlib.laser.severance import part_offset as part_offset
from mathlib.laser.severance import severance_energy as severance_energy
from mathlib.laser.severance import thickness_exponent as thickness_exponent
from mathlib.materials import Material
from mathlib.ranges import Range
from mathlib.units import Q
from mathlib.words import Word

#: No probability beyond these before a coupon of one's own.
LEAST, MOST = 0.02, 0.98
#: Nor this near to certainty after one: a knot, glue or the eye tells otherwise; an estimate.
LAPSE: Final = 0.01
#: Nor beyond this at a wavelength for which nobody reported a cut.
UNSEEN: Final = 0.5
#: Share of light kept in a sheet, below which most of it goes through.
SEE_THROUGH: Final = 0.1
_SOURCE: Final = "energy balance of the kerf with the coupling of reported cuts"


def cut_speed(
    material: str | Material,
    thickness: Any,
    power: Any,
    beam: Beam,
    passes: Any = 1,
    supplier_sheet: str | None = None,
) -> Range:
    """Fastest speed that severs a sheet, as a range.

    Light that couples into the kerf removes it, less what is led away into the sheet; the beam
    widens through the thickness, and the first pass of several begins on a clean face. Focus lies
    in the middle of the layer that each pass takes.

    Parameters
    ----------
    material : str or Material
        A name or a record.
    thickness : length
        Of the sheet.
    power : power
        Of light on the work, not of the supply.
    beam : Beam
        With wavelength, waist and beam quality.
    passes : number
        Over the same line, each refocused by its share of the thickness.
    supplier_sheet : str, optional
        Which data sheet was read; an unknown material needs it.

    Returns
    -------
    Range
        mm/s; nine of ten sheets lie inside. Zero where conduction takes all of the light.

    Raises
    ------
    NeverProcess
        The material is never to be processed.
    UnitError, ValueRefused
        As a formula does; the record lacks a value; an unknown material without its data sheet.

    Examples
    --------
    >>> beam = Beam(wavelength="450 nm", beam_quality=15, waist_diameter="0.08 mm")
    >>> from mathlib import Q
    >>> found = cut_speed("birch plywood", "3 mm", "5 W", beam, passes=2)
    >>> 0 <= found.low < found.typical < found.high < Q("8 mm/s")
    True

    """
    drawn = speed_draws(material, thickness, power, beam, passes, supplier_sheet)
    return removal.in_unit(np.percentile(drawn, [5, 50, 95]), "mm/s", _SOURCE)


def speed_draws(
    material: str | Material,
    thickness: Any,
    power: Any,
    beam: Beam,
    passes: Any = 1,
    supplier_sheet: str | None = None,
) -> Any:
    """Draws of the fastest severing speed in m/s, of which ``cut_speed`` is the range.

    Takes and refuses what ``cut_speed`` does.

    Examples
    --------
    >>> beam = Beam(wavelength="450 nm", beam_quality=15, waist_diameter="0.08 mm")
    >>> speed_draws("birch plywood", "3 mm", "5 W", beam, passes=2).shape
    (4000,)

    """
    told = {THICKNESS: thickness, POWER: power, PASSES: passes}
    return Asked("Cutting speed", material, beam, told, supplier_sheet).speeds()


def power_needed(
    material: str | Material,
    thickness: Any,
    speed: Any,
    beam: Beam,
    passes: Any = 1,
    supplier_sheet: str | None = None,
) -> Range:
    """Optical power that severs a sheet at a speed, as a range; see ``cut_speed``.

    Parameters
    ----------
    material : str or Material
        A name or a record.
    thickness : length
        Of the sheet.
    speed : speed
        Of the head.
    beam : Beam
        With wavelength, waist and beam quality.
    passes : number
        Over the same line.
    supplier_sheet : str, optional
        Which data sheet was read; an unknown material needs it.

    Returns
    -------
    Range
        W of light.

    Raises
    ------
    NeverProcess, UnitError, ValueRefused
        As ``cut_speed`` does.

    Examples
    --------
    >>> beam = Beam(wavelength="10.6 um", beam_quality=1.1, waist_diameter="0.13 mm")
    >>> 10 < power_needed("acrylic", "3 mm", "10 mm/s", beam).typical.magnitude < 80
    True

    """
    told = {THICKNESS: thickness, SPEED: speed, PASSES: passes}
    asked = Asked("Power to cut", material, beam, told, supplier_sheet)
    found = removal.powers(
        asked.sheet, asked.thickness, asked.speed, asked.width, asked.passes, asked.coupling
    )
    return removal.in_unit(np.percentile(found, [5, 50, 95]), "W", _SOURCE)


def can_cut(
    material: str | Material,
    thickness: Any,
    power: Any,
    beam: Beam,
    speed: Any,
    passes: Any = 1,
    supplier_sheet: str | None = None,
) -> Any:
    """Probability that a fresh sheet of the same kind is severed over 95 % of the length.

    Thickness, power, speed and passes broadcast: a list of speeds gives an array of chances.

    Parameters
    ----------
    material : str or Material
        A name or a record.
    thickness : length
        Of the sheet.
    power : power
        Of light on the work.
    beam : Beam
        With wavelength, waist and beam quality.
    speed : speed
        Of the head.
    passes : number
        Over the same line.
    supplier_sheet : str, optional
        Which data sheet was read; an unknown material needs it.

    Returns
    -------
    float or array
        From 0.02 to 0.98 as long as no coupon of one's own stands behind the material, and from
        0.01 to 0.99 after; in the near infrared, where nobody reported cuts, at most 0.5.

    Raises
    ------
    NeverProcess, UnitError, ValueRefused
        As ``cut_speed`` does.

    Examples
    --------
    >>> beam = Beam(wavelength="450 nm", beam_quality=15, waist_diameter="0.08 mm")
    >>> can_cut("clear acrylic", "3 mm", "20 W", beam, "1 mm/s")
    0.02

    """
    who = "Chance of a cut"
    told = {THICKNESS: thickness, POWER: power, SPEED: speed, PASSES: passes}
    read = words.read_words(who, list(told), {w.word: v for w, v in told.items()})
    if any(map(np.ndim, read.values())):
        shapes = {word: np.shape(value) for word, value in read.items() if np.ndim(value)}
        try:
            every = np.broadcast_arrays(*(read[word.word] for word in told))
        except ValueError:
            shown = ", ".join(f"{word} {shape}" for word, shape in shapes.items())
            raise ValueRefused(f"{who}: arrays of unequal shapes: {shown}.") from None
        rows = zip(*(value.ravel() for value in every), strict=True)
        found = [
            can_cut(material, Q(t, "m"), Q(p, "W"), beam, Q(v, "m/s"), n, supplier_sheet)
            for t, p, v, n in rows
        ]
        return np.reshape(found, every[0].shape)
    asked = Asked(who, material, beam, told, supplier_sheet)
    own = has_coupon(asked.material, asked.light, asked.thickness)
    return chance(asked.speeds() >= asked.speed, own, removal.reported(asked.light))


def chance(cuts: Any, own: bool = False, reported: bool = True) -> float:
    """Part of draws that cut, kept from certainty, and farther without a coupon of one's own.

    Where nobody reported a cut at the wavelength it is at most a half.

    Examples
    --------
    >>> chance([True, True])
    0.98

    """
    part = float(np.mean(cuts))
    if own:
        return min(max(part, LAPSE), 1.0 - LAPSE)
    return min(max(part, LEAST), MOST if reported else UNSEEN)


def absorbed(
    material: str | Material,
    thickness: Any,
    wavelength: Any,
    supplier_sheet: str | None = None,
) -> Range:
    """Share of light that stays in a clean sheet: neither reflected nor let through.

    Parameters
    ----------
    material : str or Material
        A name or a record.
    thickness : length
        Of the sheet.
    wavelength : length
        Of the light.
    supplier_sheet : str, optional
        Which data sheet was read; an unknown material needs it.

    Returns
    -------
    Range
        From 0 to 1.

    Raises
    ------
    NeverProcess, UnitError, ValueRefused
        As ``cut_speed`` does.

    Examples
    --------
    >>> absorbed("clear acrylic", "3 mm", "450 nm").high.magnitude < 0.03
    True

    """
    found = removal.as_material(material, supplier_sheet)
    light = Word("wavelength", "nm", "of the light")
    told = {THICKNESS: thickness, light: wavelength}
    read = words.read_words("Absorbed light", list(told), {w.word: v for w, v in told.items()})
    drawn = removal.absorptance(found, float(read["thickness"]), float(read["wavelength"]), DRAWS)
    return removal.in_unit(np.percentile(drawn, [5, 50, 95]), "1", "record of the material")


def unknowns(
    material: str | Material,
    thickness: Any,
    power: Any,
    beam: Beam,
    passes: Any = 1,
    supplier_sheet: str | None = None,
) -> dict[str, float]:
    """Tell which input makes the speed so uncertain: measure the first one first.

    Parameters
    ----------
    material : str or Material
        A name or a record.
    thickness : length
        Of the sheet.
    power : power
        Of light on the work.
    beam : Beam
        With wavelength, waist and beam quality.
    passes : number
        Over the same line.
    supplier_sheet : str, optional
        Which data sheet was read; an unknown material needs it.

    Returns
    -------
    dict
        Share of each input in the variance of the speed's logarithm, largest first; they sum to 1.

    Raises
    ------
    NeverProcess, UnitError, ValueRefused
        As ``cut_speed`` does; no draw cuts.

    Examples
    --------
    >>> beam = Beam(wavelength="450 nm", beam_quality=15, waist_diameter="0.08 mm")
    >>> next(iter(unknowns("birch plywood", "3 mm", "10 W", beam)))
    'coupling'

    """
    told = {THICKNESS: thickness, POWER: power, PASSES: passes}
    asked = Asked("Cutting speed", material, beam, told, supplier_sheet)
    found = asked.speeds()
    cut = found > 0
    if np.mean(cut) < 0.05:
        raise ValueRefused(
            f"Cutting speed: {asked.material.name} takes too little of this light to be cut at "
            "all, whatever is measured."
        )
    inputs = {
        "coupling": asked.coupling,
        "energy of removal": asked.sheet.removal,
        "density": asked.sheet.density,
        "absorptance": removal.absorbed_passes(asked.sheet, asked.passes),
        "heat led away": asked.sheet.loss,
        "deepening": asked.sheet.deepening,
        "rework": asked.sheet.rework,
    }
    log = np.log(found[cut])
    shares = {}
    for name, drawn in inputs.items():
        column = np.asarray(drawn)[cut]
        moves = np.ptp(column) > 1e-12 * np.max(np.abs(column))
        shares[name] = float(np.corrcoef(column, log)[0, 1] ** 2) if moves else 0.0
    total = sum(shares.values())
    return {k: shares[k] / total for k in sorted(shares, key=shares.__getitem__, reverse=True)}
