"""A house's YAML files read, changed and written back with their comments and their order."""

from __future__ import annotations

import io
import shutil
import tempfile
from collections.abc import Iterator, Mapping, Set
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.error import YAMLError
from ruamel.yaml.scalarfloat import ScalarFloat
from ruamel.yaml.tokens import CommentToken

from ordering.faults import Fault, Refused
from ordering.read.draft import written_as
from ordering.read.files import MAX_YAML_BYTES, read_text
from ordering.read.guesses import MARK
from ordering.read.house_folder import read_house
from ordering.read.house_tables import read_house_table
from ordering.read.nodes import parse_yaml
from ordering.write.folder import write_file

_ALSO = "; the same for "
_SHARED = ("store", "keeps", "each")  # proposals that one look decides for all that are alike
STEMS = ("house", "vendors", "ingredients", "recipes", "menu", "calendar")


@dataclass(slots=True)
class HouseFiles:
    """The files of one folder as mappings that remember their comments; `changed` names those to write.

    `tables` are those kept as tables: they are read, and never written.
    """

    directory: Path
    docs: dict[str, CommentedMap] = field(default_factory=dict)
    changed: set[str] = field(default_factory=set)
    n_new: dict[str, int] = field(default_factory=dict)
    checked: dict[str, str] = field(default_factory=dict)
    tables: dict[str, Path] = field(default_factory=dict)

    def entries(self, stem: str) -> CommentedMap:
        """The entries of one file, to be looked at or changed in place."""
        return self.docs[stem]

    def file_of(self, stem: str) -> str:
        """The name of the file that a kind of entry is written to."""
        return self.tables[stem].name if stem in self.tables else f"{stem}.yaml"

    def add(self, stem: str, key: str, entry: CommentedMap) -> None:
        """A new entry at the end of a file."""
        self.docs[stem][key] = entry
        self.changed.add(stem)
        self.n_new[stem] = self.n_new.get(stem, 0) + 1

    def sources(self, name: str) -> Mapping[str, str]:
        """Answers kept for one kind of file."""
        kept = (self.docs["house"].get("sources") or {}).get(name) or {}
        return {str(key): str(value) for key, value in kept.items()}

    def keep(
        self, name: str, answers: Mapping[str, str], guesses: Mapping[str, str], marked_there: Set[str]
    ) -> None:
        """Keep answers under `sources`; what is kept already stays as it is.

        Those nobody gave are marked, but for those that have a mark where they are used.
        """
        kept = self.sources(name)
        both = {key: value for key, value in {**guesses, **answers}.items() if kept.get(key) != value}
        if not both:
            return
        house = self.docs["house"]
        sources = house.setdefault("sources", CommentedMap())
        if sources is None:
            sources = house["sources"] = CommentedMap()
        own = sources.setdefault(name, CommentedMap())
        for key, value in both.items():
            own[key] = value
            if key in guesses.keys() - answers.keys() - marked_there:
                marked(own, key, "taken without asking")
        self.changed.add("house")

    def text(self, stem: str) -> str:
        """A file as it would be written."""
        out = io.StringIO()
        if self.docs[stem]:
            _yaml().dump(self.docs[stem], out)
        return out.getvalue()

    def check(self) -> list[Fault]:
        """Faults that the changes would bring into a house that had none of them before."""
        if locked := sorted(self.changed & set(self.tables)):
            return [_kept_in_a_table(self.tables[stem]) for stem in locked]
        before = {(f.subject, f.wrong) for f in read_house(self.directory)[1]}
        with tempfile.TemporaryDirectory() as scratch:
            copied = Path(scratch) / "config"
            shutil.copytree(self.directory, copied)
            for stem in self.changed:
                _share_marks(self.docs[stem])
            self.checked = {stem: self.text(stem) for stem in self.changed}
            for stem, text in self.checked.items():
                (copied / f"{stem}.yaml").write_text(text, "utf-8")
            _, after = read_house(copied)
        named = self.directory.as_posix()
        return [
            Fault(f.place.replace(copied.as_posix(), named), f.line, f.subject, f.wrong, f.right, f.kind)
            for f in after
            if (f.subject, f.wrong.replace(copied.as_posix(), named)) not in before
        ]

    def save(self) -> list[str]:
        """Write every changed file as it was checked, each whole or not at all; their names."""
        written = []
        for stem in STEMS:
            if stem in self.changed:
                text = self.checked.get(stem) or self.text(stem)
                write_file(self.directory / f"{stem}.yaml", text.encode())
                written.append(f"{stem}.yaml")
        return written


def _yaml() -> YAML:
    yaml = YAML(typ="rt")
    yaml.preserve_quotes = True
    yaml.width = 4096
    yaml.indent(mapping=2, sequence=4, offset=2)
    return yaml


def open_house(directory: Path) -> HouseFiles:
    """The files of a house, missing ones as empty.

    Raises
    ------
    Refused : no house.yaml, or a file that is no YAML of `word: value` lines
    """
    files = HouseFiles(directory)
    faults: list[Fault] = []
    for stem in STEMS:
        files.docs[stem] = _loaded(directory / f"{stem}.yaml", faults)
        table = next((p for p in written_as(directory, stem) if p.suffix != ".yaml"), None)
        if table is not None and not files.docs[stem]:
            files.tables[stem] = table
            node, found = read_house_table(table, stem)
            faults += found
            files.docs[stem] = _commented(node.plain()) if node is not None else CommentedMap()
    if not faults and not files.docs["house"]:
        wrong, right = "there is no house here yet", f"begin one: ordering new {directory.as_posix()}"
        faults.append(Fault((directory / "house.yaml").as_posix(), 0, "", wrong, right, "no-house"))
    if faults:
        raise Refused(faults)
    return files


def _loaded(path: Path, faults: list[Fault]) -> CommentedMap:
    if not path.exists():
        return CommentedMap()
    text = read_text(path, MAX_YAML_BYTES)
    if isinstance(text, Fault):
        faults.append(text)
        return CommentedMap()
    _, found = parse_yaml(text, path.as_posix())
    faults += found
    try:
        loaded = None if found else _yaml().load(text)
    except YAMLError:
        loaded = "unreadable"
    if loaded is not None and not isinstance(loaded, CommentedMap):
        right = "write an id, a colon, its lines"
        faults.append(
            Fault(path.as_posix(), 1, "", "lines of 'word: value' are expected", right, "wrong-shape")
        )
    if isinstance(loaded, CommentedMap):
        return loaded
    empty = CommentedMap()
    remarks = [line.lstrip("# ") for line in text.splitlines() if line.startswith("#")]
    if remarks:
        empty.yaml_set_start_comment("\n".join(remarks))
    return empty


def _commented(plain: Any) -> Any:
    """What a table says, as the library holds it."""
    if isinstance(plain, dict):
        return CommentedMap({key: _commented(value) for key, value in plain.items()})
    return CommentedSeq(map(_commented, plain)) if isinstance(plain, list) else plain


def _kept_in_a_table(path: Path) -> Fault:
    wrong = "kept as a table, which import reads and does not write"
    right = f"--dry-run says what is new: write it there, or keep {path.stem}.yaml instead"
    return Fault(path.as_posix(), 0, "", wrong, right, "kept-in-table")


def marked(entry: CommentedMap, key: str, why: str) -> None:
    """Mark a value as a guess, for `check` to count until somebody takes the mark out."""
    entry.yaml_add_eol_comment(f"{MARK}{why}", key, column=0)


def marked_item(items: CommentedSeq, n: int, why: str) -> None:
    """Mark an entry of a list as a guess."""
    items.yaml_add_eol_comment(f"{MARK}{why}", n, column=0)


def _share_marks(entries: CommentedMap) -> None:
    """Leave one mark where entries have the same value for the same reason: the first names the others."""
    first: dict[tuple[str, ...], CommentToken] = {}
    for key, entry in entries.items():
        for word in _SHARED if isinstance(entry, CommentedMap) else ():
            remark = (entry.ca.items.get(word) or [None] * 3)[2]
            if remark is None or not remark.value.startswith(f"# {MARK}"):
                continue
            said, _, rest = remark.value.partition("\n")
            why, _, others = said.partition(_ALSO)
            values = (str(entry[word]), str(entry.get("keeps")) if word == "store" else "")
            kept = first.setdefault((word, why, *values), remark)
            if kept is not remark and not rest.strip():  # a remark of the house's own may follow
                said, end, after = kept.value.partition("\n")
                named = f"{said}{', ' if _ALSO in said else _ALSO}{key}{', ' if others else ''}{others}"
                kept.value = f"{named}{end}{after}"
                entry.ca.items.pop(word)


def flow(**values: Any) -> CommentedMap:
    """A mapping in one line, without the empty values."""
    made = CommentedMap({key: value for key, value in values.items() if value not in ("", None)})
    made.fa.set_flow_style()
    return made


def block(**values: Any) -> CommentedMap:
    """A mapping over several lines, without the empty values."""
    return CommentedMap({key: value for key, value in values.items() if value not in ("", None)})


def number(text: str) -> Any:
    """A number that is written as it stands: 31.20 keeps its zero."""
    loaded = _yaml().load(text)
    return loaded if isinstance(loaded, (int, ScalarFloat)) else text


def offers_of(ingredients: CommentedMap) -> Iterator[tuple[str, int, CommentedMap]]:
    """(ingredient, number, offer) of every offer."""
    for key, entry in ingredients.items():
        if isinstance(entry, CommentedMap):
            offers = entry.get("offers")
            offers = [offers] if isinstance(offers, CommentedMap) else offers or []
            for n, offer in enumerate(offers):
                if isinstance(offer, CommentedMap):
                    yield key, n, offer
