"""Ids as people and tills write them: without case, with spaces, or by the name of what they stand for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping

from ordering.faults import nearest
from ordering.read.columns import Misread
from ordering.read.fields import shown
from ordering.texts import with_article


def plain(name: str) -> str:
    """A name or id as it is compared: without case, its words joined by hyphens."""
    return "-".join(name.casefold().split())


def ids_by_name(named: Iterable[tuple[str, str]], renames: Mapping[str, str] | None = None) -> dict[str, str]:
    """Ids by what may be written for them, as `plain` has it.

    `named` has (id, name). An id goes before a name, and `renames` (theirs to an id) before both; a name
    that several share stands for none of them.
    """
    pairs = [(key, plain(name)) for key, name in named]
    n_of = Counter(name for _, name in pairs)
    found = {name: key for key, name in pairs if n_of[name] == 1}
    found |= {plain(key): key for key, _ in pairs}
    return found | {plain(theirs): key for theirs, key in (renames or {}).items()}


def known(what: str, ids: Mapping[str, str], remedy: str, kind: str = "") -> Callable[[str], str]:
    """A reader of ids, `ids` as from `ids_by_name`; the fault is of `kind`, or `unknown-WHAT`."""
    exact = set(ids.values())

    def read(text: str) -> str:
        if text in exact:
            return text
        if found := ids.get(plain(text)):
            return found
        if not text:
            example = f", as in {min(exact)}" if exact else ""
            raise Misread("empty-value", "nothing is written", f"write {with_article(what)}{example}")
        right = nearest(text, exact) or nearest(plain(text), ids) or remedy
        raise Misread(kind or f"unknown-{what}", f"'{shown(text)}' is not {with_article(what)}", right)

    return read
