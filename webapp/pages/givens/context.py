"""What the page of the givens shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from models.errors import Fault, StudyRefusedError
from models.seed import motor_classes
from models.services import StudyState, preview
from models.study import Study
from models.study.fields import fields_under
from models.study.numbers import SOURCES
from models.units import UnitSystem, display_unit
from webapp.forms import rebuild, row_origins, without_blank_rows
from webapp.pages.givens.folds import (
    DAY,
    FOLDED_LEAVES,
    LISTS,
    OPPONENT,
    folds_of,
    leaves_of,
    with_renamed,
    without_empty_groups,
)
from webapp.shared.editing import (
    ConflictView,
    Posted,
    Visit,
    free_key,
    put_in_row,
    save_bar,
    take_out_row,
)
from webapp.shared.inputs import SOURCE_WORDS, InputView, Sheet, faults_by_name
from webapp.shared.links import StudyLinks
from webapp.shared.remarks import RemarkView, remark_places, remarks_beside

SECTIONS = (
    "name", "notes", "rules", "power", "yardsticks", "field", "platform", "motors", "routes",
)  # fmt: skip
"""What a save may change; routes have a page of their own, but follow loads that are renamed."""
GROUPS = (
    ("rules", "Rules of the event"),
    ("power", "Power"),
    ("yardsticks", "Yardsticks"),
    ("field", "Field"),
    ("platform", "Platform hinged in its middle"),
)
GROUP_WORDS = {
    "rules": "What the base may weigh and measure, what the bumpers need, how long a match lasts.",
    "power": "The battery and the wiring that all candidates drive on.",
    "yardsticks": "The distance, speed and slope that every candidate is measured on.",
    "field": "Its size, x along the length, and what stands on it. All empty: routes are drawn "
    "as far as they reach.",
    "platform": "Only where the field has one: with it, the fit page says where to stand so that "
    "it lies level. All empty: none.",
}
BATTERY = "power.battery"
NO_BATTERY = "none of them: the figures below"
OPEN_NAMES = tuple(name for key, _ in GROUPS for name in leaves_of(key))
GROUP_NAMES = (*OPEN_NAMES, *FOLDED_LEAVES, *DAY, *OPPONENT)
REMARK_PLACES = ("name", *GROUP_NAMES, *LISTS, "motors")
MOTOR_NAMES = tuple(spec.name for spec in fields_under("motors.*"))


@dataclass(frozen=True)
class GroupView:
    """Inputs under one heading, each with its remarks."""

    key: str
    words: str
    sentence: str
    rows: list[tuple[InputView, list[RemarkView]]]


@dataclass(frozen=True)
class MotorRow:
    """One motor as a row of boxes, and the candidates that drive on it."""

    key: str
    name: str
    used_by: str
    boxes: list[tuple[str, InputView]]


def edits_of(posted: Posted) -> dict[str, Any]:
    """Return what was typed, as the sections that the form edits."""
    take_out_row(posted)
    present = _shown_values(posted.base.document)
    values: dict[str, Any] = rebuild(posted.typed, present, "", posted.system)
    origins = row_origins(posted.typed)
    values = without_empty_groups(with_renamed(values, posted.base.document, origins))
    return {section: values.get(section) for section in SECTIONS}


def _shown_values(document: dict[str, Any]) -> dict[str, Any]:
    return {section: document[section] for section in SECTIONS if section in document}


def givens_context(
    visit: Visit,
    state: StudyState,
    *,
    posted: Posted | None = None,
    edits: dict[str, Any] | None = None,
    faults: Sequence[Fault] = (),
    conflict: ConflictView | None = None,
) -> dict[str, Any]:
    """Return what the page shows: of the saved study, or of what is typed and not yet saved."""
    links = StudyLinks.of_state(state)
    system = posted.system if posted else visit.units
    study: Study | None = state.study
    if posted is None or edits is None:
        values, focus, origins = _shown_values(state.document), "", None
    else:
        study, _ = previewed(visit.store, state, edits)
        values, origins = dict(edits), row_origins(posted.typed)
        focus = _add_motor(posted, values) or put_in_row(posted, values)
    by_name, summary = faults_by_name(faults, [()], posted.names if posted else frozenset())
    sheet = Sheet(values, "", system, by_name, choices=_choices(values), origins=origins)
    remarks = remarks_of(study, system)
    return {
        "state": state,
        "links": links,
        "nav": "givens",
        "sheet": sheet,
        "units_of_form": system,
        "name_box": sheet.box("name", "Name of the study"),
        "notes_box": sheet.box("notes", "Notes", ""),
        "groups": [
            GroupView(key, words, GROUP_WORDS[key], _rows(sheet, key, remarks))
            for key, words in GROUPS
        ],
        "motors": _motor_rows(sheet, state),
        "motor_classes": [(key, one["name"]) for key, one in motor_classes().items()],
        "folds": folds_of(sheet, remarks, by_name, focus),
        "remarks": remarks,
        "masses": {},
        "field_unit": display_unit("m", system),
        "kg": display_unit("kg", system),
        "bar": save_bar(state, visit, posted),
        "summary": summary,
        "conflict": conflict,
        "focus": focus if not summary else "",
        "form_address": links.givens(),
        "live_address": f"{links.givens()}/live",
        "source_choices": [(source, SOURCE_WORDS[source]) for source in SOURCES],
    }


def live_context(visit: Visit, posted: Posted) -> dict[str, Any]:
    """Return the remarks and meanings for what is typed at this moment."""
    edits = edits_of(posted)
    study, faults = previewed(visit.store, posted.base, edits)
    sheet = Sheet(edits, "", posted.system, choices=_choices(edits))
    boxes = [sheet.box(name) for name in GROUP_NAMES]
    remarks = remarks_of(study, posted.system)
    return {
        "places": remark_places(REMARK_PLACES[1:], remarks, faults, (), known=study is not None),
        "meanings": [(f"{box.id}-meaning", box.meaning) for box in boxes],
    }


def previewed(
    store: Any, state: StudyState, edits: dict[str, Any]
) -> tuple[Study | None, Sequence[Fault]]:
    """Return the study as typed, or None and the faults where it does not hold."""
    try:
        study, _ = preview(store, state, without_blank_rows(edits))
    except StudyRefusedError as refused:
        return None, refused.faults
    return study, ()


def remarks_of(study: Study | None, system: UnitSystem) -> dict[str, list[RemarkView]]:
    """Return the remarks on what all candidates share."""
    return remarks_beside(study, [()], REMARK_PLACES, system) if study is not None else {}


def _choices(values: dict[str, Any]) -> dict[str, list[tuple[str, str]]]:
    """Return the batteries that may be chosen, as they are named at this moment."""
    batteries = (values.get("power") or {}).get("batteries") or []
    names = [one.get("name") for one in batteries if isinstance(one, dict)]
    return {"battery": [(name, name) for name in names if isinstance(name, str) and name]}


def _rows(
    sheet: Sheet, key: str, remarks: dict[str, list[RemarkView]]
) -> list[tuple[InputView, list[RemarkView]]]:
    names = [name for name in OPEN_NAMES if name.startswith(f"{key}.")]
    if BATTERY in names:
        names.remove(BATTERY)
        if sheet.rows("power.batteries") or sheet.value(BATTERY):
            names.insert(0, BATTERY)
    return [
        (_battery_box(sheet) if name == BATTERY else sheet.box(name), remarks.get(name, []))
        for name in names
    ]


def _battery_box(sheet: Sheet) -> InputView:
    """Return the choice of the battery in use, with words for none of them."""
    box = sheet.box(BATTERY, hint="")
    choices = (("", NO_BATTERY), *box.choices)
    return replace(box, required=True, choices=choices, chosen=box.chosen or ("",))


def _motor_rows(sheet: Sheet, state: StudyState) -> list[MotorRow]:
    motors = sheet.value("motors")
    rows = []
    for key in motors if isinstance(motors, dict) else ():
        users = [one.name for one in state.study.candidates if one.drive.motor == key]
        boxes = [(name, sheet.box(f"motors.{key}.{name}")) for name in MOTOR_NAMES]
        name = str(sheet.value(f"motors.{key}.name") or "new motor")
        rows.append(MotorRow(key, name, ", ".join(users), boxes))
    return rows


def _add_motor(posted: Posted, values: dict[str, Any]) -> str:
    """Add the motor whose class was chosen, or an empty one; return the field to go to next."""
    if posted.control("row") != "key:motors":
        return ""
    wanted = posted.control("motor_class")
    chosen = motor_classes().get(wanted, {})
    motors = values.get("motors")
    motors = dict(motors) if isinstance(motors, dict) else {}
    key = free_key(wanted if chosen else "motor", motors)
    motors[key] = dict(chosen)
    values["motors"] = motors
    return f"motors.{key}.name"
