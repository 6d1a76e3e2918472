"""Where `--out` may write: over what the same command wrote before, and over nothing else."""

import os
from datetime import datetime
from pathlib import Path

import pytest

from ordering.faults import Refused
from ordering.records.page import Cell, Sheet, Workbook
from ordering.write.outputs import write_outputs
from ordering.write.xlsx import workbook_bytes

CSV = b"date,service,dish\n2026-11-26,dinner,*\n"


def book(title):
    sheet = Sheet(title="One", rows=((Cell(title, "title"),),), widths=(10.0,))
    return workbook_bytes(Workbook(title=title, sheets=(sheet,), created=datetime(2026, 11, 26)))


PAGE = b"<html><head><title>Review, November</title></head></html>"


def refused(files):
    with pytest.raises(Refused) as found:
        write_outputs(files)
    return [(f.kind, f.wrong) for f in found.value.faults]


@pytest.mark.parametrize("content", [CSV, book("Backtest"), PAGE])
def test_a_document_is_written_over_one_of_the_same_heading(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "new" / "file"
    write_outputs({path: content})
    write_outputs({path: content + b" "})
    assert path.read_bytes() == content + b" "


@pytest.mark.parametrize("there", [b"counted_on,item\n", b"SQLite format 3\x00", book("Other"), b"<html>"])
@pytest.mark.parametrize("content", [CSV, book("Backtest"), PAGE])
def test_anything_else_is_left_as_it_is(tmp_path: Path, there: bytes, content: bytes) -> None:
    path, other = tmp_path / "counts.csv", tmp_path / "fine.csv"
    path.write_bytes(there)
    assert refused({other: content, path: content}) == [("file-there", "there is another file of this name")]
    assert path.read_bytes() == there
    assert not other.exists(), "nothing is written where one of several is refused"


def test_devices_folders_and_names_that_cannot_be_are_refused(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.csv"
    os.mkfifo(pipe)
    (tmp_path / "plain").write_bytes(b"")
    assert refused({pipe: CSV}) == [("file-there", "this is not an ordinary file")]
    assert refused({Path(os.devnull): CSV}) == [("file-there", "this is not an ordinary file")]
    assert refused({tmp_path: CSV}) == [("file-there", "this is a folder")]
    assert refused({Path("a\0b.csv"): CSV}) == [("bad-name", "not a usable name")]
    assert refused({tmp_path / "plain" / "x.csv": CSV}) == [
        ("file-there", "a file has the name of its folder")
    ]
