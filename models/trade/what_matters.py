"""Which uncertain input moves a figure or the score most, so that it is measured first.

Contents
--------
what_matters: every input by how far it moves a figure, one at a time and over the draws.

The payload, figures in SI units:

    {"metric", "candidate", "value", "rows": [{"luck", "label", "unit", "places": [place…],
      "candidates": [keys it belongs to, none where all share it], "low", "value", "high",
      "source", "at_low", "at_high", "swing": |at_high − at_low|, "correlation": rank correlation
      over the draws or None}…] the greatest swing first}
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.engineering.weighing import linear_values, rank_correlation, weighted_scores
from models.study.planning import Criterion
from models.study.schema import Study
from models.trade.deciding import keys_in_field
from models.trade.draws import Draws, RangedInput

FloatArray = NDArray[np.float64]
Drawn = Mapping[str, Mapping[str, FloatArray]]

SCORE = "score"
"""What stands for the score in the place of a metric's key."""
LEAD = "lead"
"""What stands for the score of a candidate less the best of the others in the field."""


def what_matters(
    study: Study,
    metric: str,
    key: str,
    *,
    ends: tuple[tuple[str, ...], Drawn],
    draws: tuple[Draws, Drawn],
    figures: Mapping[str, Mapping[str, Any]],
) -> dict[str, Any]:
    """Return how far each uncertain input moves a figure of a candidate.

    Parameters
    ----------
    study : Study
        The study.
    metric : str
        Key of the metric, or `SCORE`, or `LEAD`.
    key : str
        Key of the candidate.
    ends : tuple
        The lucks, and the figures with each in turn at its two ends (`one_at_a_time`).
    draws : tuple
        Random draws and the figures over them.
    figures : mapping
        Metrics of every candidate as the study has them.

    Returns
    -------
    dict
        The payload above; no rows where the figure does not exist.
    """
    lucks, at_ends = ends
    drawn, over_draws = draws
    moved = _target(study, metric, key, at_ends, figures)
    value = _target(study, metric, key, {}, figures)
    varied = _target(study, metric, key, over_draws, figures)
    rows = []
    if moved is not None and value is not None and varied is not None:
        plain = float(np.ravel(value)[0])
        rows = [
            _row(luck, key, drawn, ends=moved[2 * index : 2 * index + 2], varied=varied)
            for index, luck in enumerate(lucks)
            if len(moved) > 1 and _moves(moved[2 * index : 2 * index + 2], plain)
        ]
    return {
        "metric": metric,
        "candidate": key,
        "value": None if value is None else float(np.ravel(value)[0]),
        "rows": sorted(rows, key=lambda row: -row["swing"]),
    }


def _moves(ends: FloatArray, plain: float) -> bool:
    return bool(np.all(np.isfinite(ends))) and bool(
        np.ptp(ends) > 1e-9 * max(abs(plain), 1e-9) or np.any(np.abs(ends - plain) > 1e-9)
    )


def _row(
    luck: str, key: str, drawn: Draws, *, ends: FloatArray, varied: FloatArray
) -> dict[str, Any]:
    """Return one input's row; where several candidates have it, with the asked one's range."""
    inputs = [one for one in drawn.inputs if one.luck == luck]
    first = next((one for one in inputs if one.candidate == key), inputs[0])
    low, high = (float(one) for one in ends)
    return {
        "luck": luck,
        "label": first.label,
        "unit": first.unit,
        "places": [one.place for one in inputs],
        "candidates": [one.candidate for one in inputs if one.candidate is not None],
        "low": first.estimate.low,
        "value": float(first.estimate),
        "high": first.estimate.high,
        "source": first.estimate.source,
        "at_low": low,
        "at_high": high,
        "swing": abs(high - low),
        "correlation": _correlation(first, drawn, varied),
    }


def _correlation(one: RangedInput, drawn: Draws, varied: FloatArray) -> float | None:
    there = np.isfinite(varied)
    own = np.broadcast_to(drawn.of(one.estimate), varied.shape)
    if np.sum(there) < 2:  # nothing to rank
        return None
    found = float(rank_correlation(first=own[there], second=varied[there]))
    return found if np.isfinite(found) else None


def _target(
    study: Study, metric: str, key: str, drawn: Drawn, figures: Mapping[str, Mapping[str, Any]]
) -> FloatArray | None:
    """Return the figure in question over the draws, or as it stands where there are none."""
    if metric == SCORE:
        return _score(study, key, drawn, figures)
    if metric == LEAD:
        return _lead(study, key, drawn, figures)
    return _figure(metric, key, drawn, figures)


def _figure(
    metric: str, key: str, drawn: Drawn, figures: Mapping[str, Mapping[str, Any]]
) -> FloatArray | None:
    own = drawn.get(key, {}).get(metric)
    if own is not None:
        return np.asarray(own, dtype=np.float64)
    value = figures[key].get(metric)
    if value is None or isinstance(value, str):
        return None
    return np.array([float(value)])


def _score(
    study: Study, key: str, drawn: Drawn, figures: Mapping[str, Mapping[str, Any]]
) -> FloatArray | None:
    criteria: tuple[Criterion, ...] = () if study.decision is None else study.decision.criteria
    columns = [_figure(one.metric, key, drawn, figures) for one in criteria]
    weights = [float(one.weight) for one in criteria]
    if not columns or not sum(weights) > 0.0:
        return None
    known = [column for column in columns if column is not None]
    if len(known) < len(columns):
        return None
    worst = [float(one.worst) for one in criteria]
    table = np.stack(np.broadcast_arrays(*known), axis=1)
    values = linear_values(
        figures=np.where(np.isnan(table), worst, table),
        worst=worst,
        best=[float(one.best) for one in criteria],
    )
    return weighted_scores(values=values, weights=weights)


def _lead(
    study: Study, key: str, drawn: Drawn, figures: Mapping[str, Mapping[str, Any]]
) -> FloatArray | None:
    own = _score(study, key, drawn, figures)
    others = [
        score
        for other in keys_in_field(study, figures)
        if other != key
        for score in (_score(study, other, drawn, figures),)
        if score is not None
    ]
    if own is None or not others:
        return None
    best = np.max(np.stack(np.broadcast_arrays(*others)), axis=0)
    return np.asarray(own - best)
