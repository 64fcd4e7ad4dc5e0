"""Toothed belts and the pulleys that they run on."""

from __future__ import annotations

from mathlib.fields import optional, quantity, record
from mathlib.formula import Example, Formula
from mathlib.units import Quantity


@record
class Belt:
    """A toothed belt; ``specific_stiffness`` is force per strain of the whole width."""

    pitch: Quantity = quantity("mm", "tooth to tooth")
    width: Quantity = quantity("mm", "of the belt")
    specific_stiffness: Quantity = quantity("N", "force for each unit of strain")
    mass_per_length: Quantity = quantity("g/m", "of the whole width")
    thickness: Quantity | None = optional("mm", "over the teeth")
    tooth_height: Quantity | None = optional("mm", "of one tooth")
    pitch_line_differential: Quantity | None = optional("mm", "from tooth root to cords")


@record
class DrivenPulley:
    """The pulley on the motor's shaft; its pitch is the belt's."""

    teeth: Quantity = quantity("1", "of the pulley")


steps_per_length = Formula(
    title="Steps per length of belt",
    equation="n = S * mu / (p * z)",
    where={
        "n": ("steps_per_length", "step/mm", "microsteps for each length of belt travel"),
        "S": ("full_steps", "step", "of the motor in one turn"),
        "mu": ("microsteps", "1", "into which the driver divides one full step"),
        "p": ("pitch", "mm", "of the belt, tooth to tooth"),
        "z": ("teeth", "1", "of the pulley on the motor"),
    },
    assumes=(
        "the pulley sits on the motor shaft, without a gear between",
        "belt and pulley have the same pitch, and no tooth is skipped",
    ),
    source="Definition: steps of one turn over the belt that passes in one turn",
    example=Example(
        {"full_steps": "200 step", "microsteps": 16, "pitch": "2 mm", "teeth": 17},
        "94.11765 step/mm",
        1e-7,
        "by hand: 200 * 16 / (2 * 17) = 3200 / 34 = 94.11765",
    ),
)

pitch_diameter = Formula(
    title="Pitch diameter of a pulley",
    equation="d = p * z / pi",
    where={
        "d": ("pitch_diameter", "mm", "of the circle on which the belt's cords run"),
        "p": ("pitch", "mm", "of the belt, tooth to tooth"),
        "z": ("teeth", "1", "of the pulley"),
    },
    assumes=("the belt's pitch line bends on a circle; it lies outside the pulley's teeth",),
    source="Definition: circumference over pi; belt makers' tables print the same",
    example=Example(
        {"pitch": "2 mm", "teeth": 16},
        "10.19 mm",
        5e-4,
        "pitch-diameter table of a belt maker for 2 mm pitch, 16 teeth; 32 / 3.14159 = 10.186",
    ),
)

span_stiffness = Formula(
    title="Stiffness of a belt span",
    equation="k = c / L",
    where={
        "k": ("stiffness", "N/mm", "of the span, end to end"),
        "c": ("specific_stiffness", "N", "force for each unit of strain, for the whole width"),
        "L": ("length", "mm", "of the free span, tangent to tangent"),
    },
    assumes=(
        "the belt stays tight, and stretches in proportion to the force",
        "the teeth in mesh do not give",
    ),
    source="Hooke's law of a bar; belt catalogues print c as specific spring rate",
    example=Example(
        {"specific_stiffness": "45000 N", "length": "500 mm"},
        "90 N/mm",
        1e-9,
        "by hand: 45000 / 500 = 90; c as printed for a steel-cord belt of 2.5 mm pitch, 6 mm wide",
    ),
)

carriage_stiffness = Formula(
    title="Stiffness of a carriage between two belt spans",
    equation="k = c * (1 / L_1 + 1 / L_2)",
    where={
        "k": ("stiffness", "N/mm", "of both spans that hold the carriage"),
        "c": ("specific_stiffness", "N", "force for each unit of strain, for the whole width"),
        "L_1": ("length_1", "mm", "of belt from the carriage to the locked pulley, one way round"),
        "L_2": ("length_2", "mm", "of belt from the carriage to the locked pulley, the other way"),
    },
    assumes=(
        "the driven pulley is locked and the idlers turn freely",
        "both spans stay tight under the force",
    ),
    source="Two springs side by side, each as a span; the form that belt catalogues print",
    example=Example(
        {"specific_stiffness": "45000 N", "length_1": "200 mm", "length_2": "800 mm"},
        "281.25 N/mm",
        1e-9,
        "by hand: 45000 / 200 + 45000 / 800 = 225 + 56.25 = 281.25",
    ),
)

span_tension = Formula(
    title="Tension of a plucked belt span",
    equation="T = 4 * m * (L * f)**2",
    where={
        "T": ("tension", "N", "in the span"),
        "f": ("frequency", "Hz", "fundamental of the plucked span"),
        "L": ("length", "mm", "of the free span between two fixed ends"),
        "m": ("mass_per_length", "g/m", "of the belt"),
    },
    assumes=(
        "both ends are held: a pulley, or the clamp on the carriage",
        "the belt bends easily; a short span reads too high",
        "the frequency is the fundamental and not a harmonic of it",
    ),
    source="Standing wave on a string; printed in belt makers' manuals for sonic meters",
    example=Example(
        {"frequency": "88 Hz", "length": "152 mm", "mass_per_length": "8.3 g/m"},
        "5.940 N",
        1e-4,
        "by hand: 4 * 0.0083 * (0.152 * 88)**2 = 0.0332 * 178.92 = 5.940",
    ),
)

smooth_radius_teeth = Formula(
    title="Pitch radius of a smooth idler under the belt's teeth",
    equation="r = D / 2 + h + u",
    where={
        "r": ("pitch_radius", "mm", "to the belt's cords"),
        "D": ("diameter", "mm", "of the idler"),
        "h": ("tooth_height", "mm", "of the belt"),
        "u": ("pitch_line_differential", "mm", "from the tooth root to the cords"),
    },
    assumes=("the tips of the teeth ride on the idler",),
    source="Geometry: idler, tooth, then the cords above its root",
    example=Example(
        {"diameter": "12 mm", "tooth_height": "0.75 mm", "pitch_line_differential": "0.254 mm"},
        "7.004 mm",
        1e-9,
        "by hand: 6 + 0.75 + 0.254 = 7.004",
    ),
)

smooth_radius_back = Formula(
    title="Pitch radius of a smooth idler on the belt's back",
    equation="r = D / 2 + t - h - u",
    where={
        "r": ("pitch_radius", "mm", "to the belt's cords"),
        "D": ("diameter", "mm", "of the idler"),
        "t": ("thickness", "mm", "of the belt over its teeth"),
        "h": ("tooth_height", "mm", "of the belt"),
        "u": ("pitch_line_differential", "mm", "from the tooth root to the cords"),
    },
    assumes=("the back of the belt lies on the idler",),
    source="Geometry: idler, then what lies between the back and the cords",
    example=Example(
        {
            "diameter": "12 mm",
            "thickness": "1.38 mm",
            "tooth_height": "0.75 mm",
            "pitch_line_differential": "0.254 mm",
        },
        "6.376 mm",
        1e-9,
        "by hand: 6 + 1.38 - 0.75 - 0.254 = 6.376",
    ),
)
