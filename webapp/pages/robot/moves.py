"""Poses as a form shows them: parts and poses are told by their row in the form, not by name.

So a part that is renamed keeps its offsets, and one that is taken out loses them; a pose that is
renamed keeps its keep-outs and its legs of routes. A keep-out of no pose counts in all.
"""

from __future__ import annotations

import copy
from typing import Any

from models.errors import Fault
from webapp.forms import Typed


def with_moves(robot: dict[str, Any]) -> dict[str, Any]:
    """Return a copy of the robot's section with offsets as rows and poses of keep-outs as ticks.

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
    places = {str(pose.get("name")): i for i, pose in enumerate(shown.get("poses") or [])}
    for keepout in shown.get("keepouts") or []:
        if keepout.get("poses"):
            keepout["in_poses"] = [places[name] for name in keepout["poses"] if name in places]
    return shown


def with_offsets(
    robot: dict[str, Any], names: dict[str, str], pose_names: dict[str, str]
) -> tuple[dict[str, Any], list[Fault]]:
    """Return a copy of the robot as a study keeps it, and what is wrong with its moved parts.

    `names` and `pose_names` give the name of the part and of the pose in each row of the form. An
    empty box counts as 0.
    """
    kept = copy.deepcopy(robot)
    for keepout in kept.get("keepouts") or []:
        _name_poses(keepout, pose_names)
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


def _name_poses(keepout: dict[str, Any], pose_names: dict[str, str]) -> None:
    """Put the names of the ticked poses in place of their rows; none ticked means all."""
    if "in_poses" not in keepout:
        return
    ticked = [pose_names.get(str(row), "") for row in keepout.pop("in_poses")]
    named = [name for name in ticked if name]
    if set(named) == set(keepout.get("poses") or []):
        return
    keepout.pop("poses", None)
    if named:
        keepout["poses"] = named


def names_of_rows(typed: Typed, table: str = "parts") -> dict[str, str]:
    """Return the name typed in each row of a table of the robot, by the number of the row."""
    parts = typed.at(("robot", table))
    rows = parts.children if parts is not None else {}
    return {str(row): part.children["name"].text() or "" for row, part in rows.items()
            if "name" in part.children}  # fmt: skip


def routes_with_new_names(
    routes: list[dict[str, Any]], poses: list[dict[str, Any]], typed: Typed
) -> list[dict[str, Any]] | None:
    """Return the routes with the new names of poses that were renamed, None where none was.

    Parameters
    ----------
    routes : routes of the document that the form began from
    poses : its poses
    typed : what was typed on the page
    """
    table = typed.at(("robot", "poses"))
    renamed: dict[str, str] = {}
    for row in (table.children if table is not None else {}).values():
        was, name = row.text("was") or "", row.children.get("name")
        if not was.isdecimal() or int(was) >= len(poses) or name is None:
            continue
        before, after = str(poses[int(was)].get("name")), name.text() or ""
        if after and after != before:
            renamed[before] = after
    changed = copy.deepcopy(routes)
    for route in changed:
        for leg in route.get("legs") or []:
            if leg.get("pose") in renamed:
                leg["pose"] = renamed[leg["pose"]]
    return changed if changed != routes else None


def renumbered(robot: dict[str, Any], typed: Typed) -> dict[str, Any]:
    """Return the robot with parts and poses told by the rows that they will now stand in.

    The moves of a part that was taken out go with it, and so do the ticks of a pose.
    """
    new, poses = _new_rows(typed, "parts"), _new_rows(typed, "poses")
    shown = copy.deepcopy(robot)
    for pose in shown.get("poses") or []:
        moves = pose.get("moves") or []
        if moves:
            pose["moves"] = [one for one in moves if one.get("part", "") in {"", *new}]
        for move in pose.get("moves") or []:
            if move.get("part"):
                move["part"] = str(new[move["part"]])
    for keepout in shown.get("keepouts") or []:
        if "in_poses" in keepout:
            ticked = [str(row) for row in keepout["in_poses"]]
            keepout["in_poses"] = [poses[row] for row in ticked if row in poses]
    return shown


def _new_rows(typed: Typed, table: str) -> dict[str, int]:
    """Return where each row of a table, by its number in the form, will stand."""
    found = typed.at(("robot", table))
    rows = sorted(row for row in found.children if isinstance(row, int)) if found else []
    return {str(row): place for place, row in enumerate(rows)}


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
