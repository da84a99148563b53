"""Whole matches: the sum of the energies, the sprint without loads, batteries, loads, periods."""

from __future__ import annotations

import json
import math
from copy import deepcopy
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from models.errors import NotFoundError
from models.seed import example_document
from models.study.reader import parse_study
from models.trade.battery import batteries_of, battery_in_use, with_charge
from models.trade.driving import base_of, performance_of
from models.trade.evaluation import evaluate_study
from models.trade.match import NO_BATTERY, match_of, worst_above
from models.trade.match_figures import match_figures
from models.trade.match_legs import courses_of
from models.trade.match_timeline import matches_on
from tests.independent_solution import Solution
from tests.random_studies import random_study

Document = dict[str, Any]
REFERENCE = Path(__file__).resolve().parents[2] / "reference" / "reference-1.json"


@pytest.fixture(scope="module")
def document() -> Document:
    """The reference study, with capacity, a warning and two loads."""
    case: Document = json.loads(REFERENCE.read_text(encoding="utf-8"))
    case["power"] |= {"capacity_ah": 18, "warning_v": 9}
    case["power"]["loads"] = [
        {"name": "lift", "current_a": 30, "duty": 0.5, "during": "legs"},
        {"name": "fan", "current_a": 4, "during": "always"},
    ]
    return case


@pytest.fixture(scope="module")
def payload(document: Document) -> Document:
    return match_of(parse_study(document))


def changed(document: Document, **power: Any) -> Document:
    case = deepcopy(document)
    case["power"] |= power
    return case


def plain(value: Any) -> bool:
    if isinstance(value, dict):
        return all(isinstance(key, str) and plain(item) for key, item in value.items())
    if isinstance(value, list):
        return all(plain(item) for item in value)
    return math.isfinite(value) if isinstance(value, float) else value is None or isinstance(
        value, str | int
    )  # fmt: skip


class TestEnergy:
    def test_of_every_match_closes(self, payload: Document) -> None:
        for one in payload["candidates"]:
            assert abs(one["match"]["closing_share"]) < 0.005
            parts = one["match"]["ledger"]
            assert all(part["joules"] >= 0.0 for part in parts)
            assert sum(part["share"] for part in parts) == pytest.approx(1.0, abs=0.005)

    def test_of_the_example_closes_on_every_battery(self) -> None:
        study = parse_study(example_document())
        for candidate in study.candidates[:2]:
            courses = courses_of(study, candidate, base_of(study, candidate))
            for run in matches_on(study, batteries_of(study), courses):
                assert abs(match_figures(study, run)["closing_share"]) < 0.005

    def test_is_charge_times_voltage(self, payload: Document) -> None:
        for one in payload["candidates"]:
            match = one["match"]
            volts = match["energy_j"] / (3600.0 * match["charge_used_ah"])
            assert match["min_voltage_v"] < volts < 12.7

    @pytest.mark.parametrize(("layout", "seed"), [("tank", 2), ("swerve", 2), ("mecanum", 5)])
    def test_agrees_with_an_integrator(self, layout: str, seed: int) -> None:
        """Straight runs to and fro, integrated over time with scipy and single numbers."""
        case = random_study(seed, layout)
        case["rules"] |= {"autonomous_s": 15, "match_s": 150}
        legs = [{"to_m": [4, 0]}, {"to_m": [0, 0], "action_s": 1.0}]
        start = {"at_m": [0, 0], "heading_deg": 0}
        case["routes"] = [{"name": "there", "kind": "cycle", "start": start, "legs": legs}]
        match = match_of(parse_study(case))["candidates"][0]["match"]
        own = Solution(case, case["candidates"][0])
        top, took, taken = _straight_run(own, 4.0)
        back = own.time_over(4.0, math.pi, stop=True)[0]
        assert back == pytest.approx(took)
        cycle = 2 * (own.steer + took) + 1.0
        cycles = int(135.0 / cycle)
        assert match["cycles"] == cycles
        idle = 150.0 - 2 * cycles * taken["time"]
        charge = 2 * cycles * taken["charge"] + idle * own.Ia
        assert 3600 * match["charge_used_ah"] == pytest.approx(charge, rel=1e-3)
        ledger = {part["key"]: part["joules"] for part in match["ledger"]}
        inertia = own.M + own.mrot / own.factors(0.0)[0] ** 2
        assert ledger["kinetic"] == pytest.approx(cycles * inertia * top**2, rel=1e-3)
        assert ledger["winding"] == pytest.approx(2 * cycles * taken["winding"], rel=2e-3)
        assert ledger["rolling"] == pytest.approx(
            2 * cycles * own.D * taken["distance"], rel=2e-3, abs=1e-9
        )
        volts = own.Voc - own.Rb * own.Ia
        loads = 2 * cycles * taken["loads"] + idle * volts * own.Ia
        assert ledger["loads"] == pytest.approx(loads, rel=1e-3, abs=1e-9)


def _straight_run(own: Solution, distance: float) -> tuple[float, float, dict[str, float]]:
    """Return greatest speed, time to stop, and what the run takes while it speeds up."""
    braking = own.brake(0.0)
    took, top = own.time_over(distance, 0.0, stop=True)
    each = own.eta * own.Gr * own.kT / own.r * own.n / 2 * own.factors(0.0)[1]

    def slope(_t: float, state: np.ndarray) -> list[float]:
        v = max(float(state[0]), 0.0)
        a, front, rear = own.acceleration(v, 0.0)
        total = own.bus_total(v, 0.0, front, rear)
        heat = sum(own.R * (own.If + half / each) ** 2 for half in (front, rear))
        volts = own.Voc - own.Rb * total
        return [a, v, total, own.n / 2 * heat, volts * own.Ia]

    end = took - top / braking
    run = solve_ivp(slope, (0.0, end), [0.0] * 5, rtol=1e-9, atol=1e-10, max_step=0.05)
    names = ("speed", "distance", "charge", "winding", "loads")
    return top, took, {"time": end, **dict(zip(names, run.y[:, -1], strict=True))}


class TestTheSprint:
    def test_without_loads_is_the_evaluations(self, document: Document) -> None:
        study = parse_study(changed(document, loads=[]))
        metrics = {one["key"]: one["metrics"] for one in evaluate_study(study)["candidates"]}
        for one in match_of(study)["candidates"]:
            own, sprint, push = metrics[one["key"]], one["sprint"], one["push"]
            assert sprint["time_s"] == pytest.approx(own["sprint_time_s"], rel=1e-9)
            assert sprint["end_speed_mps"] == pytest.approx(own["sprint_end_speed_mps"], rel=1e-9)
            assert sprint["min_voltage_v"] == pytest.approx(own["min_bus_voltage_v"], rel=1e-3)
            assert sprint["peak_current_a"] == pytest.approx(own["peak_bus_current_a"], rel=1e-3)
            assert sprint["energy_j"] == pytest.approx(own["sprint_energy_j"], rel=1e-3)
            assert push["force_n"] == pytest.approx(own["push_force_n"])
            assert push["bus_current_a"] == pytest.approx(own["push_bus_current_a"])

    def test_on_an_ideal_battery_keeps_its_voltage(self, document: Document) -> None:
        case = changed(document, loads=[], internal_resistance_ohm=0, main_wiring_ohm=0)
        case["power"].pop("capacity_ah")
        study = parse_study(case)
        metrics = {one["key"]: one["metrics"] for one in evaluate_study(study)["candidates"]}
        for one in match_of(study)["candidates"]:
            assert one["sprint"]["time_s"] == pytest.approx(
                metrics[one["key"]]["sprint_time_s"], rel=1e-9
            )
            assert one["match"]["min_voltage_v"] == pytest.approx(case["power"]["open_circuit_v"])

    @settings(max_examples=8, deadline=None)
    @given(
        st.lists(st.floats(0.0, 0.03), min_size=2, max_size=5),
        st.floats(0.0, 40.0),
        st.sampled_from(["tank", "swerve"]),
    )
    def test_and_match_never_gain_voltage_by_resistance(
        self, steps: list[float], load: float, key: str
    ) -> None:
        case = json.loads(REFERENCE.read_text(encoding="utf-8"))
        case["power"]["loads"] = [{"name": "load", "current_a": load}]
        case["power"]["batteries"] = [
            {"name": f"b{i}", "kind": "own", "internal_resistance_ohm": ohm}
            for i, ohm in enumerate(sorted(steps))
        ]
        one = match_of(parse_study(case), keys=[key])["candidates"][0]
        rows = [row for row in one["classes"] if row["battery"].startswith("b")]
        for name in ("sprint_min_v", "push_min_v", "match_min_v"):
            assert np.all(np.diff([row[name] for row in rows]) <= 2e-3)


class TestLoads:
    def test_of_a_leg_count_in_that_leg_alone(self, document: Document) -> None:
        without = match_of(parse_study(document), keys=["tank"])["candidates"][0]["match"]
        case = deepcopy(document)
        route = next(one for one in case["routes"] if one["kind"] == "cycle")
        route["legs"][0]["loads"] = ["lift"]
        with_it = match_of(parse_study(case), keys=["tank"])["candidates"][0]["match"]
        assert with_it["min_voltage_v"] < without["min_voltage_v"]
        assert with_it["cycle_first_s"] >= without["cycle_first_s"]
        more = 3600 * (with_it["charge_used_ah"] - without["charge_used_ah"])
        assert more > 0
        # 15 A on average, for no longer than the cycles last
        assert more < 15 * with_it["cycles"] * with_it["cycle_last_s"]

    def test_of_a_period_count_in_that_period_alone(self, document: Document) -> None:
        def charge(during: str) -> float:
            loads = [{"name": "x", "current_a": 12, "duty": 0.5, "during": during}]
            study = parse_study(changed(document, loads=loads))
            return 3600 * match_of(study, keys=["tank"])["candidates"][0]["match"]["charge_used_ah"]

        base = charge("legs")
        rules = document["rules"]
        auto, whole = rules["autonomous_s"], rules["match_s"]
        assert charge("autonomous") - base == pytest.approx(6 * auto, rel=0.05)
        assert charge("always") - base == pytest.approx(6 * whole, rel=0.05)
        assert charge("driver") - base == pytest.approx(6 * (whole - auto), rel=0.05)


class TestTheTimeline:
    def test_repeats_routes_as_the_routes_page_times_them(self, document: Document) -> None:
        case = changed(document, loads=[])
        case["power"].pop("capacity_ah")
        study = parse_study(case)
        for candidate in study.candidates:
            base = base_of(study, candidate)
            routes = performance_of(study, candidate, base).routes
            run = matches_on(study, [battery_in_use(study)], courses_of(study, candidate, base))[0]
            for drive in run.drives:
                own = float(np.sum(routes[drive.route].times.whole))
                # On the way a turn takes its share of the battery, which slows the drive a little
                assert own - 1e-9 <= drive.end - drive.begin <= 1.05 * own

    def test_fills_the_match_without_gaps(self, payload: Document) -> None:
        for one in payload["candidates"]:
            marks = one["match"]["marks"]
            assert marks[0]["time_s"] == 0.0
            assert marks[-1]["until_s"] == pytest.approx(payload["match_s"])
            for before, after in pairwise(marks):
                assert after["time_s"] == pytest.approx(before["until_s"])
            cycles = [mark for mark in marks if mark["kind"] == "cycle"]
            assert all(mark["time_s"] >= payload["autonomous_s"] for mark in cycles)
            assert len(cycles) == one["match"]["cycles"]

    def test_has_a_line_that_keeps_its_low(self, payload: Document) -> None:
        for one in payload["candidates"]:
            series = one["match"]["series"]
            assert len(series["time_s"]) <= 600
            assert np.all(np.diff(series["time_s"]) >= -1e-9)
            low = min(series["voltage_v"])
            assert low == pytest.approx(one["match"]["min_voltage_v"], abs=0.05)
            assert max(series["current_a"]) <= one["match"]["peak_current_a"] + 1e-9

    def test_empties_the_battery_from_drive_to_drive(self, document: Document) -> None:
        study = parse_study(document)
        candidate = study.candidate("tank")
        courses = courses_of(study, candidate, base_of(study, candidate))
        run = matches_on(study, [battery_in_use(study)], courses)[0]
        cycles = [one for one in run.drives if one.route != run.plan.autonomous]
        lows = [float(run.figures[one.route].least.voltage[one.state]) for one in cycles]
        assert np.all(np.diff(lows) < 0.0)

    def test_cuts_a_long_match_into_few_levels(self, document: Document) -> None:
        case = deepcopy(document)
        case["rules"]["match_s"] = 3000
        found = match_of(parse_study(case), keys=["tank"])["candidates"][0]["match"]
        assert found["cycles"] > 150
        assert abs(found["closing_share"]) < 0.005
        assert found["left_share"] == 0.0

    def test_says_why_there_is_none(self, document: Document) -> None:
        case = deepcopy(document)
        case["routes"] = []
        case.pop("decision", None)
        found = match_of(parse_study(case))["candidates"][0]["match"]
        assert not found["able"]
        assert "routes page" in found["reason"]
        assert found["min_voltage_v"] is None

    def test_drives_cycles_where_the_autonomous_route_is_just_too_long(
        self, document: Document
    ) -> None:
        case = deepcopy(document)
        study = parse_study(case)
        own = match_of(study, keys=["swerve"])["candidates"][0]["match"]
        # Between the time told beforehand and the one that comes out, all on one battery
        for short in np.linspace(0.99, 1.0, 6):
            case["rules"]["autonomous_s"] = own["autonomous_time_s"] * float(short)
            found = match_of(parse_study(case), keys=["swerve"])["candidates"][0]["match"]
            assert found["cycles"] >= own["cycles"]
            assert found["autonomous_fits"] is bool(short == 1.0)

    def test_waits_where_no_cycle_fits(self, document: Document) -> None:
        case = deepcopy(document)
        case["rules"] |= {"match_s": 16, "autonomous_s": 15}
        found = match_of(parse_study(case), keys=["tank"])["candidates"][0]["match"]
        assert found["cycles"] == 0
        assert found["autonomous_fits"]

    def test_is_the_same_for_a_candidate_that_keeps_a_base(self) -> None:
        study = parse_study(example_document())
        found = {one["key"]: one for one in match_of(study)["candidates"]}
        assert [one.key for one in study.candidates] == list(found)
        kept = next(one for one in study.candidates if one.same_base_as is not None)
        both = found[kept.key], found[str(kept.same_base_as)]
        assert both[0]["match"] == both[1]["match"]
        assert both[0]["name"] == kept.name

    def test_is_plain(self, payload: Document) -> None:
        assert plain(payload)
        json.dumps(payload, allow_nan=False)


class TestBatteries:
    def test_change_nothing_where_none_is_named(self, document: Document) -> None:
        study = parse_study(document)
        own = battery_in_use(study)
        assert own.open_circuit_v == float(study.power.open_circuit_v)
        assert own.internal_resistance_ohm == float(study.power.internal_resistance_ohm)
        assert batteries_of(study) == (own,)

    def test_take_the_place_of_the_sections_figures(self, document: Document) -> None:
        named = {"name": "good", "kind": "match", "internal_resistance_ohm": 0.011,
                 "open_circuit_v": 12.9}  # fmt: skip
        one = evaluate_study(parse_study(changed(document, batteries=[named], battery="good")))
        other = evaluate_study(
            parse_study(changed(document, internal_resistance_ohm=0.011, open_circuit_v=12.9))
        )
        assert [c["metrics"] for c in one["candidates"]] == [
            c["metrics"] for c in other["candidates"]
        ]

    def test_sag_more_when_cold_and_half_empty(self, document: Document) -> None:
        rows = [
            {"name": name, "kind": "own", "internal_resistance_ohm": 0.015, **more}
            for name, more in (
                ("full", {}), ("half", {"charge": 0.5}), ("cold", {"temperature_c": -5}),
            )
        ]  # fmt: skip
        study = parse_study(changed(document, batteries=rows))
        found = {one.name: one for one in batteries_of(study)}
        assert found["half"].open_circuit_v < found["full"].open_circuit_v
        assert found["half"].internal_resistance_ohm == pytest.approx(0.018)
        assert found["cold"].internal_resistance_ohm > found["full"].internal_resistance_ohm
        assert found["cold"].capacity_ah == pytest.approx(0.8 * 18)
        assert with_charge(found["half"], 1.0).open_circuit_v == found["full"].open_circuit_v
        low = {
            row["battery"]: row["match_min_v"]
            for row in match_of(study)["candidates"][0]["classes"]
        }
        assert low["half"] < low["full"]
        assert low["cold"] < low["full"]

    def test_the_worst_that_stays_above_is_named(self) -> None:
        def row(name: str, sprint: float | None, push: float) -> Document:
            above = push >= 7 and (sprint is None or sprint >= 7)
            return {"battery": name, "sprint_min_v": sprint, "push_min_v": push,
                    "stays_above": above}  # fmt: skip

        rows = [row("a", 9.0, 9.5), row("b", 7.5, 9.0), row("c", 6.9, 9.0), row("d", 8.0, 7.2)]
        assert worst_above(rows) == "d"
        assert worst_above(rows[:3]) == "b"
        assert worst_above(rows[2:3]) == NO_BATTERY
        assert worst_above([row("still", None, 8.0)]) == "still"

    def test_one_by_name(self, document: Document) -> None:
        rows = [{"name": "good", "kind": "match", "internal_resistance_ohm": 0.011}]
        study = parse_study(changed(document, batteries=rows))
        assert match_of(study, "good")["battery"] == "good"
        with pytest.raises(NotFoundError, match="good"):
            match_of(study, "better")
