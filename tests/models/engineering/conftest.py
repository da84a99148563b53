"""Invented drives and stances for the tests of dynamics."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from models.engineering.drive import Drive, Stance, example_drive
from models.engineering.supply import supply

Maker = Callable[..., Drive]


@pytest.fixture(scope="session")
def make_drive() -> Maker:
    """A drive of four motors with some of its figures changed."""

    def make(**changes: object) -> Drive:
        figures: dict[str, object] = {
            "open_voltage": 12.6, "source_resistance": 0.019, "branch_resistance": 0.006,
            "accessory_current": 8.0, "motor_count": 4, "stator_limit": np.inf,
            "supply_limit": np.inf,
        }  # fmt: skip
        wiring = {name: changes.pop(name) for name in list(changes) if name in figures}
        made = example_drive()._replace(supply=supply(**(figures | wiring)))  # type: ignore[arg-type]
        return made._replace(**{name: np.asarray(value) for name, value in changes.items()})

    return make


@pytest.fixture(scope="session")
def make_stance() -> Callable[..., Stance]:
    """A robot of 50 kg, midway over its axles unless changed."""

    def make(**changes: float) -> Stance:
        figures = {
            "mass": 50.0, "cg_x": 0.0, "cg_height": 0.25, "yaw_inertia": 3.0, "to_front": 0.27,
            "to_rear": 0.27, "track": 0.52,
        }  # fmt: skip
        return Stance(**{k: np.asarray(v, dtype=float) for k, v in (figures | changes).items()})

    return make
