"""Beams through spaces and lenses: focusing, relays, clipping and spherical aberration."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final, cast

import attrs
import numpy as np

from mathlib import units, words
from mathlib.errors import MathlibError, ValueRefused
from mathlib.formula import Example, Formula
from mathlib.units import Quantity
from mathlib.words import Word, with_units

if TYPE_CHECKING:
    from mathlib.laser.beams import Beam

_SPACE: Final = Word("space", "mm", "that the beam runs through", "zero")
_ANGLES: Final = 256  # of a quarter turn: exact to 1e-9 for axes of one to twenty
_LENS: Final = Word("lens", "mm", "focal length, negative for one that spreads", "signed")


def known_beam(who: str, beam: Any) -> None:
    """Refuse what is no beam.

    Raises
    ------
    ValueRefused
        It is not a ``Beam``.

    Examples
    --------
    >>> known_beam("Spot", "red")
    Traceback (most recent call last):
    ...
    mathlib.errors.ValueRefused: Spot: beam is a Beam, such as Beam(wavelength="450 nm", \
beam_quality=15, waist_diameter="0.08 mm"); got 'red'.

    """
    from mathlib.laser.beams import Beam

    if not isinstance(beam, Beam):
        raise ValueRefused(
            f'{who}: beam is a Beam, such as Beam(wavelength="450 nm", beam_quality=15, '
            f'waist_diameter="0.08 mm"); got {beam!r}.'
        )


def through(beam: Beam, elements: Sequence[tuple[str, Any]]) -> Beam:
    """Beam behind a row of spaces and thin lenses.

    Each axis of an elliptical beam passes for itself. M² stays what it is; what lenses clip or
    blur is not counted, see ``clipped_fraction`` and ``aberration_blur``.

    Parameters
    ----------
    beam : Beam
        Its ``waist_place`` counts from where the row begins.
    elements : list of (str, length)
        ("space", distance) and ("lens", focal length) in the order in which the beam meets them;
        lengths may be arrays, which broadcast.

    Returns
    -------
    Beam
        Its ``waist_place`` counts from where the row ends: behind a lens, from the lens.

    Raises
    ------
    UnitError, ValueRefused
        An element is neither, or its length cannot be; all mistakes are told at once.

    Examples
    --------
    A diode collimated by a lens of 4 mm and focused by one of 40 mm is imaged ten times as wide:

    >>> from mathlib.laser.beams import Beam
    >>> emitter = Beam(wavelength="450 nm", beam_quality=10, waist_diameter="0.02 mm")
    >>> row = [("space", "4 mm"), ("lens", "4 mm"), ("space", "44 mm"), ("lens", "40 mm")]
    >>> spot = through(emitter, row)
    >>> print(spot.waist_diameter, spot.waist_place)
    0.2 mm 40 mm

    """
    known_beam("Beam through a row of elements", beam)
    a, b, c, d = _matrix(elements)
    ndim = np.ndim(a + b + c + d)
    _, diameter, place = beam.by_axis(ndim)
    length = np.asarray(beam.length_by_axis(ndim).to("m").magnitude)
    q = -place.to("m").magnitude + 1j * length
    behind = (a * q + b) / (c * q + d)
    wide = diameter.magnitude * np.sqrt(np.imag(behind) / length)
    behind_row = {
        "waist_diameter": _plain(wide),
        "waist_place": _plain(-1e3 * np.real(behind)),
        "two_axes": beam.elliptical,
    }
    made: Beam = attrs.evolve(cast("Any", beam), **behind_row)
    return made


def _plain(value: Any) -> Quantity:
    number = np.asarray(value, dtype=float)
    return units.quantity(float(number) if number.ndim == 0 else number, units.container("mm"))


def _matrix(elements: Sequence[tuple[str, Any]]) -> tuple[Any, Any, Any, Any]:
    """Ray matrix of the row in metres."""
    mistakes = words.Mistakes("Beam through a row of elements")
    a, b, c, d = np.array(1.0), np.array(0.0), np.array(0.0), np.array(1.0)
    for number, element in enumerate(elements, 1):
        kind = element[0] if isinstance(element, tuple | list) and len(element) == 2 else None
        if kind not in ("space", "lens"):
            sentence = f'element {number} is ("space", distance) or ("lens", focal length)'
            mistakes.add(ValueRefused, f"{sentence}; got {element!r}.")
            continue
        try:
            length = words.base_value(_SPACE if kind == "space" else _LENS, element[1])
        except MathlibError as fault:
            mistakes.add(type(fault), f"element {number}: {fault}")
            continue
        if kind == "space":
            a, b = a + length * c, b + length * d
        elif np.any(np.asarray(length) == 0):
            mistakes.add(ValueRefused, f"element {number}: a lens has no focal length of zero.")
        else:
            c, d = c - a / length, d - b / length
    mistakes.stop()
    return a, b, c, d


@with_units(
    "Clipped part of a beam",
    returns="1",
    beam_diameter="mm",
    aperture="mm",
    beam_diameter_y="mm",
)
def clipped_fraction(
    *, beam_diameter: Any, aperture: Any, opening: str = "round", beam_diameter_y: Any = None
) -> Any:
    """Part of a Gaussian beam's power that an opening keeps back; it heats the rim.

    Parameters
    ----------
    beam_diameter : length, any shape
        1/e² diameter of the beam there, across the slit if it is one.
    aperture : length, broadcast
        Diameter of a round opening, or width of a slit.
    opening : str
        "round" or "slit". The beam is centred.
    beam_diameter_y : length, broadcast, optional
        Along the other axis, of an elliptical beam in a round opening.

    Returns
    -------
    Quantity
        A plain number: 0.135 for an opening as wide as the 1/e² diameter, 0.011 for one that is
        1.5 times as wide.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; the opening is neither; a slit with two diameters.

    Examples
    --------
    >>> print(clipped_fraction(beam_diameter="4 mm", aperture="6 mm"))
    0.01111
    >>> print(clipped_fraction(beam_diameter="4 mm", beam_diameter_y="2 mm", aperture="6 mm"))
    0.003171

    """
    ratio = np.asarray(aperture) / beam_diameter
    if opening not in ("round", "slit"):
        raise ValueRefused(f"Clipped part: opening is 'round' or 'slit'; got {opening!r}.")
    if opening == "round":
        if beam_diameter_y is None:
            return np.exp(-2 * ratio**2)
        return _elliptical_rim(ratio, np.asarray(aperture) / beam_diameter_y)
    if beam_diameter_y is not None:
        raise ValueRefused("Clipped part: of a slit only beam_diameter counts, that across it.")
    from scipy.special import erfc

    return erfc(np.sqrt(2) * ratio)


def _elliptical_rim(ratio_x: Any, ratio_y: Any) -> Any:
    """Part of an elliptical Gaussian outside a circle; ratios are circle over 1/e² diameter."""
    beyond = 0.0
    for angle in (np.arange(_ANGLES) + 0.5) * np.pi / (2 * _ANGLES):
        falls = (ratio_x * np.cos(angle)) ** 2 + (ratio_y * np.sin(angle)) ** 2
        beyond = beyond + np.exp(-2 * falls) / falls
    return ratio_x * ratio_y * beyond / _ANGLES


def truncated_spot(
    wavelength: Any, f_number: Any, truncation_ratio: Any, width: str = "1/e^2"
) -> Quantity:
    """Focal spot of an ideal Gaussian beam that a round lens cuts off.

    The integral over the lens (Fraunhofer) of the beam that is left. The narrower the lens, the
    wider the spot for the same beam, and rings appear around it.

    Parameters
    ----------
    wavelength : length
        Of the light.
    f_number : number
        Focal length over the clear diameter of the lens.
    truncation_ratio : number
        1/e² diameter of the beam over the clear diameter; "infinite" for an evenly lit lens.
    width : str
        "1/e^2" or "FWHM", of the central peak. Of a cut beam the two have another ratio than of a
        Gaussian one.

    Returns
    -------
    Quantity
        mm; arrays broadcast.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; the width is neither.

    Examples
    --------
    >>> print(truncated_spot("10.6 um", 8.5, 1).to("um"))
    164.8 µm

    """
    levels = {"1/e^2": np.exp(-2.0), "FWHM": 0.5}
    if width not in levels:
        raise ValueRefused(f"Spot of a cut beam: width is '1/e^2' or 'FWHM'; got {width!r}.")
    even = isinstance(truncation_ratio, str) and truncation_ratio.split()[:1] == ["infinite"]
    ratio = 1e9 if even else words.base_value(Word("truncation_ratio", "1"), truncation_ratio)
    told = words.read_words(
        "Spot of a cut beam",
        (Word("wavelength", "nm", "of the light"), Word("f_number", "1", "of the lens")),
        {"wavelength": wavelength, "f_number": f_number},
    )
    constant = _spot_constant(np.asarray(ratio, dtype=float), float(levels[width]))
    return words.result(constant * told["wavelength"] * told["f_number"], units.container("mm"))


def _spot_constant(ratio: Any, level: float) -> Any:
    """K in d = K lambda N: where the squared Hankel integral of the cut beam falls to the level."""
    from scipy.special import j0

    nodes, weights = np.polynomial.legendre.leggauss(64)
    reach = np.minimum(1.0, 6.0 * ratio)[..., None]  # beyond six radii there is no light
    rho = reach * (nodes + 1) / 2
    light = weights * rho * np.exp(-((rho / ratio[..., None]) ** 2))
    peak = light.sum(axis=-1)
    low, high = np.zeros_like(ratio), 2.6 + 2 / ratio  # the peak ends within, rings lie lower
    for _ in range(60):
        middle = (low + high) / 2
        field = (light * j0(middle[..., None] * rho)).sum(axis=-1) / peak
        above = field**2 > level
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return 2 * (low + high) / 2 / np.pi


collimated_diameter = Formula(
    title="Width of a source's beam behind its collimating lens",
    equation="D = 2 * f * tan(theta / 2)",
    where={
        "D": ("beam_diameter", "mm", "behind the lens, in the convention of the angle"),
        "f": ("focal_length", "mm", "of the lens, one focal length before which the source is"),
        "theta": ("divergence", "deg", "full angle of the source, in whatever convention"),
    },
    assumes=(
        "the source is small next to the focal length",
        "angle and width are of one convention: turn half height into 1/e² afterwards",
    ),
    source="Geometry of the collimating lens",
    example=Example(
        {"focal_length": "4 mm", "divergence": "23 deg"},
        "1.6276 mm",
        1e-4,
        "by hand: tan(11.5 deg) = 0.203452; 8 * 0.203452 = 1.62762",
    ),
)

expanded_diameter = Formula(
    title="Width of a beam behind an expander",
    equation="D_2 = D * f_2 / f_1",
    where={
        "D_2": ("expanded_diameter", "mm", "1/e² diameter behind both lenses"),
        "D": ("beam_diameter", "mm", "1/e² diameter before the first lens"),
        "f_2": ("exit_focal_length", "mm", "of the second lens"),
        "f_1": ("entry_focal_length", "mm", "of the first lens, without its sign"),
    },
    assumes=(
        "the beam comes and leaves nearly collimated: the lenses stand f_1 + f_2 apart, or "
        "f_2 - f_1 where the first one spreads",
        "divergence behind it, and the spot of the same focusing lens, shrink by the same ratio",
    ),
    source="Geometry of two lenses with a common focus",
    example=Example(
        {
            "beam_diameter": "6 mm",
            "exit_focal_length": "100 mm",
            "entry_focal_length": "40 mm",
        },
        "15 mm",
        1e-12,
        "by hand: 6 * 100 / 40 = 15",
    ),
)
