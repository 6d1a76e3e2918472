"""One small input for each kind of fault or doubt, and what is said about it.

Grouped by where it is met: `yaml` (how the house's files are written), `house` (what they say), `books`,
`counting`, `receiving`, `placing`, `groups`, and `doubts`, which refuse nothing.

Each folder in one of these has only what differs from the folder `sound`: files of a house (`*.yaml`), its
books (`*.csv`, `*.xlsx`), a delivery file (or its name alone in `deliveries.path`) or a filled count
(`count.csv`) to be booked in, and in `absent.txt` what is taken away. `place.txt` is a run to be placed: what
is typed after `place` in its first line, then what was done to the run folder before, a line each:

    cell ROW HEAD TEXT    written into a line (from 1) of the vendor's sheet, under that heading
    sheet WHAT            the sheet is `missing`, `half` a file, or another `workbook`
    orders OLD NEW        a word of the run's orders.csv changed
    delivered             the run had been placed, and its first line had come
    ledger                the ledger is taken away
    swapped               a second run had been made, and has the first one's sheet
    csv                   another list of lines is saved as csv beside the sheet
    another               a second run had been made as well, and the first placed

`second.csv` is a delivery booked in after the first; `corrects.txt` has the number that the first is then
said to correct. `out.txt` names the file among the books that an empty count sheet is to be written to.
`expected.txt` has every fault, or every doubt where there is no fault, with its kind. A folder is named for
its kind, with a second name after a point where a kind has several cases.

To write the expected texts anew after a change of wording: `python tests/read/test_faults.py`, then read the
difference.
"""

import ast
import re
import shlex
import shutil
import sys
import tempfile
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
from program_source import MODULES, nodes
from run_folders import run_folder

from ordering import bookkeeping
from ordering.faults import Refused
from ordering.read.books_folder import read_books, read_deliveries
from ordering.read.checks import doubts
from ordering.read.group_file import read_group
from ordering.read.house_folder import read_house
from ordering.records.buying import OrderLine
from ordering.records.documents import Meant

HERE = Path(__file__).parent.parent / "faults"
CASES = ["sound", *sorted(path.parent.relative_to(HERE).as_posix() for path in HERE.glob("*/*/expected.txt"))]
ON = date(2026, 11, 26)
HOUSE_TABLES = ("vendors", "ingredients", "recipes", "menu")
NOT_KINDS = {
    "ox-cheek",
    "counted-with-delivery",  # needs a delivery in the ledger: tests/bookkeeping/test_counting.py
    "counted-already",  # needs a count in the ledger: tests/bookkeeping/test_counting.py
    "back-unseen",  # needs a delivery in the ledger: tests/bookkeeping/test_as_it_came.py
    "which-order",  # needs two orders in the ledger: tests/bookkeeping/test_as_ordered.py
}
BUILT_KINDS = {"unknown-vendor", "unknown-recipe", "unknown-dish", "unknown-service"}
BOOKED_KINDS = {"future", "hundredth", "delivered"}
# Of the ledger's own file and of what is told once it is read: see tests/ledger, not a case with an input.
NOT_OF_INPUT = {"connection.py", "credit_notes.py", "letters.py", "merge.py", "prices.py"}


def laid_out(case, target):
    """The input of a case in `target/config` and `target/books`."""
    config, books = target / "config", target / "books"
    config.mkdir()
    books.mkdir()
    for source in [*(HERE / "sound").iterdir(), *(HERE / case).iterdir()]:
        if source.name not in ("expected.txt", "absent.txt"):
            is_house = source.suffix in (".yaml", ".yml") or source.stem in HOUSE_TABLES
            shutil.copy(source, config if is_house else books)
    absent = HERE / case / "absent.txt"
    for name in absent.read_text("utf-8").split() if absent.exists() else ():
        for path in (config / name, books / name, target / name):
            shutil.rmtree(path) if path.is_dir() else path.unlink(missing_ok=True)
    return config, books


def kind_of(case):
    return case.rpartition("/")[2].partition(".")[0]


def found_in(case, target):
    """Every fault of a case, or every doubt where nothing is at fault."""
    config, books_dir = laid_out(case, target)
    if (config / "group.yaml").exists():
        return refused_group(config / "group.yaml")
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
    if (books_dir / "place.txt").exists():
        return refused_placing(config, books_dir, house)
    return refused_in(config, books_dir, deliveries) or doubts(house, books, ON)


def refused_in(config, books_dir, deliveries):
    """What is refused of a delivery or a filled count that can be read, or of writing an empty one."""
    count, out = books_dir / "count.csv", books_dir / "out.txt"
    second, corrects = books_dir / "second.csv", books_dir / "corrects.txt"
    try:
        if deliveries.exists():
            bookkeeping.receive(config, books_dir, deliveries, ON, Meant())
        if second.exists():
            bookkeeping.receive(config, books_dir, second, ON, Meant())
        if corrects.exists():
            number = corrects.read_text("utf-8").strip()
            bookkeeping.receive(config, books_dir, deliveries, ON, Meant(corrects=number))
        if count.exists():
            bookkeeping.count_in(config, books_dir, count, ON, Meant())
        if out.exists():
            bookkeeping.count_out(config, books_dir, ON, books_dir / out.read_text("utf-8").strip())
    except Refused as refused:
        return refused.faults
    return ()


def refused_group(file):
    try:
        read_group(file)
    except Refused as refused:
        return refused.faults
    return ()


def refused_placing(config, books_dir, house):
    """What is refused of a run of two lines, for this Thursday week and the Thursday after."""
    runs = books_dir.parent / "runs"
    lines = [order_line(ON + timedelta(weeks=n)) for n in (1, 2)]
    folder = run_folder(house, runs, ON, lines, books_dir)
    typed, *done = (books_dir / "place.txt").read_text("utf-8").splitlines()
    run, *options = typed.split()

    def place(*without, run=run):
        return bookkeeping.place(config, books_dir, runs, run, bookkeeping.PlacingTerms(without), ON)

    for what, *said in map(shlex.split, done):
        if what == "another":
            run_folder(house, runs, ON, lines, books_dir)
            place(run=ON.isoformat())
        elif what == "swapped":
            second = run_folder(house, runs, ON, lines, books_dir)
            shutil.copy(folder / "orders" / "farm.xlsx", second / "orders" / "farm.xlsx")
        elif what == "delivered":
            place()
            file = books_dir.parent / "delivery.csv"
            heads = "delivered_on,vendor,code,packs,quantity,unit,price"
            file.write_text(f"{heads}\n2026-12-03,farm,C-1,2,10,kg,6.00\n")
            bookkeeping.receive(config, books_dir, file, date(2026, 12, 3), Meant())
        else:
            changed_by_hand(folder, books_dir, what, said)
    try:
        place(*(option for option in options if option != "--without"))
    except Refused as refused:
        return refused.faults
    return ()


def changed_by_hand(folder, books_dir, what, said):
    """A file of the run, or the ledger, as somebody left it."""
    if what == "cell":
        write_cell(folder / "orders" / "farm.xlsx", *said)
    elif what == "sheet":
        damage(folder / "orders" / "farm.xlsx", *said)
    elif what == "csv":
        (folder / "orders" / "farm.csv").write_text("deliver on,code,packs\n2026-12-03,C-1,9\n")
    elif what == "ledger":
        (books_dir / "ledger.sqlite").unlink()
    else:
        assert what == "orders"
        text = (folder / "orders.csv").read_text("utf-8")
        assert said[0] in text
        (folder / "orders.csv").write_text(text.replace(*said), "utf-8")


def order_line(day):
    """Two packs of carrots from the sound house's only vendor."""
    return OrderLine(
        vendor="farm",
        code="C-1",
        item="carrot",
        description="Carrot",
        packs=2,
        pack="5 kg",
        quantity=10.0,
        unit="kg",
        price=Decimal("6.00"),
        amount=Decimal("12.00"),
        order_by=datetime.combine(day - timedelta(days=1), datetime.min.time()),
        deliver_on=day,
    )


def write_cell(path, row, head, text):
    """Write under a heading of the order sheet, as somebody with a spreadsheet would."""
    book = openpyxl.load_workbook(path)
    sheet = book.active
    heads = next(line for line in sheet.iter_rows() if {"code", head} <= {cell.value for cell in line})
    at = next(cell for cell in heads if cell.value == head)
    sheet.cell(at.row + int(row), at.column).value = (
        date.fromisoformat(text) if text.count("-") == 2 else text
    )
    book.save(path)


def damage(path, how):
    if how == "missing":
        path.unlink()
    elif how == "half":
        path.write_bytes(path.read_bytes()[:2000])
    else:
        assert how == "workbook"
        openpyxl.Workbook().save(path)


def as_text(faults, target):
    lines = [f"[{fault.kind}] {fault}\n" for fault in sorted(faults)]
    return "".join(lines).replace(f"{target.as_posix()}/", "")


@pytest.mark.parametrize("case", CASES)
def test_each_case_says_what_is_expected(case, tmp_path):
    """Every message names its file, says what is wrong and what would be right."""
    expected = (HERE / case / "expected.txt").read_text("utf-8")
    faults = found_in(case, tmp_path)
    assert as_text(faults, tmp_path) == expected
    assert case == "sound" or kind_of(case) in {fault.kind for fault in faults}
    assert all(fault.right for fault in faults)


def test_every_kind_of_fault_has_a_case():
    kinds = BUILT_KINDS | BOOKED_KINDS
    rooms = ("read", "bookkeeping", "ledger")
    for path in (p for p in MODULES if p.parent.name in rooms and p.name not in NOT_OF_INPUT):
        for node in nodes(path):
            if isinstance(node, ast.Constant) and re.fullmatch(r"[a-z]+(-[a-z]+)+", str(node.value)):
                kinds.add(node.value)
    assert kinds - NOT_KINDS == {kind_of(case) for case in CASES} - {"sound"}


def test_every_case_stands_in_a_group():
    assert [path.parent.name for path in HERE.glob("*/expected.txt")] == ["sound"]


if __name__ == "__main__":
    for one in CASES:
        with tempfile.TemporaryDirectory() as scratch:
            written = as_text(found_in(one, Path(scratch)), Path(scratch))
        (HERE / one / "expected.txt").write_text(written, "utf-8")
        sys.stdout.write(f"== {one}\n{written[:1500]}")
