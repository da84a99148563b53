"""What the side-by-side comparison shows: verdict, thumbnails, table, notes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from markupsafe import Markup

from models.quantities import Metric
from models.services import StudyState
from models.study.schema import Study
from models.trade.comparison import (
    Cell,
    Comparison,
    Row,
    compare,
    difference_words,
    is_number,
    row_style,
    value_words,
)
from models.trade.verdict import Sentence, verdict
from models.units import UnitSystem, display_unit, show_bare
from webapp.shared.candidates import CandidateMark, chosen, marks_of
from webapp.shared.comparison.meanings import Meaning, meaning_of
from webapp.shared.drawings.context import thumbnails_of
from webapp.shared.links import StudyLinks
from webapp.templating import environment

SHOWN_AT_MOST = 5
FIRST_REMARKS = 6
"""Sentences of the verdict that stand in sight; of the rest only failures do."""

DIFFERENCE_STYLES = {"tie": "faint", "same": "faint", "better": "good", "worse": "watch"}
"""Style class of a difference, by its verdict."""

PASSED, FAILED = "✓", "✕"

TRUTH_WORDS = {
    ("fits", True): (PASSED, "fits"),
    ("fits", False): (FAILED, "does not fit"),
    ("browns_out", True): (FAILED, "browns out"),
    ("browns_out", False): (PASSED, "holds"),
}
"""Mark and words of the truths."""

SHORTFALLS = {
    "worst_clearance_margin_m": "too tight",
    "legal_mass_margin_kg": "over the limit",
    "perimeter_margin_m": "over the limit",
    "height_margin_m": "over the limit",
    "route_margin_s": "too late",
}
"""Rows in which a figure below zero fails, and the words for it."""


@dataclass(frozen=True)
class CellView:
    """One cell as the page prints it."""

    key: str
    text: str
    note: str
    difference: str
    css: str
    sign: str
    """✓ or ✕ before a truth that passes or fails, "" elsewhere."""
    best: bool
    missing: bool
    span: str
    """Where the figure lies in eight of ten draws of the uncertain inputs, "" if it is sure."""


@dataclass(frozen=True)
class RowView:
    """One row as the page prints it."""

    key: str
    name: str
    unit: str
    sentence: str
    meaning: Meaning
    cells: tuple[CellView, ...]
    differs: bool
    route: str
    """The route that it is a figure of, "" for all other figures."""
    page: str = ""
    """The page that shows more of it: power, wiring, or "" for none."""


@dataclass(frozen=True)
class GroupView:
    """The rows that answer one question."""

    key: str
    words: str
    rows: tuple[RowView, ...]
    hidden: int
    """Rows left out because nothing differs in them."""


@dataclass(frozen=True)
class NotesView:
    """What is worth knowing about one candidate's inputs."""

    mark: CandidateMark
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Figures:
    """Figures that are known by document and model alone, so that their table can be kept."""

    document_hash: str
    model_version: str
    payload: Mapping[str, Any] = field(compare=False)
    study: Study = field(compare=False)


@dataclass(frozen=True)
class _Table:
    """Everything on the page that follows from the figures alone."""

    leads: tuple[Sentence, ...]
    remarks: tuple[Sentence, ...]
    more_remarks: tuple[Sentence, ...]
    groups: tuple[GroupView, ...]


@lru_cache(maxsize=64)
def _table(figures: _Figures, shown: tuple[str, ...], system: UnitSystem, only: bool) -> _Table:
    comparison = compare(figures.payload, shown)
    sentences = verdict(figures.payload, figures.study, system)
    remarks = [sentence for sentence in sentences if sentence.kind != "lead"]
    in_sight = [
        sentence
        for place, sentence in enumerate(remarks)
        if place < FIRST_REMARKS or sentence.kind == "bad"
    ]
    return _Table(
        leads=tuple(sentence for sentence in sentences if sentence.kind == "lead"),
        remarks=tuple(in_sight),
        more_remarks=tuple(sentence for sentence in remarks if sentence not in in_sight),
        groups=tuple(_groups(comparison, system, only)),
    )


@lru_cache(maxsize=64)
def _table_html(
    figures: _Figures,
    shown: tuple[str, ...],
    system: UnitSystem,
    *,
    only: bool,
    beside: str | None,
    links: StudyLinks,
    ranges: bool,
) -> Markup:
    """Return the rendered table: a hundred kilobytes that change with the figures only."""
    study = figures.study
    context = {
        "columns": chosen(marks_of(study), shown),
        "thumbnails": thumbnails_of(study, shown, figures.document_hash),
        "groups": [group for group in _table(figures, shown, system, only).groups if group.rows],
        "beside": beside,
        "links": links,
        "ranges": ranges,
    }
    template = environment(system).get_template("shared/comparison/table.html")
    return Markup(template.render(context))  # noqa: S704  (rendered with autoescape)


def comparison_context(
    payload: Mapping[str, Any],
    state: StudyState,
    links: StudyLinks,
    system: UnitSystem,
    *,
    show: Sequence[str] | None,
    only: bool,
    beside: str | None = None,
    ranges: bool = False,
) -> dict[str, Any]:
    """Return what `shared/comparison/comparison.html` shows.

    `show` are the candidates asked for (five at most are shown), `only` hides rows in which
    nothing differs, `beside` is the one that a phone puts beside the baseline, `ranges` adds to
    each figure where it lies in eight of ten draws.
    """
    study = state.study
    marks = marks_of(study)
    shown = shown_keys(marks, show)
    figures = _Figures(state.revision.hash, str(payload["model_version"]), payload, study)
    table = _table(figures, tuple(shown), system, only)
    shown_marks = [mark for mark in marks if mark.key in shown]
    others = [mark for mark in shown_marks if not mark.baseline]
    keys = [mark.key for mark in others]
    beside = beside if beside in keys else _first(payload, keys)
    only_words = "differences" if only else None
    return {
        "leads": table.leads,
        "remarks": table.remarks,
        "more_remarks": table.more_remarks,
        "columns": shown_marks,
        "all_marks": marks,
        "table": _table_html(
            figures, tuple(shown), system, only=only, beside=beside, links=links, ranges=ranges
        ),
        "draws": payload.get("draws", 0),
        "groups": [group for group in table.groups if group.rows],
        "hidden_rows": sum(group.hidden for group in table.groups),
        "only_differences": only,
        "beside": beside,
        "beside_choices": [
            (mark, links.overview(shown if show else None, only_words, mark.key)) for mark in others
        ],
        "notes": list(_notes(payload, shown_marks)),
        "shown_at_most": SHOWN_AT_MOST,
        "overview_url": links.overview(),
    }


def whole_table(
    payload: Mapping[str, Any], state: StudyState, system: UnitSystem
) -> dict[str, Any]:
    """Return verdict, rows of all candidates and notes, for a file that shows everything."""
    marks = marks_of(state.study)
    figures = _Figures(state.revision.hash, str(payload["model_version"]), payload, state.study)
    table = _table(figures, tuple(mark.key for mark in marks), system, False)
    return {
        "leads": table.leads,
        "remarks": (*table.remarks, *table.more_remarks),
        "groups": [group for group in table.groups if group.rows],
        "notes": list(_notes(payload, marks)),
    }


def shown_keys(marks: Sequence[CandidateMark], show: Sequence[str] | None) -> list[str]:
    """Return the keys of the columns: those asked for and the baseline, five at most, in order."""
    asked = set(show or []) & {mark.key for mark in marks}
    wanted = [mark for mark in marks if not asked or mark.key in asked or mark.baseline]
    baseline = [mark.key for mark in wanted if mark.baseline]
    rest = [mark.key for mark in wanted if not mark.baseline]
    kept = set(baseline + rest[: SHOWN_AT_MOST - len(baseline)])
    return [mark.key for mark in marks if mark.key in kept]


def _first(payload: Mapping[str, Any], keys: Sequence[str]) -> str | None:
    """Return the candidate that a phone shows first beside the baseline: one that fits, if any."""
    fitting = [
        one["key"]
        for one in payload["candidates"]
        if one["key"] in keys and one["metrics"].get("fits")
    ]
    return str(fitting[0]) if fitting else (keys[0] if keys else None)


def _groups(comparison: Comparison, system: UnitSystem, only: bool) -> Iterable[GroupView]:
    for group in comparison.groups:
        rows = [row for row in group.rows if row.differs or not only]
        yield GroupView(
            group.question,
            group.words,
            tuple(_row_view(row, system) for row in rows),
            len(group.rows) - len(rows),
        )


def _row_view(row: Row, system: UnitSystem) -> RowView:
    unit = row.metric.unit
    small, decimals = row_style(row, system)
    return RowView(
        key=row.metric.key,
        name=row.metric.name,
        unit=display_unit(unit, system, small=small),
        sentence=row.metric.sentence,
        meaning=meaning_of(row.metric.key),
        cells=tuple(_cell_view(row, cell, system, small, decimals) for cell in row.cells),
        differs=row.differs,
        route=row.metric.key.partition(":")[2] if row.metric.key.startswith("route_") else "",
        page=_page_of(row.metric),
    )


def _page_of(metric: Metric) -> str:
    """Return the page that shows more of a figure that a match on a battery makes."""
    if metric.made_by != "power":
        return ""
    return "wiring" if metric.key.endswith("_free") else "power"


def _cell_view(row: Row, cell: Cell, system: UnitSystem, small: bool, decimals: int) -> CellView:
    sign, text = _figure(row, cell, system, small, decimals)
    return CellView(
        key=cell.key,
        sign=sign,
        text=text,
        note=cell.note or _shortfall(row, cell),
        difference=difference_words(row, cell, system),
        css=DIFFERENCE_STYLES.get(cell.verdict, ""),
        best=cell.best,
        missing=cell.value is None,
        span=_span(row, cell, system, small, decimals),
    )


def _span(row: Row, cell: Cell, system: UnitSystem, small: bool, decimals: int) -> str:
    """Return the range of a figure: '7.8 to 8.9', with how often there is such a figure at all."""
    span = cell.span
    if span is None:
        return ""
    if isinstance(cell.value, bool):
        return "" if span.low == span.high else "not in every draw"
    low, high = (
        show_bare(end, row.metric.unit, system, small=small, decimals=decimals)
        for end in (span.low, span.high)
    )
    words = f"{low} to {high}" if low != high else f"{low} in 8 of 10"
    return words if span.exists >= 1.0 else f"{words}; none in {1.0 - span.exists:.0%}"


def _figure(
    row: Row, cell: Cell, system: UnitSystem, small: bool, decimals: int
) -> tuple[str, str]:
    """Return the mark and the text of a figure; its unit stands in the head of the row."""
    value, key = cell.value, row.metric.key
    if isinstance(value, bool):
        return TRUTH_WORDS.get((key, value), ("", value_words(row, cell, system)))
    if not is_number(value):
        return "", value_words(row, cell, system)
    number = float(value)  # type: ignore[arg-type]
    text = show_bare(number, row.metric.unit, system, small=small, decimals=decimals)
    fails = bool(_shortfall(row, cell)) or (key == "overlap_m3" and number > 0)
    return (FAILED if fails else ""), text


def _shortfall(row: Row, cell: Cell) -> str:
    """Return what is wrong with a margin below zero."""
    words = SHORTFALLS.get(row.metric.key.split(":", maxsplit=1)[0], "")
    return words if is_number(cell.value) and float(cell.value) < 0 else ""  # type: ignore[arg-type]


def _notes(payload: Mapping[str, Any], shown: Sequence[CandidateMark]) -> Iterable[NotesView]:
    notes = {one["key"]: tuple(one["notes"]) for one in payload["candidates"]}
    for mark in shown:
        if notes[mark.key]:
            yield NotesView(mark, notes[mark.key])
