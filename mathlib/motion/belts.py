"""Toothed belts and the pulleys that they run on."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

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
    face_distance: Quantity | None = optional("mm", "from the motor's face to the belt's middle")


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

outside_diameter = Formula(
    title="Outside diameter of a toothed pulley",
    equation="d_o = p * z / pi - 2 * u",
    where={
        "d_o": ("outside_diameter", "mm", "over the tips of the teeth"),
        "p": ("pitch", "mm", "of the belt, tooth to tooth"),
        "z": ("teeth", "1", "of the pulley"),
        "u": ("pitch_line_differential", "mm", "from the tooth root to the cords"),
    },
    assumes=("the belt's cords run outside the teeth by u",),
    source="Belt makers' technical sections: pitch diameter less twice the differential",
    example=Example(
        {"teeth": 20, "pitch": "2 mm", "pitch_line_differential": "0.254 mm"},
        "12.224 mm",
        5e-05,
        "worked 20-tooth example of a pulley maker's technical section; 12.7324 - 0.508 = 12.2244",
    ),
)

open_belt_length = Formula(
    title="Length of an open belt round two pulleys",
    equation=(
        "L = 2 * sqrt(C**2 - ((D - d) / 2)**2) + pi * (D + d) / 2 "
        "+ (D - d) * asin((D - d) / (2 * C))"
    ),
    where={
        "L": ("belt_length", "mm", "along the cords, all the way round"),
        "D": ("large_diameter", "mm", "pitch diameter of the larger pulley"),
        "d": ("small_diameter", "mm", "pitch diameter of the smaller pulley"),
        "C": ("centre_distance", "mm", "between the two shafts"),
    },
    holds=("D >= d; name the larger pulley first", "2 * C >= D + d; the pulleys touch"),
    assumes=("the belt is tight, and the pulleys do not touch",),
    source="Geometry: two tangents and two arcs; exact",
    example=Example(
        {"large_diameter": "1600 mm", "small_diameter": "500 mm", "centre_distance": "12000 mm"},
        "27.32 m",
        0.0002,
        "printed in a textbook of machine theory for 1.6 m, 0.5 m at 12 m",
        brackets={
            "large_diameter": ("1000 mm", "2500 mm"),
            "small_diameter": ("100 mm", "1500 mm"),
            "centre_distance": ("8 m", "20 m"),
        },
    ),
)

open_belt_length_series = Formula(
    title="Length of an open belt, as design manuals approximate it",
    equation="L = 2 * C + pi * (D + d) / 2 + (D - d)**2 / (4 * C)",
    where={
        "L": ("belt_length", "mm", "along the cords, all the way round"),
        "D": ("large_diameter", "mm", "pitch diameter of the larger pulley"),
        "d": ("small_diameter", "mm", "pitch diameter of the smaller pulley"),
        "C": ("centre_distance", "mm", "between the two shafts"),
    },
    holds=("D >= d; name the larger pulley first",),
    assumes=(
        "the pulleys differ little next to their distance; the exact length is the other formula",
    ),
    source="Printed in belt makers' selection procedures",
    example=Example(
        {
            "large_diameter": "50.929582 mm",
            "small_diameter": "12.732395 mm",
            "centre_distance": "100 mm",
        },
        "303.647563 mm",
        1e-08,
        "by hand: 200 + 100.0000 + 1459.02 / 400 = 303.6476",
        brackets={
            "large_diameter": ("40 mm", "80 mm"),
            "small_diameter": ("5 mm", "30 mm"),
            "centre_distance": ("60 mm", "150 mm"),
        },
    ),
)

arc_of_contact = Formula(
    title="Arc of contact on the smaller pulley of an open belt",
    equation="a = pi - 2 * asin((D - d) / (2 * C))",
    where={
        "a": ("arc", "deg", "over which the belt lies on the pulley"),
        "D": ("large_diameter", "mm", "pitch diameter of the larger pulley"),
        "d": ("small_diameter", "mm", "pitch diameter of the smaller pulley"),
        "C": ("centre_distance", "mm", "between the two shafts"),
    },
    holds=("D >= d; name the larger pulley first",),
    assumes=("the belt is tight, and both pulleys lie inside it",),
    source="Geometry; the manuals' short form 180 - 60 (D - d) / C is a little low",
    example=Example(
        {
            "large_diameter": "50.929582 mm",
            "small_diameter": "12.732395 mm",
            "centre_distance": "100 mm",
        },
        "157.979345 deg",
        1e-08,
        "by hand: asin(38.197187 / 200) = 11.010328 deg; 180 - 22.020655",
    ),
)

teeth_in_mesh = Formula(
    title="Teeth in mesh over an arc, before counting whole ones",
    equation="z_m = z * a / (2 * pi)",
    where={
        "z_m": ("mesh", "1", "teeth on the arc; count only whole ones"),
        "z": ("teeth", "1", "of the pulley"),
        "a": ("arc", "deg", "over which the belt lies on the pulley"),
    },
    assumes=("the teeth are evenly spaced",),
    source="Belt makers' design manuals, which then cut to a whole number",
    example=Example(
        {"teeth": 20, "arc": "157.979345 deg"},
        "8.7766303 1",
        1e-08,
        "by hand: 20 * 157.979345 / 360 = 8.776630",
    ),
)

pitch_from_span = Formula(
    title="Pitch from a length over many tooth spaces",
    equation="p = L / n",
    where={
        "p": ("pitch", "mm", "of the belt, tooth to tooth"),
        "L": ("length", "mm", "from one tooth to another, the same flank of both"),
        "n": ("spaces", "1", "tooth spaces between them"),
    },
    assumes=("the belt lies flat and slack",),
    source="Definition",
    example=Example(
        {"length": "4.001 in", "spaces": 50},
        "2.0325 mm",
        5e-05,
        "by hand: 101.6254 / 50 = 2.03251",
    ),
)

belt_speed_of_shaft = Formula(
    title="Speed of a belt from the shaft that drives it",
    equation="v = w * d / 2",
    where={
        "v": ("belt_speed", "mm/s", "of the belt"),
        "w": ("shaft_speed", "rpm", "of the pulley"),
        "d": ("pitch_diameter", "mm", "of the circle on which the belt's cords run"),
    },
    assumes=("the belt does not skip",),
    source="Definition",
    example=Example(
        {"shaft_speed": "1200 rpm", "pitch_diameter": "12.732395 mm"},
        "0.8 m/s",
        1e-07,
        "by hand: 20 turns a second of 40 mm",
    ),
)

stretch = Formula(
    title="Stretch of a belt under a force",
    equation="x = F * L / c",
    where={
        "x": ("stretch", "mm", "of that length"),
        "F": ("force", "N", "along the belt"),
        "L": ("length", "mm", "of belt under the force"),
        "c": ("specific_stiffness", "N", "force for each unit of strain, for the whole width"),
    },
    assumes=("the belt stretches in proportion to the force; cords soften a little at first",),
    source="Hooke's law of a bar",
    example=Example(
        {"force": "10 N", "length": "500 mm", "specific_stiffness": "45000 N"},
        "0.111111 mm",
        5e-06,
        "by hand: 10 * 500 / 45000 = 0.11111",
    ),
)


run_excess = Formula(
    title="Excess length of a belt run that is out of line",
    equation="x = c**2 / (sqrt(s**2 + c**2) + s)",
    where={
        "x": ("excess", "mm", "of the run over its length along the rail", "zero"),
        "s": ("run", "mm", "of belt along the rail"),
        "c": ("offset", "mm", "of its one end across the rail", "zero"),
    },
    assumes=("the run goes from point to point; pulleys' radii enter to third order",),
    source="Pythagoras, sqrt(s**2 + c**2) - s, written so that no digits cancel",
    example=Example(
        {"run": "100 mm", "offset": "2 mm"},
        "0.0199980 mm",
        2e-6,
        "by hand: sqrt(10004) = 100.0199980; less 100",
    ),
)


class ToldPitch(NamedTuple):
    """What a length over many teeth says of the pitch: all standard ones that it allows."""

    pitch: Quantity
    std: Quantity
    fits: tuple[str, ...]


#: Pitches that small machines meet, in mm, by what the trade calls them.
PITCHES: Final = {
    "2 mm": 2.0,
    "MXL, 0.080 in": 2.032,
    "40 DP, 0.0816 in": 2.073,
    "2.5 mm": 2.5,
    "3 mm": 3.0,
    "5 mm": 5.0,
    "XL, 1/5 in": 5.08,
}


def told_pitch(*, length: Any, spaces: Any, reading: Any) -> ToldPitch:
    """Tell the pitch of a belt from a length over many tooth spaces.

    Parameters
    ----------
    length : length
        From one tooth to another, the same flank of both.
    spaces : int
        Tooth spaces between them; the more, the better they tell 2.000 from 2.032 mm.
    reading : length
        Standard uncertainty of the length.

    Returns
    -------
    ToldPitch
        ``.pitch`` and ``.std``, and ``.fits``: the standard pitches within two of them. Several
        names mean that it cannot be told yet; none, that the belt is none of these.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> told_pitch(length="4.001 in", spaces=50, reading="0.1 mm").fits
    ('MXL, 0.080 in',)

    """
    found = pitch_from_span.uncertainty({"length": reading}, length=length, spaces=spaces)
    value, std = (float(q.to("mm").magnitude) for q in (found.value, found.std))
    fits = tuple(name for name, pitch in PITCHES.items() if abs(pitch - value) <= 2 * std)
    return ToldPitch(found.value, found.std, fits)
