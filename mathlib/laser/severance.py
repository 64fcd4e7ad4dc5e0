"""Closed formulas of cutting: energy for each area, speed by a balance, offsets and times."""

from __future__ import annotations

from mathlib.formula import Example, Formula

_POWER_OF = ("power", "W", "of light on the work")
_SPEED_OF = ("speed", "mm/s", "of the head")
_SHEET = ("thickness", "mm", "of the sheet")
_KERF = ("kerf", "mm", "width of the cut")
_DENSITY = ("mass_density", "kg/m^3", "of the sheet, air in it included")
_COUPLED = ("coupling", "1", "part of the light that works in the kerf")

severance_energy = Formula(
    title="Energy that severs a sheet, for each area of cut face",
    equation="E = n * P / (v * t)",
    where={
        "E": ("severance_energy", "J/mm^2", "for each area of one face of the cut"),
        "P": _POWER_OF,
        "v": _SPEED_OF,
        "t": _SHEET,
        "n": ("passes", "1", "over the same line", "positive", "1 1", "a single pass"),
    },
    assumes=("all of the light counts, also what is reflected or passes through",),
    source="Steen, Laser Material Processing, chapter on cutting; energy over area",
    example=Example(
        {"power": "5 W", "speed": "100 mm/min", "thickness": "3 mm", "passes": 2},
        "2 J/mm^2",
        1e-9,
        "by hand: 2 * 5 / (1.66667 * 3) = 2",
    ),
)

balance_speed = Formula(
    title="Cutting speed by a balance of energy in the kerf",
    equation="v = eta * P / (w * t * rho * L)",
    where={
        "v": _SPEED_OF,
        "P": _POWER_OF,
        "eta": _COUPLED,
        "w": _KERF,
        "t": _SHEET,
        "rho": _DENSITY,
        "L": ("heat_of_gasification", "MJ/kg", "from cold to gas: it holds sensible heat already"),
    },
    assumes=(
        "no heat is led into the sheet: fails at low Péclet number",
        "all of the kerf turns to gas; what melts and is blown out takes less",
        "no heat from burning; wood with air may give some, and the coupling may then exceed 1",
    ),
    source="Steen, Laser Material Processing, chapter on cutting, lumped heat capacity",
    example=Example(
        {
            "power": "40 W",
            "coupling": 0.9,
            "kerf": "0.2 mm",
            "thickness": "3 mm",
            "mass_density": "1180 kg/m^3",
            "heat_of_gasification": "1.62 MJ/kg",
        },
        "31.38732 mm/s",
        1e-6,
        "by hand: 36 / (0.6e-6 * 1180 * 1.62e6) = 36 / 1146.96 = 0.0313873 m/s",
    ),
)

balance_speed_by_terms = Formula(
    title="Cutting speed by a balance of energy, sensible and latent heat apart",
    equation="v = eta * P / (w * t * rho * (c_p * dT + L_v))",
    where={
        "v": _SPEED_OF,
        "P": _POWER_OF,
        "eta": _COUPLED,
        "w": _KERF,
        "t": _SHEET,
        "rho": _DENSITY,
        "c_p": ("specific_heat", "J/(kg*K)", "of the sheet"),
        "dT": ("temperature_rise", "delta_degC", "from cold to where it turns to gas"),
        "L_v": ("latent_heat", "MJ/kg", "of melting and vaporising alone"),
    },
    assumes=(
        "the latent heat holds no sensible heat: a heat of gasification does, and goes into "
        "the other formula",
        "no heat is led into the sheet: fails at low Péclet number",
    ),
    source="Steen, Laser Material Processing, chapter on cutting, lumped heat capacity",
    example=Example(
        {
            "power": "40 W",
            "coupling": 0.9,
            "kerf": "0.2 mm",
            "thickness": "3 mm",
            "mass_density": "1180 kg/m^3",
            "specific_heat": "1465 J/(kg*K)",
            "temperature_rise": "360 delta_degC",
            "latent_heat": "1 MJ/kg",
        },
        "33.290204 mm/s",
        1e-7,
        "by hand: 1465 * 360 + 1e6 = 1.5274e6; 36 / (0.6e-6 * 1180 * 1.5274e6) = 0.0332902 m/s",
    ),
)

thickness_exponent = Formula(
    title="Exponent with which speed falls as sheets grow thicker",
    equation="m = log(v_1 / v_2) / log(t_2 / t_1)",
    where={
        "m": ("exponent", "1", "1 if energy for each area were the same; more in fact", "signed"),
        "v_1": ("thin_speed", "mm/s", "that severs the thinner sheet"),
        "v_2": ("thick_speed", "mm/s", "that severs the thicker one"),
        "t_1": ("thin_sheet", "mm", "thickness of the thinner one"),
        "t_2": ("thick_sheet", "mm", "thickness of the thicker one"),
    },
    holds=("t_2 > t_1; the second sheet is the thicker one",),
    assumes=("power, optics and material are the same in both cuts",),
    source="definition of a power law between two points",
    example=Example(
        {
            "thin_speed": "40 mm/s",
            "thick_speed": "10 mm/s",
            "thin_sheet": "1 mm",
            "thick_sheet": "2 mm",
        },
        "2 1",
        1e-12,
        "by hand: log 4 / log 2 = 2",
        brackets={"thin_sheet": ("0.1 mm", "1.9 mm"), "thick_sheet": ("1.1 mm", "20 mm")},
    ),
)

line_energy_of_ply = Formula(
    title="Energy on each length of line, for each ply that is severed at once",
    equation="E_l = P / (v * N)",
    where={
        "E_l": ("ply_energy", "J/mm", "for each length, for each ply"),
        "P": _POWER_OF,
        "v": _SPEED_OF,
        "N": ("plies", "1", "in the stack"),
    },
    assumes=("every ply takes the same; the lowest one takes more",),
    source="Energy over length and plies",
    example=Example(
        {"power": "60 W", "speed": "20 mm/s", "plies": 4},
        "0.75 J/mm",
        1e-12,
        "by hand: 60 / (20 * 4) = 0.75",
    ),
)

beam_time = Formula(
    title="Time for which the beam works on each length of cut",
    equation="tau = n / v",
    where={
        "tau": ("time_per_length", "s/mm", "over all passes"),
        "n": ("passes", "1", "over the same line", "positive", "1 1", "a single pass"),
        "v": _SPEED_OF,
    },
    assumes=("the beam is on all the way, at one power",),
    source="Passes over speed",
    example=Example(
        {"passes": 30, "speed": "10 mm/s"}, "3 s/mm", 1e-12, "by hand: 30 / 10 = 3"
    ),
)  # fmt: skip

cut_path = Formula(
    title="Length of a path that is cut in a time",
    equation="l = T * v / n",
    where={
        "l": ("path_length", "m", "of all lines of the job, each counted once"),
        "T": ("job_time", "s", "for which the beam cuts"),
        "v": _SPEED_OF,
        "n": ("passes", "1", "over the same line", "positive", "1 1", "a single pass"),
    },
    assumes=("moves without beam and corners take no time",),
    source="Speed times time over passes",
    example=Example(
        {"job_time": "33 h", "speed": "60 mm/min", "passes": 15},
        "7.92 m",
        1e-9,
        "by hand: 118800 s * 1 mm/s / 15 = 7920 mm",
    ),
)

part_offset = Formula(
    title="Offset of the path from the edge of a part, for the width of the cut",
    equation="o = w / 2",
    where={
        "o": ("path_offset", "mm", "outwards round a part, inwards round a hole"),
        "w": _KERF,
    },
    assumes=("the kerf is the same at both faces; it is a wedge in a thick sheet",),
    source="Half of the kerf lies on each side of the path",
    example=Example({"kerf": "0.2 mm"}, "0.1 mm", 1e-12, "by hand: 0.2 / 2 = 0.1"),
)
