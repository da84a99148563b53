"""`switchover explore STUDY`: the best ratio, what ties, what nothing beats, which limits."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

UNITS = {"ratio": "", "diameter": "m", "stator": "a", "supply": "a"}
RANGES = {
    "ratio": (0.01, 1000.0),
    "diameter": (0.01, 1.0),
    "stator": (1.0, 5000.0),
    "supply": (1.0, 5000.0),
}
"""What a study takes."""
MOST_STEPS = 2000


def add_explore(commands: Any) -> None:
    """Add the command to the parser's commands."""
    words = "sweep ratio, wheel and current limits of a candidate"
    parser: argparse.ArgumentParser = commands.add_parser("explore", help=words, description=words)
    parser.set_defaults(command=run_explore)
    parser.add_argument("study", metavar="STUDY.json", type=Path)
    parser.add_argument("--candidate", required=True, metavar="KEY", help="which candidate")
    for name in UNITS:
        parser.add_argument(
            f"--{name}", metavar="LOW:HIGH:N", help="N values to sweep (a sensible range)"
        )
    parser.add_argument("--tolerance", default="0.05", metavar="SHARE", help="a tie (0.05 or 5%%)")
    parser.add_argument("--margin", default="0.5", metavar="VOLTS", help="above brownout (0.5)")
    parser.add_argument("--battery", metavar="NAME", help="one of the study's (the one in use)")
    parser.add_argument("--json", action="store_true", help="everything, for programs")
    parser.add_argument(
        "--units", choices=["si", "inch-pound"], default="si", help="units of the printed text"
    )


def run_explore(options: argparse.Namespace) -> int:
    """Print the best ratio, the tie, what can be bought, what nothing beats, and the limits."""
    from models.study import parse_study, read_document  # noqa: PLC0415
    from models.trade.exploring import (  # noqa: PLC0415
        ExploreSettings,
        bench_of,
        design_of,
        explore,
    )
    from models.trade.limit_finder import LimitsWanted, find_limits  # noqa: PLC0415
    from models.units import UnitSystem  # noqa: PLC0415
    from webapp.cli import read_file, say  # noqa: PLC0415  the command line takes this module in
    from webapp.exploring_text import exploring_text  # noqa: PLC0415

    study = parse_study(read_document(read_file(options.study)))
    candidate = study.candidate(options.candidate)
    share = _number(options.tolerance, "", "--tolerance", 0.0, 0.5)
    margin = _number(options.margin, "v", "--margin", 0.0, 6.0)
    axes: Any = {name: _axis(name, text) for name in UNITS if (text := getattr(options, name))}
    settings = ExploreSettings(share=share, axes=axes)
    found = explore(study, candidate, settings, battery=options.battery)
    bench = bench_of(study, candidate, options.battery)
    found["limits"] = find_limits(bench, design_of(candidate), LimitsWanted(margin))
    if options.json:
        say(json.dumps(found, indent=1, allow_nan=False))
    else:
        sys.stdout.write(exploring_text(found, UnitSystem(options.units)))
    return 0


def _axis(name: str, text: str) -> Any:
    """Return the axis that LOW:HIGH:N stands for."""
    from models.errors import OutOfRangeError  # noqa: PLC0415
    from models.trade.exploring import Axis  # noqa: PLC0415

    parts = text.split(":")
    if len(parts) != 3 or not parts[2].strip().isdecimal():
        raise OutOfRangeError(
            f"--{name} takes the lowest value, the highest and how many, such as 5:8:40; "
            f"“{text[:40]}” is not that."
        )
    low, high = (_number(part, UNITS[name], f"--{name}", *RANGES[name]) for part in parts[:2])
    steps = int(parts[2][:9])
    if not 1 <= steps <= MOST_STEPS:
        raise OutOfRangeError(f"--{name} takes 1 to {MOST_STEPS} values; {steps} were asked for.")
    if low > high:
        raise OutOfRangeError(f"--{name} begins above its end: {parts[0]} is more than {parts[1]}.")
    return Axis(low, high, steps)


def _number(text: str, unit: str, option: str, low: float, high: float) -> float:
    from models.errors import OutOfRangeError, UnitError  # noqa: PLC0415
    from models.units import parse_number  # noqa: PLC0415

    try:
        value = parse_number(text, unit)
    except UnitError as error:
        raise OutOfRangeError(f"{option}: {error}") from None
    if not low <= value <= high:
        raise OutOfRangeError(f"{option} lies between {low:g} and {high:g}; {text} does not.")
    return value
