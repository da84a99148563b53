"""What the explorer says: losses and gains, ties, what can be bought, limits."""

from __future__ import annotations

from typing import Any

import pytest

from models.seed import example_document
from models.study.reader import parse_study
from models.study.schema import Study
from models.trade.exploring import ExploreSettings, bench_of, design_of, explore
from models.trade.exploring_words import (
    band_text,
    exchange_words,
    lead_words,
    limit_words,
    offer_words,
    tread_words,
)
from models.trade.limit_finder import LimitsWanted, find_limits
from models.units import UnitSystem

SI = UnitSystem.SI


@pytest.fixture(scope="module")
def example() -> Study:
    return parse_study(example_document())


@pytest.fixture(scope="module")
def found(example: Study) -> dict[str, Any]:
    return explore(example, example.candidate("tank"), ExploreSettings(share=0.02))


def figures(time: float | None, volts: float | None, push: float) -> dict[str, Any]:
    return {"sprint_stop_time_s": time, "min_bus_voltage_v": volts, "push_force_n": push}


@pytest.mark.parametrize(
    ("picked", "words"),
    [
        (figures(1.92, 9.0, 510.0), "You lose 0.02 s, a tie, and gain 2.1 V. The push stays the"),
        (figures(2.30, 6.9, 510.0), "You lose 0.40 s. The bus voltage and push stay the same."),
        (figures(1.70, 6.4, 410.0), "You lose 0.5 V and 100 N of push and gain 0.20 s."),
        (figures(1.90, 6.9, 610.0), "You gain 100 N of push. The time and bus voltage stay the"),
        (figures(1.901, 6.92, 510.2), "Nothing that could be measured changes."),
        (figures(None, None, 10.0), "The picked design does not get going."),
    ],
)
def test_losses_come_before_gains(picked: dict[str, Any], words: str) -> None:
    assert exchange_words(figures(1.90, 6.9, 510.0), picked, SI).startswith(words)


def test_from_one_that_does_not_go() -> None:
    words = exchange_words(figures(None, None, 1.0), figures(2.0, 8.0, 300.0), SI)
    assert words == "The picked design gets going, the chosen one does not."


@pytest.mark.parametrize("low", [5.401, 5.4099, 5.41])
@pytest.mark.parametrize("high", [7.19, 7.1999, 12.349])
def test_a_band_is_rounded_inwards(low: float, high: float) -> None:
    first, last = (float(part) for part in band_text(low, high).split(" to "))
    assert low - 1e-9 <= first <= last <= high + 1e-9
    assert first - low < 0.011 and high - last < 0.011


def test_a_band_too_narrow_to_round_is_said_as_it_is() -> None:
    assert band_text(5.4012, 5.4056) == "5.401 to 5.406"


def test_the_answer_names_the_quickest_the_tie_and_where_it_stands(found: dict[str, Any]) -> None:
    sentences = lead_words(found, SI)
    assert sentences[0] == "7.58:1 is quickest over 6.00 m, start to stop: 2.12 s."
    assert sentences[1].startswith("Anything from ")
    assert sentences[1].endswith("is a tie with it, within 2 %.")
    assert sentences[2] == "8.77:1 lies in the tie."


def test_outside_the_tie_the_cost_is_said(found: dict[str, Any]) -> None:
    best = found["best"]
    slow = {
        **found["chosen"],
        "ratio": 14.0,
        "sprint_stop_time_s": best["sprint_stop_time_s"] + 0.4,
    }
    assert lead_words({**found, "chosen": slow}, SI)[2] == "14.0:1 lies outside: it costs 0.40 s."
    stuck = {**slow, "sprint_stop_time_s": None}
    assert "does not get going" in lead_words({**found, "chosen": stuck}, SI)[2]
    assert "No ratio gets it going" in lead_words({**found, "best": None}, SI)[0]


def test_several_stretches_are_listed(found: dict[str, Any]) -> None:
    band = {**found["tie_band"], "intervals": [[4.0, 5.0], [7.0, 8.0]]}
    words = lead_words({**found, "tie_band": band}, SI)[1]
    assert words.startswith("Anything from 4.00 to 5.00 and 7.00 to 8.00 is a tie")


def offers(*inside: bool, best: int = 0) -> dict[str, Any]:
    return {
        "buyable": [
            {"ratio": 5.0 + index, "in_band": tied, "best": index == best}
            for index, tied in enumerate(inside)
        ]
    }


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (offers(), "The study names no ratios on offer."),
        (offers(True), "The one ratio on offer lies in the tie; 5.00:1"),
        (offers(True, True, best=1), "Both ratios on offer lie in the tie; 6.00:1 is the quickest"),
        (offers(True, True, True), "All 3 ratios on offer lie in the tie"),
        (offers(True, False, False), "Of 3 ratios on offer only 5.00:1 lies in the tie."),
        (offers(False, True, True, best=1), "Of 3 ratios on offer, 6.00 and 7.00 lie in the tie"),
        (offers(False, False), "No ratio on offer lies in the tie; 5.00:1 comes nearest."),
        (offers(False, best=9), "No ratio on offer gets it going."),
    ],
)
def test_what_can_be_bought(given: dict[str, Any], words: str) -> None:
    assert offer_words(given).startswith(words)


def said(example: Study, key: str, margin: float, battery: str | None = None) -> str:
    candidate = example.candidate(key)
    bench = bench_of(example, candidate, battery)
    limits = find_limits(bench, design_of(candidate), LimitsWanted(margin))
    return " ".join(words for _, words in limit_words(limits, SI)) + " " + tread_words(limits, SI)


def test_where_no_limit_is_needed_it_says_so(example: Study) -> None:
    words = said(example, "mecanum", 0.5)
    assert "No limit is needed for 7.5 V: without any the bus stays at 9.6 V." in words


def test_where_nothing_reaches_it_says_so_with_the_closest(example: Study) -> None:
    words = said(example, "steered", 6.0)
    assert "No limits keep 13.0 V: even at rest the bus stands at" in words
    assert "the closest, a supply limit of" in words


def test_limits_with_what_they_cost_and_the_other_ways(example: Study) -> None:
    words = said(example, "tank", 1.0)
    assert "Quickest that keeps 8.0 V: a supply limit of 48 A." in words
    assert "Keeping its stator limit it takes" in words
    assert "Without any supply limit it takes a stator limit of" in words


def test_a_brownout_is_called_one(example: Study) -> None:
    assert "a brownout" in said(example, "steered-fast", 0.5)


def test_the_tread_is_protected_below_the_slip_current(example: Study) -> None:
    assert "80 A lies below that and protects the tread" in said(example, "steered", 0.5)
    weak = said(example, "steered-fast", 1.0, "practice battery")
    assert "the tread needs no limit" in weak or "keeps them from spinning" in weak
