"""What may be right but looks doubtful: a list of small checks, each a function of house, books and day."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from itertools import pairwise

from ordering.amounts import plural
from ordering.faults import Fault
from ordering.read.allergen_checks import check_allergens, check_tags
from ordering.read.book_checks import BOOK_CHECKS
from ordering.read.fault_places import fault_at
from ordering.read.files import MAX_FAULTS, bounded
from ordering.read.keeping_checks import KEEPING_CHECKS
from ordering.records.books import Books, Receipt
from ordering.records.costs import portion_costs, unit_costs
from ordering.records.house import House, Ingredient, Recipe
from ordering.records.vendors import Offer
from ordering.units import UnitError, factor, format_number

OFF = 10  # times: the slip of a decimal point, or of a count read as a fraction
MOST_UNUSED = 12
Check = Callable[[House, Books, date], Iterator[Fault]]


def doubts(house: House, books: Books, on: date) -> list[Fault]:
    """Everything that someone should look at before trusting a run, sorted by file and line."""
    return bounded([fault for check in CHECKS for fault in check(house, books, on)], MAX_FAULTS)


def _asked_for(house: House) -> set[str]:
    """Items that a recipe, a dish or a consumable draws on."""
    lines = {line.item for recipe in house.recipes.values() for line in recipe.lines}
    return lines | {dish.recipe for dish in house.dishes.values()} | {c.item for c in house.consumables}


def _by_products(house: House) -> set[str]:
    return {item for recipe in house.recipes.values() for item, _ in recipe.also_makes}


def _offers(house: House) -> Iterator[tuple[Ingredient, int, Offer]]:
    for ingredient in house.ingredients.values():
        for n, offer in enumerate(ingredient.offers):
            yield ingredient, n, offer


def check_offers(house: House, books: Books, on: date) -> Iterator[Fault]:
    """Something is asked for, or has a par, and no vendor sells it."""
    asked, for_free = _asked_for(house), _by_products(house)
    for key, one in house.ingredients.items():
        if key in for_free or (key not in asked and not one.par):
            continue
        ended = [offer.until for offer in one.offers if offer.until is not None and offer.until < on]
        if not one.offers:
            said = ("no-offer", "no vendor offers it", "add an offer; until then it can only run short")
            yield fault_at(house, f"ingredients.{key}", said)
        elif len(ended) == len(one.offers):
            said = ("no-offer", f"its last offer ended on {max(ended)}", "renew it or add another")
            yield fault_at(house, f"ingredients.{key}", said)


def check_prices(house: House, books: Books, on: date) -> Iterator[Fault]:
    """An offer or a dish has no price; a break is dearer than fewer packs."""
    for ingredient, n, offer in _offers(house):
        key, part = f"ingredients.{ingredient.id}", f".offers.{n}"
        if offer.price is None:
            wrong = f"offer {offer.code} of {offer.vendor} has no price"
            yield fault_at(
                house, key, ("price-missing", wrong, "add 'price'; until then it is bought last"), part
            )
            continue
        steps = [(1, offer.price), *offer.breaks]
        for (_, fewer), (packs, more) in pairwise(steps):
            if more > fewer:
                wrong = f"offer {offer.code}: from {packs} packs on a pack costs more than before"
                yield fault_at(house, key, ("dear-break", wrong, "check the prices under 'breaks'"), part)
    for key, dish in house.dishes.items():
        if dish.price is None and (dish.until_on is None or dish.until_on >= on):
            said = ("dish-price", "the dish has no price", "add 'price': waste and margin are judged by it")
            yield fault_at(house, f"dishes.{key}", said)


def check_dish_costs(house: House, books: Books, on: date) -> Iterator[Fault]:
    """What goes into a dish costs more than it sells for: as a rule a wrong yield, amount or pack."""
    for key, cost in portion_costs(house, unit_costs(house, on)).items():
        price = house.dishes[key].price
        if price and cost > price:
            wrong = f"what goes into it costs {cost:.2f}, and it sells for {price:.2f}"
            right = "check what its recipes make, their amounts, and the packs and prices of what they take"
            yield fault_at(house, f"dishes.{key}", ("dish-cost", wrong, right))


def check_contents(house: House, books: Books, on: date) -> Iterator[Fault]:
    """What a unit costs is ten times off each other price of the item: other offers, what was last paid.

    A pack read a hundred times too small orders a hundred times too much, and nothing else shows it.
    """
    last = {(r.vendor, r.code): r for r in sorted(books.receipts, key=lambda r: r.delivered_on)}
    asked: set[str] = set()
    for one, n, offer in _offers(house):
        cost = _unit_cost(offer)
        if not cost or one.id in asked:
            continue
        others = [("offer " + o.code, _unit_cost(o)) for m, o in enumerate(one.offers) if m != n]
        if (offer.vendor, offer.code) in last:
            others.append(("last paid", _unit_paid(last[offer.vendor, offer.code], offer)))
        priced = [(name, other) for name, other in others if other]
        if priced and not any(cost / OFF < other < cost * OFF for _, other in priced):
            asked.add(one.id)
            name, other = priced[-1]
            wrong = f"offer {offer.code} costs {cost:.4g} per {one.unit}, {name} {other:.4g}"
            right = f"check price and pack, read as {format_number(offer.pack_quantity)} {one.unit}"
            yield fault_at(house, f"ingredients.{one.id}", ("unit-price", wrong, right), f".offers.{n}")


def _unit_cost(offer: Offer) -> float:
    """What one of the item's units costs, 0 where no price is known."""
    return float(offer.price or 0) / offer.pack_quantity


def _unit_paid(receipt: Receipt, offer: Offer) -> float:
    """What one of the item's units cost when it came, 0 where it was free."""
    if offer.price_per:
        return _unit_cost(offer) * float((receipt.price or 0) / offer.price_per)
    return float(receipt.price or 0) * receipt.packs / receipt.quantity if receipt.quantity else 0.0


def check_yields(house: House, books: Books, on: date) -> Iterator[Fault]:
    """A yield over 1, or a recipe that gains weight, without a reason."""
    right = "correct it, or say why: 'reason: takes up water'"
    for key, one in house.ingredients.items():
        if one.yield_fraction > 1 and not one.reason:
            said = ("yield-over-one", f"a yield of {one.yield_fraction:g} without a reason", right)
            yield fault_at(house, f"ingredients.{key}", said)
    for key, recipe in house.recipes.items():
        for n, line in enumerate(recipe.lines):
            bought = house.ingredients.get(line.item)
            is_own = bought is not None and bought.yield_fraction == line.yield_fraction
            if line.yield_fraction > 1 and not line.reason and not is_own:
                wrong = f"{line.item}: a yield of {line.yield_fraction:g} without a reason"
                yield fault_at(house, f"recipes.{key}", ("yield-over-one", wrong, right), f".from.{n}")
        gain = _gain(house, recipe)
        if gain > 0.02 and not recipe.reason:
            wrong = f"{100 * gain:.0f} % more comes out by weight than goes in"
            yield fault_at(house, f"recipes.{key}", ("weight-gain", wrong, right))


def _gain(house: House, recipe: Recipe) -> float:
    """How much more a batch gives by weight than it takes, 0 where weights are not known."""
    try:
        taken = [_grams(house, one.item, max(one.drawn, one.quantity) - one.returns) for one in recipe.lines]
        given = [_grams(house, item, amount) for item, amount in recipe.also_makes]
        given.append(_grams(house, recipe.id, recipe.makes))
    except UnitError:
        return 0.0
    return sum(given) / sum(taken) - 1 if sum(taken) > 0 else 0.0


def _grams(house: House, item: str, amount: float) -> float:
    one = house.ingredients.get(item) or house.recipes[item]
    return amount * float(factor(one.unit, "g", one.each_g, one.density_kg_per_l))


def check_unused(house: House, books: Books, on: date) -> Iterator[Fault]:
    """A recipe or an ingredient that nothing asks for; a recipe made from nothing."""
    asked = _asked_for(house)
    for key, recipe in house.recipes.items():
        if not recipe.lines:
            said = ("empty-recipe", "the recipe is made from nothing", "add what goes in under 'from'")
            yield fault_at(house, f"recipes.{key}", said)
        if key not in asked and not recipe.par:
            said = ("unused-recipe", "no dish or recipe uses it", "take it out, or put it on the menu")
            yield fault_at(house, f"recipes.{key}", said)
    used = asked | _by_products(house)
    unused = [key for key, one in house.ingredients.items() if key not in used and not one.par]
    wrong, right = "no recipe or consumable uses it", "give it a par, or take it out"
    if len(unused) > MOST_UNUSED:  # a whole price list was imported: one line for all of it
        wrong = f"no recipe or consumable uses it, or {plural(len(unused) - 1, 'other ingredient')}"
        right = "give those you keep in stock a par; the others do no harm"
        unused = unused[:1]
    for key in unused:
        yield fault_at(house, f"ingredients.{key}", ("unused-ingredient", wrong, right))


def check_names(house: House, books: Books, on: date) -> Iterator[Fault]:
    """Two items, or two dishes, of one name: nobody who counts or rings up can tell them apart."""
    bought = [(f"ingredients.{key}", one.name) for key, one in house.ingredients.items()]
    made = [(f"recipes.{key}", one.name) for key, one in house.recipes.items()]
    sold = [(f"dishes.{key}", one.name) for key, one in house.dishes.items()]
    for named in ([*bought, *made], sold):
        seen: dict[str, str] = {}
        for key, name in named:
            first = seen.setdefault(name.casefold(), key)
            if first != key:
                wrong = f"'{name}' is the name of {first.partition('.')[2]} too"
                yield fault_at(house, key, ("equal-names", wrong, "name them apart: sheets print the name"))


def check_vendors(house: House, books: Books, on: date) -> Iterator[Fault]:
    """A vendor with offers who never delivers, or whose draft has nobody to go to."""
    selling = {offer.vendor for _, _, offer in _offers(house)}
    for key, vendor in house.vendors.items():
        if key in selling and not vendor.deliveries:
            said = ("no-delivery", "the vendor has offers but no delivery day", "add 'deliveries'")
            yield fault_at(house, f"vendors.{key}", said)
        if key in selling and not vendor.email:
            said = ("no-email", "the vendor has no e-mail address", "add 'email': drafts go to nobody")
            yield fault_at(house, f"vendors.{key}", said)


def check_parties(house: House, books: Books, on: date) -> Iterator[Fault]:
    """A party to come without a menu, or on a day the house is closed."""
    for party in house.parties:
        place = house.places.get(f"events.{party.name}")
        where, line = (place.path, place.line) if place else ("calendar.yaml", 0)
        if party.date < on:
            continue
        if not party.menu:
            wrong = f"the party on {party.date} has no menu"
            yield Fault(
                where, line, party.name, wrong, "add 'menu': nothing is planned for it yet", "no-menu"
            )
        if any(closure.covers(party.date, party.service) for closure in house.closures):
            wrong = f"the party on {party.date} is on a day the house is closed"
            yield Fault(where, line, party.name, wrong, "move one of them", "party-closed")


CHECKS: tuple[Check, ...] = (
    check_offers,
    check_prices,
    check_dish_costs,
    check_contents,
    check_yields,
    check_unused,
    check_names,
    *KEEPING_CHECKS,
    check_allergens,
    check_tags,
    check_vendors,
    check_parties,
    *BOOK_CHECKS,
)
