"""How far a beam sags under a load, at most or at one place, by how its ends are held."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib.errors import ValueRefused
from mathlib.formula import Example, Formula
from mathlib.units import Q, Quantity
from mathlib.words import with_units

ENDS: Final = ("cantilever", "simply supported", "fixed", "propped")
KINDS: Final = ("point", "distributed")

LENGTH = ("length", "mm", "of the beam between its ends")
MODULUS = ("modulus", "GPa", "of elasticity: some 70 GPa for aluminium, 210 GPa for steel")
SECOND_MOMENT = ("second_moment", "mm^4", "of the section, for this direction of the load")
BENDS_LITTLE = "it bends little, within its elastic limit, and is long beside its height"

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
beam_sag = Formula(
    title="Sag of a beam",
    equation="s = W * L**3 / (c * E * I)",
    where={
        "s": ("sag", "mm", "where it is largest", "zero"),
        "W": ("load", "N", "all of it, also where it is spread", "zero"),
        "L": LENGTH,
        "c": ("sag_coefficient", "1", "of the ends and the kind of load, see sag_coefficient"),
        "E": MODULUS,
        "I": SECOND_MOMENT,
    },
    assumes=(BENDS_LITTLE, "the ends hold as their name says"),
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


def one_of(word: str, value: str, options: tuple[str, ...]) -> None:
    """Refuse a word that is none of the options.

    Raises
    ------
    ValueRefused
        With the options.

    Examples
    --------
    >>> one_of("kind", "even", KINDS)
    Traceback (most recent call last):
    mathlib.errors.ValueRefused: Beam: kind is one of 'point', 'distributed'; got 'even'.

    """
    if value not in options:
        told = ", ".join(map(repr, options))
        raise ValueRefused(f"Beam: {word} is one of {told}; got {value!r}.")


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
    one_of("ends", ends, ENDS)
    one_of("kind", kind, KINDS)
    return Q(float(_SAG[ends, kind]), "1")


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
    one_of("ends", ends, ENDS)
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
