"""How far apart members are: camps named, nothing averaged away."""

from __future__ import annotations

import pytest

from models.trade.ballot_spread import SPLIT_POINTS, spread_of, spread_words


def test_two_camps_are_a_split_though_their_median_looks_harmless() -> None:
    spread = spread_of({"Mara": 95.0, "Ravi": 90.0, "Ines": 10.0, "Lee": 5.0})
    assert spread.median == 50.0
    assert spread.camps == (("Lee", "Ines"), ("Ravi", "Mara"))
    assert spread.gap == 80.0


@pytest.mark.parametrize(("gap", "is_split"), [(SPLIT_POINTS, False), (SPLIT_POINTS + 1, True)])
def test_a_split_is_a_gap_of_more_than_thirty_points(gap: float, is_split: bool) -> None:
    assert (spread_of({"Mara": 20.0, "Lee": 20.0 + gap}).camps is not None) is is_split


def test_a_wide_range_without_a_gap_is_no_split() -> None:
    points = {f"m{value}": float(value) for value in range(0, 101, 25)}
    assert spread_of(points).camps is None
    assert spread_words(points) == "From 0 to 100, without a split."


def test_many_members_are_counted_instead_of_named() -> None:
    points = {f"member {number}": 90.0 for number in range(8)} | {"Lee": 0.0}
    assert spread_words(points) == "Split, 90 points apart: 8 members give 90, Lee gives 0."


def test_all_alike_and_close_together() -> None:
    assert spread_words({"Mara": 40.0, "Lee": 40.0}) == "All 2 give 40."
    assert spread_words({"Mara": 40.0, "Lee": 55.0}) == "Close together: 40 to 55."
