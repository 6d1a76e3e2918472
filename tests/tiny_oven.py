"""Two weeks of a tiny house from the command line, and every number of its review traced by hand.

A tart takes 0.2 kg of flour (10.00 for 10 kg, so 1.00 a kg) and 0.1 kg of cheese (20.00 for 2 kg, 10.00 a
kg): 1.20 of ingredients, sold at 9.00. The house opens Thursday to Saturday and orders on Thursday for
Friday.

    Thu  5 Nov   12 kg of flour and 4 kg of cheese counted; order, place (the chef wants 2 packs of flour)
    Fri  6 Nov   2 packs of flour come, of 2 packs of cheese one, at 21.00 instead of 20.00
    5 to 7 Nov   10, 12 (86'd) and 16 tarts; 0.5 kg of cheese goes mouldy on Saturday
    Thu 12 Nov   count: 24.0 kg of flour and 1.6 kg of cheese; order, place
    Fri 13 Nov   everything comes as ordered
    12 to 14 Nov 9, 15 and 21 tarts
    Thu 19 Nov   count; order; the review of 5 to 18 November
"""

from __future__ import annotations

import contextlib
import csv
import io
from datetime import date, timedelta

import kitchens
import openpyxl

from ordering import cli

THU = date(2026, 11, 5)
FRI, SAT = THU + timedelta(1), THU + timedelta(2)
WEEK = timedelta(7)

CONFIG = {
    "house.yaml": f"""{kitchens.CONFIG["house.yaml"]}
policy: {{service_level: 0.9, paths: 50, seed: 1}}
budget: 60.00
""",
    "vendors.yaml": """
miller:
  name: Old Mill
  email: orders@miller.example
  deliveries: [{day: fri, order_by: thu 15:00}]
""",
    "ingredients.yaml": """
flour:
  name: Bread flour
  unit: kg
  store: dry store
  keeps: 60 d
  allergens: [gluten]
  offers:
    - {vendor: miller, code: M-1, pack: 10 kg, price: 10.00}
cheese:
  name: Hard cheese
  unit: kg
  store: fridge
  keeps: 20 d
  allergens: [milk]
  offers:
    - {vendor: miller, code: M-2, pack: 2 kg, price: 20.00}
""",
    "recipes.yaml": """
tart:
  name: Cheese tart
  makes: 10 each
  from:
    - {item: flour, quantity: 2 kg}
    - {item: cheese, quantity: 1 kg}
""",
    "menu.yaml": """
cheese-tart:
  name: Cheese tart
  recipe: tart
  portion: 1 each
  price: 9.00
  services: [dinner]
""",
}
# Covers and tarts as they came; and the evening the tarts ran out.
COVERS = {THU: 22, FRI: 31, SAT: 36, THU + WEEK: 19, FRI + WEEK: 30, SAT + WEEK: 42}
TARTS = {THU: 10, FRI: 12, SAT: 16, THU + WEEK: 9, FRI + WEEK: 15, SAT + WEEK: 21}
SOLD_OUT = FRI
PORTION_COST = 0.2 * 1.00 + 0.1 * 10.00

# The first two heads of each table of the review, by what it is about.
FIRST_HEADS = {
    "Covers": ("service", "ahead"),
    "Covers dinner": ("day", "service"),
    "Dishes": ("dish", "ahead"),
    "Food cost": ("what", "GBP"),
    "Spend": ("week", "sales"),
    "86'd": ("dish", "times"),
    "Thrown away": ("item", "how much"),
    "Orders and use": ("item", "unit"),
    "Prices": ("item", "code"),
    "Worth doing": ("GBP", "what"),
}


class Fortnight:
    """The house on disk, driven by nothing but the command line."""

    def __init__(self, folder):
        self.folder = folder
        for name, text in CONFIG.items():
            self.write(f"config/{name}", text)
        usual = {THU: 20, FRI: 30, SAT: 40}
        covers = [(day - WEEK * n, m) for n in range(10, 0, -1) for day, m in usual.items()]
        self.covers = "date,service,covers\n" + "".join(f"{d},dinner,{n}\n" for d, n in covers)
        self.sales = "date,service,dish,sold,sold_out\n"
        self.sales += "".join(f"{d},dinner,cheese-tart,{n // 2},no\n" for d, n in covers)
        counts = "counted_on,item,quantity,unit\n2026-11-05,flour,12,kg\n2026-11-05,cheese,4,kg\n"
        self.write("books/counts.csv", counts)
        self.sell()

    def write(self, name, text):
        path = self.folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text)
        return path

    def sell(self, *days):
        for day in days:
            out = "yes" if day == SOLD_OUT else "no"
            self.covers += f"{day},dinner,{COVERS[day]}\n"
            self.sales += f"{day},dinner,cheese-tart,{TARTS[day]},{out}\n"
        self.write("books/covers.csv", self.covers)
        self.write("books/sales.csv", self.sales)

    def run(self, *words, on):
        places = [f"--{name}={self.folder / name}" for name in ("config", "books", "runs")]
        said, complained = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(complained):
            status = cli.main([*map(str, words), *places, f"--on={on}"])
        assert status in (0, 1), complained.getvalue()
        return status, said.getvalue()

    def table(self, run, name):
        with (self.folder / "runs" / run / f"{name}.csv").open() as file:
            return list(csv.DictReader(file))

    def ordered(self, run):
        return {r["code"]: int(r["packs"]) for r in self.table(run, "orders") if r["deliver_on"][:10]}

    def receive(self, name, day, *rows):
        text = "delivered_on,vendor,code,packs,quantity,unit,price\n"
        text += "".join(f"{day},miller,{code},{packs},{q},kg,{price}\n" for code, packs, q, price in rows)
        return self.run("receive", self.write(name, text), on=day)

    def count(self, name, day, flour, cheese):
        """By the program's own sheet: written, filled in, booked in."""
        sheet = self.folder / name
        self.run("count", f"--out={sheet}", on=day)
        book = openpyxl.load_workbook(sheet)
        page = book.active
        head = next(row for row in page.iter_rows() if row[0].value == "what")
        at = {cell.value: n for n, cell in enumerate(head)}
        for row in page.iter_rows(min_row=head[0].row + 1):
            item = row[at["item"]].value
            if item in ("flour", "cheese"):  # of further lines of it there is none
                row[at["quantity"]].value = flour if item == "flour" else cheese
                flour, cheese = (0, cheese) if item == "flour" else (flour, 0)
        book.save(sheet)
        return self.run("count", sheet, on=day)


def lived(folder):
    """The fortnight lived through once in a folder; each test looks at a part of what came of it."""
    house, story = Fortnight(folder), {}
    story["order"] = house.run("order", on=THU)
    sheet = house.folder / "runs" / "2026-11-05" / "orders" / "miller.xlsx"
    book = openpyxl.load_workbook(sheet)
    page = book.active
    page.cell(next(c.row for row in page.iter_rows() for c in row if c.value == "M-1"), 4).value = 2
    page.cell(next(c.row for row in page.iter_rows() for c in row if c.value == "M-2"), 4).value = 2
    book.save(sheet)
    story["place"] = house.run("place", "2026-11-05", on=THU)
    story["order again"] = house.run("order", on=THU)
    house.sell(THU)
    story["receive"] = house.receive("fri.csv", FRI, ("M-1", 2, 20, "10.00"), ("M-2", 1, 2, "21.00"))
    house.sell(FRI, SAT)
    waste = house.write("waste-sat.csv", f"date,item,quantity,unit,reason\n{SAT},cheese,0.5,kg,mould\n")
    story["waste"] = house.run("count", waste, on=SAT)
    story["count"] = house.count("count-1.xlsx", THU + WEEK, 24.0, 1.6)
    story["second order"] = house.run("order", on=THU + WEEK)
    story["second place"] = house.run("place", "2026-11-12", on=THU + WEEK)
    second = house.ordered("2026-11-12")
    house.sell(THU + WEEK)
    packs = {"M-1": (10, "10.00"), "M-2": (2, "20.00")}
    rows = [(code, n, n * packs[code][0], packs[code][1]) for code, n in second.items()]
    story["second receive"] = house.receive("fri.csv", FRI + WEEK, *rows)
    house.sell(FRI + WEEK, SAT + WEEK)
    flour, cheese = stock_in_theory(second)
    counted = round(flour - 0.5, 3), round(cheese, 3)
    story["second count"] = house.count("count-2.xlsx", THU + 2 * WEEK, *counted)
    story["third order"] = house.run("order", on=THU + 2 * WEEK)
    out = house.folder / "review"
    days = (f"--from={THU}", f"--to={THU + 2 * WEEK - timedelta(1)}", f"--out={out}")
    story["review"] = house.run("review", *days, on=THU + 2 * WEEK)
    house.story = story
    return house


def stock_in_theory(second):
    """Flour and cheese on Thu 19 Nov from the count of Thu 12 Nov, what came and 45 tarts."""
    flour = 24.0 + 10 * second.get("M-1", 0) - 0.2 * (9 + 15 + 21)
    cheese = 1.6 + 2 * second.get("M-2", 0) - 0.1 * (9 + 15 + 21)
    return flour, cheese
