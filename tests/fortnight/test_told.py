"""The fortnight as the command line told it: placed, booked in, counted, run again."""

import re

import openpyxl
from tiny_oven import CONFIG, FRI, SAT, THU, WEEK, Fortnight


def test_placing_reads_the_chef_s_change_back(fortnight):
    first = fortnight.ordered("2026-11-05")
    status, said = fortnight.story["place"]
    assert status == 0
    assert "Old Mill, for Fri 6 Nov: 2 lines, 60.00 GBP" in said
    if first["M-1"] != 2:
        assert f"changed: Old Mill M-1 Bread flour, Fri 6 Nov: 2 packs, {first['M-1']} proposed" in said


def test_the_next_run_counts_on_what_was_placed(fortnight):
    """Run again after placing, the 20 kg of flour and 4 kg of cheese are scheduled for Friday."""
    rows = fortnight.table("2026-11-05-2", "projection")
    due = {r["item"]: float(r["scheduled"]) for r in rows if r["date"] == str(FRI) and float(r["scheduled"])}
    assert due == {"flour": 20.0, "cheese": 4.0}
    assert fortnight.ordered("2026-11-05-2") == {}


def test_the_short_and_the_price_are_told_for_the_phone_call(fortnight):
    status, said = fortnight.story["receive"]
    assert status == 1
    assert "short: M-2 Hard cheese: 1 of 2 packs came, 1 missing (2 kg, worth 20.00)" in said
    assert "price: M-2 Hard cheese: 20.00 agreed, 21.00 charged a pack (+5.0 %)" in said
    assert "Bread flour" not in said


def test_the_count_is_held_against_theory(fortnight):
    """Flour 12 + 20 - 0.2 x 38 = 24.4, counted 24.0; cheese 4 + 2 - 0.1 x 38 - 0.5 = 1.7, counted 1.6."""
    status, said = fortnight.story["count"]
    assert status == 0
    assert "Hard cheese: 1.6 kg counted, 1.7 kg expected (-0.1 kg, -1.00 GBP)" in said
    assert "Bread flour: 24 kg counted, 24.4 kg expected (-0.4 kg, -0.40 GBP)" in said
    assert "-1.40 GBP over all, 1.40 GBP of it missing" in said


def test_the_second_delivery_under_the_same_file_name_adds_and_replaces_nothing(fortnight):
    """Ordered at what was invoiced last, the cheese comes at its old price again."""
    status, said = fortnight.story["second receive"]
    assert status == 1
    assert "price: M-2 Hard cheese: 21.00 agreed, 20.00 charged a pack (-4.8 %)" in said
    assert "short" not in said
    assert "corrected" not in said


def test_the_three_things_most_worth_doing_are_told_and_the_page_has_the_rest(fortnight, sheets):
    _, said = fortnight.story["review"]
    worth = said.split("Worth doing\n")[1].split("\n\n")[0]
    assert len(re.findall(r"^  [0-9.,]+ GBP: ", worth, re.MULTILINE)) == 3
    assert len(sheets["Worth doing"]) == 5


def test_an_order_below_the_minimum_is_seen_to_and_a_usual_one_is_not(tmp_path):
    """The exit status is 1 because of the minimum alone; how the orders were chosen asks for nothing."""
    house = Fortnight(tmp_path)
    usual = {THU: 20, FRI: 30, SAT: 40}
    past = [(day - WEEK * n, m) for n in range(60, 0, -1) for day, m in usual.items()]
    house.covers = "date,service,covers\n" + "".join(f"{d},dinner,{n}\n" for d, n in past)
    house.sales = "date,service,dish,sold\n" + "".join(f"{d},dinner,cheese-tart,{n // 2}\n" for d, n in past)
    house.sell()
    usual = house.run("order", on=THU)
    assert usual[0] == 0
    assert "Needs attention" not in usual[1]
    assert "under the minimum" not in usual[1]
    vendor = CONFIG["vendors.yaml"].replace("miller:\n", "miller:\n  minimum: 2000.00\n")
    house.write("config/vendors.yaml", vendor)
    status, said = house.run("order", on=THU)
    assert status == 1
    assert "Nothing to check." in said
    assert "under the minimum order of 2,000.00" in " ".join(said.split())
    book = openpyxl.load_workbook(tmp_path / "runs" / "2026-11-05-2" / "order-book.xlsx")
    words = [str(cell.value) for row in book["Today"].iter_rows() for cell in row]
    assert any("under the minimum" in text for text in words)
