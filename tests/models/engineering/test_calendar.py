"""The shop's calendar, against a walk over it hour by hour."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.engineering.calendar import (
    DAY,
    HOUR,
    NEVER,
    Meetings,
    meeting_axis,
    meeting_of_end,
    meeting_of_start,
    moment_of_end,
    moment_of_start,
    shop_time_by,
    usable_from,
    weekly_meetings,
)
from models.errors import OutOfRangeError

meetings_of_hours = st.lists(
    st.tuples(st.integers(0, 24 * 8), st.integers(1, 30)), min_size=1, max_size=9
)
"""Meetings by begin and length in hours, in any order, overlapping or not."""


def axis_of(hours: list[tuple[int, int]]) -> Meetings:
    begins, lengths = zip(*hours, strict=True)
    return meeting_axis(
        begins=np.array(begins, dtype=np.int64) * HOUR,
        lengths=np.array(lengths, dtype=np.int64) * HOUR,
    )


def worked_hours(hours: list[tuple[int, int]]) -> list[int]:
    """The hours of the calendar in which a meeting runs, in turn."""
    return sorted({hour for begin, length in hours for hour in range(begin, begin + length)})


@settings(deadline=None)
@given(meetings_of_hours)
def test_an_hour_counts_once_however_many_meetings_run(hours: list[tuple[int, int]]) -> None:
    axis = axis_of(hours)
    assert axis.total == len(worked_hours(hours)) * HOUR
    assert np.all(axis.lengths > 0)
    assert np.all(np.diff(axis.begins) > 0)
    assert np.all(np.diff(axis.days) >= 0)


@settings(deadline=None)
@given(meetings_of_hours)
def test_work_goes_on_in_the_hours_of_meetings(hours: list[tuple[int, int]]) -> None:
    axis, worked = axis_of(hours), worked_hours(hours)
    starts = np.arange(len(worked), dtype=np.int64) * HOUR
    assert (moment_of_start(axis, starts) // HOUR).tolist() == worked
    ends = moment_of_end(axis, starts + HOUR) // HOUR
    assert ends.tolist() == [hour + 1 for hour in worked]


@settings(deadline=None)
@given(meetings_of_hours, st.integers(-5, 24 * 10))
def test_a_part_waits_for_the_next_beginning(hours: list[tuple[int, int]], arrival: int) -> None:
    axis, worked = axis_of(hours), worked_hours(hours)
    following = [begin for begin, _ in hours if begin >= arrival]
    expected = NEVER if not following else worked.index(min(following)) * HOUR
    assert int(usable_from(axis, arrival * HOUR)) == expected


@settings(deadline=None)
@given(meetings_of_hours, st.tuples(st.integers(0, 24 * 8), st.integers(1, 30)))
def test_one_more_meeting_ends_no_work_later(
    hours: list[tuple[int, int]], more: tuple[int, int]
) -> None:
    """Work that waits for a part, of any length, ends on the same day or before."""
    before, after = axis_of(hours), axis_of([*hours, more])
    assert set(before.begins.tolist()) <= set(after.begins.tolist())
    arrivals = np.arange(0, 24 * 9, 5, dtype=np.int64)[:, None] * HOUR
    works = np.arange(1, 20, 3, dtype=np.int64)[None, :] * HOUR
    days = []
    for axis in (before, after):
        ends = meeting_of_end(axis, usable_from(axis, arrivals) + works)
        days.append(np.append(axis.days, np.iinfo(np.int64).max)[ends])
    assert np.all(days[1] <= days[0])


def test_a_meeting_that_is_filled_ends_the_work_and_the_next_begins_it() -> None:
    axis = axis_of([(18, 3), (42, 3)])
    assert int(meeting_of_end(axis, 3 * HOUR)) == 0
    assert int(meeting_of_start(axis, 3 * HOUR)) == 1
    assert int(meeting_of_end(axis, 3 * HOUR + 1)) == 1
    assert int(meeting_of_end(axis, 6 * HOUR + 1)) == 2


def test_a_meeting_past_midnight_belongs_to_its_first_day() -> None:
    axis = axis_of([(20, 8), (25, 1)])
    assert axis.days.tolist() == [0, 0, 0]
    assert (axis.lengths // HOUR).tolist() == [5, 1, 2]
    assert axis.opens.tolist() == [True, True, False]


def test_weekly_meetings_leave_out_days_off() -> None:
    monday = int(np.datetime64("2031-03-03").astype(np.int64))
    begins = weekly_meetings(
        first_day=monday + 1, last_day=monday + 21, weekday=0, clock=0, days_off=[monday + 14]
    )
    assert ((begins // DAY) - monday).tolist() == [7, 21]


def test_a_meeting_lasts_some_time() -> None:
    with pytest.raises(OutOfRangeError, match="0 ms; 0 was given"):
        meeting_axis(begins=[0], lengths=[0])


def test_a_calendar_without_meetings_has_no_shop_time() -> None:
    axis = meeting_axis(begins=[], lengths=[])
    assert axis.total == 0
    assert usable_from(axis, [0]).tolist() == [NEVER]
    assert shop_time_by(axis, [5]).tolist() == [0]
