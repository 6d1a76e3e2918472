"""A house with a fault of every layer: form, values, references, units, loops, books: all said at once."""

from datetime import date

import pytest

from ordering.faults import Refused
from ordering.loading import load

HOUSE = {
    "house.yaml": (
        "name: Test Kitchen\n"
        "curency: GBP\n"  # 2: a word that is not known
        "services: {dinner: {days: [thu, frday]}}\n"  # 3: a value that cannot be
        "dish_names: {SOUP LRG: broth}\n"  # 4: no such dish
    ),
    "vendors.yaml": (
        "farm:\n  name: Farm\n"
        "  email: gate\n"  # 3: a value that cannot be
        "  deliveries: [{day: thu, order_by: wed 15:00}, {day: thu, order_by: wed 15:00}]\n"  # 4: twice
    ),
    "ingredients.yaml": (
        "carrot:\n"
        "  unit: kg\n"
        "  par: plenty\n"  # 3: a value that cannot be
        "  offers:\n"
        "    - {vendor: farm, code: C-1, pack: 5 sacks full, price: 6.00}\n"  # 5: a bad line
        "    - {vendor: frm, code: C-2, pack: 5 kg}\n"  # 6: no such vendor
        "    - {vendor: farm, code: C-3, pack: 2 l}\n"  # 7: no bridge
        "leek:\n"
        "  unit: furlong\n"  # 9: the whole entry cannot be worked with
    ),
    "recipes.yaml": (
        "soup:\n"  # 1: feeds itself by way of stock
        "  makes: 4 l\n"
        "  from:\n"
        "    - {item: carrot, quantity: lots}\n"  # 4: a bad line
        "    - {item: carot, quantity: 1 kg}\n"  # 5: no such item
        "    - {item: stock, quantity: 1 l}\n"
        "    - {item: leek, quantity: 1 kg}\n"  # known though its entry is not sound: nothing is said
        "stock: {makes: 4 l, from: [{item: soup, quantity: 1 l}]}\n"
    ),
    "menu.yaml": (
        "soup:\n  recipe: soup\n  portion: 250 ml\n  price: dear\n"  # 4: a bad value
        "  services: [dinner, lnch]\n"  # 5: no such service
    ),
    "calendar.yaml": (
        "closures: [2026-13-01]\n"  # 1: a bad date
        "events: [{name: Wedding, date: 2026-11-27, service: diner, covers: 40}]\n"  # 2: no such service
    ),
}
BOOKS = {
    "sales.csv": "date,service,dish,sold\n2026-11-20,dinner,soup,7\n2026-11-20,diner,soup,x\n",
    "counts.csv": (
        "counted_on,item,quantity,unit\n"
        "2026-11-20,leek,3,kg\n2026-11-20,carot,3 cs + 2,kg\n2026-11-20,onion,,kg\n"
    ),
    "open_orders.csv": "vendor,code,packs,deliver_on\nFarm,C-1,2,2026-11-27\nfram,C-1,2,2026-11-27\n",
    "batches.csv": "started_on,recipe,drawn,made,unit\n2026-11-20,sop,,4,l\n",
}
FOUND = [
    ("batches.csv", 2, "unknown-recipe"),
    ("calendar.yaml", 1, "bad-date"),
    ("calendar.yaml", 2, "unknown-service"),
    ("counts.csv", 3, "unknown-item"),
    ("house.yaml", 2, "unknown-word"),
    ("house.yaml", 3, "bad-weekday"),
    ("house.yaml", 4, "unknown-dish"),
    ("ingredients.yaml", 3, "bad-quantity"),
    ("ingredients.yaml", 5, "bad-quantity"),
    ("ingredients.yaml", 6, "unknown-vendor"),
    ("ingredients.yaml", 7, "no-bridge"),
    ("ingredients.yaml", 9, "bad-quantity"),
    ("menu.yaml", 4, "bad-number"),
    ("menu.yaml", 5, "unknown-service"),
    ("open_orders.csv", 3, "unknown-vendor"),
    ("recipes.yaml", 1, "loop"),
    ("recipes.yaml", 4, "bad-quantity"),
    ("recipes.yaml", 5, "unknown-item"),
    ("sales.csv", 3, "bad-number"),
    ("sales.csv", 3, "unknown-service"),
    ("vendors.yaml", 3, "bad-email"),
    ("vendors.yaml", 4, "equal-rows"),
]


def faults_of(tmp_path, house, books):
    for folder, files in (("config", house), ("books", books)):
        (tmp_path / folder).mkdir()
        for name, text in files.items():
            (tmp_path / folder / name).write_text(text, "utf-8")
    with pytest.raises(Refused) as refused:
        load(tmp_path / "config", tmp_path / "books", date(2026, 11, 26))
    return sorted((f.place.rpartition("/")[2], f.line, f.kind) for f in refused.value.faults)


def test_a_fault_of_one_layer_hides_none_of_another(tmp_path):
    assert faults_of(tmp_path, HOUSE, BOOKS) == FOUND


@pytest.mark.parametrize(
    ("name", "text", "kind"),
    [
        (
            "ingredients.yaml",
            "oil: {unit: l, offers: {vendor: x, code: y, pack: 1 l, price: dear, breaks: {4: 1.00}}}\n",
            "bad-number",
        ),
        # What is worked out from a bad word is not said to be wrong as well.
        ("ingredients.yaml", "carrot: {unit: kg, each: heavy, par: 6 each}\n", "bad-quantity"),
        (
            "recipes.yaml",
            "soup: {makes: 4 l, takes: ages, from: [{item: soup, quantity: 1 l, returns: 1 l, at: 2 d}]}\n",
            "bad-quantity",
        ),
        ("house.yaml", "name: A\norder_day: someday\n", "bad-weekday"),
        ("house.yaml", "name: A\nservices: {dinner: {days: [fri]}, lunch: {days: no}}\n", "bad-weekday"),
        ("vendors.yaml", "farm: {name: Farm, deliveries: [{day: thu, order_by: whenever}]}\n", "bad-time"),
        ("calendar.yaml", "closures: [{from: 2026-12-24, until: later}]\n", "bad-date"),
    ],
)
def test_a_bad_word_alone_is_one_fault(tmp_path, name, text, kind):
    house = {"house.yaml": "name: A\nservices: {dinner: {days: [fri]}, lunch: {days: [sat]}}\n", name: text}
    books = {"sales.csv": "date,service,dish,sold\n2026-11-20,dinner,soup,7\n2026-11-21,lunch,soup,7\n"}
    if "order_day" in text:
        books = {}
    assert [found[2] for found in faults_of(tmp_path, house, books)] == [kind]
