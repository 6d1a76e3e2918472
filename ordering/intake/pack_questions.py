"""What is asked about the packs of a price list: once for all that are written alike, else line by line."""

from __future__ import annotations

import re
from collections.abc import Sequence

from ordering.intake.outcome import Outcome, Question
from ordering.intake.pack_readings import Reading
from ordering.intake.price_lines import PriceLine
from ordering.packs import parse_pack
from ordering.units import UNITS, UnitError, kind_of

_OF_ITS_FORM = {  # what is open about a pack and decided for all that are written alike
    "so many pieces?",
    "pieces, lb or kg?",
    "least quantity, and is a case of fixed weight?",
    "cans No. 10, or pounds?",
    "British pints?",
}


def as_answered(
    line: PriceLine, reading: Reading, lines: Sequence[PriceLine], out: Outcome
) -> tuple[Reading, bool]:
    """The reading with what had to be asked; whether its line is a guess. Nothing where it cannot be read.

    `lines` are all of the list, whose packs may be written alike.
    """
    if not reading.ask or _needs_no_answer(reading):
        return reading, False
    if reading.ask in _OF_ITS_FORM and reading.written and _is_form_meant(line, reading, lines, out):
        return reading, False
    key, best = f"pack {line.code} {line.pack}", reading.written
    end = "" if reading.ask.endswith(("?", ":")) else "?"
    text = f"{line.name}, {line.pack or 'no pack'}: {reading.ask}{end} Write the pack as in 6 x 5 lb."
    answer = out.asker.settle(Question(key, text, (), best))
    if not answer:
        held = f" ({line.pack or line.um})" if line.pack or line.um else ""
        out.left.append(f"row {line.row}: {line.name}{held}: {reading.ask}")
        return Reading(), False
    if answer == best:
        return reading, out.asker.is_guess(key)
    try:
        pack = parse_pack(answer)
    except UnitError as error:
        out.left.append(f"row {line.row}: {line.name}: the pack '{answer}' given: {error}")
        return Reading(), False
    content = pack.expected or pack.content
    return Reading(1, content.amount, content.unit, is_catch_weight=pack.expected is not None), False


def _is_form_meant(line: PriceLine, reading: Reading, lines: Sequence[PriceLine], out: Outcome) -> bool:
    """Whether all packs of a list that are written alike are meant as they were read."""
    shape = re.sub(r"\d+", "n", line.pack)
    n = sum(re.sub(r"\d+", "n", one.pack) == shape for one in lines)
    such = f"{n} lines have packs such as" if n > 1 else "the pack is"
    text = f"{line.name}: {such} '{line.pack}': {reading.ask} Taken as {reading.written}."
    return out.asker.settle(Question(f"packs {shape}", text, ("yes", "no"), "yes")) == "yes"


def _needs_no_answer(reading: Reading) -> bool:
    """What is open but does not change what a pack holds as it is counted: cans, bunches, pieces."""
    return (
        bool(reading.written)
        and reading.unit in UNITS
        and (
            (kind_of(reading.unit) not in ("mass", "volume", "each") and "?" not in reading.ask)
            or "weight of one, if" in reading.ask
            or "pieces a case for this item" in reading.ask
            or reading.ask == "pieces a case"
        )
    )
