"""What the fit view shows: the drawing of a candidate in a pose and the list of gaps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.errors import NotFoundError
from models.study.schema import Study
from models.trade.scene import Scene, SceneGap, fit_scene
from models.units import UnitSystem, display_unit, show, show_bare
from webapp.shared.candidates import CandidateMark, marks_of
from webapp.shared.drawings.context import drawing_of
from webapp.shared.fit.ground import ground_context
from webapp.shared.fit.handles import handles_of
from webapp.shared.links import StudyLinks

TIGHT_M = 0.005
"""A margin below this is called tight: common practice for hand-built frames, no source."""

ROWS_AT_ONCE = 12
DECIMALS = {UnitSystem.SI: 1, UnitSystem.INCH_POUND: 2}
"""Decimals of a gap in mm or in."""


@dataclass(frozen=True)
class GapRow:
    """One row of the list: a body and a keep-out."""

    row: int
    body: str
    keepout: str
    gap: str
    asked: str
    margin: str
    sign: str
    css: str
    words: str
    url: str
    lit: bool
    poses: str
    """In which poses the pair counts."""
    here: bool
    """True where it counts in the pose shown."""


@dataclass(frozen=True)
class Choice:
    """One link of a row of choices."""

    words: str
    url: str
    chosen: bool
    mark: CandidateMark | None = None


def fit_context(
    payload: Mapping[str, Any],
    study: Study,
    links: StudyLinks,
    system: UnitSystem,
    *,
    candidate: str | None,
    pose: str | None,
    row: int | None,
) -> dict[str, Any]:
    """Return what `shared/fit/fit.html` shows.

    The first candidate that is not the baseline and the travelling pose where none is asked for.
    `row` is the row of the list that is picked out. Raises `NotFoundError` for a candidate or pose
    that the study does not have.
    """
    marks = marks_of(study)
    mark = chosen_mark(marks, candidate)
    scene = fit_scene(study, study.candidate(mark.key), pose)
    figures = next(one for one in payload["candidates"] if one["key"] == mark.key)
    entries: list[Mapping[str, Any]] = list(figures["fit"])
    picked = row if row is not None and 0 <= row < len(entries) else 0
    pairs = _pairs(scene, entries)
    every = [one.name for one in study.robot.poses]
    rows = [
        _gap_row(number, entry, links, system, (mark.key, scene.pose, every), lit=number == picked)
        for number, entry in enumerate(entries)
    ]
    drawing = drawing_of(scene, system, rows=sorted(pairs.items()), lit=pairs.get(picked))
    if links.can_edit and drawing.plan.on is not None:
        drawing.plan.handles = handles_of(scene, study.candidate(mark.key), drawing.plan.on, system)
    return {
        "fit_mark": mark,
        "fit_editing": None,
        "fit_pose": scene.pose,
        "fit_candidates": [
            Choice(one.name, links.fit(one.key, pose), one.key == mark.key, one) for one in marks
        ],
        "fit_poses": [
            Choice(one.name, links.fit(mark.key, one.name), one.name == scene.pose)
            for one in study.robot.poses
        ],
        "fit_drawing": drawing,
        "fit_rows": rows[:ROWS_AT_ONCE],
        "fit_more_rows": rows[ROWS_AT_ONCE:],
        "fit_known": scene.fit_known,
        "fit_verdict": _verdict(rows, known=scene.fit_known),
        "fit_by_pose": any(not row.here or row.poses != "all" for row in rows),
        **ground_context(figures, system),
        "fit_unit": display_unit("m", system, small=True),
        "fit_balance": _balance(figures, scene, system),
        "fit_candidate_url": links.candidate(mark.key) if links.can_edit else "",
        "fit_plan_files": [
            (ending.upper(), links.plan_file(ending, mark.key, scene.pose))
            for ending in (("dxf", "svg") if links.can_edit else ())
        ],
        "fit_robot_url": links.robot() if links.can_edit else "",
    }


def chosen_mark(marks: Sequence[CandidateMark], key: str | None) -> CandidateMark:
    """Return the candidate asked for; the first that is not the baseline where none is."""
    if not key:
        return next((mark for mark in marks if not mark.baseline), marks[0])
    for mark in marks:
        if mark.key == key:
            return mark
    message = f"The study has no candidate “{key}”."
    raise NotFoundError(message)


def _pairs(scene: Scene, entries: Sequence[Mapping[str, Any]]) -> dict[int, SceneGap]:
    """Return the scene's gap for each row of the figures; names may stand more than once."""
    left = list(scene.gaps)
    pairs = {}
    for number, entry in enumerate(entries):
        names = (entry["body"], entry["keepout"])
        found = next((gap for gap in left if (gap.body, gap.keepout) == names), None)
        if found is not None:
            left.remove(found)
            pairs[number] = found
    return pairs


def _gap_row(
    number: int,
    entry: Mapping[str, Any],
    links: StudyLinks,
    system: UnitSystem,
    at: tuple[str, str, Sequence[str]],
    *,
    lit: bool,
) -> GapRow:
    sign, css, words = _standing(entry, system)
    candidate, pose, every = at
    poses = entry.get("poses", every)
    return GapRow(
        row=number,
        body=entry["body"],
        keepout=entry["keepout"],
        gap=_length(entry["gap_m"], system),
        asked=_length(entry["clearance_m"], system),
        margin=_length(entry["margin_m"], system, signed=True),
        sign=sign,
        css=css,
        words=words,
        url=f"{links.fit(candidate, pose, row=number)}#fit-drawing",
        lit=lit,
        poses="all" if len(poses) == len(every) else ", ".join(poses),
        here=pose in poses,
    )


def _length(value: float, system: UnitSystem, *, signed: bool = False) -> str:
    return show_bare(value, "m", system, small=True, decimals=DECIMALS[system], signed=signed)


def _standing(entry: Mapping[str, Any], system: UnitSystem) -> tuple[str, str, str]:
    """Return mark, style class and words for how a body stands to a keep-out."""
    if entry["overlap_m3"] > 0:
        return "✕", "bad", f"overlaps, {show(entry['overlap_m3'], 'm3', system, digits=2)}"
    if entry["conflict"]:
        return "✕", "bad", "too tight"
    if entry["margin_m"] < TIGHT_M:
        return "!", "watch", "tight"
    return "✓", "good", "clear"


def _verdict(rows: Sequence[GapRow], *, known: bool) -> tuple[str, str, str]:
    """Return mark, style class and one sentence on whether it fits."""
    if not known:
        return "!", "watch", "No bodies or no keep-outs are given, so the fit is not known."
    bad = sum(row.css == "bad" for row in rows)
    tight = sum(row.css == "watch" for row in rows)
    if bad:
        here = sum(row.css == "bad" and row.here for row in rows)
        share = "" if here == bad else f", {here or 'none'} of them in the pose shown"
        return "✕", "bad", f"It does not fit: {_counted(bad, 'conflict')}{share}."
    if tight:
        return "!", "watch", f"It fits, with {_counted(tight, 'tight gap')}."
    return "✓", "good", "It fits: every keep-out keeps its clearance with room to spare."


def _counted(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def _balance(figures: Mapping[str, Any], scene: Scene, system: UnitSystem) -> list[tuple[str, str]]:
    """Return the balance figures of the pose shown, name and value."""
    pose = next((one for one in figures["poses"] if one["name"] == scene.pose), None)
    if pose is None:
        return []
    return [
        ("Height", show(pose.get("height_m"), "m", system)),
        ("Centre of gravity, height", show(pose["cg_m"][2], "m", system)),
        ("Tips backwards driving off at", show(pose["tip_forward_mps2"], "mps2", system)),
        ("Tips forwards braking at", show(pose["tip_brake_mps2"], "mps2", system)),
        ("Tips sideways at", show(pose["tip_side_mps2"], "mps2", system)),
    ]
