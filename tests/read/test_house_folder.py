"""A house from YAML: every key of every file, in the item's own unit."""

from datetime import date, time
from decimal import Decimal

import pytest

from ordering.read.house_folder import read_house
from ordering.records.house import Closure, NamedEvent, Party, Place, RecipeLine
from ordering.records.vendors import DeliveryDay

FULL = {
    "house.yaml": """
name: Test Kitchen
email: chef@house.example
address: |
  1 Quay
  Nowhere
currency: GBP
timezone: Europe/London
services:
  lunch:  {days: [thu, Friday]}
  dinner: {days: wed}
order_day: [mon, thu]
policy: {service_level: 0.9, paths: 100, seed: 7}
budget: 4000
holidays: {country: GB, subdivision: ENG}
consumables:
  - {item: charcoal, quantity: 14 kg, per: service}
headers:
  sales: {Qty: sold}
dish_names: {Braised Cheek: cheek}
service_names: {Daypart 2: dinner}
""",
    "vendors.yaml": """
butcher:
  name: Butcher
  email: orders@butcher.example
  account: A-17
  notes: ring twice
  deliveries:
    - {day: sat, order_by: thu 15:00}
    - {day: fri, order_by: thu 9:30, weeks_ahead: 2}
  minimum: 120.00
  delivery_fee: 8.00
  fee_waived_over: 250.00
  closed: [2026-12-25, 2026-12-27 to 2026-12-28, {from: 2026-12-31, until: 2027-01-01}]
mill: {name: Mill}
""",
    "ingredients.yaml": """
beef-cheek:
  name: Ox cheek
  unit: kg
  store: walk-in
  keeps: 36 h
  yield: 0.85
  par: 6000 g
  each: 1 lb
  allergens: [celery, celery]
  hazards: raw-meat
  offers:
    - {vendor: butcher, code: B-1, pack: 6 x 1 kg, price: 31.20}
    - {vendor: butcher, code: "077", pack: 1 each ~ 4.2 kg, price: 11.40, per: kg, breaks: {4: 11.00}}
    - {vendor: mill, code: B-1, pack: 2 x 5 lb, price: 2, per: lb, preferred: yes, from: 2026-01-01,
       until: 2026-12-31, description: "cheeks, trimmed"}
    - {vendor: mill, code: no, pack: 3 each}
charcoal: {unit: bag, each: 5 kg}
oil: {unit: l, density: 0.92 kg/l}
bones: {unit: kg}
""",
    "recipes.yaml": """
braise:
  name: Braise
  makes: 4 kg
  batches: whole
  takes: 60 h
  keeps: 60 h
  largest: 12000 g
  store: walk-in
  par: 2 kg
  from:
    - {item: beef-cheek, quantity: 5.2 kg}
    - {item: beef-cheek, quantity: 1 kg, yield: 0.5}
    - {item: oil, quantity: 92 g, at: 36 h}
    - {item: liquor, quantity: 3 l, returns: 2400 ml}
  also_makes: [{item: bones, quantity: 1100 g}]
  hazards: [slow-cooling]
  allergens: [celery]
  notes: |
    skim often
liquor: {makes: 1 l, from: []}
""",
    "menu.yaml": """
cheek:
  name: Cheek
  recipe: braise
  portion: 200 g
  price: 24.00
  services: [dinner]
  from: 2026-10-01
  until: 2026-12-31
  like: stew
  service_level: 0.98
stew: {recipe: braise, portion: 0.3 kg}
for-parties: {recipe: braise, portion: 0.3 kg, services: []}
""",
    "calendar.yaml": """
closures:
  - 2026-12-25
  - {date: 2026-12-26, services: lunch, why: rest}
  - {from: 2027-01-01, until: 2027-01-03}
events:
  - {name: Wedding, date: 2026-12-05, service: dinner, covers: 40, menu: {cheek: 40}, instead: true}
  - {name: Regatta, dates: [2025-08-01 to 2025-08-02, 2026-08-07], services: [lunch]}
""",
}


def written(tmp_path, files):
    for name, text in files.items():
        (tmp_path / name).write_text(text, "utf-8")
    return tmp_path


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    found, faults = read_house(written(tmp_path_factory.mktemp("full"), FULL))
    assert [str(fault) for fault in faults] == []
    return found


def test_the_house_itself(house):
    assert (house.name, house.currency, house.timezone) == ("Test Kitchen", "GBP", "Europe/London")
    assert house.email == "chef@house.example"
    assert house.address == "1 Quay\nNowhere"
    assert {key: sorted(one.weekdays) for key, one in house.services.items()} == {
        "lunch": [3, 4],
        "dinner": [2],
    }
    assert house.order_weekdays == {0, 3}
    policy = house.policy
    assert (policy.service_level, policy.paths, policy.seed) == (0.9, 100, 7)
    assert policy.weekly_budget == Decimal(4000)
    assert (house.holiday_country, house.holiday_subdivision) == ("GB", "ENG")
    assert house.headers == {"sales": {"Qty": "sold"}}
    assert house.dish_names == {"Braised Cheek": "cheek"}
    assert house.service_names == {"Daypart 2": "dinner"}


def test_a_consumable_is_in_its_items_unit(house):
    assert [(one.item, one.quantity, one.per) for one in house.consumables] == [("charcoal", 2.8, "service")]


def test_a_vendor(house):
    vendor = house.vendors["butcher"]
    assert vendor.deliveries == (DeliveryDay(5, 3, time(15)), DeliveryDay(4, 3, time(9, 30), 2))
    assert (vendor.minimum, vendor.delivery_fee, vendor.fee_waived_over) == (120, 8, 250)
    assert sorted(day.isoformat() for day in vendor.closed) == [
        "2026-12-25",
        "2026-12-27",
        "2026-12-28",
        "2026-12-31",
        "2027-01-01",
    ]
    assert (vendor.account, vendor.notes) == ("A-17", "ring twice")
    assert house.vendors["mill"].fee_waived_over is None


def test_an_ingredient_keeps_whole_days_and_its_own_unit(house):
    beef = house.ingredients["beef-cheek"]
    assert (beef.name, beef.unit, beef.store, beef.keeps_days) == ("Ox cheek", "kg", "walk-in", 1)
    assert (beef.yield_fraction, beef.par, beef.each_g) == (0.85, 6.0, 453.59237)
    assert (beef.allergens, beef.hazards) == (("celery",), ("raw-meat",))
    assert house.ingredients["oil"].density_kg_per_l == 0.92
    assert house.ingredients["oil"].name == "oil"
    assert house.ingredients["bones"].keeps_days is None


def test_a_pack_priced_as_it_stands(house):
    offer = house.ingredients["beef-cheek"].offers[0]
    assert (offer.pack, offer.pack_quantity, offer.price) == ("6 x 1 kg", 6.0, Decimal("31.20"))
    assert (offer.is_catch_weight, offer.price_per, offer.per_unit) == (False, None, "")


def test_a_pack_that_weighs_otherwise_than_it_says_is_counted_by_what_it_weighs(tmp_path):
    (tmp_path / "house.yaml").write_text("name: A\n")
    (tmp_path / "vendors.yaml").write_text("butcher: {name: B}\n")
    offer = "{vendor: butcher, code: R, pack: 30 lb ~ 32 lb, price: 3.10, per: lb}"
    (tmp_path / "ingredients.yaml").write_text(f"ribs:\n  unit: lb\n  offers: [{offer}]\n")
    (found,) = read_house(tmp_path)[0].ingredients["ribs"].offers
    assert (found.pack_quantity, found.price) == (32.0, Decimal("99.20"))


def test_catch_weight_is_priced_by_its_expected_weight(house):
    offer = house.ingredients["beef-cheek"].offers[1]
    assert (offer.code, offer.pack_quantity, offer.is_catch_weight) == ("077", 4.2, True)
    assert (offer.price, offer.price_per, offer.per_unit) == (Decimal("47.88"), Decimal("11.40"), "kg")
    assert offer.breaks == ((4, Decimal("46.20")),)


def test_a_quote_per_pound_of_a_fixed_pack(house):
    offer = house.ingredients["beef-cheek"].offers[2]
    assert offer.pack_quantity == pytest.approx(10 * 0.45359237)
    assert (offer.price, offer.price_per, offer.per_unit) == (20, 2, "lb")
    assert (offer.is_preferred, offer.is_catch_weight) == (True, False)
    assert (offer.from_on, offer.until) == (date(2026, 1, 1), date(2026, 12, 31))
    assert offer.description == "cheeks, trimmed"


def test_words_that_yaml_would_guess_at_stay_words(house):
    offer = house.ingredients["beef-cheek"].offers[3]
    assert (offer.code, offer.price) == ("no", None)
    assert offer.pack_quantity == pytest.approx(3 * 0.45359237)


def test_a_recipe_takes_days_rounded_up_and_keeps_days_rounded_down(house):
    braise = house.recipes["braise"]
    assert (braise.unit, braise.makes, braise.is_whole) == ("kg", 4.0, True)
    assert (braise.takes_days, braise.keeps_days, braise.largest, braise.par) == (3, 2, 12.0, 2.0)
    assert braise.also_makes == (("bones", 1.1),)
    assert (braise.hazards, braise.allergens, braise.notes) == (("slow-cooling",), ("celery",), "skim often")


def test_lines_are_in_their_items_unit_with_the_items_yield_unless_they_have_one(house):
    cheek, trimmed, oil, liquor = house.recipes["braise"].lines
    assert cheek == RecipeLine("beef-cheek", 5.2, 0.85, unit="kg")
    assert trimmed == RecipeLine("beef-cheek", 1.0, 0.5, unit="kg")
    assert oil == RecipeLine("oil", 0.1, 1.0, 0.0, 1, unit="g", unit_size=pytest.approx(0.1 / 92))
    assert liquor == RecipeLine("liquor", 3.0, 1.0, 2.4, unit="l")


def test_a_dish(house):
    dish = house.dishes["cheek"]
    assert (dish.recipe, dish.portion, dish.price, dish.like) == ("braise", 0.2, Decimal("24.00"), "stew")
    assert (dish.services, dish.service_level) == ({"dinner"}, 0.98)
    assert (dish.from_on, dish.until_on) == (date(2026, 10, 1), date(2026, 12, 31))
    assert house.dishes["stew"].services == {"lunch", "dinner"}
    assert house.dishes["for-parties"].services == frozenset()


def test_the_calendar(house):
    assert house.closures == (
        Closure(date(2026, 12, 25), date(2026, 12, 25)),
        Closure(date(2026, 12, 26), date(2026, 12, 26), frozenset({"lunch"}), "rest"),
        Closure(date(2027, 1, 1), date(2027, 1, 3)),
    )
    assert house.parties == (Party("Wedding", date(2026, 12, 5), "dinner", 40, {"cheek": 40.0}, True),)
    days = (date(2025, 8, 1), date(2025, 8, 2), date(2026, 8, 7))
    assert house.events == (NamedEvent("Regatta", days, frozenset({"lunch"})),)


def test_every_entry_has_a_place(house):
    assert house.places["recipes.liquor"].line == 21
    assert house.places["recipes.braise.from.2"].line == 14
    assert house.places["dishes.stew"].line == 12
    assert house.places["vendors.mill"].line == 14
    assert house.places["services.dinner"].line == 11
    assert house.places["ingredients.oil"].path.endswith("ingredients.yaml")


def test_a_house_needs_no_more_than_its_name(tmp_path):
    house, faults = read_house(
        written(tmp_path, {"house.yaml": "name: Bare\n", "menu.yaml": "# nothing yet\n"})
    )
    assert faults == []
    assert (house.name, house.order_weekdays, dict(house.dishes)) == ("Bare", {3}, {})
    assert house.places["house"] == Place(f"{tmp_path.as_posix()}/house.yaml", 1)


def test_byte_order_mark_and_windows_lines_are_read(tmp_path):
    text = "name: Crème\nservices:\n  dinner: {days: [thu]}\nunknown: 1\n".replace("\n", "\r\n")
    (tmp_path / "house.yaml").write_bytes(b"\xef\xbb\xbf" + text.encode())
    _, faults = read_house(tmp_path)
    assert [(fault.line, fault.kind) for fault in faults] == [(4, "unknown-word")]


def test_the_order_of_entries_changes_nothing(tmp_path, house):
    """Blocks of each file turned round give the same records."""
    turned = {}
    for name, text in FULL.items():
        blocks, block = [], []
        for line in text.strip().splitlines():
            if line and not line.startswith(" ") and block:
                blocks.append(block)
                block = []
            block.append(line)
        turned[name] = "\n".join(line for block in [*blocks, block][::-1] for line in block) + "\n"
    again, faults = read_house(written(tmp_path, turned))
    assert faults == []
    for part in ("services", "vendors", "ingredients", "recipes", "dishes", "closures", "parties", "events"):
        assert getattr(again, part) == getattr(house, part), part


def test_one_slip_gives_one_line(tmp_path):
    """A file that cannot be read does not make everything that leans on it a fault too."""
    files = FULL | {"ingredients.yaml": FULL["ingredients.yaml"] + "\n  bad: [\n"}
    _, faults = read_house(written(tmp_path, files))
    assert [fault.kind for fault in faults] == ["bad-yaml"]
    files["ingredients.yaml"] = FULL["ingredients.yaml"].replace("unit: kg\n  store", "unit: kgg\n  store")
    _, faults = read_house(written(tmp_path, files))
    assert [(fault.line, fault.kind) for fault in faults] == [(4, "bad-quantity")]


def test_halves_the_smallest_batch_and_the_room_at_one_time_are_read_in_the_recipe_s_unit(tmp_path):
    lines = "dough: {makes: 4 kg, batches: halves, smallest: 3000 g, room: 12 kg}\nloaf: {makes: 1 kg}\n"
    house, faults = read_house(written(tmp_path, {"house.yaml": "name: A\n", "recipes.yaml": lines}))
    assert faults == []
    dough, loaf = house.recipes["dough"], house.recipes["loaf"]
    assert (dough.is_whole, dough.step, dough.smallest, dough.room) == (True, 0.5, 3.0, 12.0)
    assert (loaf.is_whole, loaf.step, loaf.smallest, loaf.room) == (False, 1.0, None, None)


def test_a_day_or_a_room_that_does_not_hold_the_smallest_batch_is_refused(tmp_path):
    lines = "dough: {makes: 4 kg, smallest: 3 kg, room: 2 kg, largest: 1 kg}\n"
    _, faults = read_house(written(tmp_path, {"house.yaml": "name: A\n", "recipes.yaml": lines}))
    assert sorted(fault.wrong for fault in faults) == [
        "the largest is 1 kg, less than the smallest batch of 3 kg",
        "the room is 2 kg, less than the smallest batch of 3 kg",
    ]
