"""A file as blocks of whole lines: encodings, line ends and sizes, before a cell is looked at."""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from mathlib.errors import TableError

LARGEST: Final = 2_000_000_000  # bytes; about a day of three axes at 3.2 kHz
BLOCK: Final = 4_000_000  # bytes; a block and what is made of it stay far below what a table takes
_LONGEST_LINE: Final = 200_000
_BINARY: Final = bytes(n for n in range(32) if n not in (9, 10, 12, 13, 26, 27))


@dataclass
class Findings:
    """What was met while reading: for each kind how often, where first, and an example."""

    path: Path
    met: dict[str, tuple[int, int, str]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    zone: str = ""  # of dates and times, where they say how far they are from UTC
    above: str = ""  # what is wrong with the heads, where they are too many or too few

    def meet(self, kind: str, line: int, example: str = "", count: int = 1) -> None:
        """Count something that was met in a line."""
        so_far, first, kept = self.met.get(kind, (0, line, example))
        if line < first:
            first, kept = line, example
        self.met[kind] = (so_far + count, first, kept)

    def note(self, sentence: str) -> None:
        """Add a sentence for the reader of the table, once."""
        if sentence not in self.notes:
            self.notes.append(sentence)

    def refuse(self, sentence: str, line: int = 0) -> TableError:
        """Make the error that names the file, and the line where there is one."""
        where = f", line {line}" if line else ""
        return TableError(f"{self.path}{where}: {sentence}")


def shown(text: str) -> str:
    """Show a piece of a file in a sentence: short, and with nothing that a terminal obeys."""
    told = repr(text)
    return told if len(told) <= 42 else f"{told[:38]}...{told[0]}"


def blocks(found: Findings) -> Iterator[bytes]:
    r"""Give the file's lines in blocks, in an encoding that holds ASCII, each line ended by \n.

    Raises
    ------
    TableError
        The file is absent, empty, too large, binary, or has lines without end.

    """
    path = found.path
    size = _size(found)
    with path.open("rb") as file:
        head = file.read(4096)
        skip, encoding = _encoding(found, head)
        file.seek(skip)
        decoder = codecs.getincrementaldecoder(encoding)("replace") if encoding else None
        carry, read, zeros = b"", skip, 0
        while raw := file.read(BLOCK):
            read += len(raw)
            last = read >= size
            if not decoder:
                filled = len(raw)
                raw = raw.rstrip(b"\0")
                if zeros and raw:
                    raise found.refuse("this is a binary file, not a table in text.")
                zeros += filled - len(raw)
            if decoder:
                raw = decoder.decode(raw, last).encode()
            odd = b"\0" in raw if read > BLOCK + 3 else raw.translate(None, _BINARY) != raw
            if odd:
                raise found.refuse("this is a binary file, not a table in text.")
            carry += raw
            held = carry.endswith(b"\r") and not last
            body = carry[:-1] if held else carry
            if b"\r" in body:
                body = body.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
            cut = body.rfind(b"\n") + 1
            carry = body[cut:] + (b"\r" if held else b"")
            if len(carry) > _LONGEST_LINE:
                raise found.refuse(f"a line has more than {_LONGEST_LINE} characters.")
            if cut:
                yield body[:cut]
    if zeros:
        found.note(
            f"{zeros} zero bytes at the end were left out, as a logger without power leaves."
        )
    if carry.strip():
        found.meet("unended", 0, carry[-40:].decode("latin-1"))
        yield carry + b"\n"


def _size(found: Findings) -> int:
    path = found.path
    try:
        if not path.is_file():
            what = "this is a folder" if path.is_dir() else "there is no such file"
            raise found.refuse(f"{what}.")
        size = path.stat().st_size
        with path.open("rb"):
            pass
    except (OSError, ValueError) as fault:
        raise found.refuse(f"cannot be read: {fault}.") from None
    if not size:
        raise found.refuse("the file is empty.")
    if size > LARGEST:
        raise found.refuse(
            f"{size / 1e9:.1f} GB is more than is read at once ({LARGEST / 1e9:.0f} GB): split it."
        )
    return size


def _encoding(found: Findings, head: bytes) -> tuple[int, str]:
    """Bytes to skip, and the encoding if it does not hold ASCII as it is."""
    if head.startswith(codecs.BOM_UTF8):
        return 3, ""
    for mark, name in ((codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be")):
        if head.startswith(mark):
            found.note("Read as UTF-16.")
            return 2, name
    even, odd = head[0::2].count(0), head[1::2].count(0)
    if max(even, odd) > 0.3 * len(head) and min(even, odd) < 0.02 * len(head):
        found.note("Read as UTF-16, although the file does not say so.")
        return 0, "utf-16-le" if odd > even else "utf-16-be"
    return 0, ""


def decoded(found: Findings, raw: bytes) -> str:
    """Text of a line: UTF-8, or else what Western offices write."""
    try:
        return raw.decode()
    except UnicodeDecodeError:
        found.note("Letters outside ASCII were read as Windows-1252; the file is not UTF-8.")
        return raw.decode("cp1252", "replace")
