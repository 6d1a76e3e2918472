"""Text made safe for one line of a page or terminal, how wide it is, and its lines in a width."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence

_TIE = "\u00a0"
_UNBROKEN = re.compile(
    r"\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) [0-9]{1,2} [A-Z][a-z]{2}\b(?: [0-9]{2}:[0-9]{2}\b)?"
)  # a day and its time stay on their line
# Spaces without width, marks of byte order within a text, and marks that turn the direction of what follows.
_UNSEEN = re.compile("[\u061c\u200b\u200e\u200f\u202a-\u202e\u2060\u2066-\u2069\ufeff]")


def without_unseen(text: str) -> str:
    """The text without what nobody sees or types: with it a name looks like another, and is not found.

    It comes along with what is copied from web pages.
    """
    return text if text.isascii() else _UNSEEN.sub("", text)


def one_line(text: str) -> str:
    """The text on one line: no control characters, nothing that nobody sees, single spaces."""
    return " ".join(harmless(text).split())


def harmless(text: str) -> str:
    """The text without control characters and what nobody sees; its lines are kept."""
    if text.isprintable():
        return text
    return "".join(map(_harmless, without_unseen(text).replace("\r\n", "\n")))


def _harmless(c: str) -> str:
    return " " if c != "\n" and unicodedata.category(c) in ("Cc", "Zl", "Zp", "Cs") else c


def listed(words: Sequence[str], most: int = 0) -> str:
    """`a`, `a and b`, `a, b and c`; beyond `most` (0: no limit) the rest is counted."""
    if most and len(words) > most:
        words = [*words[: most - 1], f"{len(words) - most + 1} more"]
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)


def told_apart(names: Sequence[str]) -> str:
    """`Bread, Milk`; where a name has a comma of its own, `Char, cured; Milk`."""
    return ("; " if any("," in name for name in names) else ", ").join(names)


def with_article(noun: str) -> str:
    """`a service`, `an item`: the noun of a message behind its article, chosen by its first letter."""
    return f"{'an' if noun[:1].lower() in 'aeiou' else 'a'} {noun}"


def cells_wide(text: str) -> int:
    """Columns a text takes in a fixed-width font: wide characters two, combining ones none."""
    if text.isascii():
        return len(text)
    import wcwidth  # its tables are read only where something is wide

    return wcwidth.width(text)


def padded(text: str, width: int, is_right: bool = False) -> str:
    """The text with spaces up to `width` columns of a fixed-width font."""
    space = " " * max(width - cells_wide(text), 0)
    return space + text if is_right else text + space


def wrapped(text: str, width: int) -> list[str]:
    """The text in lines no wider than `width`, broken between words, or within one too long.

    Each line is made safe as `one_line` has it.

    Raises
    ------
    ValueError : `width` is less than 2, in which a wide character would not fit
    """
    if width < 2:
        raise ValueError(f"no text fits {width} columns")
    lines: list[str] = []
    for paragraph in text.splitlines() or [""]:
        line, taken = "", 0
        for word in _UNBROKEN.sub(lambda day: day[0].replace(" ", _TIE), one_line(paragraph)).split(" "):
            wide = cells_wide(word)
            if line and taken + 1 + wide <= width:
                line, taken = f"{line} {word}", taken + 1 + wide
                continue
            if line:
                lines.append(line)
            *full, line = [word] if wide <= width else _pieces(word, width)
            lines.extend(full)
            taken = cells_wide(line)
        lines.append(line)
    return [line.replace(_TIE, " ") for line in lines]


def _pieces(word: str, width: int) -> list[str]:
    import wcwidth

    pieces = [""]
    for letter in wcwidth.iter_graphemes(word):
        if cells_wide(pieces[-1] + letter) > width:
            pieces.append("")
        pieces[-1] += letter
    return pieces
