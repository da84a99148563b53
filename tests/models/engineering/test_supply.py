"""Battery and wiring: roots that satisfy their equations, limits that hold, both ways round."""

from __future__ import annotations

import numpy as np
import pytest

from models.engineering.supply import (
    LIMIT_WORDS,
    Supply,
    bus_current,
    coupled_bus_currents,
    full_duty_current,
    limiting,
    motor_current,
    path_resistance,
    supply,
    supply_limited_current,
)

R = 0.0521739


def feed(**changes: object) -> Supply:
    figures: dict[str, object] = {
        "open_voltage": 12.6, "source_resistance": 0.019, "branch_resistance": 0.006,
        "accessory_current": 8.0, "motor_count": 4, "stator_limit": np.inf,
        "supply_limit": np.inf,
    }  # fmt: skip
    return supply(**(figures | changes))  # type: ignore[arg-type]


def test_the_bus_current_satisfies_its_equation() -> None:
    power = np.linspace(0.0, 400.0, 9)
    taken = bus_current(source_voltage=12.448, path=0.082, motor_power=power)
    assert 0.082 * taken**2 - 12.448 * taken + power == pytest.approx(np.zeros(9), abs=1e-9)
    assert np.all(taken <= 12.448 / (2 * 0.082))


def test_at_full_duty_the_bus_gives_what_the_motor_carries() -> None:
    emf = 8.0
    current = full_duty_current(source_voltage=12.448, emf=emf, resistance=R, path=0.082)
    taken = bus_current(
        source_voltage=12.448, path=0.082, motor_power=(emf + R * current) * current
    )
    assert float(taken) == pytest.approx(float(current))


def test_at_the_supply_limit_the_bus_gives_exactly_that() -> None:
    limited = feed(supply_limit=40.0)
    for emf in (0.0, 2.0, 5.0):
        current = supply_limited_current(emf=emf, resistance=R, power=limited.supply_power)
        taken = bus_current(
            source_voltage=limited.source_voltage,
            path=path_resistance(limited),
            motor_power=(emf + R * current) * current,
        )
        assert float(taken) == pytest.approx(40.0)


def test_a_supply_limit_that_the_battery_cannot_reach_limits_nothing() -> None:
    most = 12.448 / (2 * 0.082)
    emf = np.linspace(0.0, 12.0, 50)
    beyond = motor_current(feed(supply_limit=1.3 * most), emf=emf, resistance=R)
    assert beyond == pytest.approx(motor_current(feed(), emf=emf, resistance=R))


def test_the_least_of_three_governs_in_turn() -> None:
    limited = feed(stator_limit=80.0, supply_limit=40.0)
    words = [LIMIT_WORDS[i] for i in limiting(limited, emf=[0.0, 4.0, 11.0], resistance=R)]
    assert words == ["stator limit", "supply limit", "voltage"]


@pytest.mark.parametrize("branch", [0.0, 0.006, 0.02])
def test_unequal_motors_share_one_bus(branch: float) -> None:
    wired = feed(branch_resistance=branch)
    first, second = np.array([300.0, 250.0, 0.0]), np.array([100.0, 250.0, 40.0])
    one, other = coupled_bus_currents(wired, first_power=first, second_power=second)
    at_bus = 12.448 - 0.019 * 2 * (one + other)
    assert (at_bus - branch * one) * one == pytest.approx(first)
    assert (at_bus - branch * other) * other == pytest.approx(second)


def test_equal_motors_are_a_case_of_unequal_ones() -> None:
    wired = feed()
    power = np.array([0.0, 120.0, 400.0])
    one, other = coupled_bus_currents(wired, first_power=power, second_power=power)
    alone = bus_current(
        source_voltage=wired.source_voltage, path=path_resistance(wired), motor_power=power
    )
    assert one == pytest.approx(alone)
    assert other == pytest.approx(alone)
