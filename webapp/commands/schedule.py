"""`switchover schedule STUDY`: can each candidate be ready, and what sets the date."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

RUNS = 10_000
SEED = 1


def add_schedule(commands: Any) -> None:
    """Add the command to the parser's commands."""
    words = "work out the chance to have each candidate ready"
    parser: argparse.ArgumentParser = commands.add_parser("schedule", help=words, description=words)
    parser.set_defaults(command=run_schedule)
    parser.add_argument("study", metavar="STUDY.json", type=Path)
    parser.add_argument("--runs", type=int, default=RUNS, help=f"how many runs ({RUNS:,})")
    parser.add_argument("--seed", type=int, default=SEED, help="of the random numbers (1)")
    parser.add_argument("--candidate", metavar="KEY", help="only this one")
    parser.add_argument("--json", action="store_true", help="everything, for programs")


def run_schedule(options: argparse.Namespace) -> int:
    """Print the chance and dates of each candidate, and what they hang on."""
    from models.study import parse_study, read_document  # noqa: PLC0415
    from models.trade.readiness import plan_of  # noqa: PLC0415
    from webapp.cli import read_file, say  # noqa: PLC0415  the command line takes this module in
    from webapp.schedule_text import schedule_text  # noqa: PLC0415

    study = parse_study(read_document(read_file(options.study)))
    keys = None if options.candidate is None else [study.candidate(options.candidate).key]
    payload = plan_of(study, options.runs, options.seed, keys)
    if options.json:
        say(json.dumps(payload, indent=1, allow_nan=False))
    else:
        sys.stdout.write(schedule_text(payload))
    return 0
