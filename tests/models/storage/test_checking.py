"""What `check` looks at, on either database."""

from __future__ import annotations

import pytest
from sqlalchemy import text

from models.services import Store, StudyState
from models.storage.checking import GUARDS, examine, triggers_of


def test_the_triggers_looked_for_are_those_that_migrations_make(store: Store) -> None:
    with store.engine.connect() as connection:
        assert triggers_of(connection) == GUARDS[store.kind]


def test_a_whole_database_has_no_faults(store: Store, state: StudyState) -> None:
    findings = examine(store.engine)
    assert [one.name for one in findings] == ["integrity", "migrations", "triggers", "hashes"]
    assert [one for one in findings if not one.good] == []


@pytest.mark.parametrize(
    ("statements", "name"),
    [
        (["UPDATE alembic_version SET version_num = '0001'"], "migrations"),
        (["DROP TABLE alembic_version"], "migrations"),
        (["DROP TRIGGER link_is_only_revoked"], "triggers"),
        (["DROP TRIGGER revision_is_not_updated", "UPDATE revision SET document = '{}'"], "hashes"),
        (["DROP TRIGGER revision_is_not_updated", "UPDATE revision SET number = 2"], "hashes"),
        (["DROP TABLE decision_outcome", "DROP TABLE decision_record"], "hashes"),
    ],
)
def test_each_fault_is_found(
    store: Store, state: StudyState, statements: list[str], name: str
) -> None:
    with store.writing() as session:
        for statement in statements:
            on = f" ON {statement.split()[2].partition('_')[0]}"
            server = store.kind == "postgresql" and "TRIGGER" in statement
            session.execute(text(statement + (on if server else "")))
    assert name in {one.name for one in examine(store.engine) if not one.good}


def test_a_trigger_switched_off_is_missing(store: Store, state: StudyState) -> None:
    if store.kind != "postgresql":
        with store.engine.connect() as connection:
            assert "revision_is_not_updated" in triggers_of(connection)
        return  # SQLite has no such switch
    with store.writing() as session:
        session.execute(text("ALTER TABLE revision DISABLE TRIGGER revision_is_not_updated"))
    assert "triggers" in {one.name for one in examine(store.engine) if not one.good}
