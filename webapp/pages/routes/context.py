"""What the page of the routes shows: saved or typed, and the answer while one types or drags."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.errors import Fault, StudyRefusedError
from models.services import (
    StudyState,
    edited_study,
    faster_drive_of,
    pose_limits_of,
    preview,
    whole_evaluation_of,
)
from models.study import Study
from models.study.numbers import SOURCES
from models.units import UnitSystem, display_unit
from webapp.access import ranges_shown
from webapp.forms import id_of, row_origins
from webapp.pages.routes.editing import RouteForm, in_form, leg_loads, shown_values
from webapp.shared.candidates import marks_of
from webapp.shared.editing import ConflictView, Posted, Visit, changed_sections, save_bar
from webapp.shared.inputs import SOURCE_WORDS, Sheet, faults_by_name
from webapp.shared.links import StudyLinks
from webapp.shared.remarks import RemarkView, remark_places, remarks_beside
from webapp.shared.routes.context import picked_route, routes_context
from webapp.shared.routes.limits import limits_context

MARGIN = "yardsticks.tip_margin"
REMARK_PLACES = ("routes", MARGIN)
STEPS = {UnitSystem.SI: (0.1, 0.01), UnitSystem.INCH_POUND: (0.5, 0.1)}
"""A coarse and a fine step of the arrow keys, in the unit of the form's boxes."""
METRES_A_UNIT = {UnitSystem.SI: 1.0, UnitSystem.INCH_POUND: 0.3048}


@dataclass(frozen=True)
class Typed:
    """What the form comes to: the study, how it differs from the saved one, what is wrong."""

    study: Study
    edits: dict[str, Any]
    faults: Sequence[Fault]


def page_context(
    visit: Visit,
    state: StudyState,
    *,
    route: str | None = None,
    posted: Posted | None = None,
    form: RouteForm | None = None,
    faults: Sequence[Fault] = (),
    conflict: ConflictView | None = None,
) -> dict[str, Any]:
    """Return what routes.html shows: of the saved study, or of what is typed and not yet saved."""
    links = StudyLinks.of_state(state)
    system = posted.system if posted else visit.units
    if posted is None or form is None:
        typed = Typed(state.study, {}, ())
        values, origins, focus = shown_values(state.document), None, ""
        shown = picked_route(state.study, route)
    else:
        typed = typed_study(visit.store, state, form)
        values, origins, focus = form.values, row_origins(posted.typed), form.focus
        shown = form.shown
    names = posted.names if posted else frozenset()
    by_name, summary = faults_by_name(in_form(faults), [()], names)
    sheet = Sheet(values, "", system, by_name, choices=_choices(state.study), origins=origins)
    changed = form is not None and bool(changed_sections(state.document, form.edits))
    faulty = {int(name.split(".")[1]) for name in by_name if name.startswith("routes.")}
    return {
        "state": state,
        "links": links,
        "nav": "routes",
        "sheet": sheet,
        "units_of_form": system,
        "shown": shown,
        "open_routes": faulty or {shown},
        "margin_box": sheet.box(MARGIN),
        "leg_loads": leg_loads(state.document),
        "field_unit": display_unit("m", system),
        "steps": STEPS[system],
        "metres_a_unit": METRES_A_UNIT[system],
        "holds": not typed.faults,
        "remarks": _remarks(typed.study, system),
        "bar": save_bar(state, visit, posted if changed or conflict or faults else None),
        "summary": summary,
        "conflict": conflict,
        "focus": focus if not summary else "",
        "form_address": links.routes(),
        "live_address": f"{links.routes()}/live",
        "poses_address": f"{links.routes()}/poses",
        "source_choices": [(source, SOURCE_WORDS[source]) for source in SOURCES],
        **_limits(visit.store, state, typed, system),
        **_routes(visit.store, state, typed, system, ranges=ranges_shown(visit.request)),
    }


def live_context(visit: Visit, posted: Posted, form: RouteForm) -> dict[str, Any]:
    """Return what live.html shows: drawing and times of the route on the page, remarks."""
    links = StudyLinks.of_state(posted.base)
    typed = typed_study(visit.store, posted.base, form)
    holds = not typed.faults
    remarks = _remarks(typed.study, posted.system) if holds else {}
    return {
        "state": posted.base,
        "links": links,
        "holds": holds,
        "places": _places(posted, typed, remarks),
        "meanings": _meanings(form, posted.system),
        **_routes(
            visit.store,
            posted.base,
            typed,
            posted.system,
            only={form.shown},
            ranges=ranges_shown(visit.request),
        ),
    }


def _places(
    posted: Posted, typed: Typed, remarks: dict[str, list[RemarkView]]
) -> list[tuple[str, list[RemarkView]]]:
    """Return what stands beside the routes and the margin now: remarks, or what does not hold."""
    if not typed.faults:
        return remark_places(REMARK_PLACES, remarks, (), (), known=True)
    by_name, summary = faults_by_name(in_form(typed.faults), [()], posted.names)
    margin = by_name.get(MARGIN, [])
    beside = [words for target, words in summary if target != id_of(MARGIN)]
    return [
        (f"{id_of(name)}-remarks", [RemarkView(words, "", "", "", "") for words in found])
        for name, found in (("routes", beside), (MARGIN, margin))
    ]


def poses_context(visit: Visit, posted: Posted, form: RouteForm) -> dict[str, Any]:
    """Return what poses.html shows: the limits of every pose for what is typed."""
    typed = typed_study(visit.store, posted.base, form)
    return {
        "state": posted.base,
        "links": StudyLinks.of_state(posted.base),
        "holds": not typed.faults,
        "route_marks": marks_of(typed.study),
        "route_activities": (),
        "route_speed_unit": "",
        **_limits(visit.store, posted.base, typed, posted.system),
    }


def typed_study(store: Any, state: StudyState, form: RouteForm) -> Typed:
    """Return the study as typed; as it was saved, with the faults, where that does not hold."""
    edits = changed_sections(state.document, form.edits)
    try:
        study = edited_study(store, state, edits) if edits else state.study
    except StudyRefusedError as refused:
        return Typed(state.study, {}, refused.faults)
    return Typed(study, edits, ())


def _routes(
    store: Any,
    state: StudyState,
    typed: Typed,
    system: UnitSystem,
    *,
    only: Collection[int] | None = None,
    ranges: bool,
) -> dict[str, Any]:
    if typed.edits:
        payload: Mapping[str, Any] = preview(store, state, typed.edits)[1]
    else:
        payload = whole_evaluation_of(store, state)
    return routes_context(
        payload,
        typed.study,
        StudyLinks.of_state(state),
        system,
        faster=faster_drive_of(store, state, typed.edits),
        before=state.study,
        only=only,
        ranges=ranges,
    )


def _limits(store: Any, state: StudyState, typed: Typed, system: UnitSystem) -> dict[str, Any]:
    return limits_context(pose_limits_of(store, state, typed.edits), typed.study, system)


def _choices(study: Study) -> dict[str, Sequence[tuple[str, str]]]:
    first, *others = study.robot.poses
    names = [(first.name, f"{first.name} (travelling)")]
    names += [(pose.name, pose.name) for pose in others]
    return {"pose": names}


def _remarks(study: Study, system: UnitSystem) -> dict[str, list[RemarkView]]:
    return remarks_beside(study, [()], REMARK_PLACES, system)


def _meanings(form: RouteForm, system: UnitSystem) -> list[tuple[str, str]]:
    box = Sheet(form.values, "", system).box(MARGIN)
    return [(f"{box.id}-meaning", box.meaning)]
