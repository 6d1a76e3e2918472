"""One part of a file held against its schema: a typed value, or every fault of its shape with its line."""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import replace
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from ordering.faults import Fault, nearest
from ordering.read.fields import shown
from ordering.read.nodes import Node
from ordering.records.house import Place

M = TypeVar("M", bound=BaseModel)
Loc = Sequence[int | str]

_SHAPES = {
    "list_type": ("a list is expected", "write [one, two], or one to a line with '- ' before it"),
    "dict_type": ("lines of 'word: value' are expected", "write them indented below"),
    "model_type": ("lines of 'word: value' are expected", "write them indented below"),
    "string_type": ("one value is expected, not a list or a mapping", "write it after the colon"),
}
# Words without which other lines of their part would be read wrongly: with one of them, the part goes too.
_WORKED_FROM = {"batches", "density", "each", "makes", "prepared_at", "takes", "unit", "yield"}
# How a part is written, by the word it stands under: said where something else stands there.
_EXAMPLES = {
    "services": "dinner: {days: [thu, fri]}",
    "deliveries": "- {day: fri, order_by: thu 12:00}",
    "offers": "- {vendor: farm, code: C-1, pack: 5 kg, price: 6.00}",
    "from": "- {item: flour, quantity: 2 kg}",
    "also_makes": "- {item: bones, quantity: 1 kg}",
    "consumables": "- {item: charcoal, quantity: 5 kg, per: service}",
    "events": "- {name: Wedding, date: 2026-11-26, service: dinner, covers: 40, menu: {soup: 40}}",
    "menu": "{soup: 20, pie: 20}",
    "policy": "{missed_cost: 1 x margin}",
    "holidays": "{country: GB, subdivision: ENG}",
    "breaks": "{4: 98.00}",
    "headers": "{sales: {Qty: sold}}",
    "dish_names": "{SOUP LRG: soup}",
    "service_names": "{Evening: dinner}",
}


def shaped(model: type[M], node: Node, subject: str) -> tuple[M | None, list[Fault]]:
    """`node` as a `model`, or its faults: unknown and missing words, values that cannot be."""
    plain = {} if node.is_empty else node.plain()
    try:
        return model.model_validate(plain), []
    except ValidationError as refusal:
        errors = refusal.errors(include_url=False, include_input=False)
    return None, [_fault(error, model, node, subject) for error in errors]


def shaped_in_part(model: type[M], node: Node, subject: str) -> tuple[M | None, Node, list[Fault]]:
    """As `shaped`, but of a node with faults what is left once its faulty parts are taken out.

    One bad line of an entry then hides none of the others.

    Returns
    -------
    The model, None where nothing sound is left of it; the node it was read from; the faults of the whole.
    """
    sound, faults = shaped(model, node, subject)
    while sound is None:
        try:
            sound = model.model_validate({} if node.is_empty else node.plain())
        except ValidationError as refusal:
            bad = {id(_part_of(node, error["loc"])) for error in refusal.errors(include_url=False)}
            left = _without(node, bad)
            if left is None:
                return None, node, faults
            node = left
    return sound, node, faults


def _part_of(node: Node, loc: Loc) -> Node:
    """The part to take out for an error at `loc`: the deepest that others are not worked out from."""
    part = node
    for step in loc:
        inner, is_needed = None, False
        if node.keys is not None and str(step) in node.keys:
            inner = node.keys[str(step)]
            is_needed = step in _WORKED_FROM or (step == "price" and "breaks" in node.keys)
        elif node.items is not None and isinstance(step, int) and step < len(node.items):
            inner = node.items[step]
        if inner is not None:
            node = inner
            part = part if is_needed else inner
    return part


def _without(node: Node, bad: Set[int]) -> Node | None:
    """The node without its bad parts; None where it is one itself, or a list of nothing else."""
    if id(node) in bad:
        return None
    if node.keys is not None:
        kept = {word: _without(inner, bad) for word, inner in node.keys.items()}
        return replace(node, keys={word: inner for word, inner in kept.items() if inner is not None})
    if node.items:
        items = [inner for one in node.items if (inner := _without(one, bad)) is not None]
        return replace(node, items=items) if items else None
    return node


def place_at(node: Node, loc: Loc, at_value: bool = True) -> Place:
    """Where the deepest node along `loc` is written; words on the way that are no keys are skipped.

    With `at_value`, a value below its key is where it stands itself; else its key is.
    """
    line = node.line
    for step in loc:
        if node.keys is not None and str(step) in node.keys:
            line, node = node.key_lines[str(step)], node.keys[str(step)]
            if at_value and node.items is None and node.keys is None and node.text:
                line = node.line
        elif node.items is not None and isinstance(step, int) and step < len(node.items):
            node = node.items[step]
            line = node.line
    return Place(node.place, line)


def _fault(error: ErrorDetails, model: type[BaseModel], node: Node, subject: str) -> Fault:
    loc = error["loc"]
    word = next((str(s) for s in reversed(loc) if isinstance(s, str) and s != "[key]"), "")
    place = place_at(node, loc, at_value=error["type"] != "extra_forbidden" and "[key]" not in loc)
    kind, wrong, right = _said(error, model, word)
    return Fault(place.path, place.line, subject, wrong, right, kind)


def _said(error: ErrorDetails, model: type[BaseModel], word: str) -> tuple[str, str, str]:
    kind, context = error["type"], error.get("ctx", {})
    if kind == "extra_forbidden":
        known = [name for name, _ in _words_of(_model_at(model, error["loc"][:-1]))]
        right = nearest(word, known) or f"known words: {', '.join(known)}"
        right = "put text that has a comma in quotes" if " " in word else right
        if word[:1].isdigit():
            right = "a comma separates words here: write decimals with a point, as in 4.65"
        elif right.startswith("known words") and (example := _example(error["loc"])):
            right = f"{right}; write each as in {example}"
        return "unknown-word", f"'{shown(word)}' is not known here", right
    if kind == "missing":
        right = f"add a line '{word}: ...'"
        if word == "makes":
            right += "; what only comes off another recipe is an ingredient"
        return "missing-word", f"'{word}' is missing", right
    wrong, right = context.get("wrong"), context.get("right", "")
    if wrong is None:
        wrong, right = _SHAPES.get(kind, (shown(error["msg"]), ""))
        if kind != "string_type" and (example := _example(error["loc"])):
            right = f"write it as in {example}"
        kind = "wrong-shape"
    return kind, f"{shown(word)}: {wrong}" if word and "[key]" not in error["loc"] else wrong, right


def _example(loc: Loc) -> str:
    """How the part that `loc` leads to is written; empty where it is not one of those."""
    return next((_EXAMPLES[str(step)] for step in reversed(loc) if str(step) in _EXAMPLES), "")


def _words_of(model: type[BaseModel]) -> list[tuple[str, Any]]:
    return [(field.alias or name, field.annotation) for name, field in model.model_fields.items()]


def _model_at(model: type[BaseModel], loc: Loc) -> type[BaseModel]:
    """The part of the schema that `loc` leads to."""
    for step in loc:
        inner = _model_in(dict(_words_of(model)).get(str(step)))
        model = inner or model
    return model


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    found = (_model_in(argument) for argument in get_args(annotation))
    return next((one for one in found if one is not None), None)
