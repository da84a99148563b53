"""A document cut into the sections that people edit apart, and put together again.

Sections: every top-level name but `robot` and `candidates`; `robot.parts`, `robot.keepouts`,
`robot.poses`, `robot.uses`; `candidates/<key>` for each candidate; `candidates/order`, the list
of their keys.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from models.errors import Fault, StudyRefusedError

ORDER = "candidates/order"
CANDIDATE = "candidates/"
ROBOT = "robot."
FILE_ORDER = (
    "format",
    "version",
    "name",
    "notes",
    "rules",
    "power",
    "yardsticks",
    "field",
    "platform",
    "motors",
    "module_types",
    "materials",
    "robot",
    "routes",
    "candidates",
    "schedule",
    "decision",
)
"""The order in which a study file lists its top-level names; others follow."""
ROBOT_SECTIONS = ("robot.parts", "robot.keepouts", "robot.poses", "robot.uses")
FIXED_SECTIONS = frozenset(
    {
        "name",
        "notes",
        "rules",
        "power",
        "yardsticks",
        "field",
        "platform",
        "motors",
        "module_types",
        "materials",
        *ROBOT_SECTIONS,
        "routes",
        "schedule",
        "decision",
        ORDER,
    }
)
"""Every section that can be edited, apart from the candidates."""


def candidate_section(key: str) -> str:
    """The name of the section that holds one candidate.

    >>> candidate_section("swerve")
    'candidates/swerve'
    """
    return CANDIDATE + key


def candidate_key(section: str) -> str | None:
    """The key of the candidate that a section holds; None for every other section.

    >>> candidate_key("candidates/swerve"), candidate_key("candidates/order")
    ('swerve', None)
    """
    if section.startswith(CANDIDATE) and section != ORDER:
        return section.removeprefix(CANDIDATE)
    return None


def split_sections(document: Mapping[str, Any]) -> dict[str, Any]:
    """Cut a document into its sections; the values are the document's own, not copies.

    Raises `StudyRefusedError` where a candidate has no key of its own to be told by.

    >>> split_sections({"name": "A", "candidates": [{"key": "b"}], "robot": {"parts": []}})
    {'name': 'A', 'robot.parts': [], 'candidates/b': {'key': 'b'}, 'candidates/order': ['b']}
    """
    sections = {name: document[name] for name in document if name not in {"robot", "candidates"}}
    robot = document.get("robot")
    if robot:
        sections.update({ROBOT + name: value for name, value in robot.items()})
    elif robot is not None:
        sections["robot"] = robot
    if "candidates" in document:
        keys: list[str] = []
        for index, candidate in enumerate(document["candidates"]):
            keys.append(_own_key(candidate, index, keys))
            sections[candidate_section(keys[-1])] = candidate
        sections[ORDER] = keys
    return sections


def join_sections(sections: Mapping[str, Any]) -> dict[str, Any]:
    """Put sections together to one document, in the order of a study file; values are copied.

    Candidates that the order does not name follow at the end; names without a candidate drop.

    >>> join_sections({"candidates/order": ["b", "gone"], "candidates/a": {"key": "a"},
    ...                "candidates/b": {"key": "b"}, "name": "A"})
    {'name': 'A', 'candidates': [{'key': 'b'}, {'key': 'a'}]}
    """
    document: dict[str, Any] = {}
    robot: dict[str, Any] = {}
    candidates: dict[str, Any] = {}
    for section, value in sections.items():
        key = candidate_key(section)
        if key is not None:
            candidates[key] = _copied(value)
        elif section.startswith(ROBOT):
            robot[section.removeprefix(ROBOT)] = _copied(value)
        elif section != ORDER:
            document[section] = _copied(value)
    if robot:
        document["robot"] = robot
    if candidates or ORDER in sections:
        named = [key for key in sections.get(ORDER, ()) if key in candidates]
        rest = [key for key in candidates if key not in named]
        document["candidates"] = [candidates[key] for key in dict.fromkeys([*named, *rest])]
    return _in_file_order(document)


def _copied(value: Any) -> Any:
    """A copy of a JSON value; several times as fast as the general deep copy."""
    if isinstance(value, dict):
        return {name: _copied(item) for name, item in value.items()}
    if isinstance(value, list):
        return [_copied(item) for item in value]
    return value


def apply_edits(document: Mapping[str, Any], edits: Mapping[str, Any]) -> dict[str, Any]:
    """The document with some sections replaced; an edit of None takes the section out.

    Raises `StudyRefusedError` for a section that no study has, an order that is no list of keys,
    or a candidate whose key is not the section's.

    >>> apply_edits({"name": "A", "notes": "x"}, {"name": "B", "notes": None})
    {'name': 'B'}
    """
    faults = [fault for section, value in edits.items() for fault in _edit_faults(section, value)]
    if faults:
        raise StudyRefusedError(faults)
    sections = split_sections(document)
    for section, value in edits.items():
        if value is None:
            sections.pop(section, None)
        elif (key := candidate_key(section)) is not None:
            sections[section] = {**value, "key": key}
        else:
            sections[section] = value
    return join_sections(sections)


def _own_key(candidate: Any, index: int, taken: list[str]) -> str:
    key = candidate.get("key") if isinstance(candidate, dict) else None
    place = f"candidates[{index}].key"
    if not isinstance(key, str) or not key:
        raise StudyRefusedError([Fault(place, "every candidate needs a key", given=key)])
    if key in taken:
        raise StudyRefusedError([Fault(place, "this key is taken already", given=key)])
    if candidate_section(key) == ORDER:
        raise StudyRefusedError(
            [Fault(place, "the key 'order' is kept for the order of the candidates", given=key)]
        )
    return key


def _edit_faults(section: str, value: Any) -> list[Fault]:
    key = candidate_key(section)
    if key is None:
        return _fixed_faults(section, value)
    if not key:
        return [Fault(section, "every candidate needs a key", given=section)]
    if value is not None and not isinstance(value, dict):
        return [Fault(section, "a candidate is an object with names and values", given=value)]
    if value is not None and value.get("key", key) != key:
        message = "a candidate keeps its key; duplicate it to have another key"
        return [Fault(f"{section}.key", message, given=value["key"], limit=key)]
    return []


def _fixed_faults(section: str, value: Any) -> list[Fault]:
    if section not in FIXED_SECTIONS:
        return [Fault(section, "a study has no such section", given=section)]
    if section == ORDER and not (
        isinstance(value, list) and all(isinstance(item, str) for item in value)
    ):
        return [Fault(section, "the order is a list of candidate keys", given=value)]
    return []


def _in_file_order(document: dict[str, Any]) -> dict[str, Any]:
    known = [name for name in FILE_ORDER if name in document]
    others = [name for name in document if name not in FILE_ORDER]
    return {name: document[name] for name in [*known, *others]}
