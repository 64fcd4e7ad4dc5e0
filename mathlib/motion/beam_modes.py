"""How fast a beam rings, by itself or with a mass on it, by how its ends are held."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib.formula import Example, Formula
from mathlib.motion.bending import BENDS_LITTLE, ENDS, LENGTH, MODULUS, SECOND_MOMENT, one_of
from mathlib.units import Q, Quantity

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

beam_ringing = Formula(
    title="Lowest natural frequency of a beam by itself",
    equation="f = (b / L)**2 * sqrt(E * I / m) / (2 * pi)",
    where={
        "f": ("frequency", "Hz", "of its first mode in this direction"),
        "b": ("eigenvalue", "1", "of the ends, see eigenvalue"),
        "L": LENGTH,
        "E": MODULUS,
        "I": SECOND_MOMENT,
        "m": ("mass_per_length", "g/m", "of the beam and what is spread along it"),
    },
    assumes=(BENDS_LITTLE, "the ends hold as their name says", "nothing else hangs on it"),
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
        "E": MODULUS,
        "I": SECOND_MOMENT,
        "L": LENGTH,
        "m": ("mass", "kg", "at the tip of a cantilever, else in the middle", "zero"),
        "q": ("beam_share", "1", "of the beam's mass that counts as moving with it"),
        "m_b": ("beam_mass", "kg", "of the whole beam", "zero"),
    },
    assumes=(BENDS_LITTLE, "the beam keeps the shape of its sag: up to 2 % high without a mass"),
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
    one_of("ends", ends, ENDS)
    return Q(float(_EIGENVALUE[ends]), "1")


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
    one_of("ends", ends, ENDS)
    coefficient, part = _WITH_MASS[ends]
    return {"sag_coefficient": Q(coefficient, "1"), "beam_share": Q(part, "1")}
