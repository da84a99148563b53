"""Poses as a form shows them: rows of moved parts, told by the part's row, not by its name.

So a part that is renamed keeps its offsets, and one that is taken out loses them.
"""

from __future__ import annotations

import copy
from typing import Any

from models.errors import Fault
from webapp.forms import Typed


def with_moves(robot: dict[str, Any]) -> dict[str, Any]:
    """Return a copy of the robot's section with each pose's offsets as rows.

    >>> pose = {"name": "up", "offsets": {"lift": [0, 0, 1]}}
    >>> robot = {"parts": [{"name": "lift"}], "poses": [pose]}
    >>> with_moves(robot)["poses"]
    [{'name': 'up', 'moves': [{'part': '0', 'by': [0, 0, 1]}]}]
    """
    shown = copy.deepcopy(robot)
    rows = {str(part.get("name")): str(i) for i, part in enumerate(shown.get("parts") or [])}
    for pose in shown.get("poses") or []:
        if "offsets" in pose:
            offsets = pose.pop("offsets")
            pose["moves"] = [{"part": rows.get(name, ""), "by": by} for name, by in offsets.items()]
    return shown


def with_offsets(
    robot: dict[str, Any], names: dict[str, str]
) -> tuple[dict[str, Any], list[Fault]]:
    """Return a copy of the robot as a study keeps it, and what is wrong with its moved parts.

    `names` gives the name of the part in each row of the form. An empty box counts as 0.
    """
    kept = copy.deepcopy(robot)
    faults: list[Fault] = []
    for index, pose in enumerate(kept.get("poses") or []):
        place = f"robot.poses[{index}].moves"
        if "moves" not in pose:
            continue
        offsets: dict[str, Any] = {}
        pose["offsets"] = offsets
        for row, move in enumerate(pose.pop("moves")):
            by = [0 if step == "" else step for step in move.get("by") or []] or [0, 0, 0]
            if "part" not in move:
                if any(step != 0 for step in by):
                    faults.append(Fault(f"{place}[{row}].part", "Say which part is moved."))
                continue
            name = names.get(move["part"])
            if name in offsets:
                words = f"“{name}” is moved twice in this pose; keep one row."
                faults.append(Fault(f"{place}[{row}].part", words))
            elif name is not None:
                offsets[name] = by
    return kept, faults


def names_of_rows(typed: Typed) -> dict[str, str]:
    """Return the name typed in each row of the robot's parts, by the row's number in the form."""
    parts = typed.at(("robot", "parts"))
    rows = parts.children if parts is not None else {}
    return {str(row): part.children["name"].text() or "" for row, part in rows.items()
            if "name" in part.children}  # fmt: skip


def renumbered(robot: dict[str, Any], typed: Typed) -> dict[str, Any]:
    """Return the robot with moved parts told by the rows that its parts will now stand in.

    The moves of a part that was taken out go with it.
    """
    parts = typed.at(("robot", "parts"))
    rows = sorted(row for row in parts.children if isinstance(row, int)) if parts else []
    new = {str(row): str(place) for place, row in enumerate(rows)}
    shown = copy.deepcopy(robot)
    for pose in shown.get("poses") or []:
        moves = pose.get("moves") or []
        if moves:
            pose["moves"] = [one for one in moves if one.get("part", "") in {"", *new}]
        for move in pose.get("moves") or []:
            if move.get("part"):
                move["part"] = new[move["part"]]
    return shown


def with_renamed_poses(
    robot: dict[str, Any], before: dict[str, Any], typed: Typed
) -> dict[str, Any]:
    """Return the robot with the keep-outs of a renamed pose following its new name."""
    rows = typed.at(("robot", "poses"))
    old_poses = before.get("poses") or []
    renamed: dict[str, str] = {}
    for row in rows.children.values() if rows is not None else ():
        was, name = row.text("was") or "", row.children.get("name")
        if was.isdigit() and int(was) < len(old_poses) and name is not None:
            renamed[str(old_poses[int(was)].get("name"))] = name.text() or ""
    if all(old == new for old, new in renamed.items()):
        return robot
    changed = copy.deepcopy(robot)
    for keepout in changed.get("keepouts") or []:
        if keepout.get("poses"):
            keepout["poses"] = [renamed.get(name) or name for name in keepout["poses"]]
    return changed


def place_in_form(place: str, robot: dict[str, Any], names: dict[str, str]) -> str:
    """Return a place of the study as the form has it: offsets stand in the rows of moved parts.

    >>> robot = {"poses": [{"name": "up", "moves": [{"part": "0", "by": [0, 0, ""]}]}]}
    >>> place_in_form("robot.poses[0].offsets.lift[2]", robot, {"0": "lift"})
    'robot.poses[0].moves[0].by[2]'
    """
    for index, pose in enumerate(robot.get("poses") or []):
        for row, move in enumerate(pose.get("moves") or []):
            own = f"robot.poses[{index}].offsets.{names.get(move.get('part', ''), '')}"
            if place == own or place.startswith(f"{own}["):
                return f"robot.poses[{index}].moves[{row}].by{place[len(own) :]}"
    return place
