"""What the sprints of many designs take from the battery, all at once.

Contents
--------
supply_over_many_runs: extremes and integrals of runs from rest, one for each design of a batch.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.engineering.drive import Drive, Layout, Stance
from models.engineering.motors import MotorConstants
from models.engineering.sprint import Run
from models.engineering.sprint_pieces import FULL_DUTY, Pieces
from models.engineering.sprint_supply import Load, SupplyRun, load_at
from models.engineering.supply import Supply, bus_voltage
from models.engineering.traction import Motion

FloatArray = NDArray[np.float64]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(8)
_NODES, _WEIGHTS = (_NODES + 1.0) / 2.0, _WEIGHTS / 2.0
_ENDS = 3
"""Speeds looked at besides the nodes: the piece's ends and its reference."""
_BLOCK = 500
"""Designs in a block: their arrays lie in the processor's cache, the calls still pay."""


class _Batch(NamedTuple):
    """Designs with an axis more than their motions, to go along speeds."""

    drive: Drive
    stance: Stance
    layout: Layout
    motion: Motion


def supply_over_many_runs(
    drive_of: Drive,
    stance: Stance,
    layout: Layout,
    *,
    motion: Motion,
    pieces: Pieces,
    run: Run,
) -> SupplyRun:
    """Return what each run of a batch takes from the battery, straight ahead from rest.

    E = ∫Vbus·I dt and Q = ∫I dt, piece by piece with eight Gauss-Legendre nodes each, as
    `supply_over_run` does for one run with sixteen; the peak is the greatest at nodes and ends.

    Parameters
    ----------
    drive_of : Drive
        Fields of shape () or (designs,) [SI].
    stance : Stance
        Alike [SI].
    layout : Layout
        Of all (word).
    motion : Motion
        Straight ahead, of shape (designs,) [SI].
    pieces : Pieces
        Of those motions [SI].
    run : Run
        Time and speed at the end of each, without braking [s, m/s].

    Returns
    -------
    SupplyRun
        Arrays of shape (designs,); not a number where one does not get going.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> from models.engineering.sprint import run_over
    >>> from models.engineering.sprint_pieces import governing_pieces
    >>> from models.engineering.traction import travel_motion
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> several = example_drive()._replace(ratio=np.array([5.0, 7.0]))
    >>> motion = travel_motion(several, stance, "swerve", angle=0.0)
    >>> pieces = governing_pieces(motion)
    >>> taken = supply_over_many_runs(several, stance, "swerve", motion=motion, pieces=pieces,
    ...                               run=run_over(pieces, distance=6.0, braking=np.inf))
    >>> bool(taken.peak_current[0] > taken.peak_current[1])
    True

    Source: own derivation; Gauss-Legendre quadrature.
    """
    count = len(pieces.lower)
    end = np.broadcast_to(np.nan_to_num(run.speed, nan=0.0), (count,))
    last = np.broadcast_to(np.nan_to_num(run.time, nan=0.0), (count,))
    batch = _Batch(_with_axis(drive_of), _stance_with_axis(stance), layout, motion)
    found = [
        _block(batch, pieces, slice(first, first + _BLOCK), end=end, last=last)
        for first in range(0, max(count, 1), _BLOCK)
    ]
    peak, energy, charge = (np.concatenate(parts) for parts in zip(*found, strict=True))
    stuck = ~np.isfinite(np.broadcast_to(run.time, (count,)))
    peak, energy, charge = (np.where(stuck, np.nan, one) for one in (peak, energy, charge))
    return SupplyRun(peak, bus_voltage(drive_of.supply, total_current=peak), energy, charge)


def _with_axis(drive: Drive) -> Drive:
    def grown(field: FloatArray) -> FloatArray:
        return field if np.ndim(field) == 0 else field[:, None]

    return Drive(
        MotorConstants._make(grown(field) for field in drive.motor),
        Supply._make(grown(field) for field in drive.supply),
        *(grown(field) for field in drive[2:]),
    )


def _stance_with_axis(stance: Stance) -> Stance:
    return Stance._make(field if np.ndim(field) == 0 else field[:, None] for field in stance)


def _rows(batch: _Batch, rows: slice) -> _Batch:
    def some(field: FloatArray) -> FloatArray:
        return field if np.ndim(field) == 0 else field[rows]

    drive = batch.drive
    return _Batch(
        Drive(
            MotorConstants._make(some(field) for field in drive.motor),
            Supply._make(some(field) for field in drive.supply),
            *(some(field) for field in drive[2:]),
        ),
        Stance._make(some(field) for field in batch.stance),
        batch.layout,
        Motion._make(field[rows] for field in batch.motion),
    )


def _block(
    whole: _Batch, pieces: Pieces, rows: slice, *, end: FloatArray, last: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return peak current, energy and charge of the runs of one block."""
    batch = _rows(whole, rows)
    some = Pieces._make(field[rows] for field in pieces)
    ends, whole_time = end[rows, None], last[rows]
    upper = np.minimum(some.upper, ends)
    lower = np.minimum(some.lower, upper)
    width = upper - lower
    used = width > 0.0
    before = np.where(used, some.time, 0.0)
    final = np.argmax(np.where(used, np.arange(used.shape[1]), -1), axis=1)
    picked = np.arange(len(final))
    before[picked, final] = 0.0
    times = before.copy()
    times[picked, final] = whole_time - np.sum(before, axis=1)
    top = some.upper[:, -1:]
    near = (some.settling > 0.0) & (some.steady <= top * (1.0 + 1e-9))
    reference = np.where(near, top, upper)
    inside = lower[..., None] + width[..., None] * _NODES
    speeds = np.concatenate(
        [inside, lower[..., None], upper[..., None], reference[..., None]], axis=2
    )
    load = _loads(batch, speeds)
    current, power = load.total_current, load.total_current * load.voltage
    exact = (some.steady[..., None] - inside) / np.where(near, some.settling, 1.0)[..., None]
    straight = (near & (some.law == FULL_DUTY))[..., None]
    acceleration = np.where(straight, exact, load.acceleration[..., :-_ENDS])
    paces = np.where(used[..., None] & (acceleration > 0.0), acceleration, np.inf)
    share = width[..., None] * _WEIGHTS / paces
    charge, energy = (
        np.sum(values[..., -1] * times, axis=1)
        + np.sum((values[..., :-_ENDS] - values[..., -1:]) * share, axis=(1, 2))
        for values in (current, power)
    )
    drawn = np.where(used[..., None], current[..., :-1], -np.inf)
    peak = np.max(drawn, axis=(1, 2))
    at_rest = current[:, 0, -_ENDS]
    return np.where(np.isfinite(peak), peak, at_rest), energy, charge


def _loads(batch: _Batch, speeds: FloatArray) -> Load:
    """Return currents and voltages at speeds of shape (designs, pieces, points)."""
    flat = speeds.reshape(len(speeds), -1)
    found = load_at(
        batch.drive, batch.stance, batch.layout, motion=batch.motion, angle=0.0, speed=flat
    )
    return Load(*(np.broadcast_to(field, flat.shape).reshape(speeds.shape) for field in found))
