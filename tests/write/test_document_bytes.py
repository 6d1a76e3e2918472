"""A whole run to bytes: each workbook written once, attached as it is, the same twice."""

from __future__ import annotations

from email import message_from_bytes
from email.policy import default

import pytest
import sample_plan

from ordering.pages.run_files import run_files
from ordering.write.document_bytes import documents_bytes

HOUSE = sample_plan.house()
DOCUMENTS = run_files(HOUSE, sample_plan.plan(HOUSE))


def test_a_run_has_every_file_it_promises() -> None:
    assert set(documents_bytes(DOCUMENTS)) == {
        *("forecast.csv", "orders.csv", "outlook.csv", "starts.csv", "shortages.csv", "projection.csv"),
        *("pegging.csv", "pars.csv", "order-book.xlsx", "start-list.xlsx", "calendar.ics", "today.html"),
        *(f"orders/{vendor}.{kind}" for vendor in ("hollow-mill", "reed-quay") for kind in ("xlsx", "eml")),
    }


def test_the_sheet_attached_is_the_sheet_beside_it() -> None:
    files = documents_bytes(DOCUMENTS)
    for vendor in ("hollow-mill", "reed-quay"):
        parsed = message_from_bytes(files[f"orders/{vendor}.eml"], policy=default)
        (sheet,) = parsed.iter_attachments()  # type: ignore[attr-defined]
        assert sheet.get_content() == files[f"orders/{vendor}.xlsx"]


def test_the_same_run_gives_the_same_bytes() -> None:
    house = sample_plan.house()
    assert documents_bytes(run_files(house, sample_plan.plan(house))) == documents_bytes(DOCUMENTS)


def test_what_is_no_document_is_refused() -> None:
    with pytest.raises(TypeError, match="no document"):
        documents_bytes({"x": "text"})  # type: ignore[dict-item]
