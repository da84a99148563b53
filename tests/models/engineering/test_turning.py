"""Turning in place: closed forms, symmetry, a search for the least dissipation, edges."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from models.engineering.drive import Drive, Stance, rotating_mass
from models.engineering.sprint_pieces import limit_speed
from models.engineering.traction import motor_brake_force
from models.engineering.turning import (
    axle_loads,
    axle_positions,
    mean_side_grip,
    measured_skid_turn,
    skid_turn,
    turn_braking,
    turn_motion,
    turning,
)
from models.errors import OutOfRangeError

G = 9.80665
Drives = Callable[..., Drive]
Stances = Callable[..., Stance]


@pytest.mark.parametrize(("track", "wheelbase"), [(0.6, 0.5), (0.4, 0.7), (2.0, 0.3)])
def test_four_like_wheels_have_their_closed_form(track: float, wheelbase: float) -> None:
    half = 50.0 * G / 2
    turn = skid_turn(
        loads=[half, half], positions=[wheelbase / 2, -wheelbase / 2], grip=1.1,
        side_grips=[1.1, 1.1], track=track,
    )  # fmt: skip
    assert float(turn.yaw_factor) == pytest.approx(2 * track / (track**2 + wheelbase**2))
    expected = 1.1 * 50.0 * G * wheelbase / np.hypot(wheelbase, track)
    assert float(turn.resistance) == pytest.approx(expected)
    assert float(turn.centre) == pytest.approx(0.0, abs=1e-9)


AXLES = st.integers(2, 5)


@settings(derandomize=True, deadline=None, max_examples=40)
@given(data=st.data(), count=AXLES, track=st.floats(0.3, 0.8), grip=st.floats(0.3, 1.5))
def test_no_other_turn_dissipates_less(
    data: st.DataObject, count: int, track: float, grip: float
) -> None:
    loads = np.array([data.draw(st.floats(0.0, 300.0)) for _ in range(count)]) + 1.0
    grips = np.array([data.draw(st.sampled_from([0.0, 0.1, 0.5, 0.9, 1.2])) for _ in range(count)])
    at = np.asarray(axle_positions(axle_count=count, wheelbase=0.55))
    turn = skid_turn(loads=loads, positions=at, grip=grip, side_grips=grips, track=track)

    def dissipation(yaw: float, x0: float) -> float:
        aside = grips * yaw * (at - x0)
        return float(np.sum(loads * np.hypot(grip * (1 - yaw * track / 2), aside)))

    def over_centre(yaw: float) -> float:
        found = minimize_scalar(
            lambda x0: dissipation(yaw, x0), bounds=(-0.275, 0.275), method="bounded",
            options={"xatol": 1e-10},
        )  # fmt: skip
        return float(found.fun)

    searched = minimize_scalar(over_centre, bounds=(1e-6, 2 / track), method="bounded",
                               options={"xatol": 1e-10})  # fmt: skip
    least = min(float(searched.fun), over_centre(2 / track))
    assert float(turn.resistance) == pytest.approx(least, rel=1e-7, abs=1e-5)
    yaw, centre = float(turn.yaw_factor), float(turn.centre)
    assert dissipation(yaw, centre) == pytest.approx(float(turn.resistance), rel=1e-9)


def test_a_batch_of_turns_gives_what_each_gives() -> None:
    tracks = np.array([[0.4, 0.5], [0.6, 0.7]])
    at = axle_positions(axle_count=3, wheelbase=0.5)
    loads, grips = np.array([100.0, 200.0, 150.0]), np.array([0.1, 0.9, 0.9])
    batch = skid_turn(loads=loads, positions=at, grip=1.0, side_grips=grips, track=tracks)
    assert batch.yaw_factor.shape == (2, 2)
    for place in ((0, 1), (1, 0)):
        alone = skid_turn(
            loads=loads, positions=at, grip=1.0, side_grips=grips, track=tracks[place]
        )
        assert batch.yaw_factor[place] == pytest.approx(float(alone.yaw_factor))
        assert batch.resistance[place] == pytest.approx(float(alone.resistance))


def test_a_mirrored_base_turns_alike() -> None:
    at = np.asarray(axle_positions(axle_count=3, wheelbase=0.5))
    loads, grips = np.array([100.0, 220.0, 150.0]), np.array([0.2, 0.9, 0.8])
    one = skid_turn(loads=loads, positions=at, grip=1.0, side_grips=grips, track=0.5)
    other = skid_turn(loads=loads[::-1], positions=at, grip=1.0, side_grips=grips[::-1], track=0.5)
    assert float(one.yaw_factor) == pytest.approx(float(other.yaw_factor))
    assert float(one.centre) == pytest.approx(-float(other.centre))


def test_wheels_without_side_grip_turn_for_nothing() -> None:
    turn = skid_turn(
        loads=[100.0, 100.0], positions=[0.2, -0.2], grip=1.0, side_grips=[0.0, 0.0], track=0.5
    )
    assert float(turn.resistance) == 0.0
    assert float(turn.yaw_factor) == pytest.approx(4.0)


@pytest.mark.parametrize(("lead", "rests_on"), [(0.05, [0, 1]), (0.0, [1]), (-0.05, [1, 2])])
def test_a_dropped_centre_axle_takes_two_axles(lead: float, rests_on: list[int]) -> None:
    at = axle_positions(axle_count=3, wheelbase=0.6)
    loads = axle_loads(mass=50.0, cg_x=lead, positions=at, dropped=True)
    assert np.flatnonzero(loads > 1e-9).tolist() == rests_on
    assert float(np.sum(loads)) == pytest.approx(50.0 * G)
    assert float(np.sum(loads * at)) == pytest.approx(50.0 * G * lead)


def test_loads_balance_weight_and_moment() -> None:
    at = axle_positions(axle_count=4, wheelbase=0.6)
    lead = np.array([-0.1, 0.0, 0.12])
    loads = axle_loads(mass=50.0, cg_x=lead, positions=at, dropped=True)
    assert np.sum(loads, axis=-1) == pytest.approx(np.full(3, 50.0 * G))
    assert np.sum(loads * at, axis=-1) == pytest.approx(50.0 * G * lead)


def test_an_axle_that_would_pull_lifts_off_and_the_others_carry_all() -> None:
    at = axle_positions(axle_count=3, wheelbase=0.6)
    loads = axle_loads(mass=50.0, cg_x=-0.25, positions=at, dropped=False)
    assert loads[0] == 0.0
    assert float(np.sum(loads)) == pytest.approx(50.0 * G)
    assert float(np.sum(loads * at)) == pytest.approx(50.0 * G * -0.25)


def test_side_grip_counts_by_load() -> None:
    assert float(mean_side_grip(loads=[0.0, 200.0], side_grips=[0.1, 0.9])) == pytest.approx(0.9)


def test_a_turn_speeds_up_and_slows_down_by_its_forces(
    make_drive: Drives, make_stance: Stances
) -> None:
    drive, at = make_drive(stator_limit=30.0), make_stance()
    turn = turning(drive, at, "omni", skid=None)
    assert float(turn.yaw_factor) == pytest.approx(2 * np.sqrt(2) / (0.54 + 0.52))
    inertia = 3.0 * float(turn.yaw_factor) ** 2 + float(rotating_mass(drive))
    slow = float(turn_braking(drive, at, turn)) * inertia
    assert slow == pytest.approx(
        min(float(motor_brake_force(drive) + turn.resistance), float(turn.cap))
    )
    motion = turn_motion(drive, at, turn)
    assert float(motion.bound) * inertia == pytest.approx(float(turn.cap - turn.resistance))


def test_a_drive_too_weak_to_skid_does_not_turn(make_drive: Drives, make_stance: Stances) -> None:
    drive, at = make_drive(stator_limit=8.0), make_stance(track=0.3)
    positions = axle_positions(axle_count=2, wheelbase=0.54)
    loads = axle_loads(mass=50.0, cg_x=0.0, positions=positions, dropped=False)
    skid = skid_turn(loads=loads, positions=positions, grip=1.1, side_grips=[1.1, 1.1], track=0.3)
    assert float(limit_speed(turn_motion(drive, at, turning(drive, at, "tank", skid=skid)))) == 0.0


def test_impossible_input_is_refused(make_drive: Drives, make_stance: Stances) -> None:
    with pytest.raises(OutOfRangeError, match="at least 2 axles"):
        axle_positions(axle_count=1, wheelbase=0.5)
    with pytest.raises(OutOfRangeError, match="skid"):
        turning(make_drive(), make_stance(), "tank", skid=None)


@settings(derandomize=True, deadline=None, max_examples=40)
@given(
    data=st.data(), count=AXLES, track=st.floats(0.3, 0.8), factor=st.floats(0.8, 3.0),
    grip=st.floats(0.3, 1.5),
)  # fmt: skip
def test_a_measured_track_leaves_only_the_place_of_the_turn_to_the_least_dissipation(
    data: st.DataObject, count: int, track: float, factor: float, grip: float
) -> None:
    loads = np.array([data.draw(st.floats(0.0, 300.0)) for _ in range(count)]) + 1.0
    grips = np.array([data.draw(st.sampled_from([0.1, 0.5, 0.9, 1.2])) for _ in range(count)])
    at = np.asarray(axle_positions(axle_count=count, wheelbase=0.55))
    given_turn = {"loads": loads, "positions": at, "grip": grip, "side_grips": grips}
    turn = measured_skid_turn(**given_turn, track=track, effective_track=factor * track)
    yaw = 2.0 / (factor * track)

    def dissipation(x0: float) -> float:
        along = grip * (1 - yaw * track / 2)
        return float(np.sum(loads * np.hypot(along, grips * yaw * (at - x0))))

    searched = min(
        float(minimize_scalar(dissipation, bounds=(a, b), method="bounded",
                              options={"xatol": 1e-10}).fun)
        for a, b in zip(at[1:], at[:-1], strict=True)
    )  # fmt: skip
    assert float(turn.yaw_factor) == pytest.approx(yaw)
    assert float(turn.resistance) == pytest.approx(searched, rel=1e-6)
    assert dissipation(float(turn.centre)) == pytest.approx(float(turn.resistance), rel=1e-9)
    free = skid_turn(**given_turn, track=track)
    assert float(turn.resistance) >= float(free.resistance) * (1 - 1e-9)


@pytest.mark.parametrize("tracks", [0.5, 0.4])
def test_measuring_what_the_model_computes_changes_nothing(tracks: float) -> None:
    given_turn = {
        "loads": [100.0, 200.0, 150.0], "positions": [0.3, 0.0, -0.3], "grip": 0.9,
        "side_grips": [0.9, 0.7, 0.9], "track": tracks,
    }  # fmt: skip
    free = skid_turn(**given_turn)
    same = measured_skid_turn(**given_turn, effective_track=2.0 / free.yaw_factor)
    assert float(same.resistance) == pytest.approx(float(free.resistance), rel=1e-9)
    assert float(same.centre) == pytest.approx(float(free.centre), abs=1e-4)


@pytest.mark.parametrize(
    ("axles", "moment"), [([0.25, -0.25], 103.01), ([0.25, 0.0, -0.25], 68.67)]
)
def test_without_slip_along_the_moment_is_that_of_sliding_sideways(
    axles: list[float], moment: float
) -> None:
    """60 kg, μ 0.7, L 0.5 m: four wheels μ·W·L/2, six even wheels μ·W·L/3 (Wong, Theory of Ground
    Vehicles, from memory; numbers our own, with 9.81 m/s²)."""
    loads = [60.0 * 9.81 / len(axles)] * len(axles)
    turn = measured_skid_turn(
        loads=loads, positions=axles, grip=0.7, side_grips=[0.7] * len(axles), track=0.6,
        effective_track=0.6,
    )  # fmt: skip
    assert float(turn.resistance / turn.yaw_factor) == pytest.approx(moment, abs=0.01)


def test_a_batch_of_measured_tracks_gives_what_each_gives() -> None:
    wide = np.array([0.6, 0.9, 1.3])
    given_turn = {
        "loads": [100.0, 200.0], "positions": [0.3, -0.3], "grip": 0.9, "side_grips": [0.9, 0.4],
        "track": 0.6,
    }  # fmt: skip
    batch = measured_skid_turn(**given_turn, effective_track=wide)
    for i, track in enumerate(wide):
        one = measured_skid_turn(**given_turn, effective_track=track)
        assert float(batch.resistance[i]) == pytest.approx(float(one.resistance), rel=1e-9)
