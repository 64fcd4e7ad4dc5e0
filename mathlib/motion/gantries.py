"""Builders of gantries from a layout: crossed belts, plain axes, a common shaft, a single belt.

Only routes are written here; pulley centres are offset by their radii so that every moving run is
parallel to its rail, unless the layout moves them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import attrs
import numpy as np

from mathlib.errors import ValueRefused
from mathlib.motion.gantry import Gantry as Gantry
from mathlib.motion.gantry import Layout as Layout
from mathlib.motion.routes import BeltPath, Node, Pulley


def gantry(layout: Layout) -> Gantry:
    """Build the gantry that a layout names.

    Parameters
    ----------
    layout : Layout
        Lengths and belt; its own pulleys where it has them.

    Raises
    ------
    ValueRefused
        The pulleys do not fit beside the travel, or a belt cannot run as told.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> layout = load(TAGMAKER).layout
    >>> print(gantry(layout).travel_matrix("100 mm", "50 mm").magnitude.round(9) + 0.0)
    [[ 1.  1.]
     [ 1. -1.]]

    """
    build = {
        "crossed": crossed_belts,
        "plain": plain_axes,
        "shaft": common_shaft,
        "single": single_belt,
    }
    return build[layout.belts](layout)


class _Sizes(NamedTuple):
    """Lengths of a layout in mm, and the pitch radius of the usual pulley."""

    width: float
    reach_x: float
    reach_y: float
    margin: float
    clamp: float  # from the head to where a belt end is held, along the beam
    over: float
    radius: float
    shift: float


def _sizes(layout: Layout) -> _Sizes:
    width, reach_x, reach_y, shift = (
        _single(layout, name, "mm")
        for name in ("rail_spacing", "travel_x", "travel_y", "run_offset")
    )
    pitch = float(np.median(layout.belt.pitch.to("mm").magnitude))
    radius = pitch * _single(layout, "teeth", "1") / (2 * np.pi)
    over = _single(layout, "taken_overrun", "mm")
    margin = (width - reach_x) / 2.0
    if margin < 2 * radius:
        raise ValueRefused(
            f"Layout: rail_spacing {width:.4g} mm leaves no room for the pulleys beside "
            f"travel_x {reach_x:.4g} mm; it takes {reach_x + 4 * radius:.4g} mm at least."
        )
    clamp = (margin - 2 * radius) / 2.0
    return _Sizes(width, reach_x, reach_y, margin, clamp, over, radius, shift)


def _single(owner: Layout | Pulley, name: str, unit: str) -> float:
    """Read a length that a route is drawn with: one number, not an array of them."""
    value = getattr(owner, name).to(unit).magnitude
    if np.ndim(value):
        raise ValueRefused(
            f"{type(owner).__name__}: {name} is one value; a route is drawn for one machine at a "
            f"time, and this is an array of {np.size(value)}."
        )
    return float(value)


def _gantry(
    belts: str, layout: Layout, routes: tuple[BeltPath, ...], senses: tuple[float, ...]
) -> Gantry:
    """Put routes together; the layout then names the builder that was called."""
    return Gantry(attrs.evolve(layout, belts=belts), _given(layout, routes), senses)  # type: ignore[misc]


def _given(layout: Layout, routes: tuple[BeltPath, ...]) -> tuple[BeltPath, ...]:
    """Put a layout's own pulleys in place of the usual ones."""
    if layout.pulleys is None:
        return routes
    if any(isinstance(pulley, Pulley) for pulley in layout.pulleys):
        raise ValueRefused("Layout: pulleys has one sequence for each belt; put them in those.")
    if len(layout.pulleys) != len(routes):
        raise ValueRefused(
            f"Layout: pulleys has {len(layout.pulleys)} sequences; {len(routes)} belts are there."
        )
    return tuple(_with_pulleys(layout, r, p) for r, p in zip(routes, layout.pulleys, strict=True))


def _with_pulleys(layout: Layout, route: BeltPath, pulleys: Sequence[Pulley]) -> BeltPath:
    usual = route.nodes[1:-1]
    nodes = [
        Node(
            usual[number].name if len(pulleys) == len(usual) else f"pulley {number + 1}",
            _single(pulley, "x", "mm"),
            _single(pulley, "y", "mm"),
            pulley.on,
            float(pulley.pitch_radius(layout.belt).to("mm").magnitude),
            1.0 if pulley.side == "left" else -1.0,
        )
        for number, pulley in enumerate(pulleys)
    ]
    drives = route.drives
    if len(pulleys) != len(usual):
        on = {route.nodes[number].on for number in drives}
        toothed = [n + 1 for n, p in enumerate(pulleys) if p.on in on and p.teeth is not None]
        if len(toothed) < len(drives):
            raise ValueRefused(
                f"{route.name}: {len(drives)} toothed pulleys on the {' or '.join(sorted(on))} are "
                f"needed as drives; there are {len(toothed)}."
            )
        drives = tuple(toothed[: len(drives)])
    return BeltPath([route.nodes[0], *nodes, route.nodes[-1]], drives, route.pivot_x, route.name)


def crossed_belts(layout: Layout) -> Gantry:
    """Two belts that cross; both motors in the front corners, a = x + y and b = x - y.

    Belt a comes from the carriage's left end round the beam's left pulley to the front left
    motor, back along the left side, across the rear, along the right side to the beam's right
    pulley, and to the carriage's right end. Belt b is its mirror image.

    Parameters
    ----------
    layout : Layout
        Lengths and belt; its own pulleys where it has them.

    Raises
    ------
    ValueRefused
        The pulleys do not fit beside the travel, or a belt cannot run as told.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> layout = load(TAGMAKER).layout
    >>> print(crossed_belts(layout).travel_matrix("100 mm", "50 mm").magnitude.round(9) + 0.0)
    [[ 1.  1.]
     [ 1. -1.]]

    """
    s = _sizes(layout)
    left = _crossed_route(s, "belt a", mirrored=False)
    right = _crossed_route(s, "belt b", mirrored=True)
    return _gantry("crossed", layout, (left, right), (1.0, -1.0))


def _crossed_route(s: _Sizes, name: str, mirrored: bool) -> BeltPath:
    r, w = s.radius, s.width
    front, rear = -s.over, s.reach_y + s.over
    names = ("beam left", "motor", "rear left", "rear right", "beam right")
    nodes = [
        ("first end", s.margin - s.clamp, 0.0, "carriage", 0.0, 0.0),
        (names[0], r, -r, "beam", r, 1.0),
        (names[1], -r, front, "frame", r, -1.0),
        (names[2], -r + s.shift, rear - r, "frame", r, -1.0),
        (names[3], w - r + s.shift, rear - r, "frame", r, -1.0),
        (names[4], w - r, r, "beam", r, -1.0),
        ("last end", s.margin + s.clamp, 0.0, "carriage", 0.0, 0.0),
    ]
    made = []
    for told, x, y, on, radius, turn in nodes:
        x = w - x if mirrored and on != "carriage" else x
        if mirrored and on == "carriage":
            x = 2 * s.margin - x
        told = _mirror_name(told) if mirrored else told
        made.append(Node(told, x, y, on, radius, -turn if mirrored else turn))
    return BeltPath(made, 2, w / 2.0, name)


def _mirror_name(name: str) -> str:
    swap = {"left": "right", "right": "left"}
    return " ".join(swap.get(word, word) for word in name.split())


def plain_axes(layout: Layout) -> Gantry:
    """One belt along the beam for x, one along a rail for y; each motor drives one axis.

    Parameters
    ----------
    layout : Layout
        Lengths and belt; its own pulleys where it has them.

    Raises
    ------
    ValueRefused
        The pulleys do not fit beside the travel, or a belt cannot run as told.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> layout = load(TAGMAKER).layout
    >>> print(plain_axes(layout).travel_matrix("100 mm", "50 mm").magnitude.round(9) + 0.0)
    [[1. 0.]
     [0. 1.]]

    """
    s = _sizes(layout)
    routes = (_x_route(s), _y_route(s, "belt y", s.width / 2))
    return _gantry("plain", layout, routes, (1.0, 1.0))


def common_shaft(layout: Layout) -> Gantry:
    """Drive the beam at both ends from one shaft: one belt for x, two for y.

    Parameters
    ----------
    layout : Layout
        Lengths and belt; its own pulleys where it has them.

    Raises
    ------
    ValueRefused
        The pulleys do not fit beside the travel, or a belt cannot run as told.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> layout = load(TAGMAKER).layout
    >>> print(common_shaft(layout).travel_matrix("100 mm", "50 mm").magnitude.round(9) + 0.0)
    [[1. 0.]
     [0. 1.]]

    """
    s = _sizes(layout)
    routes = (_x_route(s), _y_route(s, "belt y left", 0.0), _y_route(s, "belt y right", s.width))
    return _gantry("shaft", layout, routes, (1.0, 1.0, 1.0))


def _x_route(s: _Sizes) -> BeltPath:
    """Lay a loop along the beam; its motor and idler ride on the beam."""
    r = s.radius
    nodes = [
        Node("first end", s.margin - s.clamp, r, "carriage"),
        Node("motor", 0.0, 0.0, "beam", r, 1.0),
        Node("idler", s.width, 0.0 + s.shift, "beam", r, 1.0),
        Node("last end", s.margin + s.clamp, r, "carriage"),
    ]
    return BeltPath(nodes, 1, s.width / 2.0, "belt x")


def _y_route(s: _Sizes, name: str, x: float) -> BeltPath:
    """Lay a loop along one rail; motor in front, idler at the rear."""
    r = s.radius
    nodes = [
        Node("first end", x + r, -2.0, "beam"),
        Node("motor", x, -s.over, "frame", r, -1.0),
        Node("idler", x + s.shift, s.reach_y + s.over, "frame", r, -1.0),
        Node("last end", x + r, 2.0, "beam"),
    ]
    return BeltPath(nodes, 1, s.width / 2.0, name)


def single_belt(layout: Layout) -> Gantry:
    """One belt round both axes, with two motors: its y runs pull the beam's ends opposite ways.

    From the carriage round the beam's left front pulley to the left motor, round the rear left
    idler back to the beam, across it, and the same way on the right: three parts, of which the
    middle one lies between the motors.

    Parameters
    ----------
    layout : Layout
        Lengths and belt; its own pulleys where it has them.

    Raises
    ------
    ValueRefused
        The pulleys do not fit beside the travel, or a belt cannot run as told.

    Examples
    --------
    >>> from mathlib.machine import TAGMAKER, load
    >>> layout = load(TAGMAKER).layout
    >>> print(single_belt(layout).travel_matrix("100 mm", "50 mm").magnitude.round(9) + 0.0)
    [[ 1.  1.]
     [ 1. -1.]]

    """
    s = _sizes(layout)
    r, w = s.radius, s.width
    front, rear = -s.over, s.reach_y + s.over + 4 * r  # the beam's rear pulleys need room
    nodes = [
        Node("first end", s.margin - s.clamp, 0.0, "carriage"),
        Node("beam left front", r, -r, "beam", r, 1.0),
        Node("motor left", -r, front, "frame", r, -1.0),
        Node("rear left", -r + s.shift, rear, "frame", r, -1.0),
        Node("beam left rear", r, 3 * r, "beam", r, 1.0),
        Node("beam right rear", w - r, 3 * r, "beam", r, 1.0),
        Node("rear right", w + r + s.shift, rear, "frame", r, -1.0),
        Node("motor right", w + r, front, "frame", r, -1.0),
        Node("beam right front", w - r, -r, "beam", r, 1.0),
        Node("last end", s.margin + s.clamp, 0.0, "carriage"),
    ]
    route = BeltPath(nodes, (2, 7), w / 2.0, "belt")
    return _gantry("single", layout, (route,), (1.0, 1.0))
