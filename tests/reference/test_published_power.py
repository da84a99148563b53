"""Published checks of wires, batteries and protection.

The source stands beside each check; values recalled rather than read say so.
"""

from __future__ import annotations

import numpy as np
import pytest

from models.engineering.battery import (
    RESTING_VOLTAGE,
    discharge_time,
    resistance_share,
    resting_share,
    usable_capacity,
)
from models.engineering.breakers import trip_time
from models.engineering.cables import (
    loop_resistance,
    steady_current,
    time_to_temperature,
    wire_area,
    wire_diameter,
)
from models.engineering.match_bus import Feed, bus_state

THOUSAND_FEET = 304.8


# ASTM B258: diameters of the standard's table in mil
@pytest.mark.parametrize(("gauge", "mil"), [(12, 80.808), (14, 64.084), (18, 40.303)])
def test_the_diameter_of_a_gauge(gauge: int, mil: float) -> None:
    assert float(wire_diameter(gauge=gauge)) / 0.0254 == pytest.approx(mil, abs=5e-4)


# A published wire table at 20 °C with the resistivity of IEC 60028, ohms per 1000 ft of one lead
@pytest.mark.parametrize(
    ("gauge", "ohms"), [(12, 1.588), (14, 2.525), (16, 4.016), (18, 6.385)]
)  # fmt: skip
def test_copper_at_20_degrees(gauge: int, ohms: float) -> None:
    lead = loop_resistance(area=wire_area(gauge=gauge), length=THOUSAND_FEET / 2, temperature=20)
    assert float(lead) == pytest.approx(ohms, rel=5e-4)


# National Electrical Code, chapter 9 table 8, uncoated copper at 75 °C, ohms per 1000 ft; its 6 and
# 4 are stranded, which adds 2 %
@pytest.mark.parametrize(
    ("gauge", "stranding", "ohms"),
    [(14, 1.0, 3.07), (12, 1.0, 1.93), (10, 1.0, 1.21), (8, 1.0, 0.764), (6, 1.02, 0.491),
     (4, 1.02, 0.308)],
)  # fmt: skip
def test_copper_at_75_degrees(gauge: int, stranding: float, ohms: float) -> None:
    lead = loop_resistance(area=wire_area(gauge=gauge), length=THOUSAND_FEET / 2, temperature=75)
    assert stranding * float(lead) == pytest.approx(ohms, rel=4e-3)


# Own arithmetic on those two: 40 A through 12 AWG, 2 m away
def test_the_drop_there_and_back() -> None:
    drop = 40.0 * loop_resistance(area=wire_area(gauge=12), length=2.0, temperature=20.0)
    assert float(drop) == pytest.approx(0.8337, abs=5e-5)


# National Electrical Code, table 310.17, single wires in free air, 90 °C column: from memory
@pytest.mark.parametrize(("gauge", "amperes"), [(14, 35), (12, 40), (10, 55), (8, 80), (4, 140)])
def test_what_a_wire_carries_for_ever(gauge: int, amperes: float) -> None:
    assert float(steady_current(area=wire_area(gauge=gauge))) == pytest.approx(amperes)


# IEC 60364-5-54, table A.54.2: k of copper from 70 to 160 °C is 115 A·√s/mm², from 90 to 250 °C
# 143; from memory
@pytest.mark.parametrize(("start", "limit", "factor"), [(70, 160, 115), (90, 250, 143)])
def test_the_time_to_heat_a_wire(start: float, limit: float, factor: float) -> None:
    time = time_to_temperature(current=1000.0, area=10.0, start=start, limit=limit)
    assert 100.0 * np.sqrt(float(time)) == pytest.approx(factor, rel=0.01)


# Own: Ohm's law
def test_a_battery_sags_by_its_resistance() -> None:
    feed = Feed(*(np.asarray(x) for x in (12.7, 0.015, 0.0, 0.0, 4.0, 200.0, 0.0)))
    at = bus_state(feed, first_power=np.zeros(1), second_power=np.zeros(1))
    assert float(at.voltage[0]) == pytest.approx(9.70)


# A published table of a 12 V lead-acid battery at rest
@pytest.mark.parametrize(
    ("percent", "volts"), [(100, 12.65), (75, 12.45), (50, 12.24), (25, 12.06), (0, 11.89)]
)  # fmt: skip
def test_what_a_battery_rests_at(percent: float, volts: float) -> None:
    share = resting_share(charge=percent / 100, temperature=25.0)
    assert RESTING_VOLTAGE.value[-1] * float(share) == pytest.approx(volts, abs=5e-3)


# A published rule for lead-acid: about 50 % more resistance at -18 °C than at 30 °C, about 40 %
# more when empty than when full
def test_cold_and_empty_batteries_resist_more() -> None:
    cold = resistance_share(charge=1.0, temperature=-18.0)
    warm = resistance_share(charge=1.0, temperature=30.0)
    assert float(cold / warm) == pytest.approx(1.5)
    empty = resistance_share(charge=0.0, temperature=25.0)
    assert float(empty) == pytest.approx(1.4)
    assert float(resistance_share(charge=1.0, temperature=25.0)) == 1.0


# Peukert's law in the rated form, from memory: 100 Ah at 20 h, 10 A, exponent 1.2
def test_the_rated_form_of_peukerts_law() -> None:
    time = discharge_time(current=10.0, capacity=100.0, rated_hours=20.0, exponent=1.2)
    assert float(time) == pytest.approx(8.71, abs=5e-3)
    # The other form, t = (C/I)^k with the capacity at 1 A, would say 15.8 h: the two never mix
    assert float(time) != pytest.approx((100.0 / 10.0) ** 1.2, rel=0.1)


# An 18 Ah absorbent-glass-mat battery to 10.5 V, from memory, within 10 %
@pytest.mark.parametrize(
    ("amperes", "hours"), [(0.9, 20.0), (10.8, 1.0), (31.0, 0.25), (60.0, 5 / 60)]
)  # fmt: skip
def test_a_battery_at_high_currents(amperes: float, hours: float) -> None:
    assert float(discharge_time(current=amperes, capacity=18.0)) == pytest.approx(hours, rel=0.1)


def test_one_exponent_does_not_fit_above_one_hour() -> None:
    # By the law alone 60 A would last 7.8 min instead of 5: the table has to take over at 1 C
    by_law = 20.0 * (18.0 / (60.0 * 20.0)) ** 1.2
    assert by_law > 1.4 * float(discharge_time(current=60.0, capacity=18.0))


def test_law_and_table_meet_and_fall() -> None:
    current = np.linspace(0.1, 400.0, 4000)
    hours = discharge_time(current=current, capacity=18.0)
    assert np.all(np.diff(hours) < 0.0)
    below, above = discharge_time(current=[18.0 - 1e-9, 18.0 + 1e-9], capacity=18.0)
    assert float(above) == pytest.approx(float(below), rel=1e-6)
    given = usable_capacity(current=current, capacity=18.0)
    assert np.all(np.diff(given) <= 1e-9)
    assert np.all(given <= 18.0)


# ISO 8820-3 for blade fuses, from memory: 135 % 0.75 to 600 s, 200 % 0.15 to 5 s, 350 % 0.04 to
# 0.5 s; a curve through the middle of each, on log axes, opens inside all of them
def test_a_fuse_opens_inside_its_standard() -> None:
    windows = {1.35: (0.75, 600.0), 2.0: (0.15, 5.0), 3.5: (0.04, 0.5)}
    curve = {
        "multiples": list(windows),
        "seconds": [float(np.sqrt(low * high)) for low, high in windows.values()],
    }
    for multiple, (low, high) in windows.items():
        assert low <= float(trip_time(current=30.0 * multiple, rating=30.0, **curve)) <= high
    # 110 % has to hold for 100 hours
    assert np.isinf(float(trip_time(current=33.0, rating=30.0, **curve)))
    times = trip_time(current=np.linspace(41.0, 300.0, 200), rating=30.0, **curve)
    assert np.all(np.diff(times) < 0.0)
