"""What the motors take while a robot speeds up: many runs at once, at nodes in time.

A run goes from one speed to a greater one under the laws that `models.engineering.sprint_pieces`
finds. Each of its pieces becomes a stretch with the same nodes; the variable is s in
v = vs − (vs − v0)·e^(−s) with vs the steady speed of the piece's law, so that dt = (vs − v)/a ds is
smooth even for a run that nearly reaches it. The nodes are Gauss-Lobatto's, ends included, on
s = s1·x², closer together where the run begins.

Contents
--------
Runs, runs_of_travel, runs_of_turns, joined_runs: runs ready to be followed, one a row.
Stretches, stretches_of: time, speed, currents and powers at the nodes.
Works, works_of: where the motors' energy goes.
example_runs: one run of an invented drive.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.engineering.drive import (
    LINKED,
    Drive,
    Layout,
    Stance,
    current_for_force,
    directions,
    example_drive,
    force_per_ampere,
    rolling_drag,
    rotating_mass,
)
from models.engineering.sprint import run_over
from models.engineering.sprint_pieces import CONSTANT, FULL_DUTY, Pieces, governing_pieces
from models.engineering.supply import supply_limited_current
from models.engineering.traction import Motion, axle_normal_forces, joined, travel_motion
from models.engineering.turning import Turning

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

_NODES = 9
_AT_STEADY = 1e-11
"""Share of the steady speed at which a run counts as there; what is left of its time is even."""


def _lobatto(count: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return Gauss-Lobatto nodes on 0 to 1, their weights, and the matrix of running integrals."""
    basis = np.polynomial.legendre.Legendre.basis(count - 1)
    inner = np.sort(basis.deriv().roots().real)
    nodes = np.concatenate([[-1.0], inner, [1.0]])
    weights = 2.0 / (count * (count - 1) * basis(nodes) ** 2)
    into = np.linalg.inv(np.polynomial.legendre.legvander(nodes, count - 1))
    powers = np.eye(count)
    whole = np.stack([np.polynomial.legendre.legint(row, lbnd=-1.0) for row in powers])
    running = np.polynomial.legendre.legvander(nodes, count) @ whole.T @ into
    return (nodes + 1.0) / 2.0, weights / 2.0, running / 2.0


NODES, WEIGHTS, RUNNING = _lobatto(_NODES)
"""On 0 to 1; `RUNNING @ f` is the integral of f from 0 to each node."""


class Runs(NamedTuple):
    """Runs from one speed to a greater one, one a row; units of travel or the wheel surface."""

    motion: Motion
    """Law of acceleration, one a row [SI]."""
    pieces: Pieces
    """Of that motion [SI]."""
    inertia: FloatArray
    """What is moved: M + mrot/κv², in a turn Izz·γ² + mrot [kg]."""
    resistance: FloatArray
    """Rolling drag, in a turn all that resists it [N]."""
    force_factor: FloatArray
    """κf: force along the way for each force at the wheel surfaces [ratio]."""
    held: FloatArray
    """Grip of the front axle at rest, κμ·μ·N; infinite where all motors work alike [N]."""
    shift: FloatArray
    """What that grip loses for each acceleration, less half of the rotating mass [kg]."""
    start: FloatArray
    """Speed at its beginning [m/s]."""
    end: FloatArray
    """Speed at its end, before it brakes [m/s]."""
    time: FloatArray
    """That it takes, braking left out [s]."""


class Stretches(NamedTuple):
    """Runs cut into pieces, of shape (stretches, nodes) where not said otherwise."""

    row: IntArray
    """Run that each belongs to, of shape (stretches,)."""
    time: FloatArray
    """Since the run's beginning [s]."""
    weight: FloatArray
    """Share of the time that a node stands for: ∫f dt = Σ f·weight [s]."""
    speed: FloatArray
    acceleration: FloatArray
    first_current: FloatArray
    """Winding current of each motor of the first half [A]."""
    second_current: FloatArray
    """Of the second half [A]."""
    first_power: FloatArray
    """At the terminals of one motor of the first half [W]."""
    second_power: FloatArray
    """Of the second half [W]."""


def runs_of_travel(
    drive_of: Drive,
    stance: Stance,
    layout: Layout,
    *,
    angle: ArrayLike,
    motion: Motion,
    pieces: Pieces,
    start: ArrayLike,
    end: ArrayLike,
    time: ArrayLike,
) -> Runs:
    """Return runs along a way, ready to be followed.

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    stance : Stance
        Mass and place of the centre of gravity, one for all or one a row [SI].
    layout : Layout
        Its layout (word).
    angle : float or array
        θ of the way from straight ahead, one a row [rad].
    motion : Motion
        Law of acceleration, one a row [SI].
    pieces : Pieces
        Of that motion [SI].
    start, end : float or array
        Speed at the beginning and at the end, before braking [m/s].
    time : float or array
        That it takes without braking [s].

    Returns
    -------
    Runs
        One a row.

    Examples
    --------
    >>> runs, _ = example_runs()
    >>> runs.inertia.round(2).tolist()
    [51.85]

    Source: own definition.
    """
    shape = motion.emf.shape
    factors = directions(layout, np.asarray(angle, dtype=np.float64))
    rotating = rotating_mass(drive_of) / factors.speed**2
    held, shift = np.full(shape, np.inf), np.zeros(shape)
    if layout not in LINKED:
        grip = factors.grip * drive_of.grip
        still, _ = axle_normal_forces(stance, acceleration=0.0, slope=0.0)
        moving, _ = axle_normal_forces(stance, acceleration=1.0, slope=0.0)
        held = grip * still
        shift = grip * (still - moving) - rotating / 2.0
    fields = (
        stance.mass + rotating, rolling_drag(drive_of, stance.mass), factors.force, held, shift,
        start, end, time,
    )  # fmt: skip
    return Runs(motion, pieces, *(np.broadcast_to(np.asarray(x, float), shape) for x in fields))


def runs_of_turns(
    drive_of: Drive,
    stance: Stance,
    turn: Turning,
    *,
    motion: Motion,
    pieces: Pieces,
    end: ArrayLike,
    time: ArrayLike,
) -> Runs:
    """Return turns in place from rest, ready to be followed, in units of the wheel surface.

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    stance : Stance
        Yaw inertia, one for all or one a row [SI].
    turn : Turning
        What the turn asks of the wheels [SI].
    motion : Motion
        Law of acceleration, one a row [SI].
    pieces : Pieces
        Of that motion [SI].
    end : float or array
        Speed of the wheel surface before braking [m/s].
    time : float or array
        That it takes without braking [s].

    Returns
    -------
    Runs
        One a row.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> from models.engineering.sprint_pieces import governing_pieces
    >>> from models.engineering.turning import turn_motion, turning
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> turn = turning(example_drive(), stance, "swerve", skid=None)
    >>> motion = joined([turn_motion(example_drive(), stance, turn)])
    >>> runs = runs_of_turns(example_drive(), stance, turn, motion=motion,
    ...                      pieces=governing_pieces(motion), end=[2.0], time=[0.2])
    >>> runs.inertia.round(3).tolist()
    [23.035]

    Source: own definition.
    """
    shape = motion.emf.shape
    inertia = stance.yaw_inertia * turn.yaw_factor**2 + rotating_mass(drive_of)
    fields = (inertia, turn.resistance, 1.0, np.inf, 0.0, 0.0, end, time)
    return Runs(motion, pieces, *(np.broadcast_to(np.asarray(x, float), shape) for x in fields))


def joined_runs(several: Sequence[Runs], pieces: Pieces) -> Runs:
    """Return several batches of runs as one.

    Parameters
    ----------
    several : sequence of Runs
        Batches of one axis each [SI].
    pieces : Pieces
        Of all their motions, row by row, as one batch [SI].

    Returns
    -------
    Runs
        The batches one after another.

    Examples
    --------
    >>> runs, _ = example_runs()
    >>> both = Pieces._make(np.concatenate([field, field]) for field in runs.pieces)
    >>> joined_runs([runs, runs], both).end.shape
    (2,)

    Source: own definition.
    """
    fields = (
        np.concatenate([getattr(runs, name) for runs in several]) for name in Runs._fields[2:]
    )
    return Runs(joined([runs.motion for runs in several]), pieces, *fields)


def stretches_of(
    drive_of: Drive, runs: Runs, *, nodes: FloatArray = NODES, rows: IntArray | None = None
) -> Stretches:
    """Return time, speed, currents and powers of runs at the nodes of every piece.

    I = If + F·r/(n·η·Gr·kT·κf) of each half's force, P = (kE·ω + R·I)·I. The first half makes
    min(F/2, μ·N(a) + m·a/2), the second what is left of m·a + D; linked sides half each.

    Parameters
    ----------
    drive_of : Drive
        The drive, one design [SI].
    runs : Runs
        Runs of that drive [SI].
    nodes : array
        Where between the ends of a piece, rising from 0 to 1; times and weights are those of
        `NODES` and mean nothing for others [ratio].
    rows : array of int, optional
        The runs to follow; all where left out (index).

    Returns
    -------
    Stretches
        In the order of the runs and of time.

    Examples
    --------
    >>> runs, drive_of = example_runs()
    >>> parts = stretches_of(drive_of, runs)
    >>> round(float(parts.weight.sum()), 4) == round(float(runs.time[0]), 4)
    True

    Source: own derivation; Gauss-Lobatto quadrature.
    """
    pieces = runs.pieces
    some = np.arange(len(runs.end)) if rows is None else rows
    used = (pieces.lower[some] < np.minimum(pieces.upper[some], runs.end[some][:, None])) & (
        pieces.upper[some] > runs.start[some][:, None]
    )
    index, place = np.nonzero(used)
    row = some[index]
    piece = Pieces._make(field[row, place] for field in pieces)
    lower = np.maximum(piece.lower, runs.start[row])
    upper = np.minimum(piece.upper, runs.end[row])
    steady = piece.steady
    span = steady - lower
    gap = np.maximum(steady - upper, _AT_STEADY * steady)
    whole = np.log(span / gap)
    s = whole[:, None] * nodes**2
    speed = np.minimum(lower[:, None] - span[:, None] * np.expm1(-s), upper[:, None])
    emf = piece.emf[:, None] * speed
    able, acceleration = _at_speeds(runs.motion, row, piece, speed, emf)
    left = steady[:, None] - speed
    settled = (piece.law == FULL_DUTY)[:, None] | (left <= 2.0 * _AT_STEADY * steady[:, None])
    pace = np.where(settled, piece.settling[:, None], left / np.where(settled, 1.0, acceleration))
    rate = pace * 2.0 * whole[:, None] * nodes
    inside, weight = _times(runs, row, rate)
    first, second = _halves(drive_of, runs, row, able, acceleration)
    resistance = drive_of.motor.resistance
    return Stretches(
        row=row,
        time=inside,
        weight=weight,
        speed=speed,
        acceleration=acceleration,
        first_current=first,
        second_current=second,
        first_power=(emf + resistance * first) * first,
        second_power=(emf + resistance * second) * second,
    )


def _at_speeds(
    motion: Motion, row: IntArray, piece: Pieces, speed: FloatArray, emf: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the greatest current at each speed, and the acceleration by the piece's own law."""
    full = (motion.source_voltage[row, None] - emf) / (motion.resistance + motion.path)[row, None]
    able = np.minimum(full, motion.stator_limit[row, None])
    limited = np.isfinite(motion.supply_limit[row])
    if limited.any():
        able[limited] = np.minimum(
            able[limited],
            supply_limited_current(
                emf=emf[limited],
                resistance=motion.resistance[row][limited, None],
                power=motion.supply_power[row][limited, None],
            ),
        )
    constant = (piece.law == CONSTANT)[:, None]
    by_law = piece.slope[:, None] * able + piece.offset[:, None]
    return able, np.where(constant, piece.offset[:, None], by_law)


def _times(runs: Runs, row: IntArray, rate: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the time at every node since its run began, and what each node stands for.

    What a run's own time has left over, at its steady speed, is added to its last node.
    """
    if rate.shape[1] != len(NODES):
        return np.zeros(rate.shape), np.zeros(rate.shape)
    inside, weight = rate @ RUNNING.T, rate * WEIGHTS
    count = len(runs.end)
    ends = np.concatenate([row[1:] != row[:-1], [True]]) if len(row) else np.zeros(0, dtype=bool)
    total = np.bincount(row, inside[:, -1], count)
    lack = (runs.time - total)[row[ends]]
    inside[ends, -1] += lack
    weight[ends, -1] += lack
    before = np.cumsum(inside[:, -1]) - inside[:, -1]
    begins = np.concatenate([[True], ends[:-1]]) if len(row) else ends
    first = np.repeat(before[begins], np.diff(np.append(np.flatnonzero(begins), len(row))))
    return inside + (before - first)[:, None], weight


def _halves(
    drive_of: Drive, runs: Runs, row: IntArray, able: FloatArray, acceleration: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the winding currents of a motor of each half."""
    whole = runs.inertia[row, None] * acceleration + runs.resistance[row, None]
    factor = runs.force_factor[row, None]
    first = whole / 2.0
    apart = np.isfinite(runs.held[row])
    if apart.any():
        working = np.maximum(able[apart] - drive_of.motor.free_current, 0.0)
        most = factor[apart] * force_per_ampere(drive_of) * working / 2.0
        load = runs.held[row][apart, None] - runs.shift[row][apart, None] * acceleration[apart]
        first[apart] = np.minimum(most, np.maximum(load, 0.0))
    return (
        current_for_force(drive_of, first / factor, share=0.5),
        current_for_force(drive_of, (whole - first) / factor, share=0.5),
    )


class Works(NamedTuple):
    """Where the energy at the motors' terminals goes, one value a run [J]."""

    terminals: FloatArray
    """All that the motors take."""
    winding: FloatArray
    """n·I²·R."""
    gearing: FloatArray
    """Friction of motors and gearing, and what the wheels lose at an angle."""
    resistance: FloatArray
    """Rolling drag, or what resists the turn."""
    kinetic: FloatArray
    """What the moving robot has more at the end than at the beginning."""


def works_of(drive_of: Drive, runs: Runs, parts: Stretches, *, distance: ArrayLike) -> Works:
    """Return where the motors' energy goes: losses by quadrature, work in closed form.

    ∫n·P dt = ∫n·R·I² dt + ∫n·(kE·ω·I − κf·κv-side force·v) dt + D·x + ½ m (v1² − v0²). The left
    side and the first two terms are integrals over the nodes; the last two do not use them, so
    that their sum shows whether the nodes are close enough.

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    runs : Runs
        The runs [SI].
    parts : Stretches
        Their stretches [SI].
    distance : float or array
        Way of each run, braking left out [m].

    Returns
    -------
    Works
        One value a run.

    Examples
    --------
    >>> runs, drive_of = example_runs()
    >>> done = works_of(drive_of, runs, stretches_of(drive_of, runs), distance=[6.0])
    >>> spent = done.winding + done.gearing + done.resistance + done.kinetic
    >>> bool(abs(spent[0] / done.terminals[0] - 1.0) < 1e-4)
    True

    Source: own derivation, conservation of energy.
    """
    count, half = len(runs.end), drive_of.supply.motor_count / 2.0
    motor = drive_of.motor

    def whole(values: FloatArray) -> FloatArray:
        summed = np.sum(values * parts.weight, axis=1)
        return np.asarray(np.bincount(parts.row, summed, count), dtype=np.float64)

    both = parts.first_current + parts.second_current
    heat = motor.resistance * (parts.first_current**2 + parts.second_current**2)
    emf = runs.motion.emf[parts.row, None] * parts.speed
    pull = force_per_ampere(drive_of) * runs.force_factor[parts.row, None] / 2.0
    useful = pull * (both - 2.0 * motor.free_current) * parts.speed
    return Works(
        terminals=whole(half * (parts.first_power + parts.second_power)),
        winding=whole(half * heat),
        gearing=whole(half * emf * both - useful),
        resistance=runs.resistance * np.asarray(distance, dtype=np.float64),
        kinetic=runs.inertia * (runs.end**2 - runs.start**2) / 2.0,
    )


def example_runs() -> tuple[Runs, Drive]:
    """Return one run of an invented drive over 6 m, for examples and first trials.

    Returns
    -------
    tuple of Runs and Drive
        A batch of one [SI].

    Examples
    --------
    >>> runs, _ = example_runs()
    >>> runs.time.round(3).tolist()
    [1.65]

    Source: invented figures.
    """
    drive_of = example_drive()
    stance = Stance._make(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51))
    motion = joined([travel_motion(drive_of, stance, "swerve", angle=0.0)])
    pieces = governing_pieces(motion)
    run = run_over(pieces, distance=[6.0], braking=np.inf)
    runs = runs_of_travel(
        drive_of, stance, "swerve", angle=[0.0], motion=motion, pieces=pieces, start=0.0,
        end=run.speed, time=run.time,
    )  # fmt: skip
    return runs, drive_of
