"""Materials: what they are like, and which of them are never to be processed.

``material(name)`` gives a record with properties as ranges and a hazard group. Looking at a
record is free; ``for_processing`` is asked before one is used.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import attrs
import numpy as np

from mathlib import tables
from mathlib.errors import MathlibError, NotUnique, TableError, ValueRefused
from mathlib.ranges import Range
from mathlib.units import Q

if TYPE_CHECKING:
    from mathlib.laser.coupon import Coupon

#: Bands of wavelengths, in nm, for which properties are stated.
BANDS: Final = {"450nm": (430, 470), "1064nm": (1000, 1100), "10600nm": (9000, 11000)}
GROUPS: Final = ("never", "extraction only", "care")
UNKNOWN: Final = "unknown"
_FILE: Final = "material_hazards.toml"
_KEYS: Final = {
    "name", "also", "words", "group", "reason", "products", "care", "source", "like", "properties",
    "structure",
}  # fmt: skip
_WITHOUT: Final = {"no", "non", "not", "without", "ohne"}
_FREE: Final = {"free", "frei"}
#: What a data sheet says not to hold, up to the end of the sentence.
_DENIED: Final = re.compile(r"\b(no|not|non|without|neither|free (of|from)|ohne)\b[^.;]*", re.I)
_TELLING: Final = 5  # letters: a shorter word of a ban counts only where it stands alone
ASK: Final = (
    "Ask the supplier for the data sheet and look in it for chlorine, fluorine, bromine, "
    "isocyanates, heavy metals and flame retardants; with any of them it is never to be "
    "processed. A trade name hides the plastic: write the name that the sheet gives. Do not burn a "
    "sample to find out."
)


class NeverProcess(MathlibError, ValueError):
    """A material that is never to be processed was about to be."""


@attrs.frozen(kw_only=True, repr=False)
class Material:
    """One material: its properties as ranges, and what a laser drives out of it.

    A property that nobody stated is None. ``hazard`` is "never", "extraction only", "care" or
    "unknown"; ``products`` are what comes off, ``reason`` says why it is in its group;
    ``structure`` says where a sheet is not one and the same stuff all through.
    """

    name: str
    hazard: str
    reason: str
    products: tuple[str, ...] = ()
    care: tuple[str, ...] = ()
    source: str = ""
    structure: str = ""
    density: Range | None = None
    specific_heat: Range | None = None
    thermal_conductivity: Range | None = None
    char_onset_temperature: Range | None = None
    melting_temperature: Range | None = None
    softening_temperature: Range | None = None
    decomposition_temperature: Range | None = None
    heat_of_gasification: Range | None = None
    absorptance_450nm: Range | None = None
    absorptance_1064nm: Range | None = None
    absorptance_10600nm: Range | None = None
    absorption_coefficient_450nm: Range | None = None
    absorption_coefficient_1064nm: Range | None = None
    absorption_coefficient_10600nm: Range | None = None
    #: What coupons of one's own found, and the energy of removal as it was before them.
    coupon: Coupon | None = None
    removal_before: Range | None = attrs.field(default=None, repr=False)

    @property
    def properties(self) -> dict[str, Range]:
        """The properties that are stated, by name."""
        found = attrs.asdict(self, recurse=False)
        found.pop("removal_before")
        return {name: value for name, value in found.items() if isinstance(value, Range)}

    def __repr__(self) -> str:
        """Name, hazard with its reason, and the properties that are stated."""
        lines = [f"{self.name} ({self.hazard}: {self.reason})"]
        for word, span in self.properties.items():
            mark = "  (estimate)" if span.kind == "estimate" else ""
            lines.append(f"  {word.replace('_', ' ')}: {span}{mark}")
        return "\n".join(lines)

    def absorptance(self, wavelength: Any) -> Range | None:
        """Part of the light that the clean surface takes in, for the band of a wavelength.

        None where nobody stated it. Bands: blue (430 to 470 nm), near infrared (1000 to 1100 nm),
        far infrared (9 to 11 µm). Light of another wavelength gives None.

        >>> print(material("birch plywood").absorptance("445 nm").typical)
        0.54
        """
        found: Range | None = self._for_band("absorptance", wavelength)
        return found

    def absorption_coefficient(self, wavelength: Any) -> Range | None:
        """Absorption coefficient of a clear material for the band of a wavelength, or None.

        >>> print(material("clear acrylic").absorption_coefficient("10.6 um").typical)
        32 1/mm
        """
        found: Range | None = self._for_band("absorption_coefficient", wavelength)
        return found

    def _for_band(self, word: str, wavelength: Any) -> Any:
        light = Q(wavelength) if isinstance(wavelength, str) else wavelength
        nanometres = float(np.median(light.to("nm").magnitude))
        for name, (low, high) in BANDS.items():
            if low <= nanometres <= high:
                return getattr(self, f"{word}_{name}")
        return None

    @property
    def leaves_at(self) -> tuple[str, Range] | None:
        """What ends pure conduction, and its temperature: charring, decomposing or melting.

        >>> word, span = material("birch plywood").leaves_at
        >>> print(word, span.typical)
        chars 300 °C
        """
        for word, span in (
            ("chars", self.char_onset_temperature),
            ("decomposes", self.decomposition_temperature),
            ("softens", self.softening_temperature),
            ("melts", self.melting_temperature),
        ):
            if span is not None:
                return word, span
        return None

    def for_processing(self, supplier_sheet: str | None = None) -> tuple[str, ...]:
        """Give the cautions for working this material, or refuse it.

        Parameters
        ----------
        supplier_sheet : str, optional
            Which data sheet of the supplier was read, such as "glue: urea resin, sheet of 2026".
            An unknown material needs it. It does not lift a ban.

        Raises
        ------
        NeverProcess
            The material is on the list of what is never to be processed, whatever the sheet says;
            or the sheet of an unknown one names something on that list.
        ValueRefused
            Nothing is known of the material, and no data sheet is named.

        Examples
        --------
        >>> print(material("MDF").for_processing()[0])
        It glows on inside the cut: watch for half an hour.
        >>> material("vinyl").for_processing()  # doctest: +ELLIPSIS
        Traceback (most recent call last):
        ...
        mathlib.materials.NeverProcess: PVC is never to be processed: it gives off hydrogen ...

        """
        if self.hazard == "never":
            gases = f" It gives off: {', '.join(self.products)}." if self.products else ""
            raise NeverProcess(f"{self.name} is never to be processed: {self.reason}.{gases}")
        named = supplier_sheet.strip() if isinstance(supplier_sheet, str) else ""
        if self.hazard == UNKNOWN:
            if not named:
                raise ValueRefused(
                    f"{self.name}: {self.reason}. {ASK} Then name the sheet: as "
                    'supplier_sheet="...", or as material_note under [job] of the machine file.'
                )
            banned = _listed(_DENIED.sub("", named) or self.name, _known())
            if banned is not None and banned.hazard == "never":
                raise NeverProcess(
                    f"{self.name} is never to be processed: its data sheet ({named}) tells of what "
                    f"is banned, {banned.reason}. It gives off: {', '.join(banned.products)}."
                )
            return (
                f"{self.name} is in no list here and goes by its data sheet alone ({named}): "
                "extract all smoke, begin small, stay beside it.",
            )
        if self.hazard == "extraction only":
            return (*self.care, f"Only with extraction outdoors: {self.reason}.")
        return (*self.care, f"Take care: {self.reason}.")


def material(name: str) -> Material:
    """Find a material by name, whatever the case and the order of the name's words.

    A name that is not listed gives a record of unknown hazard; one that holds a word such as
    "vinyl" or "chrome" is taken for the material of that word, which is the stricter reading.

    Parameters
    ----------
    name : str
        Such as "birch plywood", "PMMA" or "vinyl".

    Raises
    ------
    NotUnique
        Several materials go by this name, or it is near to a listed one and may be misspelt.
    ValueRefused
        The name is no text, or empty.

    Examples
    --------
    >>> material("Vinyl").name, material("vinyl").hazard
    ('PVC', 'never')
    >>> print(material("birch plywood").density)
    680 kg/m³ (620 kg/m³ to 750 kg/m³)
    >>> material("unobtainium").hazard
    'unknown'

    """
    known = _known()
    found = _listed(name, known)
    if found is not None:
        return found
    every = [*known.names.values(), *known.ambiguous]
    short = name.strip().lower()
    spelled = {each.lower(): each for each in [*every, *known.aliases]}
    close = difflib.get_close_matches(short, spelled, n=3, cutoff=0.6 if len(short) < 5 else 0.8)
    if close:
        told = " or ".join(repr(spelled[each]) for each in close)
        meant = [known.names[parts] for each in close if (parts := _parts(each)) in known.names]
        raise NotUnique(
            f"There is no material {name!r}; did you mean {told}?{_bans(known, meant)} If it is "
            f"another one, write materials.unlisted({name!r}), and have its data sheet."
        )
    return _unknown(name)


def unlisted(name: str) -> Material:
    """Give a record for a material that is in no list, however near its name is to a listed one.

    What is listed, or holds a word of a material that is never to be processed, stays that.

    Raises
    ------
    NotUnique
        Several listed materials go by this name.
    ValueRefused
        The name is no text, or empty.

    Examples
    --------
    >>> unlisted("walnut plywood").hazard
    'unknown'
    >>> unlisted("vinyl plywood").hazard
    'never'

    """
    found = _listed(name, _known())
    return _unknown(name) if found is None else found


def names(hazard: str | None = None) -> tuple[str, ...]:
    """Names of all materials, or of those of one hazard group, in the order of the file.

    Raises
    ------
    ValueRefused
        There is no such group.

    Examples
    --------
    >>> "ABS" in names("never")
    True

    """
    if hazard is not None and hazard not in GROUPS:
        told = ", ".join(map(repr, GROUPS))
        raise ValueRefused(f"Materials: a hazard group is one of {told}; got {hazard!r}.")
    return tuple(m.name for m in _known().materials.values() if hazard in (None, m.hazard))


def _unknown(name: str) -> Material:
    return Material(
        name=name.strip(),
        hazard=UNKNOWN,
        reason="nothing is known of it here",
        source="no list here has it",
    )


@attrs.frozen(kw_only=True)
class _Known:
    materials: dict[str, Material]  # by name
    names: dict[tuple[str, ...], str]  # by the words of a name or of another name
    aliases: tuple[str, ...]
    words: dict[tuple[str, ...], str]  # of what is never to be processed; several before one
    ambiguous: dict[str, tuple[str, ...]]


def _parts(name: str) -> tuple[str, ...]:
    return tuple(sorted(_in_order(name)))


def _in_order(name: str) -> list[str]:
    """Words of a name in small letters; "P.V.C." is one."""
    return re.findall(r"[^\W_]+", name.lower().replace(".", ""))


def _listed(name: str, known: _Known) -> Material | None:
    if not isinstance(name, str) or not name.strip():
        raise ValueRefused(f'A material is named by a text such as "birch plywood"; got {name!r}.')
    parts = _parts(name)
    if parts in known.names:
        return known.materials[known.names[parts]]
    for short, several in known.ambiguous.items():
        if parts == _parts(short):
            told = ", ".join(several[:-1]) + f" or {several[-1]}"
            raise NotUnique(f"{name.strip()!r} may be {told}: name which.{_bans(known, several)}")
    said = _said_to_hold(name)
    for told_by, meant in known.words.items():
        if all(any(_holds(part, word) for part in said) for word in told_by):
            taken = known.materials[meant]
            told = f"it is taken for {taken.name}, of which is known that {taken.reason}"
            return attrs.evolve(taken, name=name.strip(), reason=told)
    return None


def _bans(known: _Known, several: Iterable[str]) -> str:
    """Say which of several materials are never to be processed, and what each gives off first."""
    never = [known.materials[each] for each in dict.fromkeys(several)]
    told = [f"{m.name} ({', '.join(m.products[:2])})" for m in never if m.hazard == "never"]
    return f" Never to be processed: {', '.join(told)}." if told else ""


def _holds(part: str, word: str) -> bool:
    """Tell whether a part of a name is a word, or begins or ends with it where that is telling.

    >>> _holds("polycarbonatplatte", "polycarbonat"), _holds("untreated", "treated")
    (True, False)
    """
    if part == word:
        return True
    denied = part.startswith(("un", "non")) or any(free in part for free in _FREE)
    return len(word) >= _TELLING and not denied and word in (part[: len(word)], part[-len(word) :])


def _said_to_hold(name: str) -> list[str]:
    """Words of a name but for those that it denies, such as the first of "PVC-free card"."""
    said = _in_order(name)
    around = zip(["", *said], said, [*said[1:], ""], strict=False)
    return [part for before, part, after in around if before not in _WITHOUT and after not in _FREE]


def _known() -> _Known:
    path = tables.DATA / _FILE
    table = tables.read("materials")
    return _read(path, path.stat().st_mtime_ns, table.sha256)


@lru_cache(maxsize=4)
def _read(path: Path, _changed: int, _sha256: str) -> _Known:
    told = tomllib.loads(path.read_text(encoding="utf-8"))
    stated = _properties()
    rows: dict[str, dict[str, Any]] = {row["name"]: row for row in told["material"]}
    materials: dict[str, Material] = {}
    by_parts: dict[tuple[str, ...], str] = {}
    words: dict[tuple[str, ...], str] = {}
    aliases: list[str] = []
    for name, row in rows.items():
        properties: dict[str, Any] = dict(stated.get(row.get("properties", name), {}))
        if not set(row) <= _KEYS:
            odd = ", ".join(sorted(set(row) - _KEYS))
            raise TableError(f"{path.name}: {name}: there is no key {odd}.")
        like = rows[row["like"]] if "like" in row else {}
        merged = like | row
        if merged.get("group") not in GROUPS:
            raise TableError(f"{path.name}: {name}: group is one of {', '.join(GROUPS)}.")
        materials[name] = Material(
            name=name,
            hazard=merged["group"],
            reason=merged["reason"],
            products=tuple(merged["products"]),
            care=tuple(merged.get("care", ())),
            structure=row.get("structure", ""),
            source=merged["source"],
            **properties,
        )
        for other in (name, *row.get("also", ())):
            if by_parts.setdefault(_parts(other), name) != name:
                raise TableError(f"{path.name}: {other!r} is {name} and {by_parts[_parts(other)]}.")
        aliases += row.get("also", ())
        words |= {tuple(each.split()): name for each in row.get("words", ())}
    if not set(stated) <= set(rows):
        odd = ", ".join(sorted(set(stated) - set(rows)))
        raise TableError(f"{path.name}: materials.csv has {odd}, which it lacks.")
    return _Known(
        materials=materials,
        names=by_parts,
        aliases=tuple(aliases),
        words=dict(sorted(words.items(), key=lambda item: -len(item[0]))),
        ambiguous={short: tuple(several) for short, several in told["ambiguous"].items()},
    )


def _properties() -> dict[str, dict[str, Range]]:
    """Properties by material; a row of the table is one property of one material."""
    found: dict[str, dict[str, Range]] = {}
    for row in tables.read("materials").rows.values():
        name = row.name.partition(":")[0]
        for word, value in row.values.items():
            given = value if isinstance(value, Range) else Range(value, value, value, row.source)
            found.setdefault(name, {})[word] = given
    return found
