"""Ballots and decisions, with the triggers that keep them as they were cast and recorded."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

KEPT_TABLES = {
    "ballot_round": "calls for ballots",
    "ballot_closing": "closings",
    "ballot": "ballots",
    "decision_record": "decisions",
    "decision_outcome": "outcomes",
}
PRIMARY_KEYS = {
    "ballot_round": ("id",),
    "ballot_closing": ("round_id",),
    "ballot": ("round_id", "voter", "version"),
    "decision_record": ("id",),
    "decision_outcome": ("id",),
}
LATE = "the ballots are closed, so none can be added"


def _moment(name: str) -> sa.Column[object]:
    return sa.Column(name, sa.DateTime(timezone=True), nullable=False)


def _text(name: str, *, nullable: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.String(), nullable=nullable)


def _long_text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), nullable=False)


def upgrade() -> None:
    """Make the tables and their triggers."""
    _make_ballot_tables()
    _make_decision_tables()
    if op.get_bind().dialect.name == "sqlite":
        _guard_on_sqlite()
    else:
        _guard_on_postgresql()


def _make_ballot_tables() -> None:
    op.create_table(
        "ballot_round",
        _text("id"),
        _text("study_id"),
        sa.Column("revision", sa.Integer(), nullable=False),
        _text("title"),
        _text("author"),
        _moment("opened_at"),
        _long_text("criteria"),
        _long_text("candidates"),
        _text("token_hash"),
        _text("last_four"),
        sa.PrimaryKeyConstraint("id", name="pk_ballot_round"),
        sa.UniqueConstraint("token_hash", name="uq_ballot_round_token_hash"),
        sa.ForeignKeyConstraint(["study_id"], ["study.id"], name="fk_ballot_round_study_id_study"),
        sa.ForeignKeyConstraint(
            ["study_id", "revision"],
            ["revision.study_id", "revision.number"],
            name="fk_ballot_round_study_id_revision_revision",
        ),
    )
    op.create_index("ix_ballot_round_study_id", "ballot_round", ["study_id"])
    op.create_table(
        "ballot_closing",
        _text("round_id"),
        _moment("closed_at"),
        _text("author"),
        sa.PrimaryKeyConstraint("round_id", name="pk_ballot_closing"),
        sa.ForeignKeyConstraint(
            ["round_id"], ["ballot_round.id"], name="fk_ballot_closing_round_id_ballot_round"
        ),
    )
    op.create_table(
        "ballot",
        _text("round_id"),
        _text("voter"),
        sa.Column("version", sa.Integer(), autoincrement=False, nullable=False),
        _text("name"),
        _long_text("weights"),
        _text("preference"),
        _long_text("reason"),
        _moment("cast_at"),
        _text("code_hash"),
        sa.PrimaryKeyConstraint("round_id", "voter", "version", name="pk_ballot"),
        sa.ForeignKeyConstraint(
            ["round_id"], ["ballot_round.id"], name="fk_ballot_round_id_ballot_round"
        ),
        sa.CheckConstraint("version >= 1", name=op.f("ck_ballot_numbered_from_one")),
    )


def _make_decision_tables() -> None:
    op.create_table(
        "decision_record",
        _text("id"),
        _text("study_id"),
        sa.Column("revision", sa.Integer(), nullable=False),
        _text("author"),
        _moment("recorded_at"),
        _long_text("payload"),
        _text("payload_hash"),
        _text("choice"),
        _text("once", nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_decision_record"),
        sa.UniqueConstraint("once", name="uq_decision_record_once"),
        sa.ForeignKeyConstraint(
            ["study_id"], ["study.id"], name="fk_decision_record_study_id_study"
        ),
        sa.ForeignKeyConstraint(
            ["study_id", "revision"],
            ["revision.study_id", "revision.number"],
            name="fk_decision_record_study_id_revision_revision",
        ),
    )
    op.create_index("ix_decision_record_study_id", "decision_record", ["study_id"])
    op.create_table(
        "decision_outcome",
        _text("id"),
        _text("record_id"),
        _moment("added_at"),
        _text("author"),
        _text("metric"),
        _text("candidate"),
        sa.Column("measured", sa.Double(), nullable=True),
        _long_text("words"),
        _text("once", nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_decision_outcome"),
        sa.UniqueConstraint("once", name="uq_decision_outcome_once"),
        sa.ForeignKeyConstraint(
            ["record_id"],
            ["decision_record.id"],
            name="fk_decision_outcome_record_id_decision_record",
        ),
    )
    op.create_index("ix_decision_outcome_record_id", "decision_outcome", ["record_id"])


def _guard_on_sqlite() -> None:
    def refuse(name: str, event: str, table: str, words: str, when: str = "") -> None:
        op.execute(
            f"CREATE TRIGGER {name} BEFORE {event} ON {table} {when} "
            f"BEGIN SELECT RAISE(ABORT, '{words}'); END"
        )

    for table, things in KEPT_TABLES.items():
        refuse(f"{table}_is_not_updated", "UPDATE", table, f"{things} are never changed")
        refuse(f"{table}_is_not_deleted", "DELETE", table, f"{things} are never deleted")
        same = " AND ".join(f"{column} = NEW.{column}" for column in PRIMARY_KEYS[table])
        # REPLACE deletes without meeting a trigger on connections that are not ours.
        refuse(
            f"{table}_is_not_replaced",
            "INSERT",
            table,
            f"{things} are never replaced",
            f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {same})",  # noqa: S608  (our own names)
        )
    refuse(
        "ballot_is_in_time",
        "INSERT",
        "ballot",
        LATE,
        "WHEN EXISTS (SELECT 1 FROM ballot_closing WHERE round_id = NEW.round_id)",
    )


def _guard_on_postgresql() -> None:
    def refuse(name: str, event: str, table: str, words: str, each: str = "ROW") -> None:
        op.execute(
            f"CREATE TRIGGER {name} BEFORE {event} ON {table} "
            f"FOR EACH {each} EXECUTE FUNCTION switchover_refuse('{words}')"
        )

    for table, things in KEPT_TABLES.items():
        refuse(f"{table}_is_not_updated", "UPDATE", table, f"{things} are never changed")
        refuse(f"{table}_is_not_deleted", "DELETE", table, f"{things} are never deleted")
        refuse(
            f"{table}_is_not_emptied", "TRUNCATE", table, f"{things} are never deleted", "STATEMENT"
        )
    op.execute(
        "CREATE FUNCTION switchover_ballot_in_time() RETURNS trigger LANGUAGE plpgsql AS $$ "
        "BEGIN IF EXISTS (SELECT 1 FROM ballot_closing WHERE round_id = NEW.round_id) THEN "
        "RAISE EXCEPTION '%', TG_ARGV[0] USING ERRCODE = 'integrity_constraint_violation'; "
        "END IF; RETURN NEW; END $$"
    )
    op.execute(
        "CREATE TRIGGER ballot_is_in_time BEFORE INSERT ON ballot "
        f"FOR EACH ROW EXECUTE FUNCTION switchover_ballot_in_time('{LATE}')"
    )
