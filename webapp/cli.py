"""The command line: `switchover demo`, `serve`, `evaluate` and all the others."""

from __future__ import annotations

import argparse
import json
import os
import shutil
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from models.errors import NotFoundError, StudyRefusedError, SwitchoverError
from models.units import UnitSystem
from webapp.commands.decide import add_decide
from webapp.commands.explore import add_explore
from webapp.commands.keeping import add_keeping
from webapp.commands.match import add_match
from webapp.commands.measure import add_measure
from webapp.commands.schedule import add_schedule

REFUSED = 2
"""Exit code where a file or a setting was refused."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0 done, 1 failed, 2 refused."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a console that lacks a sign still prints
    options = argument_parser().parse_args(arguments)
    command: Callable[[argparse.Namespace], int] = options.command
    try:
        return command(options)
    except StudyRefusedError as error:
        for fault in error.faults:
            complain(one_line(str(fault)))
        return REFUSED
    except SwitchoverError as error:
        complain(str(error))
        return REFUSED
    except BrokenPipeError:
        # The reader of a pipe left early; without this the interpreter complains at its end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


def argument_parser() -> argparse.ArgumentParser:
    """Return the parser of the command line."""
    parser = argparse.ArgumentParser(
        prog="switchover",
        description="Decide whether to change the drive base under a robot.",
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    demo = _command(commands, "demo", run_demo, "open the example study in the browser")
    _add_server_options(demo)
    demo.add_argument("--no-browser", action="store_true", help="only say the address")
    serve = _command(commands, "serve", run_serve, "serve your own studies")
    _add_server_options(serve)
    serve.add_argument(
        "--only-port", action="store_true", help="stop where the port is taken, try no other"
    )

    evaluate = _command(commands, "evaluate", run_evaluate, "compare the candidates of a file")
    evaluate.add_argument("study", metavar="STUDY.json", type=Path)
    how = evaluate.add_mutually_exclusive_group()
    how.add_argument("--json", action="store_true", help="everything, for programs")
    how.add_argument("--csv", action="store_true", help="the figures, for a spreadsheet")
    evaluate.add_argument(
        "--units", choices=[system.value for system in UnitSystem], default="si",
        help="units of the printed table",
    )  # fmt: skip

    _add_arrange(commands)
    add_explore(commands)
    add_match(commands)
    add_schedule(commands)
    add_decide(commands)
    add_measure(commands)
    take_in = _command(commands, "import", run_import, "put a study file into the database")
    take_in.add_argument("study", metavar="STUDY.json", type=Path)
    take_in.add_argument("--author", default="", help="name to put on the first revision")
    add_database(take_in)
    give_out = _command(commands, "export", run_export, "write a study file")
    give_out.add_argument("study_id", metavar="STUDY_ID")
    give_out.add_argument("--revision", type=int, help="an earlier revision")
    give_out.add_argument("--output", type=Path, help="file to write instead of the screen")
    add_database(give_out)
    add_keeping(commands)
    return parser


def _command(
    commands: Any, name: str, run: Callable[[argparse.Namespace], int], words: str
) -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = commands.add_parser(name, help=words, description=words)
    parser.set_defaults(command=run)
    return parser


def _add_arrange(commands: Any) -> None:
    words = "find arrangements of a candidate's modules that fit"
    command = _command(commands, "arrange", run_arrange, words)
    command.add_argument("study", metavar="STUDY.json", type=Path)
    command.add_argument("--candidate", required=True, metavar="KEY", help="which candidate")
    command.add_argument("--inset-max", default="0.04", metavar="LENGTH", help="in m or with unit")
    command.add_argument("--inset-step", default="0.01", metavar="LENGTH", help="in m or with unit")
    command.add_argument(
        "--rank", default="support-area",
        choices=["support-area", "clearance", "fewest-inverted", "wheelbase"],
    )  # fmt: skip
    command.add_argument(
        "--free-sides", action="store_true", help="insets of left and right may differ"
    )
    command.add_argument("--most", type=int, default=1000, help="list at most so many (1000)")
    command.add_argument("--json", action="store_true", help="everything, for programs")
    command.add_argument(
        "--units", choices=[system.value for system in UnitSystem], default="si",
        help="units of the printed list",
    )  # fmt: skip


def _add_server_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--port", type=int, help="first port to try (8000)")
    add_database(parser)


def add_database(parser: argparse.ArgumentParser) -> None:
    """Add the option that names the database."""
    parser.add_argument(
        "--database", help="file or SQLAlchemy URL (else SWITCHOVER_DATABASE_URL, else your own)"
    )


def run_demo(options: argparse.Namespace) -> int:
    """Serve, with the example study in the database, and open it."""
    return _serve(options, example=True, browser=not options.no_browser)


def run_serve(options: argparse.Namespace) -> int:
    """Serve the studies of the database."""
    return _serve(options, example=False, browser=False)


def _serve(options: argparse.Namespace, *, example: bool, browser: bool) -> int:
    from webapp.logs import configure_logs  # noqa: PLC0415  other commands need no web packages
    from webapp.settings import read_settings  # noqa: PLC0415

    url = database_url(options.database)
    # The example is for looking at the program, so its terminal stays quiet unless told otherwise.
    quiet = "warning" if example and "SWITCHOVER_LOG_LEVEL" not in os.environ else None
    settings = read_settings(database_url=url, port=options.port, log_level=quiet)
    configure_logs(settings)

    from webapp.app import create_app  # noqa: PLC0415
    from webapp.serving import run_server  # noqa: PLC0415

    app = create_app(settings)

    def first_page() -> str:
        return f"/studies/{example_study_id(app.state.store)}" if example else "/"

    return run_server(
        app,
        port=settings.port,
        when_ready=first_page,
        browser=browser,
        say=say,
        only=getattr(options, "only_port", False),
    )


def example_study_id(store: Any) -> str:
    """Return the id of the example study, which is put into the database if it is not there."""
    from models.services import create_study, list_studies  # noqa: PLC0415
    from webapp.shared.example import example_document  # noqa: PLC0415

    document = example_document()
    for study in list_studies(store):
        if study.name == document["name"]:
            return str(study.id)
    note = "The example study that comes with the program"
    return str(create_study(store, document, author="Switchover", note=note).study_id)


def run_evaluate(options: argparse.Namespace) -> int:
    """Print the figures of a study file: a table, or all of it as JSON or CSV."""
    from models.study import parse_study, read_document  # noqa: PLC0415
    from models.trade.whole import whole_evaluation  # noqa: PLC0415

    study = parse_study(read_document(read_file(options.study)))
    payload = whole_evaluation(study)
    if options.json:
        say(json.dumps(payload, indent=1, allow_nan=False))
    elif options.csv:
        from webapp.shared.csv_table import comparison_csv  # noqa: PLC0415

        sys.stdout.write(comparison_csv(payload).replace("\r\n", "\n"))
    else:
        from webapp.text_table import side_by_side  # noqa: PLC0415

        width = shutil.get_terminal_size((140, 24)).columns
        sys.stdout.write(
            side_by_side(payload, study, UnitSystem(options.units), width=max(width, 60))
        )
    return 0


def run_arrange(options: argparse.Namespace) -> int:
    """Print the arrangements of a candidate that fit, or the least changes that free it."""
    from models.study import parse_study, read_document  # noqa: PLC0415
    from models.trade.arranging import ArrangeSettings, arrange  # noqa: PLC0415
    from models.units import parse_number  # noqa: PLC0415
    from webapp.arranging_text import arrangements_text  # noqa: PLC0415

    study = parse_study(read_document(read_file(options.study)))
    settings = ArrangeSettings(
        largest_m=parse_number(options.inset_max, "m"),
        step_m=parse_number(options.inset_step, "m"),
        order=options.rank,
        mirrored=not options.free_sides,
        most=max(options.most, 1),
    )
    found = arrange(study, study.candidate(options.candidate), settings)
    if options.json:
        say(json.dumps(found, indent=1, allow_nan=False))
    else:
        sys.stdout.write(arrangements_text(found, UnitSystem(options.units)))
    return 0


def run_import(options: argparse.Namespace) -> int:
    """Put a study file into the database as a new study."""
    from models.services import create_study  # noqa: PLC0415
    from models.study import read_document  # noqa: PLC0415

    document = read_document(read_file(options.study))
    note = f"Read from the file {options.study.name}"
    with open_database(options.database) as store:
        state = create_study(store, document, author=options.author, note=note)
        say(f"{state.study_id}  {state.study.name}, {len(state.study.candidates)} candidates")
    return 0


def run_export(options: argparse.Namespace) -> int:
    """Write a study of the database as a file, or to the screen."""
    from models.services import export_study, list_studies  # noqa: PLC0415

    with open_database(options.database) as store:
        try:
            text = export_study(store, options.study_id, options.revision)
        except NotFoundError as error:
            known = "".join(f"\n  {study.id}  {study.name}" for study in list_studies(store))
            raise NotFoundError(f"{error} Studies here:{known or ' none'}") from None
    if options.output is None:
        say(text.rstrip("\n"))
        return 0
    write_file(options.output, text)
    say(f"Written to {options.output}.")
    return 0


@contextmanager
def open_database(named: str | None) -> Iterator[Any]:
    """Open the database that the options or the settings name, and close it at the end."""
    from models.services import open_store  # noqa: PLC0415
    from webapp.settings import read_settings  # noqa: PLC0415

    store = open_store(read_settings(database_url=database_url(named)).database())
    try:
        yield store
    finally:
        store.close()


def database_url(named: str | None) -> str | None:
    """Return a database in SQLAlchemy form; a plain path is an SQLite file.

    >>> database_url("sqlite:///a.sqlite3"), database_url(None)
    ('sqlite:///a.sqlite3', None)
    """
    if named is None or "://" in named:
        return named
    return f"sqlite:///{Path(named).expanduser().absolute().as_posix()}"


def read_file(path: Path) -> bytes:
    """Return a file's content; raises with a sentence where it cannot be read."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise SwitchoverError(f"{path} cannot be read: {error.strerror}.") from None


def write_file(path: Path, text: str) -> None:
    """Write a file; raises with a sentence where it cannot be written."""
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise SwitchoverError(f"{path} cannot be written: {error.strerror}.") from None


def one_line(text: str) -> str:
    """Return a message on one line, whatever the file had in it.

    >>> one_line("name: two\\nlines")
    'name: two lines'
    """
    return " ".join(text.split())


def say(text: str) -> None:
    """Print for the user or the next program."""
    print(text, flush=True)


def complain(text: str) -> None:
    """Print to standard error."""
    print(text, file=sys.stderr, flush=True)


if __name__ == "__main__":
    raise SystemExit(main())
