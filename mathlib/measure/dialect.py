"""How a file is written: what parts its cells, its decimal sign, and where its table begins."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from typing import Final

from mathlib.measure import cells, moments
from mathlib.measure.text import Findings, decoded, shown

#: What parts cells, in the order in which ties are decided; "" is one column, " " any blanks.
DELIMITERS: Final = ("\t", ";", "|", ",", " ", "")
NAMES: Final = {"\t": "tabs", ";": "semicolons", "|": "bars", ",": "commas", " ": "blanks"}
COMMENTS: Final = ("#", "%", "//", "!", "'")
_SAMPLE: Final = 120  # lines from the start of the table, and as many spread over the first block
_MOST_COLUMNS: Final = 500
_GROUPS: Final = re.compile(r"[-+]?[1-9]\d{0,2}(?:[.,]\d{3})+")
_ZONE: Final = re.compile(r":\d\d[.,\d]*(Z|[-+]\d\d:?\d\d)$")
_NO_TABLE: Final = (
    "there is no table of numbers in it{looked}. A row is cells of numbers alone, such as "
    "1.5 or 1.5e-3; not 1.5 mm, X:1.5 or 1.5D-3."
)


@dataclass(frozen=True)
class Dialect:
    """Delimiter, decimal sign, sign between thousands, kinds of columns, heads, first line."""

    delimiter: str
    decimal: str
    thousands: str
    kinds: tuple[str, ...]
    heads: tuple[str, ...]
    unit_row: tuple[str, ...]
    first: int  # of the lines of the first block, the first that has values
    quoted: bool
    comments: tuple[str, ...]
    dates: str = "day first"  # of dates between slashes


def split(line: str, delimiter: str) -> list[str]:
    """Part a line into its cells; what stands in double quotes stays together.

    >>> split('"a;b"; 2', ";")
    ['a;b', '2']
    """
    if delimiter == "":
        return [line.strip()]
    if '"' in line and line.count('"') % 2 == 0:
        parts, start, inside = [], 0, False
        for at, letter in enumerate(line):
            if letter == '"':
                inside = not inside
            elif not inside and (letter == delimiter or (delimiter == " " and letter == "\t")):
                parts.append(line[start:at])
                start = at + 1
        parts.append(line[start:])
        kept = [part.strip().strip('"').strip() for part in parts]
        return [part for part in kept if part] if delimiter == " " else kept
    if delimiter == " ":
        return [part for part in re.split(r"[ \t]+", line.strip()) if part]
    return [part.strip() for part in line.split(delimiter)]


def is_comment(line: str) -> bool:
    """Tell whether a line is marked as a comment; #N/A and its like in the first cell are none."""
    text = line.lstrip(' "')
    if text.startswith("#") and re.split(r'[;,|\t"]', text)[0].strip().lower() in cells.ABSENT:
        return False
    return text.startswith(COMMENTS)


def find(
    found: Findings,
    block: bytes,
    delimiter: str | None,
    decimal: str | None,
    dates: str | None = None,
) -> Dialect:
    """Find how a file is written from its first block.

    Raises
    ------
    TableError
        There is no table, or it can be read in two ways; the sentence names the choice.

    """
    raw = block.split(b"\n", 100_000)[:100_000]
    spread = raw[:: max(1, len(raw) // _SAMPLE)]
    sample = [decoded(found, line) for line in [*raw[: 2 * _SAMPLE], *spread] if line.strip()]
    lines = [line for line in sample if not is_comment(line) and len(line) < 20_000]
    chosen = _delimiter(found, lines, delimiter)
    rows = [r for r in (split(line, chosen) for line in lines) if _has_values(r)]
    width = Counter(map(len, rows)).most_common(1)[0][0]
    rows = [row for row in rows if len(row) == width]
    if width > _MOST_COLUMNS:
        raise found.refuse(f"{width} columns are more than are read ({_MOST_COLUMNS}).")
    kinds = _kinds(rows, width)
    first = _first_row(found, raw, chosen, width, kinds)
    point, thousands = _decimal(found, rows, chosen, decimal, kinds)
    above = [decoded(found, line) for line in raw[:first]]
    heads, unit_row = _heads(found, above, chosen, width)
    comments = tuple(line.strip() for line in above if line.strip())[-100:]
    count = 0 if heads else _heads_beside(above, chosen)
    if count:
        found.above = f" The line above the rows has {count} heads for {width} columns."
    if chosen == "," and not heads and delimiter is None and point == "." and not count:
        _doubt_commas(found, rows, first, decimal)
    if chosen == "," and heads == () and _half_heads(above, width):
        raise found.refuse(
            f"{width} cells stand under {width // 2} heads: numbers with a decimal comma, parted "
            "by commas as well. Save it with semicolons or tabs between the cells.",
            first + 1,
        )
    quoted = any('"' in line for line in lines)
    when = [c for row in rows for c, k in zip(row, kinds, strict=True) if k == "moment"]
    first_told = moments.order(found, when, dates)
    found.zone = " UTC" if any(_ZONE.search(cell) for cell in when) else ""
    return Dialect(
        chosen, point, thousands, kinds, heads, unit_row, first, quoted, comments, first_told
    )


def _has_values(row: list[str]) -> bool:
    kinds = [cells.kind(cell) for cell in row[:_MOST_COLUMNS]]
    values = sum(k in ("number", "moment", "doubt") for k in kinds)
    words = kinds.count("word")
    return values > 0 and words <= values


def _delimiter(found: Findings, lines: list[str], chosen: str | None) -> str:
    if chosen is not None:
        if chosen not in DELIMITERS:
            told = ", ".join(map(repr, DELIMITERS))
            raise found.refuse(f"delimiter is one of {told}; got {chosen!r}.")
        if not any(_has_values(split(line, chosen)) for line in lines):
            raise found.refuse(f"there is no table with the delimiter {chosen!r}.")
        return chosen
    scores = {mark: _score(lines, mark) for mark in DELIMITERS}
    best = max(scores.values())
    if best[0] <= 0:
        looked = f"; the first line is {shown(lines[0])}" if lines else ""
        raise found.refuse(_NO_TABLE.format(looked=looked))
    # A few lines less do not matter where the cells are more: chatter may hold numbers too.
    near = [mark for mark, (score, _) in scores.items() if score > 0.9 * best[0]]
    if "\t" in near:  # blanks may then stand inside the cells
        near = [mark for mark in near if mark != " "]
    return max(near, key=lambda mark: (scores[mark][1], -DELIMITERS.index(mark)))


def _score(lines: list[str], mark: str) -> tuple[float, int]:
    """How well a delimiter explains the lines, and into how many cells it parts most of them."""
    shares: dict[int, float] = {}
    for line in lines:
        row = split(line, mark)
        if (mark and len(row) < 2) or not _has_values(row):
            continue
        fine = sum(cells.kind(cell) != "word" for cell in row[:_MOST_COLUMNS])
        share = (fine / min(len(row), _MOST_COLUMNS)) ** 2
        shares[len(row)] = shares.get(len(row), 0.0) + share
    if not shares:
        return 0.0, 0
    width = max(shares, key=lambda n: shares[n])
    return shares[width], width


def _kinds(rows: list[list[str]], width: int) -> tuple[str, ...]:
    """Kind of each column: number, moment or word, by most of its cells."""
    kinds = []
    for column in range(width):
        counts = Counter(cells.kind(row[column]) for row in rows)
        numbers = counts["number"] + counts["doubt"]
        best = max(("number", numbers), ("moment", counts["moment"]), ("word", counts["word"]),
                   key=lambda pair: pair[1])  # fmt: skip
        kinds.append(best[0] if best[1] else "number")
    return tuple(kinds)


def fits(row: list[str], kinds: tuple[str, ...]) -> bool:
    """Tell whether a line's cells can be a row of the table."""
    if len(row) != len(kinds):
        return False
    told = [cells.kind(cell) for cell in row]
    wrong = sum(
        k == "word" if want == "number" else want == "moment" and k not in ("moment", "absent")
        for k, want in zip(told, kinds, strict=True)
    )
    numbers = sum(
        k in ("number", "doubt") for k, want in zip(told, kinds, strict=True) if want == "number"
    )
    return numbers > 0 and wrong <= numbers and (wrong == 0 or len(row) > 2)


def _first_row(
    found: Findings, raw: list[bytes], mark: str, width: int, kinds: tuple[str, ...]
) -> int:
    """First line of values; a lone line of numbers in a preamble does not count."""
    firsts = []
    for number, line in enumerate(raw):
        text = decoded(found, line)
        if not text.strip() or is_comment(text) or not fits(split(text, mark), kinds):
            continue
        firsts.append(number)
        if len(firsts) == 3:
            return firsts[0] if firsts[2] - firsts[0] < 20 else firsts[1]
    if not firsts:
        raise found.refuse(_NO_TABLE.format(looked=""))
    return firsts[0]


def _decimal(
    found: Findings, rows: list[list[str]], mark: str, chosen: str | None, kinds: tuple[str, ...]
) -> tuple[str, str]:
    """Decimal sign, and the sign between thousands if there is one."""
    if chosen is not None and chosen not in (".", ","):
        raise found.refuse(f'decimal is "." or ","; got {chosen!r}.')
    numbers = [
        cell
        for row in rows
        for cell, kind in zip(row, kinds, strict=True)
        if kind == "number" and cells.kind(cell) in ("number", "doubt")
    ]
    spaced = next((cell for cell in numbers if cells.without_blanks(cell) != cell), "")
    if spaced:
        found.note(f"Blanks inside numbers, as in {shown(spaced)}, part thousands.")
        numbers = [cells.without_blanks(cell) for cell in numbers]
    sign, thousands = _signs(found, numbers, mark, chosen)
    if sign == ",":
        found.note("Numbers were read with a decimal comma.")
    if thousands:
        what = {".": "Points", ",": "Commas", "'": "Apostrophes"}[thousands]
        found.note(f"{what} inside numbers part thousands.")
    return sign, thousands


def _signs(found: Findings, numbers: list[str], mark: str, chosen: str | None) -> tuple[str, str]:
    commas = [cell for cell in numbers if "," in cell]
    points = [cell for cell in numbers if "." in cell]
    both = [cell for cell in commas if "." in cell]
    groups = [cell for cell in numbers if re.fullmatch(r"[-+]?\d{1,3}('\d{3})+(\.\d*)?", cell)]
    if groups and not commas:
        return ".", "'"
    if chosen:
        other = "," if chosen == "." else "."
        return chosen, other if (commas if chosen == "." else points) else ""
    if both:
        signs = {max(",.", key=cell.rfind) for cell in both}
        if len(signs) > 1:
            raise found.refuse(
                f"numbers such as {shown(both[0])} have point and comma in both orders: pass "
                'decimal="," or decimal=".".'
            )
        sign = signs.pop()
        return sign, "." if sign == "," else ","
    for sign, other in (",.", ".,"):
        if any(cell.count(sign) > 1 for cell in numbers) and not any(
            other in cell for cell in numbers
        ):
            return other, sign  # 1.234.567 can only be thousands
    if not commas:
        if mark in (";", "\t", "|") and points:
            _doubt_points(found, numbers, points)
        return ".", ""
    if points:
        raise found.refuse(
            f"some numbers have a point ({shown(points[0])}) and some a comma "
            f'({shown(commas[0])}): pass decimal="," or decimal="."; the other parts thousands.'
        )
    if all(_GROUPS.fullmatch(cell) for cell in commas):
        raise found.refuse(
            f"the comma in {shown(commas[0])} may be a decimal comma or part thousands: pass "
            'decimal="," or decimal=".".'
        )
    return ",", ""


def _doubt_points(found: Findings, numbers: list[str], points: list[str]) -> None:
    """Beside whole numbers, 1.234 may be a thousand and more, where a comma would be decimal."""
    whole = [cell for cell in numbers if cell.lstrip("+-").isdigit()]
    if not all(_GROUPS.fullmatch(cell) for cell in points):
        return
    if whole and all(len(cell.lstrip("+-")) <= 3 for cell in whole):
        raise found.refuse(
            f"the point in {shown(points[0])} may be a decimal point or part thousands: pass "
            'decimal="." or decimal=",".'
        )
    if not whole:
        found.note(
            f"Numbers such as {shown(points[0])} were read with a decimal point; where points part "
            'thousands, pass decimal=",".'
        )


def _doubt_commas(found: Findings, rows: list[list[str]], first: int, chosen: str | None) -> None:
    """Without heads, 1,234 may be two cells or one number."""
    whole = all(cell.lstrip("+-").isdigit() for row in rows for cell in row)
    one = all(not row[1].startswith(("+", "-")) for row in rows)
    if len(rows[0]) == 2 and whole and one and chosen is None:
        told = ",".join(rows[0])
        raise found.refuse(
            f"{shown(told)} may be two cells, or one number with a decimal comma: pass "
            'delimiter="," for two cells, or delimiter="" and decimal="," for one number.',
            first + 1,
        )


def _bare(line: str) -> str:
    return line.strip().lstrip("#%/!'\"").strip()


def _heads_beside(above: list[str], mark: str) -> int:
    """Count the heads in the line above the rows; 0 where it holds none."""
    lines = [line for line in above if line.strip() and not is_comment(line)]
    cut = split(lines[-1].strip(), mark) if lines else []
    words = [cell for cell in cut if cells.kind(cell) in ("word", "absent")]
    return len(cut) if len(cut) > 1 and len(words) == len(cut) else 0


def _half_heads(above: list[str], width: int) -> bool:
    lines = [_bare(line) for line in above if line.strip()]
    return bool(lines) and width % 2 == 0 and len(split(lines[-1], ",")) == width // 2


def _heads(
    found: Findings, above: list[str], mark: str, width: int
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Heads over the columns, and the row of units between them and the values."""
    filled = [line for line in above if line.strip()]
    rows: list[tuple[str, ...]] = []
    row_of: dict[tuple[str, ...], str] = {}
    for line in filled[-6:]:
        for text in (line.strip("\n"), _bare(line)):
            cut = split(text, mark)
            if is_comment(cut[0]) and len(cut) > 1:
                cut[0] = _bare(cut[0])
            while len(cut) > width and not cut[-1]:
                cut.pop()
            if mark == " " and len(cut) > width:
                cut = split(re.sub(r"\s+(?=[\[({])", "_", text), mark)
            if len(cut) == width and any(cut):
                rows.append(tuple(cut))
                row_of[rows[-1]] = line
                break
        else:
            rows.append(())
    for below in (0, 1, 2):  # a line of chatter may stand between heads and values
        if len(rows) > below and rows[-1 - below]:
            row = rows[-1 - below]
            over = rows[-2 - below] if len(rows) > below + 1 else ()
            if over and _all_units(row) and not _all_units(over):
                return over, row
            values = sum(cells.kind(cell) in ("number", "moment") for cell in row)
            if values and _some_units(over) and not _some_units(row):
                at = max(n for n, told in enumerate(above) if told == row_of[row])
                found.meet("chatter", at + 1, row_of[row])  # a first row with a slip in it
                continue
            if values <= len(row) / 2:
                return row, ()
    return (), ()


def other_heads(row: list[str], dialect: Dialect) -> bool:
    """Tell whether a line below the first rows is the heads of another table."""
    from mathlib.measure import heads

    if len(row) != len(dialect.kinds) or len(row) < 2 or tuple(row) == dialect.unit_row:
        return False
    told = [heads.parted(cell)[1] for cell in row]
    every = all(text and heads.unit_of(text) is not None for text in told)
    words = all(cells.kind(cell) == "word" for cell in row)
    return words and (every or any(cell in dialect.heads for cell in row))


def _some_units(row: tuple[str, ...]) -> bool:
    from mathlib.measure import heads

    return any(heads.unit_of(heads.parted(cell)[1]) is not None for cell in row if cell)


def _all_units(row: tuple[str, ...]) -> bool:
    from mathlib.measure import heads

    told = [cell.strip("[]() ") for cell in row]
    return any(told) and all(not cell or heads.unit_of(cell) is not None for cell in told)
