"""Many runs from the battery at once agree with one run at a time."""

from __future__ import annotations

import numpy as np
import pytest

from models.engineering.drive import Layout, Stance, example_drive
from models.engineering.sprint import Run, run_over
from models.engineering.sprint_pieces import Pieces, governing_pieces
from models.engineering.sprint_supply import supply_over_run
from models.engineering.supply_sweeps import supply_over_many_runs
from models.engineering.traction import Motion, travel_motion

RATIOS = np.array([2.0, 4.0, 5.5, 6.75, 9.0, 14.0])


@pytest.mark.parametrize("layout", ["tank", "swerve", "mecanum", "omni"])
@pytest.mark.parametrize("distance", [0.5, 6.0, 80.0])
def test_many_runs_agree_with_single_ones(layout: Layout, distance: float) -> None:
    several = example_drive()._replace(ratio=RATIOS, grip=np.linspace(0.6, 1.3, len(RATIOS)))
    stance = Stance(
        *(np.float64(value) for value in (47.3, 0.02, 0.25, 2.6, 0.27, 0.28, 0.51))
    )._replace(mass=np.linspace(40.0, 60.0, len(RATIOS)))
    motion = travel_motion(several, stance, layout, angle=0.0)
    pieces = governing_pieces(motion)
    run = run_over(pieces, distance=distance, braking=np.inf)
    many = supply_over_many_runs(several, stance, layout, motion=motion, pieces=pieces, run=run)
    for index in range(len(RATIOS)):
        one = several._replace(ratio=RATIOS[index], grip=several.grip[index])
        single = supply_over_run(
            one,
            stance._replace(mass=stance.mass[index]),
            layout,
            motion=Motion._make(field[index] for field in motion),
            angle=0.0,
            pieces=Pieces._make(field[index] for field in pieces),
            run=Run(run.time[index], run.speed[index]),
        )
        assert many.energy[index] == pytest.approx(float(single.energy), rel=1e-5)
        assert many.charge[index] == pytest.approx(float(single.charge), rel=1e-5)
        assert many.peak_current[index] == pytest.approx(float(single.peak_current), rel=1e-3)
        assert many.least_voltage[index] == pytest.approx(float(single.least_voltage), rel=1e-3)


def test_what_does_not_get_going_has_no_figures() -> None:
    several = example_drive()._replace(
        ratio=np.array([6.0, 6.0]), rolling_coefficient=np.array([0.02, 5.0])
    )
    stance = Stance(*(np.float64(value) for value in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    motion = travel_motion(several, stance, "tank", angle=0.0)
    pieces = governing_pieces(motion)
    run = run_over(pieces, distance=6.0, braking=np.inf)
    taken = supply_over_many_runs(several, stance, "tank", motion=motion, pieces=pieces, run=run)
    assert np.isfinite(taken.energy).tolist() == [True, False]
    assert np.isfinite(taken.least_voltage).tolist() == [True, False]
