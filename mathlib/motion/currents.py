"""Phase current of a driver from its resistors and its reference; rms or peak is always said."""

from __future__ import annotations

from typing import Final

from mathlib.formula import Example, Formula

_SENSE: Final = ("sense_resistance", "ohm", "of the resistor through which the phase current flows")

current_from_reference = Formula(
    title="Peak phase current from a reference voltage and a sense resistor",
    equation="I_p = V / (k * R_s)",
    where={
        "I_p": ("current_peak", "A", "amplitude of one phase; rms is this over √2"),
        "V": ("reference_voltage", "V", "at the driver's reference pin, measured"),
        "k": ("sense_gain", "1", "of the driver's sheet, such as 8 or 5"),
        "R_s": _SENSE,
    },
    assumes=(
        "the driver is at its full current scale, and its sheet states the peak so",
        "where the sheet prints V / 2.2 the product k R_s is 2.2 Ω: put the gain to 1",
    ),
    source="Data sheets of chopper drivers: A4988 V / (8 R), DRV8825 V / (5 R); DRV8849 V / 2.2",
    example=Example(
        {"reference_voltage": "0.8 V", "sense_gain": 8, "sense_resistance": "0.068 ohm"},
        "1.470588 A",
        1e-6,
        "by hand: 0.8 / (8 * 0.068) = 0.8 / 0.544",
    ),
)

current_from_scale = Formula(
    title="Rms phase current from a current scale and a sense resistor",
    equation="I = (c + 1) / 32 * V_f / (R_s + R_i) / sqrt(2)",
    where={
        "I": ("current_rms", "A", "rms of one phase"),
        "c": ("current_scale", "1", "the number 0 to 31 that is sent to the driver", "zero"),
        "V_f": ("full_scale_voltage", "V", "across the sense resistor, such as 0.325 or 0.180 V"),
        "R_s": _SENSE,
        "R_i": (
            "internal_resistance", "ohm", "of bonds and traces in series", "positive", "0.02 ohm",
            "TMC2209 data sheet, which adds 20 mΩ",
        ),
    },
    holds=("c <= 31; the scale has 32 places, from 0 to 31",),
    assumes=(
        "a reference pin is not used to scale the current besides",
        "board makers fit resistors from 0.075 to 0.15 Ω: read yours",
    ),
    source="TMC2209 data sheet, section on the sense resistor",
    example=Example(
        {"current_scale": 20, "full_scale_voltage": "0.325 V", "sense_resistance": "0.11 ohm"},
        "1.160097 A",
        1e-6,
        "by hand: 21 / 32 = 0.65625; 0.325 / 0.13 = 2.5; 0.65625 * 2.5 / 1.414214 = 1.160097",
    ),
)  # fmt: skip

current_from_set_resistor = Formula(
    title="Full-scale phase current from a current-set resistor, without a sense resistor",
    equation="I_p = A * (1 - V_d / V_r) / R",
    where={
        "I_p": ("current_peak", "A", "amplitude of one phase at full scale; rms is this over √2"),
        "A": ("current_constant", "A*ohm", "of the driver's sheet, such as 30 kA·Ω"),
        "V_d": (
            "control_voltage", "V", "that a converter puts on the resistor's other end", "zero",
            "0 V", "the other end at ground",
        ),
        "V_r": (
            "reference_voltage", "V", "that the driver holds at its pin", "positive",
            "1.232 V", "DRV8885 data sheet; from memory, check the page",
        ),
        "R": ("set_resistance", "ohm", "from the driver's pin to ground or to that converter"),
    },
    holds=("V_d < V_r; at the pin's own voltage no current is left",),
    assumes=("the driver is at its full torque setting",),
    source="DRV8885 data sheet: 20 kΩ and 0.74 V give 600 mA",
    example=Example(
        {"current_constant": "30000 A*ohm", "set_resistance": "20 kohm",
         "control_voltage": "0.74 V"},
        "0.599 A",
        2e-3,
        "printed as 600 mA; by hand: 30000 / 20000 * (1 - 0.74 / 1.232) = 0.59903",
    ),
)  # fmt: skip
