"""Protection, cables, slots, a day's batteries, and the figures of the catalogue from a match."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.engineering.breakers import trip_time
from models.quantities import metrics_made_by
from models.seed import example_document
from models.study.power import EventDay
from models.study.reader import parse_study
from models.study.schema import Study
from models.trade.day import day_count
from models.trade.match import match_of
from models.trade.power_figures import power_figures
from models.trade.slots import counted_uses, slots_of
from models.trade.wiring import HOLDS, wiring_of

Document = dict[str, Any]


@pytest.fixture(scope="module")
def study() -> Study:
    return parse_study(example_document())


@pytest.fixture(scope="module")
def power(study: Study) -> Document:
    return match_of(study, keys=["tank", "steered"])


@pytest.fixture(scope="module")
def wiring(study: Study, power: Document) -> Document:
    return wiring_of(study, power)


def with_power(**power: Any) -> Study:
    case = example_document()
    case["power"] |= power
    return parse_study(case)


class TestWiring:
    def test_breakers_open_as_their_curve_says(self, study: Study, wiring: Document) -> None:
        curve = study.power.main_breaker_curve
        for one in wiring["candidates"]:
            for row in one["breakers"]:
                assert row["which"] in ("main", "branch")
                for current, time in ((row["push_a"], row["push_s"]), (row["rms_a"], row["rms_s"])):
                    if row["which"] == "main" and time != HOLDS:
                        own = trip_time(
                            current=current, rating=row["rating_a"],
                            multiples=[float(m) for m, _ in curve],
                            seconds=[float(s) for _, s in curve],
                        )  # fmt: skip
                        assert time == pytest.approx(float(own))
        assert wiring["main"]["holds_a"] == pytest.approx(1.35 * 120)
        assert wiring["main"]["double_s"] == pytest.approx(28)

    def test_a_smaller_breaker_opens_in_a_push(self, power: Document) -> None:
        found = wiring_of(with_power(main_breaker_a=60), power)
        row = found["candidates"][0]["breakers"][0]
        assert 0.0 < row["push_s"] < 60.0
        assert any("main breaker" in one["text"] for one in found["warnings"])

    def test_without_a_curve_nobody_can_tell(self, power: Document) -> None:
        found = wiring_of(with_power(main_breaker_curve=[], branch_breaker_curve=[]), power)
        assert {row["push_s"] for row in found["candidates"][0]["breakers"]} == {None}
        assert found["main"]["holds_a"] == 120
        assert found["main"]["double_s"] is None

    def test_cables_drop_what_ohms_law_says(self, wiring: Document) -> None:
        ohms = {one["name"]: one["resistance_ohm"] for one in wiring["cables"]}
        for one in wiring["candidates"]:
            for row in one["cables"]:
                assert row["peak_drop_v"] == pytest.approx(row["peak_a"] * ohms[row["name"]])

    def test_a_thin_cable_is_told_of_and_a_thick_one_is_not(self, power: Document) -> None:
        def warned(gauge: int) -> bool:
            cable = {"name": "lead", "runs": "branch", "gauge_awg": gauge, "length_m": 0.5}
            found = wiring_of(with_power(cables=[cable]), power)["warnings"]
            return any(one["text"].startswith("lead") for one in found)

        assert warned(16)
        assert not warned(4)

    def test_a_typed_resistance_below_the_cables_own_is_told_of(self, power: Document) -> None:
        cable = {"name": "lead", "runs": "main", "gauge_awg": 6, "length_m": 1.0}
        typed = {"main_wiring_ohm": 0.001, "cables": [cable]}
        assert "cannot be" in wiring_of(with_power(**typed), power)["main"]["verdict"]
        typed["main_wiring_ohm"] = 0.004
        assert "agree" in wiring_of(with_power(**typed), power)["main"]["verdict"]
        typed["main_wiring_ohm"] = 0.04
        assert "bad contact" in wiring_of(with_power(**typed), power)["main"]["verdict"]
        assert wiring_of(with_power(cables=[]), power)["main"]["verdict"] == ""

    def test_a_breaker_that_does_not_see_the_winding_is_told_of(self, wiring: Document) -> None:
        own = [one for one in wiring["warnings"] if one["key"] == "steered"]
        assert any("does not protect the motor" in one["text"] for one in own)


class TestSlots:
    def test_are_there_less_what_stays_and_what_the_base_takes(self, study: Study) -> None:
        for candidate in study.candidates:
            for slot in slots_of(study, candidate):
                assert slot.there is not None
                assert slot.free == slot.there - slot.stays - slot.takes

    def test_what_is_typed_goes_before_what_is_counted(self, study: Study) -> None:
        typed = {slot.key: slot for slot in slots_of(study, study.candidate("steered"))}
        assert typed["bus_nodes"].typed
        assert typed["bus_nodes"].takes == 13
        counted = {slot.key: slot for slot in slots_of(study, study.candidate("tank"))}
        assert not counted["channels"].typed
        assert counted["channels"].takes == study.candidate("tank").drive.motor_count

    def test_are_counted_by_layout(self, study: Study) -> None:
        assert counted_uses(study.candidate("steered")) == {
            "channels": 8, "controllers": 8, "encoders": 4, "bus_nodes": 12,
        }  # fmt: skip
        tank = study.candidate("tank")
        assert counted_uses(tank)["encoders"] == 2
        assert counted_uses(study.candidate("mecanum"))["encoders"] == 4

    def test_go_below_zero_where_something_is_short(self) -> None:
        short = with_power(channels=8)
        slots = {slot.key: slot for slot in slots_of(short, short.candidate("steered"))}
        assert slots["channels"].free == -6

    def test_are_unknown_where_the_study_does_not_say(self) -> None:
        case = example_document()
        for name in ("channels", "controllers", "encoders", "bus_nodes"):
            case["power"].pop(name)
        case["robot"].pop("uses")
        bare = parse_study(case)
        assert {slot.free for slot in slots_of(bare, bare.candidate("tank"))} == {None}


class TestDay:
    @staticmethod
    def day(**changes: Any) -> EventDay:
        figures = {"matches": 10, "minutes_between": 35, "charge_hours": 3, "batteries_owned": 4}
        return EventDay(**{**figures, **changes})

    @given(
        st.integers(1, 30), st.floats(5, 120), st.floats(0.5, 12), st.floats(0.05, 1.5),
        st.floats(0.0, 0.6),
    )  # fmt: skip
    def test_is_the_least_that_plays_every_match(
        self, matches: int, between: float, hours: float, taken: float, kept: float
    ) -> None:
        day = self.day(matches=matches, minutes_between=between, charge_hours=hours,
                       charge_kept_share=kept)  # fmt: skip
        count = day_count(day, charge=1.0, taken=taken)
        assert _plays(day, count.needed, count.matches_on_a_charge)
        if count.needed > 1:
            assert not _plays(day, count.needed - 1, count.matches_on_a_charge)

    def test_says_where_one_match_takes_too_much(self) -> None:
        assert day_count(self.day(charge_kept_share=0.5), charge=1.0, taken=0.6).too_much
        assert not day_count(self.day(), charge=1.0, taken=0.6).too_much

    def test_takes_one_match_on_a_charge_where_nothing_is_known(self) -> None:
        count = day_count(self.day(), charge=1.0, taken=None)
        assert not count.known
        assert count.matches_on_a_charge == 1
        assert count.needed == 7

    def test_needs_fewer_where_a_charge_lasts_for_more(self) -> None:
        assert day_count(self.day(), charge=1.0, taken=0.3).needed == 3


def _plays(day: EventDay, batteries: int, on_one: int) -> bool:
    """Play the day: each battery serves its matches in a row, then charges."""
    ready = [0.0] * batteries
    left = [on_one] * batteries
    now, current = 0.0, 0
    for match in range(day.matches):
        now = match * float(day.minutes_between)
        if left[current] == 0:
            # It comes off after its last match and is back when the charge is done
            ready[current] = now + 60.0 * float(day.charge_hours)
            left[current] = on_one
            current = (current + 1) % batteries
        if ready[current] > now + 1e-6:
            return False
        left[current] -= 1
    return True


class TestFigures:
    def test_are_all_that_the_catalogue_names(self, study: Study) -> None:
        found = power_figures(study, keys=["tank", "steered"])
        names = {metric.key for metric in metrics_made_by("power")}
        assert set(found) == {"tank", "steered"}
        assert all(set(one) == names for one in found.values())

    def test_are_those_of_the_match(self, study: Study, power: Document) -> None:
        found = power_figures(study, keys=["tank", "steered"])
        for one in power["candidates"]:
            own = found[one["key"]]
            assert own["match_min_voltage_v"] == pytest.approx(one["match"]["min_voltage_v"])
            assert own["match_charge_share"] == pytest.approx(one["match"]["left_share"])
            assert own["worst_battery"] == one["worst_battery"]

    def test_are_missing_where_nothing_is_known(self) -> None:
        case = deepcopy(example_document())
        for name in ("warning_v", "day", "capacity_ah", "channels"):
            case["power"].pop(name)
        case["power"]["batteries"] = []
        found = power_figures(parse_study(case), keys=["tank"])["tank"]
        missing = {name for name, value in found.items() if value is None}
        assert missing == {
            "match_below_warning_s", "match_charge_share", "batteries_for_day", "channels_free",
        }  # fmt: skip
