"""Whether a database is whole: its own check, its migration, its triggers, every kept hash.

Contents: `examine`, `GUARDS`.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Callable
from typing import NamedTuple

from sqlalchemy import Connection, Engine, Integer, Text, column, func, select, table, text
from sqlalchemy.exc import DBAPIError

from models.storage.migrating import NEWEST, version_of
from models.storage.portable import A_FEW

KEPT = (
    "revision",
    "result",
    "request",
    "ballot_round",
    "ballot_closing",
    "ballot",
    "decision_record",
    "decision_outcome",
)
NOT_REPLACED = ("revision", *KEPT[3:])
GUARDS: dict[str, frozenset[str]] = {
    "sqlite": frozenset(
        {f"{name}_is_not_updated" for name in KEPT}
        | {f"{name}_is_not_deleted" for name in KEPT}
        | {f"{name}_is_not_replaced" for name in NOT_REPLACED}
        | {"link_is_only_revoked", "ballot_is_in_time"}
    ),
    "postgresql": frozenset(
        {f"{name}_is_not_updated" for name in KEPT}
        | {f"{name}_is_not_deleted" for name in KEPT}
        | {f"{name}_is_not_emptied" for name in KEPT}
        | {"link_is_only_revoked", "ballot_is_in_time"}
    ),
}
"""The triggers that keep what is saved; a test holds them equal to what the migrations make."""
HASHED = (("revision", "document", "document_hash"), ("decision_record", "payload", "payload_hash"))


class Finding(NamedTuple):
    """One thing that was looked at: its name, whether it is as it should be, and a sentence."""

    name: str
    good: bool
    words: str


def examine(engine: Engine) -> list[Finding]:
    """Look at a database without changing it; what cannot be looked at is a finding too."""
    looks: dict[str, Callable[[Connection], tuple[bool, str]]] = {
        "integrity": _integrity,
        "migrations": _migrations,
        "triggers": _triggers,
        "hashes": _hashes,
    }
    findings = []
    for name, look in looks.items():
        try:
            with engine.connect() as connection:
                good, words = look(connection)
        except (DBAPIError, sqlite3.Error) as error:
            cause = error.orig if isinstance(error, DBAPIError) else error
            good, words = False, f"this could not be read: {one_line(cause)}"
        findings.append(Finding(name, good, words))
    return findings


def one_line(error: object) -> str:
    """The first line of a driver's message."""
    return next(iter(str(error).strip().splitlines()), "no reason was given")


def _integrity(connection: Connection) -> tuple[bool, str]:
    if connection.dialect.name == "sqlite":
        verdict = str(connection.exec_driver_sql("PRAGMA integrity_check").scalar())
        if verdict != "ok":
            return False, f"SQLite's own check says: {one_line(verdict)}"
        strays = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
        if strays:
            return False, f"{len(strays)} rows refer to what is not there, one in {strays[0][0]}"
        return True, "SQLite's own check passes, and every row refers to what is there"
    loose = connection.scalar(
        text(
            "SELECT count(*) FROM pg_constraint c JOIN pg_namespace n ON n.oid = c.connamespace "
            "WHERE n.nspname = current_schema() AND NOT c.convalidated"
        )
    )
    spoilt = connection.scalar(
        text(
            "SELECT count(*) FROM pg_index i JOIN pg_class c ON c.oid = i.indexrelid "
            "JOIN pg_namespace n ON n.oid = c.relnamespace "
            "WHERE n.nspname = current_schema() AND NOT i.indisvalid"
        )
    )
    if loose or spoilt:
        return False, f"{loose} rules are not validated, {spoilt} indexes are not valid"
    return True, "every rule and index of the tables is valid"


def _migrations(connection: Connection) -> tuple[bool, str]:
    version = version_of(connection)
    if version == NEWEST:
        return True, f"the tables are those of this version ({NEWEST})"
    if version is None:
        return False, "there are no tables of Switchover"
    return False, f"the tables are at {version}, this version has {NEWEST}"


def _triggers(connection: Connection) -> tuple[bool, str]:
    expected = GUARDS[connection.dialect.name]
    missing = sorted(expected - triggers_of(connection))
    if missing:
        return False, f"{len(missing)} are missing, so saved things can change: {missing[0]} …"
    return True, f"all {len(expected)} that keep what is saved are there"


def triggers_of(connection: Connection) -> frozenset[str]:
    """The names of the triggers that are in force."""
    if connection.dialect.name == "sqlite":
        query = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    else:
        query = (
            "SELECT t.tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
            "JOIN pg_namespace n ON n.oid = c.relnamespace WHERE n.nspname = current_schema() "
            "AND NOT t.tgisinternal AND t.tgenabled IN ('O', 'A')"
        )
    return frozenset(connection.scalars(text(query)))


def _hashes(connection: Connection) -> tuple[bool, str]:
    """Every kept text has its hash, and the revisions of a study are numbered without a gap."""
    counted = 0
    for name, content, hash_ in HASHED:
        query = select(column(content, Text), column(hash_, Text)).select_from(table(name))
        with connection.execute(query, execution_options=A_FEW) as rows:
            for stored, expected in rows:
                counted += 1
                if hashlib.sha256(str(stored).encode()).hexdigest() != expected:
                    what = name.replace("_", " ")
                    return False, f"a {what} is not what its hash says: {expected}"
    number, study = column("number", Integer), column("study_id", Text)
    gaps = connection.execute(
        select(study)
        .select_from(table("revision"))
        .group_by(study)
        .having(func.max(number) != func.count())
    ).first()
    if gaps is not None:
        return False, f"a revision of the study {gaps[0]} is missing"
    return True, f"all {counted} revisions and decisions are what their hashes say"
