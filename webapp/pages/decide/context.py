"""What the pages of a decision show editors: the result, and the form of gates and criteria."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.errors import Fault, StudyRefusedError
from models.services import StudyState, decision_of_state, typed_decision_of, whole_evaluation_of
from webapp.pages.decide.form import (
    CRITERIA,
    GATES,
    LIMITS,
    SECTION,
    DecisionForm,
    DecisionRows,
    Row,
    names_of,
    shown_decision,
    stored_rows,
)
from webapp.shared.candidates import marks_of
from webapp.shared.choice.context import decide_context
from webapp.shared.choice.measures import TRUTHS, figures_of, metric_groups, percent
from webapp.shared.choice.pictures import score_bars
from webapp.shared.choice.words import flips, lead_words, marks_by_key
from webapp.shared.editing import ConflictView, Posted, Visit, changed_sections, save_bar
from webapp.shared.inputs import InputView, faults_by_name
from webapp.shared.links import StudyLinks

LABELS = {
    "metric": "Figure",
    "at_least": "At least",
    "at_most": "At most",
    "is": "Is",
    "weight": "Weight",
    "worst": "Worst, counts 0",
    "best": "Best, counts 1",
}
GATE_KINDS = ("number", "truth", "word")
CRITERION_KINDS = ("number",)


@dataclass(frozen=True)
class RowView:
    """One gate or criterion as boxes."""

    name: str
    was: str
    words: str
    """How its buttons call it."""
    boxes: Mapping[str, InputView]
    unit: str
    share: str
    """Of all weights, "" where that is not known."""
    about: str
    """What the candidates have."""
    note: str


def page_context(
    visit: Visit,
    state: StudyState,
    *,
    posted: Posted | None = None,
    form: DecisionForm | None = None,
    faults: Sequence[Fault] = (),
    conflict: ConflictView | None = None,
) -> dict[str, Any]:
    """Return what the page shows: the saved result, and the form as saved or as typed."""
    links = StudyLinks.of_state(state)
    payload = whole_evaluation_of(visit.store, state)
    figures = figures_of(payload)
    system = posted.system if posted else visit.units
    rows = form.rows if form else stored_rows(state.study, figures, system)
    value = form.value if form else (state.document.get(SECTION) or {})
    by_name, summary = faults_by_name(faults, [()], names_of(rows))
    changed = form is not None and bool(changed_sections(state.document, form.edits))
    unsaved = posted if changed or conflict or faults else None
    decision = decision_of_state(visit.store, state)
    return {
        "state": state,
        "links": links,
        "nav": "decide",
        "units_of_form": system,
        "gate_rows": row_views(rows, GATES, by_name, figures, value),
        "criterion_rows": row_views(rows, CRITERIA, by_name, figures, value),
        "gate_groups": metric_groups(figures, system, GATE_KINDS),
        "criterion_groups": metric_groups(figures, system, CRITERION_KINDS),
        "bar": save_bar(state, visit, unsaved),
        "summary": summary,
        "conflict": conflict,
        "focus": form.focus if form and not summary else "",
        "form_address": links.decide(),
        "live_address": f"{links.decide()}/live",
        "swing_address": f"{links.decide()}/swing",
        **decide_context(decision, payload, state.study, links, visit.units),
        **now_context(visit, state, form),
    }


def now_context(visit: Visit, state: StudyState, form: DecisionForm | None) -> dict[str, Any]:
    """Return what live.html shows: who leads as typed at this moment, and what would flip it."""
    marks = marks_by_key(marks_of(state.study))
    faults = [fault.message for fault in form.faults] if form else []
    decision: Mapping[str, Any] | None = None
    if form is None or not changed_sections(state.document, form.edits):
        decision = decision_of_state(visit.store, state)
    elif not faults:
        try:
            decision = typed_decision_of(visit.store, state, form.edits[SECTION])
        except StudyRefusedError as refused:
            faults = [fault.message for fault in refused.faults]
    if decision is None:
        return {"now_faults": faults, "now_lead": "", "now_scores": (), "now_flips": []}
    weighed = bool(decision["criteria"])
    return {
        "now_faults": faults,
        "now_lead": lead_words(decision, marks),
        "now_scores": score_bars(decision, marks) if weighed else (),
        "now_flips": flips(decision, marks),
    }


def row_views(
    rows: DecisionRows,
    table: str,
    faults: Mapping[str, Sequence[str]],
    figures: Mapping[str, Mapping[str, Any]],
    value: Mapping[str, Any],
) -> list[RowView]:
    """Return the rows of one table as boxes; `value` is the decision as a study would keep it."""
    found = rows.of(table)
    shares = shown_decision(value, found) if table == CRITERIA else [None] * len(found)
    views = []
    for place, (row, share) in enumerate(zip(found, shares, strict=True)):
        name = f"{SECTION}.{table}.{place}"
        one = "gate" if table == GATES else "criterion"
        views.append(
            RowView(
                name=name,
                was=row.was,
                words=row.measure.name if row.measure else f"new {one}",
                boxes={
                    leaf: _box(f"{name}.{leaf}", leaf, row, faults, figures)
                    for leaf in _shown_boxes(row, table, faults, name)
                },
                unit=row.measure.text if row.measure else "",
                share="" if share is None else percent(share),
                about=_about(row, figures),
                note=row.note,
            )
        )
    return views


def _shown_boxes(row: Row, table: str, faults: Mapping[str, Sequence[str]], name: str) -> list[str]:
    """Return which boxes a row needs: limits for a number, a choice for a truth or a word."""
    if table == CRITERIA:
        return ["metric", "weight", "worst", "best"]
    kind = row.measure.kind if row.measure else ""
    wanted = {"": (*LIMITS, "is"), "number": LIMITS}.get(kind, ("is",))
    others = [
        leaf
        for leaf in (*LIMITS, "is")
        if leaf not in wanted and (row.texts[leaf] or faults.get(f"{name}.{leaf}"))
    ]
    return ["metric", *wanted, *others]


def _box(
    name: str,
    leaf: str,
    row: Row,
    faults: Mapping[str, Sequence[str]],
    figures: Mapping[str, Mapping[str, Any]],
) -> InputView:
    number = leaf not in ("metric", "is")
    text = row.texts[leaf]
    unit = row.measure.text if number and row.measure and leaf != "weight" else ""
    return InputView(
        name=name,
        label=LABELS[leaf],
        kind="number" if number else "choice",
        unit=unit,
        hint="",
        text=text,
        choices=() if leaf == "metric" else _is_choices(row, figures),
        chosen=(text,) if text else (),
        required=leaf != "is" or row.measure is not None,
        empty_means="",
        meaning="",
        estimate=None,
        faults=tuple(faults.get(name, ())),
        never_negative=leaf == "weight",
        takes_chain=False,
    )  # fmt: skip


def _is_choices(row: Row, figures: Mapping[str, Mapping[str, Any]]) -> tuple[tuple[str, str], ...]:
    """Return what a gate may ask a figure to be: yes, no, or a word that a candidate has."""
    if row.measure is None or row.measure.kind == "truth":
        return tuple((word, word) for word in TRUTHS.values())
    key = row.measure.key
    words = dict.fromkeys(own.get(key) for own in figures.values())
    return tuple((word, word) for word in words if isinstance(word, str))


def _about(row: Row, figures: Mapping[str, Mapping[str, Any]]) -> str:
    """Return from what to what the candidates' figures reach."""
    measure = row.measure
    if measure is None or measure.kind != "number":
        return ""
    given = [own.get(measure.key) for own in figures.values()]
    numbers = sorted(float(one) for one in given if one is not None)
    if not numbers:
        return "no candidate has it"
    low, high = measure.bare(numbers[0]), measure.bare(numbers[-1])
    if low == high:
        return f"all candidates {measure.words(numbers[0])}"
    return f"candidates {low} to {measure.words(numbers[-1])}"
