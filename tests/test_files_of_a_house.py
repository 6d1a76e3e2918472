"""Which files of a house are read and fingerprinted, and that bytes do not depend on how a path was typed."""

import json
import os
import zipfile
from pathlib import Path

import houses
import openpyxl
import pytest

from ordering import cli
from ordering.net.opening import opening
from ordering.records.books import Receipt

CONFIG = {
    "house.yaml": "name: T\nservices: {dinner: {days: [thu, fri, sat]}}\n",
    "vendors.yaml": "farm: {name: Farm, deliveries: [{day: fri, order_by: thu 15:00}]}\n",
    "ingredients.yaml": "carrot: {unit: kg, offers: [{vendor: farm, code: C-1, pack: 5 kg, price: 6.00}]}\n",
    "recipes.yaml": "soup: {makes: 2 kg, from: [{item: carrot, quantity: 1 kg}]}\n",
    "menu.yaml": "soup: {recipe: soup, portion: 1 kg}\n",
    "calendar.yaml": (
        "events: [{name: P, date: 2026-11-28, service: dinner, covers: 20, menu: {soup: 20}}]\n"
    ),
}


@pytest.fixture
def home(tmp_path: Path) -> Path:
    for name, text in CONFIG.items():
        (tmp_path / "config").mkdir(exist_ok=True)
        (tmp_path / "config" / name).write_text(text)
    (tmp_path / "books").mkdir()
    (tmp_path / "books" / "counts.csv").write_text("counted_on,item,quantity,unit\n2026-11-20,carrot,0,kg\n")
    return tmp_path


def run(home: Path, *words: str, typed: Path | None = None) -> int:
    at = typed or home
    places = [f"--{name}={at / name}" for name in ("config", "books", "runs")]
    return cli.main([*words, *places, "--on", "2026-11-26"])


def test_a_second_run_of_the_day_has_a_name_of_its_own_and_the_same_files(home) -> None:
    for _ in range(2):
        run(home, "order")
    first, second = (
        {path.relative_to(folder) for path in folder.rglob("*") if path.is_file()}
        for folder in (home / "runs" / "2026-11-26", home / "runs" / "2026-11-26-2")
    )
    assert first == second
    assert Path("orders.csv") in first


@pytest.mark.parametrize(("at", "vendors"), [("15:00", ["farm"]), ("15:01", [])])
def test_the_hour_of_a_run_decides_which_cut_offs_can_still_be_kept(home, at, vendors) -> None:
    run(home, "order", "--at", at)
    lines = (home / "runs" / "2026-11-26" / "orders.csv").read_text("utf-8").splitlines()[1:]
    assert [line.partition(",")[0] for line in lines] == vendors


def test_only_the_books_themselves_are_read_and_fingerprinted(home, capsys) -> None:
    """A pipe, a folder, a huge file and a name in another encoding lie beside them and are let alone."""
    books = home / "books"
    os.mkfifo(books / "other.csv")
    (books / "old.csv").mkdir()
    with (books / "film.csv").open("wb") as file:
        file.truncate(6 * 2**30)
    Path(os.fsdecode(bytes(books) + b"/sales \xe4\xf6.csv")).write_bytes(b"x")
    assert run(home, "check") == 1
    assert run(home, "order") == 1
    assert "failed" not in capsys.readouterr().err
    facts = json.loads((home / "runs" / "2026-11-26" / "run.json").read_text())
    assert sorted(facts["inputs"]) == [
        "books/counts.csv",
        *sorted(f"config/{name}" for name in CONFIG),
        "ledger",
    ]


def test_a_book_that_is_no_ordinary_file_is_refused_at_once(home, capsys) -> None:
    os.mkfifo(home / "books" / "sales.csv")
    assert run(home, "order") == 2
    assert "sales.csv: this is not an ordinary file" in capsys.readouterr().err


def test_the_same_inputs_from_another_folder_give_the_same_bytes(home, monkeypatch) -> None:
    """Doubts name files by their part in the run, not by the path as it was typed."""
    assert run(home, "order") == 1
    first = {p.name: p.read_bytes() for p in (home / "runs" / "2026-11-26").rglob("*") if p.is_file()}
    assert b"weigh" in first["run.json"] or b"% more comes out" in first["run.json"]
    (home / "runs").rename(home / "before")
    (home / "books" / "ledger.sqlite").unlink()
    monkeypatch.chdir(home / "config")
    assert run(home, "order", typed=Path("..")) == 1
    then = {p.name: p.read_bytes() for p in (home / "runs" / "2026-11-26").rglob("*") if p.is_file()}
    assert then.keys() == first.keys()
    said = json.loads(first["run.json"])["doubts"]
    assert any(doubt.startswith("config/recipes.yaml:1: soup") for doubt in said)
    for name in first.keys() - {"run.json"}:
        assert then[name] == first[name], name


@pytest.mark.parametrize("target", ["books/counts.csv", "books/ledger.sqlite", "config/house.yaml"])
def test_a_forecast_is_never_written_over_anything_else(home, target, capsys) -> None:
    assert run(home, "order") == 1
    before = (home / target).read_bytes()
    assert run(home, "forecast", f"--out={home / target}") == 2
    assert "there is another file of this name" in capsys.readouterr().err
    assert (home / target).read_bytes() == before
    assert run(home, "forecast", f"--out={home / 'forecast.csv'}") == 0
    assert run(home, "forecast", f"--out={home / 'forecast.csv'}") == 0


@pytest.mark.parametrize("command", ["forecast", "count", "receive"])
def test_a_name_with_a_nul_is_refused_and_not_a_failure(home, command, capsys) -> None:
    assert run(home, command, f"--out={home}/a\0b.xlsx") == 2
    assert "the program itself failed" not in capsys.readouterr().err


def test_a_small_workbook_with_a_huge_sheet_is_refused_at_once(home, capsys) -> None:
    """130 MB of empty rows pack into less than 1 MB; nobody waits minutes for them."""
    path = home / "books" / "sales.xlsx"
    book = openpyxl.Workbook()
    book.active.append(["date", "service", "dish", "sold"])
    book.save(path)
    with zipfile.ZipFile(path) as package:
        parts = {part: package.read(part) for part in package.namelist()}
    sheet = parts["xl/worksheets/sheet1.xml"]
    rows = b'<row r="2"></row>' * (130 * 2**20 // 17)
    parts["xl/worksheets/sheet1.xml"] = sheet.replace(b"</sheetData>", rows + b"</sheetData>")
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as package:
        for name, content in parts.items():
            package.writestr(name, content)
    assert run(home, "check") == 2
    assert "too large once unpacked" in capsys.readouterr().err


def test_the_first_count_after_years_of_receipts_takes_no_longer_for_each_of_them() -> None:
    """Thirty thousand receipts, all past their date, each looked at once: half a billion comparisons else."""
    carrot = houses.ingredient("carrot", keeps_days=3)
    home = houses.house([carrot], vendors=[houses.vendor("farm")])
    receipts = tuple(
        Receipt(houses.day(-10 - n // 30), "farm", "C", "carrot", 1, 1.0 + n) for n in range(30_000)
    )
    found = opening(home, houses.books(receipts=receipts), houses.MONDAY)
    assert found.lots == ()
    assert any("past" in doubt.lower() for doubt in found.doubts)
