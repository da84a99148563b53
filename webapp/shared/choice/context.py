"""What the pages of a decision show: words, pictures, and the matrix behind them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.study.schema import Study
from models.trade.choosing import gate_words
from models.units import UnitSystem
from webapp.shared.candidates import CandidateMark, marks_of
from webapp.shared.choice.measures import Measure, figures_of, measures_of, percent
from webapp.shared.choice.pictures import (
    SCORE_TICKS,
    SHARE_TICKS,
    RankPicture,
    rank_picture,
    score_bars,
)
from webapp.shared.choice.words import (
    flips,
    lead_words,
    marks_by_key,
    no_flip_words,
    range_words,
    remarks,
    score_words,
    shortfall_words,
    weightings_words,
)
from webapp.shared.links import StudyLinks

VALUE_DECIMALS = 2


@dataclass(frozen=True)
class MatrixCell:
    """One candidate's figure: its text, and under it how it counts."""

    text: str
    note: str = ""
    css: str = ""
    sign: str = ""
    value: float | None = None
    """How far the bar under it reaches [%], None where there is none."""


@dataclass(frozen=True)
class MatrixRow:
    """One gate or one criterion."""

    name: str
    weight: str
    ends: tuple[str, ...]
    cells: tuple[MatrixCell, ...]
    metric: str = ""


def decide_context(
    decision: Mapping[str, Any],
    payload: Mapping[str, Any],
    study: Study,
    links: StudyLinks,
    system: UnitSystem,
) -> dict[str, Any]:
    """Return what `shared/choice/choice.html` shows; `payload` is the whole evaluation."""
    marks = marks_of(study)
    by_key = marks_by_key(marks)
    figures = figures_of(payload)
    lines = [*decision["gates"], *decision["criteria"]]
    measures = measures_of([line["metric"] for line in lines], figures, system)
    ranked = bool(decision["leader"])
    return {
        "decision_lead": lead_words(decision, by_key),
        "decision_weightings": weightings_words(decision, by_key),
        "decision_flips": flips(decision, by_key),
        "decision_no_flip": no_flip_words(decision, by_key) if ranked else "",
        "decision_remarks": remarks(decision, by_key, measures, system),
        "decision_scores": score_bars(decision, by_key) if decision["criteria"] else (),
        "decision_ranks": rank_pictures(decision, by_key) if ranked else (),
        "decision_marks": marks,
        "decision_gates": _gate_rows(decision, marks, measures, system),
        "decision_criteria": _criterion_rows(decision, marks, figures, measures),
        "decision_totals": _total_row(decision, marks),
        "decision_draws": decision["draws"],
        "score_ticks": SCORE_TICKS,
        "share_ticks": SHARE_TICKS,
        "decide_address": links.decide(),
        "matters_address": links.matters(candidate=decision["leader"], metric="score"),
    }


def rank_pictures(
    decision: Mapping[str, Any], marks: Mapping[str, CandidateMark]
) -> tuple[RankPicture, ...]:
    """Return how often each takes which rank: under the team's weights, and under any."""
    rows = {one["key"]: one for one in decision["candidates"]}
    pictures = []
    if decision["draws"]:
        pictures.append(
            rank_picture(
                "ranks-team",
                "Under your weights",
                f"Over {decision['draws']:,} draws of the uncertain inputs.",
                {key: rows[key]["team_ranks"] for key in decision["order"]},
                marks,
            )
        )
    if len(decision["criteria"]) > 1:
        pictures.append(
            rank_picture(
                "ranks-any",
                "Under any weights at all",
                f"Over {decision['weightings']:,} weightings drawn evenly from all there are"
                + (", each with a draw of the inputs." if decision["draws"] else "."),
                {key: rows[key]["rank_acceptability"] for key in decision["order"]},
                marks,
            )
        )
    return tuple(pictures)


def _gate_rows(
    decision: Mapping[str, Any],
    marks: Sequence[CandidateMark],
    measures: Mapping[str, Measure],
    system: UnitSystem,
) -> list[MatrixRow]:
    rows = {one["key"]: one for one in decision["candidates"]}
    return [
        MatrixRow(
            name=gate_words(gate, system),
            weight="must",
            ends=(),
            cells=tuple(
                _gate_cell(gate, rows[mark.key]["gates"][place], measures[gate["metric"]])
                for mark in marks
            ),
            metric=gate["metric"],
        )
        for place, gate in enumerate(decision["gates"])
    ]


def _gate_cell(gate: Mapping[str, Any], result: Mapping[str, Any], measure: Measure) -> MatrixCell:
    value, passes = result["value"], result["passes"]
    if passes is None:
        return MatrixCell("not known", "does not pass", "bad", "✕")
    truth = isinstance(value, bool)
    if passes:
        return MatrixCell("passes" if truth else measure.words(value), "" if truth else "passes",
                          "good", "✓")  # fmt: skip
    missed = shortfall_words(gate, value, measure).rpartition(", ")[2]
    note = "" if truth else f"fails, {missed}" if gate["is"] is None else "fails"
    return MatrixCell("fails" if truth else measure.words(value), note, "bad", "✕")


def _criterion_rows(
    decision: Mapping[str, Any],
    marks: Sequence[CandidateMark],
    figures: Mapping[str, Mapping[str, Any]],
    measures: Mapping[str, Measure],
) -> list[MatrixRow]:
    rows = {one["key"]: one for one in decision["candidates"]}
    found = []
    for line in decision["criteria"]:
        measure = measures[line["metric"]]
        found.append(
            MatrixRow(
                name=measure.name,
                weight=percent(line["share"]),
                ends=(measure.end(line["worst"]), measure.end(line["best"])),
                cells=tuple(
                    _criterion_cell(
                        figures[mark.key].get(line["metric"]),
                        rows[mark.key]["values"].get(line["metric"]),
                        measure,
                    )
                    for mark in marks
                ),
                metric=line["metric"],
            )
        )
    return found


def _criterion_cell(figure: Any, value: float | None, measure: Measure) -> MatrixCell:
    if value is None:
        return MatrixCell(measure.words(figure), "not scored", "watch")
    return MatrixCell(
        measure.words(figure), f"{value:.{VALUE_DECIMALS}f}", value=round(100.0 * value, 1)
    )


def _total_row(decision: Mapping[str, Any], marks: Sequence[CandidateMark]) -> list[MatrixCell]:
    rows = {one["key"]: one for one in decision["candidates"]}
    cells = []
    for mark in marks:
        one = rows[mark.key]
        out = "out" if one["failed_gates"] else ""
        cells.append(MatrixCell(score_words(one["score"]), range_words(one), sign=out))
    return cells
