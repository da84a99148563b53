"""Which candidate a team's gates, criteria and weights speak for, and how firmly.

Contents
--------
keys_in_field: who passes every gate with a figure for each criterion.
decide: gates passed, scores, the share of weightings that each comes first in, and the flips.
suggested_ends: a worst and a best figure for a criterion, from the candidates' own.

The payload of `decide`: shares lie from 0 to 1, figures are in SI units, what does not exist is
None.

    {"draws", "weightings", "seed",
     "gates": [{"metric", "name", "unit", "at_least", "at_most", "is",
                "idle": every candidate passes it}…],
     "criteria": [{"metric", "name", "unit", "weight", "share": of all weights, "worst", "best",
                   "idle": it tells the candidates apart by next to nothing,
                   "twins": [criteria that put them in the same order in all draws]}…],
     "candidates": [{"key", "name", "letter", "passes", "failed_gates": [metric…],
                     "gates": [{"metric", "value", "passes": None where the figure is missing}…],
                     "gate_chance": share of the draws in which it passes all,
                     "not_scored": [criteria without a figure], "values": {metric: 0 to 1},
                     "score", "score_p10", "score_p50", "score_p90",
                     "rank_acceptability": [share of rank 1, 2, …] under any weights,
                     "team_ranks": the same under the team's weights,
                     "ballot_ranks": the same over the ballots, None without any}…],
     "order": [keys, the highest score first], "leader": key or None,
     "flips": [{"metric", "name", "present", "weight", "leader", "rival"}…],
     "ballots": None without any, else
        {"voters": [{"name", "preference", "winner", "scores": {key: score}}…],
         "weights": [{"metric", "name", "shares": [of each voter], "low", "median", "high"}…],
         "winners": {key: how many ballots it leads}, "preferences": {key: how many}}}

Candidates that fail a gate or lack a figure are scored where they can be, but take no rank.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.engineering.weighing import (
    flip_weights,
    linear_values,
    rank_correlation,
    rank_shares,
    uniform_weightings,
    weighted_scores,
)
from models.quantities import METRICS
from models.study.planning import Criterion, Gate
from models.study.schema import Study

FloatArray = NDArray[np.float64]
Drawn = Mapping[str, Mapping[str, FloatArray]]
"""Figures of every candidate over the draws: key, metric, shape (draws,); NaN where missing."""

WEIGHTINGS = 50_000
SEED = 1
IDLE_SPAN = 0.02
"""A criterion whose values differ by less than this tells nobody apart."""
TWIN_CORRELATION = 0.9
"""Two criteria with a rank correlation above this measure the same thing twice."""
_ALIKE = 1e-12


class VoterWeights(NamedTuple):
    """One ballot, as far as weighing needs it."""

    name: str
    weights: Mapping[str, float]
    preference: str


class _Field(NamedTuple):
    """The candidates and criteria at hand, as arrays."""

    criteria: tuple[Criterion, ...]
    weights: FloatArray
    keys: tuple[str, ...]
    """Of the candidates that take part in the ranks."""
    points: FloatArray
    """Values of those at the figures as typed, shape (candidates, criteria)."""
    draws: FloatArray
    """Values of those over the draws, shape (draws, candidates, criteria)."""


def decide(
    study: Study,
    figures: Mapping[str, Mapping[str, Any]],
    *,
    drawn: Drawn | None = None,
    ballots: Sequence[VoterWeights] = (),
    weightings: int = WEIGHTINGS,
    seed: int = SEED,
) -> dict[str, Any]:
    """Return what gates, criteria, weights and ballots say of every candidate.

    Parameters
    ----------
    study : Study
        The study, with its gates and criteria.
    figures : mapping
        Metrics of every candidate by key, plan figures included.
    drawn : mapping, optional
        The same figures over the draws of uncertain inputs; what is left out does not vary.
    ballots : sequence of VoterWeights
        Weights of members; criteria that a ballot does not name count 0 in it.
    weightings : int
        How many weightings stand for all there are.
    seed : int
        Of those weightings.

    Returns
    -------
    dict
        The payload above.
    """
    decision = study.decision
    gates = () if decision is None else decision.gates
    criteria = () if decision is None else decision.criteria
    spread = drawn or {}
    rows = [_judged(one.key, figures[one.key], spread, gates, criteria) for one in study.candidates]
    for row, candidate, letter in zip(rows, study.candidates, _letters(study), strict=True):
        row.update(name=candidate.name, letter=letter)
    field = _field(rows, criteria, spread, figures)
    ranks = _ranks(field, ballots, weightings, seed)
    for row in rows:
        row.update(_scores(row, criteria, spread, figures))
        row.update(ranks.get(str(row["key"]), _NO_RANKS))
    order = sorted(
        field.keys, key=lambda key: -next(r["score"] or 0.0 for r in rows if r["key"] == key)
    )
    return {
        "draws": len(field.draws) if spread else 0,
        "weightings": weightings,
        "seed": seed,
        "gates": [_gate_line(gate, rows) for gate in gates],
        "criteria": _criterion_lines(field, criteria),
        "candidates": rows,
        "order": order,
        "leader": order[0] if order and _weighs(field) else None,
        "flips": _flips(field),
        "ballots": _ballot_lines(field, ballots) if ballots else None,
    }


_NO_RANKS: dict[str, Any] = {"rank_acceptability": [], "team_ranks": [], "ballot_ranks": None}


def keys_in_field(study: Study, figures: Mapping[str, Mapping[str, Any]]) -> tuple[str, ...]:
    """Return who takes part in the ranks; `figures` are the metrics of every candidate by key."""
    gates = () if study.decision is None else study.decision.gates
    criteria = () if study.decision is None else study.decision.criteria
    rows = [_judged(one.key, figures[one.key], {}, gates, criteria) for one in study.candidates]
    return tuple(str(row["key"]) for row in rows if row["passes"] and not row["not_scored"])


def suggested_ends(metric: str, figures: Sequence[Any]) -> tuple[float, float] | None:
    """Return a worst and a best figure for a criterion, a little beyond the candidates' own.

    Parameters
    ----------
    metric : str
        Key in the catalogue.
    figures : sequence
        The candidates' figures [the metric's unit]; words and None are passed over.

    Returns
    -------
    tuple of float or None
        Worst and best, round numbers; None where nothing is better or no figure is given.

    Examples
    --------
    >>> suggested_ends("push_force_n", [412.0, None, 533.0])
    (410.0, 540.0)
    >>> suggested_ends("turn90_s", [0.42, 0.55])
    (0.55, 0.42)

    Source: own rule; Goodwin and Wright, Decision Analysis for Management Judgment, chapter 3,
    measure swings between the worst and the best of the options at hand.
    """
    given = [float(one) for one in figures if not isinstance(one, bool | str | None)]
    found = METRICS.get(metric)
    better = found.better if found else "none"
    if not given or better not in {"higher", "lower"}:
        return None
    low, high = min(given), max(given)
    span = high - low or abs(high) * 0.1 or 1.0
    step = 10.0 ** math.floor(math.log10(span / 2.0))
    bottom, top = math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step
    if bottom == top:
        top = bottom + step
    bottom, top = (float(f"{one:.12g}") for one in (bottom, top))
    return (bottom, top) if better == "higher" else (top, bottom)


def _letters(study: Study) -> list[str]:
    return [chr(ord("A") + index) for index in range(len(study.candidates))]


def _number(value: Any) -> float | None:
    if value is None or isinstance(value, str):
        return None
    return float(value)


def _passes(gate: Gate, value: Any) -> bool | None:
    """Return whether a figure passes a gate, None where there is none to judge."""
    if value is None:
        return None
    if gate.is_ is not None:
        return bool(value == gate.is_)
    number = _number(value)
    if number is None:
        return None
    low = -math.inf if gate.at_least is None else float(gate.at_least)
    high = math.inf if gate.at_most is None else float(gate.at_most)
    return low <= number <= high


def _drawn_passes(gate: Gate, draws: FloatArray) -> NDArray[np.bool_]:
    if gate.is_ is not None:
        return np.asarray(draws == float(bool(gate.is_)))
    low = -math.inf if gate.at_least is None else float(gate.at_least)
    high = math.inf if gate.at_most is None else float(gate.at_most)
    return np.asarray((draws >= low) & (draws <= high))


def _judged(
    key: str,
    metrics: Mapping[str, Any],
    drawn: Drawn,
    gates: Sequence[Gate],
    criteria: Sequence[Criterion],
) -> dict[str, Any]:
    results = [
        {
            "metric": gate.metric,
            "value": metrics.get(gate.metric),
            "passes": _passes(gate, metrics.get(gate.metric)),
        }
        for gate in gates
    ]
    own = drawn.get(key, {})
    chance = None
    if own:
        held = [
            _drawn_passes(gate, own[gate.metric])
            if gate.metric in own and not isinstance(gate.is_, str)
            else np.asarray(result["passes"] is True)
            for gate, result in zip(gates, results, strict=True)
        ]
        chance = float(np.mean(np.logical_and.reduce(np.broadcast_arrays(*held)))) if held else 1.0
    failed = [result["metric"] for result in results if result["passes"] is not True]
    missing = [one.metric for one in criteria if _number(metrics.get(one.metric)) is None]
    return {
        "key": key,
        "passes": not failed,
        "failed_gates": list(dict.fromkeys(failed)),
        "gates": results,
        "gate_chance": chance,
        "not_scored": missing,
    }


def _values(figures: FloatArray, criteria: Sequence[Criterion]) -> FloatArray:
    """Return figures as values; one that does not exist in a draw counts as the worst there."""
    worst = [float(one.worst) for one in criteria]
    best = [float(one.best) for one in criteria]
    filled = np.where(np.isnan(figures), worst, figures)
    return linear_values(figures=filled, worst=worst, best=best)


def _draw_count(drawn: Drawn) -> int:
    return max((len(draws) for own in drawn.values() for draws in own.values()), default=1)


def _figure_draws(
    key: str,
    criteria: Sequence[Criterion],
    drawn: Drawn,
    figures: Mapping[str, Mapping[str, Any]],
) -> FloatArray:
    """Return one candidate's figures over the draws, shape (draws, criteria)."""
    count = _draw_count(drawn)
    own = drawn.get(key, {})
    columns = [
        np.broadcast_to(own.get(one.metric, np.asarray(figures[key][one.metric], float)), (count,))
        for one in criteria
    ]
    return np.stack(columns, axis=1) if columns else np.zeros((count, 0))


def _field(
    rows: Sequence[Mapping[str, Any]],
    criteria: tuple[Criterion, ...],
    drawn: Drawn,
    figures: Mapping[str, Mapping[str, Any]],
) -> _Field:
    keys = tuple(str(row["key"]) for row in rows if row["passes"] and not row["not_scored"])
    weights = np.array([float(one.weight) for one in criteria])
    if not keys or not criteria:
        shape = (len(keys), len(criteria))
        return _Field(criteria, weights, keys, np.zeros(shape), np.zeros((1, *shape)))
    points = np.array([[float(figures[key][one.metric]) for one in criteria] for key in keys])
    draws = np.stack([_figure_draws(key, criteria, drawn, figures) for key in keys], axis=1)
    return _Field(criteria, weights, keys, _values(points, criteria), _values(draws, criteria))


def _weighs(field: _Field) -> bool:
    return bool(field.keys) and bool(np.sum(field.weights) > 0.0)


def _ranks(
    field: _Field, ballots: Sequence[VoterWeights], weightings: int, seed: int
) -> dict[str, dict[str, Any]]:
    if not _weighs(field):
        return {}
    every = uniform_weightings(criteria=len(field.criteria), count=weightings, seed=seed)
    any_weights = rank_shares(values=field.draws, weightings=every)
    team = rank_shares(
        values=field.draws,
        weightings=np.broadcast_to(field.weights, (len(field.draws), len(field.weights))),
    )
    voted = _ballot_shares(field, ballots)
    return {
        key: {
            "rank_acceptability": any_weights[row].tolist(),
            "team_ranks": team[row].tolist(),
            "ballot_ranks": None if voted is None else voted[row].tolist(),
        }
        for row, key in enumerate(field.keys)
    }


def _ballot_weights(field: _Field, ballots: Sequence[VoterWeights]) -> FloatArray:
    """Return the ballots' weights, shape (ballots, criteria), those that weigh nothing left out."""
    table = np.array(
        [[float(one.weights.get(c.metric, 0.0)) for c in field.criteria] for one in ballots]
    ).reshape(len(ballots), len(field.criteria))
    return np.asarray(table[np.sum(table, axis=1) > 0.0])


def _ballot_shares(field: _Field, ballots: Sequence[VoterWeights]) -> FloatArray | None:
    weights = _ballot_weights(field, ballots)
    if not len(weights):
        return None
    shares = [
        rank_shares(
            values=field.draws, weightings=np.broadcast_to(row, (len(field.draws), len(row)))
        )
        for row in weights
    ]
    return np.asarray(np.mean(shares, axis=0))


def _scores(
    row: Mapping[str, Any],
    criteria: Sequence[Criterion],
    drawn: Drawn,
    figures: Mapping[str, Mapping[str, Any]],
) -> dict[str, Any]:
    blank: dict[str, Any] = dict.fromkeys(("score", "score_p10", "score_p50", "score_p90"))
    key = str(row["key"])
    scored = [one for one in criteria if one.metric not in row["not_scored"]]
    points = np.array([float(figures[key][one.metric]) for one in scored])
    values = _values(points, scored) if scored else points
    found = {"values": dict(zip([one.metric for one in scored], values.tolist(), strict=True))}
    weights = np.array([float(one.weight) for one in criteria])
    if row["not_scored"] or not criteria or not np.sum(weights) > 0.0:
        return {**blank, **found}
    draws = weighted_scores(
        values=_values(_figure_draws(key, criteria, drawn, figures), criteria), weights=weights
    )
    low, middle, high = np.quantile(draws, (0.1, 0.5, 0.9)).tolist()
    score = float(weighted_scores(values=values, weights=weights))
    return {
        "score": score,
        "score_p10": low if drawn else score,
        "score_p50": middle if drawn else score,
        "score_p90": high if drawn else score,
        **found,
    }


def _name_unit(metric: str) -> dict[str, str]:
    found = METRICS.get(metric)
    return {"name": found.name if found else metric, "unit": found.unit if found else ""}


def _gate_line(gate: Gate, rows: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    verdicts = [
        result["passes"]
        for row in rows
        for result in row["gates"]
        if result["metric"] == gate.metric
    ]
    return {
        "metric": gate.metric,
        **_name_unit(gate.metric),
        "at_least": None if gate.at_least is None else float(gate.at_least),
        "at_most": None if gate.at_most is None else float(gate.at_most),
        "is": gate.is_,
        "idle": all(verdict is True for verdict in verdicts),
    }


def _criterion_lines(field: _Field, criteria: Sequence[Criterion]) -> list[dict[str, Any]]:
    total = float(np.sum(field.weights)) or 1.0
    twins = _twins(field)
    several = len(field.keys) > 1
    return [
        {
            "metric": one.metric,
            **_name_unit(one.metric),
            "weight": float(one.weight),
            "share": float(one.weight) / total,
            "worst": float(one.worst),
            "best": float(one.best),
            "idle": several and bool(np.ptp(field.points[:, index]) < IDLE_SPAN),
            "twins": [criteria[other].metric for other in twins[index]],
        }
        for index, one in enumerate(criteria)
    ]


def _twins(field: _Field) -> list[list[int]]:
    """Return for each criterion those whose values put candidates and draws in the same order."""
    count = len(field.criteria)
    table = field.draws.reshape(-1, count).T if field.draws.size else np.zeros((count, 0))
    found: list[list[int]] = [[] for _ in range(count)]
    if len(field.keys) < 3:  # two candidates are in one order or the other, which says nothing
        return found
    for one in range(count):
        for other in range(one):
            alike = float(rank_correlation(first=table[one], second=table[other]))
            if alike > TWIN_CORRELATION:
                found[one].append(other)
                found[other].append(one)
    return [sorted(items) for items in found]


def _flips(field: _Field) -> list[dict[str, Any]]:
    if not _weighs(field) or len(field.keys) < 2:  # nobody to lose to
        return []
    return [
        {
            "metric": field.criteria[flip.criterion].metric,
            "name": _name_unit(field.criteria[flip.criterion].metric)["name"],
            "present": flip.present,
            "weight": flip.weight,
            "leader": field.keys[flip.leader],
            "rival": field.keys[flip.rival],
        }
        for flip in flip_weights(values=field.points, weights=field.weights)
    ]


def _ballot_lines(field: _Field, ballots: Sequence[VoterWeights]) -> dict[str, Any]:
    voters = []
    for one in ballots:
        weights = _ballot_weights(field, [one])
        scores: dict[str, float] = {}
        winner = None
        if len(weights) and field.keys:
            found = weighted_scores(values=field.points, weights=weights[0])
            scores = dict(zip(field.keys, found.tolist(), strict=True))
            leads = np.flatnonzero(found >= np.max(found) - _ALIKE)
            winner = field.keys[int(leads[0])] if len(leads) == 1 else None
        voters.append(
            {"name": one.name, "preference": one.preference, "winner": winner, "scores": scores}
        )
    table = _ballot_weights(field, ballots)
    shares = table / np.sum(table, axis=1, keepdims=True) if len(table) else table
    weights_of = [
        {
            "metric": criterion.metric,
            "name": _name_unit(criterion.metric)["name"],
            "shares": column.tolist(),
            "low": float(np.min(column)),
            "median": float(np.median(column)),
            "high": float(np.max(column)),
        }
        for criterion, column in zip(field.criteria, shares.T, strict=True)
        if len(column)
    ]
    return {
        "voters": voters,
        "weights": weights_of,
        "winners": dict(Counter(one["winner"] for one in voters if one["winner"])),
        "preferences": dict(Counter(one.preference for one in ballots)),
    }
