"""Files as bytes and text: bounded in size, strict about encoding, known by their content."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from pathlib import Path

from ordering.faults import Fault
from ordering.texts import without_unseen

MAX_YAML_BYTES = 4 * 2**20
MAX_TABLE_BYTES = 50 * 2**20
MAX_FAULTS = 200

_MARKS = (
    (b"\xff\xfe", "UTF-16"),
    (b"\xfe\xff", "UTF-16"),
    (b"PK\x03\x04", "a workbook or a zip file"),
    (b"\xd0\xcf\x11\xe0", "an old workbook"),
)


def read_bytes(path: Path, limit: int) -> bytes | Fault:
    """The file's bytes, or the fault that kept it from being read. A larger file is not opened."""
    place = path.as_posix()
    try:
        if path.exists() and not path.is_file():
            wrong = "a folder has this name" if path.is_dir() else "this is not an ordinary file"
            return Fault(place, 0, "", wrong, "put the file itself here", "unreadable-file")
        if not path.is_file():
            return Fault(place, 0, "", "there is no such file", "check the name", "missing-file")
        size = path.stat().st_size
        if size > limit:
            return _too_large(place, size, limit)
        with path.open("rb") as opened:
            content = opened.read(limit + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a usable name"
        return Fault(place, 0, "", f"cannot be read: {reason.lower()}", "check the file", "unreadable-file")
    return content if len(content) <= limit else _too_large(place, len(content), limit)


def _too_large(place: str, size: int, limit: int) -> Fault:
    wrong = f"the file has {size / 2**20:.0f} MB, more than the {limit // 2**20} MB that are read"
    return Fault(place, 0, "", wrong, "split it, or export fewer columns and days", "large-file")


def decoded(content: bytes, place: str) -> str | Fault:
    """UTF-8 text without its byte-order mark and what nobody sees; line ends stay as they are."""
    cure = "save it as UTF-8 (in a spreadsheet: 'CSV UTF-8')"
    for mark, name in _MARKS:
        if content.startswith(mark):
            return Fault(place, 1, "", f"this is {name}, not UTF-8 text", cure, "wrong-encoding")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        wrong = f"not UTF-8: byte 0x{content[error.start]:02x} belongs to another encoding"
        return Fault(place, line, "", wrong, cure, "wrong-encoding")
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        wrong = "a NUL character: the file is damaged or not text"
        return Fault(place, line, "", wrong, "export it again", "damaged-file")
    return without_unseen(text)


def read_text(path: Path, limit: int) -> str | Fault:
    """The file as text, or the fault that kept it from being read."""
    content = read_bytes(path, limit)
    return content if isinstance(content, Fault) else decoded(content, path.as_posix())


def printable(path: Path) -> str:
    """A path as it can be printed and written into a document, whatever encoding its name is in."""
    return os.fsencode(path.as_posix()).decode("utf-8", "replace")


def no_folder(directory: Path, remedy: str) -> list[Fault]:
    """A fault when `directory` is not a folder that can be listed."""
    try:
        if directory.is_dir():
            next(directory.iterdir(), None)
            return []
        wrong = "there is no such folder"
    except (OSError, ValueError):
        wrong = "the folder cannot be read"
    return [Fault(directory.as_posix(), 0, "", wrong, remedy, "missing-folder")]


def fingerprints(paths: Iterable[Path]) -> dict[str, str]:
    """sha256 of each file's content by its path as given, in order of name.

    Raises
    ------
    OSError : a file cannot be read
    """
    return {
        path.as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(paths, key=lambda p: p.as_posix())
    }


def bounded(faults: list[Fault], limit: int = MAX_FAULTS) -> list[Fault]:
    """The first `limit` faults of each file in order of line, and how many more there are."""
    shown: list[Fault] = []
    by_place: dict[str, list[Fault]] = {}
    for fault in sorted(set(faults)):
        by_place.setdefault(fault.place, []).append(fault)
    for place, found in by_place.items():
        shown += found[:limit]
        if len(found) > limit:
            wrong = f"and at least {len(found) - limit} more faults in this file"
            shown.append(Fault(place, found[limit].line, "", wrong, "fix these first", "more-faults"))
    return shown
