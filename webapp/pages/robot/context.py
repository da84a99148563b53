"""What the page of the robot shows."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from models.errors import Fault, StudyRefusedError
from models.services import StudyState, preview
from models.study.numbers import SOURCES
from models.study.schema import Study
from models.trade.ledger import mass_ledger
from models.trade.scene import fit_scene
from models.units import UnitSystem, display_unit, show
from webapp.forms import join_name, rebuild, row_origins, without_blank_rows
from webapp.pages.robot.moves import (
    names_of_rows,
    place_in_form,
    renumbered,
    routes_with_new_names,
    with_moves,
    with_offsets,
)
from webapp.shared.drawings.context import drawing_of
from webapp.shared.editing import (
    ConflictView,
    Posted,
    Visit,
    free_key,
    put_in_row,
    save_bar,
    take_out_row,
)
from webapp.shared.folds import (
    USES,
    Fold,
    ratios_in_words,
    stated_in_words,
    without_empty_uses,
)
from webapp.shared.inputs import (
    SOURCE_WORDS,
    InputView,
    Sheet,
    faults_by_name,
    material_choices,
)
from webapp.shared.links import StudyLinks
from webapp.shared.remarks import RemarkView, remark_places, remarks_beside

REMARK_PLACES = ("robot.parts", "robot.keepouts", "robot.poses")
LISTS = ("parts", "keepouts", "poses", "uses")


class RobotForm:
    """What was typed on the page: as the form shows it, as edits of the study, and its faults."""

    def __init__(self, posted: Posted) -> None:
        take_out_row(posted)
        document = posted.base.document
        present = _shown_values(document)
        typed = rebuild(posted.typed, present, "", posted.system)
        self.names = names_of_rows(posted.typed)
        self.robot = typed.get("robot") or {}
        self.values = {**typed, "robot": renumbered(self.robot, posted.typed)}
        pose_names = names_of_rows(posted.typed, "poses")
        kept, self.faults = with_offsets(self.robot, self.names, pose_names)
        kept = without_empty_uses(kept)
        self.edits: dict[str, Any] = {f"robot.{name}": kept[name] for name in LISTS if name in kept}
        if "uses" not in kept and "uses" in (document.get("robot") or {}):
            self.edits["robot.uses"] = None
        poses = (document.get("robot") or {}).get("poses") or []
        routes = routes_with_new_names(document.get("routes") or [], poses, posted.typed)
        if routes is not None:
            self.edits["routes"] = routes
        if typed.get("module_types") or document.get("module_types"):
            self.edits["module_types"] = typed.get("module_types") or {}

    def in_form(self, faults: Sequence[Fault]) -> list[Fault]:
        """Return faults of the study with the places that the form has for them."""
        return [
            replace(fault, place=place_in_form(fault.place, self.robot, self.names))
            for fault in faults
        ]

    def sound_edits(self) -> dict[str, Any]:
        """Return the edits without rows in which nothing is typed yet."""
        sound: dict[str, Any] = without_blank_rows(self.edits)
        return sound


def _shown_values(document: dict[str, Any]) -> dict[str, Any]:
    return {
        "robot": with_moves(document.get("robot") or {}),
        "module_types": document.get("module_types") or {},
    }


def robot_context(
    visit: Visit,
    state: StudyState,
    *,
    pose: str | None = None,
    posted: Posted | None = None,
    form: RobotForm | None = None,
    faults: Sequence[Fault] = (),
    conflict: ConflictView | None = None,
) -> dict[str, Any]:
    """Return what the page shows: of the saved robot, or of one typed and not yet saved."""
    links = StudyLinks.of_state(state)
    system = posted.system if posted else visit.units
    study: Study | None = state.study
    drawing_faults: Sequence[Fault] = ()
    if posted is None or form is None:
        values, focus, origins = _shown_values(state.document), "", None
    else:
        pose = posted.control("shown_pose") or pose
        study, drawing_faults = _previewed(visit.store, state, form)
        values, origins = form.values, row_origins(posted.typed)
        focus = _add_module_type(posted, values) or put_in_row(posted, values)
        faults = form.in_form(faults)
    by_name, summary = faults_by_name(faults, [()], posted.names if posted else frozenset())
    choices = {"material": material_choices(state.study)}
    sheet = Sheet(values, "", system, by_name, choices=choices, origins=origins)
    remarks = _remarks(study, system)
    return {
        "state": state,
        "links": links,
        "nav": "robot",
        "sheet": sheet,
        "units_of_form": system,
        "mm": display_unit("m", system, small=True),
        "kg": display_unit("kg", system),
        "part_choices": _part_choices(sheet),
        "pose_choices": [
            (str(row), sheet.value(f"robot.poses.{row}.name") or f"pose {row + 1}")
            for row in sheet.rows("robot.poses")
        ],
        "move_box": lambda name: _move_box(sheet, name),
        "module_keys": list(values["module_types"]),
        "uses_fold": _uses_fold(sheet, (*by_name, focus)),
        "ratio_folds": _ratio_folds(sheet, values["module_types"], remarks, (*by_name, focus)),
        "masses": _masses(study or state.study, system),
        "bar": save_bar(state, visit, posted),
        "summary": summary,
        "conflict": conflict,
        "focus": focus if not summary else "",
        "form_address": links.robot(),
        "live_address": f"{links.robot()}/live",
        "source_choices": [(source, SOURCE_WORDS[source]) for source in SOURCES],
        "remarks": remarks,
        **drawing_context(study, drawing_faults, pose, system),
    }


def drawing_context(
    study: Study | None, faults: Sequence[Fault], pose: str | None, system: UnitSystem
) -> dict[str, Any]:
    """Return what the drawing beside the tables shows, or why nothing can be drawn."""
    if study is None:
        why = [fault.message for fault in faults[:3]]
        return {"drawn": None, "why": why, "poses": [], "shown_pose": pose or "", "drawn_on": ""}
    poses = [one.name for one in study.robot.poses]
    shown = pose if pose in poses else poses[0]
    return {
        "drawn": drawing_of(fit_scene(study, study.baseline, shown), system),
        "why": [],
        "poses": poses,
        "shown_pose": shown,
        "drawn_on": study.baseline.name,
    }


def live_context(visit: Visit, posted: Posted) -> dict[str, Any]:
    """Return the drawing and remarks for what is typed at this moment."""
    form = RobotForm(posted)
    study, faults = _previewed(visit.store, posted.base, form)
    remarks = _remarks(study, posted.system)
    places = _remark_places(study.module_types if study is not None else ())
    return {
        "places": remark_places(places, remarks, faults, (), known=study is not None),
        "links": StudyLinks.of_state(posted.base),
        "state": posted.base,
        **drawing_context(study, faults, posted.control("shown_pose"), posted.system),
    }


def _remarks(study: Study | None, system: UnitSystem) -> dict[str, list[RemarkView]]:
    if study is None:
        return {}
    return remarks_beside(study, [()], _remark_places(study.module_types), system)


def _remark_places(module_types: Iterable[str]) -> list[str]:
    ratios = (f"module_types.{join_name((key,))}.ratios_on_offer" for key in module_types)
    return [*REMARK_PLACES, *ratios]


def _previewed(
    store: Any, state: StudyState, form: RobotForm
) -> tuple[Study | None, Sequence[Fault]]:
    try:
        study, _ = preview(store, state, form.sound_edits())
    except StudyRefusedError as refused:
        return None, form.in_form(refused.faults)
    return study, ()


def _part_choices(sheet: Sheet) -> tuple[tuple[str, str], ...]:
    return tuple(
        (str(row), str(sheet.value(f"robot.parts.{row}.name") or f"part {row + 1}"))
        for row in sheet.rows("robot.parts")
    )


def _uses_fold(sheet: Sheet, calls: Iterable[str]) -> Fold:
    """Return the connections that stay taken; a fault in them or the focus opens them."""
    names = tuple(f"robot.uses.{name}" for name in USES)
    inside = stated_in_words(sheet, names) or "none stated"
    called = any(call.startswith("robot.uses") for call in calls)
    boxes: list[tuple[InputView, list[RemarkView]]] = [(sheet.box(name), []) for name in names]
    return Fold("uses", "Connections that stay taken", inside, called, boxes)


def _ratio_folds(
    sheet: Sheet,
    modules: Iterable[str],
    remarks: Mapping[str, list[RemarkView]],
    calls: Collection[str],
) -> dict[str, Fold]:
    """Return each module type's ratios on offer; a fault, remark or the focus opens them."""
    folds = {}
    for key in modules:
        place = f"module_types.{join_name((key,))}.ratios_on_offer"
        called = any(call.rpartition(":")[2].startswith(place) for call in calls)
        called = called or bool(remarks.get(place))
        inside = ratios_in_words(sheet, place)
        folds[key] = Fold(f"ratios-{key}", "Ratios on offer", inside, called, [])
    return folds


def _move_box(sheet: Sheet, name: str) -> InputView:
    value = sheet.value(name)
    chosen = () if value is None else (str(value),)
    return replace(sheet.box(name), kind="choice", choices=_part_choices(sheet), chosen=chosen)


def _add_module_type(posted: Posted, values: dict[str, Any]) -> str:
    """Add an empty module type where its button was pressed; return the field to go to next."""
    if posted.control("row") != "key:module_types":
        return ""
    types = values["module_types"]
    key = free_key("module", types)
    values["module_types"] = {**types, key: {"name": "", "upright": [{}], "inverted": []}}
    return f"module_types.{key}.name"


def _masses(study: Study, system: UnitSystem) -> dict[str, str]:
    rows = mass_ledger(study, study.baseline).stays[: len(study.robot.parts)]
    return {
        f"robot.parts.{index}": show(row.mass_kg / row.quantity, "kg", system)
        for index, row in enumerate(rows)
        if row.origin != "stated"
    }
