"""Speed of the motor chapter: the torque surface, and the answer that a panel redraws.

Processor time of one thread, so that what else runs on the machine does not count.
"""

from __future__ import annotations

import time

import numpy as np
from conftest import note

from mathlib import Q
from mathlib.answers import motor
from mathlib.machine import TAGMAKER, load
from mathlib.motion.steppers import Motor, pull_out_torque


def test_torque_over_two_million_points(benchmark):
    rng = np.random.default_rng(1)
    motors = Motor(
        step_angle=Q(rng.choice([0.9, 1.8], (200, 1, 1)), "deg"),
        holding_torque=Q(rng.uniform(0.2, 0.5, (200, 1, 1)), "N*m"),
        rated_current=Q(rng.uniform(1.0, 2.5, (200, 1, 1)), "A"),
        resistance=Q(rng.uniform(0.5, 5.0, (200, 1, 1)), "ohm"),
        inductance=Q(rng.uniform(1.0, 8.0, (200, 1, 1)), "mH"),
        rotor_inertia="54 g*cm^2",
    )
    speeds = Q(np.linspace(1.0, 3000.0, 1000)[:, None], "rpm")
    supplies = Q(np.linspace(12.0, 48.0, 10), "V")

    def surface():
        return pull_out_torque(motors, speeds, supplies)

    assert surface().magnitude.shape == (200, 1000, 10)
    took = []
    for _ in range(31):
        start = time.process_time()
        surface()
        took.append(time.process_time() - start)
    benchmark.pedantic(surface, rounds=5)
    assert note("torque over two million points", took, 0.1) <= 0.1


def test_the_answer_on_motors(benchmark):
    machine = load(TAGMAKER)
    motor.answer(machine)
    took = []
    for _ in range(11):
        start = time.process_time()
        motor.answer(machine)
        took.append(time.process_time() - start)
    benchmark.pedantic(lambda: motor.answer(machine), rounds=3)
    assert note("which motor, 4096 drawn machines, two motors", took, 1.0) <= 1.0
