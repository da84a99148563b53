"""The search for arrangements of a study's candidates, and what has to give."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from typing import Any

import pytest

from models.errors import OutOfRangeError
from models.study.reader import parse_study
from models.study.schema import Study
from models.trade.arranging import ArrangeSettings, arrange, rearranged, rule_faults
from models.trade.arranging_changes import freeing_changes
from models.trade.arranging_words import change_words, corner_words, move_words, verdict_words
from models.trade.assembly import fit_table
from models.trade.evaluation import evaluate_study
from models.units import UnitSystem

Document = dict[str, Any]
SI = UnitSystem.SI
USUAL = ArrangeSettings(evaluated=0)


def search(study: Study, key: str, **settings: Any) -> dict[str, Any]:
    return arrange(study, study.candidate(key), ArrangeSettings(**{"evaluated": 0, **settings}))


def fits(study: Study, key: str, corners: dict[str, Any]) -> bool:
    table = fit_table(study, rearranged(study.candidate(key), corners))
    return table is None or not table.clearances.conflict.any()


@pytest.fixture
def changed(reference_document: Document) -> Callable[[Callable[[Document], None]], Study]:
    """Make the reference study with something else."""

    def change(edit: Callable[[Document], None]) -> Study:
        document = deepcopy(reference_document)
        edit(document)
        return parse_study(document)

    return change


def block(document: Document) -> None:
    """Widen the lift foot so that no module of the usual range stands beside it."""
    document["robot"]["keepouts"][0]["outline_m"] = [
        [0.16, 0.2], [-0.135, 0.2], [-0.135, -0.2], [0.16, -0.2],
    ]  # fmt: skip


@pytest.mark.parametrize("key", ["swerve", "swerve-tall"])
def test_the_reference_has_what_its_independent_solution_found(reference: Study, key: str) -> None:
    """500 arrangements with mirrored insets of 0 to 40 mm in steps of 10; the best on 0.2805 m²."""
    found = search(reference, key)
    assert found["feasible"] == 500
    assert found["arrangements"][0]["support_area_m2"] == pytest.approx(0.2805, abs=5e-5)


def test_all_that_are_listed_fit_and_come_best_first(reference: Study) -> None:
    found = search(reference, "swerve")["arrangements"]
    assert len(found) == 500
    areas = [entry["support_area_m2"] for entry in found]
    assert areas == sorted(areas, reverse=True)
    assert all(fits(reference, "swerve", entry["corners"]) for entry in found[::25])


def test_the_figures_are_those_of_the_candidate_so_arranged(reference: Study) -> None:
    best = search(reference, "swerve", evaluated=1)["arrangements"][0]
    placed = rearranged(reference.candidate("swerve"), best["corners"])
    others = tuple(placed if one.key == "swerve" else one for one in reference.candidates)
    payload = evaluate_study(reference.model_copy(update={"candidates": others}), keys=["swerve"])
    metrics = payload["candidates"][0]["metrics"]
    assert best["figures"]["turn90_s"] == metrics["turn90_s"]
    assert best["figures"]["tip_side_mps2"] == metrics["tip_side_mps2"]
    assert best["worst_clearance_margin_m"] == pytest.approx(metrics["worst_clearance_margin_m"])


@pytest.mark.parametrize(
    ("order", "figure", "sign"),
    [
        ("clearance", "worst_clearance_margin_m", 1),
        ("fewest-inverted", "inverted", -1),
        ("wheelbase", "wheelbase_m", 1),
    ],
)
def test_each_order_puts_its_own_figure_first(
    reference: Study, order: str, figure: str, sign: int
) -> None:
    found = search(reference, "swerve", order=order)["arrangements"]
    values = [sign * round(entry[figure], 9) for entry in found]
    assert values == sorted(values, reverse=True)


def test_freed_sides_hold_more_than_mirrored_ones(reference: Study) -> None:
    mirrored = search(reference, "swerve", largest_m=0.02)
    free = search(reference, "swerve", largest_m=0.02, mirrored=False)
    assert free["feasible"] > mirrored["feasible"]
    assert fits(reference, "swerve", free["arrangements"][-1]["corners"])


def test_where_none_fits_the_nearest_would_with_the_moves_given(
    changed: Callable[..., Study],
) -> None:
    study = changed(block)
    found = search(study, "swerve", largest_m=0.01)
    assert found["feasible"] == 0
    assert found["nearest"]
    for entry in found["nearest"]:
        for share, expected in ((1.0, True), (0.99, False)):

            def move(
                document: Document, entry: dict[str, Any] = entry, share: float = share
            ) -> None:
                block(document)
                for change in entry["changes"]:
                    keepout = document["robot"]["keepouts"][change["index"]]
                    forward, left = (share * part for part in change["move"]["by_m"])
                    keepout["outline_m"] = [
                        [x + forward, y + left] for x, y in keepout["outline_m"]
                    ]

            assert fits(changed(move), "swerve", entry["corners"]) is expected
    totals = [entry["total_move_m"] for entry in found["nearest"]]
    assert totals == sorted(totals)


def test_no_arrangement_that_may_be_placed_is_nearer(changed: Callable[..., Study]) -> None:
    study = changed(block)
    candidate = study.candidate("swerve")
    found = search(study, "swerve", largest_m=0.01)
    least = found["nearest"][0]["total_move_m"]
    for kinds in range(16):
        for insets in range(16):
            corners = {
                name: {
                    "orientation": ("upright", "inverted")[kinds >> index & 1],
                    "inset_m": [
                        0.01 * (insets >> (2 * (index // 2)) & 1),
                        0.01 * (insets >> (2 * (index // 2) + 1) & 1),
                    ],
                }
                for index, name in enumerate(
                    ("front_left", "front_right", "rear_left", "rear_right")
                )
            }
            changes = freeing_changes(study, rearranged(candidate, corners)).of_keepouts
            total = sum(change["move"]["distance_m"] for change in changes)
            assert total >= least - 1e-9


def test_a_trim_in_height_frees_too(changed: Callable[..., Study]) -> None:
    study = changed(block)
    entry = search(study, "swerve", largest_m=0.01)["nearest"][0]
    for share, expected in ((1.0, True), (0.99, False)):

        def trim(document: Document, share: float = share) -> None:
            block(document)
            for change in entry["changes"]:
                keepout = document["robot"]["keepouts"][change["index"]]
                keepout["bottom_m"] += share * change["trim"]["bottom_m"]
                keepout["top_m"] -= share * change["trim"]["top_m"]

        assert fits(changed(trim), "swerve", entry["corners"]) is expected


class TestBodies:
    """A tank: its left gearbox stands in the lift foot."""

    def test_either_the_keepout_or_the_body_gives_way(self, reference: Study) -> None:
        found = arrange(reference, reference.candidate("tank"), USUAL)
        assert found["feasible"] == 0
        assert [change["keepout"] for change in found["changes"]] == ["lift foot"]
        assert [shift["body"] for shift in found["shifts"]] == ["gearbox left"]

    @pytest.mark.parametrize(("share", "expected"), [(1.0, True), (0.99, False)])
    @pytest.mark.parametrize("what", ["changes", "shifts"])
    def test_the_least_change_applied_fits_and_less_does_not(
        self,
        reference: Study,
        changed: Callable[..., Study],
        what: str,
        share: float,
        expected: bool,
    ) -> None:
        (change,) = arrange(reference, reference.candidate("tank"), USUAL)[what]

        def move(document: Document) -> None:
            place = document["robot"]["keepouts"]
            if what == "shifts":
                tank = next(one for one in document["candidates"] if one["key"] == "tank")
                place = tank["bodies"]
            forward, left = (share * part for part in change["move"]["by_m"])
            outline = place[change["index"]]["outline_m"]
            place[change["index"]]["outline_m"] = [[x + forward, y + left] for x, y in outline]

        study = changed(move)
        table = fit_table(study, study.candidate("tank"))
        assert table is not None
        assert (not table.clearances.conflict.any()) is expected

    def test_a_shift_stays_inside_the_frame(self, changed: Callable[..., Study]) -> None:
        def widen(document: Document) -> None:
            document["robot"]["keepouts"][0]["outline_m"] = [
                [0.4, 0.4], [-0.4, 0.4], [-0.4, -0.4], [0.4, -0.4],
            ]  # fmt: skip

        study = changed(widen)
        (shift,) = arrange(study, study.candidate("tank"), USUAL)["shifts"]
        assert shift["move"] is None

    def test_without_bodies_the_fit_is_not_known(self, reference: Study) -> None:
        found = arrange(reference, reference.candidate("mecanum"), USUAL)
        assert not found["fit_known"]
        assert verdict_words(found, SI)[0] == "watch"


class TestRules:
    def test_a_frame_over_the_perimeter_has_no_arrangement(
        self, changed: Callable[..., Study]
    ) -> None:
        study = changed(lambda document: document["rules"].update(perimeter_limit_m=2.5))
        found = search(study, "swerve")
        assert found["feasible"] == 0
        assert "220 mm longer round" in verdict_words(found, SI)[1]

    def test_a_robot_over_the_height_has_none(self, changed: Callable[..., Study]) -> None:
        study = changed(lambda document: document["rules"].update(height_limit_m=1.0))
        assert "50 mm taller" in rule_faults(study, study.candidate("swerve"))[0]

    def test_a_module_stays_inside_the_frame(self, changed: Callable[..., Study]) -> None:
        def narrow(document: Document) -> None:
            for candidate in document["candidates"]:
                candidate["frame"] = {"length_m": 0.66, "width_m": 0.66}

        found = search(changed(narrow), "swerve")["arrangements"]
        assert found[0]["wheelbase_m"] == pytest.approx(0.53)


def test_more_than_can_be_searched_is_refused(reference: Study) -> None:
    with pytest.raises(OutOfRangeError, match="larger step"):
        search(reference, "swerve", step_m=1e-4)


class TestWords:
    def test_moves(self) -> None:
        assert move_words((0.012, 0.0), SI) == "12.0 mm forward"
        assert move_words((-0.003, 0.004), SI) == "5.00 mm (3.00 mm back and 4.00 mm left)"

    def test_what_is_less_comes_first(self) -> None:
        change = {
            "keepout": "mast",
            "move": {"by_m": [0.0, -0.1], "distance_m": 0.1},
            "trim": {"bottom_m": 0.05, "top_m": 0.0},
        }
        words = "Trim “mast” by 50.0 mm off its bottom, or move it 100 mm right"
        assert change_words(change, SI) == words
        assert change_words(change, SI, short=True).endswith(
            "were trimmed by 50.0 mm off its bottom"
        )

    def test_corners(self, reference: Study) -> None:
        best = search(reference, "swerve")["arrangements"][0]
        assert corner_words(best["corners"], SI) == "the front upright, the rear inverted"
