"""A design of the explorer becomes a candidate, once, whole and never the baseline."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from models.errors import NotFoundError, StudyRefusedError
from models.seed import example_document
from models.services import Store, add_geared, create_study, load_study, open_store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(f"sqlite:///{(tmp_path / 'kept.sqlite3').as_posix()}")
    yield opened
    opened.close()


@pytest.fixture
def study_id(store: Store) -> str:
    return create_study(store, example_document(), author="Ines", note="First").study_id


def take(store: Store, study_id: str, key: str, changes: dict[str, Any], **rest: Any) -> str:
    rest = {"name": "6.0", "base_revision": 1, "author": "Ravi", **rest}
    return add_geared(store, study_id, key, changes, **rest)[1]


def test_what_differs_is_taken_over_and_the_rest_kept(store: Store, study_id: str) -> None:
    changes = {"ratio": "50:14, 40:19", "diameter": 0.1, "stator": None, "supply": 40.0}
    key = take(store, study_id, "tank", changes)
    study = load_study(store, study_id).study
    made, original = study.candidate(key), study.candidate("tank")
    assert key == "tank-geared"
    assert made.name == f"{original.name}, geared 6.0"
    assert float(made.drive.ratio) == pytest.approx(50 / 14 * 40 / 19)
    assert float(made.wheels.diameter_m) == 0.1
    assert made.drive.stator_limit_a is None
    assert made.drive.supply_limit_a == 40.0
    assert made.parts == original.parts and made.wheels.grip == original.wheels.grip
    assert original.baseline and not made.baseline
    keys = [candidate.key for candidate in study.candidates]
    assert keys.index(key) == keys.index("tank") + 1


def test_a_range_that_was_typed_stays_where_nothing_changes(store: Store, study_id: str) -> None:
    key = take(store, study_id, "steered", {"supply": 38.0})
    study = load_study(store, study_id).study
    made, original = study.candidate(key), study.candidate("steered")
    assert made.wheels.diameter_m.low == original.wheels.diameter_m.low
    assert made.drive.ratio.typed == original.drive.ratio.typed


def test_one_that_keeps_another_s_base_becomes_whole(store: Store, study_id: str) -> None:
    study = load_study(store, study_id).study
    follower = next(one for one in study.candidates if one.same_base_as)
    key = take(store, study_id, follower.key, {"ratio": 7.0})
    study = load_study(store, study_id).study
    made = study.candidate(key)
    assert made.same_base_as is None
    assert made.drive.ratio == 7.0
    assert made.wheels == follower.wheels
    assert study.candidate(follower.key).drive.ratio == follower.drive.ratio


def test_sent_again_it_is_the_same_candidate(store: Store, study_id: str) -> None:
    keys = [take(store, study_id, "tank", {"ratio": 7.0}, once="a1") for _ in range(2)]
    assert keys == ["tank-geared", "tank-geared"]
    assert load_study(store, study_id).revision.number == 2


def test_a_second_one_gets_a_key_and_a_name_of_its_own(store: Store, study_id: str) -> None:
    first = take(store, study_id, "tank", {"ratio": 7.0})
    second = take(store, study_id, first, {"ratio": 8.0}, base_revision=2)
    study = load_study(store, study_id).study
    assert second == "tank-geared-2"
    assert study.candidate(second).name == f"{study.candidate('tank').name}, geared 6.0 (2)"


def test_a_design_that_no_study_takes_is_refused(store: Store, study_id: str) -> None:
    with pytest.raises(StudyRefusedError):
        take(store, study_id, "tank", {"ratio": 0.5})
    with pytest.raises(NotFoundError):
        take(store, study_id, "none-such", {"ratio": 7.0})
    assert load_study(store, study_id).revision.number == 1
