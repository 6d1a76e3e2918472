"""Batches under way are starts on earlier days: what they still draw is netted, what comes off them comes."""

import houses
import numpy as np
import pytest
import strategies
from houses import day, dish, ingredient, line, recipe
from hypothesis import given, settings
from hypothesis import strategies as st

from ordering.net.netting import net_all
from ordering.net.opening import opening
from ordering.net.problem import gross_of, parcels_of, problem_of
from ordering.records.books import Batch, CountedLot

WAYS = ("written", "counted", "both")


def home(made):
    """One recipe, its parts and what comes off it."""
    items = {x.item for x in made.lines} | {i for i, _ in made.also_makes}
    return houses.house([ingredient(i) for i in sorted(items)], [made], [dish("plate", "made")])


@st.composite
def makings(draw):
    """A recipe of up to a week with lines on any day of it, by-products and liquors that come back."""
    takes = draw(st.integers(0, 6))
    lines = [
        line(f"part-{n}", draw(st.integers(1, 8)) / 4, at_days=draw(st.integers(0, takes)))
        for n in range(draw(st.integers(1, 4)))
    ]
    lines.append(line("liquor", 2.0, returns=1.5, at_days=draw(st.integers(0, takes))))
    return recipe("made", 4.0, lines, takes_days=takes, also_makes=(("bones", 0.5),))


def books_of(made, way, counted_on):
    """Two batches begun on day 0, after a count of all parts that morning; known to the books in one way."""
    parts = sorted({x.item for x in made.lines} | {"bones"})
    counts = [CountedLot(day(0), i, 50.0) for i in parts]
    if way != "written":
        counts.append(CountedLot(day(counted_on), "made", 8.0, None, day(made.takes_days)))
    elif made.takes_days:
        counts.append(CountedLot(day(0), "made", 0.0))
    batches = (Batch(day(0), "made", 0.0, 8.0),) if way != "counted" else ()
    return houses.books(counts=tuple(counts), batches=batches)


def drawn_and_come(problem, starts):
    """By item: what is drawn and what comes off batches, by day."""
    found = {}
    for item in problem.graph.items:
        came = np.zeros(problem.n_days)
        for parcel in parcels_of(problem, starts, item):
            if parcel.kind == "by-product" and parcel.first < problem.n_days:
                came[parcel.first] += parcel.mean
        found[item] = gross_of(problem, starts, item)[:, 0], came
    return found


@settings(strategies.LAW, max_examples=80)
@given(makings(), st.sampled_from(WAYS), st.data())
def test_batches_begun_yesterday_and_planned_today_draw_and_give_the_same(made, way, data):
    """Whichever day the run is made and however the batch entered the books: stock and what is still to
    come and go add up to the same on every day from then on."""
    on = data.draw(st.integers(1, made.takes_days + 2), "day of the run")
    if way != "written" and (made.takes_days < 2 or on < 2):
        way = "written"
    latest = 1 if way == "written" else min(on, made.takes_days - 1)
    counted_on = data.draw(st.integers(1, latest), "counted on")
    house, n_days = home(made), 12
    quiet = houses.forecast(house, {"plate": [0.0] * n_days})
    planned = problem_of(house, opening(house, houses.books(), day(0)), quiet, {})
    two = np.zeros((n_days, 1))
    two[0] = 2.0
    later = houses.forecast(house, {"plate": [0.0] * n_days}, on=day(on))
    stock = opening(house, books_of(made, way, counted_on), day(on))
    begun = problem_of(house, stock, later, {})
    ahead = drawn_and_come(planned, {"made": two})
    for item, (draws, came) in drawn_and_come(begun, {}).items():
        if item == "made":
            continue
        was = 50.0 + np.cumsum(ahead[item][1] - ahead[item][0])
        there = sum(lot.quantity for lot in stock.lots if lot.item == item)
        assert there + np.cumsum(came - draws)[: n_days - on] == pytest.approx(was[on:], abs=1e-9)
        assert draws[: n_days - on] == pytest.approx(ahead[item][0][on:], abs=1e-9)


def aged(takes):
    return houses.house(
        [ingredient("rib"), ingredient("trim")],
        [
            recipe("aged", 1, {"rib": 2}, takes_days=takes, also_makes=(("trim", 0.3),)),
            recipe("burger", 1, {"trim": 1}),
        ],
        [dish("steak", "aged"), dish("patty", "burger")],
    )


@pytest.mark.parametrize("on", [-3, -1, 0, 1, 2])
def test_the_trim_of_a_lot_counted_in_process_is_there_from_the_day_it_is_ready(on):
    house = aged(35)
    counts = (
        CountedLot(day(-3), "rib", 20.0),
        CountedLot(day(-3), "trim", 0.0),
        CountedLot(day(-3), "aged", 10.0, None, day(0)),
    )
    stock = opening(house, houses.books(counts=counts), day(on))
    quiet = houses.forecast(house, {"steak": [0.0] * 10, "patty": [0.0] * 10}, on=day(on))
    trim = net_all(house, stock, quiet, {}, {"rib": 0}).flows["trim"]
    # the rib that hangs was not on the shelf when the rib was counted
    assert trim.opening == pytest.approx(3.0 if on >= 0 else 0.0)
    assert trim.by_product.tolist() == [pytest.approx(3.0 if n == -on and n else 0.0) for n in range(10)]
    assert [x.quantity for x in stock.lots if x.item == "rib"] == [20.0]


@pytest.mark.parametrize("started", [-8, -7, -6])
def test_the_trim_of_a_batch_written_down_is_there_on_the_day_it_is_ready(started):
    """A rib hung on a Monday for seven days is ready on a Monday, the day of the run."""
    house = aged(7)
    counts = tuple(CountedLot(day(-10), i, q) for i, q in (("rib", 20.0), ("trim", 0.0), ("aged", 0.0)))
    books = houses.books(counts=counts, batches=(Batch(day(started), "aged", 20.0, 10.0),))
    stock = opening(house, books, day(0))
    quiet = houses.forecast(house, {"steak": [0.0] * 10, "patty": [0.0] * 10})
    trim = net_all(house, stock, quiet, {}, {"rib": 0}).flows["trim"]
    ready = started + 7
    assert trim.opening == pytest.approx(3.0 if ready <= 0 else 0.0)
    assert trim.by_product.sum() == pytest.approx(3.0 if ready > 0 else 0.0)


def confit(at_days=1):
    made = recipe(
        "confit",
        12.0,
        [
            line("meat", 3.0),
            line("fat", 1.8, returns=1.5, at_days=at_days),
            line("herb", 2.0, at_days=at_days),
        ],
        unit="each",
        takes_days=3,
        keeps_days=20,
        is_whole=True,
    )
    parts = [ingredient("meat"), ingredient("herb", "bunch"), ingredient("fat")]
    return houses.house(parts, [made], [dish("leg", "confit")])


@pytest.mark.parametrize("way", ["written", "counted"])
def test_what_a_batch_begun_yesterday_needs_today_is_short_where_it_is_not_there(way):
    """Two batches begun on Sunday need 4 bunches of herb and 3.6 kg of fat today; 3 kg come back later."""
    house = confit()
    zero = [CountedLot(day(-1), i, q) for i, q in (("meat", 6.0), ("herb", 0.0), ("fat", 0.5))]
    if way == "written":
        books = houses.books(counts=tuple(zero), batches=(Batch(day(-1), "confit", 6.0, 24.0),))
    else:
        books = houses.books(counts=(*zero, CountedLot(day(0), "confit", 24.0, None, day(2))))
    quiet = houses.forecast(house, {"leg": [0.0] * 6})
    stock = opening(house, books, day(0))
    found = net_all(house, stock, quiet, {}, {"herb": 2, "fat": 2, "meat": 2})
    herb, fat = found.flows["herb"], found.flows["fat"]
    assert herb.gross[:4] == pytest.approx([4.0, 0, 0, 0])
    assert herb.by_parent["confit"][:4] == pytest.approx([4.0, 0, 0, 0])
    assert herb.short[0] == pytest.approx(4.0)
    assert fat.gross[0] == pytest.approx(3.6)
    assert fat.short[0] == pytest.approx(3.1)
    assert fat.by_product[2] == pytest.approx(3.0)
    assert {(s.item, s.needed_on, s.under_way) for s in found.shortfalls} == {
        ("herb", day(0), ("confit",)),
        ("fat", day(0), ("confit",)),
    }
    assert [x.quantity for x in stock.lots if x.item == "meat"] == []


def test_what_a_batch_under_way_needs_tomorrow_is_bought():
    house = confit(at_days=2)
    counts = (
        CountedLot(day(0), "herb", 1.0),
        CountedLot(day(0), "fat", 9.0),
        CountedLot(day(0), "confit", 24.0, None, day(2)),
    )
    stock = opening(house, houses.books(counts=counts), day(0))
    quiet = houses.forecast(house, {"leg": [0.0] * 6})
    found = net_all(house, stock, quiet, houses.deliveries("v", [1]), {"herb": 1, "fat": 1, "meat": 1})
    assert found.requirements["herb"].required.tolist() == pytest.approx([0, 3, 3, 3, 3, 3])
    assert found.shortfalls == ()


def test_a_batch_under_way_is_finished_before_another_is_begun():
    """Two bunches of herb are there: they go to the batch that hangs already, whose meat is in it."""
    house = confit()
    counts = (
        CountedLot(day(0), "meat", 9.0),
        CountedLot(day(0), "fat", 9.0),
        CountedLot(day(0), "herb", 2.0),
        CountedLot(day(0), "confit", 12.0, None, day(2)),
    )
    stock = opening(house, houses.books(counts=counts), day(0))
    wanted = houses.forecast(house, {"leg": [0.0, 0.0, 12.0, 12.0, 0.0, 0.0]})
    found = net_all(house, stock, wanted, {}, {"herb": 5, "fat": 5, "meat": 5})
    assert found.flows["herb"].short[0] == 0
    assert found.flows["herb"].by_parent["confit"][0] == pytest.approx(2.0)
