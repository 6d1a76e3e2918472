"""A vendor's price list into `ingredients.yaml`: offers, new ingredients, prices that changed."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from ruamel.yaml.comments import CommentedMap, CommentedSeq

from ordering.amounts import percent, plural
from ordering.intake.bridges import bridge, measure_of
from ordering.intake.dates import date_reader
from ordering.intake.goods_match import match
from ordering.intake.goods_names import (
    id_of,
    is_graded,
    is_liquid,
    is_sure_to_keep,
    kind_words,
    larder,
    spelled,
    tokens,
)
from ordering.intake.headings import Found, find_table, roles_of
from ordering.intake.housefiles import block, flow, marked, marked_item, number, offers_of
from ordering.intake.offer_terms import (
    OFF,
    as_answered,
    counted_in,
    priced_per,
    same_content,
    unit_cost,
    usual_cost,
    weighed,
    with_pack_prices,
)
from ordering.intake.outcome import Outcome, Question, free_id, in_money, money, some
from ordering.intake.pack_readings import Reading
from ordering.intake.pack_strings import read_pack
from ordering.intake.price_columns import (
    in_one_column,
    with_code,
    with_contents,
    with_count,
    with_price,
    with_unread,
)
from ordering.intake.price_lines import PriceLine, lines_of
from ordering.intake.sheet_forms import gone_on, side_by_side, tables_in
from ordering.intake.sheets import SourceSheet
from ordering.packs import parse_pack
from ordering.units import Quantity, UnitError, kind_of

_NEEDED = ("name", ("price", "unit_price"))


def bring_prices(sheets: Sequence[SourceSheet], out: Outcome) -> None:
    """Read the lists of one vendor, or of a vendor a tab, and lay them over the house's offers."""
    sheets = [gone_on(one) for sheet in sheets for one in side_by_side(sheet, "prices", _NEEDED, out.asker)]
    cut = [in_one_column(sheet) for sheet in sheets]
    others = [sheet for sheet, table in zip(sheets, cut, strict=True) if table is None]
    tables = [table for table in cut if table is not None]
    if not tables or any(find_table(one, roles_of("prices"), _NEEDED, out.asker) for one in others):
        tables += tables_in(others, "prices", _NEEDED, out.asker, out.name)
    if out.vendor:
        _bring_list(tables, out)
        return
    known = out.known("vendors")
    for table in tables:
        title = table.sheet.title
        out.vendor = match(title, known).best or id_of(title)
        _bring_list([table], out)


def _bring_list(tables: Sequence[Found], out: Outcome) -> None:
    """The list of one vendor, in one or several tables."""
    _know_vendor(out)
    lines: list[PriceLine] = []
    for table in tables:
        table = with_unread(with_count(with_contents(with_code(with_price(table))), out), out)
        out.told += table.how
        lines += _latest(table, list(lines_of(table, out)), out)
    readings = {
        one.code: weighed(
            one, read_pack(one.pack, one.um, out.country, is_liquid(one.name), is_graded(one.name))
        )
        for one in lines
    }
    lines = with_pack_prices(lines, readings)
    changes = _Changes(out, lines, readings)
    seen: set[str] = set()
    for line in lines:
        if line.code in seen:
            out.left.append(f"row {line.row}: {line.name}: code {line.code} is there twice")
            continue
        seen.add(line.code)
        changes.take(line)
    changes.tell(seen)


def _latest(table: Found, lines: Sequence[PriceLine], out: Outcome) -> list[PriceLine]:
    """The last line of each of the goods where the list is of purchases, each with its day; else all."""
    if "date" not in table.columns:
        return list(lines)
    cells = {table.sheet.line(n): table.cell(row, "date") for n, row in table.body()}
    read = date_reader([cells[one.row] for one in lines], lambda n: lines[n].row, out.asker, out.country)
    dated = sorted(lines, key=lambda one: read(cells[one.row])[0] or date.min)  # of one day the last stays
    last = {(one.code, one.pack): one for one in dated}
    if len(last) < len(lines):
        out.told.append(f"{plural(len(lines), 'purchase')} by day: the last price of each is taken")
    return list(last.values())


def _know_vendor(out: Outcome) -> None:
    vendors = out.house.entries("vendors")
    if out.vendor not in vendors:
        entry = block(name=out.vendor.replace("-", " ").capitalize())
        marked(entry, "name", "a new vendor: add e-mail and delivery days")
        out.house.add("vendors", out.vendor, entry)
        out.told.append(f"{out.vendor} is new in vendors.yaml: add its delivery days")


class _Changes:
    """Offers as they are, and what the list changes of them."""

    def __init__(self, out: Outcome, lines: Sequence[PriceLine], readings: Mapping[str, Reading]) -> None:
        self.out = out
        self.lines = lines
        self.readings = readings
        self.usual = usual_cost(lines, readings)
        self.items = out.house.entries("ingredients")
        own = (o for o in offers_of(self.items) if o[2].get("vendor") == out.vendor)
        self.offers = {str(offer["code"]): (key, offer) for key, _, offer in own if "code" in offer}
        self.forms: dict[str, str] = {}
        self.rose: list[str] = []
        self.fell: list[str] = []
        self.new: list[str] = []
        self.joined: list[str] = []
        self.n_same = 0

    def take(self, line: PriceLine) -> None:
        reading = self.readings[line.code]
        if line.code in self.offers:
            self._update(line, reading)
            return
        reading, is_guess = as_answered(line, reading, self.lines, self.out)
        if not reading.written:
            return
        n = reading.content.amount if reading.content else 0
        if (
            reading.unit == "each"
            and n > 1
            and (kind_words("herb") | kind_words("bunched")) & set(tokens(line.name))
        ):
            reading, is_guess = replace(reading, unit="bunch"), True  # a count of herbs is one of bunches
        shape = re.sub(r"\d+", "n", line.pack)
        self.forms.setdefault(shape, f"{line.pack} = {reading.written}")
        self._add(line, reading, is_guess)

    def _update(self, line: PriceLine, reading: Reading) -> None:
        """A code that is known: its price, and its pack where that is another now."""
        _, offer = self.offers[line.code]
        old, before = money(str(offer.get("price", ""))), unit_cost(offer)
        was = self._repacked(line, reading, offer)
        if line.price is None or (line.price == old and not was):
            self.n_same += 1
            return
        now = in_money(line.price)
        if old and not old / OFF < line.price < old * OFF:
            text = f"{line.name}: {old:.2f} last, {now} now, ten times off. Is that right?"
            asked = Question(f"price {line.code} {line.price}", text, ("yes", "no"))
            if self.out.asker.settle(asked) != "yes":
                self.out.left.append(f"row {line.row}: {line.name}: {now} is ten times off {old:.2f}")
                return
        if line.price != old:
            offer["price"] = number(now)
        self.out.house.changed.add("ingredients")
        if not old:
            self.rose.append(f"{line.name}: {'no price' if old is None else f'{old:.2f}'} to {now}")
            return
        after = unit_cost(offer)
        by, packs, what = float(line.price / old - 1), ("", ""), ""
        if was and before and after and before[0] == after[0]:
            packs, what = (f" for {was}", f" for {offer['pack']}"), " by what a pack holds"
            by = after[1] / before[1] - 1
        said = f"{line.name}: {old:.2f}{packs[0]} to {now}{packs[1]} ({percent(by, sign='+')}{what})"
        (self.fell if by < 0 else self.rose).append(said)

    def _repacked(self, line: PriceLine, reading: Reading, offer: CommentedMap) -> str:
        """What a pack was before the list says another that is confirmed; empty where it is the same."""
        was, content = str(offer.get("pack", "")), reading.content
        try:
            held = parse_pack(was)
        except UnitError:
            return ""
        if content is None or reading.ask or same_content(held.expected or held.content, content):
            return ""
        text = f"{line.name}: a pack was {was}, the list says {line.pack}. Is it another pack now?"
        asked = Question(f"pack {line.code} {line.pack}", text, ("yes", "no"), "yes")
        if self.out.asker.settle(asked) != "yes":
            return ""
        self.forms[f"pack {line.code}"] = f"{line.name}: the pack was {was}, is {reading.written}"
        offer["pack"] = reading.written
        self.out.house.changed.add("ingredients")
        return was

    def _add(self, line: PriceLine, reading: Reading, is_guess: bool) -> None:
        content = reading.content or Quantity(Reading().size or 0, "each")  # type: ignore[arg-type]
        per, per_guess = priced_per(line, reading, self.usual)
        offer = flow(
            vendor=self.out.vendor,
            code=line.code,
            pack=reading.written,
            price=None if line.price is None else number(in_money(line.price)),
            per=per,
            description=line.name,
        )
        why = [
            *([f"pack from '{line.pack}'"] if is_guess else []),
            *(["priced by weight"] if per_guess else []),
            *(["no price in the list: ask the vendor"] if line.price is None else []),
        ]
        item, is_sure = self._item(line, content)
        if item and self._is_far(item, offer, line):
            return
        if not item:
            item = self._new_item(line, content)
        elif not is_sure:
            why.append(f"taken for {item}")
        entry = self.items[item]
        offers = entry.setdefault("offers", CommentedSeq())
        if isinstance(offers, CommentedMap):
            offers = entry["offers"] = CommentedSeq([offers])
        offers.append(offer)
        if why:
            marked_item(offers, len(offers) - 1, "; ".join(why))
        if is_guess:
            self.out.asker.marked.add(f"pack {line.code} {line.pack}")
        self.out.house.changed.add("ingredients")

    def _item(self, line: PriceLine, content: Quantity) -> tuple[str, bool]:
        """The ingredient a line is an offer of, and whether its words say so; empty for a new one."""
        found = match(line.name, self.out.known("ingredients"))
        fitting = [key for key in found.ids if self._fits(key, content)]
        if not fitting:
            return "", False
        key = f"item {line.code}"
        if found.is_sure:
            self.joined.append(f"{line.name}: an offer of {fitting[0]}")
            return fitting[0], True
        text = f"Is {line.name} an offer of {' or '.join(fitting)}, or new?"
        answer = self.out.asker.settle(Question(key, text, (*fitting, "new"), "new"))
        if answer in fitting:
            self.joined.append(f"{line.name}: an offer of {answer}")
            return answer, not self.out.asker.is_guess(key)
        return "", False

    def _fits(self, key: str, content: Quantity) -> bool:
        entry = self.items[key]
        return isinstance(entry, CommentedMap) and bridge(
            entry, str(entry.get("name") or key), content.unit, measure_of(entry)
        )

    def _is_far(self, item: str, offer: CommentedMap, line: PriceLine) -> bool:
        """Whether what a unit costs is ten times off every other offer of the item; then it is asked."""
        mine = unit_cost(offer)
        others = [c for key, _, o in offers_of(self.items) if key == item and (c := unit_cost(o))]
        alike = [cost for unit, cost in others if mine and unit == mine[0]]
        if not mine or not alike or any(mine[1] / OFF < cost < mine[1] * OFF for cost in alike):
            return False
        wrong = f"{line.name}, {line.pack} at {line.price}: ten times off the other offers of {item}"
        asked = Question(f"price {line.code} {line.price}", f"{wrong}. Is that right?", ("yes", "no"))
        if self.out.asker.settle(asked) == "yes":
            return False
        self.out.left.append(f"row {line.row}: {wrong}")
        return True

    def _new_item(self, line: PriceLine, content: Quantity) -> str:
        key = free_id(id_of(spelled(line.name)), self.items, self.out.house.entries("recipes"))
        is_can = content.unit.endswith(" can")
        row = {"store": "dry store"} if is_can else larder(line.name, line.section)
        entry = block(
            name=spelled(line.name),
            unit=counted_in(content),
            store=row.get("store", "dry store"),
            keeps=row.get("keeps"),
        )
        if not is_sure_to_keep(line.name):
            why = "store and keeping time from its name" if row else "its name does not say where"
            marked(entry, "store", why)
        if kind_of(content.unit) not in ("mass", "volume", "each"):
            bridge(entry, line.name, "g", content.unit)
        self.out.house.add("ingredients", key, entry)
        self.new.append(line.name)
        return key

    def tell(self, seen: set[str]) -> None:
        gone = [
            f"{code} {self.items[key].get('name', key)}"
            for code, (key, _) in self.offers.items()
            if code not in seen
        ]
        told = self.out.told
        vendor = self.out.house.entries("vendors")[self.out.vendor]
        named = vendor.get("name") if isinstance(vendor, CommentedMap) else None
        told.append(f"prices of {named or self.out.vendor}")
        told += [f"packs: {one}" for one in some(list(self.forms.values()), 6)]
        told.append(
            f"{plural(len(self.new), 'new ingredient')}, {plural(len(self.joined), 'offer')} of known ones, "
            f"{plural(self.n_same, 'price')} the same"
        )
        for what, lines in (
            ("up", self.rose),
            ("down", self.fell),
            ("no longer listed", gone),
            ("joined", self.joined),
        ):
            told += [f"{what}: {one}" for one in some(lines)]
