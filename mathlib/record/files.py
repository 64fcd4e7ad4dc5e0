"""Writes files whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from mathlib.errors import MathlibError


def write_whole(texts: dict[Path, str]) -> None:
    """Write texts to files, each beside its place first, then renamed, so that none is half.

    Raises
    ------
    MathlibError
        A file cannot be written; the files that stood there are as they were.

    """
    waiting: dict[Path, str] = {}
    try:
        for path, text in texts.items():
            try:
                number, beside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
                waiting[path] = beside
                with os.fdopen(number, "w", encoding="utf-8", newline="\n") as file:
                    file.write(text)
                os.chmod(beside, 0o666 & ~_mask())
            except OSError as fault:
                raise MathlibError(f"{path} cannot be written: {fault.strerror}.") from None
        for path in texts:
            try:
                os.replace(waiting[path], path)
            except OSError as fault:
                raise MathlibError(f"{path} cannot be written: {fault.strerror}.") from None
            del waiting[path]
    finally:
        for beside in waiting.values():
            with contextlib.suppress(OSError):
                os.unlink(beside)


def _mask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def folder(path: Path) -> Path:
    """Make a folder unless it is there.

    Raises
    ------
    MathlibError
        It cannot be made, or a file stands in its place.

    """
    try:
        path.mkdir(parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError):
        raise MathlibError(
            f"{path} is a file, or lies below one; name a folder after -o, such as records."
        ) from None
    except OSError as fault:
        raise MathlibError(
            f"{path} cannot be made: {fault.strerror}. Name another folder."
        ) from None
    return path
