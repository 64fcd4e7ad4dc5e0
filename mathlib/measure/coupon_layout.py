"""Where coupons lie on a sheet and in which order they burn: scattered, neighbours far in time."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib.errors import ValueRefused

#: Between two lines, so that heat and char of one do not reach the other; mm, an estimate.
GAP: Final = 8.0
#: From one line to the one that burns next; mm, an estimate.
APART: Final = 25.0
MARGIN: Final = 8.0
_FILL: Final = 0.28  # part of the sheet that lines with their gaps may take when thrown at random
_ASPECT: Final = 1.4
_TRIES, _SHEETS, _ORDERS = 400, 24, 200


def gaps(boxes: Any) -> Any:
    """Distance between each two boxes in mm, rows of left, front, right, back; shape (n, n).

    Examples
    --------
    >>> float(gaps(np.array([[0, 0, 10, 0], [13, 4, 20, 4]]))[0, 1])
    5.0

    """
    low, high = boxes[:, :2], boxes[:, 2:]
    apart = np.maximum(low[:, None] - high[None], low[None] - high[:, None])
    return np.hypot(*np.moveaxis(np.maximum(apart, 0.0), -1, 0))


def scatter(
    lengths: Any, across: Any, travel: tuple[float, float], rng: np.random.Generator
) -> tuple[Any, tuple[float, float]]:
    """Throw lines on a sheet, the smallest that takes them and fits into the work area.

    Parameters
    ----------
    lengths : (n,) of mm
        Of each line, run-ups and all.
    across : (n,) of bool
        Whether a line runs along y.
    travel : (float, float)
        Size of the work area in mm.
    rng : Generator
        Of random numbers.

    Returns
    -------
    (boxes, sheet)
        Left, front, right, back of each line, shape (n, 4); width and depth of the sheet, mm.

    Raises
    ------
    ValueRefused
        The work area cannot take them.

    Examples
    --------
    >>> boxes, sheet = scatter(np.full(4, 15.0), np.arange(4) % 2 == 0, (420, 300),
    ...                        np.random.default_rng(1))
    >>> bool(np.all(gaps(boxes)[np.triu_indices(4, 1)] >= GAP))
    True

    """
    sizes = np.where(across[:, None], [[0.0, 1.0]], [[1.0, 0.0]]) * lengths[:, None]
    area = float(np.sum((sizes[:, 0] + GAP) * (sizes[:, 1] + GAP))) / _FILL
    least = sizes.max(axis=0) + 2 * MARGIN
    for _ in range(_SHEETS):
        width = min(max((area * _ASPECT) ** 0.5, least[0]), travel[0])
        depth = min(max(area / width, least[1]), travel[1])
        if (boxes := _thrown(sizes, (width, depth), rng)) is not None:
            return boxes, (width, depth)
        area *= 1.1
    raise ValueRefused(
        f"Coupons: {len(lengths)} lines of up to {lengths.max():.0f} mm do not fit into a work "
        f"area of {travel[0]:g} mm by {travel[1]:g} mm; give fewer replicates, or a higher "
        "acceleration, which makes the run-ups shorter."
    )


def _thrown(sizes: Any, sheet: tuple[float, float], rng: np.random.Generator) -> Any | None:
    room = np.array(sheet) - 2 * MARGIN - sizes
    if np.any(room < 0):
        return None
    boxes = np.zeros((0, 4))
    for size, free in zip(sizes, room, strict=True):
        low = MARGIN + rng.random((_TRIES, 2)) * free
        tried = np.concatenate([low, low + size], axis=1)
        wide = np.maximum(tried[:, None, :2] - boxes[None, :, 2:], 0.0)
        wide = np.maximum(wide, boxes[None, :, :2] - tried[:, None, 2:])
        clear = np.all(np.hypot(wide[..., 0], wide[..., 1]) >= GAP, axis=1)
        if not clear.any():
            return None
        boxes = np.concatenate([boxes, np.round(tried[[int(np.argmax(clear))]], 3)])
    return boxes if _apart(boxes) >= GAP - 0.01 else None


def _apart(boxes: Any) -> float:
    every = gaps(boxes)[np.triu_indices(len(boxes), 1)]
    return float(every.min()) if every.size else np.inf


def order(boxes: Any, rng: np.random.Generator) -> tuple[Any, float]:
    """Put lines into a random order in which no line follows one that lies near it.

    Nor one that lies nearest, however far that is.

    Returns
    -------
    (order, apart)
        Indices; the least distance in mm between a line and the one that burns next.

    Examples
    --------
    >>> boxes = np.array([[0, 0, 10, 0], [0, 9, 10, 9], [80, 0, 90, 0], [80, 9, 90, 9]])
    >>> found, apart = order(boxes, np.random.default_rng(1))
    >>> apart > 60
    True

    """
    between = gaps(boxes)
    apart = APART if len(boxes) < 3 else min(APART, float(np.median(between)))
    apart = max(apart, GAP)
    strange = ~_nearest(between)
    while apart > GAP:
        for _ in range(_ORDERS):
            if (found := _walked((between >= apart) & strange, rng)) is not None:
                return found, float(between[found[:-1], found[1:]].min(initial=np.inf))
        apart *= 0.9
    raise ValueRefused("Coupons: no order keeps neighbours apart; give more levels.")


def _nearest(between: Any) -> Any:
    """Tell of each two lines whether one is the nearest of the other; of three, of none."""
    near = np.zeros(between.shape, dtype=bool)
    if len(between) > 3:
        others = between + np.diag(np.full(len(between), np.inf))
        near[np.arange(len(between)), others.argmin(axis=1)] = True
    return near | near.T


def _walked(far: Any, rng: np.random.Generator) -> Any | None:
    """Walk through all lines at random, each step far; those with few ways out come first."""
    left = np.ones(len(far), dtype=bool)
    at = int(rng.integers(len(far)))
    found = [at]
    left[at] = False
    while left.any():
        ways = np.flatnonzero(left & far[at])
        if not len(ways):
            return None
        at = int(rng.choice(ways))
        found.append(at)
        left[at] = False
    return np.array(found)
