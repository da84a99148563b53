"""Links open what they name, keep frozen figures as they were, and close for good."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import text

from models.errors import LinkClosedError, NotFoundError, StudyRefusedError
from models.services import (
    Store,
    StudyState,
    create_link,
    evaluating,
    list_links,
    open_link,
    revoke_link,
    save_sections,
    sharing,
    whole_evaluation_of,
)

Edit = Callable[..., dict[str, Any]]


@pytest.fixture
def edit_on(store: Store, state: StudyState, edited: Edit) -> Callable[[], StudyState]:
    def edit() -> StudyState:
        edits = {"candidates/quick": edited("quick", 5.0)}
        return save_sections(
            store, state.study_id, base_revision=1, edits=edits, author="Lee", note=""
        ).state

    return edit


def test_a_frozen_link_shows_figures_as_they_were(
    store: Store,
    state: StudyState,
    edit_on: Callable[[], StudyState],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    before, version = whole_evaluation_of(store, state), evaluating.MODEL_VERSION
    _, token = create_link(store, state.study_id, kind="frozen", label="For mentors")
    edit_on()
    monkeypatch.setattr(evaluating, "MODEL_VERSION", "a later model")
    monkeypatch.setattr(evaluating, "evaluate_study", lambda study: {"model_version": "later"})
    view = open_link(store, token)
    assert view.payload == before
    assert view.model_version == version
    assert view.state.revision == state.revision
    assert view.state.document == state.document
    assert (view.link.kind, view.link.revision, view.link.label) == ("frozen", 1, "For mentors")


def test_a_live_link_follows_the_newest_revision(
    store: Store, state: StudyState, edit_on: Callable[[], StudyState]
) -> None:
    _, token = create_link(store, state.study_id, kind="live")
    assert open_link(store, token).state.revision.number == 1
    latest = edit_on()
    view = open_link(store, token)
    assert view.state.revision == latest.revision
    assert view.payload == whole_evaluation_of(store, latest)
    assert view.link.revision is None


def test_an_earlier_revision_can_be_frozen(
    store: Store, state: StudyState, edit_on: Callable[[], StudyState]
) -> None:
    edit_on()
    _, token = create_link(store, state.study_id, kind="frozen", revision=1)
    assert open_link(store, token).state.revision.number == 1


def test_the_token_is_long_random_and_nowhere_in_the_database(
    store: Store, state: StudyState
) -> None:
    made = [create_link(store, state.study_id, kind="live") for _ in range(20)]
    tokens = {token for _, token in made}
    assert len(tokens) == 20
    assert len(set(sharing.TOKEN_ALPHABET)) ** sharing.TOKEN_LENGTH > 2**128
    with store.reading() as session:
        rows = str(session.execute(text("SELECT * FROM link")).all())
    assert not [token for token in tokens if token in rows]
    assert all(info.last_four == token[-4:] for info, token in made)


@pytest.mark.parametrize("ending", [")", ".", ",\n", "_", "?"])
def test_what_a_chat_adds_to_a_link_does_no_harm(
    store: Store, state: StudyState, ending: str
) -> None:
    _, token = create_link(store, state.study_id, kind="live")
    assert open_link(store, token + ending).state == state


@pytest.mark.parametrize("change", [lambda t: t[:-1], lambda t: t + "x", str.swapcase])
def test_a_token_that_never_was_opens_nothing(
    store: Store, state: StudyState, change: Callable[[str], str]
) -> None:
    _, token = create_link(store, state.study_id, kind="live")
    with pytest.raises(NotFoundError, match="no such link"):
        open_link(store, change(token))


@pytest.mark.parametrize("token", ["", "\0", "\ud800", "é" * 5000])
def test_an_odd_token_is_only_not_found(store: Store, token: str) -> None:
    with pytest.raises(NotFoundError):
        open_link(store, token)


def test_a_revoked_link_stays_closed(store: Store, state: StudyState) -> None:
    info, token = create_link(store, state.study_id, kind="frozen", label="For mentors")
    closed = revoke_link(store, info.id)
    assert revoke_link(store, info.id).revoked_at == closed.revoked_at
    with pytest.raises(LinkClosedError, match="“For mentors” was revoked on"):
        open_link(store, token)


def test_an_expired_link_is_closed(
    store: Store, state: StudyState, monkeypatch: pytest.MonkeyPatch
) -> None:
    ends = datetime.now(UTC) + timedelta(hours=1)
    info, token = create_link(store, state.study_id, kind="live", expires_at=ends)
    assert info.closed_at(ends - timedelta(seconds=1)) is None
    assert open_link(store, token).link.expires_at == ends

    class Later(datetime):
        @classmethod
        def now(cls, tz: Any = None) -> Any:
            return ends + timedelta(seconds=1)

    monkeypatch.setattr(sharing, "datetime", Later)
    with pytest.raises(LinkClosedError, match=f"ending in {token[-4:]} expired on {ends.day} "):
        open_link(store, token)


def test_an_end_in_the_past_is_refused(store: Store, state: StudyState) -> None:
    with pytest.raises(StudyRefusedError, match="ended already"):
        create_link(store, state.study_id, kind="live", expires_at=datetime.now(UTC) - timedelta(1))
    assert list_links(store, state.study_id) == []


def test_links_are_listed_the_newest_first(store: Store, state: StudyState) -> None:
    one, _ = create_link(store, state.study_id, kind="live", label="one", author="Kim")
    two, _ = create_link(store, state.study_id, kind="frozen", label="two", author="Lee")
    closed = revoke_link(store, one.id)
    assert list_links(store, state.study_id) == [two, closed]
    assert closed.closed_at(datetime.now(UTC)) == closed.revoked_at


@pytest.mark.parametrize("link_id", ["nothing", "", "\0", "\ud800"])
def test_a_link_that_is_not_there_is_said(store: Store, link_id: str) -> None:
    with pytest.raises(NotFoundError, match="no link"):
        revoke_link(store, link_id)


def test_no_link_to_what_is_not_there(store: Store, state: StudyState) -> None:
    with pytest.raises(NotFoundError, match="no revision 5"):
        create_link(store, state.study_id, kind="frozen", revision=5)
    with pytest.raises(NotFoundError, match="no study"):
        create_link(store, "nobody", kind="live")
