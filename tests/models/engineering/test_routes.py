"""Routes: which turns and drives a leg takes, forwards or backwards, and what sets its time."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from models.engineering.routes import (
    LEG_GOVERNORS,
    Leg,
    Place,
    free_leg_times,
    free_moves,
    linked_leg_times,
    linked_moves,
    shortest_turn,
    whole_cycles,
)

START = Place((0.0, 0.0), 0.0)


def leg(
    to: tuple[float, float] | None = None, heading: float | None = None, *, reverse: bool = True
) -> Leg:
    return Leg(to, heading, 0.0, 0.0, reverse)


def linked(legs: list[Leg]) -> tuple[list[float], list[bool]]:
    """Times at 1 m/s and 1 rad/s, and which legs go backwards."""
    moves = linked_moves(START, legs)
    nothing = [0.0] * len(legs)
    times = linked_leg_times(
        moves, drive_times=moves.distance, turn_times=moves.turns, prepare=nothing, action=nothing
    )
    return times.whole.tolist(), times.reverse.tolist()


def test_turns_go_the_short_way() -> None:
    assert shortest_turn(start=[0.0, 0.1, -3 * pi], end=[1.5 * pi, 0.1, 0.0]) == pytest.approx(
        [pi / 2, 0.0, pi]
    )


def test_backwards_is_taken_where_it_is_quicker() -> None:
    assert linked([leg((-2.0, 0.0), 0.0)]) == ([2.0], [True])
    time, backwards = linked([leg((-2.0, 0.0), 0.0, reverse=False)])
    assert time == pytest.approx([2.0 + 2 * pi])
    assert backwards == [False]


def test_forwards_wins_a_tie() -> None:
    time, backwards = linked([leg((0.0, 2.0))])
    assert time == pytest.approx([2.0 + pi / 2])
    assert backwards == [False]


def test_an_open_heading_stays_as_it_drove() -> None:
    time, backwards = linked([leg((-2.0, 0.0)), leg((-2.0, -3.0), 0.0)])
    assert backwards[0]
    assert time == pytest.approx([2.0, 3.0 + pi])


def test_a_leg_without_a_way_turns_only() -> None:
    time, backwards = linked([leg(None, pi / 2), leg(None, None)])
    assert time == pytest.approx([pi / 2, 0.0])
    assert backwards == [False, False]


def test_each_design_of_a_batch_takes_its_own_way() -> None:
    legs = [leg((-2.0, 0.0)), leg((-2.0, -3.0), 0.0)]
    moves = linked_moves(START, legs)
    pace = np.array([1.0, 0.01])
    # The second design turns so quickly that it makes no odds, but backwards stays quicker
    times = linked_leg_times(
        moves,
        drive_times=moves.distance[:, None] * np.ones(2),
        turn_times=moves.turns[..., None] * pace,
        prepare=[0.0, 0.0],
        action=[0.0, 0.0],
    )
    assert times.whole[:, 0] == pytest.approx([2.0, 3.0 + pi])
    assert times.whole[:, 1] == pytest.approx([2.0, 3.0 + 0.01 * pi])


def test_a_turn_that_cannot_be_made_leaves_no_time() -> None:
    moves = linked_moves(START, [leg((0.0, 2.0)), leg((0.0, 4.0))])
    turns = np.where(moves.turns > 0.0, np.nan, 0.0)
    times = linked_leg_times(
        moves, drive_times=moves.distance, turn_times=turns, prepare=[0, 0], action=[0, 0]
    )
    assert np.isnan(times.whole[0])


def test_a_base_that_goes_any_way_turns_meanwhile() -> None:
    moves = free_moves(Place((0.0, 0.0), pi / 2), [leg((3.0, 0.0), 0.0), leg(None, None)])
    assert moves.way[0] == pytest.approx(-pi / 2)
    times = free_leg_times(
        moves, drive_times=[2.0, 0.0], turn_times=[2.5, 0.0], steer_time=0.2, prepare=[0.0, 1.0],
        action=[0.4, 0.0],
    )  # fmt: skip
    assert times.whole == pytest.approx([0.2 + 2.5 + 0.4, 1.0])
    assert [LEG_GOVERNORS[i] for i in times.governed_by] == ["turn", "mechanism"]
    assert times.steer.tolist() == [0.2, 0.0]


def test_cycles_are_whole_and_fill_what_is_left() -> None:
    counted = whole_cycles(match=150.0, autonomous=15.0, cycle=[13.5, 13.6, 500.0])
    assert counted.tolist() == [10, 9, 0]
