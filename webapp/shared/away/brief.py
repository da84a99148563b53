"""A study in a few lines: verdict, and the leader's headline figures against today's base."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from models.services import StudyState
from models.study.schema import Study
from models.trade.comparison import Cell, Comparison, Row, compare, difference_words, value_words
from models.trade.verdict import Sentence, verdict
from models.units import UnitSystem
from webapp.shared.candidates import CandidateMark, marks_of

MOST_FIGURES = 4
HEADLINES = (
    "sprint_stop_time_s",
    "push_force_n",
    "ready_probability",
    "turn90_s",
    "min_bus_voltage_v",
    "legal_mass_kg",
    "top_speed_mps",
)
"""What stands in the summary beside the first cycle, weightiest first, as far as it exists."""
SIGNS = {"good": "✓", "watch": "!", "bad": "✕"}
LONGEST_DESCRIPTION = 280
"""Characters of a verdict that chat programs show at most."""


@dataclass(frozen=True)
class BriefFigure:
    """One headline figure of the leader."""

    name: str
    value: str
    difference: str
    """Against today's base, "" where there is nothing to compare with."""
    verdict: str
    """better, worse, tie, same, baseline or none."""


@dataclass(frozen=True)
class Brief:
    """The short summary of a study."""

    name: str
    lead: str
    remarks: tuple[Sentence, ...]
    leader: CandidateMark
    today: CandidateMark
    figures: tuple[BriefFigure, ...]

    @property
    def description(self) -> str:
        """The verdict, cut at a word where it is longer than chat programs show."""
        if len(self.lead) <= LONGEST_DESCRIPTION:
            return self.lead
        return f"{self.lead[: LONGEST_DESCRIPTION - 1].rsplit(' ', 1)[0]}…"


@dataclass(frozen=True)
class _Figures:
    """Figures that are known by document and model alone."""

    document_hash: str
    model_version: str
    payload: Mapping[str, Any] = field(compare=False)
    study: Study = field(compare=False)


def brief_of(payload: Mapping[str, Any], state: StudyState, system: UnitSystem) -> Brief:
    """Return the short summary of an evaluated study."""
    figures = _Figures(state.revision.hash, str(payload["model_version"]), payload, state.study)
    return _brief(figures, system)


@lru_cache(maxsize=64)
def _brief(figures: _Figures, system: UnitSystem) -> Brief:
    study, payload = figures.study, figures.payload
    sentences = verdict(payload, study, system)
    marks = {mark.key: mark for mark in marks_of(study)}
    today = marks[study.baseline.key]
    lead = next(sentence for sentence in sentences if sentence.kind == "lead")
    leader = (
        marks[lead.candidates[0]]
        if lead.candidates and len(lead.candidates) < len(marks)
        else today
    )
    return Brief(
        name=study.name,
        lead=lead.text,
        remarks=tuple(one for one in sentences if one.kind in ("bad", "watch")),
        leader=leader,
        today=today,
        figures=tuple(_headlines(compare(payload), leader.key, system)),
    )


def _headlines(comparison: Comparison, key: str, system: UnitSystem) -> list[BriefFigure]:
    rows = {row.metric.key: row for group in comparison.groups for row in group.rows}
    cycle = next((name for name in rows if name.startswith("route_s:")), "")
    wanted = [rows[name] for name in (cycle, *HEADLINES) if name in rows]
    given = [(row, row.cell(key)) for row in wanted if row.cell(key).value is not None]
    return [_figure(row, cell, system) for row, cell in given[:MOST_FIGURES]]


def _figure(row: Row, cell: Cell, system: UnitSystem) -> BriefFigure:
    return BriefFigure(
        name=row.metric.name,
        value=value_words(row, cell, system),
        difference=difference_words(row, cell, system),
        verdict=cell.verdict,
    )


def brief_text(brief: Brief, state: StudyState, address: str = "") -> str:
    """Return the summary as plain text for a chat, with the link at its end where there is one."""
    lines = [brief.name, "", brief.lead]
    lines += [f"{SIGNS[one.kind]} {one.text}" for one in brief.remarks if one.kind == "bad"]
    if brief.figures:
        lines += ["", f"{figures_of_words(brief)}:"]
        lines += [
            f"• {one.name}: {one.value}" + (f" ({one.difference})" if one.difference else "")
            for one in brief.figures
        ]
    revision = f"Revision {state.revision.number}, hash {state.revision.hash[:16]}."
    lines += ["", f"{revision} All figures are estimates."]
    return "\n".join([*lines, *([address] if address else [])])


def figures_of_words(brief: Brief) -> str:
    """Return whose figures stand in the summary, and against what."""
    leader = f"{brief.leader.letter} {brief.leader.name}"
    if brief.leader.baseline:
        return f"{leader}, today's base"
    return f"{leader}, against {brief.today.letter} {brief.today.name} of today"
