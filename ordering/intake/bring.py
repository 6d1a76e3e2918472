"""`ordering import`: files a kitchen has into the files of the house, all of it or nothing."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from ordering.amounts import plural
from ordering.faults import Fault, Refused
from ordering.intake.dishes import bring_menu
from ordering.intake.housefiles import open_house
from ordering.intake.outcome import Ask, Asker, Outcome, Question, some
from ordering.intake.price_lists import bring_prices
from ordering.intake.recipes import bring_recipes
from ordering.intake.reservations import bring_bookings
from ordering.intake.sales import bring_sales
from ordering.intake.sheets import SourceSheet, read_sheets
from ordering.intake.shelf_counts import book_count, bring_counts
from ordering.records.report import Report
from ordering.write.folder import write_file

KINDS: dict[str, Callable[[Sequence[SourceSheet], Outcome], None]] = {
    "prices": bring_prices,
    "recipes": bring_recipes,
    "menu": bring_menu,
    "sales": bring_sales,
    "bookings": bring_bookings,
    "counts": bring_counts,
}


@dataclass(frozen=True, slots=True)
class ImportTerms:
    """How to import: whose list it is, whether best readings are taken, whether anything is written."""

    on: date
    vendor: str = ""
    is_yes: bool = False
    is_dry: bool = False
    ask: Ask | None = None


def bring(config: Path, books: Path, what: str, paths: Sequence[Path], terms: ImportTerms) -> Report:
    """Read the files as one, say what was understood, and write it.

    Returns
    -------
    Status 0, or 1 where questions stay open (nothing is written then) or something was left out.

    Raises
    ------
    Refused : the files cannot be read, or the house would have faults it has not now; nothing is written
    """
    house = open_house(config)
    vendor = terms.vendor or (_vendor(list(house.entries("vendors")), paths) if what == "prices" else "")
    name = f"{what}-{vendor}" if vendor else what
    asker = Asker(house.sources(name), None, terms.is_yes)
    out = Outcome(house, asker, books, terms.on, name, vendor)
    if terms.ask is not None and not terms.is_dry:
        asker.ask = _with_what_was_said(terms.ask, out)
    sheets = _read(paths, out)
    try:
        KINDS[what](sheets, out)
    except (KeyboardInterrupt, EOFError):
        return _stopped(config, name, asker)
    if asker.open and not terms.is_yes:
        return Report((*out.told, *_asked(out), "Nothing was written."), 1)
    house.keep(name, asker.given, asker.guessed, asker.marked)
    if (new := house.check()) and not (terms.is_dry and new[0].kind == "kept-in-table"):
        raise Refused(new)
    left = [f"left out: {one}" for one in out.left]
    if terms.is_dry:
        counted = [plural(len(out.counted), "line") + " into the ledger as a count"] if out.counted else []
        wouldbe = [*(house.file_of(stem) for stem in sorted(house.changed)), *out.written, *counted]
        last = f"Would write {', '.join(wouldbe)}." if wouldbe else "Nothing would change."
        return Report((*out.told, *left, last), 1 if left else 0)
    if what == "counts":
        return book_count(config, books, paths, terms.on, terms.is_yes, out)
    files = house.save()
    for file, text in out.written.items():
        write_file(books / file, text.encode())
    files += list(out.written)
    n = len(asker.guessed.keys() - asker.marked) if "house.yaml" in files else 0
    guesses = f" {plural(n, 'guess', 'guesses')} marked in house.yaml." if n else ""
    last = f"Written: {', '.join(files)}.{guesses}" if files else "Nothing has changed."
    return Report((*out.told, *left, last), 1 if left else 0)


def _with_what_was_said(ask: Ask, out: Outcome) -> Ask:
    """Ask with what has been understood since the last question."""

    def asked(question: Question) -> str:
        said = tuple(out.told)
        out.told.clear()
        return ask(replace(question, said=said))

    return asked


def _stopped(config: Path, name: str, asker: Asker) -> Report:
    """What was answered before somebody stopped is kept, and nothing else of it."""
    answers = {key: value for key, value in asker.given.items() if key in asker.asked}
    house = open_house(config)
    house.keep(name, answers, {}, set())
    house.save()
    kept = f"{plural(len(answers), 'answer')} kept in house.yaml; the same command goes on from there"
    said = f"Stopped: {kept}. Nothing else was written." if answers else "Stopped: nothing was written."
    return Report((said,), 1)


def _read(paths: Sequence[Path], out: Outcome) -> list[SourceSheet]:
    """Every sheet of every file; the faults of all files at once."""
    sheets: list[SourceSheet] = []
    faults: list[Fault] = []
    for path in paths:
        try:
            found = read_sheets(path)
        except Refused as refused:
            faults += refused.faults
            continue
        n_rows = sum(len(sheet.rows) for sheet in found)
        how = f", {found[0].how}" if found[0].how else ""
        out.told.append(f"{path.name}: {plural(len(found), 'sheet')}, {n_rows:,} rows{how}")
        sheets += found
    if faults:
        raise Refused(faults)
    return sheets


def _vendor(vendors: Sequence[str], paths: Sequence[Path]) -> str:
    """The vendor a price list is of, where its file is named so, or there is one vendor only."""
    stem = paths[0].stem.lower().replace("_", "-").replace(" ", "-")
    named = [one for one in vendors if one in stem or stem in one]
    if len(named) == 1 or len(vendors) == 1:
        return (named or list(vendors))[0]
    if len(paths) == 1 and _has_named_tabs(paths[0]):
        return ""
    known = f": {', '.join(vendors[:8])}" if vendors else ""
    right = f"say so with --vendor ID (known{known})" if known else "say so with --vendor ID"
    raise Refused([Fault(paths[0].as_posix(), 0, "", "whose price list is this?", right, "no-vendor")])


def _has_named_tabs(path: Path) -> bool:
    """Whether a workbook has several tabs, each with a name: a list of one vendor each."""
    titles = [sheet.title for sheet in read_sheets(path)]
    return len(titles) > 1 and not any(re.fullmatch(r"(?i)\D{0,8}\d*", title) for title in titles)


def _asked(out: Outcome) -> list[str]:
    """Every open question with what would be taken with --yes."""
    lines = []
    for one in out.asker.open:
        best = f" (with --yes: {one.best})" if one.best else " (with --yes: left out)"
        lines.append(f"question: {one.text}{best}")
    n = len(out.asker.open)
    kept = f"Answer on a terminal, or in house.yaml under sources: {out.name}; --yes takes the best reading."
    return [*some(lines, 40), f"{plural(n, 'question')}. {kept}"]
