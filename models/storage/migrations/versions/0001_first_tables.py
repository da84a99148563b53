"""Studies, revisions, requests, results and links, with the triggers that keep them as they are."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

KEPT_TABLES = {"revision": "revisions", "result": "results", "request": "requests"}
LINK_COLUMNS = (
    "id",
    "study_id",
    "kind",
    "revision",
    "label",
    "author",
    "created_at",
    "expires_at",
    "token_hash",
    "last_four",
    "payload",
    "model_version",
)


def _moment(name: str, *, nullable: bool = False) -> sa.Column[object]:
    return sa.Column(name, sa.DateTime(timezone=True), nullable=nullable)


def _text(name: str, *, nullable: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.String(), nullable=nullable)


def _long_text(name: str, *, nullable: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), nullable=nullable)


def upgrade() -> None:
    """Make the tables and their triggers."""
    _make_study_tables()
    _make_result_table()
    _make_link_table()
    if op.get_bind().dialect.name == "sqlite":
        _guard_on_sqlite()
    else:
        _guard_on_postgresql()


def _make_study_tables() -> None:
    op.create_table(
        "study",
        _text("id"),
        _moment("created_at"),
        _text("once", nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_study"),
        sa.UniqueConstraint("once", name="uq_study_once"),
    )
    op.create_table(
        "revision",
        _text("study_id"),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        _text("author"),
        _moment("saved_at"),
        _text("note"),
        _long_text("document"),
        _text("document_hash"),
        _text("study_name"),
        sa.Column("candidate_count", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("study_id", "number", name="pk_revision"),
        sa.ForeignKeyConstraint(["study_id"], ["study.id"], name="fk_revision_study_id_study"),
        sa.CheckConstraint("number >= 1", name=op.f("ck_revision_numbered_from_one")),
        sa.CheckConstraint(
            "json_valid(document)", name=op.f("ck_revision_document_is_json")
        ).ddl_if(dialect="sqlite"),
    )
    op.create_table(
        "request",
        _text("study_id"),
        _text("once"),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("merged", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("study_id", "once", name="pk_request"),
        sa.ForeignKeyConstraint(
            ["study_id", "number"],
            ["revision.study_id", "revision.number"],
            name="fk_request_study_id_number_revision",
        ),
    )


def _make_result_table() -> None:
    op.create_table(
        "result",
        _text("document_hash"),
        _text("model_version"),
        _long_text("payload"),
        _moment("computed_at"),
        sa.PrimaryKeyConstraint("document_hash", "model_version", name="pk_result"),
        sa.CheckConstraint("json_valid(payload)", name=op.f("ck_result_payload_is_json")).ddl_if(
            dialect="sqlite"
        ),
    )


def _make_link_table() -> None:
    op.create_table(
        "link",
        _text("id"),
        _text("study_id"),
        _text("kind"),
        sa.Column("revision", sa.Integer(), nullable=True),
        _text("label"),
        _text("author"),
        _moment("created_at"),
        _moment("expires_at", nullable=True),
        _moment("revoked_at", nullable=True),
        _text("token_hash"),
        _text("last_four"),
        _long_text("payload", nullable=True),
        _text("model_version", nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_link"),
        sa.UniqueConstraint("token_hash", name="uq_link_token_hash"),
        sa.ForeignKeyConstraint(["study_id"], ["study.id"], name="fk_link_study_id_study"),
        sa.ForeignKeyConstraint(
            ["study_id", "revision"],
            ["revision.study_id", "revision.number"],
            name="fk_link_study_id_revision_revision",
        ),
        sa.CheckConstraint("kind in ('frozen', 'live')", name=op.f("ck_link_known_kind")),
        sa.CheckConstraint(
            "(kind = 'frozen') = (revision is not null and payload is not null "
            "and model_version is not null)",
            name=op.f("ck_link_frozen_keeps_figures"),
        ),
    )
    op.create_index("ix_link_study_id", "link", ["study_id"])


def _guard_on_sqlite() -> None:
    def refuse(name: str, event: str, table: str, words: str, when: str = "") -> None:
        op.execute(
            f"CREATE TRIGGER {name} BEFORE {event} ON {table} {when} "
            f"BEGIN SELECT RAISE(ABORT, '{words}'); END"
        )

    for table, things in KEPT_TABLES.items():
        refuse(f"{table}_is_not_updated", "UPDATE", table, f"{things} are never changed")
        refuse(f"{table}_is_not_deleted", "DELETE", table, f"{things} are never deleted")
    # REPLACE deletes without meeting a trigger on connections that are not ours.
    refuse(
        "revision_is_not_replaced",
        "INSERT",
        "revision",
        "revisions are never replaced",
        "WHEN EXISTS (SELECT 1 FROM revision "
        "WHERE study_id = NEW.study_id AND number = NEW.number)",
    )
    columns = ", ".join(LINK_COLUMNS)
    refuse("link_is_only_revoked", f"UPDATE OF {columns}", "link", "links can only be revoked")


def _guard_on_postgresql() -> None:
    def refuse(name: str, event: str, table: str, words: str, each: str = "ROW") -> None:
        op.execute(
            f"CREATE TRIGGER {name} BEFORE {event} ON {table} "
            f"FOR EACH {each} EXECUTE FUNCTION switchover_refuse('{words}')"
        )

    op.execute(
        "CREATE FUNCTION switchover_refuse() RETURNS trigger LANGUAGE plpgsql AS $$ "
        "BEGIN RAISE EXCEPTION '%', TG_ARGV[0] USING ERRCODE = 'integrity_constraint_violation'; "
        "END $$"
    )
    for table, things in KEPT_TABLES.items():
        refuse(f"{table}_is_not_updated", "UPDATE", table, f"{things} are never changed")
        refuse(f"{table}_is_not_deleted", "DELETE", table, f"{things} are never deleted")
        refuse(
            f"{table}_is_not_emptied", "TRUNCATE", table, f"{things} are never deleted", "STATEMENT"
        )
    columns = ", ".join(LINK_COLUMNS)
    refuse("link_is_only_revoked", f"UPDATE OF {columns}", "link", "links can only be revoked")
