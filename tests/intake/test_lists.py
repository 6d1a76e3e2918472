"""One price list in every layout that vendors use: it reads the same in each.

`lists/` has the same eleven goods: columns in any order, counts and sizes apart, prices of the case and of a
piece, last week's price, tax, prices by quantity or by day, two lists side by side, three under one another,
two rows for each of the goods, a print with its pages, no heading at all. The goods and prices are invented.
"""

from pathlib import Path

import pytest
from ruamel.yaml.comments import CommentedMap

from ordering.intake.goods_names import id_of
from ordering.intake.housefiles import STEMS, HouseFiles, offers_of
from ordering.intake.outcome import Asker, Outcome
from ordering.intake.price_lists import bring_prices
from ordering.intake.sheets import read_sheets

LISTS = sorted((Path(__file__).parent / "lists").iterdir())
NO_CODES = ("in-name-comma",)
GOODS = """
10412 | Butter unsalted | 36 x 1 lb | 118.44
10430 | Heavy cream 36% | 12 x 32 fl oz | 49.8
10444 | Cheddar shredded | 4 x 5 lb | 58.2
20110 | Onion yellow jumbo | 50 lb | 21.5
20115 | Carrot jumbo | 25 lb | 13.95
20120 | Garlic peeled | 6 x 5 lb | 82.2
30112 | Tomato crushed | 6 no. 10 can | 33.66
30125 | Sugar granulated | 50 lb | 34.1
30145 | Vinegar cider | 4 x 1 gallon | 18.84
30149 | Olive oil extra virgin | 6 x 1 l | 92.4
30160 | Smoked paprika | 6 x 18 oz | 57.9
"""


@pytest.mark.parametrize("path", LISTS, ids=lambda path: path.stem)
def test_the_same_list_reads_the_same_in_every_layout(path, tmp_path):
    house = HouseFiles(tmp_path, {stem: CommentedMap() for stem in STEMS})
    house.entries("house")["currency"] = "USD"
    out = Outcome(house, Asker({}, None, True), tmp_path, None, "prices", "north")
    bring_prices(read_sheets(path), out)
    offers = [offer for _, _, offer in offers_of(house.entries("ingredients"))]
    read = {(str(o["code"]), o["pack"], f"{float(o['price']):g}", o.get("per")) for o in offers}
    due = set()
    for line in GOODS.strip().splitlines():
        code, name, pack, price = line.split(" | ")
        due.add((id_of(name) if path.stem in NO_CODES else code, pack, price, None))
    assert read == due
    assert out.left == []
