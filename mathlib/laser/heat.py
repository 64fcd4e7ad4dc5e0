"""What light does in a material as long as heat is only conducted: how far, how hot, how soon.

``radius`` is the 1/e² radius. All of it holds while the material stays as it is. Where a formula
here gives thousands of degrees, the material is gone before: removal takes over.
"""

from __future__ import annotations

from typing import Final

from mathlib.formula import Example, Formula
from mathlib.laser.moving_source import hottest as hottest
from mathlib.laser.moving_source import moving_rise as moving_rise
from mathlib.laser.moving_source import rosenthal as rosenthal

_POWER: Final = ("power", "W", "of the light")
_ABSORPTANCE: Final = ("absorptance", "1", "part of the light that is absorbed")
_RADIUS: Final = ("radius", "mm", "1/e² radius of the spot")
_SPEED: Final = ("speed", "mm/s", "of the spot over the work")
_CONDUCTIVITY: Final = ("conductivity", "W/(m*K)", "of the material, for heat")
_DIFFUSIVITY: Final = ("diffusivity", "mm^2/s", "conductivity over density times specific heat")
_TIME: Final = ("time", "ms", "since the light came on")
_DENSITY: Final = ("mass_density", "kg/m^3", "of the material")
_SPECIFIC: Final = ("specific_heat", "J/(kg*K)", "of the material")
_INERTIA: Final = ("thermal_inertia", "W^2*s/(m^4*K^2)", "conductivity times density times heat")
_RISE: Final = ("temperature_rise", "K", "above the temperature far away")
_GIVEN_RISE: Final = ("temperature_rise", "delta_degC", "above the start, a difference")
_AT_REST: Final = "the solid is thick, everywhere the same, and loses no heat from its surface"
_SHALLOW: Final = "heat spreads less far than the spot is wide, and than the sheet is thick"
_CONDUCTION: Final = "nothing melts, chars or leaves; at thousands of degrees removal takes over"

diffusivity = Formula(
    title="Thermal diffusivity",
    equation="alpha = k / (rho * c)",
    where={"alpha": _DIFFUSIVITY, "k": _CONDUCTIVITY, "rho": _DENSITY, "c": _SPECIFIC},
    assumes=("the three are those of one and the same stock, at one temperature and moisture",),
    source="Carslaw and Jaeger, Conduction of Heat in Solids, ch. 1",
    example=Example(
        {
            "conductivity": "0.11 W/(m*K)",
            "mass_density": "426 kg/m^3",
            "specific_heat": "1660 J/(kg*K)",
        },
        "0.155552 mm^2/s",
        2e-5,
        "by hand: 0.11 / (426 * 1660) = 0.11 / 707160 = 1.55552e-7 m²/s",
    ),
)

thermal_inertia = Formula(
    title="Thermal inertia, which sets how fast a surface heats up",
    equation="b = k * rho * c",
    where={"b": _INERTIA, "k": _CONDUCTIVITY, "rho": _DENSITY, "c": _SPECIFIC},
    assumes=("some books call its root by this name",),
    source="Carslaw and Jaeger, Conduction of Heat in Solids, ch. 2",
    example=Example(
        {
            "conductivity": "0.17 W/(m*K)",
            "mass_density": "680 kg/m^3",
            "specific_heat": "1500 J/(kg*K)",
        },
        "173400 W^2*s/(m^4*K^2)",
        1e-9,
        "by hand: 0.17 * 680 * 1500 = 173400",
    ),
)

diffusion_length = Formula(
    title="How far heat spreads in a time",
    equation="L = 2 * sqrt(alpha * t)",
    where={
        "L": ("length", "mm", "to where the rise has fallen to a part, here 1/e of its centre"),
        "alpha": _DIFFUSIVITY,
        "t": _TIME,
    },
    assumes=("some books leave the 2 out: compare lengths of one kind only",),
    source="Carslaw and Jaeger, Conduction of Heat in Solids: exp(-r² / (4 α t))",
    example=Example(
        {"diffusivity": "0.161 mm^2/s", "time": "1 ms"},
        "0.0253772 mm",
        2e-6,
        "by hand: sqrt(0.161 * 0.001) = 0.0126886; times 2",
    ),
)

peclet_number = Formula(
    title="Péclet number of a moving spot",
    equation="Pe = v * w / (2 * alpha)",
    where={
        "Pe": ("peclet", "1", "far below 1 heat runs ahead of the spot, far above 1 it cannot"),
        "v": _SPEED,
        "w": _RADIUS,
        "alpha": _DIFFUSIVITY,
    },
    assumes=("some books leave the 2 out, or take the diameter: state which",),
    source="Rosenthal, Trans. ASME 68, 849 (1946), whose exponent it is, for one 1/e² radius",
    example=Example(
        {"speed": "10 mm/s", "radius": "0.05 mm", "diffusivity": "0.161 mm^2/s"},
        "1.552795 1",
        1e-6,
        "by hand: 0.5 / 0.322 = 1.552795",
    ),
)

stationary_rise = Formula(
    title="Rise under a Gaussian spot at rest, after a long time",
    equation="dT = A * P / (sqrt(2 * pi) * k * w)",
    where={
        "dT": _RISE,
        "A": _ABSORPTANCE,
        "P": _POWER,
        "k": _CONDUCTIVITY,
        "w": _RADIUS,
    },
    holds=("A <= 1; absorptance is a part of the light",),
    assumes=(_AT_REST, _CONDUCTION, "the light is absorbed in the surface"),
    source="Lax, J. Appl. Phys. 48, 3919 (1977)",
    example=Example(
        {
            "absorptance": 0.45,
            "power": "1 W",
            "conductivity": "27 W/(m*K)",
            "radius": "0.15 mm",
        },
        "44.3269 K",
        2e-5,
        "by hand: 0.45 / (2.506628 * 27 * 0.00015) = 0.45 / 0.01015184 = 44.3269",
    ),
)

shape_factor = Formula(
    title="Conduction shape factor of a Gaussian spot, for its hottest place",
    equation="S = sqrt(2 * pi) * w",
    where={"S": ("shape_factor", "m", "absorbed power over conductivity times rise"), "w": _RADIUS},
    assumes=(_AT_REST,),
    source="Rise under a Gaussian spot at rest, solved for power over conductivity times rise",
    example=Example(
        {"radius": "0.2 mm"}, "0.000501326 m", 2e-6, "by hand: 2.506628 * 0.0002 = 0.000501326"
    ),
)

disc_peak_rise = Formula(
    title="Rise at the centre of an evenly lit disc at rest, after a long time",
    equation="dT = A * P / (pi * k * a)",
    where={
        "dT": _RISE,
        "A": _ABSORPTANCE,
        "P": _POWER,
        "k": _CONDUCTIVITY,
        "a": ("disc_radius", "mm", "of the disc, to its edge"),
    },
    holds=("A <= 1; absorptance is a part of the light",),
    assumes=(_AT_REST, _CONDUCTION),
    source="Carslaw and Jaeger, Conduction of Heat in Solids, sec. 8.2",
    example=Example(
        {
            "absorptance": 0.45,
            "power": "1 W",
            "conductivity": "27 W/(m*K)",
            "disc_radius": "0.15 mm",
        },
        "35.3678 K",
        2e-5,
        "by hand: 0.45 / (3.141593 * 27 * 0.00015) = 0.45 / 0.01272345 = 35.3678",
    ),
)

disc_mean_rise = Formula(
    title="Mean rise over an evenly lit disc at rest, after a long time",
    equation="dT = 8 * A * P / (3 * pi**2 * k * a)",
    where={
        "dT": _RISE,
        "A": _ABSORPTANCE,
        "P": _POWER,
        "k": _CONDUCTIVITY,
        "a": ("disc_radius", "mm", "of the disc, to its edge"),
    },
    holds=("A <= 1; absorptance is a part of the light",),
    assumes=(_AT_REST, _CONDUCTION),
    source="Carslaw and Jaeger, Conduction of Heat in Solids, sec. 8.2",
    example=Example(
        {
            "absorptance": 0.45,
            "power": "1 W",
            "conductivity": "27 W/(m*K)",
            "disc_radius": "0.15 mm",
        },
        "30.0211 K",
        2e-5,
        "by hand: 3.6 / (29.60881 * 27 * 0.00015) = 3.6 / 0.1199157 = 30.0211",
    ),
)

rise_after = Formula(
    title="Rise under a Gaussian spot at rest, some time after the light came on",
    equation="dT = A * P / (sqrt(2 * pi) * k * w) * 2 / pi * atan(sqrt(8 * alpha * t) / w)",
    where={
        "dT": _RISE,
        "A": _ABSORPTANCE,
        "P": _POWER,
        "k": _CONDUCTIVITY,
        "w": _RADIUS,
        "alpha": _DIFFUSIVITY,
        "t": _TIME,
    },
    holds=("A <= 1; absorptance is a part of the light",),
    assumes=(_AT_REST, _CONDUCTION, "the light is absorbed in the surface"),
    source="Carslaw and Jaeger, Conduction of Heat in Solids, sec. 10.5",
    example=Example(
        {
            "absorptance": 0.8,
            "power": "0.5 W",
            "conductivity": "0.18 W/(m*K)",
            "radius": "0.05 mm",
            "diffusivity": "0.16 mm^2/s",
            "time": "0.1 ms",
        },
        "2511.83 K",
        2e-5,
        "by hand: 0.4 / (2.506628 * 0.18 * 5e-5) = 17730.76; sqrt(1.28e-4) / 0.05 = 0.2262742; "
        "atan 0.2225316; times 2 / 3.141593 is 0.141668",
        brackets={"radius": ("0.01 mm", "0.2 mm")},
    ),
)

surface_rise = Formula(
    title="Rise of a surface under an even flux",
    equation="dT = 2 * I * sqrt(t / (pi * b))",
    where={
        "dT": _RISE,
        "I": ("absorbed_irradiance", "W/mm^2", "absorbed power for each area"),
        "t": _TIME,
        "b": _INERTIA,
    },
    assumes=(
        _CONDUCTION,
        _SHALLOW,
    ),
    source="Carslaw and Jaeger, Conduction of Heat in Solids, sec. 2.9",
    example=Example(
        {
            "absorbed_irradiance": "0.036 W/mm^2",
            "time": "10000 ms",
            "thermal_inertia": "159000 W^2*s/(m^4*K^2)",
        },
        "322.149 K",
        1e-5,
        "by hand: sqrt(10 / 499513.2) = 0.004474302; times 72000 = 322.1497",
    ),
)

time_to_rise = Formula(
    title="Time until a thick surface has warmed by so much under an even flux",
    equation="t = pi / 4 * b * (dT / I)**2",
    where={
        "t": _TIME,
        "b": _INERTIA,
        "dT": _GIVEN_RISE,
        "I": ("absorbed_irradiance", "W/mm^2", "absorbed power for each area"),
    },
    assumes=(
        _CONDUCTION,
        _SHALLOW,
        "for ignition: an order of magnitude, tested at fluxes a thousandth of a laser's",
    ),
    source="Quintiere, Fundamentals of Fire Phenomena, ignition of thick solids; from memory",
    example=Example(
        {
            "thermal_inertia": "159000 W^2*s/(m^4*K^2)",
            "temperature_rise": "327 delta_degC",
            "absorbed_irradiance": "0.036 W/mm^2",
        },
        "10303.3 ms",
        1e-5,
        "by hand: 327 / 36000 = 0.009083333; squared 8.250694e-5; times 124878.3 = 10.3033 s",
    ),
)

fast_rise = Formula(
    title="Highest rise under a Gaussian spot that moves fast",
    equation="dT = c_0 * A * P / w**2 * sqrt(w / (b * v))",
    where={
        "dT": _RISE,
        "c_0": (
            "coefficient", "1", "of a Gaussian spot", "positive", "0.650 1",
            "greatest value of the integral of the moving source at high Péclet number",
        ),
        "A": _ABSORPTANCE,
        "P": _POWER,
        "w": _RADIUS,
        "b": _INERTIA,
        "v": _SPEED,
    },
    holds=("A <= 1; absorptance is a part of the light",),
    assumes=(_CONDUCTION, "the Péclet number is far above 1: at 20 it is 3 % too high"),
    source="Eagar and Tsai, Welding Journal 62, 346-s (1983), at high speed",
    example=Example(
        {
            "coefficient": "0.65 1",
            "absorptance": 0.5,
            "power": "0.1 W",
            "radius": "0.05 mm",
            "thermal_inertia": "160000 W^2*s/(m^4*K^2)",
            "speed": "200 mm/s",
        },
        "513.87 K",
        1e-4,
        "by hand: 0.65 * 0.05 / 2.5e-9 = 1.3e7; sqrt(5e-5 / 32000) = 3.952847e-5",
    ),
)  # fmt: skip

cooling_rate = Formula(
    title="Cooling rate behind a moving point source on a thick solid",
    equation="r = 2 * pi * k * v * dT**2 / q",
    where={
        "r": ("cooling_rate", "K/s", "in the middle of the line, as it passes that rise"),
        "k": _CONDUCTIVITY,
        "v": _SPEED,
        "dT": _GIVEN_RISE,
        "q": ("absorbed_power", "W", "of the light"),
    },
    assumes=(_CONDUCTION, "so far behind that the width of the spot does not count"),
    source="Rosenthal, Trans. ASME 68, 849 (1946)",
    example=Example(
        {
            "conductivity": "40 W/(m*K)",
            "speed": "5 mm/s",
            "temperature_rise": "800 delta_degC",
            "absorbed_power": "1000 W",
        },
        "804.248 K/s",
        2e-6,
        "by hand: 6.283185 * 40 * 0.005 * 640000 / 1000 = 804.2477",
    ),
)
