"""What is typed into a ballot, read, and every fault in it said in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from models.errors import Fault, UnitError
from models.services import Ballot, BallotRound
from models.services.balloting import LONGEST_REASON, MOST_POINTS
from models.services.revisions import LONGEST_AUTHOR
from models.units import parse_number, quoted


@dataclass(frozen=True)
class Typed:
    """A ballot as typed, every text as it came."""

    most: str = ""
    """The criterion whose change matters most."""
    points: Mapping[str, str] = field(default_factory=dict)
    preference: str = ""
    reason: str = ""
    name: str = ""


def typed_in(form: Mapping[str, Any], found: BallotRound) -> Typed:
    """Return what a form says."""

    def text(name: str) -> str:
        return str(form.get(name, "")).replace("\r\n", "\n").strip()

    metrics = [str(item["metric"]) for item in found.criteria]
    return Typed(
        most=text("most"),
        points={metric: text(f"points.{metric}") for metric in metrics},
        preference=text("preference"),
        reason=text("reason"),
        name=text("name"),
    )


def typed_from(ballot: Ballot, found: BallotRound) -> Typed:
    """Return a ballot that was cast, as the form that would cast it again."""
    metrics = [str(item["metric"]) for item in found.criteria]
    most = max(metrics, key=lambda metric: ballot.weights.get(metric, 0.0))
    return Typed(
        most=most,
        points={metric: f"{value:g}" for metric, value in ballot.weights.items()},
        preference=ballot.preference,
        reason=ballot.reason,
        name=ballot.name,
    )


def read_ballot(typed: Typed, found: BallotRound) -> tuple[dict[str, float], list[Fault]]:
    """Return the points of every criterion and what keeps the ballot from counting.

    The places of faults are the names of the form's fields.
    """
    names = {str(item["metric"]): str(item["name"]) for item in found.criteria}
    faults = []
    points = {}
    if typed.most not in names:
        faults.append(Fault("most", "Choose the change that matters most to you."))
    for metric, name in names.items():
        if metric == typed.most:
            points[metric] = MOST_POINTS
            continue
        value, words = _points(typed.points.get(metric, ""))
        if value is None:
            faults.append(Fault(f"points.{metric}", f"{name}: {words}"))
        else:
            points[metric] = value
    if typed.preference not in {str(item["key"]) for item in found.candidates}:
        faults.append(Fault("preference", "Choose the candidate you would build."))
    if len(typed.reason) > LONGEST_REASON:
        faults.append(
            Fault(
                "reason",
                f"A reason has at most {LONGEST_REASON} characters; this has {len(typed.reason)}.",
            )
        )
    if not typed.name:
        faults.append(Fault("name", "Type the name that the team knows you by."))
    elif len(typed.name) > LONGEST_AUTHOR:
        faults.append(
            Fault(
                "name",
                f"A name has at most {LONGEST_AUTHOR} characters; this has {len(typed.name)}.",
            )
        )
    return points, faults


def _points(text: str) -> tuple[float | None, str]:
    """Return points from 0 to 100, or what to type instead.

    >>> _points("40"), _points(" 40 % ")
    ((40.0, ''), (40.0, ''))
    >>> _points("140")[1]
    'type points from 0 to 100; “140” lies outside.'
    """
    bare = text.strip().removesuffix("points").removesuffix("%").strip()
    if not bare:
        return None, "type points, 0 to 100."
    try:
        value = parse_number(bare, "")
    except UnitError as error:
        return None, f"type points from 0 to 100. {error}"
    if not 0.0 <= value <= MOST_POINTS:
        return None, f"type points from 0 to 100; {quoted(text)} lies outside."
    return value, ""
