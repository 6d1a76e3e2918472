"""House files kept as tables: what they say is what the same files in YAML say, faults named by cell."""

import csv
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
import yaml

from ordering.read.house_folder import read_house

US_HOUSE = Path(__file__).parent.parent / "us_house" / "config"
PARTS = {"ingredients": "offers", "recipes": "from", "vendors": "deliveries", "menu": ""}


class Plain(yaml.SafeLoader):
    yaml_implicit_resolvers = {}  # noqa: RUF012 - read by the library from the class


def a_cell(value):
    if isinstance(value, list):
        listed = [f"{one['item']}: {one['quantity']}" if isinstance(one, dict) else one for one in value]
        return ("; " if any(":" in one for one in listed) else ", ").join(listed)
    return "; ".join(f"{k}: {v}" for k, v in value.items()) if isinstance(value, dict) else value


def a_table(directory, stem):
    """(columns, rows) of a YAML file of entries: a row each, further offers or lines below."""
    rows = []
    for key, entry in yaml.load((directory / f"{stem}.yaml").read_text("utf-8"), Plain).items():
        parts = entry.pop(PARTS[stem], None) or [{}]
        parts = parts if isinstance(parts, list) else [parts]
        first = {"id": key, **{word: a_cell(value) for word, value in entry.items()}}
        rows += [
            {**(first if n == 0 else {}), **{w: a_cell(v) for w, v in one.items()}}
            for n, one in enumerate(parts)
        ]
    return list(dict.fromkeys(word for row in rows for word in row)), rows


def write_csv(path, columns, rows):
    with path.open("w", encoding="utf-8", newline="") as opened:
        writer = csv.DictWriter(opened, columns)
        writer.writeheader()
        writer.writerows(rows)


def write_xlsx(path, columns, rows, title="Goods"):
    book = openpyxl.Workbook()
    book.active.title = title
    for row in (["What we keep"], columns, *([row.get(c) for c in columns] for row in rows)):
        book.active.append(row)
    book.save(path)


@pytest.fixture(scope="module")
def tables():
    return {stem: a_table(US_HOUSE, stem) for stem in PARTS}


def laid_out(folder, *without):
    folder.mkdir(exist_ok=True)
    for path in US_HOUSE.glob("*.yaml"):
        if path.stem not in without:
            (folder / path.name).write_bytes(path.read_bytes())
    return folder


def test_a_house_in_tables_is_the_house_in_yaml(tmp_path, tables):
    folder = laid_out(tmp_path / "config", *PARTS)
    for n, (stem, table) in enumerate(tables.items()):
        (write_csv if n % 2 else write_xlsx)(folder / f"{stem}{'.csv' if n % 2 else '.xlsx'}", *table)
    found, faults = read_house(folder)
    stated, _ = read_house(US_HOUSE)
    assert faults == []
    assert replace(found, places={}) == replace(stated, places={})


def test_a_fault_names_sheet_and_cell_or_the_line_of_a_csv_file(tmp_path):
    folder = tmp_path / "config"
    folder.mkdir()
    (folder / "house.yaml").write_text("name: A\nservices:\n  dinner: {days: [fri]}\n", "utf-8")
    goods = [{"id": "oil", "unit": "litre"}, {"id": "salt", "unit": "kgg"}]
    write_xlsx(folder / "ingredients.xlsx", ["id", "unit", "par"], goods)
    write_csv(
        folder / "recipes.csv",
        ["id", "makes", "item", "quantity"],
        [
            {"id": "dressing", "makes": "1 l", "item": "oil", "quantity": "1 lb"},
            {"id": "soup", "makes": "1 l", "item": "oil"},
        ],
    )
    said = sorted(f"{Path(f.place).name}:{f.line}: {f.subject}: {f.wrong}" for f in read_house(folder)[1])
    assert said == [
        "ingredients.xlsx [Goods], cell B4:0: salt: unit: 'kgg' is not a known unit",
        "recipes.csv:2: dressing: 1 lb of oil: lb cannot become l",
        "recipes.csv:3: soup: 'quantity' is missing",
    ]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("id,unit,yeild\noil,l,0.9\n", "unknown-column"),
        ("id,unit,unit\noil,l,l\n", "equal-columns"),
        ("what,how much\noil,l\n", "no-heading"),
        ("id,unit\n,l\n", "no-id"),
        ("id,unit,vendor\noil,l,\noil,kg,\n", "equal-keys"),
    ],
)
def test_a_table_that_cannot_be_entries_is_refused(text, kind, tmp_path):
    folder = laid_out(tmp_path / "config", "ingredients")
    (folder / "ingredients.csv").write_text(text, "utf-8")
    assert kind in {fault.kind for fault in read_house(folder)[1]}


def test_a_file_in_yaml_and_as_a_table_is_a_fault_and_a_column_with_a_cross_is_the_house_s_own(
    tmp_path, tables
):
    folder = laid_out(tmp_path / "config")
    columns, rows = tables["menu"]
    write_csv(folder / "menu.csv", [*columns, "# my notes"], rows)
    assert [fault.kind for fault in read_house(folder)[1]] == ["two-files"]
    (folder / "menu.yaml").unlink()
    assert read_house(folder)[1] == []


def test_closures_and_parties_stand_in_one_table(tmp_path):
    folder = laid_out(tmp_path / "config", "calendar")
    dish = next(iter(yaml.load((US_HOUSE / "menu.yaml").read_text("utf-8"), Plain)))
    lines = f"Wedding,2026-12-05,dinner,40,{dish}: 40,\n,2026-12-25,,,,closed\n"
    (folder / "calendar.csv").write_text(f"name,date,service,covers,menu,why\n{lines}", "utf-8")
    found, faults = read_house(folder)
    assert faults == []
    assert [party.covers for party in found.parties] == [40]
    assert len(found.closures) == 1
