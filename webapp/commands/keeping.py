"""`switchover backup FILE`, `restore FILE` and `check`: keeping what a team has saved."""

from __future__ import annotations

import argparse
import json
import shutil
import tempfile
from pathlib import Path
from typing import Any

from models.errors import StorageError, SwitchoverError

LEAST_FREE_BYTES = 200_000_000
"""What a save, its journal and a day's figures take, with much to spare."""


def add_keeping(commands: Any) -> None:
    """Add the three commands to the parser's commands."""
    backup = _command(commands, "backup", "put the whole database into a file, also in use")
    backup.set_defaults(command=run_backup)
    backup.add_argument("file", metavar="FILE", type=Path)
    backup.add_argument(
        "--portable", action="store_true", help="for either kind of database (PostgreSQL's always)"
    )
    backup.add_argument("--overwrite", action="store_true", help="replace a backup of that name")
    restore = _command(commands, "restore", "put a backup back into a database")
    restore.set_defaults(command=run_restore)
    restore.add_argument("file", metavar="FILE", type=Path)
    restore.add_argument(
        "--overwrite", action="store_true", help="in place of the studies that are there"
    )
    check = _command(commands, "check", "say whether settings, database and disk are in order")
    check.set_defaults(command=run_check)
    check.add_argument("--json", action="store_true", help="for programs")


def _command(commands: Any, name: str, words: str) -> argparse.ArgumentParser:
    from webapp.cli import add_database  # noqa: PLC0415  the command line takes this module in

    parser: argparse.ArgumentParser = commands.add_parser(name, help=words, description=words)
    add_database(parser)
    return parser


def run_backup(options: argparse.Namespace) -> int:
    """Put the whole database into a file."""
    from models.services import backup  # noqa: PLC0415
    from webapp.cli import open_database, say  # noqa: PLC0415

    with open_database(options.database) as store:
        backup(store, options.file, overwrite=options.overwrite, portable=options.portable)
    say(f"The database is copied to {options.file}.")
    return 0


def run_restore(options: argparse.Namespace) -> int:
    """Put a backup back."""
    from models.services import restore  # noqa: PLC0415
    from webapp.cli import database_url, say  # noqa: PLC0415
    from webapp.settings import read_settings  # noqa: PLC0415

    url = read_settings(database_url=database_url(options.database)).database()
    done = restore(options.file, url, overwrite=options.overwrite)
    what = "1 study is" if done.studies == 1 else f"{done.studies} studies are"
    say(f"{options.file} is restored: {what} in the database.")
    if done.kept is not None:
        say(f"What was there before is kept in {done.kept}.")
    return 0


def run_check(options: argparse.Namespace) -> int:
    """Print a line for each thing looked at; 0 if all is in order, else 1."""
    from webapp.cli import database_url, say  # noqa: PLC0415

    findings = look_at(database_url(options.database))
    good = all(one["good"] for one in findings)
    if options.json:
        say(json.dumps({"good": good, "findings": findings}, indent=1))
        return 0 if good else 1
    for one in findings:
        say(f"{'ok    ' if one['good'] else 'FAILED'}  {one['name']:<11} {one['words']}")
    return 0 if good else 1


def look_at(named: str | None) -> list[dict[str, Any]]:
    """Return what there is to say of settings, database and disk; nothing is changed by it."""
    from models.services.checking import check_database  # noqa: PLC0415
    from webapp.settings import read_settings  # noqa: PLC0415

    try:
        url = read_settings(database_url=named).database()
    except SwitchoverError as error:
        return [_finding("settings", False, str(error))]
    findings = [_finding("settings", True, "every setting can be used")]
    try:
        looked = check_database(url)
    except StorageError as error:
        return [*findings, _finding("database", False, str(error))]
    findings += [_finding(one.name, one.good, one.words) for one in looked.findings]
    findings.append(_space(looked.file))
    return findings


def _finding(name: str, good: bool, words: str) -> dict[str, Any]:
    return {"name": name, "good": good, "words": words}


def _space(file: Path | None) -> dict[str, Any]:
    """Room for the database to be written once more, or for temporary files beside a server."""
    folder = file.parent if file is not None else Path(tempfile.gettempdir())
    size = file.stat().st_size if file is not None else 0
    free, needed = shutil.disk_usage(folder).free, max(LEAST_FREE_BYTES, 2 * size)
    words = f"{free / 1e9:.1f} GB free in {folder}, {needed / 1e9:.1f} GB are wanted"
    return _finding("disk", free >= needed, words)
