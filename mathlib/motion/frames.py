"""Beams of a frame: how far they sag, and how fast they ring.

Beams are straight and of one section, and bend little; shear and torsion are left out. Sag and
ringing have chapters of their own; their names are found here too. Corners and feet, which
usually give more than beams, are the next chapter, ``joints``.
"""

from __future__ import annotations

from mathlib.formula import Example, Formula
from mathlib.motion.beam_modes import beam_frequency as beam_frequency
from mathlib.motion.beam_modes import beam_ringing as beam_ringing
from mathlib.motion.beam_modes import eigenvalue as eigenvalue
from mathlib.motion.beam_modes import loaded_beam_ringing as loaded_beam_ringing
from mathlib.motion.beam_modes import loaded_frequency as loaded_frequency
from mathlib.motion.beam_modes import with_mass as with_mass
from mathlib.motion.bending import ENDS as ENDS
from mathlib.motion.bending import KINDS as KINDS
from mathlib.motion.bending import beam_sag as beam_sag
from mathlib.motion.bending import deflection as deflection
from mathlib.motion.bending import deflection_at as deflection_at
from mathlib.motion.bending import sag_coefficient as sag_coefficient

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
