"""Documents of any kind to bytes, each workbook written once though it is attached to a letter."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from ordering.records.page import Calendar, Document, Letter, Listing, Text, Workbook
from ordering.write.eml import letter_bytes
from ordering.write.ics import calendar_bytes
from ordering.write.table import csv_bytes
from ordering.write.xlsx import workbook_bytes


def documents_bytes(documents: Mapping[str, Document]) -> dict[str, bytes]:
    """Each document as the bytes of its file, under the same name and in the same sequence."""
    written: dict[int, bytes] = {
        id(document): workbook_bytes(document)
        for document in documents.values()
        if isinstance(document, Workbook)
    }
    return {name: _bytes(document, written) for name, document in documents.items()}


def _bytes(document: Document, written: Mapping[int, bytes]) -> bytes:
    if isinstance(document, Workbook):
        return written[id(document)]
    if isinstance(document, Letter):
        attached = tuple((name, written.get(id(content), content)) for name, content in document.attachments)
        return letter_bytes(replace(document, attachments=attached))
    if isinstance(document, Calendar):
        return calendar_bytes(document)
    if isinstance(document, Listing):
        return csv_bytes(document.columns, document.rows)
    if isinstance(document, Text):
        return document.text.encode()
    raise TypeError(f"no document: {document!r}")
