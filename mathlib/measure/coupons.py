"""Coupons: few lines burned on a sheet of one's own, that tell much about where a cut ceases.

``plan`` says which lines to burn and where, ``to_svg`` and ``to_rs274`` write them for a
controller, ``form`` writes the table to be filled in, ``read`` reads it, ``update`` gives the
material with what was found, ``keep`` appends that to the builder's file.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import Any

from mathlib.laser import removal
from mathlib.materials import Material
from mathlib.measure import coupon_fit
from mathlib.measure.coupon_drawing import to_svg as to_svg
from mathlib.measure.coupon_files import beam_off_outline as beam_off_outline
from mathlib.measure.coupon_files import to_rs274 as to_rs274
from mathlib.measure.coupon_fit import Level as Level
from mathlib.measure.coupon_fit import calibration as calibration
from mathlib.measure.coupon_gate import against as against
from mathlib.measure.coupon_keep import keep as keep
from mathlib.measure.coupon_plan import Piece as Piece
from mathlib.measure.coupon_plan import Plan as Plan
from mathlib.measure.coupon_plan import plan as plan
from mathlib.measure.coupon_rehearsal import rehearse as rehearse
from mathlib.measure.coupon_results import Cut as Cut
from mathlib.measure.coupon_results import as_cuts
from mathlib.measure.coupon_table import form as form
from mathlib.measure.coupon_table import heading as heading
from mathlib.measure.coupon_table import read as read


def update(
    material: str | Material,
    results: Sequence[Cut | dict[str, Any]] | str | os.PathLike[str],
    supplier_sheet: str | None = None,
) -> Material:
    """Give a material what its coupons tell: energy of removal, threshold and spot.

    Parameters
    ----------
    material : str or Material
        A name or a record; one with coupons learns on.
    results : sequence of Cut or dict, or path of a table
        All of one head, and none that the material has learned from already.
    supplier_sheet : str, optional
        Which data sheet was read; an unknown material needs it.

    Returns
    -------
    Material
        With ``heat_of_gasification`` as a measured range, and ``coupon``.

    Raises
    ------
    NeverProcess
        The material is never to be processed.
    TableError
        A table cannot be read.
    ValueRefused
        Fewer than three lines say whether they severed; heads are mixed.

    Examples
    --------
    >>> from mathlib.laser.beams import Beam
    >>> beam = Beam(wavelength="450 nm", beam_quality=15, waist_diameter="0.08 mm")
    >>> told = {"power": "5 W", "thickness": "3 mm", "beam": beam, "passes": 3}
    >>> cuts = [told | {"speed": f"{v} mm/s", "severed": v < 2} for v in (1, 1.5, 1.8, 2.2, 2.6, 3)]
    >>> 1.8e-3 < update("birch plywood", cuts).coupon.speed < 2.2e-3
    True

    """
    found = removal.as_material(material, supplier_sheet)
    cuts = read(results) if isinstance(results, str | os.PathLike) else as_cuts(results)
    return coupon_fit.update(found, cuts, supplier_sheet)
