"""Energy balance of a cut: what a sheet takes to be severed, by draws of what is not known.

Light that couples into the kerf either removes material or warms the sheet beside it:
n·A·η·P = v·w·ρ·L·t·(t/t₀)^m·R + c·k·ΔT·√Pe·t·(n+1)/2.
Heats of gasification hold the heat to get there already: it is not added again.
"""

from __future__ import annotations

import zlib
from typing import TYPE_CHECKING, Any, Final

import attrs
import numpy as np

from mathlib import materials, units
from mathlib.errors import ValueRefused
from mathlib.materials import Material
from mathlib.ranges import Range

if TYPE_CHECKING:
    from mathlib.laser.beams import Beam
    from mathlib.laser.coupon import Coupon

_ESTIMATE: Final = "estimate"
#: Thickness at which the deepening law is 1; the coupling is relative to it.
REFERENCE: Final = 3e-3
#: Exponent over 1 with which energy grows with thickness.
DEEPENING: Final = Range(
    "0.25 1", "0.38 1", "0.5 1",
    "McMillin and Harry 1971: speed as thickness to the -1.38 in pine; its ends an estimate",
)  # fmt: skip
#: Heat led away on each length of depth, over k·ΔT·√Pe: what is lost besides removal grows, as a
#: part of it, as Pe falls.
CONDUCTION: Final = Range(
    "3 1", "5 1", "8 1",
    "flow round a cylinder (Boussinesq) gives 6.4 all round, a line source at Pe = 0.2 gives 7.8 "
    "by 2π/(K0·I0·√Pe); only the front half cuts; estimate",
)  # fmt: skip
#: Slower than this a sheet melts, chars wide or catches fire rather than being cut; an estimate.
SLOWEST: Final = 1e-4
#: How far towards char the front's absorptance has gone in the first pass.
CHARRING: Final = Range("0.3 1", "0.6 1", "0.9 1", "estimate: char forms in the first millimetres")
#: What each pass after the first wastes, on char and on warming up once more.
REWORK: Final = Range("0.05 1", "0.3 1", "0.8 1", "estimate: to be replaced by a coupon")
#: Where the walls of the kerf begin to lead the light, in Rayleigh lengths from the focus.
GUIDED: Final = 2.0
#: Part of the stated energy of removal below which a coupon's draw is taken for wrong; estimate.
_LEAST_PART: Final = 0.02
_COLD: Final = 293.15
_GONE: Final = Range("330 degC", "360 degC", "400 degC", "acrylic and its like; estimate")
#: Wavelength bands of the columns of materials.csv, in metres.
_BANDS: Final = (
    ("450nm", 400e-9, 550e-9), ("1064nm", 780e-9, 1100e-9), ("10600nm", 9e-6, 11e-6),
)  # fmt: skip


@attrs.frozen(eq=False, slots=True)
class Sheet:
    """Draws of what a material is like, in SI units, arrays along the draws."""

    density: Any
    removal: Any
    loss: Any  # c·ΔT·√(k·ρ·c_p)/2: times √(w·v) what is led away on each length of depth
    clean: Any
    charred: Any
    deepening: Any
    rework: Any
    charring: Any


def as_material(material: str | Material, supplier_sheet: str | None = None) -> Material:
    """Find a material and refuse one that must not be processed, or is not known.

    Raises
    ------
    NeverProcess, ValueRefused, NotUnique
        As ``materials.material`` and ``Material.for_processing`` do.

    Examples
    --------
    >>> as_material("birch plywood").name
    'birch plywood'

    """
    found = material if isinstance(material, Material) else materials.material(material)
    found.for_processing(supplier_sheet)
    return found


#: Nominal light of each band.
NOMINAL: Final = {"450nm": "450 nm", "1064nm": "1064 nm", "10600nm": "10.6 um"}


def reported(wavelength: float) -> bool:
    """Tell whether anybody reported cuts in the band of a wavelength in metres.

    Examples
    --------
    >>> reported(1064e-9)
    False

    """
    return band(wavelength) != "1064nm"


def band(wavelength: float) -> str:
    """Name the column of absorptance that a wavelength in metres belongs to.

    Raises
    ------
    ValueRefused
        None is near.

    Examples
    --------
    >>> band(455e-9)
    '450nm'

    """
    for name, low, high in _BANDS:
        if low <= wavelength <= high:
            return name
    raise ValueRefused(
        f"Absorption at {wavelength * 1e9:.0f} nm is not known here: values are listed for "
        "400 to 550 nm, 780 to 1100 nm and 9 to 11 µm."
    )


def drawn(span: Range, n: int, seed: Any) -> Any:
    """Draws of a range in SI units, a float where it has no width.

    Examples
    --------
    >>> float(drawn(Range("2 mm", "2 mm", "2 mm", "a doctest"), 3, 1)[0])
    0.002

    """
    values = span.draw(n, seed)
    measure = units.kind(values._units)
    return values.magnitude * measure.factor + measure.offset


def seed_of(*told: str) -> list[int]:
    """Seed that a name always has, so that draws of one material stay the same.

    Examples
    --------
    >>> seed_of("pine") == seed_of("pine")
    True

    """
    return [1, *(zlib.crc32(text.encode()) for text in told)]


def absorptance(material: Material, thickness: float, wavelength: float, n: int) -> Any:
    """Draws of the share of light that stays in a clean sheet, not reflected and not let through.

    Raises
    ------
    ValueRefused
        The record has no value for this wavelength.

    Examples
    --------
    >>> clear = materials.material("clear acrylic")
    >>> bool(absorptance(clear, 3e-3, 450e-9, 100).max() < 0.03)
    True

    """
    name = band(wavelength)
    surface: Range | None = getattr(material, f"absorptance_{name}")
    depth: Range | None = getattr(material, f"absorption_coefficient_{name}")
    seed = seed_of(material.name, "absorptance")
    if depth is not None:
        inside = -np.expm1(-drawn(depth, n, seed) * thickness)
        if surface is None or float(np.median(inside)) < 0.5:
            return inside
    if surface is None:
        other = " Name it by its colour." if material.name == "acrylic" else ""
        raise ValueRefused(
            f"{material.name}: how much light of {NOMINAL[name]} it absorbs is not in its record."
            f"{other} Measure it with a power meter before and behind, or state it in the record."
        )
    return np.clip(drawn(surface, n, seed), 0.0, 1.0)


def sheet(material: Material, thickness: float, wavelength: float, n: int) -> Sheet:
    """Draw what a sheet is like; density and conductivity of a material go together.

    Raises
    ------
    ValueRefused
        The record lacks what a cut is worked out from, as it does for metals, glass and stone.

    Examples
    --------
    >>> sheet(materials.material("pine"), 3e-3, 450e-9, 8).density.shape
    (8,)

    """
    found = _stated(material, thickness, wavelength, n)
    coupon = material.coupon
    if coupon is None or coupon.band != band(wavelength):
        return found
    return _pinned(found, _stated(material, coupon.thickness, wavelength, n), material, coupon)


def _pinned(found: Sheet, there: Sheet, material: Material, coupon: Coupon) -> Sheet:
    """Give each draw the energy of removal that puts its boundary where the coupon found it.

    Whatever else is unknown then no longer matters at the coupon's conditions, and the more the
    farther they are left. Draws whose losses alone would take all of the light there are wrong,
    and others stand for them. ``there`` is the sheet at the coupon's thickness.
    """
    n = len(found.density)
    unit = attrs.evolve(there, removal=np.ones(n))
    told = (coupon.thickness, coupon.width, coupon.passes)
    z = np.random.default_rng(seed_of(material.name, "coupon")).standard_normal(n)
    speed = coupon.speed * np.exp(coupon.fresh * z)
    gives = coupon.power * coupon.coupling * absorbed_passes(there, coupon.passes)
    left = gives - np.sqrt(speed) * loss_for_root(there, *told)
    energy = left / (speed * removal_for_speed(unit, *told))
    good = np.flatnonzero(energy > _LEAST_PART * np.median(there.removal))
    if not len(good):  # nothing fits: the losses are at their least, and removal is next to free
        good, energy = np.argsort(-energy)[:1], np.full(n, _LEAST_PART * np.median(there.removal))
    pick = good[np.arange(n) % len(good)]
    every = {f.name: getattr(found, f.name)[pick] for f in attrs.fields(Sheet)}
    return Sheet(**every | {"removal": energy[pick]})


def _stated(material: Material, thickness: float, wavelength: float, n: int) -> Sheet:
    """Draw a sheet from its record, as if there were no coupon."""
    needed = ("density", "heat_of_gasification", "thermal_conductivity", "specific_heat")
    lacking = [word.replace("_", " ") for word in needed if getattr(material, word) is None]
    if lacking:
        end = material.leaves_at
        why = ""
        if "air" in material.structure:
            why = "It is mostly air, and a balance for solid sheets would mislead. "
        elif end is not None and end[0] in ("softens", "melts"):
            why = "Metal, glass, stone and tile are marked by these lasers, not cut. "
        raise ValueRefused(
            f"{material.name}: no cut can be worked out, for its record has no "
            f"{' and no '.join(lacking)}. {why}State what you know in a record of your own."
        )
    assert material.density is not None
    assert material.thermal_conductivity is not None
    assert material.heat_of_gasification is not None
    assert material.specific_heat is not None
    together = seed_of(material.name, "density")
    hot = material.char_onset_temperature or material.decomposition_temperature or _GONE
    rise = drawn(hot, n, seed_of(material.name, "temperature")) - _COLD
    clean = absorptance(material, thickness, wavelength, n)
    density = drawn(material.density, n, together)
    heat = drawn(material.specific_heat, n, seed_of(material.name, "specific heat"))
    effusivity = np.sqrt(drawn(material.thermal_conductivity, n, together) * density * heat)
    charred = clean
    if material.char_onset_temperature is not None:
        char: Any = materials.material("wood char")
        black = getattr(char, f"absorptance_{band(wavelength)}")
        black = black or char.absorptance_450nm
        charred = np.maximum(clean, np.clip(drawn(black, n, seed_of("wood char")), 0.0, 1.0))
    return Sheet(
        density=density,
        removal=drawn(
            material.removal_before or material.heat_of_gasification,
            n,
            seed_of(material.name, "removal"),
        ),
        loss=0.5 * drawn(CONDUCTION, n, seed_of("conduction")) * effusivity * rise,
        clean=clean,
        charred=charred,
        deepening=drawn(DEEPENING, n, seed_of("deepening")),
        rework=drawn(REWORK, n, seed_of("rework")),
        charring=np.clip(drawn(CHARRING, n, seed_of("charring")), 0.0, 1.0),
    )


def mean_width(diameter: Any, rayleigh: Any, layer: Any) -> Any:
    """Mean diameter of a beam through a layer with the focus in its middle, in metres.

    Beyond two Rayleigh lengths the walls of the kerf lead the light, and it widens no further.

    Examples
    --------
    >>> round(float(mean_width(1e-4, 1e-3, 2e-3)) * 1e6, 2)  # (√2 + asinh 1) / 2 = 1.1478
    114.78

    """
    reach = np.minimum(np.asarray(layer) / (2.0 * rayleigh), GUIDED)
    reach = np.maximum(reach, 1e-9)
    return diameter * 0.5 * (np.sqrt(1.0 + reach**2) + np.arcsinh(reach) / reach)


def widths(beam: Beam, layer: Any) -> Any:
    """Mean width of a beam through a layer; of two axes their mean, as a closed contour cuts both.

    Examples
    --------
    >>> from mathlib.laser.beams import Beam
    >>> told = {"wavelength": "450 nm", "beam_quality": 15, "waist_diameter": "0.08 mm"}
    >>> round(float(widths(Beam(**told), 1e-9)) * 1e6, 1)
    80.0

    """
    _, diameter, _ = beam.by_axis()
    found = mean_width(
        diameter.to("m").magnitude, beam.rayleigh_length.to("m").magnitude, np.asarray(layer)
    )
    return np.mean(found, axis=0) if beam.elliptical else found


def absorbed_passes(found: Sheet, passes: Any) -> Any:
    """Sum of the absorptances of all passes: the first begins clean, the others meet char.

    Examples
    --------
    >>> acetal = sheet(materials.material("black acrylic"), 3e-3, 450e-9, 4)
    >>> bool(np.allclose(absorbed_passes(acetal, 2), 2 * acetal.clean))
    True

    """
    first = found.clean + found.charring * (found.charred - found.clean)
    return first + (np.asarray(passes) - 1.0) * found.charred


def removal_for_speed(found: Sheet, thickness: float, width: Any, passes: Any) -> Any:
    """Absorbed power that removal takes for each speed, in J/m.

    Examples
    --------
    >>> pine = sheet(materials.material("pine"), 3e-3, 450e-9, 4)
    >>> bool(np.all(removal_for_speed(pine, 3e-3, 1e-4, 1) > 0))
    True

    """
    deep = (thickness / REFERENCE) ** found.deepening
    again = 1.0 + found.rework * (1.0 - 1.0 / np.asarray(passes))
    return width * found.density * found.removal * thickness * deep * again


def loss_for_root(found: Sheet, thickness: float, width: Any, passes: Any) -> Any:
    """Absorbed power that is led away for each root of speed, over all passes, in W/√(m/s).

    Each pass warms the walls down to the depth that it has reached.

    Examples
    --------
    >>> pine = sheet(materials.material("pine"), 3e-3, 450e-9, 4)
    >>> three, one = (loss_for_root(pine, 3e-3, 1e-4, n) for n in (3, 1))
    >>> bool(np.allclose(three, 2 * one))  # (1 + 2 + 3) / 3
    True

    """
    return found.loss * thickness * np.sqrt(width) * 0.5 * (np.asarray(passes) + 1.0)


def speeds(
    found: Sheet, thickness: float, power: Any, width: Any, passes: Any, coupling: Any
) -> Any:
    """Fastest speed that severs, in m/s; 0 where it would be below the slowest that cuts.

    Examples
    --------
    >>> pine = sheet(materials.material("pine"), 3e-3, 450e-9, 4)
    >>> bool(np.all(speeds(pine, 3e-3, 1e-3, 1e-4, 1, 1.0) == 0))  # a milliwatt
    True

    """
    gives = power * coupling * absorbed_passes(found, passes)
    each = removal_for_speed(found, thickness, width, passes)
    half = 0.5 * loss_for_root(found, thickness, width, passes)
    root = gives / (half + np.sqrt(half * half + each * gives))
    speed = root * root
    return np.where(speed < SLOWEST, 0.0, speed)


def powers(
    found: Sheet, thickness: float, speed: Any, width: Any, passes: Any, coupling: Any
) -> Any:
    """Optical power that severs at a speed, in W; the inverse of ``speeds``.

    Examples
    --------
    >>> pine = sheet(materials.material("pine"), 3e-3, 450e-9, 4)
    >>> needed = powers(pine, 3e-3, 5e-3, 1e-4, 1, 0.2)
    >>> bool(np.allclose(speeds(pine, 3e-3, needed, 1e-4, 1, 0.2), 5e-3))
    True

    """
    taken = speed * removal_for_speed(found, thickness, width, passes)
    taken = taken + np.sqrt(speed) * loss_for_root(found, thickness, width, passes)
    return taken / (coupling * absorbed_passes(found, passes))


def in_unit(low_middle_high: Any, unit: str, source: str) -> Range:
    """Make a range of three numbers in SI base units.

    Examples
    --------
    >>> print(in_unit([0.001, 0.002, 0.003], "mm/s", "a doctest").typical)
    2 mm/s

    """
    into = units.container(unit)
    factor = units.kind(into).factor
    low, middle, high = (units.quantity(float(v) / factor, into) for v in low_middle_high)
    return Range(low, middle, high, source, _ESTIMATE)
