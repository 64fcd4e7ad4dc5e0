"""Rail blocks: what a tool beside the rail asks of them, and how far they roll."""

from __future__ import annotations

import difflib
from typing import Any, Final

import numpy as np

from mathlib import tables, words
from mathlib.errors import ValueRefused
from mathlib.fields import quantity, record, text
from mathlib.formula import Example, Formula
from mathlib.units import Q, Quantity
from mathlib.words import Word

#: Life factor by reliability in percent: this share of blocks reaches the life.
_RELIABILITY: Final = {90: 1.0, 95: 0.62, 96: 0.53, 97: 0.44, 98: 0.33, 99: 0.21}


@record
class Block:
    """A rail block as its catalogue rates it; ``life_basis`` is the distance of the rating."""

    dynamic_rating: Quantity = quantity("N", "C: load at which 90 % reach the basis")
    life_basis: Quantity = quantity(
        "km", "50 km or 100 km, as the catalogue says", default="100 km"
    )
    static_rating: Quantity = quantity("N", "C_0: load that just marks the balls' tracks")
    roll_moment: Quantity = quantity("N*m", "static, about the rail's own direction")
    pitch_moment: Quantity = quantity("N*m", "static, about the axis across the rail")
    source: str = text("of the ratings, and whether they are an estimate")


block_moment = Formula(
    title="Moment of a force beside a rail block",
    equation="M = F * d",
    where={
        "M": ("moment", "N*m", "on the block", "signed"),
        "F": ("force", "N", "on the tool: cutting, inertia or weight", "signed"),
        "d": ("overhang", "mm", "from the block's centre to the line of the force", "zero"),
    },
    assumes=("one block takes it all; two blocks apart share it as a pair of forces",),
    source="Statics",
    example=Example({"force": "10 N", "overhang": "60 mm"}, "0.6 N*m", 1e-12, "by hand"),
)

equivalent_load = Formula(
    title="Load that counts for the life of a block under a force and two moments",
    equation="P = F + C_0 * (M_r / M_r0 + M_p / M_p0)",
    where={
        "P": ("equivalent_load", "N", "that wears the block as much", "zero"),
        "F": ("force", "N", "across the rail, up and sideways added", "zero"),
        "C_0": ("static_rating", "N", "of the block"),
        "M_r": ("moment_roll", "N*m", "about the rail's direction", "zero"),
        "M_r0": ("roll_moment", "N*m", "static rating of the block"),
        "M_p": ("moment_pitch", "N*m", "about the axis across the rail", "zero"),
        "M_p0": ("pitch_moment", "N*m", "static rating of the block"),
    },
    assumes=("sizes without sign: forces and moments at their worst together",),
    source="Catalogues of miniature rails print this sum",
    example=Example(
        {
            "force": "20 N",
            "static_rating": "3900 N",
            "moment_roll": "0.6 N*m",
            "roll_moment": "25 N*m",
            "moment_pitch": "0.5 N*m",
            "pitch_moment": "13 N*m",
        },
        "263.6 N",
        1e-9,
        "by hand: 3900 * (0.024 + 0.0384615) = 93.6 + 150; plus 20",
    ),
)

rail_life = Formula(
    title="Distance that a rail block rolls",
    equation="L = a * (C / P)**3 * L_0",
    where={
        "L": ("rail_life", "km", "that the told share of blocks reaches"),
        "a": (
            "life_factor",
            "1",
            "of the reliability, see life_factor",
            "positive",
            "1 1",
            "90 %, what ratings are stated for",
        ),
        "C": ("dynamic_rating", "N", "of the block, on this basis"),
        "P": ("equivalent_load", "N", "that it carries"),
        "L_0": (
            "life_basis",
            "km",
            "distance for which the rating is stated",
            "positive",
            "100 km",
            "ISO 14728-1; several catalogues take 50 km instead",
        ),
    },
    assumes=("balls; clean and greased: dirt ends it sooner", "no knocks, no more than C_0"),
    source="ISO 14728-1, linear rolling bearings, rating life of balls",
    example=Example(
        {
            "life_factor": 0.62,
            "dynamic_rating": "1000 N",
            "equivalent_load": "200 N",
            "life_basis": "100 km",
        },
        "7750 km",
        1e-12,
        "by hand: 0.62 * 125 * 100",
    ),
)

rating_on_basis = Formula(
    title="Dynamic rating of a ball rail stated for another distance",
    equation="C = C_1 * (L_1 / L_0)**(1 / 3)",
    where={
        "C": ("dynamic_rating", "N", "for the wanted basis"),
        "C_1": ("stated_rating", "N", "as the catalogue states it"),
        "L_1": ("stated_basis", "km", "distance for which the catalogue states it"),
        "L_0": ("life_basis", "km", "the wanted one"),
    },
    assumes=("balls, whose life goes with the cube of the load",),
    source="Rating life solved for the load; catalogues print C_50 = 1.26 C_100",
    example=Example(
        {"stated_rating": "2 kN", "stated_basis": "100 km", "life_basis": "50 km"},
        "2519.84 N",
        1e-5,
        "by hand: 2000 * 2**(1/3) = 2000 * 1.259921",
        brackets={"stated_basis": ("50 km", "200 km"), "life_basis": ("25 km", "100 km")},
    ),
)


def life_factor(*, reliability: Any) -> Quantity:
    """Factor on the life that a share of blocks reaches; 1 for 90 %.

    Parameters
    ----------
    reliability : share, any shape
        From 90 % to 99 %; between printed values by a straight line.

    Returns
    -------
    Quantity
        A plain number.

    Raises
    ------
    ValueRefused
        The share lies outside what is printed.

    Examples
    --------
    >>> print(life_factor(reliability="97 %"))
    0.44

    """
    share = words.base_value(Word("reliability", "%"), reliability)
    hundredths = 100 * np.asarray(share)
    if np.any((hundredths < 90 - 1e-9) | (hundredths > 99 + 1e-9)):
        raise ValueRefused("Life factor: reliability lies from 90 % to 99 %, as it is printed.")
    found = np.interp(hundredths, list(_RELIABILITY), list(_RELIABILITY.values()))
    return Q(found if np.ndim(share) else float(found), "1")


def block(name: str) -> Block:
    """Take a block from ``data/rails.csv``; its ratings are estimates until its sheet is read.

    Parameters
    ----------
    name : str
        Such as "miniature rail 12 mm, long block".

    Returns
    -------
    Block
        Its ratings, with the basis that the catalogue takes; ``.source`` says what they rest on.

    Raises
    ------
    ValueRefused
        There is no such row; the message names near ones.

    Examples
    --------
    >>> print(block("miniature rail 12 mm, long block").life_basis)
    50 km

    """
    rows = tables.read("rails").rows
    if name not in rows:
        close = difflib.get_close_matches(str(name), rows, n=3, cutoff=0.4) or list(rows)
        raise ValueRefused(
            f"Rail block: there is no {name!r}; did you mean {' or '.join(map(repr, close))}?"
        )
    row = rows[name]
    values: dict[str, Any] = row.values
    return Block(**values, source=f"{row.kind}: {row.source}")


def life_of(
    *,
    block: Block,
    force: Any,
    roll: Any = "0 N*m",
    pitch: Any = "0 N*m",
    reliability: Any = "90 %",
) -> Quantity:
    """Distance that a block rolls under a force and moments.

    Parameters
    ----------
    block : Block
        With ratings and their basis.
    force : force, any shape
        Across the rail, up and sideways added.
    roll, pitch : torque, broadcast
        Without sign; roll about the rail's direction, pitch about the axis across it.
    reliability : share, broadcast
        Of the blocks that reach it, 90 % to 99 %.

    Returns
    -------
    Quantity
        In km.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does.

    Examples
    --------
    >>> small = Block(dynamic_rating="1 kN", static_rating="1.5 kN", roll_moment="8 N*m",
    ...               pitch_moment="6 N*m")
    >>> round(life_of(block=small, force="100 N", reliability="97 %").to("km").magnitude)
    44000

    """
    load = equivalent_load(
        force=force,
        static_rating=block.static_rating,
        moment_roll=roll,
        roll_moment=block.roll_moment,
        moment_pitch=pitch,
        pitch_moment=block.pitch_moment,
    )
    return rail_life(
        life_factor=life_factor(reliability=reliability),
        dynamic_rating=block.dynamic_rating,
        equivalent_load=load,
        life_basis=block.life_basis,
    )
