"""A menu into `menu.yaml`: name, price, services, the recipe of each; which dish each name of a till is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ruamel.yaml.comments import CommentedMap, CommentedSeq

from ordering.amounts import plural
from ordering.intake.bridges import measure_of
from ordering.intake.dates import as_iso, date_reader
from ordering.intake.goods_match import SEVERAL_WITHIN, likeness, match
from ordering.intake.goods_names import id_of, tokens
from ordering.intake.headings import Found
from ordering.intake.housefiles import block, marked, number
from ordering.intake.outcome import Outcome, Question, free_id, money, some, titled
from ordering.intake.recipe_lines import quantity_in
from ordering.intake.sheet_forms import tables_in
from ordering.intake.sheets import SourceSheet
from ordering.units import kind_of

ALIKE_DISH = 86.0
IGNORE = "ignore"


def bring_menu(sheets: Sequence[SourceSheet], out: Outcome) -> None:
    """Read every dish; one that is known gets its price, a new one its recipe too."""
    tables = tables_in(sheets, "menu", ("name", "price"), out.asker, out.name)
    n_new = n_same = 0
    repriced: list[str] = []
    for table in tables:
        out.told += table.how
        section = ""
        for n, row in table.body():
            name, price = table.cell(row, "name"), money(table.cell(row, "price"))
            if len({cell for cell in row if cell}) == 1 and price is None:
                section = next(cell for cell in row if cell)
                continue
            if not name or price is None:
                if name:
                    out.left.append(f"row {table.sheet.line(n)}: {name}: no price")
                continue
            key = _known(name, out)
            if key:
                old = money(str(out.house.entries("menu")[key].get("price", "")))
                n_same += old == price
                if old != price:
                    out.house.entries("menu")[key]["price"] = number(str(price))
                    out.house.changed.add("menu")
                    was = "no price" if old is None else f"{old:.2f}"
                    repriced.append(f"{name}: {was} to {price:.2f}")
                continue
            n_new += _new(table, row, name, str(price), section, out)
    out.told.append(
        f"{plural(n_new, 'new dish', 'new dishes')}, {len(repriced)} with another price, {n_same} the same"
    )
    out.told += [f"price: {one}" for one in some(repriced)]


def _known(name: str, out: Outcome) -> str:
    low = name.lower()
    return next(
        (
            k
            for k, own in out.known("menu").items()
            if low in (k, k.replace("-", " "), *(n.lower() for n in own))
        ),
        "",
    )


def _new(table: Found, row: Sequence[str], name: str, price: str, section: str, out: Outcome) -> bool:
    """A dish that is not on the menu yet; False where it was left out."""
    recipe, why = _recipe(table.cell(row, "recipe") or name, out)
    if not recipe:
        out.left.append(f"{name}: no recipe")
        return False
    entry = block(name=titled(name), recipe=recipe)
    if why:
        marked(entry, "recipe", why)
    portion, guess = _portion(table.cell(row, "portion"), recipe, out)
    entry["portion"] = portion
    if guess:
        marked(entry, "portion", guess)
    entry["price"] = number(price)
    services = _services(f"{table.cell(row, 'services')} {section}", out)
    if services:
        listed = CommentedSeq(services)
        listed.fa.set_flow_style()
        entry["services"] = listed
    for role in ("from", "until"):
        if text := table.cell(row, role):
            day = date_reader([text], lambda _: 0, out.asker, out.country)(text)[0]
            if day:
                entry[role] = as_iso(day)
    key = free_id(id_of(name), out.house.entries("menu"))
    out.house.add("menu", key, entry)
    return True


def _recipe(name: str, out: Outcome) -> tuple[str, str]:
    """The recipe a dish is made by; where none fits, an empty one to be filled in."""
    found = match(name, out.known("recipes"))
    if found.is_sure:
        return found.best, ""
    asked = f"recipe {name.lower()}"
    if found.is_open:
        text = f"{name}: which recipe is it made by, {' or '.join(found.ids)}?"
        answer = out.asker.settle(Question(asked, text, (*found.ids, "new"), found.best))
        if answer != "new":
            return answer, f"{' or '.join(found.ids)}" if out.asker.is_guess(asked) else ""
    elif found.best:
        return found.best, "by its name"
    recipes = out.house.entries("recipes")
    key = free_id(id_of(name), recipes, out.house.entries("ingredients"))
    entry = block(name=titled(name), makes="1 portion")
    marked(entry, "makes", "no recipe was found: write what goes in under 'from'")
    out.house.add("recipes", key, entry)
    return key, ""


def _portion(written: str, recipe: str, out: Outcome) -> tuple[str, str]:
    """How much of the recipe one sale takes, and why that is a guess."""
    entry = out.house.entries("recipes")[recipe]
    own = measure_of(entry, True) if isinstance(entry, CommentedMap) else "portion"
    quantity, _ = quantity_in(written, out.country) if written else (None, "")
    if quantity is not None and kind_of(quantity.unit) == kind_of(own):
        return str(quantity), ""
    if kind_of(own) not in ("mass", "volume"):
        return f"1 {own}", ""
    usual = (
        {"mass": "6 oz", "volume": "8 fl oz"}
        if out.country == "US"
        else {"mass": "180 g", "volume": "250 ml"}
    )
    return usual[kind_of(own)], f"how much of {recipe} is one portion?"


def _services(text: str, out: Outcome) -> list[str]:
    """The services named in a cell or a section's head; none for all of them."""
    low = text.lower()
    services = [str(key) for key in (out.house.entries("house").get("services") or {})]
    named = [key for key in services if key.replace("-", " ") in low]
    return named if named and len(named) < len(services) else []


def dishes_of(out: Outcome, sold: Mapping[str, float]) -> dict[str, str]:
    """Each till name's dish, empty for one to ignore; what is not known is asked, best-sellers first."""
    house = out.house.entries("house")
    names = {str(k).lower(): str(v) for k, v in (house.get("dish_names") or {}).items()}
    ignored = {str(one).lower() for one in house.get("ignore") or []}
    known = out.known("menu")
    exact = {one.lower(): key for key, own in known.items() for one in (key, key.replace("-", " "), *own)}
    found: dict[str, str] = {}
    for name in sorted(sold, key=lambda n: -sold[n]):
        low = name.lower()
        if low in ignored:
            found[name] = ""
        elif dish := names.get(low) or exact.get(low):
            found[name] = dish
        else:
            found[name] = _asked(out, name, known, sold[name])
    return found


def _alike(name: str, dish: str) -> float:
    """How alike a till's name and a dish's are; words cut short (`LEMON MASC TART`) are taken for whole."""
    short, full = tokens(name), tokens(dish)
    is_cut = len(short) == len(full) > 1 and all(
        len(a) >= 3 and b.startswith(a) for a, b in zip(short, full, strict=True)
    )
    return max(likeness(name, dish), 90.0 if is_cut else 0.0)


def _asked(out: Outcome, name: str, known: Mapping[str, Sequence[str]], sold: float) -> str:
    scored = sorted(
        (
            (max(_alike(name, one) for one in (key.replace("-", " "), *own)), key)
            for key, own in known.items()
        ),
        key=lambda one: -one[0],
    )
    near = [key for score, key in scored if score >= ALIKE_DISH]
    is_one = len(near) == 1 or (len(near) > 1 and scored[0][0] >= scored[1][0] + SEVERAL_WITHIN)
    best = near[0] if near and is_one else IGNORE if not near else ""
    key = f"dish {name.lower()}"
    text = f"The till's {name} ({sold:,.0f} sold): which dish is that, or is it to be ignored?"
    choices = (*(near or [k for s, k in scored[:5] if s >= 60]), IGNORE)
    answer = out.asker.settle(Question(key, text, choices, best))
    if not answer:
        out.left.append(f"{name} ({sold:,.0f} sold): {' or '.join(near)}?")
        return ""
    return "" if answer == IGNORE else answer
