"""Lists of tasks to start from, put into a candidate; and a candidate that keeps another's base.

Contents: `with_template`, `template_edits`, `alternative_edits`.
"""

from __future__ import annotations

import copy
from collections.abc import Collection, Mapping
from typing import Any

from models.study.sections import ORDER, candidate_section, split_sections

LONGEST_KEY = 40
ALTERNATIVE_KEY = "other-use"
ALTERNATIVE_NAME = "Same base, the hours spent elsewhere"


def with_template(candidate: Mapping[str, Any], template: Mapping[str, Any]) -> dict[str, Any]:
    """Return a candidate's document with a template's tasks and purchases behind its own.

    A task whose key is taken gets the next free one; what it follows is told by the new keys. A
    purchase that the candidate has already stays as it is.

    >>> task = {"key": "wire", "name": "Wire", "crew": "code", "hours": [1, 2, 3]}
    >>> both = with_template({"tasks": [task]}, {"tasks": [{**task, "after": []}], "purchases": []})
    >>> [one["key"] for one in both["tasks"]]
    ['wire', 'wire-2']
    """
    tasks = list(candidate.get("tasks") or [])
    purchases = list(candidate.get("purchases") or [])
    keys = {str(task.get("key")) for task in tasks}
    renamed: dict[str, str] = {}
    for task in template["tasks"]:
        renamed[task["key"]] = _free(task["key"], {*keys, *renamed.values()})
    for task in template["tasks"]:
        own = copy.deepcopy(dict(task))
        own["key"] = renamed[task["key"]]
        if "after" in own:
            own["after"] = [renamed[key] for key in own["after"]]
        tasks.append(own)
    bought = {one.get("name") for one in purchases}
    purchases += [copy.deepcopy(one) for one in template["purchases"] if one["name"] not in bought]
    return {**candidate, "tasks": tasks, "purchases": purchases}


def template_edits(
    document: Mapping[str, Any], key: str, template: Mapping[str, Any]
) -> dict[str, Any]:
    """Return the sections that change where a template is put into a candidate.

    A calendar that names its crews gets those of the template that it lacks, one pair of hands
    each.
    """
    sections = split_sections(document)
    name = candidate_section(key)
    edits = {name: with_template(sections[name], template)}
    schedule = sections.get("schedule")
    crews = schedule.get("crews") if schedule else None
    missing = {task["crew"] for task in template["tasks"]} - set(crews or ())
    if schedule and crews and missing:
        listed = dict.fromkeys(task["crew"] for task in template["tasks"])
        more = {crew: 1 for crew in listed if crew in missing}
        edits["schedule"] = {**schedule, "crews": {**crews, **more}}
    return edits


def alternative_edits(document: Mapping[str, Any], baseline: str) -> dict[str, Any]:
    """Return the sections that add a candidate which keeps the baseline's base, as the last."""
    sections = split_sections(document)
    order = list(sections[ORDER])
    key = _free(ALTERNATIVE_KEY, order)
    names = {str(sections[candidate_section(one)].get("name")) for one in order}
    name, number = ALTERNATIVE_NAME, 2
    while name in names:
        name, number = f"{ALTERNATIVE_NAME} ({number})", number + 1
    candidate = {"key": key, "name": name, "same_base_as": baseline}
    return {candidate_section(key): candidate, ORDER: [*order, key]}


def _free(stem: str, taken: Collection[str]) -> str:
    """Return a key with the next free number behind it where it is taken."""
    key, number = stem, 2
    while key in taken:
        ending = f"-{number}"
        key, number = f"{stem[: LONGEST_KEY - len(ending)]}{ending}", number + 1
    return key
