"""A few designs worth a look among the many that nothing beats.

Contents
--------
picks_of: the quickest, and what more could be had for hardly any time.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.trade.exploring import Bench, Design, Sweep, record

FloatArray = NDArray[np.float64]


def picks_of(bench: Bench, whole: Sweep, *, share: float, margin_v: float) -> dict[str, Any]:
    """Return how many designs nothing beats, and of those the few that answer a question.

    Each with its name, its design and its figures; one that answers two questions is named once.
    """
    figures = whole.figures
    time = np.where(whole.unbeaten, figures.stop_time, np.inf)
    volts, push = figures.least_voltage, figures.push_force
    picks: dict[int, str] = {}
    if np.isfinite(time).any():
        quickest = int(np.argmin(time))
        tie = whole.unbeaten & (time <= time[quickest] * (1.0 + share))
        upright = whole.unbeaten & (volts >= bench.brownout_v + margin_v)
        wanted = [
            (quickest, "The quickest of all"),
            (_most(volts, tie), "The highest bus voltage within the tie"),
            (_most(push, tie), "The strongest push within the tie"),
        ]
        if upright.any():
            above = f"The quickest that keeps {margin_v:g} V above brownout"
            wanted.append((int(np.argmin(np.where(upright, time, np.inf))), above))
        for place, name in wanted:
            picks.setdefault(place, name)
    return {
        "count": int(np.count_nonzero(whole.unbeaten)),
        "designs": len(whole.designs),
        "picks": [_pick(bench, whole, place, name) for place, name in picks.items()],
    }


def _most(figure: FloatArray, among: NDArray[np.bool_]) -> int:
    """Return which of some designs has the most of a figure, the first of equals."""
    return int(np.argmax(np.where(among, np.round(figure, 6), -np.inf)))


def _pick(bench: Bench, whole: Sweep, place: int, name: str) -> dict[str, Any]:
    design = Design(*whole.designs[place].tolist())
    return {
        "name": name,
        "design": design,
        "figures": record(bench, design, whole.figures, place),
    }
