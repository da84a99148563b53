"""Points passed without a stop: caps at the joints, and legs that are one motion."""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.engineering.drive import example_drive
from models.engineering.passing import Passage, corner_speed, governing_words, run_through
from models.engineering.sprint import run_over, state_at_speed
from models.engineering.sprint_pieces import example_motion, governing_pieces
from models.engineering.traction import GOVERNING, joined, motion_of

BRAKING = 8.0
LAW = governing_pieces(joined([example_motion()]))
FREE = np.inf


def through(lengths: list[float], caps: list[float], *, braking: float = BRAKING) -> Passage:
    return run_through(
        LAW, which=np.zeros(len(lengths), dtype=int), distance=lengths,
        braking=np.full(len(lengths), braking), caps=caps,
    )  # fmt: skip


def stopping(length: float, *, braking: float = BRAKING) -> float:
    return float(run_over(LAW, distance=length, braking=braking).time[0])


def constant_law(acceleration: float) -> object:
    """A motion that grip holds at one acceleration far beyond every speed used here."""
    return motion_of(
        example_drive(), speed_factor=1e6, slopes=np.array([1e6]), offsets=np.array([0.0]),
        bound=acceleration, bound_tips=False,
    )  # fmt: skip


@given(
    st.lists(st.floats(0.01, 6.0), min_size=2, max_size=6),
    st.floats(1.0, 15.0),
)
def test_a_straight_line_cut_anywhere_takes_as_long_as_in_one(
    lengths: list[float], braking: float
) -> None:
    passage = through(lengths, [*[FREE] * (len(lengths) - 1), 0.0], braking=braking)
    assert passage.time.sum() == pytest.approx(stopping(sum(lengths), braking=braking), rel=1e-6)


def test_a_line_so_long_that_top_speed_is_reached_is_no_exception() -> None:
    passage = through([40.0, 60.0, 50.0], [FREE, FREE, 0.0])
    assert passage.time.sum() == pytest.approx(stopping(150.0), rel=1e-8)
    assert np.isfinite(passage.time).all()


def test_joints_that_must_be_stopped_at_are_single_legs() -> None:
    passage = through([2.0, 3.5, 1.0], [0.0, 0.0, 0.0])
    assert passage.time == pytest.approx([stopping(one) for one in (2.0, 3.5, 1.0)], rel=1e-9)


def test_constant_acceleration_and_braking_follow_the_closed_form() -> None:
    law = governing_pieces(joined([constant_law(4.0)]))  # type: ignore[list-item]
    passage = run_through(
        law, which=np.zeros(2, dtype=int), distance=[3.0, 5.0], braking=[2.0, 2.0],
        caps=[1.0, 0.0],
    )  # fmt: skip
    # First leg: p²/8 + (p² − 1)/4 = 3; second: (p² − 1)/8 + p²/4 = 5
    first, second = sqrt(26.0 / 3.0), sqrt(41.0 / 3.0)
    assert passage.top == pytest.approx([first, second], rel=1e-9)
    assert passage.time == pytest.approx(
        [first / 4 + (first - 1) / 2, (second - 1) / 4 + second / 2], rel=1e-9
    )
    assert passage.end.tolist() == pytest.approx([1.0, 0.0])


def test_a_short_last_leg_holds_back_the_legs_before() -> None:
    passage = through([6.0, 0.5], [FREE, 0.0], braking=4.0)
    assert passage.end[0] == pytest.approx(sqrt(2 * 4.0 * 0.5))
    assert passage.time.sum() == pytest.approx(stopping(6.5, braking=4.0), rel=1e-9)


def test_each_leg_is_slowed_down_on_with_its_own_braking() -> None:
    passage = run_through(
        LAW, which=np.zeros(2, dtype=int), distance=[6.0, 0.5], braking=[9.0, 2.0],
        caps=[FREE, 0.0],
    )  # fmt: skip
    joint = sqrt(2 * 2.0 * 0.5)
    assert passage.end[0] == pytest.approx(joint)
    assert passage.time[1] == pytest.approx(joint / 2.0)
    # The first leg alone: as if it stopped where braking at 9 m/s² on from the joint would end
    whole = stopping(6.0 + joint**2 / 18.0, braking=9.0)
    assert passage.time[0] == pytest.approx(whole - joint / 9.0)


@given(st.lists(st.floats(0.05, 5.0), min_size=2, max_size=5), st.data())
def test_a_lower_cap_never_makes_it_quicker(lengths: list[float], data: st.DataObject) -> None:
    joint = data.draw(st.integers(0, len(lengths) - 2))
    low = data.draw(st.floats(0.05, 6.0))
    caps = [data.draw(st.floats(0.05, 6.0)) for _ in lengths[:-1]]
    lower = [min(cap, low) if index == joint else cap for index, cap in enumerate(caps)]
    assert (
        through(lengths, [*lower, 0.0]).time.sum()
        >= through(lengths, [*caps, 0.0]).time.sum() - 1e-9
    )


def test_the_way_back_takes_as_long_where_law_and_braking_are_alike() -> None:
    law = governing_pieces(joined([constant_law(3.0)]))  # type: ignore[list-item]
    lengths, caps = [1.0, 4.0, 2.5], [1.2, 2.4]
    times = [
        run_through(law, which=np.zeros(3, dtype=int), distance=order, braking=[3.0] * 3,
                    caps=[*joints, 0.0]).time
        for order, joints in ((lengths, caps), (lengths[::-1], caps[::-1]))
    ]  # fmt: skip
    assert times[0] == pytest.approx(times[1][::-1], rel=1e-9)


def test_each_design_of_a_batch_is_its_own() -> None:
    caps = np.array([[1.0, FREE], [0.0, 0.0]])
    passage = run_through(
        LAW, which=np.zeros((2, 2), dtype=int), distance=np.full((2, 2), 2.0),
        braking=np.full((2, 2), BRAKING), caps=caps,
    )  # fmt: skip
    for column in (0, 1):
        alone = through([2.0, 2.0], caps[:, column].tolist())
        assert passage.time[:, column] == pytest.approx(alone.time, rel=1e-12)


def test_a_leg_that_does_not_get_going_leaves_the_others_their_times() -> None:
    stuck = example_motion()._replace(bound=np.asarray(0.0))
    law = governing_pieces(joined([example_motion(), stuck]))
    passage = run_through(
        law, which=np.array([0, 1]), distance=[2.0, 2.0], braking=[BRAKING] * 2, caps=[FREE, 0.0]
    )
    assert passage.time[0] == pytest.approx(stopping(2.0), rel=1e-9)
    assert np.isnan(passage.time[1])


def test_the_corner_holds_the_circle() -> None:
    speed = corner_speed(radius=0.8, bend=pi / 2, room=5.0, side_acceleration=9.0)
    assert float(speed) == pytest.approx(sqrt(9.0 * 0.8))


def test_an_arc_that_does_not_fit_is_as_large_as_the_legs_let_it_be() -> None:
    # A right angle, legs of 1 m to either side: the arc that begins there has 1 m
    speed = corner_speed(radius=50.0, bend=pi / 2, room=1.0, side_acceleration=9.0)
    assert float(speed) == pytest.approx(3.0)
    assert float(corner_speed(radius=50.0, bend=pi, room=1.0, side_acceleration=9.0)) < 1e-4


def test_a_way_that_does_not_bend_limits_nothing() -> None:
    assert corner_speed(radius=0.1, bend=0.0, room=1.0, side_acceleration=9.0) == np.inf


def test_nothing_is_passed_by_what_cannot_hold_on() -> None:
    assert corner_speed(radius=1.0, bend=1.0, room=1.0, side_acceleration=-2.0) == 0.0


@pytest.mark.parametrize("top", [1.0, 3.0, 4.5])
def test_the_word_is_that_of_the_longest_stretch(top: float) -> None:
    speeds = np.linspace(0.0, top, 2001)
    times = np.diff(state_at_speed(LAW, speed=speeds[:, None]).time[:, 0])
    middle = (speeds[1:] + speeds[:-1]) / 2
    shares = np.zeros(len(GOVERNING))
    for piece in range(LAW.lower.shape[1]):
        within = (middle > LAW.lower[0, piece]) & (middle <= LAW.upper[0, piece])
        shares[LAW.governed_by[0, piece]] += times[within].sum()
    word = governing_words(LAW, which=np.array([0]), begin=0.0, end=times.sum())
    assert GOVERNING[int(word[0])] == GOVERNING[int(np.argmax(shares))]


def test_no_word_governs_what_does_not_move() -> None:
    assert governing_words(LAW, which=np.array([0]), begin=0.0, end=np.nan).tolist() == [-1]
