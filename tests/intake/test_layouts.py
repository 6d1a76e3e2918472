"""One recipe book in every layout that kitchens use: it reads the same in each.

`layouts/` has the same four recipes as different hands lay them out: a tab each, cards under one another or
side by side, one long table, goods down and recipes across, lines in one cell, with and without headings.
The recipes are invented.
"""

import csv
import io
import re
from pathlib import Path

import pytest

from ordering.intake.card_words import labelled
from ordering.intake.headings import asked_table
from ordering.intake.housefiles import HouseFiles
from ordering.intake.outcome import Asker, Outcome
from ordering.intake.recipe_lines import quantity_in
from ordering.intake.recipe_tables import usual_unit
from ordering.intake.recipes import recipes_in
from ordering.intake.sheets import SourceSheet

LAYOUTS = sorted((Path(__file__).parent / "layouts").glob("*.csv"))
BOOK = {
    "tomato sauce 4 qt": "6 lb plum tomatoes, 2 yellow onions, 1/2 cup olive oil, 8 clove garlic, "
    "1 bunch basil, 2 tbsp kosher salt",
    "romesco 2 qt": "12 oz almonds, 3 lb red peppers, 1 1/2 cup olive oil, 1 tbsp smoked paprika, "
    "4 oz sherry vinegar",
    "braised short rib 24 portions": "24 lb beef short rib, 2 qt tomato sauce, 1 gal veal stock, 4 carrots, "
    "6 sprig thyme",
    "caesar dressing 1 gal": "10 egg yolks, 3 qt canola oil, 8 oz anchovies, 2 cup lemon juice, "
    "1 lb parmesan",
}


def sheets_of(path):
    """The sheets of a layout, one below each line `=== title`, empty rows left out as in a workbook."""
    parts = re.split(r"^=== (.*)\n", path.read_text("utf-8"), flags=re.MULTILINE)
    for title, body in zip(parts[1::2], parts[2::2], strict=True):
        numbered = [(n, row) for n, row in enumerate(csv.reader(io.StringIO(body)), 1) if any(row)]
        yield SourceSheet("book", title, [row for _, row in numbered], "", [n for n, _ in numbered])


@pytest.mark.parametrize("path", LAYOUTS, ids=lambda path: path.stem)
def test_the_same_book_reads_the_same_in_every_layout(path, tmp_path):
    out = Outcome(HouseFiles(tmp_path, {"house": {}}), Asker({}, None, True), tmp_path, None, "recipes")
    found = recipes_in(list(sheets_of(path)), out)
    read = {
        (one.name.lower(), str(quantity_in(one.makes)[0])): {
            (said.name.lower(), str(said.quantity)) for _, said in one.lines
        }
        for one in found
    }
    due = {}
    for name, lines in BOOK.items():
        title, number, unit = re.fullmatch(r"(.*?) (\d+) (\w+)", name).groups()
        said = [quantity_in(line) for line in lines.split(", ")]
        due[title, str(quantity_in(f"{number} {unit}")[0])] = {(rest, str(amount)) for amount, rest in said}
    if path.stem == "scaled":
        due = {key: lines for key, lines in due.items() if "portion" in key[1]}
    assert read == due
    assert len(found) == len(read)


@pytest.mark.parametrize(
    ("lines", "unit"),
    [
        ("flour,500 butter,250 sugar,120 salt,10 milk,1l", "g"),
        ("flour,500 butter,250 sugar,120 salt,10 milk,1l oil,2l", ""),
        ("eggs,4 lemons,12 rolls,40", ""),
        ("eggs,40 yolks,45 lemons,30", ""),
        ("flour,60 butter,55 sugar,70", "g"),
    ],
)
def test_numbers_without_a_unit_are_grams_where_so_many_can_be_no_pieces(lines, unit, tmp_path):
    out = Outcome(HouseFiles(tmp_path, {"house": {}}), Asker({}, None, True), tmp_path, None, "recipes")
    rows = [line.split(",") for line in lines.split()]
    assert usual_unit(SourceSheet("book", "", rows), out) == unit


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Serves 4", "makes"),
        ("Quantities for 20 l", "makes"),
        ("Recipe 3: Dry rub", "name"),
        ("Recipe for Sunday", ""),
        ("Makes a tray of 24", "makes"),
        ("Keeps 3 days", "keeps"),
        ("Portion of chips", ""),
        ("Serving sauce", ""),
        ("Pour over coffee", ""),
        ("Holds hot", ""),
    ],
)
def test_a_label_without_a_colon_says_how_many(text, kind):
    assert [found for found, _ in labelled([text])] == ([kind] if kind else [])


@pytest.mark.parametrize(("n_prices", "is_table"), [(6, False), (9, True)])
def test_a_list_without_a_heading_is_one_where_three_cells_of_four_are_prices(n_prices, is_table):
    rows = [[f"Plain flour {'abcdefghij'[n]}", "12.40" if n < n_prices else "call us"] for n in range(10)]
    needed = ("name", ("price", "unit_price"))
    found = asked_table(SourceSheet("list", "", rows), "prices", needed, Asker({}, None, True))
    assert (found is not None) == is_table
