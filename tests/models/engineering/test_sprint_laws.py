"""Laws that hold for every drive: more grip never slows, energy is kept, stopping takes longer."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.engineering.drive import (
    Drive,
    Stance,
    current_for_force,
    example_drive,
    rolling_drag,
    rotating_mass,
)
from models.engineering.sprint import run_over, state_at_speed
from models.engineering.sprint_pieces import acceleration_at, governing_pieces
from models.engineering.sprint_supply import load_at, supply_over_run
from models.engineering.supply import supply
from models.engineering.traction import axle_forces, braking, travel_motion

FIXED = settings(derandomize=True, deadline=None, max_examples=60)

LIMIT = st.one_of(st.just(np.inf), st.floats(15.0, 120.0))
DESIGN = st.fixed_dictionaries(
    {
        "ratio": st.floats(4.0, 14.0),
        "grip": st.floats(0.5, 1.4),
        "stator": LIMIT,
        "supply": LIMIT,
        "resistance": st.floats(0.008, 0.03),
        "drag": st.floats(0.0, 0.05),
        "mass": st.floats(20.0, 70.0),
        "height": st.floats(0.05, 0.6),
        "lead": st.floats(-0.12, 0.12),
        "layout": st.sampled_from(["tank", "swerve", "mecanum", "omni"]),
    }
)
Design = dict[str, Any]


def made(design: Design) -> tuple[Drive, Stance]:
    base = example_drive()
    drive = base._replace(
        supply=supply(
            open_voltage=12.6, source_resistance=design["resistance"], branch_resistance=0.006,
            accessory_current=8.0, motor_count=4, stator_limit=design["stator"],
            supply_limit=design["supply"],
        ),
        ratio=np.asarray(design["ratio"]),
        grip=np.asarray(design["grip"]),
        rolling_coefficient=np.asarray(design["drag"]),
    )  # fmt: skip
    lead = design["lead"]
    figures = (design["mass"], lead, design["height"], 3.0, 0.27 - lead, 0.27 + lead, 0.5)
    return drive, Stance(*(np.asarray(figure) for figure in figures))


def sprint_time(design: Design, *, stop: bool = False) -> float:
    drive, at = made(design)
    pieces = governing_pieces(travel_motion(drive, at, design["layout"], angle=0.0))
    brake = braking(drive, at, design["layout"], angle=0.0) if stop else np.inf
    time = float(run_over(pieces, distance=5.0, braking=brake).time)
    return np.inf if np.isnan(time) else time


def not_slower(better: float, worse: float) -> bool:
    return better <= worse * (1 + 1e-9)


@FIXED
@given(design=DESIGN, more=st.floats(0.0, 0.5))
def test_more_grip_never_slows_a_sprint(design: Design, more: float) -> None:
    better = design | {"grip": design["grip"] + more}
    assert not_slower(sprint_time(better), sprint_time(design))


@FIXED
@given(design=DESIGN, share=st.floats(1.0, 3.0))
def test_a_looser_limit_never_slows_a_sprint(design: Design, share: float) -> None:
    for name in ("stator", "supply"):
        better = design | {name: design[name] * share}
        assert not_slower(sprint_time(better), sprint_time(design))


@FIXED
@given(design=DESIGN, share=st.floats(1.0, 2.0))
def test_a_worn_battery_never_speeds_a_sprint_up(design: Design, share: float) -> None:
    worse = design | {"resistance": design["resistance"] * share}
    assert not_slower(sprint_time(design), sprint_time(worse))


@FIXED
@given(design=DESIGN, share=st.floats(1.0, 1.5))
def test_more_mass_never_speeds_a_sprint_up(design: Design, share: float) -> None:
    heavier = design | {"mass": design["mass"] * share}
    assert not_slower(sprint_time(design), sprint_time(heavier))


@FIXED
@given(design=DESIGN)
def test_stopping_at_the_end_takes_longer_than_passing_it(design: Design) -> None:
    assert not_slower(sprint_time(design), sprint_time(design, stop=True))


@FIXED
@given(design=DESIGN, share=st.floats(0.3, 0.97))
def test_the_battery_s_energy_is_kinetic_energy_and_losses(design: Design, share: float) -> None:
    drive, at = made(design)
    layout = design["layout"]
    motion = travel_motion(drive, at, layout, angle=0.0)
    pieces = governing_pieces(motion)
    end = share * float(pieces.upper[-1])
    if end == 0.0:
        return
    run = run_over(pieces, distance=state_at_speed(pieces, speed=end).distance, braking=np.inf)
    taken = supply_over_run(drive, at, layout, motion=motion, angle=0.0, pieces=pieces, run=run)
    gained, lost = _work_and_losses(drive, at, layout, end)
    assert float(taken.energy) == pytest.approx(gained + lost, rel=1e-4)


def _work_and_losses(drive: Drive, at: Stance, layout: Any, end: float) -> tuple[float, float]:
    """Return kinetic energy with the work against drag, and all losses, of a run up to a speed.

    Summed over a fine grid of speeds by the trapezoid rule: heat in windings and branches, what
    gearing and free current eat, and what the accessories take.
    """
    motion = travel_motion(drive, at, layout, angle=0.0)
    pieces = governing_pieces(motion)
    speeds = np.unique(
        np.concatenate([np.linspace(0.0, end, 6001), pieces.upper[pieces.upper < end]])
    )
    a, able = acceleration_at(motion, speeds)
    time = np.concatenate([[0.0], np.cumsum(np.diff(speeds) * (1 / a[1:] + 1 / a[:-1]) / 2)])
    halves = axle_forces(drive, at, layout, angle=0.0, current=able, acceleration=a)
    load = load_at(drive, at, layout, motion=motion, angle=0.0, speed=speeds)
    kinetic_mass, force_factor = _factors(drive, at, layout)
    feed, motor = drive.supply, drive.motor
    lost = load.voltage * float(feed.accessory_current)
    turns = motion.emf * speeds / motor.emf_constant
    for half in halves:
        current = current_for_force(drive, half / force_factor, share=0.5)
        electrical = (motion.emf * speeds + motor.resistance * current) * current
        root = np.sqrt(load.voltage**2 - 4 * feed.branch_resistance * electrical)
        branch = 2 * electrical / (load.voltage + root)
        shaft = motor.torque_constant * (current - motor.free_current) * turns
        eaten = motor.emf_constant * current * turns - drive.efficiency * shaft
        heat = motor.resistance * current**2 + feed.branch_resistance * branch**2
        lost = lost + 2 * (heat + eaten)
    # Rollers at an angle pass on only a part of what the wheels do
    passed = sum(halves) * speeds
    wheels = sum(half / force_factor for half in halves) * turns * drive.wheel_radius / drive.ratio
    lost = lost + wheels - passed
    drag = float(rolling_drag(drive, at.mass))
    gained = 0.5 * kinetic_mass * end**2 + drag * float(np.trapezoid(speeds, time))
    return gained, float(np.trapezoid(lost, time))


def _factors(drive: Drive, at: Stance, layout: Any) -> tuple[float, float]:
    from models.engineering.drive import directions

    factors = directions(layout, 0.0)
    return float(at.mass + rotating_mass(drive) / factors.speed**2), float(factors.force)
