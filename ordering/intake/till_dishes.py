"""Which dish each name of a till is: known, alike, asked, or ignored."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ordering.intake.goods_match import likeness
from ordering.intake.goods_names import tokens
from ordering.intake.outcome import Outcome
from ordering.intake.questions import Question

ALIKE = 86.0
IGNORE = "ignore"


def dishes_of(out: Outcome, sold: Mapping[str, float]) -> dict[str, str]:
    """Each till name's dish, empty for one to ignore; what is not known is asked, best-sellers first."""
    house = out.house.entries("house")
    names = {str(k).lower(): str(v) for k, v in (house.get("dish_names") or {}).items()}
    ignored = {str(one).lower() for one in house.get("ignore") or []}
    known = out.known("menu")
    exact = {one.lower(): key for key, own in known.items() for one in (key, key.replace("-", " "), *own)}
    found: dict[str, str] = {}
    for name in sorted(sold, key=lambda n: -sold[n]):
        low = name.lower()
        if low in ignored:
            found[name] = ""
        elif dish := names.get(low) or exact.get(low):
            found[name] = dish
        else:
            found[name] = _asked(out, name, known, sold[name])
    return found


def _alike(name: str, dish: str) -> float:
    """How alike a till's name and a dish's are; words cut short (`LEMON MASC TART`) are taken for whole."""
    short, full = tokens(name), tokens(dish)
    is_cut = len(short) == len(full) > 1 and all(
        len(a) >= 3 and b.startswith(a) for a, b in zip(short, full, strict=True)
    )
    return max(likeness(name, dish), 90.0 if is_cut else 0.0)


def _asked(out: Outcome, name: str, known: Mapping[str, Sequence[str]], sold: float) -> str:
    scored = sorted(
        (
            (max(_alike(name, one) for one in (key.replace("-", " "), *own)), key)
            for key, own in known.items()
        ),
        key=lambda one: -one[0],
    )
    near = [key for score, key in scored if score >= ALIKE]
    is_one = len(near) == 1 or (len(near) > 1 and scored[0][0] >= scored[1][0] + 5)
    best = near[0] if near and is_one else IGNORE if not near else ""
    key = f"dish {name.lower()}"
    text = f"The till's {name} ({sold:,.0f} sold): which dish is that, or is it to be ignored?"
    choices = (*(near or [k for s, k in scored[:5] if s >= 60]), IGNORE)
    answer = out.asker.settle(Question(key, text, choices, best))
    if not answer:
        out.left.append(f"{name} ({sold:,.0f} sold): {' or '.join(near)}?")
        return ""
    return "" if answer == IGNORE else answer
