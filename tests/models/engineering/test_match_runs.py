"""Many runs at once, from the motors to the bus, against the sprint's own sums."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from models.engineering.drive import Drive, Layout, Stance, example_drive
from models.engineering.match_bus import (
    Feed,
    bus_state,
    lowest,
    sums_over,
    time_below,
)
from models.engineering.match_runs import (
    NODES,
    RUNNING,
    WEIGHTS,
    Runs,
    runs_of_travel,
    stretches_of,
    works_of,
)
from models.engineering.sprint import Run, run_over
from models.engineering.sprint_pieces import governing_pieces
from models.engineering.sprint_supply import supply_over_run
from models.engineering.supply import coupled_bus_currents, supply
from models.engineering.traction import joined, travel_motion

STANCE = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))


def drive(**changes: Any) -> Drive:
    figures = {
        "open_voltage": 12.6, "source_resistance": 0.019, "branch_resistance": 0.006,
        "accessory_current": 8.0, "motor_count": 4, "stator_limit": 90.0, "supply_limit": 50.0,
        **{name: value for name, value in changes.items() if name not in Drive._fields},
    }  # fmt: skip
    own = {name: np.float64(value) for name, value in changes.items() if name in Drive._fields}
    return example_drive()._replace(supply=supply(**figures), **own)


def run(figures: Drive, layout: Layout, distance: float) -> tuple[Runs, Run]:
    motion = joined([travel_motion(figures, STANCE, layout, angle=0.0)])
    pieces = governing_pieces(motion)
    found = run_over(pieces, distance=[distance], braking=np.inf)
    runs = runs_of_travel(
        figures, STANCE, layout, angle=[0.0], motion=motion, pieces=pieces, start=0.0,
        end=found.speed, time=found.time,
    )  # fmt: skip
    return runs, found


def feed_of(figures: Drive) -> Feed:
    own = figures.supply
    return Feed(
        own.open_voltage, own.source_resistance, np.asarray(0.0), own.branch_resistance,
        own.motor_count, own.accessory_current, np.asarray(0.0),
    )  # fmt: skip


cases = st.fixed_dictionaries(
    {
        "layout": st.sampled_from(["tank", "swerve", "mecanum", "omni"]),
        "distance": st.floats(0.05, 30.0),
        "stator_limit": st.sampled_from([40.0, 90.0, np.inf]),
        "supply_limit": st.sampled_from([20.0, 45.0, np.inf]),
        "source_resistance": st.floats(0.0, 0.03),
        "branch_resistance": st.floats(0.0, 0.01),
        "accessory_current": st.floats(0.0, 60.0),
        "ratio": st.floats(4.0, 12.0),
        "grip": st.floats(0.4, 1.5),
        "rolling_coefficient": st.floats(0.0, 0.05),
    }
)


def test_nodes_integrate_what_they_should() -> None:
    assert np.sum(WEIGHTS) == pytest.approx(1.0)
    for power in range(15):
        assert np.sum(WEIGHTS * NODES**power) == pytest.approx(1.0 / (power + 1))
    for power in range(9):
        assert RUNNING @ NODES**power == pytest.approx(NODES ** (power + 1) / (power + 1))


@settings(max_examples=60, deadline=None)
@given(cases)
def test_energy_closes_and_agrees_with_the_sprint(case: dict[str, Any]) -> None:
    layout, distance = case.pop("layout"), case.pop("distance")
    figures = drive(**case)
    runs, found = run(figures, layout, distance)
    if not np.isfinite(found.time[0]):
        return
    parts = stretches_of(figures, runs)
    assert float(parts.weight.sum()) == pytest.approx(float(found.time[0]), rel=1e-9)
    done = works_of(figures, runs, parts, distance=[distance])
    spent = done.winding + done.gearing + done.resistance + done.kinetic
    assert float(spent[0]) == pytest.approx(float(done.terminals[0]), rel=1e-3)
    bus = bus_state(
        feed_of(figures), first_power=parts.first_power, second_power=parts.second_power
    )
    motion = travel_motion(figures, STANCE, layout, angle=0.0)
    taken = supply_over_run(
        figures, STANCE, layout, motion=motion, angle=0.0, pieces=governing_pieces(motion),
        run=Run(found.time[0], found.speed[0]),
    )  # fmt: skip
    sums = sums_over(
        feed_of(figures), bus, weight=parts.weight,
        winding=(parts.first_current, parts.second_current), group=parts.row, count=1,
    )  # fmt: skip
    assert float(sums.energy[0]) == pytest.approx(float(taken.energy), rel=1e-3)
    assert float(sums.charge[0]) == pytest.approx(float(taken.charge), rel=1e-3)
    least = lowest(time=parts.time, voltage=bus.voltage, group=parts.row, count=1)
    assert float(least.voltage[0]) == pytest.approx(float(taken.least_voltage), abs=0.02)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0.0, 700.0), min_size=2, max_size=2), st.floats(0.0, 0.02))
def test_halves_share_the_bus_as_elsewhere(powers: list[float], branch: float) -> None:
    figures = drive(branch_resistance=branch)
    # More than the battery can give counts as that, and the two ways to say so differ there
    feed = figures.supply
    most = float(feed.source_voltage) ** 2 / (4.0 * (4.0 * float(feed.source_resistance) + branch))
    assume(max(powers) < 0.95 * most)
    one, other = coupled_bus_currents(figures.supply, first_power=powers[0], second_power=powers[1])
    at = bus_state(
        feed_of(figures), first_power=np.array([powers[0]]), second_power=np.array([powers[1]])
    )
    assert float(at.first[0]) == pytest.approx(float(one), rel=1e-6, abs=1e-9)
    assert float(at.second[0]) == pytest.approx(float(other), rel=1e-6, abs=1e-9)


def test_what_runs_beside_draws_like_a_load() -> None:
    feed = feed_of(drive())
    loaded = feed._replace(load_current=feed.load_current + 20.0)
    beside = feed._replace(beside_current=np.asarray(20.0))
    powers = {"first_power": np.array([300.0]), "second_power": np.array([200.0])}
    one, other = bus_state(loaded, **powers), bus_state(beside, **powers)
    assert float(one.voltage[0]) == pytest.approx(float(other.voltage[0]))
    assert float(one.voltage[0]) < float(bus_state(feed, **powers).voltage[0])


def test_a_run_from_a_speed_is_the_rest_of_one_from_rest() -> None:
    figures = drive()
    whole, _ = run(figures, "swerve", 6.0)
    parts = stretches_of(figures, whole)
    half = 2.0
    first = whole._replace(end=np.array([half]))
    second = whole._replace(start=np.array([half]))
    both = []
    for some in (first, second):
        rough = stretches_of(figures, some._replace(time=np.array([0.0])))
        # The time of a part is what its nodes say when nothing has to be added
        inner = rough.weight.sum() - (rough.weight[-1, -1] - _last_weight(rough))
        both.append(inner)
    assert sum(both) == pytest.approx(float(parts.weight.sum()), rel=1e-4)


def _last_weight(parts: Any) -> float:
    """The last node's own share, told from the time between the last two nodes."""
    rate = parts.weight[-1, :-1] / WEIGHTS[:-1]
    return float(np.polyval(np.polyfit(NODES[:-1], rate, 7), 1.0) * WEIGHTS[-1])


@given(st.lists(st.floats(0.0, 20.0), min_size=4, max_size=4), st.floats(0.0, 20.0))
def test_time_below_a_threshold(volts: list[float], limit: float) -> None:
    time = np.array([[0.0, 1.0, 2.5, 4.0]])
    fine = np.linspace(0.0, 4.0, 40_001)
    line = np.interp(fine, time[0], volts)
    found = time_below(time=time, voltage=np.array([volts]), threshold=limit)
    level = any(a == b == limit for a, b in pairwise(volts))
    if not level:
        assert float(found[0]) == pytest.approx(4.0 * float(np.mean(line < limit)), abs=2e-3)


def test_the_least_lies_in_its_own_group() -> None:
    voltage = np.array([[9.0, 8.0, 9.0], [7.0, 7.5, 8.0], [6.0, 6.5, 9.0]])
    time = np.array([[0.0, 1.0, 2.0], [2.0, 3.0, 4.0], [0.0, 1.0, 2.0]])
    found = lowest(time=time, voltage=voltage, group=np.array([0, 0, 1]), count=2)
    assert found.voltage.tolist() == [7.0, 6.0]
    assert found.stretch.tolist() == [1, 2]
    assert found.time.tolist() == [2.0, 0.0]
