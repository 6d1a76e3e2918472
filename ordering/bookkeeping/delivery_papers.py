"""A delivery as papers to be booked: what came, and what went back with it as a credit that belongs to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from ordering.bookkeeping.door_remarks import Given, Invoice
from ordering.ledger import rows, store
from ordering.records.books import Receipt
from ordering.records.documents import CREDIT, DELIVERY, Document, Paper


def with_invoice(given: Given, before: Document | None) -> Given:
    """What is given with the invoice of the version before, where none comes with the corrected one."""
    if before is None or not before.version or given.invoice not in (None, Invoice()):
        return given
    return replace(given, invoice=Invoice(before.invoice, before.total))


def papers_of(books_dir: Path, given: Given, before: Document | None) -> list[Paper]:
    """The delivery and, behind it, what goes back; of a credit corrected by its own number that alone.

    A sheet that says of returns alone is still the sheet of its delivery. Where an earlier version of it had
    returns and this one has none, the credit is booked again without a line: nothing goes back any more.
    before : the document that is meant, as it stands
    """
    is_sheet = before is not None and before.kind == DELIVERY
    if not given.came and not is_sheet:
        return [_paper(CREDIT, given, given.back, given.number)]
    delivery = _paper(DELIVERY, given, given.came, given.number)
    credit = store.credit_of(books_dir, given.number) if is_sheet else ""
    return [delivery, *([_paper(CREDIT, given, given.back, credit)] if given.back or credit else [])]


def _paper(kind: str, given: Given, read: Sequence[tuple[Receipt, str]], number: str) -> Paper:
    invoice = given.invoice or Invoice()
    return Paper(
        kind,
        min(r.delivered_on for r, _ in (read or (*given.came, *given.back))),
        tuple(rows.line_of_receipt(r, unit) for r, unit in read),
        number,
        source=given.source,
        invoice=invoice.number,
        total=invoice.total,
    )
