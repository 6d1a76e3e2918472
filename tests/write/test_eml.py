"""Draft letters read back by the standard library's parser."""

from __future__ import annotations

from datetime import UTC, datetime
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default

import pytest
from hostile import NAMES

from ordering.records.page import Cell, Letter, Sheet, Workbook
from ordering.write.eml import address, letter_bytes
from ordering.write.xlsx import workbook_bytes

DATED = datetime(2026, 11, 26, 9, 0, tzinfo=UTC)
BOOK = Workbook("Order", (Sheet("Order", ((Cell("code"),),), (10,)),), DATED)


def letter(**changed: object) -> Letter:
    words: dict[str, object] = {
        "sender": "kitchen@inn.example",
        "sender_name": "The Inn",
        "to": "orders@mill.example",
        "to_name": "The Mill",
        "subject": "Order for Saturday",
        "body": "Good day,\n\n    3  HM-104  flour\n",
        "dated": DATED,
        "attachments": (("mill.xlsx", BOOK),),
    }
    return Letter(**(words | changed))  # type: ignore[arg-type]


def parsed(value: Letter) -> EmailMessage:
    found = message_from_bytes(letter_bytes(value), policy=default)
    assert isinstance(found, EmailMessage)
    assert not found.defects
    return found


def test_it_opens_as_an_unsent_draft_with_body_and_sheet() -> None:
    found = parsed(letter())
    assert found["X-Unsent"] == "1"
    assert found["Date"].datetime == DATED
    assert str(found["To"]) == "The Mill <orders@mill.example>"
    body = found.get_body(("plain",))
    assert body is not None
    assert body.get_content().replace("\r\n", "\n") == "Good day,\n\n    3  HM-104  flour\n"
    (sheet,) = found.iter_attachments()
    assert sheet.get_filename() == "mill.xlsx"
    assert sheet.get_content_type() == "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    assert sheet.get_content() == workbook_bytes(BOOK)


def test_lines_are_as_long_as_mime_allows_and_a_subject_as_long_as_anybody_reads() -> None:
    """RFC 2045, 6.7 (5): encoded lines of 76 characters; a subject of 200: common practice, no source."""
    long = letter(subject="x " * 300, body=f"{'flour ' * 60}\n", attachments=())
    assert len(str(parsed(long)["Subject"])) in (199, 200)
    lines = letter_bytes(long).decode("ascii").split("\r\n")
    assert 70 < max(map(len, lines)) <= 76


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_no_name_can_add_a_header_or_turn_an_address_round(name: str) -> None:
    found = parsed(letter(subject=f"Order {name}", to_name=name, sender_name=name, body=f"{name}\n"))
    expected = ["X-Unsent", "Date", "From", "To", "Subject", "MIME-Version", "Content-Type"]
    assert found.keys() == expected
    assert [a.addr_spec for a in found["To"].addresses] == ["orders@mill.example"]
    assert [a.addr_spec for a in found["From"].addresses] == ["kitchen@inn.example"]
    assert "\u202e" not in str(found["To"]) + str(found["Subject"])


def test_names_keep_their_letters() -> None:
    found = parsed(letter(to_name="Crème & Söhne", subject="Bestellung für 北京"))
    assert found["To"].addresses[0].display_name == "Crème & Söhne"
    assert found["Subject"] == "Bestellung für 北京"


@pytest.mark.parametrize(
    "written", ["", "no address", "a@", "@b", "a@b.example\nBcc: c@d.example", "a@b, c@d", "müller@x.example"]
)
def test_what_is_no_address_is_left_out(written: str) -> None:
    assert address(written) is None
    assert parsed(letter(to=written))["To"] is None


def test_an_attachment_cannot_name_a_path_or_a_header() -> None:
    found = parsed(letter(attachments=(('a"\r\nX: y.bin', b"abc"),)))
    (held,) = found.iter_attachments()
    assert held.get_content() == b"abc"
    assert "X" not in held


def test_a_letter_without_a_zone_or_a_sender_is_refused() -> None:
    with pytest.raises(ValueError, match="time zone"):
        letter_bytes(letter(dated=datetime(2026, 11, 26)))
    with pytest.raises(ValueError, match="sender is not an address"):
        letter_bytes(letter(sender="nobody"))


def test_the_same_letter_gives_the_same_bytes() -> None:
    assert letter_bytes(letter()) == letter_bytes(letter())
    assert letter_bytes(letter()) != letter_bytes(letter(subject="Other"))
