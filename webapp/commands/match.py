"""`switchover match STUDY`: a whole match on a battery, for each candidate."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any


def add_match(commands: Any) -> None:
    """Add the command to the parser's commands."""
    words = "follow a whole match on a battery"
    parser: argparse.ArgumentParser = commands.add_parser("match", help=words, description=words)
    parser.set_defaults(command=run_match)
    parser.add_argument("study", metavar="STUDY.json", type=Path)
    parser.add_argument("--battery", metavar="NAME", help="on this one, not the one in use")
    parser.add_argument("--candidate", metavar="KEY", help="only this one")
    parser.add_argument("--json", action="store_true", help="everything, for programs")


def run_match(options: argparse.Namespace) -> int:
    """Print what a match takes from the battery, and what breakers and slots say to it."""
    from models.study import parse_study, read_document  # noqa: PLC0415
    from models.trade.match import match_of  # noqa: PLC0415
    from models.trade.wiring import wiring_of  # noqa: PLC0415
    from webapp.cli import read_file, say  # noqa: PLC0415  the command line takes this module in
    from webapp.match_text import match_text  # noqa: PLC0415

    study = parse_study(read_document(read_file(options.study)))
    keys = None if options.candidate is None else [study.candidate(options.candidate).key]
    payload = match_of(study, options.battery, keys)
    wiring = wiring_of(study, payload)
    if options.json:
        say(json.dumps({**payload, "wiring": wiring}, indent=1, allow_nan=False))
    else:
        sys.stdout.write(match_text(study, payload, wiring))
    return 0
