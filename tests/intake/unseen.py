"""Houses that nobody looked at while the reader was written: how much of them is right as proposed.

`unseen/HOUSE/` has the files of an invented kitchen as it would have them, laid out as in `test_cases.py`,
and the truth: `truth_offers.csv` (what a pack holds, which other code is the same goods, what the price is
for) and `truth_lines.csv` (the goods of each recipe line by the code they are bought under, and how much).
An amount is one figure or a range; a range where what a piece weighs is a cook's knowledge and no source
has it. Water from the tap is no line.

`PYTHONPATH=tests:. python tests/intake/unseen.py [HOUSE ...]` prints the counts and every line that is wrong.
"""

import csv
import shutil
import sys
import tempfile
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from intake.test_cases import ENCODINGS, SAVERS, sheets_in

from ordering.intake.bring import ImportTerms, bring
from ordering.packs import parse_pack
from ordering.read.house_folder import read_house
from ordering.units import UNITS, UnitError, factor, parse_quantity

HERE = Path(__file__).parent / "unseen"
HOUSES = sorted(path.name for path in HERE.iterdir() if path.is_dir())
ON = date(2026, 11, 26)


@dataclass
class Score:
    """Offers and lines right as proposed; `wrong` says which are not, `unflagged` the packs not marked."""

    n_offers: int = 0
    n_lines: int = 0
    offers: int = 0
    lines: int = 0
    wrong: list = field(default_factory=list)
    unflagged: list = field(default_factory=list)


def rows(house, name):
    return list(csv.DictReader((HERE / house / name).read_text("utf-8").splitlines()))


def laid_out(house, target):
    """The house's config and its raw files; the paths of price lists, then of recipes."""
    (target / "config").mkdir(parents=True)
    shutil.copy(HERE / house / "house.yaml", target / "config")
    lists, recipes = [], []
    for source in sorted((HERE / house).glob("*.csv")):
        inner = Path(source.stem).suffix
        if source.name.startswith("truth_"):
            continue
        path = target / (source.stem if inner in SAVERS else source.name)
        if inner in SAVERS:
            SAVERS[inner](sheets_in(source.read_text("utf-8")), path)
        else:
            path.write_text(source.read_text("utf-8"), ENCODINGS.get(inner, "utf-8"))
        (recipes if "recipes" in path.name or "book" in path.name else lists).append(path)
    return lists, recipes


def brought_in(house, target):
    """What `import ... --yes` makes of the raw files: the house, and the text of its offers."""
    lists, recipes = laid_out(house, target)
    for what, paths in (("prices", lists), ("recipes", recipes)):
        for path in paths:
            vendor = path.name.partition(".")[0] if what == "prices" else ""
            bring(target / "config", target / "books", what, [path], ImportTerms(ON, vendor, True))
    found, faults = read_house(target / "config")
    assert faults == []
    return found, (target / "config" / "ingredients.yaml").read_text("utf-8")


def same(found, written):
    """Whether a pack's content is the one stated."""
    due = parse_quantity(written)
    return abs(float(found.amount * UNITS[found.unit][1] / (due.amount * UNITS[due.unit][1])) - 1) < 0.01


def score(house, target):
    found, text = brought_in(house, target)
    total = Score()
    of_code = {o.code: (key, o) for key, one in found.ingredients.items() for o in one.offers}
    _offers(house, total, of_code, text)
    _lines(house, total, found, of_code)
    return total


def _offers(house, total, of_code, text):
    for row in rows(house, "truth_offers.csv"):
        code, due = row["code"], row["content"]
        total.n_offers += 1
        line = next(
            (one for one in text.splitlines() if f"code: {code}," in one or f"code: '{code}'," in one), ""
        )
        is_flagged = "# guess:" in line or not line
        if due.split()[-1] in ("bushel", "pint"):  # what such a pack weighs has to be asked
            total.offers += code not in of_code
            total.wrong += [f"{code}: {due} taken"] if code in of_code else []
            continue
        if code not in of_code:
            total.wrong.append(f"{code}: left out")
            continue
        key, offer = of_code[code]
        pack = parse_pack(offer.pack)
        content, stated = pack.expected or pack.content, parse_quantity(due)
        is_kind = UNITS[content.unit][0] == UNITS[stated.unit][0]
        is_pack = is_kind and same(content, due)
        others = {o: k for o, (k, _) in of_code.items() if k == key and o != code}
        is_joined = row["joins"] in others if row["joins"] else not others
        is_per = (row["per"] in line.partition("per:")[2][:5]) if row["per"] else "per:" not in line
        total.offers += is_pack and is_joined and is_per
        if not (is_pack and is_joined and is_per):
            joined = "" if is_joined else f", with {', '.join(others)}"
            total.wrong.append(
                f"{code}: {offer.pack} for {due}{joined}{'' if is_per else ', price for another unit'}"
            )
        if not is_pack and not is_flagged:
            total.unflagged.append(f"{code}: {offer.pack} for {due}")


def _lines(house, total, found, of_code):
    by_name = {one.name.lower(): one for one in found.recipes.values()}
    used = {}
    for row in rows(house, "truth_lines.csv"):
        total.n_lines += 1
        recipe = by_name.get(row["recipe"].lower())
        lines = [] if recipe is None else recipe.lines
        done = used.setdefault(row["recipe"], set())
        at = next(
            (
                n
                for n, one in enumerate(lines)
                if n not in done and _is_item(one.item, row["item"], found, of_code)
            ),
            None,
        )
        if at is None:
            total.wrong.append(
                f"{row['recipe']}: {row['line']}: not {row['item']} in {[o.item for o in lines]}"
            )
            continue
        done.add(at)
        line = lines[at]
        goods = found.ingredients.get(line.item) or found.recipes[line.item]
        if _is_amount(line.quantity, goods, row["amount"]):
            total.lines += 1
        else:
            total.wrong.append(
                f"{row['recipe']}: {row['line']}: {line.quantity:g} {goods.unit} for {row['amount']}"
            )


def _is_item(item, due, found, of_code):
    if due == "new":
        return item in found.ingredients and not found.ingredients[item].offers
    return item == (of_code[due][0] if due in of_code else due)


def _is_amount(quantity, goods, written):
    low, _, high = written.partition(" to ")
    top = parse_quantity(high or low)
    bottom = parse_quantity(f"{low} {top.unit}") if high else top
    try:
        rate = float(factor(top.unit, goods.unit, goods.each_g, goods.density_kg_per_l))
    except UnitError:
        return False
    near = 0.15 if UNITS[top.unit][0] != UNITS[goods.unit][0] else 0.02
    return float(bottom.amount) * rate * (1 - near) <= quantity <= float(top.amount) * rate * (1 + near)


if __name__ == "__main__":
    for one in sys.argv[1:] or HOUSES:
        with tempfile.TemporaryDirectory() as scratch:
            got = score(one, Path(scratch))
        right = f"{one}: {got.offers} of {got.n_offers} offers, {got.lines} of {got.n_lines} lines right"
        sys.stdout.write("\n".join([*got.wrong, "not marked:", *got.unflagged, right, ""]) + "\n")
