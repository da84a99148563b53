"""The side-by-side table: differences in words, ties, the best of a row, what is not there."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.quantities import METRICS, QUESTIONS
from models.trade.comparison import (
    closeness,
    compare,
    difference_words,
    headline_rows,
    signed_difference,
    value_words,
)
from models.units import UnitSystem

SI, INCH = UnitSystem.SI, UnitSystem.INCH_POUND


def words(payload: dict[str, Any], metric: str, key: str, system: UnitSystem = SI) -> str:
    row = compare(payload).row(metric)
    return difference_words(row, row.cell(key), system)


def value(payload: dict[str, Any], metric: str, key: str, system: UnitSystem = SI) -> str:
    row = compare(payload).row(metric)
    return value_words(row, row.cell(key), system)


class TestGroups:
    def test_stand_in_the_order_of_the_questions(self, payload: dict[str, Any]) -> None:
        order = [question for question, _ in QUESTIONS]
        found = [group.question for group in compare(payload).groups]
        assert found == [question for question in order if question in found]
        assert {"fit", "quick", "shove", "battery", "upright", "cycle"} <= set(found)

    def test_hold_every_metric_once(self, payload: dict[str, Any]) -> None:
        keys = [row.metric.key for group in compare(payload).groups for row in group.rows]
        assert len(keys) == len(set(keys))
        assert set(METRICS) <= set(keys)

    def test_hold_routes_and_what_is_left_of_the_limits(self, payload: dict[str, Any]) -> None:
        table = compare(payload)
        assert table.row("route_s:long cycle").metric.question == "cycle"
        assert table.row("route_cycles:long cycle").cell("swerve").difference == 2
        assert table.row("route_margin_s:two-crate autonomous").cell("tank").value > 0
        assert table.row("legal_mass_margin_kg").cell("swerve").value == pytest.approx(8.7)

    def test_a_route_has_cycles_or_a_margin_and_not_both(self, payload: dict[str, Any]) -> None:
        with pytest.raises(KeyError):
            compare(payload).row("route_cycles:two-crate autonomous")
        with pytest.raises(KeyError):
            compare(payload).row("route_margin_s:long cycle")

    def test_the_eight_headline_rows_are_there(self, payload: dict[str, Any]) -> None:
        assert len(headline_rows(compare(payload))) == 8


class TestShown:
    def test_columns_keep_the_order_of_the_study(self, payload: dict[str, Any]) -> None:
        table = compare(payload, ["mecanum", "swerve"])
        assert [(column.key, column.letter) for column in table.columns] == [
            ("swerve", "B"),
            ("mecanum", "D"),
        ]

    def test_differences_stay_against_a_baseline_that_is_not_shown(
        self, payload: dict[str, Any]
    ) -> None:
        row = compare(payload, ["swerve"]).row("sprint_stop_time_s")
        assert difference_words(row, row.cells[0], SI) == "0.14 s quicker"


class TestDifferences:
    @pytest.mark.parametrize(
        ("metric", "key", "expected"),
        [
            ("sprint_stop_time_s", "swerve-tall", "0.20 s quicker"),
            ("sprint_stop_time_s", "mecanum", "0.30 s slower"),
            ("push_force_n", "mecanum", "207 N weaker"),
            ("push_force_n", "swerve", "tie"),
            ("legal_mass_kg", "swerve", "2.6 kg lighter"),
            ("worst_clearance_margin_m", "swerve", "10.0 mm wider"),
            ("fits", "swerve", "the baseline does not"),
            ("fits", "swerve-tall", "same"),
            ("push_limited_by", "swerve", "same"),
            ("route_cycles:long cycle", "mecanum", "1 fewer"),
        ],
    )
    def test_say_how_much_and_which_way(
        self, payload: dict[str, Any], metric: str, key: str, expected: str
    ) -> None:
        assert words(payload, metric, key) == expected

    def test_are_said_in_the_units_of_the_page(self, payload: dict[str, Any]) -> None:
        assert words(payload, "push_force_n", "mecanum", INCH) == "46 lbf weaker"
        assert words(payload, "legal_mass_kg", "swerve", INCH) == "6 lb lighter"

    def test_the_baseline_differs_from_nothing(self, payload: dict[str, Any]) -> None:
        row = compare(payload).row("push_force_n")
        assert row.cell("tank").verdict == "baseline"
        assert difference_words(row, row.cell("tank"), SI) == ""
        assert signed_difference(row, row.cell("tank"), SI) == ""

    def test_have_a_sign_of_their_own(self, payload: dict[str, Any]) -> None:
        row = compare(payload).row("sprint_stop_time_s")
        assert signed_difference(row, row.cell("swerve"), SI) == "−0.14 s"
        assert signed_difference(row, row.cell("mecanum"), SI) == "+0.30 s"

    def test_another_word_is_named(self, with_figures: Callable[..., dict[str, Any]]) -> None:
        changed = with_figures("swerve", push_limited_by="voltage")
        assert words(changed, "push_limited_by", "swerve") == "not traction"

    def test_a_brownout_is_worse_than_none(
        self, with_figures: Callable[..., dict[str, Any]]
    ) -> None:
        row = compare(with_figures("swerve", browns_out=True)).row("browns_out")
        assert row.cell("swerve").verdict == "worse"
        assert not row.cell("swerve").best

    def test_a_margin_is_as_uncertain_as_what_it_is_a_margin_of(
        self, payload: dict[str, Any]
    ) -> None:
        # 0.64 kg of 6 kg left looks like a tenth; of 50 kg it is a tie.
        assert words(payload, "legal_mass_margin_kg", "mecanum") == "tie"

    def test_a_difference_never_reads_zero(
        self, with_figures: Callable[..., dict[str, Any]]
    ) -> None:
        changed = with_figures("swerve", push_bus_current_a=0.02)
        changed["candidates"][0]["metrics"]["push_bus_current_a"] = 0.05
        changed["candidates"][2]["metrics"]["push_bus_current_a"] = 900.0
        assert words(changed, "push_bus_current_a", "swerve").startswith("0.03 A")


class TestMissing:
    @pytest.mark.parametrize("metric", ["fits", "worst_clearance_m", "overlap_m3"])
    def test_an_unknown_fit_is_not_given(self, payload: dict[str, Any], metric: str) -> None:
        assert value(payload, metric, "mecanum") == "not given"
        assert words(payload, metric, "mecanum") == ""

    def test_what_does_not_exist_is_none_and_never_zero(self, payload: dict[str, Any]) -> None:
        assert value(payload, "push_motor_current_a", "swerve") == "none"
        assert compare(payload).row("push_motor_current_a").cell("swerve").verdict == "none"

    def test_a_baseline_without_the_figure_is_said(
        self, with_figures: Callable[..., dict[str, Any]]
    ) -> None:
        changed = with_figures("tank", accel_time_s=None)
        assert words(changed, "accel_time_s", "swerve") == "the baseline has none"
        assert compare(changed).row("accel_time_s").differs

    def test_a_route_without_a_time_says_why(self, payload: dict[str, Any]) -> None:
        run = payload["candidates"][1]["routes"]["long cycle"]
        run.update(time_s=None, cycles=None, reason="It cannot turn.")
        cell = compare(payload).row("route_s:long cycle").cell("swerve")
        assert cell.value is None
        assert cell.note == "It cannot turn."


class TestBest:
    def test_is_the_one_that_nobody_beats_by_more_than_a_tie(self, payload: dict[str, Any]) -> None:
        row = compare(payload).row("turn90_s")
        assert [cell.key for cell in row.cells if cell.best] == ["tank"]

    def test_ties_share_it(self, payload: dict[str, Any]) -> None:
        row = compare(payload).row("push_force_n")
        assert [cell.key for cell in row.cells if cell.best] == ["tank", "swerve", "swerve-tall"]

    def test_nobody_is_best_where_all_tie(self, payload: dict[str, Any]) -> None:
        row = compare(payload, ["swerve", "swerve-tall"]).row("push_force_n")
        assert not any(cell.best for cell in row.cells)

    def test_nobody_is_best_where_no_way_is_better(self, payload: dict[str, Any]) -> None:
        for metric in ("cg_x_m", "push_limited_by", "push_bus_current_a"):
            row = compare(payload).row(metric)
            best = {cell.key for cell in row.cells if cell.best}
            assert best == set() or row.metric.better != "none"

    def test_a_lone_candidate_is_best_at_nothing(self, payload: dict[str, Any]) -> None:
        table = compare(payload, ["tank"])
        cells = [cell for group in table.groups for row in group.rows for cell in row.cells]
        assert not any(cell.best for cell in cells)


class TestDiffers:
    def test_a_row_of_ties_does_not(self, payload: dict[str, Any]) -> None:
        assert not compare(payload).row("perimeter_m").differs

    def test_only_what_is_shown_counts(self, payload: dict[str, Any]) -> None:
        assert compare(payload).row("push_force_n").differs
        assert not compare(payload, ["tank", "swerve"]).row("push_force_n").differs


class TestRowStyle:
    def test_a_row_has_one_number_of_decimals(self, payload: dict[str, Any]) -> None:
        shown = [value(payload, "min_bus_voltage_v", key) for key in ("tank", "mecanum")]
        assert shown == ["7.1 V", "10.3 V"]

    def test_no_length_is_finer_than_a_tenth_of_a_millimetre(self, payload: dict[str, Any]) -> None:
        assert value(payload, "worst_clearance_margin_m", "tank") == "−6.0 mm"
        assert value(payload, "worst_clearance_margin_m", "tank", INCH) == "−0.24 in"

    def test_truth_reads_yes_and_no(self, payload: dict[str, Any]) -> None:
        assert value(payload, "fits", "swerve") == "yes"
        assert value(payload, "fits", "tank") == "no"


class TestCloseness:
    @given(st.floats(0.01, 1000), st.floats(0.01, 1000))
    def test_does_not_depend_on_the_order(self, one: float, other: float) -> None:
        assert closeness(one, other, "n") == closeness(other, one, "n")

    @given(st.floats(1, 1000))
    def test_five_percent_is_the_border(self, figure: float) -> None:
        assert closeness(figure, figure * 0.951, "n") == "tie"
        assert closeness(figure, figure * 0.949, "n") == "apart"

    def test_two_sides_of_zero_are_apart(self) -> None:
        assert closeness(-0.006, 0.004, "m") == "apart"

    def test_what_nobody_can_measure_is_a_tie(self) -> None:
        assert closeness(0.0027, 0.0030, "m") == "tie"


@pytest.mark.parametrize(("share", "verdict"), [(0.89, "tie"), (0.9, "worse"), (1.0, "worse")])
def test_uncertain_figures_are_a_tie_unless_one_is_better_in_nine_of_ten_draws(
    payload: dict[str, Any], share: float, verdict: str
) -> None:
    back = round(1.0 - share, 4)
    key, base = "mecanum", payload["baseline"]
    payload["ahead"] = {"push_force_n": {base: {key: share}, key: {base: back}}}
    one = next(item for item in payload["candidates"] if item["key"] == key)
    one["ranges"] = {"push_force_n": [290.0, 301.0, 320.0, 1.0]}
    row = compare(payload).row("push_force_n")
    assert row.cell(key).verdict == verdict
    assert row.cell(key).span == (290.0, 320.0, 1.0)
    assert row.cell(base).span is None


@pytest.mark.parametrize(
    ("own", "words"),
    [("2027-03-01", "1 day later"), ("2027-02-14", "14 days sooner"), ("2027-02-28", "same")],
)
def test_dates_differ_by_days(payload: dict[str, Any], own: str, words: str) -> None:
    base = payload["baseline"]
    for one in payload["candidates"]:
        one["metrics"]["ready_date_p90"] = "2027-02-28" if one["key"] == base else own
    row = compare(payload).row("ready_date_p90")
    assert difference_words(row, row.cell("mecanum"), SI) == words
