"""The explorer's map: the sprint and stop over ratio and one more input, with lines on it.

Contents
--------
GearMap, gear_map: figures on a grid, and which of its designs nothing else on it beats.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.engineering.sweep_search import never_beaten
from models.engineering.sweeps import DesignFigures
from models.trade.exploring import AxisName, Bench, Design, figures_at

FloatArray = NDArray[np.float64]

FINE = (61, 37)
"""Columns and rows of the map: an odd share of them is looked at for what nothing beats."""
EVERY = 2
SAME = 1e-6
"""Less than this, in the unit of each figure, is rounding."""


class GearMap(NamedTuple):
    """Figures over ratio (columns) and another input (rows)."""

    ratios: FloatArray
    """Columns, evenly spaced in their logarithms."""
    axis: AxisName
    """What the rows are."""
    rows: FloatArray
    """Evenly spaced; the last row of a limit stands for none too."""
    time: FloatArray
    """Sprint and stop; not a number where it does not get going [s]."""
    voltage: FloatArray
    """Lowest of the bus in the sprint [V]."""
    push: FloatArray
    """[N]"""
    unbeaten: NDArray[np.int64]
    """Row and column of each design that nothing else on the map beats, shape (k, 2).

    Of those in a column that are alike, since a limit is never reached, only the lowest.
    """


def gear_map(
    bench: Bench,
    design: Design,
    *,
    axis: AxisName,
    ratios: tuple[float, float],
    rows: tuple[float, float],
) -> GearMap:
    """Return the map through a design: its two other inputs stay as they are."""
    across = np.geomspace(*ratios, FINE[0])
    up = np.linspace(*rows, FINE[1])
    fields = {
        "ratio": across,
        "diameter_m": np.full(1, design.diameter_m),
        "stator_a": np.full(1, design.stator_a),
        "supply_a": np.full(1, design.supply_a),
    }
    name = {"diameter": "diameter_m", "stator": "stator_a", "supply": "supply_a"}[axis]
    fields[name] = up[:, None]
    figures = figures_at(
        bench,
        ratio=fields["ratio"],
        diameter_m=fields["diameter_m"],
        stator_a=fields["stator_a"],
        supply_a=fields["supply_a"],
    )
    shape = (len(up), len(across))
    some = DesignFigures(*(field.reshape(shape)[::EVERY, ::EVERY] for field in figures))
    best = never_beaten(some.stop_time, some.push_force, some.least_voltage)
    return GearMap(
        across,
        axis,
        up,
        figures.stop_time.reshape(shape),
        figures.least_voltage.reshape(shape),
        figures.push_force.reshape(shape),
        np.argwhere(best & _first_alike(some)) * EVERY,
    )


def _first_alike(figures: DesignFigures) -> NDArray[np.bool_]:
    """Return where a design is unlike the one below it."""
    three = np.stack([figures.stop_time, figures.push_force, figures.least_voltage])
    unlike = np.ones(three.shape[1:], dtype=bool)
    unlike[1:] = np.any(np.abs(np.diff(three, axis=1)) > SAME, axis=0)
    return unlike


def row_place(value: float, rows: FloatArray) -> float:
    """Return where on the rows an input lies; a limit that is never reached lies at their end.

    >>> row_place(float("inf"), np.array([10.0, 20.0])), row_place(12.0, np.array([10.0, 20.0]))
    (20.0, 12.0)
    """
    return min(value, float(rows[-1]))
