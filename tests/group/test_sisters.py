"""What houses that are alike sell: pooled by information, and leant on by a new dish or a new house."""

import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pasts
import pytest
from group import kitchens

from ordering.forecast.demand import forecast
from ordering.group.sisters import Sold, shares_for, sold_of, write_sisters
from ordering.grouping import GroupTerms, group_order
from ordering.read.group_file import read_group
from ordering.records.books import SisterShare

THU = kitchens.THU


def sold(house, share, information=400.0):
    return Sold(house, "dinner", "flatbread", math.log(share), information)


def pooled(*theirs):
    return shares_for("new", theirs)["dinner", "flatbread"]


def test_a_house_does_not_lean_on_itself():
    assert shares_for("quay", [sold("quay", 0.2)]) == {}


def test_sisters_that_agree_are_leant_on_closely_and_those_that_do_not_loosely():
    agree = pooled(*(sold(f"h{n}", 0.2) for n in range(6)))
    differ = pooled(*(sold(f"h{n}", share) for n, share in enumerate([0.08, 0.12, 0.2, 0.3, 0.45, 0.2])))
    assert agree.per_cover == pytest.approx(0.2)
    assert agree.spread < 0.2 < 0.5 < differ.spread


def test_a_sister_that_sold_little_says_little():
    """The mean is near that of the house that sold four hundred, not that of the one that sold five."""
    one = pooled(sold("a", 0.2), sold("b", 0.4, information=5.0))
    assert 0.2 < one.per_cover < 0.27


def test_what_was_sold_ninety_days_ago_counts_half(tmp_path):
    """Portions to a hundred guests: 40 on one night, 10 on a night ninety days before."""
    group = read_group(kitchens.group(tmp_path, 1))
    (tmp_path / "shared" / "house.yaml").write_text("alike: true\n", "utf-8")
    nights = [(THU - timedelta(days=7), 40), (THU - timedelta(days=97), 10)]
    kitchens.write(
        tmp_path / "h0" / "books",
        {
            "sales.csv": "date,service,dish,sold\n"
            + "".join(f"{d},dinner,flatbread,{n}\n" for d, n in nights),
            "covers.csv": "date,service,covers\n" + "".join(f"{d},dinner,100\n" for d, _ in nights),
        },
    )
    (found,) = sold_of(group.members["h0"], group.shared, THU)
    assert math.exp(found.log_share) == pytest.approx((40 + 0.5 * 10) / (100 + 0.5 * 100))


def test_the_published_worked_example_of_the_moments():
    """With variances all equal, the moment estimate is the sample variance less the mean variance."""
    shares, information = [0.1, 0.15, 0.3, 0.2], 50.0
    logs = np.log(shares)
    between = logs.var(ddof=1) - 1 / information
    expected = (0.35**2 + 3 * between) / 4
    found = pooled(*(sold(f"h{n}", s, information) for n, s in enumerate(shares)))
    assert found.per_cover == pytest.approx(math.exp(logs.mean()))
    assert found.spread**2 == pytest.approx(expected + (expected + 1 / information) / 4)


def test_the_file_is_written_only_where_it_says_something_else(tmp_path):
    shares = {("dinner", "flatbread"): SisterShare(0.2, 0.1)}
    write_sisters(tmp_path, {})
    assert not list(tmp_path.iterdir())
    write_sisters(tmp_path, shares)
    first = (tmp_path / "sisters.csv").stat().st_ino
    write_sisters(tmp_path, shares)
    assert (tmp_path / "sisters.csv").stat().st_ino == first


@pytest.mark.usefixtures("by_hand")
def test_a_new_house_is_planned_by_what_its_sisters_sold(tmp_path):
    """It has covers and no sales yet: without sisters each guest is planned one portion, all dishes alike."""
    file = kitchens.group(tmp_path, 3)
    shared = tmp_path / "shared" / "house.yaml"
    shared.write_text("alike: true\n", "utf-8")
    new = tmp_path / "h2" / "books"
    (new / "sales.csv").write_text("date,service,dish,sold\n", "utf-8")
    for n in range(2):
        book = tmp_path / f"h{n}" / "books" / "sales.csv"
        halved = [
            line.rsplit(",", 1)[0] + f",{int(line.rsplit(',', 1)[1]) // 2}" if line[0].isdigit() else line
            for line in book.read_text("utf-8").splitlines()
        ]
        book.write_text("\n".join(halved) + "\n", "utf-8")
    group_order(file, THU, GroupTerms(out=tmp_path / "groups"))
    told = kitchens.rows(tmp_path / "h2" / "runs" / THU.isoformat() / "forecast.csv")
    covers = [float(row["mean"]) for row in told if row["dish"] == "*"]
    portions = [float(row["mean"]) for row in told if row["dish"] == "flatbread"]
    assert sum(portions) / sum(covers) == pytest.approx(0.5, abs=0.08)


def test_a_new_dish_leans_on_sisters_more_than_on_the_menu():
    """Sisters sell it to one cover in twenty; the menu's mean is far above that."""
    home = pasts.home(*(pasts.plate(name) for name in ("soup", "pie", "roast", "novel")))
    covers = pasts.weekly(200)
    rng = np.random.default_rng(3)
    sold = {
        n: rng.poisson(covers * s).astype(float) for n, s in (("soup", 0.3), ("pie", 0.4), ("roast", 0.25))
    }
    books = pasts.books_of(covers, sold)
    days = [pasts.ON + timedelta(days=n) for n in range(3)]
    alone = forecast(home, books, days, 1, 50)
    told = replace(books, sisters={("dinner", "novel"): SisterShare(0.05, 0.1)})
    leaning = forecast(home, told, days, 1, 50)
    novel = alone.dishes.index("novel")
    assert leaning.mean[novel].sum() / leaning.covers_mean.sum() == pytest.approx(0.05, rel=0.1)
    assert alone.mean[novel].sum() > 2 * leaning.mean[novel].sum()
    assert leaning.mean[0] == pytest.approx(alone.mean[0]), "a dish that is well known leans on nobody"
