"""Appends a finding to a machine file: the builder's lines and comments stay as they are."""

from __future__ import annotations

import datetime
import os
import shutil
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

from mathlib import machine, typed, units
from mathlib.errors import MachineFileError, MathlibError, ValueRefused
from mathlib.machine_file import read_file
from mathlib.measure.measured import Measured
from mathlib.units import QUANTITY


def append_measured(
    path: str | os.PathLike[str],
    *,
    key: str,
    value: Any,
    uncertainty: Any = None,
    method: str,
    date: str | datetime.date | None = None,
    file: str = "",
    state: str = "",
    tension: Any = None,
    note: str = "",
) -> str:
    """Append a ``[[measured]]`` block; the file is exchanged as a whole, or left as it was.

    Parameters
    ----------
    path : path of the machine file
        Its comments, order and line ends stay.
    key : text
        Dotted key that the finding lies over, such as ``"belt.specific_stiffness"``.
    value, uncertainty : text or quantity
        The finding and its standard uncertainty, which a measured quantity brings along.
    method : text
        How it was measured.
    date : text or date
        Such as 2026-05-31; today where none is given.
    file, state, tension, note : optional
        The record that it comes from; hot or cold; the belt's tension; a word on it.

    Returns
    -------
    str
        The block as it was written.

    Raises
    ------
    MachineFileError
        The file cannot be read or written, or would have a mistake with the block in it.
    ValueRefused
        The uncertainty is missing.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     own = shutil.copy(machine.TAGMAKER, folder)
    ...     _ = append_measured(own, key="carriage.friction", value="5 N", uncertainty="0.4 N",
    ...                         method="spring scale", date="2026-05-31")
    ...     print(machine.load(own).carriage.friction)
    5 N

    """
    made = block(
        key=key,
        value=value,
        uncertainty=uncertainty,
        method=method,
        date=date,
        file=file,
        state=state,
        tension=tension,
        note=note,
    )
    append(path, made)
    return made


def block(
    *,
    key: str,
    value: Any,
    uncertainty: Any = None,
    method: str,
    date: str | datetime.date | None = None,
    file: str = "",
    state: str = "",
    tension: Any = None,
    note: str = "",
) -> str:
    """Write a ``[[measured]]`` block; ``append_measured`` says what each word is.

    Raises
    ------
    ValueRefused
        The uncertainty is missing.

    Examples
    --------
    >>> told = dict(key="carriage.friction", value="5 N", uncertainty="0.4 N")
    >>> print(block(**told, method="spring scale", date="2026-05-31"))
    [[measured]]
    key = "carriage.friction"
    value = "5 N"
    uncertainty = "0.4 N"
    date = "2026-05-31"
    method = "spring scale"
    <BLANKLINE>

    """
    if uncertainty is None:
        if not isinstance(value, Measured):
            raise ValueRefused(
                "append_measured: uncertainty is missing: how far the value may be off, as a "
                'standard deviation, such as uncertainty="0.4 N".'
            )
        uncertainty = value.std
    day = date if date is not None else datetime.datetime.now(datetime.UTC).date()
    told = {
        "key": key,
        "value": _written("value", value),
        "uncertainty": _written("uncertainty", uncertainty),
        "date": day.isoformat() if isinstance(day, datetime.date) else str(day),
        "file": file,
        "method": method,
        "state": state,
        "tension": "" if tension is None else _written("tension", tension),
        "note": note,
    }
    lines = [f"{name} = {_quoted(str(text))}" for name, text in told.items() if text]
    return "\n".join(["[[measured]]", *lines]) + "\n"


def append(path: str | os.PathLike[str], block: str) -> None:
    r"""Append lines to a machine file; it is exchanged as a whole, or left as it was.

    Raises
    ------
    MachineFileError
        The file cannot be read or written, or would have a mistake with the lines in it.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     own = shutil.copy(machine.TAGMAKER, folder)
    ...     append(own, "[coupon]\n")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    mathlib.errors.MachineFileError: ...

    """
    target = Path(path).resolve()
    read_file(target, machine.SECTIONS)  # a file with mistakes is not written to
    before = target.read_bytes()
    end = b"\r\n" if b"\r\n" in before else b"\n"
    gap = b"" if before.endswith(b"\n") else end
    _exchange(target, before + gap + end + block.encode().replace(b"\n", end))


def _exchange(target: Path, after: bytes) -> None:
    """Write beside the file, read that back as a machine, then put it in its place."""
    try:
        handle, name = tempfile.mkstemp(
            prefix=f".{target.stem}-", suffix=".toml", dir=target.parent
        )
    except OSError as fault:
        raise MachineFileError(f"{target} cannot be written: {fault.strerror}.") from None
    beside = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(after)
            file.flush()
            os.fsync(file.fileno())
        read_file(beside, machine.SECTIONS)
        shutil.copymode(target, beside)
        os.replace(beside, target)
    except MachineFileError as fault:
        raise MachineFileError(str(fault).replace(str(beside), str(target))) from None
    except OSError as fault:
        raise MachineFileError(f"{target} cannot be written: {fault.strerror}.") from None
    finally:
        with suppress(OSError):
            beside.unlink()


def _written(word: str, value: Any) -> str:
    """Write a quantity as a machine file takes it."""
    if isinstance(value, QUANTITY):
        number = float(value.magnitude)
        unit = units.spelled(value._units)
        digits = f"{number:.4g}" if word == "uncertainty" else f"{number:.8g}"
        return f"{digits} {unit}".strip()
    try:
        typed.read(str(value))
    except MathlibError as fault:
        raise ValueRefused(f"append_measured: {word}: {fault}") from None
    return str(value)


def _quoted(text: str) -> str:
    """Write a basic string of TOML."""
    made = "".join(
        f"\\{letter}"
        if letter in '"\\'
        else letter
        if letter.isprintable()
        else f"\\u{ord(letter):04x}"
        for letter in text
    )
    return f'"{made}"'
