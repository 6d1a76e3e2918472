"""YAML as plain strings with their places. Nothing is guessed: `no`, `15:00` and `077` stay as written."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml
from yaml.events import (
    AliasEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    StreamEndEvent,
)

from ordering.faults import Fault
from ordering.read.files import MAX_YAML_BYTES, read_text

MAX_DEPTH = 12
MAX_NODES = 200_000
_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)  # the one in C, where it was built
_PLAIN_TAGS = {"!", "tag:yaml.org,2002:str", "tag:yaml.org,2002:map", "tag:yaml.org,2002:seq"}

_PROBLEMS = {
    "mapping values are not allowed": "a second ': ' in this line, or wrong indentation; quote such text",
    "did not find expected key": "the indentation does not fit the lines above, or a quote is not closed",
    "expected ',' or ']'": "a square bracket is not closed, or a comma is missing",
    "expected ',' or '}'": "a curly bracket is not closed, or a comma is missing",
    "unexpected end of stream": "a quote is not closed",
    "did not find expected '-'": "the '-' of this list are not under one another",
    "could not find expected ':'": "a word without ': ' after it",
    "<document start>": "text after '...', which ends the file: take one of them out",
    "control characters": "a control character; retype the line",
    "nesting depth": "brackets nested too deeply",
}
_CURE = "fix it here or just above"

_AMOUNTS = "pack|quantity|makes|portion|par|unit"
_HIDDEN = re.compile(
    rf"^(?!\s*#)(?:(?! #)[^\n])*?\b(?:{_AMOUNTS}): [^#\"'\n]*? (#[0-9]{{1,3}}\b[^\n]*)",
    re.ASCII | re.MULTILINE,
)

Plain = str | None | list["Plain"] | dict[str, "Plain"]


@dataclass(slots=True)
class Node:
    """A scalar (`text`, None when nothing is written), a list (`items`) or a mapping (`keys`).

    `place` is the file it stands in: entries of a house can come from two (`layers.py`).
    """

    line: int
    text: str | None = None
    items: list[Node] | None = None
    keys: dict[str, Node] | None = None
    key_lines: dict[str, int] = field(default_factory=dict)
    place: str = ""

    def plain(self) -> Plain:
        """The node as nested strings, lists and dictionaries."""
        if self.keys is not None:
            return {key: node.plain() for key, node in self.keys.items()}
        if self.items is not None:
            return [node.plain() for node in self.items]
        return self.text

    @property
    def is_empty(self) -> bool:
        """Whether nothing is written there."""
        return not (self.text or self.items or self.keys)


class _Stop(Exception):
    """Reading cannot go on; carries the fault."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(str(fault))
        self.fault = fault


@dataclass(slots=True)
class _Walk:
    """The library's events on their way to our nodes, with the faults found so far."""

    place: str
    event: Callable[[], Any]
    n_nodes: int = 0
    faults: list[Fault] = field(default_factory=list)

    def stop(self, line: int, wrong: str, right: str, kind: str) -> _Stop:
        return _Stop(Fault(self.place, line, "", wrong, right, kind))

    def root(self) -> Node | None:
        """The one document of the text; None where there is none. Raises as `node`."""
        self.event()  # the stream begins
        if isinstance(self.event(), StreamEndEvent):
            return None
        found = self.node(self.event())
        self.event()  # the document ends
        after = self.event()
        if not isinstance(after, StreamEndEvent):
            wrong = "not readable as YAML: a second document begins: keep one; take out '---'"
            raise self.stop(after.start_mark.line + 1, wrong, _CURE, "bad-yaml")
        return found

    def node(self, given: Any, depth: int = 1) -> Node:
        """The node that an event begins. Raises `_Stop` for what is not read at all."""
        line = self.line_of(given, depth)
        if isinstance(given, ScalarEvent):
            return Node(line, _written(given), place=self.place)
        if isinstance(given, MappingStartEvent):
            return self._mapping(line, depth)
        items = []
        while not isinstance(one := self.event(), SequenceEndEvent):
            items.append(self.node(one, depth + 1))
        return Node(line, items=items, place=self.place)

    def line_of(self, given: Any, depth: int) -> int:
        """The line of an event that begins a node. Raises as `node`."""
        line: int = given.start_mark.line + 1
        if isinstance(given, AliasEvent):
            raise self.stop(
                line, "this is used again through an alias ('*')", "write it out there", "yaml-alias"
            )
        self.n_nodes += 1
        if given.tag is not None and given.tag not in _PLAIN_TAGS:
            written = str(given.tag).replace("tag:yaml.org,2002:", "!!")[:60]
            raise self.stop(line, f"the tag '{written}' is not read", "take it out", "yaml-tag")
        if self.n_nodes > MAX_NODES:
            raise self.stop(line, "too many entries for one file", "split it", "large-file")
        if depth > MAX_DEPTH:
            raise self.stop(line, "nested too deeply", "check brackets and indentation", "bad-yaml")
        return line

    def _mapping(self, line: int, depth: int) -> Node:
        keys: dict[str, Node] = {}
        lines: dict[str, int] = {}
        while not isinstance(key := self.event(), MappingEndEvent):
            word = _written(key) if isinstance(key, ScalarEvent) else None
            if word is None:
                at = key.start_mark.line + 1
                raise self.stop(at, "a key must be one plain word", "write 'word: value'", "bad-yaml")
            at = self.line_of(key, depth)
            value = self.node(self.event(), depth + 1)
            if word in keys:
                wrong = f"'{word[:60]}' is written twice, here and in line {lines[word]}"
                self.faults.append(Fault(self.place, at, word[:60], wrong, "keep one of them", "equal-keys"))
                continue
            keys[word], lines[word] = value, at
        return Node(line, keys=keys, key_lines=lines, place=self.place)


def _written(scalar: ScalarEvent) -> str | None:
    """The text of a scalar; None where nothing is written, which two quotes are not."""
    return scalar.value if scalar.value or scalar.style else None


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
    return Fault(place, line, "", wrong, _CURE, "bad-yaml")


def _hidden(text: str, place: str) -> list[Fault]:
    """Amounts cut short by a can size, as in `pack: 6 #10`."""
    wrong = "'{}' is not read: in YAML a # after a space begins a comment"
    right = 'put the value in quotes: "6 #10"'
    if not re.search(" #[0-9]", text):
        return []
    return [
        Fault(place, line, "", wrong.format(match[1].strip()[:40]), right, "hidden-text")
        for match in _HIDDEN.finditer(text)
        for line in [text.count("\n", 0, match.start(1)) + 1]
    ]


def parse_yaml(text: str, place: str) -> tuple[Node | None, list[Fault]]:
    """The text's nodes (None: nothing written, or not readable) and every fault of its form."""
    walk = _Walk(place, _LOADER(text).get_event)
    try:
        root = walk.root()
    except _Stop as stop:
        return None, [*walk.faults, stop.fault]
    except yaml.YAMLError as error:
        return None, [*walk.faults, *(_hidden(text, place) or [_in_words(error, text, place)])]
    faults = [*walk.faults, *_hidden(text, place)]
    return (None if root is None or root.is_empty else root), faults


def read_yaml(path: Path) -> tuple[Node | None, list[Fault]]:
    """As `parse_yaml`, from a file of at most 4 MB."""
    text = read_text(path, MAX_YAML_BYTES)
    return (None, [text]) if isinstance(text, Fault) else parse_yaml(text, path.as_posix())
