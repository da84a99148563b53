"""What the ballot shows: the question, the candidates' figures, the form or what was said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.errors import Fault
from models.services import Ballot, BallotRound
from models.units import UnitSystem
from webapp.pages.ballot.form import Typed
from webapp.shared.ballots.figures import Scale, frozen_marks, per_cent
from webapp.shared.ballots.said import change_words
from webapp.shared.candidates import CandidateMark


@dataclass(frozen=True)
class CriterionRow:
    """One criterion: its figures, its swing, and its box."""

    metric: str
    name: str
    unit: str
    swing: str
    figures: tuple[str, ...]
    points: str
    fault: str


@dataclass(frozen=True)
class Choice:
    """A candidate to prefer."""

    mark: CandidateMark
    fails: tuple[str, ...]


@dataclass(frozen=True)
class OwnBallot:
    """The member's ballot as it counts."""

    ballot: Ballot
    code: str
    preference: CandidateMark | None
    weights: tuple[tuple[str, str, str], ...]
    """Name, points and share of each criterion, the weightiest first."""


def ballot_context(
    found: BallotRound,
    study_name: str,
    token: str,
    units: UnitSystem,
    typed: Typed,
    *,
    own: OwnBallot | None = None,
    faults: Sequence[Fault] = (),
    cast: bool = False,
    code_fault: str = "",
    late: str = "",
) -> dict[str, Any]:
    """Return what the ballot page shows.

    `own` is the ballot that this browser can change; `cast` is true just after voting; `late` is
    the sentence for a ballot that came after the end.
    """
    by_place = {fault.place: fault.message for fault in faults}
    return {
        "round": found,
        "study_name": study_name,
        "token": token,
        "rows": [_row(item, found, units, typed, by_place) for item in found.criteria],
        "choices": [
            Choice(mark, tuple(one.get("fails", ())))
            for mark, one in zip(frozen_marks(found.candidates), found.candidates, strict=True)
        ],
        "typed": typed,
        "own": own,
        "faults": faults,
        "fault_of": by_place,
        "cast": cast,
        "code_fault": code_fault,
        "late": late,
    }


def own_ballot(found: BallotRound, ballot: Ballot, code: str) -> OwnBallot:
    """Return a member's ballot in words."""
    marks = {mark.key: mark for mark in frozen_marks(found.candidates)}
    names = {str(item["metric"]): str(item["name"]) for item in found.criteria}
    total = sum(ballot.weights.values()) or 1.0
    ordered = sorted(ballot.weights.items(), key=lambda item: -item[1])
    return OwnBallot(
        ballot=ballot,
        code=code,
        preference=marks.get(ballot.preference),
        weights=tuple(
            (names.get(metric, metric), f"{value:g}", per_cent(value / total))
            for metric, value in ordered
        ),
    )


def _row(
    item: Mapping[str, Any],
    found: BallotRound,
    units: UnitSystem,
    typed: Typed,
    faults: Mapping[str, str],
) -> CriterionRow:
    metric = str(item["metric"])
    values = [one.get("values", {}).get(metric) for one in found.candidates]
    scale = Scale.of(values, item["unit"], units, item.get("currency", ""))
    return CriterionRow(
        metric=metric,
        name=str(item["name"]),
        unit=scale.unit_words,
        swing=change_words(item, units),
        figures=tuple(scale.bare(value) for value in values),
        points=typed.points.get(metric, ""),
        fault=faults.get(f"points.{metric}", ""),
    )
