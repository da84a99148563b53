"""The shop's calendar: meetings as one axis of shop time, and back to dates.

Shop time runs only in meetings, one after another. All times are whole milliseconds: moments
count from 1970-01-01 00:00 of the shop's own clock, shop time from the start of the first
meeting. Whole numbers add up exactly, so a task that fills a meeting ends in that meeting on
every machine, and three times 40 minutes are two hours; milliseconds hold each minute, each
tenth, hundredth and thousandth of an hour exactly.

Contents
--------
Meetings, meeting_axis: the axis, from the meetings' beginnings and lengths.
weekly_meetings: when meetings of a weekly pattern begin.
shop_time_by: shop time there is until the end of a day.
usable_from: shop time from which a part can be used.
meeting_of_end, meeting_of_start: in which meeting a piece of work ends or starts.
moment_of_end, moment_of_start: when, on the calendar.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.errors import OutOfRangeError

Times = NDArray[np.int64]

HOUR = 3_600_000
"""Milliseconds in an hour."""
DAY = 24 * HOUR
NEVER = 2**52
"""Shop time that no calendar reaches: 142,000 years."""


class Meetings(NamedTuple):
    """Stretches of shop time in turn: a meeting each, several where meetings overlap."""

    begins: Times
    """When each begins [ms since 1970]."""
    lengths: Times
    """How long each lasts [ms]."""
    days: Times
    """The day each belongs to [days since 1970]."""
    before: Times
    """Shop time before each, and behind the last [ms]; one longer than the others."""
    opens: NDArray[np.bool_]
    """Whether a meeting begins with it."""

    @property
    def total(self) -> int:
        """All shop time [ms].

        >>> meeting_axis(begins=[0, DAY], lengths=[HOUR, 2 * HOUR]).total // HOUR
        3
        """
        return int(self.before[-1])


def meeting_axis(*, begins: ArrayLike, lengths: ArrayLike) -> Meetings:
    """Return meetings as an axis of shop time, in the order of the calendar.

    Where meetings overlap, no hour counts twice: the axis is cut at each beginning and end, and
    a stretch belongs to the day on which the earliest meeting began that still runs. One more
    meeting takes no time, no beginning and no earlier day away.

    Parameters
    ----------
    begins : array of int
        When meetings begin, in any order [ms since 1970].
    lengths : array of int
        How long each lasts, above 0 [ms].

    Returns
    -------
    Meetings
        In order; stretches of overlapping ones as meetings of their own.

    Raises
    ------
    OutOfRangeError
        With a meeting that lasts no time.

    Examples
    --------
    >>> axis = meeting_axis(begins=[18 * HOUR, 19 * HOUR], lengths=[3 * HOUR, HOUR])
    >>> (axis.begins // HOUR).tolist(), (axis.lengths // HOUR).tolist(), axis.opens.tolist()
    ([18, 19, 20], [1, 1, 1], [True, True, False])

    Source: own definition.
    """
    starts = np.asarray(begins, dtype=np.int64).reshape(-1)
    spans = np.asarray(lengths, dtype=np.int64).reshape(-1)
    if np.any(spans <= 0):
        raise OutOfRangeError(f"A meeting lasts more than 0 ms; {int(spans.min())} was given.")
    order = np.argsort(starts, kind="stable")
    starts, ends = starts[order], (starts + spans)[order]
    points = np.unique(np.concatenate([starts, ends]))
    earliest_running = np.searchsorted(np.maximum.accumulate(ends), points, side="right")
    runs = earliest_running < np.searchsorted(starts, points, side="right")
    stretches = np.diff(points, append=points[-1:])[runs]
    return Meetings(
        begins=points[runs],
        lengths=stretches,
        days=starts[earliest_running[runs]] // DAY,
        before=np.concatenate([[0], np.cumsum(stretches)]),
        opens=np.isin(points[runs], starts),
    )


def weekly_meetings(
    *, first_day: int, last_day: int, weekday: int, clock: int, days_off: ArrayLike
) -> Times:
    """Return when the meetings of one weekday begin.

    Parameters
    ----------
    first_day : int
        First day that counts [days since 1970].
    last_day : int
        Last day that counts [days since 1970].
    weekday : int
        0 for Monday to 6 for Sunday (index).
    clock : int
        Time of the day at which they begin [ms].
    days_off : array of int
        Days without a meeting [days since 1970].

    Returns
    -------
    array of int
        Beginnings in turn [ms since 1970].

    Examples
    --------
    >>> monday = int(np.datetime64("2031-03-03").astype(np.int64))
    >>> begins = weekly_meetings(first_day=monday, last_day=monday + 20, weekday=1,
    ...                          clock=18 * HOUR, days_off=[monday + 8])
    >>> begins.astype("datetime64[ms]").astype("datetime64[h]").astype(str).tolist()
    ['2031-03-04T18', '2031-03-18T18']

    Source: 1970-01-01 was a Thursday (proleptic Gregorian calendar, ISO 8601).
    """
    ahead = (weekday - (first_day + 3)) % 7
    days = np.arange(first_day + ahead, last_day + 1, 7, dtype=np.int64)
    off = np.asarray(days_off, dtype=np.int64)
    return np.asarray(days[~np.isin(days, off)] * DAY + clock)


def shop_time_by(meetings: Meetings, days: ArrayLike) -> Times:
    """Return the shop time of all meetings that belong to a day or to one before it.

    Parameters
    ----------
    meetings : Meetings
        The axis.
    days : int or array of int
        Days [days since 1970].

    Returns
    -------
    array of int
        Shop time [ms].

    Examples
    --------
    >>> axis = meeting_axis(begins=[0, DAY, 3 * DAY], lengths=[HOUR, HOUR, HOUR])
    >>> (shop_time_by(axis, [-1, 0, 1, 2, 9]) // HOUR).tolist()
    [0, 1, 2, 2, 3]

    Source: own definition.
    """
    count = np.searchsorted(meetings.days, np.asarray(days, dtype=np.int64), side="right")
    return np.asarray(meetings.before[count])


def usable_from(meetings: Meetings, arrivals: ArrayLike) -> Times:
    """Return the shop time from which parts can be used.

    That is the beginning of the first meeting that begins when they have arrived, or later.

    Parameters
    ----------
    meetings : Meetings
        The axis.
    arrivals : int or array of int
        When parts arrive [ms since 1970].

    Returns
    -------
    array of int
        Shop time [ms]; `NEVER` where no meeting follows.

    Examples
    --------
    >>> axis = meeting_axis(begins=[0, DAY], lengths=[HOUR, HOUR])
    >>> usable_from(axis, [-5, 0, 1, DAY, DAY + 1]).tolist() == [0, 0, HOUR, HOUR, NEVER]
    True

    Source: own definition.
    """
    begins = meetings.begins[meetings.opens]
    count = np.searchsorted(begins, np.asarray(arrivals, dtype=np.int64), side="left")
    reach = np.append(meetings.before[:-1][meetings.opens], NEVER)
    return np.asarray(reach[count])


def meeting_of_end(meetings: Meetings, shop_time: ArrayLike) -> Times:
    """Return the index of the meeting in which work ends; a full meeting's work ends in it.

    Parameters
    ----------
    meetings : Meetings
        The axis.
    shop_time : int or array of int
        When work ends [ms of shop time].

    Returns
    -------
    array of int
        Index of the meeting; their number where the calendar ends before.

    Examples
    --------
    >>> axis = meeting_axis(begins=[0, DAY], lengths=[HOUR, HOUR])
    >>> meeting_of_end(axis, [0, HOUR, HOUR + 1, 2 * HOUR, 2 * HOUR + 1]).tolist()
    [0, 0, 1, 1, 2]

    Source: own definition.
    """
    end = np.asarray(shop_time, dtype=np.int64)
    return np.asarray(np.searchsorted(meetings.before[1:], end, side="left"))


def meeting_of_start(meetings: Meetings, shop_time: ArrayLike) -> Times:
    """Return the index of the meeting in which work starts; behind a full one in the next.

    Parameters
    ----------
    meetings : Meetings
        The axis.
    shop_time : int or array of int
        When work starts [ms of shop time].

    Returns
    -------
    array of int
        Index of the meeting; their number where the calendar ends before.

    Examples
    --------
    >>> axis = meeting_axis(begins=[0, DAY], lengths=[HOUR, HOUR])
    >>> meeting_of_start(axis, [0, HOUR - 1, HOUR, 2 * HOUR]).tolist()
    [0, 0, 1, 2]

    Source: own definition.
    """
    start = np.asarray(shop_time, dtype=np.int64)
    return np.asarray(np.searchsorted(meetings.before[1:], start, side="right"))


def moment_of_end(meetings: Meetings, shop_time: ArrayLike) -> Times:
    """Return when work ends on the calendar.

    Parameters
    ----------
    meetings : Meetings
        The axis, with a meeting at least.
    shop_time : int or array of int
        When work ends, within the calendar [ms of shop time].

    Returns
    -------
    array of int
        Moments [ms since 1970].

    Examples
    --------
    >>> axis = meeting_axis(begins=[0, DAY], lengths=[HOUR, HOUR])
    >>> (moment_of_end(axis, [HOUR, 2 * HOUR]) // HOUR).tolist()
    [1, 25]

    Source: own definition.
    """
    end = np.asarray(shop_time, dtype=np.int64)
    return _moment(meetings, meeting_of_end(meetings, end), end)


def moment_of_start(meetings: Meetings, shop_time: ArrayLike) -> Times:
    """Return when work starts on the calendar.

    Parameters
    ----------
    meetings : Meetings
        The axis, with a meeting at least.
    shop_time : int or array of int
        When work starts, within the calendar [ms of shop time].

    Returns
    -------
    array of int
        Moments [ms since 1970].

    Examples
    --------
    >>> axis = meeting_axis(begins=[0, DAY], lengths=[HOUR, HOUR])
    >>> (moment_of_start(axis, [0, HOUR]) // HOUR).tolist()
    [0, 24]

    Source: own definition.
    """
    start = np.asarray(shop_time, dtype=np.int64)
    return _moment(meetings, meeting_of_start(meetings, start), start)


def _moment(meetings: Meetings, index: Times, shop_time: Times) -> Times:
    place = np.minimum(index, len(meetings.begins) - 1)
    return np.asarray(meetings.begins[place] + shop_time - meetings.before[place])
