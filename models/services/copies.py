"""Copies of a candidate: a free key and name for one, and which one a repeated request made.

Contents: `free_key`, `free_name`, `key_of_copy`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from models.services.records import SaveOutcome
from models.study.kinds import LONGEST_TEXT
from models.study.sections import ORDER, candidate_section

LONGEST_KEY = 40


def free_key(key: str, ending: str, taken: Collection[str]) -> str:
    """A key for a copy that no candidate has yet.

    >>> free_key("steered-geared", "-geared", {"steered-geared"})
    'steered-geared-2'
    """
    stem = key.partition(ending)[0][: LONGEST_KEY - len(ending) - 4] + ending
    number, new = 1, stem
    while new in taken:
        number += 1
        new = f"{stem}-{number}"
    return new


def free_name(original: Mapping[str, Any], how: str, sections: Mapping[str, Any]) -> str:
    """A name for a copy, "Steered, arranged": the original's, and how it differs.

    `how` is the words behind the comma; what stood there from an earlier copy goes.
    """
    taken = {sections[candidate_section(key)].get("name") for key in sections[ORDER]}
    verb = how.split(" ", maxsplit=1)[0]
    stem = str(original.get("name") or original["key"]).partition(f", {verb}")[0]
    number, ending = 1, f", {how}"
    while (new := stem[: LONGEST_TEXT - len(ending)] + ending) in taken:
        number += 1
        ending = f", {how} ({number})" if " " in how else f", {how} {number}"
    return new


def key_of_copy(outcome: SaveOutcome, original: str, new: str) -> str:
    """The key of the copy that a save made: the new one, or the first time's if sent again.

    A copy stands right behind its original.
    """
    keys = [candidate.key for candidate in outcome.state.study.candidates]
    return new if new in keys else keys[keys.index(original) + 1]
