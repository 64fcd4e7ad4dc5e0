"""One cell of a table: a number, a number in doubt, a moment, nothing, or a word."""

from __future__ import annotations

import math
import re
from typing import Final

_PLAIN: Final = re.compile(r"[-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d{1,4})?")
_GROUPED: Final = re.compile(r"[-+]?\d{1,3}(?:([.,'])\d{3})(?:\1\d{3})*(?:(?!\1)[.,]\d*)?")
_CLOCK: Final = r"\d{1,2}:\d\d(?::\d\d(?:[.,]\d{1,9})?)?"
_MOMENT: Final = re.compile(
    rf"(?:\d{{4}}-\d\d-\d\d(?:[ T]{_CLOCK}(?:Z|[-+]\d\d:?\d\d)?)?"
    rf"|\d{{1,2}}([./])\d{{1,2}}\1(?:\d{{4}}|\d\d)(?:,?[ T]{_CLOCK}(?: ?[AaPp][Mm])?)?"
    r"|\d{1,2}:\d\d:\d\d(?:[.,]\d{1,9})?(?: ?[AaPp][Mm])?)"
)
_BLANKS: Final = re.compile(r"[-+]?\d{1,3}(?:[ \u00a0\u2009\u202f]\d{3})+(?:[.,]\d*)?")
_DOUBT: Final = re.compile(r"(?:[?*~≈!<>]\s*|\()?([-+.,\d][-+.,\deE']*)(?:\s*[?*~!]+|\))?")
#: Words that stand for no value, in lower case, and what a spreadsheet writes where a formula
#: fails. pandas reads most of them as nan itself.
ABSENT: Final = frozenset(
    ["", "nan", "-nan", "na", "n/a", "#n/a", "<na>", "null", "none", "-", "--", "---", "?", "nil",
     "#nv", "#div/0!", "#value!", "#wert!", "#ref!", "#bezug!", "#num!", "#zahl!", "#name?",
     "#null!", "#valeur!", "#nombre!"]
)  # fmt: skip
#: Words for a reading beyond the range of the instrument.
BEYOND: Final = frozenset(["ol", "o.l", "o.l.", "overload", "over", "ovfl", "inf", "+inf", "-inf"])
_AROUND: Final = " \t\r\n\u00a0\u202f\u200b\ufeff"
_LONGEST: Final = 60


def _bare(cell: str) -> str:
    """Cell without blanks and quotes around it, marks of no width, and signs of the typesetter."""
    return cell.strip(_AROUND).strip('"').strip(_AROUND).replace("−", "-")


def kind(cell: str) -> str:
    """Say what a cell is: number, moment, absent, beyond, doubt or word.

    >>> [kind(c) for c in ("1,5e3", "9?", "n/a", "2026-05-31 10:00:01.5", "left")]
    ['number', 'doubt', 'absent', 'moment', 'word']
    """
    text = _bare(cell)
    if len(text) > _LONGEST:
        return "word"
    if _PLAIN.fullmatch(text) or _GROUPED.fullmatch(text) or _BLANKS.fullmatch(text):
        return "number"
    low = text.lower()
    if low in ABSENT:
        return "absent"
    if low in BEYOND:
        return "beyond"
    if _MOMENT.fullmatch(text):
        return "moment"
    doubt = _DOUBT.fullmatch(text)
    return "doubt" if doubt and _PLAIN.fullmatch(doubt[1]) else "word"


def without_blanks(text: str) -> str:
    """Take out blanks that part thousands, as in 1 234,5.

    >>> without_blanks("1 234,5"), without_blanks("1 23")
    ('1234,5', '1 23')
    """
    return re.sub(r"\s", "", text) if _BLANKS.fullmatch(text) else text


def value(cell: str, decimal: str, thousands: str) -> float:
    """Read a number as the file writes them; nan where it is none.

    >>> value("1.234,5", ",", "."), value("9?", ".", ""), value("left", ".", "")
    (1234.5, 9.0, nan)
    """
    text = _bare(cell)
    if len(text) > _LONGEST:
        return math.nan
    if " " in text or not text.isascii():
        text = without_blanks(text)
    doubt = _DOUBT.fullmatch(text)
    if doubt:
        text = doubt[1]
    if thousands:
        text = text.replace(thousands, "")
    if decimal == ",":
        if "." in text:
            return math.nan
        text = text.replace(",", ".")
    if not _PLAIN.fullmatch(text) or "," in text:
        return math.nan
    read = float(text)
    return read if math.isfinite(read) else math.nan
