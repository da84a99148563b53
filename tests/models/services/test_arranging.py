"""An arrangement taken over as a new candidate, with the keep-outs moved in the same revision."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from models.errors import NotFoundError
from models.services import Store, StudyState, add_arrangement, create_study, load_study

REFERENCE = Path(__file__).resolve().parents[2] / "reference" / "reference-1.json"
CORNERS: dict[str, dict[str, Any]] = {
    name: {"orientation": "inverted", "inset_m": [0.01, 0.0]}
    for name in ("front_left", "front_right", "rear_left", "rear_right")
}


@pytest.fixture
def steered(store: Store) -> StudyState:
    document = json.loads(REFERENCE.read_text(encoding="utf-8"))
    return create_study(store, document, author="Kim", note="First figures")


def test_the_new_candidate_stands_behind_the_one_it_comes_from(
    store: Store, steered: StudyState
) -> None:
    outcome, key = add_arrangement(
        store, steered.study_id, "swerve", CORNERS, base_revision=1, author="Ines"
    )
    study = outcome.state.study
    keys = [one.key for one in study.candidates]
    assert key == "swerve-arranged"
    assert keys.index(key) == keys.index("swerve") + 1
    corner = study.candidate(key).modules.corners.rear_left  # type: ignore[union-attr]
    assert (corner.orientation, corner.inset_m) == ("inverted", (0.01, 0.0))
    assert study.candidate(key).drive == study.candidate("swerve").drive
    assert outcome.state.revision.note == "Arranged Four steered modules"


def test_a_second_one_gets_a_key_and_name_of_its_own(store: Store, steered: StudyState) -> None:
    keys = [
        add_arrangement(store, steered.study_id, "swerve", CORNERS, base_revision=1, author="Ines")[
            1
        ]
        for _ in range(2)
    ]
    assert keys == ["swerve-arranged", "swerve-arranged-2"]
    names = [one.name for one in load_study(store, steered.study_id).study.candidates]
    assert len(set(names)) == len(names)


def test_keepouts_move_in_the_same_revision(store: Store, steered: StudyState) -> None:
    outcome, _ = add_arrangement(
        store, steered.study_id, "swerve", CORNERS, base_revision=1, author="Ines",
        moves={"lift foot": (0.01, -0.02)},
    )  # fmt: skip
    before, after = steered.study.robot.keepouts[0], outcome.state.study.robot.keepouts[0]
    for (x1, y1), (x2, y2) in zip(before.outline_m, after.outline_m, strict=True):
        assert (x2 - x1, y2 - y1) == pytest.approx((0.01, -0.02))
    assert outcome.state.study.robot.keepouts[1:] == steered.study.robot.keepouts[1:]
    assert outcome.state.revision.number == 2


def test_a_candidate_without_modules_has_no_arrangement(store: Store, steered: StudyState) -> None:
    with pytest.raises(NotFoundError):
        add_arrangement(store, steered.study_id, "tank", CORNERS, base_revision=1, author="Ines")


def test_a_repeated_request_gives_back_the_candidate_made_first(
    store: Store, steered: StudyState
) -> None:
    keys = []
    for _ in range(2):
        _, key = add_arrangement(
            store,
            steered.study_id,
            "swerve",
            CORNERS,
            base_revision=1,
            author="Kim",
            once="twice",
        )
        keys.append(key)
    latest = load_study(store, steered.study_id)
    assert keys[0] == keys[1]
    assert keys[0] in [one.key for one in latest.study.candidates]
    assert latest.revision.number == 2
