"""Sections of beams: area and second moment, for bending. Torsion is left out.

``second_moment`` is the one that counts for a vertical load on a beam whose ``height`` stands
upright; ``second_moment_sideways`` counts for a push from the side. An open or slotted section
twists easily: where a load acts beside the beam's axis, these numbers promise too much.
"""

from __future__ import annotations

import difflib
import re
from typing import Any, Final

import numpy as np

from mathlib import tables
from mathlib.errors import NotUnique, ValueRefused
from mathlib.fields import optional, part, quantity, record, text
from mathlib.formula import Example, Formula
from mathlib.ranges import Range
from mathlib.units import Q, Quantity

_WIDTH = ("width", "mm", "across the load")
_HEIGHT = ("height", "mm", "along the load")
_CORNER = ("corner_radius", "mm", "of all four corners; 0 where they are sharp", "zero")

rectangle_area = Formula(
    title="Area of a rectangle with rounded corners",
    equation="A = b * h - (4 - pi) * r**2",
    where={"A": ("area", "mm^2", "of the section"), "b": _WIDTH, "h": _HEIGHT, "r": _CORNER},
    holds=("2 * r <= b; the corners meet", "2 * r <= h; the corners meet"),
    assumes=("the corners are quarters of circles",),
    source="Geometry",
    example=Example(
        {"width": "40 mm", "height": "20 mm", "corner_radius": "4 mm"},
        "786.2655 mm^2",
        1e-6,
        "by hand: 800 - 0.8584073 * 16",
    ),
)

rectangle_second_moment = Formula(
    title="Second moment of a rectangle with rounded corners",
    equation=(
        "I = b * h**3 / 12 - 4 * ((1 / 3 - pi / 16 - 1 / (9 * (4 - pi))) * r**4 "
        "+ (1 - pi / 4) * r**2 * (h / 2 - (10 - 3 * pi) / (12 - 3 * pi) * r)**2)"
    ),
    where={
        "I": ("second_moment", "mm^4", "about the axis across the load"),
        "b": _WIDTH,
        "h": _HEIGHT,
        "r": _CORNER,
    },
    holds=("2 * r <= b; the corners meet", "2 * r <= h; the corners meet"),
    assumes=("the corners are quarters of circles",),
    source="Geometry: a rectangle without the four corners, as the annex of EN 10219-2 sums it",
    example=Example(
        {"width": "40 mm", "height": "20 mm", "corner_radius": "4 mm"},
        "25519.95 mm^4",
        1e-6,
        "by hand: 26666.667 - 4 * (0.0075451 * 256 + 0.2146018 * 16 * (10 - 0.2233729 * 4)**2) "
        "= 26666.667 - 4 * (1.93155 + 3.433629 * 82.92886)",
        brackets={
            "width": ("20 mm", "60 mm"),
            "height": ("15 mm", "30 mm"),
            "corner_radius": ("2 mm", "6 mm"),
        },
    ),
)

round_second_moment = Formula(
    title="Second moment of a round bar",
    equation="I = pi * d**4 / 64",
    where={
        "I": ("second_moment", "mm^4", "about any diameter"),
        "d": ("diameter", "mm", "of the bar"),
    },
    assumes=("the bar is solid",),
    source="Geometry",
    example=Example(
        {"diameter": "20 mm"}, "7853.98 mm^4", 1e-6, "by hand: 3.1415927 * 160000 / 64"
    ),
)

round_area = Formula(
    title="Area of a round bar",
    equation="A = pi * d**2 / 4",
    where={"A": ("area", "mm^2", "of the section"), "d": ("diameter", "mm", "of the bar")},
    assumes=("the bar is solid",),
    source="Geometry",
    example=Example({"diameter": "20 mm"}, "314.159 mm^2", 1e-6, "by hand: 3.14159 * 100"),
)

section_mass = Formula(
    title="Mass of a beam for each length",
    equation="m = A * rho",
    where={
        "m": ("mass_per_length", "g/m", "of the beam"),
        "A": ("area", "mm^2", "of the section"),
        "rho": ("mass_density", "kg/m^3", "of the material"),
    },
    assumes=("the beam is one material, without nuts and covers in its slots",),
    source="Definition",
    example=Example(
        {"area": "100 mm^2", "mass_density": "2700 kg/m^3"},
        "270 g/m",
        1e-12,
        "by hand: 1e-4 * 2700",
    ),
)

with_rail = Formula(
    title="Second moment of a beam with a rail fixed along it, at most",
    equation="I = I_b + n * I_r + d**2 * A_b * n * A_r / (A_b + n * A_r)",
    where={
        "I": ("second_moment", "mm^4", "of both together, counted in the beam's material"),
        "I_b": ("beam_second_moment", "mm^4", "of the beam alone, for this load"),
        "n": ("modulus_ratio", "1", "of rail over beam: 3 for steel on aluminium"),
        "I_r": ("rail_second_moment", "mm^4", "of the rail alone, for this load"),
        "d": ("rail_offset", "mm", "between both centres, along the load", "zero"),
        "A_b": ("beam_area", "mm^2", "of the beam's section"),
        "A_r": ("rail_area", "mm^2", "of the rail's section"),
    },
    assumes=("nothing slips between them: screws let some of it slip, so this is the most",),
    source="Roark's Formulas for Stress and Strain, beams of two materials; parallel axes",
    example=Example(
        {
            "beam_second_moment": "7000 mm^4",
            "modulus_ratio": 3,
            "rail_second_moment": "512 mm^4",
            "rail_offset": "14 mm",
            "beam_area": "183 mm^2",
            "rail_area": "96 mm^2",
        },
        "30468.025 mm^4",
        1e-6,
        "by hand: 7000 + 1536 + 196 * 183 * 288 / 471 = 8536 + 21932.025",
    ),
)


@record
class Section:
    """A section of a beam; ``second_moment`` counts for a load along ``height``."""

    area: Quantity = quantity("mm^2", "of the material")
    second_moment: Quantity = quantity("mm^4", "for a load along the height")
    second_moment_sideways: Quantity | None = optional("mm^4", "for a load along the width")
    width: Quantity | None = optional("mm", "outside, across the load")
    height: Quantity | None = optional("mm", "outside, along the load")
    name: str = text("of a row of the table", default="")
    spans: dict[str, Range] | None = part("ranges of a row of the table", default=None)

    @classmethod
    def rectangle(cls, width: Any, height: Any, corner_radius: Any = "0 mm") -> Section:
        """Make a solid rectangle, its height along the load.

        >>> print(Section.rectangle("20 mm", "40 mm").second_moment.to("cm**4"))
        10.67 cm⁴
        """
        given = {"width": width, "height": height, "corner_radius": corner_radius}
        turned = {"width": height, "height": width, "corner_radius": corner_radius}
        return cls(
            area=rectangle_area(**given),
            second_moment=rectangle_second_moment(**given),
            second_moment_sideways=rectangle_second_moment(**turned),
            width=width,
            height=height,
        )

    @classmethod
    def tube(
        cls,
        width: Any,
        height: Any,
        wall: Any,
        outer_radius: Any = "0 mm",
        inner_radius: Any = "0 mm",
    ) -> Section:
        """Make a rectangular tube; catalogues round its corners by two walls outside, one inside.

        Raises
        ------
        ValueRefused
            The walls leave no room inside.

        Examples
        --------
        >>> print(Section.tube("40 mm", "20 mm", "2 mm", "4 mm", "2 mm").second_moment.to("cm**4"))
        1.343 cm⁴

        """
        b, h, t = (Q(v) if isinstance(v, str) else v for v in (width, height, wall))
        least = np.minimum(b.to("mm").magnitude, h.to("mm").magnitude)
        if np.any(2 * t.to("mm").magnitude >= least):
            raise ValueRefused("Section.tube: two walls are as wide as the tube; it is solid.")
        outer = cls.rectangle(b, h, outer_radius)
        inner = cls.rectangle(b - 2 * t, h - 2 * t, inner_radius)
        assert outer.second_moment_sideways is not None
        assert inner.second_moment_sideways is not None
        return cls(
            area=outer.area - inner.area,
            second_moment=outer.second_moment - inner.second_moment,
            second_moment_sideways=outer.second_moment_sideways - inner.second_moment_sideways,
            width=b,
            height=h,
        )

    @classmethod
    def round(cls, diameter: Any) -> Section:
        """Make a solid round bar.

        >>> print(Section.round("32 mm").second_moment.to("cm**4"))
        5.147 cm⁴
        """
        second_moment = round_second_moment(diameter=diameter)
        return cls(
            area=round_area(diameter=diameter),
            second_moment=second_moment,
            second_moment_sideways=second_moment,
            width=diameter,
            height=diameter,
        )

    @classmethod
    def named(cls, name: str) -> Section:
        """Take a row of ``data/sections.csv``; ``.spans`` has the ranges that makers span.

        Raises
        ------
        NotUnique
            The profile can stand upright or lie flat, and the name does not say which.
        ValueRefused
            There is no such row; the message names near ones.

        Examples
        --------
        >>> print(Section.named("T-slot 20 x 40, upright").second_moment.to("cm**4"))
        4.85 cm⁴
        >>> print(Section.named("T-slot 20 x 20").spans["second_moment"])
        7000 mm⁴ (6300 mm⁴ to 7700 mm⁴)

        """
        rows = tables.read("sections").rows
        by_key = {_key(each): each for each in rows}
        found = by_key.get(_key(str(name)))
        if found is None:
            both = [each for key, each in by_key.items() if key.startswith(f"{_key(str(name))},")]
            if both and str(name).strip():
                raise NotUnique(f"Section: {name!r} may be {' or '.join(both)}: name which.")
            close = difflib.get_close_matches(str(name), rows, n=3, cutoff=0.4) or list(rows)
            raise ValueRefused(
                f"Section: there is no {name!r}; did you mean {' or '.join(map(repr, close))}?"
            )
        values = {k: v for k, v in rows[found].values.items() if k in _FIELDS}
        spans = {k: v for k, v in values.items() if isinstance(v, Range)}
        typical = {k: v.typical if isinstance(v, Range) else v for k, v in values.items()}
        return cls(name=found, spans=spans, **typical)


_FIELDS: Final = ("area", "second_moment", "second_moment_sideways", "width", "height")


def _key(name: str) -> str:
    """Spell a name one way: 2040, 40x20 mm and T-slot 20 × 40 are the same profile.

    >>> _key("T-slot 20 × 40, flat"), _key("2040, flat"), _key("40 x 20 mm")
    ('20x40,flat', '20x40,flat', '20x40')
    """
    text = "".join(name.lower().replace("×", "x").split())
    text = re.sub(r"^t-?slot", "", text)
    size = re.match(r"(\d\d)(?:mm)?x?(\d\d)(?:mm)?(?=,|$)", text)
    if size is None:
        return text
    return "x".join(sorted(size.groups())) + text[size.end() :]
