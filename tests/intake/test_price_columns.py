"""What the columns of a price list say of its packs: weights about, units in names, numbers nobody knows."""

import pytest
from ruamel.yaml.comments import CommentedMap

from ordering.intake.column_roles import columns_of
from ordering.intake.headings import roles_of
from ordering.intake.housefiles import STEMS, HouseFiles, offers_of
from ordering.intake.outcome import Asker, Outcome
from ordering.intake.price_lists import bring_prices
from ordering.intake.sheets import SourceSheet, read_sheets

PER_KG = (
    "Prices per kg unless noted\nCode|Product|Pack|Price\n1|Chorizo|2kg pkt|21.50\n"
    "2|Lamb rump|3kg vac|29.00\n3|Scallops|6 doz tray|118.00"
)


def imported(text, tmp_path, known=(), ask=None):
    """What was said, and (code, pack, price, per) of each offer of a list with columns between strokes."""
    house = HouseFiles(tmp_path, {stem: CommentedMap() for stem in STEMS})
    house.entries("house")["currency"] = "GBP"
    out = Outcome(house, Asker(dict(known), ask, ask is None), tmp_path, None, "prices", "north")
    bring_prices([SourceSheet("list", "", [row.split("|") for row in text.splitlines()])], out)
    offers = [offer for _, _, offer in offers_of(house.entries("ingredients"))]
    return out, {(str(o["code"]), o["pack"], float(o["price"]), o.get("per")) for o in offers}


def test_an_average_weight_of_a_case_is_its_content(tmp_path):
    text = "Ref|Cut|Approx weight|£/kg\nB1|Rump|7 kg|10.40\nB4|Brisket|4 kg|8.60\nP1|Pork belly|4.5 kg|6.25"
    _, offers = imported(text, tmp_path)
    assert {(code, price, per) for code, _, price, per in offers} == {
        ("B1", 10.4, "kg"),
        ("B4", 8.6, "kg"),
        ("P1", 6.25, "kg"),
    }
    assert all(
        weight in pack
        for weight, (_, pack, *_) in zip(("7 kg", "4 kg", "4.5 kg"), sorted(offers), strict=True)
    )


def test_a_unit_at_the_end_of_a_name_is_what_is_sold(tmp_path):
    text = (
        "Code|Description|Price\nA|Basil, bunch|2.4\nB|Leek, each|1.1\nC|Cheeks, kg|18.5\nD|Eggs, dozen|4.20"
    )
    _, offers = imported(text, tmp_path)
    assert {(code, pack) for code, pack, *_ in offers} == {
        ("A", "1 bunch"),
        ("B", "1 each"),
        ("C", "1 kg"),
        ("D", "1 dozen"),
    }


def test_a_column_of_numbers_nobody_knows_is_one_question_for_all_of_the_list(tmp_path):
    """Nobody answers: it is not read, and its question carries the mark; the answer counts every pack."""
    rows = "\n".join(f"{n}|Plain flour {n}|16 kg|12.40|{n % 2 + 1}" for n in range(5))
    out, _ = imported(f"Code|Description|Pack|Price|Inner\n{rows}", tmp_path)
    assert "not read: Inner" in out.told
    assert out.asker.guessed["column inner"] == "none"
    sized = f"Code|Description|Size|Price|Inner\n{rows}"
    answers = ({"column inner": "pack"}, None), ({}, lambda q: "pack" if "Inner" in q.text else q.best)
    for known, ask in answers:  # last week, and now
        _, offers = imported(sized, tmp_path, known, ask)
        assert {pack for _, pack, *_ in offers} == {"16 kg", "2 x 16 kg"}


def test_packs_written_alike_are_one_question_and_no_means_one_by_one(tmp_path):
    text = (
        "Code|Description|Pack|Price\nA|Cucumber|box of 12|8.40\nB|Pomegranate|box of 10|9.90\nC|Leek|5 kg|6"
    )
    out, offers = imported(text, tmp_path)
    assert out.asker.guessed == {"packs box of n": "yes"}
    assert "# guess: pack" not in out.house.text("ingredients")
    out, again = imported(text, tmp_path, known={"packs box of n": "no"})
    assert set(out.asker.guessed) == {"pack A box of 12", "pack B box of 10"}
    assert again == offers


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("1x48", "48 each"),
        ("8 packs of 6", "8 x 6 each"),
        ("180 st", "180 each"),
        ("6 x A10 (2.5kg)", "6 x 2.5 kg"),
        ("8 x 6 pk", "8 x 6 each"),
        ("24 tray", "24 each"),
        ("6 to 7 kg", "1 each ~ 6.5 kg"),
        ("3 pc/5 lb avg", "3 each ~ 15 lb"),
        ("40 x 100 sheets", "40 x 100 each"),
        ("head", "1 each"),
    ],
)
def test_packs_without_a_unit_of_their_own(written, read, tmp_path):
    _, offers = imported(
        f"Code|Description|Pack|Price\nA|Rolls|{written}|19.20\nB|Flour|16 kg|12.40", tmp_path
    )
    assert ("A", read, 19.2, None) in offers


@pytest.mark.parametrize(("of_one", "case_is"), [("2.20", 24.0), ("2.40", 24.0), ("3.00", 3.0)])
def test_of_two_prices_that_of_the_pack_is_about_its_count_times_the_other(of_one, case_is, tmp_path):
    """A bottle alone costs a tenth more than in its case, and no third: common practice, no source."""
    rows = "\n".join(f"{n}|Cider vinegar {n}|12 x 1 l|{of_one}|24.00" for n in range(3))
    _, offers = imported(f"Code|Description|Pack|Price|Unit price\n{rows}", tmp_path)
    assert {price for _, _, price, _ in offers} == {case_is}


def test_a_list_of_one_cell_a_row_is_cut_from_its_end(tmp_path):
    """What a comma has cut is joined again; what has no price, or no pack, is said and not lost."""
    text = (
        "Weekly list\nAvocado 24 tray $38.00\nTomatoes|loose 5kg box $1|027.50\nEggs size 7 15 doz $60.00\n"
        "Lamb rump kg 21.50/kg\nSirloin 8oz 10 x 227g $54.50\nLeeks $4.10\nChives 100g pack out\nSEAFOOD"
    )
    out, offers = imported(text, tmp_path)
    assert offers == {
        ("avocado", "24 each", 38.0, None),
        ("tomatoes-loose", "5 kg", 1027.5, None),
        ("eggs-size-7", "15 dozen", 60.0, None),
        ("lamb-rump", "1 kg", 21.5, "kg"),
        ("sirloin-8oz", "10 x 227 g", 54.5, None),
    }
    assert out.left == [
        "row 8: Chives 100g pack out: no price in this row",
        "row 7: Leeks: what is in a pack?",
    ]
    assert out.asker.guessed == {"packs n tray": "yes", "packs kg": "yes"}


@pytest.mark.parametrize(
    ("text", "offer"),
    [
        (
            "Item|Cut|Grade|Avg Pc Wt|Pcs/Case|Price/lb\n1|Ribeye|Choice|14 lb|4|13.45\n"
            "2|Strip|Choice|13 lb|5|10.90\n3|Flat iron|-|2.5 lb|8|9.35",
            ("1", "4 each ~ 56 lb", 13.45, "lb"),
        ),
        (
            "PLU|Cut|Case (approx.)|$/kg\n1|Pork bones|20 kg|2.09\n2|Back fat|5 kg|3.53\n"
            "3|Pork belly|approx. 5 kg|11.79",
            ("3", "1 each ~ 5 kg", 11.79, "kg"),
        ),
        (
            "SKU|Description|Qty|Size|Unit|Price\n1|Syrup|4|.5|GA|118.00\n2|Jelly|200|.5|OZ|17.60\n"
            "3|Sugar|1|50|LB|34.10\n4|Salt|1|25|LB|9.10",
            ("2", "200 x 0.5 oz", 17.6, None),
        ),
        ("Product|Unit|Wholesale\nBun|1 dz|7.8\nRoll|2 dz|19.2\nRye|ea|21", ("bun", "1 dozen", 7.8, None)),
    ],
)
def test_what_counts_or_weighs_a_pack_is_no_price(text, offer, tmp_path):
    assert offer in imported(text, tmp_path)[1]


@pytest.mark.parametrize(("heading", "is_pack"), [("Pack sise", True), ("Rack", False)])
def test_a_heading_is_read_past_a_slip_of_the_pen_and_no_further(heading, is_pack):
    assert ("pack" in columns_of(["Item", heading], roles_of("prices"), {})[0]) is is_pack


def test_three_lines_under_one_another_are_columns(tmp_path):
    file = tmp_path / "list.txt"
    file.write_text("Code   Item        Price\nR100   Ribeye      16.40\nR120   Prime rib    9.80\n", "utf-8")
    assert read_sheets(file)[0].rows[2] == ["R120", "Prime rib", "9.80"]


def test_columns_set_apart_by_spaces_are_cut_where_nearly_all_lines_are_blank(tmp_path):
    file = tmp_path / "list.txt"
    goods = [
        ("R100", "Ribeye steak, 14 oz", "12 ct", "16.40", "ea"),
        ("R120", "Prime rib", "15 lb", "9.80", "lb"),
    ]
    rows = [("Code", "Item", "Pack", "Price", "per"), *goods * 3]
    lines = [f"{a:<7}{b:<24}{c:<12}{d:>7}  {e}" for a, b, c, d, e in rows]
    file.write_text("\n".join(["Prices this week, call by 3", "", *lines, "Happy holidays!"]), "utf-8")
    (sheet,) = read_sheets(file)
    assert [tuple(row) for row in sheet.rows[1:-1]] == rows
    assert (sheet.rows[0], sheet.line(1)) == (["Prices this week, call by 3"], 3)
    file.write_text("Code,Item  name,Pack  size\n" + "1,Butter  salted,6  x 1 kg\n" * 8, "utf-8")
    assert read_sheets(file)[0].how.endswith("commas")


@pytest.mark.parametrize(
    ("text", "offer"),
    [
        (
            "Code|Item|Unit of sale|Unit price\n1|Olive oil 4L|ctn 4|$148.00\n2|Vinegar 750ml|ctn 6|$66.00\n"
            "3|Pomace oil 20L|ea|$129.00",
            ("1", "4 x 4 l", 148.0, None),
        ),
        (
            PER_KG,
            ("1", "2 kg", 21.5, "kg"),
        ),
        (
            PER_KG,
            ("3", "6 dozen", 118.0, None),
        ),
        (
            "No.|Item|Pack|Price/lb\n1|Crab cake, 3 oz|36 ct|2.35 ea\n2|Salmon fillet|10 lb|11.20\n"
            "3|Sole|10 lb|9.80",
            ("1", "36 each", 2.35, "each"),
        ),
        (
            "Item|Pack|Market|Code\nAsparagus|11 lb|41|300\nGreens|3 lb|10.75|301\nRomaine|6/2 lb|22.5|302\n"
            "Cabbage|50 lb|17|303",
            ("300", "11 lb", 41.0, None),
        ),
        (
            "Crop|Sold by|EUR\nBeetroot, bunched|bunch|2.20\nCauliflower|6 per tray|13.20\n"
            "Duck egg|half doz|3.30",
            ("beetroot-bunched", "1 bunch", 2.2, None),
        ),
        (
            "Code|Item|UOM|Price\n1|EGGS TRAY 30 X 6|CTN|78.00\n2|BUTTER 500G X 20|CTN|129.00",
            ("1", "30 x 6 each", 78.0, None),
        ),
        (
            "No|Product|Sold as|Weight|EUR / kg\n1|Ham|tray 1 kg|1 kg|10.90\n"
            "2|Andouille|piece|ca. 1,8 kg|16.20\n3|Raclette|piece|ca. 3 kg|12.90",
            ("2", "1 each ~ 1.8 kg", 16.2, "kg"),
        ),
    ],
)
def test_what_a_pack_holds_and_its_price_is_for_may_stand_elsewhere(text, offer, tmp_path):
    assert offer in imported(text, tmp_path)[1]


def test_goods_that_differ_by_a_number_are_not_put_together(tmp_path):
    out, _ = imported(
        "Code|Item|Pack|Price\n1|Pizza box 14 in|50 ct|21.00\n2|Pizza box 18 in|50 ct|28.00", tmp_path
    )
    assert len(out.house.entries("ingredients")) == 2


def test_a_tab_of_one_cell_a_row_does_not_hide_the_tables_of_others(tmp_path):
    house = HouseFiles(tmp_path, {stem: CommentedMap() for stem in STEMS})
    out = Outcome(house, Asker({}, None, True), tmp_path, None, "prices", "north")
    tabs = [
        "Leeks 5 kg $8.00\nKale 2 kg $6.50\nChard 2 kg $7.00",
        "Code|Item|Pack|Price\n9|Flour|16 kg|12.40",
    ]
    bring_prices([SourceSheet("list", "", [r.split("|") for r in tab.splitlines()]) for tab in tabs], out)
    assert len(house.entries("ingredients")) == 4


@pytest.mark.parametrize(
    ("pack", "price", "said"),
    [
        ("5 kg", "14.00", "up: Flour: 10.00 to 14.00 (+40 %)"),
        ("10 kg", "14.00", "down: Flour: 10.00 for 5 kg to 14.00 for 10 kg (-30 % by what a pack holds)"),
        ("4 kg", "10.00", "up: Flour: 10.00 for 5 kg to 10.00 for 4 kg (+25 % by what a pack holds)"),
    ],
)
def test_a_price_is_compared_by_what_a_pack_holds(pack, price, said, tmp_path):
    house = HouseFiles(tmp_path, {stem: CommentedMap() for stem in STEMS})
    for held, cost in (("5 kg", "10.00"), (pack, price)):
        out = Outcome(house, Asker({}, None, True), tmp_path, None, "prices", "north")
        rows = [["Code", "Item", "Pack", "Price"], ["9", "Flour", held, cost]]
        bring_prices([SourceSheet("list", "", rows)], out)
    assert said in out.told


@pytest.mark.parametrize("heading", ["Ctn price ex GST", "Case price excl. VAT", "Tariff", "$"])
def test_a_line_of_goods_is_no_heading_whatever_the_heading_says(heading, tmp_path):
    text = (
        f"Saltbush list||\nCode|Description|Pack|{heading}\nJ1|Soy sauce, dark|18 L tin|$78.00\n"
        "J3|Soy sauce, white|6 x 1.8 L|$96.00\nJ5|Rice, short grain|20 kg|$48.50"
    )
    _, offers = imported(text, tmp_path)
    assert {(code, price) for code, _, price, _ in offers} == {("J1", 78.0), ("J3", 96.0), ("J5", 48.5)}


def test_a_half_beside_its_count_is_half_a_unit_and_a_dash_parts_the_cells_of_a_line(tmp_path):
    """Nothing else can be meant where its count has a column of its own; `9/1/2 GAL` is still asked."""
    _, offers = imported(
        "Code|Description|Pack|Size|Price\nA|Buttermilk|9|1/2 GAL|27.80\nB|Milk|4|1 GAL|18", tmp_path
    )
    assert ("A", "9 x 0.5 imp gallon", 27.8, None) in offers
    lines = "Lemons - box of 100 - £24.00\nCucumber - each - £0.85\nChicken, spatchcock 1.4 kg, @ £6.20"
    _, offers = imported(lines, tmp_path)
    assert {(code, pack) for code, pack, *_ in offers} == {
        ("lemons", "100 each"),
        ("cucumber", "1 each"),
        ("chicken-spatchcock", "1.4 kg"),
    }


def test_a_letter_says_more_above_and_below_its_lines(tmp_path):
    """Only what stands between the first price and the last is a list; `at` before a price is no name."""
    text = (
        "From: Orders|of the club\nHello all|\nhere is what we cut this week\nplease order by noon\nBEEF\n"
        "Brisket|packer - 2 pc case|avg 30 lb - $4.65/lb\nButter, box of 40 x 250 g, at $84.00\n"
        "Yeast, 1 kg block, at $3.10\nThanks|and stay warm\nThe cutting room"
    )
    _, offers = imported(text, tmp_path)
    assert offers == {
        ("brisket-packer", "2 each ~ 30 lb", 4.65, "lb"),
        ("butter", "40 x 250 g", 84.0, None),
        ("yeast", "1 kg", 3.1, None),
    }


def test_a_column_that_says_per_may_hold_the_packs_and_one_of_grades_the_codes(tmp_path):
    _, offers = imported(
        "Per|Line|Price\n20 kg net|Onions|9.50\n5 kg box|Leeks|8.80\nkilo|Parsley|7.40", tmp_path
    )
    assert {(code, pack) for code, pack, *_ in offers} == {
        ("onions", "20 kg"),
        ("leeks", "5 kg"),
        ("parsley", "1 kg"),
    }
    mill = (
        "Grade|Product|Bag|£ per tonne|£ per bag\nSW1|Strong flour|25 kg|760|19.00\n"
        "RY1|Rye|20 kg|880|17.60\nSW2|Plain flour|25 kg|640|16"
    )
    _, offers = imported(mill, tmp_path)
    assert offers == {
        ("SW1", "25 kg", 19.0, None),
        ("RY1", "20 kg", 17.6, None),
        ("SW2", "25 kg", 16.0, None),
    }
