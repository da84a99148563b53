"""The few figures that checks and remarks need to say why an input looks wrong.

The results of a study come from `models.engineering`; these are rough and stand beside an input.

Contents: `geared_free_speed`, `datasheet_agreement`, `push_estimate`, `part_mass`.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

from models.engineering.mass import plate_mass, tube_mass
from models.engineering.materials import density_of
from models.study.schema import Candidate, Motor, Part, Study
from models.units import GRAVITY_MPS2


class Push(NamedTuple):
    """What motors and tyres would give at rest, and the current that makes the tyres slip."""

    at_stall_n: float
    traction_n: float
    slip_current_a: float


def geared_free_speed(candidate: Candidate, motor: Motor) -> float:
    """Return the datasheet's free speed through gearing and wheel, straight ahead [m/s].

    v = κv·ωf·r/Gr, κv = √2 for omni wheels at 45°, else 1. Own derivation from rolling.
    """
    turns = float(motor.free_speed_rpm) * 2 * math.pi / 60
    wheel = turns / float(candidate.drive.ratio) * float(candidate.wheels.diameter_m) / 2
    return wheel * (math.sqrt(2) if candidate.layout == "omni" else 1.0)


def datasheet_agreement(motor: Motor) -> float:
    """Return kT/kE of the four datasheet figures, 1 where they agree.

    R = Vn/Is, kT = Ts/(Is − If), kE = (Vn − If·R)/ωf. In SI units both are one constant of the
    motor (textbook direct-current motor model).
    """
    resistance = float(motor.nominal_v / motor.stall_current_a)
    torque_constant = float(motor.stall_torque_nm / (motor.stall_current_a - motor.free_current_a))
    left = float(motor.nominal_v) - float(motor.free_current_a) * resistance
    speed_constant = left / (float(motor.free_speed_rpm) * 2 * math.pi / 60)
    return torque_constant / speed_constant


def push_estimate(candidate: Candidate, motor: Motor, mass_kg: float) -> Push:
    """Return the force at stall, the tyres' hold and the winding current that breaks it.

    F = n·η·Gr·Ts/r, hold = μ·M·g, I = hold·r/(n·η·Gr·kT) + If.
    """
    drive, wheels = candidate.drive, candidate.wheels
    lever = drive.motor_count * drive.efficiency * drive.ratio / (wheels.diameter_m / 2)
    traction = wheels.grip * mass_kg * GRAVITY_MPS2
    torque_constant = motor.stall_torque_nm / (motor.stall_current_a - motor.free_current_a)
    slip = traction / (lever * torque_constant) + motor.free_current_a
    return Push(float(lever * motor.stall_torque_nm), float(traction), float(slip))


def part_mass(study: Study, part: Part) -> float:
    """Return the mass of all pieces of a part [kg], from its figure or its shape."""
    if part.tube is not None:
        tube = part.tube
        each = _tube_mass(
            density_of(tube.material, study.densities),
            tube.width_m, tube.height_m, tube.wall_m, tube.length_m,
        )  # fmt: skip
    elif part.plate is not None:
        plate = part.plate
        each = _plate_mass(
            density_of(plate.material, study.densities),
            plate.width_m, plate.length_m, plate.thickness_m, plate.solid_fraction,
        )  # fmt: skip
    else:
        each = float(part.mass_kg or 0.0)
    return each * part.quantity


# The same tubes are weighed again and again while one types; a lookup is quicker than numpy.
@lru_cache(maxsize=4096)
def _tube_mass(density: float, width: float, height: float, wall: float, length: float) -> float:
    return float(tube_mass(density=density, width=width, height=height, wall=wall, length=length))


@lru_cache(maxsize=4096)
def _plate_mass(
    density: float, width: float, length: float, thickness: float, solid_fraction: float
) -> float:
    return float(
        plate_mass(
            density=density,
            width=width,
            length=length,
            thickness=thickness,
            solid_fraction=solid_fraction,
        )
    )
