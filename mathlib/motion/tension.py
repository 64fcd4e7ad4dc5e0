"""How tight a belt is and should be: loads on teeth, spans and shafts, and what changes them."""

from __future__ import annotations

from mathlib.formula import Example, Formula

transmissible_force = Formula(
    title="Force that the teeth in mesh can carry",
    equation="F_u = f_t * z_m * w",
    where={
        "F_u": ("peripheral_force", "N", "along the belt"),
        "f_t": ("tooth_load", "N/cm", "allowed for each tooth and each width, at the speed"),
        "z_m": ("mesh", "1", "whole teeth in mesh, 12 at most"),
        "w": ("width", "mm", "of the belt"),
    },
    assumes=("no more than 12 teeth count", "the table's speed is the pulley's"),
    source="Catalogues of polyurethane belts with steel cord",
    example=Example(
        {"tooth_load": "36.40 N/cm", "mesh": 10, "width": "10 mm"},
        "364 N",
        1e-09,
        "by hand: 36.40 * 10 * 1.0 = 364",
    ),
)

highest_span_force = Formula(
    title="Highest force in a span of a linear drive",
    equation="F_m = F_v + F_u",
    where={
        "F_m": ("span_force", "N", "in the pulling span"),
        "F_v": ("tension", "N", "of the belt at rest"),
        "F_u": ("peripheral_force", "N", "that the drive transmits"),
    },
    assumes=("the tension at rest is at least the transmitted force, or the slack span goes limp",),
    source="Belt makers' rule for open-ended linear drives",
    example=Example(
        {"tension": "32 N", "peripheral_force": "28 N"},
        "60 N",
        1e-12,
        "by hand: 32 + 28",
    ),
)

shaft_load = Formula(
    title="Load of a belt on the shaft that it turns half round",
    equation="F_s = 2 * T",
    where={
        "F_s": ("shaft_load", "N", "across the shaft"),
        "T": ("tension", "N", "of each of the two strands"),
    },
    assumes=("the belt wraps half the pulley; less wrap loads less",),
    source="Sum of two parallel strands",
    example=Example(
        {"tension": "26.7 N"},
        "53.4 N",
        1e-09,
        "by hand: 2 * 26.7",
    ),
)

allowed_shaft_load = Formula(
    title="Load that a motor's shaft may carry at another place",
    equation="F = F_l * x_l / x",
    where={
        "F": ("shaft_load", "N", "allowed at that place"),
        "F_l": ("radial_limit", "N", "as the data sheet states it"),
        "x_l": ("limit_distance", "mm", "from the motor's face, where the limit is stated"),
        "x": ("distance", "mm", "from the motor's face to the belt's middle"),
    },
    assumes=("the front bearing decides, by the moment about it",),
    source="Equal moment about the motor's face",
    example=Example(
        {"radial_limit": "30 N", "limit_distance": "17 mm", "distance": "9.5 mm"},
        "53.68 N",
        0.0002,
        "by hand: 30 * 17 / 9.5 = 53.684",
    ),
)

tension_by_temperature = Formula(
    title="Change of tension when frame and belt warm up together",
    equation="T_d = c * (a_f - a_b) * t",
    where={
        "T_d": ("tension_change", "N", "of a belt held by the frame", "signed"),
        "c": ("specific_stiffness", "N", "force for each unit of strain, for the whole width"),
        "a_f": ("frame_expansion", "1/K", "of the frame's metal"),
        "a_b": ("belt_expansion", "1/K", "of the belt's cords"),
        "t": ("temperature_change", "delta_degC", "of both", "signed"),
    },
    assumes=("frame and belt have the same temperature", "the belt stays tight"),
    source="Difference of the free lengths, pulled out by the belt",
    example=Example(
        {
            "specific_stiffness": "19.4 kN",
            "frame_expansion": "23.4e-6 1/K",
            "belt_expansion": "5.4e-6 1/K",
            "temperature_change": "10 delta_degC",
        },
        "3.492 N",
        1e-06,
        "by hand: 19400 * 18.0e-6 * 10 = 3.492",
    ),
)

stiff_span_tension = Formula(
    title="Tension of a plucked span, the belt's own stiffness taken off",
    equation="T = 4 * m * (L * f)**2 - pi**2 * B / L**2",
    where={
        "T": ("tension", "N", "in the span"),
        "f": ("frequency", "Hz", "fundamental of the plucked span"),
        "L": ("length", "mm", "of the free span between two ends"),
        "m": ("mass_per_length", "g/m", "of the belt"),
        "B": ("bending_stiffness", "N*mm^2", "of the belt, in its plane of bending"),
    },
    assumes=(
        "the ends turn freely; held ends read higher still",
        "the correction is small next to the tension",
    ),
    source="Den Hartog, Mechanical Vibrations: string and beam on pinned ends, added",
    example=Example(
        {
            "frequency": "88 Hz",
            "length": "152 mm",
            "mass_per_length": "8.3 g/m",
            "bending_stiffness": "400 N*mm^2",
        },
        "5.7691 N",
        2e-05,
        "by hand: 5.94001 - 9.869604 * 400 / 23104 = 5.94001 - 0.170873",
    ),
)

installation_tension = Formula(
    title="Usual installation tension of a belt of 2 mm pitch",
    equation="T = b * w - T_0",
    where={
        "T": ("tension", "N", "of each strand at rest"),
        "w": ("width", "mm", "of the belt"),
        "b": (
            "tension_per_width",
            "N/mm",
            "slope of the table",
            "positive",
            "3.14 N/mm",
            "a belt maker's manual for sonic meters, table for 2 mm pitch, 4 to 15 mm wide",
        ),
        "T_0": ("tension_offset", "N", "of the table", "positive", "3.1 N", "the same table"),
    },
    holds=("b * w > T_0; the table begins at 4 mm",),
    assumes=(
        "a rubber belt with glass cord, 4 to 15 mm wide",
        "for positioning more is common: 27 to 36 N on 6 mm",
    ),
    source=(
        "Straight line through 9.4, 15.8, 25.2, 34.6 and 44.1 N at 4, 6, 9, 12 and 15 mm, "
        "within 1 %"
    ),
    example=Example(
        {"width": "9 mm"},
        "25.16 N",
        1e-6,
        "by hand: 3.14 * 9 - 3.1 = 25.16; the table prints 25.2",
    ),
)
