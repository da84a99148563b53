"""Heading over time, what a turn costs, and a measured track in place of the computed one."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from models.study import parse_study
from models.study.schema import Study
from models.trade.driving import Base, base_of, performance_of
from models.trade.evaluation import evaluate_study
from models.trade.turning_curves import side_share_for_track, turn_curve, turn_figures
from tests.random_studies import random_study

LAYOUTS = ["tank", "swerve", "mecanum", "omni"]


def base(study: Study, key: str | None = None) -> Base:
    candidate = study.candidates[0] if key is None else study.candidate(key)
    return base_of(study, candidate)


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("seed", range(4))
def test_a_curve_ends_at_its_angle_when_the_turn_is_done(layout: str, seed: int) -> None:
    study = parse_study(random_study(seed, layout))
    candidate = study.candidates[0]
    arrays = base_of(study, candidate)
    done = performance_of(study, candidate, arrays)
    figures = turn_figures(arrays, degrees=[90.0, 180.0, 35.0])
    for angle, own, other in zip((90.0, 180.0), done.turn_times, figures.times, strict=False):
        curve = turn_curve(arrays, degrees=angle)
        if not np.isfinite(own):
            assert other is None
            assert len(curve.time) == 0
            continue
        assert other == pytest.approx(float(own))
        assert curve.time[-1] == pytest.approx(float(own), rel=1e-9)
        assert curve.degrees[-1] == pytest.approx(angle, rel=1e-9)
        assert np.all(np.diff(curve.time) >= -1e-12)
        assert np.all(np.diff(curve.degrees) >= -1e-9)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_rate_of_a_curve_never_beats_the_steady_spin(layout: str) -> None:
    bases = (base(parse_study(random_study(seed, layout))) for seed in range(20))
    arrays = next(one for one in bases if turn_figures(one, degrees=[90.0]).spin_rate)
    figures = turn_figures(arrays, degrees=[720.0])
    curve = turn_curve(arrays, degrees=720.0)
    assert figures.spin_rate is not None
    steps = np.diff(curve.time) > 1e-9
    rate = np.diff(np.radians(curve.degrees))[steps] / np.diff(curve.time)[steps]
    assert rate.max() <= figures.spin_rate * (1 + 1e-6)
    assert figures.effective_track > 0.0


def test_a_steered_base_first_steers(reference: Study) -> None:
    key = next(one.key for one in reference.candidates if one.layout == "swerve")
    curve = turn_curve(base(reference, key), degrees=90.0)
    steer = float(reference.candidate(key).drive.steer_time_s)
    assert curve.degrees[curve.time <= steer].max() == pytest.approx(0.0, abs=1e-9)


def measured(document: Any, track: Any) -> Study:
    tank = next(one for one in document["candidates"] if one["layout"] == "tank")
    tank["wheels"]["effective_track_m"] = track
    return parse_study(document)


def tank_of(study: Study) -> str:
    return next(one.key for one in study.candidates if one.layout == "tank")


def test_a_measured_track_takes_the_place_of_the_computed_one(reference_document: Any) -> None:
    plain = parse_study(reference_document)
    key = tank_of(plain)
    computed = turn_figures(base(plain, key), degrees=[90.0])
    study = measured(reference_document, 1.5 * computed.effective_track)
    found = turn_figures(base(study, key), degrees=[90.0])
    assert found.effective_track == pytest.approx(1.5 * computed.effective_track)
    assert found.resistance >= computed.resistance
    assert found.times[0] is not None
    assert computed.times[0] is not None
    assert found.times[0] > computed.times[0]
    assert found.measured is not None
    assert found.measured.computed_m == pytest.approx(computed.effective_track)
    assert found.measured.geometric_m == pytest.approx(computed.geometric_track)
    metrics = {one["key"]: one["metrics"] for one in evaluate_study(study)["candidates"]}
    assert metrics[key]["turn90_s"] == pytest.approx(found.times[0])


def test_measuring_the_computed_track_changes_no_figure(reference_document: Any) -> None:
    plain = parse_study(reference_document)
    key = tank_of(plain)
    before = evaluate_study(plain)["candidates"]
    track = turn_figures(base(plain, key), degrees=[90.0]).effective_track
    after = evaluate_study(measured(reference_document, track))["candidates"]
    for one, other in zip(before, after, strict=True):
        for name, value in one["metrics"].items():
            if isinstance(value, float):
                assert other["metrics"][name] == pytest.approx(value, rel=1e-9), name


def test_the_side_grip_that_explains_a_track_gives_it_back(reference_document: Any) -> None:
    tank = next(one for one in reference_document["candidates"] if one["layout"] == "tank")
    tank["wheels"]["centre_drop_m"] = 0.0
    plain = parse_study(reference_document)
    key = tank_of(plain)
    arrays = base(plain, key)
    computed = turn_figures(arrays, degrees=[90.0]).effective_track
    share = side_share_for_track(arrays, track_m=1.3 * computed)
    assert share is not None
    assert share > 1.0
    tank["wheels"]["side_grip"] = share * float(arrays.drive.side_grip)
    again = turn_figures(base(parse_study(reference_document), key), degrees=[90.0])
    assert again.effective_track == pytest.approx(1.3 * computed, rel=1e-6)


def test_a_base_on_one_axle_has_no_grip_that_explains_a_track(reference: Study) -> None:
    """With the centre axle dropped it turns about that axle, whatever the grip sideways."""
    arrays = base(reference, tank_of(reference))
    assert side_share_for_track(arrays, track_m=1.5 * float(arrays.stance.track)) is None


def test_no_grip_explains_a_track_below_the_geometric(reference: Study) -> None:
    arrays = base(reference, tank_of(reference))
    assert side_share_for_track(arrays, track_m=0.9 * float(arrays.stance.track)) is None


@pytest.mark.parametrize(("layout", "seed"), [("swerve", 12), ("mecanum", 4), ("mecanum", 16)])
def test_a_turn_so_far_that_its_steady_spin_is_reached_has_no_gap(layout: str, seed: int) -> None:
    document = random_study(seed, layout)
    document["candidates"][0]["wheels"]["rolling_coefficient"] = 0.05
    arrays = base(parse_study(document))
    curve = turn_curve(arrays, degrees=720.0)
    assert np.all(np.isfinite(curve.time))
    assert np.all(np.diff(curve.time) >= -1e-12)
    assert np.all(np.diff(curve.degrees) >= -1e-9)
    assert curve.time[-1] == pytest.approx(turn_figures(arrays, degrees=[720.0]).times[0])
