"""A group of tiny kitchens on disk: two that serve, one that cooks for them, all in shared words."""

from __future__ import annotations

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
