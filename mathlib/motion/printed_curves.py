"""Printed pull-out curves against the ideal bound: where the derating range comes from."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from mathlib import tables
from mathlib.motion import derating, pull_out
from mathlib.motion.steppers import Motor


class Shares(NamedTuple):
    """Points of printed curves: part of the bound, electrical frequency in Hz, and the motor."""

    share: np.ndarray
    frequency: np.ndarray
    motor: np.ndarray


def printed_shares() -> Shares:
    """Work out what part of its bound each printed pull-out point is.

    Where the maker states neither inductance nor supply the point is compared with its current
    alone, which gives a lower bound of the part.

    >>> str(sorted(set(printed_shares().motor))[0])
    'frame 23, 113 mm, 4.2 A'
    """
    share, frequency, motors = [], [], []
    for row in tables.read("pull_out_curves").rows.values():
        told: dict[str, Any] = dict(row.values)
        plate: dict[str, Any] = {
            "step_angle": "1.8 deg",
            "holding_torque": told["holding_torque"],
            "rated_current": told["rated_current"],
            "resistance": told["resistance"],
            "inductance": told.get("inductance", "0.000001 uH"),
            "rotor_inertia": "1 g*cm^2",  # enters nowhere here
        }
        motor = Motor(**plate)
        bound = pull_out.pull_out_torque(
            motor, told["speed"], told.get("supply_voltage", "1000000 V"), told["set_current"]
        )
        share.append((told["pull_out_torque"] / bound).to("1").magnitude)
        frequency.append(derating.frequency_of(motor, told["speed"]).magnitude)
        motors.append(row.pair)
    return Shares(np.array(share), np.array(frequency), np.array(motors))


def band(share: Any, motor: Any) -> tuple[float, float, float]:
    """Low, typical and high of shares: 5, 50 and 95 %, each motor counting as much as the others.

    Parameters
    ----------
    share : array, shape (n,)
        Parts of the bound.
    motor : array, shape (n,)
        Which motor each belongs to.

    Returns
    -------
    tuple of float
        Low, typical, high.

    Examples
    --------
    >>> [round(part, 3) for part in band([0.5, 0.6, 0.7], ["a", "a", "b"])]
    [0.5, 0.633, 0.7]

    """
    values, names = np.asarray(share, dtype=float), np.asarray(motor)
    weight = np.array([1 / np.sum(names == name) for name in names])
    order = np.argsort(values)
    place = (np.cumsum(weight[order]) - weight[order] / 2) / weight.sum()
    low, typical, high = np.interp([0.05, 0.5, 0.95], place, values[order])
    return float(low), float(typical), float(high)
