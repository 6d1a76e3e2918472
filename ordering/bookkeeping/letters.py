"""Letters and sheets of what has been placed, written as they must go out.

What each vendor was told last stands in the run folder, in `placed.json`: by number of the order, its version
in the ledger. A letter is due for every order that stands otherwise. Booking comes first and telling after:
a command stopped in between is made good by the next, and no vendor holds an order that the books do not.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from ordering.bookkeeping.order_sheets import sheet_files
from ordering.ledger import rows, store
from ordering.ledger.order_lines import line_of_placed, run_line_key
from ordering.pages.letter import amendment, letter
from ordering.pages.order_sheet import order_sheet
from ordering.pages.ubl import machine_orders
from ordering.read.run_folder import PLACED, placed_facts
from ordering.records.buying import OrderLine
from ordering.records.documents import Document, Line
from ordering.records.house import House
from ordering.records.ledger import Placed
from ordering.records.page import Letter
from ordering.records.vendor_orders import Order, orders_of
from ordering.write.eml import letter_bytes
from ordering.write.facts import facts_bytes
from ordering.write.folder import clear_unwritten, write_file
from ordering.write.xlsx import workbook_bytes

EDITED = "as-edited"


@dataclass(frozen=True, slots=True)
class Telling:
    """A run of which vendors are to be told.

    When it is placed, its lines as proposed, the orders of its sheets with lines taken off among them, what
    other runs have on order.
    """

    folder: Path
    run: str
    made: datetime
    lines: tuple[OrderLine, ...]
    sheets: tuple[Order, ...]
    others: tuple[Placed, ...]


@dataclass(frozen=True, slots=True)
class _Due:
    """An order that stands otherwise than its vendor was told: `before` None where it was told nothing."""

    before: Order | None
    now: Order


def tell(house: House, books_dir: Path, telling: Telling) -> tuple[Path, ...]:
    """Write the letters that are due, and the sheets of their vendors; the letters' files.

    One command at a time: the ledger is held meanwhile, though nothing is written into it.
    """
    if not _not_told(books_dir, telling):
        return ()
    with store.open_ledger(books_dir) as ledger, store.transaction(ledger):
        clear_unwritten(telling.folder)
        return _tell(house, books_dir, telling)


def _tell(house: House, books_dir: Path, telling: Telling) -> tuple[Path, ...]:
    told = _told(telling.folder)
    due: list[_Due] = []
    for document, lines in _not_told(books_dir, telling):
        last = _last_told(told, telling.run, document)
        earlier = store.lines_of(books_dir, document.number, last) if last else None
        due.append(_due(house, telling, document, lines, earlier))
    letters = dict(_letters(house, telling, [d for d in due if d.before or d.now.lines], told))
    for path, content in letters.items():
        write_file(path, content)
    for vendor in sorted({d.now.vendor for d in due}):
        _write_sheet(house, telling, vendor)
    told |= {document.number: document.version for document, _ in store.orders_of_run(books_dir, telling.run)}
    new: dict[str, Any] = {"run": telling.run, "house": house.name, "told": dict(sorted(told.items()))}
    write_file(telling.folder / PLACED, facts_bytes(new))
    return tuple(letters)


def _not_told(books_dir: Path, telling: Telling) -> list[tuple[Document, tuple[Line, ...]]]:
    """Orders that stand otherwise than their vendors were told."""
    told = _told(telling.folder)
    return [
        (document, lines)
        for document, lines in store.orders_of_run(books_dir, telling.run)
        if document.version > _last_told(told, telling.run, document)
    ]


def _told(folder: Path) -> dict[str, int]:
    """By number of the order the version its vendor was told last."""
    facts = dict(placed_facts(folder).get("told", {}))
    return {str(number): int(version) for number, version in facts.items()}


def _last_told(told: Mapping[str, int], run: str, document: Document) -> int:
    """Of an order of another run, taken back by this one, the version before was told by that run."""
    return told.get(document.number, 0 if document.run == run else document.version - 1)


def _due(
    house: House, telling: Telling, document: Document, lines: Sequence[Line], earlier: Sequence[Line] | None
) -> _Due:
    now = _order(house, telling, document, lines)
    before = None if earlier is None else _order(house, telling, document, earlier)
    return _Due(before, replace(now, amendment=document.version - 1 if before else 0))


def _order(house: House, telling: Telling, document: Document, lines: Sequence[Line]) -> Order:
    """A version of an order with all that a letter says."""
    proposed = {run_line_key(line): line for line in telling.lines}
    found = []
    for line in lines:
        p = rows.placed_of(line, document.number, document.run, document.booked_on)
        bare = proposed.get((p.vendor, p.deliver_on, p.code))
        found.append(as_placed(house, p, bare))
    drop = (document.party, document.day)
    orders = orders_of(house, found, {drop: document.number}, telling.others)
    return orders[0] if orders else Order(*drop, (), number=document.number)


def as_placed(house: House, p: Placed, proposed: OrderLine | None) -> OrderLine:
    """A line as it was placed; described as the run proposed it, or as the house has it now."""
    if proposed is None:
        return line_of_placed(house, p)
    quoted = proposed.quoted if p.price == proposed.price or p.packs != proposed.packs else ""
    return replace(
        proposed, packs=p.packs, quantity=p.quantity, price=p.price, amount=p.amount, quoted=quoted
    )


def _letters(
    house: House, telling: Telling, due: Sequence[_Due], told: Mapping[str, int]
) -> Iterable[tuple[Path, bytes]]:
    """The letters by file: one a vendor for what it was not told of yet, one for each order changed."""
    new: dict[str, list[Order]] = {}
    for d in due:
        if d.before is None:
            new.setdefault(d.now.vendor, []).append(d.now)
    numbers_told = set(told)
    for vendor, orders in sorted(new.items()):
        of = house.vendors[vendor]
        first = all(order.number not in numbers_told for order in telling.sheets if order.vendor == vendor)
        stem = vendor if first else f"{vendor}-{orders[0].number}"
        sheet = order_sheet(house, of, orders, telling.made)
        machine = machine_orders(house, of, orders, telling.made)
        yield _file(telling, stem, letter(house, of, orders, telling.made, sheet, machine=machine))
        yield from ((telling.folder / "orders" / name, one.text.encode()) for name, one in machine.items())
    for d in due:
        if d.before is None or d.now.vendor not in house.vendors:
            continue
        of = house.vendors[d.now.vendor]
        stands = order_sheet(house, of, [d.now], telling.made) if d.now.lines else None
        what = f"amendment-{d.now.amendment}" if d.now.lines else "cancelled"
        draft = amendment(house, of, d.before, d.now, telling.made, stands)
        yield _file(telling, f"{d.now.vendor}-{d.now.number}-{what}", draft)


def _file(telling: Telling, stem: str, draft: Letter) -> tuple[Path, bytes]:
    return telling.folder / "orders" / f"{stem}.eml", letter_bytes(draft)


def _write_sheet(house: House, telling: Telling, vendor: str) -> None:
    """Write a vendor's sheet anew; what somebody wrote into it is kept beside."""
    orders = [order for order in telling.sheets if order.vendor == vendor]
    if not orders or vendor not in house.vendors:
        return
    content = workbook_bytes(order_sheet(house, house.vendors[vendor], orders, telling.made))
    for path in sheet_files(telling.folder, vendor):
        there = path.read_bytes()
        if there == content:
            continue
        write_file(_free(telling.folder / "orders" / EDITED, path, there), there)
        if path.suffix == ".csv":
            path.unlink()
    write_file(telling.folder / "orders" / f"{vendor}.xlsx", content)


def _free(folder: Path, path: Path, content: bytes) -> Path:
    """A name in the folder that is not taken by anything else: `mill.xlsx`, `mill-2.xlsx` and so on."""
    place, n = folder / path.name, 1
    while place.exists() and place.read_bytes() != content:
        n += 1
        place = folder / f"{path.stem}-{n}{path.suffix}"
    return place
