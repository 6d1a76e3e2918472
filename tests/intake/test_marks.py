"""How guesses are marked in a house's files: what one look decides carries one mark. Invented lists."""

from datetime import date

import pytest

from ordering.intake.begin import begin
from ordering.intake.bring import ImportTerms, bring

ON = date(2026, 11, 26)
LIST = "Code,Product,Pack,Price\n1,Basil,1 kg,20.00\n2,Free range eggs,15 doz,44.00\n3,Dill,1 kg,18.00\n"


@pytest.fixture
def house(tmp_path):
    begin(tmp_path, None, True)
    return tmp_path


def run(house, what, name, text):
    (house / name).write_text(text, "utf-8")
    vendor = "farm" if what == "prices" else ""
    bring(house / "config", house / "books", what, [house / name], ImportTerms(ON, vendor, is_yes=True))
    return {path.stem: path.read_text("utf-8") for path in (house / "config").glob("*.yaml")}


def test_goods_kept_alike_share_one_mark_that_names_them(house):
    """The next list adds its own to the names; where the mark was taken out, it has one of its own."""
    mark = "store: walk-in # guess: store and keeping time from its name; the same for dill"
    files = run(house, "prices", "farm.csv", LIST)
    assert f"{mark}\n" in files["ingredients"]
    again = run(house, "prices", "farm.csv", f"{LIST}4,Mint,1 kg,17.00\n")
    assert f"{mark}, mint\n" in again["ingredients"]
    path = house / "config" / "ingredients.yaml"
    path.write_text(again["ingredients"].replace(f" # guess{mark.partition('guess')[2]}, mint", ""), "utf-8")
    last = run(house, "prices", "farm.csv", f"{LIST}4,Mint,1 kg,17.00\n5,Sage,1 kg,17.00\n")
    assert last["ingredients"].count("store: walk-in # guess: store and keeping time from its name\n") == 2


def test_a_remark_of_the_house_below_a_mark_stays(house):
    files = run(house, "prices", "farm.csv", LIST)
    path = house / "config" / "ingredients.yaml"
    path.write_text(
        files["ingredients"].replace("dill\n  keeps", "dill\n  # by the door\n  keeps", 1), "utf-8"
    )
    again = run(house, "prices", "farm.csv", f"{LIST}4,Mint,1 kg,17.00\n")
    assert "the same for dill, mint\n  # by the door\n" in again["ingredients"]


def test_a_name_is_asked_about_once_and_another_answer_reads_its_recipes_anew(house):
    """Eggs can only be those of the house; greens are asked about, and one place keeps the answer."""
    run(
        house,
        "prices",
        "farm.csv",
        f"{LIST}4,Greens mustard seedling,1 kg,9.00\n5,Greens collard,1 kg,3.00\n",
    )
    book = "".join(
        f"Recipe,Yield,Qty,UOM,Ingredient\nPie {n},4 portions,6,each,eggs\n,,1,kg,mustard greens\n\n"
        for n in "ab"
    )
    files = run(house, "recipes", "book.csv", book)
    assert "# guess" not in files["recipes"]
    assert files["recipes"].count("item: free-range-eggs, quantity: 6 each") == 2
    taken = "item mustard greens: greens-mustard-seedling # guess: taken without asking"
    assert taken in files["house"]
    assert run(house, "recipes", "book.csv", book) == files
    answered = files["house"].replace(taken, "item mustard greens: greens-collard")
    (house / "config" / "house.yaml").write_text(answered, "utf-8")
    assert run(house, "recipes", "book.csv", book)["recipes"].count("item: greens-collard") == 2
