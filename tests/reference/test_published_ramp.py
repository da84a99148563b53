"""Published checks of standing on a ramp; the source stands beside each check."""

from __future__ import annotations

import math

import numpy as np
import pytest

from models.engineering.climbing import hold_still
from models.engineering.drive import Stance, example_drive


# V5: Jazar, Vehicle Dynamics, eq. 2.121 with a = 0: Fz = W (l2 cos φ − h sin φ)/L on the front axle
# (I1: greatest slope and speed on a slope are what ISO 18646-1:2016, clauses 5 to 10, measures)
def test_axle_loads_of_a_robot_that_stands_on_the_ramp() -> None:
    at = Stance(*(np.float64(x) for x in (60.0, 0.0, 0.3, 2.6, 0.26, 0.3, 0.5)))
    phi, weight = math.radians(15.0), 60.0 * 9.80665
    hold = hold_still(example_drive(), at, "tank", slope=phi, to_side=0.25, side_grip=1.0)
    front = weight * (0.3 * math.cos(phi) - 0.3 * math.sin(phi)) / 0.56
    assert float(hold.front_load) == pytest.approx(front)
    assert float(hold.rear_load) == pytest.approx(weight * math.cos(phi) - front)
