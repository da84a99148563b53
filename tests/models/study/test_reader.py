"""Good study files are taken as they are."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from models.errors import NotFoundError, StudyRefusedError
from models.seed import example_document
from models.study import parse_study, read_document, remarks_on

REFERENCE = Path(__file__).parents[2] / "reference" / "reference-1.json"


def test_the_reference_study_is_read() -> None:
    study = parse_study(read_document(REFERENCE.read_bytes()))
    assert [one.key for one in study.candidates] == ["tank", "swerve", "swerve-tall", "mecanum"]
    assert study.baseline.key == "tank"
    assert study.candidate("swerve").drive.supply_limit_a == 50
    assert study.candidate("tank").drive.stator_limit_a is None


def test_a_byte_order_mark_is_passed_over() -> None:
    text = json.dumps(example_document())
    assert read_document(b"\xef\xbb\xbf" + text.encode())["version"] == 1
    assert read_document("\ufeff" + text)["version"] == 1


def test_brackets_in_a_text_are_not_nesting(document: dict[str, Any]) -> None:
    document["notes"] = '["' * 500
    assert parse_study(read_document(json.dumps(document))).notes == document["notes"]


def test_what_is_left_out_has_its_stated_default(document: dict[str, Any]) -> None:
    study = parse_study(document)
    candidate = study.candidates[0]
    assert (study.power.main_wiring_ohm, candidate.wheels.centre_drop_m) == (0, 0)
    assert (candidate.wheels.side_grip, candidate.modules, study.schedule) == (None, None, None)


def test_null_stands_for_left_out(document: dict[str, Any]) -> None:
    document["candidates"][0]["modules"] = None
    document["candidates"][0]["drive"]["stator_limit_a"] = None
    document["schedule"] = None
    assert parse_study(document).candidates[0].drive.stator_limit_a is None


def test_no_pose_means_as_drawn(document: dict[str, Any]) -> None:
    document["robot"]["poses"] = []
    assert parse_study(document).robot.poses[0].offsets == {}


def test_an_outline_may_repeat_its_first_corner(document: dict[str, Any]) -> None:
    corners = [[0, 0], ["4 in", 0], [0.1, 0.1], [0, 0]]
    document["candidates"][0]["bodies"] = [
        {"name": "gearbox", "outline_m": corners, "bottom_m": 0, "top_m": "100 mm"}
    ]
    body = parse_study(document).candidates[0].bodies[0]
    assert len(body.outline_m) == 3
    assert body.outline_m[1] == pytest.approx((0.1016, 0))


def test_a_material_of_the_studys_own_may_be_named(document: dict[str, Any]) -> None:
    document["materials"] = {"balsa": {"name": "Balsa", "density_kgm3": "0.16 g/cm³"}}
    part = document["robot"]["parts"][0]
    del part["mass_kg"]
    part["plate"] = {"material": "balsa", "width_m": 0.1, "length_m": 0.2, "thickness_m": 0.01}
    assert parse_study(document).densities == {"balsa": pytest.approx(160)}


def test_the_first_candidate_stands_in_for_a_missing_baseline(document: dict[str, Any]) -> None:
    document["candidates"][0]["baseline"] = False
    study = parse_study(document)
    assert study.baseline.key == "today"
    assert any("No candidate is marked" in remark.what for remark in remarks_on(study))


def test_a_study_cannot_be_changed_afterwards(document: dict[str, Any]) -> None:
    study = parse_study(document)
    with pytest.raises(ValueError, match="frozen"):
        study.name = "other"  # type: ignore[misc]


def test_an_unknown_candidate_is_not_found(document: dict[str, Any]) -> None:
    with pytest.raises(NotFoundError, match="“gone”"):
        parse_study(document).candidate("gone")


def test_the_document_is_left_as_it_was(document: dict[str, Any]) -> None:
    before = copy.deepcopy(document)
    parse_study(document)
    assert document == before


@pytest.mark.parametrize(
    ("hands", "accepted"), [(1, False), (2, True)], ids=["one pair of hands", "two"]
)
def test_two_crews_may_wait_for_each_other_only_with_a_free_hand(
    document: dict[str, Any], hands: int, accepted: bool
) -> None:
    document["schedule"] = {
        "start": "2027-02-01",
        "ready_by": "2027-03-01",
        "meetings": [{"weekday": "tue", "start": "18:00", "hours": 3}],
        "crews": {"shop": hands, "code": hands},
    }
    document["candidates"][0]["tasks"] = [
        {"key": key, "name": key, "crew": crew, "hours": [1, 2, 3], "after": after}
        for key, crew, after in (
            ("x", "shop", ["q"]),
            ("y", "shop", []),
            ("p", "code", ["y"]),
            ("q", "code", []),
        )
    ]
    if accepted:
        assert parse_study(document).schedule is not None
    else:
        with pytest.raises(StudyRefusedError, match="wait for each other"):
            parse_study(document)


def test_a_large_crew_may_not_list_a_task_before_what_it_follows(
    document: dict[str, Any],
) -> None:
    document["candidates"][0]["tasks"] = [
        {"key": "mount", "name": "Mount", "crew": "shop", "hours": [1, 2, 3], "after": ["cut"]},
        {"key": "cut", "name": "Cut", "crew": "shop", "hours": [1, 2, 3]},
    ]
    with pytest.raises(StudyRefusedError, match=r"mount|cut"):
        parse_study(document)


def _places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Return the path of every entry below a JSON value."""
    entries = value.items() if isinstance(value, dict) else enumerate(value)
    found = []
    for step, entry in entries:
        found.append((*path, step))
        if isinstance(entry, dict | list):
            found += _places(entry, (*path, step))
    return found


PLACES = _places(example_document())
ODD_VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=12),
    st.sampled_from(["4 in", "50:14", "6,75", -1, 0, 1e-9, 1e30, 10**400, "\ud800", [], {}]),
    st.lists(st.floats(-10, 10), max_size=4),
    st.dictionaries(st.sampled_from(["value", "low", "high", "name"]), st.floats(), max_size=3),
)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(place=st.sampled_from(PLACES), value=ODD_VALUES)
def test_any_value_anywhere_is_taken_or_refused(place: tuple[Any, ...], value: Any) -> None:
    document = example_document()
    holder: Any = document
    for step in place[:-1]:
        holder = holder[step]
    holder[place[-1]] = value
    try:
        study = parse_study(document)
    except StudyRefusedError as refusal:
        assert all(fault.message for fault in refusal.faults)
        return
    assert all(remark.what for remark in remarks_on(study))


@given(content=st.binary(max_size=200))
def test_any_bytes_are_taken_or_refused(content: bytes) -> None:
    try:
        assert isinstance(read_document(content), dict)
    except StudyRefusedError as refusal:
        assert refusal.faults
