"""`group.yaml` read: the houses of a group and where each of them keeps its files."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from pydantic import BeforeValidator, Field

from ordering.faults import Fault, Refused, nearest
from ordering.read.field_types import Id, Many, Mapped, Text
from ordering.read.layers import TAKEN_OUT
from ordering.read.nodes import Node, read_yaml
from ordering.read.shape import place_at, shaped
from ordering.read.yaml_schema import YamlPart
from ordering.records.group import Group, Member


class MemberIn(YamlPart):
    """A house of the group, and where its files are."""

    config: Text
    books: Text
    runs: Text


def _in_lists(value: object) -> object:
    """One van written as a plain list of houses stands for a list of one van."""
    return [value] if isinstance(value, list) and value and not isinstance(value[0], list) else value


class GroupIn(YamlPart):
    """`group.yaml`."""

    name: Text
    houses: Mapped[Id, MemberIn]
    shared: Text = ""
    central: Id | None = None
    vans: Annotated[Many[Many[Id]], BeforeValidator(_in_lists)] = Field(default_factory=list)


def read_group(path: Path) -> Group:
    """The group that a file describes; its paths are seen from the folder the file is in.

    Raises
    ------
    Refused : with every fault of the file
    """
    node, faults = read_yaml(path)
    if node is None:
        wrong, right = "this file is missing or empty", "write a name and houses"
        raise Refused(faults or [Fault(path.as_posix(), 0, "", wrong, right, "no-group")])
    written, found = shaped(GroupIn, node, "")
    faults += found
    if written is None:
        raise Refused(faults)
    home = path.parent
    members = {
        key: Member(key, home / one.config, home / one.books, home / one.runs)
        for key, one in sorted(written.houses.items())
    }
    faults += _faults_between(written, members, node)
    if faults:
        raise Refused(faults)
    return Group(
        name=written.name,
        members=members,
        shared=home / written.shared if written.shared else None,
        central=written.central or "",
        vans=tuple(frozenset(van) for van in written.vans),
    )


def suppliers_of(member: Member, shared: Path | None) -> frozenset[str]:
    """The houses that a house buys from: `house` of its vendors. Nothing where its file cannot be read."""
    found: dict[str, str] = {}
    for folder in (shared, member.config):
        root = (
            read_yaml(folder / "vendors.yaml")[0] if folder and (folder / "vendors.yaml").is_file() else None
        )
        for vendor, node in ((root.keys if root else None) or {}).items():
            if node.text == TAKEN_OUT:
                found.pop(vendor, None)
            elif (house := (node.keys or {}).get("house")) is not None and house.text:
                found[vendor] = house.text
    return frozenset(found.values())


def _faults_between(written: GroupIn, members: dict[str, Member], node: Node) -> list[Fault]:
    """Houses that share what each must have for itself, and words that name no house."""
    faults = []
    owners: dict[tuple[str, Path], str] = {}
    for key, member in members.items():
        for part in ("books", "runs"):
            where = getattr(member, part).resolve()
            other = owners.setdefault((part, where), key)
            if other != key:
                at = place_at(node, ("houses", key, part))
                wrong = f"'{part}' is the folder of {other} too"
                right = "give each house a folder of its own"
                faults.append(Fault(at.path, at.line, key, wrong, right, "equal-folders"))
    named = [("central", written.central)] if written.central else []
    named += [("vans", house) for van in written.vans for house in van]
    for word, house in named:
        if house not in members:
            at = place_at(node, (word,))
            right = nearest(house, members) or f"the houses are {', '.join(list(members)[:12])}"
            faults.append(
                Fault(at.path, at.line, word, f"'{house}' is no house of the group", right, "no-house")
            )
    if not members:
        at = place_at(node, ("houses",))
        right = "write harbour: {config: harbour/config, books: harbour/books, runs: harbour/runs}"
        faults.append(Fault(at.path, at.line, "houses", "the group has no houses", right, "no-house"))
    return faults
