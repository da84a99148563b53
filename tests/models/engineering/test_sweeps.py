"""Many designs at once: the same figures as one by one, and nothing between the looks."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from models.engineering.drive import Drive, Layout, Stance
from models.engineering.sprint import Run, run_over
from models.engineering.sprint_pieces import governing_pieces
from models.engineering.sprint_supply import load_at, supply_over_run
from models.engineering.supply import Supply
from models.engineering.sweeps import designs_of, figures_of_designs, slip_current
from models.engineering.traction import Motion, travel_motion

LAYOUTS: tuple[Layout, ...] = ("tank", "swerve", "mecanum", "omni")
COUNT = 400
DISTANCE = 6.0


def drawn(make_drive: Callable[..., Drive], seed: int) -> Drive:
    """Designs from slow to fast, with and without limits that bind."""
    draw = np.random.default_rng(seed)
    stator, asked = draw.uniform(10, 200, COUNT), draw.uniform(6, 110, COUNT)
    stator[::7], asked[::5] = np.inf, np.inf
    return designs_of(
        make_drive(),
        ratio=draw.uniform(3, 25, COUNT),
        wheel_radius=draw.uniform(0.03, 0.1, COUNT),
        stator_limit=stator,
        supply_limit=asked,
    )


def alone(drive: Drive, index: int) -> Drive:
    """One design of a batch as fields of shape ()."""
    return Drive(
        drive.motor,
        Supply._make(field[index] if field.ndim else field for field in drive.supply),
        *(field[index] if field.ndim else field for field in drive[2:]),
    )


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("to_front", [0.12, 0.27])
def test_a_batch_gives_what_each_design_gives_alone(
    make_drive: Callable[..., Drive],
    make_stance: Callable[..., Stance],
    layout: Layout,
    to_front: float,
) -> None:
    drive, stance = drawn(make_drive, 5), make_stance(to_front=to_front, to_rear=0.54 - to_front)
    found = figures_of_designs(drive, stance, layout, distance=DISTANCE)
    for index in range(0, COUNT, 9):
        one = alone(drive, index)
        motion = travel_motion(one, stance, layout, angle=0.0)
        pieces = governing_pieces(motion)
        run = run_over(pieces, distance=DISTANCE, braking=np.inf)
        assert found.passing_time[index] == pytest.approx(float(run.time), rel=1e-12, nan_ok=True)
        if not np.isfinite(run.time):
            assert np.isnan(found.least_voltage[index])
            continue
        taken = supply_over_run(
            one, stance, layout, motion=motion, angle=0.0, pieces=pieces, run=run
        )
        assert found.peak_current[index] == pytest.approx(float(taken.peak_current), rel=1e-12)
        assert found.least_voltage[index] == pytest.approx(float(taken.least_voltage), rel=1e-12)


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("to_front", [0.1, 0.27, 0.44])
def test_no_speed_of_a_run_takes_more_than_the_peak(
    make_drive: Callable[..., Drive],
    make_stance: Callable[..., Stance],
    layout: Layout,
    to_front: float,
) -> None:
    """A thousand even speeds of each run against the few looks of the sweep."""
    drive, stance = drawn(make_drive, 11), make_stance(to_front=to_front, to_rear=0.54 - to_front)
    found = figures_of_designs(drive, stance, layout, distance=DISTANCE)
    goes = np.isfinite(found.passing_time)
    assert np.count_nonzero(goes) > COUNT / 2
    motion = travel_motion(drive, stance, layout, angle=0.0)
    speeds = np.where(goes, found.end_speed, 0.0)[:, None] * np.linspace(0.0, 1.0, 1001)
    wide = drive._replace(
        supply=Supply._make(f[:, None] if f.ndim else f for f in drive.supply),
        ratio=drive.ratio[:, None],
        wheel_radius=drive.wheel_radius[:, None],
    )
    load = load_at(wide, stance, layout, motion=motion, angle=0.0, speed=speeds)
    excess = np.max(load.total_current, axis=1)[goes] / found.peak_current[goes] - 1.0
    assert np.max(excess) < 1e-5
    assert np.min(excess) > -1e-2


def test_designs_are_laid_out_in_a_row_as_they_broadcast(make_drive: Callable[..., Drive]) -> None:
    several = designs_of(
        make_drive(), ratio=[[5.0], [7.0]], wheel_radius=[0.04, 0.05, 0.06], stator_limit=80.0,
        supply_limit=np.inf,
    )  # fmt: skip
    assert several.ratio.tolist() == [5.0, 5.0, 5.0, 7.0, 7.0, 7.0]
    assert several.wheel_radius.tolist() == [0.04, 0.05, 0.06] * 2
    assert np.all(several.supply.stator_limit == 80.0)


def test_blocks_make_no_difference(
    make_drive: Callable[..., Drive], make_stance: Callable[..., Stance]
) -> None:
    drive = designs_of(
        make_drive(), ratio=np.geomspace(4.0, 16.0, 6001), wheel_radius=0.05, stator_limit=80.0,
        supply_limit=40.0,
    )  # fmt: skip
    whole = figures_of_designs(drive, make_stance(), "swerve", distance=DISTANCE)
    part = designs_of(
        make_drive(), ratio=drive.ratio[2400:2700], wheel_radius=0.05, stator_limit=80.0,
        supply_limit=40.0,
    )  # fmt: skip
    some = figures_of_designs(part, make_stance(), "swerve", distance=DISTANCE)
    for field, other in zip(whole, some, strict=True):
        assert field[2400:2700] == pytest.approx(other, rel=1e-12)


def test_one_that_does_not_get_going_keeps_its_row(
    make_drive: Callable[..., Drive], make_stance: Callable[..., Stance]
) -> None:
    drive = designs_of(
        make_drive(rolling_coefficient=0.5), ratio=[1.0, 9.0], wheel_radius=0.1,
        stator_limit=[5.0, 90.0], supply_limit=np.inf,
    )  # fmt: skip
    found = figures_of_designs(drive, make_stance(), "tank", distance=DISTANCE)
    assert np.isnan(found.stop_time[0]) and np.isnan(found.least_voltage[0])
    assert found.top_speed[0] == 0.0
    assert found.stop_time[1] > 0.0


def test_at_the_slip_current_the_push_is_the_grip(
    make_drive: Callable[..., Drive], make_stance: Callable[..., Stance]
) -> None:
    """Closed form: below it the stator limit holds the push, above it the tyres do."""
    stance = make_stance()
    slip = float(slip_current(make_drive(), stance, "tank"))
    drive = designs_of(
        make_drive(), ratio=6.5, wheel_radius=0.0508, stator_limit=[slip - 1.0, slip, slip + 5.0],
        supply_limit=np.inf,
    )  # fmt: skip
    found = figures_of_designs(drive, stance, "tank", distance=DISTANCE)
    grip = 1.1 * 50.0 * 9.80665
    assert found.push_force[1] == pytest.approx(grip, rel=1e-12)
    assert found.push_force[2] == pytest.approx(grip, rel=1e-12)
    assert found.push_force[0] == pytest.approx(grip * (slip - 3.0) / (slip - 2.0), rel=1e-12)


def test_a_single_piece_at_its_end_is_no_special_case(
    make_drive: Callable[..., Drive], make_stance: Callable[..., Stance]
) -> None:
    """A run so short that it ends inside the first stretch."""
    drive = designs_of(
        make_drive(), ratio=8.0, wheel_radius=0.05, stator_limit=[60.0], supply_limit=np.inf
    )
    found = figures_of_designs(drive, make_stance(), "tank", distance=0.01)
    motion = travel_motion(drive, make_stance(), "tank", angle=0.0)
    run = run_over(governing_pieces(motion), distance=0.01, braking=np.inf)
    assert isinstance(motion, Motion) and isinstance(run, Run)
    assert found.passing_time == pytest.approx(run.time, rel=1e-12)
    assert found.peak_current[0] > 8.0
