"""The demo house: a kitchen someone could run, in books that a script can make again."""

from __future__ import annotations

import csv
import functools
import importlib
import math
import shutil
import sys
from datetime import date
from pathlib import Path

import pytest

from ordering import cli
from ordering.read.books_folder import read_books
from ordering.read.house_folder import read_house
from ordering.records.costs import portion_costs, unit_costs
from ordering.records.house import House, Recipe

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "demo"
LAST_DAY = date(2026, 11, 25)


@functools.cache
def house() -> House:
    read, faults = read_house(ROOT / "config")
    assert faults == []
    assert read is not None
    return read


@functools.cache
def costs() -> dict[str, float]:
    return portion_costs(house(), unit_costs(house()))


@functools.cache
def rows(book: str) -> list[dict[str, str]]:
    with (DEMO / f"{book}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def grams(item: str, quantity: float) -> float:
    """Mass of a quantity in an item's own unit; zero where the item has no bridge to mass."""
    unit = house().unit_of(item)
    per = {"g": 1.0, "kg": 1000.0, "oz": 28.349523125, "lb": 453.59237}
    one = house().ingredients.get(item) or house().recipes[item]
    if unit in per:
        return quantity * per[unit]
    if unit == "l":
        return quantity * 1000 * (one.density_kg_per_l or 0)
    return quantity * (one.each_g or 0)


def test_the_house_has_the_size_it_claims() -> None:
    """About 40 dishes, 40 and more sub-recipes, 150 ingredients, 10 vendors."""
    plates = {dish.recipe for dish in house().dishes.values()}
    assert len(house().vendors) == 10
    assert 40 <= len(house().dishes) <= 50
    assert 40 <= len(set(house().recipes) - plates) <= 60
    assert 140 <= len(house().ingredients) <= 160


@pytest.mark.parametrize("dish", [d.id for d in house().dishes.values()])
def test_food_cost_is_that_of_a_kitchen_that_lives(dish: str) -> None:
    """22 to 38 per cent of the price before tax (common practice, no source)."""
    one = house().dishes[dish]
    assert one.price is not None
    share = costs()[dish] / float(one.price)
    assert 0.22 <= share <= 0.38, f"{share:.1%}"


def made_of_mass(recipe: Recipe) -> bool:
    return grams(recipe.id, recipe.makes) > 0


@pytest.mark.parametrize("key", [r.id for r in house().recipes.values() if made_of_mass(r)])
def test_no_recipe_makes_more_than_goes_in(key: str) -> None:
    """Inputs after the knife, less what comes back, hold the batch and its by-products."""
    recipe = house().recipes[key]
    goes_in = sum(grams(line.item, line.quantity - line.returns) for line in recipe.lines)
    comes_out = grams(key, recipe.makes) + sum(grams(item, much) for item, much in recipe.also_makes)
    assert 0 < comes_out <= goes_in * (1 + 1e-9)


def test_rib_loses_what_the_published_table_says() -> None:
    """35 days, bone-in ribeye: cooler shrink 11.7 %, saleable 63.5 % of the weight hung.

    Source: Dry aging of beef; Review, J Anim Sci Technol 2016, 58:20, Table 1.
    """
    hung, cut = house().recipes["aged-rib"], house().recipes["rib-steaks"]
    shrunk = hung.makes / hung.lines[0].quantity
    assert 1 - shrunk == pytest.approx(0.117, abs=0.001)
    assert shrunk * cut.makes / cut.lines[0].quantity == pytest.approx(0.635, abs=0.001)


@pytest.mark.parametrize(
    ("item", "published"),
    [("onion", 0.90), ("leek", 0.44), ("celery", 0.89), ("fennel", 0.72), ("kale", 0.72), ("beetroot", 0.67)],
)
def test_yields_are_the_published_ones(item: str, published: float) -> None:
    """USDA SR28, 1 - refuse: 11282, 11246, 11143, 11957, 11233, 11080."""
    assert house().ingredients[item].yield_fraction == published


def test_books_are_read_without_a_fault() -> None:
    books, faults = read_books(DEMO, house())
    assert faults == []
    assert books is not None
    assert len(books.sales) == len(rows("sales"))
    assert len(books.counts) == len(rows("counts"))


def test_sales_have_a_row_for_every_dish_of_every_service() -> None:
    """Offered and not sold is a row with zero; a closed service has no row."""
    offered = {
        (row["date"], row["service"], dish.id)
        for row in rows("covers")
        for dish in house().dishes.values()
        if dish.is_on(date.fromisoformat(row["date"]), row["service"])
        and house().is_open(date.fromisoformat(row["date"]), row["service"])
    }
    booked = {(row["date"], row["service"], row["dish"]) for row in rows("sales")}
    instead = {(p.date.isoformat(), p.service) for p in house().parties if p.is_instead}
    assert len(booked) == len(rows("sales"))
    assert {key for key in booked if key[:2] not in instead} == offered


def test_books_tell_of_three_years_in_which_the_room_is_never_overfull() -> None:
    days = [date.fromisoformat(row["date"]) for row in rows("covers")]
    assert (min(days), max(days)) == (date(2023, 11, 28), LAST_DAY)
    assert max(int(row["covers"]) for row in rows("covers")) <= 110
    assert 0.003 < sum(r["sold_out"] == "yes" for r in rows("sales")) / len(rows("sales")) < 0.02


def test_mains_sold_are_about_the_covers() -> None:
    """A rib for two feeds two; parties eat one main each."""
    mains = {row.id for row in house().dishes.values() if float(row.price or 0) >= 11 and row.id not in
             ("oysters", "mussels", "potted-crab")}  # fmt: skip
    sold = sum(
        int(r["sold"]) * (2 if r["dish"] == "rib-to-share" else 1)
        for r in rows("sales")
        if r["dish"] in mains
    )
    covers = sum(int(r["covers"]) for r in rows("covers"))
    assert sold / covers == pytest.approx(1.0, abs=0.02)


def test_bookings_only_grow_and_stay_below_the_room() -> None:
    by_service: dict[tuple[str, str], list[tuple[str, int]]] = {}
    for row in rows("bookings"):
        by_service.setdefault((row["date"], row["service"]), []).append((row["taken_on"], int(row["booked"])))
    for taken in by_service.values():
        booked = [n for _, n in sorted(taken)]
        assert booked == sorted(booked)
        assert booked[-1] <= 110
    assert max(row["taken_on"] for row in rows("bookings")) == "2026-11-26"


def test_ageing_room_holds_lots_of_several_ages_with_a_hole() -> None:
    """Ribs come out of the room in each of the coming weeks, in some of them fewer."""
    ready = [row["ready_on"] for row in rows("counts") if row["item"] == "aged-rib" and row["ready_on"]]
    weeks = [(date.fromisoformat(day) - LAST_DAY).days // 7 for day in ready]
    per_week = [weeks.count(n) for n in range(max(weeks) + 1)]
    assert len(per_week) >= 4
    assert min(per_week) < max(per_week)


def test_everything_that_is_kept_is_counted() -> None:
    """An item never counted is unknown; plates are put together at the pass and never are."""
    counted = {row["item"] for row in rows("counts")}
    kept = {r.id for r in house().recipes.values() if r.keeps_days}
    assert set(house().ingredients) | kept <= counted
    assert all(math.isfinite(float(row["quantity"])) for row in rows("counts"))


def make(patch: pytest.MonkeyPatch, folder: Path, until: str) -> dict[str, bytes]:
    """What the script writes when it is called with these options."""
    patch.syspath_prepend(str(DEMO))
    patch.setattr(sys, "argv", ["make_books.py", "--until", until, "--out", str(folder)])
    assert importlib.import_module("make_books").main() == 0
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def test_the_script_repeats_itself_and_later_days_leave_earlier_ones(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Same seed, same bytes; `--until` adds rows and changes none."""
    first = make(monkeypatch, tmp_path / "a", "2024-01-31")
    assert first == make(monkeypatch, tmp_path / "b", "2024-01-31")
    longer = make(monkeypatch, tmp_path / "c", "2024-03-31")
    assert longer["sales.csv"].startswith(first["sales.csv"])
    assert longer["covers.csv"].startswith(first["covers.csv"])
    books = ("sales", "covers", "bookings", "counts", "open_orders", "waste", "batches")
    assert set(first) == {f"{book}.csv" for book in books}


def test_the_repository_stays_small() -> None:
    books = [*DEMO.glob("*.csv"), *DEMO.glob("*.sqlite")]
    assert sum(path.stat().st_size for path in books) < 4_000_000


def test_a_lived_week_shows_all_three_people_something(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """One week of the eight by the program's own commands: a forecast, orders, goods in, counts.

    Half a year of sales will do: what a week shows does not hang on the two years before.
    """
    monkeypatch.syspath_prepend(str(DEMO))
    past = importlib.import_module("make_past")
    monkeypatch.setattr(past, "N_WEEKS", 1)
    source, books = tmp_path / "source", tmp_path / "books"
    shutil.copytree(DEMO, source, ignore=shutil.ignore_patterns("*.py", "pictures", "ledger.sqlite"))
    for book in ("sales", "covers", "bookings"):
        head, *lines = (source / f"{book}.csv").read_text().splitlines(keepends=True)
        (source / f"{book}.csv").write_text("".join([head, *(x for x in lines if x >= "2026-06-01")]))
    shutil.copytree(source, books)
    words = ["make_past.py", "--config", str(ROOT / "config"), "--books", str(source), "--out", str(books)]
    monkeypatch.setattr(sys, "argv", words)
    assert past.main() == 0
    where = ["--config", str(ROOT / "config"), "--books", str(books), "--out", str(tmp_path / "review")]
    days = ["--from", "2026-11-19", "--to", "2026-11-25"]
    assert cli.main(["review", *where, *days, "--on", "2026-11-26"]) == 0
    said = capsys.readouterr().out
    assert "made afterwards" not in said
    assert "was used, consumables aside." in said
    assert "thrown away" in said
    assert "No delivery" not in said
    assert not (books / "open_orders.csv").exists()
