"""The sheet under the beam: its thickness, its bow, and a bed that is not level."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.laser.lenses import known_beam
from mathlib.units import Quantity
from mathlib.words import Word

if TYPE_CHECKING:
    from mathlib.laser.beams import Beam

_MM: Final = units.container("mm")
CORNERS: Final = ("near left", "near right", "far left", "far right")


height_margin = Formula(
    title="Room for errors of height that the depth of focus leaves",
    equation="m = h - t / 2 - r / 2",
    where={
        "m": ("height_margin", "mm", "by which surface or head may still be off", "signed"),
        "h": ("half_range", "mm", "of the depth of focus, to each side"),
        "t": ("thickness", "mm", "through which the spot must stay narrow, 0 to mark", "zero"),
        "r": ("height_range", "mm", "of the surface, lowest to highest: bed, bow, sag", "zero"),
    },
    assumes=(
        "the focus is set to the middle of what is lowest and highest",
        "below zero the sheet alone asks for more than the beam has",
    ),
    source="Lengths along the beam, laid end to end",
    example=Example(
        {"half_range": "1.2 mm", "thickness": "1.5 mm", "height_range": "0.5 mm"},
        "0.2 mm",
        1e-9,
        "by hand: 1.2 - 0.75 - 0.25 = 0.2",
    ),
)


class Through(NamedTuple):
    """1/e² widths of a beam where it meets a sheet; of two axes, pairs."""

    top: Quantity
    bottom: Quantity
    widest: Quantity


def through_sheet(beam: Beam, thickness: Any, focus_depth: Any) -> Through:
    """Widths of the beam at both faces of a sheet.

    The beam is taken as in air: in a cut it runs through its own kerf.

    Parameters
    ----------
    beam : Beam
        Of two axes each with its own waist; ``waist_place`` counts from the set focus.
    thickness : length, any shape
        Of the sheet.
    focus_depth : length, broadcast
        Of the set focus below the upper face: zero on it, negative above it.

    Returns
    -------
    Through
        ``.top``, ``.bottom``, and ``.widest`` of the two.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> from mathlib.laser.beams import Beam
    >>> spot = Beam(wavelength="445 nm", beam_quality=15, waist_diameter="0.1 mm")
    >>> for depth in ("1.5 mm", "0 mm"):
    ...     print(through_sheet(spot, "3 mm", depth).widest)
    0.162 mm
    0.2739 mm

    """
    known_beam("Beam through a sheet", beam)
    told = words.read_words(
        "Beam through a sheet",
        (Word("thickness", "mm", "of the sheet"), Word("focus_depth", "mm", "", "signed")),
        {"thickness": thickness, "focus_depth": focus_depth},
    )
    above, below = np.broadcast_arrays(
        -1e3 * told["focus_depth"], 1e3 * (told["thickness"] - told["focus_depth"])
    )
    top, bottom = (beam.diameter(units.quantity(face[()], _MM)) for face in (above, below))
    widest = np.maximum(top.magnitude, bottom.magnitude)
    return Through(top, bottom, units.quantity(widest[()], _MM))


class Flatness(NamedTuple):
    """What a few measured heights say about a bed.

    ``before`` is highest minus lowest as measured, ``after`` what shims under the corners leave;
    ``shims`` has one for each corner, the highest with none; ``rms`` is of what is left. Without
    more than three points nothing is left to judge by: ``after`` and ``rms`` are then nan.
    """

    slope_x: Quantity
    slope_y: Quantity
    before: Quantity
    after: Quantity
    rms: Quantity
    residual: Quantity
    shims: dict[str, Quantity]


def flatness(x: Any, y: Any, height: Any, width: Any, depth: Any) -> Flatness:
    """Fit a plane to heights measured over a bed, and tell what to put under which corner.

    Parameters
    ----------
    x, y : length, shape (n,)
        Places, from the near left corner; at least three, not in one line.
    height : length, shape (n,)
        Measured there by a gauge on the head, upwards positive; its zero does not matter.
    width, depth : length
        From support to support, along x and along y: the corners that can be shimmed.

    Returns
    -------
    Flatness
        Slopes in mm/m, ranges, the residual at each place, shims by corner.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; too few places, or all in one line.

    Examples
    --------
    >>> from mathlib.units import Q
    >>> found = flatness(Q([0, 400, 0, 400], "mm"), Q([0, 0, 300, 300], "mm"),
    ...     Q([0, 0.4, 0.3, 0.7], "mm"), "400 mm", "300 mm")
    >>> print({corner: str(shim) for corner, shim in found.shims.items()})
    {'near left': '0.7 mm', 'near right': '0.3 mm', 'far left': '0.4 mm', 'far right': '0 mm'}

    """
    told = words.read_words(
        "Flatness of a bed",
        (
            *(Word(name, "mm", "", "signed") for name in ("x", "y", "height")),
            *(Word(name, "mm", "") for name in ("width", "depth")),
        ),
        {"x": x, "y": y, "height": height, "width": width, "depth": depth},
    )
    across, along, up = (1e3 * np.atleast_1d(told[n]) for n in ("x", "y", "height"))
    if not across.shape == along.shape == up.shape or across.ndim != 1:
        raise ValueRefused("Flatness of a bed: x, y and height are lists of one length.")
    columns = np.column_stack([np.ones_like(across), across, along])
    centred = columns[:, 1:] - columns[:, 1:].mean(axis=0)
    spread = np.linalg.svd(centred, compute_uv=False)
    if across.size < 3 or spread[-1] < 1e-3 * spread[0]:
        raise ValueRefused(
            "Flatness of a bed: at least three places are needed, not all in one line."
        )
    plane = np.linalg.lstsq(columns, up, rcond=None)[0]
    _, slope_x, slope_y = plane
    residual = up - columns @ plane
    wide, deep = 1e3 * told["width"], 1e3 * told["depth"]
    corners = np.array([0.0, slope_x * wide, slope_y * deep, slope_x * wide + slope_y * deep])
    shims = corners.max() - corners
    judged = across.size > 3
    per_metre = units.container("mm/m")
    return Flatness(
        units.quantity(1e3 * float(slope_x), per_metre),
        units.quantity(1e3 * float(slope_y), per_metre),
        units.quantity(float(np.ptp(up)), _MM),
        units.quantity(float(np.ptp(residual)) if judged else float("nan"), _MM),
        units.quantity(float(np.sqrt(np.mean(residual**2))) if judged else float("nan"), _MM),
        units.quantity(residual, _MM),
        {c: units.quantity(round(float(s), 9), _MM) for c, s in zip(CORNERS, shims, strict=True)},
    )


def height_map(x: Any, y: Any, height: Any, at_x: Any, at_y: Any) -> Quantity:
    """Heights all over a bed from a few measured ones.

    A thin plate that goes through every reading; a tilted plane stays one. Beyond the outermost
    readings it is a guess.

    Parameters
    ----------
    x, y, height : length, shape (n,)
        As for ``flatness``.
    at_x, at_y : length, one-dimensional
        Places of the map; the result has a row for each y.

    Returns
    -------
    Quantity
        mm, shape (y, x).

    Raises
    ------
    UnitError, ValueRefused
        As ``flatness``; a place that was measured twice.

    Examples
    --------
    >>> from mathlib.units import Q
    >>> found = height_map(Q([0, 400, 0, 400], "mm"), Q([0, 0, 300, 300], "mm"),
    ...     Q([0, 0.4, 0.3, 0.7], "mm"), Q([200], "mm"), Q([0, 150], "mm"))
    >>> print(found[1, 0])
    0.35 mm

    """
    flatness(x, y, height, "1 m", "1 m")  # what it refuses is refused here
    told = words.read_words(
        "Map of a bed",
        tuple(Word(name, "mm", "", "signed") for name in ("x", "y", "height", "at_x", "at_y")),
        {"x": x, "y": y, "height": height, "at_x": at_x, "at_y": at_y},
    )
    from scipy.interpolate import RBFInterpolator

    places = np.column_stack([told["x"], told["y"]])
    if len(np.unique(places, axis=0)) < len(places):
        raise ValueRefused("Map of a bed: a place is measured twice; give the mean of both.")
    size = np.ptp(places, axis=0).max()
    plate = RBFInterpolator(places / size, 1e3 * told["height"], kernel="thin_plate_spline")
    across, along = np.meshgrid(np.atleast_1d(told["at_x"]), np.atleast_1d(told["at_y"]))
    found = plate(np.column_stack([across.ravel(), along.ravel()]) / size)
    return units.quantity(found.reshape(across.shape), _MM)
