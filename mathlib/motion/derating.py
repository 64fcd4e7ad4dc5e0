"""How far below its ideal bound a motor stays: a range, from printed curves of other motors.

The bound of ``pull_out`` leaves out iron loss, the driver's decay, mid-speed resonance and a
sagging supply. Printed pull-out curves, ``data/pull_out_curves.csv``, say what that takes. They
are all of 57 mm motors of 1.8 deg at 75 to 500 Hz electrical: for 0.9 deg, for smaller motors and
for higher frequencies the range is an extrapolation, and is made wider.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from mathlib import units, words
from mathlib.errors import ValueRefused
from mathlib.motion import pull_out
from mathlib.ranges import Range
from mathlib.units import Quantity
from mathlib.words import Word

if TYPE_CHECKING:
    from mathlib.motion.steppers import Motor

_Z90: Final = 1.6448536269514722
#: Electrical frequencies in Hz, and the part of the bound there: low, typical, high. The first two
#: are ``printed_curves.band`` of the curves below and above 340 Hz, rounded outwards; the last is
#: an estimate.
DERATED_AT: Final = (300.0, 500.0, 2000.0)
DERATING: Final = ((0.62, 0.79, 0.94), (0.50, 0.75, 0.97), (0.30, 0.60, 0.97))
#: A standard normal deviate: what is not known, in standard deviations.
NORMAL: Final = Word("normal", "1", "a standard normal deviate", "signed")
DERATING_SOURCE: Final = (
    "printed curves of six 57 mm motors of 1.8 deg against the bound, 75 to 500 Hz electrical; "
    "elsewhere, and for 0.9 deg, an estimate, wider above"
)


def derating(frequency: Any, normal: Any = 0.0) -> Any:
    """Give the part of the bound that a motor reaches at an electrical frequency.

    Parameters
    ----------
    frequency : frequency, any shape
        Of the phase currents.
    normal : float or array
        Standard normal deviate: 0 gives the typical part, -1.645 the low and 1.645 the high one.

    Returns
    -------
    float or array
        Part of the bound; see ``DERATING_SOURCE``.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> derating("300 Hz")
    0.79

    """
    hertz = words.base_value(Word("frequency", "Hz", "", "zero"), frequency)
    low, typical, high = (np.interp(hertz, DERATED_AT, e) for e in zip(*DERATING, strict=True))
    quantile = words.base_value(NORMAL, normal) / _Z90
    part = typical * np.where(
        quantile < 0, (typical / low) ** quantile, (high / typical) ** quantile
    )
    return float(part) if np.ndim(part) == 0 else part


def derated(
    motor: Motor,
    speed: Any,
    supply_voltage: Any,
    current_rms: Any = None,
    current_peak: Any = None,
) -> Range:
    """Pull-out torque to expect, as a range below the bound; of one motor at one speed.

    Parameters
    ----------
    motor : Motor
        With scalar fields.
    speed : angle per time
        Of the shaft, one value.
    supply_voltage : voltage
        At the motor drivers.
    current_rms, current_peak : current
        Of one phase: one of the two, or neither for the rated current.

    Returns
    -------
    Range
        N*m; wider at high electrical frequency, which is double for 0.9 deg at the same speed.

    Raises
    ------
    UnitError, ValueRefused, WordError
        As ``pull_out_torque``; an array was given.

    Examples
    --------
    >>> from mathlib.motion.steppers import Motor
    >>> m = Motor(step_angle="1.8 deg", holding_torque="0.49 N*m", rated_current="1 A",
    ...           resistance="5 ohm", inductance="8 mH", rotor_inertia="68 g*cm^2")
    >>> print(derated(m, "100 rpm", "24 V"))
    0.3871 N·m (0.3038 N·m to 0.4606 N·m)

    """
    bound = pull_out.pull_out_torque(motor, speed, supply_voltage, current_rms, current_peak)
    if np.ndim(bound.magnitude):
        raise ValueRefused(
            "Derated torque: one motor at one speed and supply gives one range; for arrays take "
            "pull_out_torque times derating."
        )
    turning = words.result(
        words.base_value(Word("speed", "rpm", "", "zero"), speed), units.container("rpm")
    )
    part = frequency_of(motor, turning)
    low, typical, high = (bound * derating(part, normal) for normal in (-_Z90, 0.0, _Z90))
    return Range(low, typical, high, source=DERATING_SOURCE, kind="estimate")


def frequency_of(motor: Motor, shaft_speed: Any) -> Quantity:
    """Electrical frequency of a motor at a speed of its shaft.

    >>> from mathlib.motion.steppers import Motor
    >>> m = Motor(step_angle="0.9 deg", holding_torque="0.4 N*m", rated_current="1.7 A",
    ...           resistance="1.5 ohm", inductance="2.8 mH", rotor_inertia="54 g*cm^2")
    >>> print(frequency_of(m, "375 rpm"))
    625 Hz
    """
    pull_out.check_motor("Electrical frequency", motor)
    teeth = np.pi / 2 / motor.step_angle.to("rad").magnitude
    found: Quantity = pull_out.electrical_frequency(rotor_teeth=teeth, shaft_speed=shaft_speed)
    return found
