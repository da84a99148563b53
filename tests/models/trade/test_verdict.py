"""The verdict in words: true to the figures, whoever leads, fails or ties."""

from __future__ import annotations

import re
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from random import Random
from typing import Any

import pytest

from models.study.reader import parse_study, read_document
from models.study.schema import Study
from models.trade.evaluation import evaluate_study
from models.trade.verdict import Sentence, verdict
from models.units import UnitSystem

SI, INCH = UnitSystem.SI, UnitSystem.INCH_POUND
ROOT = Path(__file__).resolve().parents[3]
Evaluate = Callable[[Study], dict[str, Any]]


def lead(payload: dict[str, Any], study: Study) -> Sentence:
    return verdict(payload, study, SI)[0]


def about(sentences: list[Sentence], key: str, kind: str) -> str:
    return " ".join(one.text for one in sentences if key in one.candidates and one.kind == kind)


def run_of(payload: dict[str, Any], key: str, route: str = "long cycle") -> dict[str, Any]:
    candidate = next(one for one in payload["candidates"] if one["key"] == key)
    run: dict[str, Any] = candidate["routes"][route]
    return run


class TestLead:
    def test_is_who_fits_and_is_quickest_over_the_cycle(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        first = lead(payload, reference)
        assert first.kind == "lead"
        assert first.candidates == ("swerve",)
        assert first.text == (
            "Four steered modules (B) fits, keeps the limits and is the quickest over "
            "“long cycle”: 10.1 s, 1.9 s less than today's A."
        )

    def test_is_the_only_lead(self, payload: dict[str, Any], reference: Study) -> None:
        assert [one.kind for one in verdict(payload, reference, SI)].count("lead") == 1

    def test_names_who_would_be_quicker_but_fails(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        run_of(payload, "swerve-tall")["time_s"] = 8.0
        text = lead(payload, reference).text
        assert text.endswith(
            "Four upright modules, taller gearing (C) would be quicker still but does not pass."
        )

    def test_goes_by_the_sprint_where_no_cycle_is_given(
        self, reference_document: dict[str, Any], evaluated: Evaluate
    ) -> None:
        reference_document["routes"] = []
        study = parse_study(reference_document)
        text = lead(evaluated(study), study).text
        assert "quickest in the sprint and stop: 1.87 s, 0.14 s less than today's A" in text

    def test_a_time_within_five_percent_is_a_tie(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        run_of(payload, "mecanum")["time_s"] = 10.3
        first = lead(payload, reference)
        assert first.candidates == ("swerve", "mecanum")
        assert "are a tie for the quickest over “long cycle”: 10.1 s and 10.3 s" in first.text
        assert "up to 1.9 s less than today's A" in first.text

    def test_todays_base_stays_ahead_where_nothing_passing_beats_it(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        payload["candidates"][0]["metrics"].update(fits=True)
        run_of(payload, "tank")["time_s"] = 9.0
        text = lead(payload, reference).text
        assert text.startswith(
            "Nothing that passes is quicker over “long cycle” than today's A, with 9.00 s."
        )

    def test_a_tie_with_todays_base_is_no_reason_to_change(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        payload["candidates"][0]["metrics"].update(fits=True)
        run_of(payload, "tank")["time_s"] = 10.2
        text = lead(payload, reference).text
        assert "Four steered modules (B) is no quicker over “long cycle” than today's A" in text
        assert "tie" in text

    def test_a_slower_leader_says_so_where_todays_base_does_not_pass(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        run_of(payload, "tank")["time_s"] = 8.0
        text = lead(payload, reference).text
        assert "2.1 s more than today's A" in text
        assert "Today's A would be quicker still but does not pass." in text

    def test_todays_base_may_be_unable_to_do_it(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        run_of(payload, "tank").update(time_s=None, cycles=None, reason="It cannot turn.")
        sentences = verdict(payload, reference, SI)
        assert "which today's A cannot do at all" in sentences[0].text
        assert "cannot drive “long cycle”: It cannot turn." in about(sentences, "tank", "bad")

    def test_where_nothing_passes_the_nearest_is_named(
        self, with_figures: Callable[..., dict[str, Any]], reference: Study
    ) -> None:
        payload = with_figures("swerve", tip_brake_mps2=-0.2)
        for one in payload["candidates"]:
            if one["key"] == "mecanum":
                one["limits"]["legal_mass"].update(value=58.0, margin=-2.0)
        first, *others = verdict(payload, reference, SI)
        assert first.text == (
            "Nothing here passes as it stands. Four upright modules, taller gearing (C) comes "
            "closest: it lacks 71 mm of room."
        )
        assert "is 2.0 kg over the mass limit of 56.0 kg." in about(others, "mecanum", "bad")
        assert "falls over forwards where it stands in the pose “raised”" in about(
            others, "swerve", "bad"
        )

    def test_one_candidate_has_nothing_to_be_compared_with(
        self, reference_document: dict[str, Any], evaluated: Evaluate
    ) -> None:
        reference_document["candidates"] = reference_document["candidates"][:1]
        study = parse_study(reference_document)
        sentences = verdict(evaluated(study), study, SI)
        assert "one candidate only" in sentences[0].text
        assert "11.9 s over “long cycle”" in sentences[0].text
        assert "Best at what" not in " ".join(one.text for one in sentences)

    def test_no_difference_at_all_is_a_tie(
        self, reference_document: dict[str, Any], evaluated: Evaluate
    ) -> None:
        study = parse_study(reference_document)
        payload = evaluated(study)
        for one in payload["candidates"][1:]:
            one.update(deepcopy({**payload["candidates"][3], **_identity(one)}))
        payload["candidates"][0].update(
            deepcopy({**payload["candidates"][3], **_identity(payload["candidates"][0])})
        )
        first, *others = verdict(payload, study, SI)
        assert "no quicker" in first.text
        assert not any("Best at what" in one.text for one in others)
        assert not any(one.text.startswith("In return") for one in others)


def _identity(one: dict[str, Any]) -> dict[str, Any]:
    return {key: one[key] for key in ("key", "name", "letter", "baseline")}


class TestGainsAndLosses:
    def test_of_the_leader_are_said_with_amounts(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        sentences = verdict(payload, reference, SI)
        gains = about(sentences, "swerve", "good")
        assert "needs 0.14 s less for the sprint and stop" in gains
        assert "The push and tipping when braking are ties with today's A." in gains
        losses = about(sentences, "swerve", "watch")
        assert "In return B needs 0.070 s more for a quarter turn" in losses

    def test_are_said_in_the_units_of_the_page(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        text = " ".join(one.text for one in verdict(payload, reference, INCH))
        assert "10 lbf more against a sideways shove" in text
        assert not re.search(r"\d (kg|N|m/s|mm)\b", text)

    def test_who_passes_but_does_not_lead_is_placed(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        text = about(verdict(payload, reference, SI), "mecanum", "watch")
        assert "Mecanum (D) keeps the limits too and comes 3.3 s behind B" in text

    def test_two_leaders_are_told_apart(self, payload: dict[str, Any], reference: Study) -> None:
        run_of(payload, "mecanum")["time_s"] = 10.3
        texts = [one.text for one in verdict(payload, reference, SI)]
        told = next(text for text in texts if text.startswith("Against B, D"))
        assert "leaves the bus 0.56 V higher at its lowest" in told
        assert "but needs 0.44 s more for the sprint and stop and pushes 200 N less hard." in told

    def test_two_leaders_alike_are_a_tie_in_everything(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        steered, mecanum = payload["candidates"][1], payload["candidates"][3]
        mecanum.update(deepcopy({**steered, **_identity(mecanum)}))
        texts = [one.text for one in verdict(payload, reference, SI)]
        assert "B and D are a tie in everything else too." in texts


class TestFailures:
    def test_name_body_keepout_and_the_way_out(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        text = about(verdict(payload, reference, SI), "swerve-tall", "bad")
        assert "with its rear-left motors and rear-right motors in “gripper sweep”" in text
        assert "the shortest way out is 71 mm forward" in text

    def test_a_missed_clearance_says_what_is_kept_and_asked(
        self, reference_document: dict[str, Any], evaluated: Evaluate
    ) -> None:
        reference_document["robot"]["keepouts"][1]["clearance_m"] = 0.012
        study = parse_study(reference_document)
        payload = evaluated(study)
        payload["candidates"][1]["metrics"].update(fits=False)
        text = about(verdict(payload, study, SI), "swerve", "bad")
        assert "keeps 10 mm from “gripper sweep”, which asks for 12 mm" in text

    def test_a_misfit_of_todays_base_questions_the_drawing(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        text = about(verdict(payload, reference, SI), "tank", "bad")
        assert "with its gearbox left in “lift foot”" in text
        assert "It stands on the robot today, so check the drawing" in text

    @pytest.mark.parametrize(
        ("limit", "over", "words"),
        [
            ("perimeter", 0.15, "has a frame 150 mm longer round than the limit of 3.05 m."),
            ("height", 0.02, "stands 20 mm taller than the limit of 1.20 m."),
        ],
    )
    def test_a_broken_limit_is_said_with_both_figures(
        self, payload: dict[str, Any], reference: Study, limit: str, over: float, words: str
    ) -> None:
        entry = payload["candidates"][3]["limits"][limit]
        entry.update(value=entry["limit"] + over, margin=-over)
        assert words in about(verdict(payload, reference, SI), "mecanum", "bad")


class TestCautions:
    def test_a_brownout_is_named_with_the_threshold(
        self, with_figures: Callable[..., dict[str, Any]], reference: Study
    ) -> None:
        sentences = verdict(with_figures("mecanum", min_bus_voltage_v=6.2), reference, SI)
        text = about(sentences, "mecanum", "bad")
        assert "browns out in the sprint: the bus falls to 6.20 V" in text
        assert "cuts out below 6.80 V" in text

    def test_a_brownout_on_a_named_battery_names_it(
        self, with_figures: Callable[..., dict[str, Any]], reference_document: dict[str, Any]
    ) -> None:
        reference_document["power"].update(
            {"batteries": [{"name": "old one", "kind": "tired", "internal_resistance_ohm": 0.03}],
             "battery": "old one"}
        )  # fmt: skip
        study = parse_study(reference_document)
        sentences = verdict(with_figures("mecanum", min_bus_voltage_v=6.2), study, SI)
        text = about(sentences, "mecanum", "bad")
        assert "browns out in the sprint on “old one”: the bus falls" in text

    def test_a_bus_that_comes_near_it_is_no_brownout(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        text = about(verdict(payload, reference, SI), "tank", "watch")
        assert "Today's A comes close to a brownout" in text

    def test_a_mass_close_to_the_limit_is_to_be_weighed(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        payload["candidates"][3]["limits"]["legal_mass"].update(value=55.2, margin=0.8)
        text = about(verdict(payload, reference, SI), "mecanum", "watch")
        assert "Little is left of the mass limit: D 0.80 kg." in text

    def test_tipping_names_the_pose_and_the_limit(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        texts = [one.text for one in verdict(payload, reference, SI) if one.question == "upright"]
        assert texts == [
            "All of them can drive off, brake or corner harder than they may in the pose “raised” "
            "without tipping over. The limit there is 6.1 m/s² to drive off, 7.5 m/s² to brake "
            "and 6.4 m/s² to corner."
        ]

    def test_a_base_that_cannot_reach_its_tipping_limit_is_not_warned_of(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        for one in payload["candidates"]:
            one["metrics"].update(dict.fromkeys(one["worst_pose"], 30.0))
        assert not [one for one in verdict(payload, reference, SI) if one.question == "upright"]

    def test_a_late_autonomous_routine_is_said(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        run_of(payload, "mecanum", "two-crate autonomous").update(time_s=16.2, margin_s=-1.2)
        text = about(verdict(payload, reference, SI), "mecanum", "bad")
        assert "is 1.2 s too slow for “two-crate autonomous”." in text

    def test_an_unknown_fit_is_said_and_not_taken_for_a_fit(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        run_of(payload, "mecanum")["time_s"] = 8.0
        sentences = verdict(payload, reference, SI)
        assert sentences[0].text.startswith("Mecanum (D) keeps the limits and is the quickest")
        assert "Whether D fits is not known: no bodies are drawn." in about(
            sentences, "mecanum", "watch"
        )

    def test_without_keepouts_nobody_can_say_what_fits(
        self, reference_document: dict[str, Any], evaluated: Evaluate
    ) -> None:
        reference_document["robot"]["keepouts"] = []
        study = parse_study(reference_document)
        payload = evaluated(study)
        for one in payload["candidates"]:
            one["metrics"].update(fits=None)
        texts = [one.text for one in verdict(payload, study, SI) if one.question == "fit"]
        assert texts == [
            "The robot has no keep-outs yet, so nobody can say what fits around the mechanisms."
        ]


class TestMissingFigures:
    @pytest.mark.parametrize("seed", range(25))
    def test_whatever_is_missing_there_is_a_verdict(
        self, payload: dict[str, Any], reference: Study, seed: int
    ) -> None:
        chance = Random(seed)
        for one in payload["candidates"]:
            for metric in one["metrics"]:
                if chance.random() < 0.3:
                    one["metrics"][metric] = None
            for run in one["routes"].values():
                if chance.random() < 0.4:
                    run.update(time_s=None, margin_s=None, cycles=None, reason="It cannot.")
        sentences = verdict(payload, reference, SI)
        assert [one.kind for one in sentences].count("lead") == 1
        for sentence in sentences:
            assert sentence.text.endswith(".")
            assert not re.search(r"\b(None|nan|inf|not given)\b", sentence.text)

    def test_who_passes_without_a_time_is_not_said_to_fail(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        for one in payload["candidates"]:
            one["metrics"]["sprint_stop_time_s"] = None
            run_of(payload, one["key"]).update(time_s=None, cycles=None, reason="It cannot turn.")
        text = lead(payload, reference).text
        assert "Four steered modules (B) and Mecanum (D) pass, but no time is known" in text


class TestProgramsOwnFigures:
    def test_read_like_those_of_the_independent_solution(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        ours = verdict(evaluate_study(reference), reference, SI)
        assert [one.text for one in ours] == [one.text for one in verdict(payload, reference, SI)]

    def test_of_the_example_study_name_the_misfit_and_a_leader_that_fits(self) -> None:
        text = (ROOT / "seed_data" / "example-study.json").read_text(encoding="utf-8")
        study = parse_study(read_document(text))
        payload = evaluate_study(study)
        sentences = verdict(payload, study, SI)
        fits = {one["key"]: one["metrics"]["fits"] for one in payload["candidates"]}
        assert all(fits[key] for key in sentences[0].candidates)
        for key, fit in fits.items():
            assert ("does not fit" in about(sentences, key, "bad")) is (fit is False)


class TestWriting:
    def test_every_sentence_is_a_sentence(self, payload: dict[str, Any], reference: Study) -> None:
        for sentence in verdict(payload, reference, SI):
            assert sentence.text[0].isupper() or sentence.text[0] == "“"
            assert sentence.text.endswith(".")
            assert ".." not in sentence.text
            assert "  " not in sentence.text

    def test_a_candidate_is_named_in_full_once(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        text = " ".join(one.text for one in verdict(payload, reference, SI))
        assert text.count("Four steered modules") == 1
        assert text.count("Mecanum") == 1

    def test_no_figure_has_more_than_three_digits(
        self, payload: dict[str, Any], reference: Study
    ) -> None:
        text = " ".join(one.text for one in verdict(payload, reference, SI))
        digits = [
            re.sub(r"^0*\.?0*", "", figure).replace(".", "")
            for figure in re.findall(r"\d+(?:\.\d+)?", text)
        ]
        assert max(len(figure) for figure in digits) <= 3
