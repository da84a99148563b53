"""Currents, voltage, energy and charge of a sprint against plain sums over time."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from models.engineering.drive import Drive, Stance
from models.engineering.sprint import run_over, state_at_speed
from models.engineering.sprint_pieces import acceleration_at, governing_pieces
from models.engineering.sprint_supply import load_at, supply_over_run
from models.engineering.traction import travel_motion

Drives = Callable[..., Drive]
Stances = Callable[..., Stance]


@pytest.mark.parametrize("layout", ["tank", "swerve", "omni"])
@pytest.mark.parametrize("changes", [{}, {"supply_limit": 30.0}, {"stator_limit": 60.0}])
def test_extremes_and_integrals_are_those_of_fine_sums(
    make_drive: Drives, make_stance: Stances, layout: str, changes: dict[str, float]
) -> None:
    drive, at = make_drive(**changes), make_stance(to_front=0.2, to_rear=0.34)
    motion = travel_motion(drive, at, layout, angle=0.0)  # type: ignore[arg-type]
    pieces = governing_pieces(motion)
    end = 0.9 * float(pieces.upper[-1])
    distance = float(state_at_speed(pieces, speed=end).distance)
    run = run_over(pieces, distance=distance, braking=np.inf)
    taken = supply_over_run(
        drive, at, layout, motion=motion, angle=0.0, pieces=pieces, run=run  # type: ignore[arg-type]
    )  # fmt: skip
    edges = pieces.upper[pieces.upper < end]
    speeds = np.unique(np.concatenate([np.linspace(0.0, end, 20001), edges]))
    load = load_at(drive, at, layout, motion=motion, angle=0.0, speed=speeds)  # type: ignore[arg-type]
    pace = 1.0 / acceleration_at(motion, speeds)[0]
    power = load.total_current * load.voltage
    assert float(taken.energy) == pytest.approx(float(np.trapezoid(power * pace, speeds)), rel=1e-6)
    charge = float(np.trapezoid(load.total_current * pace, speeds))
    assert float(taken.charge) == pytest.approx(charge, rel=1e-6)
    assert float(taken.peak_current) == pytest.approx(float(np.max(load.total_current)), rel=1e-6)
    assert float(taken.least_voltage) == pytest.approx(float(np.min(load.voltage)), rel=1e-6)


def test_a_long_run_at_top_speed_draws_its_steady_power(
    make_drive: Drives, make_stance: Stances
) -> None:
    drive, at = make_drive(), make_stance()
    motion = travel_motion(drive, at, "tank", angle=0.0)
    pieces = governing_pieces(motion)
    short, long = (
        supply_over_run(
            drive, at, "tank", motion=motion, angle=0.0, pieces=pieces,
            run=run_over(pieces, distance=distance, braking=np.inf),
        )
        for distance in (50.0, 1050.0)
    )  # fmt: skip
    top = float(pieces.upper[-1])
    load = load_at(drive, at, "tank", motion=motion, angle=0.0, speed=np.array([top]))
    steady = float(load.voltage[0] * load.total_current[0])
    assert float(long.energy - short.energy) == pytest.approx(steady * 1000.0 / top, rel=1e-9)
