"""Files and run folders that appear whole or not at all."""

from __future__ import annotations

import errno
import os
import re
import shutil
import stat
import tempfile
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path, PurePosixPath

_BUILDING = ".building-"
_WRITING = ".writing-"
UNBOOKED = ".unbooked"
_PART = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")


def write_run(runs: Path, stem: str, files: Mapping[str, bytes], is_booked: bool = True) -> Path:
    """Put a run's files into a new folder `runs/stem`, or `stem-2` and so on where that is taken.

    They are written into a hidden folder beside it, brought to disk and renamed in one step, so
    that no half of a run is ever seen. A run that `is_booked` only later is marked until `mark_booked`.

    Raises
    ------
    ValueError : a name leads out of the folder or holds anything but letters, digits, `.`, `_`, `-`
    OSError : the disk refuses; nothing is left behind
    """
    parts = {name: _checked(name) for name in (stem, *files)}
    if len(parts[stem].parts) != 1:
        raise ValueError(f"a run's name is one word, not {stem!r}")
    is_new = not runs.exists()
    runs.mkdir(parents=True, exist_ok=True)
    building: Path | None = None
    try:
        building = _new_folder(runs)
        for name, content in files.items():
            _write_through(building / parts[name], content)
        if not is_booked:
            _write_through(building / UNBOOKED, b"")
        for folder in sorted({building, *(p for p in building.rglob("*") if p.is_dir())}):
            _sync_folder(folder)
        building.chmod(0o755)
        return _take_place(building, runs, stem)
    except BaseException:
        if building is not None:
            shutil.rmtree(building, ignore_errors=True)
        if is_new:
            with suppress(OSError):
                runs.rmdir()
        raise


def mark_booked(folder: Path) -> None:
    """Take the mark off a run that has been booked. Where that fails the next run does it."""
    with suppress(OSError):
        (folder / UNBOOKED).unlink(missing_ok=True)
        _sync_folder(folder)


def drop_run(folder: Path) -> None:
    """Take a run away again that could not be booked, and the folder of runs where it was the first.

    It loses its name first: half of it is never seen.
    """
    with suppress(OSError):
        folder = folder.rename(folder.with_name(f"{_BUILDING}{folder.name}"))
    shutil.rmtree(folder, ignore_errors=True)
    with suppress(OSError):
        folder.parent.rmdir()


def clear_unfinished(runs: Path, is_booked: Callable[[Path], bool]) -> None:
    """Take away what a run left behind that was stopped while it was written or before it was booked.

    To be called while no other run of the house can be writing. `is_booked` tells it of a run's folder.
    """
    if not runs.is_dir():
        return
    for mark in runs.glob(f"*/{UNBOOKED}"):
        if is_booked(mark.parent):
            mark_booked(mark.parent)
        else:
            mark.parent.rename(runs / f"{_BUILDING}{mark.parent.name}")
    for folder in runs.glob(f"{_BUILDING}*"):
        shutil.rmtree(folder, ignore_errors=True)


def clear_unwritten(folder: Path) -> None:
    """Take away files in a folder and the folders in it that a command was stopped in the middle of writing.

    To be called while no other command can be writing there.
    """
    for left in folder.rglob(f"{_WRITING}*"):
        left.unlink(missing_ok=True)


def write_file(path: Path, content: bytes) -> None:
    """Write one file whole, replacing what is there, under its permissions, once the new one is on disk.

    Raises
    ------
    OSError : the disk refuses, or a folder has this name; what was there stays
    """
    if path.is_dir():
        raise IsADirectoryError(errno.EISDIR, "is a folder; give the name of a file", str(path))
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=f"{_WRITING}{path.name[:40]}-", dir=path.parent)
    building = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        building.chmod(stat.S_IMODE(path.stat().st_mode) if path.exists() else 0o644)
        building.replace(path)
    except BaseException:
        building.unlink(missing_ok=True)
        raise
    _sync_folder(path.parent)


def _new_folder(runs: Path) -> Path:
    """A hidden folder to build in; where the disk refuses, the folder the user knows is named."""
    try:
        return Path(tempfile.mkdtemp(prefix=_BUILDING, dir=runs))
    except OSError as refused:
        raise OSError(refused.errno, refused.strerror, str(runs)) from None


def _checked(name: str) -> PurePosixPath:
    path = PurePosixPath(name)
    if not path.parts or path.is_absolute() or not all(_PART.fullmatch(part) for part in path.parts):
        raise ValueError(f"no safe file name: {name!r}")
    return path


def _write_through(path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("xb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _sync_folder(folder: Path) -> None:
    """Bring a folder's own entries to disk, where the system knows how (Windows does not)."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _take_place(building: Path, runs: Path, stem: str) -> Path:
    n = 1
    while True:
        place = runs / (stem if n == 1 else f"{stem}-{n}")
        if not place.exists():
            try:
                building.rename(place)
            except OSError:
                if not place.exists():
                    raise
            else:
                _sync_folder(runs)
                return place
        n += 1
