"""Curves to straight segments, within a tolerance that is proven, not tried.

A chord of a curve leaves it by no more than the largest second derivative over 8, for steps of 1;
n steps of 1 / n make that n^2 times smaller. Points are complex numbers x + i y.
"""

from __future__ import annotations

import cmath
import math
from typing import Final, NamedTuple

from mathlib.errors import ValueRefused
from mathlib.paths.polylines import FARTHEST, MOST_POINTS

_MOST_STEPS: Final = 100_000  # of one curve


class Matrix(NamedTuple):
    """An affine map: x' = a x + c y + e, y' = b x + d y + f."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    def __matmul__(self, other: Matrix) -> Matrix:
        """Map that applies the other first.

        >>> Matrix(2, 0, 0, 2) @ Matrix(e=3)
        Matrix(a=2.0, b=0.0, c=0.0, d=2.0, e=6.0, f=0.0)
        """
        a, b, c, d, e, f = self
        o = other
        return Matrix(
            a * o.a + c * o.b, b * o.a + d * o.b,
            a * o.c + c * o.d, b * o.c + d * o.d,
            a * o.e + c * o.f + e, b * o.e + d * o.f + f,
        )  # fmt: skip

    def point(self, z: complex) -> complex:
        """Where a point goes."""
        x, y = z.real, z.imag
        return complex(self.a * x + self.c * y + self.e, self.b * x + self.d * y + self.f)

    def vector(self, z: complex) -> complex:
        """Where a difference of points goes."""
        x, y = z.real, z.imag
        return complex(self.a * x + self.c * y, self.b * x + self.d * y)


class Trace:
    """Takes the strokes of one shape in its own units, and keeps polylines in mm."""

    def __init__(self, matrix: Matrix, tolerance: float, room: int = MOST_POINTS) -> None:
        self.matrix, self.tolerance, self.room = matrix, tolerance, room
        self.lines: list[list[complex]] = []
        self.here = self.start = 0j
        self.pointless = 0
        self._line: list[complex] = []

    def move(self, to: complex) -> None:
        """Begin a polyline."""
        self.end()
        self.here = self.start = to

    def end(self) -> None:
        """Keep the polyline that was begun, if it has a length."""
        if len(self._line) > 1:
            self.lines.append(self._line)
        elif self._line:
            self.pointless += 1
        self._line = []

    def line(self, to: complex) -> None:
        """Draw straight."""
        self._begin()
        self._put(self.matrix.point(to))
        self.here = to

    def close(self) -> None:
        """Draw straight back to where the polyline began."""
        self.line(self.start)
        self.end()

    def bezier(self, *controls: complex) -> None:
        """Draw a quadratic (two points) or cubic (three points) Bézier curve."""
        self._begin()
        p = [self.matrix.point(z) for z in (self.here, *controls)]
        for z in p:
            self._check(z)
        bend = max(abs(p[i] - 2 * p[i + 1] + p[i + 2]) for i in range(len(p) - 2))
        n = self._steps(math.sqrt((6 if len(p) == 4 else 2) * bend / (8 * self.tolerance)))
        p0, p1, p2, *rest = p
        for i in range(1, n):
            t = i / n
            s = 1 - t
            if rest:
                z = s * s * s * p0 + 3 * s * t * (s * p1 + t * p2) + t * t * t * rest[0]
            else:
                z = s * s * p0 + 2 * s * t * p1 + t * t * p2
            self._put(z)
        self._put(p[-1])
        self.here = controls[-1]

    def arc(
        self, rx: float, ry: float, turned: float, large: bool, sweep: bool, to: complex
    ) -> None:
        """Draw an arc of an ellipse whose x axis is turned by an angle, in radians.

        Radii that are too small to span the ends grow until they do; without a radius it is a
        straight line. In the ellipse's own units, where it is a circle of radius one, the middle
        lies beside the middle of the chord.
        """
        rx, ry = abs(rx), abs(ry)
        if to == self.here:
            return
        if min(rx, ry) < 1e-9:
            self.line(to)
            return
        axis = cmath.rect(1.0, turned)

        def unit(z: complex) -> complex:
            z = z * axis.conjugate()
            return complex(z.real / rx, z.imag / ry)

        first, last = unit(self.here), unit(to)
        chord = last - first
        square = chord.real * chord.real + chord.imag * chord.imag
        if not 0 < square < math.inf:
            self.line(to)
            return
        if square > 4:
            grown = math.sqrt(square) / 2
            rx, ry = rx * grown, ry * grown
            first, last, chord, square = first / grown, last / grown, chord / grown, 4.0
        aside = math.sqrt(max(0.0, 1 / square - 0.25))
        sideways = (aside if large != sweep else -aside) * 1j * chord
        middle = (first + last) / 2 + sideways
        begin = cmath.phase(-chord / 2 - sideways)
        turn = cmath.phase((chord / 2 - sideways) / (-chord / 2 - sideways))
        if sweep and turn < 0:
            turn += 2 * math.pi
        elif not sweep and turn > 0:
            turn -= 2 * math.pi
        self._ellipse(rx, ry, axis, middle, begin, turn, to)

    def _ellipse(
        self, rx: float, ry: float, axis: complex, middle: complex, begin: float, turn: float,
        to: complex,
    ) -> None:  # fmt: skip
        self._begin()
        centre = self.matrix.point(complex(middle.real * rx, middle.imag * ry) * axis)
        one, two = self.matrix.vector(rx * axis), self.matrix.vector(ry * 1j * axis)
        for z in (centre, one, two):
            self._check(z)
        # The longer half axis of the ellipse that the work sees.
        p, q = abs(one) ** 2, abs(two) ** 2
        dot = one.real * two.real + one.imag * two.imag
        longest = math.sqrt((p + q + math.hypot(p - q, 2 * dot)) / 2)
        n = self._steps(abs(turn) * math.sqrt(longest / (8 * self.tolerance)))
        n = max(n, math.ceil(abs(turn) / (math.pi / 4)))
        for i in range(1, n):
            angle = begin + turn * i / n
            self._put(centre + math.cos(angle) * one + math.sin(angle) * two)
        self._put(self.matrix.point(to))
        self.here = to

    def _begin(self) -> None:
        if not self._line:
            self._put(self.matrix.point(self.here))

    def _put(self, z: complex) -> None:
        self._check(z)
        if not self._line or z != self._line[-1]:
            self.room -= 1
            if self.room < 0:
                raise ValueRefused(
                    f"there are more than {MOST_POINTS} points: split the drawing, or allow a "
                    "coarser flatness."
                )
            self._line.append(z)

    @staticmethod
    def _check(z: complex) -> None:
        if not (abs(z.real) <= FARTHEST and abs(z.imag) <= FARTHEST):
            raise ValueRefused(
                f"a point lies farther away than {FARTHEST:g} mm: look at units and transforms."
            )

    @staticmethod
    def _steps(number: float) -> int:
        if not number <= _MOST_STEPS:
            raise ValueRefused(
                f"a curve would need more than {_MOST_STEPS} segments: look at its size, or allow "
                "a coarser flatness."
            )
        return max(1, math.ceil(number))
