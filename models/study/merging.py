"""Two people's edits of one document brought together, section by section."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from models.errors import SectionConflict
from models.study.canonical import same
from models.study.changes import describe_changes
from models.study.sections import ORDER, candidate_key, join_sections, split_sections


@dataclass(frozen=True)
class Merge:
    """What became of two edits of the same document."""

    document: dict[str, Any]
    """Both edits together; a section in conflict keeps the other person's value."""
    conflicts: list[SectionConflict] = field(default_factory=list)
    taken_over: tuple[str, ...] = ()
    """Sections that only the other person changed, now in the document."""


def merge_documents(
    base: Mapping[str, Any], mine: Mapping[str, Any], theirs: Mapping[str, Any]
) -> Merge:
    """Merge two documents that both grew from a third.

    A section changed by one of the two is taken from there; changed by both to the same value it
    is taken once; changed by both to different values it is a conflict. Taking a candidate out
    while the other person edits it is a conflict. In the order of the candidates, what was added
    or taken out is no change of order.

    >>> merge_documents({"name": "A", "notes": "x"}, {"name": "B", "notes": "x"},
    ...                 {"name": "A", "notes": "y"}).document
    {'name': 'B', 'notes': 'y'}
    """
    before, my, their = split_sections(base), split_sections(mine), split_sections(theirs)
    merged: dict[str, Any] = {}
    conflicts: list[SectionConflict] = []
    taken_over: list[str] = []
    names = [name for name in dict.fromkeys([*their, *my, *before]) if name != ORDER]
    for name in names:
        choice = _choose(before, my, their, name)
        if choice == "conflict":
            words = _both_in_words(base, mine, theirs, name)
            conflicts.append(
                SectionConflict(name, before.get(name), my.get(name), their.get(name), words)
            )
        elif choice == "theirs" and not _alike(before, their, name):
            taken_over.append(name)
        source = my if choice == "mine" else their
        if name in source:
            merged[name] = source[name]
    order = _merge_order(before.get(ORDER), my.get(ORDER), their.get(ORDER))
    if order is None:
        words = _both_in_words(base, mine, theirs, ORDER)
        conflicts.append(
            SectionConflict(ORDER, before.get(ORDER), my.get(ORDER), their.get(ORDER), words)
        )
        order = their.get(ORDER, [])
    if ORDER in my or ORDER in their:
        merged[ORDER] = order
    return Merge(join_sections(merged), conflicts, tuple(taken_over))


def _alike(one: Mapping[str, Any], other: Mapping[str, Any], name: str) -> bool:
    if (name in one) != (name in other):
        return False
    return name not in one or same(one[name], other[name])


def _choose(
    before: Mapping[str, Any], my: Mapping[str, Any], their: Mapping[str, Any], name: str
) -> str:
    if _alike(my, before, name) or _alike(my, their, name):
        return "theirs"
    return "mine" if _alike(their, before, name) else "conflict"


def _merge_order(
    before: Sequence[str] | None, my: Sequence[str] | None, their: Sequence[str] | None
) -> list[str] | None:
    """One order out of two; None where both moved candidates, each in another way."""
    base, mine, other = list(before or ()), list(my or ()), list(their or ())
    kept = set(base) & set(mine) & set(other)

    def only_kept(order: list[str]) -> list[str]:
        return [key for key in order if key in kept]

    i_moved = only_kept(mine) != only_kept(base)
    they_moved = only_kept(other) != only_kept(base)
    if i_moved and they_moved and only_kept(mine) != only_kept(other):
        return None
    leading, following = (mine, other) if i_moved else (other, mine)
    gone = set(base) - kept
    order = [key for key in leading if key not in gone]
    for position, key in enumerate(following):
        if key in gone or key in order:
            continue
        neighbour = next((k for k in reversed(following[:position]) if k in order), None)
        order.insert(0 if neighbour is None else order.index(neighbour) + 1, key)
    return order


def _both_in_words(
    base: Mapping[str, Any], mine: Mapping[str, Any], theirs: Mapping[str, Any], section: str
) -> list[str]:
    words: list[str] = []
    for who, document in (("Yours", mine), ("Theirs", theirs)):
        changes = [c.words for c in describe_changes(base, document) if c.section == section]
        if not changes and candidate_key(section) is not None:
            changes = ["not changed"]
        words.extend(f"{who}: {change}" for change in changes)
    return words
