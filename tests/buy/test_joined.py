"""Later deliveries below their minimum: joined, or said."""

from collections import defaultdict
from datetime import date
from decimal import Decimal
from functools import cache

import numpy as np
import pytest
from buy.kitchens import kitchen
from buy.needs import bought, lacking, need, packs
from houses import house, ingredient, offer, vendor

from ordering.buy.calendar import item_chances
from ordering.buy.curve import cover
from ordering.buy.joined import Wish, goods, joined, lacks

N_DAYS = 21


def things(keeps_days):
    """Salt and herbs at 10.00 a pack."""
    return [
        ingredient("salt", offers=(offer("farm", "salt", 1, 10),)),
        ingredient("herbs", keeps_days=keeps_days, offers=(offer("farm", "herbs", 1, 10),)),
    ]


def home(keeps_days, minimum=40, **rest):
    return house(things(keeps_days), vendors=[vendor("farm", (1, 4), minimum=Decimal(minimum), **rest)])


def test_a_small_delivery_comes_with_the_one_before_it_while_it_keeps():
    wanted = need("salt", {9: 4}, N_DAYS), need("herbs", {11: 1, 15: 4}, N_DAYS)
    kept = bought(home(4), *wanted)
    assert packs(kept.outlook) == [("farm-herbs", 8, 1), ("farm-herbs", 15, 4), ("farm-salt", 8, 4)]
    assert kept.notes == ()
    fresh = bought(home(2), *wanted)
    assert packs(fresh.outlook) == [("farm-herbs", 11, 1), ("farm-herbs", 15, 4), ("farm-salt", 8, 4)]
    assert any("10.00 looked for on Fri 4 Dec is under" in note for note in fresh.notes)


def test_a_small_delivery_is_filled_from_the_next_one():
    """Herbs of the Tuesday cannot come earlier; the salt of the Friday can come with them."""
    buying = bought(home(1), need("salt", {11: 6}, N_DAYS), need("herbs", {8: 1}, N_DAYS))
    assert packs(buying.outlook) == [("farm-herbs", 8, 1), ("farm-salt", 8, 6)]


def test_a_free_choice_is_left_alone():
    buying = bought(home(4, 0), need("salt", {9: 4}, N_DAYS), need("herbs", {11: 1, 15: 4}, N_DAYS))
    assert packs(buying.outlook) == [("farm-herbs", 11, 1), ("farm-herbs", 15, 4), ("farm-salt", 8, 4)]


def test_what_stays_below_a_minimum_is_said_once_for_each_vendor():
    buying = bought(home(1, 100), need("salt", {}, N_DAYS), need("herbs", {8: 1, 11: 1, 15: 1}, N_DAYS))
    low = [note for note in buying.notes if "looked for" in note]
    assert low == [
        "Farm: 10.00 looked for on Tue 1 Dec is under the minimum order of 100, and 2 deliveries after it. "
        "Nothing has been ordered for it yet: add to it, or ask the vendor, when it is due"
    ]


def test_the_last_delivery_within_the_horizon_is_not_judged():
    buying = bought(home(1, 100), need("salt", {}, N_DAYS), need("herbs", {18: 1}, N_DAYS))
    assert packs(buying.outlook) == [("farm-herbs", 18, 1)]
    assert buying.notes == ()


def test_the_notes_are_few_however_many_the_vendors():
    ids = [f"farm-{i}" for i in range(20)]
    herbs = [ingredient(f"herb-{i}", keeps_days=1, offers=(offer(i, f"herb-{i}", 1, 10),)) for i in ids]
    many = house(herbs, vendors=[vendor(i, (1, 4), minimum=Decimal(40)) for i in ids])
    buying = bought(many, *(need(f"herb-{i}", {8: 1}, N_DAYS) for i in ids))
    assert len(buying.outlook) == 20
    assert len(buying.notes) == 7
    assert (
        buying.notes[-1]
        == "Later deliveries from 14 more vendors look like coming in under the minimum order"
    )


@cache
def foreseen_of(seed, harsh):
    """Wishes of a random kitchen that orders nothing now, with the lines foreseen one by one and joined."""
    place, requirements, chances, _ = kitchen(15, 3, seed, harsh)
    wishes = {}
    for item, asked in requirements.items():
        pairs = [pair for pair in item_chances(place, item, chances) if not pair[1].is_now]
        found = cover(place.ingredients[item], pairs, asked)
        if found is not None:
            wishes[item] = Wish(found, pairs, asked, 0.0, ())
    alone = {item: wish.without(frozenset())[0] for item, wish in wishes.items()}
    return place, wishes, alone, joined(wishes, place.vendors)


def money(place, lines):
    total = 0.0
    for (vendor_id, _), value in goods(lines).items():
        seller = place.vendors[vendor_id]
        is_waived = seller.fee_waived_over is not None and value >= seller.fee_waived_over
        total += value + lacks(seller, value) + (0.0 if is_waived else float(seller.delivery_fee))
    return total


@pytest.mark.parametrize("harsh", [1.0, 3.0])
@pytest.mark.parametrize("seed", range(6))
def test_joining_covers_as_much_and_saves(seed, harsh):
    place, wishes, alone, together = foreseen_of(seed, harsh)
    for item, wish in wishes.items():
        brought = defaultdict(float)
        for own, chance, n in together[item]:
            brought[chance.day] += n * own.pack_quantity
        daily = np.diff(wish.cover.need, prepend=0.0).tolist()
        assert sum(lacking(daily, brought.items(), wish.cover.keeps_days)) == pytest.approx(0.0, abs=1e-5)
    short = sum(lacks(place.vendors[d[0]], v) for d, v in goods(together).items())
    assert short < sum(lacks(place.vendors[d[0]], v) for d, v in goods(alone).items())
    assert money(place, together) < money(place, alone)
    assert min(c.deliver_on for lines in together.values() for _, c, _ in lines) > date(2026, 11, 26)
