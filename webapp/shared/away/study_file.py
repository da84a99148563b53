"""A whole study as one page in a file: both systems of units, no server, no network, no script."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

from markupsafe import Markup

from models.services import StudyState
from models.trade.evaluation import MODEL_VERSION
from models.trade.scene import fit_scene
from models.units import UnitSystem
from webapp.paths import data_folder
from webapp.shared.away.charts import chart_plots
from webapp.shared.candidates import CandidateMark, marks_of
from webapp.shared.charts.context import charts_context
from webapp.shared.choice.context import decide_context
from webapp.shared.comparison.context import whole_table
from webapp.shared.drawings.context import drawing_of, thumbnails_of
from webapp.shared.links import StudyLinks
from webapp.shared.schedule.context import schedule_context
from webapp.templating import environment

STYLES = ("base.css", "marks.css", "drawings.css", "comparison.css", "figures.css", "away.css")
NAMES = {UnitSystem.SI: "si", UnitSystem.INCH_POUND: "ip"}
NOWHERE = StudyLinks.for_viewer("file")
"""Contexts of pages make addresses; the file's template prints none."""


@dataclass(frozen=True)
class Told:
    """All that a study says of itself, as computed by its services."""

    state: StudyState
    payload: Mapping[str, Any]
    plan: dict[str, Any]
    decision: Mapping[str, Any]
    made: datetime
    address: str = ""
    """The link it was taken from, "" where it was taken by an editor."""


def study_file(told: Told, units: UnitSystem) -> str:
    """Return the file; `units` are those it opens with, the other ones lie behind a switch."""
    state, payload = told.state, told.payload
    style = _style()
    same_model = payload["model_version"] == MODEL_VERSION
    context = {
        "state": state,
        "model_version": payload["model_version"],
        "model_now": MODEL_VERSION,
        "made": told.made,
        "address": told.address,
        "style": Markup("<style>{}</style>").format(Markup(style)),  # noqa: S704  (our own file)
        "policy": f"default-src 'none'; style-src '{_digest(style)}'; img-src data:; "
        "base-uri 'none'; form-action 'none'",
        "opens_with": NAMES[units],
        "marks": marks_of(state.study),
        "bodies": [
            (NAMES[system], _body(told, system, same_model=same_model)) for system in UnitSystem
        ],
    }
    return environment(units).get_template("shared/away/study_file.html").render(context)


def _body(told: Told, system: UnitSystem, *, same_model: bool) -> Markup:
    """Return the part of the file that reads in one system of units."""
    state, study = told.state, told.state.study
    marks = marks_of(study)
    name = NAMES[system]
    context: dict[str, Any] = {
        "mark": name,
        "columns": marks,
        "same_model": same_model,
        "thumbnails": thumbnails_of(study, [mark.key for mark in marks], state.revision.hash),
        "draws": told.payload.get("draws", 0),
        **whole_table(told.payload, state, system),
        "drawings": [(mark, _drawing(state, mark, system)) for mark in marks],
        "choice": None,
    }
    if same_model:
        tables = charts_context(study, NOWHERE, system)
        plots = chart_plots(study, system, mark=name)
        context |= {
            "chart_marks": tables["chart_marks"],
            "plots": [
                (chart, plot, one["table"])
                for (chart, plot), one in zip(plots, tables["charts"], strict=True)
            ],
            **schedule_context(told.plan, study, NOWHERE, system),
        }
        if told.decision["criteria"]:
            context["choice"] = decide_context(told.decision, told.payload, study, NOWHERE, system)
    template = environment(system).get_template("shared/away/study_body.html")
    return Markup(template.render(context))  # noqa: S704  (rendered with autoescape)


def _drawing(state: StudyState, mark: CandidateMark, system: UnitSystem) -> Any:
    return drawing_of(fit_scene(state.study, state.study.candidate(mark.key)), system)


@cache
def _style() -> str:
    folder = data_folder("static") / "css"
    return "\n".join((folder / name).read_text(encoding="utf-8") for name in STYLES)


def _digest(text: str) -> str:
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"
