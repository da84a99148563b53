"""What the page of the routes shows: saved or typed, and the answer while one types or drags."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from models.errors import Fault, StudyRefusedError
from models.services import StudyState, evaluation_of, preview
from models.study import Study
from models.study.numbers import SOURCES
from models.units import UnitSystem, display_unit
from webapp.forms import row_origins
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
        study: Study = state.study
        payload: Mapping[str, Any] = evaluation_of(visit.store, state)
        values, origins, focus = shown_values(state.document), None, ""
        shown, holds = picked_route(study, route), True
    else:
        study, payload, refused = previewed(visit.store, state, form)
        holds = not refused
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
        "holds": holds,
        "remarks": _remarks(study, system),
        "bar": save_bar(state, visit, posted if changed or conflict or faults else None),
        "summary": summary,
        "conflict": conflict,
        "focus": focus if not summary else "",
        "form_address": links.routes(),
        "live_address": f"{links.routes()}/live",
        "poses_address": f"{links.routes()}/poses",
        "source_choices": [(source, SOURCE_WORDS[source]) for source in SOURCES],
        **limits_context(study, system),
        **routes_context(payload, study, links, system, before=state.study),
    }


def live_context(visit: Visit, posted: Posted, form: RouteForm) -> dict[str, Any]:
    """Return what live.html shows: drawing and times of the route on the page, remarks."""
    links = StudyLinks.of_state(posted.base)
    study, payload, faults = previewed(visit.store, posted.base, form)
    holds = not faults
    remarks = _remarks(study, posted.system) if holds else {}
    return {
        "state": posted.base,
        "links": links,
        "holds": holds,
        "places": remark_places(REMARK_PLACES, remarks, in_form(faults), (), known=holds),
        "meanings": _meanings(form, posted.system),
        **routes_context(
            payload, study, links, posted.system, before=posted.base.study, only={form.shown}
        ),
    }


def poses_context(visit: Visit, posted: Posted, form: RouteForm) -> dict[str, Any]:
    """Return what poses.html shows: the limits of every pose for what is typed."""
    study, _, faults = previewed(visit.store, posted.base, form)
    return {
        "state": posted.base,
        "links": StudyLinks.of_state(posted.base),
        "holds": not faults,
        "route_marks": marks_of(study),
        "route_activities": (),
        "route_speed_unit": "",
        **limits_context(study, posted.system),
    }


def previewed(
    store: Any, state: StudyState, form: RouteForm
) -> tuple[Study, Mapping[str, Any], Sequence[Fault]]:
    """Return the study as typed with its figures; as it was saved, with the faults, where what is
    typed does not hold."""
    edits = changed_sections(state.document, form.edits)
    if not edits:
        return state.study, evaluation_of(store, state), ()
    try:
        study, payload = preview(store, state, edits)
    except StudyRefusedError as refused:
        return state.study, evaluation_of(store, state), refused.faults
    return study, payload, ()


def _choices(study: Study) -> dict[str, Sequence[tuple[str, str]]]:
    first, *others = study.robot.poses
    names = [(first.name, f"{first.name} (travelling)")]
    names += [(pose.name, pose.name) for pose in others]
    return {
        "pose": names,
    }


def _remarks(study: Study, system: UnitSystem) -> dict[str, list[RemarkView]]:
    return remarks_beside(study, [()], REMARK_PLACES, system)


def _meanings(form: RouteForm, system: UnitSystem) -> list[tuple[str, str]]:
    box = Sheet(form.values, "", system).box(MARGIN)
    return [(f"{box.id}-meaning", box.meaning)]
