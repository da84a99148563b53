"""Motors: the four datasheet figures come back, and what contradicts itself is refused."""

from __future__ import annotations

import numpy as np
import pytest

from models.engineering.motors import (
    constants_ratio,
    motor_constants,
    motor_torque,
    motor_voltage,
)
from models.errors import OutOfRangeError


def motor(**changes: object) -> object:
    figures: dict[str, object] = {
        "nominal_voltage": 12.0, "free_speed_rpm": [5900.0, 5300.0], "free_current": [2.0, 2.7],
        "stall_torque": [4.2, 2.4], "stall_current": [230.0, 131.0], "rotor_inertia": 6e-5,
    }  # fmt: skip
    return motor_constants(**(figures | changes))  # type: ignore[arg-type]


def test_all_four_figures_come_back() -> None:
    made = motor()
    assert motor_torque(made, [230.0, 131.0]) == pytest.approx([4.2, 2.4])
    assert motor_torque(made, [2.0, 2.7]) == pytest.approx([0.0, 0.0])
    free = np.array([5900.0, 5300.0]) * 2 * np.pi / 60
    assert motor_voltage(made, speed=free, current=[2.0, 2.7]) == pytest.approx([12.0, 12.0])
    assert motor_voltage(made, speed=0.0, current=[230.0, 131.0]) == pytest.approx([12.0, 12.0])


def test_an_ideal_motor_has_equal_constants() -> None:
    speed = 12.0 / 0.02
    ideal = motor(
        free_speed_rpm=speed * 60 / (2 * np.pi), free_current=0.0, stall_torque=0.02 * 100,
        stall_current=100.0,
    )  # fmt: skip
    assert float(constants_ratio(ideal)) == pytest.approx(1.0)


def test_a_free_current_above_the_stall_current_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="240 A"):
        motor(free_current=240.0, stall_current=230.0)
