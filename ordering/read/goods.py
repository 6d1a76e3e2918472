"""What is bought and made: vendors, ingredients with their offers, recipes; from draft to records."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Context, Decimal
from fractions import Fraction
from functools import partial

from ordering import units
from ordering.cautions import allergens_meant
from ordering.packs import Pack
from ordering.read.draft import Draft
from ordering.read.spans import days_down, days_up
from ordering.read.yaml_schema import IngredientIn, LineIn, OfferIn, RecipeIn, VendorIn
from ordering.records.house import DATE_MARK, MARKED_DAYS, Ingredient, Place, Recipe, RecipeLine
from ordering.records.vendors import DeliveryDay, Offer, Vendor

_EXACT = Context(prec=28)


def days_of(ranges: list[tuple[date, date]]) -> frozenset[date]:
    """Every day of some ranges, both ends included."""
    return frozenset(
        first + timedelta(days=n) for first, last in ranges for n in range((last - first).days + 1)
    )


def built_vendors(draft: Draft) -> dict[str, Vendor]:
    """Vendors as records."""
    return {key: _vendor(draft, key, written) for key, written in draft.vendors.sound.items()}


def _vendor(draft: Draft, key: str, written: VendorIn) -> Vendor:
    deliveries = tuple(DeliveryDay(d.day, *d.order_by, d.weeks_ahead) for d in written.deliveries)
    for n, one in enumerate(deliveries):
        if one in deliveries[:n]:
            said = ("equal-rows", "the same delivery is written twice", "keep one of them")
            draft.fault(draft.place(draft.vendors, key, "deliveries", n), key, said)
    return Vendor(
        id=key,
        name=written.name,
        email=written.email,
        contact=written.contact,
        phone=written.phone,
        takes_ubl=written.orders == "ubl",
        account=written.account,
        notes=written.notes,
        deliveries=deliveries,
        minimum=Decimal(0) if written.together else written.minimum,
        delivery_fee=written.delivery_fee,
        fee_waived_over=written.fee_waived_over,
        closed=days_of(written.closed),
        house=written.house,
        joint_minimum=written.minimum if written.together else None,
    )


def built_ingredients(draft: Draft) -> dict[str, Ingredient]:
    """Ingredients as records, offers in their item's unit."""
    codes: dict[tuple[str, str], Place] = {}
    return {key: _ingredient(draft, key, one, codes) for key, one in draft.ingredients.sound.items()}


def _ingredient(
    draft: Draft, key: str, written: IngredientIn, codes: dict[tuple[str, str], Place]
) -> Ingredient:
    at = partial(draft.place, draft.ingredients, key)
    if key in draft.recipes.nodes:
        other = draft.recipes
        wrong = f"'{key}' is a recipe too ({other.at[key]})"
        draft.fault(at(), key, ("equal-ids", wrong, "give one of them another id"))
    par = None if written.par is None else draft.amount(at("par"), key, key, written.par)
    offers = []
    for n, offer in enumerate(written.offers):
        place = at("offers", n)
        _check_code(draft, place, key, offer, codes)
        if (built := _offer(draft, place, key, offer)) is not None:
            offers.append(built)
    measure = draft.measures[key]
    return Ingredient(
        id=key,
        name=written.name or key.replace("-", " "),
        unit=written.unit,
        store=written.store,
        keeps_days=None if written.keeps is None else days_down(written.keeps),
        yield_fraction=written.yield_,
        par=par,
        each_g=None if measure.each_g is None else float(measure.each_g),
        density_kg_per_l=None if measure.density is None else float(measure.density),
        allergens=allergens_meant(written.allergens),
        free_of=allergens_meant(written.free_of),
        hazards=tuple(dict.fromkeys(written.hazards)),
        offers=tuple(offers),
        reason=written.reason,
    )


def _check_code(
    draft: Draft, place: Place, key: str, offer: OfferIn, codes: dict[tuple[str, str], Place]
) -> None:
    draft.check_id(place, key, offer.vendor, draft.vendors)
    first = codes.setdefault((offer.vendor, offer.code), place)
    if first is not place:
        wrong = f"code '{offer.code}' of {offer.vendor} is already used in {first}"
        draft.fault(place, key, ("equal-codes", wrong, "each offer of a vendor has a code of its own"))
    if offer.from_ and offer.until and offer.until < offer.from_:
        said = ("bad-range", f"until {offer.until} is before from {offer.from_}", "swap or correct them")
        draft.fault(place, key, said)


def _offer(draft: Draft, place: Place, key: str, written: OfferIn) -> Offer | None:
    pack = written.pack
    content = _pack_content(draft, key, pack)
    quantity = draft.amount(place, key, key, content)
    if quantity is None:
        return None
    ratio = Fraction(1)
    if written.per is not None:
        billed = pack.expected or pack.content
        per_pack = draft.amount_in(place, key, billed, written.per)
        if per_pack is None:
            return None
        ratio = per_pack
    elif written.price is None and written.breaks:
        draft.fault(place, key, ("missing-word", "'breaks' without 'price'", "add the price of one pack"))
    return Offer(
        vendor=written.vendor,
        code=written.code,
        item=key,
        pack=pack.written,
        pack_quantity=quantity,
        price=None if written.price is None else times(written.price, ratio),
        is_catch_weight=pack.expected is not None,
        price_per=None if written.per is None else written.price,
        per_unit=written.per or "",
        breaks=tuple((packs, times(price, ratio)) for packs, price in sorted(written.breaks.items())),
        is_preferred=written.preferred,
        until=written.until,
        from_on=written.from_,
        description=written.description,
    )


def _pack_content(draft: Draft, key: str, pack: Pack) -> units.Quantity:
    """What a pack is counted by: its expected weight, unless the item is counted in the pack's own pieces."""
    own, nominal = (units.kind_of(unit) for unit in (draft.measures[key].unit, pack.content.unit))
    is_own = own == nominal and own != "mass"
    return pack.content if pack.expected is None or is_own else pack.expected


def times(price: Decimal, ratio: Fraction) -> Decimal:
    """A price times a fraction, to 28 digits: money is rounded where it is printed, not here."""
    return _EXACT.divide(_EXACT.multiply(price, Decimal(ratio.numerator)), Decimal(ratio.denominator))


def built_recipes(draft: Draft) -> dict[str, Recipe]:
    """Recipes as records, each line in the unit of its item."""
    return {key: _recipe(draft, key, written) for key, written in draft.recipes.sound.items()}


def _recipe(draft: Draft, key: str, written: RecipeIn) -> Recipe:
    at = partial(draft.place, draft.recipes, key)
    takes = days_up(written.takes)
    prepared = _prepared_days(draft, key, written, takes)
    lines = [_line(draft, key, n, line, takes) for n, line in enumerate(written.from_)]
    by_products = []
    for n, one in enumerate(written.also_makes):
        place = at("also_makes", n)
        if draft.check_item(place, key, one.item):
            by_products.append((one.item, draft.amount(place, key, one.item, one.quantity) or 0.0))
    largest = None if written.largest is None else draft.amount(at("largest"), key, key, written.largest)
    smallest = None if written.smallest is None else draft.amount(at("smallest"), key, key, written.smallest)
    room = None if written.room is None else draft.amount(at("room"), key, key, written.room)
    par = None if written.par is None else draft.amount(at("par"), key, key, written.par)
    for most, word, given in ((largest, "largest", written.largest), (room, "room", written.room)):
        if most is not None and smallest is not None and most < smallest:
            wrong = f"the {word} is {given}, less than the smallest batch of {written.smallest}"
            draft.fault(at(word), key, ("too-small", wrong, f"write at least {written.smallest}"))
    makes = float(written.makes.amount)
    step = 0.5 if written.batches == "halves" else 1.0
    if largest is not None and written.batches != "any" and largest < makes * step:
        least = "half a batch" if step < 1 else "one batch"
        wrong = f"the largest is {written.largest} a day, less than {least} of {written.makes}"
        draft.fault(at("largest"), key, ("too-small", wrong, f"write at least {least}, or 'batches: any'"))
    measure = draft.measures[key]
    return Recipe(
        id=key,
        name=written.name or key.replace("-", " "),
        unit=written.makes.unit,
        makes=makes,
        lines=tuple(line for line in lines if line is not None),
        is_whole=written.batches != "any",
        step=step,
        takes_days=takes,
        keeps_days=None if written.keeps is None else days_down(written.keeps),
        largest=largest,
        smallest=smallest,
        room=room,
        store=written.store,
        station=written.station,
        also_makes=tuple(by_products),
        each_g=None if measure.each_g is None else float(measure.each_g),
        density_kg_per_l=None if measure.density is None else float(measure.density),
        par=par,
        hazards=tuple(dict.fromkeys(written.hazards)),
        allergens=allergens_meant(written.allergens),
        free_of=allergens_meant(written.free_of),
        prepared_days=prepared,
        notes=written.notes,
        reason=written.reason,
    )


def _prepared_days(draft: Draft, key: str, written: RecipeIn, takes: int) -> int:
    """Days from the start to day 1 of the date mark; refused where the mark is over before it is ready."""
    at = partial(draft.place, draft.recipes, key)
    prepared = days_down(written.prepared_at)
    if prepared > takes:
        wrong = f"it is ready to eat {prepared} days after the start, but the recipe takes {takes}"
        draft.fault(at("prepared_at"), key, ("too-large", wrong, "write a smaller 'prepared_at'"))
    elif DATE_MARK in written.hazards and takes - prepared > MARKED_DAYS:
        wrong = f"its date mark is over {takes - prepared - MARKED_DAYS} days before it is ready"
        right = "write 'prepared_at', the day it is cooked or otherwise made ready to eat: day 1 of the mark"
        draft.fault(at("takes"), key, ("mark-over", wrong, right))
    return prepared


def _line(draft: Draft, key: str, n: int, written: LineIn, takes: int) -> RecipeLine | None:
    place = draft.place(draft.recipes, key, "from", n)
    if not draft.check_item(place, key, written.item):
        return None
    bought = draft.ingredients.sound.get(written.item)
    own_yield, own_reason = (bought.yield_, bought.reason) if bought else (1.0, "")
    yield_fraction = own_yield if written.yield_ is None else written.yield_
    quantity = draft.amount(place, key, written.item, written.quantity)
    returns = 0.0
    if written.returns is not None:
        returns = draft.amount(place, key, written.item, written.returns) or 0.0
    if quantity is None:
        return None
    if returns > quantity / yield_fraction:
        wrong = f"{written.returns} of {written.item} comes back of {written.quantity}"
        draft.fault(place, key, ("too-large", wrong, "no more can come back than went in"))
    at_days = days_down(written.at)
    if at_days > takes:
        wrong = f"{written.item} is needed {at_days} days after the start, but the recipe takes {takes}"
        draft.fault(place, key, ("too-large", wrong, "write a smaller 'at' or a longer 'takes'"))
    reason = written.reason or ("" if written.yield_ is not None else own_reason)
    return RecipeLine(
        *(written.item, quantity, yield_fraction, returns, at_days, reason, written.optional),
        unit=written.quantity.unit,
        unit_size=quantity / float(written.quantity.amount),
    )
