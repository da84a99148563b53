"""Candidates that keep another's base: read as whole, stored as typed, following what they keep."""

from __future__ import annotations

from typing import Any

import pytest

from models.errors import StudyRefusedError
from models.seed import example_document
from models.study import parse_study
from models.study.changes import describe_changes
from models.study.merging import merge_documents
from models.study.reader import with_candidates
from models.study.sections import apply_edits
from models.study.shared_base import TAKEN_OVER, with_own_base

KEEPER = {"key": "tank-mast", "name": "Keep it", "same_base_as": "tank"}


def _tank(ratio: float) -> dict[str, Any]:
    tank = example_document()["candidates"][0]
    tank["drive"]["ratio"] = ratio
    return tank


def test_a_kept_base_is_read_as_the_other_s() -> None:
    study = parse_study(example_document())
    keeper, tank = study.candidate("tank-mast"), study.candidate("tank")
    for name in TAKEN_OVER:
        assert getattr(keeper, name) == getattr(tank, name)
    assert keeper.same_base_as == "tank"
    assert keeper.tasks != tank.tasks


def test_the_document_keeps_what_was_typed() -> None:
    document = example_document()
    parse_study(document)
    assert document == example_document()
    assert set(document["candidates"][5]) == {
        "key", "name", "notes", "same_base_as", "tasks", "purchases",
    }  # fmt: skip


def test_faults_of_a_base_are_told_once() -> None:
    document = example_document()
    document["candidates"][0]["drive"]["motor_count"] = 5
    document["candidates"][0]["wheels"]["count"] = 7
    with pytest.raises(StudyRefusedError) as refusal:
        parse_study(document)
    assert [fault.place for fault in refusal.value.faults] == [
        "candidates[0].wheels.count",
        "candidates[0].drive.motor_count",
    ]


def test_faults_of_a_base_in_the_schema_are_told_once() -> None:
    document = example_document()
    document["candidates"][0]["drive"]["ratio"] = "fast"
    with pytest.raises(StudyRefusedError) as refusal:
        parse_study(document)
    assert [fault.place for fault in refusal.value.faults] == ["candidates[0].drive.ratio"]


def test_an_unknown_base_does_not_hide_other_faults() -> None:
    document = example_document()
    document["candidates"][5]["same_base_as"] = "hover"
    document["candidates"][1]["drive"]["ratio"] = "fast"
    with pytest.raises(StudyRefusedError) as refusal:
        parse_study(document)
    places = [fault.place for fault in refusal.value.faults]
    assert places == ["candidates[5].same_base_as", "candidates[1].drive.ratio"]


def test_only_followers_and_no_base_is_refused() -> None:
    document = example_document()
    document["candidates"] = [
        {"key": "a", "name": "A", "same_base_as": "b"},
        {"key": "b", "name": "B", "same_base_as": "a"},
    ]
    with pytest.raises(StudyRefusedError) as refusal:
        parse_study(document)
    assert {fault.place for fault in refusal.value.faults} == {
        "candidates[0].same_base_as",
        "candidates[1].same_base_as",
    }


@pytest.mark.parametrize(
    "changed",
    [
        {"tank": _tank(7.5)},
        {"tank-mast": KEEPER},
        {"tank": _tank(7.5), "tank-mast": KEEPER},
        {"tank-mast": {**KEEPER, "same_base_as": "mecanum"}},
        {"tank-mast": {**_tank(6.5), "key": "tank-mast", "baseline": False}},
    ],
    ids=["the base", "the keeper", "both", "another base", "a base of its own"],
)
def test_reading_some_candidates_anew_is_reading_the_whole(changed: dict[str, Any]) -> None:
    document = example_document()
    study = with_candidates(parse_study(document), changed)
    whole = parse_study(
        apply_edits(document, {f"candidates/{key}": one for key, one in changed.items()})
    )
    assert study == whole


def test_reading_anew_refuses_what_the_whole_refuses() -> None:
    study = parse_study(example_document())
    with pytest.raises(StudyRefusedError, match="no candidate with the key"):
        with_candidates(study, {"tank-mast": {**KEEPER, "same_base_as": "hover"}})
    with pytest.raises(StudyRefusedError, match="itself keeps the base"):
        with_candidates(study, {"tank": {**KEEPER, "key": "tank", "same_base_as": "tank-mast"}})


def test_a_variant_gets_a_base_of_its_own() -> None:
    document = example_document()
    own = with_own_base(document["candidates"], "tank-mast")
    assert own is not None and "same_base_as" not in own
    assert own["drive"] == document["candidates"][0]["drive"]
    assert own["tasks"] == document["candidates"][5]["tasks"]
    document["candidates"].append({**own, "key": "variant", "name": "Variant"})
    assert parse_study(document).candidate("variant").same_base_as is None
    assert with_own_base(document["candidates"], "nobody") is None


def test_field_and_batteries_merge_and_are_told() -> None:
    base, mine, theirs = example_document(), example_document(), example_document()
    mine["field"]["length_m"] = 15
    theirs["power"]["battery"] = "tired battery"
    merged = merge_documents(base, mine, theirs)
    assert merged.conflicts == []
    assert merged.document["field"]["length_m"] == 15
    assert merged.document["power"]["battery"] == "tired battery"
    assert [change.words for change in describe_changes(base, merged.document)] == [
        "Power, battery in use: not given → tired battery",
        "Field, length of the field: 14.0 m → 15.0 m",
    ]


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (lambda one: one["power"]["day"].update(matches=12),
         "Power, day of matches, matches: 10 → 12"),
        (lambda one: one["yardsticks"]["opponent"].update(mass_kg=60),
         "Yardsticks, opponent, mass: 64.0 kg (55.0 kg to 67.0 kg, assumed) → 60.0 kg"),
        (lambda one: one["power"]["branch_breaker_curve"].__setitem__(slice(1, None), [[2, 13]]),
         "Power, branch breakers' curve: 1.35, 90; 1.50, 40; 2, 13; 3, 4.20; 4, 2; 6, 0.700 → "
         "1.35, 90; 2, 13"),
        (lambda one: one["power"]["loads"].pop(0), "Power, load mast winch removed"),
        (lambda one: one["routes"][1]["legs"][1].update({"pass": False}),
         "Route quay to beacon and back, leg 2, drives through: yes → no"),
        (lambda one: one["schedule"]["gates"][0].update(on="2027-02-14"),
         "Schedule, gate go or stay, on: 2027-02-13 → 2027-02-14"),
        (lambda one: one["module_types"]["module-100"].update(ratios_on_offer=[6, 7]),
         "Module type 100 mm wheel module, ratios on offer changed"),
    ],
)  # fmt: skip
def test_changes_of_the_newer_fields_in_words(edit: Any, words: str) -> None:
    after = example_document()
    edit(after)
    told = [change.words for change in describe_changes(example_document(), after)]
    assert told == [words]
