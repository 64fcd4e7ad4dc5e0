"""Cautions for people around a machine, by what it has; they stand beside every answer."""

from __future__ import annotations

from typing import Final

from mathlib.safety import wording

MOVING: Final = (
    "The head starts by itself: keep fingers, hair and sleeves out, and put an emergency stop "
    "within reach that takes away motion and tool power."
)
LASER: Final = (
    "The beam, and its reflections from metal, wet slate or the nozzle, can blind before anyone "
    "blinks. Enclose it; keep everyone else out of the line of sight; wear eyewear rated for this "
    "wavelength and power for the accidental hit, never to stare; watch by camera.",
    "It can set the work alight: never leave it running unattended, keep an extinguisher and a "
    "fire blanket at hand, and watch the tray for embers for half an hour after.",
    "Smoke is poisonous: extract it outdoors. Never process PVC, vinyl, fluoropolymers, ABS, "
    "polycarbonate, chrome-tanned or unknown leather, or anything whose data sheet you lack.",
    "A floating control input can fire the beam at power-up, and a hung controller stands still "
    "with the beam on: pull the input down, put a hardware enable in series, and keep the key off "
    "while hands are inside.",
    "No open beam at a meetup: show a video, or the pen.",
)
DISTANCES: Final = (
    "No distance here is one to stand at: each holds for one exposure and one limit, for naked "
    "eyes, and for this beam. Binoculars or a telescope with lenses of 50 mm send some fifty times "
    "the light into an eye, and each distance is then some seven times as far.",
    "No credit is taken for the width of the spot, the reflectance of the work (all light comes "
    "back) or the kind of metal. The lens-off distance is the one that counts when a lens cracks, "
    "falls out or is turned, or when a mirror is knocked.",
    wording.TABLE_TO_CHECK,
)
PULSES: Final = (
    "Continuous light of this power is assumed. A head that sends short pulses, as many infrared "
    "ones do, has a limit for each pulse besides, which may reach farther, and its eyewear needs "
    "scale numbers for I, R or M beside that for D."
)
TUBE: Final = (
    "A gas tube's supply stores a lethal charge at tens of kilovolts: interlock it, bond it, and "
    "leave work on it to a qualified person.",
)
FOOTNOTE: Final = (
    "Footnote: for visible light a limit for 0.25 s is often quoted, {limit} here. No distance on "
    f"this page uses it. {wording.BLINK}"
)
KNIFE: Final = "A drag knife cuts fingers as well as card: park it covered."
