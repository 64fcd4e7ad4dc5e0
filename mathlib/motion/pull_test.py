"""What a motor really pulls: a test with a spring scale, or a whole measured curve.

The test: motors warm after half an hour of work, the head's start marked on the bed. Run the beam
back and forth along y at one speed, hold it back with a spring scale, and pull a little harder on
each pass until it no longer comes back to its mark: steps were lost, at the force of the pass
before. Do it warm and cold; write down the lower force, and which it was.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, Final

import attrs
import numpy as np

from mathlib import typed, units, words
from mathlib.errors import MathlibError, ValueRefused
from mathlib.fields import choice, quantity, record
from mathlib.formula import Example, Formula
from mathlib.motion import derating
from mathlib.units import Q, Quantity
from mathlib.words import Word

if TYPE_CHECKING:
    pass

#: What a repetition of the test spreads by, one standard deviation over the mean; an estimate.
REPEATS: Final = 0.05
_TORQUE: Final = Word("torque", "N*m", "at which steps were lost", "zero")
_REPEAT: Final = Word("repeat", "1", "a standard normal deviate", "signed")
_SHARE: Final = Word("tested_share", "1", "of the bound, at the test")
_SPEED: Final = Word("speed", "rpm", "of the shaft", "zero")


@record
class PullTest:
    """A pull along y at a constant speed, up to the force at which steps were lost."""

    force: Quantity = quantity("N", "on the spring scale, in the last pass without lost steps")
    speed: Quantity = quantity("mm/s", "of the head along y, constant while it was pulled")
    winding: str = choice(("warm", "cold"), "of the motors during the test", "warm")
    motors: str = choice(("motor", "other_motor"), "that were fitted", "motor")


pulled_torque = Formula(
    title="Torque of each motor in a pull test at constant speed",
    equation="T = (F + F_f) * r / n",
    where={
        "T": ("load_torque", "N*m", "of each motor, at which steps were lost"),
        "F": ("pull_force", "N", "on the spring scale, against the motion"),
        "F_f": ("friction", "N", "along the axis", "zero"),
        "r": ("pitch_radius", "mm", "of the pulley, to the belt's cords"),
        "n": ("motors", "1", "that pull together: 2 with crossed belts, 1 with plain axes"),
    },
    assumes=("the speed is constant, so that no mass is accelerated",),
    source="Equilibrium of forces along the axis; virtual work for crossed belts",
    example=Example(
        {"pull_force": "40 N", "friction": "4 N", "pitch_radius": "6.366 mm", "motors": 2},
        "0.140052 N*m",
        1e-9,
        "by hand: 44 * 6.366 / 2 = 140.052 mN*m",
    ),
)


def part_after_test(
    frequency: Any, tested_frequency: Any, tested_share: Any, normal: Any = 0.0, repeat: Any = 0.0
) -> Any:
    """Give the part of the bound that a tested motor reaches: the test replaces the derating.

    Up to the tested frequency it is the tested part, with what a repetition spreads. Above it
    falls as the derating of others does, and its range opens until, one octave above, it is as
    wide as that of an untested motor.

    Parameters
    ----------
    frequency, tested_frequency : frequency
        Electrical; arrays broadcast.
    tested_share : float or array
        Part of the bound at the test.
    normal, repeat : float or array
        Standard normal deviates: of the unknown above the test, and of the test's repetition.

    Returns
    -------
    float or array
        Part of the bound.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> round(part_after_test("200 Hz", "400 Hz", 0.7), 3)
    0.7

    """
    word = Word("frequency", "Hz", "", "zero")
    at, tested = (words.base_value(word, f) for f in (frequency, tested_frequency))
    beyond = np.maximum(at, tested)
    octaves = np.log2(np.maximum(beyond / np.maximum(tested, 1e-9), 1.0))
    here, there = Q(np.asarray(beyond), "Hz"), Q(np.asarray(tested), "Hz")
    middle = derating.derating(here) / derating.derating(there)
    again = words.base_value(_REPEAT, repeat)
    known = words.base_value(_SHARE, tested_share)
    opened = (derating.derating(here, normal) / derating.derating(here)) ** np.minimum(octaves, 1.0)
    part = known * middle * opened * np.exp(REPEATS * again)
    return float(part) if np.ndim(part) == 0 else part


@attrs.frozen(eq=False)
class PullOutTable:
    """Measured pull-out torque against speed, in order; dips stay as they were measured."""

    speed: Quantity
    torque: Quantity
    notes: tuple[str, ...] = ()

    def at(self, speed: Any) -> Quantity:
        """Torque at a shaft speed: straight between points, nothing beyond the fastest.

        Below the slowest point the torque of that point is taken. Where a speed was measured
        more than once the lowest torque counts.

        >>> told = PullOutTable.of([{"speed": "300 rpm", "torque": "0.3 N*m"},
        ...                         {"speed": "1 turn/s", "torque": "40 N*cm"}])
        >>> print(told.at("180 rpm"))
        0.35 N·m
        """
        turning = words.base_value(_SPEED, speed)
        known = self.speed.to("rad/s").magnitude
        found = np.interp(turning, known, self.torque.magnitude, right=0.0)
        return words.result(found, units.container("N*m"))

    @classmethod
    def of(cls, rows: Iterable[Mapping[str, Any]], full_steps: Any = None) -> PullOutTable:
        """Read rows of ``speed`` and ``torque``, in any order and in any units.

        Parameters
        ----------
        rows : iterable of mapping
            Each with speed and torque as text or quantity; a speed in full steps for each second
            needs ``full_steps``. Nothing is smoothed: a dip is a resonance, and it is real.
        full_steps : steps, optional
            Of the motor in one turn.

        Returns
        -------
        PullOutTable
            In order of speed; ``.notes`` says what was measured more than once.

        Raises
        ------
        ValueRefused
            There are fewer than two speeds, or rows cannot be read; all are named.

        """
        points: dict[float, list[float]] = {}
        mistakes = words.Mistakes("Pull-out table")
        if not isinstance(rows, Iterable) or isinstance(rows, str | bytes | Mapping):
            mistakes.add(ValueRefused, 'write a list of {speed = "...", torque = "..."}.')
            mistakes.stop()
        for number, row in enumerate(rows, start=1):
            try:
                if not isinstance(row, Mapping) or set(row) != {"speed", "torque"}:
                    raise ValueRefused("write speed and torque, and nothing else.")
                speed = _turning(row["speed"], full_steps)
                torque = words.base_value(_TORQUE, _read(row["torque"], "N*m"))
            except MathlibError as fault:
                mistakes.add(type(fault), f"row {number}: {fault}")
                continue
            same = next((known for known in points if np.isclose(known, speed, rtol=1e-6)), speed)
            points.setdefault(same, []).append(float(torque))
        if not mistakes.found and len(points) < 2:
            mistakes.add(ValueRefused, "two speeds at least make a curve.")
        mistakes.stop()
        order = sorted(points)
        notes = tuple(
            f"{units.show(Q(s * 30 / np.pi, 'rpm'))} was measured {len(points[s])} times: the "
            f"lowest of {min(points[s]):.4g} to {max(points[s]):.4g} N·m counts"
            for s in order
            if len(points[s]) > 1
        )
        return cls(
            Q(np.array(order), "rad/s").to("rpm"),
            Q(np.array([min(points[s]) for s in order]), "N*m"),
            notes,
        )


def _read(value: Any, unit: str) -> Any:
    return typed.as_typed(value, unit) if isinstance(value, str) else value


def _turning(value: Any, full_steps: Any) -> float:
    """Read a speed of the shaft in rad/s; also one in full steps for each second."""
    given = value
    if isinstance(value, str):
        try:
            given = typed.read(value)
        except MathlibError:
            given = typed.as_typed(value, "rpm")
    if isinstance(given, units.QUANTITY) and units.problem(
        given._units, units.container("rpm"), None
    ):
        if not given._units or "step" not in str(given._units):
            raise ValueRefused(
                f"speed {units.show(given)} may count turns or steps: write it in rpm or in step/s."
            )
        rate = words.base_value(Word("step_rate", "step/s", "in full steps", "zero"), given)
        if full_steps is None:
            raise ValueRefused("a speed in steps needs the full steps of the motor's turn.")
        whole = words.base_value(Word("full_steps", "step", "of one turn"), full_steps)
        return float(2 * np.pi * rate / whole)
    return float(words.base_value(_SPEED, given))


def share_of_test(
    *, test: PullTest, bound: Quantity, friction: Any, pitch_radius: Any, motors: float
) -> Any:
    """Part of the bound that a pull test found; ``bound`` is the one at the test's speed.

    >>> from mathlib.motion.pull_test import PullTest
    >>> test = PullTest(force="40 N", speed="200 mm/s")
    >>> round(share_of_test(test=test, bound=Q("0.2 N*m"), friction="4 N",
    ...                    pitch_radius="6.366 mm", motors=2.0), 4)
    0.7003
    """
    torque = pulled_torque(
        pull_force=test.force, friction=friction, pitch_radius=pitch_radius, motors=motors
    )
    return (torque / bound).to("1").magnitude
