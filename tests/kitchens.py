"""A tiny kitchen on disk with the commands bound to it, and how its papers are filled in."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal

import openpyxl
import pytest
from run_folders import once, run_folder

from ordering import bookkeeping
from ordering.faults import Refused
from ordering.ledger import store
from ordering.loading import load
from ordering.records.buying import OrderLine
from ordering.records.documents import Meant

THU = date(2026, 11, 26)
SAT = THU + timedelta(2)

CONFIG = {
    "house.yaml": """
name: The Tiny Oven
currency: GBP
timezone: Europe/London
services:
  dinner: {days: [thu, fri, sat]}
order_day: thu
""",
    "vendors.yaml": """
miller:
  name: Old Mill
  phone: +44 1632 960 001
  email: orders@miller.example
  deliveries: [{day: sat, order_by: thu 15:00}]
  minimum: 30.00
poulterer:
  name: Marsh Fowl
  email: orders@poulterer.example
  deliveries: [{day: sat, order_by: thu 12:00}]
""",
    "ingredients.yaml": """
flour:
  name: Bread flour
  unit: kg
  store: dry store
  par: 20 kg
  offers:
    - {vendor: miller, code: M-1, pack: 25 kg, price: 20.00, breaks: {4: 18.00}}
    - {vendor: miller, code: M-2, pack: 10 kg, price: 9.00}
yeast:
  name: Yeast
  unit: g
  store: fridge
  keeps: 10 d
  offers:
    - {vendor: miller, code: M-9, pack: 500 g, price: 4.00}
duck:
  name: Duck
  unit: kg
  store: fridge
  keeps: 5 d
  offers:
    - {vendor: poulterer, code: "077", pack: 1 each ~ 2 kg, price: 9.00, per: kg}
""",
    "recipes.yaml": """
pie:
  name: Duck pie
  makes: 10 each
  from:
    - {item: flour, quantity: 2 kg}
    - {item: duck, quantity: 3 kg}
    - {item: yeast, quantity: 20 g}
confit:
  name: Duck confit
  makes: 2 kg
  keeps: 20 d
  store: fridge
  from:
    - {item: duck, quantity: 4 kg}
""",
    "menu.yaml": """
duck-pie:
  name: Duck pie
  recipe: pie
  portion: 1 each
  price: 18.00
  services: [dinner]
""",
}
COUNTS = (
    "counted_on,item,quantity,unit\n2026-11-19,flour,30,kg\n2026-11-19,yeast,400,g\n2026-11-19,duck,4,kg\n"
)


def order_line(vendor, code, item, packs, pack_quantity, price, **rest):
    return OrderLine(
        vendor=vendor,
        code=code,
        item=item,
        description=item,
        packs=packs,
        pack=f"{pack_quantity}",
        quantity=packs * pack_quantity,
        unit="g" if item == "yeast" else "kg",
        price=Decimal(price),
        amount=Decimal(price) * packs,
        order_by=datetime(2026, 11, 26, 15, 0),
        deliver_on=SAT,
        **rest,
    )


LINES = (
    order_line("miller", "M-1", "flour", 3, 25.0, "20.00"),
    order_line("miller", "M-9", "yeast", 2, 500.0, "4.00"),
    order_line("poulterer", "077", "duck", 5, 2.0, "18.00", is_catch_weight=True, quoted="9.00 per kg"),
)


class Kitchen:
    """A house on disk with the commands bound to it."""

    def __init__(self, folder):
        self.folder = folder
        self.config, self.books, self.runs = folder / "config", folder / "books", folder / "runs"
        for path in (self.config, self.books):
            path.mkdir()
        for name, text in CONFIG.items():
            (self.config / name).write_text(text)
        (self.books / "counts.csv").write_text(COUNTS)

    @property
    def house(self):
        return load(self.config, self.books, THU).house

    def make_run(self, lines=LINES):
        """A run folder as `order` writes it, by the same pages and writers, of what is on order now."""

        def make():
            return run_folder(self.house, self.runs, THU, lines, self.books, self.ledger().orders)

        return once(self.folder, ("run", tuple(lines)), make)

    def write_packs(self, vendor, code, value, run="2026-11-26"):
        """Change the packs of one line in a vendor's sheet, as a chef would."""
        path = self.runs / run / "orders" / f"{vendor}.xlsx"
        book = openpyxl.load_workbook(path)
        sheet = book.active
        cell = next(
            sheet.cell(row=c.row, column=4) for row in sheet.iter_rows() for c in row if c.value == code
        )
        assert cell.protection.locked is False
        cell.value = value
        book.save(path)
        return cell.coordinate

    def place(self, *without, on=THU, run="2026-11-26", **more):
        terms = bookkeeping.PlacingTerms(without, **more)
        return bookkeeping.place(self.config, self.books, self.runs, run, terms, on)

    def receive(self, text, name="delivery.csv", on=SAT, yes=False, corrects="", also=False):
        file = self.folder / name
        heads = ["delivered_on", "vendor", "code", "packs", "quantity", "unit", "price", "use_by"]
        rows = "".join(row + "," * (len(heads) - 1 - row.count(",")) + "\n" for row in text.split())
        file.write_text(",".join(heads) + "\n" + rows)
        return bookkeeping.receive(self.config, self.books, file, on, Meant(corrects, also, yes))

    def count(self, text, name="count.csv", on=THU, yes=False, corrects="", also=False):
        file = self.folder / name
        file.write_text("counted_on,item,quantity,unit,use_by\n" + text)
        return bookkeeping.count_in(self.config, self.books, file, on, Meant(corrects, also, yes))

    def seen(self, on=SAT + timedelta(1)):
        loaded = load(self.config, self.books, on)
        return store.with_ledger(loaded.books, loaded.house, self.books, on)

    def loaded(self, on):
        return load(self.config, self.books, on)

    def ledger(self):
        return store.bookings(self.books)


def refused(call):
    with pytest.raises(Refused) as caught:
        call()
    return caught.value


WASTE = "date,item,quantity,unit,reason\n"
BATCHES = "started_on,recipe,drawn,made,unit\n"
WITH_REASON = "delivered_on,vendor,code,packs,quantity,unit,price,reason"


def placed(kitchen):
    """The kitchen with its run made and placed."""
    run = kitchen.make_run()

    def place():
        kitchen.place()
        return run

    once(kitchen.folder, "place", place)
    return kitchen


def door(kitchen, text, heads="delivered_on,vendor,code,packs,quantity,unit,price", **rest):
    """Book in a list with columns of its own."""
    file = kitchen.folder / rest.pop("name", "door.csv")
    file.write_text(f"{heads}\n{text}")
    on, meant = rest.pop("on", SAT), Meant(is_confirmed=rest.pop("yes", False))
    return bookkeeping.receive(kitchen.config, kitchen.books, file, on, meant, rest.pop("invoice", None))


def received(sheet, packs):
    """The received column of an order sheet filled in, in a copy of it."""
    book = openpyxl.load_workbook(sheet)
    page = book.active
    heads = next(row for row in page.iter_rows() if {"code", "received"} <= {cell.value for cell in row})
    at = {cell.value: cell.column - 1 for cell in heads}
    for row in page.iter_rows(min_row=heads[0].row + 1):
        if row[at["code"]].value in packs:
            row[at["received"]].value = packs[row[at["code"]].value]
    copy = sheet.with_name(f"received-{sheet.name}")
    book.save(copy)
    return copy


def delivery_sheet(kitchen, name="door.xlsx", on=SAT):
    out = kitchen.folder / name
    return out, bookkeeping.receive_out(kitchen.config, kitchen.books, on, out)


def fill(path, **by_code):
    """Write into a delivery sheet: code=(packs, quantity, price), None for what stays."""
    book = openpyxl.load_workbook(path)
    sheet = book.active
    head = next(r for r in sheet.iter_rows() if r[0].value == "code")
    at = {c.value: c.column for c in head}
    for row in sheet.iter_rows(min_row=head[0].row + 1):
        for name, value in zip(("packs", "quantity", "price"), by_code.get(row[0].value, ()), strict=False):
            cell = sheet.cell(row[0].row, at[name])
            assert cell.protection.locked is False
            cell.value = cell.value if value is None else value
    book.save(path)


def filled(file, quantities, sheet=None):
    """Fill in a count sheet: by item, what is written into its lines from the first."""
    book = openpyxl.load_workbook(file)
    page = book[sheet] if sheet else book.active
    heads = {c.value: c.column for c in next(r for r in page.iter_rows() if r[0].value == "what")}
    left = {item: list(given) for item, given in quantities.items()}
    for row in page.iter_rows():
        given = left.get(row[heads["item"] - 1].value)
        if given:
            row[heads["quantity"] - 1].value = given.pop(0)
    book.save(file)


def lines_of(file):
    """The lines of a count sheet: item, use by."""
    page = openpyxl.load_workbook(file).active
    heads = {c.value: c.column for c in next(r for r in page.iter_rows() if r[0].value == "what")}
    rows = [[row[heads[h] - 1].value for h in ("item", "use by")] for row in page.iter_rows(min_row=8)]
    return [(item, day and day.date()) for item, day in rows if item]


def sheet_of_lots(kitchen, counts):
    (kitchen.books / "counts.csv").write_text("counted_on,item,quantity,unit,use_by\n" + counts)
    out = kitchen.folder / "lots.xlsx"
    bookkeeping.count_out(kitchen.config, kitchen.books, THU, out)
    return out


def book(kitchen, text, name="entries.csv", on=SAT, meant=None):
    file = kitchen.folder / name
    file.write_text(text)
    return bookkeeping.count_in(kitchen.config, kitchen.books, file, on, meant or Meant())
