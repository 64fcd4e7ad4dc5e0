"""What comes off a material under a laser, with limits to quote, and whether to process it.

Lists of limits are national, and mixtures add up: nothing here is called enough.
"""

from __future__ import annotations

from typing import Any

import attrs

from mathlib import materials, tables, units
from mathlib.errors import ValueRefused
from mathlib.materials import Material
from mathlib.ranges import Range
from mathlib.safety import wording
from mathlib.units import Quantity


@attrs.frozen(kw_only=True)
class Product:
    """What comes off a material, with limits to quote; check your national list.

    ``shift_limit`` holds for a working day, ``short_limit`` for 15 minutes or as a ceiling, both
    by volume; ``mass_limit`` for a working day by mass. One that no list states is None.
    """

    name: str
    note: str
    source: str
    molar_mass: Quantity | None = None
    shift_limit: Range | None = None
    short_limit: Range | None = None
    mass_limit: Range | None = None

    def limits(self) -> str:
        """Limits in one line, such as "5 ppm over a shift, 5 to 10 ppm for a short time"."""
        told = [
            _span(self.shift_limit, "over a shift"),
            _span(self.short_limit, "for a short time"),
            _span(self.mass_limit, "over a shift"),
        ]
        return ", ".join(filter(None, told)) or "no limit known here"


def _span(limit: Range | None, how_long: str) -> str:
    if limit is None:
        return ""
    low, high = (units.show(v) for v in (limit.low, limit.high))
    return f"{low if low == high else f'{low} to {high}'} {how_long}"


@attrs.frozen(kw_only=True, repr=False)
class Hazards:
    """What a material gives off, and what follows from it.

    One of ``never`` and ``extraction`` has the reason, by the material's group; ``care`` says what
    to do besides. An unknown material counts as never until its data sheet has been read.
    """

    material: str
    group: str
    verdict: str
    products: tuple[Product, ...]
    never: tuple[str, ...]
    extraction: tuple[str, ...]
    care: tuple[str, ...]
    source: str
    prevail: str = wording.SMOKE

    def table(self) -> list[tuple[str, str, str]]:
        """Rows of product, limits to quote, and what it does."""
        return [(p.name, p.limits(), p.note) for p in self.products]

    def __repr__(self) -> str:
        """Verdict, products with limits, cautions, source."""
        lines = [self.verdict]
        for name, limits, note in self.table():
            lines.append(f"  {name}: {limits}" + (f"; {note}" if note else ""))
        lines += [f"  take care: {text}" for text in self.care]
        if self.products:
            lines.append("  limits are to quote only: check your national list")
        return "\n".join([*lines, f"  source: {self.source}", f"  {self.prevail}"])

    def _repr_markdown_(self) -> str:
        lines = [f"> {self.verdict}", ""]
        if self.products:
            lines += [
                "| comes off | limits to quote: check your national list | |",
                "|---|---|---|",
            ]
            lines += [f"| {name} | {limits} | {note} |" for name, limits, note in self.table()]
            lines.append("")
        lines += [f"- Take care: {text}" for text in self.care]
        return "\n".join([*lines, "", f"{self.prevail} Source: {self.source}."])


def hazards(material: str | Material) -> Hazards:
    """Tell what a material gives off under a laser, and whether it may be processed at all.

    Parameters
    ----------
    material : str or Material
        A name such as "MDF" or "vinyl", or a record.

    Returns
    -------
    Hazards
        ``.group`` is "never", "extraction only", "care" or "unknown"; ``.verdict`` says it in a
        sentence, ``.products`` lists what comes off with limits to quote.

    Raises
    ------
    NotUnique
        Several materials go by the name, or it is near to a listed one and may be misspelt.
    ValueRefused
        The material is neither a text nor a record.

    Examples
    --------
    >>> hazards("vinyl").group
    'never'
    >>> print(hazards("vinyl").products[0].limits())
    5 ppm over a shift, 5 ppm to 10 ppm for a short time
    >>> hazards("unobtainium").verdict[:56]
    'unobtainium: nothing is known of it here. Do not process'

    """
    told = material if isinstance(material, Material) else materials.material(material)
    because = f"{told.reason}."
    verdicts = {
        "never": f"Never process {told.name}: {because}",
        "extraction only": f"{told.name}: only with extraction outdoors; {because}",
        "care": f"{told.name}: with care; {because}",
        materials.UNKNOWN: (
            f"{told.name}: {because} Do not process it before its data sheet has been read. "
            f"{materials.ASK}"
        ),
    }
    return Hazards(
        material=told.name,
        group=told.hazard,
        verdict=verdicts[told.hazard],
        products=tuple(product(name) for name in told.products),
        never=(told.reason,) if told.hazard in ("never", materials.UNKNOWN) else (),
        extraction=(told.reason,) if told.hazard == "extraction only" else (),
        care=told.care,
        source=told.source,
    )


def product(name: str) -> Product:
    """Find a product of decomposition by name, with limits to quote.

    Raises
    ------
    ValueRefused
        No list here has it.

    Examples
    --------
    >>> print(product("formaldehyde").limits())
    0.3 ppm to 0.75 ppm over a shift, 0.6 ppm to 2 ppm for a short time

    """
    rows = tables.read("fume_products").rows
    if name not in rows:
        raise ValueRefused(f"Fumes: there is no product {name!r}; there are {', '.join(rows)}.")
    row = rows[name]
    spans = {
        word: value if isinstance(value, Range) else Range(value, value, value, row.source)
        for word, value in row.values.items()
        if word != "molar_mass"
    }
    mass: Any = row.values.get("molar_mass")
    return Product(
        name=name,
        note=row.note,
        source=row.source,
        molar_mass=mass,
        shift_limit=spans.get("shift_limit"),
        short_limit=spans.get("short_limit"),
        mass_limit=spans.get("shift_mass"),
    )


def lists() -> dict[str, tuple[str, ...]]:
    """Names of the materials by group: never, only with extraction, with care.

    >>> list(lists())
    ['never', 'extraction only', 'care']
    """
    return {group: materials.names(group) for group in materials.GROUPS}
