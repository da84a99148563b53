"""Show what the battery goes through, and save which one is in use."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query
from fastapi.responses import Response
from starlette.datastructures import FormData

from models.errors import Fault
from models.services import StudyState, load_study
from models.services.power import power_of
from models.trade.battery import OWN_FIGURES, batteries_of
from models.units import quoted
from webapp.access import checked_form
from webapp.shared.editing import Posted, Visit, answer_to_save, read_posted, save_bar, visit
from webapp.shared.links import StudyLinks
from webapp.shared.power.context import power_context
from webapp.templating import render

router = APIRouter(prefix="/studies/{study_id}/power")
Visiting = Annotated[Visit, Depends(visit)]
Form = Annotated[FormData, Depends(checked_form)]

PAGE = "pages/power/power.html"


@router.get("")
def show_power(
    *,
    study_id: str,
    visiting: Visiting,
    battery: str | None = None,
    candidate: str | None = None,
    show: Annotated[list[str] | None, Query()] = None,
) -> Response:
    """Show sprint, push, match and day on the battery in use, or on one that is looked at."""
    state = load_study(visiting.store, study_id)
    return _page(visiting, state, battery=battery, candidate=candidate, shown=show)


@router.post("")
def use_battery(study_id: str, visiting: Visiting, form: Form) -> Response:
    """Save which battery is in use; a name that the study does not know saves nothing."""
    posted = read_posted(visiting.store, study_id, form)
    name = posted.control("battery")
    faults = _faults(posted.base, name)
    edits = {} if faults else {"power": _with_battery(posted.base, name)}
    return answer_to_save(
        visiting,
        posted,
        edits,
        address=StudyLinks.for_study(study_id).power(),
        show_again=partial(_page, visiting, posted.base, posted=posted),
        faults=faults,
    )


def _faults(state: StudyState, name: str) -> list[Fault]:
    known = [battery.name for battery in batteries_of(state.study)]
    if name in known:
        return []
    names = ", ".join(quoted(one) for one in known)
    said = f"no battery is called {quoted(name)}; there are {names}" if name else "choose a battery"
    return [Fault("power.battery", f"Battery in use: {said}.")]


def _with_battery(state: StudyState, name: str) -> dict[str, Any]:
    """Return the power section with a battery in use; none for its own figures."""
    power = {key: value for key, value in state.document["power"].items() if key != "battery"}
    named = {battery.name for battery in state.study.power.batteries}
    return power if name == OWN_FIGURES and name not in named else {**power, "battery": name}


def _page(
    visiting: Visit,
    state: StudyState,
    *,
    battery: str | None = None,
    candidate: str | None = None,
    shown: list[str] | None = None,
    posted: Posted | None = None,
    status: int = 200,
    faults: Any = (),
    conflict: Any = None,
) -> Response:
    links = StudyLinks.of_state(state)
    asked = battery or None
    payload = power_of(visiting.store, state, asked)
    context = power_context(
        payload, state.study, links, visiting.units, candidate=candidate or None, shown=shown
    )
    wanted = posted.control("battery") if posted is not None and not faults else context["battery"]
    more = {
        "state": state,
        "links": links,
        "nav": "power",
        "bar": save_bar(state, visiting, posted),
        "said": bool(visiting.saved) or posted is not None,
        "wanted": wanted,
        "form_address": links.power(),
        "summary": [("use-battery", fault.message) for fault in faults],
        "conflict": conflict,
    }
    return render(visiting.request, PAGE, {**context, **more}, status=status)
