"""Files written where an option says: over what the program wrote there before, and over nothing else."""

from __future__ import annotations

import io
import os
import re
import stat
import zipfile
from collections.abc import Mapping
from pathlib import Path

from ordering.faults import Fault, Refused
from ordering.write.folder import write_file

_HTML_TITLE = re.compile(rb"<title>(.*?)</title>", re.DOTALL)
_BOOK_TITLE = re.compile(rb"<dc:title>(.*?)</dc:title>", re.DOTALL)


def write_outputs(files: Mapping[Path, bytes]) -> None:
    """Write each file whole, all or none.

    What is there already is replaced where it is the same document of an earlier time: a csv file with the
    same heading, a workbook or a page with the same title.

    Raises
    ------
    Refused : a name cannot be used, or something else is there; nothing has been written
    OSError : the disk refuses
    """
    faults = [fault for path, content in files.items() if (fault := _refused(path, content)) is not None]
    if faults:
        raise Refused(faults)
    for path, content in files.items():
        write_file(path, content)


def _refused(path: Path, content: bytes) -> Fault | None:
    right = "name another with --out; nothing but what this command wrote before is written over"
    try:
        found = path.stat()
    except FileNotFoundError:
        return None
    except NotADirectoryError:
        return Fault(os.fspath(path), 0, "", "a file has the name of its folder", right, "file-there")
    except ValueError:
        plain = os.fspath(path).replace("\0", "?")
        return Fault(plain, 0, "", "not a usable name", "name another with --out", "bad-name")
    if stat.S_ISDIR(found.st_mode):
        wrong = "this is a folder"
        return Fault(path.as_posix(), 0, "", wrong, "give the name of a file with --out", "file-there")
    if not stat.S_ISREG(found.st_mode):
        return Fault(path.as_posix(), 0, "", "this is not an ordinary file", right, "file-there")
    if found.st_size and not _is_own(path, content):
        return Fault(path.as_posix(), 0, "", "there is another file of this name", right, "file-there")
    return None


def _is_own(path: Path, ours: bytes) -> bool:
    """Whether a file is an earlier one of the same document. No more of it is read than there is of ours."""
    most = len(ours) + 1
    if ours.startswith(b"PK"):
        title = _title(path, most)
        return title is not None and title == _title(io.BytesIO(ours), most)
    with path.open("rb") as file:
        there = file.read(most)
    if title_said := _HTML_TITLE.search(ours):
        other = _HTML_TITLE.search(there)
        return other is not None and other[1] == title_said[1]
    return there.split(b"\n", 1)[0].strip() == ours.split(b"\n", 1)[0].strip()


def _title(workbook: Path | io.BytesIO, most: int) -> bytes | None:
    """The title in a workbook's properties; None where it is no workbook or has none."""
    try:
        with zipfile.ZipFile(workbook) as package, package.open("docProps/core.xml") as part:
            found = _BOOK_TITLE.search(part.read(most))
    except Exception:
        # zipfile raises many kinds on what is no archive, or a damaged one.
        return None
    return None if found is None else found[1]
