"""All rows of a database as lines of JSON with a hash: from either kind of database to either.

The first line says format, version and migration. Then each table has a line with its columns,
followed by a line for each row; the last line counts them and has the SHA-256 of all lines before
it. Moments are ISO 8601 in UTC; what a column holds as JSON stays the text that it is.

Contents: `write_rows`, `read_header`, `read_rows`, `copy_rows`, `rows_of`, `reflected`.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import IO, Any

from sqlalchemy import Connection, DateTime, MetaData, Table, func, insert, select

from models.errors import StorageError
from models.storage.columns import Moment

FORMAT = "switchover-backup"
VERSION = 1
LONGEST_LINE = 64_000_000
"""Characters; a study has at most 2 MB, and its figures a few times that."""
ROWS_AT_A_TIME = 50
A_FEW = {"yield_per": ROWS_AT_A_TIME}
"""For a statement, not for its connection: there it would stay, and statements of others fail."""
NOT_COPIED = "alembic_version"
LAST = ("ballot_closing",)
"""Tables to fill after all others: a trigger takes no ballot once its closing is there."""


def reflected(connection: Connection) -> list[Table]:
    """The tables that the database has, in an order in which they can be filled."""
    found = MetaData()
    found.reflect(connection)
    tables = [table for table in found.sorted_tables if table.name != NOT_COPIED]
    for table in tables:
        for column in table.columns:
            if isinstance(column.type, DateTime):
                column.type = Moment()
    return sorted(tables, key=lambda table: table.name in LAST)


def rows_of(connection: Connection, table: Table) -> Iterator[dict[str, Any]]:
    """The rows of a table, a few in memory at a time, always in the same order."""
    query = select(table).order_by(*table.primary_key.columns)
    with connection.execute(query, execution_options=A_FEW) as found:
        for row in found.mappings():
            yield {str(name): value for name, value in row.items()}


def write_rows(connection: Connection, file: IO[bytes], *, migration: str) -> None:
    """Write all rows that this connection's transaction sees."""
    digest = hashlib.sha256()
    counts: dict[str, int] = {}

    def write(value: Any) -> None:
        line = (json.dumps(value, allow_nan=False) + "\n").encode("ascii")
        digest.update(line)
        file.write(line)

    made = datetime.now(UTC).isoformat()
    write({"format": FORMAT, "version": VERSION, "migration": migration, "made_at": made})
    for table in reflected(connection):
        names = [column.name for column in table.columns]
        write({"table": table.name, "columns": names})
        counts[table.name] = 0
        for row in rows_of(connection, table):
            write([_plain(row[name]) for name in names])
            counts[table.name] += 1
    file.write((json.dumps({"rows": counts, "sha256": digest.hexdigest()}) + "\n").encode("ascii"))


def read_header(file: IO[bytes]) -> dict[str, Any]:
    """The first line of a backup of this kind; raises `StorageError` where it is none."""
    try:
        header = json.loads(file.readline(4096))
    except ValueError:
        header = None
    if not isinstance(header, dict) or header.get("format") != FORMAT:
        raise StorageError("it is no backup of Switchover")
    if header.get("version") != VERSION or not isinstance(header.get("migration"), str):
        raise StorageError("a newer version of Switchover made it; install that version")
    return header


def read_rows(file: IO[bytes], connection: Connection) -> None:
    """Add the rows of a backup to a database that has its tables, empty, at its migration.

    Read the file from its beginning. Raises `StorageError` where a line is damaged or missing;
    the caller's transaction is then to be given up.
    """
    digest = hashlib.sha256()
    tables = {table.name: table for table in reflected(connection)}
    counts: dict[str, int] = {}
    table: Table | None = None
    columns: list[str] = []
    waiting: list[dict[str, Any]] = []

    def add() -> None:
        if table is not None and waiting:
            connection.execute(insert(table), waiting)
            waiting.clear()

    for number, line in enumerate(iter(lambda: file.readline(LONGEST_LINE), b""), start=1):
        value = _value(line, number)
        if isinstance(value, dict) and "sha256" in value:
            add()
            if value["sha256"] != digest.hexdigest() or value.get("rows") != counts:
                raise StorageError("its lines do not have the hash that it names: it is damaged")
            if file.readline(1):
                raise StorageError("something stands behind its last line: it is damaged")
            return
        digest.update(line)
        if isinstance(value, dict) and "table" in value:
            add()
            table, columns = _table_of(value, tables, number)
            counts[table.name] = 0
        elif isinstance(value, list) and table is not None and len(value) == len(columns):
            waiting.append(_row(table, columns, value, number))
            counts[table.name] += 1
            if len(waiting) >= ROWS_AT_A_TIME:
                add()
        elif number > 1:
            raise StorageError(f"its line {number} is neither a table nor a row of one")
    raise StorageError("its end is missing: it was cut off")


def copy_rows(source: Connection, target: Connection) -> None:
    """Add all rows of one database to another one, whose tables are the same and empty."""
    there = {table.name: table for table in reflected(target)}
    for table in reflected(source):
        waiting: list[dict[str, Any]] = []
        for row in rows_of(source, table):
            waiting.append(row)
            if len(waiting) >= ROWS_AT_A_TIME:
                target.execute(insert(there[table.name]), waiting)
                waiting.clear()
        if waiting:
            target.execute(insert(there[table.name]), waiting)


def count_rows(connection: Connection, name: str) -> int:
    """How many rows a table has; 0 where there is no such table."""
    table = next((one for one in reflected(connection) if one.name == name), None)
    return 0 if table is None else connection.scalar(select(func.count()).select_from(table)) or 0


def _plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, datetime) else value


def _value(line: bytes, number: int) -> Any:
    try:
        return json.loads(line)
    except (ValueError, RecursionError):
        raise StorageError(f"its line {number} cannot be read: it is damaged or cut off") from None


def _table_of(
    value: dict[str, Any], tables: dict[str, Table], number: int
) -> tuple[Table, list[str]]:
    table, columns = tables.get(str(value["table"])), value.get("columns")
    if table is None or not isinstance(columns, list) or set(columns) != set(table.columns.keys()):
        raise StorageError(f"its line {number} names a table or columns that there are not")
    return table, columns


def _row(table: Table, columns: list[str], values: list[Any], number: int) -> dict[str, Any]:
    row = dict(zip(columns, values, strict=True))
    for name, value in row.items():
        if isinstance(table.columns[name].type, Moment) and value is not None:
            try:
                row[name] = datetime.fromisoformat(value)
            except (TypeError, ValueError):
                raise StorageError(f"its line {number} has no time under {name}") from None
        elif value is not None and not isinstance(value, bool | int | float | str):
            raise StorageError(f"its line {number} has no plain value under {name}")
    return row
