"""Slots: power channels, controllers, encoders and bus nodes that each candidate takes.

What a candidate takes stands in its `uses`; where it says nothing, it is counted:

- a power channel and a controller for each motor: the drive's, and for a steered base one more for
  each module;
- encoders beside those in the motors: a tank one a side, a steered base one a module for its
  angle, mecanum and omni one a wheel;
- a bus node for each controller, and one for each module's angle encoder.

Common practice, no source: type what your own parts take.

Contents
--------
SLOTS, Slot, slots_of: what there is, what stays, what the base takes, what is left.
"""

from __future__ import annotations

from typing import NamedTuple

from models.study.schema import Candidate, Study

SLOTS = (
    ("channels", "Power channels"),
    ("controllers", "Motor controllers"),
    ("encoders", "Encoder inputs"),
    ("bus_nodes", "Bus nodes"),
)
"""Kinds of slot: key and words."""


class Slot(NamedTuple):
    """One kind of slot for one candidate."""

    key: str
    name: str
    there: int | None
    """How many there are, none where the study does not say."""
    stays: int
    """Taken by what stays on the robot."""
    takes: int
    """Taken by the candidate's base."""
    typed: bool
    """Whether that was typed, or counted from layout and motors."""
    free: int | None
    """What is left; below 0 what is missing."""


def slots_of(study: Study, candidate: Candidate) -> tuple[Slot, ...]:
    """Return every kind of slot for one candidate."""
    power = study.power
    counted = counted_uses(candidate)
    rows = []
    for key, name in SLOTS:
        there: int | None = getattr(power, key)
        stays = getattr(study.robot.uses, key, None) or 0
        typed: int | None = getattr(candidate.uses, key, None)
        takes = counted[key] if typed is None else typed
        free = None if there is None else there - stays - takes
        rows.append(Slot(key, name, there, stays, takes, typed is not None, free))
    return tuple(rows)


def counted_uses(candidate: Candidate) -> dict[str, int]:
    """Return what a base takes by its layout and motors, as the head of this module says."""
    motors, wheels = int(candidate.drive.motor_count), int(candidate.wheels.count)
    modules = wheels if candidate.layout == "swerve" else 0
    encoders = {"tank": 2, "swerve": modules}.get(candidate.layout, wheels)
    return {
        "channels": motors + modules,
        "controllers": motors + modules,
        "encoders": encoders,
        "bus_nodes": motors + 2 * modules,
    }
