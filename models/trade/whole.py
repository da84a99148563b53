"""The whole evaluation: driving, power and plan of every candidate, with the ranges of figures.

`evaluate_study` is quick enough to follow what one types; this is what a saved study is judged
by, and what tables, links, exports and decisions show.

Contents
--------
whole_evaluation: every figure of a study.
joined_evaluation: the same from parts that are there already.
shares_ahead: how often each candidate is better than each other over the draws.

Beside what `evaluate_study` gives, the payload has `draws` (how many) and `ahead`, {metric: {key:
{other key: share of the draws in which the first is better}}}, and every candidate `ranges`,
{metric: [10 %, 50 %, 90 % point, share of the draws in which the figure exists]}. Both hold
figures that a ranged input moves; where a figure has no better, `ahead` tells which is greater.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.quantities import METRICS
from models.study.schema import Study
from models.trade.drawn_figures import Drawn, drawn_figures, ranges_of
from models.trade.draws import DRAWS, Draws, draw_inputs
from models.trade.evaluation import evaluate_study
from models.trade.power_figures import power_figures
from models.trade.readiness import plan_figures

FloatArray = NDArray[np.float64]
Figures = Mapping[str, Mapping[str, Any]]

_SIGNIFICANT = 6
"""Digits kept of a range's ends: more would be noise of the draws."""


def whole_evaluation(study: Study, *, draws: int = DRAWS) -> dict[str, Any]:
    """Return every figure of a study's candidates, ranges included.

    Parameters
    ----------
    study : Study
        The study, already checked.
    draws : int
        How many draws of the uncertain inputs.

    Returns
    -------
    dict
        The payload above.
    """
    drawn = draw_inputs(study, count=draws)
    return joined_evaluation(
        evaluate_study(study),
        power=power_figures(study),
        plan=plan_figures(study),
        draws=drawn,
        drawn=drawn_figures(study, drawn),
    )


def joined_evaluation(
    driving: Mapping[str, Any], *, power: Figures, plan: Figures, draws: Draws, drawn: Drawn
) -> dict[str, Any]:
    """Return the whole evaluation from the figures of driving, power and plan.

    Parameters
    ----------
    driving : mapping
        What `evaluate_study` returned; left as it is.
    power, plan : mapping
        Figures by candidate and metric.
    draws : Draws
        The uncertain inputs of the study.
    drawn : mapping
        Figures over those draws, by candidate and metric.

    Returns
    -------
    dict
        The payload above.
    """
    ranges = ranges_of(drawn)
    candidates = []
    for one in driving["candidates"]:
        key = one["key"]
        known = {**one["metrics"], **power.get(key, {}), **plan.get(key, {})}
        metrics = {name: known[name] for name in METRICS if name in known}
        rounded = {
            name: [float(f"{value:.{_SIGNIFICANT}g}") for value in points]
            for name, points in ranges[key].items()
        }
        candidates.append({**one, "metrics": metrics, "ranges": rounded})
    return {
        **driving,
        "candidates": candidates,
        "draws": draws.count if any(ranges.values()) else 0,
        "ahead": shares_ahead(drawn),
    }


def shares_ahead(
    drawn: Mapping[str, Mapping[str, FloatArray]],
) -> dict[str, dict[str, dict[str, float]]]:
    """Return in what share of the draws each candidate is better than each other.

    Parameters
    ----------
    drawn : mapping
        Figures over the draws, by candidate and metric.

    Returns
    -------
    dict
        By metric, candidate and other candidate; only pairs of which one figure varies, and the
        share is of the draws in which both exist.
    """
    metrics = dict.fromkeys(name for own in drawn.values() for name in own)
    found: dict[str, dict[str, dict[str, float]]] = {}
    for metric in metrics:
        sign = -1.0 if _better(metric) in ("lower", "no") else 1.0
        columns = {key: sign * own[metric] for key, own in drawn.items() if metric in own}
        shares = {
            key: {
                other: share
                for other, against in columns.items()
                if other != key
                for share in (_share_ahead(column, against),)
                if share is not None
            }
            for key, column in columns.items()
        }
        shares = {key: others for key, others in shares.items() if others}
        if shares:
            found[metric] = shares
    return found


def _better(metric: str) -> str:
    """Return which way is better, of the catalogue's figures and of those of the routes."""
    if metric in METRICS:
        return METRICS[metric].better
    return "lower" if metric.startswith("route_s:") else "higher"


def _share_ahead(column: FloatArray, other: FloatArray) -> float | None:
    """Return the share of the draws in which a figure lies above another.

    None where neither varies or they never exist together.
    """
    both = np.isfinite(column) & np.isfinite(other)
    if not both.any():
        return None
    mine, theirs = column[both], other[both]
    if np.ptp(mine) == 0.0 and np.ptp(theirs) == 0.0:
        return None
    return round(float(np.mean(mine > theirs)), 4)
