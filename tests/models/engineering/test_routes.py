"""Routes: which turns and drives a leg takes, forwards or backwards, and what sets its time."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from models.engineering.routes import (
    LEG_GOVERNORS,
    Leg,
    LegTimes,
    Place,
    free_leg_times,
    free_moves,
    linked_leg_times,
    linked_moves,
    motions,
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


def passing(to: tuple[float, float], heading: float | None = None) -> Leg:
    return Leg(to, heading, 0.0, 0.0, True, passes=True)


def test_legs_that_pass_are_one_motion_up_to_the_stop() -> None:
    legs = [leg((1.0, 0.0)), passing((2.0, 0.0)), passing((3.0, 1.0)), leg((4.0, 1.0)), leg()]
    moves = linked_moves(START, legs)
    assert motions(moves.follows) == [(0, 1), (1, 4), (4, 5)]
    assert moves.bend == pytest.approx([0.0, 0.0, pi / 4, pi / 4, 0.0])
    assert free_moves(START, legs).bend == pytest.approx(moves.bend)


@pytest.mark.parametrize(
    "legs",
    [
        [passing((1.0, 0.0))],
        [passing((1.0, 0.0)), leg(None, pi)],
        [passing((0.0, 0.0)), leg((1.0, 0.0))],
        [passing((1.0, 0.0))._replace(action=0.3), leg((2.0, 0.0))],
        [passing((1.0, 0.0))._replace(prepare=0.3), leg((2.0, 0.0))],
    ],
)
def test_there_is_no_passing_where_something_makes_it_stop(legs: list[Leg]) -> None:
    assert not free_moves(START, legs).follows.any()


def test_linked_sides_turn_before_and_after_a_motion_only() -> None:
    legs = [passing((0.0, 2.0)), passing((2.0, 4.0)), leg((4.0, 4.0), -pi / 2, reverse=False)]
    time, backwards = linked(legs)
    root = 2 * 2**0.5
    assert time == pytest.approx([pi / 2 + 2.0, root, 2.0 + pi / 2])
    assert backwards == [False] * 3


def test_a_motion_goes_one_way_round() -> None:
    # Backwards costs no turn; a leg that may not be driven so forbids it for all
    legs = [passing((-2.0, 0.0)), leg((-4.0, 0.0), 0.0)]
    assert linked(legs) == ([2.0, 2.0], [True, True])
    time, backwards = linked([legs[0], legs[1]._replace(may_reverse=False)])
    assert time == pytest.approx([2.0 + pi, 2.0 + pi])
    assert backwards == [False, False]


def test_the_slower_way_backwards_is_weighed_against_its_turns() -> None:
    moves = linked_moves(START, [leg((-2.0, 0.0), 0.0)])
    for slow, expected in ((8.0, True), (8.5, False)):
        times = linked_leg_times(
            moves, drive_times=[2.0], reverse_times=[slow], turn_times=moves.turns,
            prepare=[0.0], action=[0.0],
        )  # fmt: skip
        assert times.reverse.tolist() == [expected]
        assert times.whole == pytest.approx([slow if expected else 2.0 + 2 * pi])


@pytest.mark.parametrize(
    ("heading", "holds"),
    [
        (0.0, [True, False]),
        (pi / 4, [True, False]),
        (pi / 2, [True, False]),
        (-0.008, [True, False]),
        (-0.02, [False, False]),
        (-3 * pi / 4, [False, True]),
        (pi, [False, True]),
    ],
)
def test_linked_sides_look_the_way_they_drive_where_they_pass(
    heading: float, holds: list[bool]
) -> None:
    legs = [passing((2.0, 0.0), heading), leg((2.0, 2.0), reverse=True)]
    moves = linked_moves(START, legs)
    assert moves.holds[0].tolist() == holds
    times, backwards = linked(legs)
    assert np.isnan(times[0]) == (not any(holds))
    if any(holds):
        assert backwards == [holds[1], holds[1]]


def free(legs: list[Leg], *, turn_pace: float = 1.0, steer: float = 0.0) -> LegTimes:
    """Times at 1 m/s and `turn_pace` s/rad."""
    moves = free_moves(START, legs)
    return free_leg_times(
        moves, drive_times=moves.distance, turn_times=moves.turn * turn_pace, steer_time=steer,
        prepare=[one.prepare for one in legs], action=[one.action for one in legs],
    )  # fmt: skip


def test_a_turn_has_the_whole_motion_where_only_its_end_states_a_heading() -> None:
    legs = [passing((2.0, 0.0)), leg((3.0, 0.0), 2.5)]
    assert free(legs).whole == pytest.approx([2.0, 1.0])
    slow = free(legs, turn_pace=2.0)
    assert slow.whole == pytest.approx([2.0, 3.0])
    assert [LEG_GOVERNORS[i] for i in slow.governed_by] == ["drive", "turn"]


def test_a_heading_stated_at_a_passed_point_has_to_be_reached_there() -> None:
    times = free([passing((1.0, 0.0), 2.5), leg((2.0, 0.0), 0.0)])
    assert times.whole == pytest.approx([2.5, 2.5])
    times = free([passing((3.0, 0.0), 2.5), leg((4.0, 0.0), 0.0)])
    assert times.whole == pytest.approx([3.0, 2.5])


def test_modules_steer_once_for_a_motion() -> None:
    times = free([passing((1.0, 0.0)), leg((1.0, 2.0)), leg((0.0, 2.0))], steer=0.2)
    assert times.steer.tolist() == [0.2, 0.0, 0.2]
    assert times.whole == pytest.approx([1.2, 2.0, 1.2])


def test_mechanisms_have_the_whole_motion() -> None:
    legs = [passing((2.0, 0.0)), leg((3.0, 0.0))._replace(prepare=3.5, action=0.5)]
    times = free(legs)
    assert times.whole == pytest.approx([2.0, 2.0])
    assert times.wait == pytest.approx([0.0, 0.5])
    moves = linked_moves(START, legs)
    same = linked_leg_times(
        moves, drive_times=moves.distance, turn_times=moves.turns, prepare=[0.0, 3.5],
        action=[0.0, 0.5],
    )  # fmt: skip
    assert same.whole == pytest.approx(times.whole)
    assert LEG_GOVERNORS[int(same.governed_by[1])] == "mechanism"


def test_move_and_wait_make_up_a_leg() -> None:
    times = free([leg((1.0, 0.0))._replace(prepare=1.5, action=0.25)])
    assert (times.move[0], times.wait[0], times.whole[0]) == pytest.approx((1.0, 0.5, 1.75))
