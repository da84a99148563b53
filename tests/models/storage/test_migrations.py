"""The tables are made by migrations, agree with the code, and keep what is in them."""

from __future__ import annotations

import copy
import threading
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import CheckConstraint, inspect, text
from sqlalchemy.exc import DBAPIError, IntegrityError, StatementError

from models.errors import StorageError, StudyRefusedError
from models.services import (
    Store,
    StudyState,
    create_link,
    open_store,
    save_sections,
    whole_evaluation_of,
)
from models.storage.migrating import NEWEST
from models.storage.migrations import configuration
from models.storage.tables import LinkRow, ResultRow, RevisionRow, StudyRow, Table


def test_tables_and_migrations_agree(store: Store) -> None:
    with store.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Table.metadata) == []


def test_checks_and_names_agree(store: Store) -> None:
    found = inspect(store.engine)
    for table in Table.metadata.sorted_tables:
        assert found.get_pk_constraint(table.name)["name"] == f"pk_{table.name}"
        checks = {check["name"] for check in found.get_check_constraints(table.name)}
        stated = {
            str(one.name)
            for one in table.constraints
            if isinstance(one, CheckConstraint)
            and (store.engine.dialect.name == "sqlite" or "json" not in str(one.name))
        }
        assert checks == stated


def test_the_newest_migration_is_the_one_that_opening_looks_for(store: Store) -> None:
    with store.engine.connect() as connection:
        scripts = ScriptDirectory.from_config(configuration(connection))
        assert scripts.get_current_head() == NEWEST
        assert connection.scalar(text("SELECT version_num FROM alembic_version")) == NEWEST


def test_running_the_migrations_again_changes_nothing(store: Store) -> None:
    with store.engine.execution_options(write=True).begin() as connection:
        command.upgrade(configuration(connection), "head")
    test_tables_and_migrations_agree(store)


def test_two_programs_may_open_a_new_database_at_once(database_url: str) -> None:
    faults: list[BaseException] = []

    def open_and_close() -> None:
        try:
            open_store(database_url).close()
        except BaseException as error:
            faults.append(error)

    threads = [threading.Thread(target=open_and_close) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []


def test_a_database_of_a_newer_version_is_refused(store: Store) -> None:
    with store.engine.execution_options(write=True).begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    address = store.engine.url.render_as_string(hide_password=False)
    with pytest.raises(StorageError, match="newer version"):
        open_store(address)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE revision SET note = 'changed'",
        "UPDATE revision SET document = '{}'",
        "DELETE FROM revision",
        "UPDATE request SET number = 1",
        "DELETE FROM request",
        "UPDATE result SET payload = '{}'",
        "DELETE FROM result",
        "UPDATE link SET payload = '{}'",
        "UPDATE link SET expires_at = NULL",
        "UPDATE link SET token_hash = 'x'",
        "DELETE FROM study",
    ],
)
def test_what_is_saved_cannot_be_changed(store: Store, state: StudyState, statement: str) -> None:
    save_sections(
        store, state.study_id, base_revision=1, edits={"notes": "x"}, author="", note="", once="k"
    )
    now = datetime.now(UTC)
    with store.writing() as session:
        session.add(ResultRow(document_hash="h", model_version="v", payload="{}", computed_at=now))
        session.add(link_row(state.study_id))
    refused = pytest.raises(DBAPIError, match=r"never|only be revoked|(?i:foreign key)")
    with refused, store.writing() as session:
        session.execute(text(statement))


def link_row(study_id: str, **values: Any) -> LinkRow:
    fields: dict[str, Any] = {
        "id": "link",
        "study_id": study_id,
        "kind": "frozen",
        "revision": 1,
        "label": "",
        "author": "",
        "created_at": datetime.now(UTC),
        "token_hash": "hash",
        "last_four": "abcd",
        "payload": {},
        "model_version": "1",
    }
    return LinkRow(**{**fields, **values})


def test_replacing_a_revision_is_refused_too(store: Store, state: StudyState) -> None:
    columns = "study_id, number, author, saved_at, note, document, document_hash, study_name"
    replace = f"INSERT INTO revision ({columns}, candidate_count) SELECT {columns}, 9 FROM revision"
    if store.engine.dialect.name == "sqlite":
        replace = replace.replace("INSERT", "INSERT OR REPLACE", 1)
    with pytest.raises(IntegrityError), store.writing() as session:
        session.execute(text(replace))


@pytest.mark.parametrize(
    "values",
    [
        {"payload": None},
        {"model_version": None},
        {"revision": None},
        {"kind": "live"},
        {"kind": "other"},
        {"revision": 7},
        {"study_id": "nobody"},
    ],
)
def test_a_link_that_is_neither_frozen_nor_live_is_refused(
    store: Store, state: StudyState, values: dict[str, Any]
) -> None:
    with pytest.raises(IntegrityError), store.writing() as session:
        session.add(link_row(**{"study_id": state.study_id, **values}))


def test_json_comes_back_as_it_went_and_changing_it_changes_nothing(
    store: Store, state: StudyState
) -> None:
    with store.reading() as session:
        row = session.get_one(RevisionRow, (state.study_id, 1))
        assert row.document == state.document
        row.document["name"] = "changed in place"
    with store.writing() as session:
        assert session.get_one(RevisionRow, (state.study_id, 1)).document == state.document


def test_json_is_stored_as_canonical_text(store: Store, state: StudyState) -> None:
    with store.reading() as session:
        stored = session.execute(text("SELECT document FROM revision")).scalar_one()
    assert stored.startswith('{"candidates":[{"baseline":true,"drive":{"efficiency":0.9,')


def test_nan_is_never_stored(store: Store, state: StudyState) -> None:
    with pytest.raises((StatementError, StudyRefusedError)), store.writing() as session:
        session.add(link_row(state.study_id, payload={"time_s": float("nan")}))
    with store.reading() as session:
        assert session.execute(text("SELECT count(*) FROM link")).scalar_one() == 0


def test_times_come_back_in_utc_with_their_zone(store: Store) -> None:
    noon = datetime(2026, 3, 2, 12, 0, 0, 250_000, tzinfo=timezone(timedelta(hours=2)))
    with store.writing() as session:
        session.add(StudyRow(id="a", created_at=noon, once=None))
    with store.reading() as session:
        found = session.get_one(StudyRow, "a").created_at
    assert found == noon
    assert found.tzinfo is UTC
    assert found.hour == 10


def test_a_time_without_a_zone_is_refused(store: Store) -> None:
    bare = datetime(2026, 3, 2, 12)  # noqa: DTZ001  the fault under test
    with pytest.raises(StatementError, match="needs its zone"), store.writing() as session:
        session.add(StudyRow(id="a", created_at=bare, once=None))


def test_an_error_leaves_nothing_behind(store: Store, state: StudyState) -> None:
    with pytest.raises(RuntimeError), store.writing() as session:
        session.add(StudyRow(id="half", created_at=datetime.now(UTC), once=None))
        session.flush()
        raise RuntimeError
    with store.reading() as session:
        assert session.get(StudyRow, "half") is None


def test_figures_and_links_outlast_the_program(database_url: str, document: dict[str, Any]) -> None:
    from models.services import create_study, open_link

    first = open_store(database_url)
    state = create_study(first, copy.deepcopy(document), author="Kim", note="")
    payload = whole_evaluation_of(first, state)
    _, token = create_link(first, state.study_id, kind="frozen")
    first.close()
    second = open_store(database_url)
    assert open_link(second, token).payload == payload
    second.close()
