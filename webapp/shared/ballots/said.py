"""What members said in their ballots: spread of weights, preferences, who wins for whom."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.trade.ballot_spread import spread_of, spread_words
from models.trade.phrases import listed
from models.units import UnitSystem
from webapp.shared.ballots.figures import Scale, per_cent
from webapp.shared.candidates import CandidateMark

STRIP_MARGIN = 3.0
"""Per cent of a strip's width left free on either side, so that no mark is cut."""
MARK_HEIGHT = 10
"""Pixels by which marks on the same points stand over each other."""


@dataclass(frozen=True)
class Dot:
    """One member's mark on a strip."""

    x: float
    y: float


@dataclass(frozen=True)
class Strip:
    """One criterion: every member's points on a line from 0 to 100."""

    name: str
    ends: str
    """The change from worst to best, in words."""
    words: str
    is_split: bool
    low: str
    median: str
    high: str
    dots: tuple[Dot, ...]
    median_x: float
    height: int


@dataclass(frozen=True)
class VoterRow:
    """One ballot in words."""

    name: str
    preference: CandidateMark | None
    winner: CandidateMark | None
    leads_elsewhere: bool
    """The weights lead to another candidate than the preferred one."""
    reason: str
    points: tuple[str, ...]
    """Of each criterion."""


@dataclass(frozen=True)
class ShareRow:
    """In what share of weightings one candidate comes first, second …"""

    mark: CandidateMark
    shares: tuple[str, ...]
    first: float
    """In per cent, for the bar."""


@dataclass(frozen=True)
class Said:
    """Everything that a page shows of ballots."""

    lead: tuple[str, ...]
    strips: tuple[Strip, ...]
    voters: tuple[VoterRow, ...]
    criteria: tuple[str, ...]
    shares: tuple[ShareRow, ...]
    ranks: tuple[str, ...]


def said_in(
    criteria: Sequence[Mapping[str, Any]],
    voters: Sequence[Mapping[str, Any]],
    marks: Sequence[CandidateMark],
    decision: Mapping[str, Any] | None,
    system: UnitSystem,
) -> Said:
    """Return ballots in words.

    `criteria` have metric, name, unit, worst, best; `voters` name, weights, preference, reason;
    `decision` is what `models.trade.deciding` made of them, None where they are not weighed.
    """
    by_key = {mark.key: mark for mark in marks}
    found = (decision or {}).get("ballots") or {"voters": []}
    winners = {one["name"]: one["winner"] for one in found["voters"]}
    rows = tuple(_voter(one, by_key, winners, criteria) for one in voters)
    return Said(
        lead=tuple(_lead(rows, marks, weighed=bool(found["voters"]))) if rows else (),
        strips=tuple(_strip(item, voters, system) for item in criteria) if voters else (),
        voters=rows,
        criteria=tuple(str(item["name"]) for item in criteria),
        shares=tuple(_shares(decision, by_key)) if decision else (),
        ranks=_ranks(decision) if decision else (),
    )


def change_words(criterion: Mapping[str, Any], system: UnitSystem) -> str:
    """Return what a criterion's swing is: 'from 3.00 s to 2.00 s'."""
    ends = [criterion["worst"], criterion["best"]]
    scale = Scale.of(ends, criterion["unit"], system, criterion.get("currency", ""))
    return f"from {scale.text(ends[0])} to {scale.text(ends[1])}"


def _voter(
    one: Mapping[str, Any],
    by_key: Mapping[str, CandidateMark],
    winners: Mapping[str, str | None],
    criteria: Sequence[Mapping[str, Any]],
) -> VoterRow:
    winner = winners.get(one["name"])
    return VoterRow(
        name=one["name"],
        preference=by_key.get(one["preference"]),
        winner=by_key.get(winner) if winner else None,
        leads_elsewhere=winner is not None and winner != one["preference"],
        reason=one["reason"],
        points=tuple(f"{one['weights'].get(item['metric'], 0.0):g}" for item in criteria),
    )


def _strip(
    item: Mapping[str, Any], voters: Sequence[Mapping[str, Any]], system: UnitSystem
) -> Strip:
    points = {one["name"]: float(one["weights"].get(item["metric"], 0.0)) for one in voters}
    spread = spread_of(points)
    stacked: dict[float, int] = {}
    dots = []
    for value in sorted(points.values()):
        place = round(value / 3.0)  # marks nearer than this would lie on each other
        level = stacked.get(place, 0)
        stacked[place] = level + 1
        dots.append((_across(value), level))
    height = MARK_HEIGHT * max(stacked.values()) + 14
    return Strip(
        name=str(item["name"]),
        ends=change_words(item, system),
        words=spread_words(points),
        is_split=spread.camps is not None,
        low=f"{spread.low:g}",
        median=f"{spread.median:g}",
        high=f"{spread.high:g}",
        dots=tuple(Dot(x, height - 12 - level * MARK_HEIGHT) for x, level in dots),
        median_x=_across(spread.median),
        height=height,
    )


def _across(points: float) -> float:
    return round(STRIP_MARGIN + points * (100.0 - 2.0 * STRIP_MARGIN) / 100.0, 2)


def _lead(rows: Sequence[VoterRow], marks: Sequence[CandidateMark], *, weighed: bool) -> list[str]:
    count = len(rows)
    said = [f"{count} {'has' if count == 1 else 'have'} voted."]
    said.append(f"Preferred: {_counts([row.preference for row in rows], marks)}.")
    if weighed:
        winners = [row.winner for row in rows]
        told = _counts(winners, marks)
        if told:
            said.append(f"By their weights first: {told}.")
        ties = sum(winner is None for winner in winners)
        if ties:
            said.append(f"{ties} {'ballot leads' if ties == 1 else 'ballots lead'} to a tie.")
        torn = [row.name for row in rows if row.leads_elsewhere]
        if torn:
            said.append(f"For {listed(torn)} the weights lead to another one than the preferred.")
    return said


def _counts(chosen: Sequence[CandidateMark | None], marks: Sequence[CandidateMark]) -> str:
    counts = [(mark, sum(one == mark for one in chosen)) for mark in marks]
    told = sorted((item for item in counts if item[1]), key=lambda item: -item[1])
    return ", ".join(f"{mark.letter} {mark.name} by {count}" for mark, count in told)


def _ranks(decision: Mapping[str, Any]) -> tuple[str, ...]:
    count = max((len(one["ballot_ranks"] or ()) for one in decision["candidates"]), default=0)
    return tuple(_ordinal(place) for place in range(1, count + 1))


def _ordinal(place: int) -> str:
    ending = {1: "st", 2: "nd", 3: "rd"}.get(place if place < 20 else place % 10, "th")
    return f"{place}{ending}"


def _shares(decision: Mapping[str, Any], by_key: Mapping[str, CandidateMark]) -> list[ShareRow]:
    rows = [
        ShareRow(
            mark=by_key[one["key"]],
            shares=tuple(per_cent(share) for share in one["ballot_ranks"]),
            first=round(100.0 * one["ballot_ranks"][0], 1),
        )
        for one in decision["candidates"]
        if one["ballot_ranks"] and one["key"] in by_key
    ]
    return sorted(rows, key=lambda row: -row.first)
