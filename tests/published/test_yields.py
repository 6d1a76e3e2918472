"""Published yields and household weights, written into YAML as a cook would, read and exploded.

SR28: USDA National Nutrient Database, release 28; field Refuse of file FOOD_DES (78 rows, read) and file
WEIGHT (105 rows, read). SR28 contradicts itself in places (05066 counts its bone twice), and a yield is no
law of nature: carrot has 0.89 here and 0.82 on the card. TM 10-412: US Armed Forces Recipe Service, card A-6,
factors from edible portion to as purchased (43 rows, read in reproductions). FBG: USDA Food Buying Guide for
Child Nutrition Programs. A house measures its own.
"""

import csv
import re
from datetime import date
from fractions import Fraction
from pathlib import Path

import houses
import pytest

from ordering.net.netting import net_all
from ordering.read.house_folder import read_house
from ordering.records.books import Batch
from ordering.records.house import House, RecipeLine
from ordering.records.plan import Opening
from ordering.review.yields import learnt_yields
from ordering.units import UNITS, convert, exact, parse_density

HERE = Path(__file__).parent / "yields"


def rows(name):
    return list(csv.DictReader((HERE / name).read_text("utf-8").splitlines()))


REFUSE = rows("yields_sr28.csv")
CARD = rows("ep_to_ap_afrs.csv")
WEIGHTS = rows("household_weights_sr28.csv")
# lb ready to eat out of 1 lb as purchased
FBG = [
    ("artichoke, untrimmed", "0.23"),  # section 2, p. 2-1, read
    ("artichoke hearts, frozen", "0.99"),  # same
    ("apple, 125-138 count, cored", "0.91"),  # a guide to apples quoting FBG (azrefs.org)
    ("ground beef, at most 20 % fat", "0.74"),  # a training deck quoting section 1
    ("ground beef, at most 15 % fat", "0.75"),  # quoted in public material
    ("turkey, whole, cooked", "0.47"),  # a school supplement quoting FBG
    ("broccoli", "0.81"),  # same
    ("onion, mature", "0.88"),  # this and all below from memory
    ("onion, mature, cooked", "0.78"),
    ("carrot", "0.83"),
    ("celery", "0.83"),
    ("potato", "0.81"),
    ("chicken, whole, cooked", "0.36"),
]


def kitchen(folder: Path, goods: list[tuple[str, str]], quantities: list[str]) -> House:
    """A house read from YAML: ingredients `i-0`, `i-1`, ... and a plate for each, made from so much of it."""
    files = {
        "house.yaml": "name: Test\ncurrency: USD\ntimezone: UTC\nservices: {dinner: {days: [mon]}}\n"
        "order_day: mon\n",
        "ingredients.yaml": "".join(
            f"i-{n}: {{unit: {unit}, {words}}}\n" for n, (unit, words) in enumerate(goods)
        ),
        "recipes.yaml": "".join(
            f"r-{n}:\n  makes: 1 portion\n  from:\n    - {{item: i-{n}, quantity: {quantity}}}\n"
            for n, quantity in enumerate(quantities)
        ),
        "menu.yaml": "".join(f"d-{n}: {{recipe: r-{n}, portion: 1 portion}}\n" for n in range(len(goods))),
    }
    for name, text in files.items():
        (folder / name).write_text(text, "utf-8")
    home, faults = read_house(folder)
    assert [str(fault) for fault in faults] == []
    assert home is not None
    return home


def gross(home: House) -> list[float]:
    """What of each ingredient one plate of everything takes out of the store."""
    sold = {dish: [1.0] for dish in home.dishes}
    found = net_all(home, Opening(), houses.forecast(home, sold), {}, dict.fromkeys(home.ingredients, 0))
    return [float(found.flows[f"i-{n}"].gross.sum()) for n in range(len(home.ingredients))]


def bought_for_a_pound(folder: Path, fractions: list[str]) -> list[float]:
    """Pounds as purchased for one pound of edible portion, the yield written on the ingredient."""
    goods = [("lb", f"yield: {fraction}") for fraction in fractions]
    return gross(kitchen(folder, goods, ["1 lb"] * len(goods)))


@pytest.fixture(scope="module")
def by_refuse(tmp_path_factory):
    """Pounds to buy by NDB number, from the edible fractions of SR28."""
    bought = bought_for_a_pound(tmp_path_factory.mktemp("sr28"), [r["edible_fraction"] for r in REFUSE])
    return {r["ndb_no"]: pounds for r, pounds in zip(REFUSE, bought, strict=True)}


@pytest.fixture(scope="module")
def by_card(tmp_path_factory):
    """Pounds to buy by item, from the yields that the factors of the card come to in three decimals."""
    fractions = [r["implied_edible_fraction"] for r in CARD]
    bought = bought_for_a_pound(tmp_path_factory.mktemp("card"), fractions)
    return {r["item"]: pounds for r, pounds in zip(CARD, bought, strict=True)}


@pytest.mark.parametrize("row", REFUSE, ids=lambda r: f"{r['ndb_no']} {r['description'][:30]}")
def test_what_is_bought_less_its_refuse_is_what_the_recipe_needs(row, by_refuse):
    """AP less refuse (SR28, per cent of what is bought) leaves the pound of edible portion."""
    refused = by_refuse[row["ndb_no"]] * float(row["refuse_percent"]) / 100
    assert by_refuse[row["ndb_no"]] - refused == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("row", CARD, ids=lambda r: r["item"])
def test_the_factor_of_the_card_is_what_is_bought_for_a_pound(row, by_card):
    """TM 10-412 A-6: EP x factor = AP, to the two decimals printed."""
    assert f"{by_card[row['item']]:.2f}" == row["factor_ep_to_ap"]


@pytest.mark.parametrize("row", [r for r in CARD if r["sr28_ndb_no"]], ids=lambda r: r["item"])
def test_two_sources_differ_by_what_they_differ(row, by_card, by_refuse):
    """Card A-6 against SR28 in per cent: cauliflower -53, celery +22. So a house writes its own."""
    ratio = by_card[row["item"]] / by_refuse[row["sr28_ndb_no"]]
    # the last digit of a factor of two decimals and of a yield of three
    assert 100 * (ratio - 1) == pytest.approx(float(row["afrs_vs_sr28_percent"]), abs=0.15)


def test_pounds_of_the_buying_guide(tmp_path):
    """FBG: so many lb ready out of each lb as purchased."""
    bought = bought_for_a_pound(tmp_path, [fraction for _, fraction in FBG])
    for (name, fraction), pounds in zip(FBG, bought, strict=True):
        assert pounds * float(fraction) == pytest.approx(1.0, abs=1e-12), name


def test_a_pound_of_ground_beef_serves_as_the_guide_prints(tmp_path):
    """FBG section 1: 0.74 lb cooked out of a pound, 11.8 servings of 1 oz: they draw 1 lb."""
    beef = kitchen(tmp_path, [("lb", "yield: 0.74")], ["1 oz"])
    assert 11.8 * gross(beef)[0] == pytest.approx(1.0, abs=0.005)


def test_chuck_roll_out_of_a_steer():
    """A 1,300 lb steer dresses at 62 % to a carcass of 806 lb; chuck is 29 % of it, the chuck roll of 37.9 lb
    16 % of the chuck: a beef cuts booklet. The exact last share is 16.2 %, hence one part in fifty."""
    nested = [
        houses.recipe("carcass", 1.0, [RecipeLine("steer", 1.0, 0.62)], unit="lb"),
        houses.recipe("chuck", 1.0, [RecipeLine("carcass", 1.0, 0.29)], unit="lb"),
        houses.recipe("chuck-roll", 1.0, [RecipeLine("chuck", 1.0, 0.16)], unit="lb"),
    ]
    home = houses.house(
        [houses.ingredient("steer", "lb")], nested, [houses.dish("roast", "chuck-roll", 37.9)]
    )
    flows = net_all(home, Opening(), houses.forecast(home, {"roast": [1.0]}), {}, {"steer": 0}).flows
    assert flows["steer"].gross.sum() == pytest.approx(1300, rel=0.02)
    assert flows["carcass"].gross.sum() == pytest.approx(806, rel=0.02)
    assert flows["carcass"].gross.sum() == pytest.approx(0.62 * flows["steer"].gross.sum(), rel=1e-12)


@pytest.mark.parametrize(
    ("roast", "raw", "cooked", "loss"),
    [
        ("prime rib, well done", "31 lb 4 oz", "24 lb 10 oz", 21.2),
        ("prime rib, medium", "60 lb 9 oz", "47 lb 10 oz", 21.4),
        ("ham", "126 lb 15 oz", "94 lb 7 oz", 25.6),
        ("veal leg", "107 lb 2 oz", "76 lb 1 oz", 29.0),
        ("lamb leg", "26 lb 11 oz", "18 lb 13 oz", 29.5),
        ("pork loin", "74 lb 5 oz", "56 lb 3 oz", 24.4),
    ],
)
def test_a_yield_is_learnt_from_totals(roast, raw, cooked, loss):
    """Lowe, Experimental Cookery, table of average losses; the loss from its totals, recomputed. The book
    prints means of the single losses (22.5, 21.7, 25.6, 29.0, 28.0, 26.3 %), which is not what to buy by."""

    def pounds(text):
        lb, oz = map(int, re.findall(r"\d+", text))
        return float(lb + exact(convert(oz, "oz", "lb")))

    home = houses.house(
        [houses.ingredient("raw", "lb")], [houses.recipe("roast", 0.75, {"raw": 1.0}, unit="lb")]
    )
    on = date(2026, 11, 23)
    # weighed in two goes of unequal loss: the total stays
    goes = (0.6, 0.7), (0.4, 0.3)
    batches = [Batch(on, "roast", pounds(raw) * a, pounds(cooked) * b) for a, b in goes]
    learnt = learnt_yields(home, batches, {}, (on, on))[0]
    assert 100 * (1 - learnt.seen) == pytest.approx(loss, abs=0.05), roast


@pytest.fixture(scope="module")
def by_measure(tmp_path_factory):
    """Grams drawn for the measure of each row of WEIGHT, its weight written as `density` or `each`."""
    goods = []
    for row in WEIGHTS:
        one = float(Fraction(row["grams_edible"]) / Fraction(row["amount"]))
        is_volume = UNITS[row["unit"]][0] == "volume"
        goods.append(("g", f"density: {one:.9g} g/{row['unit']}" if is_volume else f"each: {one:.9g} g"))
    measures = [f"{row['amount']} {row['unit']}" for row in WEIGHTS]
    return gross(kitchen(tmp_path_factory.mktemp("weights"), goods, measures))


@pytest.mark.parametrize(
    ("n", "row"), list(enumerate(WEIGHTS)), ids=[f"{r['description'][:20]} {r['measure']}" for r in WEIGHTS]
)
def test_household_measures_weigh_what_the_table_says(n, row, by_measure):
    """SR28, file WEIGHT: grams of edible portion in so many cups, spoons, cloves, sticks or pieces."""
    assert by_measure[n] == pytest.approx(float(row["grams_edible"]), rel=1e-8)


def of_one_form():
    """Rows of a food poured or measured alike in more than one measure, beside its cup (water: litre)."""
    forms = ("01145", "01077", "01049", "04053", "19335", "19296", "02047", "02053", "09152", "14412")
    for ndb_no in forms:
        measured = [r for r in WEIGHTS if r["ndb_no"] == ndb_no and UNITS[r["unit"]][0] == "volume"]
        largest = next(r for r in measured if r["unit"] in ("cup", "l"))
        yield from ((largest, row) for row in measured if row is not largest)


@pytest.mark.parametrize(
    ("cup", "row"), list(of_one_form()), ids=lambda r: f"{r['description'][:12]} {r['measure']}"
)
def test_one_density_gives_the_other_measures(cup, row):
    """The density from a food's cup gives its printed spoons, ounces and quarts, to the table's rounding."""
    density = parse_density(f"{cup['grams_edible']} g/{cup['unit']}")
    grams = convert(Fraction(row["amount"]), row["unit"], "g", density=density)
    assert grams == pytest.approx(float(row["grams_edible"]), rel=0.025)


@pytest.mark.parametrize(
    ("size", "ounces_a_dozen", "edible_g"),
    [("jumbo", 30, 63), ("extra large", 27, 56), ("large", 24, 50), ("medium", 21, 44), ("small", 18, 38)],
)
def test_an_egg_of_the_class_gives_its_edible_grams(tmp_path, size, ounces_a_dozen, edible_g):
    """USDA weight classes, least net ounces a dozen in shell (an egg-safety body's page); SR28 01123: edible
    grams of an egg, 12 % shell. One egg's edible grams draw one egg, within two per cent (large: 0.2 %)."""
    one = ounces_a_dozen / 12
    home = kitchen(tmp_path, [("each", f"each: {one} oz, yield: 0.88")], [f"{edible_g} g"])
    within = 0.0025 if size == "large" else 0.02
    assert gross(home) == pytest.approx([1.0], rel=within)
    assert convert(1, "dozen", "oz", each_g=one * float(UNITS["oz"][1])) == pytest.approx(ounces_a_dozen)
