"""A group of tiny kitchens on disk: two that serve, one that cooks for them, all in shared words."""

from __future__ import annotations

import csv
from datetime import date, timedelta
from pathlib import Path

THU = date(2026, 11, 26)

HOUSE = """
name: {name}
currency: GBP
services: {{dinner: {{days: [thu, fri, sat]}}}}
order_day: thu
policy: {{paths: 20, seed: {seed}}}
"""
SHARED = {
    "vendors.yaml": """
miller:
  name: Old Mill
  deliveries: [{day: fri, order_by: thu 15:00}]
  minimum: 100.00
  together: true
""",
    "ingredients.yaml": """
flour:
  unit: kg
  offers: [{vendor: miller, code: M-1, pack: 5 kg, price: 6.00, breaks: {12: 5.00}}]
""",
    "recipes.yaml": "flatbread: {makes: 10 each, from: [{item: flour, quantity: 2 kg}]}\n",
    "menu.yaml": "flatbread: {recipe: flatbread, portion: 1 each, price: 6.00}\n",
}


def rows(path: Path) -> list[dict[str, str]]:
    """The rows of a csv file by column."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def write(folder: Path, files: dict[str, str]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text, "utf-8")


def books(on: date = THU, sold: int = 30, stock_kg: float = 1.0) -> dict[str, str]:
    """Eight weeks of the same dinner, and a count of this morning."""
    days = [on - timedelta(days=n) for n in range(56, 0, -1)]
    nights = [d for d in days if d.weekday() in (3, 4, 5)]
    sales = "".join(f"{d},dinner,flatbread,{sold + d.day % 3}\n" for d in nights)
    covers = "".join(f"{d},dinner,{sold + d.day % 3}\n" for d in nights)
    return {
        "sales.csv": f"date,service,dish,sold\n{sales}",
        "covers.csv": f"date,service,covers\n{covers}",
        "counts.csv": f"counted_on,item,quantity,unit\n{on},flour,{stock_kg},kg\n",
    }


def group(home: Path, n: int = 2) -> Path:
    """`group.yaml` of `n` houses `h0`, `h1` ... that begin from shared files."""
    write(home / "shared", SHARED)
    lines = ["name: Tiny kitchens", "shared: shared", "houses:"]
    for i in range(n):
        write(home / f"h{i}" / "config", {"house.yaml": HOUSE.format(name=f"House {i}", seed=i + 1)})
        write(home / f"h{i}" / "books", books(sold=30 + 5 * i))
        lines.append(f"  h{i}: {{config: h{i}/config, books: h{i}/books, runs: h{i}/runs}}")
    path = home / "group.yaml"
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return path


CENTRAL = {
    "vendors.yaml": SHARED["vendors.yaml"]
    + """
cook:
  name: The kitchen
  deliveries: [{day: fri, order_by: thu 15:00}, {day: sat, order_by: fri 15:00}]
  house: kitchen
""",
    "ingredients.yaml": SHARED["ingredients.yaml"]
    + """
dough-ball:
  unit: each
  keeps: 2 d
  offers: [{vendor: cook, code: dough, pack: 4 each, price: 2.00}]
""",
    "recipes.yaml": "flatbread: {makes: 1 each, from: [{item: dough-ball, quantity: 1 each}]}\n",
    "menu.yaml": SHARED["menu.yaml"],
}
# The kitchen: dough from flour, a day before it goes out. It has no guests and buys nothing from itself.
KITCHEN = {
    "house.yaml": "name: The Kitchen\ncurrency: GBP\norder_day: thu\npolicy: {paths: 20, seed: 9}\n",
    "vendors.yaml": "cook: none\n",
    "ingredients.yaml": "dough-ball: none\n",
    "recipes.yaml": (
        "dough: {makes: 10 each, takes: 0 d, keeps: 2 d, from: [{item: flour, quantity: 2 kg}]}\n"
        "flatbread: none\n"
    ),
    "menu.yaml": "flatbread: none\n",
}


def central_group(home: Path, n: int = 3) -> Path:
    """`n` houses that serve, and a kitchen that makes the dough of all of them."""
    path = group(home, n)
    write(home / "shared", CENTRAL)
    write(home / "kitchen" / "config", KITCHEN)
    stock = f"counted_on,item,quantity,unit\n{THU},flour,60,kg\n"
    write(home / "kitchen" / "books", {"counts.csv": stock})
    for i in range(n):
        count = f"counted_on,item,quantity,unit\n{THU},dough-ball,0,each\n"
        write(home / f"h{i}" / "books", {"counts.csv": count})
    kitchen = (
        "  kitchen: {config: kitchen/config, books: kitchen/books, runs: kitchen/runs}\ncentral: kitchen\n"
    )
    path.write_text(path.read_text("utf-8") + kitchen, "utf-8")
    return path
