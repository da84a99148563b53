"""What was typed on the page of the calendar: as the form shows it and as edits of the study.

Crews stand in rows, so that one that is renamed takes its tasks along, in every candidate; the
tasks of a gate are ticks by their keys.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from models.errors import Fault
from models.study.sections import candidate_section, split_sections
from models.units import quoted
from webapp.forms import MISSING, Typed, drop_blank_rows, rebuild, split_name
from webapp.pages.schedule.rows import row_numbers, texts_of
from webapp.shared.editing import Posted, take_out_row

SECTION = "schedule"
LISTS = ("meetings", "extra", "days_off", "gates", "crew_rows")
FIRST_BOX = {"meetings": ".weekday", "extra": ".date", "days_off": "", "gates": ".name",
             "crew_rows": ".name"}  # fmt: skip


def with_rows(schedule: dict[str, Any]) -> dict[str, Any]:
    """Return a copy of the calendar with its crews as rows.

    >>> with_rows({"crews": {"code": 1}})
    {'crew_rows': [{'name': 'code', 'hands': 1}]}
    """
    shown = copy.deepcopy(schedule)
    crews = shown.pop("crews", None)
    if crews is not None:
        shown["crew_rows"] = [{"name": name, "hands": hands} for name, hands in crews.items()]
    return shown


class CalendarForm:
    """The typed calendar."""

    def __init__(self, posted: Posted) -> None:
        self.document = posted.base.document
        self.base: dict[str, Any] = self.document.get(SECTION) or {}
        if not posted.changes_form:
            drop_blank_rows(posted.typed)
        take_out_row(posted)
        typed = posted.typed.at((SECTION,)) or Typed()
        ticks = _taken_ticks(typed)
        self.renamed = self._renamed_crews(typed)
        value = rebuild(typed, with_rows(self.base), SECTION, posted.system)
        self.schedule: dict[str, Any] = {} if value is MISSING else value
        for gate, tasks in zip(self.schedule.get("gates") or [], ticks, strict=False):
            self._tick(gate, tasks)
        self.faults = self._crew_faults()

    @property
    def values(self) -> dict[str, Any]:
        """The calendar as the form shows it."""
        return {SECTION: self.schedule}

    @property
    def edits(self) -> dict[str, Any]:
        """The calendar as a study keeps it, with the candidates whose crews were renamed."""
        kept = copy.deepcopy(self.schedule)
        rows = kept.pop("crew_rows", None)
        if rows or "crews" in self.base:
            kept["crews"] = {str(row.get("name") or ""): row.get("hands", "") for row in rows or []}
        for name in ("meetings", "extra", "days_off", "gates"):
            if not kept.get(name) and name not in self.base:
                kept.pop(name, None)
        edits: dict[str, Any] = {SECTION: kept}
        sections = split_sections(self.document)
        for candidate in self.document["candidates"]:
            tasks = candidate.get("tasks") or []
            if any(task.get("crew") in self.renamed for task in tasks):
                section = candidate_section(candidate["key"])
                edits[section] = {**sections[section], "tasks": [self._in_crew(t) for t in tasks]}
        return edits

    def in_form(self, faults: Sequence[Fault]) -> list[Fault]:
        """Return faults of the study with the places and the words that the form has for them."""
        return [self._in_form(fault) for fault in faults]

    def _in_crew(self, task: dict[str, Any]) -> dict[str, Any]:
        crew = str(task.get("crew"))
        return {**task, "crew": self.renamed.get(crew, crew)}

    def _renamed_crews(self, typed: Typed) -> dict[str, str]:
        """Return the new name of each crew whose row was kept and named otherwise."""
        names = list(self.base.get("crews") or {})
        rows = typed.children.get("crew_rows")
        renamed: dict[str, str] = {}
        for row in row_numbers(rows):
            child = rows.children[row] if rows is not None else Typed()
            was, new = child.text("was") or "", "".join(texts_of(child, "name")).strip()
            old = names[int(was)] if was.isdigit() and int(was) < len(names) else ""
            if old and new and new != old:
                renamed[old] = new
        return renamed

    def _tick(self, gate: dict[str, Any], keys: list[str] | None) -> None:
        if keys is None:
            return
        stored = gate.get("tasks") or []
        known = {
            str(task.get("key"))
            for candidate in self.document["candidates"]
            for task in candidate.get("tasks") or []
        }
        kept = [key for key in stored if key in keys or key not in known]
        gate["tasks"] = [*kept, *(key for key in keys if key not in kept)]

    def _crew_faults(self) -> list[Fault]:
        faults, seen = [], set()
        for row, crew in enumerate(self.schedule.get("crew_rows") or []):
            name = str(crew.get("name") or "")
            place = f"{SECTION}.crew_rows[{row}]"
            if not name:
                faults.append(Fault(f"{place}.name", "Name the crew, or take its row out."))
            elif name in seen:
                words = f"There is another crew {quoted(name)}; give each a name of its own."
                faults.append(Fault(f"{place}.name", words, given=name))
            if crew.get("hands", "") == "":
                words = "Say how many tasks the crew can work on at once."
                faults.append(Fault(f"{place}.hands", words, limit="1 to 100"))
            seen.add(name)
        return faults

    def _in_form(self, fault: Fault) -> Fault:
        rows = self.schedule.get("crew_rows") or []
        for row, crew in enumerate(rows):
            for written in (f"{SECTION}.crews.{crew.get('name')}",
                            f'{SECTION}.crews["{crew.get("name")}"]'):  # fmt: skip
                if fault.place == written:
                    return replace(fault, place=f"{SECTION}.crew_rows[{row}].hands")
        if fault.place.startswith("candidates[") and fault.place.endswith(".crew"):
            return self._crew_gone(fault)
        return fault

    def _crew_gone(self, fault: Fault) -> Fault:
        """Say of a task whose crew was taken out which candidate it is in."""
        candidate, task = split_name(fault.place.replace("[", ".").replace("]", ""))[0][1:4:2]
        try:
            owner = self.document["candidates"][candidate]
            words = (
                f"“{owner['tasks'][task]['name']}” of {owner['name']} is work for "
                f"{quoted(str(fault.given))}. Keep that crew, or give its tasks to another first."
            )
        except (KeyError, IndexError, TypeError):
            return fault
        return replace(fault, place=f"{SECTION}.crew_rows", message=words)


def _taken_ticks(typed: Typed) -> list[list[str] | None]:
    """Take the ticks of each gate out of what was typed; None where the form had none."""
    gates = typed.children.get("gates")
    ticks: list[list[str] | None] = []
    for row in row_numbers(gates):
        gate = gates.children[row] if gates is not None else Typed()
        posted = "tasks" in gate.children
        ticks.append(texts_of(gate, "tasks") if posted else None)
        gate.children.pop("tasks", None)
    return ticks


def focus_after(posted: Posted, form: CalendarForm) -> str:
    """Change the form as the pressed button asks; return the field or button to go to next."""
    action, name, _ = posted.row
    table = name.removeprefix(f"{SECTION}.").partition(".")[0]
    if table not in LISTS:
        return ""
    if action == "add":
        rows = form.schedule.setdefault(table, [])
        rows.append("" if table == "days_off" else {})
        return f"{SECTION}.{table}.{len(rows) - 1}{FIRST_BOX[table]}"
    if action == "remove":
        return f"button:add:{SECTION}.{table}"
    return ""
