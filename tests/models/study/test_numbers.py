"""Estimates, sources and tooth chains."""

from __future__ import annotations

import copy
import pickle
from typing import Any

import pytest

from models.study import Estimate, parse_study
from models.study.numbers import NumberRefusedError, read_estimate, read_ratio, tooth_stages


def test_an_estimate_is_a_number_that_remembers() -> None:
    grip = read_estimate({"value": 1.1, "low": 0.9, "high": 1.3, "source": "assumed"}, "")
    assert grip + 0 == 1.1
    assert (grip.low, grip.high, grip.source, grip.has_range) == (0.9, 1.3, "assumed", True)


def test_members_of_an_estimate_may_have_units() -> None:
    wheel = read_estimate({"value": "4 in", "low": "98 mm", "note": "worn"}, "m")
    assert (float(wheel), wheel.low, wheel.high) == pytest.approx((0.1016, 0.098, 0.1016))
    assert wheel.note == "worn"


def test_what_was_typed_is_kept() -> None:
    assert read_estimate("4 in", "m").typed == "4 in"
    assert read_estimate({"value": "4 in"}, "m").typed == {"value": "4 in"}
    assert read_ratio("50:14, 17:27, 45:15").typed == "50:14, 17:27, 45:15"


def test_a_number_without_range_is_exact() -> None:
    mass = read_estimate(5.8, "kg")
    assert (mass.low, mass.high, mass.source, mass.has_range) == (5.8, 5.8, None, False)


@pytest.mark.parametrize(
    "copied", [copy.copy, copy.deepcopy, lambda x: pickle.loads(pickle.dumps(x))]
)
def test_a_copy_remembers_too(copied: Any) -> None:
    grip = copied(Estimate(1.1, low=0.9, high=1.3, source="measured", note="carpet"))
    assert (grip, grip.low, grip.high, grip.source) == (1.1, 0.9, 1.3, "measured")


def test_an_estimate_is_kept_in_the_study(document: dict[str, Any]) -> None:
    grip = parse_study(document).candidates[0].wheels.grip
    assert (grip.low, grip.high, grip.source) == (0.9, 1.3, "assumed")


# Own: products of the stages by hand. 29/15 × 60/15 is 4 in whole-number division.
CHAINS = [
    ("50:14, 17:27, 45:15", 50 / 14 * 17 / 27 * 45 / 15),
    ("14:50, 27:17, 15:45", 50 / 14 * 17 / 27 * 45 / 15),
    ("14:50 · 27:17 · 15:45", 6.746031746),
    ("50:14,17:27,45:15", 6.746031746),
    ("50/14 x 17/27 x 45/15", 6.746031746),
    ("50:14 17:27 45:15", 6.746031746),
    ("29/15*60/15", 116 / 15),
    ("6.75:1", 6.75),
    ("1:6.75", 6.75),
    ("6.75", 6.75),
    (6, 6.0),
]


@pytest.mark.parametrize(("typed", "expected"), CHAINS)
def test_a_ratio_may_be_a_tooth_chain(typed: Any, expected: float) -> None:
    assert read_ratio(typed) == pytest.approx(expected, rel=1e-9)


def test_a_chain_shows_each_stage_and_how_it_was_read() -> None:
    chain = tooth_stages("14:50, 27:17, 15:45")
    assert chain.driver_first
    assert [round(stage.reduction, 4) for stage in chain.stages] == [3.5714, 0.6296, 3.0]
    assert not tooth_stages("50:14, 17:27, 45:15").driver_first


def test_a_range_of_a_ratio_may_be_chains() -> None:
    ratio = read_ratio({"value": "50:14", "low": 3.5, "high": "51:14"})
    assert (ratio.low, ratio.high) == pytest.approx((3.5, 51 / 14))


@pytest.mark.parametrize("typed", ["50:", ":14", "50:14:2", "50:14, 27", "a:b", "50:0", "6,75:1"])
def test_half_a_chain_is_refused(typed: str) -> None:
    with pytest.raises(NumberRefusedError) as refusal:
        read_ratio(typed)
    assert typed.split(",", maxsplit=1)[0] in str(refusal.value)


@pytest.mark.parametrize("typed", [True, float("nan"), float("inf"), None, [], "1e999", 10**400])
def test_what_is_no_number_is_refused(typed: Any) -> None:
    with pytest.raises(NumberRefusedError):
        read_estimate(typed, "m")
