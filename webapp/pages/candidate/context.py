"""What the page of a candidate shows."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from models.errors import Fault, NotFoundError
from models.services import StudyState
from models.study.numbers import SOURCES
from models.study.schema import CORNERS, Study
from models.study.sections import candidate_section
from models.trade.battery import battery_in_use
from models.units import UnitSystem, display_unit, show
from webapp.access import ranges_shown
from webapp.forms import MISSING, id_of, rebuild, without_blank_rows
from webapp.pages.candidate.figures import Figures, figures_of
from webapp.pages.candidate.groups import GROUPS, ONLY_FOR, REMARK_PLACES
from webapp.shared.candidates import CandidateMark, marks_of
from webapp.shared.charts.context import charts_context, live_series
from webapp.shared.editing import (
    ConflictView,
    Posted,
    Visit,
    origins_of,
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
from webapp.shared.remarks import RemarkView, remark_places

PLACE = "candidates[]"
LAYOUT_WORDS = (
    ("tank", "tank: linked sides that skid to turn"),
    ("swerve", "swerve: steered modules"),
    ("mecanum", "mecanum: rollers at 45° on the wheels"),
    ("omni", "omni: omni wheels set at 45°"),
)
CORNER_WORDS = dict(
    zip(CORNERS, ("front left", "front right", "rear left", "rear right"), strict=True)
)
SUPPLY = (
    ("open_circuit_v", "v", "battery at rest"),
    ("internal_resistance_ohm", "ohm", "inside the battery"),
    ("main_wiring_ohm", "ohm", "main wiring"),
    ("accessory_current_a", "a", "accessories"),
    ("brownout_v", "v", "brownout below"),
)


@dataclass(frozen=True)
class GroupView:
    """Inputs under one heading, each with its effect and remarks."""

    key: str
    words: str
    rows: list[tuple[InputView, str | None, list[RemarkView]]]


def edits_of(posted: Posted, key: str) -> dict[str, Any]:
    """Return the candidate that was typed, as the one section that the form edits."""
    take_out_row(posted)
    base = _document_of(posted.base, key)
    value = rebuild(posted.typed, base, PLACE, posted.system)
    candidate = {} if value is MISSING else value
    if candidate.get("layout") != "swerve":
        candidate.pop("modules", None)
    return {candidate_section(key): without_empty_uses(candidate)}


def candidate_context(
    visit: Visit,
    state: StudyState,
    key: str,
    *,
    posted: Posted | None = None,
    edits: dict[str, Any] | None = None,
    faults: Sequence[Fault] = (),
    conflict: ConflictView | None = None,
) -> dict[str, Any]:
    """Return what the page shows: of a saved candidate, or of one typed and not yet saved."""
    links = StudyLinks.of_state(state)
    system = posted.system if posted else visit.units
    if posted is None or edits is None:
        values = _document_of(state, key)
        ranges = ranges_shown(visit.request)
        focus, figures = "", figures_of(visit.store, state, key, system, ranges=ranges)
    else:
        figures = figures_of(visit.store, state, key, system, _sound(edits))
        values = edits[candidate_section(key)]
        focus = put_in_row(posted, values)
    names = posted.names if posted else frozenset()
    by_name, summary = faults_by_name(faults, [_place_in(state, key)], names)
    sheet = Sheet(
        values,
        PLACE,
        system,
        by_name,
        choices=_choices(state.study),
        origins=origins_of(posted) if posted else None,
    )
    return {
        "state": state,
        "links": links,
        "nav": "candidates",
        "key": key,
        "marks": marks_of(state.study),
        "mark": next(mark for mark in marks_of(state.study) if mark.key == key),
        "sheet": sheet,
        "units_of_form": system,
        "name_box": sheet.box("name"),
        "layout_box": sheet.box("layout"),
        "notes_box": sheet.box("notes", hint=""),
        "base_of": _base_of(state.study, key),
        "kept_by": [one.name for one in state.study.candidates if one.same_base_as == key],
        "groups": _groups(sheet, figures),
        "folds": _folds(sheet, figures, by_name, focus),
        "axles": _axles(sheet),
        "supply": _supply(state, system),
        "battery": state.study.power.battery,
        "corners": CORNER_WORDS,
        "module_box": sheet.box("modules.type") if sheet.value("layout") == "swerve" else None,
        "figures": figures,
        "remarks": figures.remarks,
        "masses": figures.masses,
        "mm": display_unit("m", system, small=True),
        "kg": display_unit("kg", system),
        "bar": save_bar(state, visit, posted),
        "summary": summary,
        "conflict": conflict,
        "focus": focus if not summary else "",
        "form_address": links.candidate(key),
        "live_address": links.candidate_live(key),
        "source_choices": [(source, SOURCE_WORDS[source]) for source in SOURCES],
        "live_curves": live_series(figures.study, key, system) if figures.unsaved else None,
        **charts_context(state.study, links, system, strong=key),
    }


def live_context(visit: Visit, posted: Posted, key: str, edits: dict[str, Any]) -> dict[str, Any]:
    """Return what the live part of the page shows for what is typed at this moment."""
    figures = figures_of(visit.store, posted.base, key, posted.system, edits)
    sheet = Sheet(edits[candidate_section(key)], PLACE, posted.system)
    marks = marks_of(posted.base.study)
    section = _place_in(posted.base, key)
    wanted = figures.known and posted.control("curves") == "yes"
    curves = live_series(figures.study, key, visit.units) if wanted else None
    return {
        "state": posted.base,
        "links": StudyLinks.of_state(posted.base),
        "key": key,
        "mark": next(mark for mark in marks if mark.key == key),
        "marks": marks,
        "figures": figures,
        "meanings": _meanings(sheet),
        "effects": [(f"{id_of(name)}-effect", words) for name, words in figures.effects.items()],
        "places": remark_places(
            REMARK_PLACES, figures.remarks, figures.faults, section, known=figures.known
        ),
        "live_curves": curves,
    }


def _document_of(state: StudyState, key: str) -> dict[str, Any]:
    for candidate in state.document["candidates"]:
        if candidate["key"] == key:
            found: dict[str, Any] = candidate
            return found
    raise NotFoundError(f"The study has no candidate with the key “{key}”.")


def _place_in(state: StudyState, key: str) -> tuple[str, int]:
    keys = [candidate["key"] for candidate in state.document["candidates"]]
    return "candidates", keys.index(key)


def _sound(edits: dict[str, Any]) -> dict[str, Any]:
    """Return the edits without rows in which nothing is typed yet."""
    cleaned: dict[str, Any] = without_blank_rows(edits)
    return cleaned


def _choices(study: Study) -> dict[str, Sequence[tuple[str, str]]]:
    return {
        "layout": LAYOUT_WORDS,
        "motor": [(key, motor.name) for key, motor in study.motors.items()],
        "type": [(key, kind.name) for key, kind in study.module_types.items()],
        "material": material_choices(study),
    }


def _groups(sheet: Sheet, figures: Figures) -> list[GroupView]:
    return [
        GroupView(
            group.key,
            group.words,
            [
                (
                    sheet.box(name),
                    figures.effects.get(name),
                    figures.remarks.get(name, []),
                )
                for name in group.names
                if _is_shown(sheet, name)
            ],
        )
        for group in GROUPS
    ]


def _folds(sheet: Sheet, figures: Figures, faults: Collection[str], focus: str) -> dict[str, Fold]:
    """Return the folded parts: ratios on offer, and the connections that it takes."""
    offered = "drive.ratios_on_offer"
    uses = tuple(f"uses.{name}" for name in USES)
    called = [*faults, focus.rpartition(":")[2]]
    return {
        "ratios": Fold(
            "ratios",
            "Ratios on offer",
            ratios_in_words(sheet, offered),
            bool(figures.remarks.get(offered)) or any(one.startswith(offered) for one in called),
            [],
        ),
        "uses": Fold(
            "uses",
            "Connections that it takes",
            stated_in_words(sheet, uses) or "worked out from layout and motors",
            any(one.startswith("uses") for one in called),
            [(sheet.box(name), []) for name in uses],
        ),
    }


def _base_of(study: Study, key: str) -> CandidateMark | None:
    """Return the candidate whose base this one keeps, None where it has its own."""
    source = study.candidate(key).same_base_as
    return next((mark for mark in marks_of(study) if mark.key == source), None)


def _is_shown(sheet: Sheet, name: str) -> bool:
    layouts = ONLY_FOR.get(name)
    return layouts is None or sheet.value("layout") in layouts or sheet.value(name) is not None


def _axles(sheet: Sheet) -> list[tuple[str, str]]:
    """Return the number and the words of each axle, as far as the wheel count is readable."""
    count = sheet.value("wheels.count")
    count = count.get("value") if isinstance(count, dict) else count
    axles = count // 2 if isinstance(count, int) and 4 <= count <= 16 else 2
    middle = ["middle"] if axles == 3 else [f"axle {number}" for number in range(2, axles)]
    return [(str(i), words) for i, words in enumerate(["front", *middle, "rear"])]


def _supply(state: StudyState, system: UnitSystem) -> list[tuple[str, str]]:
    """Return what all candidates drive on, with the battery in use as it is at its charge."""
    power, battery = state.study.power, battery_in_use(state.study)
    stated = power.model_dump(include={name for name, _, _ in SUPPLY})
    stated |= {
        name: getattr(battery, name) for name in ("open_circuit_v", "internal_resistance_ohm")
    }
    return [(words, show(stated[name], unit, system)) for name, unit, words in SUPPLY]


def _meanings(sheet: Sheet) -> list[tuple[str, str]]:
    names: Collection[str] = [name for group in GROUPS for name in group.names]
    boxes = [sheet.box(name) for name in names if name != "wheels.omni_axles"]
    return [(f"{box.id}-meaning", box.meaning) for box in boxes if box.kind == "number"]
