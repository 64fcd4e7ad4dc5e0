"""Beams of a frame: how far they sag, and how fast they ring.

Beams are straight and of one section, and bend little; shear and torsion are left out. Corners
and feet, which usually give more than beams, are the next chapter, ``joints``.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.units import Q, Quantity
from mathlib.words import with_units

ENDS: Final = ("cantilever", "simply supported", "fixed", "propped")
KINDS: Final = ("point", "distributed")

_LENGTH = ("length", "mm", "of the beam between its ends")
_MODULUS = ("modulus", "GPa", "of elasticity: some 70 GPa for aluminium, 210 GPa for steel")
_SECOND = ("second_moment", "mm^4", "of the section, for this direction of the load")
_LITTLE = "it bends little, within its elastic limit, and is long beside its height"

#: c of ``beam_sag`` for the largest sag; a point load stands at the tip of a cantilever, else in
#: the middle. Propped: fixed at one end, resting on the other; it sags most beside the middle.
_SAG: Final = {
    ("cantilever", "point"): 3.0,
    ("cantilever", "distributed"): 8.0,
    ("simply supported", "point"): 48.0,
    ("simply supported", "distributed"): 384 / 5,
    ("fixed", "point"): 192.0,
    ("fixed", "distributed"): 384.0,
    ("propped", "point"): 48 * np.sqrt(5),
    ("propped", "distributed"): 65536 / (39 + 55 * np.sqrt(33)),
}
#: First root of each characteristic equation, such as cos(b) cosh(b) = 1 for fixed ends.
_EIGENVALUE: Final = {
    "cantilever": 1.8751040687119611,
    "simply supported": np.pi,
    "fixed": 4.730040744862704,
    "propped": 3.9266023120479185,
}
#: Stiffness c E I / L**3 at the mass, and the share of the beam's mass that moves with it.
_WITH_MASS: Final = {
    "cantilever": (3.0, 33 / 140),
    "simply supported": (48.0, 17 / 35),
    "fixed": (192.0, 13 / 35),
    "propped": (768 / 7, 764 / 1715),
}

weight = Formula(
    title="Weight of a mass",
    equation="F = m * g",
    where={
        "F": ("load", "N", "downwards"),
        "m": ("mass", "kg", "that rests there"),
        "g": (
            "gravity",
            "m/s^2",
            "acceleration of free fall",
            "positive",
            "9.80665 m/s^2",
            "standard value; places on earth differ by 0.3 % either way",
        ),
    },
    assumes=("the mass is at rest",),
    source="Newton's second law",
    example=Example(
        {"mass": "0.5 kg", "gravity": "9.80665 m/s^2"},
        "4.903325 N",
        1e-12,
        "by hand: half of 9.80665",
    ),
)

beam_sag = Formula(
    title="Sag of a beam",
    equation="s = W * L**3 / (c * E * I)",
    where={
        "s": ("sag", "mm", "where it is largest"),
        "W": ("load", "N", "all of it, also where it is spread"),
        "L": _LENGTH,
        "c": ("sag_coefficient", "1", "of the ends and the kind of load, see sag_coefficient"),
        "E": _MODULUS,
        "I": _SECOND,
    },
    assumes=(_LITTLE, "the ends hold as their name says"),
    source="Roark's Formulas for Stress and Strain, straight beams",
    example=Example(
        {
            "load": "10 N",
            "length": "500 mm",
            "sag_coefficient": 48,
            "modulus": "70 GPa",
            "second_moment": "7000 mm^4",
        },
        "0.0531463 mm",
        2e-6,
        "by hand: 10 * 1.25e8 / (48 * 70000 * 7000) = 1.25e9 / 2.352e10",
    ),
)

beam_ringing = Formula(
    title="Lowest natural frequency of a beam by itself",
    equation="f = (b / L)**2 * sqrt(E * I / m) / (2 * pi)",
    where={
        "f": ("frequency", "Hz", "of its first mode in this direction"),
        "b": ("eigenvalue", "1", "of the ends, see eigenvalue"),
        "L": _LENGTH,
        "E": _MODULUS,
        "I": _SECOND,
        "m": ("mass_per_length", "g/m", "of the beam and what is spread along it"),
    },
    assumes=(_LITTLE, "the ends hold as their name says", "nothing else hangs on it"),
    source="Rao, Mechanical Vibrations, transverse vibration of beams",
    example=Example(
        {
            "eigenvalue": 3.1415927,
            "length": "500 mm",
            "modulus": "70 GPa",
            "second_moment": "7000 mm^4",
            "mass_per_length": "500 g/m",
        },
        "196.695 Hz",
        1e-5,
        "by hand: 6.2831853**2 = 39.47842; sqrt(490 / 0.5) = 31.30495; over 6.283185",
    ),
)

loaded_beam_ringing = Formula(
    title="Lowest natural frequency of a beam that carries a mass",
    equation="f = sqrt(c * E * I / (L**3 * (m + q * m_b))) / (2 * pi)",
    where={
        "f": ("frequency", "Hz", "of the mass on the beam"),
        "c": ("sag_coefficient", "1", "of the ends, at the mass"),
        "E": _MODULUS,
        "I": _SECOND,
        "L": _LENGTH,
        "m": ("mass", "kg", "at the tip of a cantilever, else in the middle", "zero"),
        "q": ("beam_share", "1", "of the beam's mass that counts as moving with it"),
        "m_b": ("beam_mass", "kg", "of the whole beam"),
    },
    assumes=(_LITTLE, "the beam keeps the shape of its sag: up to 2 % high without a mass"),
    source="Rayleigh's method; Den Hartog, Mechanical Vibrations",
    example=Example(
        {
            "sag_coefficient": 48,
            "modulus": "70 GPa",
            "second_moment": "7000 mm^4",
            "length": "500 mm",
            "mass": "0.6 kg",
            "beam_share": 0.4857143,
            "beam_mass": "0.25 kg",
        },
        "81.2806 Hz",
        2e-6,
        "by hand: 48 * 490 / 0.125 = 188160 N/m over 0.72142857 kg = 260816.6; root 510.70",
    ),
)


def sag_coefficient(*, ends: str, kind: str = "point") -> Quantity:
    """Coefficient c of the largest sag W L³ / (c E I).

    Parameters
    ----------
    ends : str
        "cantilever", "simply supported", "fixed" or "propped" (one end fixed, one resting).
    kind : str
        "point", at the tip of a cantilever and else in the middle; or "distributed" evenly.

    Returns
    -------
    Quantity
        A plain number.

    Raises
    ------
    ValueRefused
        There is no such end or kind.

    Examples
    --------
    >>> print(sag_coefficient(ends="simply supported", kind="distributed"))
    76.8

    """
    _one_of("ends", ends, ENDS)
    _one_of("kind", kind, KINDS)
    return Q(float(_SAG[ends, kind]), "1")


def eigenvalue(*, ends: str) -> Quantity:
    """First eigenvalue b of a beam in bending, of f = (b / L)² sqrt(E I / m) / 2π.

    Parameters
    ----------
    ends : str
        "cantilever", "simply supported", "fixed" or "propped".

    Returns
    -------
    Quantity
        A plain number.

    Raises
    ------
    ValueRefused
        There is no such end.

    Examples
    --------
    >>> print(eigenvalue(ends="fixed"))
    4.73

    """
    _one_of("ends", ends, ENDS)
    return Q(float(_EIGENVALUE[ends]), "1")


def deflection(
    *, load: Any, length: Any, modulus: Any, second_moment: Any, ends: str, kind: str = "point"
) -> Quantity:
    """Largest sag of a beam under a load.

    Parameters
    ----------
    load : force, any shape
        All of it: a distributed load is given as its total, not for each length.
    length : length, broadcast
        Of the beam between its ends.
    modulus : pressure, broadcast
        Of elasticity.
    second_moment : length to the fourth, broadcast
        Of the section for this direction.
    ends : str
        "cantilever", "simply supported", "fixed" or "propped" (one end fixed, one resting).
    kind : str
        "point", at the tip of a cantilever and else in the middle; or "distributed" evenly.

    Returns
    -------
    Quantity
        In mm.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; there is no such end or kind.

    Examples
    --------
    >>> print(deflection(load="10 N", length="500 mm", modulus="70 GPa",
    ...                  second_moment="7000 mm^4", ends="simply supported"))
    0.05315 mm

    """
    return beam_sag(
        load=load,
        length=length,
        modulus=modulus,
        second_moment=second_moment,
        sag_coefficient=sag_coefficient(ends=ends, kind=kind),
    )


def beam_frequency(
    *, length: Any, modulus: Any, second_moment: Any, mass_per_length: Any, ends: str
) -> Quantity:
    """Lowest natural frequency of a beam by itself, in bending.

    Parameters
    ----------
    length, modulus, second_moment
        As of ``deflection``.
    mass_per_length : mass over length, broadcast
        Of the beam and what is spread along it.
    ends : str
        "cantilever", "simply supported", "fixed" or "propped".

    Returns
    -------
    Quantity
        In Hz.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; there is no such end.

    Examples
    --------
    >>> print(beam_frequency(length="500 mm", modulus="70 GPa", second_moment="7000 mm^4",
    ...                      mass_per_length="500 g/m", ends="simply supported"))
    196.7 Hz

    """
    return beam_ringing(
        length=length,
        modulus=modulus,
        second_moment=second_moment,
        mass_per_length=mass_per_length,
        eigenvalue=eigenvalue(ends=ends),
    )


def loaded_frequency(
    *,
    mass: Any,
    beam_mass: Any,
    length: Any,
    modulus: Any,
    second_moment: Any,
    ends: str,
) -> Quantity:
    """Lowest natural frequency of a beam with a mass at its tip or in its middle.

    Parameters
    ----------
    mass : mass, any shape
        At the tip of a cantilever, else in the middle; zero is allowed.
    beam_mass : mass, broadcast
        Of the whole beam; 33/140 of it counts at a tip, 17/35 in a simply supported middle.
    length, modulus, second_moment
        As of ``deflection``.
    ends : str
        "cantilever", "simply supported", "fixed" or "propped".

    Returns
    -------
    Quantity
        In Hz.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; there is no such end.

    Examples
    --------
    >>> print(loaded_frequency(mass="0.6 kg", beam_mass="0.25 kg", length="500 mm",
    ...     modulus="70 GPa", second_moment="7000 mm^4", ends="simply supported"))
    81.28 Hz

    """
    return loaded_beam_ringing(
        mass=mass,
        beam_mass=beam_mass,
        length=length,
        modulus=modulus,
        second_moment=second_moment,
        **with_mass(ends=ends),
    )


def with_mass(*, ends: str) -> dict[str, Any]:
    """Coefficient and share of the beam's mass for ``loaded_beam_ringing``.

    Parameters
    ----------
    ends : str
        "cantilever", "simply supported", "fixed" or "propped".

    Returns
    -------
    dict
        ``sag_coefficient`` and ``beam_share``, plain numbers.

    Raises
    ------
    ValueRefused
        There is no such end.

    Examples
    --------
    >>> print(with_mass(ends="cantilever")["sag_coefficient"])
    3

    """
    _one_of("ends", ends, ENDS)
    coefficient, part = _WITH_MASS[ends]
    return {"sag_coefficient": Q(coefficient, "1"), "beam_share": Q(part, "1")}


@with_units(
    "Sag of a beam at a place",
    returns="mm",
    load=("N", "signed"),
    length="mm",
    modulus="GPa",
    second_moment="mm^4",
    place=("mm", "zero"),
    at=("mm", "zero"),
)
def deflection_at(
    *,
    load: Any,
    length: Any,
    modulus: Any,
    second_moment: Any,
    ends: str,
    place: Any = None,
    at: Any = None,
) -> Any:
    """Sag at one place of a beam under a load at any place, or spread evenly.

    Parameters
    ----------
    load : force, any shape
        All of it; upwards is negative.
    length, modulus, second_moment
        As of ``deflection``.
    ends : str
        "cantilever", "simply supported", "fixed" or "propped". A cantilever and a propped beam
        are fixed at their first end, from which places count.
    place : length, broadcast, optional
        Where the load stands; left out, it is spread evenly.
    at : length, broadcast, optional
        Where the sag is asked for; left out, under the load.

    Returns
    -------
    Quantity
        In mm.

    Raises
    ------
    ValueRefused
        A place lies beyond the beam, both places are left out, or there is no such end.
    UnitError
        As a formula does.

    Examples
    --------
    >>> print(deflection_at(load="10 N", length="500 mm", modulus="70 GPa",
    ...     second_moment="7000 mm^4", ends="simply supported", place="125 mm"))
    0.02989 mm

    """
    _one_of("ends", ends, ENDS)
    if place is None and at is None:
        raise ValueRefused("Sag of a beam at a place: give place, at, or both.")
    span = np.asarray(length)
    asked = np.asarray(at if at is not None else place) / span
    loaded = None if place is None else np.asarray(place) / span
    for name, share in (("at", asked), ("place", loaded)):
        if share is not None and np.any(share > 1 + 1e-12):
            raise ValueRefused(f"Sag of a beam at a place: {name} lies beyond the beam's length.")
    shape = _spread(ends, asked) if loaded is None else _under_point(ends, asked, loaded)
    return load * span**3 * shape / (np.asarray(modulus) * second_moment)


def _under_point(ends: str, asked: Any, loaded: Any) -> Any:
    """Sag at ``asked`` for a load at ``loaded``, both over the length, times E I / (W L³)."""
    x, a = np.minimum(asked, loaded), np.maximum(asked, loaded)  # each sags as the other would
    b = 1 - a
    if ends == "cantilever":
        return x**2 * (3 * a - x) / 6
    if ends == "simply supported":
        return b * x * (1 - b**2 - x**2) / 6
    if ends == "fixed":
        return b**2 * x**2 * (3 * a - (1 + 2 * a) * x) / 6
    return b * x**2 * (3 * (1 - b**2) - (3 - b**2) * x) / 12


def _spread(ends: str, x: Any) -> Any:
    """Sag at x for a load spread evenly, times E I / (W L³)."""
    if ends == "cantilever":
        return x**2 * (x**2 - 4 * x + 6) / 24
    if ends == "simply supported":
        return x * (1 - 2 * x**2 + x**3) / 24
    if ends == "fixed":
        return x**2 * (1 - x) ** 2 / 24
    return x**2 * (1 - x) * (3 - 2 * x) / 48


def _one_of(word: str, value: str, options: tuple[str, ...]) -> None:
    if value not in options:
        told = ", ".join(map(repr, options))
        raise ValueRefused(f"Beam: {word} is one of {told}; got {value!r}.")
