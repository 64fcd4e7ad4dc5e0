"""Velocities to avoid in every direction of travel: along x to the right, along y upwards.

A motor turns with the sum or the difference of both speeds, or with one of them alone, as the
belts run. So all velocities at which it shakes a mode lie on straight lines.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from mathlib.answers import tell
from mathlib.figures import campbell, style
from mathlib.motion import excitation, modes
from mathlib.units import Q, Quantity, show

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine

_DIRECTIONS: Final = ("0 deg", "45 deg", "90 deg")
_BEYOND: Final = 1.25  # times the job's speed, that is drawn
_FELT: Final = 0.01  # of the other motor's part in a mode, below which a motor does not shake it
_HEAD: Final = 2  # modes, the lowest ones, in which the head moves


class Line(NamedTuple):
    """Velocities v with |row · v| = ``belt_speed``, at which a motor's order meets a mode."""

    order: str
    mode: int
    motor: str
    row: np.ndarray
    belt_speed: Quantity


def lines(machine: Machine) -> list[Line]:
    """Give the lines in the middle of the work area, for the modes in which the head moves."""
    fixed = machine.typical()
    x, y = fixed.layout.travel_x / 2.0, fixed.layout.travel_y / 2.0
    rows = np.asarray(fixed.drive.gantry.travel_matrix(x, y).magnitude)
    met: dict[tuple[str, int], Quantity] = {}
    for direction in _DIRECTIONS:
        for c in campbell.crossings(machine, direction):
            if c.mode < _HEAD:
                met[c.order, c.mode] = c.frequency
    orders = excitation.excitation_orders(machine.motor, fixed.layout, machine.belt.pitch)
    each = {excitation.CALLED.get(key): value for key, value in orders._asdict().items()}
    pulled = np.abs(modes.modes(fixed.drive, x, y).motor)  # (mode, motor)
    return [
        Line(order, mode, "ab"[motor], rows[motor], (frequency / each[order]).to("mm/s"))
        for (order, mode), frequency in sorted(met.items())
        for motor in (0, 1)
        if pulled[mode, motor] > _FELT * pulled[mode].max()
    ]


def along(machine: Machine, direction: str) -> list[tuple[Quantity, str, str]]:
    """Speeds in one direction with order and motors, the slowest first; from the library's list."""
    return [
        (c.speed, c.order, c.motors)
        for c in campbell.crossings(machine, direction)
        if c.mode < _HEAD
    ]


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw the lines of both motors over the speeds along x and y, and the job's speed."""
    job = float(np.median(machine.job.speed.to("mm/s").magnitude))
    most = _BEYOND * job
    figure, axes = style.new(
        "Every line is a velocity that shakes the head: pass it quickly, do not mark on it",
        (style.SIZE[0], 5.4),
    )
    seen: set[str] = set()
    for line in lines(machine):
        colour, dashes = campbell.LOOKS[line.order]
        belt = float(np.median(line.belt_speed.magnitude))
        for sign in (1.0, -1.0):
            ends = _ends(line.row, sign * belt, most)
            if ends is not None:
                label = line.order if line.order not in seen else None
                seen.add(line.order)
                axes.plot(*ends, color=colour, linestyle=dashes, linewidth=1.8, label=label)
    turn = np.linspace(0.0, np.pi / 2, 91)
    axes.plot(job * np.cos(turn), job * np.sin(turn), color=style.INK, linestyle=":", linewidth=1.4)
    axes.annotate(
        "job",
        (job * np.cos(0.2), job * np.sin(0.2)),
        xytext=(4, 0),
        textcoords="offset points",
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 0.5},
    )
    axes.set_aspect("equal")
    axes.set_xlim(0.0, most)
    axes.set_ylim(0.0, most)
    axes.set_xlabel("speed along x, in mm/s")
    axes.set_ylabel("speed along y, in mm/s")
    figure.legend(*axes.get_legend_handles_labels(), loc="outside lower center", ncols=2)
    return figure


def _ends(row: np.ndarray, belt: float, most: float) -> tuple[list[float], list[float]] | None:
    """Find the ends of the line row · v = belt within the square from 0 to ``most``."""
    a, b = float(row[0]), float(row[1])
    found: list[tuple[float, float]] = []
    for edge in (0.0, most):
        if abs(b) > 1e-9:
            found.append((edge, (belt - a * edge) / b))
        if abs(a) > 1e-9:
            found.append(((belt - b * edge) / a, edge))
    inside = [p for p in found if all(-1e-9 <= part <= most + 1e-9 for part in p)]
    if len(inside) < 2:
        return None
    first, last = min(inside), max(inside)
    if first == last:
        return None
    return [first[0], last[0]], [first[1], last[1]]


def describe(answer: Answer, machine: Machine) -> str:
    """List the speeds along x, along the diagonal and along y."""
    told = []
    for direction in _DIRECTIONS:
        listed = ", ".join(
            f"{show(speed, 3)} ({order})" for speed, order, _ in along(machine, direction)
        )
        told.append(f"at {direction.replace(' deg', '°')}: {listed or 'none'}")
    job = tell(Q(np.median(machine.job.speed.magnitude), "mm/s"))
    return (
        f"Speeds along x and y, with lines at which a motor shakes the head, and a quarter circle "
        f"for the job's {job}. Speeds by direction of travel, {'; '.join(told)}."
    )
