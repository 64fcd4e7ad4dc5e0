"""Appends what coupons found to the builder's machine file."""

from __future__ import annotations

import math
from typing import Any

from mathlib import machine, units
from mathlib.errors import ValueRefused
from mathlib.laser import removal
from mathlib.laser.coupon import Z90, Coupon
from mathlib.materials import Material
from mathlib.measure import findings
from mathlib.units import Q


def keep(path: Any, material: Material, date: Any = None) -> str:
    """Append what coupons found to a machine file, under ``[coupon]`` and ``[[measured]]``.

    The material as it is known with that machine, and all that is worked out of it, then goes by
    the finding. Everything else in the file stays as it is.

    Parameters
    ----------
    path : path of the machine file
        Without ``[coupon]``, or with that of the same sheet.
    material : Material
        As ``coupons.update`` gave it.
    date : text or date, optional
        Of the burning; today where none is given.

    Returns
    -------
    str
        What was appended.

    Raises
    ------
    ValueRefused
        The material has no coupon; the file's ``[coupon]`` is that of another sheet.
    MachineFileError
        The file cannot be read or written.

    Examples
    --------
    >>> keep("my_machine.toml", removal.as_material("cork"))
    Traceback (most recent call last):
    ...
    mathlib.errors.ValueRefused: cork has no coupons yet: update it with results first.

    """
    found = material.coupon
    if found is None:
        raise ValueRefused(f"{material.name} has no coupons yet: update it with results first.")
    own = machine.load(path)
    blocks = []
    if own.coupon is None:
        blocks.append(_table(material, found))
    elif not _same(own.coupon, material, found):
        raise ValueRefused(
            f"{path}: its [coupon] is of {own.coupon.material}, "
            f"{units.show(own.coupon.thickness, 3)}, {units.show(own.coupon.power, 3)}, "
            f"{own.coupon.passes.magnitude:g} passes, and these coupons are of other conditions. "
            "Move it to another file first, with the findings that begin with coupon."
        )
    elif found.both_sides and own.coupon.both_sides == "no":
        raise ValueRefused(
            f'{path}: its [coupon] says both_sides = "no", and now the boundary is found: change '
            'that to "yes" first.'
        )
    speed = 1e3 * found.speed
    energy = material.heat_of_gasification
    assert energy is not None
    told: list[tuple[str, Any, Any, str]] = [
        (
            "coupon.boundary_speed",
            Q(speed, "mm/s"),
            Q(speed * math.expm1(found.std), "mm/s"),
            f"{found.source}, Bayes over a grid of boundary and scatter",
        ),
        (
            "coupon.removal_energy",
            energy.typical,
            (energy.high - energy.low) / (2 * Z90),
            "stated range, weighed by the boundary with all else that is unknown",
        ),
    ]
    if found.threshold is not None:
        liu = "squared widths of marks over the logarithm of energy"
        dose, wide = found.threshold, found.spot_radius
        told += [
            ("coupon.threshold_dose", dose.to("J/mm^2"), dose.std.to("J/mm^2"), liu),
            ("coupon.spot_diameter", (2 * wide).to("mm"), (2 * wide.std).to("mm"), liu),
        ]
    for key, value, spread, method in told:
        blocks.append(
            findings.block(key=key, value=value, uncertainty=spread, method=method, date=date)
        )
    text = "\n".join(blocks)
    findings.append(path, text)
    return text


def _table(material: Material, found: Coupon) -> str:
    lines = {
        "material": material.name,
        "thickness": f"{1e3 * found.thickness:.4g} mm",
        "power": f"{found.power:.4g} W",
        "wavelength": removal.NOMINAL[found.band],
        "beam_width": f"{1e3 * found.width:.4g} mm",
        "passes": f"{found.passes:g} 1",
        "lines": f"{found.cuts} 1",
        "scatter": f"{found.scatter:.3g} 1",
        "both_sides": "yes" if found.both_sides else "no",
    }
    if found.moisture is not None:
        lines["moisture"] = f"{100 * found.moisture:.3g} %"
    return "\n".join(["[coupon]", *(f'{key} = "{text}"' for key, text in lines.items()), ""])


def _same(told: Any, material: Material, found: Coupon) -> bool:
    """Tell whether coupons were burned under the conditions that a file's table states."""
    if removal.as_material(told.material, "as the file says").name != material.name:
        return False
    pairs = (
        (told.thickness.to("m").magnitude, found.thickness),
        (told.power.to("W").magnitude, found.power),
        (told.passes.magnitude, found.passes),
    )
    return all(abs(float(a) / b - 1) < 0.05 for a, b in pairs)
