"""Temperature around a moving spot, Gaussian or a mere point: by conduction alone.

Around a Gaussian spot on a thick solid it is an integral over the past: heat that fell t ago has
spread since, while the spot has moved on. With s² = 8 α t / w² and the Péclet number
Pe = v w / (2 α), lengths in units of w,

    rise / (rise at rest) = (2/π) ∫ exp(-2 ((x + Pe s²/4)² + y²) / (1 + s²) - 2 z²/s²) ds / (1 + s²)

from 0 to infinity. What counts may lie in a sliver of s, which common quadrature steps over, or
reach over ten decades. Nodes are set evenly in a variable that stretches both: for small s it
falls off twice exponentially, and where the spot moves fast it counts the width of the sliver.
"""

from __future__ import annotations

from math import factorial
from typing import Any, Final, NamedTuple

import numpy as np

from mathlib.errors import ValueRefused
from mathlib.words import with_units

_BLOCK: Final = 8192  # places at a time, which stay in cache
_STEP: Final = (0.3, 0.16)  # between nodes at the surface, below it; of u in s = exp(u - exp(-u))
_WIDTHS: Final = (1.2, 0.9)  # between nodes, of the sliver's own width
_FIRST: Final = -2.5  # u of the first node: s is below 1e-6
_DEEP: Final = 12.0  # what lies that many e-folds below the greatest part does not count
_FLAT: Final = 1e6  # up to where the slow fall of a spot at rest is followed, over the distance
_TABLE: Final = 256
_LEAST: Final = -700.0  # exponents below it are slow, and count for nothing anyway
_SMALL, _TERMS, _MODERATE = 0.5, 8, 50.0  # of a series for exp, right to 0.5^8 / 8! = 1e-7
_ROUNDS: Final = 2


def _farthest(pe: Any, far2: Any) -> Any:
    """Square of s at which the integrand is ``_DEEP`` e-folds below its greatest part."""
    far = np.sqrt(far2)
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        there = 1 + 4 * far / pe
        level = far2 / there + pe**2 * there / 16 + _DEEP / 2
        q = (level + np.sqrt(np.maximum(level**2 - pe**2 * far2 / 4, 0))) * 8 / pe**2
    slow = (_FLAT * (1 + far)) ** 2
    return np.where(np.isfinite(q), np.minimum(q, slow), slow)


def _places(u: Any, pe: float, deep: bool) -> tuple[Any, Any, Any]:
    """Place in the row of nodes, how fast it grows with u, and how fast s does."""
    s = np.exp(u - np.exp(-u))
    root = np.hypot(1, s)
    slope = s * (1 + np.exp(-u))
    place = u / _STEP[deep] + pe * (root - 1) / _WIDTHS[deep]
    return place, 1 / _STEP[deep] + pe * s / root * slope / _WIDTHS[deep], slope


def _nodes(pe: float, last: float, deep: bool) -> tuple[Any, Any]:
    """Nodes s and their weights up to the last s, for Péclet numbers up to ``pe``."""
    u = np.linspace(_FIRST, max(np.log(last) + 1, _FIRST + 1), _TABLE)
    beyond = int(np.searchsorted(u - np.exp(-u), np.log(last)))
    u = np.linspace(_FIRST, u[min(beyond + 1, _TABLE - 1)], _TABLE)
    place, _, _ = _places(u, pe, deep)
    wanted = np.arange(place[0], place[-1] + 1)
    u = np.interp(wanted, place, u)
    for _ in range(4):  # to the very value, so that the sum stays as exact as the rule is
        place, rate, _ = _places(u, pe, deep)
        u -= (place - wanted) / rate
    _, rate, slope = _places(u, pe, deep)
    return np.exp(u - np.exp(-u)), slope / rate


def _block(pe: Any, x: Any, r2: Any, z2: Any, deep: bool) -> Any:
    """Ratio to the rise at rest at some places; x, r² = x² + y² and z² in units of w."""
    s, weight = _nodes(float(np.max(pe)), np.sqrt(float(np.max(_farthest(pe, r2 + z2)))), deep)
    q = 1 + s * s
    across, along = -2 / q, -s * s / q
    ahead = -(s**4) / (8 * q)
    share = np.log(weight / q)
    moved, pe2 = pe * x, pe * pe
    exponent, part, total = np.empty(r2.shape), np.empty(r2.shape), np.zeros(r2.shape)
    left = np.ones(s.size, bool)
    if np.ndim(pe) == 0 and not deep and float(np.max(np.abs(moved))) < _MODERATE:
        # The exponent is -moved + d / q, and also -2 r² - d s² / q: where the last part is small
        # in the whole block, at both ends of the row of nodes, one series serves many of them.
        d = moved - 2 * r2
        reach = float(np.max(np.abs(d))) + 1e-300
        for base, small, sign in ((-moved, 1 / q, 1.0), (-2 * r2, s * s / q, -1.0)):
            few = left & (small * reach < _SMALL)
            parts = np.exp(pe2 * ahead[few] + share[few])
            terms = [sign**k * float(parts @ small[few] ** k) / factorial(k) for k in range(_TERMS)]
            total += np.exp(base) * np.polynomial.polynomial.polyval(d, terms)
            left &= ~few
    for i in np.flatnonzero(left):
        np.multiply(r2, across[i], out=exponent)
        np.multiply(moved, along[i], out=part)
        exponent += part
        if deep:
            np.multiply(z2, -2 / max(s[i] * s[i], 1e-300), out=part)
            exponent += part
        exponent += pe2 * ahead[i] + share[i]
        np.maximum(exponent, _LEAST, out=exponent)
        np.exp(exponent, out=exponent)
        total += exponent
    return 2 / np.pi * total


def _thinned(values: Any) -> Any:
    """Leave out the axes along which values repeat."""
    for axis in range(values.ndim):
        first = values.take([0], axis)
        if values.shape[axis] > 1 and np.array_equal(values, np.broadcast_to(first, values.shape)):
            values = first
    return values


def _grid(pe: float, x: Any, y: Any, z: float) -> Any:
    """Ratio to the rise at rest on a grid: each node's part is one factor of x and one of y."""
    far2 = float(np.max(x * x)) + float(np.max(y * y)) + z * z
    s, weight = _nodes(pe, np.sqrt(float(_farthest(pe, far2))), z > 0)
    q = 1 + s * s
    share = 2 / np.pi * weight / q * np.exp(-2 * z * z / np.maximum(s * s, 1e-300))
    along = share * np.exp(-2 * (x[..., None] + pe * s * s / 4) ** 2 / q)
    across = np.exp(-2 * y[..., None] ** 2 / q)
    return np.einsum("...i,...i->...", along, across)


def relative(pe: Any, x: Any, y: Any, z: Any) -> Any:
    """Rise over the rise at the centre of a spot at rest; lengths in units of the radius.

    >>> print(f"{relative(pe=1.0, x=0.0, y=0.0, z=0.0):.4f}")
    0.7300
    """
    pe, x, y, z = (np.asarray(v, dtype=float) for v in (pe, x, y, z))
    shape = np.broadcast_shapes(pe.shape, x.shape, y.shape, z.shape)
    if np.prod(shape) > _BLOCK:
        pe, x, y, z = (_thinned(v) for v in (pe, x, y, z))
    if pe.size == z.size == 1 and 8 * (x.size + y.size) < np.prod(shape):
        with np.errstate(under="ignore"):
            found = _grid(pe.item(), x, y, z.item())
        return np.broadcast_to(found, shape).copy()
    pe, x, y, z = np.broadcast_arrays(pe, x, y, z)
    uniform = pe.size > 0 and bool(np.all(pe == pe.flat[0]))
    flat = [np.ravel(v) for v in (pe, x, y, z)]
    # Places under the same nodes should be alike: sorted by Pe where it varies, in groups of
    # about one Pe, or fast ones would need fine nodes as far out as slow ones reach.
    order = None if uniform else np.argsort(flat[0], kind="stable")
    ends = np.array([flat[0].size])
    if order is not None:
        flat = [v[order] for v in flat]
        group = np.floor(np.log(np.maximum(flat[0], 1e-6)) / np.log(4.0))
        ends = np.append(np.flatnonzero(np.diff(group)) + 1, ends)
    found = np.empty(flat[0].size)
    deep = bool(np.any(flat[3]))
    first = 0
    with np.errstate(under="ignore", over="ignore"):
        for end in ends:
            for start in range(first, end, _BLOCK):
                part = slice(start, min(start + _BLOCK, end))
                p, a, b, c = (v[part] for v in flat)
                number = p[0] if uniform else p
                found[part] = _block(number, a, a * a + b * b, c * c, deep)
            first = end
    if order is not None:
        sorted_back = np.empty_like(found)
        sorted_back[order] = found
        found = sorted_back
    return np.broadcast_to(found.reshape(x.shape), shape).copy()[()]


@with_units(
    "Temperature rise around a moving Gaussian spot",
    returns="K",
    power="W",
    absorptance="1",
    radius="mm",
    speed=("mm/s", "zero"),
    conductivity="W/(m*K)",
    diffusivity="mm^2/s",
    x=("mm", "signed"),
    y=("mm", "signed"),
    z=("mm", "zero"),
)
def moving_rise(
    *,
    power: Any,
    absorptance: Any,
    radius: Any,
    speed: Any,
    conductivity: Any,
    diffusivity: Any,
    x: Any = "0 mm",
    y: Any = "0 mm",
    z: Any = "0 mm",
) -> Any:
    """Steady rise around a spot that moves over a thick solid, if nothing melts, chars or leaves.

    Where it comes out at thousands of degrees the material has gone long before: removal takes
    over, and only a balance of energy tells more.

    Parameters
    ----------
    power : power
        Of the light.
    absorptance : number
        Part of it that is absorbed, in the surface.
    radius : length
        1/e² radius of the spot.
    speed : speed
        Towards positive x; 0 is a spot at rest.
    conductivity, diffusivity
        Of the solid, at temperatures half way up, the same everywhere.
    x, y, z : length
        Place from the centre of the spot: ahead, aside, and below the surface. All arguments
        broadcast.

    Returns
    -------
    Quantity
        K, above the temperature far away.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; an absorptance above 1.

    Notes
    -----
    Cline and Anthony, J. Appl. Phys. 48, 3895 (1977); Eagar and Tsai, Welding Journal 62, 346-s
    (1983), written for the 1/e² radius. Right to 1e-4 of the highest rise up to a
    Péclet number of 200, and to 5e-4 up to 5000; thick means thicker than a few radii and than a
    few times the diffusivity over the speed.

    Examples
    --------
    >>> print(moving_rise(power="0.02 W", absorptance=0.5, radius="50 um", speed="10 mm/s",
    ...                   conductivity="0.17 W/(m*K)", diffusivity="0.161 mm^2/s"))
    302.7 K

    """
    check_absorptance("Temperature rise around a moving Gaussian spot", absorptance)
    at_rest = absorptance * power / (np.sqrt(2 * np.pi) * conductivity * radius)
    pe = speed * radius / (2 * diffusivity)
    return at_rest * relative(pe, x / radius, y / radius, z / radius)


def check_absorptance(who: str, absorptance: Any) -> None:
    """Refuse more than all of the light.

    >>> check_absorptance("A spot", 1.2)
    Traceback (most recent call last):
    ...
    mathlib.errors.ValueRefused: A spot: absorptance is a part of the light, at most 1.
    """
    if np.any(np.asarray(absorptance) > 1):
        raise ValueRefused(f"{who}: absorptance is a part of the light, at most 1.")


class Hottest(NamedTuple):
    """Hottest place of the surface: its rise over that of a spot at rest, and how far it lags."""

    ratio: Any
    lag: Any


@with_units("Hottest place under a moving spot", peclet=("1", "zero"))
def hottest(*, peclet: Any) -> Hottest:
    """Where the surface is hottest under a moving Gaussian spot, and how hot.

    Parameters
    ----------
    peclet : number or array
        Péclet number with the 1/e² radius, v w / (2 α).

    Returns
    -------
    Hottest
        ``ratio``: rise over that of the same spot at rest; ``lag``: how far behind the centre, in
        1/e² radii. Quantities of the shape of ``peclet``.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Notes
    -----
    As ``moving_rise``, whose greatest value along y = 0 it finds by parabolas through the three
    highest of nine places.

    Examples
    --------
    >>> found = hottest(peclet=5)
    >>> print(f"{found.ratio:.3f~P}, {found.lag:.2f~P} behind")
    0.454, 0.28 behind

    """
    from mathlib import units

    pe = np.asarray(peclet, dtype=float)
    place, apart = np.full(pe.shape, -0.5), 1 / 8  # it lags by less than a radius
    for _ in range(_ROUNDS):
        several = place[..., None] + apart * np.arange(-4, 5)
        rises = relative(pe[..., None], several, 0.0, 0.0)
        best = np.clip(np.argmax(rises, axis=-1), 1, 7)[..., None]
        left, middle, right = (
            np.take_along_axis(rises, best + beside, axis=-1)[..., 0] for beside in (-1, 0, 1)
        )
        # Top of the parabola through the three highest.
        top = (left - right) / (2 * (left - 2 * middle + right))
        place = np.take_along_axis(several, best, axis=-1)[..., 0] + apart * top
        apart /= 8
    one = units.container("1")
    ratio = relative(pe, place, 0.0, 0.0)
    return Hottest(units.quantity(ratio, one), units.quantity(-place[()], one))


@with_units(
    "Temperature rise around a moving point source",
    returns="K",
    power="W",
    speed=("mm/s", "zero"),
    conductivity="W/(m*K)",
    diffusivity="mm^2/s",
    x=("mm", "signed"),
    y=("mm", "signed"),
    z=("mm", "zero"),
    thickness="mm",
    absorptance="1",
)
def rosenthal(
    *,
    power: Any,
    speed: Any,
    conductivity: Any,
    diffusivity: Any,
    x: Any,
    y: Any,
    z: Any = "0 mm",
    thickness: Any = None,
    absorptance: Any = "1 1",
) -> Any:
    """Steady rise around a point (thick solid) or a line through a thin sheet that moves.

    It is endless at the source itself: useless within a spot's width, where ``moving_rise`` holds.
    A sheet counts as thin where it is thin against the diffusivity over the speed, so that both
    faces are equally hot; between thin and thick neither form holds.

    Parameters
    ----------
    power : power
        Absorbed, unless ``absorptance`` says which part of it is.
    speed : speed
        Towards positive x. A thin sheet needs one.
    conductivity, diffusivity
        Of the solid.
    x, y, z : length
        Place from the source: ahead, aside, below the surface.
    thickness : length, optional
        Of a thin sheet, through whose thickness nothing varies, so that ``z`` does not count; None
        for a thick solid.
    absorptance : number
        Part of the power.

    Returns
    -------
    Quantity
        K.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; the place of the source itself; a thin sheet under a source at rest,
        which never comes to an end of heating up.

    Notes
    -----
    Rosenthal, Trans. ASME 68, 849 (1946).

    Examples
    --------
    >>> print(rosenthal(power="1 kW", speed="5 mm/s", conductivity="40 W/(m*K)",
    ...                 diffusivity="10 mm^2/s", x="-5 mm", y="0 mm"))
    795.8 K

    """
    who = "Temperature rise around a moving point source"
    check_absorptance(who, absorptance)
    source = absorptance * power
    if thickness is None:
        far = np.sqrt(x * x + y * y + z * z)
    else:
        far = np.hypot(x, y)
        if np.any(np.asarray(speed) == 0):
            raise ValueRefused(f"{who}: a thin sheet needs a speed; at rest it never settles.")
    if np.any(far == 0):
        raise ValueRefused(
            f"{who}: there is no finite rise at the source; within a spot's width ask moving_rise."
        )
    half = speed / (2 * diffusivity)
    if thickness is None:
        return source / (2 * np.pi * conductivity * far) * np.exp(-half * (x + far))
    from scipy.special import k0e

    spread = np.exp(-half * (x + far)) * k0e(half * far)  # K0 itself underflows far away
    return source / (2 * np.pi * conductivity * thickness) * spread
