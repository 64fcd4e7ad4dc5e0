"""From the source to the work: combined beams, what mirrors and lenses lose, how beams walk."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from mathlib import units, words
from mathlib.formula import Example, Formula
from mathlib.laser.calorimeter import absorbed_power as absorbed_power
from mathlib.laser.lenses import known_beam, through
from mathlib.laser.sources import aged_power as aged_power
from mathlib.laser.sources import coolant_rise as coolant_rise
from mathlib.laser.sources import diode_efficiency as diode_efficiency
from mathlib.laser.sources import diode_heat as diode_heat
from mathlib.laser.sources import diode_power as diode_power
from mathlib.laser.sources import junction_temperature as junction_temperature
from mathlib.laser.sources import mean_power as mean_power
from mathlib.laser.sources import measured_power as measured_power
from mathlib.laser.sources import tube_heat as tube_heat
from mathlib.units import Quantity
from mathlib.words import Word

if TYPE_CHECKING:
    from mathlib.laser.beams import Beam

_LIGHT = ("optical_power", "W", "of light")

polarised_pair = Formula(
    title="Light of two diodes that are combined by their polarisation",
    equation="P = (P_1 * T_p + P_2 * R_s) * T",
    where={
        "P": ("optical_power", "W", "behind the lens"),
        "P_1": ("passing_power", "W", "of the diode whose light passes the cube"),
        "T_p": ("passing_share", "1", "of that light which the cube lets through"),
        "P_2": ("reflected_power", "W", "of the diode whose light the cube reflects"),
        "R_s": ("reflected_share", "1", "of that light which the cube reflects"),
        "T": ("transmission", "1", "of the lenses behind"),
    },
    holds=(
        "T_p <= 1; it is a share",
        "R_s <= 1; it is a share",
        "T <= 1; it is a share",
    ),
    assumes=(
        "two beams only: a third has no polarisation left to be told by",
        "both are polarised across each other and lie on one axis, so that the spot stays as it is",
    ),
    source="Powers behind a polarising cube",
    example=Example(
        {
            "passing_power": "5.5 W",
            "passing_share": "0.97 1",
            "reflected_power": "5.0 W",
            "reflected_share": "0.98 1",
            "transmission": "0.985 1",
        },
        "10.081475 W",
        1e-6,
        "by hand: 5.335 + 4.9 = 10.235; times 0.985",
    ),
)

stacked_quality = Formula(
    title="Beam quality of beams that are stacked side by side",
    equation="M2_s = n * M2",
    where={
        "M2_s": ("stacked_quality", "1", "M² along the axis of stacking, at least"),
        "n": ("beams", "1", "side by side, without a gap"),
        "M2": ("beam_quality", "1", "M² of each along that axis"),
    },
    assumes=(
        "no gap between them: gaps add to it",
        "light of one colour and polarisation cannot be laid on one another without loss",
    ),
    source="Conservation of radiance: width times divergence adds up",
    example=Example({"beams": 2, "beam_quality": 3}, "6 1", 1e-12, "by hand: 2 * 3"),
)

delivered_power = Formula(
    title="Light behind mirrors and lenses",
    equation="P = P_0 * R**n * T",
    where={
        "P": ("delivered_power", "W", "that reaches the work"),
        "P_0": _LIGHT,
        "R": ("reflectance", "1", "of each mirror"),
        "n": ("mirrors", "1", "in the path", "zero"),
        "T": ("transmission", "1", "of all lenses and windows together"),
    },
    holds=("R <= 1; it is a share", "T <= 1; it is a share"),
    assumes=("mirrors are alike and clean: soot eats some percent of each, and heats it",),
    source="Each surface keeps its share",
    example=Example(
        {
            "optical_power": "60 W",
            "reflectance": "0.985 1",
            "mirrors": 3,
            "transmission": "0.985 1",
        },
        "56.48019 W",
        1e-6,
        "by hand: 0.985**4 = 0.941337; times 60",
    ),
)

walk_off = Formula(
    title="Way that a tilted mirror makes a beam walk",
    equation="s = 2 * theta * L",
    where={
        "s": ("walk_off", "mm", "of the beam from where it should be"),
        "theta": ("tilt", "mrad", "by which the mirror is off"),
        "L": ("distance", "mm", "from that mirror along the beam"),
    },
    assumes=(
        "the tilt is small, below some 50 mrad",
        "the error grows with the distance: align with the head in the far corner first",
    ),
    source="Law of reflection: the beam turns by twice the tilt",
    example=Example(
        {"tilt": "1 mrad", "distance": "1500 mm"}, "3 mm", 1e-9, "by hand: 2 * 0.001 * 1500"
    ),
)


class AlongPath(NamedTuple):
    """Beam and spot of a head that moves away from its source."""

    beam_diameter: Quantity
    spot_diameter: Quantity
    focus_shift: Quantity


def along_path(beam: Beam, distances: Any, focal_length: Any) -> AlongPath:
    """Tell how beam, spot and focus change as the lens moves along the beam.

    Parameters
    ----------
    beam : Beam
        Its places count from where the distances do; of two axes each for itself.
    distances : length, any shape
        From there to the lens, for example to the near and to the far corner.
    focal_length : length
        Of the lens on the head.

    Returns
    -------
    AlongPath
        ``.beam_diameter`` at the lens, ``.spot_diameter`` in the focus, and ``.focus_shift``,
        by which the focus lies further from the lens than its focal length. Of an elliptical beam
        the first axis of each is x and y.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> from mathlib.laser.beams import Beam
    >>> from mathlib.units import Q
    >>> tube = Beam(wavelength="10.6 um", beam_quality=1.1, waist_diameter="6 mm")
    >>> found = along_path(tube, Q([0.5, 1.8], "m"), "50.8 mm")
    >>> print(found.beam_diameter, found.spot_diameter.to("um"))
    [6.126 7.472] mm [123.6 101.9] µm

    """
    known_beam("Beam along a path", beam)
    behind = through(beam, [("space", distances), ("lens", focal_length)])
    focal = words.base_value(Word("focal_length", "mm", "of the lens"), focal_length)
    shift = behind.waist_place - words.result(focal, units.container("mm"))
    return AlongPath(beam.diameter(distances), behind.waist_diameter, shift)
