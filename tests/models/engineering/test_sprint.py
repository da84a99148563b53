"""Runs from rest: closed forms, limit cases, edges, batches."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from models.engineering.drive import Drive, Stance
from models.engineering.sprint import (
    BLOCK,
    run_over,
    state_at_speed,
    sweep_of_runs,
    time_and_distance,
)
from models.engineering.sprint_pieces import (
    CONSTANT,
    FULL_DUTY,
    SUPPLY,
    acceleration_at,
    chosen,
    governing_pieces,
    limit_speed,
    part_of_pieces,
    supply_acceleration,
    supply_remainder,
)
from models.engineering.traction import GOVERNING, Motion, joined, travel_motion

Drives = Callable[..., Drive]
Stances = Callable[..., Stance]


def words(motion: Motion) -> list[str]:
    pieces = governing_pieces(motion)
    wide = pieces.upper > pieces.lower
    return [GOVERNING[i] for i in pieces.governed_by[wide]]


def test_constant_acceleration_has_its_closed_form(
    make_drive: Drives, make_stance: Stances
) -> None:
    drive = make_drive(grip=0.5, rolling_coefficient=0.0)
    pieces = governing_pieces(travel_motion(drive, make_stance(), "tank", angle=0.0))
    run = run_over(pieces, distance=0.3, braking=np.inf)
    a = 0.5 * 9.80665
    assert float(run.time) == pytest.approx(np.sqrt(2 * 0.3 / a))
    assert float(run.speed) == pytest.approx(np.sqrt(2 * 0.3 * a))
    stop = run_over(pieces, distance=0.3, braking=a)
    assert float(stop.time) == pytest.approx(2 * np.sqrt(0.3 / a))


def test_limits_follow_one_another_with_speed(make_drive: Drives, make_stance: Stances) -> None:
    drive = make_drive(grip=0.9, stator_limit=80.0, supply_limit=30.0)
    tall = make_stance(cg_height=0.1)
    assert words(travel_motion(drive, tall, "tank", angle=0.0)) == [
        "traction", "supply limit", "voltage",
    ]  # fmt: skip
    drive = make_drive(grip=2.0, stator_limit=60.0, supply_limit=30.0)
    assert words(travel_motion(drive, tall, "tank", angle=0.0)) == [
        "stator limit", "supply limit", "voltage",
    ]  # fmt: skip
    high = make_stance(cg_height=0.6)
    assert words(travel_motion(make_drive(), high, "tank", angle=0.0))[0] == "tip"


def test_pieces_meet_without_a_jump(make_drive: Drives, make_stance: Stances) -> None:
    drive = make_drive(stator_limit=90.0, supply_limit=35.0, grip=0.8)
    motion = travel_motion(drive, make_stance(to_front=0.2), "swerve", angle=0.0)
    pieces = governing_pieces(motion)
    assert pieces.lower[0] == 0.0
    assert pieces.lower[1:] == pytest.approx(pieces.upper[:-1])
    assert float(pieces.upper[-1]) == pytest.approx(float(limit_speed(motion)))
    joints = pieces.upper[:-1]
    below, _ = acceleration_at(motion, joints * (1 - 1e-9))
    above, _ = acceleration_at(motion, joints * (1 + 1e-9))
    assert below == pytest.approx(above, rel=1e-6)
    laws = {FULL_DUTY, CONSTANT, SUPPLY}
    assert set(pieces.law.tolist()) <= laws


def test_pieces_agree_with_plain_quadrature(make_drive: Drives, make_stance: Stances) -> None:
    drive = make_drive(stator_limit=90.0, supply_limit=35.0, grip=0.8)
    motion = travel_motion(drive, make_stance(), "swerve", angle=0.0)
    pieces = governing_pieces(motion)
    end = 0.9 * float(pieces.upper[-1])
    speeds = np.unique(np.concatenate([[0.0, end], pieces.upper[pieces.upper < end]]))
    plain = time_and_distance(lambda v: acceleration_at(motion, v.ravel())[0].reshape(v.shape),
                              speeds=speeds, nodes=60)  # fmt: skip
    found = state_at_speed(pieces, speed=end)
    assert float(found.time) == pytest.approx(float(plain.time[-1]), rel=1e-9)
    assert float(found.distance) == pytest.approx(float(plain.distance[-1]), rel=1e-9)
    time, distance = part_of_pieces(pieces, np.minimum(pieces.upper, np.maximum(pieces.lower, end)))
    assert float(np.sum(time)) == pytest.approx(float(found.time))
    assert float(np.sum(distance)) == pytest.approx(float(found.distance))


def test_at_the_supply_limit_the_law_is_the_motion_s(
    make_drive: Drives, make_stance: Stances
) -> None:
    motion = travel_motion(make_drive(supply_limit=20.0), make_stance(), "tank", angle=0.0)
    pieces = governing_pieces(motion)
    at_limit = chosen(pieces, pieces.law == SUPPLY)
    middle = (at_limit.lower + at_limit.upper) / 2
    law = supply_acceleration(at_limit, middle[:, None])[:, 0]
    assert law == pytest.approx(acceleration_at(motion, middle)[0])
    assert supply_remainder(at_limit, at_limit.lower).time == pytest.approx(0.0)


def test_a_run_of_any_length_ends_where_it_should(make_drive: Drives, make_stance: Stances) -> None:
    drive = make_drive(supply_limit=40.0)
    pieces = governing_pieces(travel_motion(drive, make_stance(), "tank", angle=0.0))
    distances = np.array([0.001, 0.1, 1.0, 10.0, 100.0, 10_000.0])
    run = run_over(pieces, distance=distances, braking=np.inf)
    assert np.all(np.diff(run.time) > 0)
    top = float(pieces.upper[-1])
    # Once at top speed, more distance is more time at that speed, to the last digits
    assert run.time[-1] - run.time[-2] == pytest.approx(9_900 / top, rel=1e-12)
    short = run.speed[:3]
    assert state_at_speed(pieces, speed=short).distance == pytest.approx(distances[:3])


def test_no_distance_takes_no_time(make_drive: Drives, make_stance: Stances) -> None:
    pieces = governing_pieces(travel_motion(make_drive(), make_stance(), "tank", angle=0.0))
    assert float(run_over(pieces, distance=0.0, braking=5.0).time) == 0.0


def test_what_cannot_move_has_no_time(make_drive: Drives, make_stance: Stances) -> None:
    stuck = make_drive(rolling_coefficient=0.5, stator_limit=5.0)
    pieces = governing_pieces(travel_motion(stuck, make_stance(), "tank", angle=0.0))
    run = run_over(pieces, distance=np.array([0.0, 1.0]), braking=5.0)
    assert run.time[0] == 0.0
    assert np.isnan(run.time[1])
    assert np.isinf(state_at_speed(pieces, speed=1.0).time)


def test_a_speed_out_of_reach_takes_for_ever(make_drive: Drives, make_stance: Stances) -> None:
    pieces = governing_pieces(travel_motion(make_drive(), make_stance(), "tank", angle=0.0))
    assert np.isinf(float(state_at_speed(pieces, speed=float(pieces.upper[-1])).time))


def test_runs_name_the_motion_they_belong_to(make_drive: Drives, make_stance: Stances) -> None:
    slow, fast = (
        travel_motion(make_drive(ratio=ratio), make_stance(), "tank", angle=0.0)
        for ratio in (12.0, 6.0)
    )
    both = governing_pieces(joined([slow, fast]))
    picked = run_over(both, distance=5.0, braking=6.0, which=np.array([1, 0, 1]))
    alone = [
        float(run_over(governing_pieces(m), distance=5.0, braking=6.0).time) for m in (slow, fast)
    ]
    assert picked.time == pytest.approx([alone[1], alone[0], alone[1]])


def test_a_batch_of_designs_gives_what_each_gives(make_drive: Drives, make_stance: Stances) -> None:
    ratios = np.linspace(4.0, 14.0, 12).reshape(3, 4)
    batch = run_over(
        governing_pieces(
            travel_motion(
                make_drive(ratio=ratios, supply_limit=30.0), make_stance(), "swerve", angle=0.0
            )
        ),
        distance=4.0,
        braking=7.0,
    )
    assert batch.time.shape == (3, 4)
    for place in ((0, 0), (1, 2), (2, 3)):
        drive = make_drive(ratio=ratios[place], supply_limit=30.0)
        pieces = governing_pieces(travel_motion(drive, make_stance(), "swerve", angle=0.0))
        alone = run_over(pieces, distance=4.0, braking=7.0)
        assert batch.time[place] == pytest.approx(float(alone.time), rel=1e-12)


def test_a_sweep_in_blocks_gives_what_one_batch_gives(
    make_drive: Drives, make_stance: Stances
) -> None:
    ratios = np.linspace(4.0, 14.0, BLOCK + 7)
    motion = travel_motion(make_drive(ratio=ratios), make_stance(), "swerve", angle=0.0)
    distances = np.linspace(1.0, 8.0, BLOCK + 7)
    swept = sweep_of_runs(motion, distance=distances, braking=8.0)
    whole = run_over(governing_pieces(motion), distance=distances, braking=8.0)
    assert swept.time == pytest.approx(whole.time, rel=1e-12)
    assert swept.speed == pytest.approx(whole.speed, rel=1e-12)
