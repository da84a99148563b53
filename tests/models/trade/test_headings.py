"""Speed and push in every direction: what holds for each layout."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from models.study import parse_study
from models.study.schema import Study
from models.trade.driving import base_of, performance_of
from models.trade.headings import Rose, rose_of
from tests.random_studies import random_study


def rose(study: Study, index: int = 0) -> Rose:
    return rose_of(base_of(study, study.candidates[index]))


@pytest.mark.parametrize("layout", ["tank", "swerve", "mecanum", "omni"])
@pytest.mark.parametrize("seed", range(4))
def test_forward_is_the_candidates_own_speed_and_push(layout: str, seed: int) -> None:
    study = parse_study(random_study(seed, layout))
    candidate = study.candidates[0]
    base = base_of(study, candidate)
    done = performance_of(study, candidate, base)
    forward = rose_of(base).at(0.0)
    assert forward == pytest.approx((done.top_speed, float(done.push.force)))


def test_a_tank_goes_forward_and_back_only(reference: Study) -> None:
    tank = next(i for i, one in enumerate(reference.candidates) if one.layout == "tank")
    found = rose(reference, tank)
    assert found.degrees.tolist() == [0.0, 180.0]
    assert found.at(0.0) == found.at(180.0)
    assert found.at(90.0) is None
    assert not found.any_way


@pytest.mark.parametrize("layout", ["mecanum", "omni"])
def test_rollers_make_a_rose_of_four_like_quarters(layout: str) -> None:
    found = rose(parse_study(random_study(1, layout)))
    turned = (found.degrees + 90.0) % 360.0
    order = np.argsort(turned[:-1])
    np.testing.assert_allclose(found.speed[:-1], found.speed[:-1][order], rtol=1e-9)
    np.testing.assert_allclose(found.force[:-1], found.force[:-1][order], rtol=1e-9)
    mirrored = found.speed[::-1]
    np.testing.assert_allclose(found.speed, mirrored, rtol=1e-9)


def test_free_speed_of_rollers_follows_the_slant_of_the_way(reference_document: Any) -> None:
    """Mecanum diagonally V/√2, omni at 45° along a wheel's axis V against √2·V ahead: power
    balance; without drag."""
    for one in reference_document["candidates"]:
        one["wheels"]["rolling_coefficient"] = 0.0
    study = parse_study(reference_document)
    for index, one in enumerate(study.candidates):
        if one.layout in ("mecanum", "omni"):
            found = rose(study, index)
            forward, diagonal = found.at(0.0), found.at(45.0)
            assert forward is not None
            assert diagonal is not None
            assert diagonal[0] / forward[0] == pytest.approx(2**-0.5, rel=1e-9)


def test_a_steered_base_is_the_same_all_round() -> None:
    found = rose(parse_study(random_study(2, "swerve")))
    assert float(np.ptp(found.speed)) == 0.0
    assert float(np.ptp(found.force)) == pytest.approx(0.0, abs=1e-9)
    assert len(found.limited_by) == len(found.degrees)
