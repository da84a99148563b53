"""What two people changed comes together by section, and nothing is lost in silence."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.study.canonical import same
from models.study.merging import merge_documents
from models.study.sections import ORDER, apply_edits, split_sections

Edit = Callable[..., dict[str, Any]]


def keys(document: dict[str, Any]) -> list[str]:
    return [one["key"] for one in document["candidates"]]


def test_different_sections_merge(document: dict[str, Any], edited: Edit) -> None:
    mine = apply_edits(document, {"candidates/quick": edited("quick", 5.9)})
    theirs = apply_edits(document, {"notes": "Checked."})
    merge = merge_documents(document, mine, theirs)
    assert merge.conflicts == []
    assert merge.taken_over == ("notes",)
    assert merge.document["notes"] == "Checked."
    assert merge.document["candidates"][1]["drive"]["ratio"] == 5.9


def test_two_candidates_are_two_sections(document: dict[str, Any], edited: Edit) -> None:
    mine = apply_edits(document, {"candidates/quick": edited("quick", 5.9)})
    theirs = apply_edits(document, {"candidates/today": edited("today", 10)})
    merged = merge_documents(document, mine, theirs).document
    assert [one["drive"]["ratio"] for one in merged["candidates"]] == [10, 5.9]


def test_the_same_change_twice_is_one(document: dict[str, Any]) -> None:
    mine = apply_edits(document, {"name": "Same"})
    merge = merge_documents(document, mine, copy.deepcopy(mine))
    assert merge.conflicts == []
    assert merge.document["name"] == "Same"


def test_a_whole_number_is_no_change(document: dict[str, Any], edited: Edit) -> None:
    mine = apply_edits(document, {"candidates/quick": edited("quick", 6.75), "notes": "Mine."})
    power = {**document["power"], "accessory_current_a": 8}
    theirs = apply_edits(document, {"candidates/quick": edited("quick", 5.9), "power": power})
    merge = merge_documents(document, mine, theirs)
    assert merge.conflicts == []
    assert merge.document["candidates"][1]["drive"]["ratio"] == 5.9


def test_the_same_section_otherwise_is_a_conflict(document: dict[str, Any], edited: Edit) -> None:
    mine = apply_edits(document, {"candidates/quick": edited("quick", 5.9)})
    theirs = apply_edits(document, {"candidates/quick": edited("quick", 6.1)})
    merge = merge_documents(document, mine, theirs)
    (conflict,) = merge.conflicts
    assert conflict.section == "candidates/quick"
    assert conflict.base["drive"]["ratio"] == 6.75
    assert conflict.mine["drive"]["ratio"] == 5.9
    assert conflict.theirs["drive"]["ratio"] == 6.1
    assert conflict.words == [
        "Yours: Quicker gearing, ratio: 6.75 → 5.90",
        "Theirs: Quicker gearing, ratio: 6.75 → 6.10",
    ]
    assert merge.document["candidates"][1]["drive"]["ratio"] == 6.1


@pytest.mark.parametrize("i_remove", [True, False])
def test_removing_what_the_other_edits_is_a_conflict(
    document: dict[str, Any], edited: Edit, i_remove: bool
) -> None:
    removal = apply_edits(document, {"candidates/quick": None})
    edit = apply_edits(document, {"candidates/quick": edited("quick", 5.9)})
    mine, theirs = (removal, edit) if i_remove else (edit, removal)
    (conflict,) = merge_documents(document, mine, theirs).conflicts
    assert conflict.section == "candidates/quick"
    assert (conflict.mine is None) is i_remove
    assert (conflict.theirs is None) is not i_remove
    assert any("Candidate removed: Quicker gearing" in words for words in conflict.words)


def test_removing_what_the_other_left_alone_removes_it(document: dict[str, Any]) -> None:
    mine = apply_edits(document, {"candidates/quick": None})
    theirs = apply_edits(document, {"notes": "Checked."})
    for one, other in ((mine, theirs), (theirs, mine)):
        merge = merge_documents(document, one, other)
        assert merge.conflicts == []
        assert keys(merge.document) == ["today"]


def test_one_key_added_twice_is_a_conflict(document: dict[str, Any], edited: Edit) -> None:
    mine = apply_edits(document, {"candidates/new-one": {**edited("quick", 5), "key": "new-one"}})
    theirs = apply_edits(document, {"candidates/new-one": {**edited("quick", 6), "key": "new-one"}})
    (conflict,) = merge_documents(document, mine, theirs).conflicts
    assert conflict.base is None
    assert conflict.section == "candidates/new-one"


def test_both_add_and_both_stay(document: dict[str, Any], edited: Edit) -> None:
    mine = apply_edits(
        document, {"candidates/a": {**edited("quick"), "key": "a"}, ORDER: ["today", "a", "quick"]}
    )
    theirs = apply_edits(document, {"candidates/b": {**edited("quick"), "key": "b"}})
    merge = merge_documents(document, mine, theirs)
    assert merge.conflicts == []
    assert keys(merge.document) == ["today", "a", "quick", "b"]


def test_one_reorders_while_the_other_adds(document: dict[str, Any], edited: Edit) -> None:
    mine = apply_edits(document, {ORDER: ["quick", "today"]})
    theirs = apply_edits(document, {"candidates/b": {**edited("quick"), "key": "b"}})
    for one, other in ((mine, theirs), (theirs, mine)):
        merge = merge_documents(document, one, other)
        assert merge.conflicts == []
        assert keys(merge.document) == ["quick", "b", "today"]


def test_two_new_orders_are_a_conflict(document: dict[str, Any], edited: Edit) -> None:
    base = apply_edits(document, {"candidates/third": {**edited("quick"), "key": "third"}})
    mine = apply_edits(base, {ORDER: ["third", "today", "quick"]})
    theirs = apply_edits(base, {ORDER: ["quick", "today", "third"]})
    merge = merge_documents(base, mine, theirs)
    assert [conflict.section for conflict in merge.conflicts] == [ORDER]
    assert keys(merge.document) == ["quick", "today", "third"]


EDITS = st.fixed_dictionaries(
    {},
    optional={
        "notes": st.sampled_from(["a", "b", None]),
        "name": st.sampled_from(["n", "m"]),
        "robot.parts": st.lists(st.integers(0, 2), max_size=2),
        "candidates/x": st.none() | st.fixed_dictionaries({"drive": st.integers(0, 2)}),
        "candidates/y": st.none() | st.fixed_dictionaries({"drive": st.integers(0, 2)}),
        "candidates/z": st.none() | st.fixed_dictionaries({"drive": st.integers(0, 2)}),
        ORDER: st.permutations(["x", "y", "z"]),
    },
)
BASE = {
    "name": "base",
    "notes": "",
    "robot": {"parts": []},
    "candidates": [{"key": "x", "drive": 0}, {"key": "y", "drive": 0}],
}


@given(EDITS, EDITS)
def test_every_change_is_in_the_merge_or_in_a_conflict(
    my_edits: dict[str, Any], their_edits: dict[str, Any]
) -> None:
    mine, theirs = apply_edits(BASE, my_edits), apply_edits(BASE, their_edits)
    merge = merge_documents(BASE, mine, theirs)
    base, merged = split_sections(BASE), split_sections(merge.document)
    in_conflict = {conflict.section for conflict in merge.conflicts}
    for side in (split_sections(mine), split_sections(theirs)):
        for section in {*base, *side} - in_conflict - {ORDER}:
            if not same(side.get(section), base.get(section)):
                assert same(merged.get(section), side.get(section))


@given(EDITS, EDITS)
def test_who_saves_first_makes_no_difference(
    my_edits: dict[str, Any], their_edits: dict[str, Any]
) -> None:
    mine, theirs = apply_edits(BASE, my_edits), apply_edits(BASE, their_edits)
    one, other = merge_documents(BASE, mine, theirs), merge_documents(BASE, theirs, mine)
    assert {c.section for c in one.conflicts} == {c.section for c in other.conflicts}
    if not one.conflicts:
        first, second = split_sections(one.document), split_sections(other.document)
        assert {k: v for k, v in first.items() if k != ORDER} == {
            k: v for k, v in second.items() if k != ORDER
        }
