"""What was typed on the page of a candidate's tasks: as the form shows it and as edits."""

from __future__ import annotations

import copy
import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from models.errors import Fault
from models.services import StudyState
from models.study.sections import candidate_section
from models.units import quoted
from webapp.forms import MISSING, Typed, rebuild, split_name
from webapp.pages.schedule.rows import (
    is_nothing,
    key_from,
    moved_row,
    new_places,
    row_numbers,
    swapped,
)
from webapp.shared.editing import Posted, take_out_row

PLACE = "candidates[]"
LISTS = ("tasks", "purchases")
UNSAID = ("key", "kind", "crew", "quantity", "in_stock", "spares")
"""What a row may say before anything is typed in it."""
MARK = {"value", "source"}
"""What an hour holds that is only marked as common practice."""


def document_of(state: StudyState, key: str) -> dict[str, Any]:
    """Return a candidate as it is stored."""
    found: dict[str, Any] = next(one for one in state.document["candidates"] if one["key"] == key)
    return found


def position_of(state: StudyState, key: str) -> int:
    """Return where a candidate stands in the study."""
    return [candidate["key"] for candidate in state.document["candidates"]].index(key)


def with_rows(candidate: dict[str, Any]) -> dict[str, Any]:
    """Return a copy of a candidate whose tasks name what they wait for by its row.

    >>> tasks = [{"key": "a"}, {"key": "b", "after": ["a"], "needs": ["tube"]}]
    >>> with_rows({"tasks": tasks, "purchases": [{"name": "tube"}]})["tasks"][1]
    {'key': 'b', 'after_rows': [0], 'needs_rows': [0]}
    """
    shown = copy.deepcopy(candidate)
    tasks, purchases = shown.get("tasks") or [], shown.get("purchases") or []
    rows = {str(task.get("key")): row for row, task in enumerate(tasks)}
    bought = {str(one.get("name")): row for row, one in enumerate(purchases)}
    for task in tasks:
        for name, places in (("after", rows), ("needs", bought)):
            listed = task.pop(name, None)
            if listed:
                task[f"{name}_rows"] = sorted(places[one] for one in listed if one in places)
    return shown


class TasksForm:
    """The typed tasks and purchases of one candidate."""

    def __init__(self, posted: Posted, key: str) -> None:
        self.key = key
        self.base = document_of(posted.base, key)
        self.numbers: dict[str, str] = {}
        """Numbers of rows as they were typed, by the name of their box."""
        self.faults: list[Fault] = []
        self._drop_empty_rows(posted)
        self._read_numbers(posted)
        take_out_row(posted)
        places = {name: new_places(posted.typed.children.get(name)) for name in LISTS}
        moved = moved_row(posted)
        if moved is not None and moved[0] in places:
            places[moved[0]] = swapped(places[moved[0]], *moved[1:])
        typed = rebuild(posted.typed, with_rows(self.base), PLACE, posted.system)
        self.values: dict[str, Any] = {} if typed is MISSING else typed
        self._renumber(places)
        self._tidy()
        self.moved = moved

    @property
    def edits(self) -> dict[str, Any]:
        """The candidate as a study keeps it, as the one section that the form edits."""
        kept = copy.deepcopy(self.values)
        tasks, purchases = kept.get("tasks") or [], kept.get("purchases") or []
        keys = _keys(tasks)
        names = [str(one.get("name") or "") for one in purchases]
        for task, key in zip(tasks, keys, strict=True):
            stored = self._stored_task(key)
            _keep(task, "after", keys, stored)
            _keep(task, "needs", names, stored)
            ordered = {"key": key, **{name: value for name, value in task.items() if name != "key"}}
            task.clear()
            task.update(ordered)
        for name in LISTS:
            if name not in kept:
                continue
            kept[name] = [row for row in kept[name] if not _is_open(row)]
            if not kept[name] and name not in self.base:
                del kept[name]
        return {candidate_section(self.key): kept}

    def in_form(self, faults: Sequence[Fault], position: int) -> list[Fault]:
        """Return faults of the study with the places and the words that the form has for them."""
        return [self._in_form(fault, f"candidates[{position}].") for fault in faults]

    def _in_form(self, fault: Fault, stem: str) -> Fault:
        for name in ("after", "needs"):
            before, found, _ = fault.place.partition(f".{name}[")
            if found and before.startswith(f"{stem}tasks["):
                return replace(fault, place=f"{before}.{name}_rows")
        if fault.place == f"{stem}tasks" and fault.limit == "no loop":
            return self._loop_in_form(fault, stem)
        return fault

    def _loop_in_form(self, fault: Fault, stem: str) -> Fault:
        """Name the tasks of a loop by their names and put the fault beside the first of them."""
        tasks = self.values.get("tasks") or []
        keys = _keys(tasks)
        names = {key: str(task.get("name") or key) for key, task in zip(keys, tasks, strict=True)}
        ring = [key for key in str(fault.given).split(" → ") if key in names]
        if not ring:
            return fault
        chain = " → ".join(names[key] for key in ring)
        crews = {str(tasks[keys.index(key)].get("crew")) for key in ring}
        one_crew = f" {crews.pop()} takes its tasks in the listed order." if len(crews) == 1 else ""
        words = (
            f"These tasks wait for each other in a ring: {chain}.{one_crew} Untick one “after”, "
            "or move a task up or down."
        )
        row = keys.index(ring[0])
        return replace(fault, place=f"{stem}tasks[{row}].after_rows", message=words)

    def _read_numbers(self, posted: Posted) -> None:
        """Take row numbers typed as text for the ticks of those rows."""
        table = posted.typed.children.get("tasks")
        position = position_of(posted.base, self.key)
        for place, row in enumerate(row_numbers(table)):
            for name, other in (("after_rows", "tasks"), ("needs_rows", "purchases")):
                box = table.children[row].children.get(name) if table is not None else None
                text = box.text("numbers") if box is not None else None
                if box is None or text is None:
                    continue
                known = row_numbers(posted.typed.children.get(other))
                said = [int(word) for word in re.findall(r"[0-9]{1,4}", text)]
                box.texts[""] = [str(number - 1) for number in said if number - 1 in known]
                odd = re.sub(r"[0-9]{1,4}|[\s,;]|and", "", text)
                if odd or len(box.texts[""]) != len(said):
                    self.numbers[f"tasks.{place}.{name}"] = text
                    words = f"{quoted(text)} names no row; type numbers of {other}, such as 1, 3."
                    fault = Fault(
                        f"candidates[{position}].tasks[{place}].{name}", words, given=text
                    )
                    self.faults.append(fault)

    def _stored_task(self, key: str) -> dict[str, Any]:
        tasks = self.base.get("tasks") or []
        return next((one for one in tasks if one.get("key") == key), {})

    def _drop_empty_rows(self, posted: Posted) -> None:
        """Take out rows in which nothing was typed, unless a button asks for one to stay."""
        if posted.changes_form:
            return
        for name in LISTS:
            table = posted.typed.children.get(name)
            for row in row_numbers(table):
                if table is not None and _says_nothing(table.children[row]):
                    del table.children[row]

    def _renumber(self, places: dict[str, dict[int, int]]) -> None:
        for task in self.values.get("tasks") or []:
            for name, table in (("after_rows", "tasks"), ("needs_rows", "purchases")):
                if name in task:
                    kept = [places[table][row] for row in task[name] if row in places[table]]
                    task[name] = sorted(kept)

    def _tidy(self) -> None:
        """Drop what the form says of everything and the study only of some."""
        for task in self.values.get("tasks") or []:
            stored = self._stored_task(str(task.get("key")))
            if task.get("kind") == "work" and "kind" not in stored:
                del task["kind"]
            if isinstance(task.get("hours"), list):
                task["hours"] = _remarked(task["hours"], stored.get("hours"))
        for purchase in self.values.get("purchases") or []:
            if "express" in purchase and is_nothing(purchase["express"]):
                del purchase["express"]


def _is_open(row: dict[str, Any]) -> bool:
    """Return whether a row was only added and nothing is typed in it yet."""
    said = {name: value for name, value in row.items() if name not in UNSAID}
    return is_nothing(said)


def _keys(tasks: Sequence[dict[str, Any]]) -> list[str]:
    """Return each task's key: its own, or one made from its name."""
    keys: list[str] = []
    own = {str(task["key"]) for task in tasks if task.get("key")}
    for task in tasks:
        key = str(task.get("key") or key_from(str(task.get("name") or ""), {*own, *keys}))
        keys.append(key)
    return keys


def _keep(task: dict[str, Any], name: str, known: Sequence[str], stored: dict[str, Any]) -> None:
    """Put names in place of row numbers, in the stored order where they are the same ones."""
    rows = task.pop(f"{name}_rows", None)
    chosen = [known[row] for row in rows or () if row < len(known)]
    before = stored.get(name)
    if before is not None and sorted(before) == sorted(chosen):
        task[name] = before
    elif chosen:
        task[name] = chosen


def _remarked(hours: list[Any], stored: Any) -> list[Any]:
    """Return hours of which a changed one is the team's own and no practice any more."""
    before = stored if isinstance(stored, list) else []
    own = []
    for place, value in enumerate(hours):
        marked = isinstance(value, dict) and value.get("source") == "practice"
        same = place < len(before) and before[place] == value
        plain = marked and not same and "value" in value and set(value) <= MARK
        own.append(value["value"] if plain else value)
    return own


def _says_nothing(row: Typed) -> bool:
    """Return whether neither name nor figures nor ticks were typed in a row."""
    said = [
        text.strip()
        for name, child in row.children.items()
        if name not in UNSAID
        for text in _all_texts(child)
    ]
    return not any(said)


def _all_texts(typed: Typed) -> list[str]:
    own = [text for about, posted in typed.texts.items() if about != "was" for text in posted]
    return [*own, *(text for child in typed.children.values() for text in _all_texts(child))]


def added_row(posted: Posted, values: dict[str, Any]) -> str:
    """Add the row whose button was pressed; return the field to go to next."""
    action, name, _ = posted.row
    if action != "add" or name not in LISTS:
        return ""
    rows = values.setdefault(name, [])
    rows.append({})
    return f"{name}.{len(rows) - 1}.name"


def focus_after(posted: Posted, values: dict[str, Any], form: TasksForm) -> str:
    """Change the values as the pressed button asks; return the field or button to go to next."""
    action, name, _ = posted.row
    if action == "remove":
        return f"button:add:{name.partition('.')[0]}"
    if form.moved is not None:
        table, one, other = form.moved
        place = new_places(posted.typed.children.get(table))
        went_to = place[other] if split_name(name)[0][-1] == one else place[one]
        return f"button:{action}:{table}.{went_to}"
    return added_row(posted, values)
