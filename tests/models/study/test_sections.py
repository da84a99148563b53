"""Documents are cut into sections and come together again without a loss."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.errors import StudyRefusedError
from models.study.canonical import canonical_text, document_hash, same
from models.study.schema import Robot, Study
from models.study.sections import FIXED_SECTIONS, ORDER, apply_edits, join_sections, split_sections

VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)
KEYS = st.text("abcdefgh-", min_size=1, max_size=6)
DOCUMENTS = st.fixed_dictionaries(
    {
        "candidates": st.lists(KEYS, unique=True, max_size=4).flatmap(
            lambda keys: st.tuples(
                *(st.fixed_dictionaries({"key": st.just(key), "drive": VALUES}) for key in keys)
            ).map(list)
        )
    },
    optional={
        "name": st.text(),
        "power": VALUES,
        "robot": st.dictionaries(st.sampled_from(["parts", "keepouts", "poses"]), VALUES),
    },
)


@given(DOCUMENTS)
def test_a_document_comes_together_as_it_was(document: dict[str, Any]) -> None:
    assert same(join_sections(split_sections(document)), document)


def test_sections_that_can_be_edited_are_those_of_the_schema() -> None:
    names = set(Study.model_fields) - {"format", "version", "robot", "candidates"}
    robot = {f"robot.{name}" for name in Robot.model_fields}
    assert names | robot | {ORDER} == FIXED_SECTIONS


def test_candidates_are_sections_by_key(document: dict[str, Any]) -> None:
    sections = split_sections(document)
    assert sections["candidates/quick"]["name"] == "Quicker gearing"
    assert sections[ORDER] == ["today", "quick"]


def test_an_edit_replaces_its_section_only(document: dict[str, Any]) -> None:
    before = copy.deepcopy(document)
    after = apply_edits(document, {"name": "Other", "robot.poses": []})
    assert after["name"] == "Other"
    assert after["robot"] == {**before["robot"], "poses": []}
    assert after["candidates"] == before["candidates"]
    assert document == before


def test_an_edit_of_none_takes_the_candidate_out(document: dict[str, Any]) -> None:
    after = apply_edits(document, {"candidates/quick": None})
    assert [one["key"] for one in after["candidates"]] == ["today"]


def test_an_order_is_kept(document: dict[str, Any]) -> None:
    after = apply_edits(document, {ORDER: ["quick", "today"]})
    assert [one["key"] for one in after["candidates"]] == ["quick", "today"]


def test_what_comes_together_is_a_copy(document: dict[str, Any]) -> None:
    after = apply_edits(document, {"name": "Other"})
    after["candidates"][0]["drive"]["ratio"] = 1.0
    assert document["candidates"][0]["drive"]["ratio"] == 9.5


@pytest.mark.parametrize(
    ("edits", "place"),
    [
        ({"colour": "red"}, "colour"),
        ({"robot": {}}, "robot"),
        ({"format": "x"}, "format"),
        ({"candidates/": {}}, "candidates/"),
        ({"candidates/a": "text"}, "candidates/a"),
        ({"candidates/a": {"key": "b"}}, "candidates/a.key"),
        ({ORDER: "today"}, ORDER),
        ({ORDER: [1]}, ORDER),
    ],
)
def test_an_edit_that_no_study_has_is_refused(
    document: dict[str, Any], edits: dict[str, Any], place: str
) -> None:
    with pytest.raises(StudyRefusedError) as caught:
        apply_edits(document, edits)
    assert [fault.place for fault in caught.value.faults] == [place]


@pytest.mark.parametrize("key", ["order", "", None, 3, "today"])
def test_a_candidate_without_a_key_of_its_own_is_refused(
    document: dict[str, Any], key: object
) -> None:
    document["candidates"][1]["key"] = key
    with pytest.raises(StudyRefusedError) as caught:
        split_sections(document)
    assert caught.value.faults[0].place == "candidates[1].key"


@given(VALUES)
def test_equal_content_has_one_hash(value: object) -> None:
    assert document_hash({"a": 1, "b": value}) == document_hash({"b": value, "a": 1})


@pytest.mark.parametrize("value", [float("nan"), float("inf"), object(), {1: {2j}}])
def test_what_json_cannot_say_is_refused(value: object) -> None:
    with pytest.raises(StudyRefusedError, match="cannot be written"):
        canonical_text({"power": value})


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [
        (6, 6.0, True),
        (1, True, False),
        (0, False, False),
        ("6", 6, False),
        (None, 0, False),
        ({"a": None}, {}, False),
        ([1, 2], [2, 1], False),
        ({"a": [1.0]}, {"a": [1]}, True),
    ],
)
def test_sameness_is_of_meaning(one: object, other: object, alike: bool) -> None:
    assert same(one, other) is alike
    assert same(other, one) is alike
