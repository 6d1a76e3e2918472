"""A house's own file laid over the file that all houses of a group begin from."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ordering.faults import Fault
from ordering.read.nodes import Node
from ordering.records.house import Place

TAKEN_OUT = "none"


@dataclass(frozen=True, slots=True)
class Override:
    """A word of the house's own files that stands in place of a shared one."""

    subject: str
    own: Place
    shared: Place

    def __str__(self) -> str:
        return f"{self.own}: {self.subject} in place of {self.shared}"


def layered(
    shared: Node, own: Node, subject: str = "", depth: int = 2, lists_add: bool = False
) -> tuple[Node, list[Override]]:
    """The shared mapping with the house's own keys added and put in place of its own.

    An entry that both have (`rice: {par: 6 kg}`) is laid over word by word, so that a house writes only
    what is different; below that a value stands as a whole. An entry written as `none` takes the shared one
    out. With `lists_add` (closures, events) a list of the house comes after the shared one, instead of
    replacing it. Every node keeps the place where it was written.
    """
    if shared.keys is None or own.keys is None or depth == 0:
        return own, [Override(subject, Place(own.place, own.line), Place(shared.place, shared.line))]
    keys, lines, found = dict(shared.keys), dict(shared.key_lines), list[Override]()
    for word, node in own.keys.items():
        name = f"{subject}: {word}" if subject else word
        if (theirs := keys.get(word)) is not None:
            at = Place(node.place, own.key_lines[word]), Place(theirs.place, shared.key_lines[word])
            if node.text == TAKEN_OUT:
                found.append(Override(f"{name} taken out", *at))
                del keys[word], lines[word]
                continue
            if lists_add and node.items is not None and theirs.items is not None:
                node = replace(node, items=[*theirs.items, *node.items])
            elif node.keys is not None and theirs.keys is not None and depth > 1:
                node, below = layered(theirs, node, name, depth - 1)
                found += below
            else:
                found.append(Override(name, *at))
        keys[word], lines[word] = node, own.key_lines[word]
    return replace(own, keys=keys, key_lines=lines), found


def with_nothing_to_take_out(own: Node, shared: Node) -> tuple[Node, list[Fault]]:
    """`own` without the entries it takes out though nothing shared has them, and a fault for each of them."""
    if own.keys is None:
        return own, []
    known = shared.keys or {}
    lost = [w for w, node in own.keys.items() if node.text == TAKEN_OUT and w not in known]
    wrong, right = "there is nothing shared to take out", "take the line out, or correct the id"
    faults = [Fault(own.keys[w].place, own.key_lines[w], w, wrong, right, "nothing-shared") for w in lost]
    return replace(own, keys={w: node for w, node in own.keys.items() if w not in lost}), faults
