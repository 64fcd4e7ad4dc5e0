"""The limits of exposure typed a second time, in another layout and as plain decisions.

Band by band and time by time, for one point: nm, s, mrad in, W/m² by mechanism out. Nothing here
is shared with the library; it finds slips of typing and of evaluation, and no mistake of memory.
"""

from __future__ import annotations

import math

IEC, ICNIRP, LAW = "IEC 2014", "ICNIRP 2013", "2006/25/EC"


def c3(nm: float) -> float:
    return 1.0 if nm < 450 else 10 ** (0.02 * (nm - 450))


def c4(nm: float) -> float:
    if nm < 700:
        return 1.0
    return 10 ** (0.002 * (nm - 700)) if nm < 1050 else 5.0


def c7(nm: float, edition: str) -> float:
    if nm < 1150:
        return 1.0
    if nm < 1200:
        return 10 ** (0.018 * (nm - 1150))
    return 8.0 if edition == LAW else 8 + 10 ** (0.04 * (nm - 1250))


def largest_angle(s: float, edition: str) -> float:
    if edition == LAW or s > 0.25:
        return 100.0
    return 5.0 if s < 625e-6 else 200 * math.sqrt(s)


def c6(mrad: float, s: float, edition: str) -> float:
    if mrad <= 1.5:
        return 1.0
    return min(mrad, largest_angle(s, edition)) / 1.5


def t2(mrad: float) -> float:
    if mrad <= 1.5:
        return 10.0
    return 100.0 if mrad > 100 else 10 * 10 ** ((mrad - 1.5) / 98.5)


def ultraviolet(nm: float, s: float, edition: str) -> dict[str, float]:
    if s < 1e-9:
        return {"ultraviolet": 3e10}
    c1 = 5.6e3 * s**0.25 / s
    if nm < 302.5:
        return {"ultraviolet photochemical": 30 / s}
    if nm < 315:
        found = {"ultraviolet photochemical": 10 ** (0.2 * (nm - 295)) / s}
        return found | ({"ultraviolet thermal": c1} if s < 10 else {})
    if s < 10:
        return {"ultraviolet thermal": c1}
    return {"ultraviolet": 10.0 if s >= 1000 and edition == IEC else 1e4 / s}


def far(nm: float, s: float) -> float:
    """Beyond 1400 nm eye and skin have the same limit."""
    if s >= 10:
        return 1000.0
    if 1500 <= nm < 1800:
        return 1e13 if s < 1e-9 else 1e4 / s
    if nm >= 2600:
        if s < 1e-9:
            return 1e11
        return 100 / s if s < 1e-7 else 5600 * s**-0.75
    if s < 1e-9:
        return 1e12
    return 1e3 / s if s < 1e-3 else 5600 * s**-0.75


def skin_visible(nm: float, s: float) -> float:
    if s < 1e-9:
        return 2e11 * c4(nm)
    if s < 1e-7:
        return 200 * c4(nm) / s
    return 1.1e4 * c4(nm) * s**-0.75 if s < 10 else 2000 * c4(nm)


def retina_new(nm: float, s: float, mrad: float) -> float:
    """IEC 2014 and ICNIRP 2013, below 10 s."""
    wide = c6(mrad, s, IEC)
    if nm < 1050:
        if s < 1e-11:
            return 1e-3 * wide / s
        return (2e-3 if s < 5e-6 else 18 * s**0.75) * c4(nm) * wide / s
    wide *= c7(nm, IEC)
    if s < 1e-11:
        return 1e-3 * wide / s
    return (2e-2 if s < 13e-6 else 90 * s**0.75) * wide / s


def retina_old(nm: float, s: float, mrad: float) -> float:
    """Directive, below 10 s."""
    wide = c6(mrad, s, LAW)
    if nm < 1050:
        short, middle, long, base, edge = 1.5e-4, 2.7e4, 5e-3, 18.0, 18e-6
        wide *= c4(nm)
    else:
        short, middle, long, base, edge = 1.5e-3, 2.7e5, 5e-2, 90.0, 50e-6
        wide *= c7(nm, LAW)
    if s < 1e-11:
        return short * wide / s
    if s < 1e-9:
        return middle * s**0.75 * wide / s
    return (long if s < edge else base * s**0.75) * wide / s


def eye(nm: float, s: float, mrad: float, edition: str) -> dict[str, float]:
    if nm < 400:
        return ultraviolet(nm, s, edition)
    if nm >= 1400:
        return {"corneal thermal": far(nm, s)}
    if s < 10:
        thermal = (retina_old if edition == LAW else retina_new)(nm, s, mrad)
    elif mrad <= 1.5:
        thermal = 10 * c4(nm) * c7(nm, edition)
    else:
        wide = c6(mrad, s, edition) * c4(nm) * c7(nm, edition)
        thermal = 18 * wide * min(s, t2(mrad)) ** -0.25
        if edition == LAW and nm >= 700:
            thermal = min(thermal, 1000.0)
    found = {"retinal thermal": thermal}
    if nm < 600 and s >= 10:
        found["retinal photochemical"] = c3(nm) * (100 / s if s < 100 else 1.0)
    if nm < 484 and 1 <= s < 10 and 1.5 < mrad <= 82 and edition == IEC:
        found["retinal photochemical"] = 100 * c3(nm) / s
    if nm >= 1200 and edition == ICNIRP:
        found["corneal, second limit"] = skin_visible(nm, s)
    return found


def skin(nm: float, s: float, mrad: float, edition: str) -> dict[str, float]:
    del mrad
    if nm < 400:
        return ultraviolet(nm, s, edition)
    return {"skin thermal": skin_visible(nm, s) if nm < 1400 else far(nm, s)}


def by_mechanism(target: str, nm: float, s: float, mrad: float, edition: str) -> dict[str, float]:
    table = eye if target == "eye" else skin
    if edition != "lowest":
        return table(nm, s, mrad, edition)
    one, other = (table(nm, s, mrad, e) for e in (IEC, ICNIRP))
    return {m: min(one.get(m, math.inf), other.get(m, math.inf)) for m in one | other}


def lowest(target: str, nm: float, s: float, mrad: float, edition: str) -> float:
    return min(by_mechanism(target, nm, s, mrad, edition).values())
