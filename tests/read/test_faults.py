"""One small input for each kind of fault or doubt, and what is said about it.

Each folder in `tests/faults` has only what differs from the folder `sound`: files of a house (`*.yaml`), its
books (`*.csv`, `*.xlsx`), a delivery file (or its name alone in `deliveries.path`) or a filled count
(`count.csv`) to be booked in, and in `absent.txt` what is taken away. `expected.txt` has every fault, or
every doubt where there is no fault, with its kind. A folder is named for its kind, with a second name after a
point where a kind has several cases.

To write the expected texts anew after a change of wording: `python tests/read/test_faults.py`, then read the
difference.
"""

import ast
import re
import shutil
import sys
import tempfile
from datetime import date
from pathlib import Path

import pytest

from ordering import bookkeeping, read
from ordering.faults import Refused
from ordering.ledger import counting, doubting
from ordering.read.books import read_books, read_deliveries
from ordering.read.checks import doubts
from ordering.read.house import read_house

HERE = Path(__file__).parent.parent / "faults"
CASES = sorted(path.name for path in HERE.iterdir() if path.is_dir())
ON = date(2026, 11, 26)
NOT_KINDS = {"ox-cheek"}
BUILT_KINDS = {"unknown-vendor", "unknown-recipe", "unknown-dish", "unknown-service"}
BOOKED_KINDS = {"future", "hundredth"}


def laid_out(case, target):
    """The input of a case in `target/config` and `target/books`."""
    config, books = target / "config", target / "books"
    config.mkdir()
    books.mkdir()
    for source in [*(HERE / "sound").iterdir(), *(HERE / case).iterdir()]:
        if source.name not in ("expected.txt", "absent.txt"):
            shutil.copy(source, config if source.suffix in (".yaml", ".yml") else books)
    absent = HERE / case / "absent.txt"
    for name in absent.read_text("utf-8").split() if absent.exists() else ():
        for path in (config / name, books / name, target / name):
            shutil.rmtree(path) if path.is_dir() else path.unlink(missing_ok=True)
    return config, books


def found_in(case, target):
    """Every fault of a case, or every doubt where nothing is at fault."""
    config, books_dir = laid_out(case, target)
    house, faults = read_house(config)
    assert (house is None) == bool(faults)
    books, book_faults = read_books(books_dir, house)
    assert (books is None) == (house is None or bool(book_faults))
    faults = [*faults, *book_faults]
    named = books_dir / "deliveries.path"
    deliveries = books_dir / (named.read_text("utf-8").strip() if named.exists() else "deliveries.csv")
    if house is not None and (named.exists() or deliveries.exists()):
        faults += read_deliveries(deliveries, house)[1]
    if faults or house is None or books is None:
        return faults
    return refused_in(config, books_dir, deliveries) or doubts(house, books, ON)


def refused_in(config, books_dir, deliveries):
    """What is refused of a delivery or a filled count that can be read."""
    count = books_dir / "count.csv"
    try:
        if deliveries.exists():
            bookkeeping.receive(config, books_dir, deliveries, ON, False)
        if count.exists():
            bookkeeping.count_in(config, books_dir, count, ON, False)
    except Refused as refused:
        return refused.faults
    return ()


def as_text(faults, target):
    lines = [f"[{fault.kind}] {fault}\n" for fault in sorted(faults)]
    return "".join(lines).replace(f"{target.as_posix()}/", "")


@pytest.mark.parametrize("case", CASES)
def test_each_case_says_what_is_expected(case, tmp_path):
    """Every message names its file, says what is wrong and what would be right."""
    expected = (HERE / case / "expected.txt").read_text("utf-8")
    faults = found_in(case, tmp_path)
    assert as_text(faults, tmp_path) == expected
    assert case == "sound" or case.partition(".")[0] in {fault.kind for fault in faults}
    assert all(fault.right for fault in faults)


def test_every_kind_of_fault_has_a_case():
    kinds = BUILT_KINDS | BOOKED_KINDS
    for path in [*Path(read.__file__).parent.glob("*.py"), Path(counting.__file__), Path(doubting.__file__)]:
        if path.name in ("grid.py", "run_folder.py"):
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Constant) and re.fullmatch(r"[a-z]+(-[a-z]+)+", str(node.value)):
                kinds.add(node.value)
    assert kinds - NOT_KINDS == {case.partition(".")[0] for case in CASES} - {"sound"}


if __name__ == "__main__":
    for one in CASES:
        with tempfile.TemporaryDirectory() as scratch:
            written = as_text(found_in(one, Path(scratch)), Path(scratch))
        (HERE / one / "expected.txt").write_text(written, "utf-8")
        sys.stdout.write(f"== {one}\n{written[:1500]}")
