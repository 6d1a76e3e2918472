"""Draft letters to bytes: RFC 5322 and MIME, the same letter always the same bytes."""

from __future__ import annotations

import hashlib
from email.errors import HeaderParseError
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from pathlib import PurePosixPath

from ordering.records.page import Letter, Workbook
from ordering.texts import one_line
from ordering.write.xlsx import workbook_bytes

TYPES = {
    ".xlsx": ("application", "vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
    ".xml": ("application", "xml"),
}
ANY_TYPE = ("application", "octet-stream")
LONGEST_HEADER = 200
LONGEST_LINE = 76  # RFC 2045, 6.7 (5), for encoded text; RFC 5322, 2.1.1 would allow 78


def letter_bytes(letter: Letter) -> bytes:
    """The letter as an .eml file that opens as an unsent draft: lines end CRLF, all 7-bit.

    Line breaks and control characters in names and subject are taken out, so that no input can
    add a header. An address that is none is left out: the draft then opens without it.

    Raises
    ------
    ValueError : `dated` has no time zone; the sender is not an address
    """
    if letter.dated.tzinfo is None:
        raise ValueError("a letter is dated with its time zone")
    sender = address(letter.sender, letter.sender_name)
    if sender is None:
        raise ValueError(f"the sender is not an address: {letter.sender!r}")
    message = EmailMessage(policy=SMTP.clone(cte_type="7bit", max_line_length=LONGEST_LINE))
    message["X-Unsent"] = "1"
    message["Date"] = format_datetime(letter.dated)
    message["From"] = sender
    to = address(letter.to, letter.to_name)
    if to is not None:
        message["To"] = to
    message["Subject"] = _header(letter.subject)
    message.set_content(letter.body, charset="utf-8", cte="quoted-printable")
    for name, content in letter.attachments:
        held = workbook_bytes(content) if isinstance(content, Workbook) else content
        main, sub = TYPES.get(PurePosixPath(name).suffix, ANY_TYPE)
        message.add_attachment(held, maintype=main, subtype=sub, filename=_header(name))
    if message.is_multipart():
        message.set_boundary(_boundary(letter))
    return message.as_bytes()


def address(written: str, name: str = "") -> Address | None:
    """The address with the name before it, or None where it is none."""
    try:
        found = Address(display_name=_header(name), addr_spec=written.strip())
    except (HeaderParseError, ValueError, IndexError):
        return None
    return found if found.domain and found.username and written.isascii() else None


def _header(text: str) -> str:
    return one_line(text)[:LONGEST_HEADER]


def _boundary(letter: Letter) -> str:
    """A boundary of 40 hexadecimal digits from the letter itself: no body holds its own digest."""
    seed = "\0".join((letter.subject, letter.to, letter.body, letter.dated.isoformat()))
    return f"=_{hashlib.sha256(seed.encode()).hexdigest()[:40]}"
