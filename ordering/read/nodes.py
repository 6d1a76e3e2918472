"""YAML as plain strings with their lines. Nothing is guessed: `no`, `15:00` and `077` stay as written.

The parser's events are turned into nodes one by one, without recursion, so that aliases, equal keys and
deep nesting can be refused as they come.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import yaml

from ordering.faults import Fault
from ordering.read.files import MAX_YAML_BYTES, read_text

MAX_DEPTH = 12
MAX_NODES = 200_000
_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_TAGS = {None, "!", "tag:yaml.org,2002:str", "tag:yaml.org,2002:map", "tag:yaml.org,2002:seq"}

_PROBLEMS = {
    "mapping values are not allowed": "a second ': ' in this line, or wrong indentation; quote such text",
    "did not find expected key": "the indentation does not fit the lines above, or a quote is not closed",
    "expected ',' or ']'": "a square bracket is not closed, or a comma is missing",
    "expected ',' or '}'": "a curly bracket is not closed, or a comma is missing",
    "unexpected end of stream": "a quote is not closed",
    "did not find expected '-'": "the '-' of this list do not stand under one another",
    "could not find expected ':'": "a word without ': ' after it",
    "control characters": "a control character; retype the line",
    "nesting depth": "brackets nested too deeply",
}

Plain = str | None | list["Plain"] | dict[str, "Plain"]


@dataclass(slots=True)
class Node:
    """A scalar (`text`, None when nothing is written), a list (`items`) or a mapping (`keys`)."""

    line: int
    text: str | None = None
    items: list[Node] | None = None
    keys: dict[str, Node] | None = None
    key_lines: dict[str, int] = field(default_factory=dict)

    def plain(self) -> Plain:
        """The node as nested strings, lists and dictionaries."""
        if self.keys is not None:
            return {key: node.plain() for key, node in self.keys.items()}
        if self.items is not None:
            return [node.plain() for node in self.items]
        return self.text

    @property
    def is_empty(self) -> bool:
        return not (self.text or self.items or self.keys)


class _Stop(Exception):
    """Reading cannot go on; carries the fault."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(str(fault))
        self.fault = fault


class _Tree:
    """Nodes under construction: the open collections and the key each open mapping waits for."""

    def __init__(self, place: str) -> None:
        self.place = place
        self.root: Node | None = None
        self.open: list[Node] = []
        self.waiting: list[Node | None] = []
        self.faults: list[Fault] = []
        self.n_nodes = 0

    def stop(self, line: int, wrong: str, right: str, kind: str) -> _Stop:
        return _Stop(Fault(self.place, line, "", wrong, right, kind))

    def add(self, node: Node) -> None:
        """Hang a node under the one being read, whether a list entry, a key or its value."""
        self.n_nodes += 1
        if self.n_nodes > MAX_NODES:
            raise self.stop(node.line, "too many entries for one file", "split it", "large-file")
        if not self.open:
            self.root = node
        elif (parent := self.open[-1]).items is not None:
            parent.items.append(node)
        elif self.waiting[-1] is None:
            self._take_key(node)
        else:
            self._set(parent, self.waiting[-1], node)
            self.waiting[-1] = None

    def _take_key(self, node: Node) -> None:
        if node.text is None or node.items is not None or node.keys is not None:
            raise self.stop(node.line, "a key must be one plain word", "write 'word: value'", "bad-yaml")
        self.waiting[-1] = node

    def _set(self, parent: Node, key: Node, node: Node) -> None:
        word = key.text or ""
        keys = parent.keys if parent.keys is not None else {}
        if word in keys:
            wrong = f"'{word[:60]}' is written twice, here and in line {parent.key_lines[word]}"
            fault = Fault(self.place, key.line, word[:60], wrong, "keep one of them", "equal-keys")
            self.faults.append(fault)
            return
        keys[word] = node
        parent.key_lines[word] = key.line

    def begin(self, node: Node) -> None:
        self.add(node)
        self.open.append(node)
        self.waiting.append(None)
        if len(self.open) > MAX_DEPTH:
            raise self.stop(node.line, "nested too deeply", "check brackets and indentation", "bad-yaml")

    def end(self) -> None:
        self.open.pop()
        self.waiting.pop()


def _take(tree: _Tree, event: yaml.Event) -> None:
    line = event.start_mark.line + 1 if event.start_mark else 1
    tag = getattr(event, "tag", None)
    if isinstance(event, yaml.AliasEvent):
        raise tree.stop(line, f"the alias '*{event.anchor}' is not read", "write it out", "yaml-alias")
    if tag not in _TAGS:
        written = str(tag).replace("tag:yaml.org,2002:", "!!")[:60]
        raise tree.stop(line, f"the tag '{written}' is not read", "take it out", "yaml-tag")
    if isinstance(event, yaml.ScalarEvent):
        is_empty = event.value == "" and not event.style
        tree.add(Node(line, None if is_empty else event.value))
    elif isinstance(event, yaml.MappingStartEvent):
        tree.begin(Node(line, keys={}))
    elif isinstance(event, yaml.SequenceStartEvent):
        tree.begin(Node(line, items=[]))
    elif isinstance(event, (yaml.MappingEndEvent, yaml.SequenceEndEvent)):
        tree.end()
    elif isinstance(event, yaml.DocumentStartEvent) and tree.root is not None:
        raise tree.stop(line, "a second document begins", "keep one; take out '---'", "bad-yaml")


def _events(text: str) -> Iterator[yaml.Event]:
    yield from yaml.parse(text, Loader=_LOADER)


def _in_words(error: yaml.YAMLError, text: str, place: str) -> Fault:
    mark = getattr(error, "problem_mark", None)
    position = getattr(error, "position", None)
    line = mark.line + 1 if mark else text.count("\n", 0, position) + 1 if isinstance(position, int) else 1
    lines = text.splitlines()
    written = lines[line - 1] if line <= len(lines) else ""
    if "\t" in written[: len(written) - len(written.lstrip())] or "\\t" in str(error):
        return Fault(place, line, "", "a tab is used to indent", "indent with spaces", "yaml-tab")
    problem = getattr(error, "problem", None) or getattr(error, "reason", None) or "not understood"
    said = next((ours for theirs, ours in _PROBLEMS.items() if theirs in str(problem)), str(problem)[:100])
    wrong = f"not readable as YAML: {said}"
    cure = "mend it here or just above"
    return Fault(place, line, "", wrong, cure, "bad-yaml")


def parse_yaml(text: str, place: str) -> tuple[Node | None, list[Fault]]:
    """The text's nodes (None: nothing written, or not readable) and every fault of its form."""
    tree = _Tree(place)
    try:
        for event in _events(text):
            _take(tree, event)
    except _Stop as stop:
        return None, [*tree.faults, stop.fault]
    except yaml.YAMLError as error:
        return None, [*tree.faults, _in_words(error, text, place)]
    return (None if tree.root is None or tree.root.is_empty else tree.root), tree.faults


def read_yaml(path: Path) -> tuple[Node | None, list[Fault]]:
    """As `parse_yaml`, from a file of at most 4 MB."""
    text = read_text(path, MAX_YAML_BYTES)
    return (None, [text]) if isinstance(text, Fault) else parse_yaml(text, path.as_posix())
