"""A match is worked out once for a document and a battery."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from models.errors import NotFoundError
from models.services import Store, StudyState, power, save_sections
from models.services.power import power_of, wiring_of_state


@pytest.fixture
def followed(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """The batteries that matches were really worked out for."""
    names: list[str] = []
    real: Callable[..., dict[str, Any]] = power.match_of

    def count(study: Any, battery: str) -> dict[str, Any]:
        names.append(battery)
        return real(study, battery)

    monkeypatch.setattr(power, "match_of", count)
    yield names


def test_a_match_is_followed_once(store: Store, state: StudyState, followed: list[str]) -> None:
    first = power_of(store, state)
    assert power_of(store, state) is first
    assert power_of(store, state, first["battery"]) is first
    wiring_of_state(store, state)
    assert followed == [first["battery"]]


def test_a_changed_document_is_followed_anew(
    store: Store, state: StudyState, followed: list[str]
) -> None:
    before = power_of(store, state)
    edits = {"power": {**state.document["power"], "internal_resistance_ohm": 0.03}}
    saved = save_sections(store, state.study_id, base_revision=1, edits=edits, author="", note="")
    after = power_of(store, saved.state)
    assert len(followed) == 2
    low = [one["candidates"][0]["sprint"]["min_voltage_v"] for one in (before, after)]
    assert low[1] < low[0]


def test_an_unknown_battery_is_refused(store: Store, state: StudyState) -> None:
    with pytest.raises(NotFoundError, match="None such"):
        power_of(store, state, "None such")
